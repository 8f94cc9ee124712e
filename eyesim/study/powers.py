"""Which power each eye gets: that which would leave it at the target, were the lens where the plan puts it.

Every eye is solved on its own, so that its power does not depend, to the last digit, on which eyes it was drawn with,
and so that one eye that no lens suits does not stop the others.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError
from ..sight.refract import refract

KINDS = ("each", "given")
LEAST, MOST = -30.0, 60.0
"""[D] Between which a lens can be made, as by `Lens.with_power`; some shapes have less room."""
_ROUNDS = 12
_CLOSE = 1e-7  # [D] of refraction
_STILL = 1e-9  # [D] of power: a step that says nothing of the slope
_SLOPE = -0.7  # dioptres at the cornea to one in the lens, at the start; the secants mend it
_SHORTEST = 0.1  # of that slope: a secant between two values that hardly differ is not believed
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

    Raises
    ------
    LearnerError
        If there can be no such lens: its faces meet before the optic's edge, or its own power is none to start from.
    """
    given = float(lens.power)
    if not LEAST <= given <= MOST:
        raise LearnerError(
            f"Lens: of its shape powers from {LEAST:g} to {MOST:g} D are chosen; its own {given:.0f} D is no start. "
            "Choose larger radii, or power='given'."
        )
    size = eye.shape[0] if eye.shape else 1
    power, code = np.full(size, given), np.full(size, _FOUND)
    left = _left_by(eye, lens, pose, pupil, np.arange(size))  # tells what is wrong with the lens, if anything
    miss = left - target
    code[np.isnan(miss)] = _BLIND
    room = _Room(lens)
    _solve(eye, lens, pose, target, pupil, room, power, code, miss)
    return Powers(power if eye.shape else float(power[0]), code if eye.shape else int(code[0]))


def _solve(eye, lens, pose, target, pupil, room, power, code, miss):
    """Secants, each eye on its own, in place: an eye that has arrived is not moved by those that have not."""
    slope = np.full(len(power), _SLOPE)
    left = np.flatnonzero((code == _FOUND) & (np.abs(miss) >= _CLOSE))
    for _ in range(_ROUNDS):
        if not len(left):
            return
        before = power[left]
        power[left] = room.nearest(before - miss[left] / slope[left])
        step = power[left] - before
        found = _left_by(eye, lens, pose, pupil, left, power[left]) - target
        moved = np.abs(step) > _STILL
        secant = (found - miss[left]) / np.where(moved, step, 1.0)
        slope[left] = np.where(moved & (secant < _SHORTEST * _SLOPE), secant, slope[left])
        miss[left] = found
        stuck = ~moved & room.at_an_end(power[left])
        code[left[np.isnan(found)]] = _BLIND
        code[left[stuck]] = _HELD
        left = left[(np.abs(found) >= _CLOSE) & ~stuck]  # NaN leaves too
    code[left] = _HELD  # came no nearer than this; said, not hidden
    power[code == _BLIND] = lens.power


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
        return held[np.argmin(np.abs(held - power), axis=0), np.arange(len(power))]

    def at_an_end(self, power):
        """Whether a power is the last one on some side."""
        return np.isin(power, self.sides)

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


def _left_by(eye, lens, pose, pupil, chosen, power=None):
    """Spherical equivalents [D] that the lens, or lenses of these powers, leave the chosen ones of the eyes."""
    names = [f.name for f in dataclasses.fields(eye) if isinstance(getattr(eye, f.name), np.ndarray)]
    eye = eye.but(**{name: getattr(eye, name)[chosen] for name in names})
    lens = lens if power is None else lens.with_power(power)
    return np.atleast_1d(refract(eye, lens, pose, pupil, on_failure="flag").M)
