"""Two plans, or two pairs of hands, on the same draws: what they differ by, with the interval that pairing leaves.

The same draw of chance is easy or hard for both, so that their difference is known better than either.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError, plain_errors
from .estimates import Estimate, mean, normal_quantile
from .hands import Hands
from .operate import operate
from .outcomes import Outcomes
from .random_numbers import REPLICATES
from .verdict import DECENTRATION_LIMIT, TILT_LIMIT


def share_gained(before, after, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, refraction=None):
    """By how much the share within tolerance is larger in `after` than in `before`, an `Estimate` [1].

    Raises LearnerError if they are not on the same draws.

    Parameters
    ----------
    before, after : Outcomes
        Of the same seed, number and kind of draws.
    decentration, tilt, refraction
        Limits, as of `Outcomes.share`.

    Notes
    -----
    For independent draws half a case is added to each of the four counts (within, and not, before and after), after
    *Simple improved confidence intervals for comparing matched proportions*, Statistics in Medicine 2005, DOI
    10.1002/sim.1781 (from memory). The value itself is that of the counts as they are.
    """
    _same_draws(before, after)
    was, now = (one.within(decentration, tilt, refraction) for one in (before, after))
    won, lost, n = int(np.sum(now & ~was)), int(np.sum(was & ~now)), before.n
    value = (won - lost) / n
    if before.draws == "sobol" and n >= 4 * REPLICATES:
        found = mean(now.astype(float) - was, replicate=np.arange(n) % REPLICATES)
        if found.high > found.low:
            return found
    middle, size = (won - lost) / (n + 2.0), n + 2.0
    half = normal_quantile() * math.sqrt(((won + lost + 1.0) / size - middle**2) / size)
    low, high = min(middle - half, value), max(middle + half, value)
    return Estimate(value, max(low, -1.0), min(high, 1.0), "paired shares, half a case added to each count")


def mean_gained(before, after, what):
    """By how much the mean of a quantity is larger in `after`, over the cases that settled in both, an `Estimate`.

    Raises LearnerError if they are not on the same draws, there is no such quantity, or fewer than four cases settled
    in both.

    Parameters
    ----------
    before, after : Outcomes
        Of the same seed, number and kind of draws.
    what : str
        As for `Outcomes.settled_values`.
    """
    _same_draws(before, after)
    one, two = before.values(what), after.values(what)
    both = np.isfinite(one) & np.isfinite(two)
    if both.sum() < 4:
        raise LearnerError(f"Only {int(both.sum())} cases settled in both: too few to compare them.")
    place = np.flatnonzero(both) % REPLICATES if before.draws == "sobol" else None
    return mean((two - one)[both], replicate=place, unit=before.unit(what))


@dataclasses.dataclass(frozen=True, repr=False)
class CohortComparison:
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


@plain_errors
def compare_with_cohort(
    mine, eye, lens, first, second, n=2000, rng=1, *, cohort=None, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT
) -> CohortComparison:
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
    """
    hands = (mine, Hands() if cohort is None else cohort)
    both = [operate(eye, lens, first, second, one, n, rng, progress=False) for one in hands]
    return CohortComparison(*both, share_gained(both[1], both[0], decentration, tilt), (decentration, tilt))


def _same_draws(before, after):
    for name, value in (("before", before), ("after", after)):
        if not isinstance(value, Outcomes):
            raise LearnerError(f"{name} is what operate gives; a {type(value).__name__} was given.")
    for name in ("n", "seed", "draws"):
        one, two = getattr(before, name), getattr(after, name)
        if one != two:
            raise LearnerError(
                f"Only outcomes on the same draws can be paired: {name} is {one} in one and {two} in the other. "
                "Operate both with the same n, rng and draws."
            )
