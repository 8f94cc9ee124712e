r"""The eye as a row of surfaces in the light's way, and the beam that its pupil lets in.

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

from ..eye.lens import AQUEOUS
from . import paraxial
from .rays import surface, trace

AHEAD = 1.0
"""How far before the cornea rays are started [mm]."""

LENS_FRONT, LENS_BACK = 2, 3
"""Places of the optic's faces in the row."""


def surfaces(eye, lens, pose):
    """Rows of the five surfaces, (..., 5, 18): cornea front and back, optic front and back, retina."""
    rows = [*_cornea(eye), *_optic(eye, lens, pose)]
    vertex = _on_axis(eye.limbal_depth - np.asarray(eye.axial_length))
    rows.append(surface(vertex, eye.n_vitreous, 1.0 / np.asarray(eye.retina_radius)))
    return _stacked(rows)


def _cornea(eye):
    """Front, steeper along its own x, and back."""
    step = np.asarray(eye.corneal_cylinder) / (2000.0 * (np.asarray(eye.n_cornea) - 1.0))
    curve = 1.0 / np.asarray(eye.corneal_radius)
    vertex = _on_axis(eye.limbal_depth)
    front = surface(
        vertex,
        eye.n_cornea,
        -curve - step,
        eye.corneal_q,
        frame=_turned(eye.corneal_steep_meridian),
        across=-curve + step,
    )
    back = surface(
        vertex - _on_axis(eye.corneal_thickness), eye.n_aqueous, -1.0 / np.asarray(eye.posterior_corneal_radius),
        eye.posterior_corneal_q,
    )  # fmt: skip
    return front, back


def _optic(eye, lens, pose):
    """Front and back of the optic as it lies; put in back to front, its faces change places."""
    rotation = pose.rotation
    centre = np.stack(np.broadcast_arrays(*(np.asarray(v, float) for v in (pose.x, pose.y, pose.z))), axis=-1)
    half = rotation[..., :, 2] * (np.asarray(lens.optic_thickness, float) / 2.0)[..., None]
    sign = -1.0 if lens.flipped else 1.0  # of light against the lens
    edge = np.asarray(lens.optic_diameter) / 2.0
    marks = rotation @ _turned(sign * np.asarray(lens.toric_marks))
    step = np.asarray(lens.toric_cylinder) / (2000.0 * (np.asarray(lens.index) - AQUEOUS))
    toric, plain = -sign / np.asarray(lens.anterior_radius), -sign / np.asarray(lens.posterior_radius)
    front = {
        "curvature": toric + sign * step, "across": toric - sign * step, "conic": lens.anterior_q,
        "frame": marks, "edge": edge,
    }  # fmt: skip
    back = {"curvature": plain, "conic": lens.posterior_q, "frame": rotation, "edge": edge}
    first, last = (back, front) if lens.flipped else (front, back)
    return surface(centre + half, lens.index, **first), surface(centre - half, eye.n_vitreous, **last)


def chamber_depth(eye, lens, pose):
    """Postoperative anterior chamber depth [mm]: from the corneal vertex to the middle of the optic's front."""
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
    """Where the iris is seen from the retina, the optic upright at its depth: a `paraxial.Image`, from the cornea."""
    radii = (lens.anterior_radius, lens.posterior_radius)
    front, back = (-np.asarray(radii[1]), -np.asarray(radii[0])) if lens.flipped else map(np.asarray, radii)
    rear = paraxial.system(
        [1.0 / front, 1.0 / back], [lens.optic_thickness], [eye.n_aqueous, lens.index, eye.n_vitreous]
    )
    vertex = eye.limbal_depth - np.asarray(pose.z) - np.asarray(lens.optic_thickness) / 2.0
    seen = paraxial.exit_pupil(rear, vertex - np.asarray(eye.iris_depth))
    return paraxial.Image(vertex + seen.position, seen.magnification)


def beam_of(eye, opening=None):
    """Parallel beam along the axis that passes a pupil in the iris plane, traced through the cornea.

    Parameters
    ----------
    eye : Eye
    opening : float, array or None [mm]
        Diameter of the pupil itself; None asks for the middle only.

    Returns
    -------
    x, y : arrays [mm]
        Middle of the beam at the cornea: the light that meets the middle of the pupil.
    diameter : array or None [mm]
        Mean over the four sides of the pupil.
    """
    pupil = np.stack(np.broadcast_arrays(np.asarray(eye.pupil_x, float), np.asarray(eye.pupil_y, float)), axis=-1)
    scale = np.asarray(entrance_pupil(eye).magnification)
    iris = surface(_on_axis(eye.iris_z), eye.n_aqueous)
    rows = _stacked([*_cornea(eye), iris])

    def hit(height):
        """Place in the iris plane (..., rays, 2) of rays at a height (..., rays, 2) on the cornea."""
        start = np.concatenate([height, np.zeros((*height.shape[:-1], 1))], axis=-1)
        start[..., 2] = np.asarray(eye.limbal_depth)[..., None] + AHEAD
        return trace(rows, start, _DOWN).points[..., :2]

    middle = _aimed(hit, pupil[..., None, :], scale)
    if opening is None:
        return middle[..., 0, 0], middle[..., 0, 1], None
    sides = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    rim = _aimed(hit, pupil[..., None, :] + sides * np.asarray(opening, float)[..., None, None] / 2.0, scale)
    reach = np.linalg.norm(rim - middle, axis=-1)
    return middle[..., 0, 0], middle[..., 0, 1], 2.0 * reach.mean(axis=-1)


def _aimed(hit, goal, scale):
    """Heights whose rays hit the goal; each round gains about two digits, since the scale is nearly right."""
    height = goal * scale[..., None, None]
    for _ in range(8):
        height = height + scale[..., None, None] * (goal - hit(height))
    return height


_DOWN = np.array([[0.0, 0.0, -1.0]])
"""The way of light along the axis."""


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
