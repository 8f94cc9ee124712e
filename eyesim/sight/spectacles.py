"""The best glasses for an eye: found by the image they give, not by a formula.

Glasses are judged by how much contrast the image keeps of the detail that an eye cares for: the mean of the
modulation transfer function over all frequencies and directions, weighted by contrast sensitivity,

    CSF(f) = 2.6 (0.0192 + 0.114 f) exp(-(0.114 f)^1.1),   f in cycles per degree.

The search begins at the refractions of the whole pupil and of its middle, which differ where glasses cannot mend
everything, climbs from the better of the places between them, and comes to glasses as they are made: sphere and
cylinder in quarter dioptres, the axis in whole degrees. From there quarter dioptres are added or taken off for as long
as letters near the limit are read better, as at any refraction. Glasses are given only if they help to read.

Sources: *The effects of a visual fidelity criterion on the encoding of images*, IEEE Transactions on Information
Theory 1974;20:525 (formula as quoted in open code; it has normal optics in it); that such a measure finds glasses well:
*Accuracy and precision of objective refraction from wavefront aberrations*, Journal of Vision 2004;4:329,
DOI 10.1167/4.4.9, from memory.
"""

from __future__ import annotations

import functools
from typing import NamedTuple

import numpy as np

from ..eye.checks import plain_errors
from ..hold.cores import single_core
from .acuity import Acuity, acuity, letters_right
from .pupil import REFERENCE, glasses_on, wavefront_on
from .refraction import Refraction
from .spread import PointSpread, gap_of, point_spread, rays_of, single, spread_of

VERTEX = 12.0
"""Glasses before the cornea [mm]; common practice."""
STEP = 0.25
"""Step in which glasses are made [D]."""
_MOST_SPHERE, _MOST_CYLINDER = 40.0, 30.0
"""Strongest glasses that are tried [D]; chosen for teaching."""
_CLIMB = (0.5, 0.25, 0.125)
_ROUNDS = 6
_POLISHES = 8
_TELLING = 0.02
"""Gain in letters, of four sizes together, for which glasses are changed by a quarter dioptre [1]."""
_GAIN = 0.02
"""Glasses are given only if they win at least this much logMAR, a letter of a row [1]."""


@plain_errors
def best_spectacles(sight, *, vertex_distance=VERTEX):
    """Find the glasses with which an eye sees best.

    Raises LearnerError if it is not a single eye that sees, or no glasses at that distance could correct it.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    vertex_distance : float [mm]
        Of the glasses before the cornea; 0 gives the correction at the cornea itself.

    Returns
    -------
    Refraction
        Of the glasses, sphere and cylinder in quarter dioptres and axis in whole degrees; none at all (0 D) where
        glasses do not help this eye to read.
    """
    return fit_glasses(sight, vertex_distance=vertex_distance).glasses


class GlassesFit(NamedTuple):
    """An eye without and with its best glasses; both the same where glasses do not help it.

    Attributes
    ----------
    glasses : Refraction
        0 D where they do not help.
    before, after : PointSpread
    read, best : Acuity
        Without and with glasses.
    """

    glasses: Refraction
    before: PointSpread
    after: PointSpread
    read: Acuity
    best: Acuity


@single_core
def fit_glasses(sight, *, vertex_distance=VERTEX):
    """Find the best glasses, and what an eye sees without and with them; parameters as in `best_spectacles`.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    vertex_distance : float [mm]
    """
    zernike, pupil = single(sight), float(sight.pupil)
    traced = rays_of(sight) if sight.missed_light > 0.0 else None
    gap = gap_of(sight, vertex_distance)
    before = point_spread(sight)
    read = acuity(before)
    bare = GlassesFit(Refraction(0.0), before, before, read, read)
    power, keeps = best_power(zernike, pupil, [_vector(sight), _vector(sight.paraxial)], traced)
    glasses = round_glasses(power, gap, keeps)
    if glasses is None:
        return bare

    def worn(glasses, light="white"):
        at_eye = glasses.at_spectacles(-gap)
        return spread_of(zernike, pupil, at_eye, light=light, traced=traced, haze=float(sight.missed_light))

    glasses = _polished(glasses, lambda one: worn(one, REFERENCE))
    after = worn(glasses) if glasses.blur else before
    best = acuity(after)
    return GlassesFit(glasses, before, after, read, best) if _logmar(best) <= _logmar(read) - _GAIN else bare


def _polished(glasses, worn):
    """Add or take off quarter dioptres for as long as letters near the limit of reading are told better.

    `worn` gives the spread of light through glasses; one colour is enough to choose them by.
    """
    sizes = np.array([-0.2, -0.1, 0.0, 0.1]) + np.clip(_logmar(acuity(worn(glasses))), -0.2, 1.8)
    known = {}

    def right(one):
        key = (float(one.sphere), float(one.cylinder))
        if key not in known:
            known[key] = letters_right(worn(one), sizes).sum()
        return known[key]

    for _ in range(_POLISHES):
        better = max([glasses, *_next_to(glasses)], key=right)
        if right(better) <= right(glasses) + _TELLING:
            return glasses
        glasses = better
    return glasses


def _next_to(glasses):
    """Glasses a quarter dioptre away in sphere, in cylinder, or against each other; the axis stays."""
    sphere, cylinder, axis = (float(v) for v in (glasses.sphere, glasses.cylinder, glasses.axis))
    steps = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, -1), (-1, 1))
    near = [(sphere + STEP * s, cylinder + STEP * c) for s, c in steps]
    return [Refraction.of(s, c, axis) for s, c in near if abs(s) <= _MOST_SPHERE and -_MOST_CYLINDER <= c <= 0.0]


def best_power(zernike, pupil, starts, traced=None):
    """Find the correction at the pupil that keeps most contrast, as a power vector (3,) [D].

    Parameters
    ----------
    zernike : (28,) array [um]
    pupil : float [mm]
    starts : list of two (3,) arrays [D]
        Where to begin; places between them are tried too.
    traced : as in `spread_of`

    Returns
    -------
    power : (3,) array [D]
    keeps : function of (n, 3) arrays
        Judges corrections; larger is better.
    """
    keeps = image_quality(zernike, pupil, traced)
    share = np.linspace(0.0, 1.0, 5)[:, None]
    tried = (1.0 - share) * starts[0] + share * starts[1]
    power = _best(tried, keeps)
    sides = np.concatenate([np.eye(3), -np.eye(3)])
    for step in _CLIMB:
        for _ in range(_ROUNDS):
            better = _best(np.concatenate([power[None], power + step * sides]), keeps)
            if np.array_equal(better, power):
                break
            power = better
    return power, keeps


def round_glasses(power, gap, keeps):
    """Glasses in steps as they are made, `gap` [mm] before the pupil, that keep most contrast near a correction.

    None where the far point is nearer than the glasses.

    Parameters
    ----------
    power : (3,) array [D]
        M, J0 and J45 at the pupil.
    gap : float [mm]
    keeps : callable
        From `image_quality`.
    """
    ideal = Refraction(*(np.array([value]) for value in power)).at_spectacles(gap)
    if not np.isfinite(ideal.M).all():
        return None
    ideal = Refraction(ideal.M[0], ideal.J0[0], ideal.J45[0])
    axis = float(np.round(ideal.axis)) or 180.0
    cylinders = _steps_near(ideal.cylinder, _MOST_CYLINDER)
    spheres, round_ = (_steps_near(value, _MOST_SPHERE) for value in (ideal.sphere, ideal.M))
    made = [Refraction.of(s, c, axis) for s in spheres for c in cylinders if c < 0.0]
    made += [Refraction.of(s) for s in round_]
    judged = keeps(np.array([_vector(one.at_spectacles(-gap)) for one in made]))
    return made[int(np.argmax(judged))]


def _steps_near(value, most):
    """Three values [D] as glasses are made, nearest to one that may be beyond what is made."""
    return [float(np.clip(STEP * (np.round(value / STEP) + k), -most, most)) for k in (-1.0, 0.0, 1.0)]


def contrast_sensitivity(frequency):
    """Sensitivity [1] to gratings, relative, at frequencies [cycles per degree]; the formula of the page above."""
    f = 0.114 * np.asarray(frequency, float)
    return 2.6 * (0.0192 + f) * np.exp(-(f**1.1))


def image_quality(zernike, pupil, traced):
    """Make the function that tells how much contrast corrections (n, 3) [D] keep: 1 for a perfect eye.

    Parameters
    ----------
    zernike : (28,) array [um]
    pupil : float [mm]
    traced : callable or None
        As of `wavefront_on`.
    """
    import scipy.fft

    cells = 32 if pupil <= 4.0 and traced is None else 64
    wavefront, amplitude = wavefront_on(cells, zernike, pupil, traced=traced)
    glasses = np.stack(glasses_on(cells, pupil))
    open_ = amplitude > 0.0
    flat, parts = wavefront[open_], glasses[:, open_]
    weight, whole = _weights(cells, pupil)

    def keeps(powers):
        turns = (flat + powers @ parts) * (1000.0 / REFERENCE)
        phase = ((turns - np.rint(turns)) * (2.0 * np.pi)).astype(np.float32)
        field = np.zeros((len(powers), 2 * cells, 2 * cells), np.complex64)
        field[:, :cells, :cells][:, open_] = np.cos(phase) + 1j * np.sin(phase)
        waves = scipy.fft.fft2(field)
        contrast = np.abs(scipy.fft.rfft2(np.square(waves.real) + np.square(waves.imag)))
        contrast /= contrast[:, :1, :1]
        return contrast.reshape(len(powers), -1) @ weight / whole

    return keeps


@functools.lru_cache(maxsize=32)
def _weights(cells, pupil):
    """Weights of the frequencies that `image_quality` sees, flat, and what a perfect eye makes of them."""
    step = pupil / cells * 1e6 / REFERENCE * np.pi / 180.0  # cycles per degree
    up = np.fft.fftfreq(2 * cells, 1.0 / (2 * cells)) * step
    right = np.arange(cells + 1) * step
    frequency = np.hypot(up[:, None], right)
    twice = np.where((right > 0.0) & (right < right[-1]), 2.0, 1.0)
    weight = contrast_sensitivity(frequency) * twice
    q = np.clip(frequency / (pupil * 1e6 / REFERENCE * np.pi / 180.0), 0.0, 1.0)
    perfect = 2.0 / np.pi * (np.arccos(q) - q * np.sqrt(1.0 - q * q))
    return weight.ravel().astype(np.float32), float(np.sum(weight * perfect))


def _best(powers, keeps):
    return powers[int(np.argmax(keeps(powers)))]


def _vector(refraction):
    return np.array([refraction.M, refraction.J0, refraction.J45], float)


def _logmar(read):
    return read.logmar if np.isfinite(read.logmar) else np.inf
