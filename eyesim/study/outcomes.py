"""What came of many operations: where the lenses lie, how many did not settle and why, how sure that is."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, known_name, number
from ..hold.settle import REASONS, settle
from . import estimates
from .draws import REPLICATES
from .gathered import GatheredPose, at
from .limits import DECENTRATION_LIMIT, TILT_LIMIT
from .summary import Measure, Summary, counted

_PASS = (
    "meridian", "limbus_distance", "limbus_angle", "iris_angle", "tunnel_length", "outside", "exit_angle",
    "exit_swing", "wall",
)  # fmt: skip
_UNITS = {"decentration": "mm", "tilt": "deg", "depth": "mm", "tension": "mN"}


class Outcomes:
    """What came of n operations.

    Attributes
    ----------
    pose : Settled
        Arrays of n.
    first, second : Fixation
        As they came out, with arrays of n in what the hands change.
    eye : Eye
        A single one, or the n eyes drawn.
    lens : Lens
    plan : (Fixation, Fixation)
        What was aimed at.
    hands : Hands
    n, seed : int
    draws : "random" or "sobol"
    sight : what the patients see, or None where it was not asked for
    limited : dict
        How many values had to be held at the end of their sensible range, by name.
    """

    def __init__(self, gathered, lens, plan, hands, seed, draws, sight=None):
        self.n, self.seed, self.draws = gathered.n, seed, draws
        self.hands, self.plan, self.lens, self.sight = hands, plan, lens, sight
        self.eye, self.first, self.second = (_whole(*kept) for kept in (gathered.eye, *gathered.passes))
        self.limited = dict(gathered.limited)
        self.pose = GatheredPose(gathered, self.eye, lens, (self.first, self.second))

    @property
    def settled_share(self):
        """Share of all cases that settled, an `Estimate`."""
        return estimates.share(int(self.pose.settled.sum()), self.n, conservative=self._sobol)

    def counts(self):
        """How many settled and how many did not, by reason; adds up to n."""
        codes, counts = np.unique(self.pose.code, return_counts=True)
        return {REASONS[code] or "settled": int(count) for code, count in zip(codes, counts, strict=True)}

    def share(self, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
        """Share of all n cases that settle and lie within tolerance.

        Parameters
        ----------
        decentration : float or None [mm]
            From the limbal centre; None asks nothing of it. 0.4 chosen for teaching.
        tilt : float or None [deg]
            Chosen for teaching too.
        """
        return estimates.share(int(self.within(decentration, tilt).sum()), self.n, conservative=self._sobol)

    def within(self, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
        """Whether each case settles and lies within tolerance, a bool array of n."""
        good = self.pose.settled.copy()
        for name, most, unit, limit in (("decentration", 10.0, "mm", decentration), ("tilt", 180.0, "deg", tilt)):
            limit = number("", name, limit, 0.0, most, unit, "tolerance", optional=True)
            if isinstance(limit, np.ndarray):
                raise LearnerError(f"The tolerance of {name} is one number; an array was given.")
            if limit is not None:
                good &= getattr(self.pose, name) <= limit  # NaN, where nothing settled, is not within anything
        return good

    def settled_values(self, what):
        """Values of "decentration", "tilt", "depth" or "tension" of the cases that settled."""
        known_name("Outcomes", what, list(_UNITS))
        values = self.pose.tension[:, 0] if what == "tension" else getattr(self.pose, what)
        return values[self.pose.settled]

    def mean(self, what):
        """Mean of a quantity over the cases that settled, an `Estimate`."""
        return estimates.mean(self._enough(what), replicate=self.replicate, unit=_UNITS[what])

    def spread(self, what):
        """Return the standard deviation over the cases that settled, an `Estimate`."""
        return estimates.spread(self._enough(what), conservative=self._sobol, unit=_UNITS[what])

    def quantile(self, what, p):
        """Quantile over the cases that settled, an `Estimate`."""
        return estimates.quantile(self._enough(what), p, conservative=self._sobol, unit=_UNITS[what])

    def case(self, i):
        """Case i as a single settled lens, to be drawn or looked into.

        Raises
        ------
        LearnerError
            If there is no such case, or it did not settle.
        """
        if not isinstance(i, (int, np.integer)) or isinstance(i, bool) or not -self.n <= i < self.n:
            raise LearnerError(f"Cases run from 0 to {self.n - 1}; {str(i)[:60]!r} was asked for.")
        return settle(at(self.eye, i), self.lens, at(self.first, i), at(self.second, i), on_failure="raise")

    def frame(self):
        """Table (pandas), one row a case: pose, tension, reason, both passes as achieved, and eyes that vary.

        Units: mm, degrees, mN; `frame.attrs["units"]` names each column's.
        """
        import pandas as pd

        pose = self.pose
        names = (
            "x",
            "y",
            "z",
            "decentration",
            "decentration_meridian",
            "depth",
            "tilt",
            "tilt_meridian",
            "roll",
        )
        table = {name: getattr(pose, name) for name in names}
        table |= {"tension": pose.tension[:, 0], "settled": pose.settled}
        table["reason"] = pd.Categorical.from_codes(pose.code.astype(int), list(REASONS))
        for side, one in (("first", self.first), ("second", self.second)):
            for name in _PASS:
                value = getattr(one, name)
                table[f"{side}_{name}"] = np.nan if value is None else value
        for field in dataclasses.fields(self.eye):
            if isinstance(getattr(self.eye, field.name), np.ndarray):
                table[f"eye_{field.name}"] = getattr(self.eye, field.name)
        frame = pd.DataFrame(table, index=pd.RangeIndex(self.n, name="case"))
        frame.attrs["units"] = {name: _unit(name) for name in frame.columns}
        return frame

    def summary(self, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
        """Short report with 95 % intervals, a `Summary`."""
        enough = int(self.pose.settled.sum()) >= 4
        measures = {}
        for what in _UNITS if enough else ():
            measures[what] = Measure(
                self.mean(what), self.spread(what), self.quantile(what, 0.05), self.quantile(what, 0.95)
            )
        return Summary(
            self.n, self.settled_share, self.share(decentration, tilt), (decentration, tilt), measures,
            self.counts(), dict(self.limited),
        )  # fmt: skip

    @property
    def replicate(self):
        """Randomisation to which each settled case belongs; None for pseudo-random draws."""
        return np.flatnonzero(self.pose.settled) % REPLICATES if self._sobol else None

    @property
    def _sobol(self):
        return self.draws == "sobol"

    def _enough(self, what):
        values = self.settled_values(what)
        if len(values) < 4:
            raise LearnerError(
                f"Only {len(values)} of {self.n} cases settled: too few for a mean or a spread. counts() "
                "says why; at least 4 are needed."
            )
        return values

    def __repr__(self):
        within = self.share().text(".0%")
        limits = f"{DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"
        return f"Outcomes of {self.n} operations: {within} within {limits}; {counted(self.counts())}"


def _unit(column):
    last = column.rpartition("_")[2]
    if last in ("meridian", "tilt", "roll", "angle", "swing"):
        return "deg"
    if last in ("settled", "reason", "q") or column.startswith("eye_n_"):
        return ""
    return "mN" if column == "tension" else "mm"


def _whole(kept, varied):
    return kept.but(**varied) if varied else kept
