"""Many operations in a few sentences, in the order in which a surgeon asks, and in a table of all cases."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..hold.rest import REASONS
from ..sight.refraction import in_words, signed
from .estimates import Estimate
from .verdict import CYLINDER_LIMIT, REFRACTION_LIMITS


@dataclasses.dataclass(frozen=True)
class Measure:
    """One quantity over many cases: mean, standard deviation, and the range of the middle nine tenths."""

    mean: Estimate
    spread: Estimate
    p5: Estimate
    p95: Estimate


@dataclasses.dataclass(frozen=True)
class SightSummary:
    """What the eyes of many operations see.

    Attributes
    ----------
    pupil : float [mm]
    lens : str
        Which lens the eyes got.
    target, unknown : str
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
    no_refraction : str
        Why there is no refraction at all, if so.
    """

    pupil: float
    lens: str = ""
    target: str = ""
    unknown: str = ""
    within: dict = dataclasses.field(default_factory=dict)
    cylinder_limit: float = 0.0
    cylinder: Estimate | None = None
    cylinder_words: str = ""
    unseen: dict = dataclasses.field(default_factory=dict)
    no_refraction: str = ""

    def lines(self):
        """Sentences of the report."""
        lines = [self.lens] if self.lens else []
        if self.no_refraction:
            lines.append(f"{self.no_refraction}, so there is no refraction and no cylinder to report.")
            return [*lines, f"Settled, but without a refraction: {counted(self.unseen)}."] if self.unseen else lines
        if self.unknown:
            lines.append(f"There is no refraction surprise: {self.unknown}")
        if self.within:
            (least, share), *more = self.within.items()
            rest = "".join(f"; within {limit:g} D: {_percent(wide)}" for limit, wide in more)
            lines.append(f"Refraction meant, at a {self.pupil:g} mm pupil: {self.target}.")
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
    sight: SightSummary

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
        lines += self.sight.lines()
        if self.measures and self.settled.value < 1.0:
            blind = "; refractions, of those that have one" if self.sight.unseen else ""
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


def summarise(outcomes, vision, limits) -> Summary:
    """Put the report together.

    Parameters
    ----------
    outcomes : Outcomes
    vision : Vision
    limits : (decentration [mm], tilt [deg], refraction [D])
        Each a number or None.
    """
    quantities = ["decentration", "tilt", "depth", "tension"]
    if not vision.impossible:
        quantities += ["chamber_depth"] if vision.unknown else ["surprise", "chamber_depth"]
    measures = {}
    for what in quantities:
        if len(outcomes.settled_values(what)) >= 4:
            ends = outcomes.quantile(what, 0.05), outcomes.quantile(what, 0.95)
            measures[what] = Measure(outcomes.mean(what), outcomes.spread(what), *ends)
    powers = None if vision.impossible else vision.chosen
    limited = outcomes.limited | ({"power": powers.held} if powers is not None and powers.held else {})
    shares = outcomes.settled_share, outcomes.share(*limits)
    sight = _sight_summary(outcomes, vision)
    return Summary(outcomes.n, *shares, limits, measures, outcomes.counts(), limited, sight)


def _sight_summary(outcomes, vision):
    if vision.impossible:
        return SightSummary(outcomes.pupil, unknown=vision.impossible)
    nobody = "None of those that settled is seen through" if np.any(outcomes.pose.settled) else "None settled"
    known = {"unknown": f"{vision.unknown}."}
    if not vision.unknown:
        shares = {limit: outcomes.share(None, None, limit) for limit in REFRACTION_LIMITS}
        known = {"target": _target_in_words(vision), "within": shares}
    return SightSummary(
        outcomes.pupil,
        _lens_in_words(vision),
        cylinder_limit=CYLINDER_LIMIT,
        cylinder=outcomes.cylinder_share(),
        cylinder_words=_cylinder_in_words(vision),
        unseen=vision.unseen,
        no_refraction="" if np.any(outcomes.sight.seen) else nobody,
        **known,
    )


_WORDS = {
    "decentration": ("Off centre", ".2f"),
    "tilt": ("Tilted", ".1f"),
    "depth": ("Behind the limbal plane", ".2f"),
    "tension": ("Pull in each haptic (an upper estimate)", ".0f"),
    "surprise": ("Refraction surprise (negative: more myopic than meant)", "+.2f"),
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
    """Write a number of operations.

    Parameters
    ----------
    n : int
    form : str
        Of the number.
    """
    return f"{n:{form}} operation{'' if n == 1 else 's'}"


def counted(counts):
    """Say how many settled, and how many did not and why."""
    rest = [f"{count} ({reason})" for reason, count in counts.items() if reason != "settled"]
    return ", ".join(([f"{counts['settled']} settled"] if "settled" in counts else []) + rest)


def _lens_in_words(vision):
    """Say in one or more sentences which lens the eyes got, and what it leaves them where the plan puts it."""
    if vision.chosen is not None:
        return _powers_in_words(vision)
    power = f"{vision.powers:.2f} D"
    if vision.power == "each":
        return f"Power of the lens: {power} as given; without a place no other could be chosen."
    left = np.atleast_1d(vision.planned_refraction)
    left = left[np.isfinite(left)]
    if not vision.many:
        if vision.target is None or not left.size:
            return f"Power of the lens: {power}."
        return f"Power of the lens: {power}; where the plan puts it, it leaves {signed(float(left[0]))} D."
    words = f"Power of the lens: {power}, the same in all eyes."
    if not left.size:
        return words
    words += f" What it leaves where the plan puts it in their mean eye: {_mean_and_spread(left)}."
    if vision.target is not None and _owed_to_eyes(vision, left):
        words += " So the spread about the target is mostly that of the eyes, of their lengths above all, not of hands."
    return words


def _powers_in_words(vision):
    chosen, aim = vision.chosen, signed(vision.aim)
    if not vision.many:
        words = f"Power of the lens, chosen to leave this eye at {aim} D were the lens where the plan puts it: "
        words += f"{vision.powers:.2f} D."
    else:
        words = (
            f"Power of the lens, chosen for each eye to leave it at {aim} D were the lens where the plan puts it in "
            f"the mean eye: {_mean_and_spread(vision.powers, '.2f')}"
        )
        several = len(vision.powers) > 1
        words += f", from {vision.powers.min():.2f} to {vision.powers.max():.2f} D." if several else "."
    if chosen.held:
        words += f" Held at the end of what can be made: {chosen.held}; what such a lens leaves counts as meant."
    if chosen.blind:
        words += (
            f" Seeing nothing with the lens in that place: {chosen.blind}; these keep {vision.pose.lens.power:.2f} D "
            "and have no refraction surprise."
        )
    return words


def _mean_and_spread(values, form=None):
    mean = f"{values.mean():{form}}" if form else signed(float(values.mean()))
    return f"mean {mean} D, SD {values.std(ddof=1):.2f} D" if len(values) > 1 else f"{mean} D"  # one eye has no spread


def _owed_to_eyes(vision, left):
    """Whether most of the variance of what is left was there before any hand moved."""
    got = vision.sight.M[np.isfinite(vision.sight.M)]
    return len(got) > 1 and len(left) > 1 and np.var(left) > 0.5 * np.var(got)


def _target_in_words(vision):
    """Say which refraction was meant."""
    if vision.power == "each":
        whose = "each eye" if vision.many else "the eye"
        return f"a spherical equivalent of {signed(vision.aim)} D, which that lens would leave {whose} there"
    if vision.target is not None:
        return f"a spherical equivalent of {signed(vision.target)} D"
    if vision.many:
        return "what this lens leaves each eye where the plan puts it in their mean eye"
    return f"what this lens leaves where the plan puts it, {in_words(vision.planned_sight)}"


def _cylinder_in_words(vision):
    """Whose cylinder it is: the lens's alone, where cornea and lens are round and the eye looks along its axis."""
    eye = vision.pose.eye
    others = (eye.corneal_cylinder, eye.sight_x, eye.sight_y, vision.pose.lens.toric_cylinder)
    return "cylinder left" if any(np.any(other) for other in others) else "cylinder from the lens"


_POSE = {
    "x": "mm",
    "y": "mm",
    "z": "mm",
    "decentration": "mm",
    "decentration_meridian": "deg",
    "depth": "mm",
    "tilt": "deg",
    "tilt_meridian": "deg",
    "roll": "deg",
}
_PASS = ("meridian", "limbus_distance", "limbus_angle", "iris_angle", "tunnel_length", "outside", "exit_angle")
_PASS = (*_PASS, "exit_swing", "wall")


def table_of(outcomes, sight):
    """Table (pandas) of outcomes, one row a case; `frame.attrs["units"]` names each column's unit.

    Parameters
    ----------
    outcomes : Outcomes
    sight : dict
        Columns of what is seen: name to (unit, values).
    """
    import pandas as pd

    pose, eye = outcomes.pose, outcomes.eye
    columns = {name: (unit, getattr(pose, name)) for name, unit in _POSE.items()}
    reasons = pd.Categorical.from_codes(pose.code.astype(int), list(REASONS))
    columns |= {"tension": ("mN", pose.tension[:, 0]), "settled": ("", pose.settled), "reason": ("", reasons)}
    columns |= sight
    for side in ("first", "second"):
        fixation = getattr(outcomes, side)
        values = {name: getattr(fixation, name) for name in _PASS}
        units = {name: type(fixation).__dataclass_fields__[name].metadata["unit"] for name in _PASS}
        columns |= {f"{side}_{k}": (units[k], np.nan if v is None else v) for k, v in values.items()}
    varied = [field for field in dataclasses.fields(eye) if isinstance(getattr(eye, field.name), np.ndarray)]
    columns |= {f"eye_{field.name}": (field.metadata["unit"], getattr(eye, field.name)) for field in varied}
    values = {name: column for name, (_, column) in columns.items()}
    frame = pd.DataFrame(values, index=pd.RangeIndex(outcomes.n, name="case"))
    frame.attrs["units"] = {name: unit for name, (unit, _) in columns.items()}
    return frame
