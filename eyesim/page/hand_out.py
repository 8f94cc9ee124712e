"""Hand an assignment out: a folder for everybody, with a notebook in their own numbers, and a preview for the director.

What `python -m eyesim assign` does. A folder holds all that somebody needs: the assignment, a notebook, and a page that
says what to do. Files that were changed since are never overwritten.
"""

from __future__ import annotations

import functools
import itertools
import json
from html import escape

from ..eye.checks import LearnerError
from ..eye.progress import progress_bar
from ..lesson import bank
from ..text.caution import CAUTION
from ..text.files import put, reason, safe_name, write_whole
from ..text.tables import cells, parse_table, read_text, table_bytes, unescape_formula
from .feedback_page import given_words, tolerance
from .html import html_page

NOTEBOOK, PAGE, PREVIEW, ITEMS = "Assignment.ipynb", "Read me first.html", "preview.html", "items.csv"
_HONEST = (
    "What you hand in shows whether consequences are understood, not operative skill. It is meant for learning: "
    "answers could be computed from the open package, and nothing is won by that."
)


def hand_out(assignment, roster, folder):
    """Write a folder for each person, and the preview. Raises LearnerError if a folder cannot be written to.

    Parameters
    ----------
    assignment : Assignment
    roster : Roster
    folder : Path

    Returns
    -------
    list of str
        What was left as it is, since it had been changed.
    """
    kept = []
    try:
        for person in progress_bar(roster.people, words="assign", unit="people"):
            place = folder / safe_name(person.id)
            for name, content in _files_for(assignment, person).items():
                kept += _put(place / name, content, folder)
        write_whole(folder / PREVIEW, preview(assignment, roster).encode())
        kept += _put(folder / ITEMS, items(assignment), folder)
    except OSError as error:
        raise LearnerError(f"Nothing can be written to {folder.name!r} ({reason(error)}).") from None
    return kept


def items(assignment):
    """Table (CSV, bytes) of what is asked: question, part, item, kind, objective, level, points; to be edited."""
    table = [["question", "part", "item", "kind", "objective", "level", "points", "source"]]
    for entry in assignment.entries:
        item = bank.ITEMS.get(entry.item)
        kind, source = ("text", "") if item is None else (item.kind, item.source)
        table.append([entry.name, entry.part, entry.item, kind, *entry.aim, entry.points, source])
    return table_bytes(table)


def read_items(path):
    """Objective and level of each question, from the table as it was edited.

    Raises LearnerError if it cannot be read or has lost a column.
    """
    table = parse_table(read_text(path, "table"), f"table {path.name}")
    for name in table.missing("question", "objective", "level"):
        raise LearnerError(f"The table {path.name} has no column {name!r}. Take the one that `assign` wrote.")
    columns = {name: table.columns[name] for name in ("question", "objective", "level")}
    read = [map(unescape_formula, cells(row, columns).values()) for _, row in table.lines if any(row)]
    return {question: (objective, level) for question, objective, level in read}


def _files_for(assignment, person):
    """Files for one person: name to content, bytes."""
    return {
        "assignment.toml": assignment.without_rubrics().encode(),
        NOTEBOOK: notebook(assignment, person).encode(),
        PAGE: instructions(assignment, person).encode(),
    }


def _put(place, content, folder):
    if place.exists() and place.read_bytes() != content:
        return [place.relative_to(folder).as_posix()]
    put(place, content)
    return []


def notebook(assignment, person):
    """Notebook of one person, as JSON text: a heading for each part, a cell for each question, and the button.

    Parameters
    ----------
    assignment : Assignment
    person : Person
    """
    cells = [
        _words(f"# {assignment.title}\n\n> {CAUTION}\n\n{_for(assignment, person)}"),
        _code(
            "from eyesim.marking.answer_sheet import open_sheet\n"
            "from eyesim.panel import answer_panel, hand_in_panel\n\n"
            f'sheet = open_sheet("assignment.toml", person={json.dumps(person.id)})\nsheet'
        ),
    ]
    number = itertools.count(1)
    for part, entries in _by_part(assignment):
        cells.append(_words(f"## {part}"))
        for entry in entries:
            cells += [_words(f"**Question {next(number)}**"), _code(f'answer_panel(sheet, "{entry.name}")')]
    cells += [
        _words(f"## Hand in\n\nOne file holds all your answers. Make it, and send that file alone. {_HONEST}"),
        _code("hand_in_panel(sheet)"),
    ]
    for i, cell in enumerate(cells):
        cell["id"] = f"cell-{i}"
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    metadata = {"kernelspec": kernel, "language_info": {"name": "python"}}
    content = {"cells": cells, "metadata": metadata, "nbformat": 4, "nbformat_minor": 5}
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _by_part(assignment):
    return itertools.groupby(assignment.entries, key=lambda entry: entry.part)


def _words(text):
    return {"cell_type": "markdown", "metadata": {}, "source": text}


def _code(text):
    return {"cell_type": "code", "metadata": {}, "source": text, "execution_count": None, "outputs": []}


def _for(assignment, person):
    lines = [f"For {_plain(person.called)}, with numbers of your own."]
    if assignment.minutes:
        lines[0] += f" Some {assignment.minutes} minutes."
    if assignment.due:
        lines[0] += f" To be handed in by {assignment.due:%d %B %Y, %H:%M %Z}."
    if assignment.introduction:
        lines.append(assignment.introduction)
    when = {
        "at once": "You hear the result of each question once you commit to it.",
        "after hand-in": "You hear the results when you have made the hand-in file; answers stay as they are then.",
        "director": "You hear the results from your director.",
    }
    lines.append(
        "Run all cells first (menu *Run*, *Run All Cells*). Each answer is saved as you write it; you may close the "
        f"notebook and go on another day. {when[assignment.feedback]}"
    )
    return "\n\n".join(lines)


def _plain(text):
    """Text without what Markdown or HTML would take for more than words."""
    return "".join(c if c.isalnum() or c in " .,'-" else " " for c in text).strip() or "you"


def _due(assignment):
    return f"<p>To be handed in by {assignment.due:%d %B %Y, %H:%M %Z}.</p>" if assignment.due else ""


@functools.cache
def _terms():
    """Words of the questions, beside a picture in which they stand."""
    from ..draw.views import both_views
    from ..lesson.build import planned

    lines = "".join(f"<dt><b>{escape(name)}</b></dt><dd>{escape(words)}</dd>" for name, words in TERMS.items())
    return f"<h2>Words that are used</h2><dl>{lines}</dl><figure>{both_views(planned()).svg}</figure>"


TERMS = {
    "meridian": "direction around the limbus, seen from in front: 0 deg at your right, 90 deg up, counter-clockwise",
    "scleral entry, internal entry": "where a needle enters the sclera, and where it comes out inside the eye",
    "mark": "ink at the scleral entry, where the needle starts",
    "iris angle": "between the needle and the plane of the iris: how steeply it runs into the eye",
    "limbus angle": "between the needle and the tangent of the limbus, towards the eye",
    "tunnel": "the way of a haptic through the sclera, from the scleral to the internal entry",
    "externalised, pulled out": "haptic beyond the scleral entry; pulling it out shortens what lies inside the eye",
    "off centre, tilt": "of the optic, from the limbal centre and from the plane of the limbus",
    "towards, in a tilt": "the meridian whose edge of the optic lies deeper",
    "limbal plane": "the plane of the limbus; depth is measured backwards from it",
}
"""What everybody should have read before the first question."""


def instructions(assignment, person):
    """Page that says what to do, for one person.

    Parameters
    ----------
    assignment : Assignment
    person : Person
    """
    steps = (
        "Once: install eyesim, as its README says (the folder of the project, one command).",
        "In a terminal, in the folder of the project: .venv/bin/python -m eyesim answer, a blank, and the path of this "
        f"folder. {NOTEBOOK} opens in your browser. Run all cells: menu Run, Run All Cells.",
        "Answer each question. It is saved as you write; unfinished is fine, you can go on later.",
        f"Press Make the hand-in file, and send the file hand-in-{safe_name(person.id)}.json, and nothing else.",
    )
    body = (
        f"<p class='lead'>For {escape(person.called)} ({escape(person.id)})</p>"
        f"<ol>{''.join(f'<li>{escape(step)}</li>' for step in steps)}</ol>{_due(assignment)}"
        f"<p>{escape(assignment.introduction)}</p>{_terms()}<p "
        f"class='small'>{escape(_HONEST)} Numbers are your own: a file of somebody else is marked by your numbers, "
        "not by theirs. No patient is in it, and no patient belongs in it.</p>"
    )
    return html_page(assignment.title, body)


def preview(assignment, roster):
    """Page for the director: every question for the first person, with its answer, and what is taken for what.

    Parameters
    ----------
    assignment : Assignment
    roster : Roster
    """
    first = roster.people[0]
    parts = []
    for part, entries in _by_part(assignment):
        parts += [f"<h2>{escape(part)}</h2>", *(_previewed(assignment, entry, first.id) for entry in entries)]
    body = (
        f"<p class='lead'>{len(assignment.entries)} questions for {len(roster.people)} people, "
        f"{sum(entry.points for entry in assignment.entries):g} points. Shown in the numbers of "
        f"{escape(first.called)}; everybody has their own.</p><p class='small'>It holds the answers: keep it to "
        f"yourself. The pass standard is yours to set. {escape(_HONEST)}</p>{''.join(parts)}"
    )
    heading = f"{assignment.title}: preview for the director"
    return html_page(f"{assignment.title}: preview", body, heading=heading)


def _previewed(assignment, entry, who):
    head = f"<section><h3>{escape(entry.name)}, {entry.points:g} {'point' if entry.points == 1 else 'points'}</h3>"
    question = assignment.question(entry, who)
    if question is None:
        return f"{head}<p>{escape(entry.text)}</p><p class='small'>Marked by hand: {escape(entry.rubric)}</p></section>"
    lines = "".join(f"<div>{escape(line)}</div>" for line in question.form.lines())
    wrong = "".join(
        f"<li>{escape(given_words(question, answer))} ({escape(name)}): {escape(question.judge(answer).words)}</li>"
        for name, answer in question.wrong.items()
    )
    return (
        f"{head}<p>{escape(question.text)}</p>{lines}<p class='small'>{escape(tolerance(question))}</p>"
        f"<p class='answer'>{escape(given_words(question, question.reference.answer))}: "
        f"{escape(question.reference.reasoning)}</p><p class='small'>Recognised and answered with the reason:</p><ul "
        f"class='small'>{wrong}</ul></section>"
    )
