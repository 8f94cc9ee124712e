"""Lines against one quantity, and published series beside the model."""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.picture import Chart
from ..eye.checks import LearnerError, number, plain_errors
from .canvas import TEXT, finish, label, new_figure, note


@plain_errors
def sweep(x, ys, xlabel, ylabel, labels=None, mark=None, sentence=None) -> Chart:
    """Draw lines against one quantity, each told by its own dashes and named at its end.

    Raises LearnerError if lengths do not fit, there is nothing to draw, or there are more than five lines.

    Parameters
    ----------
    x : (n,) array
    ys : (n,) array, or list of them
        A gap (NaN) is left where there is no value, such as a lens that cannot settle.
    xlabel, ylabel : str
        With units.
    labels : str, list of str or None
    mark : float, (float, str) or None
        Where to draw an upright line, and what to write on it.
    sentence : str or None
        What it shows; by default the ends of each line.
    """
    x, ys, labels = _lines(x, ys, labels)
    figure = new_figure(7.4, 4.7)
    axes = figure.add_subplot()
    for k, y in enumerate(ys):
        axes.plot(x, y, color=palette.SERIES[k], ls=palette.DASHES[k], lw=2.3)
        stray = _isolated(y)  # a value between two gaps has no line to lie on
        axes.plot(x[stray], y[stray], ls="none", marker=palette.MARKERS[k], color=palette.SERIES[k], ms=6)
    if mark is not None:
        place, words = mark if isinstance(mark, (tuple, list)) else (mark, "")
        place = number("sweep", "mark", place, -1e9, 1e9, "", "place of the upright line")
        axes.axvline(place, color=palette.LIMIT, lw=1.6, ls=(0, (5, 2)))
        look = {"color": palette.LIMIT, "annotation_clip": False}
        note(axes, words, (place, 1.0), (4, 3), ("data", "axes fraction"), **look)
    axes.margins(x=0.0, y=0.08)
    _name_lines(axes, x, ys, labels)
    label(axes, xlabel, ylabel)
    return finish(figure, sentence or _sweep_sentence(x, ys, xlabel, ylabel, labels))


def _name_lines(axes, x, ys, labels):
    """Write each label beside its line's last value, pushed apart where they would overlap."""
    low, high = axes.get_ylim()
    ends = [float(y[np.isfinite(y)][-1]) for y in ys]
    step, order = 0.075 * (high - low), np.argsort(ends)
    places = np.array(ends)[order]
    for _ in range(200):
        gaps = np.diff(places)
        tight = np.flatnonzero(gaps < step - 1e-9)
        if not len(tight):
            break
        for i in tight:
            push = 0.5 * (step - (places[i + 1] - places[i]))
            places[i], places[i + 1] = places[i] - push, places[i + 1] + push
    for place, k in zip(places, order, strict=True):
        if labels[k]:
            look = {"fontsize": TEXT, "va": "center", "color": palette.SERIES[k], "fontweight": "bold"}
            note(axes, labels[k], (1.0, place), (8, 0), ("axes fraction", "data"), annotation_clip=False, **look)


def _sweep_sentence(x, ys, xlabel, ylabel, labels):
    words = []
    for y, name in zip(ys, labels, strict=True):
        good = np.flatnonzero(np.isfinite(y))
        first, last = good[0], good[-1]
        gap = len(y) - len(good)
        words.append(
            f"{name + ': ' if name else ''}{y[first]:.3g} at {x[first]:g} to {y[last]:.3g} at {x[last]:g}"
            + (f" ({gap} of {len(y)} without a value)" if gap else "")
        )
    return f"{ylabel} against {xlabel}: {'; '.join(words)}."


@plain_errors
def series(rows) -> Chart:
    """Draw published means and standard deviations beside the model's. Raises LearnerError if there is nothing to draw.

    Parameters
    ----------
    rows : Comparison, or list of its rows
        Each with quantity, label, unit, mean, spread, n, interval, weak.
    """
    rows = list(getattr(rows, "rows", rows))
    if not rows:
        raise LearnerError("series draws at least one row: a published series, or the model's own.")
    groups = {}
    for row in rows:
        groups.setdefault(row.quantity, []).append(row)
    heights = [len(group) + 1.4 for group in groups.values()]
    figure = new_figure(8.6, 1.0 + 0.42 * sum(heights))
    grid = figure.add_gridspec(len(groups), 1, height_ratios=heights)
    words = []
    for i, (quantity, group) in enumerate(groups.items()):
        axes = figure.add_subplot(grid[i])
        for k, row in enumerate(group):
            _one_series(axes, row, len(group) - 1 - k)
            words.append(_series_in_words(row))
        axes.set_yticks(range(len(group)), [_name(row) for row in reversed(group)], fontsize=TEXT)
        axes.set_ylim(-0.6, len(group) - 0.4)
        axes.set_xlim(left=min(0.0, axes.get_xlim()[0]))
        axes.grid(axis="x", color=palette.EDGE, lw=0.8)
        label(axes, f"{quantity} [{group[0].unit}]: mean, and one SD to either side", "")
    sentence = f"Published series beside the model: {'; '.join(words)}. Hollow: figures to be trusted less."
    return finish(figure, sentence)


def _one_series(axes, row, y):
    own = row.interval is not None
    colour = palette.FIRST if own else palette.INK
    look = {"color": colour, "solid_capstyle": "butt"}
    if row.spread is not None:
        axes.plot([row.mean - row.spread, row.mean + row.spread], [y, y], lw=1.6, **look)
    if own:
        axes.plot([row.interval.low, row.interval.high], [y, y], lw=7, alpha=0.45, **look)
    face = palette.PANEL if getattr(row, "weak", False) else colour
    axes.plot([row.mean], [y], marker="D" if own else "o", ms=8, mfc=face, mec=colour, mew=1.6, ls="none")


def _series_in_words(row):
    spread = "" if row.spread is None else f", SD {row.spread:.2f}"
    interval = ""
    if row.interval is not None:
        interval = f" (95 % interval {row.interval.low:.2f} to {row.interval.high:.2f})"
    return f"{row.quantity}, {row.label}: mean {row.mean:.2f}{interval} {row.unit}{spread}"


def _name(row):
    label = row.label if len(row.label) <= 46 else row.label[:44].rstrip() + "..."
    return label + ("" if row.n is None else f"  (n {row.n})")


def _lines(x, ys, labels):
    """Check what a sweep is given."""
    try:
        x, ys = np.asarray(x, float), np.atleast_2d(np.asarray(ys, float))
    except (TypeError, ValueError):
        raise LearnerError("sweep: x is a list of numbers, and each line in ys a list as long as x.") from None
    if x.ndim != 1 or len(x) < 2 or ys.ndim != 2 or ys.shape[1] != len(x):
        raise LearnerError(f"sweep: each line has as many values as x; shapes {x.shape} and {ys.shape} were given.")
    if not np.isfinite(x).all() or not np.isfinite(ys).any(axis=1).all():
        raise LearnerError("sweep: x must be finite, and each line needs at least one value to draw.")
    if len(ys) > len(palette.SERIES):
        most = len(palette.SERIES)
        raise LearnerError(f"sweep: at most {most} lines can be told apart; {len(ys)} were given.")
    labels = [""] * len(ys) if labels is None else [labels] if isinstance(labels, str) else list(labels)
    if len(labels) != len(ys):
        raise LearnerError(f"sweep: one label a line; {len(labels)} labels for {len(ys)} lines were given.")
    return x, ys, labels


def _isolated(y):
    good = np.isfinite(y)
    padded = np.concatenate([[False], good, [False]])
    return good & ~padded[:-2] & ~padded[2:]
