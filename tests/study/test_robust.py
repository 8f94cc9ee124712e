"""A plan that hands can keep: searched on the same draws, held against the usual one, and not taken when slack."""

from __future__ import annotations

import math

import pytest

import eyesim as es
from eyesim.study import robust
from eyesim.study.robust import WAYS, robust_plan

EYE, LENS = es.Eye(), es.Lens()
CHOSEN, STRAIGHT = "flange, chosen tunnel", "flange, straight through"


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """Search fewer values; what is tested does not hang on how many."""
    few = {name: v[::2] for name, v in robust._VALUES.items() if name != "outside"}
    monkeypatch.setattr(robust, "_VALUES", {**few, "outside": robust._VALUES["outside"]})
    monkeypatch.setattr(robust, "_FEW", 64)
    monkeypatch.setattr(robust, "_SWEEPS", 1)


@pytest.mark.slow
def test_the_best_plan_is_better_than_the_usual_one_by_what_two_runs_differ_by():
    found = robust_plan(EYE, LENS, es.Hands(), CHOSEN, n=1024)
    best, usual = found.best, found.usual
    assert best.share.value > usual.share.value
    runs = [es.operate(EYE, LENS, one.first, one.second, es.Hands(), 1024, 2, "sobol") for one in (best, usual)]
    assert [one.share().value for one in runs] == [best.share.value, usual.share.value]
    assert usual.behind.value == pytest.approx(best.share.value - usual.share.value, abs=1e-12)
    assert best.behind.value == 0.0
    assert best.as_good
    assert not usual.as_good
    assert "Best of " in repr(found)
    assert "The usual plan is behind by" in repr(found)
    assert found.candidates == robust_plan(EYE, LENS, es.Hands(), CHOSEN, n=1024).candidates


@pytest.mark.slow
def test_hands_that_err_in_their_dips_alone_do_better_with_a_tunnel_that_is_chosen():
    # on a straight pass a dip changes the tunnel as well, so that it decentres too (-0.12 mm of tunnel a degree)
    hands = es.Hands.perfect().but(iris_angle=es.Error(spread=3.0))
    found = robust_plan(EYE, LENS, hands, (STRAIGHT, CHOSEN), n=512, tilt=None, decentration=0.15)
    assert found.best.way == CHOSEN
    assert found.best.share.value == 1.0
    assert found.plans[1].behind.low > 0.0


@pytest.mark.slow
def test_a_slack_haptic_is_not_taken_and_is_still_shown():
    found = robust_plan(EYE, LENS, es.Hands(), CHOSEN, n=256, least_pull=30.0)
    assert found.best.pull >= 25.0  # on other draws, the middle is a little elsewhere
    assert min(pull for _, _, pull in found.candidates if not math.isnan(pull)) < 25.0
    loose = robust_plan(EYE, LENS, es.Hands(), CHOSEN, n=256, least_pull=0.0)
    assert loose.best.share.value >= found.best.share.value - 0.03


def test_a_tuck_leaves_more_haptic_outside_than_a_flange():
    assert max(robust._VALUES["outside"]["flange"]) < min(robust._VALUES["outside"]["slit"])
    for way in WAYS:
        assert len(robust._Search._values(way, "outside")) > 2


@pytest.mark.parametrize(("given", "words"), [
    ({"ways": "glue"}, "glue"), ({"ways": ()}, "names some of"), ({"usual": 3}, "usual"), ({"n": 0}, "whole number"),
    ({"least_pull": -1}, "least_pull"), ({"hands": None}, "Hands"), ({"eye": LENS}, "an Eye"),
])  # fmt: skip
def test_what_cannot_be_searched_is_said_in_words(given, words):
    with pytest.raises(es.LearnerError, match=words):
        robust_plan(**{**{"eye": EYE, "lens": LENS, "hands": es.Hands()}, **given})
