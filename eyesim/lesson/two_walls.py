"""Two walls, one tunnel: a plan for a thin and a thick wall, scored by what the needle and the lens make of it."""

from __future__ import annotations

import functools

import numpy as np

from ..hold.needle import needle_pass
from ..hold.settle import settle
from ..study.verdict import judge, sits_well
from ..text.reading import read_dict, read_side
from .cases import EYE, FIRST, LENS, SECOND, STRAIGHT, asked, pose_words, settled
from .question import Feedback, Plan, Scene

_WALLS = (0.45, 0.65)
_GOAL, _WITHIN = 2.0, 0.2


def two_walls(id, kind):
    """Ask about angles for a thin and a thick wall so that both tunnels are 2 mm."""
    dip = 10.0
    best = [limbus_angle_for(wall, dip) for wall in _WALLS]
    answer = {
        side: {"limbus_angle": round(angle, 1), "iris_angle": dip}
        for side, angle in zip(("first", "second"), best, strict=True)
    }
    form = Plan(
        "Answer with a dict such as {'first': {'limbus_angle': 20, 'iris_angle': 10}, 'second': {'limbus_angle': 20, "
        "'iris_angle': 10}}.",
        _judge_two_walls,
    )
    text = (
        f"The wall is {_WALLS[0]:g} mm thick on the first side and {_WALLS[1]:g} mm on the second. Choose the limbus "
        f"angle and the iris angle of each straight pass so that both tunnels are {_GOAL:g} mm long, give or take "
        f"{_WITHIN:g}, and the lens sits centred and flat."
    )
    pose = settled(*_two_walls(answer))
    reasoning = (
        "Keep both dips equal, so that nothing tilts, and aim more towards the eye in the thicker wall: "
        f"{best[0]:.1f} deg against {best[1]:.1f} deg to the limbus at {dip:g} deg of dip."
    )
    equal = {"limbus_angle": 20.0, "iris_angle": 10.0}
    by_dip = [_dip_for(wall, 20.0) for wall in _WALLS]
    wrong = {
        "alike-on-both-sides": {"first": equal, "second": equal},
        "thick-wall-shallower": {"first": answer["second"], "second": answer["first"]},
        "dips-differ": {
            side: {"limbus_angle": 20.0, "iris_angle": round(dip, 1)}
            for side, dip in zip(("first", "second"), by_dip, strict=True)
        },
    }
    scenes = (Scene("Alike on both sides", settled(*_two_walls(wrong["alike-on-both-sides"]))),)
    return asked(id, kind, text, form, pose, reasoning, scenes=scenes, answer=answer, wrong=wrong, matter="")


def _judge_two_walls(answer):
    first, second = _two_walls(answer)
    sides = [FIRST.but(**first), SECOND.but(**second)]
    lengths = [float(needle_pass(EYE, side).tunnel_length) for side in sides]
    shown = " and ".join(f"{length:.2f} mm" if np.isfinite(length) else "none (it never enters)" for length in lengths)
    share = sum(
        0.25 * max(0.0, 1.0 - max(0.0, abs(length - _GOAL) - _WITHIN)) for length in lengths if np.isfinite(length)
    )
    good = [np.isfinite(length) and abs(length - _GOAL) <= _WITHIN + 1e-9 for length in lengths]
    head = f"Tunnels: {shown}."
    alike = first["limbus_angle"] == second["limbus_angle"] and first["iris_angle"] == second["iris_angle"]
    if not all(good):
        if alike:
            return Feedback(
                False, share, f"{head} The same angles in unequal walls make unequal tunnels: aim each side for "
                              "its own wall.",
                "alike-on-both-sides",
            )  # fmt: skip
        mirrored = [_length(_WALLS[1 - i], side) for i, side in enumerate((first, second))]
        if all(np.isfinite(m) and abs(m - _GOAL) <= _WITHIN for m in mirrored):
            return Feedback(
                False, share, f"{head} The thicker wall has got the shallower pass. It asks for the steeper one.",
                "thick-wall-shallower",
            )  # fmt: skip
        hints = [
            f"the {name} pass has to be {'shallower' if np.isfinite(length) and length < _GOAL else 'steeper'}"
            for name, length, fine in zip(("first", "second"), lengths, good, strict=True) if not fine
        ]  # fmt: skip
        return Feedback(False, share, f"{head} {' and '.join(hints).capitalize()}.")
    pose = settle(EYE, LENS, *sides, on_failure="flag")
    if not pose.settled:
        return Feedback(False, share, f"{head} Both are as wanted, but the lens has no resting place: {pose.reason}.")
    if pose.tilt > 2.0:
        return Feedback(
            False, share + 0.25 * float(sits_well(pose)),
            f"{head} Both are as wanted, but the dips differ and the lens lies {pose_words(pose)}. Keep the dips "
            "equal and let the limbus angles make the difference.",
            "dips-differ",
        )  # fmt: skip
    if not sits_well(pose):
        return Feedback(False, share, f"{head} Both are as wanted, but the lens lies {pose_words(pose)}.")
    return Feedback(True, 1.0, f"{head} The lens lies {pose_words(pose)}. {judge(pose)}")


def _two_walls(answer):
    given = read_dict(answer, ["first", "second"], "{'first': {'limbus_angle': 20, 'iris_angle': 10}, 'second': {...}}")
    sides = []
    for name, base, wall in zip(("first", "second"), (FIRST, SECOND), _WALLS, strict=True):
        start = base.but(limbus_angle=20.0, iris_angle=10.0, wall=wall, **STRAIGHT)
        side = read_side(given.get(name, {}), start, ("limbus_angle", "iris_angle"))
        sides.append({"limbus_angle": side.limbus_angle, "iris_angle": side.iris_angle, "wall": wall, **STRAIGHT})
    return sides


def _length(wall, side):
    return float(needle_pass(EYE, FIRST.but(**{**side, "wall": wall})).tunnel_length)


@functools.cache
def limbus_angle_for(wall, dip, goal=_GOAL):
    """Angle to the limbus [deg] with which a straight tunnel has a length [mm] in a wall [mm] at a dip [deg]."""
    angles = np.linspace(5.0, 60.0, 1101)
    lengths = needle_pass(EYE, FIRST.but(limbus_angle=angles, iris_angle=dip, wall=wall, **STRAIGHT)).tunnel_length
    return float(angles[np.nanargmin(np.abs(lengths - goal))])


def _dip_for(wall, limbus_angle):
    dips = np.linspace(-10.0, 60.0, 1401)
    lengths = needle_pass(
        EYE, FIRST.but(limbus_angle=limbus_angle, iris_angle=dips, wall=wall, **STRAIGHT)
    ).tunnel_length
    return float(dips[np.nanargmin(np.abs(lengths - _GOAL))])
