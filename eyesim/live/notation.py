"""A session as a short text that restores it, and back; nothing in such a text is ever evaluated."""

from __future__ import annotations

import re

from ..eye.checks import LearnerError, known_name, short
from .parameters import PARAMETERS, Quantity, check_value, keys_of

_LONGEST = 2000  # characters of a text that is read
_PLANNED = "as planned"
_EXAMPLE = "eyesim live: dip 2 = 14; mark 2 = 10"


def write_changes(changes, units=False):
    """Write what is other than planned: "dip 2 = 14; mark = 5", where both sides are alike without a side.

    Parameters
    ----------
    changes : dict
        Key of a session to its value.
    units : bool
        Write units as well.
    """
    found = []
    for what in PARAMETERS:
        keys = keys_of(what)
        unit = f" {what.unit}" if units and isinstance(what, Quantity) else ""
        texts = {key: f"{_written(changes[key])}{unit}" for key in keys if key in changes}
        name = what.key.replace("_", " ")
        if len(texts) == len(keys) and len(set(texts.values())) == 1:
            found.append(f"{name} = {texts[keys[0]]}")
        else:
            found += [f"{name} {keys.index(key) + 1} = {value}" for key, value in texts.items()]
    return "; ".join(found) or _PLANNED


def _written(value):
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else repr(value).removesuffix(".0")


_PIECE = re.compile(
    r"""[ ;,]*(?P<name>[a-z][a-z -]*?)[ ]?(?P<side>[12]|first|second)?[ ]?[=:][ ]?
        (?P<value>[a-z]+|[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:e[+-]?[0-9]{1,3})?)
        (?:[ ]?(?:mm|deg|\N{DEGREE SIGN}))?(?=[ ;,]|$)""",
    re.VERBOSE,
)
_NAMES = {what.key.replace("_", ""): what for what in PARAMETERS}
_NAMES |= {
    "limbusangle": _NAMES["limbus"],
    "irisangle": _NAMES["dip"],
    "scleralthickness": _NAMES["wall"],
    "externalised": _NAMES["outside"],
    "externalisedlength": _NAMES["outside"],
}
"""Names that are read: the short ones that are written, and those that the controls and sentences use."""


def read_changes(text):
    """Values by key that a text describes; raises LearnerError if it cannot be read."""
    if not isinstance(text, str) or not text.strip() or len(text) > _LONGEST:
        raise LearnerError(f"A session is read from a text such as '{_EXAMPLE}', of at most {_LONGEST} characters.")
    text = re.sub(r"[\s_]+", " ", text.casefold().replace("\N{MINUS SIGN}", "-")).strip()
    text = re.sub(r"^eyesim live ?:?", "", text).strip(" ;,.")
    found, place = {}, 0
    while place < len(text) and text != _PLANNED:
        match = _PIECE.match(text, place)
        if match is None:
            piece = text[place:].strip(" ;,").partition(";")[0]
            raise LearnerError(f"{short(piece)} cannot be read. A piece is name = value, such as 'dip 2 = 14'.")
        for key, value in _values_of(match, short(match.group().strip(" ;,"))).items():
            if key in found:
                raise LearnerError(f"{key.replace('_', ' ')} is said twice; keep one of them.")
            found[key] = value
        place = match.end()
    return found


def _values_of(match, piece):
    name = re.sub("[ -]", "", match["name"])
    known_name(f"{piece} cannot be read: the session", name, list(_NAMES))
    what, side = _NAMES[name], {"1": "first", "2": "second"}.get(match["side"], match["side"])
    if side and not what.sided:
        raise LearnerError(f"{piece} cannot be read: {what.key} is of neither side. Leave out the {match['side']}.")
    given = match["value"]
    if isinstance(what, Quantity):
        value = given if given.isalpha() else float(given.replace(",", "."))
    else:
        value = {_written(option): option for option in what.options}.get(given, given)
    return {key: check_value(key, value) for key in keys_of(what) if not side or key.endswith(side)}
