"""Two walls, one tunnel: a plan for a thin and a thick sclera, scored by what the needle and the lens make of it."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..hold.needle import needle_pass
from ..study.verdict import DECENTRATION_LIMIT, judge, sits_well
from ..text.reading import read_dict, read_side
from .build import EYE, FIRST, SECOND, STRAIGHT, build, partly, pose_of, pose_words
from .question import Feedback, Plan, Scene

_SIDES = ("first", "second")
_ANGLES = {"limbus_angle": "limbus angle", "iris_angle": "iris angle"}
_START = {"limbus_angle": 20.0, "iris_angle": 10.0}
_EXAMPLE = f"{{'first': {_START}, 'second': {_START}}}".replace(".0", "")
_WITHIN = 0.15  # [mm], and the next [deg]: chosen for teaching
_FLAT = 2.0


def two_walls(id, thin, thick, goal):
    """Ask for angles with which tunnels in unequal walls are alike.

    Parameters
    ----------
    id : str
    thin, thick : float [mm]
        Scleral thickness on the first side and on the second.
    goal : float [mm]
        Length of both tunnels.
    """
    walls, dip = (thin, thick), _START["iris_angle"]
    best = [_limbus_angle_for(wall, goal) for wall in walls]
    first, second = ({"limbus_angle": round(angle, 1), "iris_angle": dip} for angle in best)
    equal = {"limbus_angle": round(sum(best) / 2.0, 1), "iris_angle": dip}
    answer, alike = {"first": first, "second": second}, {"first": equal, "second": equal}
    wrong = {"alike-on-both-sides": alike, "thick-wall-shallower": {"first": second, "second": first}}
    by_dip = {
        side: {"limbus_angle": _START["limbus_angle"], "iris_angle": round(_dip_for(wall, goal), 1)}
        for side, wall in zip(_SIDES, walls, strict=True)
    }
    if _leans(_lies(walls, by_dip)):
        wrong["dips-differ"] = by_dip
    fields = {
        f"{side}__{name}": f"{side.capitalize()} side: {words} [deg]"
        for side in _SIDES
        for name, words in _ANGLES.items()
    }
    form = Plan(
        f"Answer with two angles [deg] a side, such as {_EXAMPLE}.",
        functools.partial(_judge_walls, walls, goal),
        fields,
    )
    text = (
        f"The sclera is {thin:g} mm thick on the first side and {thick:g} mm on the second. Both are single-plane "
        "passes. Choose the limbus angle (to the limbal tangent) and the iris angle of each so that both tunnels are "
        f"{goal:g} mm long, give or take {_WITHIN:g}, and the lens lies within {DECENTRATION_LIMIT:g} mm and "
        f"{_FLAT:g} deg."
    )
    reasoning = (
        "Keep both iris angles equal, so that nothing tilts, and aim more towards the eye in the thicker sclera: "
        f"{best[0]:.1f} deg against {best[1]:.1f} deg to the limbal tangent at an iris angle of {dip:g} deg."
    )
    scenes = (Scene("Alike on both sides", _lies(walls, alike)),)
    return build(id, text, form, _lies(walls, answer), reasoning, scenes=scenes, answer=answer, wrong=wrong)


def _judge_walls(walls, goal, answer):
    first, second = sides = _read_sides(walls, answer)
    lengths = [_length(side) for side in sides]
    shown = " and ".join(f"{tunnel:.2f} mm" if np.isfinite(tunnel) else "none (it never enters)" for tunnel in lengths)
    misses = [_miss(tunnel, goal) for tunnel in lengths]
    head, pose = f"Tunnels: {shown}.", pose_of(*sides, on_failure="flag")
    credit = 0.6 * float(np.mean([np.clip(1.0 - (miss - _WITHIN), 0.0, 1.0) for miss in misses]))
    if max(misses) > _WITHIN:
        if all(first[name] == second[name] for name in _ANGLES):
            words = f"{head} The same angles make unequal tunnels where the sclera differs: aim each side for its own."
            return partly(credit, words, "alike-on-both-sides", pose)
        crossed = [_length({**side, "wall": wall}) for side, wall in zip(sides, walls[::-1], strict=True)]
        if max(_miss(tunnel, goal) for tunnel in crossed) <= _WITHIN:
            words = f"{head} The thicker sclera has got the shallower pass. It asks for the steeper one."
            return partly(credit, words, "thick-wall-shallower", pose)
        ways = [
            f"the {name} pass has to be {'shallower' if tunnel < goal else 'steeper'}"
            for name, tunnel, miss in zip(_SIDES, lengths, misses, strict=True)
            if miss > _WITHIN
        ]
        return partly(credit, f"{head} {' and '.join(ways).capitalize()}.", pose=pose)
    if not pose.settled:
        return partly(credit, f"{head} Both are as wanted, but the lens has no resting place: {pose.reason}.")
    head = f"{head} The lens lies {pose_words(pose)}."
    if _leans(pose):
        words = f"{head} The iris angles differ; keep them alike and let the limbus angles differ."
        return partly(credit, words, "dips-differ", pose)
    if not sits_well(pose):
        return partly(credit, f"{head} {judge(pose)}", pose=pose)
    return Feedback(True, 1.0, head, pose=pose, matters=str(judge(pose)))


def _read_sides(walls, answer):
    """Fields of both passes, straight on in their walls, with the angles of an answer."""
    given = read_dict(answer, list(_SIDES), _EXAMPLE)
    sides = []
    for name, base, wall in zip(_SIDES, (FIRST, SECOND), walls, strict=True):
        if name not in given:
            raise LearnerError(f"The {name} side is missing. Both are asked for.")
        side = read_side(given[name], base.but(**STRAIGHT, **_START, wall=wall), tuple(_ANGLES))
        sides.append({**STRAIGHT, **{angle: getattr(side, angle) for angle in _ANGLES}, "wall": wall})
    return sides


def _lies(walls, answer):
    return pose_of(*_read_sides(walls, answer))


def _leans(pose):
    return round(float(pose.tilt), 1) > _FLAT  # as it is printed


def _length(side):
    return float(needle_pass(EYE, FIRST.but(**side)).tunnel_length)


def _miss(tunnel, goal):
    """By how much a tunnel misses the length [mm] that is asked for, both as they are printed."""
    return round(abs(round(tunnel, 2) - goal), 3) if np.isfinite(tunnel) else np.inf


@functools.cache
def _limbus_angle_for(wall, goal):
    angles = np.linspace(5.0, 60.0, 1101)
    passes = FIRST.but(**{**STRAIGHT, **_START, "limbus_angle": angles, "wall": wall})
    return float(angles[np.nanargmin(np.abs(needle_pass(EYE, passes).tunnel_length - goal))])


@functools.cache
def _dip_for(wall, goal):
    dips = np.linspace(-10.0, 60.0, 1401)
    passes = FIRST.but(**{**STRAIGHT, **_START, "iris_angle": dips, "wall": wall})
    return float(dips[np.nanargmin(np.abs(needle_pass(EYE, passes).tunnel_length - goal))])
