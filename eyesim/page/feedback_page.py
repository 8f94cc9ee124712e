"""What somebody hears back: each question in their own numbers, what they answered, what the simulation says to it."""

from __future__ import annotations

import contextlib
import itertools
from html import escape

from ..draw.pdf import document
from ..draw.views import both_views
from ..eye.checks import LearnerError
from ..text.reading import read_choice
from .html import html_page

_LIMITS = (
    "What this shows: whether consequences are understood, in a model, with these numbers. It is no measure of "
    "operative skill, and it is meant for learning."
)
_SIGNS = {True: "\N{CHECK MARK}", False: "\N{RIGHTWARDS ARROW}", None: "\N{HORIZONTAL ELLIPSIS}"}


def feedback_pdf(assignment, marked, *, sheet="A4"):
    """Return the same as a PDF, bytes.

    Parameters
    ----------
    assignment, marked
        As in `feedback_page`.
    sheet : str
        Paper, a key of `pdf.SHEETS`.
    """
    parts = [("lead", _lead(assignment, marked)), ("small", _LIMITS)]
    for name, answers in _by_part(assignment, marked):
        parts.append(("heading", name))
        for entry, mark in answers:
            parts += [("line", ""), *_feedback(assignment, entry, mark, marked.person.id)]
    return document(f"{assignment.title}: {marked.person.called}", parts, sheet=sheet)


def feedback_page(assignment, marked) -> str:
    """HTML page for one person.

    Parameters
    ----------
    assignment : Assignment
    marked : Result
    """
    person = marked.person
    parts = []
    for name, answers in _by_part(assignment, marked):
        parts.append(f"<h2>{escape(name)}</h2>")
        parts += [_section(assignment, entry, mark, person.id) for entry, mark in answers]
    body = (
        f"<p class='lead'>{escape(_lead(assignment, marked))}</p>\n<p class='small'>{escape(_LIMITS)}</p>\n"
        f"{''.join(parts)}"
    )
    return html_page(f"{assignment.title}: {person.called}", body, heading=assignment.title)


def _by_part(assignment, marked):
    """Questions with their marks, by part; none for who is missing, since the answers stand beside them."""
    answers = [] if marked.state == "missing" else zip(assignment.entries, marked.marks, strict=True)
    return itertools.groupby(answers, key=lambda answer: answer[0].part)


def _lead(assignment, marked):
    of = sum(entry.points for entry in assignment.entries)
    if marked.state == "missing":
        return f"{marked.person.called}: nothing was handed in that could be read."
    words = f"{marked.person.called}: {marked.points:g} of {of:g} points."
    words += " What is marked by hand comes on top." if marked.waiting else ""
    return words + (" Handed in late." if marked.state == "late" else "")


def _feedback(assignment, entry, mark, who):
    """All that is said of one answer: pairs of kind and content, as `pdf.document` takes them."""
    question = assignment.question(entry, who)
    yield "question", entry.text if question is None else question.text
    for line in [] if question is None else question.form.lines():
        yield "words", line
    given = "Not answered." if mark.answer is None else given_words(question, mark.answer)
    yield "answer", f"{given} ({mark.confidence})" if mark.confidence else given
    yield "words", f"{_SIGNS[mark.right]} {mark.words}"
    if mark.right is False and mark.confidence == "certain":
        yield "words", "You were certain. What one is wrong about and sure of is worth most to look at again."
    if question is not None and tolerance(question):
        yield "small", tolerance(question)
    if question is None:
        yield "small", f"How it is marked: {entry.rubric}"
    elif mark.right is not True:
        yield "small", f"What the simulation says: {question.reference.reasoning}"
    picture = plan_picture(mark.pose)
    if picture:
        yield "picture", picture
        yield "small", "What comes of this plan."
    waits = f"{entry.points:g} points, not marked yet: the director does"
    points = waits if mark.points is None else f"{mark.points:g} of {entry.points:g}"
    yield "small", f"{entry.name}: {points}"


_TAGS = {"question": "h3", "words": "p", "answer": "p class='answer'", "small": "p class='small'"}


def _section(assignment, entry, mark, who):
    parts = []
    for kind, content in _feedback(assignment, entry, mark, who):
        if kind == "picture":
            parts.append(f"<figure>{content}</figure>")
        else:
            tag = _TAGS[kind]
            parts.append(f"<{tag}>{escape(content)}</{tag.split()[0]}>")
    return f"<section>{''.join(parts)}</section>\n"


def given_words(question, answer):
    """Say an answer as it was given; of a letter too what it stands for.

    Parameters
    ----------
    question : Question or None
    answer : str, float or dict
    """
    words = answer_words(answer, getattr(question and question.form, "fields", None))
    if question is not None and question.form.kind == "choice":
        choices = [(choice.key, choice.words) for choice in question.form.choices]
        with contextlib.suppress(LearnerError):
            return question.form.lines()[read_choice(answer, choices)]
    return words


def answer_words(answer, labels=None):
    """Say an answer as it was given; of a plan each number after what it is.

    Parameters
    ----------
    answer : str, float or dict
    labels : dict or None
        Path of a number in a plan to what it is called.
    """
    if isinstance(answer, dict):
        parts = []
        for name, value in answer.items():
            inner = value.items() if isinstance(value, dict) else (("", value),)
            for more, one in inner:
                path = f"{name}__{more}" if more else name
                label = (labels or {}).get(path, path.replace("__", ", ").replace("_", " "))
                parts.append(f"{label}: {one:g}" if isinstance(one, float) else f"{label}: {one}")
        return "; ".join(parts)
    return f"{answer:.3g}" if isinstance(answer, float) else str(answer)


def tolerance(question):
    """Say within what a number is right; "" for other questions."""
    form = question.form
    if form.kind != "number":
        return ""
    unit = f" {form.unit}" if form.unit not in ("", "times") else ""
    return f"Right within {form.tolerance:.2g}{unit}; within three times as much it earns half."


def plan_picture(pose):
    """Picture of what comes of a plan, SVG text; "" where there is none."""
    if pose is None:
        return ""
    with contextlib.suppress(LearnerError):
        return both_views(pose, hidden=False if pose.settled else "no outcome").svg
    return ""
