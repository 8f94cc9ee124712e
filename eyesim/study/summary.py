"""Many operations in a few sentences, in the order in which a surgeon asks."""

from __future__ import annotations

import dataclasses

import numpy as np

from .estimates import Estimate


@dataclasses.dataclass(frozen=True)
class Measure:
    """One quantity over many cases: mean, standard deviation, and the range of the middle nine tenths."""

    mean: Estimate
    spread: Estimate
    p5: Estimate
    p95: Estimate


@dataclasses.dataclass(frozen=True, repr=False)
class Summary:
    """Short report of many operations, each number with its interval; its repr is the report."""

    n: int
    settled: Estimate
    within: Estimate
    tolerance: tuple
    measures: dict
    counts: dict
    limited: dict

    def __repr__(self):
        d, t = self.tolerance
        asked = [] if d is None else [f"less than {d:g} mm off centre"]
        asked += [] if t is None else [f"tilted less than {t:g} deg"]
        asked = " and ".join(asked) or "settled"
        lines = [f"{self.n} operations, same plan, same hands. Brackets hold 95 % intervals of what chance leaves."]
        lines.append(f"Settled: {_percent(self.settled)}. {counted(self.counts)}.")
        lines.append(f"Within tolerance ({asked}), of all operations: {_percent(self.within)}.")
        if self.measures and self.settled.value < 1.0:
            lines.append("What follows is of those that settled.")
        for what, (words, digits) in _WORDS.items():
            if what in self.measures:
                lines.append(_sentence(words, self.measures[what], digits))
        if not self.measures:
            lines.append("Too few settled to say where the lens lies.")
        if self.limited:
            held = ", ".join(f"{name} {count}" for name, count in self.limited.items())
            lines.append(f"Held at the end of their sensible range: {held}.")
        return "\n".join(lines)


_WORDS = {
    "decentration": ("Off centre", ".2f"),
    "tilt": ("Tilted", ".1f"),
    "depth": ("Behind the limbal plane", ".2f"),
    "tension": ("Pull in each haptic (an upper estimate)", ".0f"),
}


def _sentence(words, measure, digits):
    def bracket(estimate):
        low = "-" if np.isinf(estimate.low) else format(estimate.low, digits)
        high = "-" if np.isinf(estimate.high) else format(estimate.high, digits)
        return f"{format(estimate.value, digits)} [{low}, {high}]"

    m = measure
    return (
        f"{words}: mean {bracket(m.mean)} {m.mean.unit}, SD {bracket(m.spread)}; nine in ten lie between "
        f"{bracket(m.p5)} and {bracket(m.p95)} {m.mean.unit}."
    )


def _percent(estimate):
    return f"{100 * estimate.value:.1f} % [{100 * estimate.low:.1f}, {100 * estimate.high:.1f}]"


def counted(counts):
    """Say how many settled, and how many did not and why."""
    return ", ".join(f"{count} {reason}" for reason, count in sorted(counts.items(), key=lambda kv: kv[0] != "settled"))
