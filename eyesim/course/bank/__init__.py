"""The bank of exercises: each lesson's items, in numbers of their own for everybody.

::

    from eyesim.course import bank

    item = bank.ITEMS["start.tilt"]
    numbers = item.parameters("autumn", "resident-7")   # the same wherever and whenever it is asked
    asked = item.question(numbers)                      # a Question: text, form, reference, wrong answers
    asked.judge("4,2 deg")
"""

from __future__ import annotations

from . import marks, needles, sight, start, tunnels
from .item import KINDS, LEVELS, Item, Span, collected

ITEMS = collected(start, marks, needles, tunnels, sight)
"""Id to `Item`, lesson by lesson."""


def listing(lesson=""):
    """Lines that name each item of a lesson ("" for all): its kind, what it asks for, and what it is good for."""
    found = [item for item in ITEMS.values() if item.id.startswith(lesson)]
    return "\n".join(f"{item.id} ({item.kind}, {item.level}): {item.objective}" for item in found)


__all__ = ["ITEMS", "KINDS", "LEVELS", "Item", "Span", "listing"]
