"""The model beside what was measured in patients."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError, known_name, plain_errors
from ..eye.sources import fact, facts
from . import estimates
from .estimates import Estimate

POSITION = ("tilt", "decentration")
"""Quantities compared by default."""
SURPRISE = "refraction surprise"
_KNOWN = (*POSITION, SURPRISE)
CAVEAT = (
    "Not a validation: published tilt is often read against an instrument's axis, which itself "
    "stands some 5 deg\noff the eye's own (second row); techniques, lenses and eyes differ, and hands here "
    "are partly assumed."
)
SIGHT_CAVEAT = (
    "Not a validation: only the spreads may be compared, and the model's should be the smallest. A published "
    "surprise\nalso holds errors of biometry, of the power formula and of the lens's label, the corneal wound, "
    "healing, and the reading\nof the glasses. Of all these the model knows nothing: it compares a plan with itself, "
    "so its mean tells what hands\ndo to that plan, not how well a formula predicts."
)
_NOTHING_ELSE = "no error of biometry, of the power formula or of the lens's label, no corneal wound, no healing"
ONLY_HANDS = (
    f"Only what hands do to the place of the lens is in these figures: {_NOTHING_ELSE}. Refractions of patients are "
    "spread wider."
)
"""Caveat that belongs beside every refraction surprise."""
HANDS_AND_EYES = f"These figures hold what hands do, and what the lens as given leaves; {_NOTHING_ELSE}."
"""The same where all eyes got one lens and are held against a target."""
_CAVEATS = {"tilt": CAVEAT, "decentration": CAVEAT, SURPRISE: SIGHT_CAVEAT}
_UNITS = {"tilt": "deg", "decentration": "mm", SURPRISE: "D"}


@dataclasses.dataclass(frozen=True)
class Series:
    """One line of the comparison: a published series, or the model's own.

    Attributes
    ----------
    quantity : "tilt", "decentration" or "refraction surprise"
    label, unit : str
    mean : float [unit]
    spread : float or None [unit]
        Standard deviation among eyes.
    n : int or None
    interval : Estimate or None
        Of the mean; only the model's.
    kind, method, axis, source, doi, note : str
    weak : bool
        Figures from memory, or with a doubtful spread.
    """

    quantity: str
    label: str
    unit: str
    mean: float
    spread: float | None
    n: int | None
    interval: Estimate | None = None
    kind: str = ""
    method: str = ""
    axis: str = ""
    source: str = ""
    doi: str = ""
    note: str = ""
    weak: bool = False


@dataclasses.dataclass(frozen=True, repr=False)
class Comparison:
    """The model beside published series; its repr is the table in words, with the caveat."""

    rows: tuple[Series, ...]
    caveat: str = CAVEAT

    def of(self, quantity):
        """Rows of "tilt", "decentration" or "refraction surprise", the model first."""
        return tuple(row for row in self.rows if row.quantity == quantity)

    def frame(self):
        """Table (pandas), one row a series."""
        import pandas as pd

        rows = []
        for row in self.rows:
            cells = {f.name: getattr(row, f.name) for f in dataclasses.fields(row) if f.name != "interval"}
            rows.append(cells | {end: getattr(row.interval, end, None) for end in ("low", "high")})
        return pd.DataFrame(rows)

    def __repr__(self):
        lines = []
        for row in self.rows:
            spread = "" if row.spread is None else f", SD {row.spread:.2f}"
            interval = "" if row.interval is None else f" [{row.interval.low:.2f}, {row.interval.high:.2f}]"
            n = "" if row.n is None else f", n {row.n}"
            trust = f" ({row.kind}{', weak' if row.weak else ''})" if row.kind else ""
            lines.append(f"{row.quantity}: {row.label}: mean {row.mean:.2f}{interval} {row.unit}{spread}{n}{trust}")
        return "\n".join([*lines, self.caveat])


@plain_errors
def compare_published(outcomes, quantities=POSITION):
    """Put the model's tilt and decentration, or its refraction surprise, beside published series.

    Raises LearnerError if these are no outcomes, or a quantity is not known; if too few cases settled, or the plan does
    not.

    Parameters
    ----------
    outcomes : Outcomes
    quantities : sequence of str, or str
        Of "tilt", "decentration", "refraction surprise".

    Returns
    -------
    Comparison
        For each quantity the model's row, with the interval of its mean, then the published ones.
    """
    from .outcomes import Outcomes

    if not isinstance(outcomes, Outcomes):
        raise LearnerError("compare_published takes what es.operate(...) gives back.")
    quantities = (quantities,) if isinstance(quantities, str) else tuple(quantities)
    rows = []
    for quantity in quantities:
        known_name("compare_published", quantity, _KNOWN)
        rows.append(_own(outcomes, quantity))
        if quantity == "tilt":
            rows.append(_off_axis(outcomes, rows[-1].n))
        rows += [_published(row) for row in facts("series").values() if row.more["quantity"] == quantity]
    return Comparison(tuple(rows), "\n".join(dict.fromkeys(_CAVEATS[quantity] for quantity in quantities)))


def _own(outcomes, quantity):
    """Row of the model itself."""
    what = "surprise" if quantity == SURPRISE else quantity
    mean, spread = outcomes.mean(what), outcomes.spread(what)
    if quantity == SURPRISE:
        how = ("mechanics and rays; biometry and power without error", f"beam of {outcomes.pupil:g} mm")
    else:
        how = ("mechanics, no healing", "axis through the limbal centre, square to the limbal plane")
    n = len(outcomes.settled_values(what))
    label = "This model, these hands"
    return Series(quantity, label, _UNITS[quantity], mean.value, spread.value, n, mean, "simulated", *how)


def _published(row):
    """One row of the table of series."""
    own = {name: getattr(row, name) for name in ("spread", "n", "kind", "source", "doi", "note")}
    more = {name: row.more[name] for name in ("quantity", "label", "method", "axis")}
    weak = row.more["weak"] == "yes"
    return Series(**more, **own, unit=_UNITS[more["quantity"]], mean=row.value, weak=weak)


def _off_axis(outcomes, settled):
    """Tilt as an instrument would read it whose axis leans by angle alpha, horizontally."""
    angle = fact("anatomy", "angle_alpha")
    normal = outcomes.pose.normal[outcomes.pose.settled]
    alpha = math.radians(angle.value)
    axis = np.array([math.sin(alpha), 0.0, math.cos(alpha)])
    tilt = np.degrees(np.arctan2(np.linalg.norm(np.cross(normal, axis), axis=-1), normal @ axis))
    mean = estimates.mean(tilt, replicate=outcomes.replicate, unit="deg")
    label = f"The same, against an axis {angle.value:g} deg off"
    how = ("simulated", "mechanics, no healing", "an axis that is tilted horizontally, towards meridian 0")
    spread = float(np.std(tilt, ddof=1))
    return Series("tilt", label, "deg", mean.value, spread, settled, mean, *how, angle.source, angle.doi)
