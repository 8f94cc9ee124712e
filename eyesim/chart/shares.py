"""Shares of many operations, in the words that charts put on them; of all cases, so what did not settle counts."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError
from ..study import estimates


def check_outcomes(where, outcomes):
    """Refuse what `operate` did not give back, and outcomes of which none settled.

    Parameters
    ----------
    where : str
        Name of the chart, for the words of an error.
    outcomes : Outcomes
    """
    pose, n = getattr(outcomes, "pose", None), getattr(outcomes, "n", None)
    if pose is None or n is None:
        kind = type(outcomes).__name__
        raise LearnerError(f"{where} draws what es.operate(...) gives back; a {kind} was given.")
    if not np.any(pose.settled):
        raise LearnerError(f"{where}: none of the {n} operations settled, so there is nothing to draw.")
    return outcomes


def is_settled(outcomes):
    """Which cases settled, a bool array of n."""
    return np.asarray(outcomes.pose.settled, bool)


def share(outcomes, good):
    """Share of all cases that settled and are good, an `Estimate`; NaN compares as false.

    Parameters
    ----------
    outcomes : Outcomes
    good : (n,) array of bool
    """
    count = int(np.sum(is_settled(outcomes) & np.asarray(good, bool)))
    return estimates.share(count, int(outcomes.n), conservative=getattr(outcomes, "draws", "") == "sobol")


def percent(estimate):
    """Write a share for a heading."""
    return f"{100 * estimate.value:.0f} % [{100 * estimate.low:.0f}, {100 * estimate.high:.0f}]"


def percent_long(estimate, digits=1):
    """Write a share for a sentence.

    Parameters
    ----------
    estimate : Estimate
    digits : int
    """
    value, low, high = (f"{100 * part:.{digits}f}" for part in (estimate.value, estimate.low, estimate.high))
    return f"{value} % (95 % interval {low} to {high} %)"


def unsettled_words(outcomes):
    """Say how many did not settle; nothing if all did."""
    count = int(np.sum(~is_settled(outcomes)))
    return f"; {count} did not settle" if count else ""


def draw_histogram(axes, values, n, low=None, high=None):
    """Draw a histogram without the furthest two in a thousand: one stray case would flatten it.

    Parameters
    ----------
    axes : Axes
    values : array
    n : int
        Cases of which a bar is a share; of some there may be no value.
    low, high : float or None
        Ends of the bars.

    Returns
    -------
    bars : the drawn rectangles
    """
    from ..draw import palette

    least, most = np.quantile(values, [0.001, 0.999])
    low, high = least if low is None else low, most if high is None else high
    if high - low < 1e-6 * (1.0 + abs(high)):
        low, high = low - 0.5, high + 0.5
    weights = np.full(len(values), 100.0 / n)
    look = {"color": palette.BANDS[1], "edgecolor": palette.BANDS[3], "lw": 0.7}
    _, _, drawn = axes.hist(values, np.linspace(low, high, 31), weights=weights, **look)
    axes.axvline(float(np.mean(values)), color=palette.INK, lw=1.4)
    axes.margins(x=0.03)
    return drawn
