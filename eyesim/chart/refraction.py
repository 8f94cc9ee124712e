"""Refraction surprise to be seen: by colour and shape in a cloud, and as a chart of its own beside the cylinder.

Myopic is to the left, blue, and a triangle that points down; hyperopic to the right, orange, and a triangle
that points up; what is near enough to what was meant is a grey dot.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..draw import palette
from ..draw.picture import Chart
from ..eye.checks import LearnerError, plain_errors
from ..sight.refraction import signed
from ..study.verdict import CYLINDER_LIMIT, REFRACTION_LIMITS
from .canvas import SMALL, TEXT, bold, finish, label, new_figure
from .shares import check_outcomes, draw_histogram, is_settled, percent, percent_long, share, unsettled_words

_NEAR, _WIDE = REFRACTION_LIMITS
_SHORT, _LONG, _DOT, _NONE = "v", "^", "o", "x"
_ENDS = (1.5, 3.0)  # [D] where colours end, at the earliest and at the latest
SHOWN = 2000
"""So many cases are drawn [1]: shapes take more room than dots; of more, evenly many are left out."""


@dataclasses.dataclass(frozen=True)
class Scale:
    """Colours of refraction surprise, and what a cloud draws and says by them."""

    norm: object
    colours: object

    def draw_points(self, axes, x, y, values):
        """Draw cases [mm] by their surprise [D], those furthest from what was meant on top."""
        order = np.argsort(np.abs(values))
        for shape, size, strength, group in (
            (_NONE, 22, 0.8, np.isnan(values)),
            (_DOT, 9, 0.55, np.abs(values) <= _NEAR),
            (_SHORT, 24, 0.85, values < -_NEAR),
            (_LONG, 24, 0.85, values > _NEAR),
        ):
            chosen = order[group[order]]
            look = {"s": size, "marker": shape, "linewidths": 0, "alpha": strength}
            if shape == _NONE:
                axes.scatter(x[chosen], y[chosen], **look | {"color": palette.INK, "linewidths": 1.2})
            else:
                axes.scatter(x[chosen], y[chosen], c=values[chosen], norm=self.norm, cmap=self.colours, **look)

    def title(self, outcomes):
        """Second line of a cloud's heading."""
        return f"\n{percent(share(outcomes, np.abs(outcomes.surprise) <= _NEAR))} within {_NEAR:g} D"

    def words(self, outcomes):
        """Words on surprise for a cloud's sentence."""
        return f", {_parts(outcomes)}"

    def draw(self, figure, every):
        """Draw the scale with its words below all these axes, and what the shapes mean."""
        from matplotlib.cm import ScalarMappable
        from matplotlib.lines import Line2D

        shape = {"orientation": "horizontal", "fraction": 0.045, "aspect": 34, "extend": "both", "pad": 0.03}
        bar = figure.colorbar(ScalarMappable(self.norm, self.colours), ax=every, **shape)
        bar.set_label("myopic  ←   refraction surprise [D]   →  hyperopic", fontsize=TEXT, color=palette.INK)
        bar.ax.tick_params(labelsize=SMALL, colors=palette.INK)
        bar.ax.xaxis.set_major_formatter(_signed)
        for limit in (-_NEAR, _NEAR):
            bar.ax.axvline(limit, color="#ffffff", lw=2.0)
        key = (
            (_SHORT, palette.DIVERGING[1], f"over {_NEAR:g} D myopic"),
            (_DOT, palette.DIVERGING[2], "nearer than that"),
            (_LONG, palette.DIVERGING[3], f"over {_NEAR:g} D hyperopic"),
        )
        marks = [Line2D([], [], marker=shape, color=colour, ls="none", ms=6, label=name) for shape, colour, name in key]
        look = {"fontsize": SMALL, "frameon": False, "handletextpad": 0.2, "columnspacing": 0.8}
        figure.legend(handles=marks, loc="outside upper left", ncols=3, labelcolor=palette.INK, **look)


def colour_scale(colour, several):
    """Scale common to several outcomes; None where no colour is asked for.

    Raises LearnerError if something else than "surprise" is asked for, or no refraction was meant.

    Parameters
    ----------
    colour : None or "surprise"
    several : list of Outcomes
    """
    if colour is None:
        return None
    if colour != "surprise":
        raise LearnerError(f"cloud: colour is None or 'surprise'; {str(colour)[:60]!r} was given.")
    from matplotlib.colors import LinearSegmentedColormap, Normalize

    sizes = np.concatenate([np.abs(_surprise("cloud", outcomes)) for outcomes in several])
    seen = sizes[np.isfinite(sizes)]
    reach = np.quantile(seen, 0.99) if len(seen) else 0.0
    reach = float(np.clip(np.ceil(2.0 * reach) / 2.0, *_ENDS))
    return Scale(Normalize(-reach, reach), LinearSegmentedColormap.from_list("surprise", palette.DIVERGING))


def _surprise(where, outcomes):
    if not hasattr(outcomes, "sight"):
        raise LearnerError(f"{where} draws what es.operate(...) gives back; these outcomes have no sight.")
    return outcomes.surprise


def _signed(value, _):
    return f"{value:+g}".replace("-", "\N{MINUS SIGN}") if value else "0"


def _parts(outcomes):
    values = outcomes.surprise
    near = share(outcomes, np.abs(values) <= _NEAR)
    short, far = (share(outcomes, group).value for group in (values < -_NEAR, values > _NEAR))
    return (
        f"{percent_long(near)} within {_NEAR:g} D of the refraction meant, {100 * short:.1f} % more myopic and "
        f"{100 * far:.1f} % more hyperopic than that{_blind(outcomes)}"
    )


def _blind(outcomes):
    count = int(np.sum(is_settled(outcomes) & ~outcomes.sight.seen))
    return f", {count} without a refraction" if count else ""


@plain_errors
def refractions(outcomes) -> Chart:
    """Draw how refraction surprise and the cylinder that is left are spread, with limits.

    Raises LearnerError if these are no outcomes, none settled, or no refraction was meant.

    Parameters
    ----------
    outcomes : Outcomes
    """
    values = _surprise("refractions", check_outcomes("refractions", outcomes))
    if not np.any(np.isfinite(values)):
        raise LearnerError(f"refractions: none of the {outcomes.n} eyes has a refraction, so there is nothing to draw.")
    figure = new_figure(8.4, 4.1)
    words = [_draw_surprise(figure.add_subplot(1, 2, 1), outcomes, values)]
    words.append(_draw_cylinder(figure.add_subplot(1, 2, 2), outcomes))
    pupil = f"{outcomes.n} operations at a {outcomes.pupil:g} mm pupil"
    return finish(figure, f"{pupil}: {'; '.join(words)}{_blind(outcomes)}{unsettled_words(outcomes)}.")


def _draw_surprise(axes, outcomes, values):
    scale, seen = colour_scale("surprise", [outcomes]), values[np.isfinite(values)]
    low, high = np.quantile(seen, [0.001, 0.999])
    low, high = min(low, -1.2 * _WIDE), max(high, 1.2 * _WIDE)
    for bar in draw_histogram(axes, seen, outcomes.n, low, high):
        bar.set_facecolor(scale.colours(scale.norm(bar.get_x() + bar.get_width() / 2.0)))
        bar.set_edgecolor(palette.PANEL)
    for limit, dash in ((_NEAR, (0, (5, 2))), (_WIDE, (0, (1.4, 1.6)))):
        for side in (-limit, limit):
            axes.axvline(side, color=palette.LIMIT, lw=2.0, ls=dash)
    shares = {limit: share(outcomes, np.abs(values) <= limit) for limit in REFRACTION_LIMITS}
    lines = [f"{percent(one)} within {limit:g} D" for limit, one in shares.items()]
    axes.set_title("refraction surprise\n" + "\n".join(lines), **bold())
    axes.xaxis.set_major_formatter(_signed)
    label(axes, "myopic  ←   [D]   →  hyperopic", "share of all [%]")
    wide = f"{percent_long(shares[_WIDE])} within {_WIDE:g} D"
    return f"refraction surprise mean {signed(seen.mean())} D{_spread(seen)}, {_parts(outcomes)}; {wide}"


def _spread(values):
    return f", SD {np.std(values, ddof=1):.2f} D" if len(values) > 1 else ""  # one case has none


def _draw_cylinder(axes, outcomes):
    cylinder = np.abs(outcomes.sight.cylinder)
    seen = cylinder[np.isfinite(cylinder)]
    draw_histogram(axes, seen, outcomes.n, 0.0, max(float(np.quantile(seen, 0.999)), 1.2 * CYLINDER_LIMIT))
    axes.axvline(CYLINDER_LIMIT, color=palette.LIMIT, lw=2.0, ls=(0, (5, 2)))
    more = share(outcomes, cylinder > CYLINDER_LIMIT)
    axes.set_title(f"cylinder left\n{percent(more)} more than {CYLINDER_LIMIT:g} D\n", **bold())
    label(axes, "[D]", "share of all [%]")
    return f"cylinder left mean {seen.mean():.2f} D, {percent_long(more)} more than {CYLINDER_LIMIT:g} D"
