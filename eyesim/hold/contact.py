"""What the optic of a lens would touch where it lies; the model leaves out that cornea and iris would push back."""

from __future__ import annotations

import numpy as np

from ..eye.globe import sag


def touches(eye, lens, pose, pupil):
    """Name what the optic of a single pose would touch: "cornea", "iris" or, of neither, "".

    Only the place is asked. The iris is its plane around the pupil, and is touched from behind.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    pose : Pose
    pupil : float [mm]
        Diameter of the hole in the iris.
    """
    radii, angles = np.meshgrid(
        lens.optic_diameter / 2.0 * np.linspace(0.0, 1.0, 13), np.linspace(0.0, 2.0 * np.pi, 73)
    )
    face = (lens.anterior_radius, lens.anterior_q)
    if lens.flipped:
        face = (-lens.posterior_radius, lens.posterior_q)
    front = lens.optic_thickness / 2.0 - sag(radii, *face)
    points = np.stack([radii * np.cos(angles), radii * np.sin(angles), front], axis=-1) @ np.asarray(pose.rotation).T
    x, y, z = np.moveaxis(points + [pose.x, pose.y, pose.z], -1, 0)
    inside = sag(np.hypot(x, y), eye.posterior_corneal_radius, eye.posterior_corneal_q)
    if np.any(z > eye.limbal_depth - eye.corneal_thickness - inside):
        return "cornea"
    behind_iris = np.hypot(x - eye.pupil_x, y - eye.pupil_y) > pupil / 2.0
    return "iris" if np.any(behind_iris & (z > eye.iris_z)) else ""
