"""Directions on the eye, in degrees and in the words of the operating room.

Seen from in front of the patient: x to the observer's right, y up, z towards the observer. Meridians
start at the observer's right and run counter-clockwise, alike for both eyes (ISO 8429, ISO 24157)::

                90 (12 o'clock)
                 |
     180 --------+-------- 0          right eye: 0 is nasal, 180 temporal
                 |                    left eye:  0 is temporal, 180 nasal
                270 (6 o'clock)

The observer's right is the patient's left; so 0 is the nasal side of a right eye.
"""

from __future__ import annotations

import numpy as np

from .checks import LearnerError, number


def clock_to_meridian(hour):
    """Meridian [deg] of a clock hour as the surgeon sees the dial from in front; 3 o'clock is 0."""
    hour = number("", "hour", hour, 0.0, 12.99, "h", "clock hour; minutes as decimals")
    return np.mod(90.0 - 30.0 * np.asarray(hour), 360.0)[()]


def meridian_to_clock(meridian):
    """Clock hour, from 0.5 to below 12.5, of a meridian [deg]; an hour is 30 degrees."""
    meridian = number("", "meridian", meridian, -1e4, 1e4, "deg", "meridian")
    hour = np.mod((90.0 - np.asarray(meridian)) / 30.0, 12.0)
    return np.where(hour < 0.5, hour + 12.0, hour)[()]


def clock_words(meridian, minutes=30):
    """Time on the dial that a single meridian [deg] points to: "7 o'clock", "6:30".

    Parameters
    ----------
    meridian : float [deg]
    minutes : int
        To how many minutes it is rounded; a minute is half a degree.
    """
    hour, minute = divmod(minutes * round(60.0 * float(meridian_to_clock(meridian)) / minutes), 60)
    hour = (hour - 1) % 12 + 1
    return f"{hour}:{minute:02d}" if minute else f"{hour} o'clock"


def side_to_meridian(words, eye_side):
    """Meridian [deg] of 'nasal', 'temporal', 'superior' or 'inferior' in a 'right' or 'left' eye.

    Parameters
    ----------
    words : "nasal", "temporal", "superior" or "inferior"
    eye_side : "right" or "left"
    """
    if eye_side not in ("right", "left"):
        raise LearnerError(f"eye_side is 'right' or 'left'; {eye_side!r} was given.")
    nasal = 0.0 if eye_side == "right" else 180.0
    known = {"nasal": nasal, "temporal": 180.0 - nasal, "superior": 90.0, "inferior": 270.0}
    if words not in known:
        raise LearnerError(f"A side of the eye is {', '.join(known)}; {words!r} was given.")
    return known[words]


def meridian_to_side(meridian, eye_side):
    """Nearest of the eight words (nasal, superonasal, superior, ...) for a single meridian [deg].

    Parameters
    ----------
    meridian : float [deg]
    eye_side : "right" or "left"
    """
    meridian = number("", "meridian", meridian, -1e4, 1e4, "deg", "meridian")
    if not isinstance(meridian, float):
        raise LearnerError("One meridian at a time has a word; an array was given.")
    if eye_side not in ("right", "left"):
        raise LearnerError(f"eye_side is 'right' or 'left'; {eye_side!r} was given.")
    right, left = ("nasal", "temporal") if eye_side == "right" else ("temporal", "nasal")
    words = [
        right,
        f"supero{right}",
        "superior",
        f"supero{left}",
        left,
        f"infero{left}",
        "inferior",
        f"infero{right}",
    ]
    return words[int(np.floor(np.mod(meridian + 22.5, 360.0) / 45.0))]


def wrap(angle):
    """Angle [deg] brought to 0 up to 360."""
    return np.mod(np.mod(angle, 360.0), 360.0)[()]


def whole_degrees(meridian):
    """Return a single meridian [deg] rounded to 0 up to 359."""
    return round(float(meridian)) % 360


def direction_words(meridian):
    """Meridian [deg] in words of the clock, seen from in front: "250 deg (about 6:30)"."""
    return f"{whole_degrees(meridian)} deg (about {clock_words(meridian)})"


def unit_at(meridian):
    """Return unit vectors (..., 3) along a meridian [deg] in the limbal plane."""
    phi = np.radians(meridian)
    return np.stack([np.cos(phi), np.sin(phi), np.zeros_like(phi)], axis=-1)


def rotation_of(tilt, tilt_meridian, roll):
    """Rotation (..., 3, 3) of an optic rolled about its normal, then leaned towards a meridian [deg].

    Parameters
    ----------
    tilt, tilt_meridian, roll : float or array [deg]
    """
    t, mu, w = np.broadcast_arrays(*(np.radians(np.asarray(a, float)) for a in (tilt, tilt_meridian, roll)))
    c, s = np.cos(t), np.sin(t)
    cm, sm = np.cos(mu), np.sin(mu)
    swing = np.stack(
        [
            np.stack([c * cm * cm + sm * sm, (c - 1) * sm * cm, s * cm], -1),
            np.stack([(c - 1) * sm * cm, c * sm * sm + cm * cm, s * sm], -1),
            np.stack([-s * cm, -s * sm, c], -1),
        ],
        -2,
    )
    zero, one = np.zeros_like(w), np.ones_like(w)
    twist = np.stack(
        [
            np.stack([np.cos(w), -np.sin(w), zero], -1),
            np.stack([np.sin(w), np.cos(w), zero], -1),
            np.stack([zero, zero, one], -1),
        ],
        -2,
    )
    return swing @ twist


def tilt_of(rotation):
    """Tilt, tilt meridian and roll [deg] of rotations (..., 3, 3): swing and twist about z."""
    normal = rotation[..., :, 2]
    lean = np.hypot(normal[..., 0], normal[..., 1])
    tilt = np.degrees(np.arctan2(lean, normal[..., 2]))
    meridian = wrap(np.degrees(np.arctan2(normal[..., 1], normal[..., 0])))
    roll = np.degrees(np.arctan2(rotation[..., 1, 0] - rotation[..., 0, 1], rotation[..., 0, 0] + rotation[..., 1, 1]))
    return tilt, meridian, roll
