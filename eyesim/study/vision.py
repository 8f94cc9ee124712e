"""What operated eyes see, and how far that is from the refraction that was meant.

The power of a lens belongs to the place where it sits: the same 21 dioptres a millimetre further back leave the eye
some 1.3 D more long-sighted. A surgeon chooses the power for the place that the plan gives the lens. So hands are
judged by the *refraction surprise*: what the eye is left with, less what was meant. Negative is more short-sighted
than meant.
"""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError, number
from ..hold.settle import settle
from ..sight.refract import refract
from ..sight.refraction import in_words, signed

UNITS = {
    "surprise": "D", "sphere": "D", "cylinder": "D", "M": "D", "J0": "D", "J45": "D", "coma": "um",
    "spherical_aberration": "um", "rms_hoa": "um", "prism": "prism dioptres", "beside": "", "chamber_depth": "mm",
}  # fmt: skip
"""Quantities of sight that can be averaged, and their units; an axis cannot."""

_COLUMNS = ("sphere", "cylinder", "axis", "M", "J0", "J45", "surprise", "coma", "spherical_aberration", "rms_hoa",
            "prism", "beside", "chamber_depth")  # fmt: skip


class Vision:
    """What n operated eyes see; everything is worked out when it is first asked for, and kept.

    Parameters
    ----------
    pose : Settled
        Arrays of n, with the eyes and the lens they belong to.
    typical : Eye
        The eye for which the plan is settled: the only one, or the mean eye of a population.
    plan : (Fixation, Fixation)
    pupil : float [mm]
        Diameter of the beam at the cornea.
    target : float or None [D]
        Spherical equivalent that was meant; None takes what the plan leaves, see `surprise`.
    """

    def __init__(self, pose, typical, plan, pupil, target):
        self.pose, self.typical, self.plan, self.pupil, self.target = pose, typical, plan, pupil, target

    @functools.cached_property
    def sight(self):
        """What each eye sees, a `Sight` of n; some 400 bytes and 20 microseconds a case."""
        return self._seen_at(self.pose)

    @functools.cached_property
    def planned(self):
        """Where the plan puts the lens in the typical eye, a `Settled`."""
        return settle(self.typical, self.pose.lens, *self.plan, on_failure="flag")

    @functools.cached_property
    def as_planned(self):
        """What the typical eye sees with the lens where the plan puts it, a `Sight`."""
        return refract(self.typical, self.pose.lens, self.planned, self.pupil, on_failure="flag")

    @functools.cached_property
    def impossible(self):
        """Why no light can be traced through this lens at all, in words; "" where it can."""
        try:
            self.sight  # noqa: B018
        except LearnerError as fault:  # its faces do not fit together, which only light notices
            return str(fault)
        return ""

    @property
    def unknown(self):
        """Why there is no refraction that was meant, in words; "" where there is one."""
        if self.target is not None or self.as_planned.seen:
            return ""
        where = " in the mean eye" if self._many else ""
        if not self.planned.settled:
            return f"the plan itself does not settle{where} ({self.planned.reason})"
        return f"nothing is seen through the lens as planned{where} ({self.as_planned.reason})"

    @functools.cached_property
    def meant(self):
        """Refraction [D] that was meant: one number, or one for each eye of a population.

        Raises
        ------
        LearnerError
            If the plan does not settle, so that there is none.
        """
        if self.target is not None:
            return self.target
        if self.unknown:
            raise LearnerError(
                f"There is no refraction to compare with: {self.unknown}. Choose a plan that settles, or say what was "
                "meant, such as operate(..., target=0.0) [D]."
            )
        return self._seen_at(self.planned).M if self._many else float(self.as_planned.M)

    @functools.cached_property
    def surprise(self):
        """Refraction surprise [D] of each eye; NaN where it has no refraction."""
        values = self.sight.M - self.meant
        values.setflags(write=False)
        return values

    @property
    def unseen(self):
        """How many lenses settled and yet the eye does not see through them, by reason."""
        codes = self.sight.code[self.pose.settled]
        found = self.sight.reason[self.pose.settled][codes != 0]
        return {str(reason): int(count) for reason, count in zip(*np.unique(found, return_counts=True), strict=True)}

    def values(self, what):
        """One of `UNITS` for each eye, an array of n."""
        return self.surprise if what == "surprise" else getattr(self.sight, what)

    def table(self):
        """Columns of the table of outcomes, by name."""
        columns = {"seen": False} | dict.fromkeys(_COLUMNS, np.nan)
        if self.impossible:
            return columns
        known = [name for name in _COLUMNS if name != "surprise" or not self.unknown]
        return columns | {"seen": self.sight.seen} | {name: self.values(name) for name in known}

    @property
    def meant_in_words(self):
        """Say what was meant."""
        if self.target is not None:
            return f"a spherical equivalent of {signed(self.target)} D"
        if self._many:
            return "what this lens leaves each eye where the plan puts it in their mean eye"
        return f"what this lens leaves where the plan puts it, {in_words(self.as_planned)}"

    @property
    def cylinder_in_words(self):
        """Whose cylinder it is: the lens's alone, where cornea and lens are round and the eye looks along its axis."""
        eye = self.pose.eye
        others = (eye.corneal_cylinder, eye.sight_x, eye.sight_y, self.pose.lens.toric_cylinder)
        return "cylinder left" if any(np.any(other) for other in others) else "cylinder from the lens"

    @property
    def _many(self):
        """Whether the eyes differ."""
        return self.pose.eye.shape != ()

    def _seen_at(self, pose):
        return refract(self.pose.eye, self.pose.lens, pose, self.pupil, on_failure="flag")


def pupil_and_target(pupil, target):
    """Check what `operate` is told about seeing.

    Raises
    ------
    LearnerError
        If one is no number, out of range, or an array.
    """
    pupil = number("operate", "pupil", pupil, 0.2, 8.0, "mm", "diameter of the beam at the cornea")
    target = number("operate", "target", target, -12.0, 12.0, "D", "refraction that is meant", optional=True)
    for name, value in (("pupil", pupil), ("target", target)):
        if isinstance(value, np.ndarray):
            raise LearnerError(f"operate: {name} is one number for all operations; an array was given.")
    return pupil, target
