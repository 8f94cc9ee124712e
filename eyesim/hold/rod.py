r"""An elastic rod that knows no anatomy: bent, twisted, naturally curved, held by forces at its ends.

A Kirchhoff rod: inextensible, unshearable, of round section. Its centreline r(s) carries an
orthonormal frame (d1, d2, d3), d3 along the rod::

            d2 (axis of the natural bend)
            |
       root o----.._   d3 along the rod; the natural
           /        `.     curvature turns it about d2
         d1           `o end

With no load between its ends the internal force n is constant, and so is the internal moment about
the origin, M = m + r x n. Six numbers, the *wrench* (n, M), say all about the load:

    r' = d3,    d_i' = w x d_i,    w = curvature d2 + twist d3 + m + ratio (m . d3) d3,

with forces and moments in units of the bending stiffness EI (n in 1/mm^2, m in 1/mm) and
ratio = EI/GJ - 1, which for a round section is Poisson's ratio. The pose of a loaded rod therefore
never depends on Young's modulus.

Source: Antman, *Nonlinear Problems of Elasticity*, 2nd ed., 2005, chapter 8; the constant wrench
follows from m' = -d3 x n and r' = d3.

**Joints.** A rod pulled taut answers a change at its root exponentially along its length, and
following it from the root alone loses the way. So the rod is followed in segments, each from a guess
of its own (a *joint*); the gaps where segments fail to meet are closed together with everything else
(multiple shooting: Stoer & Bulirsch, *Introduction to Numerical Analysis*, section 7.3.5).

The kernels are compiled at first use and kept on disk. Each works on one rod, so a result never
depends on how many rods are asked for at once.
"""

from __future__ import annotations

import numpy as np

from .compiled import jit

STEPS = 24
"""Runge-Kutta steps along one rod [1]; the tests show their order of convergence."""

SEGMENTS = 6
"""Segments of one rod [1], each of STEPS / SEGMENTS steps."""

COLUMNS = 8
"""Columns of a sensitivity: six for the wrench, one for the gaps, one idle (eight fill registers)."""

GAPS = 6
"""The column that carries what closing the gaps at the joints does further along."""


@jit
def cross(a0, a1, a2, b0, b1, b2):
    """Cross product of two vectors given by components."""
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0


@jit
def moment_at(place, wrench):
    """Internal moment m = M - r x n [1/mm] at a place (r, d2, d3) of the rod."""
    x, y, z = cross(place[0], place[1], place[2], wrench[0], wrench[1], wrench[2])
    return wrench[3] - x, wrench[4] - y, wrench[5] - z


@jit
def _rate(place, wrench, curvature, twist, ratio, rate):
    """Rate of (r, d2, d3) along the rod: the equations of the page above."""
    m0, m1, m2 = moment_at(place, wrench)
    along = twist + ratio * (m0 * place[6] + m1 * place[7] + m2 * place[8])
    w0 = curvature * place[3] + along * place[6] + m0
    w1 = curvature * place[4] + along * place[7] + m1
    w2 = curvature * place[5] + along * place[8] + m2
    rate[0], rate[1], rate[2] = place[6], place[7], place[8]
    rate[3], rate[4], rate[5] = cross(w0, w1, w2, place[3], place[4], place[5])
    rate[6], rate[7], rate[8] = cross(w0, w1, w2, place[6], place[7], place[8])


@jit
def march(root, joints, wrench, length, curvature, twist, ratio, path, ends):
    """Follow one rod under a known wrench, segment by segment, by the classical Runge-Kutta method.

    Parameters
    ----------
    root : (9,) position [mm], d2 and d3 [1] where the rod starts.
    joints : (segments - 1, 9) the same where each further segment starts.
    wrench : (6,) force [1/mm^2] and moment about the origin [1/mm], over EI.
    length, curvature, twist, ratio : [mm], [1/mm], [1/mm], [1].
    path : (steps, 4, 9), filled with the places where the method looked: row 0 at equal distances.
    ends : (segments, 9), filled with the place that each segment reaches; the last is the rod's end.
    """
    segments = joints.shape[0] + 1
    each = path.shape[0] // segments
    h = length / path.shape[0]
    k1, k2, k3, k4 = np.empty(9), np.empty(9), np.empty(9), np.empty(9)
    for j in range(path.shape[0]):
        here = path[j]
        segment = j // each
        last = j % each == each - 1
        there = ends[segment] if last else path[j + 1, 0]
        if j == 0:
            here[0] = root
        elif j % each == 0:
            here[0] = joints[segment - 1]
        _rate(here[0], wrench, curvature, twist, ratio, k1)
        for i in range(9):
            here[1, i] = here[0, i] + 0.5 * h * k1[i]
        _rate(here[1], wrench, curvature, twist, ratio, k2)
        for i in range(9):
            here[2, i] = here[0, i] + 0.5 * h * k2[i]
        _rate(here[2], wrench, curvature, twist, ratio, k3)
        for i in range(9):
            here[3, i] = here[0, i] + h * k3[i]
        _rate(here[3], wrench, curvature, twist, ratio, k4)
        for i in range(9):
            there[i] = here[0, i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i])


@jit
def felt_moment_change(place, wrench, source, state, felt):
    """Change of the moment that a section itself feels: dM - r x dn - dr x n - t x m [1/mm].

    (dr, t) are the rows of `state`, displacement and rotation vector of the section, column by column;
    `source` keeps the unit changes of the wrench.
    """
    m0, m1, m2 = moment_at(place, wrench)
    n0, n1, n2 = wrench[0], wrench[1], wrench[2]
    x, y, z = place[0], place[1], place[2]
    source[0, 1], source[0, 2] = z, -y
    source[1, 0], source[1, 2] = -z, x
    source[2, 0], source[2, 1] = y, -x
    for c in range(COLUMNS):
        a, b, d = state[0, c], state[1, c], state[2, c]
        p, q, t = state[3, c], state[4, c], state[5, c]
        felt[0, c] = source[0, c] - (b * n2 - d * n1) - (q * m2 - t * m1)
        felt[1, c] = source[1, c] - (d * n0 - a * n2) - (t * m0 - p * m2)
        felt[2, c] = source[2, c] - (a * n1 - b * n0) - (p * m1 - q * m0)


@jit
def _sensitivity_rate(place, wrench, ratio, source, felt, state, rate):
    """Rate of (dr, t) along the rod: dr' = t x d3, t' = mu + ratio (mu . d3) d3, mu the moment felt."""
    felt_moment_change(place, wrench, source, state, felt)
    e0, e1, e2 = place[6], place[7], place[8]
    for c in range(COLUMNS):
        p, q, t = state[3, c], state[4, c], state[5, c]
        along = ratio * (felt[0, c] * e0 + felt[1, c] * e1 + felt[2, c] * e2)
        rate[0, c] = q * e2 - t * e1
        rate[1, c] = t * e0 - p * e2
        rate[2, c] = p * e1 - q * e0
        rate[3, c] = felt[0, c] + along * e0
        rate[4, c] = felt[1, c] + along * e1
        rate[5, c] = felt[2, c] + along * e2


@jit
def _ahead(base, h, rate, out):
    for i in range(6):
        for c in range(COLUMNS):
            out[i, c] = base[i, c] + h * rate[i, c]


@jit
def _gap(joint, end, state):
    """Add to the gap column what must be done to carry a joint onto the end of the segment before."""
    for i in range(3):
        state[i, GAPS] += end[i] - joint[i]
    a0, a1, a2 = cross(joint[3], joint[4], joint[5], joint[6], joint[7], joint[8])
    b0, b1, b2 = cross(end[3], end[4], end[5], end[6], end[7], end[8])
    x, y, z = cross(a0, a1, a2, b0, b1, b2)
    for first in (3, 6):
        u, v, w = cross(
            joint[first], joint[first + 1], joint[first + 2], end[first], end[first + 1], end[first + 2]
        )
        x, y, z = x + u, y + v, z + w
    state[3, GAPS] += 0.5 * x
    state[4, GAPS] += 0.5 * y
    state[5, GAPS] += 0.5 * z


@jit
def march_sensitivities(path, ends, joints, wrench, length, ratio, exact, states, felt):
    """How joints and end move and turn when the wrench changes and the gaps close, on a rod marched before.

    Parameters
    ----------
    exact : True differentiates the method itself, step by step; False takes one step for four, which
        is quicker and steers well enough while the rod is not pulled taut.
    states : (segments, 6, COLUMNS), filled: displacement [mm] and rotation vector [rad] of each joint
        and, last, of the end.
    felt : (3, COLUMNS), filled: change of the moment that the end section feels [1/mm].
    """
    segments = ends.shape[0]
    each = path.shape[0] // segments
    stride = 1 if exact else 4
    h = length * stride / path.shape[0]
    k1, k2 = np.empty((6, COLUMNS)), np.empty((6, COLUMNS))
    k3, k4 = np.empty((6, COLUMNS)), np.empty((6, COLUMNS))
    probe, state = np.empty((6, COLUMNS)), np.zeros((6, COLUMNS))
    source = np.zeros((3, COLUMNS))
    for i in range(3):
        source[i, 3 + i] = 1.0
    for segment in range(segments):
        first = segment * each
        for j in range(first, first + each, stride):
            if exact:
                second, third, fourth = path[j, 1], path[j, 2], path[j, 3]
            else:
                second = third = path[j + 2, 0]
                fourth = ends[segment] if j + 4 == first + each else path[j + 4, 0]
            _sensitivity_rate(path[j, 0], wrench, ratio, source, felt, state, k1)
            _ahead(state, 0.5 * h, k1, probe)
            _sensitivity_rate(second, wrench, ratio, source, felt, probe, k2)
            _ahead(state, 0.5 * h, k2, probe)
            _sensitivity_rate(third, wrench, ratio, source, felt, probe, k3)
            _ahead(state, h, k3, probe)
            _sensitivity_rate(fourth, wrench, ratio, source, felt, probe, k4)
            for i in range(6):
                for c in range(COLUMNS):
                    state[i, c] += h / 6.0 * (k1[i, c] + 2.0 * k2[i, c] + 2.0 * k3[i, c] + k4[i, c])
        if segment < segments - 1:
            _gap(joints[segment], ends[segment], state)
        states[segment] = state
    felt_moment_change(ends[-1], wrench, source, state, felt)
