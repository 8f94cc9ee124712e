"""Does it matter for reading? What an eye reads, in lines of the letter chart, and a verdict on what was lost.

All limits are chosen for teaching.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..sight.acuity import acuity
from ..sight.letters import size_names
from ..sight.refraction import in_words
from ..sight.spectacles import GlassesFit, fit_glasses
from ..sight.spread import point_spread

_ROW = 0.1
"""One row of the chart [logMAR]."""
MATTERS = 2
"""Rows that have to be lost before it matters for reading; chosen for teaching."""
ENOUGH = 0.1
"""Row [logMAR] that is good enough for reading, 20/25, however well the eye would read otherwise; likewise."""
_POOR = 0.3
"""Row [logMAR], 20/40: a lens that leaves less even in its place is itself the matter; likewise."""
_GLARE = 0.05  # share of the light beside the optic that is worth a word; chosen for teaching
_COUNTED = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def reads(sight, spectacles=None):
    """How small a row is read, an `Acuity`.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    spectacles : Refraction or None
        Glasses [D]; by default none.
    """
    return acuity(point_spread(sight, spectacles=spectacles))


def reads_at_best(sight):
    """How small a row is read with the best glasses, an `Acuity`."""
    return fit_glasses(sight).best


def logmar_lost(read, goal):
    """How much larger [logMAR] the letters have to be than in `goal`; infinite if nothing is read.

    Parameters
    ----------
    read, goal : Acuity
    """
    return float(read.logmar - goal.logmar) if np.isfinite(read.logmar) else np.inf


def rows_lost(read, goal):
    """How many rows of the chart are read less than in `goal`; negative if more are, infinite if none is read.

    Parameters
    ----------
    read, goal : Acuity
    """
    if not np.isfinite(read.row):
        return np.inf if np.isfinite(goal.row) else 0
    return int(round((read.row - goal.row) / _ROW)) if np.isfinite(goal.row) else -np.inf


def _is_lost(read, goal):
    """Whether so much less is read than in `goal` that it matters for reading."""
    return rows_lost(read, goal) >= MATTERS and read.row > ENOUGH + 0.5 * _ROW


def row_words(read):
    """Row of an `Acuity` in words: "20/40 (0.5)"."""
    return f"{read.fraction} ({read.decimal})"


def sight_words(sight):
    """Say in one line what a single eye measures, which glasses it gets and what it reads."""
    fit = fit_glasses(sight)
    worn = f"with {in_words(fit.glasses)}: {row_words(fit.best)}" if fit.glasses.blur else "with glasses no better"
    return f"{in_words(sight)}; reads {row_words(fit.read)}, {worn}"


def judge_sight(sight, planned) -> SightVerdict:
    """Judge whether what a patient sees matters, whether glasses correct it, and because of what.

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
        return _is_lost(self.now.best, self.planned.best)

    @property
    def without_glasses(self) -> bool:
        """Whether reading is lost as long as there are no glasses."""
        return _is_lost(self.now.read, self.planned.read)

    @property
    def poor_in_place(self) -> bool:
        """Whether this lens leaves little even where it should lie, at this pupil."""
        return self.planned.read.row > _POOR

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
            words = f"{_in_place_words(self.planned)} {beyond}"
        if self.glare:
            words += f" But {100 * self.now.before.haze:.0f} % of the light misses the optic: glare."
        return words

    __repr__ = __str__

    def _compared(self, it):
        now, planned = self.now, self.planned
        read, best = row_words(now.read), row_words(now.best)
        if self.beyond_glasses:
            instead = f"instead of {row_words(planned.best)}, {_lost_words(now.best, planned.best)}"
            return f"{it} matters, and glasses do not correct it: {best} at best {instead}."
        instead = f"instead of {row_words(planned.read)}, {_lost_words(now.read, planned.read)}"
        if self.without_glasses:
            enough = ", enough for reading" if rows_lost(now.best, planned.best) >= MATTERS else ""
            worn = f"with {in_words(now.glasses)} it is {best}{enough}"
            return f"{it} matters until there are glasses: {read} {instead}; {worn}."
        rows = rows_lost(now.read, planned.read)
        if rows == 0:
            return f"{it} does not matter for reading: {read}, as with the lens in its place."
        enough = f", and {size_names(ENOUGH)[0]} is enough" if rows >= MATTERS else ""
        return f"{it} does not matter for reading: {read} {instead}{enough}."


def _in_place_words(planned):
    """Say what a lens leaves even in its place."""
    left = f"Even in its place this lens leaves {row_words(planned.read)} at this pupil"
    if not planned.glasses.blur:
        return f"{left}, and glasses make it no better."
    return f"{left}, with {in_words(planned.glasses)}: {row_words(planned.best)}."


def _lost_words(read, goal):
    """Say how many rows worse or better than in `goal`: "four lines worse: letters 2.5 times as large"."""
    rows = rows_lost(read, goal)
    if not np.isfinite(rows):
        return "no letter is large enough" if rows > 0 else "where no letter was large enough"
    many = _COUNTED[abs(rows)] if abs(rows) < len(_COUNTED) else str(abs(rows))
    words = f"{many} line{'' if abs(rows) == 1 else 's'} {'worse' if rows > 0 else 'better'}"
    return words if rows < 3 else f"{words}: letters {10.0 ** (_ROW * rows):.2g} times as large"
