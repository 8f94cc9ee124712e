"""Whose hands the cloud of a live session is operated by: assumed ones, steadier ones, or those a room has named."""

from __future__ import annotations

import dataclasses

from ...live.parameters import Quantity, check_number
from ...study import Hands

_USUAL = Hands()
HANDS = {
    "": ("no cloud", None),
    "usual": ("assumed, of a beginner", _USUAL),
    "marks": ("marks twice as steady", _USUAL.scale(0.5, "meridian")),
    "dips": ("iris angles twice as steady", _USUAL.scale(0.5, "iris_angle")),
    "tunnels": ("tunnels twice as steady", _USUAL.scale(0.5, "tunnel_length", "outside", "wall")),
    "all": ("all twice as steady", _USUAL.scale(0.5)),
    "own": ("as the room says", None),
}
"""By key: words, and the hands; spreads are those of the table of hands, most of them assumptions."""

_ERRORS = {"own_mark": "meridian", "own_dip": "iris_angle", "own_tunnel": "tunnel_length"}
OWN = {
    key: Quantity(key, words, unit, 0.0, high, step, round(float(getattr(_USUAL, _ERRORS[key]).spreads[1]), 3), False)
    for key, words, unit, high, step in (
        ("own_mark", "Marks spread by", "deg", 15.0, 0.1),
        ("own_dip", "Iris angles spread by", "deg", 15.0, 0.1),
        ("own_tunnel", "Tunnels spread by", "mm", 1.0, 0.01),
    )
}
"""What a room can say of its hands, by key: standard deviations on each side; all else as assumed."""


def checked_own(key, value):
    """Check a spread of one's own; return it. Raises LearnerError if it makes no sense.

    Parameters
    ----------
    key : str
        Of `OWN`.
    value : float [deg] or [mm]
    """
    what = OWN[key]
    return check_number(key.replace("own_", "spread of the "), value, 0.0, what.high, what.unit, "standard deviation")


def hands_of(key, own):
    """Hands, and words for them.

    Parameters
    ----------
    key : str
        Of `HANDS`.
    own : dict
        A value for each key of `OWN`.
    """
    if key != "own":
        words, hands = HANDS[key]
        return hands, words
    spreads = {name: dataclasses.replace(getattr(_USUAL, name), spread=own[one]) for one, name in _ERRORS.items()}
    parts = [f"{_words(one)} by {own[one]:g} {OWN[one].unit}" for one in OWN]
    return _USUAL.but(**spreads), f"spread as the room says, {', '.join(parts)}; all else as assumed"


def _words(key):
    return OWN[key].words.removesuffix(" spread by").lower()
