"""What an eye needs in glasses: power vectors, and sphere, cylinder and axis read from them."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, number, plain_errors, short
from .paraxial import propagate

_MOST_HALF = 15.0  # [D]
_BY_SPHERE = "From sphere, cylinder and axis: Refraction.of(-1.0, -0.5, 90)."


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class Refraction:
    """Correction that an eye needs, or an array of them: a thin lens before the eye, as a power vector.

    Raises LearnerError if one is no number. NaN is kept: it stands for an eye without a refraction.

    Attributes
    ----------
    M : float or array [D]
        Spherical equivalent; negative for a myopic eye.
    J0, J45 : float or array [D]
        Half the cylinder, as cross cylinders at 0 and 45 degrees.

    Notes
    -----
    Axes as in ISO 8429: 0 at the observer's right, counter-clockwise, alike for both eyes. Power vectors:
    *Power vectors: an application of Fourier analysis to the description and statistical analysis of refractive
    error*, Optometry and Vision Science 1997;74:367, from memory.
    """

    M: float
    J0: float = 0.0
    J45: float = 0.0

    def __post_init__(self):
        for name in ("M", "J0", "J45"):
            value = getattr(self, name)
            if not isinstance(value, (int, float, np.ndarray, np.number)) or np.asarray(value).dtype.kind not in "iuf":
                raise LearnerError(
                    f"Refraction.{name} is a number of dioptres, or an array; {short(value)} was given. {_BY_SPHERE}"
                )
        # an axis in the place of J45; what is computed (NumPy's numbers) may be anything
        if any(type(value) in (int, float) and abs(value) > _MOST_HALF for value in (self.J0, self.J45)):
            raise LearnerError(
                f"Refraction({short(self.M)}, {short(self.J0)}, {short(self.J45)}): J0 and J45 are halves of a "
                f"cylinder in dioptres. {_BY_SPHERE}"
            )

    @classmethod
    def of(cls, sphere, cylinder=0.0, axis=180.0):
        """Make one of sphere [D], cylinder [D] and axis [deg], either sign of cylinder.

        Raises LearnerError if a value is out of its sensible range.
        """
        sphere = number("", "sphere", sphere, -40.0, 40.0, "D", "sphere of the glasses")
        cylinder = number("", "cylinder", cylinder, -30.0, 30.0, "D", "cylinder of the glasses")
        axis = number("", "axis", axis, -360.0, 360.0, "deg", "axis of the cylinder")
        turned = 2.0 * np.radians(axis)
        half = -np.asarray(cylinder) / 2.0
        return cls((sphere - half)[()], (half * np.cos(turned))[()], (half * np.sin(turned))[()])

    @property
    def blur(self):
        """Length [D] of the power vector: how far from sharp, whatever the kind."""
        return np.sqrt(np.square(self.M) + np.square(self.J0) + np.square(self.J45))[()]

    @property
    def cylinder(self):
        """Cylinder [D] in minus form."""
        return (-2.0 * np.hypot(self.J0, self.J45))[()]

    @property
    def sphere(self):
        """Sphere [D] that goes with the minus cylinder: the correction in the meridian of the axis."""
        return (np.asarray(self.M) + np.hypot(self.J0, self.J45))[()]

    @property
    def axis(self):
        """Axis [deg] of the minus cylinder, above 0 and up to 180; 180 where there is no cylinder."""
        half = np.degrees(np.arctan2(self.J45, self.J0)) / 2.0
        half = np.where(half < 1e-9, np.minimum(half + 180.0, 180.0), half)
        half = np.where(np.hypot(self.J0, self.J45) < 1e-9, 180.0, half)
        return half[()]

    def less(self, other):
        """Return what is left of this refraction behind the correction `other`."""
        return Refraction(self.M - other.M, self.J0 - other.J0, self.J45 - other.J45)

    def at_spectacles(self, vertex_distance=12.0):
        """Return the correction that does the same from `vertex_distance` [mm] before the place where this one holds.

        Each principal power F becomes F / (1 + d F), by vergence (`paraxial.moved`). Raises LearnerError if the
        distance is out of range, or the glasses would have to stand beyond the far point of a single eye; in arrays
        such an eye gets NaN.
        """
        d = np.asarray(distance(vertex_distance, -25.0, 30.0))
        strong, weak = np.asarray(self.sphere, float), np.asarray(self.sphere, float) + self.cylinder
        beyond = 1.0 + d / 1000.0 * np.minimum(strong, weak) <= 0.1
        if beyond.ndim == 0 and beyond:
            raise LearnerError(
                f"No glasses {vertex_distance:.1f} mm before this eye correct it: its far point is nearer than that."
            )
        one, two = (np.where(beyond, np.nan, propagate(power, -d)) for power in (strong, weak))
        half, turned = (one - two) / 2.0, 2.0 * np.radians(self.axis)
        return Refraction(((one + two) / 2.0)[()], (half * np.cos(turned))[()], (half * np.sin(turned))[()])

    def __repr__(self):
        if np.ndim(self.M):
            return f"{type(self).__name__}({np.shape(self.M)} array)"
        return f"Refraction: {in_words(self)}"


Refraction.__init__ = plain_errors(Refraction.__init__, "Refraction", f" {_BY_SPHERE}")


def distance(value, low, high):
    """Check the distance [mm] of glasses. Raises LearnerError if it is out of range, or looks like metres.

    Parameters
    ----------
    value, low, high : float or array [mm]
        What was given, and the sensible range.
    """
    value = number("", "vertex_distance", value, low, high, "mm", "glasses before the eye")
    if np.any((value != 0.0) & (np.abs(value) < 0.1)):
        raise LearnerError(f"vertex_distance is in mm, such as 12; {short(value)} was given. Was it in metres?")
    return value


def in_words(refraction):
    """Write a single refraction as it is prescribed, in hundredths of a dioptre."""
    if not np.isfinite(refraction.M):
        return "there is none"
    sphere, cylinder = signed(refraction.sphere), signed(refraction.cylinder)
    if cylinder == signed(0.0):
        return f"{signed(refraction.M)} D"
    return f"{sphere} D sphere, {cylinder} D cylinder, axis {round(float(refraction.axis)) or 180}"


def signed(value):
    """Write dioptres with their sign; a value that rounds to nothing has none."""
    text = f"{value:+.2f}"
    return "0.00" if text in ("+0.00", "-0.00") else text
