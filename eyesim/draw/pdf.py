"""Pages to print: words, and pictures drawn as in the SVG, as a PDF that needs nothing else.

Pictures are painted from the project's own SVG, whose vocabulary is small (`drawing`): paths of straight pieces,
circles, lines, words, and windows. The same content gives the same bytes.
"""

from __future__ import annotations

import functools
import io
import re
import xml.etree.ElementTree as ElementTree
from xml.sax.saxutils import escape

from ..eye.checks import LearnerError
from ..text.caution import CAUTION
from . import fonts

_NUMBERS = re.compile(r"-?[0-9.]+(?:e-?[0-9]+)?")
_STEP = re.compile(r"([ML])(-?[0-9.]+ -?[0-9.]+)")
_PAINT = {  # the operators of ISO 32000-1, tables 59 and 60, by filled, stroked and even-odd
    (True, True, False): "B",
    (True, True, True): "B*",
    (True, False, False): "f",
    (True, False, True): "f*",
    (False, True, False): "S",
    (False, True, True): "S",
}
_OPERATORS = str.maketrans({"M": "m", "L": "l", "Z": "h "})
_MARGIN = 50.0  # [pt]
_POINTS = 72.0 / 25.4  # a millimetre
SHEETS = {"A4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""Sizes of paper [pt]: ISO 216 A4, and US letter."""


def document(title, parts, *, sheet="A4") -> bytes:
    """PDF of a title, the caution, and parts.

    Parameters
    ----------
    title : str
    parts : list of tuple
        ("heading" or "question" or "words" or "small" or "answer", text), ("picture", SVG text) or ("line", "").
    sheet : str
        A key of `SHEETS`.
    """
    from reportlab.platypus import KeepTogether, SimpleDocTemplate, Spacer

    fonts.register()
    file, size = io.BytesIO(), SHEETS[sheet]
    wide = size[0] - 2.0 * _MARGIN
    edges = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), _MARGIN)
    paper = SimpleDocTemplate(file, pagesize=size, title=title, author="eyesim", invariant=1, **edges)
    flow = [_words("title", title), _words("caution", CAUTION), Spacer(0, 6)]
    held = []  # a question stays with what belongs to it, as far as it fits on a page
    for kind, content in parts:
        if kind in ("line", "heading") and held:
            flow += [KeepTogether(held), Spacer(0, 8)]
            held = []
        if kind == "picture":
            held.append(_picture(content, wide))
        elif kind == "heading":
            flow.append(_words(kind, content))
        elif kind != "line":
            held.append(_words(kind, content))
    flow += [KeepTogether(held)] if held else []
    paper.build(flow, onFirstPage=_foot, onLaterPages=_foot)
    return file.getvalue()


def sheet_pdf(svg, sheet="A4") -> bytes:
    """Paint one SVG that is measured in millimetres onto a whole page, at true scale.

    Raises LearnerError if there is no such sheet, or the picture is not of its size.

    Parameters
    ----------
    svg : str
        As wide and high as the sheet: width="210mm" height="297mm".
    sheet : str
        A key of `SHEETS`.
    """
    from reportlab.pdfgen.canvas import Canvas

    fonts.register()
    root, size = ElementTree.fromstring(svg), size_of(sheet)
    across = [float(v) for v in _NUMBERS.findall(root.get("viewBox"))][2]
    sizes = [root.get(name, "") for name in ("width", "height")]
    in_points = [_POINTS * float(v[:-2]) if v.endswith("mm") else 0.0 for v in sizes]
    if max(abs(a - b) for a, b in zip(in_points, size, strict=True)) > 0.5:
        raise LearnerError(f"The picture is {' by '.join(sizes)}; that is not the size of {sheet} paper.")
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=size, invariant=1)
    canvas.setTitle(root.findtext("{*}title") or "")
    canvas.setAuthor("eyesim")
    canvas.translate(0.0, size[1])
    canvas.scale(in_points[0] / across, -in_points[0] / across)
    for child in root:
        _paint(canvas, child)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def size_of(sheet):
    """Width and height [pt] of a sheet; raises `LearnerError` if there is no such sheet."""
    if not isinstance(sheet, str) or sheet not in SHEETS:
        raise LearnerError(f"Paper is {' or '.join(SHEETS)}; {str(sheet)[:60]!r} was given.")
    return SHEETS[sheet]


def _foot(canvas, paper):
    """Print the caution and the number of the page below each page."""
    canvas.saveState()
    canvas.setFont(fonts.REGULAR, 7)
    first, _, second = CAUTION.partition(": ")
    for y, line in ((33, f"{first}:"), (23, second)):
        canvas.drawString(_MARGIN, y, line)
    canvas.drawRightString(paper.pagesize[0] - _MARGIN, 28, str(paper.page))
    canvas.restoreState()


@functools.cache
def _style(kind):
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle

    plain = {"fontName": fonts.REGULAR, "fontSize": 9.5, "leading": 13, "spaceAfter": 4, "splitLongWords": 1}
    own = {
        "title": {"fontName": fonts.BOLD, "fontSize": 17, "leading": 22, "spaceAfter": 8},
        "caution": {
            "borderWidth": 0.8,
            "borderColor": HexColor("#18222b"),
            "borderPadding": 6,
            "spaceAfter": 12,
            "spaceBefore": 4,
            "leftIndent": 7,
            "rightIndent": 7,
        },
        "heading": {"fontName": fonts.BOLD, "fontSize": 13, "leading": 18, "spaceBefore": 8},
        "question": {"fontName": fonts.BOLD, "fontSize": 10, "leading": 13.5},
        "answer": {"leftIndent": 12, "textColor": HexColor("#005b94")},
        "small": {"fontSize": 8, "leading": 11, "textColor": HexColor("#4f5b66")},
        "lead": {"fontSize": 12, "leading": 16},
    }
    return ParagraphStyle(kind, **{**plain, **own.get(kind, {})})


def _words(kind, text):
    from reportlab.platypus import Paragraph

    text = "".join(c for c in text if c.isprintable() or c == "\n")
    return Paragraph(escape(text).replace("\n", "<br/>"), _style(kind))


def _picture(svg, wide):
    """Picture as something that a page can hold, as wide as there is room."""
    from reportlab.platypus import Flowable

    root = ElementTree.fromstring(svg)
    width, height = (float(root.get(name)) for name in ("width", "height"))
    scale = min(wide / width, 0.75)

    class Painted(Flowable):
        def __init__(self):
            super().__init__()
            self.width, self.height = scale * width, scale * height + 6.0

        def draw(self):
            canvas = self.canv
            canvas.saveState()
            canvas.translate(0.0, self.height - 3.0)
            canvas.scale(scale, -scale)
            for child in root:
                _paint(canvas, child)
            canvas.restoreState()

    return Painted()


def _paint(canvas, element):
    """Paint one element of an SVG of ours; the canvas is turned so that y goes down."""
    kind = element.tag.rpartition("}")[2]
    if kind in ("title", "desc"):
        return
    canvas.saveState()
    if kind == "svg":
        _window(canvas, element)
    elif kind == "g":
        canvas.scale(1.0, -1.0)
        for child in element:
            _paint(canvas, child)
    elif kind == "text":
        _text(canvas, element)
    else:
        _shape(canvas, element, kind)
    canvas.restoreState()


def _window(canvas, element):
    x, y, wide, high = (float(element.get(name)) for name in ("x", "y", "width", "height"))
    left, top, across, down = (float(v) for v in _NUMBERS.findall(element.get("viewBox")))
    path = canvas.beginPath()
    path.rect(x, y, wide, high)
    canvas.clipPath(path, stroke=0, fill=0)
    canvas.translate(x, y)
    canvas.scale(wide / across, high / down)
    canvas.translate(-left, -top)
    for child in element:
        _paint(canvas, child)


@functools.cache
def _colour(name):
    from reportlab.lib.colors import toColor

    return toColor(name)


def _path(steps):
    """Write the steps of an SVG path as those of a PDF: operators come after their numbers, and the digits stay."""
    return _STEP.sub(r"\2 \1 ", steps).translate(_OPERATORS).strip()


def _shape(canvas, element, kind):
    get = element.get
    fill, stroke = get("fill") not in (None, "none"), get("stroke") not in (None, "none")
    if fill:
        canvas.setFillColor(_colour(get("fill")))
        canvas.setFillAlpha(float(get("fill-opacity", 1.0)))
    if stroke:
        canvas.setStrokeColor(_colour(get("stroke")))
        canvas.setLineWidth(float(get("stroke-width", 1.0)))
        canvas.setLineCap({"round": 1, "square": 2}.get(get("stroke-linecap"), 0))
        canvas.setLineJoin(1 if get("stroke-linejoin") == "round" else 0)
        if get("stroke-dasharray"):
            canvas.setDash([float(v) for v in _NUMBERS.findall(get("stroke-dasharray"))])
    how = {"stroke": int(stroke), "fill": int(fill)}
    if kind == "path":
        if fill or stroke:
            canvas.addLiteral(f"{_path(get('d'))} {_PAINT[fill, stroke, get('fill-rule') == 'evenodd']}")
    elif kind == "circle":
        canvas.circle(float(get("cx")), float(get("cy")), float(get("r")), **how)
    elif kind == "line":
        canvas.line(*(float(get(name)) for name in ("x1", "y1", "x2", "y2")))
    elif kind == "rect":
        box = (float(get(name)) for name in ("x", "y", "width", "height"))
        canvas.roundRect(*box, float(get("rx", 0.0)), **how)


def _text(canvas, element):
    get = element.get
    words, size = element.text or "", float(get("font-size"))
    font = fonts.BOLD if get("font-weight") else fonts.REGULAR
    wide = canvas.stringWidth(words, font, size)
    back = {"middle": wide / 2.0, "end": wide}.get(get("text-anchor"), 0.0)
    canvas.translate(float(get("x")) - back, float(get("y")))
    canvas.scale(1.0, -1.0)
    if get("stroke"):
        canvas.saveState()  # a way of rendering outlives its text
        canvas.setStrokeColor(_colour(get("stroke")))
        canvas.setLineWidth(float(get("stroke-width")))
        canvas.setLineJoin(1)
        _outlined(canvas, words, font, size)
        canvas.restoreState()
    canvas.setFont(font, size)
    canvas.setFillColor(_colour(get("fill")))
    canvas.drawString(0.0, 0.0, words)


def _outlined(canvas, words, font, size):
    text = canvas.beginText(0.0, 0.0)
    text.setFont(font, size)
    text.setTextRenderMode(1)
    text.textOut(words)
    canvas.drawText(text)
