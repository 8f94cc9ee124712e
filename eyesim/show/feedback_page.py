"""What somebody hears back: each question in their own numbers, what they answered, what the simulation says to it."""

from __future__ import annotations

import contextlib
import json
from html import escape

from .. import CAUTION
from ..course.reading import read_choice
from ..eye.checks import LearnerError
from .side import both_views

_LIMITS = (
    "What this shows: whether consequences are understood, in a model, with these numbers. It is no measure of "
    "operative "
    "skill, and it is meant for learning."
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
    person, of = marked.person, sum(entry.points for entry in assignment.entries)
    lead = f"{person.called}: {marked.points:g} of {of:g} points."
    if marked.state == "missing":
        lead = f"{person.called}: nothing was handed in."
    elif marked.by_hand:
        lead += " What is marked by hand comes on top."
    if marked.state == "late":
        lead += " Handed in late."
    parts, shown = [], ""
    for entry, mark in zip(assignment.entries, marked.marks, strict=True):
        if entry.part != shown:
            parts.append(f"<h2>{escape(entry.part)}</h2>")
            shown = entry.part
        parts.append(_section(assignment, entry, mark, person.id))
    body = (
        f"<h1>{escape(assignment.title)}</h1>\n<p class='caution'>{escape(CAUTION)}</p>\n"
        f"<p class='lead'>{escape(lead)}</p>\n<p class='small'>{escape(_LIMITS)}</p>\n{''.join(parts)}"
    )
    return page(f"{assignment.title}: {person.called}", body)


def _section(assignment, entry, mark, who):
    question = assignment.question(entry, who)
    text = entry.text if question is None else question.text
    lines = "" if question is None else "".join(f"<div>{escape(line)}</div>" for line in question.form.lines())
    points = (
        f"{entry.points:g} points, marked by hand" if mark.points is None else f"{mark.points:g} of {entry.points:g}"
    )
    given = "Not answered." if mark.answer is None else _given(question, mark.answer)
    sure = f" ({escape(mark.confidence)})" if mark.confidence else ""
    told = f"<p class='told'>{_SIGNS[mark.right]} {escape(mark.words)}</p>"
    after = ""
    if question is not None and mark.right is not True:
        after = f"<p class='small'>What the simulation says: {escape(question.reference.reasoning)}</p>"
    elif question is None:
        after = f"<p class='small'>How it is marked: {escape(entry.rubric)}</p>"
    return (
        f"<section><h3>{escape(text)}</h3>{lines}<p class='answer'>{escape(given)}{sure}</p>{told}{after}"
        f"{_picture(mark)}<p class='small'>{escape(entry.name)}: {points}</p></section>\n"
    )


def _given(question, answer):
    """Say an answer as it was given; of a letter too what it stands for."""
    words = answer_words(answer)
    if question is not None and question.form.kind == "choice":
        choices = [(choice.key, choice.words) for choice in question.form.choices]
        with contextlib.suppress(LearnerError):
            return question.form.lines()[read_choice(answer, choices)]
    return words


def answer_words(answer):
    """Say an answer as it was given."""
    if isinstance(answer, dict):
        return json.dumps(answer, ensure_ascii=False)[1:-1].replace('"', "")
    return f"{answer:g}" if isinstance(answer, float) else str(answer)


def _picture(mark):
    if mark.pose is None:
        return ""
    try:
        view = both_views(mark.pose, hidden=False if mark.pose.settled else "no outcome")
    except LearnerError:
        return ""
    return f"<figure>{view.svg}<figcaption class='small'>What comes of this plan.</figcaption></figure>"
