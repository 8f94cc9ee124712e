"""Light that the optic does not catch: with the lens off centre and a wide pupil, part of the beam passes beside it.

What passes beside lands far out of focus and veils the image; no glasses mend it. How far out a ray meets a face of
the optic is found by tracing up to that face as if it went on past its edge::

            .--------.
          .'  beam  .-'-----.
         |        .'|        '.      beside: of the beam, what lies outside the optic's edge
          '.      | '  optic   |     (the front's or the back's, whichever is passed)
            '-----'.          .'
"""

from __future__ import annotations

import functools
import math

import numpy as np

from . import zernike
from .optics import LENS_BACK, LENS_FRONT, entrance_pupil
from .rays import BEYOND, MISSES, trace
from .surface import CURVE, EDGE, FRAME
from .wavefront import coefficients, row_products

_SAFE = 0.9  # of the optic's radius: a beam that stays within it passes no ray beside
_UPRIGHT = math.cos(math.radians(30.0))  # of an optic that leans more, every ray is traced to see what passes beside


def misses_optic(rays):
    """Whether each ray goes by a face of the optic, outside its edge or past the whole surface that bears it."""
    at_optic = (rays.surface == LENS_FRONT) | (rays.surface == LENS_BACK)
    return at_optic & ((rays.fate == BEYOND) | (rays.fate == MISSES))


def missed_share(rows, beam, eye):
    """Share of the beam that meets neither face of the optic within its edge.

    How far out a ray meets a face is a smooth function of its place in the beam, so 91 rays tell it for all; where
    the optic leans much it is not smooth enough, and many rays are traced.

    Parameters
    ----------
    rows : (eyes, 5, 18) array
        Surfaces, see `optics.surfaces`.
    beam : Beam
    eye : Eye
    """
    share, upright = np.zeros(len(rows)), rows[:, LENS_FRONT, FRAME + 8]  # cosine of the tilt
    steep = upright < _UPRIGHT
    near = _near_the_edge(rows, beam, eye, upright) & ~steep
    for chosen, places, share_of in ((near, zernike.sampling()[:2], _continued), (steep, _evenly(), _counted)):
        if chosen.any():
            starts, way = (np.broadcast_to(a, (len(rows), *a.shape[-2:]))[chosen] for a in beam.rays(*places))
            share[chosen] = share_of(rows[chosen, : LENS_BACK + 1], starts, way)
    return share


def _near_the_edge(rows, beam, eye, upright):
    """Whether any ray may pass beside: by the beam's width at the iris, and how far its middle drifts behind it."""
    front, back = rows[:, LENS_FRONT, :3], rows[:, LENS_BACK, :3]
    slope = np.hypot(*(np.tan(np.radians(angle)) for angle in (eye.sight_x, eye.sight_y)))
    far = np.linalg.norm((front + back)[:, :2] / 2.0 - eye.pupil_centre, axis=1) + np.linalg.norm(
        (front - back)[:, :2], axis=1
    )
    behind = eye.iris_z - back[:, 2]
    narrowed = np.where(behind > 0.0, entrance_pupil(eye).magnification, 1.0)
    far = far + np.asarray(beam.diameter) / (2.0 * narrowed) + slope * np.abs(behind)
    return far > _SAFE * upright * rows[:, LENS_FRONT, EDGE]


def _continued(rows, starts, way):
    """Share of the pupil beside the optic, from how far out the 91 rays meet its faces."""
    beyond = False
    for face in (LENS_FRONT, LENS_BACK):
        row = rows[:, face]
        points = trace(rows[:, : face + 1], starts, way).points - row[:, None, :3]
        own = np.einsum("erk,eak->era", points, row[:, FRAME:CURVE].reshape(-1, 3, 3)[:, :2])
        reach = np.sum(own**2, axis=2) / row[:, None, EDGE] ** 2
        beyond = beyond | (row_products(coefficients(reach), _sunflower()) > 1.0)
    return np.mean(beyond, axis=1)


def _counted(rows, starts, way):
    """Share of rays that pass beside the optic."""
    return np.mean(misses_optic(trace(rows, starts, way)), axis=1)


@functools.lru_cache
def _evenly(number=1000):
    """Places x, y (number,) that cover the pupil evenly."""
    k = np.arange(number) + 0.5
    angle = np.pi * (1.0 + math.sqrt(5.0)) * k
    r = np.sqrt(k / number)
    return r * np.cos(angle), r * np.sin(angle)


@functools.lru_cache
def _sunflower():
    """Polynomials (28, 4000) at points that cover the pupil evenly."""
    return np.ascontiguousarray(zernike.polynomials(*_evenly(4000)).T)
