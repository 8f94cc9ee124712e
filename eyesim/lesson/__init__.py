"""Questions and exercises: predict, look, and answer; the simulation says what is right.

A question has a stable id, "lesson.name". A *prediction* is asked before its result is shown; an *exercise*
after. Both are judged by the same call::

    from eyesim import lesson

    lesson.predict("opposite.ten-off")          # its repr: the text, the lettered choices, how to answer
    lesson.check("opposite.ten-off", ...)       # Not answered yet: ...
    lesson.check("opposite.ten-off", "b")       # Feedback; its repr is the words
    lesson.exercise("opposite.six-off")         # its repr: the text and how to answer
    lesson.check("opposite.six-off", "0,32 mm")
    lesson.check("needle.two-walls", {"first": {"limbus_angle": 20, "iris_angle": 10}, "second": {...}})
    lesson.reference_answer("needle.two-walls")  # .answer and .reasoning
    lesson.ids("opposite")                      # ids of one lesson; ids() for all, ids(kind="prediction")

`lesson.check` never raises on what a learner gives: `Feedback` has `.right` (True, False, or None where nothing
was judged), `.share` (credit, 0 to 1), `.words` and `.misconception` (a name, for the overview of a class).
`lesson.predict(id).result()` gives the settled lenses that the reveal draws. `eyesim.panel.ask(id)` is the same
question with buttons.

Lessons: start, opposite, needle, tunnel, see, vary, back, log.
"""

from __future__ import annotations

import functools

from ..eye.calls import spoken
from ..eye.checks import LearnerError, known_name
from ..eye.frames import direction_words
from ..hold.marker import ring_marks
from ..hold.rest import line_parts
from ..study.verdict import DECENTRATION_LIMIT, DEPTH_LIMIT, TILT_LIMIT, sits_well
from ..study.verdict import judge as matters
from ..text.reading import read_choice, read_number
from . import back, log, marks, needles, sight, start, tunnels, vary
from .cases import pose_words
from .patient import moved, reads, reads_at_best, sight_matters, sight_words
from .question import Feedback, Question, Reference

LESSONS = {"start": start, "opposite": marks, "needle": needles, "tunnel": tunnels, "see": sight, "vary": vary,
           "back": back, "log": log}  # fmt: skip
"""Lesson name to its module; each module lists its predictions and exercises in the order they are asked."""


@spoken
def ids(lesson=None, kind=None):
    """Ids of the questions of a lesson (None: of all), in the order they are asked.

    Parameters
    ----------
    lesson : str or None
        A key of `LESSONS`.
    kind : "prediction", "exercise" or None
    """
    if lesson is not None and lesson not in LESSONS:
        raise LearnerError(f"The lessons are {', '.join(LESSONS)}; {lesson!r} was given.")
    if kind not in (None, "prediction", "exercise"):
        raise LearnerError(f"kind is 'prediction' or 'exercise'; {kind!r} was given.")
    names = [lesson] if lesson else list(LESSONS)
    found = []
    for name in names:
        found += [] if kind == "exercise" else [f"{name}.{key}" for key in LESSONS[name].PREDICTIONS]
        found += [] if kind == "prediction" else [f"{name}.{key}" for key in LESSONS[name].EXERCISES]
    return found


@functools.cache
def _built(id):
    lesson, _, key = id.partition(".")
    module = LESSONS[lesson]
    kind = "prediction" if key in module.PREDICTIONS else "exercise"
    make = {**module.PREDICTIONS, **module.EXERCISES}[key]
    return make(id, kind)


def question(id):
    """Question of an id, whichever kind.

    Raises
    ------
    LearnerError
        If there is none; suggests the nearest.
    """
    if not isinstance(id, str):
        raise LearnerError(f"An id is a text such as 'opposite.ten-off'; a {type(id).__name__} was given.")
    known_name("The course", id, ids())
    return _built(id)


@spoken
def predict(id):
    """Prediction of an id, to be made before looking."""
    return _of_kind(id, "prediction")


@spoken
def exercise(id):
    """Exercise of an id."""
    return _of_kind(id, "exercise")


@spoken
def check(id, answer):
    """Feedback on an answer.

    Parameters
    ----------
    id : str
    answer : number, str, dict, Fixation or ...
        What the question asks for; `...` stands for not answered yet. It is read, never evaluated.

    Returns
    -------
    Feedback
    """
    return question(id).judge(answer)


@spoken
def reference_answer(id):
    """Answer that the simulation gives, with the reasoning: `Reference(answer, reasoning)`."""
    return question(id).reference


def _of_kind(id, kind):
    asked = question(id)
    if asked.kind != kind:
        call = "predict" if asked.kind == "prediction" else "exercise"
        raise LearnerError(f"{id} is one of the {asked.kind}s: lesson.{call}({id!r}) gives it.")
    return asked


__all__ = [
    "DECENTRATION_LIMIT", "DEPTH_LIMIT", "Feedback", "LESSONS", "Question", "Reference", "TILT_LIMIT", "check",
    "direction_words", "exercise", "ids", "line_parts", "matters", "moved", "pose_words", "predict", "question",
    "read_choice", "read_number", "reads", "reads_at_best", "reference_answer", "ring_marks", "sight_matters",
    "sight_words", "sits_well",
]  # fmt: skip
