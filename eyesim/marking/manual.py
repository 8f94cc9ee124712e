"""What the director marks: a table of the texts that wait for points, read again with the points that were filled in.

The table is written with every run of `python -m eyesim mark`. Fill in its column `points` (and `words`, if there is
something to say) in any spreadsheet, save it where it is, and mark again: the points count, and stay. They belong to
one answer: if somebody hands in another, it waits again, and a remark says what the old one had.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from pathlib import Path

from ..eye.checks import LearnerError, short
from ..text.reading import read_number
from ..text.tables import cells, clean, parse_table, read_text, unescape_formula
from .mark import Remark

HEAD = ("id", "question", "answer", "points", "of", "words", "rubric", "key")
NAME = "by-hand.csv"
_LONGEST = 2000  # characters of the words for somebody


@dataclasses.dataclass(frozen=True)
class ManualMark:
    """A line that was filled in: what was typed as points, the words beside it, and where."""

    points: str
    words: str
    key: str
    row: int


def read_manual_marks(path):
    """Lines that were filled in, by id and question; none if there is no such file.

    Raises LearnerError if there is one that cannot be read, or that has lost a column: says which.

    Parameters
    ----------
    path : str or Path
    """
    path, found = Path(path), {}
    if not path.is_file():
        return found
    table = parse_table(read_text(path, "table"), f"table {path.name}")
    lost = table.missing("id", "question", "points", "key")
    if lost:
        raise LearnerError(
            f"The table {path.name} has lost its column {lost[0]!r}. Put it back, or move the file away: a new one is "
            "written then."
        )
    for number, (_, row) in enumerate(table.lines, 2):
        cell = cells(row, table.columns)
        points, words = clean(cell["points"]), unescape_formula(cell.get("words", "").strip())[:_LONGEST]
        if points or words:
            found[clean(cell["id"]), clean(cell["question"])] = ManualMark(points, words, clean(cell["key"]), number)
    return found


def add_manual_marks(everybody, given):
    """Give everybody the points that were filled in.

    Parameters
    ----------
    everybody : iterable of Result
    given : dict
        From `read_manual_marks`.

    Returns
    -------
    list of Result, list of Remark
        What could not be used is remarked, with all that was typed.
    """
    done, remarks, used = [], [], set()
    for one in everybody:
        marks = []
        for mark in one.marks:
            place = one.person.id, mark.name
            if mark.points is None and place in given:
                used.add(place)
                try:
                    mark = _with_mark(mark, given[place])
                except LearnerError as error:
                    remarks.append(Remark("by hand", ", ".join(place), f"row {given[place].row}: {error}"))
            marks.append(mark)
        done.append(dataclasses.replace(one, marks=tuple(marks)))
    for place, line in given.items():
        if place not in used:
            words = f"row {line.row}: nothing waits for these points ({line.points or 'none'}) any more."
            remarks.append(Remark("by hand", ", ".join(place), words))
    return done, remarks


def _with_mark(mark, line):
    if line.key != _key(mark):
        had = f"{line.points or 'no'} points" + (f" ({line.words})" if line.words else "")
        raise LearnerError(f"the answer is another than the one that had {had}. Mark it again.")
    if not line.points:
        return mark
    points = read_number(line.points, "")
    if not 0.0 <= points <= mark.of:
        raise LearnerError(f"points from 0 to {mark.of:g} can be given; {short(line.points)} was.")
    share, words = points / mark.of, line.words or "Marked by the director."
    return dataclasses.replace(mark, points=points, share=share, right=share >= 1.0, words=words)


def waiting_texts(assignment, everybody, given):
    """Rows of the table, head first: each answer that waits for the director, with what was filled in so far.

    Parameters
    ----------
    assignment : Assignment
    everybody : iterable of Result
        Before they were given points by hand.
    given : dict
        From `read_manual_marks`.
    """
    entries = {entry.name: entry for entry in assignment.entries}
    found = [HEAD]
    for one in everybody:
        for mark in one.marks:
            if mark.points is None:
                entry, line = entries[mark.name], given.get((one.person.id, mark.name))
                typed, words = (line.points, line.words) if line is not None and line.key == _key(mark) else ("", "")
                what = one.person.id, mark.name, _text(mark)
                found.append((*what, typed, entry.points, words, entry.rubric, _key(mark)))
    return found


def _key(mark):
    """Short digest of an answer, by which points stay with it."""
    return "a" + hashlib.sha256(_text(mark).encode()).hexdigest()[:9]


def _text(mark):
    return mark.answer if isinstance(mark.answer, str) else json.dumps(mark.answer, ensure_ascii=False)
