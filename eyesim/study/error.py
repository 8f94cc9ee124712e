"""How one quantity misses its aim: always the same way, differently each time, or on both sides alike."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError, number

CUT = 4.0
"""Normal errors are cut at so many standard deviations; it takes 0.05 % off the spread."""


@dataclasses.dataclass(frozen=True, repr=False)
class Error:
    """How one quantity misses its aim.

    Parameters
    ----------
    bias : float or pair
        Mean error, in the quantity's own unit; a pair is (first haptic, second haptic).
    spread : float or pair
        Standard deviation of the part that is drawn for each side on its own.
    shared : float
        Standard deviation of the part that both sides have in common.

    Raises
    ------
    LearnerError
        If a value is no finite number, or a spread is negative.
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

    def scaled(self, factor):
        """Return the same error with spread and shared part times a factor; the bias stays."""
        factor = number("", "factor", factor, 0.0, 100.0, "", "what spreads are multiplied by")
        one, two = self.spreads
        spread = (factor * one, factor * two) if isinstance(self.spread, tuple) else factor * one
        return dataclasses.replace(self, spread=spread, shared=factor * self.shared)

    def swapped(self):
        """Return the same error with the two sides changed over."""
        return Error(_swap(self.bias), _swap(self.spread), self.shared)

    def at(self, side, own, shared):
        """Errors of one side (0 or 1) from standard normal numbers."""
        return self.biases[side] + self.spreads[side] * own + self.shared * shared

    def __repr__(self):
        parts = [f"{name}={text_of(getattr(self, name))}" for name in ("bias", "spread", "shared")]
        return f"Error({', '.join(part for part in parts if not part.endswith('=0'))})"


def normal(uniform):
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
    """Refuse an array where one number serves both sides."""
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
