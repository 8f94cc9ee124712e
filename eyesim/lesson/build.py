"""What all questions are built from: the eye, lens and passes they start with, and their forms.

A builder takes an id and numbers and gives a `Question`; its lesson shows it at fixed numbers, an assignment at
everybody's own (`item`).
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import LearnerError
from ..eye.frames import direction_words
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..hold.rest import Settled
from ..hold.settle import settle
from ..study.causes import WORDS
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from ..text.reading import read_dict, read_number
from .question import Choice, Feedback, Number, Pick, Question, Reference, Scene, wrong_answers

EYE = Eye()
LENS = Lens()
FIRST = Fixation(meridian=0.0)
SECOND = FIRST.opposite()
STRAIGHT = {"tunnel_length": None}
SIMULATED = "computed by the simulation"
BY_TABLE_OF_HANDS = "computed by the simulation with the table of hands, most of whose spreads are assumptions"
ERRORS = {
    "mark": "meridian", "distance": "limbus_distance", "angle": "limbus_angle", "dip": "iris_angle",
    "tunnel": "tunnel_length", "outside": "outside",
}  # fmt: skip
"""Errors of a hand by the short word that a learner writes; `error_words` says what they are called."""
CLEAR = 0.12
"""Share of a limit by which a result has to miss it, so that there is no doubt on which side it lies."""


def pose_of(first=None, second=None, eye=EYE, lens=LENS, on_failure=None) -> Settled:
    """Pose of the usual lens in the usual eye, one or both passes changed.

    Parameters
    ----------
    first, second : dict or None
        Fields of the `Fixation` that are other than planned.
    eye : Eye
    lens : Lens
    on_failure : "raise", "flag" or None
        As for `settle`.
    """
    passes = FIRST.but(**(first or {})), SECOND.but(**(second or {}))
    return settle(eye, lens, *passes, on_failure=on_failure, pilot=planned())


@functools.cache
def planned():
    """Pose as planned, a `Settled`; others are sooner reached from it than from an unstressed lens."""
    return settle(EYE, LENS, FIRST, SECOND)


def pose_words(pose):
    """Say where a lens lies, in the digits that matter to a learner."""
    off = "centred"
    if pose.decentration >= 0.05:
        off = f"{pose.decentration:.2f} mm off centre towards {direction_words(pose.decentration_meridian)}"
    lean = "flat" if pose.tilt < 0.5 else f"tilted by {pose.tilt:.1f} deg"
    return f"{off} and {lean}"


def error_words(error):
    """Words for one of `ERRORS`, in the plural, such as "tunnel lengths"."""
    return WORDS[ERRORS[error]]


def build(id, text, form, pose, reasoning, *, label="What the simulation shows", scenes=(), answer=None, wrong=None,
          matters=""):  # fmt: skip
    """Put a question together.

    Parameters
    ----------
    id, text : str
    form : Pick, Number or Plan
    pose : Settled, Sight or None
        The result itself, drawn first, under its label.
    reasoning : str
    scenes : tuple of Scene
        What else the answer is compared with.
    answer, wrong : object, dict
        Of a plan; other forms know theirs.
    matters : str or Verdict
        One line: it matters, or it does not, because.
    """
    if answer is None:
        answer = form.letter if form.kind == "choice" else float(f"{form.value:.4g}")
    first = () if pose is None else (Scene(label, pose),)
    wrong = wrong_answers(form) if wrong is None else wrong
    return Question(id, text, form, str(matters), (*first, *scenes), Reference(answer, reasoning), wrong)


def number(value, tolerance, unit, low, high, because, *misconceptions):
    """Form in which a number is given.

    Parameters
    ----------
    value, tolerance : float [unit]
    unit : str
    low, high : float [unit]
        Range worth thinking of.
    because : str
    *misconceptions : Misconception
    """
    return Number(float(value), tolerance, unit, low, high, because, misconceptions)


def pick(right, *choices, **more):
    """Form in which one of several is chosen.

    Parameters
    ----------
    right : str
        Key of the right one.
    *choices : (str, str, str)
        Key, words and reason.
    **more
        Other fields of `Pick`.
    """
    return Pick(tuple(Choice(*choice) for choice in choices), right, **more)


def are_apart(question, least=2.0):
    """Whether no misconception leads to the right number, nor to that of another.

    Parameters
    ----------
    question : Question
    least : float [1]
        By so many tolerances they miss each other.
    """
    form = question.form
    values = [form.value, *(wrong.value for wrong in form.misconceptions)]
    gaps = [abs(a - b) for i, a in enumerate(values) for b in values[:i]]
    return min(gaps) > least * form.tolerance


def if_apart(form, misconception, least=2.0):
    """Form of a number with one more misconception, if that leads to a number of its own.

    Parameters
    ----------
    form : Number
    misconception : Misconception
    least : float [1]
        By so many tolerances it misses the right number and those of the others.
    """
    values = [form.value, *(wrong.value for wrong in form.misconceptions)]
    if min(abs(misconception.value - other) for other in values) <= least * form.tolerance:
        return form
    return dataclasses.replace(form, misconceptions=(*form.misconceptions, misconception))


def is_clear(pose):
    """Whether it is plain on which side of both limits a lens lies."""
    off, lean = float(pose.decentration) / DECENTRATION_LIMIT, float(pose.tilt) / TILT_LIMIT
    return min(abs(off - 1.0), abs(lean - 1.0)) > CLEAR


def read_plan(answer, names, units, example):
    """Read a plan of numbers by name, all of them, as a list of floats. Raises LearnerError if it is no such plan.

    Parameters
    ----------
    answer : object
        What somebody gave.
    names, units : sequence of str
    example : str
        Shown where something is missing.
    """
    given = read_dict(answer, list(names), example)
    missing = [name for name in names if name not in given]
    if missing:
        raise LearnerError(f"{missing[0]} is missing. A plan is wanted, such as {example}.")
    return [read_number(given[name], unit) for name, unit in zip(names, units, strict=True)]


def partly(credit, words, misconception=None, pose=None):
    """Feedback on a plan that is not there yet.

    Parameters
    ----------
    credit : float [1]
    words : str
    misconception : str or None
    pose : Settled or None
    """
    return Feedback(False, float(np.clip(credit, 0.0, 0.95)), words, misconception, pose)
