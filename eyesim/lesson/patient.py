"""The patient of the lesson on sight: her eye, the lens chosen for the place where it should lie, and what befalls it.

She reads a chart of letters with and without glasses, so that every result can be told in rows of that chart.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import LearnerError, number, short
from ..eye.globe import sag
from ..eye.lens import Lens
from ..hold.pose import Pose
from ..sight import refract
from ..sight.acuity import acuity
from ..sight.choose import power_for
from ..sight.letters import size_names
from ..sight.refraction import in_words
from ..sight.spectacles import GlassesFit, fit_glasses
from ..sight.spread import point_spread
from .cases import EYE, LENS, settled

ROW = 0.1
"""One row of the chart [logMAR]."""
MATTERS = 2
"""Rows that have to be lost before it matters for reading; chosen for teaching."""
ENOUGH = 0.1
"""Row [logMAR] that is good enough for reading, 20/25, however well the eye would read otherwise; likewise."""
POOR = 0.3
"""Row [logMAR], 20/40: a lens that leaves less even in its place is itself the matter; likewise."""
SHELF = 0.5
"""Step in which lenses are made [D]: common practice, no source."""
_FLAT = 1e-3  # [deg] of tilt below which a lens leans nowhere
_GLARE = 0.05  # share of the light beside the optic that is worth a word; chosen for teaching
_COUNTED = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
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
        Fields of `Pose` that are other than planned: x, y [mm], tilt, tilt_meridian, roll [deg]. A lens that was flat
        leans towards 0 deg unless a meridian is given.

    Returns
    -------
    Pose

    Raises
    ------
    LearnerError
        If it is no pose, or a change is none.
    """
    if not isinstance(pose, Pose):
        raise LearnerError(f"moved takes a Pose, such as es.settle(...) gives it, first; {short(pose)} was given.")
    deeper = number("moved", "deeper", deeper, -10.0, 10.0, "mm", "further from the iris; negative is nearer to it")
    fields = {name: getattr(pose, name) for name in ("x", "y", "z", "tilt", "tilt_meridian", "roll")}
    unknown = set(changes) - set(fields)
    if unknown:
        raise LearnerError(
            f"moved: {sorted(unknown)[0]!r} is no field of a pose; choose among deeper, {', '.join(fields)}."
        )
    flat = np.asarray(pose.tilt) < _FLAT  # its meridian is that of a rounding
    fields["tilt_meridian"] = np.where(flat, 0.0, pose.tilt_meridian)[()]
    moved_to = Pose(**fields | changes)
    return moved_to.but(z=np.asarray(moved_to.z) - deeper)


def patient(lens=None, pupil=DAY, eye=EYE, **changes):
    """Trace what the patient of the lesson sees, her lens moved as `moved` says; in its place if nothing is said."""
    lens = chosen_lens() if lens is None else lens
    return refract(eye, lens, moved(planned_pose(), **changes), pupil)


def reads(sight, spectacles=None):
    """How small a row is read, an `Acuity`; with glasses [Refraction] or, by default, without."""
    return acuity(point_spread(sight, spectacles=spectacles))


def reads_at_best(sight):
    """How small a row is read with the best glasses, an `Acuity`."""
    return fit_glasses(sight).best


def row_words(read):
    """Row of an `Acuity` in words: "20/40 (0.5)"."""
    return f"{read.fraction} ({read.decimal})"


def sight_words(sight):
    """Say in one line what a single eye measures, which glasses it gets and what it reads."""
    found = fit_glasses(sight)
    worn = f"with {in_words(found.glasses)} {row_words(found.best)}" if found.glasses.blur else "with glasses no better"
    return f"{in_words(sight)}; reads {row_words(found.read)}, {worn}"


def refraction_words(refraction):
    """Say what an eye needs in glasses, as it is prescribed: "+0.57 D"."""
    return in_words(refraction)


def sight_matters(sight, planned):
    """Judge whether what a patient sees matters, whether glasses mend it, and because of what: a `SightVerdict`.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    planned : Sight
        The same eye at the same pupil with the lens where it should lie.
    """
    return SightVerdict(fit_glasses(sight), fit_glasses(planned))


@dataclasses.dataclass(frozen=True, repr=False)
class SightVerdict:
    """Whether what a patient reads matters; its text is the sentence for the learner.

    Rows are counted as the chart shows them. It matters if `MATTERS` rows are lost and what is left is less than
    `ENOUGH`; limits chosen for teaching.

    Attributes
    ----------
    now, planned : GlassesFit
        Without glasses and with the best ones: as the lens lies, and with it where it should lie.
    """

    now: GlassesFit
    planned: GlassesFit

    @property
    def beyond_glasses(self) -> bool:
        """Whether reading is lost that no glasses bring back."""
        return is_lost(self.now.best, self.planned.best)

    @property
    def without_glasses(self) -> bool:
        """Whether reading is lost as long as there are no glasses."""
        return is_lost(self.now.read, self.planned.read)

    @property
    def poor_in_place(self) -> bool:
        """Whether this lens leaves little even where it should lie, at this pupil."""
        return self.planned.read.row > POOR

    @property
    def glare(self) -> bool:
        """Whether so much light misses the optic that it dazzles."""
        return self.now.before.haze >= _GLARE

    @property
    def matters(self) -> bool:
        """Whether it matters for reading."""
        return self.beyond_glasses or self.without_glasses or self.poor_in_place

    def __str__(self):
        words = self._compared("It")
        if self.poor_in_place:
            same = rows_lost(self.now.read, self.planned.read) == 0 and not self.beyond_glasses
            beyond = "Nothing is lost beyond that." if same else self._compared("Beyond that it")
            words = f"{_poor_in_place(self.planned)} {beyond}"
        if self.glare:
            words += f" But {100 * self.now.before.haze:.0f} % of the light misses the optic: glare."
        return words

    __repr__ = __str__

    def _compared(self, it):
        now, planned = self.now, self.planned
        read, best = row_words(now.read), row_words(now.best)
        if self.beyond_glasses:
            instead = f"instead of {row_words(planned.best)}, {rows_words(now.best, planned.best)}"
            return f"{it} matters, and glasses do not mend it: {best} at best {instead}."
        instead = f"instead of {row_words(planned.read)}, {rows_words(now.read, planned.read)}"
        if self.without_glasses:
            enough = ", enough for reading" if rows_lost(now.best, planned.best) >= MATTERS else ""
            worn = f"with {in_words(now.glasses)} it is {best}{enough}"
            return f"{it} matters until there are glasses: {read} {instead}; {worn}."
        rows = rows_lost(now.read, planned.read)
        if rows == 0:
            return f"{it} does not matter for reading: {read}, as with the lens in its place."
        enough = f", and {size_names(ENOUGH)[0]} is enough" if rows >= MATTERS else ""
        return f"{it} does not matter for reading: {read} {instead}{enough}."


def _poor_in_place(goal):
    """Say what a lens leaves even in its place."""
    left = f"Even in its place this lens leaves {row_words(goal.read)} at this pupil"
    if not goal.glasses.blur:
        return f"{left}, and glasses make it no better."
    return f"{left}, with {in_words(goal.glasses)} {row_words(goal.best)}."


def rows_lost(read, goal):
    """How many rows of the chart are read less than in `goal`; negative if more are, infinite if none is read."""
    if not np.isfinite(read.row):
        return np.inf if np.isfinite(goal.row) else 0
    return int(round((read.row - goal.row) / ROW)) if np.isfinite(goal.row) else -np.inf


def is_lost(read, goal):
    """Whether so much less is read than in `goal` that it matters for reading."""
    return rows_lost(read, goal) >= MATTERS and read.row > ENOUGH + 0.5 * ROW


def rows_words(read, goal):
    """Say how many rows worse or better than in `goal`: "four rows worse: letters 2.5 times as large"."""
    rows = rows_lost(read, goal)
    if not np.isfinite(rows):
        return "no letter is large enough" if rows > 0 else "where no letter was large enough"
    number_of = min(abs(rows), len(_COUNTED) - 1)
    many = _COUNTED[number_of] if abs(rows) == number_of else str(abs(rows))
    words = f"{many} row{'' if abs(rows) == 1 else 's'} {'worse' if rows > 0 else 'better'}"
    return words if rows < 3 else f"{words}: letters {10.0 ** (ROW * rows):.2g} times as large"


def touches(eye, lens, pose):
    """Name what the optic of a single pose would touch: "cornea", "iris" or, of neither, "".

    Only the place is asked: the model leaves out that both would push back. The iris is its plane, around the light
    of a `DAY` pupil, and is touched from behind.
    """
    half, steps = float(lens.optic_diameter) / 2.0, np.linspace(0.0, 1.0, 13)
    r, phi = np.meshgrid(half * steps, np.linspace(0.0, 2.0 * np.pi, 73))
    face = (lens.anterior_radius, lens.anterior_q)
    if lens.flipped:
        face = (-lens.posterior_radius, lens.posterior_q)
    front = lens.optic_thickness / 2.0 - sag(r, *face)
    points = np.stack([r * np.cos(phi), r * np.sin(phi), front], axis=-1) @ np.asarray(pose.rotation).T
    x, y, z = np.moveaxis(points + [pose.x, pose.y, pose.z], -1, 0)
    h = np.hypot(x, y)
    back = eye.limbal_depth - eye.corneal_thickness - sag(h, eye.posterior_corneal_radius, eye.posterior_corneal_q)
    if np.any(z > back):
        return "cornea"
    beside = np.hypot(x - eye.pupil_x, y - eye.pupil_y) > DAY / 2.0
    return "iris" if np.any(beside & (z > eye.iris_z)) else ""


def loss(read, goal):
    """How much larger [logMAR] the letters have to be than in `goal`; infinite if nothing is read."""
    if not np.isfinite(read.logmar):
        return np.inf
    return float(read.logmar - goal.logmar)
