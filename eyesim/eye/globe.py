"""The eye before surgery: cornea, limbus, wall and length, from what biometry gives."""

from __future__ import annotations

import numpy as np

from .checks import LearnerError, choice, quantities, quantity
from .frames import unit_at


@quantities
class Eye:
    r"""One eye, or an array of eyes: any number may be an array, and all broadcast.

    The limbus is a circle in the plane z = 0 (an ellipse lies on the wall, a little before and behind it); the
    wall is a sphere through it; the cornea
    two conics. Real limbus and sclera are neither circle nor sphere. What is wrong alike on both sides
    mostly cancels; what differs between the sides does not (see `Fixation` for a side of its own)::

             cornea  .-----.        corneal vertex
                   .'       '.        } limbal_depth
        limbus    /-----------\      z = 0
                 ( \ iris --- / )
          wall    \          /       centre of the wall's sphere on the axis

    Raises LearnerError if a value is out of its sensible range, or the wall cannot pass through the limbus.

    Parameters
    ----------
    white_to_white : float or array [mm]
        Horizontal corneal diameter; the limbal circle.
    white_to_white_vertical : float, array or None [mm]
        Vertical one, if it differs.
    scleral_radius, scleral_thickness : float or array [mm]
        Outer radius and thickness of the wall near the limbus.
    side : "right" or "left"
        Only the words nasal and temporal depend on it.
    corneal_radius, posterior_corneal_radius : float or array [mm]
    corneal_q, posterior_corneal_q : float or array [1]
        Conic constants; 0 is a sphere, -1 a parabola.
    corneal_thickness : float or array [mm]
    corneal_cylinder : float or array [D]
        Power of the cornea's front along its steep meridian, less that along its flat one.
    corneal_steep_meridian : float or array [deg]
    iris_depth : float or array [mm]
        From the corneal vertex to the iris plane.
    axial_length : float or array [mm]
        From the corneal vertex to the retina.
    retina_radius : float or array [mm]
    n_cornea, n_aqueous, n_vitreous : float or array [1]
        Refractive indices at 555 nm.
    pupil_x, pupil_y : float or array [mm]
        Where the pupil's centre lies from the limbal centre.
    sight_x, sight_y : float or array [deg]
        Direction of the line of sight, out of the eye, from its axis: to the observer's right, and upwards. Most
        eyes look some 5 degrees to the nasal side, which is the observer's right of a right eye.

    Notes
    -----
    Defaults: white-to-white 11.8, corneal radius and thickness near the means of *Global metrics on ocular
    biometry* (Eye; 14 studies); wall thickness from *Anterior scleral thickness* series (Graefes 2015, DOI
    10.1007/s00417-015-3072-5: 0.46 to 0.57 mm two millimetres from the spur); scleral radius 12 chosen for
    teaching (published: 13.35, SD 1.29 mm); conics and indices from memory of wide-angle schematic eyes. The
    front radius (published mean 7.69), iris depth, axial length (published mean 23.49) and retinal radius are
    chosen for teaching: together with the default lens they make a sharp eye.
    """

    white_to_white: float = quantity(11.8, 9.0, 14.5, "mm", "horizontal corneal diameter")
    scleral_radius: float = quantity(12.0, 9.0, 20.0, "mm", "outer radius of the sclera")
    scleral_thickness: float = quantity(0.5, 0.2, 1.5, "mm", "scleral thickness")
    side: str = choice("right", ("right", "left"), "which eye")
    white_to_white_vertical: float | None = quantity(None, 9.0, 14.5, "mm", "vertical corneal diameter", optional=True)
    corneal_radius: float = quantity(
        7.77, 6.0, 10.5, "mm", "front radius of the cornea; 43 D of keratometry are 7.85 mm"
    )
    corneal_q: float = quantity(-0.18, -2.0, 1.0, "", "front conic constant of the cornea")
    posterior_corneal_radius: float = quantity(6.4, 4.5, 9.5, "mm", "back radius of the cornea")
    posterior_corneal_q: float = quantity(-0.6, -2.0, 1.0, "", "back conic constant of the cornea")
    corneal_thickness: float = quantity(0.55, 0.25, 1.0, "mm", "corneal thickness")
    corneal_cylinder: float = quantity(0.0, 0.0, 12.0, "D", "astigmatism of the cornea's front")
    corneal_steep_meridian: float = quantity(90.0, -360.0, 360.0, "deg", "steepest meridian of the cornea")
    iris_depth: float = quantity(3.1, 1.0, 6.5, "mm", "depth of the iris plane behind the corneal vertex")
    axial_length: float = quantity(23.93, 17.0, 38.0, "mm", "length of the eye from the corneal vertex")
    retina_radius: float = quantity(12.0, 8.0, 20.0, "mm", "radius of the retina")
    n_cornea: float = quantity(1.376, 1.3, 1.5, "", "refractive index of the cornea")
    n_aqueous: float = quantity(1.336, 1.3, 1.5, "", "refractive index of the aqueous")
    n_vitreous: float = quantity(1.336, 1.3, 1.5, "", "refractive index of the vitreous")
    pupil_x: float = quantity(0.0, -2.0, 2.0, "mm", "pupil centre from the limbal centre, to the right")
    pupil_y: float = quantity(0.0, -2.0, 2.0, "mm", "pupil centre from the limbal centre, upwards")
    sight_x: float = quantity(0.0, -15.0, 15.0, "deg", "line of sight from the axis of the eye, to the right")
    sight_y: float = quantity(0.0, -15.0, 15.0, "deg", "line of sight from the axis of the eye, upwards")

    def _verify(self):
        widest = np.maximum(np.asarray(self.white_to_white), self._vertical)
        if np.any(widest >= 1.9 * np.asarray(self.scleral_radius)):
            raise LearnerError(
                "Eye: a sclera of this scleral_radius cannot pass through a limbus of this white_to_white; "
                "the radius is usually a little more than the diameter (12 mm for 11.8 mm)."
            )
        if np.any((1.0 + np.asarray(self.corneal_q)) * (widest / 2.0) ** 2 >= np.asarray(self.corneal_radius) ** 2):
            raise LearnerError(
                "Eye: a cornea of this corneal_radius and corneal_q does not reach as far out as white_to_white."
            )

    @property
    def _vertical(self):
        return np.asarray(self.white_to_white if self.white_to_white_vertical is None else self.white_to_white_vertical)

    @property
    def limbal_radius(self):
        """Radius [mm] of the limbal circle; of an ellipse, the mean of its half-axes."""
        return (0.25 * (np.asarray(self.white_to_white) + self._vertical))[()]

    @property
    def limbal_depth(self):
        """Depth [mm] of the limbal plane behind the corneal vertex: the cornea's sag at the limbus."""
        h2, radius = self.limbal_radius**2, np.asarray(self.corneal_radius)
        root = np.sqrt(1.0 - (1.0 + np.asarray(self.corneal_q)) * h2 / radius**2)
        return (h2 / radius / (1.0 + root))[()]

    @property
    def iris_z(self):
        """Where the iris plane lies in the frame of the eye [mm]; negative is behind the limbal plane."""
        return self.limbal_depth - np.asarray(self.iris_depth)

    @property
    def pupil_centre(self):
        """Where the pupil's centre lies from the limbal centre (..., 2) [mm]."""
        return np.stack(np.broadcast_arrays(np.asarray(self.pupil_x, float), np.asarray(self.pupil_y, float)), axis=-1)

    def limbal_radius_at(self, meridian):
        """Distance [mm] of the limbus from the axis at a meridian [deg]."""
        phi = np.radians(meridian)
        a, b = np.asarray(self.white_to_white) / 2.0, self._vertical / 2.0
        return a * b / np.hypot(b * np.cos(phi), a * np.sin(phi))

    def wall_point(self, meridian, distance, radius=None):
        """Point (..., 3) [mm] on the outer wall, `distance` [mm] behind the limbus along it.

        Parameters
        ----------
        meridian : float or array [deg]
        distance : float or array [mm]
        radius : float, array or None [mm]
            Radius of the wall on that side, if not the eye's.
        """
        radius = np.asarray(self.scleral_radius if radius is None else radius, float)
        angle = np.arcsin(self.limbal_radius_at(meridian) / radius) + np.asarray(distance) / radius
        flat = radius * np.sin(angle)
        z = self.wall_centre(radius) + radius * np.cos(angle)
        flat, z, _ = np.broadcast_arrays(flat, z, np.asarray(meridian, float))
        point = unit_at(np.broadcast_to(np.asarray(meridian, float), flat.shape)) * flat[..., None]
        point[..., 2] = z
        return point

    def wall_centre(self, radius=None):
        """Z [mm] of the centre of the wall's sphere."""
        radius = np.asarray(self.scleral_radius if radius is None else radius, float)
        return -np.sqrt(radius**2 - self.limbal_radius**2)


def sag(h, radius, q):
    """Depth [mm] of a single conic below its vertex at height h [mm]; beyond its reach, that of its end.

    Parameters
    ----------
    h : float or array [mm]
    radius, q : float [mm], [1]
        Radius of curvature at the vertex, and conic constant.
    """
    h, curve = np.asarray(h, float), 1.0 / float(radius)
    return curve * h**2 / (1.0 + np.sqrt(np.maximum(1.0 - (1.0 + float(q)) * (curve * h) ** 2, 0.0)))
