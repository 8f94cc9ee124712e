"""One question in many numbers: a lesson shows it at fixed ones, and in an assignment everybody gets their own.

Which numbers somebody gets follows from the seed of the assignment, from who it is and from the item, and from nothing
else: the same three give the same numbers on every machine, and marking finds them again.
"""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import json
from collections.abc import Callable, Mapping
from types import MappingProxyType

from ..eye.checks import LearnerError, short
from .question import Question

KINDS = ("number", "choice", "cause", "plan")
LEVELS = ("recognise", "foretell", "design")
"""What an item asks for, the easiest first."""
_TRIES = 200


@dataclasses.dataclass(frozen=True)
class Span:
    """A parameter of an item: its name, its unit, and the values that somebody may get."""

    name: str
    unit: str
    values: tuple


@dataclasses.dataclass(frozen=True)
class Item:
    """One question in many numbers.

    Attributes
    ----------
    id : str
        Stable, such as "marks.shift"; it never changes, and its numbers keep their meaning.
    kind : str
        One of `KINDS`.
    objective : str
        What somebody who answers it can do; a verb first.
    level : str
        One of `LEVELS`.
    spans : tuple of Span
        Empty where only the lesson asks it.
    make : callable
        make(id, **parameters) gives the `Question`.
    source : str
        Where its facts come from.
    shown : mapping or None
        Numbers at which the lesson asks it; None where only assignments do.
    predicts : bool
        Whether the lesson asks it before its result is seen.
    fair : callable
        Whether a set of parameters is as hard as the others.
    clear : callable
        Whether a `Question` that was made leaves no doubt.
    """

    id: str
    kind: str
    objective: str
    level: str
    spans: tuple[Span, ...]
    make: Callable[..., Question]
    source: str
    fair: Callable[..., bool] = lambda **_: True
    clear: Callable[[Question], bool] = lambda _: True
    shown: Mapping[str, object] | None = None
    predicts: bool = False

    def parameters(self, seed, resident):
        """Parameters (name to value) that somebody gets: of all fair ones each is as likely.

        Parameters
        ----------
        seed : str
            Of the assignment.
        resident : str
            Who it is.
        """
        for name, value in (("seed", seed), ("resident", resident)):
            if not isinstance(value, str) or not value:
                raise LearnerError(f"The {name} is a text, and not empty; {short(value)} was given.")
        for attempt in range(_TRIES):
            stream = _Stream(json.dumps([seed, resident, self.id, attempt]))
            drawn = {span.name: span.values[stream.below(len(span.values))] for span in self.spans}
            if _is_fair(self, tuple(drawn.items())):
                return drawn
        raise ValueError(f"{self.id} has hardly any fair parameters")

    def question(self, parameters):
        """`Question` for these parameters; the same one is built once."""
        return _question(self, tuple(parameters.items()))

    def in_lesson(self):
        """`Question` as the lesson asks it."""
        return dataclasses.replace(self.question(dict(self.shown)), reveals=self.predicts)

    def __hash__(self):
        return hash(self.id)

    def __eq__(self, other):
        return isinstance(other, Item) and self.id == other.id


class _Stream:
    """Whole numbers that follow from a text, the same everywhere and for ever (SHA-256, counted on)."""

    def __init__(self, text):
        self.text, self.count = text.encode(), 0

    def below(self, n):
        digest = hashlib.sha256(self.text + self.count.to_bytes(4, "big")).digest()
        self.count += 1
        return int.from_bytes(digest, "big") % n  # 2^256 is so large that no value is favoured


@functools.lru_cache(maxsize=4096)
def _is_fair(item, parameters):
    return bool(item.fair(**dict(parameters)) and item.clear(_question(item, parameters)))


@functools.lru_cache(maxsize=2048)
def _question(item, parameters):
    return item.make(item.id, **dict(parameters))


def collect(*modules):
    """Items of several modules, by id."""
    items = {}
    for module in modules:
        for item in module.ITEMS:
            if item.id in items or item.kind not in KINDS or item.level not in LEVELS:
                raise ValueError(item.id)
            items[item.id] = item
    return MappingProxyType(items)


def steps(low, high, step):
    """Evenly spaced values, a tuple.

    Parameters
    ----------
    low, high : float
        The first and the last of them.
    step : float
    """
    n = round((high - low) / step)
    return tuple(round(low + i * step, 9) for i in range(n + 1))
