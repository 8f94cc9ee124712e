"""Aim the needle: dip, turn, wall and the way round; what is alike on both sides, and what is not."""

from __future__ import annotations

import numpy as np

from ..hold.needle import least_dip_that_enters, needle_pass
from .cases import EYE, FIRST, STRAIGHT, asked, items_of, pose_words, settled
from .question import Choice, Misconception, Number, Pick, Scene
from .two_walls import two_walls


def never_enters(id, kind):
    """Ask about a straight pass so shallow that it stays in the wall."""
    shallow = needle_pass(EYE, FIRST.but(iris_angle=5.0, **STRAIGHT))
    steeper = needle_pass(EYE, FIRST.but(iris_angle=10.0, **STRAIGHT))
    least = least_dip_that_enters(EYE, FIRST.but(**STRAIGHT))
    right = "never" if not shallow.enters else ("longer" if shallow.tunnel_length > 2.4 else "two")
    globe = "The wall is curved: straight on, the needle runs along it and out again"
    form = Pick(
        (
            Choice("two", "It is about 2 mm long, as taught.",
                   f"{globe}. It enters from {least:.1f} deg of dip on; at 10 deg the tunnel is "
                   f"{steeper.tunnel_length:.1f} mm "
                   "long. A tunnel of 2 mm at 5 deg takes a needle that is turned down at its end."),
            Choice("never", "There is no tunnel: the needle never enters the eye.",
                   f"{globe}. It enters from {least:.1f} deg of dip on, and there the tunnel's length changes "
                   f"fastest. At 10 deg it is {steeper.tunnel_length:.1f} mm."),
            Choice("longer", "It is longer, some 3 mm, and so holds better: shallower is safer.",
                   f"{globe}. Below {least:.1f} deg of dip it never enters, and just above it a degree more or less "
                   "changes the tunnel most. Shallower is not safer."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The needle goes in 2 mm behind the limbus, 20 deg to the limbus and 5 deg to the iris plane, and is pushed "
        f"straight on. The wall is {EYE.scleral_thickness:g} mm thick. How long is the tunnel?"
    )
    pose = settled({"iris_angle": 10.0, **STRAIGHT}, {"iris_angle": 10.0, **STRAIGHT})
    reasoning = f"The line misses the inner wall: a straight pass enters from {least:.2f} deg on."
    matter = (
        "It matters: a needle that stays in the wall can run on until it is turned, and then nobody knows how long the "
        "tunnel is."
    )
    asked_ = asked(id, kind, text, form, pose, reasoning, matter=matter)
    return _relabel(asked_, "Both passes at 10 deg, which do enter")


def one_steeper(id, kind):
    """Ask about one dip 10 degrees steeper, tunnel lengths kept."""
    pose = settled({"iris_angle": 15.0})
    both = settled({"iris_angle": 15.0}, {"iris_angle": 15.0})
    plain = settled()
    deeper = both.depth - plain.depth
    right = "tilts" if pose.tilt > 2.0 and pose.decentration < 0.2 else "off-centre"
    form = Pick(
        (
            Choice("deeper", "It lies deeper, but flat.",
                   f"Steeper on both sides would be that: {deeper:.1f} mm deeper and flat. One against the other "
                   f"tilts: {pose.tilt:.1f} deg."),
            Choice("off-centre", "It moves away from the steeper side.",
                   "The tunnels are equally long, so the haptics push alike along their line: only "
                   f"{pose.decentration:.2f} mm. "
                   f"The one that comes in deeper and steeper leans the optic, by {pose.tilt:.1f} deg."),
            Choice("tilts", "It tilts, and stays nearly centred.",
                   f"The dips differ, so the optic leans: {pose.tilt:.1f} deg, and {pose.decentration:.2f} mm off "
                   f"centre. Both steeper alike would lay it {deeper:.1f} mm deeper and leave it flat."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The first needle dips 15 deg below the iris plane, the second 5 deg. Both tunnels are made 2 mm long. What "
        "does the lens do?"
    )
    reasoning = f"A difference of dip at equal tunnels tilts: the lens lies {pose_words(pose)}."
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("Both dips at 15 deg", both),))


def straight_dips(id, kind):
    """Ask about dips of 8 and 12 degrees on a straight pass."""
    pose = settled({"iris_angle": 8.0, **STRAIGHT}, {"iris_angle": 12.0, **STRAIGHT})
    kept = settled({"iris_angle": 8.0}, {"iris_angle": 12.0})
    long, short = (float(p.tunnel_length) for p in pose.passages)
    if pose.decentration < 0.15:
        right = "only-tilt"
    else:
        right = "off-and-tilted" if pose.tilt > 1.0 else "only-off"
    form = Pick(
        (
            Choice("only-tilt", "It tilts a little; that is all a difference of dip does.",
                   f"With tunnels of chosen length that is so ({kept.tilt:.1f} deg, {kept.decentration:.2f} mm). "
                   f"Straight on, the shallower pass makes a tunnel of {long:.1f} mm and the steeper one of "
                   f"{short:.1f} mm, and unequal tunnels move the lens: {pose.decentration:.2f} mm."),
            Choice("off-and-tilted", "It tilts a little and is off centre as well.",
                   f"The dip sets the tunnel's length too: {long:.1f} and {short:.1f} mm. The lens is "
                   f"{pose.decentration:.2f} mm off centre and tilted by {pose.tilt:.1f} deg."),
            Choice("nothing", "Nothing: 8 and 12 deg are as good as equal.",
                   f"Four degrees make tunnels of {long:.1f} and {short:.1f} mm, and with them "
                   f"{pose.decentration:.2f} mm of decentration and {pose.tilt:.1f} deg of tilt."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Both needles are pushed straight on until they are in the eye. The first dips 8 deg, the second 12 deg. "
        "What does the lens do?"
    )
    reasoning = f"Tunnels of {long:.2f} and {short:.2f} mm; the lens lies {pose_words(pose)}."
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("The same dips, both tunnels 2 mm", kept),))


def turned_end(id, kind):
    """Ask about needles turned down by unequal angles at the end of their tunnels."""
    pose = settled({"exit_angle": 45.0}, {"exit_angle": 30.0})
    both = settled({"exit_angle": 45.0}, {"exit_angle": 45.0})
    mark = settled(second={"meridian": 190.0})
    right = "tilts-much" if pose.tilt > 5.0 else "little"
    form = Pick(
        (
            Choice("little", "Little: tunnels and marks are alike, and the last bit of wall is thin.",
                   "The turn is short, but it sets the direction in which the haptic comes out of the wall: the "
                   f"lens tilts by {pose.tilt:.1f} deg."),
            Choice("off-centre", "It goes off centre, by about as much as a mark 10 deg off.",
                   f"A mark 10 deg off costs {mark.decentration:.2f} mm and hardly tilts. The turn does the opposite: "
                   f"{pose.tilt:.1f} deg of tilt and {pose.decentration:.2f} mm."),
            Choice("tilts-much", "It tilts, by more than 5 deg.",
                   f"The lens tilts by {pose.tilt:.1f} deg. This turn is made blind, and it tilts more than any "
                   f"error of a mark. Both turned by 45 deg leave it flat, {both.depth:.1f} mm deep."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Marks, dips and tunnels are equal. At the end of its tunnel each needle is turned down through the last of "
        "the wall: the first to 45 deg below the iris plane, the second to 30 deg. What does the lens do?"
    )
    reasoning = (
        f"The held directions differ by 15 deg: the lens lies {pose_words(pose)}. Soft wall lets a haptic lie between "
        "the two directions, so this is an upper bound."
    )
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("Both turned down to 45 deg", both),))


def wrong_way(id, kind):
    """Ask about one needle run the wrong way round."""
    pose = settled(second={"clockwise": False})
    off, lean = pose.decentration, pose.tilt
    right = "far-off" if off > 2.0 else "mirror"
    form = Pick(
        (
            Choice("mirror", "Little: the second side is a mirror image, and mirror images balance.",
                   "The lens is no mirror image: both loops open the same way round. The second haptic would have "
                   "to bend back "
                   f"on itself, and the lens comes to lie {off:.1f} mm off centre, tilted by {lean:.0f} deg."),
            Choice("half-off", "It sits half a millimetre to one side.",
                   f"That is what a mark 10 deg off does. A haptic led out against its own curve throws the lens "
                   f"{off:.1f} mm off centre and tilts it by {lean:.0f} deg."),
            Choice("far-off", "It lies some millimetres off centre, out of the pupil.",
                   f"The second haptic is led out against its own curve, and the lens is thrown {off:.1f} mm off "
                   f"centre and tilted by {lean:.0f} deg. Say the way round aloud before the second needle goes in."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Both needles should run clockwise along the limbus, since the loops of this lens open counter-clockwise. The "
        "second one is run counter-clockwise. All else is perfect. What does the lens do?"
    )
    reasoning = f"Settled with the second pass the other way round: {off:.2f} mm off centre, {lean:.0f} deg of tilt."
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("Both run clockwise", settled()),))


def unequal_walls(id, kind):
    """Ask about walls of 0.5 and 0.6 mm under the same hand."""
    pose = settled({"iris_angle": 10.0, "wall": 0.5, **STRAIGHT}, {"iris_angle": 10.0, "wall": 0.6, **STRAIGHT})
    thin, thick = (float(p.tunnel_length) for p in pose.passages)
    right = "off-centre" if pose.decentration > 0.2 and pose.tilt < 2.0 else "nothing"
    form = Pick(
        (
            Choice("nothing", "It sits perfectly: the hand did the same on both sides.",
                   f"The hand did, the tunnels did not: {thin:.1f} mm in the thinner wall, {thick:.1f} mm in the "
                   f"thicker. The lens is {pose.decentration:.2f} mm off centre under a perfect hand."),
            Choice("tenth", "It is 0.1 mm off centre, the difference of the walls.",
                   f"A shallow pass stretches 0.1 mm of wall into {thick - thin:.1f} mm of tunnel ({thin:.1f} against "
                   f"{thick:.1f} mm), and the lens moves {pose.decentration:.2f} mm."),
            Choice("tilts", "It tilts towards the thinner side.",
                   f"The dips are equal, and it hardly tilts ({pose.tilt:.1f} deg). The tunnels are not equal "
                   f"({thin:.1f} and {thick:.1f} mm), and that moves it {pose.decentration:.2f} mm."),
            Choice("off-centre", "It is off centre by several times the difference of the walls.",
                   f"The tunnels are {thin:.1f} and {thick:.1f} mm long, and the lens is {pose.decentration:.2f} mm "
                   f"off centre, tilted by {pose.tilt:.1f} deg."),
        ),
        right,
    )  # fmt: skip
    text = (
        "A perfect hand runs both needles straight on, 20 deg to the limbus and 10 deg to the iris plane. The wall "
        "is 0.5 mm thick on the first side and 0.6 mm on the second. What does the lens do?"
    )
    reasoning = f"Tunnels of {thin:.2f} and {thick:.2f} mm; the lens lies {pose_words(pose)}."
    return asked(id, kind, text, form, pose, reasoning)


def tunnel_length(id, kind):
    """Ask about tunnel length of a straight pass."""
    value = float(needle_pass(EYE, FIRST.but(iris_angle=10.0, **STRAIGHT)).tunnel_length)
    wall = EYE.scleral_thickness
    by_dip = wall / np.sin(np.radians(10.0))
    by_limbus = wall / np.sin(np.radians(20.0))
    form = Number(
        value, 0.1, "mm", 0.5, 4.0,
        f"Straight on, it meets the inner wall after {value:.2f} mm.",
        (
            Misconception("flat-wall-dip", by_dip,
                          f"{by_dip:.1f} mm is right for a flat wall that lies in the iris plane. The wall slopes, "
                          "and its curve comes towards the needle: the 20 deg towards the eye count as well."),
            Misconception("flat-wall-limbus", by_limbus,
                          f"{by_limbus:.1f} mm takes the wall for a flat one along the limbus. It is curved, and "
                          "most of the 20 deg are spent on following the curve."),
            Misconception("wall-thickness", wall,
                          "This is the wall's thickness: the way of a needle held square to it. A shallow one goes "
                          "much further."),
        ),
    )  # fmt: skip
    text = (
        "How long is the tunnel of a straight pass at 20 deg to the limbus and 10 deg to the iris plane, 2 mm "
        f"behind the limbus, in a wall of {wall:g} mm?"
    )
    pose = settled({"iris_angle": 10.0, **STRAIGHT}, {"iris_angle": 10.0, **STRAIGHT})
    slope = value - float(needle_pass(EYE, FIRST.but(iris_angle=11.0, **STRAIGHT)).tunnel_length)
    matter = f"It matters: a degree more of dip on one side alone makes its tunnel {slope:.2f} mm shorter."
    return asked(
        id, kind, text, form, pose, f"From the line's meeting with the inner sphere: {value:.3f} mm.", matter=matter
    )


def lowest_dip(id, kind):
    """Ask about smallest dip that enters."""
    thick = EYE.but(scleral_thickness=0.6)
    value = float(least_dip_that_enters(thick, FIRST.but(**STRAIGHT)))
    thin = float(least_dip_that_enters(EYE, FIRST.but(**STRAIGHT)))
    form = Number(
        value, 0.3, "deg", 0.0, 20.0,
        f"In 0.6 mm of wall a straight pass enters from {value:.1f} deg on; in {EYE.scleral_thickness:g} mm from "
        f"{thin:.1f}.",
        (
            Misconception("any-dip", 0.0,
                          "In a flat wall any dip would enter sooner or later. This one is curved: the needle runs "
                          "along the inside of the curve and out again."),
            Misconception("same-as-thin-wall", thin,
                          f"{thin:.1f} deg is the limit in {EYE.scleral_thickness:g} mm of wall. A thicker wall "
                          "asks for more."),
        ),
    )  # fmt: skip
    text = (
        "The wall is 0.6 mm thick. The needle goes in 2 mm behind the limbus, 20 deg to the limbus, and straight "
        "on. From how many degrees to the iris plane on does it enter the eye at all?"
    )
    pose = settled({"iris_angle": value + 5.0, **STRAIGHT}, {"iris_angle": value + 5.0, **STRAIGHT}, eye=thick)
    matter = "It matters: near this limit the tunnel's length hangs on a fraction of a degree."
    asked_ = asked(id, kind, text, form, pose, f"By bisection: {value:.3f} deg.", matter=matter)
    return _relabel(asked_, "Both passes 5 deg above the limit")


def _relabel(asked_, label):
    import dataclasses

    first, *rest = asked_.scenes
    return dataclasses.replace(asked_, scenes=(Scene(label, first.settled), *rest))


PREDICTIONS = {
    "never-enters": never_enters,
    "one-steeper": one_steeper,
    "straight-dips": straight_dips,
    "turned-end": turned_end,
    "wrong-way": wrong_way,
    "unequal-walls": unequal_walls,
}
EXERCISES = {"tunnel-length": tunnel_length, "lowest-dip": lowest_dip, "two-walls": two_walls}
ITEMS = items_of("needle", PREDICTIONS, EXERCISES)
