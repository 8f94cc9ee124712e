"""Drawing in millimetres, as SVG text: the same input gives the same characters.

A `Sheet` is the whole picture, measured in pixels, y down. A `Plane` on it is measured in millimetres,
y up; shapes go into it in true size, and what leaves its window is cut off. Words are put on the sheet
above all shapes, so they are upright whichever way a plane is turned. No ids are used (two pictures on one
page would quarrel) and no style sheet (notebooks strip them).
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from ..eye.checks import LearnerError
from . import palette

FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', Arial, sans-serif"
CAUTION = "Teaching with practice eyes; not for planning care."
"""The short form that every picture carries."""

NOWHERE = "This picture would hold a number that does not exist; check what was given to it."


class Sheet:
    """A picture being drawn: panel, shapes, then words on top.

    Parameters
    ----------
    width, height : float [px]
    """

    def __init__(self, width, height):
        self.width, self.height = width, height
        self.shapes, self.words = [], []

    def plane(self, left, top, width, height, scale, centre=(0.0, 0.0), turn=0.0):
        """Open a window in millimetres.

        Parameters
        ----------
        left, top, width, height : float [px]
        scale : float [px/mm]
        centre : pair of float [mm]
            What lies in the middle of the window, after turning.
        turn : float [deg]
            Everything is turned by this, counter-clockwise, about the origin.
        """
        return Plane(self, (left, top, width, height), scale, centre, turn)

    def text(self, x, y, words, *, size=14, colour=palette.INK, anchor="start", bold=False, halo=None):
        """Put words at (x, y) [px]; `anchor` "start", "middle" or "end"; `halo` a colour around."""
        weight = ' font-weight="600"' if bold else ""
        around = ""
        if halo:
            around = f' stroke="{halo}" stroke-width="3.5" stroke-linejoin="round" paint-order="stroke"'
        self.words.append(
            f'<text x="{num(x, 1)}" y="{num(y, 1)}" font-size="{num(size, 1)}" fill="{colour}"'
            f' text-anchor="{anchor}"{weight}{around}>{escape(str(words))}</text>'
        )

    def line(self, start, end, *, colour=palette.INK, width=1.5, dash=None):
        """Draw a straight line between two points [px], above the planes."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        (x1, y1), (x2, y2) = ((num(x, 1), num(y, 1)) for x, y in (start, end))
        self.words.append(
            f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{colour}" stroke-width="{num(width, 1)}"{dashed}/>'
        )

    def badge(self, x, y, words, colour, radius=8.5):
        """Put a filled disc with a number in it at (x, y) [px]."""
        self.words.append(
            f'<circle cx="{num(x, 1)}" cy="{num(y, 1)}" r="{num(radius, 1)}" fill="{colour}"'
            f' stroke="{palette.PANEL}" stroke-width="1.2"/>'
        )
        self.text(x, y + 4.6, words, size=13, colour=palette.PANEL, anchor="middle", bold=True)

    def svg(self, name, sentence, shown=None):
        """Return the SVG text.

        Parameters
        ----------
        name : str
            A few words: the picture's title.
        sentence : str
            What the picture says, with its numbers, for who cannot see it.
        shown : float or None [px]
            Largest width at which it is shown; its own by default.
        """
        shown = self.width if shown is None else shown
        body = "\n".join([*self.shapes, *self.words])
        wide, high = num(self.width, 0), num(self.height, 0)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}"'
            f' width="{wide}" height="{high}" role="img"'
            f" aria-label={quoteattr(sentence)} font-family={quoteattr(FONT)}"
            f' style="width:100%;max-width:{num(shown, 0)}px;height:auto;display:block">\n'
            f"<title>{escape(name)}</title>\n<desc>{escape(sentence)}</desc>\n"
            f'<rect x="0.5" y="0.5" width="{self.width - 1:.0f}" height="{self.height - 1:.0f}" rx="8"'
            f' fill="{palette.PANEL}" stroke="{palette.EDGE}"/>\n{body}\n</svg>'
        )


class Plane:
    """A window of a `Sheet`, in millimetres, y up; made by `Sheet.plane`."""

    def __init__(self, sheet, box, scale, centre, turn):
        self.sheet, self.box, self.scale, self.centre = sheet, box, scale, centre
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        self.turning = np.array([[c, -s], [s, c]])
        self.shapes = []

    def turned(self, points):
        """Points (..., 2) [mm] as they come to lie in the window."""
        return np.asarray(points, float)[..., :2] @ self.turning.T

    def at(self, point):
        """Place [px] on the sheet of a point [mm]."""
        x, y = self.turned(point)
        left, top, width, height = self.box
        return (
            left + width / 2.0 + self.scale * (x - self.centre[0]),
            top + height / 2.0 - self.scale * (y - self.centre[1]),
        )

    def path(self, points, *, part=None, closed=False, holes=(), **look):
        """Draw a line through points (n, 2) [mm], or an area if `closed`; `holes` are cut out of it."""
        shape = "".join(_line(self.turned(p), closed) for p in (points, *holes))
        rule = ' fill-rule="evenodd"' if holes else ""
        self.shapes.append(f'<path{_part(part)} d="{shape}"{rule}{self._look(closed, **look)}/>')

    def segments(self, starts, ends, *, part=None, **look):
        """Draw many short lines as one shape; starts and ends are (n, 2) [mm]."""
        shape = _places(np.concatenate([self.turned(starts), self.turned(ends)], axis=-1), "M%.3f %.3fL%.3f %.3f")
        self.shapes.append(f'<path{_part(part)} d="{shape}"{self._look(False, **look)}/>')

    def disc(self, centre, radius, *, part=None, **look):
        """Draw a circle about a point [mm], of a radius [mm]."""
        x, y = self.turned(centre)
        self.shapes.append(
            f'<circle{_part(part)} cx="{num(x)}" cy="{num(y)}" r="{num(radius)}"{self._look(True, **look)}/>'
        )

    def arrow(self, start, end, *, head=0.55, part=None, colour=palette.INK, width=0.1):
        """Draw a line from start to end [mm] with a filled head of the given length [mm]."""
        start, end = np.asarray(start, float)[:2], np.asarray(end, float)[:2]
        step = end - start
        length = float(np.hypot(*step))
        if length < 1e-9:
            return
        head = min(head, 0.7 * length)
        along = step / length
        across = np.array([-along[1], along[0]])
        neck = end - head * along
        self.path([start, neck], part=part, stroke=colour, width=width, cap="butt")
        self.path([end, neck + 0.42 * head * across, neck - 0.42 * head * across], closed=True, fill=colour)

    def words(self, point, words, dx=0.0, dy=0.0, **look):
        """Put words at a point [mm], moved by (dx, dy) [px, y down]."""
        x, y = self.at(point)
        self.sheet.text(x + dx, y + dy, words, **look)

    def badge(self, point, words, colour):
        """Put a numbered disc at a point [mm]."""
        self.sheet.badge(*self.at(point), words, colour)

    def close(self):
        """Put the window on the sheet."""
        left, top, width, height = self.box
        wide, high = width / self.scale, height / self.scale
        view = f"{num(self.centre[0] - wide / 2)} {num(-self.centre[1] - high / 2)} {num(wide)} {num(high)}"
        self.sheet.shapes.append(
            f'<svg x="{num(left, 1)}" y="{num(top, 1)}" width="{num(width, 1)}" height="{num(height, 1)}"'
            f' viewBox="{view}" overflow="hidden" aria-hidden="true"><g transform="scale(1 -1)">'
        )
        self.sheet.shapes.extend(self.shapes)
        self.sheet.shapes.append("</g></svg>")

    def _look(self, filled, *, fill=None, stroke=None, width=0.08, dash=None, opacity=None, cap="round"):
        text = f' fill="{fill}"' if filled and fill else ' fill="none"'
        if opacity is not None:
            text += f' fill-opacity="{num(opacity, 2)}"'
        if stroke:
            text += f' stroke="{stroke}" stroke-width="{num(width)}" stroke-linejoin="round"'
            text += "" if cap == "butt" else f' stroke-linecap="{cap}"'
        if dash:
            text += f' stroke-dasharray="{" ".join(num(d, 2) for d in dash)}"'
        return text


def num(value, digits=3):
    """Return a number with at most so many decimals, without a negative nought or trailing noughts.

    Raises
    ------
    LearnerError
        If it is not finite: nothing is drawn where there is nothing.
    """
    if not math.isfinite(value):
        raise LearnerError(NOWHERE)
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def arc(centre, radius, start, end, points=61):
    """Points (points, 2) of a circle's arc from start to end [deg]."""
    phi = np.radians(np.linspace(start, end, points))
    return np.asarray(centre, float) + radius * np.stack([np.cos(phi), np.sin(phi)], axis=-1)


def _line(points, closed):
    return "M" + _places(points, "L%.3f %.3f")[1:] + ("Z" if closed else "")


def _places(rows, form):
    """Write numbers into a form, row by row, all at once: this is where a view's time goes."""
    numbers = (np.asarray(rows).round(3) + 0.0).ravel().tolist()  # adding nought takes the sign off a nought
    if not math.isfinite(sum(numbers)):
        raise LearnerError(NOWHERE)
    return (form * len(rows)) % tuple(numbers)


def _part(name):
    return f' data-part="{name}"' if name else ""
