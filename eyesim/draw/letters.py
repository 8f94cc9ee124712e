"""What the patient sees: the letter chart and a star, without glasses and with the best ones.

Paper stays white and night stays black on a dark page too: each picture brings its own ground.
"""

from __future__ import annotations

import base64
import math
import struct
import zlib

import numpy as np

from ..eye.checks import LearnerError, plain_errors, short
from ..sight.eye_chart import SCALE, WIDTH, chart_height, rows
from ..sight.eye_chart import letter_chart as drawn_chart
from ..sight.letters import size_names
from ..sight.refraction import in_words, signed
from ..sight.spectacles import STEP, fit_glasses
from ..sight.zernike import order_and_frequency
from . import palette
from .drawing import Sheet
from .picture import Picture

SHOWN = 0.8
"""Size [px] at which a pixel of the chart is shown."""
GOOD = 0.0
"""A row [logMAR] that is called seeing well: 20/20."""
_LEFT, _GAP, _TOP = 18.0, 176.0, 108.0
_ON_TOP, _ON_PAPER = 3, "#555555"
_PRINT = 16.0
"""Size [px] of the print beside a chart, which is often shown smaller than it is drawn."""
_NARROW = 2.2
"""Pupil [mm] below which diffraction alone keeps an eye from reading 20/20 well."""
_VIEWS = (5.0, 10.0, 20.0, 40.0, 80.0, 160.0)
"""Half widths [arcmin] at which a star is shown."""


@plain_errors
def letter_chart(sight, *, label="", found=None) -> Picture:
    """Show a chart of letters as a patient sees it, without glasses and with the best ones.

    Raises LearnerError if it is not a single eye that sees.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    label : str
        Heading, such as "A: as planned".
    found : GlassesFit or None
        What `sight.spectacles.fitted` found for this eye, where that is known already.
    """
    found = found or _fitted("letter_chart", sight)
    sentence = _labelled(label, _chart_sentence(sight, found))
    heading, worn = _worn(found.glasses)
    after = (heading, worn or _reads(found.best), _reads(found.best) if worn else "")
    columns = (("Without glasses", _reads(found.read), ""), found.before, found.read), (after, found.after, found.best)
    return Picture(_two_charts(label or "What the patient sees", columns, sentence), sentence)


def compared_charts(kept, now) -> Picture:
    """Show the charts of two eyes next to each other, both without glasses; what glasses give is told above.

    Parameters
    ----------
    kept, now : GlassesFit
        What `sight.spectacles.fitted` found.
    """
    sentences, columns = [], []
    for name, found in (("A: kept", kept), ("B: now", now)):
        short_, worn = f"reads {found.read.fraction}", _prescribed(found.glasses)
        lines, glasses = (short_, "glasses make it no better"), "glasses make it no better"
        if found.glasses.blur:
            lines = (f"{short_}; {found.best.fraction} with glasses of", worn)
            glasses = f"with {worn} it {_reads(found.best)}"
        sentences.append(f"{name}: without glasses this eye {_reads(found.read)}; {glasses}.")
        columns.append(((f"{name}, without glasses", *lines), found.before, found.read))
    sentence = " ".join(sentences)
    return Picture(_two_charts("What the patient sees", columns, sentence), sentence)


def _two_charts(title, columns, sentence):
    """Draw two charts with the names of the rows between them, as SVG; columns are (three lines, spread, acuity)."""
    wide, high = WIDTH / SCALE * SHOWN, chart_height() / SCALE * SHOWN
    sheet = Sheet(2 * (_LEFT + wide) + _GAP, _TOP + high + 40.0)
    sheet.text(_LEFT, 27, title, size=18, bold=True)
    for left, (lines, spread, read) in zip((_LEFT, _LEFT + wide + _GAP), columns, strict=True):
        sheet.text(left, 55, lines[0], size=17, bold=True)
        sheet.text(left, 76, lines[1], size=_PRINT, colour=palette.QUIET)
        sheet.text(left, 96, lines[2], size=_PRINT, colour=palette.QUIET)
        sheet.image((left, _TOP, wide, high), _png_address(drawn_chart(spread)), palette.EDGE)
        _first_line_names(sheet, left, read)
    _row_names(sheet, _LEFT + wide, *(column[2] for column in columns))
    sheet.caution(sheet.height - 14, _PRINT)
    return sheet.svg("Letter chart as seen", sentence, shown=sheet.width)


@plain_errors
def spread_picture(sight, *, label="") -> Picture:
    """Show how a patient sees a star, without glasses and with the best ones.

    Raises LearnerError if it is not a single eye that sees.

    Parameters
    ----------
    sight : Sight
        Of a single eye.
    label : str
        Heading.
    """
    found = _fitted("spread_picture", sight)
    half = next((v for v in _VIEWS if v >= 3.0 * max(found.before.radius, found.after.radius)), _VIEWS[-1])
    side = 320.0
    sheet = Sheet(2 * side + 54.0, _TOP + side + 62.0)
    sheet.text(_LEFT, 27, label or "How a star is seen", size=16, bold=True)
    columns = (_LEFT, "Without glasses", "", found.before), (_LEFT + side + 18.0, *_worn(found.glasses), found.after)
    for left, heading, worn, spread in columns:
        words = _half_within(spread)
        sheet.text(left, 54, heading, size=15, bold=True)
        sheet.text(left, 72, worn or words, size=13, colour=palette.QUIET)
        sheet.text(left, 90, words if worn else "", size=13, colour=palette.QUIET)
        sheet.image((left, _TOP, side, side), _png_address(_star(spread, half)), palette.EDGE)
        _arcmin_bar(sheet, left + 14.0, _TOP + side - 14.0, half, side)
    note = "Both are drawn equally bright at their brightest, with the dim parts lifted."
    sheet.text(_LEFT, _TOP + side + 22.0, note, size=13, colour=palette.QUIET)
    sheet.caution(sheet.height - 14)
    sentence = _labelled(label, _spread_sentence(found))
    return Picture(sheet.svg("A star as seen", sentence, shown=sheet.width), sentence)


def _spread_sentence(found):
    """Say how widely a star is spread without and with glasses."""
    sentence = f"A star as this eye sees it: without glasses {_half_within(found.before)}"
    if found.glasses.blur:
        sentence += f"; with {_prescribed(found.glasses)} {_half_within(found.after)}."
    else:
        sentence += "; glasses make it no better."
    if found.before.haze >= 0.005:
        sentence += f" {100 * found.before.haze:.0f} % of the light passes beside the optic and is spread far around."
    return sentence


def _chart_sentence(sight, found):
    """Say what is read without and with glasses, and whether that corrects it."""
    read, best = found.read, found.best
    without = f"Without glasses this eye {_reads(read)}"
    if not found.glasses.blur:
        if best.row <= GOOD:
            return f"{without}; it needs none."
        return f"{without}; glasses make it no better: {remains(sight)}."
    with_them = f"with {_prescribed(found.glasses)} it {_reads(best)}"
    if best.row <= GOOD:
        return f"{without}; {with_them}: {'a little sharper' if read.row <= GOOD else 'glasses correct it'}."
    verdict = "glasses help, but not all the way" if best.row < read.row else "glasses do not help much"
    return f"{without}; {with_them}: {verdict}; {remains(sight)}."


def remains(sight):
    """Say what blurs most of what glasses cannot correct, with its size."""
    kinds = {"coma": (3, 1), "trefoil": (3, 3), "spherical aberration": (4, 0)}
    sizes = {"irregular shape of the wavefront": 0.0}
    for j in range(6, len(sight.zernike)):
        n, m = order_and_frequency(j)
        name = next((k for k, v in kinds.items() if v == (n, abs(m))), "irregular shape of the wavefront")
        sizes[name] = math.hypot(sizes.get(name, 0.0), float(sight.zernike[j]))
    name = max(sizes, key=sizes.get)
    beside = f"{100 * sight.missed_light:.0f} % of the light beside the optic" if sight.missed_light >= 0.05 else ""
    as_defocus = math.sqrt(48.0) * sizes[name] / (float(sight.pupil) / 2.0) ** 2  # D, of the same mean square
    if as_defocus >= STEP / 2.0:
        words = f"{name} ({sizes[name]:.2f} um)"
        return f"{words} and {beside} remain" if beside else f"{words} remains"
    if beside:
        return f"{beside} remains"
    if sight.pupil < _NARROW:
        return "through so narrow a pupil no eye sees finer"
    return "what remains is finer than the steps of glasses"


def _fitted(owner, sight):
    if not hasattr(sight, "zernike"):
        raise LearnerError(f"{owner} shows a Sight, as es.refract(...) gives it; {short(sight)} was given.")
    return fit_glasses(sight)


def _labelled(label, sentence):
    return f"{label}. {sentence}" if label else sentence


def _half_within(spread):
    return f"half of the light lies within {spread.radius:.1f} arcmin"


def _reads(read):
    if read.row > 1.0:
        far = f" (about {read.fraction})" if np.isfinite(read.row) else ""
        return f"reads no line of the chart{far}"
    return f"reads the line {read.fraction} (decimal {read.decimal})"


def _worn(glasses):
    return ("With the best glasses", _prescribed(glasses)) if glasses.blur else ("Glasses make it no better", "")


def _prescribed(glasses):
    if signed(glasses.sphere) == signed(0.0) and glasses.blur:
        return f"0.00 D sphere, {signed(glasses.cylinder)} D cylinder, axis {round(float(glasses.axis)) or 180}"
    return in_words(glasses)


def _row_names(sheet, left, *seen):
    """Name each row between both charts, and point at the row that is read on either side."""
    middle, side_by_side = left + _GAP / 2.0, rows()[:_ON_TOP]
    for row in rows():
        feet, decimal = size_names(row.logmar)
        y = _TOP + (row.top + row.height / 2.0) / SCALE * SHOWN + 5.5
        if row not in side_by_side:
            size = _PRINT if row.logmar > 0.05 else _PRINT - 2.0  # the last rows stand close
            sheet.text(middle - 6.0, y, feet, size=size, anchor="end", bold=True)
            sheet.text(middle + 6.0, y, decimal, size=size, colour=palette.QUIET)
        for read, side in zip(seen, (-1.0, 1.0), strict=True):
            if _is_read(read, row):
                _pointer(sheet, middle + side * (_GAP / 2.0 - 4.0), y - 5.5, side)
    sheet.text(middle - 6.0, _TOP + 14.0, "20/x", size=_PRINT, anchor="end", colour=palette.QUIET)
    sheet.text(middle + 6.0, _TOP + 14.0, "decimal", size=_PRINT, colour=palette.QUIET)


def _first_line_names(sheet, left, read):
    """Name the large letters above themselves: three sizes stand on one line."""
    for row in rows()[:_ON_TOP]:
        x, y = (left + (row.left + row.height / 2.0) / SCALE * SHOWN, _TOP + row.top / SCALE * SHOWN - 9.0)
        look = {"bold": True} if _is_read(read, row) else {"colour": _ON_PAPER}
        words = size_names(row.logmar)[0]
        sheet.text(x, y, words, size=_PRINT, anchor="middle", halo="#ffffff", **look)
        if _is_read(read, row):
            sheet.line((x - 27.0, y + 4.0), (x + 27.0, y + 4.0), width=2.5)


def _is_read(read, row):
    """Whether this is the smallest row of the chart that is read."""
    return abs(read.row - row.logmar) < 0.05 or (read.row < row.logmar and row is rows()[-1])


def _pointer(sheet, x, y, side):
    """Draw an arrow from the row's name towards the chart on one side."""
    sheet.line((x - side * 16.0, y), (x, y), width=2.5)
    for up in (-5.0, 5.0):
        sheet.line((x - side * 6.0, y + up), (x, y), width=2.5)


def _star(spread, half):
    """Light on a grid of angles, the dim lifted, first row uppermost."""
    at = (np.arange(240) - 119.5) * (2.0 * half / 240.0)
    seen = np.clip(spread.on(at, at[::-1]), 0.0, None)
    return (seen / seen.max()) ** 0.6


def _arcmin_bar(sheet, x, y, half, side):
    length = half / 2.5
    end = x + length / (2.0 * half) * side
    for colour, width in (("#000000", 6.0), ("#ffffff", 2.5)):
        sheet.line((x, y), (end, y), colour=colour, width=width)
    sheet.text(x, y - 9.0, f"{length:g} arcmin", size=13, colour="#ffffff", halo="#000000")


def _png_address(light):
    """Address, which holds it all, of a picture of luminances (rows, columns) [1]."""
    return f"data:image/png;base64,{base64.b64encode(png(light)).decode()}"


def png(light):
    """Write luminances (rows, columns) from 0 to 1 as a grey PNG, by the curve of IEC 61966-2-1 (sRGB).

    The file form is that of ISO/IEC 15948.
    """
    light = np.clip(light, 0.0, 1.0)
    curved = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-6) ** (1.0 / 2.4) - 0.055)
    grey = np.rint(255.0 * curved).astype(np.uint8)
    lines = np.zeros((grey.shape[0], grey.shape[1] + 1), np.uint8)  # each line begins with its filter: none
    lines[:, 1:] = grey
    head = struct.pack(">IIBBBBB", grey.shape[1], grey.shape[0], 8, 0, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(lines.tobytes(), 3)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, body) for kind, body in parts)


def _chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
