"""What all panels share: sliders, one view, a sentence that says the same, and a guard against haste.

A panel's numbers live in one dictionary. Sliders write into it; everything shown is worked out from it, under a
lock, since a notebook may call back from another thread. While a slider is dragged fast, changes that arrive
before the picture is due are taken together, so that no queue builds up.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time

import ipywidgets as widgets
import numpy as np

from ..course.judge import checked_limits, matters
from ..eye.checks import LearnerError, known_name
from ..hold.settle import settle
from .controls import (
    CHOSEN,
    Pair,
    Single,
    Switch,
    caution,
    failure,
    heading,
    make_slider,
    one_number,
    readout,
    start_values,
    view_options,
    words_alone,
)  # fmt: skip
from .picture import Picture
from .side import both_views

TOGETHER, EACH = "Both together, and one against the other", "Each side for itself"
PAUSE = 0.03
"""[s] A change this long after the last picture is drawn at once; sooner, it waits for others."""
WAIT = 0.006
"""[s] So long."""
ROUNDING = 1e-6
"""A slider in a page stands so near to what it was told."""


class Panel:
    """Sliders beside the eye. Set a slider in Python, or by hand, and read the panel: its repr is a sentence.

    Attributes
    ----------
    sliders : dict
        Widgets by name, such as `mark_both` and `mark_against` or, side by side, `mark_first` and `mark_second`.
    state : dict
        Value of every quantity, per side.
    view : ipywidgets.HTML
        The one thing that is redrawn.
    more : ipywidgets.ToggleButton
        Opens the sliders that are not shown at first; setting one of them opens it too.
    """

    def __init__(self, name, quantities, shown, presets, build, say, *, extra=None, eye, decentration, tilt):
        self._lock = threading.RLock()
        self._name, self._quantities, self._presets = name, quantities, {"As planned": {}, **presets}
        self._shown = shown
        self._build, self._say, self._extra = build, say, extra
        self._limits = dict(zip(("decentration", "tilt"), checked_limits(decentration, tilt), strict=True))
        self._eye = eye
        self._start = start_values(quantities)
        self._values = dict(self._start)
        self._seat, self._side, self._together = "front", eye.side, True
        planned = self._settle(self._start)
        self._planned_depth = float(planned.depth) if planned.settled else None
        self._kept, self._hidden = None, False
        self._drawn_at, self._due, self._quiet = 0.0, False, False
        self._left = {}
        self.sliders, self.buttons = {}, {}
        self.view = widgets.HTML(layout=widgets.Layout(flex="1 1 520px", min_width="0"))
        self.view.add_class("eyesim-view")
        self.widget = self._put_together()
        self._draw()

    @property
    def state(self):
        """Value of every quantity, per side; a copy."""
        with self._lock:
            return dict(self._values)

    def set(self, **values):
        """Set quantities by name, such as `mark_second=10`; the sliders follow.

        Raises
        ------
        LearnerError
            If a name is unknown or a value out of range.
        """
        checked = {}
        for name, value in values.items():
            known_name(self._name, name, list(self._values))
            checked[name] = self._checked(name, value)
        with self._lock:
            self._values.update(checked)
        self._draw()

    def reset(self):
        """Go back to the start."""
        self.preset("As planned")

    def preset(self, name):
        """Set one of the named mistakes; all else as planned."""
        known_name(self._name, name, list(self._presets))
        with self._lock:
            self._values = {**self._start, **self._presets[name]}
        self._draw()

    @property
    def settled(self):
        """The settled lens, flagged where it could not settle."""
        with self._lock:
            return self._settle(self._values)

    @property
    def sentence(self):
        """What the panel shows, in words; worked out anew, whatever has been drawn."""
        with self._lock:
            return self._words(self._settle(self._values))

    def picture(self):
        """Picture of the present state, for readers without a running kernel."""
        with self._lock:
            pose = self._settle(self._values)
            words = self._words(pose)
            if pose.settled:
                return Picture(self._views(pose).svg, words)
            with contextlib.suppress(LearnerError):
                return Picture(self._views(pose, hidden=True).svg, words)
            return Picture(words_alone(words), words)

    def __repr__(self):
        return self.sentence

    def _repr_mimebundle_(self, include=None, exclude=None):
        view = {"version_major": 2, "version_minor": 0, "model_id": self.widget.model_id}
        return {"application/vnd.jupyter.widget-view+json": view, "text/plain": repr(self)}

    def _settle(self, values):
        eye, lens, first, second = self._build(self._eye.but(side=self._side), values)
        return settle(eye, lens, first, second, on_failure="flag")

    def _words(self, pose):
        if not pose.settled:
            return f"{self._name}: {failure(pose)}"
        return f"{self._name}: {self._say(self._values, pose)} {self._matters(pose)}"

    def _matters(self, pose):
        return matters(pose, planned_depth=self._planned_depth, **self._limits)

    def _views(self, pose, hidden=False):
        kept = self._kept if self._kept is not None and not (hidden or self._hidden) else None
        return both_views(pose, seat=self._seat, compare=kept, hidden=hidden or self._hidden)

    def _html(self):
        pose = self._settle(self._values)
        words = self._words(pose)
        short = words.partition(": ")[2]
        after = self._extra(self._values, pose, words) if self._extra and not self._hidden else ""
        if self._hidden:
            return readout("What do you expect?", "wait", "The outcome is hidden.") + self._views(pose, True).svg
        if not pose.settled:
            return readout(short, "stop", "There is no outcome to show.") + self._marks_only(pose) + after
        verdict = self._matters(pose)
        kind = "stop" if verdict.startswith("It matters") else "go"
        return readout(self._say(self._values, pose), kind, verdict.replace(CHOSEN, "")) + self._views(pose).svg + after

    def _marks_only(self, pose):
        """Draw marks and needles where they can be drawn: words have told why there is no lens."""
        with contextlib.suppress(LearnerError):
            return self._views(pose, hidden=True).svg.replace("outcome hidden", "no outcome")
        return ""

    def _changed(self):
        with self._lock:
            if self._due:
                return
            early = time.monotonic() - self._drawn_at < PAUSE
            loop = None
            if early:
                with contextlib.suppress(RuntimeError):  # no loop in this thread: draw at once
                    loop = asyncio.get_running_loop()
            if loop is not None:
                self._due = True
                loop.call_later(WAIT, self._draw)
                return
        self._draw()

    def _draw(self):
        with self._lock:
            self._due = False
            self._show_values()
            try:
                html = self._html()
            except LearnerError as error:
                html = readout(str(error), "stop")
            self.view.value = html
            self._drawn_at = time.monotonic()

    def _put_together(self):
        controls = []
        self._mode = widgets.RadioButtons(options=[TOGETHER, EACH], value=TOGETHER, tooltip="How both sides are set",
                                          layout=widgets.Layout(width="auto", margin="0 0 4px"))  # fmt: skip
        self._mode.observe(self._mode_changed, "value")
        if any(isinstance(q, Pair) for q in self._quantities):
            controls += [heading("Set"), self._mode]
        for q in self._quantities:
            controls += self._pair(q) if isinstance(q, Pair) else [self._one(q)]
        self.more = widgets.ToggleButton(description="More sliders", tooltip="Show all that can be set",
                                         layout=widgets.Layout(width="auto", margin="4px 0 0"))  # fmt: skip
        self.more.observe(self._more_changed, "value")
        controls.append(self.more)
        left = widgets.VBox(controls, layout=widgets.Layout(flex="0 0 310px", width="310px", overflow="visible"))
        row = widgets.HBox(
            [left, self.view], layout=widgets.Layout(flex_flow="row wrap", grid_gap="14px", align_items="flex-start")
        )
        parts = [self._preset_row(), row, self._view_row(), caution()]
        whole = widgets.VBox(parts, layout=widgets.Layout(max_width="1320px", overflow="visible"))
        whole.add_class("eyesim-panel")
        return whole

    def _preset_row(self):
        for name in self._presets:
            words = "Reset: as planned" if name == "As planned" else name
            button = widgets.Button(description=words, tooltip=f"Set: {name}", layout=widgets.Layout(width="auto"))
            button.on_click(lambda _, name=name: self.preset(name))
            self.buttons[name] = button
        return widgets.HBox(list(self.buttons.values()), layout=widgets.Layout(flex_flow="row wrap", margin="0 0 6px"))

    def _view_row(self):
        self.options = view_options(self._side, **self._limits)
        for name, widget in self.options.items():
            widget.observe(lambda change, name=name: self._option_changed(name, change["new"]), "value")
        return widgets.HBox(list(self.options.values()), layout=widgets.Layout(flex_flow="row wrap", margin="6px 0 0"))

    def _pair(self, q):
        """Four sliders, of which two are seen: a slider's range never changes under the hand."""
        unit = f" [{q.unit}]" if q.unit else ""
        half = 0.5 * (q.high - q.low)
        shown = {
            "both": (f"{q.words}, both{unit}", q.low, q.high, q.start),
            "against": (f"\u2026 one against the other (first more){unit}", -half, half, 0.0),
            "first": (f"{q.words}, first{unit}", q.low, q.high, q.start),
            "second": (f"{q.words}, second{unit}", q.low, q.high, q.start),
        }
        sliders = []
        for part, (words, low, high, start) in shown.items():
            step = 0.5 * q.step if part in ("both", "against") else q.step  # halves of what each side can be
            slider = make_slider(words, low, high, step, start)
            slider.tooltip = words.replace("\u2026", q.words)
            slider.observe(lambda _, q=q, part=part: self._pair_moved(q, part), "value")
            self.sliders[f"{q.key}_{part}"] = slider
            sliders.append(slider)
        return sliders

    def _one(self, q):
        if isinstance(q, Switch):
            widget = widgets.Checkbox(q.start, description=q.words, indent=False, tooltip=q.words,
                                      layout=widgets.Layout(width="auto"))  # fmt: skip
        else:
            widget = make_slider(f"{q.words} [{q.unit}]", q.low, q.high, q.step, q.start)
        self.sliders[q.key] = widget
        widget.observe(lambda change, q=q: self._one_moved(q, change["new"]), "value")
        return widget

    def _late(self, name):
        """Whether a slider's change is a page's late echo of a value that the panel has since left.

        A page rounds what it is told in its own way and sends it back; told two values in a row, it sends the
        first one when the panel has gone on. Such an echo is refused, once, and the slider told where it stands.
        """
        slider = self.sliders[name]
        if not getattr(slider, "_property_lock", None):  # set from Python
            return False
        left = self._left.get(name, set())
        late = {value for value in left if abs(slider.value - value) < ROUNDING}
        if slider.layout.display != "none" and not late:
            self._left.clear()
            return False
        left -= late
        self._show_values(again=slider)
        return True

    def _pair_moved(self, q, part):
        with self._lock:
            if self._quiet or self._late(f"{q.key}_{part}"):
                return
            together = part in ("both", "against")
            names = ("both", "against") if together else ("first", "second")
            a, b = (self.sliders[f"{q.key}_{name}"].value for name in names)
            for name, value in (("first", a + b), ("second", a - b)) if together else (("first", a), ("second", b)):
                self._values[f"{q.key}_{name}"] = float(np.clip(round(value, 6), q.low, q.high))
        self._changed()

    def _one_moved(self, q, value):
        with self._lock:
            if self._quiet or self._late(q.key):
                return
            self._values[q.key] = value
            self._show_needs()
        self._changed()

    def _mode_changed(self, change):
        with self._lock:
            self._together = change["new"] == TOGETHER
            self._show_values()

    def _more_changed(self, change):
        with self._lock:
            if not self._quiet:
                self._show_values()

    def _option_changed(self, name, value):
        with self._lock:
            if name == "seat":
                self._seat = value
            elif name == "eye":
                self._side = value
            elif name == "keep":
                pose = self._settle(self._values)
                self._kept = pose if value and pose.settled else None
            elif name == "hide":
                self._hidden = value
                self.options[name].description = "Show the outcome" if value else "Hide the outcome"
            else:
                self._limits[name] = float(value)
        self._changed()

    def _show_values(self, again=None):
        """Bring all sliders to the present values, without being called back for each.

        `again` is told its value even if it seems to stand there: the page may show another.
        """
        self._quiet = True
        try:
            self._show_needs()
            if any(self._moved(q) for q in self._quantities if q.key not in self._shown):
                self.more.value = True
            for q in self._quantities:
                if isinstance(q, Pair):
                    self._show_pair(q)
                else:
                    self._put(q.key, self._values[q.key])
                    self.sliders[q.key].layout.display = None if self._open(q) else "none"
            if again is not None:
                again.send_state("value")
        finally:
            self._quiet = False

    def _put(self, name, value):
        slider = self.sliders[name]
        if abs(slider.value - value) > ROUNDING:  # else a rounding would be sent back under the dragging hand
            self._left.setdefault(name, set()).add(slider.value)
            self._left[name].discard(value)
            slider.value = value

    def _open(self, q):
        return self.more.value or q.key in self._shown

    def _moved(self, q):
        keys = (f"{q.key}_first", f"{q.key}_second") if isinstance(q, Pair) else (q.key,)
        return any(self._values[key] != self._start[key] for key in keys)

    def _show_needs(self):
        for q in self._quantities:
            if isinstance(q, Pair) and q.needs:
                for part in ("both", "against", "first", "second"):
                    self.sliders[f"{q.key}_{part}"].disabled = not self._values[q.needs]

    def _show_pair(self, q):
        first, second = self._values[f"{q.key}_first"], self._values[f"{q.key}_second"]
        values = {"both": 0.5 * (first + second), "against": 0.5 * (first - second), "first": first, "second": second}
        for part, value in values.items():
            self._put(f"{q.key}_{part}", value)
            slider = self.sliders[f"{q.key}_{part}"]
            seen = self._open(q) and self._together == (part in ("both", "against"))
            slider.layout.display = None if seen else "none"

    def _checked(self, name, value):
        for q in self._quantities:
            if isinstance(q, Switch) and name == q.key:
                if not isinstance(value, bool):
                    raise LearnerError(f"{self._name}: {name} is True or False; {value!r} was given.")
                return value
            if isinstance(q, Single) and name == q.key:
                return one_number(self._name, name, value, q)
            if isinstance(q, Pair) and name in (f"{q.key}_first", f"{q.key}_second"):
                return one_number(self._name, name, value, q)
        raise LearnerError(f"{self._name} has no quantity {name!r}.")
