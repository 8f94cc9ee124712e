"""Pictures of a practice log: how hands miss, how well a spread is known, and the learning curve with its limits."""

from __future__ import annotations

import textwrap

import numpy as np

from ..draw import palette
from ..draw.picture import Chart
from ..eye.checks import LearnerError, number, plain_errors, short, whole
from ..practice.learning_curve import Curve
from ..practice.measurement import PLAIN
from ..practice.skills import GROUPS, rater_means, skills
from ..study.error_model import QUANTITIES
from ..study.estimates import spread_factors
from .canvas import SMALL, TEXT, bold, finish, label, new_figure, note

_KEY = (
    "dots: attempts;  large dot with line: bias, and how far it may lie;  bar: spread\n"
    "strokes on the bar: as small or large the spread may be;  grey: the cohort"
)
WAYS = {"towards": "towards oneself", "away": "away from oneself"}


@plain_errors
def miss_chart(log, by=None, cohort=None) -> Chart:
    """Draw how each quantity misses its aim: every attempt, bias and spread with intervals, and the cohort's.

    Raises LearnerError if the log holds no attempts, or none that can be told apart so.

    Parameters
    ----------
    log : Log or iterable of Measurement
    by : None, "side", "way", "hand" or "seat"
        Tell attempts apart.
    cohort : None, Hands, or dict of Prior
        As for `practice.skills.skills`.
    """
    skilled = skills(log, by, cohort)
    if not skilled:
        raise LearnerError("This log holds no attempts to draw" + (f" by {short(by)}." if by else "."))
    units = [unit for unit in ("deg", "mm") if any(one.bias.unit == unit for one in skilled)]
    counts = [sum(one.bias.unit == unit for one in skilled) for unit in units]
    figure = new_figure(8.6, 1.7 + 0.72 * sum(counts) + 0.6 * len(units))
    rows = rater_means(log)
    for axes, unit in zip(
        figure.subplots(len(units), 1, height_ratios=counts, squeeze=False)[:, 0], units, strict=True
    ):
        mine = [one for one in skilled if one.bias.unit == unit]
        for i, one in enumerate(mine):
            misses = [row.miss for row in rows if _belongs(row, one, by)]
            _row(axes, len(mine) - 1 - i, one, misses)
        axes.set_yticks(range(len(mine)), [_name(one) for one in reversed(mine)])
        axes.set_ylim(-0.6, len(mine) - 0.4)
        axes.axvline(0.0, color=palette.INK, lw=1.0)
        label(axes, f"achieved less aim [{unit}]", "")
    figure.axes[0].set_title(_KEY, fontsize=SMALL, color=palette.QUIET, loc="left")
    words = "; ".join(_skill_words(one) for one in skilled)
    return finish(figure, f"How hands miss their aim, beside the cohort: {words}.")


def _belongs(row, one, by):
    return row.quantity == one.quantity and (by is None or getattr(row, by) == one.group)


def _row(axes, y, one, misses):
    """One quantity: band of the cohort, attempts, spread, bias."""
    prior, colour = one.prior, palette.SECOND if one.biased else palette.FIRST
    band = (prior.bias - prior.spread, 2.0 * prior.spread)
    axes.broken_barh([band], (y - 0.38, 0.76), facecolor=palette.EDGE, alpha=0.6)
    axes.plot([prior.bias] * 2, [y - 0.38, y + 0.38], color=palette.QUIET, lw=1.0)
    aside = 0.16 + 0.04 * (np.arange(len(misses)) % 5)
    axes.plot(misses, y + aside, "o", ms=3.2, color=palette.INK, alpha=0.55, mew=0)
    bias, spread = one.bias, one.spread
    ends = bias.value - spread.high, bias.value + spread.high
    axes.plot(ends, [y - 0.16] * 2, "|-", color=colour, lw=1.2, ms=7)
    inner = bias.value - spread.low, bias.value + spread.low
    axes.plot(inner, [y - 0.16] * 2, "|", color=colour, ms=9, mew=1.2)
    axes.plot([bias.value - spread.value, bias.value + spread.value], [y - 0.16] * 2, color=colour, lw=4.5)
    axes.plot([bias.low, bias.high], [y - 0.02] * 2, color=colour, lw=2.2)
    axes.plot([bias.value], [y - 0.02], "D" if one.biased else "o", color=colour, ms=7, mec=palette.PANEL)


def _name(one):
    group = "" if one.group == "all" else f"\n{_group(one)}"
    return f"{PLAIN[one.quantity]}{group} ({one.n})"


def _group(one):
    if one.group in GROUPS["side"]:
        return f"{one.group} haptic"
    return WAYS.get(one.group, one.group)


def _skill_words(one):
    digits = 1 if QUANTITIES[one.quantity].unit == "deg" else 2
    group = "" if one.group == "all" else f" {_group(one)}"
    many = "1 attempt" if one.n == 1 else f"{one.n} attempts"
    return (
        f"{PLAIN[one.quantity]}{group}, {many}, bias {one.bias.text(f'+.{digits}f')}, spread "
        f"{one.spread.text(f'.{digits}f')}, the cohort's spread {one.prior.spread:.{digits}f} {one.bias.unit}"
    )


@plain_errors
def doubt_chart(spread=4.0, attempts=10, unit="deg", most=100) -> Chart:
    """Draw how well the spread of a hand is known after more and more attempts that spread by so much.

    Raises LearnerError if there is no such spread or number of attempts.

    Parameters
    ----------
    spread : float
        That attempts showed [unit].
    attempts : int
        Where the picture points to.
    unit : str
    most : int
        Attempts at its right end.
    """
    spread = number("doubt_chart", "spread", spread, 1e-6, 1e6, unit, "spread that attempts showed")
    most = whole("doubt_chart", "most", most, 10, 1000)
    attempts = whole("doubt_chart", "attempts", attempts, 3, most)
    many = np.arange(3, most + 1)
    low, high = spread * spread_factors(many - 1.0)
    here = spread * spread_factors(attempts - 1.0)
    figure = new_figure(7.4, 4.3)
    axes = figure.add_subplot()
    axes.fill_between(many, low, high, color=palette.BANDS[0])
    axes.plot(many, low, color=palette.FIRST, lw=1.6)
    axes.plot(many, high, color=palette.FIRST, lw=1.6)
    axes.axhline(spread, color=palette.QUIET, lw=1.0)
    axes.plot([attempts] * 2, here, "_-", color=palette.SECOND, lw=3.0, ms=14, mew=3.0)
    for end, side in zip(here, ("top", "bottom"), strict=True):
        look = {"fontsize": TEXT, "color": palette.SECOND, "fontweight": "bold", "va": side}
        note(axes, f"{end:.1f} {unit}", (attempts, end), (10, 0), **look)
    note(axes, "what attempts showed", (most, spread), (-4, 3), ha="right")
    axes.set_xscale("log")
    ticks = [n for n in (3, 5, 10, 20, 40, 100, 200, 500, 1000) if n <= most]
    axes.set_xticks(ticks, [str(n) for n in ticks])
    axes.minorticks_off()
    axes.set_xlim(3, most)
    axes.set_ylim(0.0, min(float(high.max()), 3.2 * spread))
    axes.set_title(f"After {attempts} attempts: {here[0]:.1f} to {here[1]:.1f} {unit}", **bold())
    label(axes, "attempts", f"spread of the hand, 95 % interval [{unit}]")
    later = min(most, 4 * attempts)
    end = spread * spread_factors(later - 1.0)
    words = (
        f"Attempts that spread by {spread:g} {unit}: after {attempts} of them the spread of the hand lies between "
        f"{here[0]:.1f} and {here[1]:.1f} {unit} (95 % interval), after {later} between {end[0]:.1f} and {end[1]:.1f}."
    )
    return finish(figure, words)


@plain_errors
def curve_chart(curve) -> Chart:
    """Draw a learning curve: up to the limit at which competence has been shown, down to that at which it is lost.

    Raises LearnerError if it is no learning curve.

    Parameters
    ----------
    curve : Curve
        From `practice.learning_curve.learning_curve`.
    """
    if not isinstance(curve, Curve):
        raise LearnerError(f"A learning curve is drawn, as learning_curve makes it; {short(curve)} was given.")
    figure = new_figure(8.6, 4.9)
    axes = figure.add_subplot()
    top = max(phase.limit for phase in curve.phases)
    down = [np.max(phase.values, initial=phase.limit) for phase in curve.phases if phase.kind == "watch"]
    n = len(curve.failed)
    axes.set_xlim(0.3, n + 0.7)
    for i, phase in enumerate(curve.phases):
        _phase(axes, phase, named=i < 2)
    floor = -max(down, default=0.0) - (0.22 * top if down or curve.failed.any() else 0.0)
    failed = 1 + np.flatnonzero(curve.failed)
    axes.plot(failed, np.full(len(failed), floor), "x", color=palette.LIMIT, ms=7, mew=1.8, clip_on=False)
    axes.axhline(0.0, color=palette.QUIET, lw=0.8)
    axes.set_ylim(floor - 0.1 * top, 1.15 * top)
    axes.xaxis.get_major_locator().set_params(integer=True)
    axes.set_title(textwrap.fill(curve.verdict, 72), **bold())
    watched = any(phase.kind == "watch" for phase in curve.phases)
    label(axes, "attempt; crosses: failed", f"{'down: is it kept?       ' * watched}up: is it shown?")
    axes.yaxis.label.set_fontsize(TEXT)
    return finish(figure, f"Learning curve. {curve!r}")


def _phase(axes, phase, named):
    """One stretch: its chart from nought, its limit, and a mark where it signals."""
    learning = phase.kind == "learning"
    sign, colour, marker = (1.0, palette.FIRST, "o") if learning else (-1.0, palette.SECOND, "s")
    x = phase.start - 1 + np.arange(len(phase.values) + 1)
    y = sign * np.concatenate([[0.0], phase.values])
    axes.plot(x, y, "-", color=colour, lw=1.8)
    axes.plot(x[1:], y[1:], marker, color=colour, ms=4.2)
    end = x[-1] + 0.4
    limit = sign * phase.limit
    axes.plot([phase.start - 0.6, end], [limit] * 2, color=palette.LIMIT, lw=1.8, ls=(0, (5, 2)))
    words = "competence shown" if learning else "competence lost"
    if named:
        late = phase.start > 0.8 * axes.get_xlim()[1]  # no room for the words to the right of where it begins
        look = {"va": "bottom" if learning else "top", "ha": "right" if late else "left", "color": palette.LIMIT}
        note(axes, words, (end if late else phase.start - 0.5, limit), (0, 4 * sign), **look)
    if phase.signal is not None:
        axes.plot([x[-1]], [y[-1]], "*", color=colour, ms=15, mec=palette.PANEL, zorder=5)
