"""Items of *Mark opposite points*: what a mark that is not opposite costs, in which direction, and what to re-mark."""

from __future__ import annotations

import functools

import numpy as np

from ...eye.checks import LearnerError
from ...eye.frames import direction_words
from ...hold.rest import line_parts
from ...hold.settle import settle
from ...study.verdict import DECENTRATION_LIMIT
from ...text.reading import read_dict, read_number
from ..cases import EYE, FIRST, LENS, SECOND, pose_words, settled
from ..marks import ringed, share_within, way_on_wall
from ..question import Feedback, Misconception, Plan
from .item import Item, Span, steps
from .said import SIMULATED, apart, exercise, found, number, partly, pick

_MARKS = (
    "computed by the simulation; spread of freehand marks: chosen for teaching, published series lie between 2 and 5 "
    "deg"
)


def shift(id, off):
    """Ask how far off centre one mark puts the lens."""
    pose = settled(second={"meridian": 180.0 + off})
    value, arc = float(pose.decentration), way_on_wall(off)
    form = number(
        value, 0.04, "mm", 0.0, 2.0,
        f"{off:g} deg cost {value:.2f} mm, that is {value / off:.3f} mm a degree.",
        Misconception("arc-on-the-wall", arc, f"{arc:.2f} mm is the way along the sclera. Inside, the openings lie "
                                              "nearer to the axis, and the lens follows the middle of the two: less "
                                              "than half of it arrives."),
        Misconception("twice", 2.0 * value, "This is twice what happens. Only one mark is off, and the lens follows "
                                            "the middle of the two openings."),
    )  # fmt: skip
    text = f"One mark is {off:g} deg from opposite, all else is alike. How far off centre does the lens come to rest?"
    return exercise(id, text, form, pose, f"Settled with the second mark at {180.0 + off:g} deg: {value:.3f} mm.")


def limit(id, within):
    """Ask how far off one mark may be for a limit."""
    errors = np.linspace(0.0, 20.0, 401)
    off = settle(EYE, LENS, FIRST, SECOND.but(meridian=180.0 + errors)).decentration
    value, on_wall = float(np.interp(within, off, errors)), within / way_on_wall(1.0)
    form = number(
        value, 0.5, "deg", 0.0, 20.0, f"At {value:.1f} deg the lens is {within:g} mm off centre.",
        Misconception("arc-on-the-wall", on_wall, f"At {on_wall:.1f} deg the mark has moved {within:g} mm along the "
                                                  "sclera; the lens moves less than half as far."),
        Misconception("twice", 2.0 * value, "This is twice as much: the lens would be off by twice the limit."),
    )  # fmt: skip
    text = f"How many degrees from opposite may one mark stand before the lens is {within:g} mm off centre?"
    pose = settled(second={"meridian": 180.0 + value})
    return exercise(id, text, form, pose, f"Decentration grows by {within / value:.3f} mm a degree: {value:.2f} deg.")


@functools.cache
def _one(off):
    return settled(second={"meridian": 180.0 + off})


def turned(id, turn, more):
    """Ask what two marks do that were both turned, alike or not."""
    pose = settled({"meridian": turn}, {"meridian": 180.0 + turn + more})
    one = _one(turn)
    told = f"the lens lies {pose_words(pose)}"
    form = pick(
        "only-turned" if pose.decentration < 0.05 else "difference",
        ("only-turned", "Centred and flat, only turned.",
         f"Only if the marks are still opposite. They stand {180.0 + more:g} deg apart: {told}."),
        ("difference", "Off centre by what the marks miss each other, and flat.",
         f"The marks miss each other by {more:g} deg, and nothing else counts: {told}."),
        ("sum", "Off centre by what both marks miss their places, and flat.",
         f"What both have in common turns the picture and costs nothing; one mark alone {turn:g} deg off would cost "
         f"{one.decentration:.2f} mm. Here {told}."),
        ("tilted", "Tilted: neither mark is horizontal.", f"A mark changes no dip and no depth: {told}."),
    )  # fmt: skip
    text = (
        f"The marks were meant for 0 and 180 deg and stand at {turn:g} and {180.0 + turn + more:g} deg. Dips and "
        "tunnels are alike. How does the lens come to lie?"
    )
    return exercise(id, text, form, pose, f"The marks stand {180.0 + more:g} deg apart: {told}.")


def ring(id, way, off, calipers):
    """Ask what a ring marker off-centre does."""
    pose = ringed(*((off, 0.0) if way == "along" else (0.0, off)), calipers)
    right = "harmless" if pose.decentration < 0.1 else ("off-and-tilted" if pose.tilt > 1.0 else "off-flat")
    told = f"the lens lies {pose_words(pose)}"
    form = pick(
        right,
        ("harmless", "Centred and flat.",
         "The marks are opposite about the ring's centre. That is enough only where what the ring set is measured "
         f"anew, and the slip lies along the line of the marks: {told}."),
        ("off-flat", "Off centre, and flat.",
         "Across the line of the marks a slip turns both towards one side, at the same depth; along it, a distance "
         f"set by the ring puts one of them deeper: {told}."),
        ("off-and-tilted", "Off centre, and tilted.",
         "Along the line of the marks the ring sets one mark further from the limbus and so deeper in the eye, "
         f"unless the distances are measured anew: {told}."),
    )  # fmt: skip
    measured = (
        "The distances behind the limbus were then measured anew with calipers."
        if calipers
        else "The ring set the distances too; nothing was measured again."
    )
    text = (
        f"A ring with two arms marked 0 and 180 deg at one press. Its centre stood {off:g} mm from the limbal centre, "
        f"{'along' if way == 'along' else 'across'} the line of the two marks. {measured} How does the lens come to "
        "lie?"
    )
    return exercise(id, text, form, pose, f"A ring {off:g} mm off-centre {way} the line: {told}.")


_WAYS = {
    "anticlockwise": (lambda size: ({"meridian": size}, {}), "The first mark was too far counter-clockwise, or the "
                      "second too far clockwise."),
    "clockwise": (lambda size: ({"meridian": -size}, {}), "The first mark was too far clockwise, or the second too far "
                  "counter-clockwise."),
    "first-tunnel": (lambda size: ({"tunnel_length": 2.0 - size / 12.0}, {}), "The first tunnel was too short."),
    "second-tunnel": (lambda size: ({}, {"tunnel_length": 2.0 - size / 12.0}), "The second tunnel was too short."),
}  # fmt: skip


@functools.cache
def _on_line(way, size, line):
    first, second = _WAYS[way][0](size)
    return settled(
        {**first, "meridian": line + first.get("meridian", 0.0)},
        {**second, "meridian": line + 180.0 + second.get("meridian", 0.0)},
    )


def direction(id, way, size, line):
    """Ask which slip moved the lens in this direction."""
    pose = _on_line(way, size, line)
    along, across = line_parts(pose)
    because = (
        "A mark moves the lens across the line of the openings, the way the mark itself slipped at the first side; a "
        "shorter tunnel opens elsewhere and leaves more haptic inside, which pushes it along that line too, away "
        f"from its side. Here it lies {abs(float(across)):.2f} mm across and {abs(float(along)):.2f} mm along. Which "
        "of two marks slipped, the place of the lens alone cannot tell."
    )
    form = pick(way, *((key, words, because) for key, (_, words) in _WAYS.items()))
    text = (
        f"Marks were planned at {line:g} deg (first) and {line + 180.0:g} deg (second). The lens is found "
        f"{found(pose)}. One thing went wrong. What can it have been?"
    )
    others = {key: _on_line(key, size, line) for key in _WAYS}
    reasoning = "; ".join(
        f"{key}: towards {direction_words(other.decentration_meridian)}" for key, other in others.items()
    )
    return exercise(id, text, form, pose, f"The four, simulated: {reasoning}.")


def re_mark(id, first, off, hand):
    """Ask which dry mark to make anew, and where."""
    dry = (first, first + 180.0 + off)
    best = share_within((first, first + 180.0), dry, hand)
    example = "{'first': 11} or {'first': 0, 'second': 180}"
    form = Plan(
        f"Answer with the new marks [deg], such as {example}; a mark you do not name stays where it is.",
        functools.partial(_judge_marks, dry, hand),
        {"first": "First mark [deg]", "second": "Second mark [deg]"},
    )
    text = (
        f"The ink is dry: the first mark stands at {dry[0]:g} deg, the second at {dry[1]:g} deg, {off:g} deg from "
        "opposite. You may wipe off and make anew one or both. Every new mark is made freehand, with a spread (SD) "
        f"of {hand:g} deg; a mark left alone is known exactly. Which, and where, so that the lens lies within "
        f"{DECENTRATION_LIMIT:g} mm as often as can be?"
    )
    wrong = {
        "both-anew": {"first": 0.0, "second": 180.0},
        "turned-the-wrong-way": {"second": dry[1] + off},
        "leave-it": {},
    }
    reasoning = (
        "Make one anew and leave the other: one new mark brings one freehand error, two bring two. The second at "
        f"{first + 180.0:g} deg (or the first at {dry[1] - 180.0:g}) ends within the limit in {100 * best:.0f} % of "
        "eyes."
    )
    pose = settled({"meridian": first}, {"meridian": first + 180.0})
    return exercise(id, text, form, pose, reasoning, answer={"second": first + 180.0}, wrong=wrong)


def _judge_marks(dry, hand, answer):
    given = read_dict(answer, ["first", "second"], "{'first': 11}")
    marks = [
        read_number(given[n], "deg") if n in given else old for n, old in zip(("first", "second"), dry, strict=True)
    ]
    if not all(-360.0 <= mark <= 720.0 for mark in marks):
        raise LearnerError("Sensible meridians lie between 0 and 360 deg.")
    new = [mark != old for mark, old in zip(marks, dry, strict=True)]
    share, best = share_within(tuple(marks), dry, hand), share_within((dry[0], dry[0] + 180.0), dry, hand)
    off = (marks[1] - marks[0]) % 360.0 - 180.0
    head = (
        f"Your plan leaves the lens within {DECENTRATION_LIMIT:g} mm in {100 * share:.0f} % of eyes, the best in "
        f"{100 * best:.0f} %."
    )
    if share >= best - 0.02:
        return Feedback(True, 1.0, f"{head} One mark stays, and only one freehand error comes in.")
    credit = share / best
    if not any(new):
        return partly(0.0, f"{head} Left as they are, the marks stand {off:g} deg from opposite.", "leave-it")
    if all(new) and abs(off) < 4.0:
        return partly(credit, f"{head} Two new marks bring two freehand errors; one would do.", "both-anew")
    if abs(off) > abs(dry[1] - dry[0] - 180.0) + 1.0:
        words = f"{head} Aimed at, these marks are {abs(off):g} deg from opposite: turned the wrong way."
        return partly(credit, words, "turned-the-wrong-way")
    return partly(credit, f"{head} Aimed at, the marks are still {abs(off):g} deg from opposite.")


ITEMS = (
    Item("marks.shift", "number", "foretell what a mark that is off costs", "foretell",
         (Span("off", "deg", steps(5.0, 14.0, 0.5)),), shift, SIMULATED, clear=apart),
    Item("marks.limit", "number", "turn a limit at the lens into a limit for the mark", "foretell",
         (Span("within", "mm", steps(0.25, 0.6, 0.05)),), limit, SIMULATED),
    Item("marks.turned", "choice", "tell opposite from horizontal", "recognise",
         (Span("turn", "deg", steps(8.0, 20.0, 1.0)), Span("more", "deg", (0.0, 7.0, 8.0, 9.0))), turned, SIMULATED),
    Item("marks.ring", "choice", "foretell what a marker set off-centre does", "foretell",
         (Span("way", "", ("along", "across")), Span("off", "mm", steps(0.4, 0.7, 0.05)),
          Span("calipers", "", (False, True))), ring, SIMULATED),
    Item("marks.direction", "cause", "read from the direction of a shift what slipped, and what it cannot tell",
         "recognise",
         (Span("way", "", tuple(_WAYS)), Span("size", "deg", (9.0, 10.0, 11.0, 12.0)),
          Span("line", "deg", steps(0.0, 150.0, 30.0))), direction, SIMULATED),
    Item("marks.re-mark", "plan", "choose which mark to make anew when hands spread", "design",
         (Span("first", "deg", (-4.0, -3.0, 3.0, 4.0)), Span("off", "deg", (-10.0, -9.0, -8.0, 8.0, 9.0, 10.0)),
          Span("hand", "deg", (3.5, 4.0, 4.5))), re_mark, _MARKS),
)  # fmt: skip
