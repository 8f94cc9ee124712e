"""Two pairs of hands on the same draws, and which quantity would be worth practising most.

The same seed gives both pairs the same chance in every case, so what differs is the hands: a difference of shares is
known far better than each share.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.calls import spoken
from ..eye.checks import must_be, number
from .error import Error
from .estimates import LEVEL, Estimate
from .hands import ERRORS, Hands
from .limits import DECENTRATION_LIMIT, TILT_LIMIT
from .operate import operate
from .outcomes import Outcomes


@dataclasses.dataclass(frozen=True, repr=False)
class Beside:
    """My hands and the cohort's, in the same virtual patients.

    Attributes
    ----------
    mine, cohort : Outcomes
    gain : Estimate [1]
        Share within limits with my hands less that with the cohort's, paired.
    limits : pair of float [mm], [deg]
    """

    mine: Outcomes
    cohort: Outcomes
    gain: Estimate
    limits: tuple[float, float]

    def __repr__(self):
        mine, cohort = (one.share(*self.limits).text(".0%") for one in (self.mine, self.cohort))
        return (
            f"In the same {self.mine.n} virtual patients {mine} lie within {self.limits[0]:g} mm and "
            f"{self.limits[1]:g} deg with my hands, {cohort} with the cohort's; difference {self.gain.text('+.1%')}."
        )


@dataclasses.dataclass(frozen=True, repr=False)
class Drill:
    """What it would bring to halve one quantity's bias and spread.

    Attributes
    ----------
    quantity : str
        "marker" stands for both directions in which a marker may lie off-centre.
    share : Estimate [1]
        Within limits after the drill.
    gain : Estimate [1]
        Over hands as they are, on the same draws.
    """

    quantity: str
    share: Estimate
    gain: Estimate

    def __repr__(self):
        return f"{self.quantity} halved: {self.gain.text('+.1%')}, to {self.share.value:.0%} within limits"


@dataclasses.dataclass(frozen=True, repr=False)
class Drills:
    """Every drill, the most useful first.

    Attributes
    ----------
    drills : tuple of Drill
    now : Estimate [1]
        Share within limits with hands as they are.
    """

    drills: tuple[Drill, ...]
    now: Estimate

    @property
    def best(self):
        """The drill that would gain most; None if none gains anything beyond chance."""
        return self.drills[0] if self.drills and self.drills[0].gain.low > 0.0 else None

    def __repr__(self):
        words = f"Within limits now: {self.now.text('.0%')}. "
        if self.best is None:
            return words + "No single drill gains more than chance may bring."
        close = [one.quantity for one in self.drills[1:] if one.gain.high > self.best.gain.low]
        words += f"The drill that would gain most: {self.best}."
        return words + (f" Not told apart from it: {', '.join(close)}." if close else "")


@spoken
def beside(mine, eye, lens, first, second, n=2000, rng=1, *, cohort=None,
           decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):  # fmt: skip
    """Operate on the same virtual patients with my hands and with the cohort's.

    Parameters
    ----------
    mine : Hands
    eye, lens, first, second, n, rng
        As for `operate`.
    cohort : Hands or None
        None takes the usual hands.
    decentration, tilt : float [mm], [deg]
        Limits; chosen for teaching.

    Returns
    -------
    Beside

    Raises
    ------
    LearnerError
        As `operate` does.
    """
    cohort = Hands() if cohort is None else cohort
    limits = _limits(decentration, tilt)
    both = [operate(eye, lens, first, second, hands, n, rng, progress=False) for hands in (mine, cohort)]
    return Beside(*both, paired(*(one.within(*limits) for one in both)), limits)


@spoken
def drills(mine, eye, lens, first, second, n=2000, rng=1, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Halve bias and spread of one quantity at a time, and see what share comes within limits on the same draws.

    Parameters
    ----------
    mine : Hands
    eye, lens, first, second, n, rng
        As for `operate`.
    decentration, tilt : float [mm], [deg]
        Limits; chosen for teaching.

    Returns
    -------
    Drills

    Raises
    ------
    LearnerError
        As `operate` does.
    """
    must_be("drills", "mine", mine, Hands)
    limits = _limits(decentration, tilt)

    def good(hands):
        return operate(eye, lens, first, second, hands, n, rng, progress=False)

    now = good(mine)
    before, found = now.within(*limits), []
    for name, hands in _halved(mine).items():
        after = good(hands)
        found.append(Drill(name, after.share(*limits), paired(after.within(*limits), before)))
    found.sort(key=lambda one: -one.gain.value)
    return Drills(tuple(found), now.share(*limits))


def paired(one, other):
    """Difference of two shares in the same cases, with its interval, an `Estimate`.

    Statistics in Medicine 2005;24:729-740, Simple improved confidence intervals for comparing matched proportions:
    half a case is added to each of the four kinds of pair.

    Parameters
    ----------
    one, other : (n,) bool arrays
    """
    from scipy.special import ndtri

    one, other = np.asarray(one, bool), np.asarray(other, bool)
    n, won, lost = len(one), int(np.sum(one & ~other)), int(np.sum(~one & other))
    more, up, down = n + 2.0, won + 0.5, lost + 0.5
    half = float(ndtri(0.5 + LEVEL / 2.0)) * math.sqrt(up + down - (up - down) ** 2 / more) / more
    middle = (up - down) / more
    return Estimate((won - lost) / n, max(-1.0, middle - half), min(1.0, middle + half), "paired, half a case added")


def _halved(hands):
    """Hands with one quantity's bias and spread halved, by name; both directions of a marker together."""
    found = {}
    for name in ERRORS:
        group = "marker" if name in ("marker_x", "marker_y") else name
        error = getattr(hands, name)
        if not error.none:
            found[group] = found.get(group, hands).but(**{name: _half(error)})
    return found


def _half(error):
    parts = [tuple(v / 2.0 for v in one) if isinstance(one, tuple) else one / 2.0 for one in (error.bias, error.spread)]
    return Error(*parts, error.shared / 2.0)


def _limits(decentration, tilt):
    return (
        number("", "decentration", decentration, 0.0, 10.0, "mm", "limit"),
        number("", "tilt", tilt, 0.0, 180.0, "deg", "limit"),
    )
