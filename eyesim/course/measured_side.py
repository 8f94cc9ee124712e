"""A practice eye measured from the side, in a photograph or a section: how far the optic leans in that plane.

Two points of the limbus make a line, two or more of the optic another; what lies between them is the tilt as it is seen
from there. The whole tilt is never less: seen from two sides at right angles, the two make it up.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.calls import spoken
from ..eye.checks import LearnerError, number
from ..study.estimates import Estimate
from .photo_camera import Chance, angle_interval
from .photo_fit import CLICK, line_direction
from .photo_points import Points, points_from

_APART = 20.0  # clicks that two points of a line have to lie apart
_MOST = 60.0  # [deg] beyond which the lines were surely changed over


@dataclasses.dataclass(frozen=True, repr=False)
class Side:
    """What is seen from the side.

    Attributes
    ----------
    tilt : Estimate [deg]
        Of the optic's line to that of the limbus, in the plane of the picture; positive if its right end lies lower
        in the picture than its left one.
    """

    tilt: Estimate

    def __repr__(self):
        lower = "right" if self.tilt.value > 0.0 else "left"
        return (
            f"Seen from here the optic leans by {self.tilt.text('.1f')}, its {lower} end lower in the picture. The "
            "whole tilt is at least as large."
        )


@spoken
def measure_side(points, click=CLICK):
    """Measure the tilt in a photograph from the side.

    Parameters
    ----------
    points : Points or dict
        Pixels, y down: two of `limbus`, and two or more of `optic`, on its front, its middle, or its two edges.
    click : float [px]
        Spread with which a hand sets a point.

    Returns
    -------
    Side

    Raises
    ------
    LearnerError
        If points are missing, lie too close together, or the lines can hardly be those of limbus and optic.
    """
    points = points if isinstance(points, Points) else points_from(points)
    click = number("measure_side", "click", click, 0.01, 100.0, "px", "spread with which a point is set")
    chance, ways = Chance(), []
    for name, words, most in (("limbus", "the limbus", 2), ("optic", "the optic", None)):
        places = points.of.get(name, np.empty((0, 2)))
        if len(places) < 2 or (most and len(places) > most):
            many = "two points" if most else "two points or more"
            raise LearnerError(f"From the side {words} takes {many}; {len(places)} were given.")
        if np.hypot(*(places[-1] - places[0])) < _APART * click:
            raise LearnerError(f"The points of {words} lie too close together; {_APART * click:.0f} px are the least.")
        places = places[np.argsort(places[:, 0])]
        ways.append(line_direction(places + click * chance.normal(*places.shape)))
    tilt = angle_interval([np.degrees(ways[1] - ways[0])])
    shift = 360.0 if tilt.value > 180.0 else 0.0
    tilt = dataclasses.replace(tilt, value=tilt.value - shift, low=tilt.low - shift, high=tilt.high - shift)
    if abs(tilt.value) > _MOST:
        raise LearnerError(
            f"The optic would lean by {abs(tilt.value):.0f} deg; up to {_MOST:.0f} are measured. Were the points of "
            "limbus and optic changed over, or is the picture turned?"
        )
    return Side(tilt)
