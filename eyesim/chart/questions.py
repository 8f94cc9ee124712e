"""How a class went with each question, as one picture: points had, with the interval that chance leaves."""

from __future__ import annotations

from ..draw import palette
from ..draw.drawing import Sheet
from ..draw.picture import Picture

_WIDE, _ROW, _LEFT, _SPAN = 900.0, 30.0, 330.0, 420.0


def class_chart(assignment, statistics) -> Picture:
    """Draw the share of the points that each question brought.

    Parameters
    ----------
    assignment : Assignment
    statistics : ClassStatistics
        From `marking.statistics.class_statistics`.
    """
    questions = [one for one in statistics.items if one.difficulty is not None]
    sheet = Sheet(_WIDE, 96.0 + _ROW * len(questions) + 34.0)
    sheet.text(18, 28, assignment.title, size=17, bold=True)
    sheet.text(18, 48, "share of the points that were had; thin line: 95 % interval", size=13, colour=palette.QUIET)
    top, bottom = 66.0, 70.0 + _ROW * len(questions)
    for tick in range(0, 101, 25):
        x = _LEFT + _SPAN * tick / 100.0
        sheet.line((x, top), (x, bottom), colour=palette.EDGE, width=1)
        sheet.text(x, bottom + 17, f"{tick} %", size=13, colour=palette.QUIET, anchor="middle")
    for i, one in enumerate(questions):
        y = top + _ROW * (i + 0.5) + 2.0
        low, mean, high = (_LEFT + _SPAN * v for v in (one.difficulty.low, one.difficulty.value, one.difficulty.high))
        sheet.text(18, y + 5, one.name, size=14)
        sheet.line((_LEFT, y), (mean, y), colour=palette.BANDS[1], width=14)
        sheet.line((low, y), (high, y), colour=palette.INK, width=2)
        sheet.line((mean, y - 8), (mean, y + 8), colour=palette.INK, width=3)
        if one.misconceptions:
            name, n = one.misconceptions[0]
            sheet.text(_LEFT + _SPAN + 16, y + 5, f"{name} ({n})", size=12, colour=palette.QUIET)
    sheet.caution(sheet.height - 12)
    shares = "; ".join(f"{one.name} {one.difficulty.text('.0%')}" for one in questions)
    return sheet.picture("Questions of a class", f"{assignment.title}, share of the points: {shares}.", shown=900)
