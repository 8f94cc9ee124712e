"""Does it matter? The limits within which a lens is said to sit well, and a verdict on a pose held against them.

All limits are chosen for teaching; a programme may set its own.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, number

DECENTRATION_LIMIT = 0.4
"""[mm] Chosen for teaching: about what an aspheric lens tolerates at a 6 mm pupil (J Cataract Refract Surg 2015,
DOI 10.1016/j.jcrs.2014.12.048)."""

TILT_LIMIT = 5.0
"""[deg] Chosen for teaching. Five degrees of a usual lens bring about 0.1 D of cylinder (J Cataract Refract
Surg 2018, DOI 10.1016/j.jcrs.2018.04.035)."""

DEPTH_LIMIT = 0.3
"""[mm] Chosen for teaching: a change of depth that a patient can notice on a letter chart."""

REFRACTION_LIMITS = (0.5, 1.0)
"""[D] Of the refraction surprise, either way. Chosen for teaching: the two limits within which series of lens surgery
count their eyes, by common practice."""

CYLINDER_LIMIT = 0.5
"""[D] Of the cylinder that is left. Chosen for teaching: about the least that is prescribed, by common practice."""

_CHOSEN = " (limits chosen for teaching)"
_KEYS = {(): "well", ("decentration",): "off-centre", ("tilt",): "tilted", ("decentration", "tilt"): "both"}


@dataclasses.dataclass(frozen=True)
class Excess:
    """One quantity that oversteps its limit.

    Attributes
    ----------
    quantity : "decentration", "tilt" or "depth"
    value, limit : float [unit]
        The depth is counted from the planned one: deeper is positive, and its limit holds either way.
    unit : str
    """

    quantity: str
    value: float
    limit: float
    unit: str

    @property
    def by(self):
        """How far beyond the limit [unit]."""
        return abs(self.value) - self.limit

    def __str__(self):
        if self.quantity == "depth":
            way = "deeper" if self.value > 0.0 else "shallower"
            off = f"{abs(self.value):.1f} mm {way} than planned"
            return f"{off} is more than {self.limit:g} mm, and glasses will show it"
        digits, name = (2, "mm off centre") if self.quantity == "decentration" else (1, "deg of tilt")
        more = "just over" if round(self.value, digits) == self.limit else "more than"
        return f"{self.value:.{digits}f} {name} is {more} {self.limit:g} {self.unit}"


@dataclasses.dataclass(frozen=True, repr=False)
class Verdict:
    """Whether where a lens sits matters, and because of what; its text is the sentence for the learner.

    Attributes
    ----------
    decentration, tilt : float [mm], [deg]
        Of the pose.
    limits : (float, float) [mm], [deg]
        Of decentration and tilt.
    deeper : float or None [mm]
        Than planned; None where no depth was planned.
    """

    decentration: float
    tilt: float
    limits: tuple[float, float] = (DECENTRATION_LIMIT, TILT_LIMIT)
    deeper: float | None = None

    @property
    def over(self) -> tuple[Excess, ...]:
        """What oversteps its limit: decentration, then tilt, then depth."""
        held = (
            Excess("decentration", self.decentration, self.limits[0], "mm"),
            Excess("tilt", self.tilt, self.limits[1], "deg"),
            Excess("depth", self.deeper or 0.0, DEPTH_LIMIT, "mm"),
        )
        return tuple(excess for excess in held if excess.by > 0.0)

    @property
    def within(self) -> bool:
        """Whether nothing oversteps its limit."""
        return not self.over

    @property
    def key(self) -> str:
        """One of "well", "off-centre", "tilted", "both": what oversteps its limit, the depth left aside."""
        return _KEYS[tuple(excess.quantity for excess in self.over if excess.quantity != "depth")]

    @property
    def short(self) -> str:
        """The sentence, without the reminder that the limits are chosen."""
        return self._sentence("")

    def __str__(self):
        return self._sentence(_CHOSEN)

    def _sentence(self, reminder):
        if self.over:
            return f"It matters: {' and '.join(map(str, self.over))}{reminder}."
        return (
            f"It does not matter: {self.decentration:.2f} mm off centre and {self.tilt:.1f} deg of tilt are within "
            f"{self.limits[0]:g} mm and {self.limits[1]:g} deg{reminder}."
        )

    __repr__ = __str__


def judge(pose, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, *, planned_depth=None) -> Verdict:
    """Judge whether a single pose matters, and because of what.

    Raises LearnerError if the pose is none to judge, or a limit is out of range.

    Parameters
    ----------
    pose : Pose or Settled
        A single one that has settled.
    decentration, tilt : float [mm], [deg]
        The limits.
    planned_depth : float or None [mm]
        If given, a lens that lies deeper or shallower than that by more than `DEPTH_LIMIT` matters too.
    """
    limits = checked_limits(decentration, tilt)
    if np.shape(pose.decentration) or not np.isfinite(pose.decentration):
        one = "an array of them" if np.shape(pose.decentration) else "one that has no resting place"
        raise LearnerError(f"Where one lens sits can be judged; {one} was given.")
    deeper = None if planned_depth is None else float(pose.depth - planned_depth)
    return Verdict(float(pose.decentration), float(pose.tilt), limits, deeper)


def sits_well(pose, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Whether lenses of any shape lie within both limits [mm, deg]; False where one did not settle.

    Parameters
    ----------
    pose : Pose or Settled
    decentration, tilt : float [mm], [deg]
        The limits.
    """
    limits = checked_limits(decentration, tilt)
    return np.logical_and(pose.decentration <= limits[0], pose.tilt <= limits[1])[()]


def checked_limits(decentration, tilt):
    """Check the two limits [mm], [deg]; return them as floats.

    Raises LearnerError if one is no single number in its sensible range.

    Parameters
    ----------
    decentration, tilt : float [mm], [deg]
    """
    limits = (
        number("", "decentration", decentration, 0.01, 5.0, "mm", "limit of decentration"),
        number("", "tilt", tilt, 0.1, 90.0, "deg", "limit of tilt"),
    )
    if not all(isinstance(limit, float) for limit in limits):
        raise LearnerError("decentration and tilt are one limit each; an array was given.")
    return limits
