"""The loops over rays, compiled: through surfaces, to the wavefront, and to its coefficients.

Eight rays are carried side by side, one in each lane of a processor's vector registers; no lane knows of its
neighbours. Arrays are flat, lanes last: entry k of lane l is ``lanes[k * LANES + l]``. Compiled at first use and
kept on disk.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from ..hold.compiled import compiler
from .surface import CONIC, CURVE, EDGE, INDEX

jit = compiler(Path(__file__).parent, "surface.py", "kernels.py", fast=("contract", "arcp"))

LANES = 8
"""Rays that are carried side by side [1]."""

NEWTON = 8
"""Newton steps to meet a toric surface [1]: it is nearly the plane they start from, and each doubles the digits."""

L = LANES

# entries of a lane: point, direction, path, fate, the surface where that befell it, normal, last step, whether it met
_ENTRIES = 14


@jit
def trace_all(surfaces, before, points, directions, ends, ways, path, marks):
    """Trace the rays of many systems; arrays as in `trace`, flat over the systems.

    Parameters
    ----------
    surfaces, before : (systems, surfaces, 18), (systems,)
    points, directions : (systems or 1, rays, 3); one set serves all systems.
    ends, ways, path, marks : filled with point, direction, path, and fate and surface, of each ray.
    """
    systems, number, _ = surfaces.shape
    rays, shared = points.shape[1], points.shape[0] == 1
    lanes = np.empty(_ENTRIES * L)
    for s in range(systems):
        given = 0 if shared else s
        for first in range(0, rays, L):
            _take(points[given], directions[given], first, lanes)
            index = before[s]
            for j in range(number):
                row = surfaces[s, j]
                _to_own_frame(row, lanes)
                if row[CURVE] == row[CURVE + 1] and row[CONIC] == row[CONIC + 1]:
                    _meet_conic(row[CURVE], 1.0 + row[CONIC], lanes)
                else:
                    _meet_toric(row[CURVE], row[CURVE + 1], 1.0 + row[CONIC], 1.0 + row[CONIC + 1], lanes)
                _refract(index, row[INDEX], row[EDGE], float(j), lanes)
                _to_space(row, lanes)
                index = row[INDEX]
            for l in range(min(L, rays - first)):
                for k in range(3):
                    ends[s, first + l, k] = lanes[k * L + l]
                    ways[s, first + l, k] = lanes[(3 + k) * L + l]
                path[s, first + l] = lanes[6 * L + l]
                marks[0, s, first + l] = np.int8(lanes[7 * L + l])
                marks[1, s, first + l] = np.int8(lanes[8 * L + l])


@jit
def _take(points, directions, first, lanes):
    """Fill the lanes with the next eight rays; idle lanes repeat the last one."""
    for l in range(L):
        i = min(first + l, len(points) - 1)
        for k in range(3):
            lanes[k * L + l] = points[i, k]
            lanes[(3 + k) * L + l] = directions[i, k]
        for k in range(6, _ENTRIES):
            lanes[k * L + l] = 0.0


@jit
def _to_own_frame(row, lanes):
    """Turn points and directions into the frame of a surface."""
    p, q, r = row[0], row[1], row[2]
    a, b, c, d, e, f, g, h, i = row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10], row[11]
    for l in range(L):
        x, y, z = lanes[l] - p, lanes[L + l] - q, lanes[2 * L + l] - r
        u, v, w = lanes[3 * L + l], lanes[4 * L + l], lanes[5 * L + l]
        lanes[l], lanes[L + l], lanes[2 * L + l] = a * x + b * y + c * z, d * x + e * y + f * z, g * x + h * y + i * z
        lanes[3 * L + l] = a * u + b * v + c * w
        lanes[4 * L + l] = d * u + e * v + f * w
        lanes[5 * L + l] = g * u + h * v + i * w


@jit
def _to_space(row, lanes):
    """Turn points and directions back from the frame of a surface."""
    p, q, r = row[0], row[1], row[2]
    a, b, c, d, e, f, g, h, i = row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10], row[11]
    for l in range(L):
        x, y, z = lanes[l], lanes[L + l], lanes[2 * L + l]
        u, v, w = lanes[3 * L + l], lanes[4 * L + l], lanes[5 * L + l]
        lanes[l] = p + a * x + d * y + g * z
        lanes[L + l] = q + b * x + e * y + h * z
        lanes[2 * L + l] = r + c * x + f * y + i * z
        lanes[3 * L + l] = a * u + d * v + g * w
        lanes[4 * L + l] = b * u + e * v + h * w
        lanes[5 * L + l] = c * u + f * v + i * w


@jit
def _meet_conic(c, k, lanes):
    """Carry eight rays to a conic of revolution; k is one more than its conic constant."""
    for l in range(L):
        x, y, z = lanes[l], lanes[L + l], lanes[2 * L + l]
        u, v, w = lanes[3 * L + l], lanes[4 * L + l], lanes[5 * L + l]
        a = c * (u * u + v * v + k * w * w)
        b = w - c * (x * u + y * v + k * z * w)
        d = c * (x * x + y * y + k * z * z) - 2.0 * z
        inside = b * b - a * d
        t = d / (b + math.copysign(math.sqrt(max(inside, 0.0)), w))
        t = t if inside > 0.0 else 0.0
        x, y, z = x + t * u, y + t * v, z + t * w
        slope = 1.0 - k * c * z  # along z of the gradient; not positive on the far half of the conic
        lanes[l], lanes[L + l], lanes[2 * L + l] = x, y, z
        lanes[9 * L + l], lanes[10 * L + l], lanes[11 * L + l] = -c * x, -c * y, slope
        lanes[12 * L + l] = t
        lanes[13 * L + l] = min(inside, slope)


@jit
def _meet_toric(a, b, p, q, lanes):
    """Carry eight rays to a toric surface; p and q are one more than its conic constants."""
    p, q = p * a * a, q * b * b
    for l in range(L):
        x, y, z = lanes[l], lanes[L + l], lanes[2 * L + l]
        u, v, w = lanes[3 * L + l], lanes[4 * L + l], lanes[5 * L + l]
        t, height, sx, sy, inside = -z / w, 0.0, 0.0, 0.0, 1.0  # from the plane through the vertex
        for _ in range(NEWTON):
            height, sx, sy, inside = _height(a, b, p, q, x + t * u, y + t * v)
            t -= (z + t * w - height) / (w - sx * u - sy * v)
        height, sx, sy, inside = _height(a, b, p, q, x + t * u, y + t * v)
        met = abs(z + t * w - height) < 1e-9 and inside > 0.0
        t, sx, sy = (t, sx, sy) if met else (0.0, 0.0, 0.0)
        x, y, z = x + t * u, y + t * v, z + t * w
        lanes[l], lanes[L + l], lanes[2 * L + l] = x, y, z
        lanes[9 * L + l], lanes[10 * L + l], lanes[11 * L + l] = -sx, -sy, 1.0
        lanes[12 * L + l] = t
        lanes[13 * L + l] = 1.0 if met else -1.0


@jit
def _height(a, b, p, q, x, y):
    """Height of a toric surface, its slopes along x and y, and what stands under the root."""
    inside = 1.0 - p * x * x - q * y * y
    root = math.sqrt(max(inside, 1e-6))
    bulge = a * x * x + b * y * y
    height = bulge / (1.0 + root)
    common = bulge / (root * (1.0 + root) * (1.0 + root))
    return height, 2.0 * a * x / (1.0 + root) + common * p * x, 2.0 * b * y / (1.0 + root) + common * q * y, inside


@jit
def _refract(before, behind, edge, number, lanes):
    """Bend eight rays by Snell's law where they meet a surface, and keep what befell them."""
    ratio = before / behind
    for l in range(L):
        x, y = lanes[l], lanes[L + l]
        u, v, w = lanes[3 * L + l], lanes[4 * L + l], lanes[5 * L + l]
        nx, ny, nz = lanes[9 * L + l], lanes[10 * L + l], lanes[11 * L + l]
        each = 1.0 / math.sqrt(nx * nx + ny * ny + nz * nz)
        along = (nx * u + ny * v + nz * w) * each
        inside = 1.0 - ratio * ratio * (1.0 - along * along)
        push = (math.copysign(math.sqrt(max(inside, 0.0)), along) - ratio * along) * each
        missed = 1.0 if lanes[13 * L + l] <= 0.0 else 0.0
        reflected = 1.0 if inside < 0.0 else 0.0
        beyond = 1.0 if x * x + y * y > edge * edge else 0.0
        goes = (1.0 - missed) * (1.0 - reflected)
        lanes[3 * L + l] = u + goes * (ratio * u + push * nx - u)
        lanes[4 * L + l] = v + goes * (ratio * v + push * ny - v)
        lanes[5 * L + l] = w + goes * (ratio * w + push * nz - w)
        lanes[6 * L + l] += before * lanes[12 * L + l]
        befell = missed + (1.0 - missed) * (3.0 * reflected + 2.0 * beyond * (1.0 - reflected))
        still = 1.0 if lanes[7 * L + l] == 0.0 else 0.0
        lanes[7 * L + l] += still * befell
        lanes[8 * L + l] += still * (number - lanes[8 * L + l])


@jit
def step_all(points, directions, path, sphere, medium, wave):
    """Wavefront of many systems, flat over them.

    Parameters
    ----------
    points, directions, path : (systems, rays, 3), (systems, rays, 3), (systems, rays)
    sphere, medium : (systems,)
        Radius of the reference sphere [mm] and index before the retina.
    wave : (systems, rays), filled [um]
    """
    for s in range(len(path)):
        x0, y0, z0, radius = points[s, 0, 0], points[s, 0, 1], points[s, 0, 2], sphere[s]
        first, scale = path[s, 0], medium[s]
        for r in range(path.shape[1]):
            x, y, z = points[s, r, 0] - x0, points[s, r, 1] - y0, points[s, r, 2] - z0
            along = x * directions[s, r, 0] + y * directions[s, r, 1] + z * directions[s, r, 2]
            under = along * along - (x * x + y * y + z * z) + radius * radius
            back = along + math.sqrt(max(under, 0.0))
            wave[s, r] = 1000.0 * (first - path[s, r] + scale * (back - radius))


@jit
def weigh_all(rows, matrix, found):
    """Products rows @ matrix, term by term: every row by itself, in the same order whatever its company.

    Parameters
    ----------
    rows : (n, k)
    matrix : (k, m)
    found : (n, m), filled
    """
    sums = np.empty(matrix.shape[1])
    for s in range(len(rows)):
        sums[:] = 0.0
        for r in range(len(matrix)):
            for j in range(len(sums)):
                sums[j] += rows[s, r] * matrix[r, j]
        found[s, :] = sums
