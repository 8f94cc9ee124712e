"""The three-piece lens: a rigid optic and two curved elastic haptics."""

from __future__ import annotations

import numpy as np

from .checks import LearnerError, as_call, choice, number, quantities, quantity, short

AQUEOUS = 1.336
"""Refractive index of the aqueous in which a lens's power is stated [1]: ISO 11979-2, from memory."""

_FLAT = 1e4  # [mm] radius of a flat face
_THINNEST = 0.2  # [mm] in the middle of an optic that is made anew; chosen for teaching


@quantities
class Lens:
    r"""A three-piece lens, or an array of them.

    Each haptic is a round fibre rooted on the optic's edge, at 0 and at 180 degrees of the lens. Seen
    from its front the centreline leaves at `root_angle` from outwards, turned counter-clockwise, and
    curves counter-clockwise with `loop_radius`; its plane rises towards the front by `angulation`::

               __.--~~--.                      first haptic: root at 0
             .'          '\                   root_angle between outwards (->)
            /   optic     |)->                 and the fibre's first direction
          <-(|           /
              '\.____.-'

    Raises LearnerError if a value is out of its sensible range.

    Parameters
    ----------
    optic_diameter, haptic_length, haptic_diameter : float or array [mm]
    loop_radius : float or array [mm]
        Natural radius of a haptic's curve.
    root_angle, angulation : float or array [deg]
    youngs_modulus : float or array [GPa]
        Sets forces, never the pose.
    poisson_ratio : float or array [1]
    first_bend, second_bend : float or array [deg]
        A kink at the root of one haptic, towards the front: what a rough grasp leaves behind.
    loops : "counter-clockwise" or "clockwise"
        Which way the haptics curve, seen from the front of the lens.
    flipped : bool
        Put in with its back to the front: loops and angulation are seen from the other side.
    anterior_radius, posterior_radius : float or array [mm]
        Of the optic; positive where the centre lies behind the face, so that of a back that bulges is negative.
    anterior_q, posterior_q : float or array [1]
    optic_thickness : float or array [mm]
    index : float or array [1]
    toric_cylinder : float or array [D]
        Of a toric optic, in an index of 1.336: most less least power. Its front is the toric side.
    toric_marks : float or array [deg]
        Where the marks of a toric optic stand: its meridian of least power, from the first haptic's root, seen from
        its front.

    Notes
    -----
    Geometry chosen for teaching: it gives an overall length of 13.1 mm, that of common three-piece lenses.
    Haptic diameter: published measurements run from 0.129 to 0.164 mm. Young's modulus of drawn PVDF fibre
    2 to 3 GPa, from memory. Optic chosen for teaching: equal radii that give 21.0 D in an index of 1.336.
    """

    optic_diameter: float = quantity(6.0, 4.0, 8.0, "mm", "diameter of the optic")
    haptic_length: float = quantity(8.0, 2.0, 16.0, "mm", "length of a haptic along its curve")
    haptic_diameter: float = quantity(0.15, 0.03, 0.4, "mm", "thickness of a haptic")
    loop_radius: float = quantity(4.5, 2.0, 1000.0, "mm", "natural radius of a haptic's curve")
    root_angle: float = quantity(60.0, -30.0, 120.0, "deg", "angle between outwards and the haptic at its root")
    angulation: float = quantity(5.0, -30.0, 30.0, "deg", "rise of the haptics towards the front")
    youngs_modulus: float = quantity(2.5, 0.01, 20.0, "GPa", "Young's modulus of the haptic")
    poisson_ratio: float = quantity(0.4, 0.0, 0.5, "", "Poisson's ratio of the haptic")
    first_bend: float = quantity(0.0, -60.0, 60.0, "deg", "kink at the first haptic's root, towards the front")
    second_bend: float = quantity(0.0, -60.0, 60.0, "deg", "kink at the second haptic's root, towards the front")
    loops: str = choice("counter-clockwise", ("counter-clockwise", "clockwise"), "which way the haptics curve")
    flipped: bool = choice(False, (False, True), "put in upside down")
    anterior_radius: float = quantity(11.5855, -1e4, 1e4, "mm", "front radius of the optic, negative if concave")
    anterior_q: float = quantity(0.0, -20.0, 20.0, "", "front conic constant of the optic")
    posterior_radius: float = quantity(-11.5855, -1e4, 1e4, "mm", "back radius of the optic, negative if convex")
    posterior_q: float = quantity(0.0, -20.0, 20.0, "", "back conic constant of the optic")
    optic_thickness: float = quantity(0.8, 0.1, 5.0, "mm", "thickness of the optic at its centre")
    index: float = quantity(1.458, 1.34, 1.8, "", "refractive index of the optic")
    toric_cylinder: float = quantity(0.0, 0.0, 20.0, "D", "cylinder of a toric optic, at the lens")
    toric_marks: float = quantity(0.0, -360.0, 360.0, "deg", "marks of a toric optic, from the first haptic's root")

    def _verify(self):
        for name, radius in (("anterior_radius", self.anterior_radius), ("posterior_radius", self.posterior_radius)):
            if np.any(np.abs(np.asarray(radius)) < 3.0):
                raise LearnerError(f"Lens.{name} (a face of the optic) is at least 3 mm, convex or concave.")

    @property
    def bending_stiffness(self):
        """EI of a haptic [mN mm^2]: E pi h^4 / 64 of a round section."""
        inertia = np.pi * np.asarray(self.haptic_diameter) ** 4 / 64.0
        return (1e6 * np.asarray(self.youngs_modulus) * inertia)[()]  # 1 GPa = 1e6 mN/mm^2

    @property
    def power(self):
        """Power [D] of the optic as a thick lens in an index of 1.336; of a toric one, the mean of its meridians."""
        front, back = self._face_powers(self.anterior_radius, self.posterior_radius)
        return (front + back - self._step(self.optic_thickness) * front * back)[()]

    @property
    def toric_step(self):
        """By how much the toric face is more and less curved than its mean along its two meridians [1/mm]."""
        return (np.asarray(self.toric_cylinder) / (2000.0 * (np.asarray(self.index) - AQUEOUS)))[()]

    def with_power(self, power) -> Lens:
        """Return this lens with another power: the same shape of optic, more or less curved.

        Both radii change in proportion (a flat face stays flat), and the thickness so that the optic's edge keeps its
        own (but is nowhere below 0.2 mm in the middle). Raises LearnerError if no lens of this shape has that power.

        Parameters
        ----------
        power : float or array [D]
        """
        power = number("Lens", "with_power", power, -30.0, 60.0, "D", "power of the optic")
        if np.any(np.abs(self.power) < 0.1):
            raise LearnerError("Lens.with_power: this optic has no power to start from; choose its radii.")
        rest = self.optic_thickness - self._bulge()  # thickness at the edge
        thickness = np.asarray(self.optic_thickness, float)
        for _ in range(40):  # power and thickness hang together only weakly: each round gains two digits
            scales = self._scales_for(power, thickness)
            if not np.all(np.isfinite(scales)):
                break
            thickness = np.maximum(rest + self._bulge(*scales), _THINNEST)
        with np.errstate(divide="ignore", invalid="ignore"):
            radii = [
                np.asarray(r) / s for r, s in zip((self.anterior_radius, self.posterior_radius), scales, strict=True)
            ]
        if not all(np.all(np.isfinite(radius)) and np.all(np.abs(radius) <= _FLAT) for radius in radii):
            raise LearnerError(
                f"Lens.with_power: no optic of this shape and index has {short(power)} D. Near 0 D choose its radii."
            )
        return self.but(anterior_radius=radii[0], posterior_radius=radii[1], optic_thickness=thickness)

    def _scales_for(self, power, thickness):
        """By how much front and back have to be more curved for a power; alike, but a flat face stays flat."""
        front, back = self._face_powers(self.anterior_radius, self.posterior_radius)
        step = self._step(thickness)
        inside = (front + back) ** 2 - 4.0 * step * front * back * power
        with np.errstate(invalid="ignore", divide="ignore"):
            both = 2.0 * power / (front + back + np.copysign(np.sqrt(inside), front + back))
            alone = (power - back) / (front * (1.0 - step * back)), (power - front) / (back * (1.0 - step * front))
        flat = np.abs(self.anterior_radius) >= _FLAT, np.abs(self.posterior_radius) >= _FLAT
        return np.where(flat[0], 1.0, np.where(flat[1], alone[0], both)), np.where(
            flat[1], 1.0, np.where(flat[0], alone[1], both)
        )

    def _face_powers(self, front, back):
        step = 1000.0 * (np.asarray(self.index) - AQUEOUS)
        return step / np.asarray(front), -step / np.asarray(back)

    def _step(self, thickness):
        return np.asarray(thickness) / (1000.0 * np.asarray(self.index))

    def _bulge(self, front=1.0, back=1.0):
        """Height [mm] of both faces together from edge to middle, were they more curved by these factors."""
        h2 = np.asarray(self.optic_diameter) ** 2 / 4.0
        heights = 0.0
        for scale, radius, q in (
            (front, self.anterior_radius, self.anterior_q),
            (-np.asarray(back), self.posterior_radius, self.posterior_q),
        ):
            curve = scale / np.asarray(radius)
            under = 1.0 - (1.0 + np.asarray(q)) * curve**2 * h2
            heights = heights + curve * h2 / (1.0 + np.sqrt(np.where(under > 0.0, under, np.nan)))
        return heights

    @property
    def edge_thickness(self):
        """Thickness [mm] that two round faces leave at the optic's edge; NaN where a face does not reach so far."""
        return (self.optic_thickness - self._bulge())[()]

    @property
    def counterclockwise(self):
        """Whether the haptics curve counter-clockwise as the surgeon sees them."""
        return (self.loops == "counter-clockwise") != self.flipped

    def roots(self):
        """Where and how the two haptics leave the optic, as the surgeon sees the lens.

        Returns
        -------
        places : (..., 2, 9) array
            Position [mm], axis of the natural bend and direction [1] of each haptic at its root, in the
            frame of the lens: origin at the optic's centre, z towards the surgeon, first root on +x.
        """
        fields = (self.optic_diameter, self.root_angle, self.angulation, self.first_bend, self.second_bend)
        diameter, angle, rise, one, two = np.broadcast_arrays(*(np.asarray(f, float) for f in fields))
        turn = 1.0 if self.counterclockwise else -1.0
        front = -1.0 if self.flipped else 1.0
        places = np.zeros((*diameter.shape, 2, 9))
        for k, bend in enumerate((one, two)):
            out = 1.0 - 2.0 * k  # the outward direction is +x for the first haptic, -x for the second
            a, r = np.radians(angle), front * np.radians(rise + bend)
            places[..., k, 0] = out * diameter / 2.0
            # the haptic's plane holds the tangent (0, out * turn, 0) and outwards risen by r
            places[..., k, 3] = -turn * out * np.sin(r)
            places[..., k, 5] = turn * np.cos(r)
            places[..., k, 6] = out * np.cos(a) * np.cos(r)
            places[..., k, 7] = out * turn * np.sin(a)
            places[..., k, 8] = np.cos(a) * np.sin(r)
        return places

    @property
    def overall_length(self):
        """Distance [mm] between the two furthest points of the unstressed lens, seen from in front."""
        a, radius = np.radians(np.asarray(self.root_angle, float)), np.asarray(self.loop_radius, float)
        s = np.linspace(0.0, 1.0, 201) * np.asarray(self.haptic_length, float)[..., None]
        x = np.asarray(self.optic_diameter)[..., None] / 2.0 + radius[..., None] * (
            np.sin(a[..., None] + s / radius[..., None]) - np.sin(a)[..., None]
        )
        y = radius[..., None] * (np.cos(a)[..., None] - np.cos(a[..., None] + s / radius[..., None]))
        return (2.0 * np.hypot(x, y).max(axis=-1))[()]

    def __repr__(self):
        return as_call(self) if self.shape else f"{as_call(self)} of {self.power:.2f} D"
