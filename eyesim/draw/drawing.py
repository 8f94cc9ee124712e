"""Drawing in millimetres, as SVG text: the same input gives the same characters.

A `Sheet` is the whole picture, measured in pixels, y down; a `Paper` is a sheet in millimetres, printed at true scale.
A `Plane` on a sheet is measured in millimetres, y up; shapes go into it in true size, and what leaves its window is
cut off. Words are put on the sheet above all shapes, so they are upright whichever way a plane is turned. No ids are
used (two pictures on one page would quarrel) and no style sheet (notebooks strip them).

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
from .fonts import plain, width_of
from .picture import Picture

FINE, THIN, LINE, BOLD = 0.1, 0.18, 0.3, 0.55
"""Widths of lines on paper [mm]."""
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


class Shapes:
    """What can be drawn in one unit: paths, circles, arrows; shared by a plane and by a sheet."""

    usual = {}
    """How lines look unless it is said otherwise."""
    arrowhead = (0.7, 0.42)
    """Largest share of an arrow that its head may be, and half the head's width by its length [1]."""

    def __init__(self):
        self.shapes = []

    def turned(self, points):
        """Points (..., 2) as they come to lie."""
        return np.asarray(points, float)[..., :2]

    def path(self, points, *, part=None, closed=False, holes=(), **look):
        """Draw a line through points (n, 2), or an area if `closed`; `holes` are cut out of it.

        `look`: fill, stroke, width, dash, opacity, and cap, "round" or "butt".
        """
        rule = ' fill-rule="evenodd"' if holes else ""
        lines = [self.turned(p) for p in (points, *holes)]
        form = "".join("M%.3f %.3f" + "L%.3f %.3f" * (len(line) - 1) + "Z" * closed for line in lines)
        self._path(form, lines, part, rule + self._look(closed, **look))

    def segments(self, starts, ends, *, part=None, **look):
        """Draw many short lines as one shape; starts and ends are (n, 2)."""
        lines = np.concatenate([self.turned(starts), self.turned(ends)], axis=-1)
        self._path("M%.3f %.3fL%.3f %.3f" * len(lines), [lines], part, self._look(False, **look))

    def disc(self, centre, radius, *, part=None, **look):
        """Draw a circle about a point."""
        x, y = self.turned(centre)
        form = f'<circle{_part(part)} cx="%s" cy="%s" r="%s"{self._look(True, **look)}/>'
        self.shapes.append(Shape(form, (float(x), float(y), float(radius)), (3, 3, 3)))

    def arrow(self, start, end, *, head=0.55, part=None, colour=palette.INK, width=0.1, dash=None):
        """Draw a line from start to end with a filled head of the given length."""
        start, end = np.asarray(start, float)[:2], np.asarray(end, float)[:2]
        step = end - start
        length = float(np.hypot(*step))
        if length < 1e-9:
            return
        most, slim = self.arrowhead
        head = min(head, most * length)
        along = step / length
        across = np.array([-along[1], along[0]])
        neck = end - head * along
        self.path([start, neck], part=part, stroke=colour, width=width, dash=dash, cap="butt")
        self.path([end, neck + slim * head * across, neck - slim * head * across], closed=True, fill=colour, width=0)

    def _path(self, form, lines, part, look):
        numbers = np.concatenate([np.ravel(line) for line in lines])
        self.shapes.append(Shape(f'<path{_part(part)} d="{form}"{look}/>', tuple(numbers.tolist())))

    def _look(self, filled, **look):
        look = {"fill": None, "stroke": None, "width": 0.08, "dash": None, "cap": "round", **self.usual, **look}
        text = f' fill="{look["fill"]}"' if filled and look["fill"] else ' fill="none"'
        if "opacity" in look:
            text += f' fill-opacity="{num(look["opacity"], 2)}"'
        if look["stroke"] and look["width"]:
            text += f' stroke="{look["stroke"]}" stroke-width="{num(look["width"])}" stroke-linejoin="round"'
            text += "" if look["cap"] == "butt" else f' stroke-linecap="{look["cap"]}"'
        if look["dash"]:
            text += f' stroke-dasharray="{" ".join(num(d, 2) for d in look["dash"])}"'
        return text


class Sheet(Shapes):
    """A picture being drawn: panel, shapes, then words on top.

    Parameters
    ----------
    width, height : float [px]
    letters : float [1]
        How much larger than usual the letters are: for a back row.
    """

    font = "system-ui, 'Segoe UI', 'DejaVu Sans', Arial, sans-serif"
    ground = palette.PANEL
    digits = {"sheet": 0, "place": 1, "size": 1}
    """Decimals of its own size, of the places of words, and of the sizes of letters."""
    halo = 3.5
    """Width of the line around words that stand on something."""

    def __init__(self, width, height, letters=1.0):
        super().__init__()
        self.width, self.height, self.letters, self.words = width, height, letters, []

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
        """Put words at (x, y), y their baseline.

        Parameters
        ----------
        x, y, size : float [unit of the sheet]
        words : str
        colour : str
        anchor : "start", "middle" or "end"
        bold : bool
        halo : str, True or None
            Colour of a line around the letters; True is that of the ground.
        """
        weight = ' font-weight="600"' if bold else ""
        around = ""
        if halo:
            colour_ = self.ground if halo is True else halo
            around = f' stroke="{colour_}" stroke-width="{self.halo}" stroke-linejoin="round" paint-order="stroke"'
        size = num(size * self.letters, self.digits["size"])
        form = f'<text x="%s" y="%s" font-size="{size}" fill="{colour}" text-anchor="{anchor}"{weight}{around}>'
        self.words.append(Shape(form, (float(x), float(y)), (self.digits["place"],) * 2, str(words)))

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

    def scale_bar(self, x, y, length, words, halo=None):
        """Draw a bar from (x, y) [px] to the right, and say above it how long it is."""
        self.line((x, y), (x + length, y), width=2.5)
        self.text(x + length / 2, y - 6, words, size=13, anchor="middle", halo=halo)

    def image(self, box, address, frame=None):
        """Put a photograph or chart into a box (left, top, width, height) [px], in a frame of a colour."""
        box = " ".join(f'{k}="{num(v)}"' for k, v in zip(("x", "y", "width", "height"), box, strict=True))
        self.shapes.append(f'<image {box} preserveAspectRatio="none" aria-hidden="true" href="{address}"/>')
        if frame:
            self.shapes.append(f'<rect {box} fill="none" stroke="{frame}"/>')

    def caution(self, y, size=13):
        """Put the caution in the middle at a height [px]."""
        self.text(self.width / 2, y, CAUTION, size=size, colour=palette.QUIET, anchor="middle")

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
        body = "\n".join(str(shape) for shape in (*self.shapes, *self.words))
        wide, high = (num(v, self.digits["sheet"]) for v in (self.width, self.height))
        size, panel = self._framed(wide, high, self.width if shown is None else shown)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" {size} role="img"'
            f" aria-label={quoteattr(sentence)} font-family={quoteattr(self.font)}>\n"
            f"<title>{escape(name)}</title>\n<desc>{escape(sentence)}</desc>\n{panel}\n{body}\n</svg>"
        )

    def _framed(self, wide, high, shown):
        """How large it is shown, and what it stands on."""
        style = f"width:100%;max-width:{num(shown, 0)}px;height:auto;display:block"
        panel = (
            f'<rect x="0.5" y="0.5" width="{self.width - 1:.0f}" height="{self.height - 1:.0f}" rx="8"'
            f' fill="{self.ground}" stroke="{palette.EDGE}"/>'
        )
        return f'width="{wide}" height="{high}" style="{style}"', panel

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


class Paper(Sheet):
    """A page measured in millimetres, y down, that prints at true scale; drawn on directly, without a window."""

    font = "'DejaVu Sans', system-ui, Arial, sans-serif"  # by whose letters widths are measured
    ground, halo = "#ffffff", 0.9
    digits = {"sheet": 3, "place": 3, "size": 2}
    usual = {"stroke": palette.INK, "width": THIN, "cap": "butt"}
    arrowhead = (math.inf, 0.3)

    def box(self, left, top, wide, high, **look):
        """Draw a rectangle."""
        corners = [(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)]
        self.path(corners, closed=True, **{"stroke": palette.QUIET, "width": FINE, **look})

    def arrow(self, start, end, *, head=1.6, width=THIN, **look):
        """Draw a line with a filled head at its end."""
        super().arrow(start, end, head=head, width=width, **look)

    def text(self, x, y, words, *, size=2.6, **look):
        """Put words at (x, y) [mm], y their baseline; nothing where there are none."""
        if words := plain(words):
            super().text(x, y, words, size=size, **look)

    def middle(self, point, words, *, size=2.6, **look):
        """Put words with their middle at a point [mm]."""
        self.text(point[0], point[1] + 0.36 * size, words, size=size, **{"anchor": "middle", **look})

    def block(self, x, y, words, wide, *, size=2.6, step=3.7, **look):
        """Put words in lines no wider than `wide` [mm]; return where the next line would be [mm]."""
        line = ""
        for word in [*plain(words).split(), None]:
            longer = f"{line} {word}".strip()
            if word is None or (line and width_of(longer, size) > wide):
                self.text(x, y, line, size=size, **look)
                y, longer = y + step, word
            line = longer
        return y

    def _framed(self, wide, high, shown):
        panel = f'<rect x="0" y="0" width="{wide}" height="{high}" fill="{self.ground}"/>'
        return f'width="{wide}mm" height="{high}mm"', panel


class Plane(Shapes):
    """A window of a `Sheet`, in millimetres, y up; made by `Sheet.plane`."""

    def __init__(self, sheet, box, scale, centre=(0.0, 0.0), turn=0.0):
        super().__init__()
        self.sheet, self.box, self.scale, self.centre = sheet, box, scale, centre
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        self.turning = np.array([[c, -s], [s, c]])

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
        """Places (..., 2) on the sheet of points (..., 2) [mm]."""
        left, top, width, height = self.box
        middle = np.array([left + width / 2.0, top + height / 2.0])
        return middle + self.scale * (self.turned(point) - self.centre) * (1.0, -1.0)

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


def num(value, digits=3):
    """Return a number with at most so many decimals, without a negative nought or trailing noughts.

    Raises LearnerError if it is not finite: nothing is drawn where there is nothing.

    Parameters
    ----------
    value : float
    digits : int
    """
    if not math.isfinite(value):
        raise LearnerError(NOWHERE)
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def arc(centre, radius, start, end, points=61):
    """Points (points, 2) of a circle's arc from start to end [deg].

    Parameters
    ----------
    centre : pair of float
    radius : float [unit of the centre]
    start, end : float [deg]
    points : int
    """
    phi = np.radians(np.linspace(start, end, points))
    return np.asarray(centre, float) + radius * np.stack([np.cos(phi), np.sin(phi)], axis=-1)


def _part(name):
    return f' data-part="{name}"' if name else ""
