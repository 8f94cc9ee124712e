"""Charts of attempts that failed or not: what a failure and a success count, and where the limits are.

Three charts, all with two stated rates: an *acceptable* and an *unacceptable* share of failures.

- The **sequential test** (Wald): each success goes down by s, each failure up by 1 - s; at -h0 the rate is acceptable,
  at h1 it is not, with stated chances of either error.
- The **watch** (Bernoulli CUSUM): log-likelihoods, never below 0; it signals when somebody becomes worse.
- The **learning curve** (LC-CUSUM): the same turned round; it signals when competence has been shown.

Formulas: Journal of Thoracic and Cardiovascular Surgery 2004;128:811-819, DOI 10.1016/j.jtcvs.2004.03.011 (s, h0,
h1); Journal of Quality Technology 1999;31:87-108, A CUSUM chart for monitoring a proportion when inspecting
continuously; British Journal of Surgery 2008;95:925-929, DOI 10.1002/bjs.6056 (LC-CUSUM).
"""

from __future__ import annotations

import dataclasses
import functools
import math

import numpy as np

from ..eye.checks import LearnerError, number, short
from .run_length import Walk, mean_run, signal_by

_SHARES = dict.fromkeys(("acceptable", "unacceptable"), "share of failures")
_SHARES |= {"alpha": "chance to blame wrongly", "beta": "chance to pass wrongly"}


@dataclasses.dataclass(frozen=True, repr=False)
class Rates:
    """What is asked of attempts, and how often a chart may be wrong.

    Parameters
    ----------
    acceptable, unacceptable : float [1]
        Share of attempts that fail. Chosen for teaching; a programme sets its own.
    alpha : float [1]
        Chance to call somebody who fails at the acceptable rate unacceptable; in the sequential test, and of the
        watch within `within` attempts.
    beta : float [1]
        Chance to call somebody who fails at the unacceptable rate acceptable; in the sequential test, and of the
        learning curve within `within` attempts.
    within : int
        Attempts for which the two chances hold, of watch and learning curve.
    """

    acceptable: float = 0.10
    unacceptable: float = 0.30
    alpha: float = 0.10
    beta: float = 0.05
    within: int = 60

    def __post_init__(self):
        for name, words in _SHARES.items():
            value = number("Rates", name, getattr(self, name), 0.001, 0.999, "", words)
            if not isinstance(value, float):
                raise LearnerError(f"Rates.{name} ({words}) is one number; an array was given.")
            object.__setattr__(self, name, value)
        if not self.acceptable < self.unacceptable:
            raise LearnerError(
                f"Rates: the acceptable share of failures lies below the unacceptable one; {self.acceptable:g} and "
                f"{self.unacceptable:g} were given."
            )
        if self.alpha + self.beta >= 1.0:
            raise LearnerError("Rates: alpha and beta are chances of an error, together below 1.")
        whole = isinstance(self.within, (int, np.integer)) and not isinstance(self.within, bool)
        if not whole or not 5 <= self.within <= 1000:
            raise LearnerError(f"Rates.within is a whole number from 5 to 1000; {short(self.within)} was given.")

    def __repr__(self):
        return (
            f"Rates: {self.acceptable:.0%} failures acceptable, {self.unacceptable:.0%} not; blamed wrongly "
            f"{self.alpha:.0%}, passed wrongly {self.beta:.0%}"
        )


@dataclasses.dataclass(frozen=True)
class Bounds:
    """Of the sequential test: step down at a success, and both limits."""

    s: float
    h0: float
    h1: float


def bounds(rates):
    """Step and limits of the sequential test as published, `Bounds`."""
    failure, success = weights(rates.acceptable, rates.unacceptable)
    a, b = math.log((1.0 - rates.beta) / rates.alpha), math.log((1.0 - rates.alpha) / rates.beta)
    return Bounds(*(part / (failure - success) for part in (-success, b, a)))


def weights(usual, other):
    """Say what a failure and a success count: logarithms of how much more likely they are at the other rate.

    Parameters
    ----------
    usual, other : float [1]
        Shares of failures.

    Returns
    -------
    failure, success : float
    """
    return math.log(other / usual), math.log((1.0 - other) / (1.0 - usual))


def sequential_walk(rates):
    """Sequential test as a `Walk`: +1 at its upper limit is unacceptable, -1 at its lower one acceptable."""
    limits = bounds(rates)
    return Walk(1.0 - limits.s, -limits.s, limits.h1, floor=None, lower=-limits.h0)


def watch_walk(rates):
    """Watch as a `Walk`, with the nearest limit that raises a false alarm within `within` in at most alpha."""
    return _nearest_walk(rates.acceptable, rates.unacceptable, rates.alpha, rates.within)


def learning_walk(rates):
    """Learning curve as a `Walk`, with the nearest limit at which at most beta pass wrongly."""
    return _nearest_walk(rates.unacceptable, rates.acceptable, rates.beta, rates.within)


@functools.lru_cache(maxsize=64)
def _nearest_walk(usual, other, most, within):
    """Chart with the nearest limit, to a hundredth, at which at most a share signals of those at the usual rate."""
    steps = weights(usual, other)

    def chance(hundredths):
        return signal_by(Walk(*steps, hundredths / 100.0), usual, within)[0][-1]

    low, high = 0, 100
    while chance(high) > most:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if chance(middle) > most else (low, middle)
    return Walk(*steps, high / 100.0)


@dataclasses.dataclass(frozen=True, repr=False)
class Power:
    """How often and how soon a chart signals.

    Attributes
    ----------
    acceptable, unacceptable : float [1]
        Chance of a signal within `within` attempts, for somebody who fails at either rate.
    run_acceptable, run_unacceptable : float
        Mean number of attempts until it signals; inf where it hardly ever does.
    within : int
    """

    acceptable: float
    unacceptable: float
    run_acceptable: float
    run_unacceptable: float
    within: int

    def __repr__(self):
        return (
            f"signals within {self.within} attempts in {self.acceptable:.1%} of those who fail at the acceptable rate "
            f"(after {self.run_acceptable:.0f} attempts on average), in {self.unacceptable:.1%} at the unacceptable "
            f"one ({self.run_unacceptable:.0f})"
        )


@functools.lru_cache(maxsize=64)
def power(walk, rates):
    """Work out how often and how soon a chart signals at both rates, exactly.

    Parameters
    ----------
    walk : Walk
    rates : Rates

    Returns
    -------
    Power
    """
    both = (rates.acceptable, rates.unacceptable)
    chances = [float(signal_by(walk, rate, rates.within)[0][-1]) for rate in both]
    return Power(*chances, *(_run(walk, rate) for rate in both), rates.within)


def _run(walk, rate):
    try:
        return mean_run(walk, rate)
    except LearnerError:
        return math.inf


@functools.lru_cache(maxsize=64)
def sequential_power(rates):
    """Chances of both verdicts of the sequential test within `within` attempts, at both rates, exactly.

    Returns
    -------
    dict
        By rate ("acceptable", "unacceptable"): (called acceptable, called unacceptable).
    """
    walk, found = sequential_walk(rates), {}
    for name in ("acceptable", "unacceptable"):
        up, down = signal_by(walk, getattr(rates, name), rates.within)
        found[name] = float(down[-1]), float(up[-1])
    return found


def chart_values(walk, failures):
    """Values of a chart after each attempt, which begins anew after a signal.

    Parameters
    ----------
    walk : Walk
    failures : sequence of bool

    Returns
    -------
    values : (n,) array
        Before it begins anew.
    signals : tuple of (int, int)
        Attempt, counted from 1, and +1 or -1.
    """
    value, values, signals = walk.start, [], []
    for i, failed in enumerate(failures):
        value = float(walk.step(value, bool(failed)))
        values.append(value)
        which = int(walk.signals(value))
        if which:
            signals.append((i + 1, which))
            value = walk.start
    return np.array(values), tuple(signals)
