"""What the tools add to the hand: a thin needle bends, and its track is wider than the haptic."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, number
from ..eye.sources import fact


def needle_deflection(outer, bore, free_length, load):
    """Slope [deg] at the tip of a needle that is pushed sideways there.

    Parameters
    ----------
    outer, bore : float or array [mm]
        Outside and inside diameter. A gauge number stands for the outside.
    free_length : float or array [mm]
        From the hub to the tip.
    load : float or array [mN]
        Sideways at the tip.

    Returns
    -------
    slope : float or array [deg]

    Raises
    ------
    LearnerError
        If a value is out of its sensible range, or the bore is not smaller than the outside.

    Notes
    -----
    A straight elastic tube held at its hub (Euler-Bernoulli): slope = F L^2 / (2 E I) with
    I = pi (outer^4 - bore^4) / 64. E of steel from memory. Small slopes only; a needle that was bent
    beforehand, or is held by the wall along its length, bends otherwise.
    """
    outer = number("", "outer", outer, 0.1, 2.0, "mm", "outside diameter of the needle")
    bore = number("", "bore", bore, 0.0, 2.0, "mm", "inside diameter of the needle")
    free_length = number("", "free_length", free_length, 0.1, 60.0, "mm", "needle between hub and tip")
    load = number("", "load", load, 0.0, 2000.0, "mN", "sideways push at the tip")
    try:
        outer, bore, free_length, load = np.broadcast_arrays(outer, bore, free_length, load)
    except ValueError:
        raise LearnerError("outer, bore, free_length and load must have equal lengths (or length 1).") from None
    if np.any(bore >= outer):
        raise LearnerError("The bore of a needle is smaller than its outside diameter; was one given for the other?")
    inertia = np.pi * (outer**4 - bore**4) / 64.0
    modulus = 1e6 * fact("hands", "steel_modulus").value  # mN/mm^2
    return np.degrees(load * free_length**2 / (2.0 * modulus * inertia))[()]


def play_limit(track, haptic_diameter, tunnel_length, closure=0.0):
    """Widest angle [deg] by which a haptic can lie askew in its tunnel.

    Parameters
    ----------
    track : float or array [mm]
        Diameter of the needle's track: its outside diameter.
    haptic_diameter, tunnel_length : float or array [mm]
    closure : float or array [1]
        Share of the clearance that the tissue closes again; 0 is an upper bound.

    Notes
    -----
    atan(clearance / tunnel length). Zero where the haptic is thicker than its track; NaN where a straight
    pass has no tunnel because it never enters the eye.
    """
    clearance = np.maximum(np.asarray(track, float) - haptic_diameter, 0.0) * (1.0 - np.asarray(closure, float))
    return np.degrees(np.arctan2(clearance, tunnel_length))[()]


def askew(iris_angle, off, around):
    """Turn a direction by an angle, to any side.

    Parameters
    ----------
    iris_angle : float or array [deg]
        Dip of the direction before.
    off : array [deg]
        How far it is turned.
    around : array [deg]
        To which side: 0 is deeper, 90 towards the eye.

    Returns
    -------
    swing, dip : arrays [deg]
        What is added to the limbus angle, and the iris angle after. Exact, of two equal descriptions the
        one with the smaller swing.
    """
    b, t, a = (np.radians(angle) for angle in np.broadcast_arrays(iris_angle, off, around))
    deeper, inward = np.sin(t) * np.cos(a), np.sin(t) * np.sin(a)
    # in the needle's own heading: forward, to its inner side (inward), and down
    forward = np.cos(t) * np.cos(b) - deeper * np.sin(b)
    down = np.cos(t) * np.sin(b) + deeper * np.cos(b)
    swing = np.degrees(np.arctan2(inward, forward))
    dip = np.degrees(np.arctan2(down, np.hypot(forward, inward)))
    beyond = np.abs(swing) > 90.0  # turned past straight down: the same direction seen from the other side
    swing = np.where(beyond, swing - np.copysign(180.0, swing), swing)
    dip = np.where(beyond, 180.0 - dip, dip)
    return swing, np.where(dip > 180.0, dip - 360.0, dip)
