"""Pieces that several panels lay out alike: buttons of presets, answers to a question, and the line above a picture."""

from __future__ import annotations

from html import escape

from ..draw import palette
from ..draw.front import SEATS
from ..eye.checks import LearnerError
from ..hold.settle import settle
from ..lesson.question import CONFIDENCE
from ..text.reading import LETTERS
from .board import layout

_BARS = {
    "go": (palette.SERIES[2], "\u2713"),
    "stop": (palette.LIMIT, "!"),
    "wait": (palette.QUIET, "?"),
    "told": (palette.FIRST, "\u2022"),
}
SEAT_OPTIONS = tuple((seat, words) for seat, (words, _) in SEATS.items())
HIDDEN = "The outcome is hidden."


def readout(words, kind, verdict=""):
    """Put the sentence above the picture: a bar, a sign and words, so that colour never stands alone.

    Parameters
    ----------
    words : str
    kind : "go", "stop", "wait" or "told"
    verdict : str
        Set in bold before the words.
    """
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


def preset_buttons(names, reset=""):
    """Return a row of buttons that set presets: "preset_0" ...

    Parameters
    ----------
    names : list of str
    reset : str
        What the first is called instead, by what it does.
    """
    words = [reset or names[0], *names[1:]]
    pairs = enumerate(zip(words, names, strict=True))
    return layout.row(
        *(layout.button(f"preset_{i}", one, hint=f"Set: {name}") for i, (one, name) in pairs), look="buttons"
    )


def preset_of(button, presets):
    """Return which preset a button sets.

    Parameters
    ----------
    button : str
        Such as "preset_0".
    presets : sequence or mapping of str
    """
    return list(presets)[int(button.removeprefix("preset_"))]


def answer_control(form, eager=False):
    """Return the control in which a question's choice or number is answered.

    Parameters
    ----------
    form : Pick or Number
    eager : bool
        The answer is sent at every key.
    """
    if form.kind == "choice":
        return layout.radios("answer", "Your answer", list(zip(LETTERS, form.lines(), strict=False)))
    unit = {"": "", "times": " (times)"}.get(form.unit, f" [{form.unit}]")
    return layout.field("answer", f"Your answer{unit}", hint="0,5 or 0.5", eager=eager)


def confidence_control():
    """Return the control in which one says how sure one is."""
    return layout.radios("sure", "How sure are you?", [(words, words) for words in CONFIDENCE], look="inline")
