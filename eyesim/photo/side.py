"""A practice eye measured from the side, in a photograph or a section through its front part: tilt, and depth.

Two points of the limbus give the limbal plane as a line, two or more of the optic give the optic as another; the
angle between them is the tilt in the plane of the picture. Tilt across that plane is not seen::

           front (cornea)
      limbus ------------------ limbus
                  ___------          tilt above nought: the right edge lies deeper
          ------''   optic           (here the left one does: below nought)
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, must_be, number, plain_errors
from ..eye.frames import whole_degrees
from ..study.estimates import Estimate, holds_zero
from .camera import Known
from .ellipse import line_direction
from .front import y_up
from .points import Points, make_points
from .uncertainty import Chance, interval

_TO_UP = {"up": (1.0, 0.0), "left": (0.0, -1.0), "right": (0.0, 1.0), "down": (-1.0, 0.0)}
_ENOUGH = 6  # points from which the spread of the hand can be estimated


@dataclasses.dataclass(frozen=True, repr=False)
class Side:
    """What a photograph from the side shows.

    Attributes
    ----------
    tilt : Estimate [deg]
        Of the optic to the limbal plane, in the plane of the picture; above nought if the edge at the right (with the
        front of the eye upwards) lies deeper.
    meridian : float or None [deg]
        Of the picture's right side.
    depth : Estimate or None [mm]
        Of the middle of the optic's points behind the limbal plane; None where nothing gives the scale.
    click : float [px]
        Spread with which the points were set.
    remarks : tuple of str
    """

    tilt: Estimate
    meridian: float | None
    depth: Estimate | None
    click: float
    remarks: tuple[str, ...]

    def __repr__(self):
        right, left = "right", "left"
        if self.meridian is not None:
            right += f" (meridian {whole_degrees(self.meridian)})"
            left += f" (meridian {whole_degrees(self.meridian + 180.0)})"
        if holds_zero(self.tilt):
            edge = "which edge lies deeper cannot be determined"
        else:
            edge = f"its {right if self.tilt.value > 0.0 else left} edge lies deeper"
        words = f"The optic is tilted by {self.tilt.text('.1f')} in the plane of the picture; {edge}."
        if self.depth is not None:
            words += f" Its points lie {self.depth.text('.2f')} behind the limbal plane."
        return " ".join([words, *self.remarks])


@plain_errors
def measure_side(points, known, *, front="up", meridian=None):
    """Measure tilt and depth of an optic from the side.

    Raises LearnerError if points are missing or lie too close together.

    Parameters
    ----------
    points : Points or dict
        Pixels, y down: two of `limbus`, two or more of `optic` (its two edges, or all along its front).
    known : Known
        Only scale and click count.
    front : "up", "down", "left" or "right"
        Where in the picture the front of the eye is.
    meridian : float or None [deg]
        Of the picture's right side, with the front upwards; only the words depend on it.

    Returns
    -------
    Side
    """
    must_be("measure_side", "known", known, Known)
    if front not in _TO_UP:
        raise LearnerError(f"front is where the front of the eye is: {', '.join(_TO_UP)}; {front!r:.40} was given.")
    meridian = number("measure_side", "meridian", meridian, -720.0, 1080.0, "deg", "of the right side", optional=True)
    points = points if isinstance(points, Points) else make_points(points)
    limbus, optic = _line("limbus", points, known, front), _line("optic", points, known, front)
    if len(limbus) != 2:
        raise LearnerError(f"From the side the limbus takes two points, one on each side; {len(limbus)} were given.")
    chance = Chance()
    click, wide = _click(optic, known, chance)
    drawn = [places + click * wide * chance.normal(*places.shape) for places in (limbus, optic)]
    tilt = -np.degrees(line_direction(drawn[1]) - line_direction(drawn[0]))
    tilt = (tilt + 90.0) % 180.0 - 90.0
    remarks = ["Tilt across that plane is not seen."]
    if len(optic) < _ENOUGH:
        remarks.append(f"Points are taken to be set {click:g} px off (SD); {_ENOUGH} or more on the optic would tell.")
    depth = _depth(drawn, points, known, front, chance, click)
    return Side(interval([tilt], "deg"), meridian, depth, click, tuple(remarks))


def _line(name, points, known, front):
    """Points of a line from left to right, with the front upwards."""
    if name not in points.of or len(points.of[name]) < 2:
        raise LearnerError(f"From the side, two points of the {name} are needed.")
    places = _turned(points.of[name], front)
    places = places[np.argsort(places[:, 0], kind="stable")]
    if np.hypot(*(places[-1] - places[0])) < 20.0 * known.click:
        raise LearnerError(
            f"The points of the {name} lie less than {20.0 * known.click:.0f} px apart: too close to give a direction."
        )
    return places


def _turned(points, front):
    (x, y), (c, s) = y_up(points).T, _TO_UP[front]
    return np.stack([c * x - s * y, s * x + c * y], axis=1)


def _click(optic, known, chance):
    """Spread of the points [px], and how much wider each draw makes it: from the optic's, where they are enough."""
    if len(optic) < _ENOUGH:
        return known.click, 1.0
    phi, freedom = line_direction(optic), len(optic) - 2
    off = (optic - optic.mean(axis=0)) @ [-np.sin(phi), np.cos(phi)]
    spread = max(known.click, float(np.sqrt(np.sum(off**2) / freedom)))
    return spread, np.sqrt(freedom / chance.chi2(freedom))[:, None, None]


def _depth(drawn, points, known, front, chance, click):
    """Depth of the middle of the optic's points behind the limbal line, if anything gives the scale."""
    limbus, optic = drawn
    way = limbus[:, 1] - limbus[:, 0]
    length, ruler = known.ruler if known.ruler is not None else points.ruler, points.of.get("ruler")
    if ruler is not None and len(ruler) == 2 and length is not None:
        ends = _turned(ruler, front) + click * chance.normal(2, 2)
        pixels, spread = np.hypot(*(ends[:, 1] - ends[:, 0]).T), known.ruler_spread
    elif known.white_to_white is not None:
        pixels, length, spread = np.hypot(*way.T), known.white_to_white, known.white_to_white_spread
    else:
        return None
    from_left = optic.mean(axis=1) - limbus[:, 0]
    deep = (way[:, 1] * from_left[:, 0] - way[:, 0] * from_left[:, 1]) / np.hypot(*way.T)
    return interval([deep / pixels * (length + spread * chance.normal())], "mm")
