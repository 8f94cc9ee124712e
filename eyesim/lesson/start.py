"""Start here: will it sit? Reading a pose, the picture's sides, and when a number matters."""

from __future__ import annotations

from ..eye.frames import meridian_to_side
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT, judge, sits_well
from .cases import EYE, asked, items_of, pose_words, settled
from .question import Choice, Misconception, Number, Pick, Scene


def will_it_sit(id, kind):
    """Ask about two haptics about to be locked, one mark 8 degrees off and one dip steeper."""
    pose = settled(second={"meridian": 188.0, "iris_angle": 8.0})
    mark, dip = settled(second={"meridian": 188.0}), settled(second={"iris_angle": 8.0})
    parts = (
        f"The mark alone costs {mark.decentration:.2f} mm and hardly tilts; the dip alone tilts by {dip.tilt:.1f} deg. "
        f"Together the lens lies {pose_words(pose)}."
    )
    form = Pick(
        (
            Choice("well", "Yes: centred and flat enough; nobody could do better by hand.",
                   f"It looks as if, but the mark takes it out of the limit. {parts}"),
            Choice("tilted", "No: it is tilted by more than 5 deg, though centred.",
                   f"The dips differ by 3 deg only, and a mark does not tilt. {parts}"),
            Choice("off-centre", "No: it is off centre by more than 0.4 mm, though nearly flat.", parts),
            Choice("both", "No: it is both off centre and tilted beyond the limits.",
                   f"Each error has its own consequence, and only one of the two is large enough. {parts}"),
        ),
        judge(pose).key,
    )  # fmt: skip
    text = (
        "Two haptics are about to be locked. The second mark stands 8 deg from opposite and the second needle "
        "dipped 8 deg "
        f"instead of 5; all else is alike. Will the lens sit, within {DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg?"
    )
    scenes = (Scene("The mark alone", mark), Scene("The dip alone", dip), Scene("As planned", settled()))
    return asked(id, kind, text, form, pose, parts, scenes=scenes)


def both_wrong(id, kind):
    """Ask about both dips 10 degrees too steep."""
    plain, pose = settled(), settled({"iris_angle": 15.0}, {"iris_angle": 15.0})
    one = settled({"iris_angle": 15.0})
    deeper = pose.depth - plain.depth
    right = "deeper" if sits_well(pose) and deeper > 0.2 else "tilts"
    form = Pick(
        (
            Choice("deeper", "It is centred and flat, but lies deeper.",
                   f"Errors alike on both sides cancel, except in depth: {deeper:.1f} mm deeper. It looks perfect "
                   "under the microscope."),
            Choice("tilts", "It tilts: both needles are 10 deg too steep.",
                   f"Tilt comes from a difference between the sides. One alone would tilt it by {one.tilt:.1f} deg; "
                   f"both alike leave it flat and {deeper:.1f} mm deeper."),
            Choice("no-change", "Nothing changes: errors alike on both sides cancel.",
                   f"Off-centre and tilt cancel, depth does not: the lens lies {deeper:.1f} mm deeper."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Both needles dip 15 deg below the iris plane instead of 5; tunnels and marks are right. How does the lens sit?"
    )
    matter = judge(pose, planned_depth=plain.depth)
    reasoning = (
        f"Alike on both sides, the dips change depth alone: {pose.depth:.2f} mm instead of {plain.depth:.2f} mm."
    )
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("One dip alone at 15 deg", one),), matter=matter)


def which_side(id, kind):
    """Ask about nasal or temporal, seen from in front."""
    pose = settled({"meridian": 20.0, "tunnel_length": 1.0}, {"meridian": 200.0})
    meridian = float(pose.decentration_meridian)
    side = meridian_to_side(meridian, EYE.side)
    turned = {
        "mirrored": meridian_to_side(180.0 - meridian, EYE.side),
        "upside-down": meridian_to_side(-meridian, EYE.side),
        "opposite": meridian_to_side(meridian + 180.0, EYE.side),
    }
    why = {
        "mirrored": "Seen from in front, the observer's right is the patient's left: the nasal side of a right eye.",
        "upside-down": "Meridians run counter-clockwise from the observer's right: 90 deg is up, 270 deg is down.",
        "opposite": "The meridian says where the optic's centre lies, not where it came from.",
    }
    seen = f"{meridian:.0f} deg in a right eye is {side}."
    choices = [Choice("as-it-lies", side.capitalize() + ".", seen)]
    for key, word in turned.items():
        choices.insert(0, Choice(key, word.capitalize() + ".", f"{why[key]} {seen}"))
    form = Pick(tuple(choices[i] for i in (1, 3, 0, 2)), "as-it-lies")
    text = (
        f"In a right eye the optic lies {pose.decentration:.1f} mm off centre towards the meridian of {meridian:.0f} "
        "deg, seen from in front of the patient. Towards which side of the eye is that?"
    )
    return asked(id, kind, text, form, pose, seen)


def how_far(id, kind):
    """Ask about distance off centre from x and y."""
    pose = settled({"tunnel_length": 1.0})
    x, y, value = float(pose.x), float(pose.y), float(pose.decentration)
    form = Number(
        value, 0.03, "mm", 0.0, 2.0,
        f"The way straight to the centre: the root of {x:.2f} squared and {y:.2f} squared is {value:.2f} mm.",
        (
            Misconception("sum", abs(x) + abs(y), "This is the sum of both parts: the way round the corner. Take "
                                                  "the straight one."),
            Misconception("larger-part", max(abs(x), abs(y)),
                          "This is the larger part alone. The other counts too, though less."),
            Misconception("with-sign", x + y, "The signs tell the direction. For the distance, both parts count "
                                              "without sign."),
        ),
    )  # fmt: skip
    text = (
        f"A lens has settled with its optic's centre at x = {x:.2f} mm and y = {y:.2f} mm from the limbal centre. "
        "How far off centre is it?"
    )
    return asked(id, kind, text, form, pose, f"The root of the sum of squares: {value:.3f} mm.")


def which_matters(id, kind):
    """Ask about which of four poses oversteps a limit."""
    cases = {
        "turned": ("both marks 20 deg from where they should be, exactly opposite",
                   settled({"meridian": 20.0}, {"meridian": 200.0})),
        "small-mark": ("one mark 5 deg from opposite", settled(second={"meridian": 185.0})),
        "end-turn": ("one needle turned down to 45 deg at its tunnel's end, the other to 30 deg",
                     settled({"exit_angle": 45.0}, {"exit_angle": 30.0})),
        "pull": ("0.4 mm more of both haptics used up outside", settled({"outside": 1.2}, {"outside": 1.2})),
    }  # fmt: skip
    over = [key for key, (_, pose) in cases.items() if not sits_well(pose)]
    worst = max(
        cases, key=lambda key: max(cases[key][1].decentration / DECENTRATION_LIMIT, cases[key][1].tilt / TILT_LIMIT)
    )
    right = over[0] if len(over) == 1 else worst
    form = Pick(
        tuple(
            Choice(key, words.capitalize() + ".", f"With {words}, the lens lies {pose_words(pose)}. {judge(pose)}")
            for key, (words, pose) in cases.items()
        ),
        right,
    )
    text = (
        f"Which one of these four takes the lens beyond {DECENTRATION_LIMIT:g} mm off centre or {TILT_LIMIT:g} deg "
        "of tilt (limits chosen for teaching)?"
    )
    pose = cases[right][1]
    rest = tuple(Scene(words.capitalize(), pose) for key, (words, pose) in cases.items() if key != right)
    return asked(
        id, kind, text, form, pose, f"Only this one: the lens lies {pose_words(pose)}.", scenes=rest, matter=""
    )


PREDICTIONS = {"will-it-sit": will_it_sit, "both-wrong": both_wrong}
EXERCISES = {"how-far": how_far, "which-side": which_side, "which-matters": which_matters}
ITEMS = items_of("start", PREDICTIONS, EXERCISES)
