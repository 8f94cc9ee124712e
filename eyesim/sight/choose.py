"""Which lens would do: power and toric marks worked out backwards, by tracing rays through the lens where it sits.

For teaching: it separates what a wrong depth costs from what a wrong tilt costs. It takes the eye and the pose
for known exactly, as no clinic can.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, common_shape, number, plain_errors
from ..eye.frames import wrap
from ..eye.lens import Lens
from .refract import refract

_ROUNDS = 12
LEAST, MOST = -30.0, 60.0
"""[D] Between which a lens can be made, as by `Lens.with_power`; some shapes have less room."""
CLOSE = 1e-7
"""[D] Of refraction: nearer than this is on target."""
_STILL = 1e-9  # [D] of power: a step that says nothing of the slope
_SLOPE = -0.7  # dioptres at the cornea to one in the lens, at the start; the secants mend it
_SHORTEST = 0.1  # of that slope: a secant between two values that hardly differ is not believed
_NOT_FOUND = "no lens was found for an eye and a pose that light goes through so crookedly; choose a pose less far out."
_NOTHING = 1e-6  # [D] of cylinder at the lens


@plain_errors
def power_for(eye, lens, pose, target=0.0, pupil=3.0):
    """Power [D] of a lens of this shape that leaves the eye at the target with the lens where it sits.

    Raises LearnerError if a value is out of range, an eye does not see through its lens, no lens of this shape has that
    power, or none is found.

    Parameters
    ----------
    eye : Eye
    lens : Lens
        Its shape is kept, as by `Lens.with_power`.
    pose : Pose
        Anything in these three may be an array; all broadcast.
    target : float or array [D]
        Spherical equivalent that is wanted, of the whole pupil and at the entrance pupil (`Sight.M`); 0 is sharp,
        negative myopic.
    pupil : float or array [mm]
        Diameter of the beam at the cornea.

    Returns
    -------
    power : float or array [D]
        To a millionth; real lenses come in steps of half a dioptre.
    """
    target = number("power_for", "target", target, -12.0, 12.0, "D", "refraction that is wanted")
    seen = refract(eye, lens, pose, pupil, on_failure="raise").M  # tells what is wrong with any of them
    shape = common_shape("power_for", {"target": np.asarray(target), "what is traced": np.asarray(seen)})
    start = np.broadcast_to(np.asarray(lens.power, float), shape)

    def miss_at(power):
        return refract(eye, lens.with_power(power), pose, pupil, on_failure="raise").M - target

    power, miss = secants(
        miss_at, start, np.broadcast_to(seen - target, shape), lambda power: np.clip(power, LEAST, MOST)
    )
    missed = np.abs(miss) >= CLOSE
    if np.any(missed & ((power == LEAST) | (power == MOST))):
        raise LearnerError("power_for: no lens from -30 to 60 D leaves this eye at that target. Is it a real eye?")
    if np.any(missed):
        raise LearnerError(f"power_for: {_NOT_FOUND}")
    return power[()]


def secants(miss_at, power, miss, nearest):
    """Follow secants to the powers at which no refraction is missed, each eye on its own.

    An eye that has arrived is not moved by those that have not, so its power does not depend on its company.

    Parameters
    ----------
    miss_at : function of an array [D]
        By how much lenses of these powers miss the target [D]; NaN where nothing is seen.
    power, miss : arrays [D]
        Where to start, and the miss there.
    nearest : function of an array [D]
        Nearest powers that can be made.

    Returns
    -------
    power, miss : arrays [D]
        An eye that was not brought to its target has a miss of 1e-7 D or more, or NaN.
    """
    power, slope = np.array(power, float), np.full(np.shape(power), _SLOPE)
    for _ in range(_ROUNDS):
        going = np.abs(miss) >= CLOSE  # not so for NaN
        step = np.where(going, nearest(power - np.where(going, miss, 0.0) / slope) - power, 0.0)
        moved = np.abs(step) > _STILL
        if not moved.any():
            break
        power = power + step
        found = miss_at(power)
        secant = (found - miss) / np.where(moved, step, 1.0)
        slope = np.where(moved & (secant < _SHORTEST * _SLOPE), secant, slope)
        miss = np.where(moved, found, miss)
    return power, miss


@plain_errors
def toric_for(eye, lens, pose, pupil=3.0) -> Lens:
    """Lens with the toric cylinder and marks that leave this eye no cylinder with the lens where it sits.

    Raises LearnerError if an eye does not see through its lens, would need more than 20 D of toric cylinder, or no lens
    is found.

    Parameters
    ----------
    eye, lens, pose, pupil
        As for `power_for`. Cylinder that the lens already has is replaced; its mean power is kept.

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
        if np.all(np.abs(miss) < CLOSE):
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
