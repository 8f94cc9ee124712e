"""The patient of the lesson on sight: her eye, the lens chosen for the place where it should lie, and what befalls it.

She reads a chart of letters with and without glasses, so that every result can be told in rows of that chart.
"""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..eye.lens import Lens
from ..hold.pose import Pose
from ..sight import refract
from ..sight.acuity import acuity
from ..sight.choose import power_for
from ..sight.refraction import in_words
from ..sight.spectacles import fitted
from ..sight.spread import point_spread
from .cases import EYE, LENS, settled

ROW = 0.1
"""One row of the chart [logMAR]; that a loss of more than one row matters is chosen for teaching."""
SHELF = 0.5
"""Step in which lenses are made [D]: common practice, no source."""
_GLARE = 0.05  # share of the light beside the optic that is worth a word; chosen for teaching
DAY, NIGHT = 3.0, 5.0
"""Pupils [mm] of the lesson, as diameters of the beam at the cornea: by day and at night, chosen for teaching."""
BAG_DEPTH = 4.9
"""Chamber depth after the operation for which a power
is usually chosen, a lens in its capsule [mm]; chosen for teaching."""
SPHERICAL = LENS
ASPHERIC = Lens(anterior_radius=11.0629, anterior_q=-6.0, posterior_radius=-22.0, optic_thickness=0.85, index=1.491)
"""An optic that takes away most of the cornea's spherical aberration; its shape is chosen for teaching."""


def on_the_shelf(power):
    """Power [D] of the nearest lens that is made."""
    return (SHELF * np.round(np.asarray(power) / SHELF))[()]


@functools.cache
def planned_pose():
    """Pose at which the lens of the lesson should lie: where the usual passes lay it."""
    pose = settled()
    return Pose(z=float(pose.z), roll=float(pose.roll))


def chosen_lens(lens=SPHERICAL, eye=EYE, pose=None):
    """Lens of this shape whose power was chosen from the shelf for where it should lie."""
    pose = planned_pose() if pose is None else pose
    return lens.with_power(on_the_shelf(power_for(eye, lens, pose)))


def moved(pose, *, deeper=0.0, **changes):
    """Pose of a lens that came to lie elsewhere.

    Parameters
    ----------
    pose : Pose or Settled
        Where it should lie.
    deeper : float or array [mm]
        Further from the iris; negative is nearer to it.
    **changes
        Fields of `Pose` that are other than planned: x, y [mm], tilt, tilt_meridian, roll [deg].

    Returns
    -------
    Pose
    """
    fields = {name: getattr(pose, name) for name in ("x", "y", "z", "tilt", "tilt_meridian", "roll")}
    unknown = set(changes) - set(fields)
    if unknown:
        raise LearnerError(
            f"moved: {sorted(unknown)[0]!r} is no field of a pose; choose among deeper, {', '.join(fields)}."
        )
    fields |= changes
    return Pose(**{**fields, "z": np.asarray(fields["z"]) - deeper})


def patient(lens=None, pupil=DAY, eye=EYE, **changes):
    """Trace what the patient of the lesson sees, her lens moved as `moved` says; in its place if nothing is said."""
    lens = chosen_lens() if lens is None else lens
    return refract(eye, lens, moved(planned_pose(), **changes), pupil)


def reads(sight, spectacles=None):
    """How small a row is read, an `Acuity`; with glasses [Refraction] or, by default, without."""
    return acuity(point_spread(sight, spectacles=spectacles))


def reads_at_best(sight):
    """How small a row is read with the best glasses, an `Acuity`."""
    return fitted(sight).best


def row_words(read):
    """Row of an `Acuity` in words: "20/40 (0.5)"."""
    return f"{read.snellen} ({read.decimal})"


def sight_words(sight):
    """Say in one line what a single eye measures, which glasses it gets and what it reads."""
    found = fitted(sight)
    worn = f"with {in_words(found.glasses)} {row_words(found.best)}" if found.glasses.blur else "with glasses no better"
    return f"{in_words(sight)}; reads {row_words(found.read)}, {worn}"


def refraction_words(refraction):
    """Say what an eye needs in glasses, as it is prescribed: "+0.57 D"."""
    return in_words(refraction)


def sight_matters(sight, planned):
    """Say in one line whether what a patient sees matters, whether glasses mend it, and because of what.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    planned : Sight
        The same eye at the same pupil with the lens where it should lie.
    """
    return fitted_matters(fitted(sight), fitted(planned))


def fitted_matters(found, goal, row=ROW):
    """`sight_matters` of eyes whose glasses have been found, each a `sight.spectacles.Fitted`.

    `row` [logMAR]: a larger loss is noticed; one row of the chart, chosen for teaching.
    """
    words = _reading_matters(found, goal, row)
    haze = found.before.haze
    return words if haze < _GLARE else f"{words} But {100 * haze:.0f} % of the light misses the optic: glare."


def _reading_matters(found, goal, row):
    lost, kept = loss(found.read, goal.read), loss(found.best, goal.best)
    read, best, wanted = row_words(found.read), row_words(found.best), row_words(goal.read)
    if kept > row:
        wanted = row_words(goal.best)
        return f"It matters, and glasses do not mend it: {best} at best instead of {wanted}, {_larger(kept)}."
    if lost > row:
        worn = f"with {in_words(found.glasses)} it is {best}"
        return f"It matters until there are glasses: {read} instead of {wanted}, {_larger(lost)}; {worn}."
    if lost < 0.02:
        return f"It does not matter for reading: {read}, as with the lens in its place."
    return f"It does not matter for reading: {read} instead of {wanted}, {_larger(lost)}."


def _larger(lost):
    """Say how much larger letters have to be for a loss [logMAR]."""
    times = 10.0**lost
    if not np.isfinite(times):
        return "no letter is large enough"
    return f"letters {times:.1f} times as large" if times >= 1.95 else f"letters {100.0 * (times - 1.0):.0f} % larger"


def loss(read, goal):
    """How much larger [logMAR] the letters have to be than in `goal`; infinite if nothing is read."""
    if not np.isfinite(read.logmar):
        return np.inf
    return float(read.logmar - goal.logmar)
