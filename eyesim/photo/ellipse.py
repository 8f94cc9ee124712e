"""Edges in a photograph: the ellipse nearest to points that somebody set on it, and how sure that is.

The ellipse is the one from which the points lie least far away (sum of squared distances, at right angles to it), as
in *Least-squares fitting of circles and ellipses*, BIT 1994;34:558-578, DOI 10.1007/BF01934268. It is kept as its
centre c and a symmetric matrix P: its points are c + P u with u on the unit circle. Unlike half-axes and an angle these
five numbers behave well where the ellipse is a circle. Nothing here knows which way y goes, or what an eye is.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError

CLICK = 1.5
"""[px] Least spread with which a hand is taken to set a point, across and along the picture; chosen for teaching."""
LEAST = 6
"""Points without which no ellipse is fitted: five fix it, and one must be left to see how well they agree."""
GAP = 180.0
"""[deg] Largest part of an edge without a point; beyond it centre and size are guesses. Chosen for teaching."""
_ROUGH = 0.04  # of the mean radius: points that lie further off, in the mean, are no ellipse; chosen for teaching
_FLAT = 0.35  # ratio of the axes below which it is no photograph from in front; chosen for teaching
_TRIED = 100  # points of an edge, each of which is left out once to find the misplaced one
_CIRCLE = np.array([0.0, 0.0, 1.0, 0.0, 1.0])  # centre and P of the unit circle: where a fit of scaled points begins
_FAR = 4.0  # an axis so many times larger than the points' extent has run away


@dataclasses.dataclass(frozen=True, repr=False)
class Ellipse:
    """An ellipse fitted to points.

    Attributes
    ----------
    centre : (2,) array [px]
    shape : (2, 2) array [px]
        The symmetric matrix P; its eigenvalues are the half-axes.
    covariance : (5, 5) array [px^2]
        Of the centre's two numbers, and of P's first, mixed and second.
    spread : float [px]
        With which the points were set: from how far they lie off, never below the floor.
    freedom : int
        Points beyond the five that an ellipse needs.
    off : (n,) array [px]
        How far each point lies outside; negative inside.
    gap : float [deg]
        Largest part of the edge without a point.
    """

    centre: np.ndarray
    shape: np.ndarray
    covariance: np.ndarray
    spread: float
    freedom: int
    off: np.ndarray
    gap: float

    @property
    def half_axes(self):
        """Longer and shorter half-axis [px]."""
        return tuple(float(v) for v in np.linalg.eigvalsh(self.shape)[::-1])

    @property
    def angle(self):
        """Direction [rad] of the longer axis, from the x axis towards the y axis, 0 up to pi."""
        long = np.linalg.eigh(self.shape)[1][:, 1]
        return float(np.arctan2(long[1], long[0]) % np.pi)

    @property
    def worst(self):
        """Which point, counted from 1, lies furthest off."""
        return int(np.argmax(np.abs(self.off))) + 1

    def holds(self, points):
        """Whether points (..., 2) lie inside."""
        within = np.linalg.solve(self.shape, (np.asarray(points, float) - self.centre).reshape(-1, 2).T)
        return (np.sum(within**2, axis=0) < 1.0).reshape(np.shape(points)[:-1])

    def drawn(self, normal, chi2):
        """Centres (n, 2) and shapes (n, 2, 2) [px] that agree with the points, by Student's t.

        Parameters
        ----------
        normal : (n, 5) array
            Standard normal numbers; noughts give the fitted ellipse.
        chi2 : (n,) array
            Numbers of that distribution, with `freedom`.
        """
        wide = normal * np.sqrt(self.freedom / chi2)[:, None]
        step = wide @ np.linalg.cholesky(self.covariance).T
        first, mixed, second = step[:, 2:].T
        shapes = self.shape + np.stack([np.stack([first, mixed], -1), np.stack([mixed, second], -1)], -2)
        return self.centre + step[:, :2], shapes

    def __repr__(self):
        long, short = self.half_axes
        return (
            f"An ellipse about ({self.centre[0]:.1f}, {self.centre[1]:.1f}) px with half-axes {long:.1f} and "
            f"{short:.1f} px, fitted to {len(self.off)} points that lie {self.spread:.1f} px off."
        )


def fit_ellipse(points, what="the edge", *, floor=CLICK):
    """Fit the nearest ellipse to points.

    Raises LearnerError if they are too few, lie on too short an arc, or are no ellipse: says which.

    Parameters
    ----------
    points : (n, 2) array [px]
    what : str
        What they lie on, for the words: "the limbus".
    floor : float [px]
        The spread of the points is taken to be no less.

    Returns
    -------
    Ellipse
    """
    points = checked_points(points, what)
    different = len(np.unique(points, axis=0))
    if different < LEAST:
        raise LearnerError(
            f"For {what}, {different} different points were given; at least {LEAST} are needed, better 10 all around."
        )
    middle, size = points.mean(axis=0), float(np.sqrt(np.mean(np.var(points, axis=0)) * 2.0))
    scaled = (points - middle) / size
    found = _nearest(scaled, _CIRCLE)
    centre, shape = found[:2], _matrix(found)
    _look(scaled, centre, shape, what)
    off, jacobian = distances(scaled, centre, shape)
    _agree(scaled, found, off, what)
    freedom = len(points) - 5
    spread = max(floor, size * float(np.sqrt(np.sum(off**2) / freedom)))
    covariance = spread**2 * np.linalg.inv(jacobian.T @ jacobian)  # the slopes of a distance have no unit
    return Ellipse(
        middle + size * centre, size * shape, covariance, spread, freedom, size * off, _gap(scaled, centre, shape)
    )


def checked_points(points, what, least=1):
    """Return points (n, 2) [px] as an array, if that is what they are.

    Raises LearnerError if they are fewer than `least`, not pairs, or not finite.

    Parameters
    ----------
    points : (n, 2) array [px]
    what : str
        What they lie on, for the words.
    least : int
    """
    try:
        points = np.asarray(points, float)
    except (TypeError, ValueError):
        raise LearnerError(f"The points of {what} are pairs of numbers: x and y in pixels.") from None
    if points.ndim != 2 or points.shape[1:] != (2,) or len(points) < least:
        raise LearnerError(
            f"The points of {what} are pairs of numbers, x and y in pixels, at least {least}; an array of shape "
            f"{points.shape} was given."
        )
    if not np.all(np.abs(points) < 1e6):  # False for NaN too
        raise LearnerError(f"A point of {what} is no place in a picture; pixels are numbers below a million.")
    return points


def distances(points, centre, shape):
    """How far points lie outside an ellipse, and how that changes with the ellipse.

    Parameters
    ----------
    points : (n, 2) array
    centre : (2,) array
    shape : (2, 2) array

    Returns
    -------
    off : (n,) array
        At right angles to the ellipse, negative inside.
    jacobian : (n, 5) array
        Slopes with the centre's two numbers and the shape's first, mixed and second.
    """
    (short, long), axes = np.linalg.eigh(shape)
    foot = _foot((points - centre) @ axes, np.array([short, long])) @ axes.T
    unit = np.linalg.solve(shape, foot.T).T
    normal = np.linalg.solve(shape, unit.T).T
    normal /= np.hypot(normal[:, 0], normal[:, 1])[:, None]
    off = np.sum((points - centre - foot) * normal, axis=1)
    (nx, ny), (ux, uy) = normal.T, unit.T
    return off, -np.stack([nx, ny, nx * ux, nx * uy + ny * ux, ny * uy], axis=1)


def _foot(points, half_axes):
    """Nearest points (n, 2) of an ellipse in its own axes; the second half-axis is the longer one.

    With p the point, a foot is a^2 p / (t + a^2) along each axis, where t solves a convex equation: Newton's method
    from its left never overshoots.
    """
    short, long = half_axes
    p = np.abs(points)
    p[:, 0] = np.maximum(p[:, 0], 1e-12 * short)
    t = short * p[:, 0] - short**2
    for _ in range(100):
        one, two = short * p[:, 0] / (t + short**2), long * p[:, 1] / (t + long**2)
        value = one**2 + two**2 - 1.0
        step = value / (2.0 * (one**2 / (t + short**2) + two**2 / (t + long**2)))
        t = t + step
        if np.max(np.abs(step)) <= 1e-14 * long**2:
            break
    foot = np.stack([short**2 * p[:, 0] / (t + short**2), long**2 * p[:, 1] / (t + long**2)], axis=1)
    return np.copysign(foot, points)


def _matrix(found):
    return np.array([[found[2], found[3]], [found[3], found[4]]])


def _nearest(points, start):
    """Least squares from a start; what runs away is looked at afterwards."""
    from scipy.optimize import least_squares

    def measure(found):
        shape = _matrix(found)
        low, high = np.linalg.eigvalsh(shape)
        if low > 1e-3 * high and high < 1e3:
            return distances(points, found[:2], shape)
        return np.full(len(points), 1e3), np.zeros((len(points), 5))

    precise = {"xtol": 1e-12, "ftol": 1e-12, "gtol": 1e-12, "max_nfev": 200}
    return least_squares(lambda v: measure(v)[0], start, lambda v: measure(v)[1], method="lm", **precise).x


def _look(points, centre, shape, what):
    """Refuse an ellipse that has run away, is too flat, or of which too little was seen."""
    low, high = np.linalg.eigvalsh(shape)
    extent = float(np.max(np.ptp(points, axis=0)))
    short_arc = (
        f"The points of {what} lie on too short an arc to tell its centre and size. Set some on the other side too; no "
        f"part of more than {GAP:.0f} degrees may stay without."
    )
    if not np.all(np.isfinite([low, high])) or low <= 0.0 or high > _FAR * extent:
        raise LearnerError(short_arc)
    if low < _FLAT * high:
        raise LearnerError(
            f"The points of {what} lie on an ellipse {low / high:.2f} times as wide as long; from in front it is "
            "nearly circular. Is one of them misplaced?"
        )
    if _gap(points, centre, shape) > GAP:
        raise LearnerError(short_arc)


def _agree(points, found, off, what):
    """Refuse points that are no ellipse."""
    rough = float(np.sqrt(np.mean(off**2) / np.linalg.det(_matrix(found))))  # in mean radii
    if rough > _ROUGH:
        raise LearnerError(
            f"The points of {what} are no ellipse: they lie {100.0 * rough:.0f} % of its radius off. Point "
            f"{_misplaced(points, found, off) + 1} fits least; is it misplaced?"
        )


def _misplaced(points, found, off):
    """Which point is likeliest to be misplaced: without it, the others agree best.

    A point far off draws the ellipse towards itself, so that its neighbours may seem to lie further off than it does.
    """
    if not LEAST + 2 <= len(points) <= _TRIED:
        return int(np.argmax(np.abs(off)))
    left = []
    for i in range(len(points)):
        others = np.delete(points, i, axis=0)
        one = _nearest(others, found)
        left.append(float(np.sum(distances(others, one[:2], _matrix(one))[0] ** 2)))
    return int(np.argmin(left))


def _gap(points, centre, shape):
    """Largest part [deg] of an edge without a point."""
    unit = np.linalg.solve(shape, (points - centre).T)
    phi = np.sort(np.degrees(np.arctan2(unit[1], unit[0])))
    return float(np.max(np.diff(np.append(phi, phi[0] + 360.0))))


def line_direction(points):
    """Direction [rad] of the nearest line through points (..., k, 2), from the first one to the last."""
    points = np.asarray(points, float)
    rest = points - points.mean(axis=-2, keepdims=True)
    xx, xy, yy = (np.sum(rest[..., i] * rest[..., j], axis=-1) for i, j in ((0, 0), (0, 1), (1, 1)))
    phi = 0.5 * np.arctan2(2.0 * xy, xx - yy)
    way = points[..., -1, :] - points[..., 0, :]
    back = np.cos(phi) * way[..., 0] + np.sin(phi) * way[..., 1] < 0.0
    return phi + np.pi * back
