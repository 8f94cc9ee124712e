"""Reading what a learner wrote: numbers with units, choices, plans. Nothing given is ever evaluated."""

from __future__ import annotations

import math
import re

import numpy as np

from ..eye.checks import LearnerError, known_name
from ..hold.needle import Fixation

LETTERS = "abcdefgh"
"""Of the choices of a question, in their order."""
_NUMBER = re.compile(
    r"\s*([+\-\u2212\u2013]?(?:[0-9]{1,9}(?:[.,][0-9]{0,9})?|[.,][0-9]{1,9}))\s*([^\s0-9.,+\-]{0,14})\s*"
)
_UNITS = {
    "mm": {"mm": 1.0, "um": 1e-3, "\u00b5m": 1e-3, "\u03bcm": 1e-3, "cm": 10.0, "m": 1000.0},
    "deg": {"deg": 1.0, "\u00b0": 1.0, "degree": 1.0, "degrees": 1.0, "rad": 180.0 / math.pi},
    "mN": {"mn": 1.0, "n": 1000.0},
    "D": {"d": 1.0, "dpt": 1.0, "dptr": 1.0, "dioptre": 1.0, "dioptres": 1.0, "diopter": 1.0, "diopters": 1.0},
    "%": {"%": 1.0, "percent": 1.0},
    "times": {"times": 1.0, "x": 1.0, "\u00d7": 1.0, "fold": 1.0},
    "": {},
}  # fmt: skip


_ALIASES = {
    "mark": ("marks", "meridian"),
    "distance": ("distances", "limbus_distance"),
    "angle": ("limbus_angle", "limbus_angles"),
    "dip": ("dips", "iris_angle", "iris_angles"),
    "tunnel": ("tunnels", "tunnel_length", "tunnel_lengths"),
    "outside": ("externalised", "externalised_length", "externalised_lengths"),
}
"""Other words for the names in plans, by what they are called in code."""


def read_number(answer, unit):
    """Read a number in `unit` from a number, or from text such as "0,54 mm" (point or comma).

    A minus may be written as such, as a hyphen or as an en dash. Raises LearnerError if it is neither, not finite, or
    its unit measures something else.

    Parameters
    ----------
    answer : float or str
    unit : str
        "mm", "deg", "mN", "D", "%", "times", or "" of a plain number.
    """
    if isinstance(answer, np.ndarray) and answer.ndim == 0:
        answer = answer[()]  # one number, as a calculation with arrays leaves it
    if isinstance(answer, (int, float, np.integer, np.floating)) and not isinstance(answer, bool):
        return _finite(answer)
    example = f"0.54 or '0,54 {unit}'" if unit else "0.54"
    if isinstance(answer, tuple):
        raise LearnerError(
            f"A number with a decimal comma goes in quotes, such as '0,54 {unit}'; two numbers were given."
        )
    if not isinstance(answer, str):
        raise LearnerError(f"A number is wanted, such as {example}; {_kind(answer)} was given.")
    found = _NUMBER.fullmatch(answer) if len(answer) <= 40 else None
    if not found:
        raise LearnerError(f"A number is wanted, such as {example}; {answer[:40]!r} was given.")
    value = float(found[1].replace(",", ".").replace("\u2212", "-").replace("\u2013", "-"))  # minus, en dash
    written = found[2].lower()
    if not written:
        return value
    scale = _UNITS[unit].get(written)
    if scale is None:
        raise LearnerError(f"The answer is asked in {unit or 'a plain number'}; {found[2]!r} was given as the unit.")
    return value * scale


def read_choice(answer, choices):
    """Index of the choice that an answer means: its letter, its key or its own words.

    Raises LearnerError if it means none.

    Parameters
    ----------
    answer : str
    choices : list of (key, words)
    """
    letters = LETTERS[: len(choices)]
    if not isinstance(answer, str):
        raise LearnerError(f"One letter is wanted, {letters[0]!r} to {letters[-1]!r}; {_kind(answer)} was given.")
    given = answer.strip().strip("().").casefold()
    for i, (key, words) in enumerate(choices):
        if given in (letters[i], key.casefold(), words.strip("().").casefold()):
            return i
    raise LearnerError(f"One letter is wanted, {letters[0]!r} to {letters[-1]!r}; {answer[:40]!r} was given.")


def read_dict(answer, names, example):
    """Check that an answer is a dict whose keys are among `names`; return it with these.

    The trade's words for them, and the fields of a `Fixation`, are understood too. Raises LearnerError if not; shows
    the example.

    Parameters
    ----------
    answer : dict
    names : list of str
    example : str
        For the words where it is none.
    """
    if not isinstance(answer, dict):
        raise LearnerError(f"A plan is wanted, such as {example}; {_kind(answer)} was given.")
    for key in answer:
        if not isinstance(key, str):
            raise LearnerError(f"The names in a plan are words, such as {example}; {_kind(key)} was given as a name.")
    found = {_name_among(names, key): value for key, value in answer.items()}
    for key in found:
        known_name("The plan", key, names)
    if len(found) < len(answer):
        raise LearnerError(f"A name stands twice in the plan. It is written such as {example}.")
    return found


def _name_among(names, key):
    """Name that a key stands for, if it is another word for one of the names; else the key."""
    words = key.strip().casefold().replace(" ", "_").replace("-", "_")
    return next((name for name in names if words in _ALIASES.get(name, ())), key)


def read_side(given, base, allowed):
    """Fixation of one side from a dict of fields, or from a Fixation that differs from `base` in these only.

    Raises LearnerError if something else was changed, or a value is out of range.

    Parameters
    ----------
    given : dict or Fixation
    base : Fixation
        As the exercise sets it.
    allowed : tuple of str
        Fields that may be chosen.
    """
    if isinstance(given, Fixation):
        if given.shape != ():
            raise LearnerError("One fixation a side is wanted; arrays were given.")
        fields = {name: getattr(given, name) for name in allowed}
        if any(getattr(given, name) != getattr(base.but(**fields), name) for name in base.__dataclass_fields__):
            raise LearnerError(f"Only {' and '.join(allowed)} can be chosen here; something else was changed as well.")
    else:
        example = "{" + ", ".join(f"'{name}': ..." for name in allowed) + "}"
        fields = {}
        for name, value in read_dict(given, list(allowed), example).items():
            unit = "mm" if name in ("outside", "tunnel_length", "limbus_distance") else "deg"
            fields[name] = read_number(value, unit)
    return base.but(**fields)


def _finite(value):
    try:
        value = float(value)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise LearnerError("A finite number is wanted; this one is not.")
    return value


_KINDS = {bool: "True or False", int: "a whole number", float: "a number", complex: "a complex number"}
_KINDS |= {str: "a text", list: "a list", tuple: "several values", dict: "a dict", set: "a set"}


def _kind(value):
    if value is None or value is ...:
        return "nothing" if value is None else "not yet answered (...)"
    if isinstance(value, np.ndarray):
        return "an array"
    name = type(value).__name__
    return _KINDS.get(type(value)) or f"{'an' if name[:1].casefold() in 'aeio' else 'a'} {name}"
