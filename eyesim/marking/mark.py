"""Marking: everybody's own right answers are found again, and each hand-in is held against them.

Nothing that was handed in is run. A hand-in belongs to who its `person` says, whatever the file is called; the newest
readable one counts (by when it says that it was made, else by the time of the file), and all others are listed. Nothing
is dropped silently: `Collection.remarks` names every file with which something is not as it should be.
"""

from __future__ import annotations

import dataclasses
import datetime
import os
from collections import defaultdict
from pathlib import Path

from ..eye.checks import LearnerError
from ..eye.progress import progress_bar
from .handin import Damaged, HandIn, read_hand_in

STATES = ("handed in", "late", "missing")


@dataclasses.dataclass(frozen=True)
class Mark:
    """What one answer is worth.

    Attributes
    ----------
    name : str
        Of the question.
    points : float or None
        None where the director marks by hand.
    of : float
        Points that can be had.
    share : float or None [1]
    right : bool or None
        None where nothing was answered, or the answer could not be read.
    words : str
        Feedback.
    misconception, confidence : str
        "" if there is none.
    answer : object
        As it was handed in; None if it was not.
    pose : Settled or None
        Where the lens comes to rest by a plan.
    """

    name: str
    points: float | None
    of: float
    share: float | None
    right: bool | None
    words: str
    misconception: str = ""
    confidence: str = ""
    answer: object = None
    pose: object = dataclasses.field(default=None, compare=False, repr=False)


@dataclasses.dataclass(frozen=True)
class Result:
    """Somebody's marks.

    Attributes
    ----------
    person : Person
    state : one of `STATES`
    marks : tuple of Mark
        One for each question of the assignment, in its order; of who is missing too.
    file, digest : str
        Name of the file that counts and its SHA-256, "" if there is none.
    when : datetime or None
        When it was collected: the time of the file, in UTC.
    """

    person: object
    state: str
    marks: tuple[Mark, ...]
    file: str = ""
    digest: str = ""
    when: datetime.datetime | None = None

    @property
    def points(self):
        """Sum of the points that the simulation gave."""
        return sum(mark.points for mark in self.marks if mark.points is not None)

    @property
    def waiting(self):
        """Names of the questions that wait for the director."""
        return tuple(mark.name for mark in self.marks if mark.points is None)


@dataclasses.dataclass(frozen=True)
class Remark:
    """Something about a file or a person that the director should know: its kind, whom or what, and a sentence."""

    kind: str
    about: str
    words: str


@dataclasses.dataclass(frozen=True)
class Collection:
    """Hand-ins of a folder: by id of the person the one that counts, with its file, and what there is to remark."""

    by_person: dict
    remarks: tuple[Remark, ...]


@dataclasses.dataclass(frozen=True)
class HandedIn:
    """A hand-in that counts, with its file and the time of that [s since 1970]."""

    hand_in: HandIn
    file: Path
    when: float

    @property
    def made(self):
        """When it was made, by what it says; else by the time of the file."""
        when = datetime.datetime.fromtimestamp(self.when, datetime.UTC)
        return self.hand_in.made or when.strftime("%Y-%m-%dT%H:%M:%SZ")


def collect(folder, assignment, roster):
    """Read all hand-ins of a folder and the folders in it. Raises LearnerError if there is no such folder.

    Parameters
    ----------
    folder : str or Path
    assignment : Assignment
    roster : Roster

    Returns
    -------
    Collection
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise LearnerError(f"There is no folder {folder.name} of hand-ins.")
    handed, remarks = defaultdict(list), []
    known = {person.id.casefold(): person.id for person in roster.people}
    for path in progress_bar(_files_of(folder), words="read", unit="files"):
        name = path.relative_to(folder).as_posix()
        try:
            hand_in = read_hand_in(path)
        except Damaged as error:
            remarks.append(Remark("damaged", name, f"{error}."))
            continue
        id = known.get(hand_in.person.strip().casefold())
        if id is None:
            remarks.append(Remark("unmatched", name, f"{hand_in.person[:80]!r} is not in the roster."))
        elif hand_in.mark != assignment.mark:
            words = "it belongs to another assignment, or to one that was changed since it was given out."
            remarks.append(Remark("foreign", name, words))
        else:
            handed[id].append(HandedIn(hand_in, path, path.stat().st_mtime))
            remarks += _looks_odd(hand_in, name, assignment, id, roster)
    by_person = {}
    for id, several in handed.items():
        *olders, newest = sorted(several, key=lambda one: (one.made, one.when, one.file.name))
        by_person[id] = newest
        for older in olders:
            same = "the same" if older.hand_in.digest == newest.hand_in.digest else "another"
            words = f"{id} handed in {same} content later as {newest.file.name}, which counts."
            remarks.append(Remark("duplicate", older.file.relative_to(folder).as_posix(), words))
    remarks += _copies(by_person, assignment)
    return Collection(by_person, tuple(remarks))


def _files_of(folder):
    """All files below a folder, by name; hidden ones are left out, and links to folders are not followed."""
    found = []
    for here, folders, files in os.walk(folder, followlinks=False):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found += [Path(here) / name for name in sorted(files) if not name.startswith(".")]
        found += [Path(here) / name for name in folders if (Path(here) / name).is_symlink()]
    return found


def _looks_odd(hand_in, name, assignment, id, roster):
    """Remarks on a hand-in that can be marked but is not as it was given out."""
    if hand_in.version != assignment.version:
        words = f"answered by another version of eyesim ({hand_in.version}): numbers may differ slightly."
        yield Remark("version", name, words)
    entries = {entry.name: entry for entry in assignment.entries}
    for one in sorted(set(hand_in.answers) - set(entries)):
        yield Remark("unknown", name, f"{one} is not asked in this assignment; the answer is left out.")
    given = {one: dict(answered.numbers) for one, answered in hand_in.answers.items() if one in entries}
    other = {one: n for one, n in given.items() if _are_of_another(n, assignment.parameters(entries[one], id))}
    if other:

        def fits(who):
            return not any(_are_of_another(n, assignment.parameters(entries[one], who)) for one, n in other.items())

        owners = [person.id for person in roster.people if fits(person.id)]
        whose = f"; they are those of {', '.join(owners[:3])}" if len(other) > 1 and owners else ""
        words = f"other numbers than were given to {id} stand in {', '.join(other)}{whose}. Marked by the right ones."
        yield Remark("numbers", name, words)


def _are_of_another(numbers, own):
    """Whether numbers in a hand-in are not those that somebody was given; missing ones do not count."""
    return any(name not in (own or {}) or own[name] != value for name, value in numbers.items())


def _copies(by_person, assignment):
    """Remarks on people whose answers are alike although their numbers are not; evidence, and no verdict."""
    texts = {entry.name for entry in assignment.entries if not entry.item}
    answers, written = defaultdict(list), defaultdict(list)
    for id, one in by_person.items():
        given = {name: repr(answered.answer).casefold() for name, answered in one.hand_in.answers.items()}
        if len(given) >= 3:
            answers[tuple(sorted(given.items()))].append(id)
        for name in texts & set(given):
            if len(given[name]) > 40:
                written[name, given[name]].append(id)
    for people in sorted(map(sorted, answers.values())):
        yield from _alike(people, "all their answers are alike to the letter, though their numbers differ")
    for (name, _), people in sorted(written.items(), key=lambda item: item[1]):
        yield from _alike(people, f"they wrote the same under {name}, to the letter")


def _alike(people, words):
    if len(people) > 1:
        yield Remark("alike", ", ".join(sorted(people)), f"{words}. Evidence, no verdict: ask them.")


def mark_hand_in(assignment, person, handed=None):
    """Mark one person.

    Parameters
    ----------
    assignment : Assignment
    person : Person
    handed : HandedIn or None
        None: everything is unanswered.

    Returns
    -------
    Result
    """
    answers = {} if handed is None else handed.hand_in.answers
    marks = tuple(_mark_answer(assignment, entry, person.id, answers.get(entry.name)) for entry in assignment.entries)
    if handed is None:
        return Result(person, "missing", marks)
    late = assignment.due is not None and handed.when > assignment.due.timestamp()
    when = datetime.datetime.fromtimestamp(handed.when, datetime.UTC)
    return Result(person, "late" if late else "handed in", marks, handed.file.name, handed.hand_in.digest, when)


def _mark_answer(assignment, entry, who, answered):
    if answered is None:
        return Mark(entry.name, 0.0, entry.points, 0.0, None, "Not answered.")
    if not entry.item:
        return Mark(entry.name, None, entry.points, None, None, "Marked by the director.", "", "", answered.answer)
    try:
        found = assignment.question(entry, who).judge(answered.answer)
    except Exception as error:  # whatever was handed in, the others are marked; and this one is not lost
        words = f"The simulation could not judge this ({type(error).__name__}); the director marks it."
        return Mark(entry.name, None, entry.points, None, None, words, "", answered.confidence, answered.answer)
    share = float(found.share)
    points, misconception = round(share * entry.points, 2), found.misconception or ""
    mark = Mark(entry.name, points, entry.points, share, found.right, found.words, misconception)
    return dataclasses.replace(mark, confidence=answered.confidence, answer=answered.answer, pose=found.pose)
