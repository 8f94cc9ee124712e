"""An assignment: which items, for how many points, and when results are shown; written in TOML.

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
import difflib
import functools
import hashlib
import importlib.metadata
import json
import re
import tomllib
from collections import Counter
from pathlib import Path

from ..eye.checks import LearnerError, known_name, short
from ..lesson import bank
from ..text.tables import read_content

MODES = ("at once", "after hand-in", "director")
"""When somebody hears what the simulation says: to each answer, after handing in, or from the director alone."""
LARGEST = 200_000  # bytes of an assignment
MOST = 60  # entries
_NAME = re.compile(r"[a-z0-9][a-z0-9.\-]{0,59}")
_HOW = "Start from data/demo/assignment.toml."


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
        source = bank.ITEMS.get(self.item) or next(texts, None)
        return (source.objective, source.level) if source else ("", "")


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
        """Short digest of all that decides which questions and numbers somebody gets: in every hand-in.

        Titles, points, words and rubrics may be corrected after it was given out; marking takes them as they are then.
        """
        content = json.dumps([self.seed, [(entry.name, entry.item) for entry in self.entries]])
        return hashlib.sha256(content.encode()).hexdigest()[:16]

    def __repr__(self):
        parts, points = len({entry.part for entry in self.entries}), sum(entry.points for entry in self.entries)
        when = dict(zip(MODES, ("at once", "after handing in", "by the director"), strict=True))[self.feedback]
        return f"{self.title}: {len(self.entries)} questions in {parts} parts, {points:g} points; results {when}."

    @functools.cached_property
    def version(self):
        """Version of the package by which it is asked and marked."""
        return importlib.metadata.version("eyesim")

    def parameters(self, entry, who):
        """Parameters of an entry for somebody [id]; None for a text."""
        if not entry.item:
            return None
        seed = self.seed if entry.name == entry.item else f"{self.seed} / {entry.name}"
        return bank.ITEMS[entry.item].parameters(seed, who)

    def question(self, entry, who):
        """`Question` of an entry for somebody [id], choices in an order of their own; None for a text."""
        if not entry.item:
            return None
        question = bank.ITEMS[entry.item].question(self.parameters(entry, who))
        if question.form.kind != "choice":
            return question

        def place(choice):
            return hashlib.sha256(f"{self.seed} / {entry.name} / {who} / {choice.key}".encode()).digest()

        return question.arranged(sorted(question.form.choices, key=place))

    def without_rubrics(self):
        """Text (TOML) of the same assignment as those who answer get it."""
        lines = [f"{name} = {_toml(getattr(self, name))}" for name in ("title", "seed", "feedback")]
        lines += [f"due = {self.due.isoformat()}"] if self.due else []
        lines += [f"minutes = {self.minutes}"] if self.minutes else []
        lines += [f"introduction = {_toml(self.introduction)}"] if self.introduction else []
        for part in dict.fromkeys(entry.part for entry in self.entries):
            lines += ["", "[[part]]", f"title = {_toml(part)}", "items = ["]
            lines += [f"    {_item_text(entry)}," for entry in self.entries if entry.part == part] + ["]"]
        return "\n".join(lines) + "\n"


def _toml(text):
    """Text as a basic string of TOML: escapes as in JSON, one character more."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _item_text(entry):
    """One question as it stands in an assignment; its rubric stays with the director."""
    fields = {"item": entry.item} if entry.item else {"text": entry.text, "rubric": "It is with your director."}
    fields |= {"name": entry.name} if entry.name != entry.item else {}
    return f"{{ {', '.join(f'{k} = {_toml(v)}' for k, v in fields.items())}, points = {entry.points!r} }}"


def read_assignment(path):
    """Read an assignment from a file.

    Raises LearnerError if it cannot be read, or asks for what there is not: says where.

    Parameters
    ----------
    path : str or Path
    """
    path = Path(path)
    try:
        text = read_content(path, "assignment", LARGEST).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise LearnerError(f"The assignment {path.name} is not in UTF-8. Save it as UTF-8.") from None
    return parse_assignment(text, path.name)


def parse_assignment(text, where="assignment"):
    """Read an assignment from its text; raises as `read_assignment` does.

    Parameters
    ----------
    text : str
    where : str
        What it is called, for the words.
    """
    try:
        given = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        why = f"cannot be read: {error}. Texts stand in quotes. {_HOW}"
        if str(where).lower().endswith(".csv"):
            why = "is a table and no assignment; the assignment comes first, then the roster."
        raise LearnerError(f"The {where} {why}") from None
    for name in given:
        known_name(f"The {where}", name, ["title", "seed", "feedback", "due", "minutes", "introduction", "part"])
    title, seed = (_text(given, name, where, 200) for name in ("title", "seed"))
    feedback, modes = given.get("feedback", MODES[1]), ", ".join(map(repr, MODES))
    if feedback not in MODES:
        raise LearnerError(f"The {where}: feedback is one of {modes}; {short(feedback)} was given.")
    introduction = _text(given, "introduction", where, 4000, "")
    entries = _entries(given.get("part"), where)
    due, minutes = _due(given.get("due")), _minutes(given.get("minutes"))
    return Assignment(title, seed, entries, feedback, due, minutes, introduction)


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
    named = Counter(entry.name for entry in entries)
    for entry in entries:
        if named[entry.name] > 1:
            example = f"{{ item = '{entry.item}', name = 'after.{entry.name}' }}"
            raise LearnerError(
                f"{entry.name} is asked twice in the {where}. Give one of them a name, such as {example}."
            )
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
        _check_in_bank(given["item"], here)
        if "rubric" in given:
            raise LearnerError(f"{here}: {given['item']} is of the bank and takes no rubric of yours.")
        name, words = _name(given.get("name", given["item"]), here), bank.TEXTS.get(given["item"])
        if words is None:
            return Entry(name, float(points), part, item=given["item"])
        points = float(given.get("points", words.points))
        scaled = "" if points == words.points else f"Out of {words.points:g}, then scaled to {points:g}. "
        return Entry(name, points, part, text=words.text, rubric=scaled + words.rubric)
    text, rubric = _text(given, "text", here, 4000), _text(given, "rubric", here, 4000)
    return Entry(_name(given.get("name"), here), float(points), part, text=text, rubric=rubric)


def _check_in_bank(item, here):
    known = [*bank.ITEMS, *bank.TEXTS]
    if item not in known:
        near = difflib.get_close_matches(item, known, n=1, cutoff=0.6)
        hint = f"Did you mean {near[0]!r}?" if near else "The lesson Set and mark exercises lists them all."
        raise LearnerError(f"{here}: the bank has no question {short(item)}. {hint}")


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
