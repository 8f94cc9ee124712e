"""The verdict on a pose: what is over which limit and by how much, and the sentence that says so."""

import numpy as np
import pytest

import eyesim as es
from eyesim.study.verdict import DEPTH_LIMIT, TILT_LIMIT, Excess, judge, sits_well


@pytest.mark.parametrize(
    ("x", "tilt", "key", "over"),
    [
        (0.4, 5.0, "well", ()),
        (0.41, 5.0, "off-centre", ("decentration",)),
        (0.4, 5.01, "tilted", ("tilt",)),
        (0.7, 8.0, "both", ("decentration", "tilt")),
    ],
)
def test_verdict_says_what_is_over_its_limit(x, tilt, key, over):
    pose = es.Pose(x=x, tilt=tilt)
    verdict = judge(pose)
    assert verdict.key == key
    assert tuple(excess.quantity for excess in verdict.over) == over
    assert verdict.within == sits_well(pose) == (not over)


def test_excess_is_counted_from_the_limit_that_was_set():
    (excess,) = judge(es.Pose(tilt=8.0), tilt=6.5).over
    assert excess == Excess("tilt", 8.0, 6.5, "deg")
    assert excess.by == pytest.approx(1.5)


@pytest.mark.parametrize(("z", "way"), [(-3.2, "deeper"), (-2.2, "shallower")])
def test_depth_counts_either_way_and_only_against_a_plan(z, way):
    pose = es.Pose(z=z)
    assert judge(pose).within
    verdict = judge(pose, planned_depth=2.7)
    (excess,) = verdict.over
    assert abs(excess.value) == pytest.approx(0.5)
    assert excess.by == pytest.approx(0.5 - DEPTH_LIMIT)
    assert verdict.key == "well"
    assert not verdict.within
    assert f"0.5 mm {way} than planned" in str(verdict)


def test_verdict_shows_itself_as_its_sentence():
    verdict = judge(es.Pose(x=0.54, tilt=5.04))
    assert (
        repr(verdict)
        == str(verdict)
        == (
            "It matters: 0.54 mm off centre is more than 0.4 mm and 5.0 deg of tilt is just over 5 deg "
            "(limits chosen for teaching)."
        )
    )
    assert verdict.short == (
        "It matters: 0.54 mm off centre is more than 0.4 mm and 5.0 deg of tilt is just over 5 deg."
    )
    assert verdict == judge(es.Pose(y=-0.54, tilt=5.04))


def test_only_one_lens_that_has_settled_is_judged():
    with pytest.raises(es.LearnerError, match="an array"):
        judge(es.Pose(x=np.array([0.1, 0.5])))
    sides = es.Fixation(meridian=0, outside=6.0), es.Fixation(meridian=180)
    taut = es.settle(es.Eye(), es.Lens(), *sides, on_failure="flag")
    with pytest.raises(es.LearnerError, match="no resting place"):
        judge(taut)
    assert not sits_well(taut)
    assert list(sits_well(es.Pose(tilt=np.array([0.0, TILT_LIMIT + 1.0])))) == [True, False]
