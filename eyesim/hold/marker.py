"""Where a ring marker leaves its marks on the wall."""

from __future__ import annotations

import numpy as np

from ..eye.checks import number


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
