"""Learning curves: limits and run lengths by published tables, exact chances against play, and what is said."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from chart_peer import chain_mean, gaussian_chain, lattice_chain, simulate

import eyesim as es
from eyesim.eye.sources import data_folder
from eyesim.practice.cusum import (
    Rates,
    bounds,
    chart_values,
    learning_walk,
    power,
    sequential_walk,
    watch_walk,
    weights,
)
from eyesim.practice.failures import failed_by_error, failed_by_outcome, group_attempts
from eyesim.practice.learning_curve import LOST, NOT_YET, SHOWN, learning_curve, sequential_test
from eyesim.practice.log import Log, read_log
from eyesim.practice.run_length import Walk, mean_run, signal_by

LOG = read_log(data_folder() / "demo" / "practice-log.csv")


# ---------------------------------------------------------------- limits and run lengths

# Applied Statistics and Probability for Engineers, 3rd edition, table 16-9: average run length of the two-sided chart
# of a normal quantity, k = 0.5, h = 4 and 5 (seen as quoted); one side alone runs twice as long at no shift
PRINTED = {
    0.0: (168, 465),
    0.5: (26.6, 38.0),
    1.0: (8.38, 10.4),
    1.5: (4.75, 5.75),
    2.0: (3.34, 4.01),
    3.0: (2.19, 2.57),
}


@pytest.mark.parametrize("shift", PRINTED)
def test_reference_run_lengths_of_the_normal_chart(shift):
    for h, printed in zip((4.0, 5.0), PRINTED[shift], strict=True):
        up, down = (chain_mean(gaussian_chain(0.5, h, sign * shift))[0] for sign in (1.0, -1.0))
        both = 1.0 / (1.0 / up + 1.0 / down)
        assert both == pytest.approx(printed, rel=0.006), (shift, h)  # three digits are printed


def test_reference_a_one_sided_chart_of_1972():
    # Biometrika 1972;59:539-549, k = 0.5, h = 3: 117.59 and 3.75 (seen as quoted)
    assert chain_mean(gaussian_chain(0.5, 3.0, 0.0))[0] == pytest.approx(117.59, abs=0.05)
    assert chain_mean(gaussian_chain(0.5, 3.0, 1.5))[0] == pytest.approx(3.75, abs=0.005)


def test_reference_a_path_of_a_statistics_package():
    # the package cusum (CRAN), p0 = .05, odds ratio 2, outcomes 0 1 0 0 0 0 0 1 0 0: scores as printed in its help
    worse = 2.0 * (0.05 / 0.95) / (1.0 + 2.0 * (0.05 / 0.95))
    walk = Walk(*weights(0.05, worse), upper=9.0)
    values, signals = chart_values(walk, [0, 1, 0, 0, 0, 0, 0, 1, 0, 0])
    assert np.round(values, 2) == pytest.approx([0.0, 0.64, 0.60, 0.55, 0.50, 0.45, 0.40, 1.04, 1.00, 0.95])
    assert signals == ()


def test_reference_a_limit_of_that_package_by_all_its_paths():
    # cusum_limit_exact(p0 = .1, n = 10, odds ratio 2, alpha = .05) prints 1.41227: of 2^10 paths 5.1 % reach it
    worse = 2.0 / 9.0 / (1.0 + 2.0 / 9.0)
    walk = Walk(*weights(0.1, worse), upper=1.41227 - 1e-5)
    assert signal_by(walk, 0.1, 10)[0][-1] == pytest.approx(0.0510589, abs=1e-6)


def test_reference_step_and_limits_of_the_sequential_test():
    # P = ln(p1/p0), Q = ln((1-p0)/(1-p1)), s = Q/(P+Q), h = ln((1-a)/b)/(P+Q): Journal of Thoracic and Cardiovascular
    # Surgery 2004;128:811-819, DOI 10.1016/j.jtcvs.2004.03.011; the numbers of 5/10 % and 10/20 % were computed from it
    for rates, s, h in ((Rates(0.05, 0.10, 0.1, 0.1), 0.07236, 2.9406), (Rates(0.10, 0.20, 0.1, 0.1), 0.14524, 2.7095)):
        found = bounds(rates)
        assert (found.s, found.h0, found.h1) == pytest.approx((s, h, h), abs=5e-5)
    odd = bounds(Rates(0.10, 0.20, 0.05, 0.20))
    assert (odd.h0, odd.h1) == pytest.approx((1.9214, 3.4190), abs=5e-5)
    ratio = 0.2 * 0.9 / (0.1 * 0.8)
    assert math.log(ratio) == pytest.approx(math.log(2.0) + math.log(0.9 / 0.8))  # P + Q = ln OR


@pytest.mark.parametrize("m", [4, 7, 14])
def test_two_exact_ways_to_a_mean_run_agree(m):
    # a chart that climbs by m - 1 and falls by 1 (in steps of 1 / m) is a chain on a lattice: solved, or followed
    for rate in (0.05, 0.15):
        chain = chain_mean(lattice_chain(m - 1, 3 * m, rate))[0]
        walk = Walk((m - 1.0) / m, -1.0 / m, upper=3.0)
        assert mean_run(walk, rate) == pytest.approx(chain, rel=1e-6)


@pytest.mark.parametrize("make", [sequential_walk, watch_walk, learning_walk])
def test_exact_chances_and_runs_agree_with_play(make):
    rates = Rates()
    walk, rng = make(rates), np.random.default_rng(6)
    for rate in (rates.acceptable, rates.unacceptable):
        length, signal = simulate(walk, rate, rates.within, 20_000, rng)
        up, down = signal_by(walk, rate, rates.within)
        assert np.mean(signal > 0) == pytest.approx(up[-1], abs=4.0 * math.sqrt(0.25 / 20_000))
        assert np.mean(signal < 0) == pytest.approx(down[-1], abs=4.0 * math.sqrt(0.25 / 20_000))
        assert np.mean(length <= 20) == pytest.approx((up + down)[20], abs=0.015)


def test_the_limits_keep_what_was_promised_and_no_nearer_one_does():
    rates = Rates()
    passed, blamed = power(learning_walk(rates), rates).unacceptable, power(watch_walk(rates), rates).acceptable
    assert passed <= rates.beta
    assert blamed <= rates.alpha
    walk = learning_walk(rates)
    nearer = dataclasses.replace(walk, upper=walk.upper - 0.02)
    assert power(nearer, rates).unacceptable > rates.beta
    assert "signals within 60 attempts" in repr(power(learning_walk(rates), rates))


# ---------------------------------------------------------------- what is said


def test_competence_is_shown_kept_lost_and_not_shown_yet():
    good = learning_curve([False] * 40)
    assert good.state == SHOWN
    least = math.ceil(learning_walk(Rates()).upper / weights(0.30, 0.10)[1])  # an unbroken row of successes
    assert good.at == least
    assert f"Competence has been shown at attempt {least}" in repr(good)
    lost = learning_curve([False] * 40 + [True] * 8)
    assert lost.state == LOST
    assert "Competence has been lost at attempt" in repr(lost)
    again = learning_curve([False] * 40 + [True] * 8 + [False] * 40)
    assert again.state == SHOWN
    young = learning_curve([False, True, False])
    assert young.state == NOT_YET
    assert "Competence is not shown yet after 3 attempts (1 of 3 failed)" in repr(young)
    assert "wrongly passes" in young.doubt


def test_of_poor_hands_as_few_pass_as_was_promised_and_of_good_ones_most():
    rates, rng = Rates(), np.random.default_rng(8)
    passed = [np.mean([learning_curve(rng.random(rates.within) < p, rates).state != NOT_YET for _ in range(400)])
              for p in (rates.unacceptable, rates.acceptable)]  # fmt: skip
    told = power(learning_walk(rates), rates)
    assert passed[0] == pytest.approx(told.unacceptable, abs=0.035)
    assert passed[1] == pytest.approx(told.acceptable, abs=0.08)


def test_the_sequential_test_says_both():
    assert sequential_test([False] * 40).state == SHOWN
    assert "too many had failed" in repr(sequential_test([True] * 12))
    assert sequential_test([False, True]).state == NOT_YET


# ---------------------------------------------------------------- what failing means


def test_failing_by_outcome_is_what_the_lens_would_have_done():
    tried = group_attempts(LOG, "iris_angle")
    found = failed_by_outcome(tried)
    assert len(found) == 40
    for i in (0, 1, 7, 20, 39):
        (((side, name), miss),) = tried[i].misses.items()
        passes = [es.Fixation(), es.Fixation().opposite()]
        passes[side] = passes[side].but(**{name: passes[side].iris_angle + miss})
        pose = es.settle(es.Eye(), es.Lens(), *passes)
        assert found.tilt[i] == pytest.approx(pose.tilt, abs=1e-6)
        assert found.failed[i] == (pose.tilt > 5.0 or pose.decentration > 0.4)
    assert "left the lens more than 0.4 mm off centre or tilted by more than 5 deg" in repr(found)
    strict = failed_by_outcome(tried, tilt=1.0)
    assert strict.failed.sum() > found.failed.sum()


def test_failing_by_error_is_beyond_a_tolerance():
    tried = group_attempts(LOG, "tunnel_length")
    found = failed_by_error(tried, {"tunnel_length": 0.3})
    assert list(found.failed) == [abs(next(iter(one.misses.values()))) > 0.3 for one in tried]
    assert "tunnel length off by more than 0.3 mm" in found.rule


def test_attempts_are_judged_by_their_days_whatever_the_order_of_the_file():
    mixed = tuple(reversed(LOG.rows))
    assert [one.when for one in group_attempts(mixed)] == sorted(one.when for one in group_attempts(LOG))
    one, other = (learning_curve(failed_by_outcome(group_attempts(rows))) for rows in (LOG, mixed))
    assert (one.state, one.at) == (other.state, other.at)


def test_the_rule_says_what_was_measured_and_that_tilt_comes_from_iris_angles():
    assert "judged by mark's meridian, iris angle, tunnel length" in failed_by_outcome(group_attempts(LOG)).rule
    assert "nobody measured" not in failed_by_outcome(group_attempts(LOG)).rule
    harmless = failed_by_outcome(group_attempts(LOG, "tunnel_length"))
    assert harmless.rule.endswith("tilt comes from iris angles, which nobody measured")


def test_rows_without_a_name_each_count_as_an_attempt():
    rows = [dataclasses.replace(row, attempt="") for row in LOG.rows[:4]] + list(LOG.rows[4:6])
    named = len({row.attempt for row in LOG.rows[4:6]})
    assert f"6 rows of {4 + named} attempts" in repr(Log(tuple(rows)))
    assert len(group_attempts(rows)) == 4 + named


def test_the_demonstration_gets_better():
    tilt = failed_by_outcome(group_attempts(LOG, "iris_angle")).tilt[1::2]  # passes towards oneself
    assert tilt[:8].mean() > tilt[-8:].mean() + 1.0
    assert learning_curve(failed_by_outcome(group_attempts(LOG))).rule != ""


@pytest.mark.parametrize(("call", "words"), [
    (lambda: learning_curve([]), "list that says"), (lambda: learning_curve([0.5]), "list that says"),
    (lambda: learning_curve([True], 3), "Rates"), (lambda: Rates(0.3, 0.1), "below the unacceptable"),
    (lambda: Rates(alpha=0.6, beta=0.5), "together below 1"), (lambda: Rates(within=2), "5 to 1000"),
    (lambda: failed_by_outcome(()), "no attempts"), (lambda: failed_by_error(group_attempts(LOG), {"luck": 1}), "luck"),
    (lambda: failed_by_outcome(group_attempts(LOG), second=es.Fixation(meridian=120)), "already lies outside"),
    (lambda: group_attempts(LOG, "luck"), "luck"),
])  # fmt: skip
def test_what_cannot_be_judged_is_said_in_words(call, words):
    with pytest.raises(es.LearnerError, match=words):
        call()


@pytest.mark.parametrize(
    ("failed", "state", "at"),
    [
        ([False] * 40, "has been shown", 12), ([False] * 12 + [True] * 10, "has been lost", 15),
        ([True] * 10, "is not there", 3), ([True] * 3 + [False] * 30, "has been shown", 15),
        ([False] * 12 + [True] * 3 + [False] * 30, "has been shown", 27),
    ],
)  # fmt: skip
def test_the_sequential_test_names_the_attempt_at_which_its_verdict_was_first_said(failed, state, at):
    # by hand, s = .1862, h0 = 2.141, h1 = 1.668: twelve successes in a row reach -h0, three failures reach h1
    found = sequential_test(failed)
    assert (found.state, found.at) == (state, at)
    assert f"attempt {at}" in found.verdict
