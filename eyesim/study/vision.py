"""What operated eyes see, and how far that is from the refraction that was meant.

The power of a lens belongs to the place where it sits: the same 21 dioptres a millimetre further back leave the eye
some 1.3 D more hyperopic. A surgeon chooses the power for the eye, and for the place that the plan gives the lens.
So hands are judged by the *refraction surprise*: what the eye is left with, less what was meant. Negative is more
myopic than meant.
"""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError, element, number, short
from ..hold.settle import settle
from ..sight.refract import refract
from .powers import KINDS, powers_for

PUPIL = 3.0
"""[mm] Diameter of the beam at the cornea at which an eye is refracted. Chosen for teaching: a pupil in room light."""

_COLUMNS = {
    "power": "D",
    "sphere": "D",
    "cylinder": "D",
    "axis": "deg",
    "M": "D",
    "J0": "D",
    "J45": "D",
    "surprise": "D",
    "coma": "um",
    "spherical_aberration": "um",
    "rms_hoa": "um",
    "prism": "prism dioptres",
    "missed_light": "",
    "chamber_depth": "mm",
}
UNITS = {name: unit for name, unit in _COLUMNS.items() if name != "axis"}
"""Quantities of sight that can be averaged, and their units; an axis cannot."""


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
    power : "each" or "given"
        Whether every eye gets a lens of the power that suits it, or the lens as it is.
    """

    def __init__(self, pose, typical, plan, pupil, target, power):
        self.pose, self.typical, self.plan, self.pupil = pose, typical, plan, pupil
        self.target, self.power = target, power

    @functools.cached_property
    def sight(self):
        """What each eye sees, a `Sight` of n; some 400 bytes and 20 microseconds a case."""
        return self._seen_at(self.pose)

    @functools.cached_property
    def planned(self):
        """Where the plan puts the lens in the typical eye, a `Settled`."""
        return settle(self.typical, self.pose.lens, *self.plan, on_failure="flag")

    @functools.cached_property
    def chosen(self):
        """Power of each eye's lens, `Powers`; None where the lens is as given, or the plan gives it no place."""
        if self.power == "given" or not self.planned.settled:
            return None
        return self._chosen_for(self.pose.eye)

    @functools.cached_property
    def powers(self):
        """Power [D] of each eye's lens: an array of n where eyes differ and each has its own, else a number."""
        if self.chosen is None:
            return float(self.pose.lens.power)
        values = self.chosen.values
        if self.many:
            values.setflags(write=False)
        return values

    @functools.cached_property
    def lens(self):
        """Lens that the eyes see through; its powers an array where each eye has its own."""
        return self.pose.lens if self.chosen is None else self.pose.lens.with_power(self.powers)

    def lens_of(self, i):
        """Lens of eye i; of many that nobody has looked through yet only this one is chosen."""
        if self.power == "given" or not self.planned.settled:
            return self.pose.lens
        try:
            if not self.many:
                return self.lens
            known = self.powers[i] if "chosen" in self.__dict__ else self._chosen_for(element(self.pose.eye, i)).values
            return self.pose.lens.with_power(float(known))
        except LearnerError:  # there can be no such lens, which only light notices
            return self.pose.lens

    def _chosen_for(self, eye):
        return powers_for(eye, self.pose.lens, self.planned, self.aim, self.pupil)

    @property
    def aim(self):
        """Spherical equivalent [D] for which a power is chosen."""
        return 0.0 if self.target is None else self.target

    @functools.cached_property
    def planned_sight(self):
        """What the typical eye sees with the lens where the plan puts it, a `Sight`."""
        lens = self.pose.lens
        if self.power == "each" and self.planned.settled:
            lens = lens.with_power(self._chosen_for(self.typical).values)
        return refract(self.typical, lens, self.planned, self.pupil, on_failure="flag")

    @functools.cached_property
    def planned_refraction(self):
        """Spherical equivalent [D] that each eye's lens leaves it where the plan puts it; a number for a single eye.

        NaN where nothing is seen, or the plan does not settle.
        """
        return np.atleast_1d(self._seen_at(self.planned).M) if self.many else float(self.planned_sight.M)

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
        if self.target is not None and self.power == "given":
            return ""
        where = " in the mean eye" if self.many else ""
        if not self.planned.settled:
            return f"the plan itself does not settle{where} ({self.planned.reason})"
        if not np.any(np.isfinite(self.planned_refraction)):
            why = self.planned_sight.reason or "in none of these eyes"
            return f"nothing is seen through the lens as planned{where if self.planned_sight.reason else ''} ({why})"
        return ""

    @functools.cached_property
    def intended(self):
        """Refraction [D] that was meant: one number, or one for each eye of a population.

        Raises LearnerError if the plan does not settle, so that there is none.
        """
        if self.unknown:
            taken = "power='given', target=0.0" if self.power == "each" else "target=0.0"
            raise LearnerError(
                f"There is no refraction to compare with: {self.unknown}. Choose a plan that settles, or say what was "
                f"meant, such as operate(..., {taken}) [D]."
            )
        return self.target if self.target is not None and self.power == "given" else self.planned_refraction

    @functools.cached_property
    def surprise(self):
        """Refraction surprise [D] of each eye; NaN where it has no refraction, or none was meant."""
        values = self.sight.M - self.intended
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
        if what == "power":
            return np.broadcast_to(self.powers, self.pose.code.shape)
        return self.surprise if what == "surprise" else getattr(self.sight, what)

    def table(self):
        """Columns of the table of outcomes: name to (unit, values)."""
        blank = set(_COLUMNS) if self.impossible else {"surprise"} if self.unknown else set()
        columns = {"seen": ("", False if self.impossible else self.sight.seen)}
        return columns | {k: (unit, np.nan if k in blank else self.values(k)) for k, unit in _COLUMNS.items()}

    @property
    def many(self):
        """Whether the eyes differ."""
        return self.pose.eye.shape != ()

    def _seen_at(self, pose):
        return refract(self.pose.eye, self.lens, pose, self.pupil, on_failure="flag")


def checked_light(pupil, target, power):
    """Check pupil, target and power as given to `operate`.

    Raises LearnerError if pupil or target is no number, out of range, or an array; if power is not one of its words.

    Parameters
    ----------
    pupil, target, power
        As of `operate`.
    """
    pupil = number("operate", "pupil", pupil, 0.2, 8.0, "mm", "diameter of the beam at the cornea")
    target = number("operate", "target", target, -12.0, 12.0, "D", "refraction that is meant", optional=True)
    for name, value in (("pupil", pupil), ("target", target)):
        if isinstance(value, np.ndarray):
            raise LearnerError(f"operate: {name} is one number for all operations; an array was given.")
    if power is not None and not (isinstance(power, str) and power in KINDS):
        raise LearnerError(
            f"operate: power is 'each' (every eye gets the power that suits it) or 'given' (the lens as it is); "
            f"{short(power)} was given. A power in dioptres belongs to the lens: es.Lens().with_power(19.0)."
        )
    return pupil, target, power
