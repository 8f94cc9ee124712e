"""Twelve equations for a rigid optic between two elastic haptics, their derivatives and one correction.

Unknown: the optic's pose (centre, rotation) and one wrench. With the moment taken about the optic's
centre, the wrench of the first haptic on the optic is (n, M) and balance makes that of the second
(-n, -M). Each haptic must end at its inner opening (3 equations), along the held direction (2), and
free of twist (1); a pin leaves the direction free and asks for no moment at all (3 and 3).

A *side* is one row of numbers; its columns are named below. Lengths in mm, forces over EI. As in `rod`,
`LANES` lenses are worked on side by side and arrays are flat with lanes last.
"""

from __future__ import annotations

import numpy as np

from .compiled import jit
from .rod import COLUMNS, PLACE, SEGMENTS, STATES, STEPS, TURN, L, cross, march, march_sensitivities

LENGTH, CURVATURE, RATIO = 0, 1, 2
ROOT = 3  # position, d2, d3 of the root in the lens's frame: 3..11
OPENING = 12  # inner opening: 12..14
HELD = 15  # direction in which the haptic passes through it, outwards: 15..17
PIN = 18  # 1 where the direction is free
FIELDS = 19

ROTATION, WRENCH, JOINTS = 3, 12, 18  # a state: centre, rotation, wrench, the joints of both haptics
STATE = JOINTS + 2 * (SEGMENTS - 1) * 9

PATH = STEPS * 4 * PLACE  # sizes of one haptic's share in the flat arrays
ENDS = SEGMENTS * PLACE
GAPS = (SEGMENTS - 1) * PLACE
ALL = SEGMENTS * STATES
WIDE = 13  # columns of the equations: six of the pose, six of the wrench, the misses


@jit
def _wrench(state, k, wrench):
    """Write the wrench on the haptic at side k: that of the state, or minus it."""
    for i in range(6):
        for l in range(L):
            wrench[i * L + l] = (1.0 - 2.0 * k) * state[(WRENCH + i) * L + l]


@jit
def turned(state, l, v0, v1, v2):
    """Turn a vector of the lens's frame into space, in lane l.

    Parameters
    ----------
    state : lanes
        Of the optic; see the head of this page.
    l : int
        Lane.
    v0, v1, v2 : float
    """
    r = ROTATION
    return (
        state[r * L + l] * v0 + state[(r + 1) * L + l] * v1 + state[(r + 2) * L + l] * v2,
        state[(r + 3) * L + l] * v0 + state[(r + 4) * L + l] * v1 + state[(r + 5) * L + l] * v2,
        state[(r + 6) * L + l] * v0 + state[(r + 7) * L + l] * v1 + state[(r + 8) * L + l] * v2,
    )


@jit
def two_across(x, y, z):
    """Two unit vectors across a unit vector.

    Parameters
    ----------
    x, y, z : float [1]
    """
    if abs(z) < 0.9:
        a0, a1, a2 = -y, x, 0.0
    else:
        a0, a1, a2 = 0.0, -z, y
    size = np.sqrt(a0 * a0 + a1 * a1 + a2 * a2)
    a0, a1, a2 = a0 / size, a1 / size, a2 / size
    b0, b1, b2 = cross(x, y, z, a0, a1, a2)
    return a0, a1, a2, b0, b1, b2


@jit
def equations(sides, state, wrench, paths, ends, basis, matrix):
    """March both haptics; write the twelve misses (opening, direction, twist) in the last column.

    Parameters
    ----------
    sides, state : as laid out at the head of this page, over lanes
    wrench, paths, ends : filled for `derivatives`
    basis : two directions across that of each opening
    matrix : 12 x 13 x lanes; its last column is filled
    """
    for k in range(2):
        side = sides[k * FIELDS * L : (k + 1) * FIELDS * L]
        own = wrench[k * TURN : (k + 1) * TURN]
        path, end = paths[k * PATH : (k + 1) * PATH], ends[k * ENDS : (k + 1) * ENDS]
        joints = state[JOINTS * L + k * GAPS : JOINTS * L + (k + 1) * GAPS]
        across = basis[k * TURN : (k + 1) * TURN]
        _wrench(state, k, own)
        march(
            side[ROOT * L : OPENING * L],
            joints,
            own,
            side[LENGTH * L : (LENGTH + 1) * L],
            side[CURVATURE * L : (CURVATURE + 1) * L],
            np.zeros(L),
            side[RATIO * L : (RATIO + 1) * L],
            path,
            end,
        )
        last = end[ENDS - PLACE :]
        miss = matrix[(6 * k * WIDE + WIDE - 1) * L :]
        row = WIDE * L
        for l in range(L):
            x, y, z = turned(state, l, last[l], last[L + l], last[2 * L + l])
            miss[l] = state[l] + x - side[OPENING * L + l]
            miss[row + l] = state[L + l] + y - side[(OPENING + 1) * L + l]
            miss[2 * row + l] = state[2 * L + l] + z - side[(OPENING + 2) * L + l]
            e0, e1, e2 = last[6 * L + l], last[7 * L + l], last[8 * L + l]
            p, q, t = turned(state, l, e0, e1, e2)
            x, y, z = cross(last[l], last[L + l], last[2 * L + l], own[l], own[L + l], own[2 * L + l])
            m0, m1, m2 = own[3 * L + l] - x, own[4 * L + l] - y, own[5 * L + l] - z
            pin = side[PIN * L + l]
            one = across[l] * p + across[L + l] * q + across[2 * L + l] * t
            two = across[3 * L + l] * p + across[4 * L + l] * q + across[5 * L + l] * t
            miss[3 * row + l] = (1.0 - pin) * one + pin * m0
            miss[4 * row + l] = (1.0 - pin) * two + pin * m1
            miss[5 * row + l] = (1.0 - pin) * (m0 * e0 + m1 * e1 + m2 * e2) + pin * m2


@jit
def derivatives(sides, state, wrench, paths, ends, basis, exact, states, matrix):
    """Differentiate the misses by shift and turn of the optic (in space) and by the wrench.

    What closing the gaps does to the misses is added to them.

    Parameters
    ----------
    sides, state, wrench, paths, ends, basis : as `equations` left them
    exact : bool
        As of `march_sensitivities`.
    states, matrix : filled; to the last column of the matrix only what the gaps do is added
    """
    felt, change = np.empty(COLUMNS * 3 * L), np.empty(TURN)
    row = WIDE * L
    for k in range(2):
        side = sides[k * FIELDS * L : (k + 1) * FIELDS * L]
        own = wrench[k * TURN : (k + 1) * TURN]
        path, end = paths[k * PATH : (k + 1) * PATH], ends[k * ENDS : (k + 1) * ENDS]
        joints = state[JOINTS * L + k * GAPS : JOINTS * L + (k + 1) * GAPS]
        across = basis[k * TURN : (k + 1) * TURN]
        moved = states[k * ALL : (k + 1) * ALL]
        march_sensitivities(
            path,
            end,
            joints,
            own,
            side[LENGTH * L : (LENGTH + 1) * L],
            side[RATIO * L : (RATIO + 1) * L],
            exact,
            moved,
            felt,
        )
        last, moved = end[ENDS - PLACE :], moved[ALL - STATES :]
        rows = matrix[6 * k * row : 6 * (k + 1) * row]
        sign = 1.0 - 2.0 * k  # the second haptic bears minus the wrench
        for l in range(L):
            for i in range(6):
                for j in range(6):
                    rows[i * row + j * L + l] = 0.0
        for l in range(L):
            keep = 1.0 - side[PIN * L + l]
            x, y, z = turned(state, l, last[l], last[L + l], last[2 * L + l])
            rows[l] = rows[row + L + l] = rows[2 * row + 2 * L + l] = 1.0
            rows[4 * L + l], rows[5 * L + l] = z, -y
            rows[row + 3 * L + l], rows[row + 5 * L + l] = -z, x
            rows[2 * row + 3 * L + l], rows[2 * row + 4 * L + l] = y, -x
            p, q, t = turned(state, l, last[6 * L + l], last[7 * L + l], last[8 * L + l])
            x, y, z = cross(p, q, t, across[l], across[L + l], across[2 * L + l])
            rows[3 * row + 3 * L + l], rows[3 * row + 4 * L + l], rows[3 * row + 5 * L + l] = (
                keep * x,
                keep * y,
                keep * z,
            )
            x, y, z = cross(p, q, t, across[3 * L + l], across[4 * L + l], across[5 * L + l])
            rows[4 * row + 3 * L + l], rows[4 * row + 4 * L + l], rows[4 * row + 5 * L + l] = (
                keep * x,
                keep * y,
                keep * z,
            )
        for c in range(COLUMNS):
            part, mu = moved[c * TURN : (c + 1) * TURN], felt[c * 3 * L : (c + 1) * 3 * L]
            for l in range(L):
                pin = side[PIN * L + l]
                e0, e1, e2 = last[6 * L + l], last[7 * L + l], last[8 * L + l]
                t0, t1, t2 = part[3 * L + l], part[4 * L + l], part[5 * L + l]
                x, y, z = turned(state, l, part[l], part[L + l], part[2 * L + l])
                change[l], change[L + l], change[2 * L + l] = x, y, z
                x, y, z = cross(t0, t1, t2, e0, e1, e2)
                p, q, t = turned(state, l, x, y, z)
                one = across[l] * p + across[L + l] * q + across[2 * L + l] * t
                two = across[3 * L + l] * p + across[4 * L + l] * q + across[5 * L + l] * t
                twist = mu[l] * e0 + mu[L + l] * e1 + mu[2 * L + l] * e2
                x, y, z = cross(last[l], last[L + l], last[2 * L + l], own[l], own[L + l], own[2 * L + l])
                m0, m1, m2 = own[3 * L + l] - x, own[4 * L + l] - y, own[5 * L + l] - z
                x, y, z = cross(t0, t1, t2, m0, m1, m2)
                change[3 * L + l] = (1.0 - pin) * one + pin * (mu[l] + x)
                change[4 * L + l] = (1.0 - pin) * two + pin * (mu[L + l] + y)
                change[5 * L + l] = (1.0 - pin) * twist + pin * (mu[2 * L + l] + z)
            for i in range(6):
                at = i * row + (6 + c) * L
                for l in range(L):
                    if c < COLUMNS - 1:
                        rows[at + l] = sign * change[i * L + l]
                    else:
                        rows[at + l] += change[i * L + l]


@jit
def solve(matrix, change, sign):
    """Gauss's elimination with row exchange, in every lane for itself and without a branch.

    Writes minus the solution, which is the correction, and the sign of the determinant (0: singular).

    Parameters
    ----------
    matrix : 12 x 13 x lanes; destroyed
    change, sign : filled
    """
    row = WIDE * L
    best, most = np.empty(L), np.empty(L)
    sign[:] = 1.0
    for k in range(12):
        for l in range(L):
            best[l], most[l] = float(k), abs(matrix[k * row + k * L + l])
        for i in range(k + 1, 12):
            for l in range(L):
                value = abs(matrix[i * row + k * L + l])
                best[l] = float(i) if value > most[l] else best[l]
                most[l] = value if value > most[l] else most[l]
        for i in range(k + 1, 12):
            for j in range(k, WIDE):
                for l in range(L):
                    a, b = matrix[k * row + j * L + l], matrix[i * row + j * L + l]
                    here = best[l] == float(i)
                    matrix[k * row + j * L + l] = b if here else a
                    matrix[i * row + j * L + l] = a if here else b
        for l in range(L):
            pivot = matrix[k * row + k * L + l]
            sign[l] = -sign[l] if best[l] != float(k) else sign[l]
            sign[l] = -sign[l] if pivot < 0.0 else sign[l]
            singular = not most[l] > 1e-13
            sign[l] = 0.0 if singular else sign[l]
            most[l] = 1.0 / (1.0 if singular else pivot)
        for i in range(k + 1, 12):
            for l in range(L):
                best[l] = matrix[i * row + k * L + l] * most[l]
            for j in range(k + 1, WIDE):
                for l in range(L):
                    matrix[i * row + j * L + l] -= best[l] * matrix[k * row + j * L + l]
    for i in range(11, -1, -1):
        for l in range(L):
            value = -matrix[i * row + 12 * L + l]
            for j in range(i + 1, 12):
                value -= matrix[i * row + j * L + l] * change[j * L + l]
            pivot = matrix[i * row + i * L + l]
            change[i * L + l] = value / (1.0 if sign[l] == 0.0 else pivot)


@jit
def _turn_triple(vector, first, step, l, a0, a1, a2):
    """Turn the vector at entries first, first + step, first + 2 step about (a0, a1, a2) [rad].

    The turn is that of the quaternion (1, a/2): right to second order in a small angle, and always a turn.
    """
    p, q, t = 0.5 * a0, 0.5 * a1, 0.5 * a2
    scale = 2.0 / (1.0 + p * p + q * q + t * t)
    v0, v1, v2 = vector[first * L + l], vector[(first + step) * L + l], vector[(first + 2 * step) * L + l]
    x, y, z = cross(p, q, t, v0, v1, v2)
    u, v, w = cross(p, q, t, x, y, z)
    vector[first * L + l] = v0 + scale * (x + u)
    vector[(first + step) * L + l] = v1 + scale * (y + v)
    vector[(first + 2 * step) * L + l] = v2 + scale * (z + w)


@jit
def correct(state, change, states):
    """Move pose, wrench and joints; frames are turned, not added to, so they stay frames.

    Parameters
    ----------
    state : lanes; changed
    change : 12 x lanes, from `solve`
    states : from `derivatives`
    """
    for i in range(3):
        for l in range(L):
            state[i * L + l] += change[i * L + l]
    for i in range(6):
        for l in range(L):
            state[(WRENCH + i) * L + l] += change[(6 + i) * L + l]
    for i in range(3):
        for l in range(L):
            _turn_triple(state, ROTATION + i, 3, l, change[3 * L + l], change[4 * L + l], change[5 * L + l])
    move = np.empty(TURN)
    for k in range(2):
        sign = 1.0 - 2.0 * k
        for j in range(SEGMENTS - 1):
            part = states[k * ALL + j * STATES : k * ALL + (j + 1) * STATES]
            joint = state[JOINTS * L + k * GAPS + j * PLACE : JOINTS * L + k * GAPS + (j + 1) * PLACE]
            for i in range(6):
                for l in range(L):
                    move[i * L + l] = part[(COLUMNS - 1) * TURN + i * L + l]
                for c in range(6):
                    for l in range(L):
                        move[i * L + l] += sign * part[c * TURN + i * L + l] * change[(6 + c) * L + l]
            for i in range(3):
                for l in range(L):
                    joint[i * L + l] += move[i * L + l]
            for first in (3, 6):
                for l in range(L):
                    _turn_triple(joint, first, 1, l, move[3 * L + l], move[4 * L + l], move[5 * L + l])
