"""Each error taken off step by step: how the share within limits grows, and what the first and the last step bring."""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.picture import Chart
from ..eye.checks import LearnerError, plain_errors
from ..study.estimates import per_hundred
from ..study.steps import STEP, UNIT_WORDS, Steps
from .canvas import SMALL, TEXT, bold, finish, label, new_figure, note

_PLURAL = {"deg": "degrees", "mm": "millimetres"}


@plain_errors
def steps_chart(steps) -> Chart:
    """Draw the share within limits as each error is taken off, and the gain of its first and of its last step.

    Errors in degrees and errors in millimetres stand apart, since a degree has no price in millimetres. Each line ends
    where nothing is left of its error. Raises LearnerError if it is given something else.

    Parameters
    ----------
    steps : Steps
        From `study.lessen`.
    """
    if not isinstance(steps, Steps):
        raise LearnerError(f"steps_chart draws what study.lessen(...) gives; a {type(steps).__name__} was given.")
    units = [unit for unit in STEP if steps.measured_in(unit)]
    most = max(len(steps.measured_in(unit)) for unit in units)
    figure = new_figure(9.6, 0.5 + len(units) * max(3.3, 1.5 + 0.36 * most))
    grid = figure.add_gridspec(len(units), 3, width_ratios=[4.0, 2.9, 2.8])
    ways = rows = None
    for i, unit in enumerate(units):
        ways = figure.add_subplot(grid[i, 0], sharey=ways)
        names = figure.add_subplot(grid[i, 1])
        rows = figure.add_subplot(grid[i, 2], sharex=rows)
        errors = steps.measured_in(unit)
        _draw_ways(ways, errors, unit, steps)
        _draw_names(names, ways, errors, steps)
        _draw_rows(rows, errors, unit)
    every = "; ".join(repr(one) for one in steps.errors)
    return finish(figure, f"{steps} All of them: {every}.")


def _share(one, steps):
    return 100.0 * (steps.usual.value + np.array([gain.value for gain in one.gains]))


def _draw_ways(axes, errors, unit, steps):
    axes.axvline(STEP[unit], color=palette.QUIET, lw=1.0, ls=(0, (2, 2)), zorder=0)
    note(axes, f"first {UNIT_WORDS[unit]}", (STEP[unit], 1.0), (0, 4), ("data", "axes fraction"), ha="center")
    for i, one in enumerate(errors):
        colour, dash, mark = palette.look(i)
        axes.plot(one.off, _share(one, steps), color=colour, ls=dash, lw=2.2)
        axes.plot(one.off[-1:], _share(one, steps)[-1:], mark, color=colour, ms=7, mec=palette.PANEL)
    axes.plot([0.0], [100.0 * steps.usual.value], "o", color=palette.INK, ms=7, clip_on=False, zorder=5)
    axes.set_title(f"Errors in {_PLURAL[unit]}", pad=22, **bold())
    label(
        axes,
        f"taken off, root mean square of a side [{unit}]",
        f"lenses within {steps.limits[0]:g} mm\nand {steps.limits[1]:g} deg [of 100]",
    )
    axes.margins(y=0.06)
    axes.yaxis.get_major_locator().set_params(steps=[1, 2, 5, 10])
    axes.set_xlim(0.0, 1.03 * max(STEP[unit], *(one.size for one in errors)))


def _draw_names(axes, ways, errors, steps):
    """Write the names, each with a thin line from where its own ends."""
    axes.set_axis_off()
    axes.set(xlim=(0.0, 1.0), ylim=_places(errors))
    for i, one in enumerate(errors):
        colour = palette.look(i)[0]
        end = (one.off[-1], _share(one, steps)[-1])
        thin = {"arrowstyle": "-", "color": colour, "lw": 0.9, "alpha": 0.55, "relpos": (0.0, 0.5), "shrinkB": 5.0}
        look = {"color": colour, "fontsize": TEXT, "fontweight": "bold", "va": "center"}
        place = {"textcoords": axes.transData, "arrowprops": thin, "annotation_clip": False}
        ways.annotate(one.words, end, (0.07, -i), **place, **look).set_in_layout(False)


def _draw_rows(axes, errors, unit):
    axes.axvline(0.0, color=palette.INK, lw=1.0)
    axes.grid(axis="x", color=palette.EDGE, lw=0.8)
    axes.set_axisbelow(True)
    for i, one in enumerate(errors):
        _draw_gain(axes, one.first, -i + 0.14, palette.look(i), True)
        if one.whole:
            note(axes, f"all {one.size:.2g} {unit}", (100.0 * one.first.high, -i + 0.14), (7, 0), va="center")
        else:
            _draw_gain(axes, one.last, -i - 0.16, palette.look(i), False)
    axes.set(yticks=[], ylim=_places(errors))
    key = f"filled: the first {STEP[unit]:g} {unit}\nhollow: the last;  line: 95 %"
    axes.set_title(key, fontsize=SMALL, color=palette.QUIET, loc="left")
    label(axes, "lenses gained [of 100]", "")
    axes.spines["left"].set_visible(False)


def _draw_gain(axes, gain, y, look, filled):
    (colour, _, mark), gain = look, per_hundred(gain)
    axes.plot([gain.low, gain.high], [y, y], color=colour, lw=1.6)
    axes.plot([gain.value], [y], mark, mfc=colour if filled else "#ffffff", mec=colour, mew=1.5, ms=6.5)


def _places(errors):
    return 0.5 - len(errors), 0.5
