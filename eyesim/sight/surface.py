r"""One surface in the light's way: where it stands, how it is curved, and what lies behind it, in a row of numbers.

Each has a vertex, a frame of its own, and in that frame the height

    z = (a x^2 + b y^2) / (1 + sqrt(1 - (1 + p) a^2 x^2 - (1 + q) b^2 y^2)),

a and b the curvatures along its x and y, p and q the conic constants. Where a = b and p = q that is a conic of
revolution; else a toric surface.
"""

from __future__ import annotations

import numpy as np

FIELDS = 18
"""Numbers of a surface: vertex, frame by rows (own axes), curvatures, conics, edge, index behind."""
FRAME, CURVE, CONIC, EDGE, INDEX = 3, 12, 14, 16, 17
"""Where in the row the later ones begin."""


def surface(vertex, index, curvature=0.0, conic=0.0, *, frame=None, edge=np.inf, across=None, conic_across=None):
    """Describe a surface, or many at once; shapes broadcast.

    Parameters
    ----------
    vertex : (..., 3) array [mm]
    index : float or array [1]
        Refractive index behind it, as the light goes; that before it is the index behind the surface before.
    curvature, conic : float or array [1/mm], [1]
        Along its own x, and along y too if `across` and `conic_across` are not given.
    frame : (..., 3, 3) array or None [1]
        Columns are its own axes; None takes those of the space.
    edge : float or array [mm]
        Largest distance from its axis.
    across, conic_across : float, array or None [1/mm], [1]

    Returns
    -------
    row : (..., 18) array
    """
    vertex = np.asarray(vertex, float)
    frame = np.eye(3) if frame is None else np.asarray(frame, float)
    numbers = [curvature, curvature if across is None else across, conic]
    numbers += [conic if conic_across is None else conic_across, edge, index]
    numbers = [np.asarray(value, float) for value in numbers]
    shape = np.broadcast_shapes(vertex.shape[:-1], frame.shape[:-2], *(value.shape for value in numbers))
    row = np.empty((*shape, FIELDS))
    row[..., :FRAME] = vertex
    row[..., FRAME:CURVE] = np.swapaxes(frame, -1, -2).reshape(*frame.shape[:-2], 9)
    for k, value in enumerate(numbers):
        row[..., CURVE + k] = value
    return row
