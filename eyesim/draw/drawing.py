"""Drawing in millimetres, as SVG text: the same input gives the same characters.

A `Sheet` is the whole picture, measured in pixels, y down. A `Plane` on it is measured in millimetres,
y up; shapes go into it in true size, and what leaves its window is cut off. Words are put on the sheet
above all shapes, so they are upright whichever way a plane is turned. No ids are used (two pictures on one
page would quarrel) and no style sheet (notebooks strip them).

What is drawn is kept as forms with numbers beside them. Two pictures of one form differ in numbers only, so a page
that shows the one can be told the other in a few numbers, and their difference over a small step is how the picture
begins to move.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import zlib
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from ..eye.checks import LearnerError
from . import palette
from .picture import Picture

FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', Arial, sans-serif"
CAUTION = "Teaching with practice eyes; not for planning care."
"""The short form that every picture carries."""

NOWHERE = "This picture would hold a number that does not exist; check what was given to it."


@dataclasses.dataclass(frozen=True, eq=False)
class Shape:
    """One element of a picture: SVG text with a gap for each number, the numbers, and its words if it has any."""

    form: str
    numbers: tuple[float, ...]
    digits: tuple[int, ...] = ()
    words: str | None = None

    def __post_init__(self):
        if not math.isfinite(sum(self.numbers)):
            raise LearnerError(NOWHERE)

    def __str__(self):
        if not self.digits:  # a path: written all at once, since this is where a view's time goes
            return self.form % tuple((np.round(self.numbers, 3) + 0.0).tolist())  # takes the sign off a nought
        text = self.form % tuple(num(v, d) for v, d in zip(self.numbers, self.digits, strict=True))
        return text if self.words is None else f"{text}{escape(self.words)}</text>"


@dataclasses.dataclass(frozen=True, eq=False)
class Drawing:
    """What of a picture can move.

    Attributes
    ----------
    form : int
        Alike for pictures that differ in numbers and words only.
    numbers : (n,) array
        Of all paths, circles, texts and lines in the order in which they stand in the SVG: of a path its points, of a
        circle cx, cy, r, of a text x, y, of a line x1, y1, x2, y2.
    words : list of str
        Of all texts.
    """

    form: int
    numbers: np.ndarray
    words: list[str]


class Sheet:
    """A picture being drawn: panel, shapes, then words on top.

    Parameters
    ----------
    width, height : float [px]
    letters : float [1]
        How much larger than usual the letters are: for a back row.
    """

    def __init__(self, width, height, letters=1.0):
        self.width, self.height, self.letters = width, height, letters
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
        size *= self.letters
        form = f'<text x="%s" y="%s" font-size="{num(size, 1)}" fill="{colour}" text-anchor="{anchor}"{weight}{around}>'
        self.words.append(Shape(form, (float(x), float(y)), (1, 1), str(words)))

    def line(self, start, end, *, colour=palette.INK, width=1.5, dash=None):
        """Draw a straight line between two points [px], above the planes."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        look = f'stroke="{colour}" stroke-width="{num(width, 1)}"{dashed}'
        ends = tuple(float(v) for point in (start, end) for v in point)
        self.words.append(Shape(f'<line x1="%s" y1="%s" x2="%s" y2="%s" {look}/>', ends, (1, 1, 1, 1)))

    def badge(self, x, y, words, colour, radius=8.5):
        """Put a filled disc with a number in it at (x, y) [px]."""
        look = f'fill="{colour}" stroke="{palette.PANEL}" stroke-width="1.2"'
        circle = f'<circle cx="%s" cy="%s" r="%s" {look}/>'
        self.words.append(Shape(circle, (float(x), float(y), float(self.letters * radius)), (1, 1, 1)))
        self.text(x, y + 4.6 * self.letters, words, size=13, colour=palette.PANEL, anchor="middle", bold=True)

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
        body = "\n".join(str(shape) for shape in (*self.shapes, *self.words))
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

    def picture(self, name, sentence, shown=None):
        """Return what is drawn as a `Picture` that can also be told in numbers; parameters as in `svg`."""
        return Picture(functools.partial(self.svg, name, sentence, shown), sentence, self.drawing)

    def drawing(self):
        """Return the numbers and words of what is drawn, a `Drawing`."""
        forms, numbers, words = [f"{self.width} {self.height}"], [], []
        for shape in (*self.shapes, *self.words):
            if isinstance(shape, str):
                forms.append(shape)
            else:
                forms.append(shape.form)
                numbers.extend(shape.numbers)
                if shape.words is not None:
                    words.append(shape.words)
        return Drawing(zlib.crc32("\n".join(forms).encode()), np.array(numbers), words)


class Plane:
    """A window of a `Sheet`, in millimetres, y up; made by `Sheet.plane`."""

    def __init__(self, sheet, box, scale, centre, turn):
        self.sheet, self.box, self.scale, self.centre = sheet, box, scale, centre
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        self.turning = np.array([[c, -s], [s, c]])
        self.shapes = []

    @property
    def top(self):
        """Upper edge of the window [mm]."""
        return self.centre[1] + self.box[3] / self.scale / 2.0

    @property
    def bottom(self):
        """Lower edge of the window [mm]."""
        return self.centre[1] - self.box[3] / self.scale / 2.0

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
        rule = ' fill-rule="evenodd"' if holes else ""
        lines = [self.turned(p) for p in (points, *holes)]
        form = "".join("M%.3f %.3f" + "L%.3f %.3f" * (len(line) - 1) + "Z" * closed for line in lines)
        self._path(form, lines, part, rule + self._look(closed, **look))

    def segments(self, starts, ends, *, part=None, **look):
        """Draw many short lines as one shape; starts and ends are (n, 2) [mm]."""
        lines = np.concatenate([self.turned(starts), self.turned(ends)], axis=-1)
        self._path("M%.3f %.3fL%.3f %.3f" * len(lines), [lines], part, self._look(False, **look))

    def disc(self, centre, radius, *, part=None, **look):
        """Draw a circle about a point [mm], of a radius [mm]."""
        x, y = self.turned(centre)
        form = f'<circle{_part(part)} cx="%s" cy="%s" r="%s"{self._look(True, **look)}/>'
        self.shapes.append(Shape(form, (float(x), float(y), float(radius)), (3, 3, 3)))

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

    def _path(self, form, lines, part, look):
        numbers = np.concatenate([np.ravel(line) for line in lines])
        self.shapes.append(Shape(f'<path{_part(part)} d="{form}"{look}/>', tuple(numbers.tolist())))

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


def _part(name):
    return f' data-part="{name}"' if name else ""
