"""Mark opposite points: what a mark that is not opposite does, and what two marks wrong alike do not."""

from __future__ import annotations

import functools
from statistics import NormalDist

import numpy as np

from ..eye.checks import number
from ..hold.marker import ring_marks
from ..hold.rest import line_parts
from ..hold.settle import settle
from ..study.verdict import DECENTRATION_LIMIT, sits_well
from ..text.reading import read_dict, read_number
from .cases import EYE, FIRST, LENS, SECOND, asked, pose_words, settled
from .question import Choice, Feedback, Misconception, Number, Pick, Plan, Scene

_HAND = 4.0  # [deg] SD of one freehand mark; published series lie between 2 and 5 deg
_DRY = (3.0, 191.0)  # [deg] the marks as found in `re_mark`
_SURE = 1.96  # 95 % of a normal spread
_DRAWS = 400


def ten_off(id, kind):
    """Ask about second mark 10 degrees from opposite."""
    pose = settled(second={"meridian": 190.0})
    along, across = line_parts(pose)
    if pose.tilt > 2.0:
        right = "tilts"
    else:
        right = "across" if abs(across) > abs(along) else "to-the-mark"
    form = Pick(
        (
            Choice("tilts", "It tilts, and stays centred.",
                   f"A mark turns the pass about the eye's axis and changes neither its dip nor its depth, so nothing "
                   f"leans: the tilt is {pose.tilt:.1f} deg. The optic comes to lie {pose_words(pose)}."),
            Choice("to-the-mark", "It moves towards the mark that is wrong.",
                   f"Neither haptic has become longer or shorter, so the optic moves {abs(along):.2f} mm along the "
                   f"line of the openings and {abs(across):.2f} mm across it: not towards the mark, but the way the "
                   "mark itself slipped."),
            Choice("across", "It moves sideways, across the line of the openings, and stays flat.",
                   "The middle of the two openings has slipped sideways, and the optic follows it: "
                   f"{abs(across):.2f} mm "
                   f"across the line, {abs(along):.2f} mm along it, {pose.tilt:.1f} deg of tilt."),
            Choice("nothing", "Nothing to speak of: the haptics are soft and even it out.",
                   f"The haptics are soft, but both push alike, and the optic rests where they balance: "
                   f"{pose.decentration:.2f} mm off centre."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The first mark stands at 0 deg, the second at 190 deg instead of 180. Both needles are run alike, with the "
        "same tunnels and dips, and both haptics are locked. What does the lens do?"
    )
    reasoning = (
        f"The inner openings are opposite no more; their middle slips across the line that joins them, and the lens "
        f"with it. It lies {pose_words(pose)}."
    )
    return asked(id, kind, text, form, pose, reasoning)


def both_turned(id, kind):
    """Ask about both marks turned alike."""
    pose = settled(first={"meridian": 15.0}, second={"meridian": 195.0})
    plain = settled()
    turn = pose.roll - plain.roll
    one = settled(second={"meridian": 195.0})
    right = "only-turned" if sits_well(pose) and pose.decentration < 0.05 else "twice"
    form = Pick(
        (
            Choice("twice", "Both marks are wrong, so it is off centre twice as far as with one.",
                   "What counts is the difference between the sides. Both marks were turned the same way and are "
                   f"still opposite, so the errors cancel: {pose.decentration:.2f} mm off centre. One alone would "
                   f"have cost {one.decentration:.2f} mm."),
            Choice("tilted", "It tilts, because neither mark is horizontal.",
                   f"Nothing about the passes is steeper or deeper: the tilt is {pose.tilt:.1f} deg. The whole "
                   f"picture is merely turned, by {turn:.0f} deg."),
            Choice("only-turned", "It is centred and flat, only turned.",
                   f"Both marks wrong alike turn the whole picture by {turn:.0f} deg and change nothing else. "
                   "Exactly at 3 and 9 o'clock does not matter (unless the lens is toric); exactly opposite does."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The marks were meant for 0 and 180 deg, but the head lay turned and both went down 15 deg too far "
        "counter-clockwise, at 15 and 195 deg. They are exactly opposite. How will the lens sit?"
    )
    reasoning = f"Turning both marks turns the pose by {turn:.0f} deg about the axis of the eye and does no more."
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("One mark alone 15 deg off", one),))


def ring_off(id, kind):
    """Ask about ring marker off-centre along the line of the marks."""
    pose = ringed(0.5, 0.0)
    across, again = ringed(0.0, 0.5), ringed(0.5, 0.0, calipers=True)
    far, near = float(pose.first.limbus_distance) - 2.0, 2.0 - float(pose.second.limbus_distance)
    if pose.decentration < 0.05:
        right = "harmless"
    else:
        right = "off-and-tilted" if pose.tilt > 1.0 else "off-flat"
    form = Pick(
        (
            Choice("harmless", "It is centred and flat: the marks are exactly opposite.",
                   "They are opposite about the ring's centre, not about the eye's. One mark lies nearer to the "
                   f"limbus and higher up the wall than the other, and the lens comes to lie {pose_words(pose)}."),
            Choice("off-flat", "It is off centre by about what the ring was, and flat.",
                   f"It is off centre by {pose.decentration:.2f} mm, but not flat: the mark that lies further behind "
                   f"the limbus also lies deeper in the eye, and the lens tilts by {pose.tilt:.1f} deg."),
            Choice("off-and-tilted", "It is off centre, and it tilts as well.",
                   f"One mark lies {far:.1f} mm further behind the limbus, along the wall, the other {near:.1f} mm "
                   f"nearer. The further one lies deeper, so the lens tilts by {pose.tilt:.1f} deg besides being "
                   f"{pose.decentration:.2f} mm off centre. Across the line the same slip costs "
                   f"{across.decentration:.2f} mm and {across.tilt:.1f} deg. Distances measured anew with calipers "
                   f"from the limbus would undo it ({again.decentration:.2f} mm)."),
        ),
        right,
    )  # fmt: skip
    text = (
        "A ring with two arms marks 0 and 180 deg at one press. Its centre stands 0.5 mm to the observer's right of "
        "the limbal centre: along the line of the two marks. The ring sets the distance too; nothing is measured "
        "again. The marks are opposite to the degree. How will the lens sit?"
    )
    reasoning = (
        f"Opposite about the wrong centre: distances from the limbus differ by {far + near:.1f} mm, and the lens lies "
        f"{pose_words(pose)}."
    )
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("The same slip across the line", across),))


def six_off(id, kind):
    """Ask about decentration for 6 degrees."""
    pose = settled(second={"meridian": 186.0})
    value, arc = pose.decentration, way_on_wall(6.0)
    form = Number(
        value, 0.03, "mm", 0.0, 2.0,
        f"Six degrees cost {value:.2f} mm, that is {value / 6:.3f} mm a degree.",
        (
            Misconception("arc-on-the-wall", arc,
                          f"{arc:.2f} mm is the way along the sclera. One mark of two slips, and inside the eye the "
                          "openings lie nearer to the axis: less than half of it arrives at the lens."),
            Misconception("twice", 2 * value,
                          "This is twice what happens. Only one mark is off, and the lens follows the middle of "
                          "the two openings."),
            Misconception("degrees-as-millimetres", 6.0,
                          "These are the degrees. Turn them into a distance: the openings lie some 7 mm from the "
                          "axis, and the lens follows their middle."),
        ),
    )  # fmt: skip
    text = "One mark is 6 deg from opposite, all else is alike. How far off centre does the lens come to rest?"
    return asked(id, kind, text, form, pose, f"Settled with the second mark at 186 deg: {value:.3f} mm off centre.")


def largest_error(id, kind):
    """Ask about largest mark error within the limit of decentration."""
    errors = np.linspace(0.0, 20.0, 401)
    off = settle(EYE, LENS, FIRST, SECOND.but(meridian=180.0 + errors)).decentration
    value = float(np.interp(DECENTRATION_LIMIT, off, errors))
    on_wall = DECENTRATION_LIMIT / way_on_wall(1.0)
    form = Number(
        value, 0.4, "deg", 0.0, 20.0,
        f"At {value:.1f} deg the lens is {DECENTRATION_LIMIT:g} mm off centre.",
        (
            Misconception("arc-on-the-wall", on_wall,
                          f"At {on_wall:.1f} deg the mark has moved {DECENTRATION_LIMIT:g} mm along the sclera; the "
                          "lens moves less than half as far. You have more room than that."),
            Misconception("half", value / 2,
                          "This is half of it. One mark alone is off; the lens follows the middle of the two "
                          "openings."),
            Misconception("twice", value * 2,
                          "This is twice as much. With both marks off one against the other, each could only be "
                          "off by half."),
        ),
    )  # fmt: skip
    text = (
        f"How many degrees from opposite may one mark stand before the lens is {DECENTRATION_LIMIT:g} mm off centre? "
        "(The limit is chosen for teaching.)"
    )
    pose = settled(second={"meridian": 180.0 + value})
    reasoning = (
        f"Decentration grows by {DECENTRATION_LIMIT / value:.3f} mm a degree and reaches the limit at {value:.2f} deg."
    )
    matter = (
        f"It matters: a freehand mark is off by some {_HAND:g} deg or more one time in three (chosen for teaching)."
    )
    return asked(id, kind, text, form, pose, reasoning, matter=matter)


def re_mark(id, kind):
    """Ask about marks made, one off 8 degrees: which to re-mark, and where."""
    first, second = _DRY
    best = share_within((first, first + 180.0))
    form = Plan(
        "Answer with a dict of the new marks in degrees, such as {'first': 11} or {'first': 0, 'second': 180}; "
        "a mark you do not name stays where it is.",
        _judge_marks,
    )
    text = (
        f"The ink is dry: the first mark stands at {first:g} deg, the second at {second:g} deg, "
        f"{second - first - 180:g} deg from opposite. You may wipe off and re-mark one or both. Every new mark is made "
        f"freehand, with a spread (SD) of {_HAND:g} deg; a mark left alone is known exactly. Which do you re-mark, and "
        f"at how many degrees, so that the lens lies within {DECENTRATION_LIMIT:g} mm as often as can be?"
    )
    reasoning = (
        f"Re-mark one and leave the other: one new mark brings one freehand error, two bring two. The second at "
        f"{first + 180:g} deg (or the first at {second - 180:g}) succeeds in {100 * best:.0f} % of eyes."
    )
    wrong = {
        "both-at-three-and-nine": {"first": 0, "second": 180},
        "share-the-error": {"first": first + 4, "second": second - 4},
        "turned-the-wrong-way": {"second": second + 8},
        "leave-it": {},
    }
    scenes = (
        Scene(
            f"The second re-marked at {first + 180:g} deg, where it was aimed",
            settled({"meridian": first}, {"meridian": first + 180.0}),
        ),
        Scene("The marks as found", settled({"meridian": first}, {"meridian": second})),
    )  # fmt: skip
    return asked(
        id, kind, text, form, None, reasoning, scenes=scenes, answer={"second": first + 180.0}, wrong=wrong, matter=""
    )


def _judge_marks(answer):
    given = read_dict(answer, ["first", "second"], "{'first': 11}")
    marks = [
        _meridian(given[name], name) if name in given else old
        for name, old in zip(("first", "second"), _DRY, strict=True)
    ]
    new = [name for name, mark, old in zip(("first", "second"), marks, _DRY, strict=True) if mark != old]
    share, best = share_within(tuple(marks)), share_within((_DRY[0], _DRY[0] + 180.0))
    off = (marks[1] - marks[0]) % 360.0 - 180.0
    found = (
        f"Your plan leaves the lens within {DECENTRATION_LIMIT:g} mm in {100 * share:.0f} % of eyes; the best "
        f"plan does in {100 * best:.0f} %."
    )
    credit = float(np.clip(share / best, 0.0, 1.0))
    if not new:
        return Feedback(False, 0.0, f"{found} Left as they are, the marks stand {off:g} deg from opposite.", "leave-it")
    if len(new) == 2 and abs(off) < 4.0:
        name = "both-at-three-and-nine" if marks[0] % 180.0 == 0.0 else "share-the-error"
        why = "Exactly at 3 and 9 o'clock is worth nothing: opposite is. " if name[0] == "b" else ""
        return Feedback(False, credit, f"{found} {why}Two new marks bring two freehand errors; one would do.", name)
    if abs(off) > 12.0:
        return Feedback(
            False, credit, f"{found} Aimed at, these marks are {abs(off):g} deg from opposite: turned the wrong way.",
            "turned-the-wrong-way",
        )  # fmt: skip
    if credit > 0.97:
        return Feedback(True, 1.0, f"{found} One mark stays, and only one freehand error comes in.")
    return Feedback(False, credit, f"{found} Aimed at, the marks are still {abs(off):g} deg from opposite.")


@functools.lru_cache(maxsize=1024)
def share_within(marks, dry=_DRY, hand=_HAND):
    """Share of eyes within the limit of decentration if every mark [deg] that is not a dry one is made freehand."""
    spread = hand * np.sqrt(sum(mark != old for mark, old in zip(marks, dry, strict=True)))
    slips = _normal_levels() * spread
    pose = settle(EYE, LENS, FIRST.but(meridian=marks[0]), SECOND.but(meridian=marks[1] + slips), on_failure="flag")
    return float(np.mean(np.nan_to_num(pose.decentration, nan=99.0) <= DECENTRATION_LIMIT))


@functools.cache
def _normal_levels():
    return np.array([NormalDist().inv_cdf((i + 0.5) / _DRAWS) for i in range(_DRAWS)])


def _meridian(given, name):
    return number("The plan", name, read_number(given, "deg"), -360.0, 720.0, "deg", "meridian of a mark")


@functools.cache
def ringed(x, y, calipers=False):
    """Where a lens comes to rest if a ring that stands off-centre by (x, y) [mm] made both marks, a `Settled`."""
    names = ("meridian", "limbus_distance")
    sides = [dict(zip(names, ring_marks(EYE, x, y, at, calipers=calipers), strict=True)) for at in (0.0, 180.0)]
    return settled(*sides)


def way_on_wall(degrees):
    """Way of the outer opening along the wall [mm] when its mark slips by some degrees."""
    outer = settled().passages[0].outer
    return float(np.hypot(outer[0], outer[1]) * np.radians(degrees))


PREDICTIONS = {"ten-off": ten_off, "both-turned": both_turned, "ring-off": ring_off}
EXERCISES = {"six-off": six_off, "largest-error": largest_error, "re-mark": re_mark}
