"""Questions and exercises: what is marked right is what the simulation says, and nothing a learner gives breaks it."""

import dataclasses
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim import lesson
from eyesim.study.verdict import DECENTRATION_LIMIT, TILT_LIMIT

EYE, LENS = es.Eye(), es.Lens()
FIRST = es.Fixation(meridian=0.0)
SECOND = FIRST.opposite()
IDS = lesson.ids()


def lies(first=None, second=None, eye=EYE):
    return es.settle(eye, LENS, FIRST.but(**(first or {})), SECOND.but(**(second or {})))


# ---------------------------------------------------------------- every question


@pytest.mark.parametrize("id", IDS)
def test_reference_answer_is_right_and_no_misconception(id):
    feedback = lesson.check(id, lesson.reference_answer(id).answer)
    assert feedback.right is True
    assert feedback.share == 1.0
    assert feedback.misconception is None
    assert len(lesson.reference_answer(id).reasoning) > 20


@pytest.mark.parametrize("id", IDS)
def test_every_misconception_is_recognised_and_has_its_own_hint(id):
    asked = lesson.question(id)
    assert len(asked.wrong) >= 2
    words = set()
    for name, answer in asked.wrong.items():
        feedback = lesson.check(id, answer)
        assert feedback.right is False
        assert feedback.misconception == name
        assert 0.0 <= feedback.share < 1.0
        words.add(feedback.words)
    assert len(words) == len(asked.wrong)


@pytest.mark.parametrize("id", IDS)
def test_not_answered_yet(id):
    feedback = lesson.check(id, ...)
    assert feedback.right is None
    assert repr(feedback).startswith(f"Not answered yet: {id}")


@pytest.mark.parametrize("id", IDS)
def test_question_reads_well_and_draws_settled_lenses(id):
    asked = lesson.question(id)
    assert repr(asked).startswith(asked.text)
    assert "nan" not in repr(asked).lower()
    assert not re.search(r"[0-9]e[+-]?[0-9]|[0-9]\.[0-9]{4}", repr(asked))
    assert all(shown.seen if isinstance(shown, es.Sight) else shown.settled for shown in asked.result())
    assert asked.result()
    assert "!" not in repr(asked)


@pytest.mark.parametrize("id", lesson.ids(kind="prediction"))
def test_predictions_end_with_whether_it_matters(id):
    asked = lesson.predict(id)
    assert asked.matters.startswith(("It matters", "It does not matter"))
    for answer in [lesson.reference_answer(id).answer, *asked.wrong.values()]:
        assert asked.matters in lesson.check(id, answer).words


def test_wrong_answers_to_exercises_do_not_give_the_solution_away():
    value = lies(second={"meridian": 186.0}).decentration
    for answer in (2 * value, 1.9, -0.5, "0,25 mm"):
        assert f"{value:.2f}" not in lesson.check("marks.shift", answer).words


def test_ids_are_stable_and_unknown_ones_are_answered():
    stable = {"marks.which-way", "needles.two-walls", "tunnels.recentre-evening", "start.limits", "sight.which-one"}
    assert stable <= set(IDS)
    assert len(set(IDS)) == len(IDS)
    with pytest.raises(es.LearnerError, match=r"marks\.which-way"):
        lesson.check("marks.whichway", "a")
    for bad in (None, 3, b"x", ["marks.which-way"]):
        with pytest.raises(es.LearnerError, match="id is a text"):
            lesson.check(bad, "a")
    with pytest.raises(es.LearnerError, match="lesson.exercise"):
        lesson.predict("marks.shift")
    with pytest.raises(es.LearnerError, match="lessons are"):
        lesson.ids("optics")


# ---------------------------------------------------------------- what is right follows from the simulation


def test_ten_degrees_off_moves_across_and_does_not_tilt():
    pose = lies(second={"meridian": 190.0})
    along, across = lesson.line_parts(pose)
    assert abs(across) > 5 * abs(along)
    assert pose.tilt < 1.0
    assert lesson.check("marks.which-way", "across").right


def test_numbers_agree_with_a_direct_settle():
    direct = {
        "marks.shift": lies(second={"meridian": 186.0}).decentration,
        "needles.length": es.needle_pass(EYE, FIRST.but(iris_angle=10.0, tunnel_length=None)).tunnel_length,
        "needles.least": es.least_dip_that_enters(EYE.but(scleral_thickness=0.6), FIRST.but(tunnel_length=None)),
        "tunnels.draw": lesson.line_parts(lies({"outside": 1.6}))[0],
        "tunnels.long-and-short": lies().tension[0] / lies({"tunnel_length": 1.0}, {"tunnel_length": 1.0}).tension[0],
    }
    for id, value in direct.items():
        assert lesson.reference_answer(id).answer == pytest.approx(float(value), rel=1e-3)
        assert lesson.check(id, float(value)).right


def test_largest_error_is_where_the_limit_is_reached():
    angle = lesson.reference_answer("marks.limit").answer
    assert lies(second={"meridian": 180.0 + angle}).decentration == pytest.approx(DECENTRATION_LIMIT, abs=2e-3)


@pytest.mark.parametrize(
    ("id", "key", "seen"),
    [
        ("start.limits", "off-centre",
         lambda: lesson.matters(lies(second={"meridian": 188.0, "iris_angle": 8.0})).key == "off-centre"),
        ("start.alike", "deeper",
         lambda: lies({"iris_angle": 15.0}, {"iris_angle": 15.0}).depth > lies().depth + 0.3),
        ("marks.turned", "only-turned",
         lambda: lies({"meridian": 15.0}, {"meridian": 195.0}).decentration < 1e-6),
        ("needles.tunnel-at-five", "never", lambda: not es.needle_pass(EYE, FIRST.but(tunnel_length=None)).enters),
        ("needles.one-steeper", "tilts", lambda: lies({"iris_angle": 15.0}).tilt > TILT_LIMIT),
        ("needles.unequal-ends", "tilts-much",
         lambda: lies({"exit_angle": 45.0}, {"exit_angle": 30.0}).tilt > TILT_LIMIT),
        ("needles.way-round", "far-off", lambda: lies(second={"clockwise": False}).decentration > 2.0),
        ("tunnels.other-length", "away", lambda: lesson.line_parts(lies({"tunnel_length": 1.0}))[0] < -0.2),
        ("tunnels.which-way", "towards", lambda: lesson.line_parts(lies({"outside": 1.8}))[0] > 0.3),
    ],
)  # fmt: skip
def test_right_choice_is_what_the_simulation_says(id, key, seen):
    assert seen()
    assert lesson.predict(id).form.right == key


def test_right_choice_is_derived_not_typed(monkeypatch):
    """In an eye with a thinner wall the shallow needle does enter, and another choice becomes right."""
    from eyesim.lesson import needles

    monkeypatch.setattr(needles, "EYE", EYE.but(scleral_thickness=0.3))
    (item,) = (item for item in needles.ITEMS if item.id == "needles.tunnel-at-five")
    assert item.make(item.id, **item.shown).form.right != "never"


# ---------------------------------------------------------------- property: the ring and the line


def test_centred_ring_marks_where_it_is_aimed():
    meridian, distance = lesson.ring_marks(EYE, 0.0, 0.0, np.array([0.0, 77.0, 250.0]))
    assert meridian == pytest.approx([0.0, 77.0, 250.0])
    assert distance == pytest.approx(2.0)


def test_ring_off_along_its_line_changes_distances_only_and_calipers_undo_it():
    meridian, distance = lesson.ring_marks(EYE, 0.5, 0.0, np.array([0.0, 180.0]))
    assert meridian == pytest.approx([0.0, 180.0])
    assert distance[0] > 2.4
    assert distance[1] < 1.6
    _, again = lesson.ring_marks(EYE, 0.5, 0.0, np.array([0.0, 180.0]), calipers=True)
    assert again == pytest.approx(2.0)


def test_ring_marks_lie_on_the_printed_circle():
    for x, y in ((0.5, 0.0), (0.2, -0.6)):
        meridian, distance = lesson.ring_marks(EYE, x, y, np.array([0.0, 130.0, 180.0, 301.0]))
        point = EYE.wall_point(meridian, distance)
        centred = EYE.wall_point(0.0, 2.0)
        assert np.hypot(point[:, 0] - x, point[:, 1] - y) == pytest.approx(np.hypot(*centred[:2]))


def test_parts_along_and_across_make_up_the_decentration():
    pose = lies({"tunnel_length": np.array([1.0, 1.5, 2.0]), "meridian": np.array([4.0, -8.0, 1.0])})
    along, across = lesson.line_parts(pose)
    assert np.hypot(along, across) == pytest.approx(pose.decentration)


def test_matters_names_what_oversteps():
    well, off = lies(), lies(second={"meridian": 190.0})
    assert str(lesson.matters(well)).startswith("It does not matter")
    assert str(lesson.matters(off)).startswith("It matters: 0.54 mm off centre is more than 0.4 mm")
    assert str(lesson.matters(off, decentration=0.6)).startswith("It does not matter")
    deep = lies({"iris_angle": 15.0}, {"iris_angle": 15.0})
    assert "deeper than planned" in str(lesson.matters(deep, planned_depth=well.depth))
    with pytest.raises(es.LearnerError):
        lesson.matters(well, decentration=-1.0)
    with pytest.raises(es.LearnerError):
        lesson.matters(well, tilt=[3.0, 5.0])


# ---------------------------------------------------------------- plans


def test_re_marking_either_mark_is_right_and_both_is_less():
    first = lesson.check("marks.re-mark", {"first": 11})
    both = lesson.check("marks.re-mark", {"first": "0 deg", "second": "180"})
    assert first.right
    assert not both.right
    assert 0.6 < both.share < 1.0


def test_two_walls_takes_fixations_and_dicts_alike():
    answer = lesson.reference_answer("needles.two-walls").answer
    base = {"tunnel_length": None, "iris_angle": 10.0}
    plan = {
        "first": FIRST.but(wall=0.45, **base, limbus_angle=answer["first"]["limbus_angle"]),
        "second": SECOND.but(wall=0.65, **base, limbus_angle=answer["second"]["limbus_angle"]),
    }
    assert lesson.check("needles.two-walls", plan).right
    moved = {**plan, "second": plan["second"].but(meridian=190.0)}
    feedback = lesson.check("needles.two-walls", moved)
    assert feedback.right is None
    assert "Only limbus_angle and iris_angle" in feedback.words


def test_recentring_is_scored_by_what_is_left():
    best = lesson.reference_answer("tunnels.recentre").answer
    half = {name: 0.5 * value for name, value in best.items()}
    shares = [lesson.check("tunnels.recentre", answer).share for answer in ({}, half, best)]
    assert shares == sorted(shares)
    assert 0.2 < shares[1] < 0.9
    over = lesson.check("tunnels.recentre", {"first": -2.0})
    assert over.right is None
    assert "must stay there" in over.words


@pytest.mark.slow
def test_best_draws_is_not_beaten_by_random_search():
    from eyesim.lesson import recentring

    for key in ("morning", "evening"):
        first, second = recentring.passes_of(key)
        _, least, pose = recentring.best_draws(first, second)
        rng = np.random.default_rng(5)
        one = rng.uniform(recentring.LEAST_OUTSIDE - first.outside, 1.0, 3000)
        two = rng.uniform(recentring.LEAST_OUTSIDE - second.outside, 1.0, 3000)
        found = es.settle(EYE, LENS, first.pull(one), second.pull(two))
        allowed = found.settled & (found.tension[:, 0] <= recentring.MOST_PULL)
        assert least <= np.min(found.decentration[allowed]) + 0.005
        assert pose.tension[0] <= recentring.MOST_PULL


# ---------------------------------------------------------------- reading answers


@pytest.mark.parametrize(
    "answer", ["0,33", "0.33", " 0.33 mm ", "330 um", "0,033 cm", "+0.33mm", 0.33, np.float32(0.33)]
)
def test_numbers_with_unit_and_comma(answer):
    assert lesson.check("marks.shift", answer).right


@pytest.mark.parametrize(
    "answer", ["0.33 deg", "1,234.5", "__import__('os')", "0.33 + 0", "nan", "inf", "\u0663", "", "0x1", "9" * 5000,
               True, None, float("nan"), 10**400, 1j, b"0.33", [0.33], np.array([0.33]), object(), {"a": 1}],
)  # fmt: skip
def test_junk_is_answered_in_words(answer):
    feedback = lesson.check("marks.shift", answer)
    assert feedback.right is None
    assert feedback.words.startswith("This cannot be read as an answer.")
    assert len(feedback.words) < 400


def test_choices_by_letter_key_and_words():
    form = lesson.predict("marks.which-way").form
    right = next(choice for choice in form.choices if choice.key == form.right)
    for answer in ("b", "B", "(b)", "b.", form.right, right.words):
        assert lesson.check("marks.which-way", answer).right
    for answer in ("z", "bb", 3, None, ["b"]):
        assert lesson.check("marks.which-way", answer).right is None


_junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.binary(max_size=4)
    | st.just(...),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.sampled_from(["first", "second", "limbus_angle", "iris_angle", "x", ""]) | st.integers(), inner, max_size=3
    ),
    max_leaves=6,
)  # fmt: skip


@pytest.mark.slow
@settings(max_examples=120, deadline=None)
@given(id=st.sampled_from(IDS), answer=_junk)
def test_any_junk_gives_feedback(id, answer):
    feedback = lesson.check(id, answer)
    assert isinstance(feedback, lesson.Feedback)
    assert feedback.right in (True, False, None)
    assert 0.0 <= feedback.share <= 1.0
    assert feedback.words


def test_feedback_is_frozen_and_its_repr_is_its_words():
    feedback = lesson.check("marks.shift", 0.33)
    assert repr(feedback) == feedback.words
    with pytest.raises(dataclasses.FrozenInstanceError):
        feedback.right = False
