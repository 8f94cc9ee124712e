"""What an eye sees: its refraction, the shape of its wavefront, and the light that the optic does not catch."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, common_shape, element, number, short
from ..eye.frames import wrap
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.pose import Pose
from . import zernike
from .beam import beam_of_sight
from .missed_light import misses_optic
from .optics import entrance_pupil, surfaces
from .rays import trace
from .refraction import Refraction, distance, in_words
from .wavefront import wavefront

REASONS = (
    "",
    "the lens has not settled",
    "the optic reaches into the cornea",
    "the lens stands on edge in the light",
    "the middle of the pupil is not covered by the optic",
    "most of the light passes beside the optic",
    "the light is lost before it reaches the retina",
)
"""Why a case has no refraction, by code; the empty reason means that it has one."""


@dataclasses.dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class Sight(Refraction):
    """What an eye sees with its lens as it lies, or an array of such.

    M, J0, J45 and what follows from them (sphere, cylinder, axis) are the refraction of the whole pupil: the sphere
    and cylinder that leave the least mean square error of the wavefront. They hold at the entrance pupil.

    Attributes
    ----------
    paraxial : Refraction
        Refraction of the middle of the pupil: from the curvature of the wavefront at the chief ray. At a wide pupil
        the two differ by what spherical aberration does.
    zernike : (..., 28) array [um]
        Of the wavefront at the exit pupil, OSA/ANSI order; positive where the light is ahead of the chief ray's.
        Where part of the beam passes beside the optic, of the rest.
    pupil : float or array [mm]
        Diameter of the beam at the cornea.
    prism, prism_meridian : float or array [prism dioptres], [deg]
        By how much, and towards which meridian, light along the line of sight is deviated on its way to the retina,
        against the same lens centred and upright: as if by a prism before the eye with its base there.
    missed_light : float or array [1]
        Share of the light in the pupil that passes beside the optic.
    chamber_depth : float or array [mm]
        Postoperative anterior chamber depth, from the corneal vertex to the middle of the optic's front.
    code, seen, reason : int, bool and str array
        Whether there is a refraction, and why not (`REASONS`); NaN where there is none.
    middle : (..., 2) array [mm]
        Of the beam, across it, from the line of sight through a centred pupil (`beam`).
    retina_point : (..., 2) array [mm]
        Where the chief ray meets the retina.
    reference : float or array [mm]
        Radius of the reference sphere: from the exit pupil to that point.
    eye, lens, pose : what was traced.
    """

    paraxial: Refraction
    zernike: np.ndarray
    pupil: float
    prism: float
    prism_meridian: float
    missed_light: float
    chamber_depth: float
    code: int
    middle: np.ndarray
    retina_point: np.ndarray
    reference: float
    eye: object
    lens: object
    pose: object

    @property
    def shape(self):
        """Common shape of what was traced; () for a single eye."""
        return np.shape(self.code)

    @property
    def seen(self):
        """Whether there is a refraction."""
        return np.asarray(self.code == 0)[()]

    @property
    def reason(self):
        """Why there is no refraction; "" where there is one."""
        return np.asarray(np.array(REASONS)[self.code])[()]

    @property
    def coma(self):
        """Root mean square [um] of third-order coma."""
        return np.hypot(self._c(3, -1), self._c(3, 1))

    @property
    def coma_meridian(self):
        """Meridian [deg] towards which the wavefront of coma is ahead."""
        return wrap(np.degrees(np.arctan2(self._c(3, -1), self._c(3, 1))))

    @property
    def spherical_aberration(self):
        """Coefficient [um] of fourth-order spherical aberration; positive where the pupil's rim is myopic."""
        return self._c(4, 0)

    @property
    def rms_hoa(self):
        """Root mean square [um] of the higher orders, third to sixth: what no glasses correct."""
        return np.sqrt(np.sum(np.square(self.zernike[..., 6:]), axis=-1))[()]

    def at_spectacles(self, vertex_distance=12.0):
        """Return the correction `vertex_distance` [mm] before the cornea; see `Refraction.at_spectacles`.

        A sight holds at the entrance pupil, some 3 mm behind the cornea; 0 gives the correction at the cornea.
        """
        before = distance(vertex_distance, 0.0, 20.0) + np.asarray(entrance_pupil(self.eye).position)
        before = np.broadcast_to(before, self.shape)[()]
        return Refraction(self.M, self.J0, self.J45).at_spectacles(before)

    def rays(self, x, y):
        """Trace further rays of a single eye.

        Raises LearnerError if this is no single eye that has a refraction, or x and y do not go together.

        Parameters
        ----------
        x, y : array [1]
            Where in the beam, in units of its radius; any common shape.

        Returns
        -------
        Traced
        """
        if self.shape or not self.seen:
            raise LearnerError("Further rays can be traced for a single eye that sees through its lens.")
        x = number("", "x", x, -3.0, 3.0, "", "place in the beam, in units of its radius")
        y = number("", "y", y, -3.0, 3.0, "", "place in the beam, in units of its radius")
        shape = common_shape("rays", {"x": np.asarray(x), "y": np.asarray(y)})
        x, y = np.broadcast_to(x, shape), np.broadcast_to(y, shape)
        beam = beam_of_sight(self).rays(np.append(0.0, x), np.append(0.0, y))
        rays = trace(surfaces(self.eye, self.lens, self.pose), *beam)
        wave = wavefront(rays, self.reference, self.eye.n_vitreous)
        wave, through, missed = (a[1:].reshape(x.shape) for a in (wave, rays.through, misses_optic(rays)))
        return Traced(wave, rays.points[1:].reshape(*x.shape, 3), through, missed)

    def __getitem__(self, place):
        """Take one eye of many, or some. Raises LearnerError if there is a single eye only, or none at that place."""
        if not self.shape:
            raise LearnerError("This is the sight of a single eye already.")
        values = {field.name: getattr(self, field.name) for field in dataclasses.fields(self)}
        try:
            code = self.code[place]
            for name, kind in (("eye", Eye), ("lens", Lens), ("pose", Pose)):
                values[name] = element(values[name], place, kind, self.shape)
            values["paraxial"] = Refraction(*(getattr(self.paraxial, name)[place] for name in ("M", "J0", "J45")))
            for name, value in values.items():
                if isinstance(value, np.ndarray):
                    values[name] = value[place]
        except (IndexError, TypeError, ValueError):
            raise LearnerError(f"There is no eye at {short(place)}: there are {self.shape}.") from None
        return Sight(**(values | {"code": code}))

    def _c(self, n, m):
        return self.zernike[..., zernike.index(n, m)]

    def __repr__(self):
        if self.shape:
            return f"Sight({self.shape} array: {int(np.sum(self.seen))} see through their lens)"
        if not self.seen:
            return f"No refraction: {self.reason}"
        glasses = in_words(self)
        beside = (
            f", {100 * self.missed_light:.0f} % of the light beside the optic" if self.missed_light >= 0.005 else ""
        )
        return f"Sight at a {self.pupil:.1f} mm pupil: {glasses}; higher orders {self.rms_hoa:.2f} um{beside}"


@dataclasses.dataclass(frozen=True, eq=False)
class Traced:
    """Rays of a single eye.

    Attributes
    ----------
    wavefront : array [um]
        Against the chief ray, as `Sight.zernike`.
    retina : (..., 3) array [mm]
        Where each meets the retina, in the frame of the eye; a ray beside the optic is shown as if the optic
        went on.
    through, missed_light : bool arrays
        Whether it passes all surfaces; whether it passes beside the optic.
    """

    wavefront: np.ndarray
    retina: np.ndarray
    through: np.ndarray
    missed_light: np.ndarray
