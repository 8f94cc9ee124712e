"""How long a chart of attempts runs before it signals: exactly, as a Markov chain.

A chart that climbs by one step at a failure and goes down by another at a success is a walk; a signal is its end.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, number

_SMALLEST = 1e-18  # chances below it are let go
_PLACES = 9  # decimals to which values of a chart differ
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
    geometric one. Raises LearnerError if it hardly ever signals.

    Parameters
    ----------
    walk : Walk
    rate : float [1]
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


def _rate(rate):
    return number("", "rate", rate, 0.0, 1.0, "", "share of attempts that fail")
