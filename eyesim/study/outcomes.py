"""What came of many operations: where lenses lie, what the eyes see, what did not settle and why, how sure that is."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, element, known_name, number
from ..hold.rest import REASONS
from ..hold.settle import settle
from . import estimates
from .random_numbers import REPLICATES
from .store import StoredPose
from .summary import counted, summarise, table_of
from .verdict import CYLINDER_LIMIT, DECENTRATION_LIMIT, TILT_LIMIT
from .vision import UNITS as SIGHT_UNITS
from .vision import Vision

_UNITS = {"decentration": "mm", "tilt": "deg", "depth": "mm", "tension": "mN"} | SIGHT_UNITS


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
        As given to `operate`; eyes may have got other powers, see `powers`.
    plan : (Fixation, Fixation)
        What was aimed at.
    hands : Hands
    n, seed : int
    draws : "random" or "sobol"
    sight : Sight
        What the patients see, arrays of n. Worked out when it is first asked for, and kept.
    pupil : float [mm]
        Diameter of the beam at the cornea at which it is.
    target : float or None [D]
    power : "each" or "given"
        Whether every eye got the power that suits it, or the lens as it is.
    limited : dict
        How many values had to be held at the end of their sensible range, by name. Powers are counted too in the
        `limited` of `summary`, once they have been chosen.
    """

    def __init__(self, store, lens, plan, hands, seed, draws, typical, pupil, target, power):
        self.n, self.seed, self.draws = store.n, seed, draws
        self.hands, self.plan, self.lens = hands, plan, lens
        self.pupil, self.target, self.power = pupil, target, power
        self.eye, self.first, self.second = (_whole(*kept) for kept in (store.eye, *store.passes))
        self.limited = dict(store.limited)
        self.pose = StoredPose(store, self.eye, lens, (self.first, self.second))
        self._vision = Vision(self.pose, typical, plan, pupil, target, power)

    @property
    def sight(self):
        """What the patients see, a `Sight` of n; NaN with a reason where a lens did not settle.

        Raises LearnerError if there can be no such lens: its faces meet before the optic's edge.
        """
        return self._vision.sight

    @property
    def surprise(self):
        """Refraction surprise [D], an array of n: the spherical equivalent that is left, less what was meant.

        Negative: more myopic than meant. NaN where there is no refraction. What was meant:

        - power "each": what its own lens would leave each eye, at rest where the plan puts it in the mean eye; that is
          the target, or 0 D. So it is as if each power had been chosen from the eye's length and curvature without
          error, on the assumption that the lens will lie as deep as in the mean eye.
        - power "given", with a target: the target. In a population the eyes' lengths then spread more than hands do.
        - power "given", without one: what the same lens would leave the same eye where the plan puts it.

        Raises LearnerError if the plan itself does not settle, so that nothing is known to have been meant.

        Notes
        -----
        Left out: errors of biometry and of the lens's label, the corneal wound, and healing. One power in all eyes
        shifts short eyes too little and long ones too much. In the published population that hardly shows in the SD
        (with 21 D it is some 3 % larger than with each eye's own), but half a millimetre of depth would count 0.77
        instead of 1.19 D in an eye of 20.5 mm, and 0.54 instead of 0.27 D in one of 27 mm, with 19 D.
        """
        return self._vision.surprise

    @property
    def powers(self):
        """Power [D] of the lenses: an array of n where each eye of a population has its own, else one number.

        Raises LearnerError if powers are to be chosen and there can be no such lens.
        """
        return self._vision.powers

    @property
    def planned(self):
        """Where the plan itself puts the lens, a single `Settled`; of a population, in the mean eye."""
        return self._vision.planned

    @property
    def planned_sight(self):
        """What that eye sees with the lens where the plan puts it, a single `Sight`; with "each", its own lens."""
        return self._vision.planned_sight

    @property
    def settled_share(self):
        """Share of all cases that settled, an `Estimate`."""
        return estimates.share(int(self.pose.settled.sum()), self.n, conservative=self._sobol)

    def counts(self):
        """How many settled and how many did not, by reason; adds up to n."""
        codes, counts = np.unique(self.pose.code, return_counts=True)
        return {REASONS[code] or "settled": int(count) for code, count in zip(codes, counts, strict=True)}

    def unseen(self):
        """How many lenses settled and yet their eyes do not see through them, by reason."""
        return self._vision.unseen

    def share(self, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, refraction=None, **other):
        """Share of all n cases that settle and lie within tolerance.

        Raises LearnerError if a limit is no single number, or is set for something else.

        Parameters
        ----------
        decentration : float or None [mm]
            From the limbal centre; None asks nothing of it. 0.4 chosen for teaching.
        tilt : float or None [deg]
            Chosen for teaching too.
        refraction : float or None [D]
            Most refraction surprise, either way.
        """
        _no_other("share", other)
        good = int(self.within(decentration, tilt, refraction).sum())
        return estimates.share(good, self.n, conservative=self._sobol)

    def within(self, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, refraction=None, **other):
        """Whether each case settles and lies within tolerance, a bool array of n; limits as for `share`."""
        _no_other("within", other)
        good = self.pose.settled.copy()
        asked = (
            ("decentration", 10.0, "mm", decentration),
            ("tilt", 180.0, "deg", tilt),
            ("refraction", 20.0, "D", refraction),
        )
        for name, most, unit, limit in asked:
            limit = _limit(name, limit, most, unit, "tolerance", optional=True)
            if limit is not None:
                values = np.abs(self.surprise) if name == "refraction" else getattr(self.pose, name)
                good &= values <= limit  # NaN, where nothing settled or is seen, is not within anything
        return good

    def cylinder_share(self, limit=CYLINDER_LIMIT):
        """Share of all n cases that settle with more than `limit` [D] of cylinder left; 0.5 chosen for teaching."""
        limit = _limit("limit", limit, 20.0, "D", "of the cylinder that is left")
        return estimates.share(int(np.sum(self.sight.cylinder < -limit)), self.n, conservative=self._sobol)

    def settled_values(self, what):
        """Values of one quantity of the cases that settled; of what is seen, of those that have a refraction.

        Parameters
        ----------
        what : str
            "decentration", "tilt", "depth", "tension"; "surprise", "cylinder", "chamber_depth", "coma" and other
            columns of `frame` that tell what is seen.
        """
        return self.values(what)[self._known(what)]

    def mean(self, what):
        """Mean of a quantity over the cases that settled, an `Estimate`."""
        return estimates.mean(self._enough(what), replicate=self._replicate(what), unit=_UNITS[what])

    def spread(self, what):
        """Return the standard deviation over the cases that settled, an `Estimate`."""
        return estimates.spread(self._enough(what), conservative=self._sobol, unit=_UNITS[what])

    def quantile(self, what, p):
        """Quantile over the cases that settled, an `Estimate`."""
        return estimates.quantile(self._enough(what), p, conservative=self._sobol, unit=_UNITS[what])

    def case(self, i):
        """Case i as a single settled lens, with the power that this eye got, to be drawn or looked into.

        Raises LearnerError if there is no such case, or it did not settle.
        """
        if not isinstance(i, (int, np.integer)) or isinstance(i, bool) or not -self.n <= i < self.n:
            raise LearnerError(f"Cases run from 0 to {self.n - 1}; {str(i)[:60]!r} was asked for.")
        fixed = element(self.first, i), element(self.second, i)
        return settle(element(self.eye, i), self._vision.lens_of(i), *fixed, on_failure="raise")

    def frame(self):
        """Table (pandas), one row a case: pose, tension, reason, sight, both passes as achieved, and eyes that vary.

        Units: mm, degrees, mN, D, um; `frame.attrs["units"]` names each column's. Refractions are those at the eye,
        for the whole pupil; `surprise` is NaN throughout where the plan itself does not settle.
        """
        return table_of(self, self._vision.table())

    def summary(self, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT, refraction=None, **other):
        """Short report with 95 % intervals, a `Summary`; the limits are those of `share`."""
        _no_other("summary", other)
        return summarise(self, self._vision, (decentration, tilt, refraction))

    @property
    def replicate(self):
        """Randomisation to which each settled case belongs; None for pseudo-random draws."""
        return self._replicate("decentration")

    def _replicate(self, what):
        return np.flatnonzero(self._known(what)) % REPLICATES if self._sobol else None

    def values(self, what):
        """One quantity of all n cases, as named for `settled_values`; NaN where there is none."""
        known_name("Outcomes", what, list(_UNITS))
        if what in SIGHT_UNITS:
            return self._vision.values(what)
        return self.pose.tension[:, 0] if what == "tension" else getattr(self.pose, what)

    def unit(self, what):
        """Return the unit of a quantity."""
        known_name("Outcomes", what, list(_UNITS))
        return _UNITS[what]

    def _known(self, what):
        return self.pose.settled & np.isfinite(self.values(what))

    @property
    def _sobol(self):
        return self.draws == "sobol"

    def _enough(self, what):
        values = self.settled_values(what)
        if len(values) < 4:
            did = "settled and can be refracted" if what in SIGHT_UNITS else "settled"
            raise LearnerError(
                f"Only {len(values)} of {self.n} cases {did}: too few for a mean or a spread. counts() "
                "says why; at least 4 are needed."
            )
        return values

    def __repr__(self):
        within = self.share().text(".0%")
        limits = f"{DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"
        return f"Outcomes of {self.n} operations: {within} within {limits}; {counted(self.counts())}"


def _limit(name, value, most, unit, words, *, optional=False):
    """Check a limit: one number from 0."""
    value = number("", name, value, 0.0, most, unit, words, optional=optional)
    if isinstance(value, np.ndarray):
        raise LearnerError(f"{name} ({words}) is one number; an array was given.")
    return value


def _no_other(where, other):
    """Refuse a limit on something that this share does not know."""
    for name in other:
        more = {
            "surprise": " The refraction surprise is limited by refraction=.",
            "cylinder": " The cylinder has a share of its own: cylinder_share(limit=0.5).",
        }.get(name, "")
        raise LearnerError(
            f"{where} has no limit {str(name)[:60]!r}; it takes decentration= [mm], tilt= [deg] and refraction= [D]."
            f"{more}"
        )


def _whole(kept, varied):
    return kept.but(**varied) if varied else kept
