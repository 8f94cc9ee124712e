"""Rods whose shape has been known for long: small sums to check the solver by, and to teach with."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, number


def cantilever_deflection(force, length, stiffness):
    """Deflection [mm] of the tip of a straight rod held at one end, for a small force across it.

    Parameters
    ----------
    force : float or array [mN]
    length : float or array [mm]
    stiffness : float or array [mN mm^2]
        Bending stiffness EI.

    Notes
    -----
    F L^3 / 3 EI (any handbook of the mechanics of materials, table of beam deflections). True while the
    deflection is below a tenth of the length.
    """
    force = number("", "force", force, -1e6, 1e6, "mN", "force across the tip")
    length = number("", "length", length, 1e-6, 1e6, "mm", "length of the rod")
    stiffness = number("", "stiffness", stiffness, 1e-9, 1e12, "mN mm^2", "bending stiffness EI")
    return force * length**3 / (3.0 * stiffness)


def elastica_deflection(load):
    """Deflection over length [1] of the tip of a straight rod held at one end, however large.

    Parameters
    ----------
    load : float [1]
        F L^2 / EI, the force keeping its direction; 0 to 1000.

    Notes
    -----
    End-loaded elastica: with k^2 = (1 + sin t)/2, t the slope of the tip, and sin p = 1/(k sqrt 2),
    load = (K(k) - F(p, k))^2 and deflection = 1 - 2 (E(k) - E(p, k)) / sqrt(load) (*Large deflection of
    cantilever beams*, Quarterly of Applied Mathematics 1945;3:272-275).
    """
    from scipy.optimize import brentq
    from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

    load = number("", "load", load, 0.0, 1000.0, "", "F L^2 / EI")
    if load == 0.0:
        return 0.0

    def miss(m):
        p = np.arcsin(np.sqrt(0.5 / m))
        return ellipk(m) - ellipkinc(p, m) - np.sqrt(load)

    m = brentq(miss, 0.5, 1.0 - 1e-15, xtol=1e-16)
    p = np.arcsin(np.sqrt(0.5 / m))
    return 1.0 - 2.0 * (ellipe(m) - ellipeinc(p, m)) / np.sqrt(load)


def buckling_force(length, stiffness, ends="clamped, free"):
    """Compression [mN] at which a straight rod gives way sideways (Euler).

    Parameters
    ----------
    length : float or array [mm]
    stiffness : float or array [mN mm^2]
        Bending stiffness EI.
    ends : "clamped, free", "pinned, pinned" or "clamped, clamped"
    """
    length = number("", "length", length, 1e-6, 1e6, "mm", "length of the rod")
    stiffness = number("", "stiffness", stiffness, 1e-9, 1e12, "mN mm^2", "bending stiffness EI")
    shares = {"clamped, free": 0.25, "pinned, pinned": 1.0, "clamped, clamped": 4.0}
    if ends not in shares:
        raise LearnerError(f"ends is one of {', '.join(map(repr, shares))}; {ends!r} was given.")
    return shares[ends] * np.pi**2 * stiffness / length**2


def helix(curvature, torsion, s):
    """Points (n, 3) [mm] of a helix that starts at the origin along +x, its principal normal along +y.

    It is the shape of a free rod whose natural curvature and twist [1/mm] are constant, and that of a
    straight rod under a couple: of size M (over EI) at an angle a to the rod, curvature M sin a and torsion
    M cos a, whatever its torsional stiffness.

    Parameters
    ----------
    curvature, torsion : float [1/mm]
    s : (n,) array [mm]
        Distances along the rod.
    """
    s = np.asarray(s, float)
    w = np.hypot(curvature, torsion)
    if w == 0.0:
        return np.stack([s, 0 * s, 0 * s], axis=-1)
    a, b = curvature / w, torsion / w
    x = b * b * s + a * a * np.sin(w * s) / w
    y = a * (1.0 - np.cos(w * s)) / w
    z = a * b * (s - np.sin(w * s) / w)
    return np.stack([x, y, z], axis=-1)
