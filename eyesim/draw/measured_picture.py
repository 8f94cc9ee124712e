"""A photograph with what was measured drawn into it: fitted edges, centres, meridians, and the points as they were set.

Who sees the ellipses lie on the edges may believe the numbers; who does not sees which point to set again. ::

    measured_picture(read_photograph("eye.jpg"), read_points("eye.csv"), result)
"""

from __future__ import annotations

import numpy as np

from ..eye.frames import whole_degrees
from ..photo.ellipse import fit_ellipse
from ..photo.front import Frontal
from . import palette
from .drawing import CAUTION, Sheet
from .picture import Picture

_WIDE, _MARGIN, _LINE = 900.0, 16.0, 21.0
_LIGHT, _DARK = "#ffe14d", "#101418"
_LIMBUS, _OPTIC = "#4de1ff", _LIGHT
_DASHES = (7.0, 5.0)


def measured_picture(photo, points, result) -> Picture:
    """Draw what was measured into a photograph.

    Parameters
    ----------
    photo : Photograph
    points : Points
        From which it was measured.
    result : Frontal, Side or None
        None draws the points alone: they do not suffice yet.
    """
    scale = (_WIDE - 2.0 * _MARGIN) / photo.width
    high = scale * photo.height
    words = _words(result)
    sheet = Sheet(_WIDE, _MARGIN + high + _LINE * (len(words) + 1) + 16.0)
    box = (_MARGIN, _MARGIN, _WIDE - 2.0 * _MARGIN, high)
    sheet.image(box, photo.address)
    pen = _Pen(sheet.plane(*box, scale, (photo.width / 2.0, -photo.height / 2.0)), 1.0 / scale)
    (_points if result is None else _front if isinstance(result, Frontal) else _side)(pen, points, result)
    pen.plane.close()
    for i, line in enumerate([*words, CAUTION]):
        last = i == len(words)
        sheet.text(_MARGIN, _MARGIN + high + _LINE * (i + 1), line, colour=palette.QUIET if last else palette.INK)
    if result is None:
        return sheet.picture("A practice eye, to be measured", f"{photo!r} {points!r}", shown=_WIDE)
    return sheet.picture("A practice eye, measured", repr(result), shown=_WIDE)


class _Pen:
    """Draws in pixels of the photograph, y down; each line is light on dark, so that it shows on any ground."""

    def __init__(self, plane, one):
        self.plane, self.one = plane, one

    def line(self, points, colour, *, closed=False, dash=None):
        """Draw a line through points (n, 2)."""
        points = np.asarray(points, float) * [1.0, -1.0]
        dash = None if dash is None else [self.one * part for part in dash]
        self.plane.path(points, closed=closed, stroke=_DARK, width=3.6 * self.one)
        self.plane.path(points, closed=closed, stroke=colour, width=1.6 * self.one, dash=dash)

    def dots(self, points, colour):
        """Draw small discs at points (..., 2)."""
        for point in np.reshape(points, (-1, 2)) * [1.0, -1.0]:
            self.plane.disc(point, 3.0 * self.one, fill=colour, stroke=_DARK, width=self.one)

    def cross(self, point, colour, size=8.0):
        """Draw a cross: a centre."""
        for way in np.array([[1.0, 0.0], [0.0, 1.0]]) * size * self.one:
            self.line([point - way, point + way], colour)

    def words(self, point, text, right, down, colour):
        """Put words beside a point: to its right or left, moved down [px of the page], and within the photograph."""
        point = np.asarray(point) * [1.0, -1.0]
        left, _, width, _ = self.plane.box
        x = self.plane.at(point)[0] - left
        room = 9.0 * len(text) + 20.0
        right = x + room < width if right else x < room
        look = {"size": 14, "colour": colour, "anchor": "start" if right else "end", "bold": True, "halo": _DARK}
        self.plane.words(point, text, 12.0 if right else -12.0, down + 5.0, **look)


def _front(pen, points, result):
    """Draw edges and centres, the meridian of 0, and each mark and line."""
    limbus = _edge(pen, points, "limbus", _LIMBUS, result)
    pen.cross(limbus.centre, _LIMBUS)
    reach = 1.1 * limbus.half_axes[0]
    pen.line([limbus.centre, limbus.centre + [reach, 0.0]], _LIMBUS, dash=_DASHES)
    pen.words(limbus.centre + [reach, 0.0], "0", True, 0.0, _LIMBUS)
    if result.decentration is not None:
        optic = _edge(pen, points, "optic", _OPTIC, result)
        pen.cross(optic.centre, _OPTIC)
        pen.line([limbus.centre, optic.centre], _OPTIC)
    for one in result.marks:
        spot = points.of[one.name].mean(axis=0)
        pen.line([limbus.centre, spot], _LIGHT, dash=_DASHES)
        pen.dots(spot, _LIGHT)
        text = f"{one.name}: {whole_degrees(one.meridian.value)}\N{DEGREE SIGN}"
        pen.words(spot, text, spot[0] > limbus.centre[0], -14.0, _LIGHT)
    for one in result.lines:
        start, end = points.of[one.name][[0, -1]]
        pen.line([start, end], _LIGHT)
        pen.dots(start, _LIGHT)
        text = f"{one.name}: {one.limbus_angle.value:.0f}\N{DEGREE SIGN}"
        pen.words(end, text, end[0] > limbus.centre[0], 14.0 if end[1] > start[1] else -14.0, _LIGHT)
    _ruler(pen, points)


def _points(pen, points, _):
    """Draw the points as they were set, and nothing else."""
    for name, places in points.of.items():
        pen.dots(places, _LIMBUS if name == "limbus" else _LIGHT)


def _edge(pen, points, name, colour, result):
    """Draw the ellipse of an edge, and the points it was fitted to."""
    edge = fit_ellipse(points.of[name], name, floor=result.click)
    phi = np.linspace(0.0, 2.0 * np.pi, 121)[:-1]
    pen.line(edge.centre + np.stack([np.cos(phi), np.sin(phi)], axis=1) @ edge.shape, colour, closed=True)
    pen.dots(points.of[name], colour)
    return edge


def _side(pen, points, result):
    """Draw the line of the limbus and that of the optic."""
    for name, colour in (("limbus", _LIMBUS), ("optic", _OPTIC)):
        places = points.of[name]
        middle = places.mean(axis=0)
        way = np.linalg.svd(places - middle)[2][0]
        along = (places - middle) @ way
        pen.line([middle + 1.06 * end * way for end in (along.min(), along.max())], colour)
        pen.dots(places, colour)
    _ruler(pen, points)


def _ruler(pen, points):
    if "ruler" in points.of:
        pen.line(points.of["ruler"], "#ffffff", dash=_DASHES)
        pen.dots(points.of["ruler"], "#ffffff")


def _words(result):
    """Lines below the photograph."""
    if result is None:
        return ["Not measured yet: blue points lie on the limbus, yellow ones on all else."]
    if not isinstance(result, Frontal):
        lines = [f"Tilt in the plane of the picture {result.tilt.text('.1f')}"]
        return lines if result.depth is None else [*lines, f"Depth behind the limbal plane {result.depth.text('.2f')}"]
    lines = ["As seen, not yet corrected for the camera. Blue: limbus, its centre, and the meridian of 0."]
    if result.decentration is not None:
        lines.append(
            f"Yellow: optic. Corrected, its centre lies {result.decentration.text('.2f')} from the limbal one."
        )
    if result.lines:
        lines.append("A line's number is its angle to the limbal tangent, a mark's its meridian; both are corrected.")
    return lines
