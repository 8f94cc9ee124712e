"""Where the optic lies: place, tilt and turn, measured, imagined or settled."""

from __future__ import annotations

import numpy as np

from ..eye.checks import quantities, quantity
from ..eye.frames import rotation_of, whole_degrees, wrap


@quantities
class Pose:
    """Pose of an optic in the eye, or an array of poses. Raises LearnerError if a value is out of its sensible range.

    Parameters
    ----------
    x, y : float or array [mm]
        Centre of the optic's mid-plane from the limbal centre, to the observer's right and upwards.
    z : float or array [mm]
        The same from the limbal plane, towards the observer; behind it is negative.
    tilt : float or array [deg]
        Between the normal of the optic's front and the axis of the eye.
    tilt_meridian : float or array [deg]
        Meridian towards which that normal leans; that edge of the optic lies further back.
    roll : float or array [deg]
        Turn about the optic's own normal.
    """

    x: float = quantity(0.0, -8.0, 8.0, "mm", "optic centre to the observer's right")
    y: float = quantity(0.0, -8.0, 8.0, "mm", "optic centre upwards")
    z: float = quantity(-2.7, -15.0, 6.0, "mm", "optic centre towards the observer; behind the limbus is negative")
    tilt: float = quantity(0.0, 0.0, 180.0, "deg", "tilt of the optic")
    tilt_meridian: float = quantity(0.0, -360.0, 720.0, "deg", "meridian towards which the optic's front is tilted")
    roll: float = quantity(0.0, -720.0, 720.0, "deg", "rotation about the optic's normal")

    @property
    def decentration(self):
        """Distance [mm] of the optic's centre from the limbal centre, seen from in front."""
        return np.hypot(self.x, self.y)

    @property
    def decentration_meridian(self):
        """Meridian [deg] in which the optic's centre lies."""
        return wrap(np.degrees(np.arctan2(self.y, self.x)))

    def decentration_from(self, x, y):
        """Distance [mm] from another axis, such as the pupil's centre at (x, y) [mm]."""
        return np.hypot(np.asarray(self.x) - x, np.asarray(self.y) - y)

    @property
    def depth(self):
        """Depth [mm] of the optic's centre behind the limbal plane."""
        return -np.asarray(self.z)[()]

    @property
    def rotation(self):
        """Rotation (..., 3, 3) from the lens's own frame to that of the eye."""
        return rotation_of(self.tilt, self.tilt_meridian, self.roll)

    @property
    def normal(self):
        """Unit normal (..., 3) of the optic's front."""
        return self.rotation[..., :, 2]

    def __repr__(self):
        if self.shape:
            return f"{type(self).__name__}({self.shape} array)"
        return f"{type(self).__name__}: {pose_in_words(self)}"


def pose_in_words(pose):
    """Say where a single optic lies, to the digits that matter."""
    off = f"{pose.decentration:.2f} mm off centre"
    if pose.decentration >= 0.005:
        off += f" towards {whole_degrees(pose.decentration_meridian)} deg"
    lean = f"tilted {pose.tilt:.1f} deg"
    if pose.tilt >= 0.05:
        lean += f" towards {whole_degrees(pose.tilt_meridian)} deg"
    return f"optic {off}, {lean}, {pose.depth:.2f} mm behind the limbal plane"
