"""The smallest row still told apart: a matcher that compares what is seen with the letters it knows.

The matcher knows the sharp letters and not the blur. It correlates the seen letter, under a grain of noise, with each
of them and takes the best. Letter i at a size of s arcmin is taken for letter j by chance unless

    d(i, j) = s / noise  *  <seen letter i, t_i - t_j> / |t_i - t_j|,      t = letter / |letter|,

a distance in standard deviations of the noise, is large; it is right with the chance that all d exceed a normal
deviate, taken one by one. A row counts as read when three of five letters are right, which is common practice.

The noise is chosen for teaching, such that an eye without aberrations reads logMAR -0.1 by white light through a
3 mm pupil; no patient's retina, brain or patience is in it.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import plain_errors
from ..hold.cores import single_core
from .letters import LETTERS, ink, size_names
from .spread import PointSpread, point_spread

NOISE = 0.27
"""Noise [arcmin]: root of its spectral density, against ink of contrast one; chosen for teaching, see above."""
READ = 0.6
"""Share of letters right at which a row counts as read [1]: three of five."""
SIZES = np.round(np.arange(-0.4, 2.01, 0.1), 1)
"""Sizes that are tried [logMAR]."""

_CELLS = 8
"""Cells to a unit when letters are sampled."""
_COARSEST, _FINEST = 1.0, 6.0
"""Detail that counts [cycles per letter]; coarser detail says how much ink there is, not which letter."""


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class Acuity:
    """How small a letter an eye reads.

    Attributes
    ----------
    logmar : float [1]
        Size at which three of five letters are right; nan if not even 20/2000 is read.
    """

    logmar: float

    @property
    def row(self):
        """Row [logMAR] of the chart that is read: the next whole step up; inf if none."""
        return float(np.ceil(round(10.0 * self.logmar, 1) - 0.25) / 10.0) if np.isfinite(self.logmar) else np.inf

    @property
    def fraction(self):
        """The row as 20/x."""
        return size_names(self.row)[0] if np.isfinite(self.row) else "less than 20/2000"

    @property
    def decimal(self):
        """The row as a decimal."""
        return size_names(self.row)[1] if np.isfinite(self.row) else "less than 0.01"

    def __repr__(self):
        if not np.isfinite(self.logmar):
            return "Acuity: less than 20/2000"
        return f"Acuity: reads {self.fraction} (decimal {self.decimal}), logMAR {self.logmar + 0.0:.2f}"


@plain_errors
def acuity(spread) -> Acuity:
    """Estimate the smallest row an eye reads. Raises LearnerError if it is neither, or several eyes.

    Parameters
    ----------
    spread : PointSpread or Sight
        What is seen; of a single eye. A sight is read without glasses, by white light.

    Notes
    -----
    An estimate for teaching, by the matcher described above. It agrees with *Relation between spherical refractive
    error and visual acuity*, Optometry and Vision Science 1991;68:591, in that the smallest letter grows in proportion
    to pupil and defocus.
    """
    if not isinstance(spread, PointSpread):
        spread = point_spread(spread)
    right = letters_right(spread, SIZES)
    unread = np.flatnonzero(right < READ)
    if len(unread) == 0:
        return Acuity(float(SIZES[0]))
    last = unread[-1]  # larger rows are read, this one is not
    if last == len(SIZES) - 1:
        return Acuity(float("nan"))
    low, high = (np.log(p / (1.0 - p)) for p in np.clip(right[last : last + 2], 1e-6, 1.0 - 1e-6))
    goal = np.log(READ / (1.0 - READ))
    return Acuity(float(SIZES[last] + (SIZES[last + 1] - SIZES[last]) * (goal - low) / (high - low)))


def letters_right(spread, sizes):
    """Share of letters told right at sizes (n,) [logMAR].

    Parameters
    ----------
    spread : PointSpread
    sizes : (n,) array [logMAR]
    """
    return letter_shares(spread, sizes).mean(axis=1)


@single_core
def letter_shares(spread, sizes):
    """Share of times that each letter is told right, (n, letters), at sizes (n,) [logMAR].

    Parameters
    ----------
    spread : PointSpread
    sizes : (n,) array [logMAR]
    """
    from scipy.special import ndtr

    frequency, weights = _matcher(tuple(LETTERS))
    sizes = np.asarray(sizes, float)
    height = 5.0 * 10.0**sizes  # arcmin
    number = len(LETTERS)
    across = 60.0 * frequency[frequency >= 0.0] / height[:, None]  # cycles per degree
    upwards = 60.0 * frequency / height[:, None]
    seen = spread.otfs(across, upwards).reshape(len(sizes), -1)
    distance = seen.real @ weights.real.T + seen.imag @ weights.imag.T
    distance = distance.reshape(-1, number, number - 1) * (height / NOISE)[:, None, None]
    return np.prod(ndtr(distance), axis=-1)


@functools.lru_cache
def _matcher(letters):
    """Frequencies [cycles per letter], and for each pair what each frequency adds to the distance.

    Weights are for the half plane of frequencies to the right, where the other half repeats it.
    """
    cells = 5 * _CELLS
    drawn = np.stack([np.pad(ink(letter, cells), cells // 2) for letter in letters])  # a window of two letters
    frequency = np.fft.fftshift(np.fft.fftfreq(2 * cells, 1.0 / (2 * cells))) / 2.0
    waves = np.fft.fftshift(np.fft.fft2(drawn), axes=(1, 2)) / cells**2
    kept = np.abs(frequency) <= _FINEST
    frequency, waves = frequency[kept], waves[:, kept][:, :, kept]
    bin_ = 0.25  # each is half a cycle per letter both ways
    shapes = waves * (np.hypot(frequency, frequency[:, None]) >= _COARSEST)
    shapes /= np.sqrt(np.sum(np.abs(shapes) ** 2, axis=(1, 2)) * bin_)[:, None, None]
    half = frequency >= 0.0
    twice = np.where(frequency[half] > 0.0, 2.0, 1.0) * bin_
    rows = []
    for i in range(len(letters)):
        for j in range(len(letters)):
            if i != j:
                apart = shapes[i] - shapes[j]
                size = np.sqrt(np.sum(np.abs(apart) ** 2) * bin_)
                rows.append((np.conj(waves[i] * np.conj(apart) / size)[:, half] * twice).ravel())
    return frequency, np.array(rows)
