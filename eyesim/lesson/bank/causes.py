"""Items on working back: what may have led to a lens as it was found, how sure one may be, and what to measure next."""

from __future__ import annotations

import functools

from .. import back as lesson
from ..back import found_words, how_sure, likeliest, measure_next, telling, worked_back
from ..cases import apart, exercise, number, pick, settled
from ..item import Item, Span
from ..question import Misconception

_HANDS = "worked back with the table of hands, most of whose spreads are assumptions"
_TOWARDS = {"across": 75.0, "along": 345.0, "lean": 270.0}
_ALIKE = {"across": "mark", "along": "outside", "lean": "dip"}
_CHOICES = {
    "across": ("mark", "dip", "outside", "distance"), "along": ("mark", "dip", "outside", "angle"),
    "lean": ("mark", "dip", "tunnel", "distance"),
}  # fmt: skip
_CLEAR = 0.1  # by how much the likeliest has to be likelier than the next, so that there is no doubt


def _found(kind, size, turned):
    """Fields of what was found: a shift in tenths of a millimetre, or a lean in degrees; turned by half a circle."""
    meridian = (_TOWARDS[kind] + (180.0 if turned else 0.0)) % 360.0
    if kind == "lean":
        return {"tilt": size, "tilt_meridian": meridian}
    return {"decentration": size / 10.0, "decentration_meridian": meridian}


def main(id, kind, size, turned):
    """Ask which cause is the likeliest."""
    return likeliest(id, "exercise", _CHOICES[kind], **_found(kind, size, turned))


def _one_is_likeliest(kind, size, turned):
    told = lesson.by_cause(worked_back(**_found(kind, size, turned)))
    second, first = sorted(told[key] for key in _CHOICES[kind])[-2:]
    return first - second > _CLEAR


def further(id, kind, size, turned):
    """Ask which further measurement tells most."""
    return measure_next(id, "exercise", **_found(kind, size, turned))


def _one_tells_most(kind, size, turned):
    second, first = sorted(telling(worked_back(**_found(kind, size, turned))).values())[-2:]
    return first > second + 0.05


def sure(id, kind, size, turned):
    """Ask how sure one may be of one cause."""
    return how_sure(id, "exercise", _ALIKE[kind], **_found(kind, size, turned))


@functools.cache
def _steeper(side, more):
    """Return what is found of a lens one of whose needles dipped more: with its depth."""
    pose = settled(**{side: {"iris_angle": 5.0 + more}})
    return {
        "tilt": round(float(pose.tilt), 1), "tilt_meridian": round(float(pose.tilt_meridian)),
        "depth": round(float(pose.depth), 2),
    }  # fmt: skip


def _sides(side, more, with_depth):
    """Probability [%] that a dip on the first, or on the second side is the main cause."""
    found = _steeper(side, more)
    told = {"first": 0.0, "second": 0.0}
    for one in worked_back(**(found if with_depth else {k: found[k] for k in ("tilt", "tilt_meridian")})).likely:
        name, _, which = one.cause.name.partition(".")
        if name in ("iris_angle", "needle_bend") and which in told:
            told[which] += 100.0 * float(one.probability.value)
    return told


def which_side(id, side, more):
    """Ask which side slipped, once the depth is known."""
    told, before = _sides(side, more, True), _sides(side, more, False)
    right = max(told, key=told.get) if max(told.values()) > 65.0 else "open"
    words = f"With the depth: first {told['first']:.0f} %, second {told['second']:.0f} %."
    form = pick(
        right,
        ("first", "The first needle, at 0 deg.", f"Its edge lies where a slip of the first side puts it. {words}"),
        ("second", "The second needle, at 180 deg.", f"Its edge lies where a slip of the second side puts it. {words}"),
        ("open", "Nobody can tell: a lean may come from either side.",
         f"By the lean alone it is {before['first']:.0f} and {before['second']:.0f} %; the depth tells more. {words}"),
    )  # fmt: skip
    text = f"{found_words(**_steeper(side, more))} One needle dipped otherwise than the other. Which one slipped?"
    return exercise(id, text, form, settled(**{side: {"iris_angle": 5.0 + more}}), words)


def after_depth(id, side, more):
    """Ask how sure one may be of a side, once the depth is known."""
    told, before = _sides(side, more, True), _sides(side, more, False)
    value = told[side]
    form = number(
        value, 10.0, "%", 0.0, 100.0, f"{value:.0f} %; by the lean alone {before[side]:.0f} %.",
        Misconception("as-before", before[side], "So likely it is by the lean alone; the depth speaks too."),
        Misconception("other-side", 100.0 - value, "That is how likely the other side is; the depth says which."),
    )  # fmt: skip
    text = (
        f"{found_words(**_steeper(side, more))} A beginner's hands, planned dips of 5 deg. How likely is it that a dip "
        f"of the {side} side, at {0 if side == 'first' else 180} deg, is the main cause [%]?"
    )
    return exercise(id, text, form, settled(**{side: {"iris_angle": 5.0 + more}}), f"Worked back: {value:.0f} %.")


def belief(id, kind, size, turned):
    """Ask for the probability of every cause."""
    return lesson.belief(id, "exercise", **_found(kind, size, turned))


_SPANS = (
    Span("kind", "", ("across", "along", "lean")), Span("size", "", (5.0, 6.0, 7.0)), Span("turned", "", (False, True)),
)  # fmt: skip
_SHIFTS = (Span("kind", "", ("across", "along")), *_SPANS[1:])
_DIPS = (Span("side", "", ("first", "second")), Span("more", "deg", (8.0, 9.0, 10.0, 11.0)))

ITEMS = (
    Item("back.likeliest", "choice", "name the likeliest cause of a lens as it was found", "recognise", _SPANS, main,
         _HANDS, _one_is_likeliest),
    Item("back.next", "choice", "choose the measurement that tells most", "design", _SPANS, further, _HANDS,
         _one_tells_most),
    Item("back.how-sure", "number", "say how sure one may be of a cause", "foretell", _SHIFTS, sure, _HANDS,
         clear=apart),
    Item("back.after-depth", "number", "say what one number more tells", "foretell", _DIPS, after_depth, _HANDS,
         clear=apart),
    Item("back.side", "cause", "tell which side slipped", "recognise", _DIPS, which_side, _HANDS),
    Item("back.belief", "plan", "say how likely each cause is", "design", _SHIFTS, belief, _HANDS),
)  # fmt: skip
