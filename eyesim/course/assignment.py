"""An assignment: which items, for how many points, and when their result is told; written in TOML.

::

    title = "An hour on two anchor points"
    seed = "autumn-2026"                 # another seed gives everybody other numbers
    feedback = "after hand-in"           # or "at once", or "director"

    [[part]]
    title = "Before"
    items = [{ item = "marks.shift", points = 1 }, { item = "start.alike", points = 1 }]

    [[part]]
    title = "Exercises"
    items = [{ item = "start.follow", points = 3 }, { text = "Why ...?", rubric = "...", points = 2, name = "why" }]

The same item may be asked again in another part, under a `name` of its own: its numbers are then others.
"""

from __future__ import annotations

import dataclasses
import datetime
import functools
import hashlib
import importlib.metadata
import json
import re
import tomllib
from pathlib import Path

from ..eye.checks import LearnerError, known_name, short
from . import bank

MODES = ("at once", "after hand-in", "director")
"""When somebody hears what the simulation says: to each answer, after handing in, or from the director alone."""
LARGEST = 200_000  # bytes of an assignment
MOST = 60  # entries
_NAME = re.compile(r"[a-z0-9][a-z0-9.\-]{0,59}")
_HOW = "See the heading of eyesim/course/assignment.py, or start from the one in data."


@dataclasses.dataclass(frozen=True)
class Entry:
    """One question of an assignment: an item of the bank in somebody's own numbers, or a text marked by hand.

    The bank has texts of its own, with rubrics; they are texts here.

    Attributes
    ----------
    name : str
        Unique in the assignment.
    points : float
    part : str
        Heading under which it stands.
    item : str
        Id in the bank; "" for a text.
    text, rubric : str
        What is asked, and how it is marked, of a text.
    """

    name: str
    points: float
    part: str
    item: str = ""
    text: str = ""
    rubric: str = ""

    @property
    def aim(self):
        """Objective and level of what is asked; empty where a director's own text says nothing of it."""
        texts = (text for text in bank.TEXTS.values() if text.text == self.text)
        one = bank.ITEMS.get(self.item) or next(texts, None)
        return (one.objective, one.level) if one else ("", "")


@dataclasses.dataclass(frozen=True, repr=False)
class Assignment:
    """What is asked of everybody.

    Attributes
    ----------
    title, seed, introduction : str
    feedback : one of `MODES`
    due : datetime or None
        With its time zone.
    minutes : int or None
    entries : tuple of Entry
    """

    title: str
    seed: str
    entries: tuple[Entry, ...]
    feedback: str = MODES[1]
    due: datetime.datetime | None = None
    minutes: int | None = None
    introduction: str = ""

    @functools.cached_property
    def mark(self):
        """Short digest of all that decides which numbers somebody gets and what they count: in every hand-in."""
        content = json.dumps([self.title, self.seed, [dataclasses.astuple(entry) for entry in self.entries]])
        return hashlib.sha256(content.encode()).hexdigest()[:16]

    def __repr__(self):
        parts, points = len({entry.part for entry in self.entries}), sum(entry.points for entry in self.entries)
        told = {"at once": "at once", "after hand-in": "after handing in", "director": "by the director"}[self.feedback]
        return f"{self.title}: {len(self.entries)} questions in {parts} parts, {points:g} points; results {told}."

    @property
    def version(self):
        """Version of the package by which it is asked and marked."""
        return _version()

    def parameters(self, entry, who):
        """Parameters of an entry for somebody [id]; None for a text."""
        if not entry.item:
            return None
        seed = self.seed if entry.name == entry.item else f"{self.seed} / {entry.name}"
        return bank.ITEMS[entry.item].parameters(seed, who)

    def question(self, entry, who):
        """`Question` of an entry for somebody [id]; None for a text."""
        return bank.ITEMS[entry.item].question(self.parameters(entry, who)) if entry.item else None


def read_assignment(path):
    """Read an assignment from a file.

    Parameters
    ----------
    path : str or Path

    Raises
    ------
    LearnerError
        If it cannot be read, or asks for what there is not: says where.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
        text = content.decode("utf-8-sig")
    except OSError as error:
        raise LearnerError(f"The assignment {path.name} cannot be read: {error.strerror or 'no such file'}.") from None
    except UnicodeDecodeError:
        raise LearnerError(f"The assignment {path.name} is not in UTF-8. Save it as UTF-8.") from None
    if len(content) > LARGEST:
        raise LearnerError(f"The assignment {path.name} is larger than {LARGEST // 1000} kB; is it the right file?")
    return assignment_of(text, path.name)


def assignment_of(text, where="assignment"):
    """Read an assignment from its text; raises as `read_assignment` does."""
    try:
        given = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise LearnerError(f"The {where} cannot be read: {error}. {_HOW}") from None
    names = ["title", "seed", "feedback", "due", "minutes", "introduction", "part"]
    for name in given:
        known_name(f"The {where}", name, names)
    title, seed = (_text(given, name, where, 200) for name in ("title", "seed"))
    feedback = given.get("feedback", MODES[1])
    known_name(f"The {where}: feedback", feedback, list(MODES))
    introduction = _text(given, "introduction", where, 4000, "")
    entries = _entries(given.get("part"), where)
    return Assignment(
        title, seed, entries, feedback, _due(given.get("due")), _minutes(given.get("minutes")), introduction
    )


@functools.cache
def _version():
    return importlib.metadata.version("eyesim")


def _entries(parts, where):
    if not isinstance(parts, list) or not parts or not all(isinstance(part, dict) for part in parts):
        raise LearnerError(f"The {where} has no [[part]]. At least one is wanted. {_HOW}")
    entries = []
    for number, part in enumerate(parts, 1):
        here = f"Part {number} of the {where}"
        for name in part:
            known_name(here, name, ["title", "items"])
        title = _text(part, "title", here, 200)
        items = part.get("items")
        if not isinstance(items, list) or not items or not all(isinstance(one, dict) for one in items):
            raise LearnerError(f"{here} has no items. A list is wanted, such as [{{ item = 'marks.shift' }}].")
        entries += [_entry(one, title, here) for one in items]
    if len(entries) > MOST:
        raise LearnerError(f"The {where} asks {len(entries)} questions; at most {MOST} can be asked.")
    seen = set()
    for entry in entries:
        if entry.name in seen:
            raise LearnerError(f"{entry.name} is asked twice in the {where}. Give one of them a name, such as "
                               f"{{ item = '{entry.item}', name = 'after.{entry.name}' }}.")  # fmt: skip
        seen.add(entry.name)
    return tuple(entries)


def _entry(given, part, here):
    for name in given:
        known_name(here, name, ["item", "text", "rubric", "points", "name"])
    if ("item" in given) == ("text" in given):
        raise LearnerError(f"{here}: each question is either an item of the bank or a text; {short(given)} was given.")
    points = given.get("points", 1)
    if isinstance(points, bool) or not isinstance(points, (int, float)) or not 0 < points <= 100:
        raise LearnerError(f"{here}: points are a number above 0 and up to 100; {short(points)} was given.")
    if "item" in given:
        if not isinstance(given["item"], str):
            raise LearnerError(f"{here}: an item is an id such as 'marks.shift'; {short(given['item'])} was given.")
        known_name(f"{here}: the bank", given["item"], [*bank.ITEMS, *bank.TEXTS])
        if "rubric" in given:
            raise LearnerError(f"{here}: {given['item']} is of the bank and takes no rubric of yours.")
        name, words = _name(given.get("name", given["item"]), here), bank.TEXTS.get(given["item"])
        if words is not None:
            points = float(given.get("points", words.points))
            return Entry(name, points, part, text=words.text, rubric=_scaled(words, points))
        return Entry(name, float(points), part, item=given["item"])
    text, rubric = _text(given, "text", here, 4000), _text(given, "rubric", here, 4000)
    return Entry(_name(given.get("name"), here), float(points), part, text=text, rubric=rubric)


def _scaled(words, points):
    """Rubric of a text from the bank; where other points are given, what its own stand for."""
    own = "" if points == words.points else f"Out of {words.points:g}, then scaled to {points:g}. "
    return own + words.rubric


def _name(given, here):
    if not isinstance(given, str) or not _NAME.fullmatch(given):
        raise LearnerError(
            f"{here}: a name is wanted, of small letters, digits, points and hyphens, such as 'why'; {short(given)} "
            "was given."
        )
    return given


def _text(given, name, where, longest, *default):
    value = given.get(name, *default)
    if not isinstance(value, str) or (not value.strip() and not default) or len(value) > longest:
        raise LearnerError(f"{where}: {name} is a text of up to {longest} characters; {short(value)} was given.")
    return value.strip()


def _due(given):
    if given is None:
        return None
    if not isinstance(given, datetime.datetime) or given.tzinfo is None:
        raise LearnerError(
            f"due is a time with its zone, such as 2026-12-14T18:00:00+01:00, without quotes; {short(given)} was given."
        )
    return given


def _minutes(given):
    if given is not None and (isinstance(given, bool) or not isinstance(given, int) or not 1 <= given <= 600):
        raise LearnerError(f"minutes are a whole number from 1 to 600; {short(given)} was given.")
    return given
