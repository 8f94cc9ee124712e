"""Items of *Start here*: which slip shows where, and what both sides share."""

from __future__ import annotations

import functools

import numpy as np

from ...eye.checks import LearnerError
from ...study.verdict import DECENTRATION_LIMIT, TILT_LIMIT, judge
from ..cases import (
    FIRST,
    SIMULATED,
    Slip,
    apart,
    clear,
    exercise,
    number,
    partly,
    pick,
    plain,
    pose_words,
    read_plan,
    settled,
    told_apart,
    which_slip,
)
from ..item import Item, Span, steps
from ..question import Feedback, Misconception, Plan
from ..spending import GAIN, POINTS, Training, full_marks_from, steadier

_USUAL = float(FIRST.iris_angle)


@functools.cache
def _slipped(mark, dip):
    return settled(second={"meridian": 180.0 + mark, "iris_angle": dip})


def limits(id, mark, dip):
    """Ask which limits a mark and a dip that are both off overstep."""
    pose = _slipped(mark, dip)
    mark_alone, dip_alone = _slipped(mark, _USUAL), _slipped(0.0, dip)
    each = (
        f"The mark alone costs {mark_alone.decentration:.2f} mm and {mark_alone.tilt:.1f} deg, the dip alone "
        f"{dip_alone.decentration:.2f} mm and {dip_alone.tilt:.1f} deg; together the lens lies {pose_words(pose)}."
    )
    form = pick(
        judge(pose).key,
        ("well", "Neither: it lies within both.", f"Neither limit is overstepped only if both slips are small. {each}"),
        ("off-centre", "It is too far off centre, and flat enough.", "A mark shifts the lens and hardly tilts it. "
                                                                     f"{each}"),
        ("tilted", "It is tilted too much, and centred enough.", f"A dip tilts the lens and hardly shifts it. {each}"),
        ("both", "It is too far off centre and tilted too much.", f"Each slip pays in its own coin. {each}"),
    )  # fmt: skip
    text = (
        f"The second mark stands {mark:g} deg from where it should, and the second needle dips {dip:g} deg instead of "
        f"{_USUAL:g}; all else is as planned. Limits are {DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg (chosen for "
        "teaching). Which does the lens overstep?"
    )
    return exercise(id, text, form, pose, each)


def alike(id, turn, dip):
    """Ask what becomes of two sides that are wrong alike."""
    planned = plain()
    pose = settled({"meridian": turn, "iris_angle": dip}, {"meridian": 180.0 + turn, "iris_angle": dip})
    deeper = float(pose.depth - planned.depth)
    told = f"the lens lies {pose_words(pose)}, {deeper:.2f} mm deeper than planned and turned by {turn:g} deg"
    form = pick(
        "deeper" if pose.tilt < 0.5 and pose.decentration < 0.05 and deeper > 0.1 else "off",
        ("off", "Off centre: two wrong marks shift it twice as far as one.",
         f"The marks are still opposite, and only what differs between the sides shifts a lens: {told}."),
        ("tilted", "Tilted: two steep needles lean it over.",
         f"Each needle leans the lens one way, and two alike lean it neither way: {told}."),
        ("deeper", "Centred and flat, but deeper.",
         f"What both sides share sets the depth, and what differs sets the rest: {told}."),
        ("same", "As planned: errors that are alike cancel.",
         f"Alike on both sides cancels for shift and tilt and adds up for depth: {told}."),
    )  # fmt: skip
    text = (
        f"Both marks were set {turn:g} deg too far counter-clockwise, and both needles dip {dip:g} deg instead of "
        f"{_USUAL:g}. How does the lens come to lie?"
    )
    return exercise(id, text, form, pose, f"Wrong alike on both sides: {told}.")


def tilt(id, more):
    """Ask for the tilt that one steeper needle brings."""
    pose = _slipped(0.0, _USUAL + more)
    value = float(pose.tilt)
    form = number(
        value, 0.5, "deg", 0.0, 20.0,
        f"{more:g} deg between the needles tilt the lens by {value:.1f} deg: the other haptic holds against it.",
        Misconception("all-of-it", more, "The lens does not follow one needle: two haptics hold it, and it leans by "
                                         "about half of what differs between them."),
        Misconception("nothing", 0.0, "A lens is held in direction as well as in place where each tunnel opens: what "
                                      "differs in dip between the sides leans it over."),
    )  # fmt: skip
    text = (
        f"One needle dips {more:g} deg more than the other; both tunnels are alike in length. By how many degrees "
        "does the lens tilt?"
    )
    return exercise(
        id, text, form, pose, f"Settled with dips of {_USUAL:g} and {_USUAL + more:g} deg: {value:.2f} deg."
    )


def depth(id, dip):
    """Ask how much deeper two steeper needles put the lens."""
    planned = plain()
    pose = settled({"iris_angle": dip}, {"iris_angle": dip})
    value = float(pose.depth - planned.depth)
    falls = float(planned.passages[0].inner[2] - pose.passages[0].inner[2])
    form = number(
        value, 0.06, "mm", 0.0, 3.0,
        f"The lens lies {value:.2f} mm deeper: {falls:.2f} mm since the tunnels open deeper, the rest since the "
        "haptics point down as they enter.",
        Misconception("openings-alone", falls, f"By {falls:.2f} mm only the openings have gone deeper. The haptics "
                                               "also enter more steeply and carry the lens further down."),
        Misconception("nothing", 0.0, "Alike on both sides it neither shifts nor tilts the lens, but it does not "
                                      "cancel: both push the same way, down."),
    )  # fmt: skip
    text = (
        f"Both needles dip {dip:g} deg instead of {_USUAL:g}; the tunnels stay 2 mm long. How much deeper does the "
        "lens come to lie?"
    )
    return exercise(id, text, form, pose, f"From {planned.depth:.2f} to {pose.depth:.2f} mm: {value:.2f} mm.")


_SLIPS = {
    "mark": Slip(
        lambda size: {"meridian": 180.0 + 12.0 * size}, "Its mark was {:g} deg off.", 12.0,
        "A mark shifts the lens across the line of the openings and leaves it flat: {}.",
    ),
    "dip": Slip(
        lambda size: {"iris_angle": _USUAL + 12.0 * size}, "Its needle dipped {:g} deg more.", 12.0,
        "A dip leans the lens over and leaves it nearly centred: {}.",
    ),
    "tunnel": Slip(
        lambda size: {"tunnel_length": 2.0 - size}, "Its tunnel was {:g} mm shorter.", 1.0,
        "A shorter tunnel leaves more haptic inside, which pushes the lens away from that side, along the line: {}.",
    ),
}  # fmt: skip


def cause(id, slip, size):
    """Ask which one slip left the lens as it was found."""
    text = (
        "Marks were planned at 0 and 180 deg. After the operation the lens is found {}. One thing went wrong, on the "
        "second side, at 180 deg. What was it?"
    )
    return which_slip(id, _SLIPS, slip, size, text, say=pose_words)


def follow(id, mark, dip):
    """Ask for a second pass that fits a first one that went wrong and is locked."""
    first = {"meridian": mark, "iris_angle": dip}
    best = settled(first, {"meridian": 180.0 + mark, "iris_angle": dip})
    example = "{'meridian': 180, 'iris_angle': 5}"
    form = Plan(
        f"Answer with the meridian and the dip of the second pass [deg], such as {example}.",
        functools.partial(_judge_follow, mark, dip, example),
        {"meridian": "Meridian [deg]", "iris_angle": "Dip [deg]"},
    )
    text = (
        f"The first haptic is locked, and its pass went wrong: the mark stands at {mark:g} deg instead of 0, and the "
        f"needle dipped {dip:g} deg instead of {_USUAL:g}. The second side is still untouched. Choose its meridian "
        "and its dip so that the lens lies centred and flat, within 0.1 mm and 1 deg. Tunnels are 2 mm."
    )
    answer = {"meridian": 180.0 + mark, "iris_angle": dip}
    wrong = {
        "as-first-planned": {"meridian": 180.0, "iris_angle": _USUAL},
        "mark-alone": {"meridian": 180.0 + mark, "iris_angle": _USUAL},
        "leans-against": {"meridian": 180.0 - mark, "iris_angle": max(0.0, 2.0 * _USUAL - dip)},
    }
    reasoning = (
        f"Opposite to what is there, not to what was planned: {answer}. The lens then lies {pose_words(best)}, only "
        f"turned, and {best.depth - plain().depth:.2f} mm deeper."
    )
    return exercise(id, text, form, best, reasoning, answer=answer, wrong=wrong)


def _judge_follow(mark, dip, example, answer):
    meridian, dips = read_plan(answer, ("meridian", "iris_angle"), ("deg", "deg"), example)
    if not 90.0 <= meridian <= 270.0 or not 0.0 <= dips <= 45.0:
        raise LearnerError("Sensible meridians lie between 90 and 270 deg, sensible dips between 0 and 45 deg.")
    first = {"meridian": mark, "iris_angle": dip}
    pose = settled(first, {"meridian": meridian, "iris_angle": dips})
    start = settled(first, {"meridian": 180.0, "iris_angle": _USUAL})
    head = f"With this second pass the lens lies {pose_words(pose)}."
    if pose.decentration <= 0.1 and pose.tilt <= 1.0:
        return Feedback(True, 1.0, f"{head} What differs between the sides is gone; what they share stays.", pose=pose)
    left = [float(v) for v in (pose.decentration, pose.tilt)]
    were = [float(v) for v in (start.decentration, start.tilt)]
    credit = 0.5 * sum(np.clip(1.0 - a / b, 0.0, 1.0) for a, b in zip(left, were, strict=True))
    if abs(meridian - 180.0) < 1e-6 and abs(dips - _USUAL) < 1e-6:
        return partly(
            0.0,
            f"{head} The second pass as first planned fits a first one that is not there.",
            "as-first-planned",
            pose=pose,
        )
    if pose.decentration <= 0.1:
        return partly(credit, f"{head} The marks are opposite; the dips are not alike yet.", "mark-alone", pose=pose)
    if sum(a > b + 0.02 for a, b in zip(left, were, strict=True)):
        return partly(
            0.0, f"{head} To err against the first side doubles what differs; go with it.", "leans-against", pose=pose
        )
    return partly(credit, f"{head} Go on: opposite in mark, and alike in dip, to the pass that is there.", pose=pose)


_TRAINED = {"mark": "meridian", "dip": "iris_angle", "tunnel": "tunnel_length", "outside": "outside"}
_TRAINED_WORDS = {"mark": "Marks", "dip": "Dips", "tunnel": "Tunnels", "outside": "Left outside"}


_TRAINING = Training(
    tuple(_TRAINED), functools.partial(steadier, tuple(_TRAINED.values())),
    "{'mark': 4, 'dip': 3, 'tunnel': 2, 'outside': 1}", draws=500,
)  # fmt: skip


def train(id, off, lean):
    """Ask how to spend training on the errors of a hand."""
    (best, spent), none = _TRAINING.best(off, lean), _TRAINING.share(_TRAINING.none, off, lean)
    form = _TRAINING.form(off, lean, _slip_in_training, _TRAINED_WORDS.values())
    text = (
        f"A beginner's hands (spreads of the table of hands, most of them assumptions) leave {100 * none.value:.0f} % "
        f"of the lenses within {off:g} mm and {lean:g} deg. You have {POINTS} points of training. Each point takes "
        f"{100 * (1.0 - GAIN):.0f} % off one spread: of marks, dips, tunnels or what is left outside. Spend them so "
        f"that as many lenses as can be end within. Full marks from {100 * full_marks_from(best):.0f} %."
    )
    answer = dict(zip(_TRAINED, spent, strict=True))
    wrong = {
        "marks-alone": dict.fromkeys(_TRAINED, 0) | {"mark": POINTS},
        "outside-alone": dict.fromkeys(_TRAINED, 0) | {"outside": POINTS},
    }
    reasoning = (
        f"The best that was found keeps {best.text('.0%')}: {answer}. Tilt comes from dips, shift from tunnels and "
        "marks."
    )
    return exercise(id, text, form, plain(), reasoning, answer=answer, wrong=wrong)


def _slip_in_training(spent):
    most = max(spent, key=spent.get)
    if most in ("mark", "outside") and spent[most] >= 0.8 * POINTS:
        words = "What is trained alone soon has nothing left to give: dips tilt and tunnels shift."
        return words, f"{most}{'s' * (most == 'mark')}-alone"
    return "Ask of each error what it does to the lens, and which limit it then oversteps.", None


ITEMS = (
    Item("start.limits", "choice", "tell which limit a slip in mark and dip oversteps", "foretell",
         (Span("mark", "deg", (2.0, 3.0, 4.0, 10.0, 11.0, 12.0, 14.0)),
          Span("dip", "deg", (6.0, 7.0, 9.0, 17.0, 18.0, 20.0))),
         limits, SIMULATED, lambda mark, dip: clear(_slipped(mark, dip))),
    Item("start.alike", "choice", "tell errors that cancel from errors that add up", "recognise",
         (Span("turn", "deg", steps(6.0, 20.0, 2.0)), Span("dip", "deg", steps(10.0, 20.0, 2.0))), alike, SIMULATED),
    Item("start.tilt", "number", "foretell the tilt that unequal dips bring", "foretell",
         (Span("more", "deg", steps(6.0, 14.0, 0.5)),), tilt, SIMULATED),
    Item("start.depth", "number", "foretell the depth that steeper needles bring", "foretell",
         (Span("dip", "deg", steps(12.0, 20.0, 0.5)),), depth, SIMULATED, clear=apart),
    Item("start.cause", "cause", "name the slip behind a lens that was found", "recognise",
         (Span("slip", "", tuple(_SLIPS)), Span("size", "", (0.7, 0.8, 0.9, 1.0))), cause, SIMULATED,
         functools.partial(told_apart, _SLIPS)),
    Item("start.follow", "plan", "fit a second pass to a first one that went wrong", "design",
         (Span("mark", "deg", (-12.0, -10.0, -8.0, 8.0, 10.0, 12.0)), Span("dip", "deg", steps(11.0, 16.0, 1.0))),
         follow, SIMULATED),
    Item("start.train", "plan", "choose what a hand should train first", "design",
         (Span("off", "mm", (0.4, 0.45, 0.5)), Span("lean", "deg", (3.0, 4.0, 5.0))), train,
         "computed by the simulation with the table of hands, most of whose spreads are assumptions"),
)  # fmt: skip
