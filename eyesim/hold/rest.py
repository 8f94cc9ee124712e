"""A lens at rest: its pose with the forces and settings it belongs to, and what is read from them."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, plain_errors
from ..eye.frames import tilt_of
from .pose import Pose, pose_in_words

REASONS = (
    "",
    "haptic cannot reach",
    "needle never enters the eye",
    "haptic snaps to another shape",
    "not converged",
    "free to rotate about the line between the two pins",
)
"""Why a case has no pose, by code; the empty reason means that it settled."""


class Settled(Pose):
    """A pose that `settle` found, with the forces and the settings it belongs to.

    Attributes
    ----------
    tension : (..., 2) array [mN]
        Force in each haptic. An upper estimate: the tissue that holds a haptic gives way a little.
    settled : bool array
    code, reason : int array, str array
        Why not, where not settled (`REASONS`); pose and tension are NaN there.
    free_length : (..., 2) array [mm]
        Of each haptic between optic and inner opening.
    passages : two Passage
    residual : array
        Largest miss left in the twelve equations [mm, 1, 1/mm].
    eye, lens, first, second : what was settled.
    """

    def __init__(self, setting, passages, free_length, code, state, residual):
        eye, lens, first, second = setting
        joints = state[18:] if code.shape == () else None  # for drawing a single lens; see `continuation`
        state = state[..., :18].copy()  # not a view: many lenses would keep their joints in memory
        tilt, meridian, roll = tilt_of(state[..., 3:12].reshape(*code.shape, 3, 3))
        with np.errstate(invalid="ignore"):
            force = np.linalg.norm(state[..., 12:15], axis=-1) * np.asarray(lens.bending_stiffness)
        values = dict(zip("xyz", np.moveaxis(state[..., :3], -1, 0), strict=True))
        values |= {"tilt": tilt, "tilt_meridian": meridian, "roll": roll, "wrench": state[..., 12:18]}
        values |= {"settled": code == 0, "code": code, "reason": np.array(REASONS)[code], "residual": residual}
        values |= {"tension": np.stack([force, force], axis=-1), "free_length": free_length, "passages": passages}
        values |= {"eye": eye, "lens": lens, "first": first, "second": second, "_joints": joints, "_lead": None}
        for name, value in values.items():
            if isinstance(value, (np.ndarray, np.generic)) and np.ndim(value) == 0:
                value = value.item()
            object.__setattr__(self, name, value)

    def __repr__(self):
        if not self.shape:
            return f"Settled: {pose_in_words(self)}" if self.settled else f"Not settled: {self.reason}"
        counts = [f"{int(np.sum(self.code == c))} {REASONS[c] or 'settled'}" for c in np.unique(self.code)]
        return f"Settled({self.shape} array: {', '.join(counts)})"


def line_parts(pose):
    """Split the decentration of a settled lens along and across the line of its inner openings.

    Parameters
    ----------
    pose : Settled
        Any shape.

    Returns
    -------
    along, across : arrays [mm]
        Along counts from the second opening towards the first; across is 90 degrees counter-clockwise
        from that, seen from in front.
    """
    span = pose.passages[0].inner[..., :2] - pose.passages[1].inner[..., :2]
    span = span / np.linalg.norm(span, axis=-1, keepdims=True)
    along = pose.x * span[..., 0] + pose.y * span[..., 1]
    across = pose.y * span[..., 0] - pose.x * span[..., 1]
    return along, across


@plain_errors
def haptic_curves(pose, points=49):
    """Centrelines (2, points, 3) [mm] of both haptics of a single settled case, from root to opening.

    `points` is one more than a multiple of six: each of the solver's six segments is followed from its own joint.
    Raises LearnerError if `pose` is not a single settled case, or `points` does not fit.

    Parameters
    ----------
    pose : Settled
        A single one.
    points : int
        On each haptic.
    """
    from .rod import SEGMENTS, follow

    if not isinstance(pose, Settled) or pose.shape or not pose.settled:
        raise LearnerError("Haptics can be drawn for a single lens that has settled.")
    if not isinstance(points, int) or points < SEGMENTS + 1 or (points - 1) % SEGMENTS:
        raise LearnerError(f"points is one more than a multiple of {SEGMENTS}, such as 49; {points!r} was given.")
    lens, curves = pose.lens, []
    joints = pose._joints.reshape(2, SEGMENTS - 1, 9)
    for k, root in enumerate(lens.roots()):
        wrench, length = (1.0 - 2.0 * k) * pose.wrench, pose.free_length[k] / SEGMENTS
        own = []
        for start in (root, *joints[k]):
            part = follow(start, wrench, length, 1.0 / lens.loop_radius, 0.0, lens.poisson_ratio, points // SEGMENTS)
            own += [*part[:-1, :3]]
        own = np.array([*own, part[-1, :3]])
        curves.append(own @ pose.rotation.T + np.array([pose.x, pose.y, pose.z]))
    return np.stack(curves)
