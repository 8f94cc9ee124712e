"""How good hands are at one quantity: bias and spread with their intervals, from errors that were measured.

Two estimates stand side by side: of one's own errors alone, and drawn towards the cohort while they are few.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from types import SimpleNamespace

import numpy as np

from ..eye.checks import LearnerError, short
from .error_model import ERRORS, MEASURED, QUANTITIES, Error, usual_error
from .estimates import LEVEL, Estimate, holds_zero, mean, spread_factors
from .shrink import Prior, shrink_mean, shrink_variance

WEIGHT = 4.0
"""Attempts of one's own that the cohort counts for [1]; chosen for teaching."""
HOLDS = {
    "meridian": ("marker_x", "marker_y", "mark_moved_along"),
    "limbus_distance": ("mark_moved_across",),
    "iris_angle": ("needle_bend",),
    "limbus_angle": ("needle_bend",),
}
"""Errors that a measured one holds already: what is measured is the pass that came of all of them."""
_RADIUS = 7.7  # [mm] of the outer openings from the axis, about; turns a marker's millimetres into degrees


@dataclasses.dataclass(frozen=True, repr=False)
class Skill:
    """How good hands are at one quantity.

    Attributes
    ----------
    quantity : str
    group : str
        Which attempts: "all", "first", "second", "towards", "away", ...
    n : int
        Attempts that were measured.
    bias, spread : Estimate
        Drawn towards the cohort.
    own_bias, own_spread : Estimate or None
        Of one's own errors alone; None for fewer than two.
    prior : Prior
        What the cohort does.
    """

    quantity: str
    group: str
    n: int
    bias: Estimate
    spread: Estimate
    own_bias: Estimate | None
    own_spread: Estimate | None
    prior: Prior

    @property
    def biased(self):
        """Whether the interval of the bias leaves zero out."""
        return not holds_zero(self.bias)

    def __repr__(self):
        group = "" if self.group == "all" else f" ({self.group})"
        many = "1 attempt" if self.n == 1 else f"{self.n} attempts"
        return f"{self.quantity}{group}, {many}: bias {self.bias.text('+.2f')}, spread {self.spread.text('.2f')}"


def skill(quantity, misses, prior=None, group="all") -> Skill:
    """Judge one quantity from errors that were measured.

    Raises LearnerError if a miss is no finite number, or there can be no such quantity.

    Parameters
    ----------
    quantity : str
        One of `eyesim.study.error.MEASURED`.
    misses : sequence of float
        Achieved less aim, one for each attempt.
    prior : Prior or None
        None takes that of the usual hands, `usual_prior(quantity)`.
    group : str
        What the attempts have in common.

    Notes
    -----
    Errors are taken as normal and as drawn anew each time. The bias has Student's t on as many degrees of freedom as
    the doubt about the spread leaves its standard error (to first order); `tests/study/test_skill.py` counts how
    often the intervals hold the truth.
    """
    unit = QUANTITIES[_known(quantity)].unit
    x = _numbers(misses)
    prior = usual_prior(quantity) if prior is None else prior
    n = len(x)
    own = (mean(x, unit=unit), own_spread(x, unit)) if n > 1 else (None, None)
    return Skill(quantity, group, n, *_shrunken(x, prior, unit), *own, prior)


def own_spread(x, unit=""):
    """Return the standard deviation of at least two normal errors with its chi-square interval, an `Estimate`.

    Parameters
    ----------
    x : (n,) array [unit]
    unit : str
    """
    scale, freedom = float(np.std(x, ddof=1)), len(x) - 1
    return Estimate(scale, *(scale * spread_factors(freedom)), "chi-square", unit)


def shrink_skill(own_mean, variance, n, prior):
    """Bias and spread drawn towards a prior, with the ends of their 95 % intervals; everything broadcasts.

    Parameters
    ----------
    own_mean, variance : arrays
        Of one's own errors; not looked at where `n` is too small for them.
    n : array of int
    prior : Prior

    Returns
    -------
    bias, spread : (3, ...) arrays
        Value, low, high.
    """
    from scipy.stats import t

    n = np.asarray(n, float)
    freedom = np.maximum(n - 1.0, 0.0)
    variance = np.where(n > 1, variance, 0.0)
    steady = shrink_variance(variance, freedom, prior.spread**2, prior.weight)
    own = np.where(n > 0, np.sqrt(steady / np.maximum(n, 1.0)), np.inf)
    finite = np.where(np.isfinite(own), own, 0.0)
    value, error = shrink_mean(np.where(n > 0, own_mean, prior.bias), finite, prior.bias, prior.differ)
    error = np.where(n > 0, error, prior.differ)
    part = np.where(n > 0, prior.differ**2 / np.maximum(finite**2 + prior.differ**2, 1e-300), 0.0)
    certain = (prior.weight + freedom) / np.maximum(part, 1e-3)  # the less one's own counts, the less its doubt
    half = error * t.ppf(0.5 + LEVEL / 2.0, certain)
    low, high = spread_factors(prior.weight + freedom)
    scale = np.sqrt(steady)
    return np.stack([value, value - half, value + half]), np.stack([scale, scale * low, scale * high])


def usual_prior(quantity, hands=None, side=None, weight=WEIGHT) -> Prior:
    """Say what the cohort does at one quantity, as hands tell it.

    Parameters
    ----------
    quantity : str
    hands : Hands or None
        None takes the usual ones.
    side : 0, 1 or None
        Of the first or second haptic; None for both alike.
    weight : float
        Attempts that it counts for. People's biases are taken to differ by the spread divided by its root, so that
        the cohort's bias weighs as much as so many attempts of one's own. Chosen for teaching; none is published.
    """
    hands = _usual_hands() if hands is None else hands
    sides = (0, 1) if side is None else (side,)
    bias = float(np.mean([getattr(hands, quantity).biases[k] + _more(quantity, hands)[0] for k in sides]))
    variance = float(np.mean([_variance(quantity, hands, k) for k in sides]))
    spread = math.sqrt(variance)
    return Prior(bias, spread / math.sqrt(weight), spread, float(weight))


@functools.cache
def _usual_hands():
    return SimpleNamespace(**{name: usual_error(name) for name in ERRORS})


def measured_errors(rows, start, sides=True):
    """Errors that a log says, drawn towards the cohort while the log is short: {quantity: `Error`}.

    Parameters
    ----------
    rows : iterable
        Anything with `quantity`, `miss` and `side` ("first", "second" or ""): one for each attempt.
    start : Hands
        The cohort.
    sides : bool
        Judge the two sides apart where the log tells them.

    Returns
    -------
    dict
        An error that a measured one holds already (`HOLDS`) is none. The part that both sides share keeps the
        proportion that it has in the cohort.
    """
    rows = _checked_rows(rows)
    measured = [name for name in MEASURED if any(row.quantity == name for row in rows)]
    found = {}
    for name in measured:
        mine = [row for row in rows if row.quantity == name]
        apart = sides and any(row.side for row in mine)
        judged = [_side(name, mine, k, start) for k in ((0, 1) if apart else (None,))]
        found[name] = _error(name, judged, start)
    held = {one for name in measured for one in HOLDS.get(name, ())}
    if "needle_bend" in held and not {"iris_angle", "limbus_angle"} <= set(measured):
        found |= _bend_kept(measured, start)
    return {name: Error() for name in held} | found


def _side(name, rows, k, start):
    """Skill of one side; of both together where k is None."""
    wanted = rows if k is None else [row for row in rows if row.side in ("", ("first", "second")[k])]
    return skill(name, [row.miss for row in wanted], usual_prior(name, start, k))


def _error(name, judged, start):
    """Turn what was judged into an `Error`, held within what is sensible."""
    usual, most = getattr(start, name), QUANTITIES[name].largest
    shared, spreads = [], []
    for k, one in enumerate(judged if len(judged) == 2 else judged * 2):
        whole = _variance(name, start, k)
        part = usual.shared**2 / whole if whole else 0.0
        value = min(float(one.spread), most)
        shared.append(value * math.sqrt(part))
        spreads.append(value * math.sqrt(1.0 - part))
    biases = [max(-most, min(most, float(one.bias))) for one in judged]
    if len(judged) == 1:
        return Error(biases[0], float(np.mean(spreads)), float(np.mean(shared)))
    return Error(tuple(biases), tuple(spreads), float(np.mean(shared)))


def _bend_kept(measured, start):
    """Put the needle's bend into the one of its two angles that nobody measured, since it is taken out of the other."""
    other = "limbus_angle" if "iris_angle" in measured else "iris_angle"
    usual, bend = getattr(start, other), start.needle_bend
    extra = [math.hypot(own, more, bend.shared) for own, more in zip(usual.spreads, bend.spreads, strict=True)]
    down = bend.biases if other == "iris_angle" else (0.0, 0.0)
    return {other: Error(tuple(a + b for a, b in zip(usual.biases, down, strict=True)), tuple(extra), usual.shared)}


def _variance(quantity, hands, side):
    """Variance of the measured error of one side [unit squared]: of all that leads to it."""
    error = getattr(hands, quantity)
    return error.spreads[side] ** 2 + error.shared**2 + _more(quantity, hands)[1]


def _more(quantity, hands):
    """Bias and variance that other errors bring to a measured one."""
    if quantity == "meridian":
        scale = math.degrees(1.0 / _RADIUS)
        off = [sum(v**2 for v in (one.spreads[0], one.shared)) for one in (hands.marker_x, hands.marker_y)]
        moved = hands.mark_moved_along
        return 0.0, scale**2 * (sum(off) / 2.0 + moved.spreads[0] ** 2 + moved.shared**2)
    if quantity in ("iris_angle", "limbus_angle"):
        bend = hands.needle_bend
        return (bend.biases[0] if quantity == "iris_angle" else 0.0), bend.spreads[0] ** 2 + bend.shared**2
    if quantity == "limbus_distance":
        moved = hands.mark_moved_across
        return moved.biases[0], moved.spreads[0] ** 2 + moved.shared**2
    return 0.0, 0.0


def _shrunken(x, prior, unit):
    own_mean, variance = (float(x.mean()) if len(x) else 0.0), (float(x.var(ddof=1)) if len(x) > 1 else 0.0)
    bias, spread = shrink_skill(own_mean, variance, len(x), prior)
    how = f"drawn towards the cohort, which counts as {prior.weight:.3g} attempts"
    return Estimate(*map(float, bias), how, unit), Estimate(*map(float, spread), how, unit)


def _checked_rows(rows):
    """Rows that say what hands are made of."""
    rows = list(getattr(rows, "rows", rows))
    for row in rows:
        if not all(hasattr(row, name) for name in ("quantity", "miss", "side")):
            raise LearnerError(f"Hands are made of rows with quantity, miss and side; {short(row)} was given.")
        _known(row.quantity)
    return rows


def _known(quantity):
    if quantity not in MEASURED:
        raise LearnerError(f"{short(quantity)} cannot be measured on a practice eye; it knows: {', '.join(MEASURED)}.")
    return quantity


def _numbers(misses):
    try:
        x = np.asarray(list(misses), float)
    except (TypeError, ValueError):
        raise LearnerError("Errors are a list of numbers.") from None
    if x.ndim != 1 or not np.all(np.isfinite(x)):
        raise LearnerError("Errors are a list of finite numbers.")
    return x
