"""Working back: from a lens as it was found to what may have happened.

Operations are made up with the hands that did it, and weighted by how well each agrees with what was found. Where few
agree, more are made up where a straight line through them says that others would, and their weights take it back again
(importance sampling in rounds: *Adaptive importance sampling in general mixture classes*, Statistics and Computing
2008, DOI 10.1007/s11222-008-9059-x, from memory). How many independent operations they are worth goes with
them.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, must_be, plain_errors
from .causes import causes_of
from .error_model import CUT, normal_deviates
from .examination import DIRECTED, SPREADS, Examination, measurable
from .operate import chance_width, check, run_operations
from .random_numbers import numbers, seed_of

ENOUGH = 400
"""Effective number of operations at which no further round is made."""
_ROUNDS = 6
_OLD = 0.1  # share of each round that is made up as if nothing had been found, so that no corner is forgotten
_WIDER = 1.2  # times the variance that a straight line would leave, since nothing is quite straight


@dataclasses.dataclass(frozen=True, repr=False)
class Reconstruction:
    """Operations that may have led to a lens as it was found, with their weights.

    Attributes
    ----------
    found : Examination
    done : Outcomes
        The operations of the last round.
    weights : (n,) array [1]
        Their sum is one.
    chance : (n, columns) array
        Their chance, numbers between 0 and 1; see `error.columns` and `Population.columns`.
    setting : tuple
        Eye or Population, lens, plan and hands.
    effective : float
        How many independent operations they are worth.
    rounds : int
    agreement : float [1]
        Share of operations by these hands, before anything was found, that agree as well as three quarters of these.
    """

    found: Examination
    done: object
    weights: np.ndarray
    chance: np.ndarray
    setting: tuple
    effective: float
    rounds: int
    agreement: float

    @property
    def enough(self):
        """Whether they are worth enough to be believed."""
        return self.effective >= 0.25 * ENOUGH

    def sample(self, n, rng):
        """Numbers of n operations, picked by their weights (systematically, so that few are lost)."""
        start = np.random.default_rng(seed_of(rng)).random()
        places = (np.arange(n) + start) / n
        return np.minimum(np.searchsorted(np.cumsum(self.weights), places), len(self.weights) - 1)

    def interval(self, values, level=0.9):
        """Middle, low and high end of a quantity: weighted quantiles."""
        return weighted_quantiles(values, self.weights, (0.5, 0.5 * (1.0 - level), 0.5 * (1.0 + level)))

    def __repr__(self):
        worth = f"{self.done.n} operations in round {self.rounds}, worth {self.effective:.0f} independent ones"
        rare = "" if self.agreement >= 1e-3 else " These hands would rarely leave a lens like this."
        few = "" if self.enough else " Too few agree: this result is rough."
        return f"{self.found!r}. Worked back from {worth}.{rare}{few}"


@plain_errors
def work_back(eye, lens, first, second, hands, found, n=4096, rng=1) -> Reconstruction:
    """Make up operations that agree with a lens as it was found.

    Raises LearnerError if something given is not what it should be, these hands make no errors, or no operation of
    theirs comes anywhere near.

    Parameters
    ----------
    eye : Eye or Population
        The eye, or those of which it is one.
    lens : Lens
    first, second : Fixation
        The plan that was followed.
    hands : Hands
        Whose errors can have happened, and how large they usually are.
    found : Examination
    n : int
        Operations in each round.
    rng : int or numpy Generator
    """
    check(eye, lens, first, second, hands, n, "random", 4096)
    must_be("work_back", "found", found, Examination)
    if n < 256:
        raise LearnerError(f"work_back: n is at least 256; {n} was given.")
    plan = (first, second)
    acting = [column for cause in causes_of(hands, eye, plan) for column in cause.columns]
    if not acting:
        raise LearnerError("These hands do exactly what was planned, so nothing can have happened. Give them a spread.")
    chance = _Chance(eye, lens, plan, hands, found, acting, n, seed_of(rng))
    return chance.rounds()


class _Chance:
    """Rounds of importance sampling over the normal deviates behind the columns of chance that act."""

    def __init__(self, eye, lens, plan, hands, found, acting, n, seed):
        self.setting, self.found, self.acting = (eye, lens, plan, hands), found, acting
        self.n, self.seed, self.width = n, seed, chance_width(eye)
        self.generator = np.random.default_rng([seed, 1])

    def rounds(self):
        z = normal_deviates(numbers(0, self.n, self.width, self.seed)[:, self.acting])
        fit, seen, done = self._tried(z)
        self._some(fit)
        weights, first, blunt, round = _weights(fit), fit, np.full(self.n, 1.0 / self.n), 1
        while effective_number(weights) < ENOUGH and round < _ROUNDS:
            near = _Near(z, seen, blunt, self.found, self.generator)
            z, round = near.draw(self.n), round + 1
            fit, seen, done = self._tried(z)
            self._some(fit)
            log = fit + _prior(z) - near.density(z)
            weights, blunt = _weights(log), _blunt(log)
        (least,) = weighted_quantiles(fit, weights, (0.25,))
        agreement = float(np.mean(first >= least))
        chance = self._chance(z)
        return Reconstruction(
            self.found, done, weights, chance, self.setting, effective_number(weights), round, agreement
        )

    def _chance(self, z):
        uniform = np.full((self.n, self.width), 0.5)
        uniform[:, self.acting] = _uniform(z)
        return uniform

    def _some(self, fit):
        if not np.isfinite(fit).any():
            raise LearnerError("No operation by these hands settles anywhere near. Was another plan followed?")

    def _tried(self, z):
        """Return how well each operation agrees (log likelihood), what could be measured, and the operations."""
        uniform = self._chance(z)
        rows = lambda start, stop: uniform[start:stop]  # noqa: E731
        done = run_operations(*self.setting, self.n, rows, self.seed, "random", progress=False)
        seen = measurable(done)
        fit = self.found.log_likelihood(seen)
        return np.where(np.abs(z).max(axis=1) < CUT, fit, -np.inf), seen, done


class _Near:
    """Normal deviates near those that agree: what follows if all that is measured were linear in them.

    The straight line is fitted to operations that were made up, and its misses count as errors of measurement. A size
    that has no direction is tried in all of them: a mixture of normal distributions, all of the same width.
    """

    def __init__(self, z, seen, weights, found, generator):
        self.generator, self.dimension = generator, z.shape[1]
        aims, spreads = _aims(found)
        y = np.stack([row for name in found.measured for row in np.atleast_2d(seen[name])])
        known = np.isfinite(y).all(axis=0) & (weights > 0.0)
        z, y, weights = z[known], y[:, known], weights[known] / weights[known].sum()
        middle, level = weights @ z, y @ weights
        apart, off = z - middle, y - level[:, None]
        shared = (apart * weights[:, None]).T @ apart + 1e-3 * np.eye(self.dimension)
        slopes = np.linalg.solve(shared, (apart * weights[:, None]).T @ off.T).T
        missed = off - slopes @ apart.T
        noise = np.diag(spreads**2) + (missed * weights) @ missed.T
        start = level - slopes @ middle  # the line at deviates of zero, about which they are drawn
        total = slopes @ slopes.T + noise
        gain = np.linalg.solve(total, slopes).T
        self.centres = (aims - start) @ gain.T
        spread = np.eye(self.dimension) - gain @ slopes
        self.root = np.linalg.cholesky(_WIDER * (spread + spread.T) / 2.0 + 1e-9 * np.eye(self.dimension))
        miss = np.linalg.solve(total, (aims - start).T)
        log = -0.5 * np.sum((aims - start).T * miss, axis=0)
        self.log = log - _log_sum(log)

    def draw(self, n):
        """Draw deviates, (n, dimension)."""
        own = self.generator.standard_normal((n, self.dimension))
        which = self.generator.choice(len(self.centres), n, p=np.exp(self.log))
        near = self.centres[which] + own @ self.root.T
        return np.where(self.generator.random((n, 1)) < _OLD, own, near)

    def density(self, z):
        """Log density of each row, up to the constant that `_prior` leaves out too."""
        from scipy.linalg import solve_triangular

        inside, centres = (solve_triangular(self.root, one.T, lower=True).T for one in (z, self.centres))
        squares = np.sum(inside**2, axis=1)[:, None] + np.sum(centres**2, axis=1) - 2.0 * inside @ centres.T
        near = _log_sum(self.log - 0.5 * squares) - np.sum(np.log(np.diag(self.root)))
        return np.logaddexp(np.log(_OLD) + _prior(z), np.log(1.0 - _OLD) + near)


def _aims(found):
    """Values that were measured, one row for each direction that they may have had, and their standard deviations."""
    rows, spreads = [[]], []
    for name in found.measured:
        value, sd = getattr(found, name), getattr(found, SPREADS[name])
        if name not in DIRECTED:
            rows, spreads = [[*row, value] for row in rows], [*spreads, sd]
            continue
        meridian = getattr(found, f"{name}_meridian")
        turns = np.arange(0.0, 360.0, 15.0) if meridian is None else [meridian]
        ways = [(value * np.cos(np.radians(turn)), value * np.sin(np.radians(turn))) for turn in turns]
        rows, spreads = [[*row, *way] for row in rows for way in ways], [*spreads, sd, sd]
    return np.array(rows), np.array(spreads)


def effective_number(weights):
    """How many independent operations weighted ones are worth: 1 / sum of squares of weights that add up to one."""
    return float(1.0 / np.sum(weights**2))


def weighted_quantiles(values, weights, shares):
    """Quantiles of weighted values, a list; values that are no number do not count.

    Parameters
    ----------
    values, weights : (n,) arrays
    shares : sequence of float [1]
        Of the weight below each quantile.
    """
    known = np.isfinite(values) & (weights > 0.0)
    order = np.argsort(values[known])
    values, weights = values[known][order], weights[known][order]
    places = (np.cumsum(weights) - 0.5 * weights) / np.sum(weights)
    return [float(one) for one in np.interp(shares, places, values)]


def _blunt(log):
    """Weights of a blunted agreement, by which a quarter of the operations count: enough to fit a line to."""
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective_number(_weights(middle * log)) > 0.25 * len(log) else (low, middle)
    return _weights(low * log) if low > 0.0 else np.full(len(log), 1.0 / len(log))


def _log_sum(log):
    from scipy.special import logsumexp

    return logsumexp(log, axis=-1)


def _weights(log):
    raised = np.exp(log - np.max(log))
    return raised / np.sum(raised)


def _prior(z):
    return -0.5 * np.sum(z**2, axis=1)


def _uniform(z):
    """Numbers between 0 and 1 that `error.normal_deviates` turns into these deviates."""
    from scipy.special import ndtr

    low = ndtr(-CUT)
    return np.clip((ndtr(z) - low) / (1.0 - 2.0 * low), 2.0**-53, 1.0 - 2.0**-53)
