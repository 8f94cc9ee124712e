"""When an attempt has failed: by what it would have left in an eye, or by its error alone.

Attempts come from a practice log; all that was measured of one attempt counts together.
"""

from __future__ import annotations

import dataclasses
import datetime

import numpy as np

from ..eye.checks import LearnerError, known_name, number
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..hold.settle import settle
from ..study.error_model import MEASURED, QUANTITIES
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT, checked_limits
from .measurement import PLAIN, RANGES
from .skills import rater_means

TOLERANCES = {
    "meridian": 5.0, "limbus_distance": 0.35, "limbus_angle": 6.0, "iris_angle": 6.0, "tunnel_length": 0.45,
    "outside": 0.3, "exit_angle": 7.5,
}  # fmt: skip
"""Largest error [mm or deg] of an attempt that has not failed; chosen for teaching: some one and a half times the
usual hands' spread on one side. A programme may set its own."""


@dataclasses.dataclass(frozen=True, repr=False)
class Attempt:
    """One attempt with everything that was measured of it.

    Attributes
    ----------
    name : str
        Its name in the log, or "row 7" of one without.
    when : date
    misses : dict
        By (side, quantity), side 0 or 1: achieved less aim. Where the log tells no side, it is the first.
    """

    name: str
    when: datetime.date
    misses: dict

    def __repr__(self):
        parts = [f"{name} {miss:+.3g} {QUANTITIES[name].unit}" for (_, name), miss in self.misses.items()]
        return f"{self.name}, {self.when.isoformat()}: {', '.join(parts)}"


@dataclasses.dataclass(frozen=True, repr=False)
class Failures:
    """Which attempts failed, in their order, and by what rule.

    Attributes
    ----------
    failed : (n,) bool array
    rule : str
        In words.
    decentration, tilt : (n,) arrays [mm], [deg], or None
        What each would have left, by outcome; NaN where the lens would not have settled.
    attempts : tuple of Attempt
    """

    failed: np.ndarray
    rule: str
    decentration: np.ndarray | None = None
    tilt: np.ndarray | None = None
    attempts: tuple = ()

    def __len__(self):
        return len(self.failed)

    def __repr__(self):
        return f"{int(self.failed.sum())} of {len(self)} attempts failed; failed means: {self.rule}"


def group_attempts(log, quantity=None):
    """List the attempts of a log by their days, those of one day in the order in which they first appear.

    Parameters
    ----------
    log : Log or iterable of Measurement
    quantity : str or None
        Only what was measured of this one.

    Returns
    -------
    tuple of Attempt
    """
    if quantity is not None:
        known_name("A practice log", quantity, MEASURED)
    found = {}
    for i, row in enumerate(rater_means(log)):
        if quantity in (None, row.quantity):
            one = found.setdefault(row.attempt or i, Attempt(row.attempt or f"row {i + 1}", row.when, {}))
            one.misses[int(row.side == "second"), row.quantity] = row.miss
    return tuple(sorted(found.values(), key=lambda one: one.when))


def failed_by_outcome(
    attempts, eye=None, lens=None, first=None, second=None, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT
):
    """Judge attempts by what they would have left in an eye where all else goes as planned.

    Raises LearnerError if there are no attempts, or the plan itself lies outside the limits or does not settle.

    Parameters
    ----------
    attempts : sequence of Attempt
        From `group_attempts`.
    eye, lens : Eye, Lens or None
        None takes the usual ones.
    first, second : Fixation or None
        The plan; None takes the usual pass and its opposite. A tunnel's length or an exit angle counts only where the
        plan chooses one.
    decentration, tilt : float [mm], [deg]
        Limits of `eyesim.study.verdict`; chosen for teaching. A lens that does not settle has failed.

    Returns
    -------
    Failures
    """
    limits = checked_limits(decentration, tilt)
    _some(attempts)
    eye, lens = Eye() if eye is None else eye, Lens() if lens is None else lens
    first = Fixation() if first is None else first
    plan = (first, first.opposite() if second is None else second)
    _plan_fits(settle(eye, lens, *plan, on_failure="flag"), limits)
    passes = [_achieved(plan[k], k, attempts) for k in (0, 1)]
    pose = settle(eye, lens, *passes, on_failure="flag")
    n = len(attempts)
    off, tilted = (np.broadcast_to(np.asarray(v, float), (n,)) for v in (pose.decentration, pose.tilt))
    good = (off <= limits[0]) & (tilted <= limits[1])  # NaN, where nothing settled, is not within anything
    rule = f"alone it would have left the lens more than {limits[0]:g} mm off centre or tilted by more than "
    return Failures(~good, f"{rule}{limits[1]:g} deg{_judged_by(attempts)}", off, tilted, tuple(attempts))


def failed_by_error(attempts, tolerances=None):
    """Judge attempts by their errors alone: one that is beyond its tolerance fails the attempt.

    Raises LearnerError if there are no attempts, or a tolerance is no number or of nothing that can be measured.

    Parameters
    ----------
    attempts : sequence of Attempt
    tolerances : dict or None
        Largest error [mm or deg] by quantity; what it does not name is as in `TOLERANCES`.

    Returns
    -------
    Failures
    """
    _some(attempts)
    allowed = dict(TOLERANCES)
    for name, value in (tolerances or {}).items():
        known_name("Tolerances", name, MEASURED)
        unit, most, words = QUANTITIES[name]
        allowed[name] = number("", name, value, 0.0, most, unit, f"tolerance of the {words}")
    failed = [any(abs(miss) > allowed[name] for (_, name), miss in one.misses.items()) for one in attempts]
    named = _measured(attempts)
    rule = ", or ".join(f"{PLAIN[name]} off by more than {allowed[name]:g} {QUANTITIES[name].unit}" for name in named)
    return Failures(np.array(failed), rule, attempts=tuple(attempts))


def _measured(attempts):
    """Quantities that were measured of some attempt."""
    return [name for name in MEASURED if any((k, name) in one.misses for one in attempts for k in (0, 1))]


def _judged_by(attempts):
    """Say what was measured, and that tilt comes from iris angles where nobody measured these."""
    named = _measured(attempts)
    words = f"; judged by {', '.join(PLAIN[name] for name in named)}, all else as planned"
    return words if "iris_angle" in named else f"{words}, though tilt comes from iris angles, which nobody measured"


def _achieved(plan, k, attempts):
    """Pass of one side with the errors of every attempt, held within what a pass may be."""
    values = {}
    for name in MEASURED:
        planned = getattr(plan, name)
        misses = np.array([one.misses.get((k, name), 0.0) for one in attempts])
        if planned is not None and misses.any():
            values[name] = np.clip(planned + misses, RANGES[name]["low"], RANGES[name]["high"])
    return plan.but(**values)


def _plan_fits(pose, limits):
    if not pose.settled or pose.decentration > limits[0] or pose.tilt > limits[1]:
        raise LearnerError(
            "Where all goes as planned the lens already lies outside the limits, so no attempt could pass; choose "
            "another plan, or wider limits."
        )


def _some(attempts):
    if not len(attempts):
        raise LearnerError("There are no attempts in this log to judge.")
