"""How long a chart of attempts runs before it signals: exactly, as a Markov chain, and by playing it many times.

A chart that climbs by one step at a failure and goes down by another at a success is a walk; a signal is its end.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, number

_SMALLEST = 1e-18  # chances below it are let go
_PLACES = 9  # decimals to which values of a chart are told apart
_LONGEST = 50_000  # attempts after which a chart is said never to signal


@dataclasses.dataclass(frozen=True)
class Walk:
    """A chart that signals when it reaches a limit.

    Parameters
    ----------
    failure, success : float
        What an attempt that failed, or succeeded, adds.
    upper : float
        Signal at this value or above it.
    floor : float or None
        Value below which it never falls; None for a chart with a lower limit.
    lower : float or None
        Signal at this value or below it.
    start : float
    """

    failure: float
    success: float
    upper: float
    floor: float | None = 0.0
    lower: float | None = None
    start: float = 0.0

    def step(self, values, failed):
        """Values after one more attempt, before any signal is looked for."""
        after = np.asarray(values) + np.where(failed, self.failure, self.success)
        return after if self.floor is None else np.maximum(after, self.floor)

    def signals(self, values):
        """+1 where the upper limit is reached, -1 where the lower one is, else 0."""
        up = (np.asarray(values) >= self.upper - 1e-9).astype(int)
        return up if self.lower is None else up - (np.asarray(values) <= self.lower + 1e-9)


def signal_by(walk, rate, n):
    """Chance that a chart has signalled by each attempt, for somebody who fails at a rate; exact.

    Parameters
    ----------
    walk : Walk
    rate : float [1]
    n : int
        Attempts.

    Returns
    -------
    up, down : (n + 1,) arrays [1]
        By the upper and by the lower limit.
    """
    rate = _rate(rate)
    up, down = np.zeros(n + 1), np.zeros(n + 1)
    values, chances = np.array([walk.start]), np.array([1.0])
    for t in range(1, n + 1):
        values, chances, gone = _step(walk, values, chances, rate)
        up[t], down[t] = up[t - 1] + gone[0], down[t - 1] + gone[1]
    return up, down


def mean_run(walk, rate):
    """Mean number of attempts until a chart signals, for somebody who fails at a rate.

    The chain is followed until what is left of it shrinks by the same factor each time; from there on the sum is a
    geometric one.

    Raises
    ------
    LearnerError
        If it hardly ever signals.
    """
    rate = _rate(rate)
    values, chances = np.array([walk.start]), np.array([1.0])
    total, left, factors = 0.0, 1.0, []
    for _ in range(_LONGEST):
        total += left
        values, chances, _ = _step(walk, values, chances, rate)
        now = float(chances.sum())
        if now < 1e-13:
            return total
        factors = [*factors[-79:], now / left]
        before, left = left, now
        ends = 1.0 - now / before
        if len(factors) == 80 and max(factors) - min(factors) < max(1e-9 * ends, 1e-15):
            if ends < 1e-9:
                break
            return total + left / ends
    raise LearnerError("Such a chart hardly ever signals; choose a nearer limit.")


def _step(walk, values, chances, rate):
    """One more attempt: values and chances of charts that go on, and the chances of both signals."""
    values = np.concatenate([walk.step(values, True), walk.step(values, False)])
    chances = np.concatenate([rate * chances, (1.0 - rate) * chances])
    signal = walk.signals(values)
    gone = float(chances[signal > 0].sum()), float(chances[signal < 0].sum())
    on = (signal == 0) & (chances > _SMALLEST)
    values, chances = values[on], chances[on]
    _, one, place = np.unique(np.round(values, _PLACES), return_index=True, return_inverse=True)
    return values[one], np.bincount(place, chances, len(one)), gone


def simulate(walk, rate, n, runs, rng):
    """Play a chart many times.

    Parameters
    ----------
    walk : Walk
    rate : float [1]
    n : int
        Attempts after which a run is given up.
    runs : int
    rng : numpy Generator

    Returns
    -------
    length : (runs,) int array
        Attempt at which it signalled; n + 1 if it did not.
    signal : (runs,) int array
        +1, -1, or 0 if it did not.
    """
    value, length, signal = np.full(runs, walk.start), np.full(runs, n + 1), np.zeros(runs, int)
    going = np.arange(runs)
    for t in range(1, n + 1):
        value = walk.step(value, rng.random(len(going)) < _rate(rate))
        now = walk.signals(value)
        length[going[now != 0]], signal[going[now != 0]] = t, now[now != 0]
        going, value = going[now == 0], value[now == 0]
        if not len(going):
            break
    return length, signal


def chain_mean(passing):
    """Mean number of steps until a Markov chain is absorbed, from each of its passing states.

    Parameters
    ----------
    passing : (k, k) array [1]
        Chances to go from row to column without being absorbed.

    Returns
    -------
    (k,) array
    """
    passing = np.asarray(passing, float)
    return np.linalg.solve(np.eye(len(passing)) - passing, np.ones(len(passing)))


def lattice_chain(up, limit, rate):
    """Return the passing states 0 to limit - 1 of a chart that climbs by whole steps and goes down by one.

    Parameters
    ----------
    up, limit : int
    rate : float [1]

    Returns
    -------
    (limit, limit) array [1]
    """
    rate = _rate(rate)
    chain = np.zeros((limit, limit))
    for value in range(limit):
        chain[value, max(value - 1, 0)] += 1.0 - rate
        if value + up < limit:
            chain[value, value + up] += rate
    return chain


def gaussian_chain(k, h, shift, cells=201):
    """Return the passing states of the chart of a normal quantity, S = max(0, S + x - k) with a signal at h, in cells.

    Biometrika 1972;59:539-549, An approach to the probability distribution of cusum run length: state 0 is the lowest
    cell, of half width.

    Parameters
    ----------
    k, h : float
        In standard deviations.
    shift : float
        Of the mean, in standard deviations.
    cells : int
    """
    from scipy.special import ndtr

    width = 2.0 * h / (2 * cells - 1)
    middle = width * np.arange(cells)
    step = middle[None, :] - middle[:, None] + k - shift
    chain = ndtr(step + width / 2.0) - ndtr(step - width / 2.0)
    chain[:, 0] = ndtr(step[:, 0] + width / 2.0)
    return chain


def _rate(rate):
    return number("", "rate", rate, 0.0, 1.0, "", "share of attempts that fail")
