"""The lens between two haptics as one boundary value problem for a general-purpose library.

Eighteen differential equations (position and two directors of each haptic, side by side on 0..1) and twelve
unknown parameters (shift and turn of the optic, one wrench), given whole to scipy.integrate.solve_bvp.
It shares with the package the setting (roots, openings, directions, free lengths) and the equations as
mathematics, and nothing of the way they are solved.
"""

import numpy as np
from scipy.integrate import solve_bvp
from scipy.spatial.transform import Rotation

import eyesim as es


def rest(eye, lens, first, second, guess=None, tol=1e-6):
    """Solution of solve_bvp; `guess` is (mesh, values, parameters) of a neighbour."""
    passages = es.needle_pass(eye, first), es.needle_pass(eye, second)
    fixations = first, second
    roots = lens.roots()
    free = [lens.haptic_length - p.tunnel_length - f.outside for p, f in zip(passages, fixations, strict=True)]
    curvature, ratio = 1.0 / lens.loop_radius, lens.poisson_ratio
    across = []
    for p in passages:
        a = np.cross(p.held, [0.0, 0.0, 1.0])
        a /= np.linalg.norm(a)
        across.append((a, np.cross(p.held, a)))

    def moment(k, y, q):
        sign = 1.0 - 2.0 * k
        return sign * q[9:12][:, None] - np.cross(y[9 * k : 9 * k + 3].T, sign * q[6:9]).T

    def rate(t, y, q):
        out = np.empty_like(y)
        for k in range(2):
            d2, d3 = y[9 * k + 3 : 9 * k + 6], y[9 * k + 6 : 9 * k + 9]
            m = moment(k, y, q)
            w = curvature * d2 + m + ratio * np.sum(m * d3, axis=0) * d3
            out[9 * k : 9 * k + 3] = free[k] * d3
            out[9 * k + 3 : 9 * k + 6] = free[k] * np.cross(w.T, d2.T).T
            out[9 * k + 6 : 9 * k + 9] = free[k] * np.cross(w.T, d3.T).T
        return out

    def ends(ya, yb, q):
        turn = Rotation.from_rotvec(q[3:6])
        out = [ya - roots.ravel()]
        for k in range(2):
            r, d3 = turn.apply(yb[9 * k : 9 * k + 3]) + q[:3], turn.apply(yb[9 * k + 6 : 9 * k + 9])
            m = moment(k, yb[:, None], q)[:, 0]
            out.append(r - passages[k].inner)
            out.append([across[k][0] @ d3, across[k][1] @ d3, m @ yb[9 * k + 6 : 9 * k + 9]])
        return np.concatenate([np.ravel(o) for o in out])

    if guess is None:
        mesh = np.linspace(0.0, 1.0, 11)
        values = np.empty((18, 11))
        for k in range(2):
            s = mesh * free[k] * curvature
            d2, d3 = roots[k, 3:6], roots[k, 6:9]
            n = np.cross(d2, d3)
            direction = np.outer(d3, np.cos(s)) + np.outer(n, np.sin(s))
            place = roots[k, :3, None] + (np.outer(d3, np.sin(s)) + np.outer(n, 1 - np.cos(s))) / curvature
            values[9 * k : 9 * k + 9] = np.vstack([place, np.repeat(d2[:, None], 11, 1), direction])
        chord = passages[0].inner - passages[1].inner
        own = values[:3, -1] - values[9:12, -1]
        angle = np.arctan2(chord[1], chord[0]) - np.arctan2(own[1], own[0])
        guess = (
            mesh,
            values,
            np.array([0, 0, -1.5, 0, 0, np.mod(angle + np.pi, 2 * np.pi) - np.pi, *np.zeros(6)]),
        )
    found = solve_bvp(rate, ends, *guess, tol=tol, max_nodes=4000)
    turn = Rotation.from_rotvec(found.p[3:6])
    outwards = [turn.apply(found.y[9 * k + 6 : 9 * k + 9, -1]) @ passages[k].held > 0 for k in range(2)]
    if found.status == 0 and not all(outwards):
        found.status = 4  # a haptic lies in its tunnel the wrong way round: the equations allow it, we do not
    return found
