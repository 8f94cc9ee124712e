r"""Rays through a row of surfaces, one after the other, exactly: general optics that knows no anatomy.

A conic of revolution (`surface`) is met by solving a quadratic, a toric surface by Newton's method::

                   x (own)
                   |   .'
        ray  ------|--'-------->  t from point to point,
                   | (  surface   path = sum of index times t
          z <------o
                   | (            curvature positive: the centre lies at positive z

The direction behind a surface follows from Snell's law in vector form. A ray that misses a surface, passes
outside its edge or is totally reflected is marked (`FATES`) at the first surface where that happens, and
goes on with finite numbers: beyond an edge as if the surface went on, elsewhere as it came. So no case is lost
and no NaN arises.

Source: *Optical Path and Ray Tracing*, chapter 10 of *Geometrical Optics and Optical Design*, Oxford University Press
1997, from memory; the equations follow from the height above and Snell's law.

The loops over rays are compiled kernels (`kernels`).
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError
from .surface import FIELDS

FATES = ("through", "misses the surface", "passes beyond the edge", "is totally reflected")
"""What became of a ray, by number."""

THROUGH, MISSES, BEYOND, REFLECTED = range(4)


@dataclasses.dataclass(frozen=True, eq=False)
class Rays:
    """Rays where they met the last surface.

    Attributes
    ----------
    points : (..., rays, 3) array [mm]
    directions : (..., rays, 3) array [1]
        Behind the last surface.
    path : (..., rays) array [mm]
        Optical path from where the rays were given.
    fate, surface : (..., rays) int arrays
        What became of each (`FATES`), and at which surface (the last one for those that got through).
    """

    points: np.ndarray
    directions: np.ndarray
    path: np.ndarray
    fate: np.ndarray
    surface: np.ndarray

    @property
    def through(self):
        """Whether each ray passed all surfaces."""
        return self.fate == THROUGH


def trace(surfaces, points, directions, index=1.0):
    """Trace rays through surfaces in their order. Raises LearnerError if a shape does not fit.

    Parameters
    ----------
    surfaces : (..., surfaces, 18) array
        Rows made by `surface`.
    points, directions : (..., rays, 3) array [mm], [1]
        Where the rays start, and where to (of length one).
    index : float or array [1]
        Before the first surface.

    Returns
    -------
    Rays
    """
    from .kernels import trace_all

    surfaces, points, directions = (np.asarray(a, float) for a in (surfaces, points, directions))
    if surfaces.ndim < 2 or surfaces.shape[-1] != FIELDS or not surfaces.shape[-2]:
        raise LearnerError(f"trace: surfaces are rows made by surface(), (..., surfaces, {FIELDS}).")
    if any(a.ndim < 2 or a.shape[-1] != 3 for a in (points, directions)):
        raise LearnerError("trace: points and directions are arrays (..., rays, 3).")
    try:
        points, directions = np.broadcast_arrays(points, directions)
        shape = np.broadcast_shapes(surfaces.shape[:-2], points.shape[:-2], np.shape(index))
    except ValueError:
        raise LearnerError(
            f"trace: surfaces {surfaces.shape}, points {points.shape}, directions {directions.shape} and index "
            f"{np.shape(index)} do not go together."
        ) from None
    given, rays, systems = points.shape[:-2], points.shape[-2], math.prod(shape)
    given = shape if math.prod(given) > 1 else ()  # one set of rays serves all systems
    starts, ways = (
        contiguous(a if given else a.reshape(a.shape[-2:]), (*given, rays, 3)).reshape(-1, rays, 3)
        for a in (points, directions)
    )
    rows = contiguous(surfaces, (*shape, *surfaces.shape[-2:])).reshape(systems, -1, FIELDS)
    before = contiguous(index, shape).reshape(systems)
    filled = [np.empty((systems, rays, 3)), np.empty((systems, rays, 3)), np.empty((systems, rays))]
    marks = np.empty((2, systems, rays), np.int8)
    trace_all(rows, before, starts, ways, *filled, marks)
    return Rays(*(a.reshape(*shape, *a.shape[1:]) for a in (*filled, *marks)))


def contiguous(array, shape):
    """Copy of an array, broadcast and in the order in memory that the kernels take.

    Parameters
    ----------
    array : array
    shape : tuple
    """
    return np.array(np.broadcast_to(array, shape), float, order="C")
