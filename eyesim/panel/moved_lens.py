"""What a patient sees whose lens was moved away from where it should lie: image, glasses, verdict and words."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..draw.letters import compared_charts, letter_chart
from ..draw.picture import Picture
from ..draw.views import side_view
from ..eye.checks import LearnerError
from ..eye.frames import whole_degrees
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.contact import touches
from ..hold.pose import Pose
from ..lesson.patient import DAY, moved
from ..sight import Sight, refract
from ..sight.refraction import in_words
from ..sight.spectacles import GlassesFit, fit_glasses
from ..study.sight_verdict import MATTERS, SightVerdict, row_words, rows_lost
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .controls import words_alone


@dataclasses.dataclass(frozen=True, eq=False)
class Vision:
    """What is seen with the lens moved as values say; `sight` and what follows from it is None where nothing is.

    Attributes
    ----------
    values : dict
        See `MovedLens`.
    pose : Pose
    touched : str
        What the optic would touch: "cornea", "iris" or, of neither, "".
    power : float [D]
        Of the lens that was chosen.
    sight : Sight or None
    fit : GlassesFit or None
        Without glasses and with the best ones.
    planned, usual : GlassesFit or None
        With the lens where it should lie: at this pupil, and at that of the day.
    reason : str
        Why nothing is seen.
    """

    values: dict
    pose: Pose
    touched: str
    power: float
    sight: Sight | None = None
    fit: GlassesFit | None = None
    planned: GlassesFit | None = None
    usual: GlassesFit | None = None
    reason: str = ""

    @property
    def settled(self):
        """Whether there is something to see."""
        return self.sight is not None

    @property
    def verdict(self):
        """Whether it matters for reading, a `SightVerdict`; None where nothing is seen."""
        return SightVerdict(self.fit, self.planned) if self.settled else None

    @property
    def words(self):
        """All but the verdict, in words."""
        if not self.settled:
            return f"{self.reason} {self._touched}".rstrip()
        v, sight = self.values, self.sight
        power = f"; its power is {v['power']:.1f} D instead of {self.power:.1f} D" if v["power"] != self.power else ""
        beside = (
            f", {100 * sight.missed_light:.0f} % of the light beside the optic" if sight.missed_light >= 0.005 else ""
        )
        words = (
            f"The patient reads {reading_words(self.fit)}. The lens lies {_where(v)}{power}. Chamber depth "
            f"{sight.chamber_depth:.2f} mm, pupil {v['pupil']:.1f} mm. Over the whole pupil the eye measures "
            f"{in_words(sight)}; coma (a smear to one side) {sight.coma:.2f} um{beside}."
        )
        return " ".join(part for part in (words, self._of_the_pupil, self._touched) if part)

    @property
    def _of_the_pupil(self):
        """Say what the pupil alone costs, if it costs two rows: that is not the lens's place."""
        read = self.planned.read
        if rows_lost(read, self.usual.read) < MATTERS or self.verdict.poor_in_place:  # which the verdict says first
            return ""
        return f"At this pupil {row_words(read)} is read even with the lens in its place."

    @property
    def _touched(self):
        """Say what the optic would touch, if anything; the picture shows it going through."""
        part = self.touched
        return f"So placed, the optic would touch the {part}; the model lets it through." if part else ""


class MovedLens:
    """A lens that can be moved away from where it should lie.

    Values are a dict: deeper [mm], tilt, tilt_towards [deg], off [mm], off_towards [deg], pupil [mm], power [D] and, of
    a toric lens, turn [deg].

    Parameters
    ----------
    eye : Eye
    lens : Lens
        With the power that was chosen.
    planned : Pose
        Where it should lie.
    """

    def __init__(self, eye: Eye, lens: Lens, planned: Pose):
        self.eye, self.lens, self.planned = eye, lens, planned
        self.power = float(round(lens.power, 1))
        self._planned_at = functools.lru_cache(maxsize=8)(self._see_planned)
        self._seen = functools.lru_cache(maxsize=4)(self._see)

    def see(self, values):
        """Trace what is seen with the lens moved as values say: a `Vision`."""
        return self._seen(*values.items())

    def from_the_side(self, values, compare, along):
        """Picture of the lens from the side; words where it cannot be drawn.

        Parameters
        ----------
        values : dict
        compare : Pose
            Drawn in dashes.
        along : float [deg]
            Meridian of the section.
        """
        pupil = float(np.clip(values["pupil"] * 0.9, 0.5, 9.0))  # the cornea enlarges it
        look = {"eye": self.eye, "lens": self._lens(values), "along": along, "pupil": pupil}
        try:
            return side_view(self._pose(values), compare=compare, **look)
        except LearnerError as error:
            return Picture(words_alone(str(error)), str(error))

    def _see_planned(self, pupil):
        return fit_glasses(refract(self.eye, self.lens, self.planned, pupil))

    def _see(self, *items):
        values = dict(items)
        pose, lens = self._pose(values), self._lens(values)
        there = values, pose, touches(self.eye, lens, pose, DAY), self.power
        try:
            sight = refract(self.eye, lens, pose, values["pupil"], on_failure="raise")
            return Vision(*there, sight, fit_glasses(sight), self._planned_at(values["pupil"]), self._planned_at(DAY))
        except LearnerError as error:
            return Vision(*there, reason=str(error))

    def _lens(self, values):
        power = values["power"]
        return self.lens if abs(power - self.power) < 1e-9 else self.lens.with_power(power)

    def _pose(self, v):
        phi = np.radians(v["off_towards"])
        changes = {"x": self.planned.x + v["off"] * np.cos(phi), "y": self.planned.y + v["off"] * np.sin(phi)}
        if v["tilt"]:
            changes |= {"tilt": v["tilt"], "tilt_meridian": v["tilt_towards"]}
        return moved(self.planned, deeper=v["deeper"], roll=self.planned.roll + v.get("turn", 0.0), **changes)


def chart_of(seen, kept=None):
    """Letter chart of what is seen, beside that of what was kept.

    Parameters
    ----------
    seen : Vision
        With something to see.
    kept : Vision or None
    """
    return letter_chart(seen.sight, found=seen.fit) if kept is None else compared_charts(kept.fit, seen.fit)


def steepest(v):
    """Key of the meridian that a section should take: of shift or tilt, whichever is the larger part of its limit."""
    shifted = v["off"] / DECENTRATION_LIMIT > v["tilt"] / TILT_LIMIT
    return "tilt_towards" if v["tilt"] and not shifted else "off_towards"


def reading_words(found):
    """Say which row is read without glasses, and with them, of a `GlassesFit`."""
    if found.glasses.blur:
        return f"{row_words(found.read)}, with {in_words(found.glasses)}: {row_words(found.best)}"
    return f"{row_words(found.read)} and {'needs no glasses' if found.read.row <= 0.0 else 'no better with glasses'}"


def _where(v):
    """Say how a lens lies against where it should, in the fewest words that tell it."""
    words = []
    if v["deeper"]:
        words.append(f"{abs(v['deeper']):.2f} mm {'deeper' if v['deeper'] > 0 else 'nearer to the iris'} than planned")
    if v["tilt"]:
        words.append(f"tilted {v['tilt']:.1f} deg towards {whole_degrees(v['tilt_towards'])} deg")
    if v["off"]:
        words.append(f"{v['off']:.2f} mm off centre towards {whole_degrees(v['off_towards'])} deg")
    if v.get("turn"):
        words.append(f"turned {v['turn']:.0f} deg")
    return ", ".join(words) or "where it should"
