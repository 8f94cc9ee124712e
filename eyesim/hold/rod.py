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

Source: *Nonlinear Problems of Elasticity*, 2nd ed., Springer 2005, chapter 8; the constant wrench
follows from m' = -d3 x n and r' = d3.

**Joints.** A rod pulled taut answers a change at its root exponentially along its length, and
following it from the root alone loses the way. So the rod is followed in segments, each from a guess
of its own (a *joint*); the gaps where segments fail to meet are closed together with everything else
(multiple shooting: *Introduction to Numerical Analysis*, Springer 2002, section 7.3.5).

The kernels are compiled at first use and kept on disk. They work on `LANES` rods side by side, one in
each lane of a processor's vector registers; no lane knows of its neighbours, so a result never depends
on the company. Arrays are flat, lanes last: entry i of lane l is ``array[i * LANES + l]``. `follow` is
the door for everybody else: one rod, plain arrays.
"""

from __future__ import annotations

import numpy as np

from .compiled import jit

LANES = 8
"""Rods that are followed side by side [1]."""

STEPS = 24
"""Runge-Kutta steps along one rod [1]; the tests show their order of convergence."""

SEGMENTS = 6
"""Segments of one rod [1], each of STEPS / SEGMENTS steps."""

COLUMNS = 7
"""Columns of a sensitivity: six for the wrench, and the last for closing the gaps at the joints."""

L = LANES
PLACE = 9 * L  # r, d2, d3
TURN = 6 * L  # displacement and rotation vector
STATES = COLUMNS * TURN


@jit
def cross(a0, a1, a2, b0, b1, b2):
    """Cross product of two vectors given by components.

    Parameters
    ----------
    a0, a1, a2, b0, b1, b2 : float
    """
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0


@jit
def _rate(place, wrench, curvature, twist, ratio, rate):
    """Rate of (r, d2, d3) along the rod: the equations of the page above."""
    for l in range(L):
        b0, b1, b2 = place[3 * L + l], place[4 * L + l], place[5 * L + l]
        e0, e1, e2 = place[6 * L + l], place[7 * L + l], place[8 * L + l]
        x, y, z = cross(place[l], place[L + l], place[2 * L + l], wrench[l], wrench[L + l], wrench[2 * L + l])
        m0, m1, m2 = wrench[3 * L + l] - x, wrench[4 * L + l] - y, wrench[5 * L + l] - z
        along = twist[l] + ratio[l] * (m0 * e0 + m1 * e1 + m2 * e2)
        w0 = curvature[l] * b0 + along * e0 + m0
        w1 = curvature[l] * b1 + along * e1 + m1
        w2 = curvature[l] * b2 + along * e2 + m2
        rate[l], rate[L + l], rate[2 * L + l] = e0, e1, e2
        rate[3 * L + l], rate[4 * L + l], rate[5 * L + l] = cross(w0, w1, w2, b0, b1, b2)
        rate[6 * L + l], rate[7 * L + l], rate[8 * L + l] = cross(w0, w1, w2, e0, e1, e2)


@jit
def _ahead(base, share, h, rate, out, rows):
    """Write base + share * h * rate, each lane with its own step h."""
    for i in range(rows):
        for l in range(L):
            out[i * L + l] = base[i * L + l] + share * h[l] * rate[i * L + l]


@jit
def _step(base, h, k1, k2, k3, k4, out, rows):
    """Take the classical Runge-Kutta step from its four rates."""
    for i in range(rows):
        for l in range(L):
            j = i * L + l
            out[j] = base[j] + h[l] / 6.0 * (k1[j] + 2.0 * k2[j] + 2.0 * k3[j] + k4[j])


@jit
def march(root, joints, wrench, length, curvature, twist, ratio, path, ends):
    """Follow rods under known wrenches, segment by segment, by the classical Runge-Kutta method.

    Parameters
    ----------
    root : 9 x lanes; position [mm], d2 and d3 [1] where the rod starts.
    joints : (segments - 1) x 9 x lanes; the same where each further segment starts.
    wrench : 6 x lanes; force [1/mm^2] and moment about the origin [1/mm], over EI.
    length, curvature, twist, ratio : lanes; [mm], [1/mm], [1/mm], [1].
    path : steps x 4 x 9 x lanes, filled with the places where the method looked; row 0 is on the rod.
    ends : segments x 9 x lanes, filled with the place that each segment reaches; the last is the end.
    """
    steps, segments = path.size // (4 * PLACE), ends.size // PLACE
    each = steps // segments
    h = length / steps
    k1, k2, k3, k4 = np.empty(PLACE), np.empty(PLACE), np.empty(PLACE), np.empty(PLACE)
    for j in range(steps):
        at = j * 4 * PLACE
        here = path[at : at + PLACE]
        second = path[at + PLACE : at + 2 * PLACE]
        third = path[at + 2 * PLACE : at + 3 * PLACE]
        fourth = path[at + 3 * PLACE : at + 4 * PLACE]
        segment = j // each
        if j == 0:
            here[:] = root
        elif j % each == 0:
            here[:] = joints[(segment - 1) * PLACE : segment * PLACE]
        if j % each == each - 1:
            there = ends[segment * PLACE : (segment + 1) * PLACE]
        else:
            there = path[at + 4 * PLACE : at + 5 * PLACE]
        _rate(here, wrench, curvature, twist, ratio, k1)
        _ahead(here, 0.5, h, k1, second, 9)
        _rate(second, wrench, curvature, twist, ratio, k2)
        _ahead(here, 0.5, h, k2, third, 9)
        _rate(third, wrench, curvature, twist, ratio, k3)
        _ahead(here, 1.0, h, k3, fourth, 9)
        _rate(fourth, wrench, curvature, twist, ratio, k4)
        _step(here, h, k1, k2, k3, k4, there, 9)


@jit
def _felt_moment_change(place, wrench, source, state, felt):
    """Change of the moment that a section itself feels: dM - r x dn - dr x n - t x m [1/mm].

    (dr, t) is `state`, displacement and rotation vector of the section, column by column (columns x 6 x
    lanes); `source` (columns x 3 x lanes) keeps the unit changes of the wrench; `felt` is columns x 3 x lanes.
    """
    for l in range(L):
        x, y, z = place[l], place[L + l], place[2 * L + l]
        source[1 * L + l], source[2 * L + l] = -z, y  # - r x dn for dn along x
        source[3 * L + l], source[5 * L + l] = z, -x
        source[6 * L + l], source[7 * L + l] = -y, x
    for c in range(COLUMNS):
        part = state[c * TURN : (c + 1) * TURN]
        own = source[c * 3 * L : (c + 1) * 3 * L]
        out = felt[c * 3 * L : (c + 1) * 3 * L]
        for l in range(L):
            n0, n1, n2 = wrench[l], wrench[L + l], wrench[2 * L + l]
            x, y, z = cross(place[l], place[L + l], place[2 * L + l], n0, n1, n2)
            m0, m1, m2 = wrench[3 * L + l] - x, wrench[4 * L + l] - y, wrench[5 * L + l] - z
            x, y, z = cross(part[l], part[L + l], part[2 * L + l], n0, n1, n2)
            p, q, t = cross(part[3 * L + l], part[4 * L + l], part[5 * L + l], m0, m1, m2)
            out[l] = own[l] - x - p
            out[L + l] = own[L + l] - y - q
            out[2 * L + l] = own[2 * L + l] - z - t


@jit
def _sensitivity_rate(place, wrench, ratio, source, felt, state, rate):
    """Rate of (dr, t) along the rod: dr' = t x d3, t' = mu + ratio (mu . d3) d3, mu the moment felt."""
    _felt_moment_change(place, wrench, source, state, felt)
    for c in range(COLUMNS):
        part = state[c * TURN : (c + 1) * TURN]
        mu = felt[c * 3 * L : (c + 1) * 3 * L]
        out = rate[c * TURN : (c + 1) * TURN]
        for l in range(L):
            e0, e1, e2 = place[6 * L + l], place[7 * L + l], place[8 * L + l]
            m0, m1, m2 = mu[l], mu[L + l], mu[2 * L + l]
            along = ratio[l] * (m0 * e0 + m1 * e1 + m2 * e2)
            out[l], out[L + l], out[2 * L + l] = cross(part[3 * L + l], part[4 * L + l], part[5 * L + l], e0, e1, e2)
            out[3 * L + l], out[4 * L + l], out[5 * L + l] = m0 + along * e0, m1 + along * e1, m2 + along * e2


@jit
def gap(joint, end, state):
    """Add to the last column what carries a joint onto the end of the segment before.

    Parameters
    ----------
    joint, end : 9 x lanes
    state : columns x 6 x lanes; its last column is added to
    """
    part = state[(COLUMNS - 1) * TURN :]
    for l in range(L):
        b0, b1, b2 = joint[3 * L + l], joint[4 * L + l], joint[5 * L + l]
        e0, e1, e2 = joint[6 * L + l], joint[7 * L + l], joint[8 * L + l]
        f0, f1, f2 = end[3 * L + l], end[4 * L + l], end[5 * L + l]
        g0, g1, g2 = end[6 * L + l], end[7 * L + l], end[8 * L + l]
        x, y, z = cross(b0, b1, b2, f0, f1, f2)
        p, q, t = cross(e0, e1, e2, g0, g1, g2)
        a0, a1, a2 = cross(b0, b1, b2, e0, e1, e2)  # d1 of the joint and of the end
        c0, c1, c2 = cross(f0, f1, f2, g0, g1, g2)
        u, v, w = cross(a0, a1, a2, c0, c1, c2)
        part[l] += end[l] - joint[l]
        part[L + l] += end[L + l] - joint[L + l]
        part[2 * L + l] += end[2 * L + l] - joint[2 * L + l]
        part[3 * L + l] += 0.5 * (x + p + u)
        part[4 * L + l] += 0.5 * (y + q + v)
        part[5 * L + l] += 0.5 * (z + t + w)


@jit
def march_sensitivities(path, ends, joints, wrench, length, ratio, exact, states, felt):
    """How joints and ends move and turn when the wrench changes and the gaps close, on rods marched before.

    Parameters
    ----------
    path, ends, joints, wrench, length, ratio : as of `march`, which was there before
    exact : True differentiates the method itself, step by step; False takes one step for four, which
        is quicker and steers well enough while the rod is not pulled taut.
    states : segments x columns x 6 x lanes, filled: displacement [mm] and rotation vector [rad] of each
        joint and, last, of the end.
    felt : columns x 3 x lanes, filled: change of the moment that the end section feels [1/mm].
    """
    steps, segments = path.size // (4 * PLACE), ends.size // PLACE
    each = steps // segments
    stride = 1 if exact else 4
    h = length * stride / steps
    k1, k2, k3, k4 = np.empty(STATES), np.empty(STATES), np.empty(STATES), np.empty(STATES)
    probe, state = np.empty(STATES), np.zeros(STATES)
    source = np.zeros(COLUMNS * 3 * L)
    for i in range(3):
        source[((3 + i) * 3 + i) * L : ((3 + i) * 3 + i + 1) * L] = 1.0
    for segment in range(segments):
        end = ends[segment * PLACE : (segment + 1) * PLACE]
        for j in range(segment * each, (segment + 1) * each, stride):
            at = j * 4 * PLACE
            if exact:
                second = path[at + PLACE : at + 2 * PLACE]
                third = path[at + 2 * PLACE : at + 3 * PLACE]
                fourth = path[at + 3 * PLACE : at + 4 * PLACE]
            else:
                second = path[at + 8 * PLACE : at + 9 * PLACE]
                third = second
                fourth = end if j + 4 == (segment + 1) * each else path[at + 16 * PLACE : at + 17 * PLACE]
            _sensitivity_rate(path[at : at + PLACE], wrench, ratio, source, felt, state, k1)
            _ahead(state, 0.5, h, k1, probe, COLUMNS * 6)
            _sensitivity_rate(second, wrench, ratio, source, felt, probe, k2)
            _ahead(state, 0.5, h, k2, probe, COLUMNS * 6)
            _sensitivity_rate(third, wrench, ratio, source, felt, probe, k3)
            _ahead(state, 1.0, h, k3, probe, COLUMNS * 6)
            _sensitivity_rate(fourth, wrench, ratio, source, felt, probe, k4)
            _step(state, h, k1, k2, k3, k4, state, COLUMNS * 6)
        if segment < segments - 1:
            gap(joints[segment * PLACE : (segment + 1) * PLACE], end, state)
        states[segment * STATES : (segment + 1) * STATES] = state
    _felt_moment_change(ends[-PLACE:], wrench, source, state, felt)


def follow(root, wrench, length, curvature, twist, ratio, steps=STEPS):
    """Follow one rod from its root under a known wrench.

    Parameters
    ----------
    root : (9,) array
        Position [mm], d2 and d3 [1]: axis of the natural bend, and direction.
    wrench : (6,) array
        Force [1/mm^2] and moment about the origin [1/mm], both over EI.
    length, curvature, twist : float
        [mm], [1/mm], [1/mm]
    ratio : float
        EI/GJ - 1 [1].
    steps : int
        Runge-Kutta steps along the rod.

    Returns
    -------
    places : (steps + 1, 9) array
        Position, d2 and d3 at equal distances from root to end.
    """
    wide = [np.repeat(np.atleast_1d(np.asarray(a, float)), L) for a in (root, wrench, length, curvature, twist, ratio)]
    path, ends = np.empty(steps * 4 * PLACE), np.empty(PLACE)
    march(wide[0], np.empty(0), *wide[1:], path, ends)
    return np.concatenate([path.reshape(steps, 4, 9, L)[:, 0, :, 0], ends.reshape(1, 9, L)[..., 0]])
