"""The bank of exercises: each lesson's items, in numbers of their own for everybody.

::

    from eyesim.lesson import bank

    item = bank.ITEMS["start.tilt"]
    numbers = item.parameters("autumn", "resident-7")   # the same wherever and whenever it is asked
    asked = item.question(numbers)                      # a Question: text, form, reference, wrong answers
    asked.judge("4,2 deg")

    bank.TEXTS["tunnels.say-tuck"].rubric               # questions in words, which somebody marks by hand
"""

from __future__ import annotations

from . import back, log, marks, needles, sight, start, tunnels, vary
from .item import KINDS, LEVELS, Item, Span, collect
from .texts import TEXTS, Text

ITEMS = {id: item for id, item in collect(start, marks, needles, tunnels, sight, vary, back, log).items() if item.spans}
"""Id to `Item`, lesson by lesson; what only a lesson asks is none."""


def listing(lesson=""):
    """Lines that name each item of a lesson ("" for all): its kind, what it asks for, and what it is good for."""
    lines = [f"{item.id} ({item.kind}, {item.level}): {item.objective}" for item in ITEMS.values()]
    lines += [f"{text.id} (in words, {text.level}): {text.objective}" for text in TEXTS.values()]
    return "\n".join(line for line in lines if line.startswith(lesson))


__all__ = ["ITEMS", "KINDS", "LEVELS", "TEXTS", "Item", "Span", "Text", "listing"]
