"""Several plans in one picture: who keeps most lenses within limits, by how much, and how the lenses lie with each."""

from __future__ import annotations

import dataclasses
import textwrap

import numpy as np

from ..draw import palette
from ..draw.picture import Chart
from ..eye.checks import LearnerError, plain_errors, short
from ..study.compare import share_gained
from ..study.estimates import Estimate, holds_zero, per_hundred
from ..study.outcomes import Outcomes
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .canvas import TEXT, bold, finish, label, new_figure, note
from .shares import is_settled, percent, percent_long, unsettled_words

_MOST = 6
_SHOWN = {
    "decentration": ("off centre", "mm", ".2f"), "tilt": ("tilt", "deg", ".1f"),
    "depth": ("depth", "mm", ".2f"), "surprise": ("refraction surprise", "D", "+.2f"),
}  # fmt: skip
_KEY = "line: nine in ten of those that settled;  box: the middle half;  stroke: the median;  dashed: limits"
_ENDS = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclasses.dataclass(frozen=True)
class _Plan:
    """One row: a plan's share within limits, what it gains on the first plan, and where its lenses lie."""

    name: str
    outcomes: Outcomes
    share: Estimate
    gain: Estimate | None
    values: dict


@plain_errors
def plans_chart(plans, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, refraction=None) -> Chart:
    """Draw several plans against each other: the share within limits, what each gains on the first, how lenses lie.

    Raises LearnerError if these are no plans that can be compared, or none of their lenses settled.

    Parameters
    ----------
    plans : dict
        Name to `Outcomes`, two to six, all on the same draws (the same n, rng and draws).
    decentration, tilt, refraction : float or None [mm], [deg], [D]
        Limits, as of `Outcomes.share`.

    Notes
    -----
    Each interval holds for itself: of twenty differences that are none, one will look like one.
    """
    limits = {"decentration": decentration, "tilt": tilt, "refraction": refraction}
    rows = _rows(plans, limits)
    shown = [what for what in _SHOWN if any(len(one.values[what]) for one in rows)]
    figure = new_figure(9.6, 3.2 + 2 * 0.42 * len(rows))
    above, below = figure.add_gridspec(2, 1, hspace=0.1)
    above, below = above.subgridspec(1, 2), below.subgridspec(1, len(shown))
    _draw_shares(figure.add_subplot(above[0]), rows, limits)
    _draw_gains(figure.add_subplot(above[1]), rows)
    for i, what in enumerate(shown):
        _draw_values(figure.add_subplot(below[i]), rows, what, limits, named=i == 0)
    return finish(figure, _sentence(rows, limits))


def _rows(plans, limits):
    """Check what is to be compared, and compare it."""
    if not isinstance(plans, dict) or not 2 <= len(plans) <= _MOST:
        given = f"{len(plans)} were" if isinstance(plans, dict) else f"a {type(plans).__name__} was"
        raise LearnerError(
            f"plans_chart takes two to {_MOST} plans by name, such as {{'flat': one, 'steep': other}}; {given} given."
        )
    for name, outcomes in plans.items():
        if not isinstance(name, str) or not name.strip():
            raise LearnerError(f"plans_chart: a plan's name is a word or two; {short(name)} was given.")
        if not isinstance(outcomes, Outcomes):
            kind = type(outcomes).__name__
            raise LearnerError(f"plans_chart draws what es.operate(...) gives; {short(name)} is a {kind}.")
    (first, usual), *_ = plans.items()
    rows = [
        _Plan(name, one, one.share(**limits), _gain(first, usual, name, one, limits), _values(one))
        for name, one in plans.items()
    ]
    if not any(len(one.values["depth"]) for one in rows):
        raise LearnerError("plans_chart: with none of these plans a lens settled, so there is nothing to draw.")
    return rows


def _gain(first, usual, name, outcomes, limits):
    if name == first:
        return None
    try:
        return share_gained(usual, outcomes, **limits)
    except LearnerError as error:
        raise LearnerError(f"plans_chart, {short(first)} and {short(name)}: {error}") from None


def _values(outcomes):
    """Values of all that is shown, of those that settled; none where no refraction was meant."""
    values = {what: getattr(outcomes.pose, what)[is_settled(outcomes)] for what in ("decentration", "tilt", "depth")}
    try:
        return values | {"surprise": outcomes.settled_values("surprise")}
    except LearnerError:
        return values | {"surprise": np.empty(0)}


def _draw_shares(axes, rows, limits):
    _rows_of(axes, rows, named=True)
    for i, one in enumerate(rows):
        _point(axes, i, one.share, percent(one.share), filled=True)
    axes.set_xlim(left=0.0)
    axes.set_title(f"Lenses within {_within(limits)}", **bold())
    label(axes, "[of 100], line: 95 % interval", "")


def _draw_gains(axes, rows):
    _rows_of(axes, rows, named=False)
    axes.axvline(0.0, color=palette.INK, lw=1.0)
    for i, one in enumerate(rows[1:], 1):
        gain = per_hundred(one.gain)
        words = f"{gain.value:+.1f} [{gain.low:+.1f}, {gain.high:+.1f}]"
        _point(axes, i, one.gain, words, filled=not holds_zero(one.gain))
    axes.set_title(f"More than with {_brief(rows[0].name, 24)!r}", parse_math=False, **bold())
    label(axes, "[of 100], hollow: cannot be told apart", "")


def _point(axes, i, estimate, words, filled):
    """Draw one estimate with its interval in row i, and write it at the right."""
    colour, _, mark = palette.look(i)
    estimate, face = per_hundred(estimate), colour if filled else "#ffffff"
    axes.plot([estimate.low, estimate.high], [-i, -i], color=colour, lw=1.8)
    axes.plot([estimate.value], [-i], mark, mfc=face, mec=colour, mew=1.5, ms=7.5, clip_on=False)
    look = {"va": "center", "color": palette.INK, "annotation_clip": False}
    note(axes, words, (1.0, -i), (5, 0), ("axes fraction", "data"), **look)


def _draw_values(axes, rows, what, limits, named):
    name, unit, _ = _SHOWN[what]
    _rows_of(axes, rows, named)
    for i, one in enumerate(rows):
        if not len(one.values[what]):
            words = "none meant" if len(one.values["depth"]) else "none settled"
            look = {"ha": "center", "va": "center", "backgroundcolor": "#ffffff"}
            note(axes, words, (0.5, -i), coords=("axes fraction", "data"), **look)
            continue
        low, below, middle, above, high = np.quantile(one.values[what], _ENDS)
        axes.plot([low, high], [-i, -i], color=palette.look(i)[0], lw=1.4)
        axes.broken_barh(
            [(below, above - below)], (-i - 0.22, 0.44), facecolor="#ffffff", edgecolor=palette.look(i)[0], lw=1.6
        )
        axes.plot([middle, middle], [-i - 0.3, -i + 0.3], color=palette.INK, lw=2.6, solid_capstyle="butt")
    limit = limits["refraction" if what == "surprise" else what] if what != "depth" else None
    for end in () if limit is None else (-limit, limit) if what == "surprise" else (limit,):
        axes.axvline(end, color=palette.LIMIT, lw=1.8, ls=(0, (5, 2)))
    if what in ("decentration", "tilt"):
        axes.set_xlim(left=0.0)
    axes.set_title(name.capitalize(), pad=24, **bold())
    if named:
        note(axes, _KEY, (0.0, 1.0), (0, 6), "axes fraction", annotation_clip=False).set_in_layout(False)
    label(axes, f"[{unit}]", "")


def _rows_of(axes, rows, named):
    """Make room for one row a plan, the first on top."""
    names = [textwrap.fill(_brief(one.name, 40), 22) for one in rows]
    names = names if named else [""] * len(rows)
    axes.set_yticks([-i for i in range(len(rows))], names, fontsize=TEXT, parse_math=False)  # $ is only a sign
    axes.set_ylim(0.4 - len(rows), 0.6)
    axes.tick_params(axis="y", length=0, pad=9)
    axes.grid(axis="x", color=palette.EDGE, lw=0.8)
    axes.set_axisbelow(True)


def _brief(name, most):
    name = " ".join(name.split())
    return name if len(name) <= most else name[: most - 3].rstrip() + "..."


def _within(limits):
    units = {"decentration": "mm", "tilt": "deg", "refraction": "D"}
    words = [f"{limit:g} {units[name]}" for name, limit in limits.items() if limit is not None]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words) or "no limits"


def _sentence(rows, limits):
    """Name the best and by how much, then tell each plan."""
    best, runner = sorted(rows, key=lambda one: -one.share.value)[:2]
    gap = share_gained(runner.outcomes, best.outcomes, **limits)
    apart = "cannot be told apart, behind by" if holds_zero(gap) else "is behind by"
    head = (
        f"{len(rows)} plans on the same {best.outcomes.n} operations. {short(best.name)} keeps most lenses within "
        f"{_within(limits)}: {percent_long(best.share)}. The next, {short(runner.name)}, {apart} "
        f"{per_hundred(gap).text('.1f')} of 100."
    )
    return f"{head} {'; '.join(_plan_words(one, rows[0].name) for one in rows)}."


def _plan_words(one, first):
    gain = ""
    if one.gain is not None:
        apart = f", cannot be told apart from {short(first)}" if holds_zero(one.gain) else f" beside {short(first)}"
        gain = f", {per_hundred(one.gain).text('+.1f')} of 100{apart}"
    middles = [
        f"{name} {format(float(np.median(one.values[what])), spec)} {unit}"
        for what, (name, unit, spec) in _SHOWN.items()
        if len(one.values[what])
    ]
    middle = f", medians {', '.join(middles)}" if middles else ", none settled"
    return (
        f"{short(one.name)}: {percent_long(one.share)}{gain}{middle}{unsettled_words(one.outcomes).replace('; ', ', ')}"
    )
