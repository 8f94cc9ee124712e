"""A resident's practice log: a table that only grows, one row a measured quantity, and no row lost with another.

Columns are found by their names, in any order; separators may be commas, semicolons or tabs, numbers may have a
decimal comma, and lines that begin with # are remarks. Every line is read on its own: what cannot be read is
reported by its line with the reason, and all others count::

    log = read_log("practice-log.csv")
    log.rows     # (2026-09-01 iris_angle, second haptic: aim 5 deg, ..., ...)
    log.bad_lines      # (line 17: achieved (needle's angle to the iris plane) is missing; ..., ...)
"""

from __future__ import annotations

import contextlib
import csv
import dataclasses
import datetime
import io
import re
from pathlib import Path

from ..eye.checks import LearnerError, known_name, short
from ..eye.sources import data_folder
from ..text.append import append
from ..text.tables import escape_formula, plain_name, read_content
from .measurement import CUT_OFF, Measurement, number_text, one_line, today

COLUMNS = tuple("when attempt quantity aim achieved unit side hand seat way rater note".split())
"""As a new log has them; text comes last, so that a line that breaks off is known by its missing cells."""
NEEDED = ("when", "quantity", "aim", "achieved")
_CALLED = {
    "date": "when", "day": "when", "attempt id": "attempt", "id": "attempt", "what": "quantity", "aimed": "aim",
    "aimed at": "aim", "got": "achieved", "measured": "achieved", "haptic": "side", "pass": "way", "towards": "way",
    "direction": "way", "measured by": "rater", "who measured": "rater", "remark": "note", "notes": "note",
}  # fmt: skip
_SEPARATORS = ",;\t"
_BOM = "\ufeff"
_JOINED = 5  # lines that a cell with line breaks may run over


@dataclasses.dataclass(frozen=True)
class Layout:
    """How a table is laid out: names of its columns in their order ("" for others), and what separates them."""

    columns: tuple[str, ...] = COLUMNS
    separator: str = ","

    @property
    def fit(self):
        """Whether rows can be added to it so that a half-written one is always noticed."""
        return self.columns[0] == "when" and self.columns[-1] == "note"


@dataclasses.dataclass(frozen=True, repr=False)
class BadLine:
    """A line that could not be read, and why."""

    line: int
    why: str

    def __repr__(self):
        return f"line {self.line}: {self.why}"


@dataclasses.dataclass(frozen=True, repr=False)
class Log:
    """What a practice log holds.

    Attributes
    ----------
    rows : tuple of Measurement
        In the order of the file.
    lines : tuple of int
        Where each stands.
    bad_lines : tuple of BadLine
    remarks : tuple of str
        Lines that begin with #, without it.
    layout : Layout or None
        In force at the end; None where no head was found.
    """

    rows: tuple[Measurement, ...]
    lines: tuple[int, ...] = ()
    bad_lines: tuple[BadLine, ...] = ()
    remarks: tuple[str, ...] = ()
    layout: Layout | None = None

    def only(self, **wanted):
        """Rows with given values, such as `side="second"`, `quantity="iris_angle"`.

        Raises LearnerError if a row has no such field.
        """
        for name in wanted:
            known_name("A row of the log", name, [f.name for f in dataclasses.fields(Measurement)])
        return tuple(row for row in self.rows if all(getattr(row, k) == v for k, v in wanted.items()))

    def __repr__(self):
        if not self.rows:
            words = "A practice log without rows"
        else:
            days = sorted(row.when for row in self.rows)
            attempts = len({row.attempt or i for i, row in enumerate(self.rows)})  # without a name each is one
            words = f"A practice log: {_counted(len(self.rows), 'row')} of {_counted(attempts, 'attempt')}"
            words += f", {days[0].isoformat()} to {days[-1].isoformat()}"
        if not self.bad_lines:
            return f"{words}."
        more = f" and {len(self.bad_lines) - 3} more" if len(self.bad_lines) > 3 else ""
        return f"{words}; not read: {'; '.join(map(repr, self.bad_lines[:3]))}{more}."


def read_log(path):
    """Read a practice log from a file.

    Raises LearnerError if it cannot be read at all, is too large, is in UTF-16, or has neither a head nor a single row.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Log
    """
    return parse_log(read_content(path, "practice log"))


def parse_log(content):
    """Read a practice log from the bytes of a file; raises as `read_log` does."""
    _check_encoding(content)
    lines, reader, at = _lines(content), _Reader(content), 0
    while at < len(lines):
        at += reader.take(lines, at)
    if reader.bad_lines and not reader.rows and reader.layout is None:
        raise LearnerError(
            f"Not a single row of the practice log can be read ({reader.bad_lines[0]!r}). Is it the right file? A "
            f"first line such as '{','.join(COLUMNS)}' is wanted."
        )
    return Log(tuple(reader.rows), tuple(reader.lines), tuple(reader.bad_lines), tuple(reader.remarks), reader.layout)


def demonstration():
    """Return the practice log of the demonstration, invented, a `Log`."""
    return read_log(data_folder() / "demo" / "practice-log.csv")


class _Reader:
    """Takes one line after the other; a head that comes again, or another one, is in force from there on."""

    def __init__(self, content, layout=None):
        self.usual = Layout(COLUMNS, _commonest(content.decode("latin-1")))
        self.layout = layout
        self.rows, self.lines, self.bad_lines, self.remarks = [], [], [], []

    def take(self, lines, at):
        """Take a line, with those that it runs over; return how many."""
        last = at == len(lines) - 1  # nothing ends it: an editor that leaves that away, or a line that breaks off
        try:
            text = _text(lines[at])
            if not text.strip(" ,;\t"):
                return 1
            if text.startswith("#"):
                self.remarks.append(one_line(text[1:]))
                return 1
            head = _layout_of(text)
            if head is not None and (not last or head.fit):
                self.layout = head
                return 1
            layout = self.layout or self.usual
            cells, used = _cells(lines, at, layout)
            self.rows.append(_made(cells, layout, last))
            self.lines.append(at + 1)
            return used
        except LearnerError as error:
            self.bad_lines.append(BadLine(at + 1, str(error)))
            return 1


def _layout_of(text):
    """Layout that a line names, if it is the head of a practice log; else None."""
    separator = _commonest(text)
    names = [plain_name(one_line(cell)) for cell in text.split(separator)]
    names = [_CALLED.get(name.strip('"'), name.strip('"')) for name in names]
    columns = tuple(name if name in COLUMNS and name not in names[:i] else "" for i, name in enumerate(names))
    return Layout(columns, separator) if set(NEEDED) <= set(columns) else None


def _row_text(row, layout):
    """Text of a row behind a log of a layout; where something of it has no place there, the usual head comes first."""
    filled = {name for name in COLUMNS if name not in (*NEEDED, "unit") and getattr(row, name)}
    head = ""
    if layout is None or not layout.fit or not filled <= set(layout.columns):
        layout = Layout(COLUMNS, layout.separator if layout is not None else ",")
        head = _joined(COLUMNS, layout)
    return head + _joined([_cell(row, name, layout) for name in layout.columns], layout)


def line_ending(content):
    """Return what has to be written behind a log before a row is added: the end of a line that has none.

    A line that was only half written is marked as cut off; it stays, and is reported by whoever reads the log.
    """
    if not content or content.endswith((b"\n", b"\r")):
        return b""
    lines = _lines(content)
    reader = _Reader(content, _layout_in(lines[:-1]))
    reader.take(lines, len(lines) - 1)
    return CUT_OFF.encode() + b"\r\n" if reader.bad_lines else b"\r\n"


def addition(content, *rows) -> bytes:
    """Return what is written behind a log to add rows: an end for a half-written line, a head if there is none.

    Raises LearnerError if the log is in UTF-16, so that nothing can be added to it.

    Parameters
    ----------
    content : bytes
        Of the log so far; empty for a new one.
    *rows : Measurement
    """
    _check_encoding(content)
    end, new = line_ending(content), b""
    for row in rows:
        text = _row_text(row, _layout_in(_lines(content + end + new)))
        new += (text if content or new else _BOM + text).encode("utf-8")
    return end + new


def add(path, *rows):
    """Add rows to a practice log, which is begun if it is not there; nothing that is in it ever changes.

    The rows are on the disk, all of them or none, when this returns. A line that an earlier crash left half written is
    closed off first. Raises LearnerError if the file cannot be written to, is too large, or another program keeps it to
    itself.

    Parameters
    ----------
    path : str or Path
    *rows : Measurement
    """
    for row in rows:
        if not isinstance(row, Measurement):
            raise LearnerError(f"A row of the log is added, a Measurement; a {type(row).__name__} was given.")
    append(Path(path), "practice log", lambda content: addition(content, *rows))


def parse_row(words) -> Measurement:
    """Row of a practice log from words such as "aim=5"; of today, unless another day is among them.

    Raises LearnerError if a word is not a name with its value, a name is unknown or missing, or a value makes no sense.

    Parameters
    ----------
    words : iterable of str
        Names of columns with their values.
    """
    given = {"when": today()}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise LearnerError(f"A row takes names with their values, such as aim=5; {word!r} was given.")
        known_name("A row of the log", name, [column for column in COLUMNS if column != "unit"])
        given[name] = value
    missing = [name for name in NEEDED if name not in given]
    if missing:
        raise LearnerError(f"A row needs {', '.join(missing)}, such as quantity=iris_angle aim=5 achieved=7.5.")
    return check_day(Measurement(**given))


def check_day(row):
    """Return a row that is about to be added. Raises LearnerError if its day lies ahead."""
    if row.when > today() + datetime.timedelta(days=1):  # where the day begins sooner it is tomorrow
        raise LearnerError(
            f"The day (when), {row.when.isoformat()}, lies ahead; a pass is written down once it is made."
        )
    return row


def _layout_in(lines):
    """Layout in force at the end of lines; None where none of them is a head."""
    for line in reversed(lines[:-1]):
        if not line[:1].isdigit() and line[:1] != b"#":
            try:
                layout = _layout_of(_text(line))
            except LearnerError:
                continue
            if layout is not None:
                return layout
    return None


def _joined(cells, layout):
    file = io.StringIO()
    csv.writer(file, delimiter=layout.separator, lineterminator="\r\n").writerow(cells)
    return file.getvalue()


def _cell(row, name, layout):
    if name in ("aim", "achieved"):
        return number_text(getattr(row, name), comma=layout.separator == ";")
    if name == "when":
        return row.when.isoformat()
    return escape_formula(getattr(row, name)) if name else ""


def _made(cells, layout, last):
    """Make a row of cells; of one in the usual form, whatever a damaged head says."""
    try:
        return _row(cells, layout, last)
    except LearnerError:
        if len(cells) == len(COLUMNS) and layout.columns != COLUMNS:
            with contextlib.suppress(LearnerError):
                return _row(cells, Layout(COLUMNS, layout.separator), last)
        raise


def _row(cells, layout, last):
    """Make a row of cells, as its head names them."""
    named = dict(zip(layout.columns, cells, strict=False))
    more = [cell for cell in cells[len(layout.columns) :] if cell.strip()]
    if more:
        hint = " A number with a decimal comma needs quotes here." if layout.separator == "," else ""
        raise LearnerError(f"has {len(cells)} cells, the head names {len(layout.columns)}.{hint}")
    if last and (len(cells) < len(layout.columns) or layout.columns[-1] not in ("note", "")):
        raise LearnerError("breaks off: the last line has no end, so nobody can tell whether it is whole")
    missing = [name for name in NEEDED if name not in named]
    if missing:
        raise LearnerError(f"has {len(cells)} cells only; {' and '.join(missing)} missing")
    named.pop("", None)
    named = {name: one_line(cell) for name, cell in named.items()}
    unit = named.pop("unit", "")
    row = Measurement(**named)
    if unit and unit.casefold() not in (row.unit, *_UNITS[row.unit]):
        raise LearnerError(f"unit: {row.quantity} is measured in {row.unit}; {short(unit)} was given")
    return row


_UNITS = {"deg": ("°", "degree", "degrees"), "mm": ("millimetre", "millimetres")}


def _cells(lines, at, layout):
    """Cells of a line, and how many lines they run over."""
    text = _text(lines[at])
    with contextlib.suppress(LearnerError):  # of a line that it runs over
        for used, following in enumerate([*lines[at + 1 : at + _JOINED], None], 1):
            try:
                cells = next(csv.reader(io.StringIO(text, newline=""), delimiter=layout.separator, strict=True))
            except csv.Error:
                if text.count('"') % 2 == 0 or following is None:
                    break
                text += "\n" + _text(following)
            else:
                if used > 1 and len(cells) != len(layout.columns):
                    break
                return cells, used
    raise LearnerError("cannot be taken apart: its quotation marks do not match, it breaks off, or is damaged")


def _text(line):
    """Text of a line; refuses what is none, or was cut off."""
    if line.rstrip().endswith(CUT_OFF.encode()):
        raise LearnerError("was cut off while it was written (a crash, or the power failed)")
    if b"\0" in line:
        raise LearnerError("holds no text but noughts: it was never written to the disk, or is damaged")
    try:
        return line.decode("utf-8").lstrip(_BOM)
    except UnicodeDecodeError:
        raise LearnerError("is not in UTF-8: damaged, or the table was not saved as 'CSV UTF-8'") from None


def _lines(content):
    """Lines of a file however its system ends them; what follows the last end is a line too."""
    return re.split(rb"\r\n|\n|\r", content)


def _commonest(text):
    """Separator that occurs most often in a text."""
    return max(_SEPARATORS, key=text.count)


def _check_encoding(content):
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise LearnerError("The practice log is not in UTF-8 (it looks like UTF-16). Save it as 'CSV UTF-8'.")


def _counted(n, word):
    return f"{n} {word}" if n == 1 else f"{n} {word}s"
