"""The wavefront at the exit pupil: how far each ray is ahead of the chief ray, and its shape in 28 numbers.

Light from one far point should come together in one point of the retina, all in step. Around that point lies
the reference sphere, through the exit pupil; W is the path of the chief ray up to it, less that of the ray::

        exit pupil
           |  .  reference sphere, radius R
      -----|---.----------->    ray: meets the retina q away from the chief ray, in direction d
           |    .         /
      -----|----.--------o      chief ray meets the retina: centre of the sphere

The path up to the sphere is that up to the retina less the way back,

    s = q.d + sqrt((q.d)^2 - q.q + R^2).

Source: *Optical Shop Testing*, 3rd ed., Wiley 2007, appendix on the wavefront, from memory; s follows from
the sphere's equation.
"""

from __future__ import annotations

import math

import numpy as np

from . import zernike
from .rays import contiguous


def wavefront(rays, reference, index):
    """Wavefront (..., rays) [um] against the first ray.

    Parameters
    ----------
    rays : Rays
        On the retina; the chief ray comes first.
    reference : float or array [mm]
        Radius of the reference sphere.
    index : float or array [1]
        Before the retina.
    """
    from .kernels import step_all

    shape, count = rays.path.shape[:-1], rays.path.shape[-1]
    systems = math.prod(shape)
    sphere, medium = (contiguous(v, shape).reshape(systems) for v in (reference, index))
    points, directions = (a.reshape(systems, count, 3) for a in (rays.points, rays.directions))
    wave = np.empty((systems, count))
    step_all(points, directions, rays.path.reshape(systems, count), sphere, medium, wave)
    return wave.reshape(*shape, count)


def coefficients(wave):
    """Zernike coefficients (n, 28) [um] of wavefronts (n, 91) on the sampling of `zernike`."""
    return row_products(wave, zernike.projection())


def fit_coefficients(wave, seen):
    """Coefficients (n, 28) [um] by least squares over the rays that are seen, where some are not.

    Parameters
    ----------
    wave : (n, 91) array [um]
    seen : (n, 91) bool array

    Returns
    -------
    coefficients : (n, 28) array [um]
        Of the smooth wavefront that agrees best with the rays seen, in the mean square over the area they stand
        for; over the rest of the pupil it goes on as a polynomial would.
    """
    x, y, weight = zernike.sampling()
    basis = zernike.polynomials(x, y)
    pairs = (basis[:, :, None] * basis[:, None, :]).reshape(len(x), -1)
    normal = row_products(weight * seen, pairs).reshape(-1, zernike.NUMBER, zernike.NUMBER)
    right = row_products(weight * np.where(seen, wave, 0.0), basis)
    return np.linalg.solve(normal, right[..., None])[..., 0]


def row_products(rows, matrix):
    """Product rows @ matrix in the same order of sums whatever the number of rows, so that no eye's digits change.

    Parameters
    ----------
    rows : (n, k) array
    matrix : (k, m) array
    """
    from .kernels import weigh_all

    found = np.empty((len(rows), matrix.shape[1]))
    weigh_all(np.ascontiguousarray(rows, dtype=float), np.ascontiguousarray(matrix), found)
    return found
