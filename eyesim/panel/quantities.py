"""Quantities that sliders set: their ranges, and both sides together, one against the other, or each for itself."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, known_name, number
from ..text.reading import read_number
from .board import layout

_PARTS = ("both", "against", "first", "second")
_TOGETHER, _EACH = ("both", "against"), ("first", "second")
MODES = (("together", "Both together, and one against the other"), ("each", "Each side for itself"))


@dataclasses.dataclass(frozen=True)
class Single:
    """A quantity that belongs to neither side."""

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    start: float


@dataclasses.dataclass(frozen=True)
class Pair(Single):
    """A quantity of both sides; shown as half sum and half difference, or each side for itself.

    Its values are `key_first` and `key_second`; its half sum is `key_both`, its half difference `key_against`. `needs`
    is the key of the switch that has to be on for it to count; "" for none.
    """

    needs: str = ""


@dataclasses.dataclass(frozen=True)
class Switch:
    """Something that is so or not."""

    key: str
    words: str
    start: bool = False


class Quantities:
    """What a panel's controls set, and how values, one for each side, and controls follow from each other.

    Parameters
    ----------
    owner : str
        The panel, as messages call it.
    every : sequence of Single, Pair and Switch
        In their order on the board.
    seen : tuple of str
        Keys of those that are in sight from the start; by default all.

    Attributes
    ----------
    start : dict
        Value of every quantity to begin with, per side.
    """

    def __init__(self, owner, every, seen=None):
        self.owner, self._every = owner, every
        self._later = [] if seen is None else [q for q in every if q.key not in seen]
        self.paired = any(isinstance(q, Pair) for q in every)
        self.start = {key: q.start for q in every for key in _keys(q)}
        self._of = {name: q for q in every for name in [*_keys(q), *_controls(q)]}

    def of(self, control):
        """Quantity that a control sets; None if it sets none."""
        return self._of.get(control)

    def slides(self, control):
        """Whether a control is a slider."""
        return isinstance(self.of(control), Single)

    def scale(self, control):
        """Both ends of a slider's scale [unit]."""
        q = self.of(control)
        half = 0.5 * (q.high - q.low)
        return (-half, half) if isinstance(q, Pair) and control.endswith("_against") else (q.low, q.high)

    def checked(self, values):
        """Check values by the keys of quantities, such as `mark_second=10`; return them.

        Raises LearnerError if a key is unknown, or a value out of range, or none at all.
        """
        checked = {}
        for name, value in values.items():
            known_name(self.owner, name, list(self.start))
            q = self.of(name)
            if isinstance(q, Single):
                checked[name] = _one_number(self.owner, name, value, q)
            elif isinstance(value, bool):
                checked[name] = value
            else:
                raise LearnerError(f"{self.owner}: {name} is True or False; {value!r} was given.")
        return checked

    def read(self, control, text):
        """Read what was typed for a slider. Raises LearnerError if it is no number on its scale."""
        q, (low, high) = self.of(control), self.scale(control)
        value = read_number(text, q.unit)
        if not low <= value <= high:
            raise LearnerError(f"{q.words}: from {low:g} to {high:g} {q.unit} can be set; {value:g} was given.")
        return value

    def controls(self, values):
        """Value of every control, by name.

        Parameters
        ----------
        values : dict
            Of all quantities, as `start`.
        """
        shown = {}
        for q in self._every:
            if isinstance(q, Pair):
                shown |= {f"{q.key}_{part}": value for part, value in _parts(q, values).items()}
            else:
                shown[q.key] = values[q.key]
        return shown

    def changed(self, values, control, value):
        """Values of all quantities after a control was set, as far as its range goes.

        Parameters
        ----------
        values : dict
            Before; it stays as it is.
        control : str
        value : float [unit] or bool
        """
        q = self.of(control)
        if isinstance(q, Switch):
            return {**values, control: bool(value)}
        value = read_number(value, q.unit)
        if not isinstance(q, Pair):
            return {**values, control: float(np.clip(value, q.low, q.high))}
        parts, part = _parts(q, values), control.rpartition("_")[2]
        parts[part] = float(value)
        if part in _TOGETHER:
            parts["first"], parts["second"] = parts["both"] + parts["against"], parts["both"] - parts["against"]
        sides = {f"{q.key}_{side}": round(float(np.clip(parts[side], q.low, q.high)), 9) for side in _EACH}
        return {**values, **sides}

    def moved_later(self, values):
        """Whether one that is not in sight from the start is not where it started."""
        return any(values[key] != self.start[key] for q in self._later for key in _keys(q))

    def out_of_sight(self, mode, more):
        """Names of the controls that are not to be seen.

        Parameters
        ----------
        mode : "together" or "each"
            How pairs are set.
        more : bool
            Whether those are seen that are not in sight from the start.
        """
        other = _EACH if mode == "together" else _TOGETHER
        hidden = {f"{q.key}_{part}" for q in self._every if isinstance(q, Pair) for part in other}
        return [*(hidden if more else hidden.union(name for q in self._later for name in _controls(q)))]

    def without_effect(self, values):
        """Names of the controls whose switch is off."""
        idle = [q for q in self._every if isinstance(q, Pair) and q.needs and not values[q.needs]]
        return [name for q in idle for name in _controls(q)]

    def layout(self):
        """Lay out the controls of all quantities; of a pair four, of which two are seen.

        So a slider's range never changes under the hand.
        """
        return [control for q in self._every for control in _laid_out(q)]


def _one_number(owner, name, value, q):
    """Check a number within the range of a quantity; no array, since a slider stands at one place."""
    value = number(owner, name, value, q.low, q.high, q.unit, q.words)
    if not isinstance(value, float):
        raise LearnerError(f"{owner}: {name} takes one number; {np.size(value)} were given.")
    return value


def _keys(q):
    return [f"{q.key}_{side}" for side in _EACH] if isinstance(q, Pair) else [q.key]


def _controls(q):
    return [f"{q.key}_{part}" for part in _PARTS] if isinstance(q, Pair) else [q.key]


def _parts(q, values):
    first, second = (values[key] for key in _keys(q))
    return {"both": 0.5 * (first + second), "against": 0.5 * (first - second), "first": first, "second": second}


def _laid_out(q):
    if isinstance(q, Switch):
        return [layout.tick(q.key, q.words)]
    if not isinstance(q, Pair):
        return [layout.slider(q.key, q.words, q.unit, q.low, q.high, q.step)]
    half = 0.5 * (q.high - q.low)
    scales = {
        "both": (f"{q.words}, both", q.low, q.high, 0.5 * q.step),  # halves of what each side can be
        "against": (f"{q.words}, one against the other (first more)", -half, half, 0.5 * q.step),
        "first": (f"{q.words}, first", q.low, q.high, q.step),
        "second": (f"{q.words}, second", q.low, q.high, q.step),
    }
    return [layout.slider(f"{q.key}_{part}", words, q.unit, *scale) for part, (words, *scale) in scales.items()]
