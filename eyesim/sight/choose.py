"""Which lens would do: power and toric marks worked out backwards, by tracing rays through the lens where it sits.

For teaching: it separates what a wrong depth costs from what a wrong tilt costs. It takes the eye and the pose
for known exactly, as no clinic can.
"""

from __future__ import annotations

import numpy as np

from ..eye.calls import spoken
from ..eye.checks import LearnerError, common_shape, number
from ..eye.frames import wrap
from .refract import refract

_ROUNDS = 12
_CLOSE = 1e-7  # [D]
_NOT_FOUND = "no lens was found for an eye and a pose that light goes through so crookedly; choose a pose less far out."
_NOTHING = 1e-6  # [D] of cylinder at the lens


@spoken
def power_for(eye, lens, pose, target=0.0, pupil=3.0):
    """Power [D] of a lens of this shape that leaves the eye at the target with the lens where it sits.

    Parameters
    ----------
    eye : Eye
    lens : Lens
        Its shape is kept, as by `Lens.with_power`.
    pose : Pose
        Anything in these three may be an array; all broadcast.
    target : float or array [D]
        Spherical equivalent that is wanted, of the whole pupil and at the entrance pupil (`Sight.M`); 0 is sharp,
        negative short-sighted.
    pupil : float or array [mm]
        Diameter of the beam at the cornea.

    Returns
    -------
    power : float or array [D]
        To a millionth; real lenses come in steps of half a dioptre.

    Raises
    ------
    LearnerError
        If a value is out of range, an eye does not see through its lens, no lens of this shape has that power, or
        none is found.
    """
    target = number("power_for", "target", target, -12.0, 12.0, "D", "refraction that is wanted")
    seen = refract(eye, lens, pose, pupil, on_failure="raise").M  # tells what is wrong with any of them
    shape = common_shape("power_for", {"target": np.asarray(target), "what is traced": np.asarray(seen)})
    power = np.broadcast_to(np.asarray(lens.power, float), shape).copy()
    slope = np.full(shape, -0.7)  # dioptres at the cornea to one in the lens; the secants mend it
    miss = refract(eye, lens.with_power(power), pose, pupil, on_failure="raise").M - target
    for _ in range(_ROUNDS):
        step = -miss / slope
        power = power + step
        if not np.all((power > -30.0) & (power < 60.0)):
            raise LearnerError("power_for: no lens from -30 to 60 D leaves this eye at that target. Is it a real eye?")
        left = refract(eye, lens.with_power(power), pose, pupil, on_failure="raise").M - target
        moved = np.abs(step) > 1e-9
        slope = np.where(moved, (left - miss) / np.where(moved, step, 1.0), slope)
        miss = left
        if np.all(np.abs(miss) < _CLOSE):
            return np.asarray(power)[()]
    raise LearnerError(f"power_for: {_NOT_FOUND}")


@spoken
def toric_for(eye, lens, pose, pupil=3.0):
    """Lens with the toric cylinder and marks that leave this eye no cylinder with the lens where it sits.

    Parameters
    ----------
    eye, lens, pose, pupil
        As for `power_for`. Cylinder that the lens already has is replaced; its mean power is kept.

    Returns
    -------
    Lens

    Raises
    ------
    LearnerError
        If an eye does not see through its lens, would need more than 20 D of toric cylinder, or no lens is found.

    Notes
    -----
    Marks go on the meridian of least power, which comes to lie along the steep meridian of the cornea. The marks
    are given from the first haptic's root, so they fit this roll of the lens and no other.
    """
    flat = lens.but(toric_cylinder=0.0, toric_marks=0.0)
    sight = refract(eye, flat, pose, pupil, on_failure="raise")
    wanted = np.zeros(np.shape(sight.M), complex)  # twice the meridian of the marks, as an angle; length in dioptres
    miss = sight.J0 + 1j * sight.J45
    gain = 0.35  # half a dioptre of cylinder at the lens leaves some 0.35 D of J at the cornea
    for _ in range(_ROUNDS):
        step = -miss / gain
        wanted = wanted + step
        toric = _toric(flat, wanted, pose)
        sight = refract(eye, toric, pose, pupil, on_failure="raise")
        left = sight.J0 + 1j * sight.J45
        with np.errstate(invalid="ignore", divide="ignore"):
            better = np.real((left - miss) / step)
        gain = np.where(np.isfinite(better) & (better > 0.05), better, gain)
        miss = left
        if np.all(np.abs(miss) < _CLOSE):
            return toric
    raise LearnerError(f"toric_for: {_NOT_FOUND}")


def _toric(lens, wanted, pose):
    """Lens whose marks lie on the meridian that is half the angle of `wanted`."""
    cylinder = np.where(np.abs(wanted) < _NOTHING, 0.0, np.abs(wanted))
    if np.any(cylinder > 20.0):
        raise LearnerError(f"toric_for: this eye would need {np.max(cylinder):.0f} D of toric cylinder; most is 20 D.")
    meridian = np.degrees(np.angle(np.where(cylinder, wanted, 0.0))) / 2.0
    marks = np.asarray(pose.roll) - meridian if lens.flipped else meridian - np.asarray(pose.roll)
    return lens.but(toric_cylinder=cylinder[()], toric_marks=wrap(marks))
