"""Whose error it was: indices on functions whose indices are known, on a linear chain, and by halving one error."""

from __future__ import annotations

import math

import numpy as np
import pytest

import eyesim as es
from eyesim.study.blame import QUANTITIES, blame, halve
from eyesim.study.causes import causes_of, errors_in_common, scale_cause
from eyesim.study.compare import mean_gained, share_gained
from eyesim.study.estimates import sobol_indices
from eyesim.study.random_numbers import numbers

EYE, LENS = es.Eye(), es.Lens()
PLAN = es.Fixation(), es.Fixation().opposite()
STRAIGHT = es.Fixation(tunnel_length=None, iris_angle=10.0), es.Fixation(tunnel_length=None, iris_angle=10.0).opposite()
USUAL = es.Hands()
LYING = QUANTITIES[:3]


# ---------------------------------------------------------------- the estimator


def ishigami(u):
    x = (2.0 * u - 1.0) * math.pi
    return np.sin(x[..., 0]) + 7.0 * np.sin(x[..., 1]) ** 2 + 0.1 * x[..., 2] ** 4 * np.sin(x[..., 0])


def product(u):
    a = np.array([0.0, 0.5, 3.0, 9.0])
    return np.prod((np.abs(4.0 * u - 2.0) + a) / (1.0 + a), axis=-1)


def indices_of(function, n, width, seed, draws="random"):
    both = numbers(0, n, 2 * width, seed, draws)
    a, b = both[:, :width], both[:, width:]
    mixed = np.array([np.where(np.arange(width) == i, b, a) for i in range(width)])
    values = function(a)[:, None], function(b)[:, None], function(mixed)[..., None]
    return sobol_indices(*values, replicates=draws == "sobol")


# the function of Ishigami and Homma with a = 7, b = 0.1: S = .3139, .4424, 0; T = .5576, .4424, .2437; seen in the
# examples of a general toolkit for uncertainty; they follow from V = a^2/8 + pi^8 b^2/18 + pi^4 b/5 + 1/2
ISHIGAMI = (0.313905191147811, 0.442411144790041, 0.0), (0.557588855209959, 0.442411144790041, 0.243683664062148)
# the product function: V_i = 1 / (3 (1 + a_i)^2), V = prod(1 + V_i) - 1, T_i = V_i prod_{j != i} (1 + V_j) / V
_PART = 1.0 / (3.0 * (1.0 + np.array([0.0, 0.5, 3.0, 9.0])) ** 2)
_ALL = np.prod(1.0 + _PART) - 1.0
PRODUCT = _PART / _ALL, _PART * (1.0 + _ALL) / (1.0 + _PART) / _ALL


@pytest.mark.parametrize(("function", "truth"), [(ishigami, ISHIGAMI), (product, PRODUCT)])
@pytest.mark.parametrize("draws", ["random", "sobol"])
def test_reference_indices_of_functions_that_are_known(function, truth, draws):
    for found, right in zip(indices_of(function, 2**16, len(truth[0]), 3, draws), truth, strict=True):
        assert [one.value for one in found] == pytest.approx(list(right), abs=0.02 if draws == "random" else 0.003)


def test_reference_the_same_as_a_library_s():
    n = 4096
    # scipy.stats.sobol_indices, method "saltelli_2010", on the same tables of chance
    from scipy.stats import sobol_indices as library

    both = numbers(0, n, 6, 5)
    a, b = both[:, :3], both[:, 3:]
    mixed = np.array([np.where(np.arange(3) == i, b, a) for i in range(3)])
    known = {"f_A": ishigami(a)[None], "f_B": ishigami(b)[None], "f_AB": ishigami(mixed)[:, None, :]}
    theirs = library(func=known, n=n)
    first, total = indices_of(ishigami, n, 3, 5)
    assert [one.value for one in first] == pytest.approx(
        theirs.first_order, abs=2e-3
    )  # it takes the variance of a and b
    assert [one.value for one in total] == pytest.approx(theirs.total_order, abs=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize("draws", ["random", "sobol"])
def test_95_percent_intervals_of_indices_cover_the_truth_in_93_to_98_percent_of_runs(draws):
    truth = [*ISHIGAMI[0], *ISHIGAMI[1]]
    hit = np.array([
        [one.low <= right <= one.high for one, right in zip([*found[0], *found[1]], truth, strict=True)]
        for found in (indices_of(ishigami, 512, 3, 1000 + i, draws) for i in range(400))
    ])  # fmt: skip
    each = hit.mean(axis=0)
    # the total index of the second is nearly free of error; binomial error of one share is 1.1 points
    assert each.mean() == pytest.approx(0.955, abs=0.025), each
    assert each.min() > 0.90


def test_several_numbers_share_one_index_and_a_turn_changes_nothing():
    def both(u, turn):
        x, y = u[..., 0] + 0.2 * u[..., 1], 0.5 * u[..., 1] + u[..., 2] ** 2
        return np.stack([np.cos(turn) * x - np.sin(turn) * y, np.sin(turn) * x + np.cos(turn) * y], axis=-1)

    table = numbers(0, 4096, 6, 1)
    a, b = table[:, :3], table[:, 3:]
    mixed = np.array([np.where(np.arange(3) == i, b, a) for i in range(3)])
    for turn in (0.4, 2.0):
        straight, turned = (sobol_indices(*(both(t, angle) for t in (a, b, mixed))) for angle in (0.0, turn))
        for one, two in zip(straight, turned, strict=True):
            assert [e.value for e in one] == pytest.approx([e.value for e in two], abs=1e-12)


def test_cases_that_did_not_settle_are_left_out_and_too_few_are_told():
    a, b, mixed = (np.random.default_rng(i).random((4, 300, 1))[: (1, 1, 4)[i]] for i in range(3))
    a, b = a[0], b[0]
    holes = mixed.copy()
    holes[2, 7] = np.nan
    without = sobol_indices(np.delete(a, 7, 0), np.delete(b, 7, 0), np.delete(mixed, 7, 1))
    assert sobol_indices(a, b, holes)[0][2].value == pytest.approx(without[0][2].value, abs=0.01)
    assert sobol_indices(a, b, holes)[0][1] == sobol_indices(a, b, mixed)[0][1]
    with pytest.raises(es.LearnerError, match="at least 64 cases"):
        sobol_indices(a[:50], b[:50], mixed[:, :50])
    with pytest.raises(es.LearnerError, match="none settled"):
        sobol_indices(a * np.nan, b, mixed)
    with pytest.raises(es.LearnerError, match="Nothing varies"):
        sobol_indices(a * 0.0 + 3.0, b * 0.0 + 3.0, mixed * 0.0 + 3.0)


# ---------------------------------------------------------------- the hands


@pytest.mark.slow
def test_small_errors_are_to_blame_as_the_derivatives_say():
    # first order of a linear chain: (dy/dx sigma)^2 over their sum; derivatives by central differences
    spreads = {"meridian": 0.3, "iris_angle": 0.4, "tunnel_length": 0.03, "limbus_distance": 0.02, "limbus_angle": 0.4}
    hands = es.Hands.perfect().but(**{name: es.Error(spread=one) for name, one in spreads.items()})
    found = blame(EYE, LENS, *PLAN, hands, of=LYING, n=4096)
    parts = {}
    for name, spread in spreads.items():
        step = 0.5 * spread
        for k in (0, 1):
            both = [_settled(k, name, s) for s in (step, -step)]
            for quantity, place in (("decentration", _shift), ("tilt", _lean), ("depth", lambda p: np.array([p.z]))):
                change = (place(both[0]) - place(both[1])) / (2.0 * step) * spread
                parts.setdefault(quantity, {}).setdefault(name, []).append(float(change @ change))
    for quantity in LYING:
        every = sum(sum(one) for one in parts[quantity].values())
        for name in spreads:
            right = sum(parts[quantity][name]) / every
            for kind in (found.first, found.total):
                one = kind[quantity][name]
                assert abs(one.value - right) < 2.0 * (one.high - one.value) + 0.003, (quantity, name)
                assert one.high - one.low < 0.06


def _settled(k, name, step):
    """Settle the plan with one quantity of one side changed."""
    return es.settle(EYE, LENS, *(f.but(**{name: getattr(f, name) + step * (i == k)}) for i, f in enumerate(PLAN)))


def _shift(pose):
    return np.array([pose.x, pose.y])


def _lean(pose):
    towards = np.radians(pose.tilt_meridian)
    return pose.tilt * np.array([np.cos(towards), np.sin(towards)])


@pytest.fixture(scope="module")
def usual():
    return blame(EYE, LENS, *PLAN, USUAL)


@pytest.mark.slow
def test_tilt_comes_from_dips_and_decentration_from_tunnels_more_than_from_marks(usual):
    assert usual.main("tilt")[0][0].name == "iris_angle"
    assert usual.total["tilt"]["iris_angle"].low > 0.7
    alike = ("iris_angle", "needle_bend", "play")  # all of them turn the haptic where it leaves its tunnel
    assert sum(usual.first["tilt"][name].value for name in alike) > 0.85
    assert usual.main("decentration")[0][0].name == "tunnel_length"
    assert usual.first["decentration"]["tunnel_length"].low > usual.first["decentration"]["meridian"].high
    assert usual.first["tilt"]["meridian"].high < 0.01
    assert set(usual.total) == set(QUANTITIES)
    for quantity in LYING:
        assert sum(one.value for one in usual.first[quantity].values()) == pytest.approx(1.0, abs=0.06)
    assert "Tilt comes from iris angles 8" in repr(usual)


@pytest.mark.slow
def test_the_same_numbers_again_and_parts_add_up(usual):
    again = blame(EYE, LENS, *PLAN, USUAL)
    assert again == usual
    parts = blame(EYE, LENS, *PLAN, USUAL, of="decentration", parts=True)
    whole = usual.first["decentration"]["tunnel_length"].value
    sides = (parts.first["decentration"][f"tunnel_length.{side}"].value for side in ("first", "second"))
    assert sum(sides) == pytest.approx(whole, abs=0.03)
    assert all(
        cause.words.endswith((", first side", ", second side", ", both alike", "off-centre")) for cause in parts.causes
    )


def test_what_both_sides_have_in_common_neither_shifts_nor_tilts():
    alike = errors_in_common(USUAL).without("marker", "play")
    apart = USUAL.without("marker", "play")
    one, two = (es.operate(EYE, LENS, *PLAN, hands, n=2000) for hands in (apart, alike))
    assert two.mean("decentration").value < 0.05 * one.mean("decentration").value
    assert two.mean("tilt").value < 0.1 * one.mean("tilt").value
    assert two.spread("depth").value > 1.2 * one.spread("depth").value  # but it goes deeper, or less deep
    assert share_gained(one, two).low > 0.1


def test_errors_that_a_plan_cannot_have_are_not_to_blame():
    names = {cause.name for cause in causes_of(USUAL, EYE, PLAN)}
    assert {"tunnel_length", "iris_angle", "play"} <= names
    assert not names & {"wall", "exit_angle", "eyes"}
    straight = {cause.name for cause in causes_of(USUAL, es.Population(), STRAIGHT)}
    assert "tunnel_length" not in straight
    assert {"wall", "eyes"} <= straight
    columns = [c for cause in causes_of(USUAL, es.Population(), PLAN, parts=True) for c in cause.columns]
    assert len(columns) == len(set(columns))


@pytest.mark.slow
def test_eyes_that_differ_are_a_cause_of_what_is_seen():
    found = blame(es.Population(), LENS, *PLAN, USUAL, of=("depth", "refraction"), n=512)
    assert found.total["depth"]["eyes"].low > 0.1
    assert set(found.total) == {"depth", "refraction"}


def test_a_plan_that_often_fails_tells_of_how_many_it_speaks():
    found = blame(EYE, LENS, *STRAIGHT, USUAL, of="tilt", n=1024)
    assert 0.5 < found.settled.value < 0.9
    assert "% of the operations settled; these shares are of those." in repr(found)


# ---------------------------------------------------------------- halving, and comparing on the same draws


@pytest.mark.slow
def test_halving_gains_what_two_runs_on_the_same_draws_differ_by():
    found = {one.cause: one for one in halve(EYE, LENS, *PLAN, USUAL, n=2048)}
    assert max(found.values(), key=lambda one: one.share.value).cause in ("tunnel_length", "iris_angle")
    runs = [
        es.operate(EYE, LENS, *PLAN, hands, n=2048, draws="sobol")
        for hands in (USUAL, scale_cause(USUAL, "iris_angle", 0.5))
    ]
    gain = runs[1].share().value - runs[0].share().value
    assert found["iris_angle"].share.value == pytest.approx(gain, abs=1e-12)
    tilt = runs[1].pose.tilt - runs[0].pose.tilt
    assert found["iris_angle"].tilt.value == pytest.approx(np.nanmean(tilt), abs=1e-12)
    assert "iris angles halved: +" in repr(found["iris_angle"])
    assert list(found) == sorted(found, key=lambda name: -found[name].share.value)


def test_what_is_halved_is_all_of_an_error():
    hands = es.Hands(iris_angle=es.Error(bias=(2.0, 4.0), spread=3.0, shared=1.0), closure=0.2)
    assert scale_cause(hands, "iris_angle", 0.5).iris_angle == es.Error(bias=(1.0, 2.0), spread=1.5, shared=0.5)
    assert scale_cause(hands, "play", 0.5).closure == pytest.approx(0.6)
    assert scale_cause(USUAL, "marker", 0.5).marker_x.spread == pytest.approx(0.5 * USUAL.marker_x.spread)
    with pytest.raises(es.LearnerError, match="dips"):
        scale_cause(hands, "dips", 0.5)


def test_95_percent_intervals_of_paired_gains_cover_the_truth_in_93_to_98_percent_of_runs():
    runs = 2000

    # two runs of n cases that are within by chance .6 and .65, within together by .55: the gain is .05
    class Run:
        draws, seed = "random", 1

        def __init__(self, within):
            self.n, self._within = len(within), within

        def within(self, *_):
            return self._within

    generator, hits = np.random.default_rng(4), 0
    from eyesim.study import compare

    original, compare.Outcomes = compare.Outcomes, Run
    try:
        for _ in range(runs):
            u = generator.random(150)
            gain = share_gained(Run(u < 0.6), Run((u < 0.55) | (u > 0.9)))
            hits += gain.low <= 0.05 <= gain.high
    finally:
        compare.Outcomes = original
    assert 0.93 < hits / runs < 0.98


def test_only_the_same_draws_are_compared():
    one = es.operate(EYE, LENS, *PLAN, USUAL, n=300)
    same = share_gained(one, one)
    assert same.value == 0.0
    assert same.low < 0.0 < same.high
    assert mean_gained(one, one, "tilt").value == 0.0
    for other in (es.operate(EYE, LENS, *PLAN, USUAL, n=200), es.operate(EYE, LENS, *PLAN, USUAL, n=300, rng=2)):
        with pytest.raises(es.LearnerError, match="same draws"):
            share_gained(one, other)
    with pytest.raises(es.LearnerError, match="what operate gives"):
        mean_gained(one, USUAL, "tilt")


@pytest.mark.parametrize(("given", "words"), [
    ({"of": "roll"}, "roll"), ({"of": ()}, "what is to be explained"), ({"n": 100}, "at least 256"),
    ({"n": 2.5}, "whole number"), ({"hands": es.Hands.perfect()}, "Nothing is to blame"), ({"draws": "dice"}, "draws"),
    ({"eye": "eye"}, "must be an Eye"), ({"rng": -1}, "seed"), ({"parts": True, "of": ["tilt", 3]}, "3"),
])  # fmt: skip
def test_what_cannot_be_blamed_is_said_in_words(given, words):
    usual = {"eye": EYE, "lens": LENS, "first": PLAN[0], "second": PLAN[1], "hands": USUAL, "of": "tilt"}
    with pytest.raises(es.LearnerError, match=words):
        blame(**{**usual, **given})
