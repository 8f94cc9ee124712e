"""What panels are made of: quantities with their ranges, sliders, and the sentence above the picture."""

from __future__ import annotations

import dataclasses
from html import escape

import ipywidgets as widgets
import numpy as np

from .. import CAUTION
from ..eye.checks import LearnerError, number
from ..hold.settle import settle
from . import palette
from .surgeon import SEATS

CHOSEN = " (limits chosen for teaching)"
"""Left out of the readout, since it stands below every panel."""
STYLE = "<style>.eyesim-panel .widget-slider>.widget-label{text-align:left}</style>"
SMALL = "font-size:13px;line-height:1.4;color:var(--jp-ui-font-color2,#555)"
_BARS = {
    "go": (palette.SERIES[2], "\u2713"),
    "stop": (palette.LIMIT, "!"),
    "wait": (palette.QUIET, "?"),
    "told": (palette.FIRST, "\u2022"),
}
_SEAT_WORDS = {f"Seen {SEATS[seat][0][0].lower()}{SEATS[seat][0][1:]}": seat for seat in SEATS}


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
        f'<div role="status" aria-live="polite" style="display:flex;gap:10px;align-items:flex-start;margin:0 0 6px;'
        f"padding:7px 12px;border-left:5px solid "
        f"{colour};background:{palette.PANEL};color:{palette.INK};border-radius:3px;"
        f'font-size:14px;line-height:1.4;min-height:{62 if verdict else 22}px">'
        f'<span aria-hidden="true" style="font-weight:700;color:{colour};width:0.9em">{sign}</span>'
        f"<span>{first}{escape(words)}</span></div>"
    )


def caution():
    """Put the caution below a panel, and how numbers are typed."""
    words = f"{CAUTION} Limits chosen for teaching. Numbers beside the sliders can be typed, with a decimal point."
    return widgets.HTML(f'{STYLE}<div style="{SMALL}">{escape(words)}</div>')


def heading(words):
    """Put a heading over some controls."""
    return widgets.HTML(f'<div style="font-weight:600;font-size:14px">{escape(words)}</div>')


def make_slider(name, low, high, step, start):
    """Make a slider with its name and unit above it; the number beside it can be typed as well."""
    digits = next(n for n in range(4) if abs(step * 10**n - round(step * 10**n)) < 1e-9)
    return widgets.FloatSlider(
        value=start, min=low, max=high, step=step, description=name, tooltip=name, continuous_update=True,
        readout_format=f".{digits}f", style={"description_width": "100%"},
        layout=widgets.Layout(width="300px", height="auto", flex_flow="row wrap", margin="0 0 2px", overflow="visible"),
    )  # fmt: skip


def view_options(side, decentration, tilt):
    """Make the controls of how a panel is seen: seat, eye, keep, hide, and the limits [mm], [deg]."""
    seat = widgets.Dropdown(options=_SEAT_WORDS, value="front", description="Seat", tooltip="Where you sit",
                            layout=widgets.Layout(width="230px"), style={"description_width": "40px"})  # fmt: skip
    side = widgets.Dropdown(options=["right", "left"], value=side, description="Eye", tooltip="Which eye",
                            layout=widgets.Layout(width="130px"), style={"description_width": "40px"})  # fmt: skip
    limits = [
        widgets.BoundedFloatText(decentration, min=0.01, max=5.0, step=0.05,
                                 description="Limits: mm",
                                 tooltip="Limit of decentration in mm", continuous_update=True,
                                 layout=widgets.Layout(width="160px"), style={"description_width": "76px"}),
        widgets.BoundedFloatText(tilt, min=0.1, max=90.0, step=0.5, description="deg",
                                 tooltip="Limit of tilt in degrees", continuous_update=True,
                                 layout=widgets.Layout(width="114px"), style={"description_width": "32px"}),
    ]  # fmt: skip
    keep = widgets.ToggleButton(description="Keep to compare", tooltip="Keep this lens in dashes under the next",
                                layout=widgets.Layout(width="auto"))  # fmt: skip
    hide = widgets.ToggleButton(description="Hide the outcome", tooltip="Hide lens and numbers, for a prediction",
                                layout=widgets.Layout(width="auto"))  # fmt: skip
    return {"seat": seat, "eye": side, "keep": keep, "hide": hide, "decentration": limits[0], "tilt": limits[1]}


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
