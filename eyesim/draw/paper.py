"""A sheet of paper to draw on in millimetres, y down, as SVG text that prints at true scale.

It uses no more than the shapes that `pdf` can paint: paths of straight pieces, circles, rectangles and words.
"""

from __future__ import annotations

import functools
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from . import palette
from .drawing import num

FONT = "'DejaVu Sans', system-ui, Arial, sans-serif"
FINE, THIN, LINE, BOLD = 0.1, 0.18, 0.3, 0.55
"""Widths of lines [mm]."""


class Paper:
    """A page being drawn.

    Parameters
    ----------
    width, height : float [mm]
    """

    def __init__(self, width, height):
        self.width, self.height, self.shapes, self.words = width, height, [], []

    def path(self, points, *, part=None, closed=False, fill=None, colour=palette.INK, width=THIN, dash=None):
        """Draw a line through points (n, 2) [mm], or an area if `closed`; no outline if `width` is 0."""
        steps = "L".join(f"{num(x)} {num(y)}" for x, y in np.asarray(points, float)[:, :2])
        look = _look(fill, colour, width, dash)
        self.shapes.append(f'<path{_part(part)} d="M{steps}{"Z" * closed}"{look}/>')

    def circle(self, centre, radius, *, part=None, fill=None, colour=palette.INK, width=THIN, dash=None):
        """Draw a circle."""
        place = f'cx="{num(centre[0])}" cy="{num(centre[1])}" r="{num(radius)}"'
        self.shapes.append(f"<circle{_part(part)} {place}{_look(fill, colour, width, dash)}/>")

    def box(self, left, top, wide, high, *, part=None, fill=None, colour=palette.QUIET, width=FINE):
        """Draw a rectangle."""
        corners = [(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)]
        self.path(corners, part=part, closed=True, fill=fill, colour=colour, width=width)

    def arrow(self, start, end, *, head=1.6, part=None, colour=palette.INK, width=THIN, dash=None):
        """Draw a line with a filled head at its end."""
        start, end = np.asarray(start, float), np.asarray(end, float)
        along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
        across, neck = np.array([-along[1], along[0]]), end - head * along
        self.path([start, neck], part=part, colour=colour, width=width, dash=dash)
        self.path([end, neck + 0.3 * head * across, neck - 0.3 * head * across], closed=True, fill=colour, width=0)

    def text(self, x, y, words, *, size=2.6, colour=palette.INK, anchor="start", bold=False, halo=False):
        """Put words at (x, y) [mm], y their baseline; nothing where there are none."""
        words = plain(words)
        if not words:
            return
        weight = ' font-weight="600"' if bold else ""
        around = ' stroke="#ffffff" stroke-width="0.9" stroke-linejoin="round" paint-order="stroke"' if halo else ""
        self.words.append(
            f'<text x="{num(x)}" y="{num(y)}" font-size="{num(size, 2)}" fill="{colour}" text-anchor="{anchor}"'
            f"{weight}{around}>{escape(words)}</text>"
        )

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

    def svg(self, name, sentence):
        """Return the page as SVG text.

        Parameters
        ----------
        name, sentence : str
            Its title, and what it says, for who cannot see it.
        """
        wide, high = num(self.width), num(self.height)
        body = "\n".join([*self.shapes, *self.words])
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}"'
            f' role="img" aria-label={quoteattr(plain(sentence))} font-family={quoteattr(FONT)}>\n'
            f"<title>{escape(plain(name))}</title>\n<desc>{escape(plain(sentence))}</desc>\n"
            f'<rect x="0" y="0" width="{wide}" height="{high}" fill="#ffffff"/>\n{body}\n</svg>'
        )


def arc(centre, radius, start, end, points=41):
    """Points (points, 2) [mm] of a circle's arc between two directions [deg], counter-clockwise as seen, y down."""
    phi = np.radians(np.linspace(start, end, points))
    return np.asarray(centre, float) + radius * np.stack([np.cos(phi), -np.sin(phi)], axis=-1)


@functools.lru_cache(maxsize=4096)
def width_of(words, size, bold=False):
    """Width [mm] of words in letters of a size [mm]."""
    from . import pdf

    return pdf.width_of(words, size, bold)


def fitted(words, wide, size, bold=False):
    """Shorten words to a width [mm], with an ellipsis where something is left out."""
    words = plain(words)
    if width_of(words, size, bold) <= wide:
        return words
    while words and width_of(f"{words}\N{HORIZONTAL ELLIPSIS}", size, bold) > wide:
        words = words[:-1]
    return f"{words.rstrip()}\N{HORIZONTAL ELLIPSIS}"


def millimetres(value):
    """Write a length: one decimal where that is all there is, else two."""
    value = float(value)
    return f"{value:.1f} mm" if abs(10.0 * value - round(10.0 * value)) < 1e-6 else f"{value:.2f} mm"


def degrees(value):
    """Write an angle."""
    return f"{num(float(value), 1)}°".replace("-", "\N{MINUS SIGN}")


def plain(words):
    """Leave out what cannot be printed."""
    return "".join(c for c in " ".join(str(words).split()) if c.isprintable())


def _look(fill, colour, width, dash):
    text = f' fill="{fill or "none"}"'
    if width:
        text += f' stroke="{colour}" stroke-width="{num(width)}" stroke-linejoin="round"'
    if dash:
        text += f' stroke-dasharray="{" ".join(num(d, 2) for d in dash)}"'
    return text


def _part(name):
    return f' data-part="{name}"' if name else ""
