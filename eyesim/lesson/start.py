"""Start here: will the lens sit? Which slip shows where, what both sides share, and which side of an eye is which."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..eye.frames import meridian_to_side
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT, judge, sits_well
from .build import (
    BY_TABLE_OF_HANDS,
    EYE,
    FIRST,
    SIMULATED,
    are_apart,
    build,
    is_clear,
    number,
    partly,
    pick,
    planned,
    pose_of,
    pose_words,
    read_plan,
)
from .item import Item, Span, steps
from .question import Feedback, Misconception, Plan, Scene
from .slips import Slip, is_recognisable, which_slip
from .spending import GAIN, POINTS, ask_spending, steadiness

_USUAL = float(FIRST.iris_angle)


@functools.cache
def _one_side_off(mark, dip):
    return pose_of(second={"meridian": 180.0 + mark, "iris_angle": dip})


def _limits(id, mark, dip):
    """Ask which limits a mark and a dip that are both off overstep."""
    pose, mark_alone, dip_alone = _one_side_off(mark, dip), _one_side_off(mark, _USUAL), _one_side_off(0.0, dip)
    each = (
        f"The mark alone costs {mark_alone.decentration:.2f} mm and {mark_alone.tilt:.1f} deg, the iris angle alone "
        f"{dip_alone.decentration:.2f} mm and {dip_alone.tilt:.1f} deg; together the lens lies {pose_words(pose)}."
    )
    form = pick(
        judge(pose).key,
        ("well", "Yes: it lies within both.", f"It does only if both slips are small. {each}"),
        ("off-centre", "No: it lies too far off centre, though flat enough.",
         f"A mark shifts the lens and hardly tilts it. {each}"),
        ("tilted", "No: it is tilted too much, though centred enough.",
         f"A steeper needle tilts the lens and hardly shifts it. {each}"),
        ("both", "No: it lies too far off centre and is tilted too much.",
         f"Each slip has its own consequence, and each has to be large enough. {each}"),
    )  # fmt: skip
    text = (
        f"Two haptics are about to be flanged. The second mark stands {mark:g} deg from opposite, and the second "
        f"needle ran at {dip:g} deg to the iris plane instead of {_USUAL:g}; all else is as planned. Will the lens lie "
        f"within {DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg (limits chosen for teaching)?"
    )
    cases = {"The mark alone": mark_alone, "The iris angle alone": dip_alone, "As planned": planned()}
    scenes = tuple(Scene(label, other) for label, other in cases.items())
    return build(id, text, form, pose, each, scenes=scenes, matters=judge(pose))


def _alike(id, turn, dip):
    """Ask what becomes of two sides that are wrong alike."""
    first, second = {"meridian": turn, "iris_angle": dip}, {"meridian": 180.0 + turn, "iris_angle": dip}
    pose, one = pose_of(first, second), pose_of(first)
    deeper = float(pose.depth - planned().depth)
    lies = f"the lens lies {pose_words(pose)}, {deeper:.2f} mm deeper than planned"
    lies += f" and rotated by {turn:g} deg" if turn else ""
    form = pick(
        "deeper" if pose.tilt < 0.5 and pose.decentration < 0.05 and deeper > 0.1 else "off",
        ("off", "Off centre: what is wrong on both sides adds up.",
         f"Only what differs between the sides shifts a lens: {lies}."),
        ("tilted", "Tilted: two steep needles tilt it.",
         f"Tilt comes from a difference between the sides. The first side alone would tilt it by {one.tilt:.1f} deg; "
         f"with both alike {lies}."),
        ("deeper", "Centred and flat, but deeper.",
         "What both sides share sets the depth, and what differs sets the rest. It looks perfect under the "
         f"microscope: {lies}."),
        ("same", "As planned: errors that are alike cancel.",
         f"Alike on both sides cancels for shift and tilt and adds up for depth: {lies}."),
    )  # fmt: skip
    marks = f"Both marks were set {turn:g} deg too far counter-clockwise" if turn else "Both marks are right"
    text = (
        f"{marks}, and both needles run at {dip:g} deg to the iris plane instead of {_USUAL:g}; the tunnels are "
        "as planned. How does the lens lie?"
    )
    matters = judge(pose, planned_depth=planned().depth)
    scenes = (Scene("The first side alone wrong", one),)
    return build(id, text, form, pose, f"Wrong alike on both sides: {lies}.", scenes=scenes, matters=matters)


def _which_side(id, line, tunnel):
    """Ask for nasal, temporal, above or below, seen from in front."""
    pose = pose_of({"meridian": line, "tunnel_length": tunnel}, {"meridian": line + 180.0})
    meridian = float(pose.decentration_meridian)
    directions = (meridian, meridian + 180.0, 180.0 - meridian, -meridian)
    side, opposite, mirrored, turned = (meridian_to_side(towards, EYE.side) for towards in directions)
    seen = f"{meridian:.0f} deg in a right eye is {side}."
    form = pick(
        "as-it-lies",
        ("mirrored", f"{mirrored.capitalize()}.",
         "Seen from in front, the observer's right is the patient's left: the nasal side of a right eye."),
        ("upside-down", f"{turned.capitalize()}.",
         "Meridians run counter-clockwise from the observer's right: 90 deg is up, 270 deg is down."),
        ("opposite", f"{opposite.capitalize()}.",
         "The meridian says where the optic's centre lies, not where it came from."),
        ("as-it-lies", f"{side.capitalize()}.", seen),
    )  # fmt: skip
    text = (
        f"In a right eye the optic lies {pose.decentration:.1f} mm off centre towards the meridian of {meridian:.0f} "
        "deg, seen from in front of the patient. Towards which side of the eye is that?"
    )
    return build(id, text, form, pose, seen, matters=judge(pose))


def _how_far(id, tunnel):
    """Ask for the distance off centre from x and y."""
    pose = pose_of({"tunnel_length": tunnel})
    x, y, value = float(pose.x), float(pose.y), float(pose.decentration)
    form = number(
        value, 0.03, "mm", 0.0, 2.0,
        f"The straight distance to the centre: the root of {x:.2f} squared and {y:.2f} squared is {value:.2f} mm.",
        Misconception("sum", abs(x) + abs(y), "This is the sum of both parts, the distance round the corner. Take the "
                                              "straight one."),
        Misconception("larger-part", max(abs(x), abs(y)), "This is the larger part alone. The other counts too, though "
                                                          "less."),
        Misconception("with-sign", x + y, "The signs tell the direction. For the distance, both parts count without "
                                          "sign."),
    )  # fmt: skip
    text = (
        f"A lens has settled with its optic's centre at x = {x:.2f} mm and y = {y:.2f} mm from the limbal centre. "
        "How far off centre is it?"
    )
    return build(id, text, form, pose, f"The root of the sum of squares: {value:.3f} mm.", matters=judge(pose))


def _which_matters(id):
    """Ask which of four poses oversteps a limit."""
    cases = {
        "end-turn": ("one needle turned down to 45 deg at its tunnel's end, the other to 30 deg",
                     pose_of({"exit_angle": 45.0}, {"exit_angle": 30.0})),
        "turned": ("both marks 20 deg from where they should be, exactly opposite",
                   pose_of({"meridian": 20.0}, {"meridian": 200.0})),
        "small-mark": ("one mark 5 deg from opposite", pose_of(second={"meridian": 185.0})),
        "pull": ("0.4 mm more of both haptics externalised", pose_of({"outside": 1.2}, {"outside": 1.2})),
    }  # fmt: skip
    (right,) = (key for key, (_, pose) in cases.items() if not sits_well(pose))
    choices = [
        (key, f"{words.capitalize()}.", f"With {words}, the lens lies {pose_words(pose)}. {judge(pose)}")
        for key, (words, pose) in cases.items()
    ]
    text = (
        f"Which one of these four takes the lens beyond {DECENTRATION_LIMIT:g} mm off centre or {TILT_LIMIT:g} deg "
        "of tilt (limits chosen for teaching)?"
    )
    pose = cases[right][1]
    rest = tuple(Scene(words.capitalize(), other) for key, (words, other) in cases.items() if key != right)
    return build(
        id, text, pick(right, *choices), pose, f"Only this one: the lens lies {pose_words(pose)}.", scenes=rest
    )


def _tilt(id, more):
    """Ask for the tilt that one steeper needle brings."""
    pose = _one_side_off(0.0, _USUAL + more)
    value = float(pose.tilt)
    form = number(
        value, 0.5, "deg", 0.0, 20.0,
        f"{more:g} deg between the needles tilt the lens by {value:.1f} deg: the other haptic holds against it.",
        Misconception("all-of-it", more, "The lens does not follow one needle: two haptics hold it, and it tilts by "
                                         "about half of what differs between them."),
        Misconception("nothing", 0.0, "A lens is held in direction as well as in place where each tunnel ends: what "
                                      "differs in iris angle between the sides tilts it."),
    )  # fmt: skip
    text = (
        f"One needle runs {more:g} deg more steeply to the iris plane than the other; both tunnels are alike in "
        "length. By how many degrees does the lens tilt?"
    )
    reasoning = f"Settled with iris angles of {_USUAL:g} and {_USUAL + more:g} deg: {value:.2f} deg."
    return build(id, text, form, pose, reasoning)


def _depth(id, dip):
    """Ask how much deeper two steeper needles put the lens."""
    pose = pose_of({"iris_angle": dip}, {"iris_angle": dip})
    value = float(pose.depth - planned().depth)
    falls = float(planned().passages[0].inner[2] - pose.passages[0].inner[2])
    form = number(
        value, 0.06, "mm", 0.0, 3.0,
        f"The lens lies {value:.2f} mm deeper: {falls:.2f} mm since the tunnels end deeper, the rest since the "
        "haptics point down as they enter.",
        Misconception("openings-alone", falls, f"By {falls:.2f} mm only the internal entries lie deeper. The "
                                               "haptics also enter more steeply and carry the lens further down."),
        Misconception("nothing", 0.0, "Alike on both sides it neither shifts nor tilts the lens, but it does not "
                                      "cancel: both push the same way, down."),
    )  # fmt: skip
    text = (
        f"Both needles run at {dip:g} deg to the iris plane instead of {_USUAL:g}; the tunnels stay 2 mm long. How "
        "much deeper does the lens lie?"
    )
    return build(id, text, form, pose, f"From {planned().depth:.2f} to {pose.depth:.2f} mm: {value:.2f} mm.")


_SLIPS = {
    "mark": Slip(
        lambda size: {"meridian": 180.0 + 12.0 * size}, "Its mark was {:g} deg off.", 12.0,
        "A mark shifts the lens across the haptic axis and leaves it flat: {}.",
    ),
    "dip": Slip(
        lambda size: {"iris_angle": _USUAL + 12.0 * size},
        "Its needle ran {:g} deg more steeply to the iris plane.", 12.0,
        "Unequal iris angles tilt the lens and leave it nearly centred: {}.",
    ),
    "tunnel": Slip(
        lambda size: {"tunnel_length": 2.0 - size}, "Its tunnel was {:g} mm shorter.", 1.0,
        "A shorter tunnel leaves more haptic inside, which pushes the lens away from that side, along the haptic axis, "
        "and ends elsewhere, which shifts it across that axis as well: {}.",
    ),
}  # fmt: skip


def _cause(id, slip, size):
    """Ask which one slip left the lens as it was found."""
    text = (
        "Marks were planned at 0 and 180 deg. After the operation the lens is found {}. One thing went wrong, on the "
        "second side, at 180 deg. What was it?"
    )
    return which_slip(id, _SLIPS, slip, size, text, say=pose_words)


def _follow(id, mark, dip):
    """Ask for a second pass that fits a first one that went wrong and is locked."""
    first = {"meridian": mark, "iris_angle": dip}
    best = pose_of(first, {"meridian": 180.0 + mark, "iris_angle": dip})
    example = "{'meridian': 180, 'iris_angle': 5}"
    form = Plan(
        f"Answer with the meridian and the iris angle of the second pass [deg], such as {example}.",
        functools.partial(_judge_follow, mark, dip, example),
        {"meridian": "Meridian [deg]", "iris_angle": "Iris angle [deg]"},
    )
    text = (
        f"The first haptic is flanged, and its pass went wrong: the mark stands at {mark:g} deg instead of 0, and the "
        f"needle ran at {dip:g} deg to the iris plane instead of {_USUAL:g}. The second side is still untouched. "
        "Choose its meridian and its iris angle so that the lens lies centred and flat, within 0.1 mm and 1 deg. "
        "Tunnels are 2 mm."
    )
    answer = {"meridian": 180.0 + mark, "iris_angle": dip}
    wrong = {
        "as-first-planned": {"meridian": 180.0, "iris_angle": _USUAL},
        "mark-alone": {"meridian": 180.0 + mark, "iris_angle": _USUAL},
        "leans-against": {"meridian": 180.0 - mark, "iris_angle": max(0.0, 2.0 * _USUAL - dip)},
    }
    reasoning = (
        f"Opposite to what is there, not to what was planned: the second mark at {180.0 + mark:g} deg, its needle at "
        f"{dip:g} deg to the iris plane. The lens then lies {pose_words(best)}, only "
        f"rotated, and {best.depth - planned().depth:.2f} mm deeper."
    )
    return build(id, text, form, best, reasoning, answer=answer, wrong=wrong)


def _judge_follow(mark, dip, example, answer):
    meridian, dips = read_plan(answer, ("meridian", "iris_angle"), ("deg", "deg"), example)
    if not 90.0 <= meridian <= 270.0 or not 0.0 <= dips <= 45.0:
        raise LearnerError("Sensible meridians lie between 90 and 270 deg, sensible iris angles between 0 and 45 deg.")
    first = {"meridian": mark, "iris_angle": dip}
    pose = pose_of(first, {"meridian": meridian, "iris_angle": dips})
    start = pose_of(first, {"meridian": 180.0, "iris_angle": _USUAL})
    head = f"With this second pass the lens lies {pose_words(pose)}."
    if round(float(pose.decentration), 2) <= 0.1 and round(float(pose.tilt), 1) <= 1.0:  # as they are printed
        return Feedback(True, 1.0, f"{head} What differs between the sides is gone; what they share stays.", pose=pose)
    left = [float(v) for v in (pose.decentration, pose.tilt)]
    were = [float(v) for v in (start.decentration, start.tilt)]
    credit = 0.5 * sum(np.clip(1.0 - a / b, 0.0, 1.0) for a, b in zip(left, were, strict=True))
    if abs(meridian - 180.0) < 1e-6 and abs(dips - _USUAL) < 1e-6:
        words = f"{head} The second pass as first planned fits a first one that is not there."
        return partly(0.0, words, "as-first-planned", pose)
    if round(float(pose.decentration), 2) <= 0.1:
        return partly(credit, f"{head} The marks are opposite; the iris angles are not alike yet.", "mark-alone", pose)
    if sum(a > b + 0.02 for a, b in zip(left, were, strict=True)):
        words = f"{head} To err against the first side doubles what differs; go with it."
        return partly(0.0, words, "leans-against", pose)
    words = f"{head} Go on: opposite in mark, and alike in iris angle, to the pass that is there."
    return partly(credit, words, pose=pose)


def _train(id, off, lean):
    """Ask how to spend training on the errors of a hand."""
    text = (
        f"A beginner's hands (spreads of the table of hands, most of them assumptions). {POINTS} points of training: "
        f"each takes {100 * (1.0 - GAIN):.0f} % off one spread, of marks, iris angles, tunnel "
        "lengths or externalised lengths."
    )
    wrong = {"marks-alone": {"mark": POINTS}, "outside-alone": {"outside": POINTS}}
    reasoning = "Tilt comes from iris angles, shift from tunnels and marks."
    return ask_spending(id, _TRAINING, off, lean, text, reasoning, wrong)


def _slip_in_training(spent):
    most = max(spent, key=spent.get)
    if most in ("mark", "outside") and spent[most] >= 0.8 * POINTS:
        words = "What is trained alone soon has nothing left to give: iris angles tilt and tunnels shift."
        return words, f"{most}{'s' * (most == 'mark')}-alone"
    return "Ask of each error what it does to the lens, and which limit it then oversteps.", None


_EXAMPLE = "{'mark': 4, 'dip': 3, 'tunnel': 2, 'outside': 1}"
_TRAINING = steadiness(("mark", "dip", "tunnel", "outside"), _slip_in_training, _EXAMPLE, draws=500)

ITEMS = (
    Item("start.limits", "choice", "tell which limit a slip in mark and iris angle oversteps", "foretell",
         (Span("mark", "deg", (2.0, 3.0, 4.0, 10.0, 11.0, 12.0, 14.0)),
          Span("dip", "deg", (6.0, 7.0, 9.0, 17.0, 18.0, 20.0))),
         _limits, SIMULATED, lambda mark, dip: is_clear(_one_side_off(mark, dip)),
         shown={"mark": 8.0, "dip": 8.0}, predicts=True),
    Item("start.alike", "choice", "tell errors that cancel from errors that add up", "recognise",
         (Span("turn", "deg", steps(6.0, 20.0, 2.0)), Span("dip", "deg", steps(10.0, 20.0, 2.0))), _alike, SIMULATED,
         shown={"turn": 0.0, "dip": 15.0}, predicts=True),
    Item("start.which-side", "choice", "read from a meridian the side of an eye", "recognise", (),
         _which_side, SIMULATED, shown={"line": 20.0, "tunnel": 1.0}),
    Item("start.which-matters", "choice", "tell which error takes a lens beyond a limit", "foretell", (),
         _which_matters, SIMULATED, shown={}),
    Item("start.how-far", "number", "find how far off centre a lens lies from its two parts", "recognise", (),
         _how_far, SIMULATED, shown={"tunnel": 1.0}),
    Item("start.tilt", "number", "foretell the tilt that unequal iris angles bring", "foretell",
         (Span("more", "deg", steps(6.0, 14.0, 0.5)),), _tilt, SIMULATED),
    Item("start.depth", "number", "foretell the depth that steeper needles bring", "foretell",
         (Span("dip", "deg", steps(12.0, 20.0, 0.5)),), _depth, SIMULATED, clear=are_apart),
    Item("start.cause", "cause", "name the slip behind a lens that was found", "recognise",
         (Span("slip", "", tuple(_SLIPS)), Span("size", "", (0.7, 0.8, 0.9, 1.0))), _cause, SIMULATED,
         functools.partial(is_recognisable, _SLIPS)),
    Item("start.follow", "plan", "fit a second pass to a first one that went wrong", "design",
         (Span("mark", "deg", (-12.0, -10.0, -8.0, 8.0, 10.0, 12.0)), Span("dip", "deg", steps(11.0, 16.0, 1.0))),
         _follow, SIMULATED),
    Item("start.train", "plan", "choose what a hand should train first", "design",
         (Span("off", "mm", (0.4, 0.45, 0.5)), Span("lean", "deg", (3.0, 4.0, 5.0))), _train,
         BY_TABLE_OF_HANDS),
)  # fmt: skip
