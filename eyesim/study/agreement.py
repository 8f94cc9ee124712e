"""Two raters measured the same attempts: how far they agree, and how much of the spread is measuring.

Lancet 1986;327:307-310, DOI 10.1016/S0140-6736(86)90837-8, has the limits of agreement.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError, number
from .estimates import LEVEL, Estimate, mean, spread_factors

LEAST = 3
"""Attempts that both must have measured [1]; chosen for teaching."""


@dataclasses.dataclass(frozen=True, repr=False)
class Agreement:
    """How far two raters agree.

    Attributes
    ----------
    n : int
    bias : Estimate
        Mean of first less second rater.
    low, high : Estimate
        Limits of agreement: between them lie some 95 % of the differences.
    within_spread : Estimate
        Standard deviation of one reading of the same attempt.
    reliability : Estimate [1]
        Intra-class correlation: share of the variance of readings that is between attempts.
    raters : pair of str
    quantity : str
    """

    n: int
    bias: Estimate
    low: Estimate
    high: Estimate
    within_spread: Estimate
    reliability: Estimate
    raters: tuple[str, str] = ("first rater", "second rater")
    quantity: str = ""

    def __repr__(self):
        what = f"{self.quantity}, " if self.quantity else ""
        one, two = self.raters
        return (
            f"{what}{self.n} attempts measured by both: {one} less {two} is {self.bias.text('+.2f')}; limits of "
            f"agreement {self.low.text('+.2f')} and {self.high.text('+.2f')}; one reading varies by "
            f"{self.within_spread.text('.2f')} about the attempt."
        )


def agreement(
    one, other, unit="", raters=("first rater", "second rater"), quantity="", *, multiple=1.96, plain=False
) -> Agreement:
    """Compare two raters' readings of the same attempts.

    Raises LearnerError if these are not two lists of equally many numbers, or too few.

    Parameters
    ----------
    one, other : (n,) arrays
    unit : str
    raters : pair of str
    quantity : str
    multiple : float [1]
        Standard deviations from the mean difference to a limit.
    plain : bool
        Intervals of the limits as in the paper of 1986, with a variance of 3 s^2 / n. Otherwise the exact ones by the
        noncentral t distribution (Optometry and Vision Science 2015, DOI 10.1097/OPX.0000000000000513), which are
        wider for few attempts.
    """
    one, other = _pairs(one, other)
    multiple = number("agreement", "multiple", multiple, 0.5, 5.0, "", "standard deviations to a limit")
    d = one - other
    limits = [_limit(d, sign * multiple, unit, plain) for sign in (-1.0, 1.0)]
    readings = np.stack([one, other], axis=1)
    judged = within_spread(readings, unit), reliability(readings)
    return Agreement(len(d), mean(d, unit=unit), *limits, *judged, tuple(raters), quantity)


def _limit(d, multiple, unit, plain):
    """Limit of agreement with its interval."""
    from scipy import stats

    n, middle, scale = len(d), float(d.mean()), float(d.std(ddof=1))
    value = middle + multiple * scale
    if plain:
        half = float(stats.t.ppf(0.5 + LEVEL / 2.0, n - 1)) * math.sqrt(3.0 * scale**2 / n)
        return Estimate(value, value - half, value + half, "variance 3 s^2 / n", unit)
    tails = (0.5 - LEVEL / 2.0, 0.5 + LEVEL / 2.0)
    near, far = (float(stats.nct.ppf(q, n - 1, abs(multiple) * math.sqrt(n))) / math.sqrt(n) for q in tails)
    ends = (near, far) if multiple > 0 else (-far, -near)
    return Estimate(value, *(middle + end * scale for end in ends), "noncentral t", unit)


def within_spread(readings, unit=""):
    """Return the standard deviation of readings of the same attempt, an `Estimate`.

    Parameters
    ----------
    readings : (attempts, readings) array
    unit : str
    """
    n, k = readings.shape
    scale = math.sqrt(float(np.mean(readings.var(axis=1, ddof=1))))
    freedom = n * (k - 1)
    low, high = scale * spread_factors(freedom)
    return Estimate(scale, float(low), float(high), "analysis of variance, chi-square", unit)


def reliability(readings):
    """Intra-class correlation of single readings (one-way, random), an `Estimate`.

    Psychological Bulletin 1979;86:420-428, Intraclass correlations: uses in assessing rater reliability, ICC(1, 1).

    Parameters
    ----------
    readings : (attempts, readings) array
    """
    from scipy.stats import f

    n, k = readings.shape
    between, inside = k * readings.mean(axis=1).var(ddof=1), float(np.mean(readings.var(axis=1, ddof=1)))
    how = "one-way analysis of variance, F"
    if inside <= 1e-300:
        whole = 1.0 if between > 0.0 else 0.0
        return Estimate(whole, whole, whole, how)
    ratio, df = between / inside, (n - 1, n * (k - 1))
    tail = 0.5 + LEVEL / 2.0
    low, high = ratio / f.ppf(tail, *df), ratio * f.ppf(tail, *df[::-1])
    return Estimate(*(float((r - 1.0) / (r + k - 1.0)) for r in (ratio, low, high)), how)


def _pairs(one, other):
    try:
        one, other = np.asarray(one, float), np.asarray(other, float)
    except (TypeError, ValueError):
        raise LearnerError("Readings of two raters are two lists of numbers.") from None
    if one.ndim != 1 or one.shape != other.shape or not np.all(np.isfinite(one) & np.isfinite(other)):
        raise LearnerError("Readings of two raters are two lists of equally many finite numbers.")
    if len(one) < LEAST:
        raise LearnerError(f"To compare two raters, at least {LEAST} attempts that both measured are needed.")
    return one, other
