"""Who takes part: a roster read from any CSV with a column that says who somebody is.

Columns are found by their names, in any order; others are ignored. Separators may be commas, semicolons or tabs, and
a byte order mark does no harm. A OneRoster 1.2 `users.csv` (1EdTech) is a roster too. What cannot be used is reported
by its line and never dropped silently::

    roster = read_roster("roster.csv")
    roster.people      # (Person('r-01', name='...', email='...'), ...)
    roster.remarks     # ("line 7: no id; the line is left out", ...)
"""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

from ..eye.checks import LearnerError, short
from ..text.tables import cells, clean, parse_table, read_text

_LONGEST = 200  # characters of an entry
_COLUMNS = {
    "id": ("id", "resident", "resident id", "student id", "user id", "userid", "sourcedid", "login", "username"),
    "name": ("name", "full name", "display name"),
    "given": ("given name", "givenname", "first name", "firstname"),
    "family": ("family name", "familyname", "last name", "lastname", "surname"),
    "email": ("email", "e-mail", "mail", "email address", "e-mail address"),
    "status": ("status",),
    "enabled": ("enableduser",),
    "role": ("role", "roles"),
}  # fmt: skip
_TEACHES = ("teacher", "administrator", "aide", "proctor", "parent", "guardian")


@dataclasses.dataclass(frozen=True)
class Person:
    """Somebody who takes part; the id alone may be a pseudonym, the rest may be empty."""

    id: str
    name: str = ""
    email: str = ""

    @property
    def called(self):
        """Name, or the id of one who has none."""
        return self.name or self.id


@dataclasses.dataclass(frozen=True)
class Roster:
    """People in the order of the file, and remarks on lines that were left out or look odd."""

    people: tuple[Person, ...]
    remarks: tuple[str, ...] = ()

    def __getitem__(self, id):
        return next(person for person in self.people if person.id == id)

    def __contains__(self, id):
        return any(person.id == id for person in self.people)


def read_roster(path):
    """Read a roster from a file.

    Raises LearnerError if it is no text in UTF-8, too large, has no column that says who somebody is, or nobody is in
    it.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Roster
    """
    path = Path(path)
    return parse_roster(read_text(path, "roster"), path.name)


def parse_roster(text, where="roster"):
    """Read a roster from the text of a CSV file; raises as `read_roster` does.

    Parameters
    ----------
    text : str
    where : str
        What it is called, for the words.
    """
    table = parse_table(text, where, "A first line such as 'id,name,email' is wanted, then one per person.")
    columns = _columns(table.columns)
    if "id" not in columns:
        raise LearnerError(
            f"The {where} has no column that says who somebody is: 'id' is wanted (or 'sourcedId', 'username'); its "
            f"first line is {short(' | '.join(table.head))}."
        )
    people, remarks, seen = [], [], {}
    for line, row in table.lines:
        if any(entry.strip() for entry in row):
            _take(row, columns, line, people, remarks, seen)
        elif row:
            remarks.append(f"line {line}: blank")
    if not people:
        raise LearnerError(f"Nobody stands in {where}. {' '.join(remarks[:3])}".strip())
    return Roster(tuple(people), tuple(remarks))


def _take(row, columns, line, people, remarks, seen):
    """Take one line of a roster, or say why not."""
    entry = {name: clean(cell) for name, cell in cells(row, columns).items()}
    id = entry["id"]
    if not id:
        remarks.append(f"line {line}: no id; the line is left out")
    elif max(len(text) for text in entry.values()) > _LONGEST:
        remarks.append(f"line {line}: an entry of more than {_LONGEST} characters; the line is left out")
    elif id.casefold() in seen:
        remarks.append(f"line {line}: {id} stands on line {seen[id.casefold()]} already; the line is left out")
    elif entry.get("status", "").casefold() == "tobedeleted" or entry.get("enabled", "").casefold() == "false":
        remarks.append(f"line {line}: {id} is marked as gone; left out")
    elif entry.get("role", "").casefold() in _TEACHES:
        remarks.append(f"line {line}: {id} is {entry['role']}, not somebody who takes part; left out")
    else:
        seen[id.casefold()] = line
        name = entry.get("name") or f"{entry.get('given', '')} {entry.get('family', '')}".strip()
        email = entry.get("email", "")
        if email and not re.fullmatch(r"[^@\s]+@[^@\s]+", email):
            remarks.append(f"line {line}: {short(email)} is no e-mail address; {id} is kept without one")
            email = ""
        people.append(Person(id, name, email))


def _columns(there):
    """Which column holds what; of columns of the same meaning the one that is named first in `_COLUMNS`."""
    found = {what: [there[name] for name in known if name in there] for what, known in _COLUMNS.items()}
    return {what: places[0] for what, places in found.items() if places}
