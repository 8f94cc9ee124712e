"""Whose error it was, as pictures: parts of a variance, what halving gains, plans against each other, likely causes."""

from __future__ import annotations

import dataclasses
import math

from ..draw import palette
from ..draw.drawing import Sheet
from ..draw.picture import Picture
from ..eye.checks import LearnerError, plain_errors
from ..study.blame import Blame, Halving
from ..study.likely import LikelyCauses
from ..study.robust import Robust
from ..study.working_back import ENOUGH

_WIDE, _ROW, _TOP = 900.0, 26.0, 74.0
_SHOWN = 6  # causes of each quantity


@plain_errors
def blame_chart(blame) -> Picture:
    """Draw which part of each quantity's variance comes from which cause.

    Parameters
    ----------
    blame : Blame
    """
    _check_kind("blame_chart", blame, Blame, "study.blame(...)")
    names = list(blame.total)
    rows = {name: blame.main(name)[:_SHOWN] for name in names}
    sheet = Sheet(_WIDE, _TOP + sum(_ROW * (len(rows[name]) + 1.6) for name in names) + 30.0)
    words = "dark: by itself; light: with all it does together with others; thin: 95 %"
    _head(sheet, "Where the differences come from", words)
    y = _TOP
    for name in names:
        sheet.text(18, y + 4, name, size=15, bold=True)
        for cause, total in rows[name]:
            y += _ROW
            _bar(sheet, y, cause.words, total, palette.BANDS[1], ".0%")
            first = blame.first[name][cause.name]
            sheet.line((_X0, y), (_x(first.value), y), colour=palette.BANDS[3], width=8)
        y += 1.6 * _ROW
    words = repr(blame).replace("\n", " ")
    return _done(sheet, "Parts of the variance", words)


@plain_errors
def gain_chart(gains) -> Picture:
    """Draw how many more lenses end within limits when one error is halved.

    Parameters
    ----------
    gains : tuple of Halving
        From `study.halve`.
    """
    gains = tuple(gains) if isinstance(gains, (tuple, list)) else (gains,)
    for one in gains or (None,):
        _check_kind("gain_chart", one, Halving, "study.halve(...)")
    sheet = Sheet(_WIDE, _TOP + _ROW * len(gains) + 40.0)
    most = max(0.01, *(one.share.high for one in gains))
    _head(sheet, "One error halved", "points gained within limits, of 100 lenses; thin line: 95 % interval")
    for i, one in enumerate(gains):
        _bar(sheet, _TOP + _ROW * i, one.words, one.share, palette.BANDS[2], "+.1f", most, 100.0)
    words = "; ".join(f"{one.words} {100 * one.share.value:+.1f} points" for one in gains)
    return _done(sheet, "What halving gains", f"Halving one error, lenses gained within limits of 100: {words}.")


@plain_errors
def causes_chart(causes) -> Picture:
    """Draw how likely each cause is to be the main one.

    Parameters
    ----------
    causes : LikelyCauses
        From `study.likely_causes`.
    """
    _check_kind("causes_chart", causes, LikelyCauses, "study.likely_causes(...)")
    shown = [one for one in causes.likely[:8] if one.probability.value >= 0.005]
    sheet = Sheet(_WIDE, _TOP + _ROW * len(shown) + 40.0)
    worth = f"from operations worth {causes.back.effective:.0f} independent ones"
    rough = "" if causes.back.effective >= ENOUGH else ": rough"
    _head(sheet, "What may have happened", f"probability of being the main cause, {worth}{rough}; thin: 95 % interval")
    for i, one in enumerate(shown):
        _bar(sheet, _TOP + _ROW * i, one.cause.words, one.probability, palette.BANDS[2], ".0%")
    return _done(sheet, "Likely causes", repr(causes))


@plain_errors
def trade_off(robust) -> Picture:
    """Draw plans that were tried: lenses within limits against the pull in a haptic.

    Parameters
    ----------
    robust : Robust
        From `study.robust_plan`.
    """
    _check_kind("trade_off", robust, Robust, "study.robust_plan(...)")
    sheet = Sheet(_WIDE, 470.0)
    words = "each mark a plan on few draws; large: the best of each way, on many"
    _head(sheet, "Share within limits against pull", words)
    points = [(way, share, pull) for way, share, pull in robust.candidates if math.isfinite(pull)]
    ways = [one.way for one in robust.plans]
    most = max(0.05, *(share for _, share, _ in points), *(one.share.value for one in robust.plans))
    place = _Place(1.1 * most, max(10.0, *(pull for _, _, pull in points)))
    _draw_axes(sheet, place)
    for way, share, pull in points:
        if way in ways:
            x, y = place(share, pull)
            sheet.line((x - 1.6, y), (x + 1.6, y), colour=palette.SERIES[ways.index(way) % 5], width=3.2)
    for i, one in enumerate([*robust.plans, robust.usual]):
        if math.isfinite(one.pull):
            sheet.badge(*place(one.share.value, one.pull), str(i + 1), palette.SERIES[i % 5])
            _name_plan(sheet, i, one, "the usual plan" if one is robust.usual else one.way)
    return _done(sheet, "Plans against each other", repr(robust).replace("\n", " "))


_LEFT, _RIGHT, _UPPER, _LOWER = 90.0, 640.0, _TOP + 6.0, 400.0


@dataclasses.dataclass
class _Place:
    """Where [px] a share [1] and a pull [mN] stand, up to the largest of either; pulls by their logarithm."""

    share: float
    pull: float

    def __call__(self, share, pull):
        x = _LEFT + (_RIGHT - _LEFT) * math.log1p(pull) / math.log1p(self.pull)
        return x, _LOWER - (_LOWER - _UPPER) * share / self.share


def _draw_axes(sheet, place):
    look = {"size": 13, "colour": palette.QUIET}
    for tick in range(0, 101, 10):
        if tick / 100.0 <= place.share:
            _, y = place(tick / 100.0, 0.0)
            sheet.line((_LEFT, y), (_RIGHT, y), colour=palette.EDGE, width=1)
            sheet.text(_LEFT - 10, y + 5, f"{tick} %", anchor="end", **look)
    for pull in (0, 1, 3, 10, 30, 100, 300):
        if pull <= place.pull:
            sheet.text(place(0.0, pull)[0], _LOWER + 20, f"{pull}", anchor="middle", **look)
    words = "pull in a haptic [mN], an upper estimate"
    sheet.text((_LEFT + _RIGHT) / 2, _LOWER + 40, words, anchor="middle", **look)


def _name_plan(sheet, i, plan, name):
    y = _UPPER + 20 + 40 * i
    sheet.badge(_RIGHT + 30, y + 2, str(i + 1), palette.SERIES[i % 5])
    sheet.text(_RIGHT + 50, y, name, size=13, bold=True)
    words = f"{100 * plan.share.value:.0f} %, {plan.pull:.0f} mN"
    sheet.text(_RIGHT + 50, y + 16, words, size=13, colour=palette.QUIET)


_X0, _X1 = 330.0, 780.0


def _x(value, most=1.0):
    return _X0 + (_X1 - _X0) * min(max(value / most, 0.0), 1.0)


def _bar(sheet, y, words, estimate, colour, spec, most=1.0, times=1.0):
    sheet.text(_X0 - 12, y + 5, words, size=14, anchor="end")
    sheet.line((_X0, y), (_x(estimate.value, most), y), colour=colour, width=15)
    sheet.line((_x(estimate.low, most), y), (_x(estimate.high, most), y), colour=palette.INK, width=2)
    sheet.text(_X1 + 14, y + 5, format(times * estimate.value, spec).replace("%", " %"), size=14)


def _head(sheet, title, words):
    sheet.text(18, 28, title, size=17, bold=True)
    sheet.text(18, 48, words, size=13, colour=palette.QUIET)


def _done(sheet, title, words):
    sheet.caution(sheet.height - 12)
    return sheet.picture(title, words, shown=900)


def _check_kind(owner, value, kind, how):
    if not isinstance(value, kind):
        raise LearnerError(f"{owner} draws what {how} gives; a {type(value).__name__} was given.")
