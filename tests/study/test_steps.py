"""Each error taken off step by step: against halving, against operating without it, and against a closed form."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

import eyesim as es
from eyesim import chart as charts
from eyesim.draw.drawing import CAUTION
from eyesim.study import halve, lessen, operate, share_gained
from eyesim.study.causes import causes_of, errors_of, scale_cause, size_of
from eyesim.study.estimates import Estimate
from eyesim.study.steps import Steps

EYE, LENS = es.Eye(), es.Lens()
PLAN = es.Fixation(), es.Fixation().opposite()
USUAL = es.Hands()
ON = {"n": 512, "rng": 3, "draws": "sobol", "progress": False}


@pytest.fixture(scope="module")
def usual():
    return lessen(EYE, LENS, *PLAN, USUAL, steps=2, **ON)


def named(steps):
    return {one.cause: one for one in steps.errors}


def done(hands):
    return operate(EYE, LENS, *PLAN, hands, **ON)


# ---------------------------------------------------------------- against other ways to the same


@pytest.mark.slow
def test_half_of_an_error_is_what_halving_gives(usual):
    halved = {one.cause: one for one in halve(EYE, LENS, *PLAN, USUAL, **ON)}
    assert set(named(usual)) == set(halved)
    for name, one in named(usual).items():
        assert one.gains[one.left.index(0.5)] == halved[name].share


@pytest.mark.parametrize("name", ["iris_angle", "marker", "play", "needle_bend"])
def test_none_of_an_error_is_hands_without_it(usual, name):
    one = named(usual)[name]
    assert (one.left[0], one.left[-1]) == (1.0, 0.0)
    assert one.gains[0].value == 0.0
    assert one.gains[-1] == share_gained(done(USUAL), done(USUAL.without(name)))


def test_the_first_and_the_last_step_are_one_unit_of_the_error(usual):
    found = named(usual)["tunnel_length"]
    assert (found.size, found.step, found.unit) == (pytest.approx(0.3), 0.1, "mm")
    for gain, before, after in ((found.first, 0.3, 0.2), (found.last, 0.1, 0.0)):
        pair = [done(USUAL.but(tunnel_length=es.Error(spread=spread))) for spread in (before, after)]
        assert gain.value == pytest.approx(share_gained(*pair).value, abs=1e-12)
    assert found.first.value > found.last.value
    two = es.Hands(iris_angle=es.Error(bias=2.0, spread=(1.0, 2.0)))  # root mean square sqrt(4 + 2.5)
    gain = named(lessen(EYE, LENS, *PLAN, two, "iris_angle", steps=1, **ON))["iris_angle"].first
    left = 1.0 - 1.0 / np.sqrt(6.5)
    less = two.but(iris_angle=es.Error(bias=2.0 * left, spread=(left, 2.0 * left)))
    assert gain.value == pytest.approx(share_gained(done(two), done(less)).value, abs=1e-12)


def tilt_for(first, second):
    """Tilt [deg] when the dips are off by so much [deg]."""
    off = zip(PLAN, (first, second), strict=True)
    return es.settle(EYE, LENS, *(aim.but(iris_angle=aim.iris_angle + miss) for aim, miss in off)).tilt


def within(limit, spread):
    """Share [1] that tilts less than a limit [deg], where tilt is k |d1 - d2| and the dips' errors d are normal."""
    from scipy.special import ndtr

    k = 0.5 * tilt_for(1.0, -1.0)
    return 2.0 * ndtr(limit / (k * spread * np.sqrt(2.0))) - 1.0 if spread else 1.0


def _agree(estimate, truth):
    """Whether the truth lies within half as much again as the interval: of seven, one will miss its 95 % at times."""
    return abs(estimate.value - truth) < 0.75 * (estimate.high - estimate.low)


@pytest.mark.slow
@pytest.mark.parametrize(("limit", "spread"), [(2.0, 2.0), (1.5, 2.5)])
def test_reference_dips_alone_follow_the_normal_distribution(limit, spread):
    # tilt is linear in the difference of the dips: the same k from either side, nothing from what both share
    assert tilt_for(1.0, 0.0) == pytest.approx(tilt_for(0.0, -1.0), rel=0.01)
    assert tilt_for(4.0, -4.0) == pytest.approx(4.0 * tilt_for(1.0, -1.0), rel=0.01)
    assert tilt_for(2.0, 2.0) < 1e-6
    hands = es.Hands.perfect().but(iris_angle=es.Error(spread=spread))
    found = lessen(EYE, LENS, *PLAN, hands, n=8192, decentration=10.0, tilt=limit, progress=False)
    (one,) = found.errors
    before = within(limit, spread)
    assert _agree(found.usual, before)
    for left, gain in zip(one.left[1:], one.gains[1:], strict=True):
        assert _agree(gain, within(limit, left * spread) - before)
        assert gain.high - gain.low < 0.02
    assert _agree(one.first, within(limit, spread - 1.0) - before)
    assert _agree(one.last, 1.0 - within(limit, 1.0))
    assert one.first.low > one.last.high  # the first degree brings more than the last


@pytest.mark.slow
@pytest.mark.parametrize("draws", ["random", "sobol"])
def test_95_percent_intervals_of_a_step_cover_the_closed_form(draws):
    hands = es.Hands.perfect().but(iris_angle=es.Error(spread=2.5))
    first, last = within(1.5, 1.5) - within(1.5, 2.5), 1.0 - within(1.5, 1.0)
    on = {"n": 256, "draws": draws, "steps": 1, "decentration": 10.0, "tilt": 1.5, "progress": False}
    runs = [lessen(EYE, LENS, *PLAN, hands, rng=500 + i, **on).errors[0] for i in range(120)]
    for truth, gains in ((first, [one.first for one in runs]), (last, [one.last for one in runs])):
        hits = np.mean([gain.low <= truth <= gain.high for gain in gains])
        assert 0.89 < hits < 1.0, (truth, hits)  # 95 % in 120 runs, three binomial errors of 2 points


# ---------------------------------------------------------------- how large an error is


@pytest.mark.parametrize(("name", "hands", "size", "unit"), [
    ("iris_angle", es.Hands(iris_angle=es.Error(spread=3.0)), 3.0, "deg"),
    ("iris_angle", es.Hands(iris_angle=es.Error(bias=(3.0, 1.0), spread=(4.0, 2.0))), np.sqrt(15.0), "deg"),
    ("meridian", es.Hands(meridian=es.Error(spread=3.0, shared=4.0)), 5.0, "deg"),
    ("marker", es.Hands(marker_x=es.Error(spread=0.3), marker_y=es.Error(bias=-0.1)), np.sqrt(0.05), "mm"),
    ("mark_moved", es.Hands(mark_moved_along=es.Error(spread=0.2)), np.sqrt(0.02), "mm"),
    ("play", es.Hands(track=LENS.haptic_diameter + 0.1, closure=0.25), 0.075, "mm"),
    ("play", es.Hands(track=None), 0.0, "mm"),
    ("play", es.Hands(track=0.5 * LENS.haptic_diameter), 0.0, "mm"),
])  # fmt: skip
def test_the_size_of_an_error_is_what_a_side_is_off_by(name, hands, size, unit):
    assert size_of(hands, name, LENS) == (pytest.approx(size), unit)
    for left in (1.0, 0.3, 0.0):  # and it is what is taken off
        assert size_of(scale_cause(hands, name, left), name, LENS)[0] == pytest.approx(left * size)


def test_errors_are_those_that_hands_have_and_the_plan_can_have():
    assert errors_of(USUAL, LENS, PLAN) == [cause.name for cause in causes_of(USUAL, EYE, PLAN)]
    always = es.Hands.perfect().but(iris_angle=es.Error(bias=(3.0, 0.0)))  # spreads not, and yet can be taken off
    assert errors_of(always, LENS, PLAN) == ["iris_angle"]
    straight = [one.but(tunnel_length=None, iris_angle=14.0) for one in PLAN]
    assert {"wall", "tunnel_length"} & set(errors_of(USUAL, LENS, straight)) == {"wall"}
    (one,) = lessen(EYE, LENS, *PLAN, always, steps=1, tilt=0.5, **ON).errors
    assert one.gains[-1].value == 1.0  # tilted always, then never


def test_an_error_smaller_than_a_step_is_taken_off_whole(usual):
    play = named(usual)["play"]
    assert play.whole
    assert play.step == play.size == pytest.approx(0.5 * (USUAL.track - LENS.haptic_diameter))
    assert play.first == play.last == play.gains[-1]
    assert repr(play).startswith("play in the track, all 0.081 mm of it: ")
    small = lessen(EYE, LENS, *PLAN, USUAL, ["play"], steps=1, **ON)
    assert "Cheapest first tenth of a millimetre: play in the track (all 0.081 mm there is), " in repr(small)
    assert "degree:" not in repr(small)


# ---------------------------------------------------------------- what is told


def test_degrees_and_millimetres_are_told_apart_and_the_cheapest_is_named(usual):
    assert [one.unit for one in usual.errors] == sorted(one.unit for one in usual.errors)
    for unit, words in (("deg", "degree"), ("mm", "tenth of a millimetre")):
        best, runner, *others = usual.measured_in(unit)
        assert best.first.value >= runner.first.value >= max(one.first.value for one in others)
        assert f"Cheapest first {words}: {best.words}, {100.0 * best.first.value:+.1f} (95 % interval" in repr(usual)
        pair = [done(scale_cause(USUAL, one.cause, 1.0 - one.step / one.size)) for one in (runner, best)]
        assert usual.ahead[unit] == share_gained(*pair)
        assert f"Next: {runner.words}, " in repr(usual)
    assert [one.cause for one in (usual.errors[0], usual.measured_in("mm")[0])] == ["iris_angle", "tunnel_length"]
    assert f"Of 100 lenses {100.0 * usual.usual.value:.1f} lie within 0.4 mm and 5 deg." in repr(usual)


def test_what_cannot_be_told_apart_is_said(usual):
    close = Estimate(0.003, -0.01, 0.016, "made up")
    told = repr(dataclasses.replace(usual, ahead={"deg": close, "mm": dataclasses.replace(close, low=0.001)}))
    assert "limbus angles, cannot be told apart, behind by 0.3 (95 % interval -1.0 to 1.6)." in told
    assert told.count("cannot be told apart") == 1


def test_the_same_numbers_again_whatever_is_asked_beside(usual):
    again = lessen(EYE, LENS, *PLAN, USUAL, ("play", "iris_angle", "play"), steps=2, **ON)
    assert [one.cause for one in again.errors] == ["iris_angle", "play"]
    for one in again.errors:
        assert one == named(usual)[one.cause]
    assert again.ahead == {}


def test_a_bar_counts_hands_and_goes(capsys):
    lessen(EYE, LENS, *PLAN, USUAL, "iris_angle", steps=1, **(ON | {"progress": True, "n": 64}))
    told = capsys.readouterr().err
    assert "hands: " in told
    assert "0/4 [" in told  # as given, one step less, the last step, none
    assert told.endswith("\r")  # wiped when it is done
    lessen(EYE, LENS, *PLAN, USUAL, "iris_angle", steps=1, **(ON | {"n": 64}))
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(("given", "words"), [
    ({"causes": "dips"}, "dips"), ({"causes": "iris_angel"}, "Did you mean 'iris_angle'"), ({"causes": "eyes"}, "eyes"),
    ({"causes": []}, "names errors, such as"), ({"causes": 3}, "names errors, such as"),
    ({"causes": "exit_angle"}, "nothing to take off exit_angle"), ({"causes": ["play", 3]}, "3"),
    ({"hands": es.Hands.perfect()}, "exactly what was planned"), ({"hands": "mine"}, "must be Hands"),
    ({"steps": 0}, "steps is a whole number from 1 to 50"), ({"steps": 2.0}, "whole number"),
    ({"steps": True}, "whole number"), ({"tilt": -1.0}, "tilt"), ({"decentration": "much"}, "decentration"),
    ({"n": 0}, "whole number"), ({"draws": "dice"}, "draws"), ({"rng": -1}, "seed"), ({"eye": 3}, "must be an Eye"),
    ({"stepps": 3}, "Did you mean 'steps'"),
])  # fmt: skip
def test_what_cannot_be_taken_off_is_said_in_words(given, words):
    usual = {"eye": EYE, "lens": LENS, "first": PLAN[0], "second": PLAN[1], "hands": USUAL, "n": 16, "steps": 1}
    with pytest.raises(es.LearnerError, match=words):
        lessen(**{**usual, **given})


# ---------------------------------------------------------------- the picture


def drawn(chart):
    return [text.get_text() for text in chart.figure.findobj(lambda a: hasattr(a, "get_text"))]


@pytest.mark.slow
def test_every_error_is_a_line_with_its_name_and_both_steps(usual):
    chart = charts.steps_chart(usual)
    assert chart.png.startswith(b"\x89PNG")
    assert repr(chart) == chart.sentence
    assert chart.sentence.startswith(repr(usual))
    assert re.search(r'alt="[^"]{200,}"', chart.html)
    assert CAUTION in drawn(chart)
    for unit, axes in zip(("deg", "mm"), (chart.figure.axes[0], chart.figure.axes[3]), strict=True):
        errors = usual.measured_in(unit)
        ways = [line for line in axes.lines if len(line.get_xdata()) == len(errors[0].left)]
        for one in errors:
            share = 100.0 * (usual.usual.value + np.array([gain.value for gain in one.gains]))
            way = [line for line in axes.lines if np.array_equal(line.get_xdata(), one.off)]
            assert any(np.allclose(line.get_ydata(), share) for line in way), one.words
            assert one.words in drawn(chart)
            assert repr(one) in chart.sentence
        assert len({(line.get_color(), line.get_linestyle()) for line in ways}) == len(ways)
        assert f"taken off, root mean square of a side [{unit}]" in drawn(chart)
    assert chart.figure.axes[0].get_ylim() == chart.figure.axes[3].get_ylim()
    rows = chart.figure.axes[2]
    assert any(np.allclose(line.get_xdata(), [100.0 * end for end in (usual.errors[0].first.low,
                                                                     usual.errors[0].first.high)])
               for line in rows.lines if len(line.get_xdata()) == 2)  # fmt: skip
    assert "all 0.081 mm" in drawn(chart)
    assert charts.steps_chart(usual).png == chart.png


@pytest.mark.slow
def test_nothing_of_the_picture_lies_outside_or_on_another_name(usual):
    from matplotlib.text import Text

    many = tuple(
        dataclasses.replace(one, cause=f"{one.cause}{i}", words=f"{one.words} {i}")
        for i in range(2) for one in usual.measured_in("mm")
    )  # fmt: skip
    for steps in (usual, dataclasses.replace(usual, errors=many), dataclasses.replace(usual, errors=many[:1])):
        figure = charts.steps_chart(steps).figure
        names = {one.words for one in steps.errors}
        figure.draw_without_rendering()
        texts = [text for text in figure.findobj(Text) if text.get_text() in names]
        boxes = [Text.get_window_extent(text) for text in texts]  # of the words alone, without the line to them
        assert len(boxes) == len(steps.errors)
        for i, box in enumerate(boxes):
            assert not any(box.overlaps(other) for other in boxes[i + 1 :])
            assert 0.0 <= box.x0 < box.x1 <= figure.bbox.width


def test_only_steps_are_drawn(usual):
    for other in (None, usual.errors, "steps"):
        with pytest.raises(es.LearnerError, match=r"study\.lessen"):
            charts.steps_chart(other)
    assert isinstance(usual, Steps)
