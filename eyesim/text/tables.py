"""CSV as spreadsheets write it: any of three separators, with a byte order mark or without, columns by name."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

from ..eye.checks import LearnerError
from ..eye.sources import separator_of

LARGEST = 5_000_000  # bytes of a table
_LIVE = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes for the beginning of a formula


def read_text(path, what):
    """Text of a file in UTF-8, of which there is not too much.

    Raises LearnerError if it cannot be read, is too large, or is no text in UTF-8: says in which line.

    Parameters
    ----------
    path : str or Path
    what : str
        What it should be, for the words: "roster".
    """
    return _decoded(read_content(path, what), f"The {what} {Path(path).name}")


def read_content(path, what, largest=LARGEST):
    """Bytes of a file of which there is not too much. Raises LearnerError if it cannot be read, or is too large.

    Parameters
    ----------
    path, what
        As for `read_text`.
    largest : int [bytes]
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            content = file.read(largest + 1)
    except (OSError, ValueError) as error:  # no file can be called so
        why = getattr(error, "strerror", None) or "no such file"
        raise LearnerError(f"The {what} {path.name} cannot be read: {why}.") from None
    if len(content) > largest:
        raise LearnerError(f"The {what} {path.name} is larger than {largest / 1e6:g} MB; is it the right file?")
    return content


@dataclasses.dataclass(frozen=True)
class Table:
    """A table that is being read.

    Attributes
    ----------
    head : list of str
        Its first line as it stands.
    columns : dict
        Plain name to place; the first of several that are called alike.
    lines : iterator of (int, list of str)
        Number of the line and its cells; of a blank line none.
    """

    head: list
    columns: dict
    lines: Iterator

    def missing(self, *names):
        """Return those of the names that no column has."""
        return [name for name in names if name not in self.columns]


def cells(row, columns):
    """Cells of a row by the names of columns; "" where the row ends before.

    Parameters
    ----------
    row : list of str
    columns : dict
        Name to place.
    """
    return {name: row[place] if place < len(row) else "" for name, place in columns.items()}


def parse_table(text, what, hint=""):
    """Read a table from the text of a CSV file, its head now and its lines one by one.

    Raises LearnerError if nothing is in it, or it cannot be read beyond some line.

    Parameters
    ----------
    text : str
    what : str
        What it is, for the words: "roster".
    hint : str
        What is wanted in one that is empty.

    Returns
    -------
    Table
    """
    lines = _numbered(text, what, hint)
    _, head = next(lines)
    names = [plain_name(cell) for cell in head]
    return Table(head, {name: names.index(name) for name in names}, lines)


def _numbered(text, what, hint):
    lines = text.splitlines()
    head = next((i for i, line in enumerate(lines) if line.strip(" ,;\t")), None)
    if head is None:
        raise LearnerError(f"The {what} is empty. {hint}".strip())
    found = csv.reader(io.StringIO("\n".join(lines[head:])), delimiter=separator_of(lines[head]), strict=False)
    try:
        for row in found:
            yield head + found.line_num, row
    except csv.Error as error:
        raise LearnerError(f"The {what} cannot be read beyond line {head + found.line_num}: {error}.") from None


def plain_name(text):
    """Name of a column, as names are compared: small letters, single blanks."""
    return re.sub(r"[\s_]+", " ", text.strip().casefold())


def clean(text):
    """Take away what cannot be seen: blanks around, and control characters."""
    text = unicodedata.normalize("NFC", text)
    return "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn")).strip()


def table_bytes(rows):
    """CSV of rows, with the mark by which spreadsheets know UTF-8, and no live formulas."""
    file = io.StringIO()
    csv.writer(file, lineterminator="\r\n").writerows([[escape_formula(cell) for cell in row] for row in rows])
    return file.getvalue().encode("utf-8-sig")


def escape_formula(cell):
    """Return a cell that no spreadsheet takes for a formula, without characters that no file should hold."""
    if not isinstance(cell, str):
        return cell
    text = "".join(c for c in cell if c in "\n\t" or c.isprintable())
    return f"'{text}" if _is_live(text) else text


def unescape_formula(cell):
    """Return the text of a cell that `escape_formula` may have marked."""
    return cell[1:] if cell[:1] == "'" and _is_live(cell[1:]) else cell


def _is_live(text):
    return text.lstrip(" \n").startswith(_LIVE)


def _decoded(content, name):
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise LearnerError(f"{name} is not in UTF-8 (it looks like UTF-16). Save it as 'CSV UTF-8'.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise LearnerError(f"{name} is not in UTF-8 (line {line}). Save it as 'CSV UTF-8'.") from None
    if "\0" in text:
        raise LearnerError(f"{name} is no text. A CSV file is wanted.")
    return text
