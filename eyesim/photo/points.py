"""Points that somebody set on a photograph, as a small table: what each lies on, and where.

A CSV file with the columns `what`, `x`, `y`, and `mm` where a length is known::

    what,x,y,mm
    limbus,412.0,120.5,
    optic,455.0,310.0,
    ruler,80,1100,10
    ruler,480,1102,10
    mark1,790,402,
    line1,800,410,
    line1,760,520,

x and y are pixels of the photograph as it is seen upright, from its left upper corner; y goes down. `limbus` and
`optic` are edges; `ruler` are two points a known length apart; `mark1`, `mark2` ... are marks; `line1`, `line2` ... are
drawn lines, each from where the needle enters. A row that begins with # is not read. Two points of `limbus` mean that
the photograph was taken from the side.
"""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import numpy as np

from ..eye.checks import LearnerError, short
from ..text.reading import read_number
from ..text.tables import cells, clean, parse_table, plain_name, read_text, table_bytes
from .ellipse import checked_points

MOST = 2000
"""Points in one table."""
_NAMES = re.compile(r"limbus|optic|ruler|mark[1-9][0-9]?|line[1-9][0-9]?")
_KNOWN = "limbus, optic, ruler, mark1, mark2 ..., line1, line2 ..."


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class Points:
    """Points on a photograph, by what they lie on.

    Attributes
    ----------
    of : dict
        Name to an array (n, 2) [px], y down, in the order in which the points were set.
    ruler : float or None [mm]
        Length between the two points of `ruler`.
    remarks : tuple of str
        Lines that were left out, and why.
    """

    of: dict
    ruler: float | None = None
    remarks: tuple[str, ...] = ()

    def named(self, begin):
        """Return the names that begin so, such as "mark", in the order of their numbers."""
        return sorted((name for name in self.of if name.startswith(begin)), key=lambda name: int(name[len(begin) :]))

    @property
    def from_the_side(self):
        """Whether they were set on a photograph from the side: two points of the limbus."""
        return len(self.of.get("limbus", ())) == 2

    def __repr__(self):
        counts = ", ".join(f"{len(points)} of {name}" for name, points in self.of.items())
        return f"Points on a photograph: {counts or 'none'}."


def make_points(named, ruler=None):
    """Make `Points` of pairs of numbers. Raises LearnerError if a name is unknown or a point is no place.

    Parameters
    ----------
    named : dict
        Name of what they lie on to pairs (x, y) [px], y down.
    ruler : float or None [mm]
    """
    if not isinstance(named, dict):
        raise LearnerError("Points are given by what they lie on, such as {'limbus': [(412, 120), ...], 'optic': ...}.")
    return Points({_feature(name): checked_points(points, str(name)) for name, points in named.items()}, ruler)


def _feature(name):
    """Return the name of what a point lies on, in its plain form."""
    plain = plain_name(name).replace(" ", "") if isinstance(name, str) else ""
    if not _NAMES.fullmatch(plain):
        raise LearnerError(f"Points lie on {_KNOWN}; {short(name)} was given.")
    return plain


def read_points(path):
    """Read points from a file.

    Raises LearnerError if it cannot be read, has no columns what, x and y, or holds no points.
    """
    path = Path(path)
    return parse_points(read_text(path, "table of points"), path.name)


def parse_points(text, where="table of points"):
    """Read points from the text of a CSV file; raises as `read_points` does. What cannot be used is remarked.

    Parameters
    ----------
    text : str
    where : str
        What it is called, for the words.
    """
    table = parse_table(text, where, "Its first line is 'what,x,y'; then one line for each point.")
    missing = table.missing("what", "x", "y")
    if missing:
        raise LearnerError(
            f"The {where} has no column {' and no column '.join(missing)}; its first line is 'what,x,y', and "
            f"{short(' | '.join(table.head))} was found."
        )
    found, lengths, remarks = {}, set(), []
    for line, row in table.lines:
        if any(entry.strip() for entry in row):
            _take(cells(row, table.columns), line, found, lengths, remarks)
        if sum(map(len, found.values())) > MOST:
            raise LearnerError(f"The {where} holds more than {MOST} points; is it the right file?")
    if not found:
        raise LearnerError(f"No point is in the {where}. {' '.join(remarks[:3])}".strip())
    if len(lengths) > 1:
        raise LearnerError(f"The {where} gives the ruler {len(lengths)} different lengths; it has one.")
    arrays = {name: np.array(points) for name, points in found.items()}
    return Points(arrays, lengths.pop() if lengths else None, tuple(remarks))


def points_bytes(points, note=""):
    """CSV of points, as `read_points` reads it.

    Parameters
    ----------
    points : Points
    note : str
        Stands in a line of its own that is not read.
    """
    table = [["what", "x", "y", "mm"], *([[f"# {note}"]] if note else [])]
    for name, places in points.of.items():
        length = "" if name != "ruler" or points.ruler is None else f"{points.ruler:g}"
        table += [[name, round(float(x), 2), round(float(y), 2), length] for x, y in places]
    return table_bytes(table)


def _take(row, line, found, lengths, remarks):
    """Take one line, or say why not."""
    entry = {name: clean(cell) for name, cell in row.items()}
    if entry["what"].startswith("#"):
        return
    try:
        name = _feature(entry["what"])
        place = read_number(entry["x"], ""), read_number(entry["y"], "")
        checked_points([place], name)
        if name == "ruler" and entry.get("mm"):
            lengths.add(read_number(entry["mm"], "mm"))
    except LearnerError as error:
        remarks.append(f"line {line} is left out: {error}")
        return
    found.setdefault(name, []).append(place)
