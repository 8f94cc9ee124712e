"""Somebody's answers to an assignment, kept in one file that is always whole.

Every change is written at once, into a file beside the old one that then takes its place: a crash, a kill or a full
disk cost the last change at most. Two notebooks may write at a time; each reads what is there first and changes only
its own answer. The hand-in is that file under another name, and knows nothing of cells. `panel.answer_panel` shows a
question with fields to answer in, `panel.hand_in_panel` the button that makes the file::

    sheet = open_sheet("assignment.toml", person="r-01")
    sheet.keep("marks.shift", Answered("0,5", "certain"))
    sheet.make()
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime
import threading
from pathlib import Path

from ..eye.checks import LearnerError, known_name
from ..text.files import reason, safe_name, write_whole
from ..text.lock import locked
from .assignment import read_assignment
from .handin import Damaged, HandIn, read_hand_in

_PATIENCE = 2.0  # [s] until another notebook has written
_BUSY = "Another notebook is writing just now. Try again."


class AnswerSheet:
    """Answers of one person to one assignment.

    Attributes
    ----------
    assignment : Assignment
    person : str
    place : Path
        File in which the answers are kept.
    handed : Path
        File that is handed in, once it is there.
    """

    def __init__(self, assignment, person, folder):
        self.assignment, self.person, self.folder = assignment, person, Path(folder)
        self.place = self.folder / f"answers-{safe_name(person)}.json"
        self.handed = self.folder / f"hand-in-{safe_name(person)}.json"
        self._lock, self._after_keeping, self._after_handing_in = threading.RLock(), [], []
        self._answers = self._read()

    def entry(self, name):
        """Entry of the assignment by its name; raises LearnerError if there is none."""
        known_name("The assignment", name, [entry.name for entry in self.assignment.entries])
        return next(entry for entry in self.assignment.entries if entry.name == name)

    def answered(self, name):
        """Return what is answered to a question, an `Answered`; None if nothing is."""
        return self._answers.get(name)

    @property
    def open(self):
        """Names of the questions that have no answer yet."""
        return [entry.name for entry in self.assignment.entries if entry.name not in self._answers]

    @property
    def closed(self):
        """Whether it was handed in and cannot be changed any more, since the result is shown."""
        return self.assignment.feedback != "director" and self.handed.exists()

    def keep(self, name, answered):
        """Keep an answer, or take it back (None); it is in the file when this returns.

        Raises LearnerError if it was handed in already, or cannot be written: says why. What was kept before stays.
        """
        entry = self.entry(name)
        if self.closed:
            raise LearnerError("It was handed in, and the results are shown: answers stay as they were.")
        if answered is not None:
            given = self.assignment.parameters(entry, self.person) or {}
            numbers = tuple((name, value) for name, value in given.items() if not isinstance(value, str))
            answered = dataclasses.replace(answered, numbers=numbers)  # words among them would tell what is asked
        with self._lock, locked(self.place, _PATIENCE, _BUSY):
            answers = self._read()
            if name in answers and answers[name].final:
                raise LearnerError("You have committed to this answer.")
            answers.pop(name, None)
            if answered is not None:
                answers[name] = answered
            self._write(self.place, answers)
            self._answers = answers
        for act in self._after_keeping:
            act()

    def make(self):
        """Make the file to hand in; return its path. Raises LearnerError as `keep` does."""
        with self._lock, locked(self.place, _PATIENCE, _BUSY):
            if self.closed:
                return self.handed
            self._answers = self._read()
            self._write(self.handed, self._answers, f"{datetime.datetime.now(datetime.UTC):%Y-%m-%dT%H:%M:%SZ}")
        for act in self._after_handing_in:
            act()
        return self.handed

    def reload(self):
        """Read the file again: another notebook may have written."""
        with self._lock:
            self._answers = self._read()

    def after_keeping(self, act):
        """Have a function called whenever an answer was kept."""
        self._after_keeping.append(act)

    def after_handing_in(self, act):
        """Have a function called once it is handed in."""
        self._after_handing_in.append(act)

    def __repr__(self):
        n = len(self.assignment.entries)
        return f"{self.assignment.title}: {n - len(self.open)} of {n} questions answered."

    def _read(self):
        if not self.place.exists():
            return {}
        try:
            found = read_hand_in(self.place)
        except Damaged as error:
            aside = self.place.with_suffix(".damaged.json")
            with contextlib.suppress(OSError):
                if not aside.exists():
                    write_whole(aside, self.place.read_bytes())
            raise LearnerError(
                f"Your answers in {self.place.name} cannot be read: {error}. A copy is kept as {aside.name}; show it "
                f"to your director, or move {self.place.name} away to begin anew."
            ) from None
        if found.mark != self.assignment.mark or found.person != self.person:
            raise LearnerError(f"{self.place.name} belongs to another assignment or person; move it away first.")
        return {name: found.answers[name] for name in found.answers}

    def _write(self, place, answers, made=""):
        a = self.assignment
        order = [entry.name for entry in a.entries if entry.name in answers]
        content = HandIn(self.person, a.title, a.mark, a.version, {name: answers[name] for name in order}, made=made)
        try:
            write_whole(place, content.text().encode(), lasting=True)
        except OSError as error:
            raise LearnerError(f"This could not be saved ({reason(error)}). What was saved before is safe.") from None


def open_sheet(assignment, person):
    """Answers of a person to the assignment in a file; they are kept beside it.

    Raises LearnerError if the assignment or the answers cannot be read.

    Parameters
    ----------
    assignment : str or Path
        File of the assignment.
    person : str
        Id as in the roster.
    """
    if not isinstance(person, str) or not person.strip():
        raise LearnerError("person is your id as your director gave it, a text.")
    path = Path(assignment)
    return AnswerSheet(read_assignment(path), person.strip(), path.resolve().parent)
