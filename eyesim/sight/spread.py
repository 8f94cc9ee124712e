"""How a point of light is spread on the retina: the seen image of a single star, and what it does to contrast.

A point far away would be seen as a point if the wavefront were flat. Each place of the pupil sends its light where
the wavefront's slope there points; what the patient sees is laid out in *object space*, as the patient looks at it::

     pupil, seen from in front            what the patient sees
          y ^                                  v ^
            |  W(x, y) [um]      ---->           |   angle [arcmin] = slope of W
            +----> x                             +----> u = -x (the patient's right is the observer's left)

With W = path(chief ray) - path(ray), a myopic eye has W = E r^2 / 2: a ray from the upper pupil lands below
on the retina, and is therefore seen above, at +dW/dy. So the seen angle is the slope itself, with no sign to add.

*diffraction*: the spread is the squared Fourier transform of the pupil function (light through the optic only). The
number of padded samples grows with the wavelength, so that all wavelengths come out on one grid of angles.
*geometric*: spots of rays from the slope, where the wavefront is too steep to be sampled; rings of diffraction are
then far finer than the blur. The result says which was used and why.

Left out: transverse colour, differences between rods and cones, the retina's preference for light from the middle of
the pupil, scatter, and the magnification of glasses.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import LearnerError, number, plain_errors, short
from ..hold.cores import single_core
from .optics import entrance_pupil
from .pupil import ARCMIN, diffract, spots, steepest_step, wavefront_on
from .refraction import Refraction, distance
from .sight import Sight
from .zernike import NUMBER

WAVELENGTHS = np.arange(480.0, 661.0, 30.0)
"""Wavelengths [nm] that stand for white light."""
SENSITIVITY = np.array([0.139, 0.503, 0.954, 0.952, 0.631, 0.265, 0.061])
"""Photopic sensitivity at them [1]: CIE 1924 luminous efficiency; white light of equal energy is assumed."""

CELLS = 64
"""Cells across the pupil for waves."""
_STEEP = 0.4
"""Largest step of the wavefront between samples, in wavelengths, that diffraction is given; 0.5 is the limit."""
_RAYS = 128
"""Rays across the pupil for the geometric spread."""


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class PointSpread:
    """How one eye sees a point.

    Attributes
    ----------
    psf : (k, k) array [1]
        Share of the light through the optic in each cell: first axis upwards, second to the patient's right.
    pitch : float [arcmin]
        Size of a cell.
    offset : pair of float [arcmin]
        Where the middle cell (k / 2, k / 2) lies: to the right, and up.
    haze : float [1]
        Share of the light that passes beside the optic, spread so wide that it only lowers contrast.
    method : "diffraction" or "geometric"
    why : str
        What decided the method.
    light : "white" or float [nm]
    pupil : float [mm]
        Diameter of the beam at the cornea.

    Notes
    -----
    Haze: light beside a 21 D lens is out of focus by some 15 D at the cornea, so even a crescent 1 mm wide is a
    patch of about 50 arcmin, and one of 3 mm 150 arcmin: larger than the top letter of the chart.
    """

    psf: np.ndarray
    pitch: float
    offset: tuple[float, float]
    haze: float
    method: str
    why: str
    light: object
    pupil: float

    @property
    def angles(self):
        """Angles [arcmin] of the cells' middles along one axis, without the offset."""
        return (np.arange(len(self.psf)) - len(self.psf) // 2) * self.pitch

    def otf(self, across, upwards):
        """Optical transfer function on a grid of frequencies, from the light through and beside the optic.

        Parameters
        ----------
        across, upwards : (n,), (m,) arrays [cycles per degree]

        Returns
        -------
        values : (m, n) complex array [1]
            1 at no frequency; the phase says where the grating is seen.
        """
        return self.otfs(np.atleast_1d(across)[None], np.atleast_1d(upwards)[None])[0]

    def otfs(self, across, upwards):
        """Optical transfer function on several grids at once: (s, n) and (s, m) frequencies give (s, m, n) values."""
        across, upwards = (np.asarray(f, np.float32) / np.float32(60.0) for f in (across, upwards))
        right = self._waves(across.ravel(), self.offset[0])
        small = self.psf.astype(np.float32)
        half = (right.real.copy() @ small.T) + 1j * (right.imag.copy() @ small.T)  # real products are twice as quick
        half = np.ascontiguousarray(half.reshape(*across.shape, -1).swapaxes(-1, -2))
        values = self._waves(upwards.ravel(), self.offset[1]).reshape(*upwards.shape, -1) @ half
        if self.haze:
            constant = (upwards == 0.0)[..., :, None] & (across == 0.0)[..., None, :]
            values = (1.0 - self.haze) * values + self.haze * constant
        return values

    def mtf(self, frequency, direction=0.0):
        """Contrast [1] left of gratings at frequencies (n,) [cycles per degree].

        `direction` [deg]: in which the grating varies, as the patient sees it, from the right, counter-clockwise;
        0 for upright stripes.
        """
        frequency = np.atleast_1d(np.asarray(frequency, float)) / 60.0
        across, upwards = frequency * np.cos(np.radians(direction)), frequency * np.sin(np.radians(direction))
        right, up = self._waves(across, 0.0), self._waves(upwards, 0.0)
        through = np.abs(np.einsum("fi,ij,fj->f", up, self.psf, right, optimize=True))
        return np.where(frequency == 0.0, 1.0, (1.0 - self.haze) * through)

    def on(self, across, upwards):
        """Light of the spread [1/arcmin^2] at angles (n,) and (m,) [arcmin]; (m, n), haze left out."""
        return self._between(upwards, 1) @ self.psf @ self._between(across, 0).T / self.pitch**2

    def trim(self, lost=5e-4):
        """Return the same spread on as few cells as hold all but a share of the light; what is lost is made good."""
        middle = len(self.psf) // 2
        inside = np.cumsum(np.bincount(_rings(len(self.psf)), self.psf.ravel()))
        half = int(np.searchsorted(inside, (1.0 - lost) * inside[-1])) + 1
        if half >= middle:
            return self
        kept = self.psf[middle - half : middle + half, middle - half : middle + half]
        return dataclasses.replace(self, psf=kept / kept.sum())

    def _waves(self, frequency, offset):
        """Waves exp(-2 pi i f a) over the cells, times what lies between cells; frequency [cycles per arcmin]."""
        f = np.asarray(frequency)[:, None]
        turns = f * (self.angles + offset).astype(f.dtype)
        turns = (turns - np.rint(turns)) * f.dtype.type(-2.0 * np.pi)
        waves = np.empty(turns.shape, np.result_type(f, np.complex64))
        waves.real, waves.imag = np.cos(turns), np.sin(turns)  # quicker than exp of a complex number
        if self.method == "diffraction":  # nothing beyond the band that the cells carry
            return waves * (np.abs(f) <= 0.5 / self.pitch)
        return waves * (np.sinc(f * self.pitch) ** 2).astype(f.dtype)

    def _between(self, angle, axis):
        away = (np.asarray(angle, float)[:, None] - self.offset[axis] - self.angles) / self.pitch
        return np.sinc(away) if self.method == "diffraction" else np.maximum(1.0 - np.abs(away), 0.0)

    @property
    def radius(self):
        """Radius [arcmin] about the middle of the light that holds half of the light through the optic."""
        u = self.angles
        middle_u, middle_v = (self.psf.sum(axis=0) @ u, self.psf.sum(axis=1) @ u)
        away = np.hypot(u - middle_u, (u - middle_v)[:, None]).ravel()
        order = np.argsort(away)
        inside = np.cumsum(self.psf.ravel()[order])
        return float(away[order][np.searchsorted(inside, 0.5 * inside[-1])])

    def __repr__(self):
        light = "white light" if self.light == "white" else f"{self.light:g} nm"
        haze = f"; {self.haze:.0%} of the light passes beside the optic" if self.haze >= 0.005 else ""
        return f"PointSpread: half of the light within {self.radius:.1f} arcmin, {light}, {self.method}{haze}"


@plain_errors
def point_spread(sight, *, spectacles=None, vertex_distance=12.0, light="white", method=None) -> PointSpread:
    """Find how an eye sees a point. Raises LearnerError if it is not a single eye that sees, or a setting is not known.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    spectacles : Refraction or None
        Glasses worn.
    vertex_distance : float [mm]
        Of the glasses before the cornea.
    light : "white" or float [nm]
    method : "diffraction", "geometric" or None
        None chooses.
    """
    zernike = single(sight)
    worn = _at_pupil(spectacles, gap_of(sight, vertex_distance))
    beside = float(sight.missed_light)
    traced = rays_of(sight) if beside > 0.0 else None
    return spread_of(zernike, float(sight.pupil), worn, light=light, method=method, traced=traced, haze=beside)


@single_core
def spread_of(zernike, pupil, worn=None, *, light="white", method=None, traced=None, haze=0.0) -> PointSpread:
    """Find the spread of a wavefront. Raises LearnerError if a setting is not known, or no light comes through.

    Parameters
    ----------
    zernike : (28,) array [um]
        OSA order, over the beam.
    pupil : float [mm]
        Diameter of the beam.
    worn : Refraction or None
        Correction at the plane of the pupil, added to the wavefront.
    light, method : as in `point_spread`
    traced : function (x, y) -> (wavefront [um], through) or None
        Used instead of `zernike` where part of the pupil is closed; x, y in units of its radius.
    haze : float [1]
        Share of the light that is not through.
    """
    zernike, pupil = np.asarray(zernike, float), number("point spread", "pupil", pupil, 0.2, 10.0, "mm", "beam")
    if zernike.shape != (NUMBER,) or not np.all(np.isfinite(zernike)):
        raise LearnerError(
            f"A point spread is of one eye: {NUMBER} finite coefficients; shape {zernike.shape} was given."
        )
    wavelengths, shares = _light(light)
    offset = (-2.0 * zernike[2], 2.0 * zernike[1])  # a tilt only moves the picture
    offset = tuple(float(a) * 2e-3 / pupil / ARCMIN for a in offset)
    asked = (zernike, pupil, worn, traced)
    wave = wavefront_on(CELLS, *asked)
    step = steepest_step(*wave) * 1000.0 / wavelengths.min()
    if method is None:
        method, why = _chosen(step)
    elif method in ("diffraction", "geometric"):
        why = "asked for"
    else:
        raise LearnerError(f"point_spread: method is 'diffraction', 'geometric' or None; {method!r} was given.")
    if method == "diffraction":
        wave = wave if step <= _STEEP else _finer(asked, wavelengths.min())
        psf, pitch = diffract(*wave, pupil, wavelengths, shares)
    else:
        psf, pitch = spots(*wavefront_on(_RAYS, *asked), pupil, wavelengths, shares)
    return PointSpread(psf, pitch, offset, haze, method, why, light, pupil)


def single(sight):
    """Return the coefficients (28,) of one eye that sees.

    Raises LearnerError if it is no Sight, there are several, or it does not see.
    """
    if not isinstance(sight, Sight):
        raise LearnerError(f"This needs a Sight, as es.refract(...) gives it; {short(sight)} was given.")
    zernike = np.asarray(sight.zernike, float)
    if zernike.ndim != 1:
        raise LearnerError(f"This is shown for one eye at a time; {zernike.shape[:-1]} were given.")
    if not bool(np.all(sight.seen)):
        raise LearnerError(f"This eye has no image to show: {sight.reason}.")
    return zernike


def _at_pupil(spectacles, gap):
    """Power vector at the pupil of glasses worn before it, or None. Raises LearnerError if it is not one refraction."""
    if spectacles is None:
        return None
    if not isinstance(spectacles, Refraction) or np.ndim(spectacles.M):
        raise LearnerError(f"spectacles are one Refraction, as Refraction.of(-1.0); {short(spectacles)} was given.")
    return spectacles.at_spectacles(-gap)


def gap_of(sight, vertex_distance):
    """Distance [mm] from glasses to the entrance pupil, where a wavefront's refraction holds.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    vertex_distance : float [mm]
        From the cornea.
    """
    return distance(vertex_distance, 0.0, 20.0) + float(entrance_pupil(sight.eye).position)


@functools.lru_cache(maxsize=4)
def rays_of(sight):
    """Wavefront of further rays of a single eye, as `spread_of` takes it; each grid is traced once."""
    known = {}

    def traced(x, y):
        if x.shape not in known:
            rays = sight.rays(x, y)
            known[x.shape] = rays.wavefront, rays.through & np.isfinite(rays.wavefront)
        return known[x.shape]

    return traced


def _light(light):
    if isinstance(light, str) and light == "white":
        return WAVELENGTHS, SENSITIVITY / SENSITIVITY.sum()
    if isinstance(light, str):
        raise LearnerError(f"point_spread: light is 'white' or a wavelength in nm; {light!r} was given.")
    return np.array([number("point_spread", "light", light, 400.0, 800.0, "nm", "wavelength")]), np.ones(1)


@functools.lru_cache(maxsize=4)
def _rings(size):
    """How many cells each cell of a square grid lies from the middle one, flat, by the longer of both ways."""
    away = np.abs(np.arange(size) - size // 2)
    return np.maximum(away, away[:, None]).ravel()


def _chosen(step):
    """Diffraction if the wavefront can be sampled, else rays."""
    why = f"the wavefront rises by up to {step:.2f} wavelengths from sample to sample"
    return ("diffraction", why) if step <= _STEEP else ("geometric", f"{why}, too steep for waves")


def _finer(asked, shortest):
    """Pupil function on as many cells as this wavefront needs."""
    for cells in (2 * CELLS, 4 * CELLS):
        wave = wavefront_on(cells, *asked)
        if steepest_step(*wave) * 1000.0 / shortest <= _STEEP:
            return wave
    raise LearnerError("This wavefront is too steep for method='diffraction'; take 'geometric'.")
