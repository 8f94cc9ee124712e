"""Draws that agree with what was seen, and intervals that cover them: of numbers, angles, and places in a plane."""

from __future__ import annotations

import numpy as np

from ..study.estimates import LEVEL, Estimate

DRAWS = 2000
"""Ways the points may lie that are looked at; they are the same ones each time."""
_HOW = "draws that agree with the points"


class Chance:
    """Numbers of chance, the same ones each time; the first of each row stands for what is likeliest."""

    def __init__(self, n=DRAWS, seed=0):
        self._rng, self._n = np.random.default_rng(seed), n

    def normal(self, *shape):
        """Draw standard normal numbers (n, ...); the first are nought."""
        drawn = self._rng.standard_normal((self._n, *shape))
        drawn[0] = 0.0
        return drawn

    def chi2(self, freedom):
        """Draw chi-square numbers (n,); the first is the mean."""
        drawn = self._rng.chisquare(freedom, self._n)
        drawn[0] = freedom
        return drawn


def interval(draws, unit=""):
    """Estimate from draws; the interval covers all arrays of them.

    Parameters
    ----------
    draws : list of (n,) arrays
        One, or one for each way in which the camera may have been tilted.
    unit : str
    """
    ends = np.quantile(np.stack(draws)[:, 1:], (0.5 - LEVEL / 2.0, 0.5 + LEVEL / 2.0), axis=1)
    value = float(np.mean([one[0] for one in draws]))
    return Estimate(value, min(value, float(ends[0].min())), max(value, float(ends[1].max())), _HOW, unit)


def angle_interval(draws, *, turn=360.0):
    """Estimate of an angle [deg], 0 up to `turn`, from draws that may pass through nought; its ends may lie beyond.

    Parameters
    ----------
    draws
        As for `interval`.
    turn : float [deg]
    """
    first = draws[0][0]
    near = [(one - first + turn / 2.0) % turn - turn / 2.0 for one in draws]
    found = interval(near, "deg")
    value = (first + found.value) % turn
    return Estimate(value, value + found.low - found.value, value + found.high - found.value, _HOW, "deg")


def size_and_meridian(clouds, unit="mm"):
    """How far from nought, and towards where, from clouds (n, 2) of draws: by the region that holds 95 % of each.

    A size cannot be less than nothing, so an interval of its draws would never reach nought. The region does, where
    the points agree with nought; then the meridian may be any. Both intervals are wider than need be.

    Parameters
    ----------
    clouds : list of (n, 2) arrays [unit]
    unit : str

    Returns
    -------
    size, meridian : Estimate [unit], [deg]
    """
    middle = np.mean([cloud[0] for cloud in clouds], axis=0)
    size, way = float(np.hypot(*middle)), float(np.degrees(np.arctan2(middle[1], middle[0])) % 360.0)
    ring = np.concatenate([_ring(cloud) for cloud in clouds])
    around = any(contains_origin(cloud) for cloud in clouds)
    far = np.hypot(ring[:, 0], ring[:, 1])
    how = "region of 95 % of the draws"
    length = Estimate(size, 0.0 if around else min(size, float(far.min())), max(size, float(far.max())), how, unit)
    turned = (np.degrees(np.arctan2(ring[:, 1], ring[:, 0])) - way + 180.0) % 360.0 - 180.0
    low, high = min(0.0, float(turned.min())), max(0.0, float(turned.max()))
    if around or high - low > 300.0:
        low, high = -180.0, 180.0
    return length, Estimate(way, way + low, way + high, how, "deg")


def contains_origin(cloud):
    """Whether the region that holds 95 % of a cloud (n, 2) of draws holds nought too."""
    if float(np.ptp(cloud, axis=0).max()) == 0.0:
        return bool(np.all(cloud[0] == 0.0))
    root, limit = _region(cloud)
    return bool(np.linalg.norm(np.linalg.solve(root, cloud[0])) <= limit)


def _region(cloud):
    rest = cloud[1:] - cloud[0]
    root = np.linalg.cholesky(rest.T @ rest / len(rest) + 1e-18 * np.eye(2))
    return root, float(np.quantile(np.linalg.norm(np.linalg.solve(root, rest.T), axis=0), LEVEL))


def _ring(cloud):
    root, limit = _region(cloud)
    phi = np.linspace(0.0, 2.0 * np.pi, 181)
    return cloud[0] + limit * np.stack([np.cos(phi), np.sin(phi)], axis=1) @ root.T
