"""My hands beside the cohort's, in the same virtual patients.

The same seed gives both pairs the same chance in every case, so what differs is the hands: a difference of shares is
known far better than each share. Which drill would gain most, `blame.halve` tells.
"""

from __future__ import annotations

import dataclasses

from ..eye.calls import spoken
from .compare import share_gained
from .estimates import Estimate
from .hands import Hands
from .operate import operate
from .outcomes import Outcomes
from .verdict import DECENTRATION_LIMIT, TILT_LIMIT


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


@spoken
def beside(mine, eye, lens, first, second, n=2000, rng=1, *, cohort=None, decentration=DECENTRATION_LIMIT,
           tilt=TILT_LIMIT):  # fmt: skip
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
    hands = (mine, Hands() if cohort is None else cohort)
    both = [operate(eye, lens, first, second, one, n, rng, progress=False) for one in hands]
    return Beside(*both, share_gained(both[1], both[0], decentration, tilt), (decentration, tilt))
