"""Results of a class, worked out and written: what `python -m eyesim mark` does.

Everything is worked out first and then written, every file whole or not at all; the same hand-ins give the same files.
Files of an earlier run are replaced. Nothing outside the folder of results is ever written.
"""

from __future__ import annotations

import dataclasses
import functools
from collections import Counter
from html import escape
from pathlib import Path

from ..eye.checks import LearnerError
from ..eye.progress import progress_bar
from ..machine.processes import parallel_map
from ..marking import manual
from ..marking.mark import STATES, Remark, collect, mark_hand_in
from ..marking.statistics import class_statistics
from ..text.files import put, reason, remove, safe_name
from .class_page import class_page
from .feedback_page import feedback_page, feedback_pdf
from .gradebook import tables
from .html import html_page


@dataclasses.dataclass(frozen=True, repr=False)
class Results:
    """Marks of a class: everybody's, what there is to remark, and how the class went."""

    everybody: tuple
    remarks: tuple
    statistics: object
    waiting: tuple = ()

    def __repr__(self):
        states = Counter(one.state for one in self.everybody)
        counts = ", ".join(f"{states[state]} {state}" for state in STATES)
        return f"{len(self.everybody)} people: {counts}; {len(self.remarks)} remarks."

    @property
    def words(self):
        """Remarks, a line each."""
        return "\n".join(f"{one.kind}: {one.about}: {one.words}" for one in self.remarks)


def mark_class(assignment, roster, folder, *, given=None):
    """Collect the hand-ins of a folder and mark them. Raises LearnerError if there is no such folder.

    Parameters
    ----------
    assignment : Assignment
    roster : Roster
    folder : Path
    given : dict or None
        Points that were given by hand, from `marking.manual.read_manual_marks`.

    Returns
    -------
    Results
    """
    collected = collect(folder, assignment, roster)
    handed = [(person, collected.by_person.get(person.id)) for person in roster.people]
    each = parallel_map(functools.partial(_mark, assignment), handed)
    everybody = list(progress_bar(each, words="mark", unit="people", total=len(handed)))
    waiting = manual.waiting_texts(assignment, everybody, given or {})
    everybody, odd = manual.add_manual_marks(everybody, given or {})
    remarks = [Remark("roster", "roster", f"{words}.") for words in roster.remarks] + list(collected.remarks) + odd
    remarks += [
        Remark(one.state, one.person.id, _STATES[one.state] + _perhaps(one, collected.remarks))
        for one in everybody
        if one.state in _STATES
    ]
    return Results(tuple(everybody), tuple(remarks), class_statistics(everybody), tuple(waiting))


def _mark(assignment, handed):
    return mark_hand_in(assignment, *handed)


def _pages(assignment, one):
    """Feedback of somebody, as a page and on paper: bytes by file name."""
    place = f"feedback/{safe_name(one.person.id)}"
    return {f"{place}.html": feedback_page(assignment, one).encode(), f"{place}.pdf": feedback_pdf(assignment, one)}


_STATES = {"missing": "Nothing was handed in.", "late": "The file is from after the time that was set."}


def _perhaps(one, remarks):
    """Name a file that could not be used and is called after somebody who is missing."""
    lost = ("damaged", "foreign", "unmatched")
    named = [r.about for r in remarks if r.kind in lost and one.person.id in r.about] if one.state == "missing" else []
    return f" It may be {named[0]}, see there." if named else ""


def write_results(assignment, results, folder, *, items=None):
    """Write all results into a folder; return the names of the files. Raises LearnerError if they cannot be written.

    Parameters
    ----------
    assignment : Assignment
    results : Results
    folder : str or Path
    items : dict or None
        As in `class_page`.
    """
    folder, names = Path(folder), []

    def write(content):
        for name, data in content.items():
            put(folder / name, data)
        names.extend(content)

    try:
        write({ABOUT: _about(assignment, results).encode()})
        remove(*folder.rglob(".*.part"))  # of a run that was killed
        content = tables(assignment, results.everybody, results.remarks, results.waiting)
        about_class = class_page(assignment, results.everybody, results.statistics, results.remarks, items)
        content["class.html"] = about_class.encode()
        write(content)
        each = parallel_map(functools.partial(_pages, assignment), results.everybody)
        for pages in progress_bar(each, words="write", unit="people", total=len(results.everybody)):
            write(pages)
    except OSError as error:
        raise LearnerError(f"Results cannot be kept in {folder.name!r} ({reason(error)}).") from None
    return names


def check_folder(folder, handed, *, overwrite=False):
    """See that a folder may take results: it is new, empty, or holds results already.

    Raises LearnerError if results would fall among the hand-ins, or over files that are not of an earlier run.

    Parameters
    ----------
    folder : Path
    handed : Path
        Folder of the hand-ins.
    overwrite : bool
        Take a folder that holds other things too; files of the same names are replaced then.
    """
    here, there = folder.resolve(), handed.resolve()
    if here == there or here.is_relative_to(there) or there.is_relative_to(here):
        raise LearnerError(
            f"Results go into a folder of their own, not among the hand-ins; {folder} was given. Try "
            f"{folder.name}-marks."
        )
    if folder.exists() and not folder.is_dir():
        raise LearnerError(f"{folder} is a file; a folder for the results is wanted.")
    if not overwrite and folder.is_dir() and any(folder.iterdir()) and not (folder / ABOUT).exists():
        raise LearnerError(
            f"The folder {folder} holds other things. Name a new one, or add --force to replace files of the same "
            "names."
        )


def _about(assignment, results):
    """Page that says what each file is for."""
    without = sum(not one.person.email for one in results.everybody)
    mail = f" {without} of {len(results.everybody)} have no address in the roster and are left out." if without else ""
    rows = "".join(f"<tr><td>{escape(name)}</td><td>{escape(words)}</td></tr>" for name, words in _FILES)
    body = (
        f"<table>{rows}</table><p>Points are those that are marked so far: a text that waits for you counts nothing "
        f"yet.{escape(mail)} Who handed in nothing has empty points in the tables for platforms: put in what your "
        "rules say.</p><p>Late is judged by the time of a file on this disk; copying can change it. Which of two files "
        "of somebody counts is decided by when each says that it was made.</p>"
        "<p>Answers that can be had in part (near numbers, plans) earn a share of the points, rounded to two decimals. "
        "Mark again at any time with the same command: all but your points in by-hand.csv is written anew.</p>"
    )
    return html_page("What is in this folder", body, heading=f"{assignment.title}: what is in this folder")


ABOUT = "What is in this folder.html"
_FILES = (
    ("class.html", "Begin here: how the class went, what to teach again, files to look at."),
    (
        "gradebook.csv, gradebook.xlsx",
        "Everybody's points, question by question; the file that counted and its digest.",
    ),
    ("by-hand.csv", "Texts that wait for you. Fill in the column points, save, and give the same command again."),
    ("answers.csv", "Each answer with its points and the reason: evidence for an appeal."),
    ("remarks.csv", "Every file and person with which something is not as it should be."),
    ("feedback", "A page for everybody, to read and to print. Send each to its own."),
    ("platform", "Points by id, by e-mail and by name, for the import of a learning platform."),
    ("oneroster", "The same as OneRoster 1.2 tables; ids of class and category are yours to fill in."),
    ("statements.jsonl", "One xAPI statement an answer, under pseudonyms, without times."),
)


def left_over(folder, names):
    """Feedback that lies in a folder of results and was not written now: of people who are not in the roster.

    Parameters
    ----------
    folder : Path
    names : iterable of str
        Files that were written now.
    """
    now = set(names)
    there = (path.relative_to(folder).as_posix() for path in Path(folder, "feedback").glob("*"))
    return sorted(name for name in there if name not in now and not name.endswith(".part"))
