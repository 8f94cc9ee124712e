"""Aim the needle: iris angle, turn, sclera and the way round; when a needle is through, and what a steeper one does."""

from __future__ import annotations

import functools

import numpy as np

from ..hold.needle import least_dip_that_enters, needle_pass
from ..study.verdict import judge
from .build import (
    EYE,
    FIRST,
    SIMULATED,
    STRAIGHT,
    are_apart,
    build,
    if_apart,
    number,
    pick,
    planned,
    pose_of,
    pose_words,
)
from .item import Item, Span
from .question import Misconception, Scene
from .slips import Slip, is_recognisable, which_slip
from .two_walls import two_walls

_AIM = {"limbus_angle": 20.0, "iris_angle": 10.0}


def _pass(**fields):
    return needle_pass(EYE, FIRST.but(**STRAIGHT, **fields))


@functools.cache
def _tunnel(limbus, dip, wall):
    return float(_pass(limbus_angle=limbus, iris_angle=dip, wall=wall).tunnel_length)


@functools.cache
def _least_dip(limbus, wall):
    return float(least_dip_that_enters(EYE, FIRST.but(**STRAIGHT, limbus_angle=limbus, wall=wall)))


def _both_straight(**fields):
    return pose_of({**STRAIGHT, **fields}, {**STRAIGHT, **fields})


def _tunnel_at(id, dip):
    """Ask for the tunnel of a straight pass so shallow that it stays in the wall."""
    shallow, steeper = _pass(iris_angle=dip), _pass(iris_angle=10.0)
    least = least_dip_that_enters(EYE, FIRST.but(**STRAIGHT))
    globe = "The sclera is curved: in a single plane, the needle runs along it and out again"
    form = pick(
        "never" if not shallow.enters else ("longer" if shallow.tunnel_length > 2.4 else "two"),
        ("never", "There is no tunnel: the needle never enters the eye.",
         f"{globe}. It enters from {least:.1f} deg to the iris plane on, and there the tunnel's length changes "
         f"fastest. At 10 deg it is {steeper.tunnel_length:.1f} mm."),
        ("two", "It is about 2 mm long, as taught.",
         f"{globe}. It enters from {least:.1f} deg to the iris plane on; at 10 deg the tunnel is "
         f"{steeper.tunnel_length:.1f} mm long. A tunnel of 2 mm at {dip:g} deg takes a needle that is turned down at "
         "its end."),
        ("longer", "It is longer, some 3 mm, and so holds better: shallower is safer.",
         f"{globe}. Below {least:.1f} deg to the iris plane it never enters, and just above it a degree more or less "
         "changes the tunnel most. Shallower is not safer."),
    )  # fmt: skip
    text = (
        f"The needle goes in 2 mm behind the limbus, 20 deg to the limbal tangent and {dip:g} deg to the iris plane, "
        f"and is pushed on in a single plane. The sclera is {EYE.scleral_thickness:g} mm thick. How long is the tunnel?"
    )
    reasoning = f"The line misses the inside of the sclera: a single-plane pass enters from {least:.2f} deg on."
    matters = (
        "It matters: a needle that stays in the sclera can run on until it is turned, and then nobody knows how long "
        "the tunnel is."
    )
    label = "Both passes at 10 deg, which do enter"
    return build(id, text, form, _both_straight(iris_angle=10.0), reasoning, label=label, matters=matters)


def _one_steeper(id, dip):
    """Ask what one steeper dip does at equal tunnels."""
    pose, both = pose_of({"iris_angle": dip}), pose_of({"iris_angle": dip}, {"iris_angle": dip})
    deeper = both.depth - planned().depth
    form = pick(
        "tilts" if pose.tilt > 2.0 and pose.decentration < 0.2 else "off-centre",
        ("deeper", "It lies deeper, but flat.",
         f"Steeper on both sides would be that: {deeper:.1f} mm deeper and flat. One against the other tilts: "
         f"{pose.tilt:.1f} deg."),
        ("tilts", "It tilts, and stays nearly centred.",
         f"The iris angles differ, so the optic tilts: {pose.tilt:.1f} deg, and {pose.decentration:.2f} mm off centre. "
         f"Both steeper alike would lay it {deeper:.1f} mm deeper and leave it flat."),
        ("off-centre", "It moves away from the steeper side.",
         "The tunnels are equally long, so the haptics push alike along their line: only "
         f"{pose.decentration:.2f} mm. The one that comes in deeper and steeper tilts the optic, by {pose.tilt:.1f} "
         "deg."),
    )  # fmt: skip
    text = (
        f"The first needle runs at {dip:g} deg to the iris plane, the second at {FIRST.iris_angle:g} deg. Both tunnels "
        "are made 2 mm long. What does the lens do?"
    )
    reasoning = f"A difference of iris angles at equal tunnels tilts: the lens lies {pose_words(pose)}."
    scenes = (Scene(f"Both iris angles {dip:g} deg", both),)
    return build(id, text, form, pose, reasoning, scenes=scenes, matters=judge(pose))


def _straight_dips(id, shallower, steeper):
    """Ask what unequal dips do to a lens when both needles go straight on."""
    pose = pose_of({**STRAIGHT, "iris_angle": shallower}, {**STRAIGHT, "iris_angle": steeper})
    kept = pose_of({"iris_angle": shallower}, {"iris_angle": steeper})
    long, short = (float(side.tunnel_length) for side in pose.passages)
    if pose.decentration < 0.15:
        right = "only-tilt"
    else:
        right = "off-and-tilted" if pose.tilt > 1.0 else "only-off"
    form = pick(
        right,
        ("off-and-tilted", "It tilts a little and is off centre as well.",
         f"The iris angle sets the tunnel's length too: {long:.1f} and {short:.1f} mm. The lens is "
         f"{pose.decentration:.2f} mm off centre and tilted by {pose.tilt:.1f} deg."),
        ("only-tilt", "It tilts a little; that is all a difference of iris angles does.",
         f"With tunnels of chosen length that is so ({kept.tilt:.1f} deg, {kept.decentration:.2f} mm). In a single "
         f"plane the shallower pass makes a tunnel of {long:.1f} mm and the steeper one of {short:.1f} mm, and unequal "
         f"tunnels move the lens: {pose.decentration:.2f} mm."),
        ("nothing", f"Nothing: {shallower:g} and {steeper:g} deg are as good as equal.",
         f"A difference of {steeper - shallower:g} deg makes tunnels of {long:.1f} and {short:.1f} mm, and with them "
         f"{pose.decentration:.2f} mm of decentration and {pose.tilt:.1f} deg of tilt."),
    )  # fmt: skip
    text = (
        f"Both needles are pushed on in a single plane until they are in the eye. The first runs at {shallower:g} deg "
        f"to the iris plane, the second at {steeper:g} deg. What does the lens do?"
    )
    reasoning = f"Tunnels of {long:.2f} and {short:.2f} mm; the lens lies {pose_words(pose)}."
    scenes = (Scene("The same iris angles, both tunnels 2 mm", kept),)
    return build(id, text, form, pose, reasoning, scenes=scenes, matters=judge(pose))


def _unequal_ends(id, steeper, flatter):
    """Ask what needles do that are turned down by unequal angles at the end of their tunnels."""
    pose, mark = pose_of({"exit_angle": steeper}, {"exit_angle": flatter}), pose_of(second={"meridian": 190.0})
    both = pose_of({"exit_angle": steeper}, {"exit_angle": steeper})
    form = pick(
        "tilts-much" if pose.tilt > 5.0 else "little",
        ("little", "Little: tunnels and marks are alike, and the last bit of sclera is thin.",
         "The turn is short, but it sets the direction in which the haptic comes out of the sclera: the lens tilts by "
         f"{pose.tilt:.1f} deg."),
        ("off-centre", "It goes off centre, by about as much as a mark 10 deg off.",
         f"A mark 10 deg off costs {mark.decentration:.2f} mm and hardly tilts. The turn does the opposite: "
         f"{pose.tilt:.1f} deg of tilt and {pose.decentration:.2f} mm."),
        ("tilts-much", "It tilts, by more than 5 deg.",
         f"The lens tilts by {pose.tilt:.1f} deg. This turn is made blind, and it tilts more than any error of a mark. "
         f"Both turned by {steeper:g} deg leave it flat, {both.depth:.1f} mm deep."),
    )  # fmt: skip
    text = (
        "Marks, iris angles and tunnels are equal. At the end of its tunnel each needle is turned down through the "
        f"last of the sclera: the first to {steeper:g} deg below the iris plane, the second to {flatter:g} deg. What "
        "does the lens do?"
    )
    reasoning = (
        f"The held directions differ by {steeper - flatter:g} deg: the lens lies {pose_words(pose)}. Soft tissue lets "
        "a haptic lie between the two directions, so this is an upper bound."
    )
    scenes = (Scene(f"Both turned down to {steeper:g} deg", both),)
    return build(id, text, form, pose, reasoning, scenes=scenes, matters=judge(pose))


def _turned_end(id, steeper, flatter):
    """Ask for the tilt of ends that were turned down unequally."""
    pose = pose_of({"exit_angle": steeper}, {"exit_angle": flatter})
    value = float(pose.tilt)
    form = number(
        value, 0.7, "deg", 0.0, 40.0,
        f"{steeper - flatter:g} deg between the ends tilt the lens by {value:.1f} deg.",
        Misconception("all-of-it", steeper - flatter, "The lens tilts by about half of what the ends differ: the other "
                                                      "haptic holds against it."),
        Misconception("nothing", 0.0, "The internal entries stay where they are, but the haptics enter at other "
                                      "angles, and it is these that hold the optic level or not."),
    )  # fmt: skip
    text = (
        f"Both needles run at {FIRST.iris_angle:g} deg to the iris plane and are turned down through the last of the "
        f"sclera, the first to {steeper:g} deg, the second to {flatter:g} deg. By how many degrees is the lens tilted?"
    )
    return build(id, text, form, pose, f"Settled with ends at {steeper:g} and {flatter:g} deg: {value:.2f} deg.")


def _way_round(id):
    """Ask what one needle does that is run the wrong way round."""
    pose = pose_of(second={"clockwise": False})
    off, lean = pose.decentration, pose.tilt
    form = pick(
        "far-off" if off > 2.0 else "mirror",
        ("mirror", "Little: the second side is a mirror image, and mirror images balance.",
         "The lens is no mirror image: both loops open the same way round. The second haptic would have to bend back "
         f"on itself, and the lens lies {off:.1f} mm off centre, tilted by {lean:.0f} deg."),
        ("half-off", "It sits half a millimetre to one side.",
         f"That is what a mark 10 deg off does. A haptic led out against its own curve throws the lens {off:.1f} mm "
         f"off centre and tilts it by {lean:.0f} deg."),
        ("far-off", "It lies some millimetres off centre, out of the pupil.",
         f"The second haptic is led out against its own curve, and the lens is thrown {off:.1f} mm off centre and "
         f"tilted by {lean:.0f} deg. Say aloud which way round it runs before the second needle goes in."),
    )  # fmt: skip
    text = (
        "Both needles should run clockwise along the limbus, since the loops of this lens open counter-clockwise. The "
        "second one is run counter-clockwise. All else is perfect. What does the lens do?"
    )
    reasoning = f"Settled with the second pass the other way round: {off:.2f} mm off centre, {lean:.0f} deg of tilt."
    return build(id, text, form, pose, reasoning, scenes=(Scene("Both run clockwise", planned()),), matters=judge(pose))


def _unequal_walls(id, first, second):
    """Ask what walls of unequal thickness do under the same hand."""
    pose = pose_of({**STRAIGHT, **_AIM, "wall": first}, {**STRAIGHT, **_AIM, "wall": second})
    thin, thick = (float(side.tunnel_length) for side in pose.passages)
    form = pick(
        "off-centre" if pose.decentration > 0.2 and pose.tilt < 2.0 else "nothing",
        ("nothing", "It sits perfectly: the hand did the same on both sides.",
         f"The hand did, the tunnels did not: {thin:.1f} mm in the thinner sclera, {thick:.1f} mm in the thicker. The "
         f"lens is {pose.decentration:.2f} mm off centre under a perfect hand."),
        ("tilts", "It tilts towards the thinner side.",
         f"The iris angles are equal, and it hardly tilts ({pose.tilt:.1f} deg). The tunnels are not equal "
         f"({thin:.1f} and {thick:.1f} mm), and that moves it {pose.decentration:.2f} mm."),
        ("tenth", f"It is {second - first:.1g} mm off centre, the difference of the thicknesses.",
         f"A shallow pass stretches {second - first:.1g} mm of sclera into {thick - thin:.1f} mm of tunnel ({thin:.1f} "
         f"against {thick:.1f} mm), and the lens moves {pose.decentration:.2f} mm."),
        ("off-centre", "It is off centre by several times the difference of the thicknesses.",
         f"The tunnels are {thin:.1f} and {thick:.1f} mm long, and the lens is {pose.decentration:.2f} mm off centre, "
         f"tilted by {pose.tilt:.1f} deg."),
    )  # fmt: skip
    text = (
        "A perfect hand runs both needles in a single plane, 20 deg to the limbal tangent and 10 deg to the iris "
        f"plane. The sclera is {first:g} mm thick on the first side and {second:g} mm on the second. What does the "
        "lens do?"
    )
    reasoning = f"Tunnels of {thin:.2f} and {thick:.2f} mm; the lens lies {pose_words(pose)}."
    return build(id, text, form, pose, reasoning, matters=judge(pose))


def _length(id, limbus, dip, wall):
    """Ask for the length of a straight tunnel."""
    value, by_dip, by_limbus = _tunnel(limbus, dip, wall), *(wall / np.sin(np.radians([dip, limbus])))
    form = if_apart(
        number(
            value, 0.15, "mm", 0.0, 5.0, f"It is through after {value:.2f} mm.",
            Misconception("flat-wall", by_dip, f"{by_dip:.1f} mm would be the way through a flat wall at this iris "
                                               "angle. The sclera is curved, and the needle also runs towards "
                                               "the eye."),
            Misconception("thickness", wall, "This is the scleral thickness: the way of a needle held square to it. At "
                                             "a shallow angle the way through is several times as long."),
        ),
        Misconception("flat-wall-limbus", by_limbus, f"{by_limbus:.1f} mm takes the sclera for a flat wall along the "
                                                     "limbus. It is curved, and most of this angle is spent on "
                                                     "following the curve."),
    )  # fmt: skip
    text = (
        f"A needle starts 2 mm behind the limbus, at {limbus:g} deg to the limbal tangent and {dip:g} deg to the iris "
        f"plane, and goes on in a single plane through a sclera of {wall:g} mm. How long is its tunnel?"
    )
    pose = _both_straight(limbus_angle=limbus, iris_angle=dip, wall=wall)
    shorter = value - _tunnel(limbus, dip + 1.0, wall)
    matters = f"It matters: a degree more of iris angle on one side alone makes its tunnel {shorter:.2f} mm shorter."
    reasoning = f"The line meets the inside of the sclera after {value:.3f} mm."
    return build(id, text, form, pose, reasoning, matters=matters)


def _least(id, limbus, wall):
    """Ask for the least dip with which a straight needle enters."""
    value, usual = _least_dip(limbus, wall), _least_dip(limbus, EYE.scleral_thickness)
    tangent = float(np.degrees(np.arccos((EYE.scleral_radius - wall) / EYE.scleral_radius)))
    form = if_apart(
        number(
            value, 0.6, "deg", 0.0, 30.0,
            f"From {value:.1f} deg on it is through; if flatter, it stays in the sclera.",
            Misconception("from-the-tangent", tangent,
                          f"{tangent:.1f} deg is the angle to the surface that it takes in all. Part of it is spent "
                          "already by the limbus angle."),
            Misconception("any", 0.0, "The sclera curves away beneath a flat needle as fast as the needle goes down: "
                                      "it can run for ever and not be through."),
        ),
        Misconception("as-in-the-usual-wall", usual, f"{usual:.1f} deg is the limit in {EYE.scleral_thickness:g} mm of "
                                                     "sclera. A thicker one asks for more, a thinner one for less."),
    )  # fmt: skip
    text = (
        f"A needle goes on in a single plane from 2 mm behind the limbus, at {limbus:g} deg to the limbal tangent, "
        f"through a sclera of {wall:g} mm. From how many degrees to the iris plane on does it get into the eye?"
    )
    pose = _both_straight(limbus_angle=limbus, iris_angle=value + 5.0, wall=wall)
    reasoning = f"Where the line just touches the inside of the sclera: {value:.2f} deg."
    matters = "It matters: near this limit the tunnel's length hangs on a fraction of a degree."
    label = "Both passes 5 deg above the limit"
    return build(id, text, form, pose, reasoning, label=label, matters=matters)


def _four(wall, start):
    """Four passes (limbus angle, dip), of which by rights one stays in the wall."""
    lows = (14.0, 18.0, 22.0, 26.0)
    dips = [np.ceil(2.0 * _least_dip(limbus, wall)) / 2.0 + 1.5 for limbus in lows]
    dips[start] -= 3.5
    return tuple((limbus, float(max(dip, 0.0))) for limbus, dip in zip(lows, dips, strict=True))


def _stays(id, wall, start):
    """Ask which of four straight needles stays in the wall."""
    passes = _four(wall, start)
    lengths = [_tunnel(limbus, dip, wall) for limbus, dip in passes]
    (stuck,) = (i for i, tunnel in enumerate(lengths, 1) if not np.isfinite(tunnel))
    choices = []
    for i, ((limbus, dip), tunnel) in enumerate(zip(passes, lengths, strict=True), 1):
        does = f"is through after {tunnel:.1f} mm" if np.isfinite(tunnel) else "never gets through"
        takes = f"At a limbus angle of {limbus:g} deg it takes {_least_dip(limbus, wall):.1f} deg to the iris plane"
        because = f"{takes}; with {dip:g} deg this needle {does}."
        choices.append((f"pass-{i}", f"{limbus:g} deg to the limbal tangent, {dip:g} deg to the iris plane", because))
    text = (
        f"Four needles go on in a single plane from 2 mm behind the limbus through a sclera of {wall:g} mm. One never "
        "gets into the eye. Which?"
    )
    form = pick(f"pass-{stuck}", *choices)
    return build(id, text, form, None, f"Only pass {stuck} never meets the inside of the sclera.")


_SLIPS = {
    "dip": Slip(
        lambda size: {"iris_angle": 5.0 + 10.0 * size}, "Its needle ran {:g} deg more steeply to the iris plane.", 10.0,
        "Unequal iris angles tilt the lens about the haptic axis, so that an edge off that axis lies deepest: {}.",
    ),
    "distance": Slip(
        lambda size: {"limbus_distance": 2.0 + 1.2 * size}, "It started {:g} mm further behind the limbus.", 1.2,
        "A pass further back ends deeper and tilts the lens along the haptic axis: {}.",
    ),
    "mark": Slip(
        lambda size: {"meridian": 180.0 + 12.0 * size}, "Its mark was {:g} deg off.", 12.0,
        "A mark shifts the lens across the haptic axis and leaves it flat: {}.",
    ),
}  # fmt: skip


def _cause(id, slip, size):
    """Ask which slip of a needle left the lens as it was found."""
    text = (
        "Marks were planned at 0 and 180 deg. The lens is found {}. One thing went wrong, on the second side, at 180 "
        "deg. What was it?"
    )
    return which_slip(id, _SLIPS, slip, size, text)


ITEMS = (
    Item("needles.one-steeper", "choice", "foretell what one steeper needle does", "foretell", (), _one_steeper,
         SIMULATED, shown={"dip": 15.0}, predicts=True),
    Item("needles.tunnel-at-five", "choice", "foretell the tunnel of a shallow needle", "foretell", (), _tunnel_at,
         SIMULATED, shown={"dip": 5.0}, predicts=True),
    Item("needles.straight-dips", "choice", "foretell what unequal iris angles do to tunnels", "foretell", (),
         _straight_dips, SIMULATED, shown={"shallower": 8.0, "steeper": 12.0}, predicts=True),
    Item("needles.unequal-walls", "choice", "foretell what unequal scleral thickness does", "foretell", (),
         _unequal_walls, SIMULATED, shown={"first": 0.5, "second": 0.6}, predicts=True),
    Item("needles.unequal-ends", "choice", "foretell what unequal turns at the end do", "foretell", (), _unequal_ends,
         SIMULATED, shown={"steeper": 45.0, "flatter": 30.0}, predicts=True),
    Item("needles.way-round", "choice", "foretell what a needle run the other way round does", "foretell", (),
         _way_round, SIMULATED, shown={}, predicts=True),
    Item("needles.length", "number", "foretell the tunnel of a single-plane pass", "foretell",
         (Span("limbus", "deg", (18.0, 20.0, 22.0, 24.0)), Span("dip", "deg", (10.0, 11.0, 12.0, 13.0, 14.0)),
          Span("wall", "mm", (0.4, 0.45, 0.5, 0.55))), _length, SIMULATED,
         lambda limbus, dip, wall: 1.0 < _tunnel(limbus, dip, wall) < 2.5,
         are_apart, shown={"limbus": 20.0, "dip": 10.0, "wall": 0.5}),
    Item("needles.least", "number", "foretell from which iris angle on a needle is through", "foretell",
         (Span("limbus", "deg", (16.0, 17.0, 18.0, 19.0, 20.0, 21.0)),
          Span("wall", "mm", (0.45, 0.5, 0.55, 0.6, 0.65))), _least, SIMULATED,
         lambda limbus, wall: 3.0 < _least_dip(limbus, wall) < 12.0, are_apart, shown={"limbus": 20.0, "wall": 0.6}),
    Item("needles.two-walls", "plan", "aim for a thin and a thick sclera", "design",
         (Span("thin", "mm", (0.42, 0.45, 0.48)), Span("thick", "mm", (0.6, 0.63, 0.66)),
          Span("goal", "mm", (1.8, 2.0))), two_walls, SIMULATED, shown={"thin": 0.45, "thick": 0.65, "goal": 2.0}),
    Item("needles.turned-end", "number", "foretell the tilt of ends turned down unequally", "foretell",
         (Span("steeper", "deg", (40.0, 45.0, 50.0)), Span("flatter", "deg", (25.0, 27.0, 29.0, 31.0))),
         _turned_end, SIMULATED, clear=are_apart),
    Item("needles.stays", "choice", "tell a needle that stays in the sclera from one that does not", "recognise",
         (Span("wall", "mm", (0.55, 0.6, 0.65, 0.7, 0.75)), Span("start", "", (0, 1, 2, 3))), _stays, SIMULATED,
         lambda wall, start: sum(not np.isfinite(_tunnel(*aim, wall)) for aim in _four(wall, start)) == 1),
    Item("needles.cause", "cause", "read from the tilt of a lens what went wrong", "recognise",
         (Span("slip", "", tuple(_SLIPS)), Span("size", "", (0.8, 0.9, 1.0, 1.1))), _cause, SIMULATED,
         functools.partial(is_recognisable, _SLIPS)),
)  # fmt: skip
