"""What the tools add to the hand: the track of a needle is wider than the haptic, which may lie askew in it."""

from __future__ import annotations

import numpy as np


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
