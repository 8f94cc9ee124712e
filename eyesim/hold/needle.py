r"""The needle's way through the wall: where each haptic is held, in which direction, and how much stays inside.

Seen from in front, a needle that enters at meridian 0 and runs clockwise::

        limbus   outer opening
           )    o  meridian, limbus_distance
          )    /
         )    / the tunnel: limbus_angle turns it from the limbal tangent towards the eye,
        )    /  iris_angle dips it below the iris plane
       )    x   inner opening: here the haptic is held

Its direction is u = cos(b) (cos(g) t - sin(g) r) - sin(b) z, with g the limbus angle, b the iris angle,
r outwards at the meridian and t the tangent in which the needle runs. A haptic leaves the eye along -u.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, choice, known_name, number, plain_errors, quantities, quantity
from ..eye.frames import unit_at, whole_degrees, wrap


@quantities
class Fixation:
    """How one haptic is fixed to the wall: the needle's pass, and what is left outside.

    Raises LearnerError if a value is out of its sensible range.

    Parameters
    ----------
    meridian : float or array [deg]
        Of the outer opening, where the needle starts.
    limbus_distance : float or array [mm]
        Of the outer opening, behind the limbus along the wall.
    limbus_angle : float or array [deg]
        Between needle and limbal tangent, towards the eye.
    iris_angle : float or array [deg]
        Dip of the needle below the iris plane.
    tunnel_length : float, array or None [mm]
        Chosen length; None is a straight pass, which ends where the needle meets the inner wall.
    outside : float or array [mm]
        Haptic beyond the outer opening: melted into a flange, trimmed, tucked.
    exit_angle : float, array or None [deg]
        Dip of the direction in which the haptic is held, if the needle is turned down at the tunnel's end.
    exit_swing : float or array [deg]
        The same sideways: adds to the limbus angle at the tunnel's end.
    wall : float, array or None [mm]
        Thickness of the wall on this side, if not the eye's.
    scleral_radius : float, array or None [mm]
        Radius of the wall on this side, if not the eye's.
    clockwise : bool
        Which way the needle runs, seen from in front; lenses whose loops open counter-clockwise need True.
    anchor : "tunnel" or "pin"
        A tunnel holds the direction too; a pin (a suture at the inner opening) only the place.
    locked : bool
        Flanged or tied. While it is not, haptic can be pulled out or released (`pull`).

    Notes
    -----
    Defaults are common practice, no source: about 2 mm behind the limbus, 20 degrees to the limbus, 5 to 10
    down, a tunnel of about 2 mm.
    """

    meridian: float = quantity(0.0, -720.0, 1080.0, "deg", "meridian of the scleral entry")
    limbus_distance: float = quantity(2.0, 0.2, 6.0, "mm", "distance of the scleral entry behind the limbus")
    limbus_angle: float = quantity(20.0, -60.0, 90.0, "deg", "angle to the limbal tangent, towards the eye")
    iris_angle: float = quantity(5.0, -45.0, 89.0, "deg", "angle to the iris plane, downwards")
    tunnel_length: float | None = quantity(2.0, 0.05, 6.0, "mm", "length of the tunnel", optional=True)
    outside: float = quantity(0.8, 0.0, 8.0, "mm", "externalised length, beyond the scleral entry")
    exit_angle: float | None = quantity(None, -60.0, 120.0, "deg", "iris angle at the tunnel's end", optional=True)
    exit_swing: float = quantity(0.0, -90.0, 90.0, "deg", "sideways turn at the tunnel's end")
    wall: float | None = quantity(None, 0.1, 2.0, "mm", "scleral thickness on this side", optional=True)
    scleral_radius: float | None = quantity(None, 9.0, 20.0, "mm", "radius of the sclera on this side", optional=True)
    clockwise: bool = choice(True, (True, False), "which way the needle runs")
    anchor: str = choice("tunnel", ("tunnel", "pin"), "what holds the haptic")
    locked: bool = choice(True, (True, False), "flanged or tied")

    @classmethod
    def aimed_at(cls, eye, meridian, **fields):
        """Fixation whose *inner* opening lies at a meridian [deg]: mark where the haptic enters the eye.

        The needle then starts some 15 degrees away. Only the outer opening's meridian is found; all other fields are as
        for `Fixation`. Raises LearnerError if a straight pass never enters the eye, so that it has no inner opening.
        """
        names = [f.name for f in dataclasses.fields(cls) if f.name != "meridian"]
        for name in fields:
            known_name("Fixation.aimed_at", name, names)
        goal = np.asarray(cls(meridian=meridian).meridian)
        start = goal
        for _ in range(12):  # one round for a circular limbus; an ellipse needs a few
            fixation = cls(meridian=_between(start), **fields)
            passage = needle_pass(eye, fixation)
            if not np.all(passage.enters):
                raise LearnerError(_never_enters(eye, fixation))
            off = np.mod(goal - passage.inner_meridian + 180.0, 360.0) - 180.0
            if np.all(np.abs(off) < 1e-10):
                break
            start = start + off
        return fixation

    def pull(self, length):
        """Pull more haptic out of the eye, or release it back into it (negative) [mm]; only while it is not locked.

        Raises LearnerError if the haptic is locked, or not that much is outside.
        """
        if self.locked:
            raise LearnerError(
                "This haptic is flanged or tied: nothing can be pulled out any more. "
                "Make the Fixation with locked=False to try what can be put right before that."
            )
        length = number("", "length", length, -8.0, 8.0, "mm", "haptic to pull out, or negative to release")
        return self.but(outside=self.outside + length)

    def opposite(self, **changes):
        """Return the same pass on the other side of the eye, 180 degrees away, with changes if any."""
        return self.but(**{"meridian": self.meridian + 180.0, **changes})


@dataclasses.dataclass(frozen=True)
class Passage:
    """What a needle's pass comes to: all in the frame of the eye, shapes as the pass broadcasts.

    Attributes
    ----------
    outer, inner : (..., 3) arrays [mm]
        The tunnel's openings; the inner one is NaN where the needle never enters.
    direction, held : (..., 3) arrays [1]
        Of the needle in the tunnel; and of the haptic at the inner opening, on its way out.
    tunnel_length : array [mm]
    enters : bool array
        False where a straight pass stays in the wall.
    """

    outer: np.ndarray
    inner: np.ndarray
    direction: np.ndarray
    held: np.ndarray
    tunnel_length: np.ndarray
    enters: np.ndarray

    @property
    def inner_meridian(self):
        """Meridian [deg] of the inner opening."""
        return wrap(np.degrees(np.arctan2(self.inner[..., 1], self.inner[..., 0])))

    @property
    def turn_along_limbus(self):
        """Angle [deg] between the meridians of the two openings, taken without sign."""
        outer = np.degrees(np.arctan2(self.outer[..., 1], self.outer[..., 0]))
        return np.abs(np.mod(self.inner_meridian - outer + 180.0, 360.0) - 180.0)

    def __repr__(self):
        if np.ndim(self.enters):
            return f"Passage({np.shape(self.enters)} array, {int(np.sum(self.enters))} enter the eye)"
        if not self.enters:
            return "Passage: the needle stays in the sclera and never enters the eye"
        return (
            f"Passage: tunnel {self.tunnel_length:.2f} mm, internal entry at {whole_degrees(self.inner_meridian)} deg, "
            f"{np.hypot(*self.inner[:2]):.2f} mm from the axis and {-self.inner[2]:.2f} mm behind the limbal plane"
        )


@plain_errors
def needle_pass(eye, fixation) -> Passage:
    """Follow one needle through the wall of an eye.

    Parameters
    ----------
    eye : Eye
    fixation : Fixation

    Notes
    -----
    A chosen tunnel ends at its length. A straight pass ends where the line meets the inner wall, a sphere
    of the wall's radius less its thickness; at shallow angles the line never gets there.
    """
    meridian = np.asarray(fixation.meridian, float)
    radius = np.asarray(eye.scleral_radius if fixation.scleral_radius is None else fixation.scleral_radius, float)
    outer = eye.wall_point(meridian, fixation.limbus_distance, radius)
    direction = needle_direction(meridian, fixation.limbus_angle, fixation.iris_angle, fixation.clockwise)
    if fixation.tunnel_length is None:
        wall = np.asarray(eye.scleral_thickness if fixation.wall is None else fixation.wall, float)
        length = _way_to_inner_wall(outer, direction, eye.wall_centre(radius), radius - wall)
    else:
        length = np.asarray(fixation.tunnel_length, float)
    exit_angle = fixation.iris_angle if fixation.exit_angle is None else fixation.exit_angle
    swung = np.asarray(fixation.limbus_angle, float) + np.asarray(fixation.exit_swing, float)
    held = -needle_direction(meridian, swung, exit_angle, fixation.clockwise)
    inner = outer + length[..., None] * direction
    shape = np.broadcast_shapes(inner.shape, held.shape)
    length = np.broadcast_to(length, shape[:-1])
    wide = (np.array(np.broadcast_to(a, shape)) for a in (outer, inner, direction, held))
    return Passage(*wide, length[()], np.isfinite(length)[()])


def needle_direction(meridian, limbus_angle, iris_angle, clockwise=True):
    """Return unit vectors (..., 3) in which a needle runs; all angles [deg].

    Parameters
    ----------
    meridian, limbus_angle, iris_angle : float or array [deg]
    clockwise : bool
        Which way the needle runs, seen from in front.
    """
    meridian, g, b = np.broadcast_arrays(
        np.asarray(meridian, float),
        np.radians(np.asarray(limbus_angle, float)),
        np.radians(np.asarray(iris_angle, float)),
    )
    outward = unit_at(meridian)
    tangent = unit_at(meridian - 90.0 if clockwise else meridian + 90.0)
    u = np.cos(b)[..., None] * (np.cos(g)[..., None] * tangent - np.sin(g)[..., None] * outward)
    u[..., 2] -= np.sin(b)
    return u


@plain_errors
def least_dip_that_enters(eye, fixation):
    """Smallest iris angle [deg] at which a straight pass enters the eye, all else as in `fixation`.

    Returns NaN where none below 89 degrees does. Found by bisection to 1e-9 degrees.

    Parameters
    ----------
    eye : Eye
    fixation : Fixation
        Its own iris angle and tunnel are not looked at; all broadcast.
    """
    shape = np.broadcast_shapes(eye.shape, fixation.shape)
    low, high = np.full(shape, -44.0), np.full(shape, 89.0)
    for _ in range(48):
        middle = 0.5 * (low + high)
        enters = needle_pass(eye, fixation.but(iris_angle=_between(middle), tunnel_length=None)).enters
        low, high = np.where(enters, low, middle), np.where(enters, middle, high)
    return np.where(high > 88.9, np.nan, high)[()]


def _way_to_inner_wall(outer, direction, centre_z, inner_radius):
    """Distance [mm] along the needle to the sphere of the inner wall; NaN where it misses."""
    from_centre = outer.copy()
    from_centre[..., 2] -= centre_z
    along = np.sum(from_centre * direction, axis=-1)
    disc = along**2 - np.sum(from_centre**2, axis=-1) + inner_radius**2
    with np.errstate(invalid="ignore"):
        way = -along - np.sqrt(disc)
    return np.where((disc >= 0.0) & (way > 0.0), way, np.nan)


def _between(angle):
    return np.asarray(angle, float)[()]


def _never_enters(eye, fixation):
    limit = least_dip_that_enters(eye, fixation)
    text = ""
    if np.ndim(limit) == 0 and np.isfinite(limit):
        text = f" With this sclera, distance and limbus angle it enters from {limit:.1f} deg to the iris plane on."
    return (
        "The needle never enters the eye: at this angle a single-plane pass stays in the sclera."
        + text
        + " Aim it steeper, or give a tunnel_length at which the needle is turned down."
    )
