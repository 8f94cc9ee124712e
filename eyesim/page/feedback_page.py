"""What somebody hears back: each question in their own numbers, what they answered, what the simulation says to it."""

from __future__ import annotations

import contextlib
from html import escape

from ..draw.pdf import document
from ..draw.views import both_views
from ..eye.checks import LearnerError
from ..text.caution import CAUTION
from ..text.reading import read_choice

_LIMITS = (
    "What this shows: whether consequences are understood, in a model, with these numbers. It is no measure of "
    "operative skill, and it is meant for learning."
)
_SIGNS = {True: "\N{CHECK MARK}", False: "\N{RIGHTWARDS ARROW}", None: "\N{HORIZONTAL ELLIPSIS}"}
STYLE = """
body { font-family: system-ui, "Segoe UI", "DejaVu Sans", Arial, sans-serif; max-width: 60em; margin: 2em auto;
  padding: 0 1em; line-height: 1.45; color: #18222b; background: #fff; }
.caution { border: 1px solid; padding: 0.6em 1em; }
.lead { font-size: 1.2em; }
section { border-top: 1px solid #cfd4d6; padding: 0.6em 0; break-inside: avoid; }
h3 { margin: 0.4em 0; font-size: 1.05em; }
.small { font-size: 0.9em; color: #4f5b66; }
.answer { margin: 0.4em 0; padding-left: 1em; border-left: 4px solid #94b8cb; overflow-wrap: anywhere; }
.told { margin: 0.4em 0; }
figure { margin: 0.8em 0; break-inside: avoid; }
figure svg { max-width: 46em; height: auto; }
table { border-collapse: collapse; }
th, td { text-align: left; padding: 0.25em 0.8em 0.25em 0; border-bottom: 1px solid #e2e6e8; vertical-align: top; }
td.number { text-align: right; font-variant-numeric: tabular-nums; }
.bar { position: relative; width: 9em; height: 0.8em; background: #eef2f4; display: inline-block; }
.bar i { position: absolute; top: 0; bottom: 0; background: #005b94; left: 0; }
.bar b { position: absolute; top: 30%; bottom: 30%; background: #9c3d00; }
"""


def page(title, body):
    """One HTML page that needs nothing else; the title is escaped, the body must be."""
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{STYLE}</style></head><body>\n{body}\n</body></html>\n"
    )


def feedback_pdf(assignment, marked, *, sheet="A4"):
    """Return the same as a PDF, bytes; parameters as in `feedback_page`, and the paper, a key of `pdf.SHEETS`."""
    parts, shown = [("lead", _lead(assignment, marked)), ("small", _LIMITS)], ""
    for entry, mark in _shown(assignment, marked):
        if entry.part != shown:
            parts.append(("heading", entry.part))
            shown = entry.part
        parts += [("line", ""), *_told(assignment, entry, mark, marked.person.id)]
    return document(f"{assignment.title}: {marked.person.called}", parts, sheet=sheet)


def feedback_page(assignment, marked):
    """HTML page for one person.

    Parameters
    ----------
    assignment : Assignment
    marked : Marked

    Returns
    -------
    str
    """
    person = marked.person
    parts, shown = [], ""
    for entry, mark in _shown(assignment, marked):
        if entry.part != shown:
            parts.append(f"<h2>{escape(entry.part)}</h2>")
            shown = entry.part
        parts.append(_section(assignment, entry, mark, person.id))
    body = (
        f"<h1>{escape(assignment.title)}</h1>\n<p class='caution'>{escape(CAUTION)}</p>\n<p "
        f"class='lead'>{escape(_lead(assignment, marked))}</p>\n<p "
        f"class='small'>{escape(_LIMITS)}</p>\n{''.join(parts)}"
    )
    return page(f"{assignment.title}: {person.called}", body)


def _shown(assignment, marked):
    """Questions with their marks; none for who is missing, since the answers stand beside them."""
    return [] if marked.state == "missing" else zip(assignment.entries, marked.marks, strict=True)


def _lead(assignment, marked):
    of = sum(entry.points for entry in assignment.entries)
    if marked.state == "missing":
        return f"{marked.person.called}: nothing was handed in that could be read."
    words = f"{marked.person.called}: {marked.points:g} of {of:g} points."
    words += " What is marked by hand comes on top." if marked.by_hand else ""
    return words + (" Handed in late." if marked.state == "late" else "")


def _told(assignment, entry, mark, who):
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
    for kind, content in _told(assignment, entry, mark, who):
        if kind == "picture":
            parts.append(f"<figure>{content}</figure>")
        else:
            tag = _TAGS[kind]
            parts.append(f"<{tag}>{escape(content)}</{tag.split()[0]}>")
    return f"<section>{''.join(parts)}</section>\n"


def given_words(question, answer):
    """Say an answer as it was given; of a letter too what it stands for."""
    words = answer_words(answer, getattr(question and question.form, "fields", None))
    if question is not None and question.form.kind == "choice":
        choices = [(choice.key, choice.words) for choice in question.form.choices]
        with contextlib.suppress(LearnerError):
            return question.form.lines()[read_choice(answer, choices)]
    return words


def answer_words(answer, labels=None):
    """Say an answer as it was given; of a plan each number after what it is, by `labels` (path to words)."""
    if isinstance(answer, dict):
        parts = []
        for name, value in answer.items():
            inner = value.items() if isinstance(value, dict) else (("", value),)
            for more, one in inner:
                path = f"{name}__{more}" if more else name
                said = (labels or {}).get(path, path.replace("__", ", ").replace("_", " "))
                parts.append(f"{said}: {one:g}" if isinstance(one, float) else f"{said}: {one}")
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
