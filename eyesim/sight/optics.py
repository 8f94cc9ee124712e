r"""The eye as a row of surfaces in the light's way, and its pupil as seen from before and behind.

Everything is in the frame of the eye: z towards the observer, so that light goes down it::

       z ^   parallel beam, its diameter is that at the cornea
         |     | | | | |
         |    .-'-----'-.        cornea, front and back: two conics
         |    --- iris ---
         |      (=====)          optic, front and back: tilted, off centre, turned
         |
         |     \_______/         retina: a sphere
"""

from __future__ import annotations

import numpy as np

from . import paraxial
from .surface import surface

LENS_FRONT, LENS_BACK = 2, 3
"""Places of the optic's faces in the row."""


def surfaces(eye, lens, pose):
    """Rows of the five surfaces, (..., 5, 18): cornea front and back, optic front and back, retina.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    pose : Pose
        All broadcast.
    """
    vertex = _on_axis(eye.limbal_depth - np.asarray(eye.axial_length))
    retina = surface(vertex, eye.n_vitreous, 1.0 / np.asarray(eye.retina_radius))
    return _stacked([*_cornea(eye), *_optic(eye, lens, pose), retina])


def anterior_surfaces(eye):
    """Rows of cornea front and back and of the plane of the iris, (..., 3, 18)."""
    return _stacked([*_cornea(eye), surface(_on_axis(eye.iris_z), eye.n_aqueous)])


def _cornea(eye):
    """Front, steeper along its own x, and back."""
    step = np.asarray(eye.corneal_cylinder) / (2000.0 * (np.asarray(eye.n_cornea) - 1.0))
    curve = 1.0 / np.asarray(eye.corneal_radius)
    vertex = _on_axis(eye.limbal_depth)
    frame, across = _turned(eye.corneal_steep_meridian), -curve + step
    front = surface(vertex, eye.n_cornea, -curve - step, eye.corneal_q, frame=frame, across=across)
    behind, inner = vertex - _on_axis(eye.corneal_thickness), -1.0 / np.asarray(eye.posterior_corneal_radius)
    back = surface(behind, eye.n_aqueous, inner, eye.posterior_corneal_q)
    return front, back


def _optic(eye, lens, pose):
    """Front and back of the optic as it lies; put in back to front, its faces change places."""
    rotation = pose.rotation
    centre = np.stack(np.broadcast_arrays(*(np.asarray(v, float) for v in (pose.x, pose.y, pose.z))), axis=-1)
    half = rotation[..., :, 2] * (np.asarray(lens.optic_thickness, float) / 2.0)[..., None]
    sign = -1.0 if lens.flipped else 1.0  # of light against the lens
    edge = np.asarray(lens.optic_diameter) / 2.0
    marks = rotation @ _turned(sign * np.asarray(lens.toric_marks))
    step = lens.toric_step
    toric, plain = -sign / np.asarray(lens.anterior_radius), -sign / np.asarray(lens.posterior_radius)
    front = {"curvature": toric + sign * step, "across": toric - sign * step, "conic": lens.anterior_q}
    front |= {"frame": marks, "edge": edge}
    back = {"curvature": plain, "conic": lens.posterior_q, "frame": rotation, "edge": edge}
    first, last = (back, front) if lens.flipped else (front, back)
    return surface(centre + half, lens.index, **first), surface(centre - half, eye.n_vitreous, **last)


def chamber_depth(eye, lens, pose):
    """Postoperative anterior chamber depth [mm]: from the corneal vertex to the middle of the optic's front.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    pose : Pose
        All broadcast.
    """
    half = np.asarray(lens.optic_thickness) / 2.0
    return (eye.limbal_depth - np.asarray(pose.z) - half * pose.rotation[..., 2, 2])[()]


def entrance_pupil(eye):
    """Where the iris is seen through the cornea, on the axis, and how much larger: a `paraxial.Image`."""
    front = paraxial.system(
        [1.0 / np.asarray(eye.corneal_radius), 1.0 / np.asarray(eye.posterior_corneal_radius)],
        [eye.corneal_thickness],
        [1.0, eye.n_cornea, eye.n_aqueous],
    )
    return paraxial.entrance_pupil(front, np.asarray(eye.iris_depth) - np.asarray(eye.corneal_thickness))


def exit_pupil(eye, lens, pose):
    """Where the iris is seen from the retina, the optic upright at its depth: a `paraxial.Image`, from the cornea.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    pose : Pose
        All broadcast; of the pose only the depth counts.
    """
    radii = (lens.anterior_radius, lens.posterior_radius)
    front, back = (-np.asarray(radii[1]), -np.asarray(radii[0])) if lens.flipped else map(np.asarray, radii)
    rear = paraxial.system(
        [1.0 / front, 1.0 / back], [lens.optic_thickness], [eye.n_aqueous, lens.index, eye.n_vitreous]
    )
    vertex = eye.limbal_depth - np.asarray(pose.z) - np.asarray(lens.optic_thickness) / 2.0
    seen = paraxial.exit_pupil(rear, vertex - np.asarray(eye.iris_depth))
    return paraxial.Image(vertex + seen.position, seen.magnification)


def _stacked(rows):
    shape = np.broadcast_shapes(*(row.shape[:-1] for row in rows))
    return np.stack([np.broadcast_to(row, (*shape, row.shape[-1])) for row in rows], axis=-2)


def _on_axis(z):
    z = np.asarray(z, float)
    return np.stack([np.zeros_like(z), np.zeros_like(z), z], axis=-1)


def _turned(meridian):
    """Frames whose own x lies along a meridian [deg]."""
    phi = np.radians(np.asarray(meridian, float))
    zero, one = np.zeros_like(phi), np.ones_like(phi)
    rows = [[np.cos(phi), -np.sin(phi), zero], [np.sin(phi), np.cos(phi), zero], [zero, zero, one]]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)
