"""What can be set in a live session: numbers with their ranges, and what is one of a few."""

from __future__ import annotations

import dataclasses
from types import MappingProxyType

import numpy as np

from ..eye.checks import LearnerError, number, short
from ..lesson.patient import DAY

SIDES = ("first", "second")


@dataclasses.dataclass(frozen=True)
class Quantity:
    """A number on the table [unit]; of a sided one each side has its own, `key_first` and `key_second`."""

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    start: float
    sided: bool = True


@dataclasses.dataclass(frozen=True)
class Setting:
    """Something on the table that is one of a few; of a sided one each side has its own."""

    key: str
    words: str
    options: tuple
    start: object
    sided: bool = True


QUANTITIES = (
    Quantity("mark", "Mark turned", "deg", -30.0, 30.0, 0.5, 0.0),
    Quantity("distance", "Distance behind the limbus", "mm", 0.5, 4.0, 0.05, 2.0),
    Quantity("limbus", "Angle to the limbus", "deg", 0.0, 45.0, 0.5, 20.0),
    Quantity("dip", "Angle to the iris plane", "deg", 0.0, 40.0, 0.5, 10.0),
    Quantity("tunnel", "Tunnel", "mm", 0.5, 3.0, 0.05, 2.0),
    Quantity("outside", "Externalised or tucked", "mm", 0.2, 3.0, 0.05, 0.8),
    Quantity("turn", "End turned down to", "deg", 0.0, 90.0, 1.0, 30.0),
    Quantity("wall", "Scleral thickness", "mm", 0.3, 0.9, 0.01, 0.5),
    Quantity("bend", "Haptic bent to the front at its root", "deg", -15.0, 15.0, 0.5, 0.0),
    Quantity("ring_x", "Marker ring off-centre, towards 3 o'clock", "mm", -1.0, 1.0, 0.05, 0.0, sided=False),
    Quantity("ring_y", "Marker ring off-centre, towards 12 o'clock", "mm", -1.0, 1.0, 0.05, 0.0, sided=False),
    Quantity("white_to_white", "White-to-white", "mm", 10.5, 13.0, 0.1, 11.8, sided=False),
    Quantity("pupil", "Pupil", "mm", 2.0, 7.0, 0.25, DAY, sided=False),
)
"""Numbers on the table. Ranges are those of the lessons' sliders. The passes of the plan are the usual ones, but dip by
10 degrees, so that a straight pass enters the eye as well. The eye grows as a whole with its white-to-white (wall and
limbus; not cornea and length): chosen for teaching."""

SETTINGS = (
    Setting("kind", "Length of the tunnel", ("chosen", "straight"), "chosen"),
    Setting("turned", "Needle turned down at the tunnel's end", (False, True), False),
    Setting("backwards", "Needle run the wrong way round", (False, True), False),
    Setting("eye", "Eye", ("right", "left"), "right", sided=False),
)
"""What is one of a few. A straight pass goes on until it meets the inner wall, and so has no length of its own."""

PARAMETERS = (*QUANTITIES, *SETTINGS)


def keys_of(what):
    """Keys of a `Quantity` or `Setting` in a session."""
    return [f"{what.key}_{side}" for side in SIDES] if what.sided else [what.key]


KEYS = MappingProxyType({key: what for what in PARAMETERS for key in keys_of(what)})
"""Key of a session, such as "dip_first", to its `Quantity` or `Setting`."""


def check_value(key, value):
    """Check a value by its key; return it. Raises LearnerError if it makes no sense.

    Parameters
    ----------
    key : str
        Of `KEYS`.
    value : float [unit of its quantity], or one of the options of its setting
    """
    what = KEYS[key]
    words = f"{what.words[0].lower()}{what.words[1:]}"
    if isinstance(what, Quantity):
        return check_number(key, value, what.low, what.high, what.unit, words)
    if isinstance(value, (str, bool)) and value in what.options:
        return value
    options = " or ".join(repr(option) for option in what.options)
    raise LearnerError(f"{key} ({words}) is {options}; {short(value)} was given.")


def check_number(name, value, low, high, unit, words):
    """Check one number; return it as a float. Raises LearnerError if it is none, or out of range.

    Parameters
    ----------
    name, words : str
        What messages call it, and what it is.
    value, low, high : float [unit]
    unit : str
    """
    value = number("", name, value, low, high, unit, words)
    if not isinstance(value, float):
        raise LearnerError(f"{name} takes one number; {np.size(value)} were given.")
    return value + 0.0  # no negative zero, which would read as another text
