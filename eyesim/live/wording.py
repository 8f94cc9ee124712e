"""How a change of a session is called: "the second mark is turned by 10 deg"."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, short
from .change import join_words
from .laws import FACTOR_NAMES, FACTORS
from .parameters import KEYS, SIDES
from .session import Session

_COUNTS = "no one two three four five six seven eight nine ten eleven twelve thirteen".split()
_SHARED = ("ring", "white_to_white", "pupil", "eye")
_PHRASES = {
    "mark": ("mark", "is", "are", "turned by {} deg"),
    "distance": ("mark", "is", "are", "aimed {} mm behind the limbus"),
    "limbus": ("needle", "runs", "run", "at {} deg to the limbus"),
    "dip": ("needle", "runs", "run", "at {} deg to the iris plane"),
    "tunnel": ("tunnel", "is", "are", "{} mm long"),
    "outside": ("haptic", "has", "have", "{} mm externalised"),
    "wall": ("scleral thickness", "is", "are", "{} mm"),
    "turn": ("needle", "is", "are", "turned down at the end to {} deg"),
    "bend": ("haptic", "is", "are", "bent to the front by {} deg"),
}
"""How a quantity of the sides is called: noun, verb of one and of both, and the rest."""
_FROM_NONE = ("mark", "bend")  # of these, a start at 0 goes without saying
_CENTRED = "centred"


def changed_factors(before, after) -> list:
    """Name the factors (`FACTORS`) that were changed from one session to another.

    Parameters
    ----------
    before, after : Session
    """
    for one in (before, after):
        if not isinstance(one, Session):
            raise LearnerError(f"why takes two Sessions, before and after; {short(one)} was given.")
    return [factor for factor in FACTORS if factor_changes(factor, before, after)]


def factor_changes(factor, before, after) -> dict:
    """Values, by key, in which a session differs from the one before, as far as they belong to a factor.

    Parameters
    ----------
    factor : str
        Of `FACTORS`.
    before, after : Session
    """
    values = after.values.items()
    return {key: value for key, value in values if KEYS[key].key in FACTORS[factor] and value != before[key]}


def describe_changes(before, after) -> str:
    """Say each thing that was changed from one session to another; "nothing" if there is none.

    Parameters
    ----------
    before, after : Session
    """
    return join_words(
        [_factor_words(factor, before, after) for factor in changed_factors(before, after)] or ["nothing"]
    )


def summarise_changes(before, after) -> str:
    """Say what was changed from one session to another; of several things, which.

    Parameters
    ----------
    before, after : Session
    """
    factors = changed_factors(before, after)
    if not factors:
        return "nothing was changed, and nothing moves"
    if len(factors) > 1:
        names = ", ".join(FACTOR_NAMES[factor] for factor in factors)
        return f"{_COUNTS[len(factors)]} things were changed ({names})"
    return _factor_words(factors[0], before, after)


def _factor_words(factor, before, after):
    """Say how one factor was changed."""
    if factor in _SHARED:
        now, was = _shared_words(factor, after.values)[0], _shared_words(factor, before.values)[1]
        return now if was == _CENTRED else f"{now} instead of {was}"
    parts = [part for name in FACTORS[factor] for part in _parameter_words(name, before, after)]
    words = join_words(parts)
    lengths = np.array([[float(p.tunnel_length) for p in one.settled.passages] for one in (before, after)])
    set_by_hand = any(key.startswith("tunnel_") for key in factor_changes(factor, before, after))
    if factor == "tunnel" and not set_by_hand and np.all(np.isfinite(lengths)) and np.ptp(lengths, axis=0).any():
        was, now = (" and ".join(dict.fromkeys(f"{length:.2f}" for length in pair)) for pair in lengths)
        words += f" (tunnels {now} mm instead of {was})"
    return words


def _parameter_words(name, before, after):
    """Say how a quantity or setting of the sides was changed, one part a side, or one for both alike."""
    parts = {}
    for side in SIDES:
        new, old = after[f"{name}_{side}"], before[f"{name}_{side}"]
        turned = name == "turn" and after[f"turned_{side}"] != before[f"turned_{side}"]
        straight, flat = after[f"kind_{side}"] == "straight", not after[f"turned_{side}"]
        idle = {"turn": flat, "tunnel": straight}.get(name, False)
        if new != old and not turned:
            parts.setdefault((new, old, after[f"turn_{side}"] if name == "turned" else 0.0, idle), []).append(side)
    if len(parts) == 2:
        new, old, turn, idle = zip(*parts, strict=True)
        if name in _PHRASES and name != "bend" and idle[0] == idle[1]:
            return [_sides_words(name, new, old, idle=idle[0])]
        if name == "turned" and all(new):
            return [_sides_words("turn", turn)]
    return [_side_words(name, sides, new, old, turn=turn, idle=idle) for (new, old, turn, idle), sides in parts.items()]


def _side_words(name, sides, new, old, *, turn=0.0, idle=False):
    """Say that a quantity or setting of one side or of both is new instead of old.

    Parameters
    ----------
    name : str
        Part of one of `FACTORS`.
    sides : list of str
    new, old : float [unit of the quantity], bool or str
    turn : float [deg]
        To which a needle is turned down.
    idle : bool
        Where it has no effect, it "would be" so.
    """
    noun, one, many, words = _PHRASES.get(name, ("needle", "is", "are", ""))
    if name == "kind":
        one, many, words = "has", "have", "a tunnel of chosen length"
        if new == "straight":
            one, many, words = "passes", "pass", "in a single plane"
    elif name == "backwards":
        words = f"run the {'wrong' if new else 'right'} way round"
    elif name == "turned":
        words = _PHRASES["turn"][3].format(f"{turn:g}") if new else "no longer turned down"
    else:
        then = f"{old:g}"
        if name == "bend":
            back, was_back = new < 0.0 or new == 0.0 > old, old < 0.0 or old == 0.0 > new
            then = f"{abs(old):g}" if back == was_back else f"to the {'back' if was_back else 'front'} by {abs(old):g}"
            words, new = words.replace("front", "back") if back else words, abs(new)
        instead = "" if name in _FROM_NONE and old == 0.0 else f" instead of {then}"
        words = "no longer bent" if name == "bend" and new == 0.0 else f"{words.format(f'{new:g}')}{instead}"
    verb = "would be" if idle else one if len(sides) == 1 else many
    nouns = f"{noun}es" if noun.endswith("s") else f"{noun}s"
    return f"the {sides[0]} {noun} {verb} {words}" if len(sides) == 1 else f"both {nouns} {verb} {words}"


def _sides_words(name, new, old=None, *, idle=False):
    """Say in one breath that a quantity is other than it was on either side, and not alike.

    Parameters
    ----------
    name : str
        Of a quantity in `_PHRASES`; not "bend", whose way may differ.
    new : pair of float [unit of the quantity]
    old : pair of float [unit of the quantity] or None
        None if there was nothing of it before.
    idle : bool
        Where it has no effect, it "would be" so.
    """
    noun, verb, _, words = _PHRASES[name]
    ahead, _, behind = words.partition("{}")
    again = ahead.split()[-1:] if ahead else []
    again = f"{again[0]} " if again and again[0] in ("at", "by", "to") else ""
    first, second = (f"{value:g}" for value in new)
    instead = ""
    if old is not None and not (name in _FROM_NONE and not any(old)):
        instead = f" instead of {' and '.join(dict.fromkeys(f'{value:g}' for value in old))}"
    verb = "would be" if idle else verb
    return f"the first {noun} {verb} {ahead}{first} and the second {again}{second}{behind}{instead}"


def _shared_words(factor, values):
    """Say how a factor that is of neither side is, and in short how it was: two texts."""
    if factor == "ring":
        return f"the marker ring lies {_ring_words(values)}", _ring_words(values)
    if factor == "eye":
        return f"it is a {values['eye']} eye", f"a {values['eye']} one"
    size = f"{values[factor]:g}"
    if factor == "pupil":
        return f"the pupil is {size} mm wide", size
    return f"the eye measures {size} mm from white to white", size


def _ring_words(values):
    x, y = values["ring_x"], values["ring_y"]
    ways = [(x, 3 if x > 0.0 else 9), (y, 12 if y > 0.0 else 6)]
    parts = [f"{abs(size):g} mm towards {hour} o'clock" for size, hour in ways if size]
    return " and ".join(parts) or _CENTRED
