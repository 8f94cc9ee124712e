"""From the wavefront in the pupil to where its light goes: by waves, and by rays.

A *pupil function* is a square grid of cells over the beam, as seen from behind (u = -x, v = y), so that what comes
out is laid out as the patient sees it. Each cell has a wavefront [um] and is open or closed; as many cells are open
as the disc has area.

Waves: the light at angle a is the squared Fourier transform of the pupil function at a / wavelength. On a grid of
cells d wide, padded to N cells, the transform comes out in steps of wavelength / (N d). With N in proportion to the
wavelength the steps are the same for all, so that colours add up cell by cell; N is at least twice the cells across
the pupil, so that nothing of the transfer function is lost or folded.

Rays: each cell sends its light where the wavefront's slope points. Source of both: *Introduction to Fourier Optics*,
3rd ed., Roberts 2005, chapter 6, from memory.
"""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from .zernike import polynomials

REFERENCE = 555.0
"""Wavelength [nm] for which an eye's wavefront is taken to be traced: where the eye is most sensitive."""
ARCMIN = np.pi / 10800.0
"""One minute of arc [rad]."""


def wavefront_on(samples, zernike, pupil, worn=None, traced=None):
    """Wavefront [um] and openness of each cell of a square grid, as seen from behind (u = -x), tilt removed.

    Parameters
    ----------
    samples : int
        Cells across the pupil.
    zernike : (28,) array [um]
    pupil : float [mm]
    worn : Refraction or None
        Glasses, as a power at the pupil [D].
    traced : callable or None
        traced(x, y) gives wavefront [um] and whether a ray gets through, in the place of the polynomials.

    Returns
    -------
    wavefront, amplitude : (samples, samples) arrays
        First axis upwards.
    """
    x, y, disc, basis = _grid(samples)
    if traced is None:
        wavefront, amplitude = basis @ zernike, disc
    else:
        wavefront, through = traced(x, y)
        amplitude = disc * through
        wavefront = np.where(through, wavefront, 0.0)
        if not amplitude.any():
            raise LearnerError("No light comes through the optic to the retina: there is no image to show.")
    wavefront = wavefront - 2.0 * (zernike[1] * y + zernike[2] * x)
    wavefront, amplitude = wavefront[:, ::-1], amplitude[:, ::-1]
    if worn is not None:
        sphere, straight, oblique = glasses_on(samples, pupil)
        wavefront = wavefront + worn.M * sphere + worn.J0 * straight + worn.J45 * oblique
    return wavefront, amplitude


@functools.lru_cache(maxsize=32)
def glasses_on(samples, pupil):
    """Return what glasses of 1 D add to the wavefront [um] on the grid of `wavefront_on`: for M, J0 and J45.

    Parameters
    ----------
    samples : int
    pupil : float [mm]
    """
    x, y = _grid(samples)[:2]
    x, y = x[:, ::-1] * (pupil / 2.0), y * (pupil / 2.0)
    return 0.5 * (x * x + y * y), 0.5 * (x * x - y * y), x * y


def chromatic(wavelength):
    """Refraction [D] at a wavelength [nm] less that at 555 nm: blue light makes an eye myopic.

    Source: *The chromatic eye: a new reduced-eye model of ocular chromatic aberration in humans*, Applied Optics
    1992;31:3594, DOI 10.1364/AO.31.003594; its constants 633.46 and 214.1 as quoted in open code.
    """
    return 633.46 / (REFERENCE - 214.1) - 633.46 / (np.asarray(wavelength, float) - 214.1)


@functools.lru_cache
def _grid(samples):
    """Grid of a pupil: x, y, whether each cell is in the unit circle, and polynomials there."""
    at = (2.0 * np.arange(samples) + 1.0) / samples - 1.0
    x, y = np.meshgrid(at, at)
    radius = np.hypot(x, y)
    disc = (radius <= np.sort(radius, axis=None)[round(np.pi * samples * samples / 4.0) - 1] + 1e-12).astype(float)
    pull = np.maximum(np.hypot(x, y) / (1.0 + 3.0 / samples), 1.0)  # no ray far outside the beam
    x, y = x / pull, y / pull
    basis = polynomials(x, y)
    for array in (x, y, disc, basis):
        array.setflags(write=False)
    return x, y, disc, basis


def steepest_step(wavefront, amplitude):
    """Largest step of the wavefront [um] between open neighbours.

    Parameters
    ----------
    wavefront, amplitude : (samples, samples) arrays [um], [1]
    """
    open_ = amplitude > 0.0
    across = np.abs(np.diff(wavefront, axis=1)) * (open_[:, 1:] & open_[:, :-1])
    upwards = np.abs(np.diff(wavefront, axis=0)) * (open_[1:] & open_[:-1])
    return max(float(across.max()), float(upwards.max()))


def diffract(wavefront, amplitude, pupil, wavelengths, shares):
    """Squared Fourier transform of the pupil function, summed over wavelengths on one grid of angles.

    Parameters
    ----------
    wavefront, amplitude : (samples, samples) arrays [um], [1]
    pupil : float [mm]
    wavelengths, shares : (n,) arrays [nm], [1]
        Colours, and how much of the light each has.
    """
    import scipy.fft

    samples = len(wavefront)
    sizes = np.rint(2.0 * samples * wavelengths / wavelengths.min()).astype(int)
    sizes += sizes % 2
    widest = int(sizes.max())
    total = np.zeros((widest, widest), np.float32)
    amplitude = amplitude.astype(np.float32)
    energy = float(np.sum(amplitude * amplitude, dtype=float))
    sphere = glasses_on(samples, pupil)[0]
    for wavelength, share, size in zip(wavelengths, shares, sizes, strict=True):
        turns = (wavefront - float(chromatic(wavelength)) * sphere) * (1000.0 / wavelength)
        phase = ((turns - np.rint(turns)) * (2.0 * np.pi)).astype(np.float32)
        field = amplitude * (np.cos(phase) + 1j * np.sin(phase))
        field = scipy.fft.fft(scipy.fft.fft(field, size, axis=1), size, axis=0)
        light = np.square(field.real) + np.square(field.imag)
        edge = (widest - size) // 2
        inner = slice(edge, edge + size)
        total[inner, inner] += (share / (energy * size * size)) * scipy.fft.fftshift(light)
    return total.astype(float), float(wavelengths.min()) * 1e-6 / (2.0 * pupil) / ARCMIN


def spots(wavefront, amplitude, pupil, wavelengths, shares):
    """Where rays are seen, by the wavefront's slope, spread over cells no finer than the rays lie.

    Parameters
    ----------
    wavefront, amplitude, pupil, wavelengths, shares
        As of `diffract`.
    """
    slope_u, slope_v = _slopes(wavefront, amplitude > 0.0, pupil)
    open_ = amplitude > 0.0
    at = (2.0 * np.arange(len(wavefront)) + 1.0) / len(wavefront) - 1.0
    u, v = np.meshgrid(at, at)
    mm = pupil / 2.0
    turn = 1e-3 * mm * chromatic(wavelengths) / ARCMIN  # arcmin at the pupil's edge
    weight = amplitude[open_] / amplitude.sum()
    slope_u, slope_v, u, v = slope_u[open_], slope_v[open_], u[open_], v[open_]
    reach = max(np.abs(slope_u).max(), np.abs(slope_v).max()) + np.abs(turn).max()
    pitch = max(0.3, 2.0 * reach / len(wavefront))
    half = int(np.ceil(reach / pitch)) + 2
    size = 2 * half
    total = np.zeros(size * size)
    for share, chroma in zip(shares, turn, strict=True):
        i, p = np.divmod((slope_u - chroma * u) / pitch + half, 1.0)
        j, q = np.divmod((slope_v - chroma * v) / pitch + half, 1.0)
        cell = (j * size + i).astype(int)
        for step, part in ((0, (1 - p) * (1 - q)), (1, p * (1 - q)), (size, (1 - p) * q), (size + 1, p * q)):
            total += np.bincount(cell + step, share * weight * part, size * size)
    return total.reshape(size, size), float(pitch)


def _slopes(wavefront, open_, pupil):
    """Slope [arcmin] across and upwards, by differences between open neighbours only."""
    step = pupil / len(wavefront)  # mm
    slopes = []
    for axis in (1, 0):
        rise = np.diff(wavefront, axis=axis) * 1e-3 / step / ARCMIN
        both = np.logical_and(*(np.delete(open_, end, axis=axis) for end in (0, -1)))
        pad = ((0, 0), (1, 1)) if axis else ((1, 1), (0, 0))
        rise, both = np.pad(rise * both, pad), np.pad(both.astype(float), pad)
        ahead, behind = (slice(1, None), slice(None, -1))
        pick = (lambda s: (slice(None), s)) if axis else (lambda s: (s, slice(None)))
        count = both[pick(ahead)] + both[pick(behind)]
        slopes.append((rise[pick(ahead)] + rise[pick(behind)]) / np.maximum(count, 1.0))
    return slopes
