"""Where the numbers come from: tables of facts, each with unit, kind and source.

A fact is a row of a CSV file in the folder `data`. Its kind says how far to trust it: measured (read in
the source named), tabulated (read there too, but set by a standard, nominal, or computed), from memory,
chosen for teaching, or assumption.
"""

from __future__ import annotations

import csv
import dataclasses
import functools
import math
import types
from pathlib import Path

from .checks import LearnerError, known_name

COLUMNS = ("name", "value", "spread", "low", "high", "unit", "n", "kind", "source", "doi", "note")
KINDS = ("measured", "tabulated", "from memory", "chosen for teaching", "assumption")
_NUMBERS = ("value", "spread", "low", "high", "n")
_OF_ANOTHER_FORM = ("demo_clinic", "schematic_eyes")


@dataclasses.dataclass(frozen=True)
class Fact:
    """One number of the trade, with where it comes from.

    Attributes
    ----------
    name : str
    value, spread : float or None [unit]
        Spread is a standard deviation.
    low, high : float or None [unit]
        Published or plausible range.
    unit : str
        "" for a number without dimension.
    n : int or None
        How many were measured.
    kind : str
        One of `KINDS`.
    source, doi, note : str
    more : mapping
        Further columns that a table has.
    """

    name: str
    value: float | None
    spread: float | None
    low: float | None
    high: float | None
    unit: str
    n: int | None
    kind: str
    source: str
    doi: str
    note: str
    more: types.MappingProxyType = dataclasses.field(default_factory=lambda: types.MappingProxyType({}))

    def __repr__(self):
        number = "no value" if self.value is None else f"{self.value:g}"
        spread = "" if self.spread is None else f" (SD {self.spread:g})"
        unit = f" {self.unit}" if self.unit else ""
        source = f": {self.source}" if self.source else ""
        return f"{self.name} {number}{spread}{unit}, {self.kind}{source}"


def fact(table, name):
    """Look up one fact.

    Raises LearnerError if there is no such fact (the nearest name is offered), or the table cannot be read.

    Parameters
    ----------
    table : str
        "anatomy", "hands", "needles", "optics" or "series".
    name : str

    Returns
    -------
    Fact
    """
    found = facts(table)
    known_name(f"The table {table!r}", name, list(found))
    return found[name]


@functools.lru_cache
def facts(table):
    """All facts of a table, by name in the order of the file (read once, read-only)."""
    folder = data_folder()
    tables = sorted(path.stem for path in folder.glob("*.csv") if path.stem not in _OF_ANOTHER_FORM)
    if table not in tables:
        raise LearnerError(f"There is no table of facts {str(table)[:60]!r}. There is: {', '.join(tables)}.")
    return read_facts(folder / f"{table}.csv")


def data_folder():
    """Folder of the tables: inside an installed package, or beside it in a source checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_data", package.parent / "data"):
        if (folder / "hands.csv").is_file():
            return folder
    raise LearnerError("The folder of tables (data) is missing from this installation; install eyesim again.")


def read_facts(path):
    """Read a file of facts; every fault names file, line and column."""
    found = {}
    for line, row in read_rows(path, COLUMNS):
        where = f"{Path(path).name}, line {line}"
        name = row["name"]
        if not name or name in found:
            raise LearnerError(f"{where}, column name: {name!r} is {'there twice' if name else 'empty'}.")
        if row["kind"] not in KINDS:
            raise LearnerError(f"{where}, column kind: {row['kind']!r} is none of {', '.join(KINDS)}.")
        if row["kind"] in ("measured", "tabulated") and not row["source"]:
            raise LearnerError(f"{where}, column source: a measured value needs its source.")
        numbers = {column: cell_number(row[column], where, column) for column in _NUMBERS}
        if numbers["n"] is not None:
            numbers["n"] = int(numbers["n"])
        words = {column: row[column] for column in ("unit", "kind", "source", "doi", "note")}
        more = {column: cell for column, cell in row.items() if column not in COLUMNS}
        found[name] = Fact(name, **numbers, **words, more=types.MappingProxyType(more))
    return types.MappingProxyType(found)


def read_rows(path, columns):
    """Read a CSV file with a heading; return [(line, {column: cell})].

    Lines that begin with # are remarks. Cells are stripped of blanks around them, and separated by what separates the
    heading: commas, semicolons or tabs. Raises LearnerError if the file cannot be read, is no text, breaks off, or
    lacks one of `columns`.

    Parameters
    ----------
    path : str or Path
    columns : tuple of str
        Those that must be there.
    """
    name = Path(path).name
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except (OSError, ValueError) as fault:  # a NUL in a path is a ValueError, and so is text of another code
        other = isinstance(fault, UnicodeDecodeError)
        why = "it is not UTF-8 text; save it as 'CSV UTF-8'" if other else "is the name right?"
        raise LearnerError(f"The file {name} cannot be read: {why}") from None
    lines = text.splitlines(keepends=True)
    first = next((i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")), len(lines))
    reader = csv.reader(lines[first:], delimiter=separator_of(lines[first] if lines[first:] else ""), strict=True)
    rows, heading = [], None
    try:
        for cells in reader:
            line, cells = first + reader.line_num, [cell.strip() for cell in cells]
            if not any(cells) or cells[0].startswith("#"):
                continue
            if heading is None:
                heading = _heading(cells, columns, name, line)
            elif len(cells) != len(heading):
                last = heading[min(len(cells), len(heading)) - 1]
                raise LearnerError(
                    f"{name}, line {line}: {len(cells)} cells, but the heading has {len(heading)}; the "
                    f"line breaks off or runs over at column {last}. Was the file written to its end?"
                )
            else:
                rows.append((line, dict(zip(heading, cells, strict=True))))
    except csv.Error as fault:
        raise LearnerError(f"{name}, line {first + reader.line_num}: not a proper CSV line ({fault}).") from None
    if heading is None:
        raise LearnerError(f"{name} is empty: its first line should name the columns, {', '.join(columns)}.")
    return rows


def separator_of(heading):
    """Tell what separates the cells of a table by its first line: a comma, a semicolon or a tab."""
    return max((",", ";", "\t"), key=heading.count)


def cell_number(cell, where, column):
    """Turn a cell into a finite number, or None if it is empty.

    Parameters
    ----------
    cell : str
    where, column : str
        Its place, for the message.
    """
    if not cell:
        return None
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        hint = " Write decimals with a point." if "," in cell else ""
        raise LearnerError(f"{where}, column {column}: {cell[:40]!r} is not a number.{hint}")
    return value


def _heading(cells, columns, name, line):
    missing = [column for column in columns if column not in cells]
    if missing:
        raise LearnerError(
            f"{name}, line {line}: the heading lacks column {missing[0]}; it has {', '.join(cells)[:200]}."
        )
    twice = [cell for cell in cells if cells.count(cell) > 1]
    if twice:
        raise LearnerError(f"{name}, line {line}: the column {twice[0]!r} is there twice.")
    return cells
