"""Sliders beside the eye: what panels share whose outcome follows the hand.

A panel's values lie in one dictionary. Controls write into it; everything shown is worked out from it.
"""

from __future__ import annotations

import contextlib

from ..eye.checks import LearnerError, known_name
from ..text.reading import read_number
from .base import LIMITS_CHOSEN, Panel, slope_step
from .board import layout
from .controls import HIDDEN, preset_buttons, preset_of
from .quantities import MODES, Quantities

_PLANNED = "As planned"
_RESET = "Reset: as planned"


class QuantityPanel(Panel):
    """Quantities that are set by sliders, by Python or by presets; a class that inherits lays them out by `_content`.

    Parameters
    ----------
    name : str
    quantities : Quantities
    presets : dict
        Name to the values that it changes; the first is how the panel begins.
    **board
        As of `Panel`.
    """

    def __init__(self, name, quantities, presets, **board):
        self._quantities, self._presets = quantities, presets
        self._values = dict(quantities.start)
        super().__init__(name, self._content(), **board)

    @property
    def state(self):
        """Value of every quantity, per side; a copy."""
        with self._lock:
            return dict(self._values)

    @property
    def presets(self):
        """Names that `preset` knows."""
        return list(self._presets)

    @property
    def controls(self):
        """Value of every control, by name; a copy."""
        with self._lock:
            return self._quantities.controls(self._values)

    def preset(self, name):
        """Set one of the `presets`, all else as at the start. Raises LearnerError if there is no such name."""
        known_name(self._quantities.owner, name, self.presets)
        self.set(**self._quantities.start | self._presets[name])

    def reset(self):
        """Go back to the start."""
        self.preset(self.presets[0])


class SliderPanel(QuantityPanel):
    """Sliders beside the eye. Set one in Python, or by hand, and read the panel: its repr is a sentence.

    A class that inherits works a result out of values (`_result`; it has `settled`), says it (`_words`, `_regions`) and
    draws it (`_pictures`). It may lay further parts out.
    """

    _LOOK = ""
    _KEEP, _HIDE = "Keep this lens in dashes under the next", "Hide lens and numbers, for a prediction"

    def __init__(self, name, quantities, seen, presets):
        self._name, self._kept = name, None
        quantities = Quantities(name, quantities, seen)
        self._options = {"keep": False, "hide": False, "more": False}
        self._options |= {"mode": "together"} if quantities.paired else {}
        file = f"eyesim-{name.lower()}"
        super().__init__(name, quantities, {_PLANNED: {}, **presets}, file=file, remark=LIMITS_CHOSEN)

    @property
    def seen(self):
        """Names of the controls that are in sight; *More sliders* brings the rest, and so does setting one of them."""
        with self._lock:
            gone = self._out_of_sight()
            return [name for name in self._quantities.controls(self._values) if name not in gone]

    def set(self, **values):
        """Set quantities by name, such as `mark_second=10`; the sliders follow.

        Raises LearnerError if a name is unknown or a value out of range.
        """
        checked = self._quantities.checked(values)
        with self._lock:
            self._values.update(checked)
            self._draw()

    def preset(self, name):
        """Set one of the named mistakes, by the words of its button too; all else as planned."""
        known_name(self._name, name, [_RESET, *self.presets[1:], _PLANNED])
        super().preset(_PLANNED if name == _RESET else name)

    def choose(self, **options):
        """Choose how the panel is seen. Raises LearnerError if there is no such choice.

        Parameters
        ----------
        **options
            The controls around the picture: `keep` the lens as it lies now in dashes under the next one, or let go of
            it; `hide` the outcome, for a prediction; show `more` sliders; `mode` of setting both sides, "together" or
            "each". Panels of passes also have `seat` ("front", "superior" or "temporal"), `eye` ("right" or "left"),
            `limit_decentration` [mm] and `limit_tilt` [deg].
        """
        with self._lock:
            try:
                for name, value in options.items():
                    self._choose(name, value)
            finally:
                self._draw()

    @property
    def sentence(self):
        """What the panel shows, in words; worked out anew, whatever has been drawn."""
        with self._lock:
            return self._words(self._result(self._values))

    def _draw(self):
        """Bring everything that follows from the present values onto the board."""
        with self._lock:
            self._pictured = self._pictures(self._values)
            self._options["more"] |= self._quantities.moved_later(self._values)
            hide = self._options["hide"]
            self._board.show(
                values=self._quantities.controls(self._values) | self._option_values(),
                regions=self._regions(),
                pictures=self._pictured,
                words={"hide": "Show the outcome" if hide else "Hide the outcome"},
                off=self._quantities.without_effect(self._values),
                gone=self._out_of_sight(),
                said=HIDDEN if hide else self.sentence,
            )

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "slope":
            self._tell_slope(name)
        elif kind == "press":
            self.preset(preset_of(name, self._presets))
        elif self._quantities.of(name) is None:
            self._choose(name, read_number(value, "") if kind == "typed" else value)
            self._draw()
        else:
            before = self._values
            value = self._quantities.read(name, value) if kind == "typed" else value
            self._values = self._quantities.changed(before, name, value)
            try:
                self._draw()
            except LearnerError:
                self._values = before
                raise
            if self._quantities.slides(name):
                self._board.let_go()
                self._tell_slope(name)

    def _tell_slope(self, name):
        """Tell the page how its pictures begin to move with a control."""
        if not self._quantities.slides(name):
            return
        here = self._quantities.controls(self._values)[name]
        step = slope_step(here, *self._quantities.scale(name), self._quantities.of(name).step)
        ahead = {}
        with contextlib.suppress(LearnerError):
            ahead = self._pictures(self._quantities.changed(self._values, name, here + step))
        self._board.slope(name, self._pictured, ahead, step)

    def _choose(self, name, value):
        """Set one of the options, or a control that only says how others are shown."""
        known_name(self._name, name, [*self._option_values()])
        if name == "mode":
            known_name(self._name, value, [mode for mode, _ in MODES])
            self._options[name] = value
            return
        self._options[name] = bool(value)
        if name == "keep":
            if value and self._options["hide"]:
                self._options["keep"] = self._kept is not None
                raise LearnerError("The outcome is hidden: show it before you keep it.")
            result = self._result(self._values)
            self._kept = result if value and result.settled else None
            self._options["keep"] = self._kept is not None

    def _option_values(self):
        """Value of every control that is no quantity."""
        return dict(self._options)

    def _out_of_sight(self):
        return self._quantities.out_of_sight(self._options.get("mode"), self._options["more"])

    def _content(self):
        """Lay the board out."""
        return layout.column(
            preset_buttons(self.presets, _RESET),
            layout.row(layout.column(*self._control_part(), look="controls"), self._shown_part()),
            layout.row(*self._view_part(), look="buttons"),
            layout.region("caution"),
            look=self._LOOK,
        )

    def _control_part(self):
        mode = [layout.radios("mode", "Set", MODES)] if self._quantities.paired else []
        more = layout.button("more", "More sliders", hint="Show all that can be set", toggle=True)
        return [*mode, *self._quantities.layout(), more]

    def _shown_part(self):
        return layout.column(layout.region("readout"), layout.stage("eye"), layout.region("after"), look="shown")

    def _view_part(self):
        return [
            layout.button("keep", "Keep to compare", hint=self._KEEP, toggle=True),
            layout.button("hide", "Hide the outcome", hint=self._HIDE, toggle="words"),
        ]
