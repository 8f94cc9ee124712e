"""The demonstration: an hour's assignment, its roster and a dozen hand-ins, all invented."""

from __future__ import annotations

from ..eye.sources import data_folder
from ..marking.assignment import read_assignment
from ..marking.roster import read_roster
from .results import mark_class


def assignment():
    """Return the assignment of an hour."""
    return read_assignment(data_folder() / "demo" / "assignment.toml")


def roster():
    """Return its roster."""
    return read_roster(data_folder() / "demo" / "roster.csv")


def results():
    """Return what marking makes of its hand-ins."""
    return mark_class(assignment(), roster(), data_folder() / "demo" / "hand-ins")
