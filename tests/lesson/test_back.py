"""The lesson that works back: a question about a lens is explained by a picture of that lens."""

from __future__ import annotations

import ast
import itertools
import re

import numpy as np
import pytest

from eyesim import lesson
from eyesim.lesson import back, bank

CASES = list(itertools.product(("across", "along", "lean"), (5.0, 6.0, 7.0), (False, True)))


@pytest.mark.parametrize(("kind", "size", "turned"), CASES)
def test_a_picture_shows_the_lens_that_is_asked_about(kind, size, turned):
    measured = back._measured(kind, size, turned)
    label, pose = back.lens_as_found(kind, size, turned)
    assert ("externalised" if kind != "lean" else ("second" if turned else "first")) in label
    (what, _), (_, meridian) = measured.items()
    assert getattr(pose, what) == pytest.approx(measured[what], abs=0.002)
    apart = (getattr(pose, f"{what}_meridian") - meridian + 180.0) % 360.0 - 180.0
    assert abs(apart) < 0.1
    # and as good as nothing else is wrong with it
    assert pose.tilt < 1.5 if what == "decentration" else pose.decentration < 0.1


@pytest.mark.slow
def test_text_and_picture_of_every_question_say_the_same():
    for id in ("back.likeliest", "back.next", "back.how-sure", "back.belief", "back.side", "back.after-depth"):
        for who in range(2):
            item = bank.ITEMS[id]
            question = item.question(item.parameters("autumn", f"resident-{who}"))
            pose = question.scenes[0].settled
            for size, unit, towards in re.findall(
                r"([0-9.]+) (mm|deg)(?: off centre)? towards (\d+) deg", question.text
            ):
                what = {"mm": "decentration", "deg": "tilt"}[unit]
                assert getattr(pose, what) == pytest.approx(float(size), abs=0.06)
                apart = (getattr(pose, f"{what}_meridian") - float(towards) + 180.0) % 360.0 - 180.0
                assert abs(apart) < 0.6


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["across", "along"])
def test_the_example_is_nowhere_near_what_is_right(kind):
    example = ast.literal_eval(back._EXAMPLE)
    for size, turned in itertools.product((5.0, 6.0, 7.0), (False, True)):
        question = bank.ITEMS["back.belief"].question({"kind": kind, "size": size, "turned": turned})
        assert question.judge(example).share < 0.9


def test_beliefs_are_scored_by_squares():
    question = lesson.question("back.belief")
    right = np.array([question.reference.answer[cause] for cause in back.CAUSES]) / 100.0
    for moved in (0.05, 0.2, 0.4):
        believed = right.copy()
        believed[[0, 2]] += (-moved, moved)
        feedback = question.judge({cause: 100.0 * one for cause, one in zip(back.CAUSES, believed, strict=True)})
        off = 2.0 * moved**2  # of two causes, each off by as much
        assert feedback.right == (off <= 0.02)
        if not feedback.right:
            assert feedback.share == pytest.approx(1.0 - (off - 0.02) / 0.6, abs=0.01)
            assert f"{off:.3f}"[:4] in feedback.words
