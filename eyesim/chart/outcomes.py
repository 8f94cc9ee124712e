"""Charts of many operations: where the lenses lie, how they lean, and what share is within tolerance.

Shares are of all cases, so a lens that did not settle counts against the plan. Figures are made as objects,
without matplotlib's global state, so panels can draw in threads.
"""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.picture import Chart
from ..eye.checks import LearnerError, number, plain_errors
from ..eye.frames import meridian_to_side
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from . import refraction
from .canvas import SMALL, TEXT, bold, finish, label, new_figure
from .shares import check_outcomes, draw_histogram, is_settled, percent, percent_long, share, unsettled_words

SHOWN = 4000
"""So many cases are drawn as points [1]; of more, evenly many are left out; the numbers use all."""
LIMITS = {"decentration": DECENTRATION_LIMIT, "tilt": TILT_LIMIT}
"""Tolerances [mm, deg], chosen for teaching."""
QUANTITIES = {
    "decentration": ("off centre", "mm", 2),
    "tilt": ("tilt", "deg", 1),
    "depth": ("depth behind the limbal plane", "mm", 2),
    "tension": ("pull in a haptic, an upper estimate", "mN", 0),
}
"""What is counted: its name, unit, and the decimals that matter."""
TILT_STEPS = (2.0, 5.0, 10.0)
"""Where the bands of tilt end [deg], chosen for teaching."""


@plain_errors
def cloud(outcomes, tolerance=DECENTRATION_LIMIT, compare=None, colour=None) -> Chart:
    """Draw where the optic's centre came to lie in many operations, with a circle of tolerance.

    Raises LearnerError if these are no outcomes, or none settled; if colour is asked for and no refraction was meant.

    Parameters
    ----------
    outcomes : Outcomes
    tolerance : float [mm]
        Radius of the circle; 0.4 chosen for teaching.
    compare : Outcomes or None
        Others, drawn beside in the same scale.
    colour : None or "surprise"
        What the points tell by colour and shape besides: the refraction surprise.
    """
    tolerance = number("cloud", "tolerance", tolerance, 0.01, 8.0, "mm", "radius of the circle")
    both = [check_outcomes("cloud", outcomes)] + ([] if compare is None else [check_outcomes("cloud", compare)])
    scale = refraction.colour_scale(colour, both)
    reach = max(float(np.quantile(o.pose.decentration[is_settled(o)], 0.998)) for o in both)
    reach = 1.1 * max(reach, 1.6 * tolerance)
    more = 0.0 if scale is None else 1.1  # for the scale of colours, so that the square keeps the whole width
    figure = new_figure(5.9 if len(both) == 1 else 9.4, more + (5.9 if len(both) == 1 else 5.1))
    words, every = [], []
    for i, each in enumerate(both):
        axes = figure.add_subplot(1, len(both), i + 1)
        inside = share(each, each.pose.decentration < tolerance)
        _points(axes, each, tolerance, reach, i, scale)
        name = "" if len(both) == 1 else ("A: ", "B: ")[i]
        title, told = (scale.title(each), scale.words(each)) if scale else ("", "")
        axes.set_title(f"{name}{percent(inside)} within {tolerance:g} mm{title}", **bold())
        within = f"{percent_long(inside)} within {tolerance:g} mm of the limbal centre"
        words.append(f"{name}{each.n} operations, {within}{told}{unsettled_words(each)}")
        every.append(axes)
    if scale:
        scale.draw(figure, every)
    return finish(figure, "Where the optic's centre lies, seen from in front: " + "; ".join(words) + ".")


def _points(axes, outcomes, tolerance, reach, i, scale):
    from matplotlib.patches import Circle

    rests = is_settled(outcomes)
    chosen = np.flatnonzero(rests)
    most = SHOWN if scale is None else refraction.SHOWN
    chosen = chosen[np.linspace(0, len(chosen) - 1, min(len(chosen), most)).astype(int)]
    x, y = outcomes.pose.x[chosen], outcomes.pose.y[chosen]
    if scale is None:
        fade = float(np.clip(60.0 / np.sqrt(len(chosen)) / 4.0, 0.16, 0.8))
        look = {"s": 13, "alpha": fade, "linewidths": 0, "color": palette.SERIES[i], "marker": palette.MARKERS[i]}
        axes.scatter(x, y, **look)
    else:
        scale.draw_points(axes, x, y, outcomes.surprise[chosen])
    axes.add_patch(Circle((0, 0), tolerance, fill=False, edgecolor=palette.LIMIT, lw=2.0, ls=(0, (5, 2))))
    axes.plot([0], [0], "+", color=palette.INK, ms=13, mew=1.6)
    axes.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal")
    side = outcomes.eye.side
    right, left = (meridian_to_side(m, side) for m in (0.0, 180.0))
    label(axes, f"{left}  ←   along the horizontal [mm]   →  {right}", "upwards [mm]")


@plain_errors
def tilt_rose(outcomes, sectors=24) -> Chart:
    """Draw towards which meridian the optics lean, and by how much.

    Raises LearnerError if these are no outcomes, or none settled.

    Parameters
    ----------
    outcomes : Outcomes
    sectors : int
        How many, 8 to 72.
    """
    sectors = int(number("tilt_rose", "sectors", sectors, 8, 72, "", "how many sectors"))
    rests = is_settled(check_outcomes("tilt_rose", outcomes))
    tilt, meridian = outcomes.pose.tilt[rests], np.mod(outcomes.pose.tilt_meridian[rests], 360.0)
    figure = new_figure(6.6, 4.9)
    axes = figure.add_subplot(projection="polar")
    edges = (0.0, *TILT_STEPS, np.inf)
    width = 360.0 / sectors
    place = np.floor(np.mod(meridian + width / 2.0, 360.0) / width).astype(int) % sectors
    base, shares = np.zeros(sectors), []
    for k, (low, high) in enumerate(zip(edges, edges[1:], strict=False)):
        band = (tilt >= low) & (tilt < high)
        height = 100.0 * np.bincount(place[band], minlength=sectors) / outcomes.n
        name = f"{low:g} to {high:g}°" if np.isfinite(high) else f"{low:g}° and more"
        part = 100.0 * band.sum() / outcomes.n
        look = {"color": palette.BANDS[k], "hatch": palette.HATCHES[k], "edgecolor": palette.INK, "lw": 0.6}
        look |= {"bottom": base, "label": f"{name}  ({part:.0f} %)"}
        axes.bar(np.radians(np.arange(sectors) * width), height, np.radians(0.94 * width), **look)
        base += height
        shares.append(f"{name.replace('°', ' deg')} {part:.0f} %")
    side = outcomes.eye.side
    names = [f"{m}°\n{meridian_to_side(float(m), side)}" if m % 90 == 0 else f"{m}°" for m in range(0, 360, 45)]
    axes.set_thetagrids(range(0, 360, 45), names, fontsize=TEXT, color=palette.INK)
    axes.tick_params(axis="x", pad=9)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:g} %")
    axes.tick_params(axis="y", labelsize=SMALL, labelcolor=palette.QUIET)
    _few_rings(axes, float(base.max()))
    axes.set_rlabel_position(22.5)
    axes.set_facecolor(palette.PANEL)
    axes.grid(color=palette.EDGE, lw=0.8)
    look = {"fontsize": SMALL, "title_fontsize": SMALL, "frameon": False, "handlelength": 1.8, "handleheight": 1.3}
    axes.legend(title="tilt (share of all)", loc="upper left", bbox_to_anchor=(1.12, 1.02), **look)
    resultant = np.mean(tilt * np.exp(1j * np.radians(meridian)))
    mean = f"mean tilt {abs(resultant):.1f} deg towards {np.degrees(np.angle(resultant)) % 360:.0f} deg"
    words = f"tilt {', '.join(shares)} of all; {mean}{unsettled_words(outcomes)}."
    return finish(figure, f"Which edge of the optic lies further back, {outcomes.n} operations: {words}")


def _few_rings(axes, top):
    """Draw at most four rings, at round percentages."""
    from matplotlib.ticker import MaxNLocator

    rings = MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]).tick_values(0.0, top)
    axes.set_yticks(rings[rings > 0.0])
    axes.set_ylim(0.0, 1.04 * top)


@plain_errors
def histograms(outcomes, limits=None) -> Chart:
    """Draw how decentration, tilt, depth and pull are spread, with tolerances.

    Raises LearnerError if these are no outcomes, none settled, or a limit is not known.

    Parameters
    ----------
    outcomes : Outcomes
    limits : dict or None
        Tolerances by name ("decentration", "tilt", "depth", "tension"): a number is an upper limit, a pair
        a range. None takes 0.4 mm and 5 deg, chosen for teaching.
    """
    rests = is_settled(check_outcomes("histograms", outcomes))
    limits = _limits(LIMITS if limits is None else limits)
    figure = new_figure(8.4, 6.0)
    words = []
    for i, (what, (name, unit, digits)) in enumerate(QUANTITIES.items()):
        axes = figure.add_subplot(2, 2, i + 1)
        values = np.asarray(getattr(outcomes.pose, what), float)
        values = values[..., 0] if what == "tension" else values  # alike in both haptics
        sentence = f"{name} mean {values[rests].mean():.{digits}f} {unit}"
        draw_histogram(axes, values[rests], outcomes.n)
        title = name
        if what in limits:
            low, high = limits[what]
            inside = share(outcomes, (values >= low) & (values < high))
            within = f"within {high:g} {unit}" if low <= 0.0 else f"from {low:g} to {high:g} {unit}"
            for limit in (low, high) if low > 0.0 else (high,):
                axes.axvline(limit, color=palette.LIMIT, lw=2.0, ls=(0, (5, 2)))
            title = f"{name}\n{percent(inside)} {within}"
            sentence += f", {percent_long(inside)} {within}"
        axes.set_title(title, **bold())
        label(axes, f"[{unit}]", "share of all [%]")
        words.append(sentence)
    return finish(figure, f"{outcomes.n} operations: {'; '.join(words)}{unsettled_words(outcomes)}.")


def _limits(limits):
    ranges = {}
    for what, limit in limits.items():
        if what not in QUANTITIES:
            known = ", ".join(QUANTITIES)
            raise LearnerError(f"histograms: a limit is set for {known}; {what!r} was given.")
        pair = limit if isinstance(limit, (tuple, list)) and len(limit) == 2 else (0.0, limit)
        unit = QUANTITIES[what][1]
        low, high = (number("histograms", what, value, 0.0, 1e4, unit, "tolerance") for value in pair)
        if low >= high:
            raise LearnerError(f"histograms: limits of {what} run from low to high; {limit!r} was given.")
        ranges[what] = (low, high)
    return ranges
