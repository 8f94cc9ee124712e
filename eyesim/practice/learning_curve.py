"""Whether competence has been shown, is not shown yet, or has been lost: attempt by attempt, with stated error rates.

`learning_curve` follows attempts with the learning-curve chart until competence has been shown, then watches whether
it is kept; after an alarm it has to be shown again. `sequential_test` is the older chart with two straight limits.
A chart judges attempts like those that were logged, and nothing else.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, short
from ..study.estimates import Estimate, share
from . import cusum
from .cusum import Bounds, Power, Rates

SHOWN, NOT_YET, LOST, NOT_ACCEPTABLE = "has been shown", "is not shown yet", "has been lost", "is not there"
"""What a chart may say of competence."""


@dataclasses.dataclass(frozen=True)
class Phase:
    """A stretch of attempts under one chart.

    Attributes
    ----------
    kind : "learning" or "watch"
    start : int
        Its first attempt, counted from 1.
    values : (n,) array [1]
        Of the chart after each of its attempts.
    limit : float [1]
    signal : int or None
        Attempt at which it signalled.
    """

    kind: str
    start: int
    values: np.ndarray
    limit: float
    signal: int | None


@dataclasses.dataclass(frozen=True, repr=False)
class Curve:
    """What a series of attempts says of competence.

    Attributes
    ----------
    state : str
        One of `SHOWN`, `NOT_YET`, `LOST`.
    at : int or None
        Attempt at which the chart said so; None where it said nothing.
    failed : (n,) bool array
    phases : tuple of Phase
    rates : Rates
    learning, watch : Power
        How often and how soon either chart signals.
    share : Estimate [1]
        Of all attempts that failed.
    rule : str
        What failing means.
    """

    state: str
    at: int | None
    failed: np.ndarray
    phases: tuple[Phase, ...]
    rates: Rates
    learning: Power
    watch: Power
    share: Estimate
    rule: str = ""

    @property
    def verdict(self):
        """One sentence: whether competence has been shown, and at which attempt."""
        n = len(self.failed)
        since = {SHOWN: f", and was kept until attempt {n}", LOST: f", and is not shown again by attempt {n}"}
        return _sentence(self.state, self.at, self.failed, since.get(self.state, ""))

    @property
    def doubt(self):
        """One or two sentences: how often such a chart is wrong."""
        r, learning, watch = self.rates, self.learning, self.watch
        words = (
            f"Within {r.within} attempts the chart wrongly passes {learning.unacceptable:.1%} of those who fail at "
            f"{r.unacceptable:.0%} of attempts, and rightly {learning.acceptable:.1%} of those who fail at "
            f"{r.acceptable:.0%}"
        )
        if self.state == NOT_YET:
            return f"{words}, these after {learning.run_acceptable:.0f} attempts on average."
        return (
            f"{words}. Afterwards it wrongly raises an alarm within {r.within} attempts in {watch.acceptable:.1%} of "
            f"those who still fail at {r.acceptable:.0%}; who fails at {r.unacceptable:.0%} is noticed after "
            f"{watch.run_unacceptable:.0f} attempts on average."
        )

    def __repr__(self):
        rule = f" Failed means: {self.rule}." if self.rule else ""
        return f"{self.verdict} {self.doubt}{rule}"


@dataclasses.dataclass(frozen=True, repr=False)
class SequentialTest:
    """What the sequential test says.

    Attributes
    ----------
    state : str
        One of `SHOWN`, `NOT_YET`, `LOST`, `NOT_ACCEPTABLE`.
    at : int or None
    failed : (n,) bool array
    values : (n,) array [1]
        Up by 1 - s at a failure, down by s at a success; from 0 again after a verdict.
    signals : tuple of (int, int)
        Attempt, and +1 (unacceptable) or -1 (acceptable).
    bounds : Bounds
    rates : Rates
    chances : dict
        By rate of failures: chance to be called acceptable, and unacceptable, within `rates.within` attempts.
    rule : str
    """

    state: str
    at: int | None
    failed: np.ndarray
    values: np.ndarray
    signals: tuple
    bounds: Bounds
    rates: Rates
    chances: dict
    rule: str = ""

    @property
    def verdict(self):
        """One sentence."""
        return _sentence(self.state, self.at, self.failed)

    def __repr__(self):
        r, right, wrong = self.rates, self.chances["acceptable"][0], self.chances["unacceptable"][0]
        rule = f" Failed means: {self.rule}." if self.rule else ""
        return (
            f"{self.verdict} Sequential test with alpha {r.alpha:g} and beta {r.beta:g}: within {r.within} attempts it "
            f"calls {right:.1%} of those acceptable who fail at {r.acceptable:.0%} of attempts, and {wrong:.1%} of "
            f"those who fail at {r.unacceptable:.0%}.{rule}"
        )


def learning_curve(failures, rates=None):
    """Follow attempts until competence has been shown, and watch whether it is kept.

    Raises LearnerError if there are no attempts, or one neither failed nor succeeded.

    Parameters
    ----------
    failures : Failures or sequence of bool
        Which attempts failed, in their order.
    rates : Rates or None
        What is asked, and how often the charts may be wrong; None takes those chosen for teaching.

    Returns
    -------
    Curve
    """
    failed, rule, rates = _checked(failures, rates)
    walks = {"learning": cusum.learning_walk(rates), "watch": cusum.watch_walk(rates)}
    phases, start = [], 0
    while not phases or (phases[-1].signal is not None and start < len(failed)):
        kind = "learning" if len(phases) % 2 == 0 else "watch"
        phases.append(_phase(kind, walks[kind], failed, start))
        start = phases[-1].signal
    at, state = None, NOT_YET
    for phase in phases:
        if phase.signal is not None:
            at, state = phase.signal, SHOWN if phase.kind == "learning" else LOST
    powers = {kind: cusum.power(walk, rates) for kind, walk in walks.items()}
    failures = share(int(failed.sum()), len(failed))
    return Curve(state, at, failed, tuple(phases), rates, **powers, share=failures, rule=rule)


def _phase(kind, walk, failed, start):
    values, signals = cusum.chart_values(walk, failed[start:])
    signal = signals[0][0] if signals else None
    return Phase(kind, start + 1, values[:signal], walk.upper, None if signal is None else start + signal)


def sequential_test(failures, rates=None):
    """Judge attempts by the sequential test, which begins anew after each verdict.

    Parameters
    ----------
    failures, rates
        As for `learning_curve`.

    Returns
    -------
    SequentialTest
    """
    failed, rule, rates = _checked(failures, rates)
    values, signals = cusum.chart_values(cusum.sequential_walk(rates), failed)
    if not signals:
        state, at = NOT_YET, None
    else:
        which = signals[-1][1]
        turned = max((i + 1 for i, (_, one) in enumerate(signals) if one != which), default=0)
        at = signals[turned][0]  # the first of those that say the same
        state = SHOWN if which < 0 else LOST if turned else NOT_ACCEPTABLE
    chances = cusum.sequential_power(rates)
    return SequentialTest(state, at, failed, values, signals, cusum.bounds(rates), rates, chances, rule)


def _sentence(state, at, failed, since=""):
    """Say what a chart says of competence, and how many attempts failed."""
    n = len(failed)
    words = {
        SHOWN: f"has been shown at attempt {at}",
        LOST: f"has been lost at attempt {at}",
        NOT_ACCEPTABLE: f"is not shown yet: at attempt {at} too many had failed",
        NOT_YET: f"is not shown yet after {'1 attempt' if n == 1 else f'{n} attempts'}",
    }
    return f"Competence {words[state]}{since} ({int(failed.sum())} of {n} failed)."


def _checked(failures, rates):
    rates = Rates() if rates is None else rates
    if not isinstance(rates, Rates):
        raise LearnerError(f"rates are Rates(acceptable=0.1, unacceptable=0.3, ...); {short(rates)} was given.")
    rule = getattr(failures, "rule", "")
    given = np.asarray(getattr(failures, "failed", failures))
    if given.ndim != 1 or not given.size or (given.dtype.kind not in "biu") or not np.isin(given, (0, 1)).all():
        raise LearnerError("A learning curve takes a list that says of each attempt whether it failed: True or False.")
    return given.astype(bool), rule, rates
