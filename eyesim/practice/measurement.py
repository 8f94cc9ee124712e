"""One row of a practice log: one quantity of one attempt on a practice eye, what was aimed at and what was achieved.

A row is checked when it is made, whether it was typed, read from a file or made by a program. Names and notes in it
are text and nothing else.
"""

from __future__ import annotations

import dataclasses
import datetime
import math
import re

from ..eye.checks import LearnerError, known_name, number, short
from ..hold.needle import Fixation
from ..study.error_model import MEASURED, QUANTITIES
from ..text.reading import read_number
from ..text.tables import clean, plain_name, unescape_formula

LONGEST = 200
"""Characters of a name or note [1]."""
CUT_OFF = "[cut off]"
"""What is put behind a line that was only half written; no note ends with it."""
RANGES = {f.name: f.metadata for f in dataclasses.fields(Fixation) if f.name in MEASURED}
"""Quantity to what a pass may have of it: "low" and "high" [mm or deg]."""
PLAIN = {
    "meridian": "mark's meridian", "limbus_distance": "distance behind limbus", "limbus_angle": "limbus angle",
    "iris_angle": "iris angle", "tunnel_length": "tunnel length", "outside": "externalised length",
    "exit_angle": "exit angle",
}  # fmt: skip
"""Quantity to the words by which people call it."""
_CALLED = {words: name for name, words in PLAIN.items()} | {"dip": "iris_angle", "tuck": "outside", "mark": "meridian"}
_CHOICES = {
    "side": ("first or second haptic", {"first": "first", "1": "first", "second": "second", "2": "second"}),
    "hand": ("hand that held the needle", {"right": "right", "r": "right", "left": "left", "l": "left"}),
    "seat": ("where the surgeon sat", {one: one for one in ("superior", "temporal", "nasal", "inferior")}),
    "way": (
        "pass towards oneself or away",
        {"towards": "towards", "toward": "towards", "towards oneself": "towards", "away": "away"}
        | {"toward oneself": "towards", "away from oneself": "away"},
    ),
}  # fmt: skip


@dataclasses.dataclass(frozen=True, repr=False)
class Measurement:
    """One quantity of one attempt.

    Raises LearnerError if a value is missing or makes no sense: says which, what was given, and what would.

    Parameters
    ----------
    when : date or str
        Day of the attempt; as text best year-month-day, such as "2026-11-26".
    quantity : str
        One of `eyesim.study.error.MEASURED`.
    aim, achieved : float or str
        In the quantity's own unit [mm or deg].
    attempt : str
        What the attempt is called; rows of the same attempt, by another rater or of another quantity, share it.
    side : "first", "second" or ""
    hand : "right", "left" or ""
    seat : "superior", "temporal", "nasal", "inferior" or ""
    way : "towards", "away" or ""
        Whether the needle ran towards oneself or away.
    rater : str
        Who measured.
    note : str
    """

    when: datetime.date
    quantity: str
    aim: float
    achieved: float
    attempt: str = ""
    side: str = ""
    hand: str = ""
    seat: str = ""
    way: str = ""
    rater: str = ""
    note: str = ""

    def __post_init__(self):
        put = object.__setattr__
        put(self, "when", read_day(self.when))
        put(self, "quantity", _quantity(self.quantity))
        for name in ("aim", "achieved"):
            put(self, name, _value(self.quantity, name, getattr(self, name)))
        for name in _CHOICES:
            put(self, name, _chosen(name, getattr(self, name)))
        for name in ("attempt", "rater", "note"):
            put(self, name, _text(name, getattr(self, name)))
        most = QUANTITIES[self.quantity].largest
        if abs(self.miss) > most:
            raise LearnerError(
                f"{self.quantity}: achieved {self.achieved:g} {self.unit} for an aim of {self.aim:g} {self.unit} was "
                f"given; a miss of up to {most:g} {self.unit} is sensible."
            )

    @property
    def unit(self):
        """Of aim and achieved."""
        return QUANTITIES[self.quantity].unit

    @property
    def miss(self):
        """Achieved less aim [unit of the quantity]; of meridians the short way round."""
        off = self.achieved - self.aim
        return (off + 180.0) % 360.0 - 180.0 if self.quantity == "meridian" else off

    def __repr__(self):
        side = f", {self.side} haptic" if self.side else ""
        return (
            f"{self.when.isoformat()} {self.quantity}{side}: aim {self.aim:g} {self.unit}, achieved {self.achieved:g} "
            f"{self.unit}, miss {self.miss:+.3g} {self.unit}"
        )


def _quantity(given):
    """Name of a quantity that can be measured, from what was written for it ("iris angle", "dip")."""
    if isinstance(given, str):
        given = plain_name(given)
        given = _CALLED.get(given, given.replace(" ", "_"))
    known_name("A practice log", given, MEASURED)
    return given


def today():
    """Return the day on which a log is written, by the clock of this machine."""
    return datetime.date.today()


def read_day(given):
    """Day from a date or its text: year-month-day, day.month.year, or slashes if only one reading makes sense.

    Raises LearnerError if it is no day, or could be two.
    """
    if isinstance(given, datetime.date):
        return given.date() if isinstance(given, datetime.datetime) else given
    text = clean(given) if isinstance(given, str) else ""
    text = re.sub(r"[T ][0-9:.]{4,12}Z?$", "", text)  # a time of day
    found = {day for day in map(_day, _readings(text)) if day is not None}
    if len(found) == 1:
        return found.pop()
    two = ", which could be two days," if found else ""
    raise LearnerError(
        f"The day (when) is best written year-month-day, such as '2026-11-26'; {short(given)}{two} was given."
    )


def _readings(text):
    parts = re.fullmatch(r"([0-9]{1,4})([-./])([0-9]{1,2})\2([0-9]{1,4})", text)
    if not parts:
        return []
    one, mark, two, three = parts.groups()
    if len(one) == 4:
        return [(one, two, three)]
    if len(three) != 4:
        return []
    return [(three, two, one)] if mark == "." else [(three, two, one), (three, one, two)]


def _day(parts):
    try:
        day = datetime.date(*map(int, parts))
    except ValueError:
        return None
    return day if 1950 <= day.year <= 2200 else None


def _value(quantity, name, given):
    """Check aim or achieved against the range that a pass may have."""
    unit, _, words = QUANTITIES[quantity]
    if isinstance(given, str) and not clean(given):
        raise LearnerError(f"{name} ({words}) is missing; a number in {unit} is wanted.")
    try:
        value = read_number(clean(given) if isinstance(given, str) else given, unit)
    except LearnerError as error:
        raise LearnerError(f"{name} ({words}): {error}") from None
    within = RANGES[quantity]
    low, high = within["low"], within["high"]
    if name == "achieved":  # a hand may miss the range that a plan may have
        low, high = low - QUANTITIES[quantity].largest, high + QUANTITIES[quantity].largest
        low = max(low, 0.0) if quantity in ("outside", "tunnel_length") else low
    return number("", name, value, low, high, unit, words)


def _chosen(name, given):
    words, known = _CHOICES[name]
    text = plain_name(clean(given)) if isinstance(given, str) else given
    if text == "":
        return ""
    if not isinstance(text, str) or text not in known:
        options = " or ".join(dict.fromkeys(known.values()))
        raise LearnerError(f"{name} ({words}) is {options}, or left empty; {short(given)} was given.")
    return known[text]


def _text(name, given):
    if not isinstance(given, str):
        raise LearnerError(f"{name} is a text; {short(given)} was given.")
    text = one_line(given)
    while text.endswith(CUT_OFF):
        text = text.removesuffix(CUT_OFF).rstrip()
    if len(text) > LONGEST:
        raise LearnerError(f"{name} takes up to {LONGEST} characters; {len(text)} were given.")
    return text


def one_line(text):
    """Return text without line breaks and invisible signs, and without the mark that keeps a formula from living."""
    for _ in range(2):
        text = " ".join(clean(re.sub(r"\s+", " ", text)).split())
    return unescape_formula(text)


def number_text(value, comma=False):
    """Write a number with at most four decimals.

    Parameters
    ----------
    value : float
    comma : bool
        With a decimal comma, for files that semicolons separate.
    """
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    text = "0" if text == "-0" or not math.isfinite(value) else text
    return text.replace(".", ",") if comma else text
