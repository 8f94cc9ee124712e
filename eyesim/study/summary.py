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


@dataclasses.dataclass(frozen=True)
class Seen:
    """What the eyes of many operations see.

    Attributes
    ----------
    pupil : float [mm]
    lens : str
        Which lens the eyes got.
    meant, unknown : str
        What refraction was meant, or a sentence why that is not known.
    within : dict of float [D] to Estimate
        Share of all operations with no more refraction surprise than that, either way.
    cylinder_limit : float [D]
    cylinder : Estimate or None
        Share of all operations with more cylinder than the limit.
    cylinder_words : str
        Whose cylinder that is.
    unseen : dict
        How many settled and have no refraction, by reason.
    nobody : str
        Why there is no refraction at all, if so.
    """

    pupil: float
    lens: str = ""
    meant: str = ""
    unknown: str = ""
    within: dict = dataclasses.field(default_factory=dict)
    cylinder_limit: float = 0.0
    cylinder: Estimate | None = None
    cylinder_words: str = ""
    unseen: dict = dataclasses.field(default_factory=dict)
    nobody: str = ""

    def lines(self):
        """Sentences of the report."""
        lines = [self.lens] if self.lens else []
        if self.nobody:
            lines.append(f"{self.nobody}, so there is no refraction and no cylinder to tell of.")
            return [*lines, f"Settled, but without a refraction: {counted(self.unseen)}."] if self.unseen else lines
        if self.unknown:
            lines.append(f"Refraction surprise is not told: {self.unknown}")
        if self.within:
            (least, share), *more = self.within.items()
            rest = "".join(f"; within {limit:g} D: {_percent(wide)}" for limit, wide in more)
            lines.append(f"Refraction meant, at a {self.pupil:g} mm pupil: {self.meant}.")
            lines.append(f"Within {least:g} D of it, of all operations: {_percent(share)}{rest}.")
        if self.cylinder is not None:
            lines.append(
                f"More than {self.cylinder_limit:g} D of {self.cylinder_words}, of all operations: "
                f"{_percent(self.cylinder)}."
            )
        if self.unseen:
            lines.append(f"Settled, but without a refraction: {counted(self.unseen)}.")
        return lines


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
    seen: Seen

    def __repr__(self):
        d, t, r = self.tolerance
        asked = [] if d is None else [f"less than {d:g} mm off centre"]
        asked += [] if t is None else [f"tilted less than {t:g} deg"]
        asked += [] if r is None else [f"no more than {r:g} D from the refraction meant"]
        asked = " and ".join([", ".join(asked[:-1]), asked[-1]] if len(asked) > 1 else asked) or "settled"
        lines = [
            f"{operations(self.n, '')}, same plan, same hands. Brackets hold 95 % intervals of what chance leaves."
        ]
        lines.append(f"Settled: {_percent(self.settled)}. {counted(self.counts)}.")
        lines.append(f"Within tolerance ({asked}), of all operations: {_percent(self.within)}.")
        lines += self.seen.lines()
        if self.measures and self.settled.value < 1.0:
            blind = "; refractions, of those that have one" if self.seen.unseen else ""
            lines.append(f"What follows is of those that settled{blind}.")
        for what, (words, digits) in _WORDS.items():
            if what in self.measures:
                lines.append(_sentence(words, self.measures[what], digits))
        if not self.measures:
            few = round(self.settled.value * self.n)
            lines.append(f"Too few settled to say where the lens lies: {few or 'none'}, and 4 are needed.")
        if self.limited:
            held = ", ".join(f"{name} {count}" for name, count in self.limited.items())
            lines.append(f"Held at the end of their sensible range: {held}.")
        return "\n".join(lines)


_WORDS = {
    "decentration": ("Off centre", ".2f"),
    "tilt": ("Tilted", ".1f"),
    "depth": ("Behind the limbal plane", ".2f"),
    "tension": ("Pull in each haptic (an upper estimate)", ".0f"),
    "surprise": ("Refraction surprise (negative: more short-sighted than meant)", "+.2f"),
    "chamber_depth": ("Anterior chamber, cornea to optic", ".2f"),
}


def _sentence(words, measure, digits):
    def bracket(estimate, digits=digits):
        low, high = ("-" if np.isinf(end) else _rounded(end, digits) for end in (estimate.low, estimate.high))
        return f"{_rounded(estimate.value, digits)} [{low}, {high}]"

    m, plain = measure, digits.lstrip("+")
    return (
        f"{words}: mean {bracket(m.mean)} {m.mean.unit}, SD {bracket(m.spread, plain)}; nine in ten lie between "
        f"{bracket(m.p5)} and {bracket(m.p95)} {m.mean.unit}."
    )


def _rounded(value, digits):
    """Write a number; one that rounds to nothing has no sign."""
    text = format(value, digits)
    return text if text.strip("+-0.") else text.lstrip("+-")


def _percent(estimate):
    return f"{100 * estimate.value:.1f} % [{100 * estimate.low:.1f}, {100 * estimate.high:.1f}]"


def operations(n, form=","):
    """Write a number of operations."""
    return f"{n:{form}} operation{'' if n == 1 else 's'}"


def counted(counts):
    """Say how many settled, and how many did not and why."""
    return ", ".join(f"{count} {reason}" for reason, count in sorted(counts.items(), key=lambda kv: kv[0] != "settled"))
