"""A chart of our own letters, and how an eye sees it.

Three large letters side by side on the first line, then rows down to logMAR -0.1, all from one left edge::

      H    K   N        1.0, 0.9, 0.8
      Z F A             0.7
      T X L H           0.6
      V N K Z F         0.5 and on, five letters each

What is seen is the drawn chart times the eye's transfer function, frequency by frequency. Around the chart is white
paper, as far as light is spread, so nothing comes in again from the other side.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import LearnerError, number
from ..hold.cores import single_core
from .letters import ink
from .spread import PointSpread

SCALE = 0.4
"""Size of a pixel [arcmin]."""
WIDTH = 186.0
"""Width of the chart [arcmin]."""
_TOP = ((1.0, "H"), (0.9, "K"), (0.8, "N"))
_ROWS = (
    (0.7, "ZFA"), (0.6, "TXLH"), (0.5, "VNKZF"), (0.4, "AHTLX"), (0.3, "FKVZN"), (0.2, "LXHAT"), (0.1, "NZFVK"),
    (0.0, "XTAKL"), (-0.1, "HVZNF"),
)  # fmt: skip
_MARGIN, _BETWEEN = 20.0, 13.0


@dataclasses.dataclass(frozen=True)
class Row:
    """One row of the chart.

    Attributes
    ----------
    logmar : float [1]
    letters : str
    height : float [arcmin]
        Of a letter, which is as wide; neighbours are one letter apart.
    left, top : float [arcmin]
        Of its first letter, from the chart's upper left corner.
    """

    logmar: float
    letters: str
    height: float
    left: float
    top: float


def rows():
    """Rows of the chart from large to small; the first three stand on one line."""
    return _laid_out()[0]


def chart_height():
    """Height of the chart [arcmin]."""
    return _laid_out()[1]


@functools.lru_cache
def _laid_out():
    found, left = [], _MARGIN
    bottom = _MARGIN + _height(_TOP[0][0])
    for logmar, letters in _TOP:
        height = _height(logmar)
        found.append(Row(logmar, letters, height, left, bottom - height))
        left += height + _BETWEEN
    top = bottom + _height(_ROWS[0][0])
    for logmar, letters in _ROWS:
        height = _height(logmar)
        found.append(Row(logmar, letters, height, _MARGIN, top))
        top += height + _height(round(logmar - 0.1, 1))
    return tuple(found), found[-1].top + found[-1].height + _MARGIN


def _height(logmar):
    return 5.0 * 10.0**logmar


@single_core
def letter_chart(spread=None, scale=SCALE):
    """Draw the chart as an eye sees it.

    Parameters
    ----------
    spread : PointSpread or None
        None draws it sharp.
    scale : float [arcmin]
        Size of a pixel.

    Returns
    -------
    light : (height, width) array [1]
        Luminance, 1 for white paper and 0 for ink; first axis downwards, as the patient sees it. For a screen it
        wants the screen's own curve (sRGB).
    """
    scale = number("letter_chart", "scale", scale, 0.1, 2.0, "arcmin", "size of a pixel")
    drawn = _drawn(scale)
    if spread is None:
        return 1.0 - drawn
    if not isinstance(spread, PointSpread):
        raise LearnerError(f"letter_chart: spread is a PointSpread; a {type(spread).__name__} was given.")
    return 1.0 - _blurred(scale, spread)


def _blurred(scale, spread):
    """Ink of the chart as it is seen, (height, width) array [1]."""
    import scipy.fft

    spread = spread.trim()
    reach = max(abs(a) for a in spread.offset) - spread.angles[0]
    high, wide = _drawn(scale).shape
    shape = tuple(scipy.fft.next_fast_len(int(n + np.ceil(reach / scale)), real=True) for n in (high, wide))
    across = scipy.fft.rfftfreq(shape[1], scale) * 60.0  # cycles per degree
    upwards = -scipy.fft.fftfreq(shape[0], scale) * 60.0  # rows of pixels go down
    seen = scipy.fft.irfft2(_waves(scale, shape) * spread.otf(across, upwards), shape)
    return np.clip(seen[:high, :wide], 0.0, 1.0).astype(float)


@functools.lru_cache(maxsize=4)
def _waves(scale, shape):
    import scipy.fft

    return scipy.fft.rfft2(_drawn(scale).astype(np.float32), shape)


@functools.lru_cache(maxsize=4)
def _drawn(scale):
    """Share of ink in each pixel; letters may begin within a pixel."""
    page = np.zeros((round(chart_height() / scale), round(WIDTH / scale)))
    for row in rows():
        for k, letter in enumerate(row.letters):
            _put(page, letter, (row.left + 2 * k * row.height) / scale, row.top / scale, row.height / scale)
    page.setflags(write=False)
    return page


def _put(page, letter, left, top, size):
    """Add a letter to a page; all in pixels."""
    cells = int(np.ceil(size * 8 / 5)) * 5  # fine cells across the letter, at least eight to a pixel
    drawn = ink(letter, cells, 1)[::-1]
    first_x, first_y = int(left), int(top)
    count = int(np.ceil(size)) + 2
    across, down = (_shares(a - b, size, cells, count) for a, b in ((left, first_x), (top, first_y)))
    page[first_y : first_y + count, first_x : first_x + count] += down @ drawn @ across.T


def _shares(start, size, cells, count):
    """Share of each pixel (count, cells) that each of a letter's cells covers along one direction."""
    edges = start + np.arange(cells + 1) * (size / cells)
    pixel = np.arange(count)[:, None]
    return np.clip(edges[1:], pixel, pixel + 1) - np.clip(edges[:-1], pixel, pixel + 1)
