r"""The light that makes the image: a parallel beam along the line of sight, through the middle of the pupil.

It comes from one far point, and its cross-section is a circle square to the line of sight::

                 g  line of sight, out of the eye
                  \
        beam   \   \   \      diameter: across the beam
                \   \   \
                 .---o---.   cornea
              ---         ---  iris: the chief ray meets the middle of the pupil
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.frames import rotation_of
from .optics import anterior_surfaces, entrance_pupil
from .rays import trace

AHEAD = 1.0
"""How far before the cornea rays are started [mm]."""

_ROUNDS = 8  # of aiming; each gains about two digits, since the scale is nearly right


@dataclasses.dataclass(frozen=True, eq=False)
class Beam:
    """A parallel beam, or one to each eye of an array.

    Attributes
    ----------
    frame : (..., 3, 3) array [1]
        Columns: to the right and upwards across the beam, and the line of sight out of the eye.
    origin : (..., 3) array [mm]
        Ahead of the cornea, on the line of sight through the middle of a centred entrance pupil.
    middle : (..., 2) array [mm]
        Of the beam, from there.
    diameter : float or array [mm]
    """

    frame: np.ndarray
    origin: np.ndarray
    middle: np.ndarray
    diameter: float

    def rays(self, x, y):
        """Give starts (..., rays, 3) [mm] and way (..., 1, 3) of rays at places x, y (rays,) in units of the radius."""
        radius = np.asarray(self.diameter, float)[..., None] / 2.0
        u, v = self.middle[..., 0, None] + radius * x, self.middle[..., 1, None] + radius * y
        return _starts(self.frame, self.origin, np.stack(np.broadcast_arrays(u, v), axis=-1)), self.way

    @property
    def way(self):
        """Way (..., 1, 3) of the light."""
        return -self.frame[..., None, :, 2]


def beam_of(eye, diameter, opening=None):
    """Beam that is centred on the light which meets the middle of the pupil.

    Parameters
    ----------
    eye : Eye
    diameter : float or array [mm]
        At the cornea.
    opening : float, array or None [mm]
        Diameter of the pupil itself, in the iris plane, instead: the beam is that which passes it, its diameter
        the mean over the four sides.
    """
    frame, origin = _sighted(eye)
    if opening is None and not any(np.any(v) for v in (eye.pupil_x, eye.pupil_y, eye.sight_x, eye.sight_y)):
        return Beam(frame, origin, np.zeros(2), diameter)
    rows, scale = anterior_surfaces(eye), np.asarray(entrance_pupil(eye).magnification)[..., None, None]

    def aimed(goal):
        """Places across the beam whose rays hit the goal (..., rays, 2) in the iris plane."""
        place = goal * scale
        for _ in range(_ROUNDS):
            hit = trace(rows, _starts(frame, origin, place), -frame[..., None, :, 2]).points[..., :2]
            place = place + scale * (goal - hit)
        return place

    pupil = eye.pupil_centre
    middle = aimed(pupil[..., None, :])
    if opening is not None:
        sides = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
        rim = aimed(pupil[..., None, :] + sides * np.asarray(opening, float)[..., None, None] / 2.0)
        diameter = 2.0 * np.linalg.norm(rim - middle, axis=-1).mean(axis=-1)
    return Beam(frame, origin, middle[..., 0, :], diameter)


def beam_of_sight(sight):
    """Beam with which a `Sight` was traced."""
    return Beam(*_sighted(sight.eye), sight.middle, sight.pupil)


def _sighted(eye):
    """Frame of the line of sight, and where on it rays start."""
    right, up = (np.tan(np.radians(np.asarray(angle, float))) for angle in (eye.sight_x, eye.sight_y))
    slant, meridian = np.arctan(np.hypot(right, up)), np.arctan2(up, right)
    frame = rotation_of(np.degrees(slant), np.degrees(meridian), 0.0)
    gaze = frame[..., :, 2]
    depth = np.asarray(entrance_pupil(eye).position, float)
    along, height = np.broadcast_arrays(depth + AHEAD, eye.limbal_depth - depth)
    origin = gaze * along[..., None]
    origin[..., 2] += height
    return frame, origin


def _starts(frame, origin, place):
    """Points (..., rays, 3) at places (..., rays, 2) across the beam."""
    return origin[..., None, :] + place @ np.swapaxes(frame[..., :2], -1, -2)
