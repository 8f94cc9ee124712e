"""Letters and a chart of our own, and how an eye sees them.

Each letter is drawn with strokes one unit wide on a square of five units, which is the proportion of the open
standard ISO 8596: at logMAR 0 a stroke is 1 arcmin wide and the letter 5 arcmin high. All letters are made of straight
strokes, slanted ones as wide across as upright ones::

     5 +-----+   #####
       |     |   ___#_      an arm of a slanted stroke, 1 wide across,
       |     |   __#__      is 5/4 wide along the line
       |     |   _#___
     0 +-----+   #####

The chart has its three largest letters side by side on one line, then rows down to logMAR -0.1. Each step is
10^0.1; sizes are named as 20/x and as a decimal, rounded to the preferred numbers of ISO 3. Ink has no luminance
(ISO 10938 allows up to 15 % of the paper's). Which letters, and the chart's layout, are chosen for teaching.
"""

from __future__ import annotations

import math

import numpy as np

from ..eye.checks import LearnerError

_PREFERRED = (1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0)
"""Rounded preferred numbers of ISO 3, ten steps to a decade [1]."""


def size_names(logmar):
    """Name a row by what it takes at 20 feet, and as a decimal: ("20/63", "0.32").

    Parameters
    ----------
    logmar : float [1]
        Rounded to a tenth.
    """
    step = round(10.0 * float(logmar))
    decade, place = divmod(3 + step, 10)
    feet = _PREFERRED[place] * 10.0 ** (decade + 1)
    decade, place = divmod(-step, 10)
    decimal = _PREFERRED[place] * 10.0**decade
    return f"20/{feet:g}", f"{decimal:.3g}" if decimal != 1.0 else "1.0"


def _bar(left, bottom, right, top):
    return ((left, bottom), (right, bottom), (right, top), (left, top))


def _arm(left, bottom, right, top, falling=False):
    """Slanted stroke that fills a box from corner to corner, one unit wide across."""
    wide, high = right - left, top - bottom
    # along a level line it is w wide, w h / sqrt(h^2 + (wide - w)^2) = 1 across
    a, b, c = high * high - 1.0, 2.0 * wide, -(high * high + wide * wide)
    w = (-b + math.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
    if falling:
        return ((right - w, bottom), (right, bottom), (left + w, top), (left, top))
    return ((left, bottom), (left + w, bottom), (right, top), (right - w, top))


_POINT = (-2.5 + math.sqrt(2.5**2 + 4.0 * 24.75 * 31.25)) / (2.0 * 24.75)
"""Width w [units] of the point of V, as wide as its arms along a level line: (2.5 - w/2)^2 + 25 = 25 w^2."""
_LONG = 2.5 + _POINT / 2.0

LETTERS = {
    "A": (_arm(0, 0, _LONG, 5), _arm(5 - _LONG, 0, 5, 5, True), _bar(1.2, 1, 3.8, 2)),
    "F": (_bar(0, 0, 1, 5), _bar(0, 2, 5, 3), _bar(0, 4, 5, 5)),
    "H": (_bar(0, 0, 1, 5), _bar(4, 0, 5, 5), _bar(0, 2, 5, 3)),
    "K": (_bar(0, 0, 1, 5), _arm(0.3, 2, 5, 5), _arm(0.3, 0, 5, 3, True)),
    "L": (_bar(0, 0, 1, 5), _bar(0, 0, 5, 1)),
    "N": (_bar(0, 0, 1, 5), _bar(4, 0, 5, 5), _arm(0, 0, 5, 5, True)),
    "T": (_bar(2, 0, 3, 5), _bar(0, 4, 5, 5)),
    "V": (_arm(0, 0, _LONG, 5, True), _arm(5 - _LONG, 0, 5, 5)),
    "X": (_arm(0, 0, 5, 5), _arm(0, 0, 5, 5, True)),
    "Z": (_bar(0, 0, 5, 1), _bar(0, 4, 5, 5), _arm(0, 0, 5, 5)),
}
"""Convex strokes of each letter, corners counter-clockwise [units]."""


def ink(letter, cells, fine=8):
    """Draw one letter: share of ink (cells, cells) in each cell of its square, first axis upwards.

    Raises LearnerError if the letter is not on the chart.

    Parameters
    ----------
    letter : str
        One of `LETTERS`.
    cells : int
        Cells across the letter.
    fine : int
        Points across a cell.
    """
    if letter not in LETTERS:
        raise LearnerError(f"The chart has the letters {' '.join(LETTERS)}; {letter!r} was given.")
    at = (np.arange(cells * fine) + 0.5) * (5.0 / (cells * fine))
    return _inside(letter, at, at).reshape(cells, fine, cells, fine).mean(axis=(1, 3))


def _inside(letter, x, y):
    """Whether points (y, x) of a grid [units] lie on a stroke."""
    x, y = x[None, :], y[:, None]
    inked = np.zeros((y.size, x.size), bool)
    for stroke in LETTERS[letter]:
        inner = np.ones_like(inked)
        for (ax, ay), (bx, by) in zip(stroke, stroke[1:] + stroke[:1], strict=True):
            inner &= (bx - ax) * (y - ay) - (by - ay) * (x - ax) >= 0.0
        inked |= inner
    return inked
