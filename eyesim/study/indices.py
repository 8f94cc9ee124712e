"""Sobol' indices: which part of a variance comes from which cause, alone and with all its company.

One table of chance, A, and another, B; for each cause a third that is A with the columns of that cause from B. What a
function makes of the three tells its indices. A result of several numbers (a shift in x and y) has one index, by the
sum of their variances; so directions do not matter.

Sources: *Variance based sensitivity analysis of model output. Design and estimator for the total sensitivity index*,
Computer Physics Communications 2010, DOI 10.1016/j.cpc.2009.09.018 (first order: table 2, line b; total: line f, from
memory); several numbers at once: *Multivariate sensitivity analysis to measure global contribution of input factors in
dynamic models*, Reliability Engineering & System Safety 2011, DOI 10.1016/j.ress.2010.12.002 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from ..eye.checks import LearnerError
from .draws import REPLICATES
from .estimates import Estimate, student

_NOTHING = 1e-20  # variance that is rounding


def sobol_indices(a, b, mixed, *, replicates=False):
    """First-order and total indices.

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

    Raises
    ------
    LearnerError
        If fewer than 64 rows are left, or nothing varies.
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
    half = student(len(adds) - 1) * float(np.std(adds, ddof=1)) / math.sqrt(len(adds))
    return Estimate(value, value - half, value + half, how)
