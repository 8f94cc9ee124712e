"""Which power each eye gets: that which would leave it at the target, were the lens where the plan puts it.

Every eye is solved on its own, so that its power does not depend, to the last digit, on which eyes it was drawn with,
and so that one eye that no lens suits does not stop the others.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError
from ..sight.choose import CLOSE, LEAST, MOST, secants
from ..sight.refract import refract

KINDS = ("each", "given")
_FINE = 0.01  # [D] to which the ends of what can be made are found
_FOUND, _HELD, _BLIND = 0, 1, 2


@dataclasses.dataclass(frozen=True, eq=False)
class Powers:
    """Powers of lenses chosen eye by eye.

    Attributes
    ----------
    values : float or array [D]
    code : int or array
        0 where a power was found; 1 where it is held at the end of what can be made; 2 where the eye would see nothing
        with the lens in that place, so that it keeps the lens as given.
    """

    values: float
    code: int

    @property
    def held(self):
        """How many eyes would need another power than can be made."""
        return int(np.sum(np.asarray(self.code) == _HELD))

    @property
    def blind(self):
        """How many eyes would see nothing with the lens in that place."""
        return int(np.sum(np.asarray(self.code) == _BLIND))


def powers_for(eye, lens, pose, target, pupil):
    """Power of a lens of this shape that leaves each eye at the target with the lens in one place.

    Raises LearnerError if there can be no such lens: its faces meet before the optic's edge, or its own power is none
    to start from.

    Parameters
    ----------
    eye : Eye
        A single one, or an array of n.
    lens : Lens
        A single one; its shape is kept.
    pose : Pose
        A single one.
    target : float [D]
        Spherical equivalent that is wanted.
    pupil : float [mm]

    Returns
    -------
    Powers
        In the shape of `eye`; no eye is left out.
    """
    given = float(lens.power)
    if not LEAST <= given <= MOST:
        raise LearnerError(
            f"Lens: of its shape powers from {LEAST:g} to {MOST:g} D are chosen; its own {given:.0f} D is no start. "
            "Choose larger radii, or power='given'."
        )
    room, given = _Room(lens), np.full(eye.shape, given)

    def miss_at(power=None):
        made = lens if power is None else lens.with_power(power)
        return refract(eye, made, pose, pupil, on_failure="flag").M - target

    miss = np.asarray(miss_at())  # tells what is wrong with the lens, if anything
    power, miss = secants(miss_at, given, miss, room.nearest)
    code = np.where(np.isnan(miss), _BLIND, np.where(np.abs(miss) < CLOSE, _FOUND, _HELD))
    return Powers(np.where(code == _BLIND, given, power)[()], code[()])


class _Room:
    """Powers that a lens of one shape can have: an interval on each side of 0, about which its radii are endless."""

    def __init__(self, lens):
        self.lens = lens
        given = float(lens.power)
        own = self._side(given)
        other = [self._side(start) for start in (-own[0], -given) if self._can(start)][:1]
        self.sides = np.sort([sorted(side) for side in (own, *other)], axis=0)

    def nearest(self, power):
        """Return the nearest power that can be made."""
        held = np.stack([np.clip(power, low, high) for low, high in self.sides])
        return np.take_along_axis(held, np.argmin(np.abs(held - power), axis=0)[None], axis=0)[0]

    def _side(self, start):
        """Powers of one sign, from the least to the most, as far as they go from one that can be made."""
        most = MOST if start > 0.0 else LEAST
        return self._last(start, 0.0), most if self._can(most) else self._last(start, most)

    def _last(self, near, far):
        while abs(far - near) > _FINE:
            middle = (near + far) / 2.0
            near, far = (middle, far) if self._can(middle) else (near, middle)
        return near

    def _can(self, power):
        try:
            return bool(self.lens.with_power(float(power)).edge_thickness >= 0.0)
        except LearnerError:
            return False
