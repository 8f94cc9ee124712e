"""What was found when an eye was examined: each value with the error of its measurement; the rest is not known."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, quantities, quantity
from ..eye.frames import wrap

_SD = "standard deviation of the measurement"


@quantities
class Examination:
    """A lens as it was found. Whatever was not measured is None.

    Raises LearnerError if a value is out of range, nothing at all was measured, or a direction has no size.

    Parameters
    ----------
    decentration, tilt, depth, roll
        As of a `Pose`; depth behind the limbal plane.
    decentration_meridian, tilt_meridian
        Where to; without them only the size is used.
    first_tunnel, second_tunnel
        Length of a tunnel, measured on the wall.
    first_mark, second_mark
        Meridian at which a needle really started.
    decentration_sd, tilt_sd
        Of each of the two directions in which it is measured.
    depth_sd, roll_sd, tunnel_sd, mark_sd
        Of the others.

    Notes
    -----
    The standard deviations are chosen for teaching. Errors of measurement are normal, on their own, and in both
    directions alike; so a size without its direction follows Rice's distribution.
    """

    decentration: float = quantity(None, 0.0, 4.0, "mm", "how far off centre", optional=True)
    decentration_meridian: float = quantity(None, -360.0, 360.0, "deg", "towards where", optional=True)
    tilt: float = quantity(None, 0.0, 80.0, "deg", "how far the lens is tilted", optional=True)
    tilt_meridian: float = quantity(None, -360.0, 360.0, "deg", "towards where it is tilted", optional=True)
    depth: float = quantity(None, -3.0, 8.0, "mm", "behind the limbal plane", optional=True)
    roll: float = quantity(None, -180.0, 180.0, "deg", "rotation about its own normal", optional=True)
    first_tunnel: float = quantity(None, 0.0, 8.0, "mm", "length of the first tunnel", optional=True)
    second_tunnel: float = quantity(None, 0.0, 8.0, "mm", "length of the second tunnel", optional=True)
    first_mark: float = quantity(None, -360.0, 360.0, "deg", "meridian of the first mark", optional=True)
    second_mark: float = quantity(None, -360.0, 360.0, "deg", "meridian of the second mark", optional=True)
    decentration_sd: float = quantity(0.1, 0.005, 2.0, "mm", _SD)
    tilt_sd: float = quantity(1.0, 0.05, 20.0, "deg", _SD)
    depth_sd: float = quantity(0.15, 0.005, 2.0, "mm", _SD)
    roll_sd: float = quantity(3.0, 0.1, 45.0, "deg", _SD)
    tunnel_sd: float = quantity(0.2, 0.005, 2.0, "mm", _SD)
    mark_sd: float = quantity(2.0, 0.05, 45.0, "deg", _SD)

    def _verify(self):
        if self.shape != ():
            raise LearnerError("Examination: one eye at a time; an array was given.")
        for name in ("decentration", "tilt"):
            if getattr(self, f"{name}_meridian") is not None and getattr(self, name) is None:
                raise LearnerError(f"Examination: {name}_meridian says where to, but {name} itself was not given.")
        if not self.measured:
            raise LearnerError(
                "Examination: nothing was measured. Give at least one, such as "
                "study.Examination(tilt=6, tilt_meridian=90)."
            )

    @property
    def measured(self):
        """Names of what was measured, directions left out."""
        return tuple(name for name in MEASURED if getattr(self, name) is not None)

    def log_likelihood(self, seen):
        """Log likelihood of many poses, up to a constant.

        Parameters
        ----------
        seen : dict
            From `measurable`: name of what can be measured to an array of n; of two directions (2, n).

        Returns
        -------
        (n,) array
            Minus infinity where a case did not settle.
        """
        total = 0.0
        for name in self.measured:
            value, sd, truth = getattr(self, name), getattr(self, SPREADS[name]), seen[name]
            if name in DIRECTED:
                total = total + self._directed(name, value, sd, truth)
            else:
                miss = wrap(truth - value + 180.0) - 180.0 if name in _ANGLES else truth - value
                total = total - 0.5 * (miss / sd) ** 2
        return np.where(np.isnan(total), -np.inf, total)

    def _directed(self, name, value, sd, truth):
        meridian = getattr(self, f"{name}_meridian")
        if meridian is None:
            return _rice(value, np.hypot(*truth), sd)
        miss = truth - value * np.array([[np.cos(np.radians(meridian))], [np.sin(np.radians(meridian))]])
        return -0.5 * np.sum(miss**2, axis=0) / sd**2

    def __repr__(self):
        parts = []
        for name in self.measured:
            where = getattr(self, f"{name}_meridian", None)
            towards = "" if where is None else f" towards {where:g} deg"
            sd = getattr(self, SPREADS[name])
            parts.append(f"{name_words(name)} {getattr(self, name):g} {UNITS[name]}{towards} (SD {sd:g})")
        return f"Found: {'; '.join(parts)}"


def name_words(name):
    """Words for what can be measured, by its name."""
    return "rotation" if name == "roll" else name.replace("_", " ")


DIRECTED = ("decentration", "tilt")
UNITS = {"decentration": "mm", "tilt": "deg", "depth": "mm", "roll": "deg"}
UNITS |= {"first_tunnel": "mm", "second_tunnel": "mm", "first_mark": "deg", "second_mark": "deg"}
MEASURED = tuple(UNITS)
"""What can be measured."""
SPREADS = {name: f"{name.rpartition('_')[2]}_sd" for name in MEASURED}
"""Name of what can be measured to that of its standard deviation."""
_ANGLES = ("roll", "first_mark", "second_mark")


def measurable(done):
    """Return what could be measured in each of many operations, by name: arrays of n; of two directions (2, n).

    Parameters
    ----------
    done : Outcomes
    """
    pose, towards = done.pose, np.radians(done.pose.tilt_meridian)
    tunnels = [passage.tunnel_length for passage in pose.passages]
    found = {
        "decentration": np.stack([pose.x, pose.y]),
        "tilt": pose.tilt * np.stack([np.cos(towards), np.sin(towards)]),
        "depth": pose.depth,
        "roll": pose.roll,
        "first_tunnel": tunnels[0],
        "second_tunnel": tunnels[1],
        "first_mark": done.first.meridian,
        "second_mark": done.second.meridian,
    }
    return {name: np.where(pose.settled, value, np.nan) for name, value in found.items()}


def _rice(value, truth, sd):
    """Log density of a size that is measured in two directions, each with the same normal error."""
    from scipy.special import ive

    product = value * truth / sd**2
    return np.log(max(value, 1e-9) / sd**2) - 0.5 * ((value - truth) / sd) ** 2 + np.log(ive(0, product))
