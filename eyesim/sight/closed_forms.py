"""Optics that fits on the back of an envelope: small sums to check the ray tracer by, and to teach with.

Each says where it stops being true. Powers in dioptres, lengths in millimetres: a dioptre times a millimetre is a
milliradian.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import number
from .paraxial import propagate
from .refraction import Refraction

_ARCMIN = 180.0 * 60.0 / np.pi
"""Arc minutes in a radian."""


def tilted_thin_lens(power, tilt, tilt_meridian=90.0, index=1.5):
    """Lens that a tilted thin lens acts as: a little stronger, and a cylinder with its axis along the axis of tilt.

    Parameters
    ----------
    power : float or array [D]
        Of the lens when it stands square.
    tilt : float or array [deg]
    tilt_meridian : float or array [deg]
        Meridian towards which the front of the lens leans; the axis of tilt is across it.
    index : float or array [1]
        Of the lens over that of what is around it.

    Returns
    -------
    Refraction
        The lens it acts as, whose cylinder is in minus form; an eye behind it needs the opposite in glasses.

    Notes
    -----
    S' = S (1 + sin^2 t / 2n), C = S' tan^2 t (an online course of ophthalmic optics, chapter on tilted lenses, which
    takes 2n as 3). For narrow beams through the middle of a thin lens in parallel light, tilts of up to some 20
    degrees. An optic in the eye stands in light that converges already: brought to the cornea, the formula exceeds the
    ray trace by some 8 %. 10 degrees of a 20 D lens are 0.63 D at the lens and about 0.4 D at the cornea: name the
    plane.
    """
    power = number("", "power", power, -60.0, 60.0, "D", "power of the lens")
    tilt = number("", "tilt", tilt, 0.0, 45.0, "deg", "tilt of the lens")
    index = number("", "index", index, 1.01, 2.5, "", "index of the lens over that around it")
    turned = 2.0 * np.radians(number("", "tilt_meridian", tilt_meridian, -360.0, 720.0, "deg", "meridian of tilt"))
    t = np.radians(tilt)
    sphere = power * (1.0 + np.sin(t) ** 2 / (2.0 * index))
    half = sphere * np.tan(t) ** 2 / 2.0  # the cylinder's power acts along the meridian of tilt
    return Refraction((sphere + half)[()], (half * np.cos(turned))[()], (half * np.sin(turned))[()])


def prentice(power, decentration):
    """Prism [prism dioptres] of a thin lens met away from its centre (Prentice's rule).

    Parameters
    ----------
    power : float or array [D]
    decentration : float or array [mm]
        How far the lens has moved. The base lies that way if the result is positive.

    Notes
    -----
    Decentration in cm times power; one prism dioptre moves light by 1 cm at 1 m. True close to the axis.
    """
    power = number("", "power", power, -60.0, 60.0, "D", "power of the lens")
    decentration = number("", "decentration", decentration, -20.0, 20.0, "mm", "decentration of the lens")
    return power * decentration / 10.0


def spectacles_to_cornea(power, vertex_distance=12.0):
    """Power [D] at the cornea that does what glasses of `power` [D] do from `vertex_distance` [mm] before it.

    F / (1 - d F), exact for thin lenses; `Refraction.at_spectacles` goes the other way.

    Parameters
    ----------
    power : float or array [D]
    vertex_distance : float or array [mm]
    """
    power = number("", "power", power, -40.0, 40.0, "D", "power of the glasses")
    d = number("", "vertex_distance", vertex_distance, 0.0, 20.0, "mm", "glasses before the cornea")
    return propagate(power, d)


def thin_lens_for(axial_length, depth=5.0, target=0.0, corneal_power=44.0, index=1.336):
    """Power [D] of the thin lens that leaves an eye with the correction `target` [D] at the cornea.

    Parameters
    ----------
    axial_length, depth : float or array [mm]
        Of the eye, and from the cornea to the lens.
    target : float or array [D]
    corneal_power : float or array [D]
        Of a cornea without thickness.
    index : float or array [1]
        Of aqueous and vitreous.

    Notes
    -----
    By vergence: what the retina asks of the light behind the lens, less what the cornea brings before it. Thin
    lens and thin cornea; a real optic's principal points lie some tenths of a millimetre off its middle.
    """
    axial_length, depth, corneal_power, index = _reduced_eye(axial_length, depth, corneal_power, index)
    target = number("", "target", target, -20.0, 20.0, "D", "correction that is to remain")
    return 1000.0 * index / (axial_length - depth) - propagate(target + corneal_power, depth, index)


def thin_lens_refraction(power, axial_length, depth=5.0, corneal_power=44.0, index=1.336):
    """Correction [D] at the cornea that an eye with a thin lens of `power` [D] needs; see `thin_lens_for`.

    Parameters
    ----------
    power : float or array [D]
    axial_length, depth, corneal_power, index : float or array [mm], [mm], [D], [1]
        As of `thin_lens_for`.
    """
    axial_length, depth, corneal_power, index = _reduced_eye(axial_length, depth, corneal_power, index)
    power = number("", "power", power, -40.0, 80.0, "D", "power of the lens")
    wanted = 1000.0 * index / (axial_length - depth) - power
    return propagate(wanted, -np.asarray(depth), index) - corneal_power


def axial_shift(shift, axial_length, depth=5.0, corneal_power=44.0, index=1.336):
    """Change [D] of the correction at the cornea when a thin lens that made the eye sharp lies elsewhere.

    Parameters
    ----------
    shift : float or array [mm]
        Backwards; a negative one is forwards and makes the eye myopic.
    axial_length, depth, corneal_power, index : float or array
        As in `thin_lens_for`.

    Notes
    -----
    It depends on the length of the eye above all: half a millimetre is 1.1 D in an eye of 21 mm and 0.1 D in one of
    29 mm, whose lens is weak.
    """
    shift = number("", "shift", shift, -3.0, 3.0, "mm", "how far back the lens lies")
    power = thin_lens_for(axial_length, depth, 0.0, corneal_power, index)
    return thin_lens_refraction(power, axial_length, np.asarray(depth) + shift, corneal_power, index)


def turned_toric(cylinder, turn, axis=180.0):
    """Correction that remains when a cylinder that would fit is turned about its own centre.

    Parameters
    ----------
    cylinder : float or array [D]
        That the eye needs and the lens supplies, both in one plane.
    turn : float or array [deg]
        How far the lens is turned, counter-clockwise.
    axis : float or array [deg]
        Of the minus cylinder that the eye needs.

    Returns
    -------
    Refraction
        Of mean sphere 0 and cylinder 2 C sin(turn), near 45 degrees to the axis for small turns.

    Notes
    -----
    Power vectors subtract: two of length C / 2 at twice the turn from each other leave one of length C sin(turn).
    One third of the cylinder is lost at 10 degrees, all of it at 30, and beyond that the lens does harm (*Residual
    astigmatism produced by toric intraocular lens rotation*, Journal of Cataract and Refractive Surgery
    2011;37:1895-1901, volume from memory). Exact for thin lenses in one plane.
    """
    cylinder = number("", "cylinder", cylinder, -20.0, 20.0, "D", "cylinder that the eye needs")
    turn = number("", "turn", turn, -180.0, 180.0, "deg", "rotation of the lens")
    axis = number("", "axis", axis, -360.0, 360.0, "deg", "axis of the cylinder")
    half = np.abs(cylinder) / 2.0
    needs, gives = 2.0 * np.radians(axis), 2.0 * np.radians(axis + turn)
    j0, j45 = half * (np.cos(needs) - np.cos(gives)), half * (np.sin(needs) - np.sin(gives))
    return Refraction(np.zeros_like(j0)[()], j0[()], j45[()])


def airy_radius(pupil, wavelength=555.0):
    """Angle [arcmin] from the middle of the image of a star to its first dark ring, in an eye without fault.

    Parameters
    ----------
    pupil : float or array [mm]
        Diameter of the beam at the cornea.
    wavelength : float or array [nm]
        In air.

    Notes
    -----
    1.2197 wavelength / diameter, the first zero of the Airy pattern: 3.8317, that of J1, over pi.
    """
    pupil = number("", "pupil", pupil, 0.1, 10.0, "mm", "diameter of the beam")
    wavelength = number("", "wavelength", wavelength, 380.0, 780.0, "nm", "wavelength of the light")
    return 3.8317059702 / np.pi * 1e-6 * wavelength / pupil * _ARCMIN


def blur_disc(defocus, pupil):
    """Angular diameter [arcmin] of the disc into which a blurred eye spreads a point.

    Parameters
    ----------
    defocus : float or array [D]
        Correction that the eye lacks.
    pupil : float or array [mm]
        Diameter of the beam at the cornea.

    Notes
    -----
    Defocus times diameter: geometry, without diffraction and without aberrations, and so true from about half a
    dioptre on.
    """
    defocus = number("", "defocus", defocus, -40.0, 40.0, "D", "correction that the eye lacks")
    pupil = number("", "pupil", pupil, 0.1, 10.0, "mm", "diameter of the beam")
    return np.abs(defocus) * pupil / 1000.0 * _ARCMIN


def shifted_spherical_aberration(spherical_aberration, shift, pupil):
    """Coma [um] that appears when a wavefront with spherical aberration is off centre in the pupil.

    Parameters
    ----------
    spherical_aberration : float or array [um]
        Coefficient c(4,0) over this pupil, centred.
    shift : float or array [mm]
        How far the pupil looks beside the wavefront's middle.
    pupil : float or array [mm]
        Diameter.

    Notes
    -----
    2 sqrt(10) c(4,0) shift / radius, exact: the polynomial of the fourth order has no other term that gives coma.
    An aspheric optic that corrects the cornea's spherical aberration brings this when it is off centre.
    """
    c40 = number("", "spherical_aberration", spherical_aberration, -20.0, 20.0, "um", "spherical aberration")
    return 2.0 * np.sqrt(10.0) * c40 * _share(shift, pupil)


def shifted_coma(coma, shift, pupil) -> Refraction:
    """Change of the correction when a wavefront with coma is off centre in the pupil, along the coma.

    Parameters
    ----------
    coma : float or array [um]
        Coefficient c(3,1) over this pupil, centred.
    shift : float or array [mm]
        How far the pupil looks beside the wavefront's middle, to the observer's right.
    pupil : float or array [mm]
        Diameter.

    Notes
    -----
    The slope of the polynomial gives c(2,0) = 2 sqrt(6) s c(3,1) and c(2,2) = 2 sqrt(3) s c(3,1), s the shift over
    the radius, exact; spherical equivalent and power vector as in ISO 24157 follow.
    """
    c31 = number("", "coma", coma, -20.0, 20.0, "um", "coma along the shift")
    s, square = _share(shift, pupil), (np.asarray(pupil) / 2.0) ** 2
    c20, c22 = 2.0 * np.sqrt(6.0) * s * c31, 2.0 * np.sqrt(3.0) * s * c31
    j0 = -2.0 * np.sqrt(6.0) * c22 / square
    return Refraction((-4.0 * np.sqrt(3.0) * c20 / square)[()], j0[()], np.zeros_like(j0)[()])


def _share(shift, pupil):
    shift = number("", "shift", shift, -5.0, 5.0, "mm", "how far the pupil is off centre")
    return shift / (number("", "pupil", pupil, 0.1, 10.0, "mm", "diameter of the pupil") / 2.0)


def _reduced_eye(axial_length, depth, corneal_power, index):
    return (
        number("", "axial_length", axial_length, 17.0, 38.0, "mm", "length of the eye"),
        number("", "depth", depth, 0.0, 12.0, "mm", "depth of the lens behind the cornea"),
        number("", "corneal_power", corneal_power, 30.0, 60.0, "D", "power of the cornea"),
        number("", "index", index, 1.3, 1.4, "", "index of aqueous and vitreous"),
    )
