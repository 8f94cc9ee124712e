"""Items of *Aim the needle*: when a needle is through, what a steeper one does, and how unequal walls are met."""

from __future__ import annotations

import functools

import numpy as np

from ...eye.checks import LearnerError
from ...hold.needle import least_dip_that_enters, needle_pass
from ...study.verdict import DECENTRATION_LIMIT, sits_well
from ...text.reading import read_dict, read_side
from ..cases import (
    EYE,
    FIRST,
    SIMULATED,
    STRAIGHT,
    Slip,
    apart,
    exercise,
    number,
    partly,
    pick,
    pose_words,
    settled,
    told_apart,
    which_slip,
)
from ..item import Item, Span
from ..question import Feedback, Misconception, Plan
from ..two_walls import limbus_angle_for

_LETTERS = "abcd"


def _straight(**fields):
    return FIRST.but(**{**STRAIGHT, **fields})


@functools.cache
def _length(limbus, dip, wall):
    return float(needle_pass(EYE, _straight(limbus_angle=limbus, iris_angle=dip, wall=wall)).tunnel_length)


def length(id, limbus, dip, wall):
    """Ask for the length of a straight tunnel."""
    value, flat = _length(limbus, dip, wall), wall / np.sin(np.radians(dip))
    form = number(
        value, 0.15, "mm", 0.0, 5.0, f"It is through after {value:.2f} mm.",
        Misconception("flat-wall", flat, f"{flat:.1f} mm would be the way through a flat wall at this dip. The wall is "
                                         "round, and the needle also runs towards the eye."),
        Misconception("thickness", wall, "This is the wall's thickness. At a shallow angle the way through is several "
                                         "times as long."),
    )  # fmt: skip
    text = (
        f"A needle starts 2 mm behind the limbus, at {limbus:g} deg to it and a dip of {dip:g} deg, and goes straight "
        f"on through a wall of {wall:g} mm. How long is its tunnel?"
    )
    pose = settled(*({**STRAIGHT, "limbus_angle": limbus, "iris_angle": dip, "wall": wall},) * 2)
    return exercise(
        id, text, form, pose if pose.settled else None, f"The line meets the inner wall after {value:.3f} mm."
    )


@functools.cache
def _least(limbus, wall):
    return float(least_dip_that_enters(EYE, _straight(limbus_angle=limbus, wall=wall)))


def least(id, limbus, wall):
    """Ask for the least dip with which a straight needle enters."""
    value = _least(limbus, wall)
    tangent = float(np.degrees(np.arccos((EYE.scleral_radius - wall) / EYE.scleral_radius)))
    form = number(
        value, 0.6, "deg", 0.0, 30.0, f"From {value:.1f} deg on it is through; any flatter and it stays in the wall.",
        Misconception("from-the-tangent", tangent,
                      f"{tangent:.1f} deg is the angle to the surface that it takes in all. Part of it is spent "
                      "already by aiming at an angle to the limbus."),
        Misconception("any", 0.0, "The wall curves away beneath a flat needle as fast as the needle goes down: it "
                                  "can run for ever and not be through."),
    )  # fmt: skip
    text = (
        f"A needle goes straight on from 2 mm behind the limbus, at {limbus:g} deg to it, through a wall of {wall:g} "
        "mm. From which dip on does it get into the eye?"
    )
    return exercise(id, text, form, None, f"Where the line just touches the inner wall: {value:.2f} deg.")


def turned_end(id, steeper, flatter):
    """Ask for the tilt of ends that were turned down unequally."""
    pose = settled({"exit_angle": steeper}, {"exit_angle": flatter})
    value = float(pose.tilt)
    form = number(
        value, 0.7, "deg", 0.0, 40.0,
        f"{steeper - flatter:g} deg between the ends tilt the lens by {value:.1f} deg.",
        Misconception("all-of-it", steeper - flatter, "The lens leans by about half of what the ends differ: the other "
                                                      "haptic holds against it."),
        Misconception("nothing", 0.0, "The openings stay where they are, but the haptics enter at other angles, and it "
                                      "is these that hold the optic level or not."),
    )  # fmt: skip
    text = (
        f"Both needles dip 5 deg and are turned down through the last of the wall, the first to {steeper:g} deg, the "
        f"second to {flatter:g} deg. By how many degrees is the lens tilted?"
    )
    return exercise(id, text, form, pose, f"Settled with ends at {steeper:g} and {flatter:g} deg: {value:.2f} deg.")


def _four(wall, start):
    """Four passes (limbus angle, dip), of which by rights one stays in the wall."""
    lows = (14.0, 18.0, 22.0, 26.0)
    dips = [np.ceil(2.0 * _least(limbus, wall)) / 2.0 + 1.5 for limbus in lows]
    dips[start] -= 3.5
    return tuple((limbus, float(max(dip, 0.0))) for limbus, dip in zip(lows, dips, strict=True))


def stays(id, wall, start):
    """Ask which of four straight needles stays in the wall."""
    passes = _four(wall, start)
    lengths = [_length(limbus, dip, wall) for limbus, dip in passes]
    stuck = [i for i, one in enumerate(lengths) if not np.isfinite(one)]
    choices = []
    for i, ((limbus, dip), one) in enumerate(zip(passes, lengths, strict=True)):
        least_dip = _least(limbus, wall)
        does = f"is through after {one:.1f} mm" if np.isfinite(one) else "never gets through"
        because = (
            f"At {limbus:g} deg to the limbus it takes {least_dip:.1f} deg of dip; with {dip:g} deg this one {does}."
        )
        choices.append((f"pass-{i + 1}", f"{limbus:g} deg to the limbus, a dip of {dip:g} deg", because))
    form = pick(f"pass-{stuck[0] + 1}", *choices)
    text = (
        f"Four needles go straight on from 2 mm behind the limbus through a wall of {wall:g} mm. One never gets into "
        "the eye. Which?"
    )
    return exercise(id, text, form, None, f"Only pass {stuck[0] + 1} never meets the inner wall.")


_SLIPS = {
    "dip": Slip(
        lambda size: {"iris_angle": 5.0 + 10.0 * size}, "Its needle dipped {:g} deg more.", 10.0,
        "A dip leans the lens about the line of the openings, so that an edge off that line lies deepest: {}.",
    ),
    "distance": Slip(
        lambda size: {"limbus_distance": 2.0 + 1.2 * size}, "It started {:g} mm further behind the limbus.", 1.2,
        "A pass further back opens deeper and tips the lens along the line of the openings: {}.",
    ),
    "mark": Slip(
        lambda size: {"meridian": 180.0 + 12.0 * size}, "Its mark was {:g} deg off.", 12.0,
        "A mark shifts the lens across that line and leaves it flat: {}.",
    ),
}  # fmt: skip


def cause(id, slip, size):
    """Ask which slip of a needle left the lens as it was found."""
    text = (
        "Marks were planned at 0 and 180 deg. The lens is found {}. One thing went wrong, on the second side, at 180 "
        "deg. What was it?"
    )
    return which_slip(id, _SLIPS, slip, size, text)


_WITHIN = 0.15
_FLAT = 2.0  # [deg]; chosen for teaching


def two_walls(id, thin, thick, goal):
    """Ask for angles with which tunnels in unequal walls are alike."""
    walls, dip = (thin, thick), 10.0
    best = [limbus_angle_for(wall, dip, goal) for wall in walls]
    answer = {
        side: {"limbus_angle": round(angle, 1), "iris_angle": dip}
        for side, angle in zip(("first", "second"), best, strict=True)
    }
    equal = {"limbus_angle": round(sum(best) / 2.0, 1), "iris_angle": dip}
    wrong = {
        "alike-on-both-sides": {"first": equal, "second": equal},
        "thick-wall-shallower": {"first": answer["second"], "second": answer["first"]},
    }
    example = "{'first': {'limbus_angle': 20, 'iris_angle': 10}, 'second': {'limbus_angle': 20, 'iris_angle': 10}}"
    form = Plan(
        f"Answer with two angles [deg] a side, such as {example}.",
        functools.partial(_judge_walls, walls, goal),
        {
            f"{side}__{name}": f"{side.capitalize()} side: {words} [deg]"
            for side in ("first", "second")
            for name, words in (("limbus_angle", "angle to the limbus"), ("iris_angle", "dip"))
        },
    )
    text = (
        f"The wall is {thin:g} mm thick on the first side and {thick:g} mm on the second. Both needles go straight "
        f"on. Choose the angle to the limbus and the dip of each so that both tunnels are {goal:g} mm long, give or "
        f"take {_WITHIN:g}, and the lens lies within {DECENTRATION_LIMIT:g} mm and {_FLAT:g} deg."
    )
    pose = settled(*_walled(walls, answer))
    reasoning = (
        "Keep both dips equal, so that nothing tilts, and aim more towards the eye in the thicker wall: "
        f"{best[0]:.1f} deg against {best[1]:.1f} deg to the limbus at a dip of {dip:g} deg."
    )
    return exercise(id, text, form, pose, reasoning, answer=answer, wrong=wrong)


def _judge_walls(walls, goal, answer):
    sides = _walled(walls, answer)
    lengths = [_length(side["limbus_angle"], side["iris_angle"], side["wall"]) for side in sides]
    shown = " and ".join(f"{one:.2f} mm" if np.isfinite(one) else "none (it never enters)" for one in lengths)
    misses = [abs(one - goal) if np.isfinite(one) else np.inf for one in lengths]
    head, pose = f"Tunnels: {shown}.", settled(*sides, on_failure="flag")
    credit = 0.6 * float(np.mean([np.clip(1.0 - (miss - _WITHIN), 0.0, 1.0) for miss in misses]))
    if max(misses) > _WITHIN + 1e-9:
        if all(sides[0][name] == sides[1][name] for name in ("limbus_angle", "iris_angle")):
            words = f"{head} The same angles in unequal walls make unequal tunnels: aim each side for its own wall."
            return partly(credit, words, "alike-on-both-sides", pose=pose)
        crossed = [_length(s["limbus_angle"], s["iris_angle"], w) for s, w in zip(sides, walls[::-1], strict=True)]
        if all(np.isfinite(one) and abs(one - goal) <= _WITHIN for one in crossed):
            words = f"{head} The thicker wall has got the shallower pass. It asks for the steeper one."
            return partly(credit, words, "thick-wall-shallower", pose=pose)
        ways = [
            f"the {name} pass has to be {'shallower' if np.isfinite(one) and one < goal else 'steeper'}"
            for name, one, miss in zip(("first", "second"), lengths, misses, strict=True)
            if miss > _WITHIN
        ]
        return partly(credit, f"{head} {' and '.join(ways).capitalize()}.", pose=pose)
    if not pose.settled:
        return partly(credit, f"{head} Both are as wanted, but the lens has no resting place: {pose.reason}.")
    head = f"{head} The lens lies {pose_words(pose)}."
    if pose.tilt > _FLAT:
        return partly(
            credit,
            f"{head} The dips differ; keep them alike and let the angles to the limbus differ.",
            "dips-differ",
            pose=pose,
        )
    if not sits_well(pose):
        return partly(credit, head, pose=pose)
    return Feedback(True, 1.0, f"{head}", pose=pose)


def _walled(walls, answer):
    given = read_dict(answer, ["first", "second"], "{'first': {'limbus_angle': 20, 'iris_angle': 10}, 'second': {...}}")
    sides = []
    for name, wall in zip(("first", "second"), walls, strict=True):
        if name not in given:
            raise LearnerError(f"The {name} side is missing. Both are asked for.")
        start = _straight(limbus_angle=20.0, iris_angle=10.0, wall=wall)
        side = read_side(given[name], start, ("limbus_angle", "iris_angle"))
        sides.append({**STRAIGHT, "limbus_angle": side.limbus_angle, "iris_angle": side.iris_angle, "wall": wall})
    return sides


ITEMS = (
    Item("needles.length", "number", "foretell the length of a straight tunnel", "foretell",
         (Span("limbus", "deg", (18.0, 20.0, 22.0, 24.0)), Span("dip", "deg", (10.0, 11.0, 12.0, 13.0, 14.0)),
          Span("wall", "mm", (0.4, 0.45, 0.5, 0.55))), length, SIMULATED,
         lambda limbus, dip, wall: 1.0 < _length(limbus, dip, wall) < 2.5,
         apart),
    Item("needles.least", "number", "foretell from which dip on a needle is through", "foretell",
         (Span("limbus", "deg", (16.0, 17.0, 18.0, 19.0, 20.0, 21.0)),
          Span("wall", "mm", (0.45, 0.5, 0.55, 0.6, 0.65))),
         least, SIMULATED,
         lambda limbus, wall: 3.0 < _least(limbus, wall) < 12.0, apart),
    Item("needles.turned-end", "number", "foretell the tilt of ends turned down unequally", "foretell",
         (Span("steeper", "deg", (40.0, 45.0, 50.0)), Span("flatter", "deg", (25.0, 27.0, 29.0, 31.0))),
         turned_end, SIMULATED, clear=apart),
    Item("needles.stays", "choice", "tell a needle that stays in the wall from one that does not", "recognise",
         (Span("wall", "mm", (0.55, 0.6, 0.65, 0.7, 0.75)), Span("start", "", (0, 1, 2, 3))), stays, SIMULATED,
         lambda wall, start: sum(not np.isfinite(_length(*one, wall)) for one in _four(wall, start)) == 1),
    Item("needles.cause", "cause", "read from the lean of a lens what went wrong", "recognise",
         (Span("slip", "", tuple(_SLIPS)), Span("size", "", (0.8, 0.9, 1.0, 1.1))), cause, SIMULATED,
         functools.partial(told_apart, _SLIPS)),
    Item("needles.two-walls", "plan", "aim for walls that differ", "design",
         (Span("thin", "mm", (0.42, 0.45, 0.48)), Span("thick", "mm", (0.6, 0.63, 0.66)),
          Span("goal", "mm", (1.8, 2.0))),
         two_walls, SIMULATED),
)  # fmt: skip
