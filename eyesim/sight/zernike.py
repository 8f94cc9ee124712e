"""The shape of a wavefront over a round pupil: Zernike polynomials to the sixth order.

Order and scale of ANSI Z80.28 and ISO 24157: single index j = (n (n + 2) + m) / 2, each polynomial of mean
square one over the unit circle, angles counter-clockwise from the observer's right. Coefficient j of a wavefront
in micrometres is therefore its root mean square share [um].

A wavefront is *projected* onto them by 91 rays: one in the middle and 15 on each of six rings. The rings' places
are the nodes of a Radau quadrature in the squared radius; with 15 rays to a ring the polynomials are exactly
orthonormal on this sampling, and no fit is needed::

            .  .  .
         .   . . .   .          middle: the chief ray
        .  .  .o.  .  .         rings: nodes in r^2, none on the rim
         .   . . .   .
            .  .  .
"""

from __future__ import annotations

import functools
import math

import numpy as np

NUMBER = 28
"""Polynomials up to the sixth order [1]."""

RINGS, SPOKES = 6, 15
"""Rings of rays, and rays to a ring [1]."""


def order_and_frequency(j):
    """Radial order n and angular frequency m of a polynomial by its OSA index."""
    n = math.ceil((-3.0 + math.sqrt(9.0 + 8.0 * j)) / 2.0)
    return n, 2 * j - n * (n + 2)


def index(n, m):
    """OSA index of the polynomial of radial order n and angular frequency m.

    Parameters
    ----------
    n, m : int
    """
    return (n * (n + 2) + m) // 2


def polynomials(x, y):
    """All 28 polynomials at points of the pupil.

    Parameters
    ----------
    x, y : array [1]
        In units of the pupil's radius; any common shape.

    Returns
    -------
    values : (..., 28) array [1]
    """
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    square, turning = x * x + y * y, x + 1j * y
    powers = [np.ones_like(turning)]
    for _ in range(6):
        powers.append(powers[-1] * turning)
    values = np.empty((*x.shape, NUMBER))
    for j in range(NUMBER):
        n, m = order_and_frequency(j)
        angular = powers[abs(m)].imag if m < 0 else powers[abs(m)].real  # r^|m| sin or cos
        scale = math.sqrt((n + 1) * (1 if m == 0 else 2))
        values[..., j] = scale * np.polynomial.polynomial.polyval(square, _radial(n, abs(m))) * angular
    return values


@functools.lru_cache
def _radial(n, m):
    """Coefficients, by powers of r^2, of the radial polynomial divided by r^m."""
    half = (n - m) // 2
    coefficients = [0.0] * (half + 1)
    for k in range(half + 1):
        top = math.factorial(n - k) * (-1) ** k
        bottom = math.factorial(k) * math.factorial((n + m) // 2 - k) * math.factorial(half - k)
        coefficients[half - k] = top / bottom
    return tuple(coefficients)


@functools.lru_cache
def sampling(rings=RINGS, spokes=SPOKES):
    """Places and weights of the rays, 91 by default.

    Parameters
    ----------
    rings, spokes : int
        Around the chief ray.

    Returns
    -------
    x, y : (rays,) arrays [1]
        In units of the pupil's radius; the chief ray comes first.
    weight : (rays,) array [1]
        Share of the pupil for which a ray stands; they add up to one.
    """
    u, ring = _radau(rings + 1)
    angle = 2.0 * np.pi * np.arange(spokes) / spokes
    r = np.sqrt(u[1:])
    x = np.concatenate([[0.0], np.outer(r, np.cos(angle)).ravel()])
    y = np.concatenate([[0.0], np.outer(r, np.sin(angle)).ravel()])
    weight = np.concatenate([[ring[0]], np.repeat(ring[1:] / spokes, spokes)])
    for array in (x, y, weight):
        array.setflags(write=False)
    return x, y, weight


@functools.lru_cache
def projection():
    """Matrix (91, 28) that turns a wavefront on the sampling into its coefficients, by W @ matrix."""
    x, y, weight = sampling()
    matrix = polynomials(x, y) * weight[:, None]
    matrix.setflags(write=False)
    return matrix


def _radau(number):
    """Nodes and weights on 0 to 1 of the quadrature that has its first node at 0.

    The others are the roots of a Jacobi polynomial, found as eigenvalues; weights follow from the moments.
    Source: *Methods of Numerical Integration*, 2nd ed., Academic Press 1984, section 2.7.
    """
    k = np.arange(number - 1, dtype=float)
    # Jacobi polynomials on (-1, 1) with weight (1 + t), alpha 0 and beta 1
    main = np.where(k == 0, 1.0 / 3.0, 1.0 / np.maximum((2.0 * k + 1.0) * (2.0 * k + 3.0), 1.0))
    k = k[1:]
    side = np.sqrt(k * (k + 1.0) / (2.0 * k + 1.0) ** 2)
    t = np.linalg.eigvalsh(np.diag(main) + np.diag(side, 1) + np.diag(side, -1))
    nodes = np.concatenate([[0.0], (1.0 + t) / 2.0])
    legendre = np.polynomial.legendre.legvander(2.0 * nodes - 1.0, number - 1).T
    moments = np.zeros(number)
    moments[0] = 1.0
    return nodes, np.linalg.solve(legendre, moments)
