"""Estimates from simulated cases, each with the interval that chance leaves it.

The intervals cover what comes of a limited number of cases. They say nothing of what the model leaves
out, or of assumed hands.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError, short
from .random_numbers import REPLICATES

LEVEL = 0.95
_NOTHING = 1e-20  # variance that is rounding


@dataclasses.dataclass(frozen=True, repr=False)
class Estimate:
    """A number with its 95 % interval.

    Attributes
    ----------
    value, low, high : float
        An interval that has no end on one side says -inf or inf there.
    how : str
        How the interval was found.
    unit : str
    """

    value: float
    low: float
    high: float
    how: str
    unit: str = ""

    def __float__(self):
        return float(self.value)

    def __format__(self, spec):
        return self.text(spec) if spec else repr(self)

    def text(self, spec=".2f"):
        """Words with a number format of one's own, such as `".1f"`, `".0%"`.

        Raises LearnerError if that is no number format.
        """
        try:
            format(self.value, spec)
        except (TypeError, ValueError):
            raise LearnerError(
                f"text takes a number format, such as '.1f' for one decimal or '.0%' for whole per cent; {short(spec)} "
                "was given."
            ) from None
        unit = f" {self.unit}" if self.unit else ""
        low = "no lower end" if math.isinf(self.low) else format(self.low, spec)
        high = "no upper end" if math.isinf(self.high) else format(self.high, spec)
        return f"{format(self.value, spec)}{unit} (95 % interval {low} to {high})"

    def __repr__(self):
        return self.text(".3g")


def holds_zero(estimate):
    """Whether the interval of an estimate holds zero, so that its sign is not known."""
    return estimate.low <= 0.0 <= estimate.high


def per_hundred(estimate):
    """Return a share, or what it gains, as a number of 100 instead of a part of 1."""
    ends = {name: 100.0 * getattr(estimate, name) for name in ("value", "low", "high")}
    return dataclasses.replace(estimate, **ends)


def share(count, n, *, conservative=False):
    """Share of cases, with the exact interval of Clopper and Pearson's construction (binomial).

    Raises LearnerError if there are no cases, or more hits than cases.

    Parameters
    ----------
    count, n : int
    conservative : bool
        The cases are Sobol' points: the interval is that of independent draws, wider than need be.
    """
    from scipy.special import betaincinv

    whole = (int, np.integer)
    if (
        not isinstance(count, whole)
        or not isinstance(n, whole)
        or isinstance(count, bool)
        or not 0 <= count <= n
        or n < 1
    ):
        raise LearnerError(f"A share needs whole numbers, count from 0 to n; {count!r} of {n!r} was given.")
    tail = (1.0 - LEVEL) / 2.0
    low = 0.0 if count == 0 else float(betaincinv(count, n - count + 1, tail))
    high = 1.0 if count == n else float(betaincinv(count + 1, n - count, 1.0 - tail))
    how = "exact binomial (beta quantiles)"
    return Estimate(count / n, low, high, how + _as_if(conservative))


def weighted_share(value, n):
    """Share of weighed cases with the score interval (1927).

    Parameters
    ----------
    value : float
    n : int
        How many independent cases the weights are worth.
    """
    z = normal_quantile()
    middle = (value + z**2 / (2.0 * n)) / (1.0 + z**2 / n)
    half = z / (1.0 + z**2 / n) * math.sqrt(value * (1.0 - value) / n + z**2 / (4.0 * n**2))
    return Estimate(value, max(0.0, middle - half), min(1.0, middle + half), f"score interval, {n} operations")


def mean(values, *, replicate=None, unit=""):
    """Mean with its interval.

    Parameters
    ----------
    values : (n,) array
    replicate : (n,) int array or None
        Which independent randomisation each case belongs to; None for independent cases.
    unit : str
    """
    values = _numbers(values, 2)
    middle = float(np.mean(values))
    if replicate is None:
        error, freedom, how = (float(np.std(values, ddof=1)) / math.sqrt(len(values)), len(values) - 1, "Student's t")
    else:
        groups, place, size = np.unique(replicate, return_inverse=True, return_counts=True)
        if len(groups) < REPLICATES or size.min() < 2:
            estimate = mean(values, unit=unit)
            return dataclasses.replace(estimate, how=estimate.how + _as_if(True))
        means = np.bincount(place, values) / size
        error, freedom = float(np.std(means, ddof=1)) / math.sqrt(len(groups)), len(groups) - 1
        how = f"Student's t on {len(groups)} independent randomisations"
    half = student_quantile(freedom) * error
    return Estimate(middle, middle - half, middle + half, how, unit)


def spread(values, *, conservative=False, unit=""):
    """Return the standard deviation with its interval: that of normal values, widened by a heavy tail.

    Chi-square on n - 1 degrees of freedom, or on the fewer that the fourth moment leaves; approximate for few values.

    Parameters
    ----------
    values : (n,) array [unit]
    conservative : bool
        As of `share`.
    unit : str
    """
    values = _numbers(values, 4)
    n, scale = len(values), float(np.std(values, ddof=1))
    how = "chi-square, degrees of freedom by the fourth moment" + _as_if(conservative)
    if scale <= 1e-12 * (1.0 + abs(float(np.mean(values)))):
        return Estimate(scale, scale, scale, how, unit)
    kurtosis = float(np.mean((values - values.mean()) ** 4)) / scale**4
    error = 0.5 * math.sqrt(max(kurtosis - (n - 3) / (n - 1), 2.0 / n) / n)  # of log SD
    freedom = min(n - 1.0, 0.5 / error**2)
    low, high = scale * spread_factors(freedom)
    return Estimate(scale, float(low), float(high), how, unit)


def spread_factors(freedom):
    """Both ends of the 95 % interval of a normal standard deviation, as multiples of it; (2, ...) array, chi-square."""
    from scipy.stats import chi2

    return np.stack([np.sqrt(freedom / chi2.ppf(q, freedom)) for q in (0.5 + LEVEL / 2.0, 0.5 - LEVEL / 2.0)])


def quantile(values, p, *, conservative=False, unit=""):
    """Quantile with the interval between two order statistics, exact for any distribution.

    Where there are too few cases for 95 %, the interval has no end on that side.

    Parameters
    ----------
    values : (n,) array [unit]
    p : float [1]
        Share of the values below it.
    conservative : bool
        As of `share`.
    unit : str
    """
    from scipy.special import bdtr

    values = np.sort(_numbers(values, 1))
    if not isinstance(p, (int, float)) or not 0.0 < p < 1.0:
        raise LearnerError(f"A quantile is asked for at a share between 0 and 1, such as 0.95; {p!r} was given.")
    n, tail = len(values), (1.0 - LEVEL) / 2.0
    below = bdtr(np.arange(n + 1), n, p)  # chance that at most k cases lie below the quantile
    lower = int(np.searchsorted(below, tail, side="right"))  # largest k with P(B <= k - 1) <= tail
    upper = int(np.searchsorted(below, 1.0 - tail, side="left")) + 1  # smallest k with P(B <= k - 1) >= 1 - tail
    low = -math.inf if lower < 1 else float(values[lower - 1])
    high = math.inf if upper > n else float(values[upper - 1])
    return Estimate(float(np.quantile(values, p)), low, high, "order statistics" + _as_if(conservative), unit)


def sobol_indices(a, b, mixed, *, replicates=False):
    """First-order and total Sobol' indices: which part of a variance comes from which cause, alone and with all others.

    One table of chance, A, and another, B; for each cause a third that is A with the columns of that cause from B. What
    a function makes of the three tells its indices. A result of several numbers (a shift in x and y) has one index, by
    the sum of their variances; so directions do not matter. Raises LearnerError if fewer than 64 rows are left, or
    nothing varies.

    Parameters
    ----------
    a, b : (n, outputs) array
        What comes of the two tables. Rows with NaN are left out.
    mixed : (causes, n, outputs) array
        What comes of A with the columns of one cause from B. Rows with NaN are left out for that cause.
    replicates : bool
        Row i belongs to randomisation i % 16, as of Sobol' points; else all rows are independent.

    Returns
    -------
    first, total : list of Estimate [1]
        One for each cause. An index is a ratio of two means; its interval is that of the ratio, linearised.

    Notes
    -----
    Sources: *Variance based sensitivity analysis of model output. Design and estimator for the total sensitivity
    index*, Computer Physics Communications 2010, DOI 10.1016/j.cpc.2009.09.018 (first order: table 2, line b; total:
    line f, from memory); several numbers at once: *Multivariate sensitivity analysis to measure global contribution of
    input factors in dynamic models*, Reliability Engineering & System Safety 2011, DOI 10.1016/j.ress.2010.12.002
    (from memory).
    """
    a, b, mixed = np.asarray(a, float), np.asarray(b, float), np.asarray(mixed, float)
    known = np.isfinite(a).all(axis=-1) & np.isfinite(b).all(axis=-1)
    if not known.any():
        raise LearnerError("Of these cases none settled, so nothing can be told apart. Choose a plan that settles.")
    middle = np.mean([a[known], b[known]], axis=(0, 1))
    found = [_indices(a - middle, b - middle, one - middle, known, replicates) for one in mixed]
    return [first for first, _ in found], [total for _, total in found]


def _indices(a, b, mixed, known, replicates):
    rows = np.flatnonzero(known & np.isfinite(mixed).all(axis=-1))
    if len(rows) < 4 * REPLICATES:
        raise LearnerError(f"Indices need at least {4 * REPLICATES} cases that settled; there are {len(rows)}.")
    a, b, mixed = a[rows], b[rows], mixed[rows]
    variance = 0.5 * np.sum(a**2 + b**2, axis=-1)
    if np.mean(variance) <= _NOTHING:
        raise LearnerError("Nothing varies here, so nothing is to blame. Give the hands a spread.")
    alone, total = np.sum(b * (mixed - a), axis=-1), 0.5 * np.sum((mixed - a) ** 2, axis=-1)
    place = rows % REPLICATES if replicates else None
    return _ratio(alone, variance, place), _ratio(total, variance, place)


def _ratio(above, below, place):
    """Ratio of two means with its interval: Student's t on what each row adds to the linearised ratio."""
    value = float(np.mean(above) / np.mean(below))
    adds = (above - value * below) / np.mean(below)
    how = "ratio of means, linearised; Student's t"
    if place is not None:
        sizes = np.bincount(place, minlength=REPLICATES)
        adds = np.bincount(place, adds)[sizes > 0] / sizes[sizes > 0]
        how += f" on {len(adds)} independent randomisations"
    half = student_quantile(len(adds) - 1) * float(np.std(adds, ddof=1)) / math.sqrt(len(adds))
    return Estimate(value, value - half, value + half, how)


def _numbers(values, least):
    try:
        values = np.asarray(values, float)
    except (TypeError, ValueError):
        raise LearnerError("An estimate is made from a list of numbers.") from None
    if values.ndim != 1 or len(values) < least or not np.all(np.isfinite(values)):
        raise LearnerError(f"An estimate with an interval needs a list of at least {least} finite numbers.")
    return values


def student_quantile(freedom):
    """Quantile of Student's t that leaves 2.5 % above it."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + LEVEL / 2.0))


def normal_quantile():
    """Quantile of the normal distribution that leaves 2.5 % above it."""
    from scipy.special import ndtri

    return float(ndtri(0.5 + LEVEL / 2.0))


def _as_if(conservative):
    return ", as if the Sobol' points were independent: wider than need be" if conservative else ""
