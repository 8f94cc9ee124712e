"""Does it matter? Where a lens sits, split along the line of its openings, and held against two limits."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, number
from ..eye.frames import whole_degrees, wrap
from .limits import DECENTRATION_LIMIT, TILT_LIMIT

DEPTH_LIMIT = 0.3
"""[mm] Chosen for teaching: a change of depth that a patient can notice on a letter chart."""


def line_parts(pose):
    """Split the decentration of a settled lens along and across the line of its inner openings.

    Parameters
    ----------
    pose : Settled
        Any shape.

    Returns
    -------
    along, across : arrays [mm]
        Along counts from the second opening towards the first; across is 90 degrees counter-clockwise
        from that, seen from in front.
    """
    span = pose.passages[0].inner[..., :2] - pose.passages[1].inner[..., :2]
    span = span / np.linalg.norm(span, axis=-1, keepdims=True)
    along = pose.x * span[..., 0] + pose.y * span[..., 1]
    across = pose.y * span[..., 0] - pose.x * span[..., 1]
    return along, across


def sits_well(pose, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Whether a lens lies within both limits [mm, deg]; False where it did not settle."""
    limits = checked_limits(decentration, tilt)
    return np.logical_and(pose.decentration <= limits[0], pose.tilt <= limits[1])[()]


def matters(pose, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, *, planned_depth=None):
    """Say in one line whether a single pose matters, and because of what.

    Parameters
    ----------
    pose : Pose or Settled
        A single one.
    decentration, tilt : float [mm], [deg]
        The limits.
    planned_depth : float or None [mm]
        If given, a lens that lies deeper or shallower than that by more than `DEPTH_LIMIT` matters too.
    """
    off, lean = checked_limits(decentration, tilt)
    over = []
    if pose.decentration > off:
        over.append(f"{pose.decentration:.2f} mm off centre is {_more(pose.decentration, off, 2)} {off:g} mm")
    if pose.tilt > lean:
        over.append(f"{pose.tilt:.1f} deg of tilt is {_more(pose.tilt, lean, 1)} {lean:g} deg")
    deeper = 0.0 if planned_depth is None else float(pose.depth - planned_depth)
    if abs(deeper) > DEPTH_LIMIT:
        way = "deeper" if deeper > 0 else "shallower"
        over.append(
            f"{abs(deeper):.1f} mm {way} than planned is more than {DEPTH_LIMIT:g} mm, and glasses will show it"
        )
    if over:
        return f"It matters: {' and '.join(over)} (limits chosen for teaching)."
    return (
        f"It does not matter: {pose.decentration:.2f} mm off centre and {pose.tilt:.1f} deg of tilt are within "
        f"{off:g} mm and {lean:g} deg (limits chosen for teaching)."
    )


def verdict(pose, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """One of "well", "off-centre", "tilted", "both": which limits a single pose oversteps."""
    off, lean = checked_limits(decentration, tilt)
    names = {(False, False): "well", (True, False): "off-centre", (False, True): "tilted", (True, True): "both"}
    return names[bool(pose.decentration > off), bool(pose.tilt > lean)]


def ring_marks(eye, x, y, meridian, limbus_distance=2.0, *, calipers=False):
    """Where a ring marker leaves its mark if it is set off-centre.

    The ring prints a point at a fixed distance from its own centre. Where that centre misses the limbal
    centre by (x, y), the mark misses its meridian and its distance behind the limbus.

    Parameters
    ----------
    eye : Eye
        With a single round limbus.
    x, y : float or array [mm]
        Centre of the ring from the limbal centre, to the observer's right and upwards.
    meridian : float or array [deg]
        At which the ring's arm stands, about the ring's own centre.
    limbus_distance : float [mm]
        At which a centred ring marks.
    calipers : bool
        The distance behind the limbus is then measured anew, along the ring's arm; the mark's meridian stays wrong.

    Returns
    -------
    meridian, limbus_distance : arrays [deg], [mm]
        Of the mark about the limbal centre: fields for a `Fixation`.
    """
    x = number("ring_marks", "x", x, -2.0, 2.0, "mm", "centre of the ring to the right")
    y = number("ring_marks", "y", y, -2.0, 2.0, "mm", "centre of the ring upwards")
    radius = np.asarray(eye.scleral_radius)
    start = np.arcsin(np.asarray(eye.limbal_radius) / radius)
    ring = radius * np.sin(start + limbus_distance / radius)
    phi = np.radians(meridian)
    if calipers:
        aside = np.asarray(y) * np.cos(phi) - np.asarray(x) * np.sin(phi)
        turned = np.asarray(meridian) + np.degrees(np.arcsin(aside / ring))
        return turned[()], np.broadcast_to(np.float64(limbus_distance), np.shape(turned))[()]
    px, py = x + ring * np.cos(phi), y + ring * np.sin(phi)
    turned = np.asarray(meridian) + np.degrees(
        np.arctan2(py * np.cos(phi) - px * np.sin(phi), px * np.cos(phi) + py * np.sin(phi))
    )
    distance = radius * (np.arcsin(np.hypot(px, py) / radius) - start)
    return turned[()], distance[()]


def direction_words(meridian):
    """Meridian [deg] in words of the clock, seen from in front: "250 deg (about 7 o'clock)"."""
    meridian = float(wrap(round(float(meridian))))
    hour = int(np.floor(np.mod((90.0 - meridian) / 30.0 + 0.5, 12.0))) or 12
    return f"{whole_degrees(meridian)} deg (about {hour} o'clock)"


def _more(value, limit, digits):
    return "just over" if round(value, digits) == limit else "more than"


def checked_limits(decentration, tilt):
    """Check the two limits [mm], [deg]; return them as floats.

    Raises
    ------
    LearnerError
        If one is no single number in its sensible range.
    """
    limits = (
        number("", "decentration", decentration, 0.01, 5.0, "mm", "limit of decentration"),
        number("", "tilt", tilt, 0.1, 90.0, "deg", "limit of tilt"),
    )
    if not all(isinstance(limit, float) for limit in limits):
        raise LearnerError("decentration and tilt are one limit each; an array was given.")
    return limits
