"""A safe way to the solution of `balance`: along one branch, from the unstressed lens.

A start whose solution is known (at first: the lens unstressed, with openings where its haptics naturally
end) is carried to the goal along a straight path in openings, directions and lengths. How it is sure of
the branch: a stride is accepted only if Newton's corrections contract from the first one on, by the
affine-invariant monitor of *Newton Methods for Nonlinear Problems*, Springer 2004, section 5.1; else it
is halved. And the determinant of the equations must keep its sign: a branch ends, or turns unstable, only
where it vanishes. If the stride shrinks to nothing there, the haptic snaps to another shape, and that is
reported instead of a pose. A stride that turns a haptic about in its tunnel is refused too.

Lenses are worked on `LANES` at a time; `carry_all` hands a lane to the next case as soon as its own is done.
"""

from __future__ import annotations

import numpy as np

from .balance import (
    ALL,
    CURVATURE,
    ENDS,
    FIELDS,
    GAPS,
    HELD,
    JOINTS,
    LENGTH,
    OPENING,
    PATH,
    PIN,
    RATIO,
    ROOT,
    ROTATION,
    STATE,
    WIDE,
    WRENCH,
    correct,
    derivatives,
    equations,
    solve,
    turned,
    two_across,
)
from .compiled import jit
from .rod import PLACE, SEGMENTS, STATES, STEPS, TURN, L, cross, gap, march

SETTLED, SNAPS, NOT_CONVERGED, TAUT = 0, 1, 2, 3

CONVERGED = 1e-7  # error left, judged from the last correction and its contraction; the steps along a rod leave 5e-6 mm
CONTRACTION = 0.5  # corrections must shrink at least so
EASY = 0.1  # and if they shrink so from the first on, the next stride is longer
LONGEST = 10.0  # a correction beyond this is no correction
ROUNDS = 16
SMALLEST_STRIDE, CHEAP_STRIDE = 2.0**-14, 2.0**-6  # with exact and with cheap sensitivities
TAUT_FORCE = 4.0  # [1/mm^2], over EI; 0.25 N in the default haptic, what a loop must bear (ISO 11979-3, from memory)


@jit
def _size(change, state, l):
    """Size of a correction: mm and radians; the wrench relative to what it is already."""
    force = np.sqrt(state[WRENCH * L + l] ** 2 + state[(WRENCH + 1) * L + l] ** 2 + state[(WRENCH + 2) * L + l] ** 2)
    total = 0.0
    for i in range(6):
        total += change[i * L + l] ** 2
    for i in range(3):
        total += (change[(6 + i) * L + l] / (0.5 + force)) ** 2
        total += (change[(9 + i) * L + l] / (1.0 + 2.0 * force)) ** 2
    return np.sqrt(total)


@jit
def _blend(start, goal, share, sides):
    """Mix two settings: openings, lengths and roots on straight lines, directions turned."""
    for k in range(2):
        for i in range(FIELDS):
            sides[k, i] = goal[k, i] if share == 1.0 else (1.0 - share) * start[k, i] + share * goal[k, i]
        sides[k, PIN] = goal[k, PIN]
        if share == 1.0:
            continue
        for first in (ROOT + 6, HELD):
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
def _set_out(l, start, goal, share, known, sides, basis, state):
    """Put a lane on its next stride: its setting, and the last solution as a first guess."""
    row = np.empty((2, FIELDS))
    _blend(start, goal, share, row)
    for k in range(2):
        for i in range(FIELDS):
            sides[(k * FIELDS + i) * L + l] = row[k, i]
        pair = two_across(row[k, HELD], row[k, HELD + 1], row[k, HELD + 2])
        for i in range(6):
            basis[(k * 6 + i) * L + l] = pair[i]
    for i in range(STATE):
        state[i * L + l] = known[i]


@jit
def _outwards(l, sides, state, ends):
    """Whether both haptics pass their tunnels on the way out; the equations hold for the way in as well."""
    for k in range(2):
        end = ends[(k + 1) * ENDS - PLACE : (k + 1) * ENDS]
        x, y, z = turned(state, l, end[6 * L + l], end[7 * L + l], end[8 * L + l])
        at = (k * FIELDS + HELD) * L + l
        if (
            sides[(k * FIELDS + PIN) * L + l] == 0.0
            and not sides[at] * x + sides[at + L] * y + sides[at + 2 * L] * z > 0.0
        ):
            return False
    return True


@jit
def carry_all(starts, begins, goals, signs, exact, shortest, states, reports, codes):
    """Carry known solutions to other settings, `LANES` at a time.

    Parameters
    ----------
    starts, begins, signs : (1 or cases, 2, FIELDS), (1 or cases, STATE), (1 or cases,); as many of each
        Settings with known solution, the solution, and the sign of the determinant there; 0 takes the sign
        that the first stride finds.
    goals : (cases, 2, FIELDS)
    exact : how sensitivities are followed, see `march_sensitivities`.
    shortest : a stride below this share of the way gives up.
    states : (cases, STATE), filled with the solution, or with the last one reached.
    reports : (cases, 3), filled: share of the way reached, strides tried, sign.
    codes : (cases,), filled: SETTLED, SNAPS, TAUT or NOT_CONVERGED.
    """
    cases = goals.shape[0]
    paths, ends = np.empty(2 * PATH), np.empty(2 * ENDS)
    moves = np.empty(2 * ALL)
    matrix, change = np.zeros(12 * WIDE * L), np.zeros(12 * L)
    sides, basis, trial = np.zeros(2 * FIELDS * L), np.zeros(2 * TURN), np.zeros(STATE * L)
    wrench, got = np.zeros(2 * TURN), np.zeros(L)
    case, round_ = np.full(L, -1), np.zeros(L, np.int64)
    share, stride, ahead = np.zeros(L), np.ones(L), np.ones(L)
    before, first, wrong = np.zeros(L), np.zeros(L), np.zeros(L)
    upcoming = min(L, cases)
    for l in range(L):
        c = min(l, cases - 1)  # idle lanes repeat the last case and are not looked at
        case[l] = l if l < cases else -1
        s = c if starts.shape[0] > 1 else 0
        states[c] = begins[s]
        reports[c, 0], reports[c, 1], reports[c, 2] = 0.0, 0.0, signs[s]
        _set_out(l, starts[s], goals[c], 1.0, states[c], sides, basis, trial)
    busy = upcoming
    while busy > 0:
        equations(sides, trial, wrench, paths, ends, basis, matrix)
        derivatives(sides, trial, wrench, paths, ends, basis, exact, moves, matrix)
        solve(matrix, change, got)
        correct(trial, change, moves)
        for l in range(L):
            c = case[l]
            if c < 0:
                continue
            size = _size(change, trial, l)
            contraction = size / before[l] if round_[l] > 0 else 1.0
            if round_[l] == 1:
                first[l] = contraction
            before[l] = size
            round_[l] += 1
            arrived = size < CONVERGED or (round_[l] > 1 and contraction < 1.0 and size * contraction < CONVERGED)
            lost = got[l] == 0.0 or not size < LONGEST or round_[l] == ROUNDS
            lost = lost or (round_[l] > 1 and contraction > CONTRACTION and size > 1e-7)
            if not (arrived or lost):
                continue
            s = c if starts.shape[0] > 1 else 0
            reports[c, 1] += 1.0
            over = False
            lost = lost or not _outwards(l, sides, trial, ends)
            if lost or (reports[c, 2] != 0.0 and got[l] != reports[c, 2]):
                if not lost:
                    wrong[l] = 1.0
                stride[l] *= 0.5
                if stride[l] < shortest:
                    codes[c] = SNAPS if wrong[l] == 1.0 else NOT_CONVERGED
                    over = True
            else:
                reports[c, 2] = got[l]
                share[l] = reports[c, 0] = ahead[l]
                for i in range(STATE):
                    states[c, i] = trial[i * L + l]
                force = np.sqrt(states[c, WRENCH] ** 2 + states[c, WRENCH + 1] ** 2 + states[c, WRENCH + 2] ** 2)
                if first[l] < EASY:
                    stride[l] *= 2.0
                if force > TAUT_FORCE or share[l] >= 1.0:
                    codes[c] = TAUT if force > TAUT_FORCE else SETTLED
                    over = True
            if over:
                if upcoming == cases:
                    case[l] = -1
                    busy -= 1
                    continue
                c = case[l] = upcoming
                s = c if starts.shape[0] > 1 else 0
                upcoming += 1
                states[c] = begins[s]
                reports[c, 0], reports[c, 1], reports[c, 2] = 0.0, 0.0, signs[s]
                share[l], stride[l], wrong[l] = 0.0, 1.0, 0.0
            ahead[l] = min(1.0, share[l] + stride[l])
            round_[l], first[l], before[l] = 0, 0.0, 0.0
            _set_out(l, starts[s], goals[c], ahead[l], states[c], sides, basis, trial)


@jit
def largest_misses(goals, states, misses):
    """Largest miss [mm, 1, 1/mm] that each state leaves in the twelve equations and at its joints.

    Parameters
    ----------
    goals : (cases, 2, FIELDS)
    states : (cases, STATE)
    misses : (cases,), filled
    """
    paths, ends = np.empty(2 * PATH), np.empty(2 * ENDS)
    matrix, wrench = np.zeros(12 * WIDE * L), np.zeros(2 * TURN)
    state, gaps = np.zeros(STATES), np.zeros(L)
    sides, basis, trial = np.zeros(2 * FIELDS * L), np.zeros(2 * TURN), np.zeros(STATE * L)
    for group in range(0, goals.shape[0], L):
        for l in range(L):
            c = min(group + l, goals.shape[0] - 1)
            _set_out(l, goals[c], goals[c], 1.0, states[c], sides, basis, trial)
        equations(sides, trial, wrench, paths, ends, basis, matrix)
        gaps[:] = 0.0
        for k in range(2):
            for j in range(SEGMENTS - 1):
                state[:] = 0.0
                joint = trial[JOINTS * L + k * GAPS + j * PLACE : JOINTS * L + k * GAPS + (j + 1) * PLACE]
                gap(joint, ends[k * ENDS + j * PLACE : k * ENDS + (j + 1) * PLACE], state)
                for i in range(STATES):
                    gaps[i % L] = max(gaps[i % L], abs(state[i]))
        for l in range(min(L, goals.shape[0] - group)):
            most = 0.0 if _outwards(l, sides, trial, ends) else 2.0
            for i in range(12):
                most = max(most, abs(matrix[(i * WIDE + WIDE - 1) * L + l]))
            misses[group + l] = max(most, gaps[l])


@jit
def unstressed(goals, starts, begins):
    """Lay the unstressed lens as near to each goal as a rigid body can lie: settings with known solution.

    Its centre half-way between the inner openings, the line between its haptics' ends along theirs, its
    front towards +z. Writes the sides (`starts`) that this lens would suit, and its state (`begins`).

    Parameters
    ----------
    goals : (cases, 2, FIELDS)
    starts, begins : (cases, 2, FIELDS), (cases, STATE), filled
    """
    path, last = np.empty(PATH), np.empty(PLACE)
    ends = np.empty((2, 9))
    each = STEPS // SEGMENTS
    one, zero, none = np.ones(L), np.zeros(L), np.zeros(TURN)
    root = np.empty(PLACE)
    for case in range(goals.shape[0]):
        goal, start, begin = goals[case], starts[case], begins[case]
        start[:] = goal
        for k in range(2):
            for i in range(9):
                root[i * L : (i + 1) * L] = goal[k, ROOT + i]
            march(
                root,
                np.empty(0),
                none,
                goal[k, LENGTH] * one,
                goal[k, CURVATURE] * one,
                zero,
                goal[k, RATIO] * one,
                path,
                last,
            )
            for i in range(9):
                ends[k, i] = last[i * L]
                for j in range(SEGMENTS - 1):
                    begin[JOINTS + (k * (SEGMENTS - 1) + j) * 9 + i] = path[(j + 1) * each * 4 * PLACE + i * L]
        to = _axes(goal[0, OPENING:HELD], goal[1, OPENING:HELD])
        own = _axes(ends[0, :3], ends[1, :3])
        rotation = np.zeros((3, 3))
        for i in range(3):
            for j in range(3):
                for m in range(3):
                    rotation[i, j] += to[i, m] * own[j, m]
                begin[ROTATION + 3 * i + j] = rotation[i, j]
        begin[WRENCH:JOINTS] = 0.0
        for i in range(3):
            begin[i] = 0.5 * (goal[0, OPENING + i] + goal[1, OPENING + i])
            for j in range(3):
                begin[i] -= 0.5 * rotation[i, j] * (ends[0, j] + ends[1, j])
        for k in range(2):
            for i in range(3):
                start[k, OPENING + i], start[k, HELD + i] = begin[i], 0.0
                for j in range(3):
                    start[k, OPENING + i] += rotation[i, j] * ends[k, j]
                    start[k, HELD + i] += rotation[i, j] * ends[k, 6 + j]


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
    axes[0, 1], axes[1, 1], axes[2, 1] = cross(axes[0, 2], axes[1, 2], axes[2, 2], axes[0, 0], axes[1, 0], axes[2, 0])
    return axes
