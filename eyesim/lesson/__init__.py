"""Questions and exercises: predict, look, and answer; the simulation says what is right.

A question has a stable id, "lesson.name". A *prediction* is asked before its result is shown, an *exercise* after.
Both are judged by the same call::

    from eyesim import lesson

    lesson.predict("marks.which-way")             # its repr: the text, the lettered choices, how to answer
    lesson.check("marks.which-way", ...)          # Not answered yet: ...
    lesson.check("marks.which-way", "b")          # Feedback; its repr is the words
    lesson.exercise("marks.shift")                # its repr: the text and how to answer
    lesson.check("marks.shift", "0,32 mm")
    lesson.check("needles.two-walls", {"first": {"limbus_angle": 20, "iris_angle": 10}, "second": {...}})
    lesson.reference_answer("needles.two-walls")  # .answer and .reasoning
    lesson.ids("marks")                           # ids of one lesson; ids() for all, ids(kind="prediction")

`lesson.check` never raises on what a learner gives: `Feedback` has `.right` (True, False, or None where nothing was
judged), `.share` (credit, 0 to 1), `.misconception` (a name, for the overview of a class), the parts `.verdict`,
`.because` and `.matters`, and all of them as `.words`. `lesson.predict(id).result()` gives the settled lenses, or what
is seen through them, that are drawn with the answer. `eyesim.panel.ask(id)` is the same question with buttons;
`lesson.bank` asks the same questions in numbers of their own for everybody.

Lessons: start, marks, needles, tunnels, sight, vary, back, log.
"""

from __future__ import annotations

from ..eye.checks import LearnerError, known_name, plain_errors
from ..eye.frames import direction_words
from ..hold.marker import ring_marks
from ..hold.rest import line_parts
from ..study.sight_verdict import judge_sight as sight_matters
from ..study.sight_verdict import reads, reads_at_best, sight_words
from ..study.verdict import DECENTRATION_LIMIT, DEPTH_LIMIT, TILT_LIMIT, sits_well
from ..study.verdict import judge as matters
from ..text.reading import read_choice, read_number
from . import back, log, marks, needles, sight, start, tunnels, vary
from .build import pose_words
from .item import collect
from .patient import moved
from .question import Feedback, Question, Reference

LESSONS = {
    "start": start, "marks": marks, "needles": needles, "tunnels": tunnels, "sight": sight, "vary": vary,
    "back": back, "log": log,
}  # fmt: skip
"""Lesson name to its module; each module lists its items, those that the lesson asks in the order it asks them."""

_ITEMS = collect(*LESSONS.values())


@plain_errors
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
    modules = [LESSONS[lesson]] if lesson else LESSONS.values()
    return [
        item.id
        for module in modules
        for item in module.ITEMS
        if item.shown is not None and kind in (None, "prediction" if item.predicts else "exercise")
    ]


def question(id):
    """Question of an id, whichever kind. Raises LearnerError if there is none; suggests the nearest."""
    if not isinstance(id, str):
        raise LearnerError(f"An id is a text such as 'marks.which-way'; a {type(id).__name__} was given.")
    known_name("The course", id, ids())
    return _ITEMS[id].in_lesson()


@plain_errors
def predict(id):
    """Prediction of an id, to be made before looking."""
    return _of_kind(id, predicts=True)


@plain_errors
def exercise(id):
    """Exercise of an id."""
    return _of_kind(id, predicts=False)


@plain_errors
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


@plain_errors
def reference_answer(id):
    """Answer that the simulation gives, with the reasoning: `Reference(answer, reasoning)`."""
    return question(id).reference


def _of_kind(id, predicts):
    """Question of an id, if it is of this kind."""
    one = question(id)
    if one.reveals != predicts:
        kind, call = ("predictions", "predict") if one.reveals else ("exercises", "exercise")
        raise LearnerError(f"{id} is one of the {kind}: lesson.{call}({id!r}) gives it.")
    return one


__all__ = [
    "DECENTRATION_LIMIT", "DEPTH_LIMIT", "Feedback", "LESSONS", "Question", "Reference", "TILT_LIMIT", "check",
    "direction_words", "exercise", "ids", "line_parts", "matters", "moved", "pose_words", "predict", "question",
    "read_choice", "read_number", "reads", "reads_at_best", "reference_answer", "ring_marks", "sight_matters",
    "sight_words", "sits_well",
]  # fmt: skip
