"""Rays close to the axis: what a row of centred surfaces does, in four numbers.

A ray is its height y and its reduced slope n u. Refraction at a surface and travel to the next are linear in
both, so a whole system is one 2 by 2 matrix of determinant 1, and focal, principal and nodal points, pupils and
the correction an eye needs are read from it. This module knows no anatomy::

        n0  |   n1   |  n2          light ->
      ------(--------)--------      curvature > 0: centre of the surface behind it
            |<- t0 ->|
       first vertex: every position is counted from here, along the light

Surfaces come first: `curvatures[k]`, `thicknesses[k]` and `indices[k]` are numbers or arrays, and all broadcast.
Curvature rather than radius, so that a plane is 0. Source: *Introduction to Matrix Methods in Optics*, Wiley 1975,
chapters 1 and 2, from memory; every relation is derived anew in the tests.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class System:
    """What a row of centred surfaces does to rays close to the axis: (y', n' u') = ((a, b), (c, d)) (y, n u).

    Attributes
    ----------
    a, d : float or array [1]
    b : float or array [mm]
    c : float or array [1/mm]
    first_index, last_index : float or array [1]
        Of the media before and behind.
    length : float or array [mm]
        From the first vertex to the last.

    Notes
    -----
    All positions are in mm from the first vertex, along the light. Without power they are infinite.
    """

    a: float
    b: float
    c: float
    d: float
    first_index: float
    last_index: float
    length: float

    @property
    def power(self):
        """Equivalent power [D]."""
        return -1000.0 * self.c

    @property
    def front_focal_length(self):
        """From the front principal point to the front focal point [mm]; negative if the power is positive."""
        return _over(self.first_index, self.c)

    @property
    def back_focal_length(self):
        """From the back principal point to the back focal point [mm]."""
        return -_over(self.last_index, self.c)

    @property
    def front_focus(self):
        """Where light must come from to leave parallel [mm]."""
        return _over(self.first_index * self.d, self.c)

    @property
    def back_focus(self):
        """Where light that arrives parallel is collected [mm]."""
        return self.length - _over(self.last_index * self.a, self.c)

    @property
    def front_principal(self):
        """Front principal point [mm]: its image is the back one, of its own size."""
        return _over(self.first_index * (self.d - 1.0), self.c)

    @property
    def back_principal(self):
        """Back principal point [mm]."""
        return self.length + _over(self.last_index * (1.0 - self.a), self.c)

    @property
    def front_nodal(self):
        """Front nodal point [mm]: a ray aimed at it leaves from the back one, parallel to itself."""
        return _over(self.first_index * self.d - self.last_index, self.c)

    @property
    def back_nodal(self):
        """Back nodal point [mm]."""
        return self.length + _over(self.first_index - self.last_index * self.a, self.c)

    def then(self, gap, other):
        """Return this system followed, `gap` [mm] further on, by another that begins in the same medium."""
        reduced = gap / np.asarray(self.last_index, float)
        b, d = self.b + reduced * self.d, self.d
        a, c = self.a + reduced * self.c, self.c
        return System(
            (other.a * a + other.b * c)[()],
            (other.a * b + other.b * d)[()],
            (other.c * a + other.d * c)[()],
            (other.c * b + other.d * d)[()],
            self.first_index,
            other.last_index,
            self.length + gap + other.length,
        )

    def __repr__(self):
        if np.ndim(self.c):
            return f"System({np.shape(self.c)} array)"
        return f"System: {self.power:.2f} D, focal points at {self.front_focus:.2f} and {self.back_focus:.2f} mm"


@dataclasses.dataclass(frozen=True)
class Image:
    """Where something on the axis is seen, and how large.

    Attributes
    ----------
    position : float or array [mm]
        From the first vertex, along the light.
    magnification : float or array [1]
        Size of the image over that of the thing; negative if upside down.
    """

    position: float
    magnification: float


def system(curvatures, thicknesses, indices):
    """Put surfaces together. Raises LearnerError if the counts do not go together.

    Parameters
    ----------
    curvatures : sequence of n floats or arrays [1/mm]
        Of the surfaces at their vertices; positive if the centre lies behind.
    thicknesses : sequence of n - 1 floats or arrays [mm]
        From each vertex to the next.
    indices : sequence of n + 1 floats or arrays [1]
        Before the first surface, between them, and behind the last.

    Returns
    -------
    System
    """
    if not len(curvatures) == len(thicknesses) + 1 == len(indices) - 1:
        raise LearnerError(
            f"{len(curvatures)} surfaces have one gap fewer and one medium more; "
            f"{len(thicknesses)} thicknesses and {len(indices)} indices were given."
        )
    whole = _surface(curvatures[0], indices[0], indices[1])
    for k, gap in enumerate(thicknesses):
        whole = whole.then(gap, _surface(curvatures[k + 1], indices[k + 1], indices[k + 2]))
    return whole


def entrance_pupil(front, gap):
    """Image of a stop through the surfaces before it: the pupil that an observer sees.

    Parameters
    ----------
    front : System
        Surfaces before the stop.
    gap : float or array [mm]
        From the last of their vertices to the stop.

    Returns
    -------
    Image
        Position from the first vertex of `front`.
    """
    reduced = gap / np.asarray(front.last_index, float)
    scale = front.a + reduced * front.c  # stop over pupil
    position = _over(front.first_index * (front.b + reduced * front.d), scale)
    return Image(position[()], _over(1.0, scale)[()])


def exit_pupil(rear, gap):
    """Image of a stop through the surfaces behind it: where the light seems to come through from the retina.

    Parameters
    ----------
    rear : System
        Surfaces behind the stop.
    gap : float or array [mm]
        From the stop to the first of their vertices; a stop behind that vertex has a negative one, and is then the
        virtual stop that the same light would pass if the medium before went on.

    Returns
    -------
    Image
        Position from the first vertex of `rear`.
    """
    reduced = gap / np.asarray(rear.first_index, float)
    scale = rear.d + reduced * rear.c
    position = rear.length - _over(rear.last_index * (rear.b + reduced * rear.a), scale)
    return Image(position[()], _over(1.0, scale)[()])


def refraction(whole, plane):
    """Vergence [D] that light must have at the first vertex to be collected on a plane.

    Parameters
    ----------
    whole : System
    plane : float or array [mm]
        From the first vertex, along the light; behind the last surface.

    Notes
    -----
    For an eye and its retina: the correction at the corneal vertex, 0 for a sharp eye, negative for a
    myopic one. See `propagate` for other places.
    """
    reduced = (plane - np.asarray(whole.length)) / np.asarray(whole.last_index, float)
    return 1000.0 * _over(whole.a + reduced * whole.c, whole.b + reduced * whole.d)


def propagate(vergence, distance, index=1.0):
    """Vergence [D] of the same light `distance` [mm] further on in a medium; a negative distance goes back.

    Parameters
    ----------
    vergence : float or array [D]
    distance : float or array [mm]
    index : float or array [1]
        Of the medium.

    Notes
    -----
    L / (1 - d L / n), d in metres; infinite where the light comes to a point.
    """
    vergence = np.asarray(vergence, float)
    return _over(vergence, 1.0 - np.asarray(distance) * vergence / (1000.0 * np.asarray(index)))[()]


def _surface(curvature, before, behind):
    bend = (before - np.asarray(behind, float)) * np.asarray(curvature, float)
    return System(1.0, 0.0, bend[()], 1.0, before, behind, 0.0)


def _over(top, bottom):
    """Quotient that is infinite, without a warning, where the bottom is nothing."""
    bottom = np.asarray(bottom, float)
    none = bottom == 0.0
    return np.where(none, np.inf, np.asarray(top) / np.where(none, 1.0, bottom))[()]
