"""What all panels share: sliders, one view, and a sentence that says the same.

A panel's numbers live in one dictionary. Controls write into it; everything shown is worked out from it, under a
lock, since a notebook may call back from another thread.
"""

from __future__ import annotations

import contextlib
import functools
import threading

import numpy as np

from ..draw.front import SEATS
from ..draw.picture import Picture
from ..draw.views import both_views
from ..eye.checks import LearnerError, known_name
from ..hold.settle import settle
from ..study.verdict import checked_limits, judge
from ..text.reading import read_number
from .board import Board, Shown, layout
from .controls import (
    CAUTION_LINE,
    PARTS,
    Pair,
    Single,
    Switch,
    failure,
    one_number,
    pair_controls,
    pair_values,
    readout,
    single_control,
    start_values,
    view_controls,
    words_alone,
)

_MODES = (("together", "Both together, and one against the other"), ("each", "Each side for itself"))
_SMALL_STEP = 0.1
"""Share of a slider's step over which a picture's slope is taken."""


class Panel(Shown):
    """Sliders beside the eye. Set one in Python, or by hand, and read the panel: its repr is a sentence.

    Attributes
    ----------
    state : dict
        Value of every quantity, per side.
    controls : dict
        Value of every control, by name.
    seen : list of str
        Names of the controls that are in sight; *More sliders* brings the rest, and so does setting one of them.
    presets : list of str
        Names of the mistakes that `preset` knows.
    """

    def __init__(self, name, quantities, shown, presets, build, say, *, extra=None, eye, decentration, tilt):
        self._lock = threading.RLock()
        self._settled_at = functools.lru_cache(maxsize=4)(self._settle_anew)  # words, picture and verdict ask for one
        self._name, self._quantities, self._presets = name, quantities, {"As planned": {}, **presets}
        self._first_shown = shown
        self._build, self._say, self._extra = build, say, extra
        self._limits = dict(zip(("decentration", "tilt"), checked_limits(decentration, tilt), strict=True))
        self._eye = eye
        self._start = start_values(quantities)
        self._values = dict(self._start)
        self._options = {"seat": "front", "eye": eye.side, "keep": False, "hide": False}
        self._mode, self._more, self._kept = "together", False, None
        planned = self._settle(self._start)
        self._planned_depth = float(planned.depth) if planned.settled else None
        self._board = Board(name, self._content(), self._heard, self._lock, file=f"eyesim-{name.lower()}")
        self._board.show(regions={"caution": CAUTION_LINE})
        self._draw()

    @property
    def state(self):
        """Value of every quantity, per side; a copy."""
        with self._lock:
            return dict(self._values)

    @property
    def presets(self):
        """Names of the mistakes that `preset` knows."""
        return list(self._presets)

    @property
    def controls(self):
        """Value of every control, by name; a copy."""
        with self._lock:
            return self._control_values(self._values)

    @property
    def seen(self):
        """Names of the controls that are in sight."""
        with self._lock:
            return [name for name in self._control_values(self._values) if name not in self._gone()]

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
        known_name(self._name, name, self.presets)
        with self._lock:
            self._values = {**self._start, **self._presets[name]}
            self._draw()

    def choose(self, **options):
        """Choose how the panel is seen.

        Parameters
        ----------
        seat : "front", "superior" or "temporal"
        eye : "right" or "left"
        keep : bool
            Keep the lens as it lies now in dashes under the next one, or let go of it.
        hide : bool
            Hide the outcome, for a prediction.
        limit_decentration, limit_tilt : float [mm], [deg]

        Raises
        ------
        LearnerError
            If there is no such choice.
        """
        with self._lock:
            try:
                for name, value in options.items():
                    self._opt(name, value)
            finally:
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
        """Picture of the present state, for readers without a running kernel; nothing is hidden in it."""
        with self._lock:
            pose = self._settle(self._values)
            return Picture(self._view(pose, hidden=False).svg, self._words(pose))

    def __repr__(self):
        return self.sentence

    def _settle(self, values):
        return self._settled_at(self._options["eye"], *values.items())

    def _settle_anew(self, side, *items):
        eye, lens, first, second = self._build(self._eye.but(side=side), dict(items))
        return settle(eye, lens, first, second, on_failure="flag")

    def _words(self, pose):
        if not pose.settled:
            return f"{self._name}: {failure(pose)}"
        return f"{self._name}: {self._say(self._values, pose)} {self._matters(pose)}"

    def _matters(self, pose):
        return judge(pose, planned_depth=self._planned_depth, **self._limits)

    def _view(self, pose, hidden):
        """Picture of one settled or flagged lens; marks and needles only, where there is no lens to draw."""
        if pose.settled:
            kept = None if hidden else self._kept
            return both_views(pose, seat=self._options["seat"], compare=kept, hidden=hidden)
        with contextlib.suppress(LearnerError):
            return both_views(pose, seat=self._options["seat"], hidden=True if hidden else "no outcome")
        words = failure(pose)
        return Picture(words_alone(words), words)

    def _pictures(self, values):
        """Pictures that move, by stage, for values of all quantities."""
        return {"eye": self._view(self._settle(values), self._options["hide"])}

    def _regions(self):
        """HTML by region, for the present state."""
        pose = self._settle(self._values)
        if self._options["hide"]:
            return {"readout": readout("What do you expect?", "wait", "The outcome is hidden."), "after": ""}
        after = self._extra(self._values, pose, self._words(pose)) if self._extra else ""
        if not pose.settled:
            short = self._words(pose).partition(": ")[2]
            return {"readout": readout(short, "stop", "There is no outcome to show."), "after": after}
        verdict = self._matters(pose)
        kind = "go" if verdict.within else "stop"
        return {"readout": readout(self._say(self._values, pose), kind, verdict.short), "after": after}

    def _draw(self):
        """Bring everything that follows from the present values onto the board."""
        with self._lock:
            self._pictured = self._pictures(self._values)
            self._more = self._more or any(self._moved(q) for q in self._quantities if q.key not in self._first_shown)
            self._board.show(
                values=self._control_values(self._values) | self._option_values(),
                regions=self._regions(),
                pictures=self._pictured,
                words=self._button_words(),
                off=self._off(),
                gone=self._gone(),
                said="The outcome is hidden." if self._options["hide"] else self._words(self._settle(self._values)),
            )

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        quantity = self._quantity_of(name)
        if kind == "slope":
            if quantity is not None and not isinstance(quantity, Switch):
                self._tell_slope(name, quantity)
        elif kind == "press":
            self.preset(self.presets[int(name.removeprefix("preset_"))])
        elif quantity is None:
            self._opt(name, read_number(value, "") if kind == "typed" else value)
            self._draw()
        else:
            before = self._values
            self._values = self._with(name, self._typed(quantity, name, value) if kind == "typed" else value)
            try:
                self._draw()
            except LearnerError:
                self._values = before
                raise
            if not isinstance(quantity, Switch):
                self._board.let_go()
                self._tell_slope(name, quantity)

    def _typed(self, q, name, text):
        low, high = self._range(q, name)
        value = read_number(text, q.unit)
        if not low <= value <= high:
            raise LearnerError(f"{q.words}: from {low:g} to {high:g} {q.unit} can be set; {value:g} was given.")
        return value

    def _tell_slope(self, name, q):
        """Tell the page how its pictures begin to move with a control."""
        here, (low, high) = self._control_values(self._values)[name], self._range(q, name)
        step = _SMALL_STEP * q.step * (1.0 if here < 0.5 * (low + high) else -1.0)
        now = {stage: picture.drawing for stage, picture in self._pictured.items()}
        slopes = dict.fromkeys(now)
        with contextlib.suppress(LearnerError):
            for stage, picture in self._pictures(self._with(name, here + step)).items():
                there = picture.drawing
                if there is not None and now[stage] is not None and there.form == now[stage].form:
                    slopes[stage] = (now[stage], there, step)
        self._board.slope(name, slopes)

    def _quantity_of(self, name):
        for q in self._quantities:
            if name == q.key or (isinstance(q, Pair) and name in [f"{q.key}_{part}" for part in PARTS]):
                return q
        return None

    def _range(self, q, name):
        """Return the ends of a control's scale."""
        if isinstance(q, Pair) and name.endswith("_against"):
            return -0.5 * (q.high - q.low), 0.5 * (q.high - q.low)
        return q.low, q.high

    def _with(self, name, value):
        """Values of all quantities after a control was set; the present ones stay as they are."""
        q = self._quantity_of(name)
        value = value if isinstance(q, Switch) else read_number(value, q.unit)
        if isinstance(q, Switch):
            return {**self._values, name: bool(value)}
        if isinstance(q, Single):
            return {**self._values, name: float(np.clip(value, q.low, q.high))}
        sides = pair_values(self._values[f"{q.key}_first"], self._values[f"{q.key}_second"])
        part = name.rpartition("_")[2]
        sides[part] = float(value)
        if part in ("both", "against"):
            sides["first"], sides["second"] = sides["both"] + sides["against"], sides["both"] - sides["against"]
        changed = {f"{q.key}_{side}": float(np.clip(sides[side], q.low, q.high)) for side in ("first", "second")}
        return {**self._values, **{key: round(number, 9) for key, number in changed.items()}}

    def _opt(self, name, value):
        """Set one of the options, or a control that only says how others are shown."""
        known_name(self._name, name, [*self._option_values()])
        if name == "mode":
            known_name(self._name, value, [mode for mode, _ in _MODES])
            self._mode = value
        elif name == "more":
            self._more = bool(value) or any(self._moved(q) for q in self._quantities if q.key not in self._first_shown)
        elif name.startswith("limit_"):
            given = self._limits | {name.removeprefix("limit_"): value}
            self._limits = dict(zip(given, checked_limits(**given), strict=True))
        elif name in ("seat", "eye"):
            known_name(self._name, value, list(SEATS) if name == "seat" else ["right", "left"])
            self._options[name] = value
        else:
            self._options[name] = bool(value)
            if name == "keep":
                if value and self._options["hide"]:
                    raise LearnerError("The outcome is hidden: show it before you keep it.")
                pose = self._settle(self._values)
                self._kept = pose if value and pose.settled else None
                self._options["keep"] = self._kept is not None

    def _option_values(self):
        limits = {f"limit_{name}": value for name, value in self._limits.items()}
        return {**self._options, **limits, "mode": self._mode, "more": self._more}

    def _button_words(self):
        return {"hide": "Show the outcome" if self._options["hide"] else "Hide the outcome"}

    def _control_values(self, values):
        shown = {}
        for q in self._quantities:
            if isinstance(q, Pair):
                pair = pair_values(values[f"{q.key}_first"], values[f"{q.key}_second"])
                shown |= {f"{q.key}_{part}": value for part, value in pair.items()}
            else:
                shown[q.key] = values[q.key]
        return shown

    def _gone(self):
        gone = []
        for q in self._quantities:
            closed = not self._more and q.key not in self._first_shown
            if isinstance(q, Pair):
                off = ("first", "second") if self._mode == "together" else ("both", "against")
                gone += [f"{q.key}_{part}" for part in PARTS if closed or part in off]
            elif closed:
                gone.append(q.key)
        return gone

    def _off(self):
        pairs = [q for q in self._quantities if isinstance(q, Pair) and q.needs and not self._values[q.needs]]
        return [f"{q.key}_{part}" for q in pairs for part in PARTS]

    def _moved(self, q):
        keys = (f"{q.key}_first", f"{q.key}_second") if isinstance(q, Pair) else (q.key,)
        return any(self._values[key] != self._start[key] for key in keys)

    def _content(self):
        """Lay the board out."""
        presets = [
            layout.button(f"preset_{i}", "Reset: as planned" if i == 0 else name, hint=f"Set: {name}")
            for i, name in enumerate(self._presets)
        ]
        controls = [layout.radios("mode", "Set", _MODES)] if any(isinstance(q, Pair) for q in self._quantities) else []
        for q in self._quantities:
            controls += pair_controls(q) if isinstance(q, Pair) else [single_control(q)]
        controls.append(layout.button("more", "More sliders", hint="Show all that can be set", toggle=True))
        return layout.column(
            layout.row(*presets, look="buttons"),
            layout.row(layout.column(*controls, look="controls"), self._shown_part()),
            layout.row(*self._view_part(), look="buttons"),
            layout.region("caution"),
        )

    def _shown_part(self):
        return layout.column(layout.region("readout"), layout.stage("eye"), layout.region("after"), look="shown")

    def _view_part(self):
        return view_controls()

    def _checked(self, name, value):
        for q in self._quantities:
            if isinstance(q, Switch) and name == q.key:
                if not isinstance(value, bool):
                    raise LearnerError(f"{self._name}: {name} is True or False; {value!r} was given.")
                return value
            if name == q.key or (isinstance(q, Pair) and name in (f"{q.key}_first", f"{q.key}_second")):
                return one_number(self._name, name, value, q)
        raise LearnerError(f"{self._name} has no quantity {name!r}.")
