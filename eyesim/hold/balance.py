"""Twelve equations for a rigid optic between two elastic haptics, and a safe way to their solution.

Unknown: the optic's pose (centre, rotation) and one wrench. With the moment taken about the optic's
centre, the wrench of the first haptic on the optic is (n, M) and balance makes that of the second
(-n, -M). Each haptic must end at its inner opening (3 equations), along the held direction (2), and
free of twist (1); a pin leaves the direction free and asks for no moment at all (3 and 3).

How the method is sure of the branch. A start whose solution is known (at first: the lens unstressed,
with openings where its haptics naturally end) is carried to the goal along a straight path in
openings, directions and lengths. A stride is accepted only if Newton's corrections contract from the
first one on, by the affine-invariant monitor of Deuflhard, *Newton Methods for Nonlinear Problems*,
2004, section 5.1; else it is halved. The determinant of the equations must keep its sign: a branch
ends, or turns unstable, only where it vanishes. If the stride shrinks to nothing there, the haptic
snaps to another shape, and that is reported instead of a pose.

A *side* is one row of numbers; its columns are named below. Lengths in mm, forces over EI.
"""

from __future__ import annotations

import numpy as np

from . import rod
from .compiled import jit
from .rod import COLUMNS, GAPS, SEGMENTS, STEPS, cross, march, march_sensitivities, moment_at

LENGTH, CURVATURE, RATIO = 0, 1, 2
ROOT = 3  # position, d2, d3 of the root in the lens's frame: 3..11
OPENING = 12  # inner opening: 12..14
HELD = 15  # direction in which the haptic passes through it, outwards: 15..17
PIN = 18  # 1 where the direction is free
FIELDS = 19

ROTATION, WRENCH, JOINTS = 3, 12, 18  # a state: centre, rotation, wrench, the joints of both haptics
STATE = JOINTS + 2 * (SEGMENTS - 1) * 9

SETTLED, SNAPS, NOT_CONVERGED, TAUT = 0, 1, 2, 3

CONVERGED = 1e-8  # error left, judged from the last correction and its contraction
CONTRACTION = 0.5
SMALLEST_STRIDE = 2.0**-14
TAUT_FORCE = 4.0


@jit
def _turn(rotation, vector, start):
    """Rotation (9 numbers, row by row) applied to vector[start:start + 3]."""
    a, b, c = vector[start], vector[start + 1], vector[start + 2]
    return (
        rotation[0] * a + rotation[1] * b + rotation[2] * c,
        rotation[3] * a + rotation[4] * b + rotation[5] * c,
        rotation[6] * a + rotation[7] * b + rotation[8] * c,
    )


@jit
def _across(side, basis):
    """Two unit vectors across the held direction, as rows of `basis`."""
    x, y, z = side[HELD], side[HELD + 1], side[HELD + 2]
    if abs(z) < 0.9:
        a0, a1, a2 = -y, x, 0.0
    else:
        a0, a1, a2 = 0.0, -z, y
    size = np.sqrt(a0 * a0 + a1 * a1 + a2 * a2)
    basis[0, 0], basis[0, 1], basis[0, 2] = a0 / size, a1 / size, a2 / size
    basis[1, 0], basis[1, 1], basis[1, 2] = cross(x, y, z, a0 / size, a1 / size, a2 / size)


@jit
def _joints(state, k):
    return state[JOINTS:].reshape((2, SEGMENTS - 1, 9))[k]


@jit
def _equations(sides, state, paths, ends, basis, miss):
    """March both haptics and write the twelve misses: opening, direction, twist, side by side."""
    rotation = state[ROTATION:WRENCH]
    for k in range(2):
        side = sides[k]
        wrench = state[WRENCH:JOINTS] if k == 0 else -state[WRENCH:JOINTS]
        march(
            side[ROOT:OPENING], _joints(state, k), wrench, side[LENGTH], side[CURVATURE], 0.0, side[RATIO],
            paths[k], ends[k],
        )
        end = ends[k, -1]
        row = 6 * k
        x, y, z = _turn(rotation, end, 0)
        miss[row] = state[0] + x - side[OPENING]
        miss[row + 1] = state[1] + y - side[OPENING + 1]
        miss[row + 2] = state[2] + z - side[OPENING + 2]
        m0, m1, m2 = moment_at(end, wrench)
        if side[PIN] == 0.0:
            p, q, t = _turn(rotation, end, 6)
            for i in range(2):
                miss[row + 3 + i] = basis[k, i, 0] * p + basis[k, i, 1] * q + basis[k, i, 2] * t
            miss[row + 5] = m0 * end[6] + m1 * end[7] + m2 * end[8]
        else:
            miss[row + 3], miss[row + 4], miss[row + 5] = m0, m1, m2


@jit
def _derivatives(sides, state, paths, ends, basis, exact, states, matrix, miss):
    """Derivatives of the misses by shift and turn of the optic (in space) and by the wrench.

    What closing the gaps does to the misses is added to them.
    """
    rotation = state[ROTATION:WRENCH]
    felt = np.empty((3, COLUMNS))
    moved, turned, change = np.empty(3), np.empty(3), np.empty(6)
    matrix[:] = 0.0
    for k in range(2):
        clamped = sides[k, PIN] == 0.0
        sign = 1.0 if k == 0 else -1.0  # the second haptic bears minus the wrench
        wrench = sign * state[WRENCH:JOINTS]
        march_sensitivities(
            paths[k], ends[k], _joints(state, k), wrench, sides[k, LENGTH], sides[k, RATIO], exact,
            states[k], felt,
        )
        end, sensitivity = ends[k, -1], states[k, -1]
        row = 6 * k
        x, y, z = _turn(rotation, end, 0)
        matrix[row, 0] = matrix[row + 1, 1] = matrix[row + 2, 2] = 1.0
        matrix[row, 4], matrix[row, 5] = z, -y
        matrix[row + 1, 3], matrix[row + 1, 5] = -z, x
        matrix[row + 2, 3], matrix[row + 2, 4] = y, -x
        if clamped:
            p, q, t = _turn(rotation, end, 6)
            for i in range(2):
                b = basis[k, i]
                matrix[row + 3 + i, 3], matrix[row + 3 + i, 4], matrix[row + 3 + i, 5] = cross(
                    p, q, t, b[0], b[1], b[2]
                )
        m0, m1, m2 = moment_at(end, wrench)
        for c in range(GAPS + 1):
            for i in range(3):
                moved[i] = sensitivity[i, c]
            t0, t1, t2 = sensitivity[3, c], sensitivity[4, c], sensitivity[5, c]
            change[0], change[1], change[2] = _turn(rotation, moved, 0)
            if clamped:
                turned[0], turned[1], turned[2] = cross(t0, t1, t2, end[6], end[7], end[8])
                x, y, z = _turn(rotation, turned, 0)
                for i in range(2):
                    change[3 + i] = basis[k, i, 0] * x + basis[k, i, 1] * y + basis[k, i, 2] * z
                change[5] = felt[0, c] * end[6] + felt[1, c] * end[7] + felt[2, c] * end[8]
            else:
                x, y, z = cross(t0, t1, t2, m0, m1, m2)
                change[3], change[4], change[5] = felt[0, c] + x, felt[1, c] + y, felt[2, c] + z
            for i in range(6):
                if c == GAPS:
                    miss[row + i] += change[i]
                else:
                    matrix[row + i, 6 + c] = sign * change[i]


@jit
def _factor(matrix, pivots):
    """LU factors in place with row exchange; returns the sign of the determinant (0: singular)."""
    size = matrix.shape[0]
    sign = 1.0
    for k in range(size):
        best = k
        for i in range(k + 1, size):
            if abs(matrix[i, k]) > abs(matrix[best, k]):
                best = i
        pivots[k] = best
        if not abs(matrix[best, k]) > 1e-13:
            return 0.0
        if best != k:
            sign = -sign
            for j in range(size):
                matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
        if matrix[k, k] < 0.0:
            sign = -sign
        for i in range(k + 1, size):
            factor = matrix[i, k] / matrix[k, k]
            matrix[i, k] = factor
            for j in range(k + 1, size):
                matrix[i, j] -= factor * matrix[k, j]
    return sign


@jit
def _back(matrix, pivots, vector):
    """Solve with the factors, in place."""
    size = matrix.shape[0]
    for k in range(size):
        vector[k], vector[pivots[k]] = vector[pivots[k]], vector[k]
    for i in range(size):
        for j in range(i):
            vector[i] -= matrix[i, j] * vector[j]
    for i in range(size - 1, -1, -1):
        for j in range(i + 1, size):
            vector[i] -= matrix[i, j] * vector[j]
        vector[i] /= matrix[i, i]


@jit
def _turn_by(angle0, angle1, angle2, v0, v1, v2):
    """A vector turned by a rotation vector [rad] (Rodrigues)."""
    angle = np.sqrt(angle0 * angle0 + angle1 * angle1 + angle2 * angle2)
    if angle == 0.0:
        return v0, v1, v2
    s, c = np.sin(angle), np.cos(angle)
    a0, a1, a2 = angle0 / angle, angle1 / angle, angle2 / angle
    x, y, z = cross(a0, a1, a2, v0, v1, v2)
    along = (a0 * v0 + a1 * v1 + a2 * v2) * (1.0 - c)
    return c * v0 + s * x + along * a0, c * v1 + s * y + along * a1, c * v2 + s * z + along * a2


@jit
def _correct(state, change, states):
    """Move pose, wrench and joints; frames are turned, not added to, so they stay frames."""
    for i in range(3):
        state[i] += change[i]
    for i in range(6):
        state[WRENCH + i] += change[6 + i]
    for i in range(3, 6):
        state[i], state[3 + i], state[6 + i] = _turn_by(
            change[3], change[4], change[5], state[i], state[3 + i], state[6 + i]
        )
    move = np.empty(6)
    for k in range(2):
        sign = 1.0 if k == 0 else -1.0
        joints = _joints(state, k)
        for j in range(SEGMENTS - 1):
            for i in range(6):
                move[i] = states[k, j, i, GAPS]
                for c in range(6):
                    move[i] += sign * states[k, j, i, c] * change[6 + c]
            for i in range(3):
                joints[j, i] += move[i]
            for i in (3, 6):
                joints[j, i], joints[j, i + 1], joints[j, i + 2] = _turn_by(
                    move[3], move[4], move[5], joints[j, i], joints[j, i + 1], joints[j, i + 2]
                )


@jit
def _blend(start, goal, share, sides):
    """Openings, lengths and roots on straight lines between two settings, held directions turned."""
    for k in range(2):
        for i in range(FIELDS):
            sides[k, i] = (1.0 - share) * start[k, i] + share * goal[k, i]
        sides[k, PIN] = goal[k, PIN]
        for first in (ROOT + 6, HELD):  # turn the unit vector of the start towards that of the goal
            a0, a1, a2 = start[k, first], start[k, first + 1], start[k, first + 2]
            b0, b1, b2 = goal[k, first], goal[k, first + 1], goal[k, first + 2]
            x, y, z = cross(a0, a1, a2, b0, b1, b2)
            sine = np.sqrt(x * x + y * y + z * z)
            angle = np.arctan2(sine, a0 * b0 + a1 * b1 + a2 * b2)
            if sine > 1e-12:
                p, q = np.sin((1.0 - share) * angle) / sine, np.sin(share * angle) / sine
                sides[k, first] = p * a0 + q * b0
                sides[k, first + 1] = p * a1 + q * b1
                sides[k, first + 2] = p * a2 + q * b2
            elif angle > 1.0:  # opposite: turn in the frontal plane
                s, c = np.sin(share * angle), np.cos(share * angle)
                sides[k, first] = c * a0 - s * a1
                sides[k, first + 1] = s * a0 + c * a1
        dot = 0.0  # keep d2 across d3
        for i in range(3):
            dot += sides[k, ROOT + 3 + i] * sides[k, ROOT + 6 + i]
        size = 0.0
        for i in range(3):
            sides[k, ROOT + 3 + i] -= dot * sides[k, ROOT + 6 + i]
            size += sides[k, ROOT + 3 + i] ** 2
        for i in range(3):
            sides[k, ROOT + 3 + i] /= np.sqrt(size)


@jit
def _size(change, state):
    """Size of a correction: mm and radians; the wrench relative to what it is already."""
    force = np.sqrt(state[WRENCH] ** 2 + state[WRENCH + 1] ** 2 + state[WRENCH + 2] ** 2)
    total = 0.0
    for i in range(6):
        total += change[i] ** 2
    for i in range(3):
        total += (change[6 + i] / (0.5 + force)) ** 2 + (change[9 + i] / (1.0 + 2.0 * force)) ** 2
    return np.sqrt(total)


@jit
def _newton(sides, state, exact, paths, ends, states, basis, matrix, pivots, miss):
    """Correct `state` in place; returns (sign of the determinant, first contraction), sign 0 on failure."""
    for k in range(2):
        _across(sides[k], basis[k])
    before, first, contraction = 0.0, 0.0, 1.0
    for round_ in range(16):
        _equations(sides, state, paths, ends, basis, miss)
        _derivatives(sides, state, paths, ends, basis, exact, states, matrix, miss)
        sign = _factor(matrix, pivots)
        if sign == 0.0:
            return 0.0, 1.0
        _back(matrix, pivots, miss)
        for i in range(12):
            miss[i] = -miss[i]
        size = _size(miss, state)
        if not size < 10.0:
            return 0.0, 1.0
        if round_ > 0:
            contraction = size / before
            if round_ == 1:
                first = contraction
            if contraction > CONTRACTION and size > 1e-7:
                return 0.0, 1.0
        _correct(state, miss, states)
        if size < CONVERGED or (round_ > 0 and size * contraction < 0.5 * CONVERGED):
            return sign, first
        before = size
    return 0.0, 1.0


@jit
def carry(start, begin, goal, sign, state, report):
    """Carry a known solution to another setting.

    Parameters
    ----------
    start, goal : (2, FIELDS) sides.
    begin : (STATE,) solution at `start`.
    sign : sign of the determinant there; 0 takes that of the first stride.
    state : (STATE,), filled with the solution, or with the last one reached.
    report : (4,), filled: share of the path reached, strides tried, sign, largest miss left [mm, 1, 1/mm].

    Returns
    -------
    SETTLED, SNAPS, TAUT or NOT_CONVERGED.
    """
    paths = np.empty((2, STEPS, 4, 9))
    ends = np.empty((2, SEGMENTS, 9))
    states = np.empty((2, SEGMENTS, 6, COLUMNS))
    basis = np.empty((2, 2, 3))
    matrix = np.empty((12, 12))
    pivots = np.empty(12, np.int64)
    miss = np.empty(12)
    sides = np.empty((2, FIELDS))
    trial = np.empty(STATE)
    state[:] = begin
    share, stride, strides = 0.0, 1.0, 0
    turned, exact = False, False
    while share < 1.0:
        ahead = min(1.0, share + stride)
        _blend(start, goal, ahead, sides)
        trial[:] = state
        got, first = _newton(sides, trial, exact, paths, ends, states, basis, matrix, pivots, miss)
        strides += 1
        if got != 0.0 and (sign == 0.0 or got == sign):
            sign = got
            share = ahead
            state[:] = trial
            if _force(state) > TAUT_FORCE:
                break
            if first < 0.1:
                stride *= 2.0
        else:
            turned = turned or got == -sign
            stride *= 0.5
            exact = True
            if stride < SMALLEST_STRIDE:
                break
    report[0], report[1], report[2] = share, strides, sign
    _equations(sides, state, paths, ends, basis, miss)
    report[3] = np.max(np.abs(miss))
    if _force(state) > TAUT_FORCE:
        return TAUT
    if share >= 1.0:
        return SETTLED
    return SNAPS if turned else NOT_CONVERGED


@jit
def _force(state):
    return np.sqrt(state[WRENCH] ** 2 + state[WRENCH + 1] ** 2 + state[WRENCH + 2] ** 2)


@jit
def carry_all(start, begin, goals, sign, states, reports, codes):
    """`carry` for each of many goals from one start."""
    for case in range(goals.shape[0]):
        codes[case] = carry(start, begin, goals[case], sign, states[case], reports[case])


@jit
def unstressed(goal, start, begin):
    """Lay the unstressed lens as near to the goal as a rigid body can lie: a setting with known solution.

    Its centre half-way between the inner openings, the line between its haptics' ends along theirs, its
    front towards +z. Writes the sides (`start`) that this lens would suit, and its state (`begin`).
    """
    ends = np.empty((2, SEGMENTS, 9))
    path = np.empty((STEPS, 4, 9))
    none = np.zeros(6)
    each = STEPS // SEGMENTS
    whole = np.empty((0, 9))
    last = np.empty((1, 9))
    for k in range(2):
        start[k] = goal[k]
        march(goal[k, ROOT:OPENING], whole, none, goal[k, LENGTH], goal[k, CURVATURE], 0.0, goal[k, RATIO], path, last)
        joints = begin[JOINTS:].reshape((2, SEGMENTS - 1, 9))[k]
        for j in range(SEGMENTS - 1):
            joints[j] = path[(j + 1) * each, 0]
        ends[k, -1] = last[0]
    to = _axes(goal[0, OPENING:HELD], goal[1, OPENING:HELD])
    own = _axes(ends[0, -1, :3], ends[1, -1, :3])
    rotation = begin[ROTATION:WRENCH]
    for i in range(3):
        for j in range(3):
            rotation[3 * i + j] = to[i, 0] * own[j, 0] + to[i, 1] * own[j, 1] + to[i, 2] * own[j, 2]
    middle = 0.5 * (ends[0, -1, :3] + ends[1, -1, :3])
    x, y, z = _turn(rotation, middle, 0)
    begin[0] = 0.5 * (goal[0, OPENING] + goal[1, OPENING]) - x
    begin[1] = 0.5 * (goal[0, OPENING + 1] + goal[1, OPENING + 1]) - y
    begin[2] = 0.5 * (goal[0, OPENING + 2] + goal[1, OPENING + 2]) - z
    begin[WRENCH:JOINTS] = 0.0
    for k in range(2):
        x, y, z = _turn(rotation, ends[k, -1], 0)
        start[k, OPENING], start[k, OPENING + 1], start[k, OPENING + 2] = begin[0] + x, begin[1] + y, begin[2] + z
        start[k, HELD], start[k, HELD + 1], start[k, HELD + 2] = _turn(rotation, ends[k, -1], 6)


@jit
def _axes(one, other):
    """Right-handed axes as columns: along other -> one, then across, then as near to +z as can be."""
    axes = np.empty((3, 3))
    size = np.sqrt((one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2 + (one[2] - other[2]) ** 2)
    for i in range(3):
        axes[i, 0] = (one[i] - other[i]) / size
    up = np.sqrt(1.0 - axes[2, 0] ** 2)
    for i in range(3):
        axes[i, 2] = -axes[2, 0] * axes[i, 0] / up
    axes[2, 2] += 1.0 / up
    axes[0, 1], axes[1, 1], axes[2, 1] = cross(
        axes[0, 2], axes[1, 2], axes[2, 2], axes[0, 0], axes[1, 0], axes[2, 0]
    )
    return axes


@jit
def settle_alone(goals, states, reports, codes):
    """Carry each case from its own unstressed lens."""
    start = np.empty((2, FIELDS))
    begin = np.empty(STATE)
    for case in range(goals.shape[0]):
        unstressed(goals[case], start, begin)
        codes[case] = carry(start, begin, goals[case], 0.0, states[case], reports[case])
