"""The patient of the lesson on sight: her eye, the lens chosen for the place where it should lie, and where it went."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError, number, short
from ..eye.lens import Lens
from ..hold.pose import Pose
from ..sight import refract
from ..sight.choose import power_for
from .build import EYE, LENS, pose_of

SHELF = 0.5
"""Step in which lenses are made [D]: common practice, no source."""
DAY, NIGHT = 3.0, 5.0
"""Pupils [mm] of the lesson, as diameters of the beam at the cornea: by day and at night, chosen for teaching."""
BAG_DEPTH = 4.9
"""Chamber depth after the operation for which a power is usually chosen, a lens in its capsule [mm]; chosen for
teaching."""
SPHERICAL = LENS
ASPHERIC = Lens(anterior_radius=11.0629, anterior_q=-6.0, posterior_radius=-22.0, optic_thickness=0.85, index=1.491)
"""An optic that takes away most of the cornea's spherical aberration; its shape is chosen for teaching."""
_FLAT = 1e-3  # [deg] of tilt below which a lens leans nowhere


def on_the_shelf(power):
    """Power [D] of the nearest lens that is made."""
    return (SHELF * np.round(np.asarray(power) / SHELF))[()]


@functools.cache
def planned_pose():
    """Pose at which the lens of the lesson should lie: where the usual passes lay it."""
    pose = pose_of()
    return Pose(z=float(pose.z), roll=float(pose.roll))


def capsule_pose(eye=EYE, lens=SPHERICAL):
    """Pose of a lens in its capsule, `BAG_DEPTH` behind the cornea.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    """
    return Pose(z=eye.limbal_depth - BAG_DEPTH - lens.optic_thickness / 2.0)


def chosen_lens(lens=SPHERICAL, eye=EYE, pose=None):
    """Lens whose power was chosen from the shelf for where it should lie.

    Parameters
    ----------
    lens : Lens
        Its shape.
    eye : Eye
    pose : Pose or None
        By default the planned one.
    """
    pose = planned_pose() if pose is None else pose
    return lens.with_power(on_the_shelf(power_for(eye, lens, pose)))


def moved(pose, *, deeper=0.0, **changes) -> Pose:
    """Pose of a lens that came to lie elsewhere. Raises LearnerError if it is no pose, or a change is none.

    Parameters
    ----------
    pose : Pose or Settled
        Where it should lie.
    deeper : float or array [mm]
        Further from the iris; negative is nearer to it.
    **changes
        Fields of `Pose` that are other than planned: x, y [mm], tilt, tilt_meridian, roll [deg]. A lens that was flat
        leans towards 0 deg unless a meridian is given.
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
    elsewhere = Pose(**fields | changes)
    return elsewhere.but(z=np.asarray(elsewhere.z) - deeper)


def patient(lens=None, pupil=DAY, eye=EYE, **changes):
    """Trace what the patient sees, a `Sight`.

    Parameters
    ----------
    lens : Lens or None
        By default the one that was chosen for her.
    pupil : float [mm]
    eye : Eye
    **changes
        Where her lens came to lie, as `moved` says; in its place if nothing is said.
    """
    lens = chosen_lens() if lens is None else lens
    return refract(eye, lens, moved(planned_pose(), **changes), pupil)


@functools.cache
def eye_of(axial_length, corneal_radius=EYE.corneal_radius):
    """Usual `Eye` of another length and cornea.

    Parameters
    ----------
    axial_length, corneal_radius : float [mm]
    """
    return EYE.but(axial_length=axial_length, corneal_radius=corneal_radius)


@functools.cache
def exact_lens(axial_length):
    """Lens of just the power that leaves nothing to correct where it is planned, in an eye of a length [mm]."""
    return LENS.with_power(power_for(eye_of(axial_length), LENS, planned_pose()))


@functools.lru_cache(maxsize=512)
def with_exact_lens(axial_length, deeper=0.0, tilt=0.0, x=0.0):
    """Trace an eye whose lens has just the right power and came to lie elsewhere, a `Sight`.

    Parameters
    ----------
    axial_length : float [mm]
    deeper, tilt, x : float [mm], [deg], [mm]
    """
    return patient(exact_lens(axial_length), eye=eye_of(axial_length), deeper=deeper, tilt=tilt, x=x)
