"""The causes that can be to blame: each error of the hands, the play in the track, and the eyes themselves."""

from __future__ import annotations

import dataclasses
import math

from ..eye.checks import known_name
from .error_model import ERRORS, GROUPS, QUANTITIES, Error, columns
from .population import Population

WORDS = {
    "meridian": "marks",
    "limbus_distance": "distances behind the limbus",
    "limbus_angle": "limbus angles",
    "iris_angle": "iris angles",
    "tunnel_length": "tunnel lengths",
    "outside": "externalised lengths",
    "exit_angle": "turns at the tunnel's end",
    "wall": "scleral thicknesses",
    "mark_moved": "marks that moved",
    "marker": "marker off-centre",
    "needle_bend": "bent needles",
    "play": "play in the track",
    "eyes": "eyes that differ",
}
"""Cause to plain words, in the order in which they are listed."""
_OF_HANDS = [name for name in WORDS if name != "eyes"]
SIDES = ("first", "second", "shared")


@dataclasses.dataclass(frozen=True)
class Cause:
    """A cause: its name, what it is called, and the columns of chance that are its own.

    The name is a key of `WORDS`, with `.first`, `.second` or `.shared` behind it where it is one part of an error.
    """

    name: str
    words: str
    columns: tuple[int, ...]


def causes_of(hands, eye, plan, *, parts=False) -> tuple[Cause, ...]:
    """Causes that make a difference: errors that spread, and that this plan can have.

    Parameters
    ----------
    hands : Hands
    eye : Eye or Population
    plan : pair of Fixation
    parts : bool
        Tell the two sides, and what both have in common, apart.
    """
    place = {name: i for i, name in enumerate(columns())}
    found = []
    for name, words in WORDS.items():
        if name == "eyes":
            mine = range(len(place), len(place) + len(eye.columns)) if isinstance(eye, Population) else ()
            found += [Cause(name, words, tuple(mine))] if mine else []
            continue
        used = [column for column in _columns(name) if _spreads(hands, name, column) and _can_act(name, plan)]
        groups = {"": used} if not parts else {side: [c for c in used if c.endswith(side)] for side in SIDES}
        if parts and name == "marker":
            groups = {"": used}  # one marker serves both sides
        for side, mine in groups.items():
            if mine:
                part = {"": "", "first": ", first side", "second": ", second side", "shared": ", both alike"}[side]
                found.append(Cause(name + (f".{side}" if side else ""), words + part, tuple(place[c] for c in mine)))
    return tuple(found)


def errors_of(hands, lens, plan):
    """Names of the errors, and of the play, that these hands have and this plan can have, as in `WORDS`.

    An error that is always the same is one of them, though no variance comes from it.

    Parameters
    ----------
    hands : Hands
    lens : Lens
    plan : pair of Fixation
    """
    return [name for name in _OF_HANDS if size_of(hands, name, lens)[0] > 0.0 and _can_act(name, plan)]


def size_of(hands, name, lens):
    """How large one error is, and in which unit.

    Parameters
    ----------
    hands : Hands
    name : str
        A key of `WORDS`, other than "eyes".
    lens : Lens
        Its haptics lie in the track.

    Returns
    -------
    size : float [unit]
        Root mean square of what one side is off by: of bias, spread and shared part, and of both directions of a
        marker or a mark that moved. Of the play, the clearance that tissue leaves open.
    unit : "deg" or "mm"
    """
    known_name("Hands", name, _OF_HANDS)
    if name == "play":
        clearance = 0.0 if hands.track is None else max(hands.track - lens.haptic_diameter, 0.0)
        return clearance * (1.0 - hands.closure), "mm"
    members = GROUPS.get(name, (name,))
    squares = [
        bias**2 + spread**2 + error.shared**2
        for error in (getattr(hands, one) for one in members)
        for bias, spread in zip(error.biases, error.spreads, strict=True)
    ]
    return math.sqrt(sum(squares) / len(squares)), QUANTITIES[members[0]].unit


def scale_cause(hands, name, left):
    """Return hands with so much of one cause left: of bias, spread and shared part; of the play, of the clearance.

    Parameters
    ----------
    hands : Hands
    name : str
        A key of `WORDS`, other than "eyes".
    left : float [1]
    """
    known_name("Hands", name, _OF_HANDS)
    if name == "play":
        return hands.but(closure=(1.0 - left) + left * hands.closure)
    return hands.but(**{one: _lessened(getattr(hands, one), left) for one in GROUPS.get(name, (name,))})


def remove_bias(hands, name):
    """Return hands without the bias of one cause; a name may end in `.first` or `.second`.

    Parameters
    ----------
    hands : Hands
    name : str
        A key of `WORDS`.
    """
    quantity, _, side = name.partition(".")
    changed = {}
    for one in () if quantity in ("play", "eyes") or side == "shared" else GROUPS.get(quantity, (quantity,)):
        error = getattr(hands, one)
        kept = tuple(0.0 if side in ("", SIDES[k]) else bias for k, bias in enumerate(error.biases))
        changed[one] = dataclasses.replace(error, bias=kept[0] if kept[0] == kept[1] else kept)
    return hands.but(**changed)


def errors_in_common(hands, *names):
    """Return hands whose errors, of the same size, are the same on both sides.

    Parameters
    ----------
    hands : Hands
    *names : str
        Quantities that have an `Error`; none means all but the marker.
    """
    named = names or [name for name in ERRORS if name not in GROUPS["marker"]]
    changed = {}
    for name in named:
        known_name("Hands", name, ERRORS)
        error = getattr(hands, name)
        size = (0.5 * (error.spreads[0] ** 2 + error.spreads[1] ** 2) + error.shared**2) ** 0.5
        changed[name] = Error(0.5 * sum(error.biases), 0.0, size)
    return hands.but(**changed)


def _lessened(error, left):
    bias = tuple(left * one for one in error.biases)
    return dataclasses.replace(error.scale(left), bias=bias if isinstance(error.bias, tuple) else bias[0])


def _columns(name):
    if name == "play":
        return [f"play{kind}.{side}" for side in SIDES[:2] for kind in ("", "_side")]
    if name == "marker":
        return list(GROUPS[name])
    also = ("needle_bend_sideways",) if name == "needle_bend" else ()
    return [f"{one}.{side}" for one in (*GROUPS.get(name, (name,)), *also) for side in SIDES]


def _spreads(hands, name, column):
    """Whether a column of chance changes anything with these hands."""
    if name == "play":
        return hands.track is not None and hands.closure < 1.0
    quantity, _, side = column.partition(".")
    error = getattr(hands, "needle_bend" if quantity == "needle_bend_sideways" else quantity)
    if name == "marker":
        return bool(error.spreads[0] or error.shared)
    return bool(error.shared if side == "shared" else error.spreads[SIDES.index(side)])


def _can_act(name, plan):
    """Whether an error can do anything in this plan."""
    if name == "tunnel_length":
        return any(one.tunnel_length is not None for one in plan)
    if name == "wall":
        return any(one.tunnel_length is None for one in plan)
    return name != "exit_angle" or any(one.exit_angle is not None for one in plan)
