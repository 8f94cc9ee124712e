"""Estimates and draws: intervals that cover as often as they say, numbers that do not depend on the cut."""

import math

import numpy as np
import pytest
from scipy import stats

import eyesim as es
from eyesim.study import estimates, random_numbers
from eyesim.study.estimates import Estimate


@pytest.mark.parametrize(("count", "n"), [(0, 1), (1, 1), (0, 12), (3, 12), (12, 12), (417, 1000), (9990, 10_000)])
def test_share_is_clopper_pearson(count, n):
    # reference: scipy.stats.binomtest, method="exact"
    exact = stats.binomtest(count, n).proportion_ci(0.95, method="exact")
    got = estimates.share(count, n)
    assert got.value == count / n
    assert (got.low, got.high) == pytest.approx((exact.low, exact.high), abs=1e-12)


@pytest.mark.parametrize(("count", "n"), [(0, 1), (1, 1), (3, 12), (417, 1000)])
def test_weighed_share_has_the_score_interval(count, n):
    # reference: scipy.stats.binomtest, method="wilson"
    score = stats.binomtest(count, n).proportion_ci(0.95, method="wilson")
    got = estimates.weighted_share(count / n, n)
    assert (got.low, got.high) == pytest.approx((score.low, score.high), abs=1e-12)


@pytest.mark.parametrize(("count", "n"), [(-1, 5), (6, 5), (0, 0), (1.0, 5), (True, 5), ("1", 5)])
def test_impossible_shares_are_refused(count, n):
    with pytest.raises(es.LearnerError, match="whole numbers"):
        estimates.share(count, n)


def coverage(interval, truth, make, times=1500, seed=5):
    rng = np.random.default_rng(seed)
    hits = 0
    for _ in range(times):
        got = interval(make(rng))
        hits += got.low <= truth <= got.high
    return hits / times


SKEWED = stats.rayleigh(scale=1.0)  # as decentration is: never below zero, with a tail


@pytest.mark.slow
def test_intervals_cover_as_often_as_they_say():
    """0.95 of 1500: two standard errors are 0.011; order statistics and shares may cover more."""
    assert 0.935 < coverage(estimates.mean, SKEWED.mean(), lambda r: SKEWED.rvs(60, random_state=r)) < 0.965
    normal = stats.norm(2.0, 3.0)
    assert 0.935 < coverage(estimates.mean, 2.0, lambda r: normal.rvs(5, random_state=r)) < 0.965
    assert 0.925 < coverage(estimates.spread, SKEWED.std(), lambda r: SKEWED.rvs(200, random_state=r)) < 0.97
    for p in (0.05, 0.95):
        seen = coverage(
            lambda v, p=p: estimates.quantile(v, p), SKEWED.ppf(p), lambda r: SKEWED.rvs(200, random_state=r)
        )
        assert 0.94 < seen < 0.985
    assert coverage(lambda k: estimates.share(k, 40), 0.1, lambda r: int(r.binomial(40, 0.1))) > 0.94


def test_quantile_interval_is_the_shortest_pair_of_order_statistics_that_is_safe():
    n, p = 300, 0.05
    got = estimates.quantile(np.arange(1.0, n + 1), p)  # the k-th smallest value is k
    below = stats.binom(n, p)
    # P(X_(k) > q) = P(at most k - 1 lie below q)
    assert below.cdf(got.low - 1) <= 0.025 < below.cdf(got.low)
    assert 1 - below.cdf(got.high - 1) <= 0.025 < 1 - below.cdf(got.high - 2)


def test_too_few_cases_leave_a_quantile_open_rather_than_guessed():
    got = estimates.quantile(np.arange(20.0), 0.05)
    assert math.isinf(got.low)
    assert "no lower end" in repr(got)


@pytest.mark.slow
def test_means_from_independent_randomisations_cover():
    """Sobol' points in 16 randomisations: the interval of the mean of a known integral covers."""
    hits, width = 0, []
    for seed in range(200):
        u = random_numbers.numbers(0, 512, 3, seed, "sobol")
        values = np.exp(u.sum(axis=1))
        got = estimates.mean(values, replicate=np.arange(512) % random_numbers.REPLICATES)
        hits += got.low <= (math.e - 1) ** 3 <= got.high
        width.append(got.high - got.low)
    assert 0.90 < hits / 200 < 0.99
    plain = estimates.mean(np.exp(random_numbers.numbers(0, 512, 3, 1).sum(axis=1)))
    assert np.mean(width) < 0.5 * (plain.high - plain.low)


@pytest.mark.parametrize("values", [[], [1.0], [1.0, math.nan], [[1.0, 2.0]], ["a", "b"], None, [1.0, math.inf]])
def test_estimates_refuse_what_is_no_list_of_numbers(values):
    for estimate in (estimates.mean, estimates.spread):
        with pytest.raises(es.LearnerError):
            estimate(values)


def test_estimate_reads_as_words():
    made = Estimate(0.42, 0.401, 0.44, "exact binomial", "mm")
    assert repr(made) == "0.42 mm (95 % interval 0.401 to 0.44)"
    assert f"{made:.1f}" == "0.4 mm (95 % interval 0.4 to 0.4)"
    assert float(made) == 0.42


def test_constant_values_have_no_spread_and_no_warning():
    got = estimates.spread(np.full(10, 3.0))
    assert (got.value, got.low, got.high) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("kind", random_numbers.KINDS)
def test_numbers_do_not_depend_on_the_cut(kind):
    whole = random_numbers.numbers(0, 40_000, 5, 9, kind)
    assert whole.shape == (40_000, 5)
    assert whole.min() > 0.0
    assert whole.max() < 1.0
    for start, stop in ((0, 1), (1023, 1025), (16_383, 16_390), (20_000, 39_999), (7, 7)):
        np.testing.assert_array_equal(random_numbers.numbers(start, stop, 5, 9, kind), whole[start:stop])


def test_random_columns_stay_when_others_follow():
    np.testing.assert_array_equal(random_numbers.numbers(0, 50, 4, 3), random_numbers.numbers(0, 50, 9, 3)[:, :4])


@pytest.mark.parametrize("kind", random_numbers.KINDS)
def test_numbers_are_uniform_and_seeds_differ(kind):
    one, two = random_numbers.numbers(0, 4096, 3, 1, kind), random_numbers.numbers(0, 4096, 3, 2, kind)
    # 4.5 standard errors of independent numbers; scrambled grids of equal steps may agree a little more
    assert abs(np.corrcoef(one[:, 0], two[:, 0])[0, 1]) < (0.07 if kind == "random" else 0.4)
    for column in one.T:
        assert stats.kstest(column, "uniform").pvalue > 1e-4


def test_each_randomisation_is_a_scrambled_sobol_sequence():
    """Every dyadic interval of 2^k points holds exactly one of them: what pseudo-random numbers do not do."""
    replicates = random_numbers.REPLICATES
    points = random_numbers.numbers(0, 64 * replicates, 4, 11, "sobol").reshape(64, replicates, 4)
    for r in range(random_numbers.REPLICATES):
        for d in range(4):
            assert sorted((points[:, r, d] * 64).astype(int)) == list(range(64))


def test_seed_may_be_a_number_or_a_generator():
    assert random_numbers.seed_of(np.int64(4)) == 4
    first, second = np.random.default_rng(7), np.random.default_rng(7)
    assert random_numbers.seed_of(first) == random_numbers.seed_of(second) != random_numbers.seed_of(first)
    for bad in (None, -1, 1.5, True, "1", np.random.RandomState(1), 2**200):
        with pytest.raises(es.LearnerError, match="seed"):
            random_numbers.seed_of(bad)
