"""What the items of the bank have in common: how a finding is told, and what is taken for what."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable

import numpy as np

from ...eye.checks import LearnerError
from ...eye.frames import direction_words
from ...study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from ...text.reading import read_dict, read_number
from ..cases import asked, pose_words, settled
from ..question import Choice, Feedback, Number, Pick

SIMULATED = "computed by the simulation"
_APART = 3.0  # between what two slips leave, as `nearest` counts; chosen for teaching
CLEAR = 0.12
"""Share of a limit by which a result has to miss it, so that there is no doubt on which side it lies."""


@functools.cache
def plain():
    """Where the lens of the plan comes to rest, a `Settled`."""
    return settled()


def exercise(id, text, form, pose, reasoning, **more):
    """Put an exercise together; what matters about it is said by its own reasons."""
    return asked(id, "exercise", text, form, pose, reasoning, matter="", **more)


def number(value, tolerance, unit, low, high, because, *misconceptions):
    """Form in which a number is given; what it comes to is told beside it, and there is no picture to go back to."""
    return Number(float(value), tolerance, unit, low, high, because, tuple(misconceptions), advice="")


def apart(question, least=2.0):
    """Whether no misconception leads to the right number, nor to that of another, by so many tolerances."""
    form = question.form
    values = [form.value, *(wrong.value for wrong in form.misconceptions)]
    gaps = [abs(a - b) for i, a in enumerate(values) for b in values[:i]]
    return min(gaps) > least * form.tolerance


def pick(right, *choices, **more):
    """Form in which one of several is chosen; choices are (key, words, because)."""
    return Pick(tuple(Choice(*choice) for choice in choices), right, **more)


def clear(pose):
    """Whether it is plain on which side of both limits a lens lies."""
    off, lean = float(pose.decentration) / DECENTRATION_LIMIT, float(pose.tilt) / TILT_LIMIT
    return min(abs(off - 1.0), abs(lean - 1.0)) > CLEAR


def found(pose):
    """Say where a lens was found, as one who examines the eye would: place, lean and depth."""
    lean = f"; its edge lies deepest at {direction_words(pose.tilt_meridian)}" if pose.tilt >= 0.5 else ""
    return f"{pose_words(pose)}{lean}; {pose.depth:.2f} mm behind the limbal plane (planned: {plain().depth:.2f})"


def nearest(pose, candidates):
    """Key of the candidate (key to pose) whose lens lies most like this one, and how clearly so [1].

    Shift [0.1 mm], lean [1 deg] and depth [0.1 mm] count alike; chosen for teaching. How clearly: the distance of the
    next one.
    """
    away = {key: _unlike(pose, other) for key, other in candidates.items()}
    first, second = sorted(away, key=away.get)[:2]
    return first, away[second]


def _unlike(one, other):
    place = np.array([one.x - other.x, one.y - other.y, one.z - other.z], float) / 0.1
    lean = np.degrees(np.asarray(one.normal)[..., :2] - np.asarray(other.normal)[..., :2])
    return float(np.hypot(np.linalg.norm(place), np.linalg.norm(lean)))


@dataclasses.dataclass(frozen=True)
class Slip:
    """One thing that can have gone wrong on the second side.

    Attributes
    ----------
    change : callable
        From a size [1] to the fields of the pass that are then other than planned.
    words : str
        What is said of it, with a gap for how much.
    much : float
        How much it is at size 1.
    does : str
        What it does to a lens, with a gap for where the lens then lies.
    """

    change: Callable[[float], dict]
    words: str
    much: float
    does: str


@functools.cache
def slipped(slip, size):
    """Where the lens comes to rest after a `Slip`, a `Settled`."""
    return settled(second=slip.change(size))


def which_slip(id, slips, slip, size, text, *, say=found, each="Each alone"):
    """Ask which of several slips (name to `Slip`) left the lens as it was found; the text has a gap for where."""
    pose, others = slipped(slips[slip], size), {name: slipped(one, size) for name, one in slips.items()}
    right, _ = nearest(pose, others)
    choices = [
        (name, one.words.format(round(size * one.much, 2)), one.does.format(say(others[name])))
        for name, one in slips.items()
    ]
    reasoning = f"{each} was simulated; only one leaves the lens so: {right}."
    return exercise(id, text.format(found(pose)), pick(right, *choices), pose, reasoning)


def told_apart(slips, slip, size):
    """Whether it is plain which of several slips it was."""
    return nearest(slipped(slips[slip], size), {name: slipped(one, size) for name, one in slips.items()})[1] > _APART


def read_plan(answer, names, units, example):
    """Read a plan of numbers by name; all of them are asked for."""
    given = read_dict(answer, list(names), example)
    missing = [name for name in names if name not in given]
    if missing:
        raise LearnerError(f"{missing[0]} is missing. A plan is wanted, such as {example}.")
    return [read_number(given[name], unit) for name, unit in zip(names, units, strict=True)]


def partly(credit, words, misconception=None, pose=None):
    """Feedback on a plan that is not there yet."""
    return Feedback(False, float(np.clip(credit, 0.0, 0.95)), words, misconception, pose)
