"""What all charts share: a figure on the panel's colour, letters large enough, axes without boxes."""

from __future__ import annotations

from ..draw import palette
from ..draw.drawing import CAUTION
from ..draw.picture import Chart

TEXT, SMALL = 10.5, 9.75
"""Sizes of letters [pt]; the smaller is 13 pixels as shown."""


def new_figure(width, height):
    """Make an empty figure of a size in inches, at 96 pixels an inch as shown.

    Parameters
    ----------
    width, height : float [inch]
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), facecolor=palette.PANEL, layout="constrained")
    figure.get_layout_engine().set(w_pad=0.12, h_pad=0.12)
    return figure


def label(axes, x, y):
    """Name both axes, and keep only the two that carry numbers.

    Parameters
    ----------
    axes : Axes
    x, y : str
        With units.
    """
    axes.set_xlabel(x, fontsize=TEXT, color=palette.INK)
    axes.set_ylabel(y, fontsize=TEXT, color=palette.INK)
    axes.tick_params(labelsize=SMALL, colors=palette.INK)
    axes.set_facecolor("#ffffff")
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_color(palette.QUIET)


def note(axes, words, at, offset=(0, 0), coords="data", **look):
    """Write small words at a point of the axes, and return them.

    Parameters
    ----------
    axes : Axes
    words : str
    at : pair of float
    offset : pair of float [pt]
    coords : str or pair of str
        What `at` is measured in, as matplotlib names it.
    **look
        As of matplotlib's `annotate`.
    """
    look = {"fontsize": SMALL, "color": palette.QUIET, **look}
    return axes.annotate(words, at, offset, xycoords=coords, textcoords="offset points", **look)


def bold():
    """Return how a heading is written."""
    return {"fontsize": TEXT + 0.5, "color": palette.INK, "fontweight": "bold", "loc": "left"}


def finish(figure, sentence):
    """Add the caution, and make the chart.

    Parameters
    ----------
    figure : Figure
    sentence : str
        What the chart shows.
    """
    figure.supxlabel(CAUTION, fontsize=SMALL, color=palette.QUIET)
    return Chart(figure, sentence)
