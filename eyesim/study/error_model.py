"""How one quantity misses its aim: always the same way, differently each time, or on both sides alike."""

from __future__ import annotations

import dataclasses
import functools
import math
from typing import NamedTuple

import numpy as np

from ..eye.checks import LearnerError, number
from ..eye.sources import fact, facts

CUT = 4.0
"""Normal errors are cut at so many standard deviations; it takes 0.05 % off the spread."""


@dataclasses.dataclass(frozen=True, repr=False)
class Error:
    """How one quantity misses its aim. Raises LearnerError if a value is no finite number, or a spread is negative.

    Parameters
    ----------
    bias : float or pair
        Mean error, in the quantity's own unit; a pair is (first haptic, second haptic).
    spread : float or pair
        Standard deviation of the part that is drawn for each side on its own.
    shared : float
        Standard deviation of the part that both sides have in common.
    """

    bias: float | tuple[float, float] = 0.0
    spread: float | tuple[float, float] = 0.0
    shared: float = 0.0

    def __post_init__(self):
        object.__setattr__(self, "bias", _pair("bias", self.bias, -180.0))
        object.__setattr__(self, "spread", _pair("spread", self.spread, 0.0))
        shared = number("Error", "shared", self.shared, 0.0, 180.0, "", "standard deviation common to both sides")
        object.__setattr__(self, "shared", single("shared", shared))

    @property
    def biases(self):
        """Bias of the first and the second side."""
        return self.bias if isinstance(self.bias, tuple) else (self.bias, self.bias)

    @property
    def spreads(self):
        """Spread of the first and the second side."""
        return self.spread if isinstance(self.spread, tuple) else (self.spread, self.spread)

    @property
    def none(self):
        """Whether there is no error at all."""
        return not any((*self.biases, *self.spreads, self.shared))

    def scale(self, factor):
        """Return the same error with spread and shared part times a factor; the bias stays."""
        factor = number("", "factor", factor, 0.0, 100.0, "", "what spreads are multiplied by")
        one, two = self.spreads
        spread = (factor * one, factor * two) if isinstance(self.spread, tuple) else factor * one
        return dataclasses.replace(self, spread=spread, shared=factor * self.shared)

    def swap(self):
        """Return the same error with the two sides changed over."""
        return Error(_swap(self.bias), _swap(self.spread), self.shared)

    def at(self, side, own, shared):
        """Errors of one side (0 or 1) from standard normal numbers."""
        return self.biases[side] + self.spreads[side] * own + self.shared * shared

    def __repr__(self):
        parts = [f"{name}={text_of(getattr(self, name))}" for name in ("bias", "spread", "shared")]
        return f"Error({', '.join(part for part in parts if not part.endswith('=0'))})"


class Quantity(NamedTuple):
    """What can be missed: its unit, the largest error [unit] that is sensible, and what it is in words."""

    unit: str
    largest: float
    words: str


QUANTITIES = {
    "meridian": Quantity("deg", 90.0, "meridian of the mark that is followed"),
    "limbus_distance": Quantity("mm", 3.0, "distance behind the limbus"),
    "limbus_angle": Quantity("deg", 45.0, "needle's angle to the limbal tangent"),
    "iris_angle": Quantity("deg", 45.0, "needle's angle to the iris plane"),
    "tunnel_length": Quantity("mm", 3.0, "length of a chosen tunnel"),
    "outside": Quantity("mm", 3.0, "externalised length of the haptic"),
    "exit_angle": Quantity("deg", 60.0, "angle to the iris plane after a planned turn at the tunnel's end"),
    "wall": Quantity("mm", 0.5, "scleral thickness (single-plane passes)"),
    "mark_moved_along": Quantity("mm", 3.0, "mark moved along the limbus, counter-clockwise"),
    "mark_moved_across": Quantity("mm", 3.0, "mark moved away from the limbus"),
    "marker_x": Quantity("mm", 1.5, "marker off-centre, to the observer's right"),
    "marker_y": Quantity("mm", 1.5, "marker off-centre, upwards"),
    "needle_bend": Quantity("deg", 30.0, "bend of the needle under the sclera's side load"),
}
"""The quantities that have an `Error`, in the order in which they are drawn."""
ERRORS = tuple(QUANTITIES)
MEASURED = ("meridian", "limbus_distance", "limbus_angle", "iris_angle", "tunnel_length", "outside", "exit_angle")
"""Those of them that can be measured afterwards on a practice eye, each side on its own."""
GROUPS = {"marker": ("marker_x", "marker_y"), "mark_moved": ("mark_moved_along", "mark_moved_across")}
"""Errors that go together, by a name for both."""


def columns():
    """Names of the columns of chance that hands use, in their fixed order.

    For each quantity `first`, `second` and `shared`; the marker, which serves both sides at once, has one;
    a bent needle may also go sideways; a haptic lies askew to any side of its track.
    """
    names = []
    for name in ERRORS:
        if name in GROUPS["marker"]:
            names.append(name)
        else:
            names += [f"{name}.{part}" for part in ("first", "second", "shared")]
        if name == "needle_bend":
            names += [f"needle_bend_sideways.{part}" for part in ("first", "second", "shared")]
    return (*names, "play.first", "play_side.first", "play.second", "play_side.second")


@functools.cache
def usual_error(name):
    """`Error` of the usual hands in one quantity, from the table of hands."""
    own = fact("hands", "marker" if name in GROUPS["marker"] else name)
    rows = facts("hands")
    second = rows.get(f"{name}_second")
    shared = rows.get(f"{name}_shared")
    if second is None:
        bias, spread = own.value, own.spread
    else:
        bias, spread = (own.value, second.value), (own.spread, second.spread)
        bias = bias[0] if bias[0] == bias[1] else bias
    return Error(bias, spread, 0.0 if shared is None else shared.spread)


def normal_deviates(uniform):
    """Turn uniform numbers into standard normal ones, cut at `CUT`: by the inverse distribution function."""
    from scipy.special import ndtr, ndtri

    low = ndtr(-CUT)
    return ndtri(low + np.ascontiguousarray(uniform) * (1.0 - 2.0 * low))


def _pair(name, value, low):
    words = "mean error" if name == "bias" else "standard deviation of each side's own part"
    checked = number("Error", name, value, low, 180.0, "", words + ", a number or a pair")
    if isinstance(checked, float):
        return checked
    if checked.shape != (2,):
        raise LearnerError(f"Error.{name} ({words}) is one number, or a pair (first haptic, second haptic).")
    return float(checked[0]), float(checked[1])


def single(name, value):
    """Refuse an array where one number serves both sides.

    Parameters
    ----------
    name : str
    value : float or array
    """
    if not isinstance(value, float):
        raise LearnerError(f"{name} is one number for both sides; an array was given.")
    return value


def _swap(value):
    return value[::-1] if isinstance(value, tuple) else value


def text_of(value):
    """Write a number or a pair as it would be typed."""
    if isinstance(value, tuple):
        return f"({', '.join(f'{v:g}' for v in value)})"
    return f"{value:g}" if isinstance(value, float) and math.isfinite(value) else repr(value)
