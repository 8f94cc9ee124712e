"""What panels are made of: quantities with their ranges, sliders, and the sentence above the picture."""

from __future__ import annotations

import dataclasses
from html import escape

import numpy as np

from ..draw import palette
from ..draw.front import SEATS
from ..eye.checks import LearnerError, number
from ..hold.settle import settle
from ..lesson.question import CONFIDENCE
from ..text.caution import CAUTION
from ..text.reading import LETTERS
from .board import layout

SMALL = "font-size:13px;line-height:1.4;color:var(--jp-ui-font-color2,#555)"
_BARS = {
    "go": (palette.SERIES[2], "\u2713"),
    "stop": (palette.LIMIT, "!"),
    "wait": (palette.QUIET, "?"),
    "told": (palette.FIRST, "\u2022"),
}
SEAT_OPTIONS = tuple((seat, f"Seen {words[0].lower()}{words[1:]}") for seat, (words, _) in SEATS.items())
PARTS = ("both", "against", "first", "second")


@dataclasses.dataclass(frozen=True)
class Pair:
    """A quantity of both sides; shown as half sum and half difference, or each side for itself.

    Attributes
    ----------
    key : str
        Its values are `key_first` and `key_second`; its half sum `key_both`, its half difference `key_against`.
    words, unit : str
    low, high, step : float
        Range of either side.
    start : float
        Value on both sides to begin with.
    needs : str
        Key of the switch that has to be on for it to count; "" for none.
    """

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    start: float
    needs: str = ""


@dataclasses.dataclass(frozen=True)
class Single:
    """A quantity that belongs to neither side."""

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    start: float


@dataclasses.dataclass(frozen=True)
class Switch:
    """Something that is so or not."""

    key: str
    words: str
    start: bool = False


def one_number(owner, name, value, q):
    """Check a single number within the range of a quantity.

    Raises
    ------
    LearnerError
        If it is none, or an array: a slider stands at one place.
    """
    value = number(owner, name, value, q.low, q.high, q.unit, q.words)
    if not isinstance(value, float):
        raise LearnerError(f"{owner}: {name} takes one number; {np.size(value)} were given.")
    return value


def readout(words, kind, verdict=""):
    """Put the sentence above the picture: a bar, a sign and words, so that colour never stands alone."""
    colour, sign = _BARS[kind]
    first = f'<b style="display:block;font-size:15px">{escape(verdict)}</b>' if verdict else ""
    return (
        f'<div style="display:flex;gap:10px;align-items:flex-start;margin:0 0 6px;'
        f"padding:7px 12px;border-left:5px solid "
        f"{colour};background:{palette.PANEL};color:{palette.INK};border-radius:3px;"
        f'font-size:14px;line-height:1.4;min-height:{62 if verdict else 22}px">'
        f'<span aria-hidden="true" style="font-weight:700;color:{colour};width:0.9em">{sign}</span>'
        f"<span>{first}{escape(words)}</span></div>"
    )


CAUTION_LINE = (
    f'<div class="eyesim-small">{escape(CAUTION)} Limits chosen for teaching. Numbers beside the sliders can be typed.'
    "</div>"
)
"""The caution below a panel, and how numbers are set."""


def pair_values(first, second):
    """Values of the four sliders of a pair, by part."""
    return {"both": 0.5 * (first + second), "against": 0.5 * (first - second), "first": first, "second": second}


def pair_controls(q):
    """Four sliders, of which two are seen: a slider's range never changes under the hand."""
    half = 0.5 * (q.high - q.low)
    shown = {
        "both": (f"{q.words}, both", q.low, q.high, 0.5 * q.step),  # halves of what each side can be
        "against": (f"{q.words}, one against the other (first more)", -half, half, 0.5 * q.step),
        "first": (f"{q.words}, first", q.low, q.high, q.step),
        "second": (f"{q.words}, second", q.low, q.high, q.step),
    }
    return [
        layout.slider(f"{q.key}_{part}", words, q.unit, low, high, step)
        for part, (words, low, high, step) in shown.items()
    ]


def single_control(q):
    """Return the control of a quantity that belongs to neither side."""
    if isinstance(q, Switch):
        return layout.tick(q.key, q.words)
    return layout.slider(q.key, q.words, q.unit, q.low, q.high, q.step)


def view_controls():
    """Return the controls of how a panel is seen: seat, eye, keep, hide, and the limits [mm], [deg]."""
    return [
        layout.menu("seat", "Seat", SEAT_OPTIONS),
        layout.menu("eye", "Eye", (("right", "right"), ("left", "left"))),
        layout.button("keep", "Keep to compare", hint="Keep this lens in dashes under the next", toggle=True),
        layout.button("hide", "Hide the outcome", hint="Hide lens and numbers, for a prediction", toggle="words"),
        layout.slider("limit_decentration", "Limit of decentration", "mm", 0.01, 5.0, 0.05, bare=True),
        layout.slider("limit_tilt", "Limit of tilt", "deg", 0.1, 90.0, 0.5, bare=True),
    ]


def answer_control(form, eager=False):
    """Return the control in which a question's choice or number is answered; if `eager`, it is told at every key."""
    if form.kind == "choice":
        return layout.radios("answer", "Your answer", list(zip(LETTERS, form.lines(), strict=False)))
    unit = {"": "", "times": " (times)"}.get(form.unit, f" [{form.unit}]")
    return layout.field("answer", f"Your answer{unit}", hint="0,5 or 0.5", eager=eager)


def confidence_control():
    """Return the control in which one says how sure one is."""
    return layout.radios("sure", "How sure are you?", [(words, words) for words in CONFIDENCE], look="inline")


def start_values(quantities):
    """Value of every quantity to begin with, per side."""
    values = {}
    for q in quantities:
        if isinstance(q, Pair):
            values[f"{q.key}_first"] = values[f"{q.key}_second"] = q.start
        else:
            values[q.key] = q.start
    return values


def words_alone(words):
    """Put words where a picture cannot be drawn."""
    return f'<div role="img" aria-label="{escape(words)}" style="padding:2em">{escape(words)}</div>'


def failure(pose):
    """Say why a lens has not settled, as `settle` says it."""
    try:
        settle(pose.eye, pose.lens, pose.first, pose.second, on_failure="raise")
    except LearnerError as error:
        return str(error)
    return pose.reason
