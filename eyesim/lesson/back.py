"""Work back from the result: what may have happened, how likely each is, and what to measure next."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import LearnerError
from ..study.examination import Examination
from ..study.hands import Hands
from ..study.likely import likely_causes
from ..study.working_back import work_back
from ..text.reading import read_dict, read_number
from .build import EYE, FIRST, LENS, SECOND, are_apart, build, number, partly, pick, planned, pose_of
from .item import Item, Span
from .question import Feedback, Misconception, Plan
from .slips import shifted_lens

CAUSES = {
    "mark": ("a mark, or the marker", ("meridian", "marker", "mark_moved")),
    "dip": ("an iris angle", ("iris_angle", "needle_bend")),
    "tunnel": ("a tunnel's length", ("tunnel_length",)),
    "outside": ("an externalised length", ("outside",)),
    "angle": ("a limbus angle", ("limbus_angle",)),
    "distance": ("a distance behind the limbus", ("limbus_distance",)),
}
"""Short word of a cause to what it is called, and to the errors that it stands for."""
_FURTHER = {
    "depth": "how deep the lens lies", "roll": "how far it is rotated",
    "second_tunnel": "the length of the second tunnel", "second_mark": "where the second mark really stands",
}  # fmt: skip
_OPERATIONS, _EXAMINED = 2048, 400
_CLEAR = 0.1  # by how much the likeliest has to be likelier than the next, so that there is no doubt
_NEAR = 0.02  # sum of squares by which probabilities may differ from those that are right; chosen for teaching
_SOURCE = "worked back with the table of hands, most of whose spreads are assumptions"
_HANDS = "The hands are a beginner's, and the plan is the usual one: marks at 0 and 180 deg, iris angles of 5 deg."


@dataclasses.dataclass(frozen=True)
class _Kind:
    """A way in which a lens lies wrong.

    Attributes
    ----------
    towards : float [deg]
        Where to; half a circle further when it is turned.
    choices : tuple of str
        Causes among which is asked for the likeliest.
    cause : str
        The one whose probability is asked for.
    matters : str
    """

    towards: float
    choices: tuple[str, ...]
    cause: str
    matters: str


_KINDS = {
    "across": _Kind(75.0, ("mark", "dip", "outside", "distance"), "mark",
                    "It matters: across the haptic axis nothing can be pulled out or released to cure it."),
    "along": _Kind(345.0, ("mark", "outside", "dip", "distance"), "outside",
                   "It matters: this is the one shift that pulling out or releasing a haptic can cure."),
    "lean": _Kind(270.0, ("mark", "tunnel", "dip", "distance"), "dip",
                  "It matters: making marks anew does nothing for a tilted lens."),
}  # fmt: skip


def _measured(kind, size, turned):
    """Fields of an `Examination`: a shift in tenths of a millimetre, or a tilt in degrees; turned by half a circle."""
    meridian = (_KINDS[kind].towards + 180.0 * turned) % 360.0
    if kind == "lean":
        return {"tilt": size, "tilt_meridian": meridian}
    return {"decentration": size / 10.0, "decentration_meridian": meridian}


@functools.cache
def lens_as_found(kind, size, turned):
    """Label and pose of a lens that lies as it was found.

    Parameters
    ----------
    kind : "across", "along" or "lean"
    size : float
        Shift [0.1 mm], or tilt [deg].
    turned : bool
        Whether it lies the other way.
    """
    meridian = np.radians(_KINDS[kind].towards + 180.0 * turned)
    towards = np.array([np.cos(meridian), np.sin(meridian)])
    if kind != "lean":
        label = "A lens like this, here after errors of a mark and of externalised lengths"
        return label, shifted_lens(*map(float, 0.1 * size * towards))
    side = "second" if turned else "first"
    return f"A lens like this, here after the {side} needle ran too steeply", _tilted_lens(side, *(size * towards))


def _tilted_lens(side, x, y):
    """Pose of a lens tilted by x and y [deg], after errors of iris angle and distance on one side."""
    from scipy.optimize import fsolve

    def lens(values):
        return pose_of(**{side: dict(zip(("iris_angle", "limbus_distance"), map(float, values), strict=True))})

    def miss(values):
        pose = lens(values)
        towards = np.radians(pose.tilt_meridian)
        return pose.tilt * np.cos(towards) - x, pose.tilt * np.sin(towards) - y

    return lens(fsolve(miss, (FIRST.iris_angle, FIRST.limbus_distance), epsfcn=1e-4))


@functools.lru_cache(maxsize=256)
def _work_back(**measured):
    """Return the likely causes of a lens by what was measured of it, with the hands of the table."""
    back = work_back(EYE, LENS, FIRST, SECOND, Hands(), Examination(**measured), n=_OPERATIONS)
    return likely_causes(back, n=_EXAMINED)


def _probabilities(measured):
    """Probability [1] of each of `CAUSES` to be the main one, both sides together."""
    chances = dict.fromkeys(CAUSES, 0.0)
    for one in _work_back(**measured).likely:
        for cause, (_, errors) in CAUSES.items():
            if one.cause.name.partition(".")[0] in errors:
                chances[cause] += float(one.probability.value)
    return chances


def _information(measured):
    """Bits that each of `_FURTHER` would tell."""
    return {one.what: one.bits for one in _work_back(**measured).measurements if one.what in _FURTHER}


def _finding(decentration=None, decentration_meridian=None, tilt=None, tilt_meridian=None, depth=None):
    parts = []
    if decentration is not None:
        parts.append(f"{decentration:g} mm off centre towards {decentration_meridian:g} deg (measured to 0.1 mm)")
    if tilt is not None:
        parts.append(f"tilted by {tilt:g} deg towards {tilt_meridian:g} deg (measured to 1 deg)")
    if depth is not None:
        parts.append(f"{depth:g} mm behind the limbal plane instead of {planned().depth:.2f} (measured to 0.15 mm)")
    return f"The lens is found {' and '.join(parts)}."


def _capital(words):
    return words[0].upper() + words[1:]


def _likeliest(id, kind, size, turned):
    """Ask which cause is the likeliest of a lens as it was found."""
    measured = _measured(kind, size, turned)
    chances = {cause: _probabilities(measured)[cause] for cause in _KINDS[kind].choices}
    choices = (
        (cause, f"{_capital(words)}.", f"{_capital(words)} is the main cause in {100 * chances[cause]:.0f} of 100 "
         "operations that leave a lens like this.")
        for cause, words in ((cause, CAUSES[cause][0]) for cause in chances)
    )  # fmt: skip
    form = pick(max(chances, key=chances.get), *choices)
    text = f"{_finding(**measured)} {_HANDS} Which cause is the likeliest?"
    reasoning = f"Worked back: {', '.join(f'{CAUSES[cause][0]} {100 * one:.0f} %' for cause, one in chances.items())}."
    label, pose = lens_as_found(kind, size, turned)
    return build(id, text, form, pose, reasoning, label=label, matters=_KINDS[kind].matters)


def _one_is_likeliest(kind, size, turned):
    second, first = sorted(_probabilities(_measured(kind, size, turned)).values())[-2:]
    return first - second > _CLEAR


def _measure_next(id, kind, size, turned):
    """Ask which further measurement tells most."""
    measured = _measured(kind, size, turned)
    bits, open_bits = _information(measured), _work_back(**measured).open
    right = max(bits, key=bits.get)
    choices = (
        (
            key,
            f"{_capital(words)}.",
            f"Knowing {words} tells {bits[key]:.2f} of the {open_bits:.2f} bits that are open.",
        )
        for key, words in _FURTHER.items()
    )
    text = f"{_finding(**measured)} {_HANDS} You may measure one more thing. Which shows most about what went wrong?"
    reasoning = f"{_capital(_FURTHER[right])}: {bits[right]:.2f} bits."
    label, pose = lens_as_found(kind, size, turned)
    matters = "It matters: one further number shows better what to do differently."
    return build(id, text, pick(right, *choices), pose, reasoning, label=label, matters=matters)


def _one_tells_most(kind, size, turned):
    second, first = sorted(_information(_measured(kind, size, turned)).values())[-2:]
    return first > second + 0.05


def _how_sure(id, kind, size, turned):
    """Ask how likely one cause is."""
    measured, cause = _measured(kind, size, turned), _KINDS[kind].cause
    chances = _probabilities(measured)
    value = 100.0 * chances[cause]
    alike = Misconception("one-in-six", 100.0 / 6.0, "Causes are not equally likely: some hardly do this at all.")
    wrong = (
        (Misconception("certain", 100.0, "Other errors leave such a lens too, if more rarely."), alike)
        if value < 85.0
        else (alike, Misconception("half", 50.0, "Nothing else does this nearly as often."))
    )
    because = f"It is the main cause in {value:.0f} of 100 operations that leave such a lens."
    text = (
        f"{_finding(**measured)} {_HANDS} How likely is it that {CAUSES[cause][0]} is the main cause, on either side "
        "[%]?"
    )
    reasoning = f"Worked back: {', '.join(f'{CAUSES[one][0]} {100 * chances[one]:.0f} %' for one in chances)}."
    label, pose = lens_as_found(kind, size, turned)
    return build(id, text, number(value, 10.0, "%", 0.0, 100.0, because, *wrong), pose, reasoning, label=label)


_EXAMPLE = "{'mark': 5, 'dip': 15, 'tunnel': 5, 'outside': 10, 'angle': 30, 'distance': 35}"


def _belief(id, kind, size, turned):
    """Ask for the probability of every cause; a proper score."""
    measured = _measured(kind, size, turned)
    chances = _probabilities(measured)
    whole = sum(chances.values())
    answer = {cause: round(100.0 * chance / whole, 1) for cause, chance in chances.items()}
    first, least = max(chances, key=chances.get), min(chances, key=chances.get)
    answer[first] = round(answer[first] + 100.0 - sum(answer.values()), 1)
    form = Plan(
        f"Answer with percentages that add up to 100, such as {_EXAMPLE}.",
        functools.partial(_judge_belief, tuple(chances.values())),
        {cause: f"{_capital(words)} [%]" for cause, (words, _) in CAUSES.items()},
    )
    text = (
        f"{_finding(**measured)} {_HANDS} Say how likely each cause is to be the main one. You are scored by how far "
        "your percentages are from those of operations that leave such a lens (squares; whoever says what they believe "
        "does best)."
    )
    wrong = {
        "only-the-least": dict.fromkeys(CAUSES, 0) | {least: 100},
        "all-alike": {cause: 20 if i < 2 else 15 for i, cause in enumerate(CAUSES)},
    }
    every = ", ".join(f"{cause} {value:g} %" for cause, value in answer.items())
    label, pose = lens_as_found(kind, size, turned)
    reasoning = f"Likeliest is {CAUSES[first][0]}: {every}."
    return build(id, text, form, pose, reasoning, label=label, answer=answer, wrong=wrong)


def _judge_belief(chances, answer):
    given = read_dict(answer, list(CAUSES), _EXAMPLE)
    percent = [read_number(given.get(cause, 0), "%") for cause in CAUSES]
    if min(percent) < 0.0 or abs(sum(percent) - 100.0) > 1.5:
        raise LearnerError(f"Percentages are from 0 on and add up to 100; these add up to {sum(percent):g}.")
    right, believed = np.array(chances), np.array(percent) / 100.0
    off = float(np.sum((believed - right) ** 2))
    if off <= _NEAR:
        likeliest_words = list(CAUSES.values())[int(np.argmax(right))][0]
        because = f"Likeliest is {likeliest_words}, with {100 * right.max():.0f} %."
        return Feedback(True, 1.0, because, verdict="Right, as near as can be known.")
    credit = 1.0 - (off - _NEAR) / 0.6
    head = f"What they miss, squared, adds up to {off:.3f}; up to {_NEAR:g} is as near as can be known."
    if np.ptp(believed) <= 0.06:
        return partly(credit, f"{head} What you found does speak for some causes and against others.", "all-alike")
    if believed.max() > 0.9 and right[int(np.argmax(believed))] < 0.1:
        return partly(0.0, f"{head} What you are sure of hardly leaves such a lens at all.", "only-the-least")
    return partly(credit, f"{head} For each error, ask which way it moves and tilts a lens.")


@functools.cache
def _steeper(side, more):
    """Pose of a lens one of whose needles was steeper, and what is measured of it: with its depth."""
    pose = pose_of(**{side: {"iris_angle": FIRST.iris_angle + more}})
    measured = {"tilt": round(float(pose.tilt), 1), "tilt_meridian": float(round(float(pose.tilt_meridian)))}
    return pose, measured | {"depth": round(float(pose.depth), 2)}


def _sides(measured):
    """Probability [%] that the iris angle of the first, or of the second side is the main cause."""
    chances = {"first": 0.0, "second": 0.0}
    for one in _work_back(**measured).likely:
        name, _, side = one.cause.name.partition(".")
        if name in CAUSES["dip"][1] and side in chances:
            chances[side] += 100.0 * float(one.probability.value)
    return chances


def _without_depth(measured):
    return {name: value for name, value in measured.items() if name != "depth"}


def _which_side(id, side, more):
    """Ask which side slipped, once the depth is known."""
    pose, measured = _steeper(side, more)
    chances, before = _sides(measured), _sides(_without_depth(measured))
    right = max(chances, key=chances.get) if max(chances.values()) > 65.0 else "open"
    words = f"With the depth: first {chances['first']:.0f} %, second {chances['second']:.0f} %."
    form = pick(
        right,
        ("first", "The first needle, at 0 deg.", f"Its edge lies where an error of the first side puts it. {words}"),
        ("second", "The second needle, at 180 deg.", "Its edge lies where an error of the second side puts it. "
                                                     f"{words}"),
        ("open", "Nobody can tell: a tilt may come from either side.",
         f"By the tilt alone it is {before['first']:.0f} and {before['second']:.0f} %; the depth tells more. {words}"),
    )  # fmt: skip
    text = f"{_finding(**measured)} One needle was steeper or flatter than the other. Which one went wrong?"
    return build(id, text, form, pose, words, label=_steeper_label(side, more))


def _steeper_label(side, more):
    return f"What was done: the {side} needle was steeper by {more:g} deg"


def _after_depth(id, side, more):
    """Ask how sure one may be of a side, once the depth is known."""
    pose, measured = _steeper(side, more)
    value, before = _sides(measured)[side], _sides(_without_depth(measured))[side]
    form = number(
        value, 10.0, "%", 0.0, 100.0, f"{value:.0f} %; by the tilt alone {before:.0f} %.",
        Misconception("as-before", before, "That is how likely it is by the tilt alone; the depth counts too."),
        Misconception("other-side", 100.0 - value, "That is how likely the other side is; the depth says which."),
    )  # fmt: skip
    text = (
        f"{_finding(**measured)} {_HANDS} How likely is it that the iris angle of the {side} side, at "
        f"{0 if side == 'first' else 180} deg, is the main cause [%]?"
    )
    return build(id, text, form, pose, f"Worked back: {value:.0f} %.", label=_steeper_label(side, more))


_SPANS = (
    Span("kind", "", tuple(_KINDS)), Span("size", "", (5.0, 6.0, 7.0)), Span("turned", "", (False, True)),
)  # fmt: skip
_SHIFTS = (Span("kind", "", ("across", "along")), *_SPANS[1:])
_STEEPER = (Span("side", "", ("first", "second")), Span("more", "deg", (8.0, 9.0, 10.0, 11.0)))


def _shown(kind):
    return {"kind": kind, "size": 6.0, "turned": False}


ITEMS = (
    Item("back.likeliest", "choice", "name the likeliest cause of a lens as it was found", "recognise", _SPANS,
         _likeliest, _SOURCE, _one_is_likeliest, shown=_shown("lean"), predicts=True),
    Item("back.next", "choice", "choose the measurement that tells most", "design", _SPANS, _measure_next, _SOURCE,
         _one_tells_most, shown=_shown("lean"), predicts=True),
    Item("back.shifted", "choice", "name the likeliest cause of a shift", "recognise", (), _likeliest, _SOURCE,
         shown=_shown("along"), predicts=True),
    Item("back.how-sure", "number", "say how sure one may be of a cause", "foretell", _SHIFTS, _how_sure, _SOURCE,
         clear=are_apart, shown=_shown("across")),
    Item("back.belief", "plan", "say how likely each cause is", "design", _SHIFTS, _belief, _SOURCE,
         shown=_shown("across")),
    Item("back.after-depth", "number", "say what one number more tells", "foretell", _STEEPER, _after_depth, _SOURCE,
         clear=are_apart),
    Item("back.side", "cause", "tell which side slipped", "recognise", _STEEPER, _which_side, _SOURCE),
)  # fmt: skip
