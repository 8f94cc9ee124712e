"""Mark opposite points: what a mark that is not opposite does, and what two marks wrong alike do not."""

from __future__ import annotations

import functools
from statistics import NormalDist

import numpy as np

from ..eye.checks import LearnerError
from ..eye.frames import direction_words
from ..hold.marker import ring_marks
from ..hold.rest import line_parts
from ..hold.settle import settle
from ..study.verdict import DECENTRATION_LIMIT, judge
from ..text.reading import read_dict, read_number
from .build import EYE, FIRST, LENS, SECOND, SIMULATED, are_apart, build, number, partly, pick, pose_of, pose_words
from .item import Item, Span, steps
from .question import Feedback, Misconception, Plan, Scene
from .slips import examination_words

_MARKS = (
    "computed by the simulation; spread of freehand marks: chosen for teaching, published series lie between 2 and 5 "
    "deg"
)
_DRAWS = 400


@functools.cache
def _one_off(off):
    """Pose after one mark that stands some degrees from opposite, a `Settled`."""
    return pose_of(second={"meridian": 180.0 + off})


def _way_on_wall(degrees):
    """Way of the outer opening along the wall [mm] when its mark slips by some degrees."""
    outer = pose_of().passages[0].outer
    return float(np.hypot(outer[0], outer[1]) * np.radians(degrees))


def _which_way(id, off):
    """Ask what one mark that is not opposite does."""
    pose = _one_off(off)
    along, across = (abs(float(part)) for part in line_parts(pose))
    right = "tilts" if pose.tilt > 2.0 else ("across" if across > along else "to-the-mark")
    form = pick(
        right,
        ("tilts", "It tilts, and stays centred.",
         "A mark turns the pass about the eye's axis and changes neither its iris angle nor its depth: the "
         f"tilt is {pose.tilt:.1f} deg. The optic lies {pose_words(pose)}."),
        ("across", "It moves sideways, across the haptic axis, and stays flat.",
         f"The middle of the two internal entries has slipped sideways, and the optic follows it: {across:.2f} mm "
         f"across the haptic axis, {along:.2f} mm along it, {pose.tilt:.1f} deg of tilt."),
        ("to-the-mark", "It moves towards the mark that is wrong.",
         f"Neither haptic has become longer or shorter, so the optic moves {along:.2f} mm along the haptic "
         f"axis and {across:.2f} mm across it: not towards the mark, but the way the mark itself slipped."),
        ("nothing", "Nothing to speak of: the haptics are soft and even it out.",
         "The haptics are soft, but both push alike, and the optic rests where they balance: "
         f"{pose.decentration:.2f} mm off centre."),
    )  # fmt: skip
    text = (
        f"The first mark stands at 0 deg, the second at {180.0 + off:g} deg instead of 180. Both needles are run "
        "alike, with the same tunnels and iris angles, and both haptics are flanged. What does the lens do?"
    )
    reasoning = (
        "The internal entries are opposite no more; their middle slips across the line that joins them, and the lens "
        f"with it. It lies {pose_words(pose)}."
    )
    return build(id, text, form, pose, reasoning, matters=judge(pose))


def _turned(id, turn, more):
    """Ask what two marks do that were both turned, alike or not."""
    pose, one = pose_of({"meridian": turn}, {"meridian": 180.0 + turn + more}), _one_off(turn)
    lies = f"the lens lies {pose_words(pose)}"
    form = pick(
        "only-turned" if pose.decentration < 0.05 else "difference",
        ("only-turned", "Centred and flat, only rotated.",
         f"It is so where the marks are still opposite, and a rotation is then all that happens; exactly at 3 and 9 "
         f"o'clock matters for a toric lens alone. These stand {180.0 + more:g} deg apart: {lies}."),
        ("sum", "Off centre by what both marks miss their places, and flat.",
         f"What both have in common rotates the lens and costs nothing; one mark alone {turn:g} deg off would cost "
         f"{one.decentration:.2f} mm. Here {lies}."),
        ("tilted", "Tilted: neither mark is horizontal.", f"A mark changes no iris angle and no depth: {lies}."),
        ("difference", "Off centre, since the marks are not opposite, and flat.",
         f"The marks are {more:g} deg from opposite, and nothing else counts: {lies}."),
    )  # fmt: skip
    text = (
        f"The marks were meant for 0 and 180 deg, but the head was rotated, and they stand at {turn:g} and "
        f"{180.0 + turn + more:g} deg. Iris angles and tunnels are alike. How does the lens lie?"
    )
    reasoning = f"The marks stand {180.0 + more:g} deg apart: {lies}."
    scenes = (Scene(f"One mark alone {turn:g} deg off", one),)
    return build(id, text, form, pose, reasoning, scenes=scenes, matters=judge(pose))


@functools.cache
def _ringed(x, y, calipers=False):
    """Pose of a lens whose marks were made by a ring that stood off-centre, a `Settled`.

    Parameters
    ----------
    x, y : float [mm]
        Where the ring's centre stood.
    calipers : bool
        Whether both distances behind the limbus were measured anew.
    """
    names = ("meridian", "limbus_distance")
    sides = [dict(zip(names, ring_marks(EYE, x, y, at, calipers=calipers), strict=True)) for at in (0.0, 180.0)]
    return pose_of(*sides)


def _ring(id, way, off, calipers):
    """Ask what a ring marker off-centre does."""
    along, across = (off, 0.0), (0.0, off)
    pose = _ringed(*(along if way == "along" else across), calipers)
    other = _ringed(*(across if way == "along" else along), calipers)
    again = _ringed(*(along if way == "along" else across), True)
    right = "harmless" if pose.decentration < 0.1 else ("off-and-tilted" if pose.tilt > 1.0 else "off-flat")
    lies = f"the lens lies {pose_words(pose)}"
    anew = "" if calipers else f" Measured anew with calipers it would be {again.decentration:.2f} mm."
    form = pick(
        right,
        ("harmless", "Centred and flat: the marks are exactly opposite.",
         "The marks are opposite about the ring's centre. That is enough only where what the ring set is measured "
         f"anew, and the slip lies along the line of the marks: {lies}."),
        ("off-flat", "Off centre, and flat.",
         "Across the line of the marks a slip turns both towards one side, at the same depth; along it, a distance "
         f"set by the ring puts one of them deeper: {lies}."),
        ("off-and-tilted", "Off centre, and tilted.",
         "Along the line of the marks the ring sets one mark further from the limbus and so deeper in the eye, "
         f"unless the distances are measured anew: {lies}.{anew}"),
    )  # fmt: skip
    measured = (
        "The distances behind the limbus were then measured anew with calipers."
        if calipers
        else "The ring set the distances too; nothing was measured again."
    )
    text = (
        f"A ring with two arms marked 0 and 180 deg at one press. Its centre stood {off:g} mm from the limbal centre, "
        f"{way} the line of the two marks. {measured} How does the lens lie?"
    )
    reasoning = f"A ring {off:g} mm off-centre {way} the line: {lies}."
    scenes = (Scene(f"The same slip {'across' if way == 'along' else 'along'} the line", other),)
    return build(id, text, form, pose, reasoning, scenes=scenes, matters=judge(pose))


def _shift(id, off):
    """Ask how far off centre one mark puts the lens."""
    pose = _one_off(off)
    value, arc = float(pose.decentration), _way_on_wall(off)
    form = number(
        value, 0.04, "mm", 0.0, 2.0, f"{off:g} deg cost {value:.2f} mm, that is {value / off:.3f} mm a degree.",
        Misconception("arc-on-the-wall", arc,
                      f"{arc:.2f} mm is the way along the sclera. Inside, entries lie nearer to the eye's axis, and "
                      "the lens follows the middle of the two: less than half of it arrives."),
        Misconception("twice", 2.0 * value,
                      "This is twice what happens. Only one mark is off, and the lens follows the middle of the two "
                      "internal entries."),
        Misconception("degrees-as-millimetres", off,
                      "These are the degrees. As a distance: the entries lie some 7 mm from the axis of the eye, "
                      "and the lens follows their middle."),
    )  # fmt: skip
    text = f"One mark is {off:g} deg from opposite, all else is alike. How far off centre does the lens rest?"
    reasoning = f"Settled with the second mark at {180.0 + off:g} deg: {value:.3f} mm."
    return build(id, text, form, pose, reasoning, matters=judge(pose))


def _limit(id, within):
    """Ask how far off one mark may be for a limit."""
    errors = np.linspace(0.0, 20.0, 401)
    off = settle(EYE, LENS, FIRST, SECOND.but(meridian=180.0 + errors)).decentration
    value, on_wall = float(np.interp(within, off, errors)), within / _way_on_wall(1.0)
    form = number(
        value, 0.5, "deg", 0.0, 20.0, f"At {value:.1f} deg the lens is {within:g} mm off centre.",
        Misconception("arc-on-the-wall", on_wall,
                      f"At {on_wall:.1f} deg the mark has moved {within:g} mm along the sclera; the lens moves less "
                      "than half as far. There is more room than that."),
        Misconception("twice", 2.0 * value, "This is twice as much: the lens would be off by twice the limit."),
    )  # fmt: skip
    text = f"How many degrees from opposite may one mark stand before the lens is {within:g} mm off centre?"
    reasoning = f"Decentration grows by {within / value:.3f} mm a degree: {value:.2f} deg."
    return build(id, text, form, _one_off(value), reasoning)


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
    return pose_of(
        {**first, "meridian": line + first.get("meridian", 0.0)},
        {**second, "meridian": line + 180.0 + second.get("meridian", 0.0)},
    )


def _direction(id, way, size, line):
    """Ask which slip moved the lens in this direction."""
    pose = _on_line(way, size, line)
    along, across = line_parts(pose)
    because = (
        "A mark moves the lens across the haptic axis, the way the mark itself slipped at the first side; a "
        "shorter tunnel ends elsewhere and leaves more haptic inside, which pushes it along that axis too, away "
        f"from its side. Here it lies {abs(float(across)):.2f} mm across and {abs(float(along)):.2f} mm along. Which "
        "of two marks slipped, the place of the lens alone cannot tell."
    )
    form = pick(way, *((key, words, because) for key, (_, words) in _WAYS.items()))
    text = (
        f"Marks were planned at {line:g} deg (first) and {line + 180.0:g} deg (second). The lens is found "
        f"{examination_words(pose)}. One thing went wrong. What can it have been?"
    )
    others = {key: _on_line(key, size, line) for key in _WAYS}
    each = "; ".join(f"{key}: towards {direction_words(other.decentration_meridian)}" for key, other in others.items())
    return build(id, text, form, pose, f"The four, simulated: {each}.")


@functools.lru_cache(maxsize=1024)
def _share_within(marks, dry, hand):
    """Share of eyes within the limit of decentration if every mark that is not a dry one is made freehand.

    Parameters
    ----------
    marks, dry : pairs of float [deg]
        Where the marks are wanted, and where they stand.
    hand : float [deg]
        Spread (SD) of a freehand mark.
    """
    levels = np.array([NormalDist().inv_cdf((i + 0.5) / _DRAWS) for i in range(_DRAWS)])
    slips = levels * hand * np.sqrt(sum(mark != old for mark, old in zip(marks, dry, strict=True)))
    pose = settle(EYE, LENS, FIRST.but(meridian=marks[0]), SECOND.but(meridian=marks[1] + slips), on_failure="flag")
    return float(np.mean(np.nan_to_num(pose.decentration, nan=99.0) <= DECENTRATION_LIMIT))


def _re_mark(id, first, off, hand):
    """Ask which dry mark to make anew, and where."""
    dry = (first, first + 180.0 + off)
    best = _share_within((first, first + 180.0), dry, hand)
    form = Plan(
        "Answer with the new marks [deg], such as {'first': 20} or {'first': 20, 'second': 200}; a mark you do not "
        "name stays where it is.",
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
    pose = pose_of({"meridian": first}, {"meridian": first + 180.0})
    scenes = (Scene("The marks as found", pose_of({"meridian": dry[0]}, {"meridian": dry[1]})),)
    label, answer = "One mark made anew, where it was aimed", {"second": first + 180.0}
    return build(id, text, form, pose, reasoning, label=label, scenes=scenes, answer=answer, wrong=wrong)


def _judge_marks(dry, hand, answer):
    given = read_dict(answer, ["first", "second"], "{'first': 20}")
    marks = [
        read_number(given[name], "deg") if name in given else old
        for name, old in zip(("first", "second"), dry, strict=True)
    ]
    if not all(-360.0 <= mark <= 720.0 for mark in marks):
        raise LearnerError("Sensible meridians lie between 0 and 360 deg.")
    new = [mark != old for mark, old in zip(marks, dry, strict=True)]
    share, best = _share_within(tuple(marks), dry, hand), _share_within((dry[0], dry[0] + 180.0), dry, hand)
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
    Item("marks.which-way", "choice", "foretell which way a mark that is off moves the lens", "foretell", (),
         _which_way, SIMULATED, shown={"off": 10.0}, predicts=True),
    Item("marks.turned", "choice", "tell opposite from horizontal", "recognise",
         (Span("turn", "deg", steps(8.0, 20.0, 1.0)), Span("more", "deg", (0.0, 7.0, 8.0, 9.0))), _turned, SIMULATED,
         shown={"turn": 15.0, "more": 0.0}, predicts=True),
    Item("marks.ring", "choice", "foretell what a marker set off-centre does", "foretell",
         (Span("way", "", ("along", "across")), Span("off", "mm", steps(0.4, 0.7, 0.05)),
          Span("calipers", "", (False, True))), _ring, SIMULATED,
         shown={"way": "along", "off": 0.5, "calipers": False}, predicts=True),
    Item("marks.shift", "number", "foretell what a mark that is off costs", "foretell",
         (Span("off", "deg", steps(5.0, 14.0, 0.5)),), _shift, SIMULATED, clear=are_apart, shown={"off": 6.0}),
    Item("marks.limit", "number", "turn a limit at the lens into a limit for the mark", "foretell",
         (Span("within", "mm", steps(0.25, 0.6, 0.05)),), _limit, SIMULATED, shown={"within": DECENTRATION_LIMIT}),
    Item("marks.direction", "cause", "read from the direction of a shift what slipped, and what it cannot tell",
         "recognise",
         (Span("way", "", tuple(_WAYS)), Span("size", "deg", (9.0, 10.0, 11.0, 12.0)),
          Span("line", "deg", steps(0.0, 150.0, 30.0))), _direction, SIMULATED),
    Item("marks.re-mark", "plan", "choose which mark to make anew when hands spread", "design",
         (Span("first", "deg", (-4.0, -3.0, 3.0, 4.0)), Span("off", "deg", (-10.0, -9.0, -8.0, 8.0, 9.0, 10.0)),
          Span("hand", "deg", (3.5, 4.0, 4.5))), _re_mark, _MARKS,
         shown={"first": 3.0, "off": 8.0, "hand": 4.0}),
)  # fmt: skip
