"""Working back: what may have happened is as likely as is told, and what cannot be told apart is said."""

from __future__ import annotations

import numpy as np
import pytest

import eyesim as es
from eyesim.study import working_back as backwards
from eyesim.study.causes import causes_of, remove_bias
from eyesim.study.error_model import columns, normal_deviates
from eyesim.study.examination import MEASURED, SPREADS, Examination, measurable
from eyesim.study.likely import likely_causes
from eyesim.study.operate import run_operations
from eyesim.study.random_numbers import numbers
from eyesim.study.working_back import effective_number, weighted_quantiles, work_back

EYE, LENS = es.Eye(), es.Lens()
PLAN = es.Fixation(), es.Fixation().opposite()
USUAL = es.Hands()
COLUMN = {name: i for i, name in enumerate(columns())}


def found_of(seen, i, generator, names, directions=True):
    """Measure one case, each value with its error."""
    values = {}
    for name in names:
        sd = getattr(Examination(tilt=1.0), SPREADS[name])
        value = np.atleast_2d(seen[name])[:, i] + sd * generator.standard_normal(len(np.atleast_2d(seen[name])))
        if len(value) == 1:
            values[name] = float(value[0])
            continue
        values[name] = float(np.hypot(*value))
        if directions:
            values[f"{name}_meridian"] = float(np.degrees(np.arctan2(value[1], value[0])))
    return Examination(**values)


@pytest.mark.slow
@pytest.mark.parametrize(("names", "directions"), [
    (("decentration", "tilt", "depth"), True),
    (("decentration", "tilt"), False),
    (("tilt", "first_tunnel", "roll", "second_mark"), True),
], ids=["pose", "sizes alone", "some"])  # fmt: skip
def test_50_and_90_percent_regions_cover_what_happened_in_so_many_of_simulated_truths(names, directions, monkeypatch):
    # simulation-based calibration: truths drawn from the hands, measured, and worked back by the same hands;
    # *Validating Bayesian inference algorithms with simulation-based calibration*, 2018 (from memory)
    monkeypatch.setattr(backwards, "ENOUGH", 150)
    truths, told = 45, ("iris_angle.first", "iris_angle.second", "tunnel_length.second", "meridian.first", "marker_y",
                        "limbus_distance.first", "outside.second", "limbus_angle.first")  # fmt: skip
    chance = numbers(0, truths, len(columns()), 77)
    seen = measurable(run_operations(EYE, LENS, PLAN, USUAL, truths, lambda a, b: chance[a:b], 0, "random"))
    deviates, generator, ranks = normal_deviates(chance), np.random.default_rng(5), []
    for i in range(truths):
        if not np.isfinite(seen["depth"][i]):
            continue
        one = work_back(EYE, LENS, *PLAN, USUAL, found_of(seen, i, generator, names, directions), n=600, rng=i)
        assert one.enough
        mine = normal_deviates(one.chance)
        ranks.append([one.weights @ (mine[:, COLUMN[name]] < deviates[i, COLUMN[name]]) for name in told])
    ranks = np.array(ranks)
    # about 350 ranks, nearly on their own: a share of one half is known to 2.7 points, of 90 % to 1.6
    assert np.mean(np.abs(ranks - 0.5) < 0.25) == pytest.approx(0.5, abs=0.065)
    assert np.mean(np.abs(ranks - 0.5) < 0.45) == pytest.approx(0.9, abs=0.04)
    assert np.mean(ranks) == pytest.approx(0.5, abs=0.04)


def test_reference_a_straight_line_has_the_posterior_of_the_textbook():
    # one error acts, a hardly bent line: mean m = s^2 b y / (s^2 b^2 + e^2), variance s^2 e^2 / (s^2 b^2 + e^2)
    # (conjugate normal model, any textbook of Bayesian statistics)
    hands = es.Hands.perfect().but(iris_angle=es.Error(spread=(0.0, 2.0)))
    flat, dipped = es.settle(EYE, LENS, *PLAN), es.settle(EYE, LENS, PLAN[0], PLAN[1].but(iris_angle=6.0))
    slope, sd = float(dipped.z - flat.z), 0.15
    value = float(flat.depth) - 3.0 * slope
    one = work_back(EYE, LENS, *PLAN, hands, Examination(depth=value, depth_sd=sd), n=4096)
    error = one.done.second.iris_angle - 5.0
    mean = one.weights @ error
    variance = one.weights @ (error - mean) ** 2
    below = 4.0 * slope**2 + sd**2
    assert mean == pytest.approx(4.0 * slope * 3.0 * slope / below, abs=0.12)
    assert variance == pytest.approx(4.0 * sd**2 / below, rel=0.12)


@pytest.mark.slow
def test_rounds_and_one_long_run_agree():
    # the same posterior by plain weighting of many operations, without rounds: another way to the same number
    found = Examination(decentration=0.5, decentration_meridian=80.0, tilt=3.0, tilt_meridian=250.0)
    rounds = work_back(EYE, LENS, *PLAN, USUAL, found, n=4096)
    assert rounds.rounds > 1
    chance = numbers(0, 60_000, len(columns()), 9)
    done = run_operations(EYE, LENS, PLAN, USUAL, len(chance), lambda a, b: chance[a:b], 0, "random")
    fit = found.log_likelihood(measurable(done))
    weights = np.exp(fit - fit.max())
    weights /= weights.sum()
    for side in ("first", "second"):
        for name in ("iris_angle", "meridian", "tunnel_length"):
            ours, plain = getattr(getattr(rounds.done, side), name), getattr(getattr(done, side), name)
            if name == "meridian":
                ours, plain = (np.mod(v + 90.0, 360.0) for v in (ours, plain))
            spread = np.sqrt(weights @ (plain - weights @ plain) ** 2)
            error = spread / np.sqrt(min(effective_number(weights), rounds.effective))
            assert rounds.weights @ ours == pytest.approx(weights @ plain, abs=4.0 * error), (side, name)


@pytest.mark.slow
def test_a_lens_that_leans_about_the_line_speaks_for_a_dip_and_the_side_is_told_by_the_depth():
    steeper = es.settle(EYE, LENS, PLAN[0], PLAN[1].but(iris_angle=13.0))
    lean = {"tilt": float(steeper.tilt), "tilt_meridian": float(steeper.tilt_meridian)}
    one = likely_causes(work_back(EYE, LENS, *PLAN, USUAL, Examination(**lean)))
    assert {like.cause.name for like in one.likely[:2]} == {"iris_angle.first", "iris_angle.second"}
    assert sum(like.probability.value for like in one.likely[:2]) > 0.9
    assert {cause.name for cause in one.ambiguous[0]} == {"iris_angle.first", "iris_angle.second"}
    assert one.measurements[0].what == "depth"
    assert "cannot tell apart: iris angles, " in repr(one)
    deep = likely_causes(work_back(EYE, LENS, *PLAN, USUAL, Examination(**lean, depth=float(steeper.depth))))
    assert deep.likely[0].cause.name == "iris_angle.second"
    assert deep.likely[0].probability.low > one.likely[0].probability.high
    assert deep.open < one.open


@pytest.mark.slow
def test_measuring_what_is_told_to_be_measured_closes_as_much_as_was_told():
    found = {"decentration": 0.6, "decentration_meridian": 75.0}
    one = likely_causes(work_back(EYE, LENS, *PLAN, USUAL, Examination(**found)))
    best = one.measurements[0]
    picked, generator, left = one.back.sample(6, 3), np.random.default_rng(1), []
    seen = measurable(one.back.done)[best.what]
    for value in seen[picked] + best.sd * generator.standard_normal(6):
        more = work_back(EYE, LENS, *PLAN, USUAL, Examination(**found, **{best.what: float(value)}), n=1024)
        left.append(likely_causes(more, n=300).open)
    assert one.open - np.mean(left) == pytest.approx(best.bits, abs=0.3)


@pytest.mark.slow
def test_only_a_size_tells_no_direction_and_so_hardly_any_cause_from_another():
    one = likely_causes(work_back(EYE, LENS, *PLAN, USUAL, Examination(decentration=0.6)))
    named = [like.cause for like in one.likely if like.probability.value >= 0.1]
    assert len(one.ambiguous) == len(named) * (len(named) - 1) // 2 > 0


@pytest.mark.slow
def test_eyes_that_differ_may_be_the_cause_and_the_same_seed_gives_the_same():
    found = Examination(depth=2.2, depth_sd=0.05)
    one = work_back(es.Population(), LENS, *PLAN, USUAL, found, n=1024)
    two = work_back(es.Population(), LENS, *PLAN, USUAL, found, n=1024)
    assert np.array_equal(one.weights, two.weights)
    told = likely_causes(one, n=200)
    assert "eyes" in {like.cause.name for like in told.likely}
    assert repr(told) == repr(likely_causes(two, n=200))
    assert sum(like.probability.value for like in told.likely) == pytest.approx(1.0)


@pytest.mark.slow
def test_what_hands_would_hardly_leave_is_said(monkeypatch):
    far = work_back(
        EYE, LENS, *PLAN, USUAL, Examination(decentration=1.8, decentration_meridian=75.0, decentration_sd=0.05)
    )
    assert far.agreement < 1e-3
    assert "would rarely leave a lens like this" in repr(far)
    monkeypatch.setattr(backwards, "_ROUNDS", 1)
    rough = work_back(EYE, LENS, *PLAN, USUAL, Examination(tilt=14.0, tilt_meridian=75.0), n=256)
    assert not rough.enough
    assert "Too few agree" in repr(rough)


def test_a_weighted_quantile_is_the_plain_one_for_like_weights_and_holes_do_not_count():
    values = np.random.default_rng(1).random(2001)
    shares = (0.05, 0.5, 0.95)
    assert weighted_quantiles(values, np.full(2001, 1.0), shares) == pytest.approx(
        np.quantile(values, shares), abs=1e-3
    )
    holes, weights = np.append(values, [np.nan, 5.0]), np.append(np.full(2001, 1.0), [9.0, 0.0])
    assert weighted_quantiles(holes, weights, shares) == pytest.approx(
        weighted_quantiles(values, weights[:2001], shares)
    )
    assert effective_number(np.full(50, 0.02)) == pytest.approx(50.0)


def test_without_a_bias_is_without_that_of_one_side():
    hands = es.Hands(iris_angle=es.Error(bias=(2.0, 3.0), spread=1.0), marker_x=es.Error(bias=0.2, spread=0.1))
    assert remove_bias(hands, "iris_angle.first").iris_angle.biases == (0.0, 3.0)
    assert remove_bias(hands, "iris_angle.shared") == hands
    assert remove_bias(hands, "marker").marker_x.bias == 0.0
    assert remove_bias(hands, "play.first") == hands
    assert {cause.name for cause in causes_of(hands, EYE, PLAN, parts=True)} >= {"iris_angle.first", "play.second"}


@pytest.mark.parametrize(("given", "words"), [
    ({}, "nothing was measured"), ({"tilt": -1}, "tilt"), ({"tilt": "six"}, "six"), ({"tip": 6}, "tilt"),
    ({"tilt_meridian": 90}, "says where to"), ({"tilt": np.array([1.0, 2.0])}, "one eye at a time"),
    ({"tilt": 6, "tilt_sd": 0}, "tilt_sd"), ({"depth": float("nan")}, "depth"),
])  # fmt: skip
def test_what_cannot_have_been_found_is_said_in_words(given, words):
    with pytest.raises(es.LearnerError, match=words):
        Examination(**given)


@pytest.mark.slow
@pytest.mark.parametrize(("given", "words"), [
    ({"found": 6}, "found must be"), ({"n": 10}, "at least 256"), ({"hands": es.Hands.perfect()}, "exactly what was"),
    ({"found": Examination(first_tunnel=7.9, tunnel_sd=0.005)}, "rarely|anywhere near"), ({"eye": 3}, "must be an Eye"),
])  # fmt: skip
def test_what_cannot_be_worked_back_is_said_in_words(given, words):
    usual = {
        "eye": EYE,
        "lens": LENS,
        "first": PLAN[0],
        "second": PLAN[1],
        "hands": USUAL,
        "found": Examination(tilt=6),
    }
    with pytest.raises(es.LearnerError, match=words):
        raise es.LearnerError(repr(work_back(**{**usual, **given})))


def test_everything_that_can_be_measured_is_told_with_its_unit():
    found = Examination(**{name: 1.0 for name in MEASURED})
    assert found.measured == MEASURED
    assert repr(found).startswith(
        "Found: decentration 1 mm (SD 0.1); tilt 1 deg (SD 1); depth 1 mm (SD 0.15); rotation 1 deg"
    )
    with pytest.raises(es.LearnerError, match="likely_causes"):
        likely_causes(found)
