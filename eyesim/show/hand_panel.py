"""Your own hand: set how much it varies, operate two thousand times, and see where the lenses come to lie."""

from __future__ import annotations

import threading
from html import escape

import ipywidgets as widgets
import numpy as np

from .. import CAUTION
from ..course.judge import DECENTRATION_LIMIT, TILT_LIMIT, checked_limits
from ..eye.checks import LearnerError, known_name
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..study import Error, Hands, operate
from . import palette
from .controls import SMALL, STYLE, Single, heading, make_slider, one_number, readout
from .drawing import CAUTION as SHORT_CAUTION
from .drawing import Sheet
from .picture import Picture

_SPREADS = (
    Single("meridian", "Spread of a mark", "deg", 0.0, 12.0, 0.5, 3.0),
    Single("limbus_angle", "Spread of the angle to the limbus", "deg", 0.0, 12.0, 0.5, 4.0),
    Single("iris_angle", "Spread of the dip", "deg", 0.0, 12.0, 0.5, 4.0),
    Single("tunnel_length", "Spread of the tunnel", "mm", 0.0, 0.6, 0.05, 0.3),
    Single("outside", "Spread of what is left outside", "mm", 0.0, 0.6, 0.05, 0.2),
)
_PRESETS = {
    "Beginning (assumed)": {},
    "Marks twice as steady": {"meridian": 1.5},
    "Dips twice as steady": {"iris_angle": 2.0},
    "Tunnels twice as steady": {"tunnel_length": 0.15},
}
_STEPS = (125, 500, 1000, 2000)
"""Operations after which the cloud is drawn: the first of a longer run are those of a shorter one."""
_WIDTH, _HEIGHT, _VIEW = 900.0, 470.0, 360.0


class HandPanel:
    """Five spreads, a button, and a cloud of virtual operations; its repr is a sentence with the numbers.

    Attributes
    ----------
    sliders : dict
        By name: meridian, limbus_angle, iris_angle [deg], tunnel_length, outside [mm]; standard deviations per side.
    outcomes : Outcomes or None
        Of the last run; None where a slider has moved since.
    """

    def __init__(self, eye, lens, first, second, seed, decentration, tilt):
        self._lock = threading.RLock()
        self._plan, self._seed = (eye, lens, first, second), seed
        self._limits = checked_limits(decentration, tilt)
        self.outcomes = None
        self._values = {q.key: q.start for q in _SPREADS}
        self.sliders = {q.key: make_slider(f"{q.words} [{q.unit}]", q.low, q.high, q.step, q.start) for q in _SPREADS}
        for name, slider in self.sliders.items():
            slider.observe(lambda change, name=name: self._moved(name, change["new"]), "value")
        self.view = widgets.HTML(layout=widgets.Layout(flex="1 1 520px", min_width="0"))
        self.view.add_class("eyesim-view")
        self.progress = widgets.IntProgress(0, 0, _STEPS[-1], layout=widgets.Layout(width="300px", height="14px"))
        self.button = widgets.Button(
            description="Operate 2,000 times", button_style="primary", tooltip="Operate 2,000 times with this hand",
            layout=widgets.Layout(width="300px"),
        )  # fmt: skip
        self.button.on_click(lambda _: self.operate())
        self.buttons = {}
        self.widget = self._put_together()
        self._wait()

    @property
    def state(self):
        """Standard deviations by name; a copy."""
        with self._lock:
            return dict(self._values)

    @property
    def hands(self):
        """Hands with these spreads and nothing else: no bias, no play, steady marker and wall."""
        with self._lock:
            return Hands.perfect().but(**{name: Error(spread=value) for name, value in self._values.items()})

    def set(self, **spreads):
        """Set spreads by name; the sliders follow, and the cloud waits for the next run."""
        known = {q.key: q for q in _SPREADS}
        checked = {}
        for name, value in spreads.items():
            known_name("The hand", name, list(known))
            q = known[name]
            checked[name] = one_number("The hand", name, value, q)
        for name, value in checked.items():
            self.sliders[name].value = value

    def reset(self):
        """Go back to the spreads one begins with."""
        self.set(**{q.key: q.start for q in _SPREADS})

    def operate(self):
        """Operate, drawing the cloud as it grows; return the outcomes."""
        self.button.disabled = True
        try:
            hands = self.hands
            for n in _STEPS:
                outcomes = operate(*self._plan, hands, n=n, rng=self._seed, progress=False)
                self.progress.value = n
                self.view.value = self._html(outcomes)
            with self._lock:
                self.outcomes = outcomes
        except LearnerError as error:
            self.view.value = readout(str(error), "stop")
        finally:
            self.button.disabled = False
        return self.outcomes

    def picture(self):
        """Picture of the last run; operates first if there is none."""
        outcomes = self.outcomes or self.operate()
        return Picture(_cloud(outcomes, self._limits, self._words(outcomes)), self._words(outcomes))

    def __repr__(self):
        if self.outcomes is None:
            return f"Your hand: {self._spreads()}. Not operated yet."
        return self._words(self.outcomes)

    def _repr_mimebundle_(self, include=None, exclude=None):
        view = {"version_major": 2, "version_minor": 0, "model_id": self.widget.model_id}
        return {"application/vnd.jupyter.widget-view+json": view, "text/plain": repr(self)}

    def _spreads(self):
        v = self._values
        return (
            f"marks {v['meridian']:.1f} deg, angles {v['limbus_angle']:.1f} and {v['iris_angle']:.1f} deg, tunnels "
            f"{v['tunnel_length']:.2f} mm, outside {v['outside']:.2f} mm (SD a side)"
        )

    def _words(self, outcomes):
        off, lean = self._limits
        share = outcomes.share(off, lean)
        pose = outcomes.pose
        settled = np.asarray(pose.settled)
        usual = np.median(np.asarray(pose.decentration)[settled]), np.median(np.asarray(pose.tilt)[settled])
        lost = outcomes.n - int(settled.sum())
        lost_words = f" {lost} did not settle and count as outside." if lost else ""
        return (
            f"Your hand: {self._spreads()}. Of {outcomes.n:,} operations {100 * share.value:.0f} % (95 % interval "
            f"{100 * share.low:.0f} to {100 * share.high:.0f}) end within {off:g} mm and {lean:g} deg; half of them "
            f"are more than {usual[0]:.2f} mm off centre, half tilt more than {usual[1]:.1f} deg.{lost_words}"
        )

    def _html(self, outcomes):
        words = self._words(outcomes)
        off, lean = self._limits
        share = outcomes.share(off, lean)
        verdict = f"{100 * share.value:.0f} % of {outcomes.n:,} lenses lie within {off:g} mm and {lean:g} deg."
        return readout(_capital(words.partition(": ")[2]), "told", verdict) + _cloud(outcomes, self._limits, words)

    def _moved(self, name, value):
        with self._lock:
            self._values[name] = value
            self.outcomes = None
        self._wait()

    def _wait(self):
        self.progress.value = 0
        self.view.value = readout(
            f"{_capital(self._spreads())}. How many of 2,000 lenses will lie within {self._limits[0]:g} mm and "
            f"{self._limits[1]:g} deg? Guess, then operate.", "wait", "Not operated yet.",
        )  # fmt: skip

    def _put_together(self):
        for name, spreads in _PRESETS.items():
            button = widgets.Button(description=name, tooltip=f"Set: {name}", layout=widgets.Layout(width="auto"))
            button.on_click(lambda _, spreads=spreads: self.set(**{**{q.key: q.start for q in _SPREADS}, **spreads}))
            self.buttons[name] = button
        presets = widgets.HBox(
            list(self.buttons.values()), layout=widgets.Layout(flex_flow="row wrap", margin="0 0 6px")
        )
        left = widgets.VBox(
            [heading("Your hand: spread (SD) a side"), *self.sliders.values(), self.button, self.progress],
            layout=widgets.Layout(flex="0 0 310px", width="310px"),
        )
        row = widgets.HBox(
            [left, self.view], layout=widgets.Layout(flex_flow="row wrap", grid_gap="14px", align_items="flex-start")
        )
        caution = widgets.HTML(
            f'{STYLE}<div style="{SMALL}">{escape(CAUTION)} Spreads to begin with are assumptions; limits chosen '
            "for teaching.</div>"
        )
        whole = widgets.VBox([presets, row, caution], layout=widgets.Layout(max_width="1320px"))
        whole.add_class("eyesim-panel")
        return whole


def hand_panel(
    eye=None, lens=None, first=None, second=None, *, rng=1, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT
):
    """Panel that operates two thousand times with a hand of your own.

    Parameters
    ----------
    eye : Eye or None
    lens : Lens or None
    first, second : Fixation or None
        The plan; by default opposite points and tunnels of 2 mm.
    rng : int
        Seed; the same one gives the same operations.
    decentration, tilt : float [mm], [deg]
        Limits; chosen for teaching.

    Returns
    -------
    HandPanel
    """
    first = Fixation(meridian=0.0, iris_angle=10.0) if first is None else first
    if not isinstance(first, Fixation) or first.shape:
        raise LearnerError("hand_panel takes a plan: first and second are single Fixations, or none are given.")
    second = first.opposite() if second is None else second
    eye, lens = Eye() if eye is None else eye, Lens() if lens is None else lens
    if isinstance(rng, bool) or not isinstance(rng, int):
        raise LearnerError(f"rng is a whole number, the seed; a {type(rng).__name__} was given.")
    return HandPanel(eye, lens, first, second, rng, decentration, tilt)


def _capital(words):
    return words[:1].upper() + words[1:]


def _cloud(outcomes, limits, sentence):
    """Cloud of optic centres, and beside it how many tilt how much."""
    sheet = Sheet(_WIDTH, _HEIGHT)
    pose = outcomes.pose
    ok = np.asarray(pose.settled)
    x, y, tilt = (np.asarray(v)[ok] for v in (pose.x, pose.y, pose.tilt))
    _centres(sheet, x, y, tilt, limits)
    _tilts(sheet, tilt, limits[1])
    sheet.text(_WIDTH / 2, _HEIGHT - 14, SHORT_CAUTION, size=13, colour=palette.QUIET, anchor="middle")
    return sheet.svg("A cloud of virtual operations", sentence, shown=1280)


def _centres(sheet, x, y, tilt, limits):
    sheet.text(18, 27, "Where the optics' centres come to lie", size=16, bold=True)
    sheet.text(18, 45, "seen from in front; circle: limit", size=13, colour=palette.QUIET)
    reach = max(1.2, float(np.quantile(np.hypot(x, y), 0.995)) * 1.1 if len(x) else 1.2)
    plane = sheet.plane(1, 56, 448, _VIEW, 0.5 * _VIEW / reach * 0.97)
    size = 0.007 * reach
    good = (np.hypot(x, y) <= limits[0]) & (tilt <= limits[1])
    for inside, colour in ((False, palette.SECOND), (True, palette.FIRST)):
        px, py = x[good == inside], y[good == inside]
        if inside:
            ends = np.stack([px - 0.1 * size, py], -1), np.stack([px + 0.1 * size, py], -1)  # round ends: dots
            plane.segments(*ends, stroke=colour, width=2 * size)
        else:
            arm = 1.4 * size
            for up in (arm, -arm):
                ends = np.stack([px - arm, py - up], -1), np.stack([px + arm, py + up], -1)
                plane.segments(*ends, stroke=colour, width=0.7 * size)
    plane.disc((0, 0), limits[0], fill="none", stroke=palette.LIMIT, width=0.012 * reach)
    for end in ((0.06 * reach, 0.0), (0.0, 0.06 * reach)):
        plane.path([np.negative(end), end], stroke=palette.INK, width=0.008 * reach, cap="butt")
    plane.close()
    bar = 0.5 * plane.scale
    sheet.line((20, 56 + _VIEW - 10), (20 + bar, 56 + _VIEW - 10), width=2.5)
    sheet.text(20 + bar / 2, 56 + _VIEW - 16, "0.5 mm", size=13, anchor="middle")
    key = f"dots: within both limits ({good.sum():,}); crosses: beyond one ({(~good).sum():,})"
    sheet.text(440, 56 + _VIEW + 20, key, size=13, colour=palette.QUIET, anchor="end")


def _tilts(sheet, tilt, limit):
    left, right, top, bottom = 500.0, 870.0, 76.0, 56.0 + _VIEW - 26
    sheet.text(left - 18, 27, "How much they tilt", size=16, bold=True)
    sheet.text(left - 18, 45, "lenses for each degree; line: limit", size=13, colour=palette.QUIET)
    most = int(np.clip(np.ceil(np.quantile(tilt, 0.995)) if len(tilt) else 8, 8, 40))
    counts, _ = np.histogram(np.minimum(tilt, most - 1e-9), bins=np.arange(most + 1))
    tallest = max(1, counts.max())
    wide = (right - left) / most
    for degree, count in enumerate(counts):
        at, high = left + (degree + 0.5) * wide, (bottom - top) * count / tallest
        colour = palette.FIRST if degree + 1 <= limit + 1e-9 else palette.SECOND
        sheet.line((at, bottom), (at, bottom - high), colour=colour, width=wide * 0.82)
    for degree in range(0, most + 1, 2 if most <= 16 else 5):
        sheet.text(left + degree * wide, bottom + 18, str(degree), size=13, anchor="middle", colour=palette.QUIET)
    sheet.text((left + right) / 2, bottom + 40, "tilt [deg]; the last bar holds all above", size=13, anchor="middle",
               colour=palette.QUIET)  # fmt: skip
    if limit <= most:
        sheet.line(
            (left + limit * wide, top - 8), (left + limit * wide, bottom), colour=palette.LIMIT, width=2, dash="6 4"
        )
    sheet.line((left, bottom), (right, bottom), width=1.5)
