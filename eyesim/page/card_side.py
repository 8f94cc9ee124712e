"""A needle's angle to the iris plane, drawn large, to hold the paper beside the needle.

Seen square to the needle from outside the eye, the front of the eye up: a needle that runs clockwise then runs to the
left. Angles are true, lengths are not.
"""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.drawing import BOLD, FINE, LINE, THIN, arc
from ..draw.fonts import width_of
from .card_aim import badge, degrees

_OUTSIDE = 0.62
"""Length of the needle outside the eye, as a share of that inside."""
_TURN, _EXIT = 0.45, 0.4  # where along the needle its tunnel ends, and how long its turned end is drawn, the same
_LABELS = 18.0  # [mm] room for the numbers at the end


def needle_dips(paper, box, aims):
    """Draw the dip of both needles into a box; one drawing where both are alike.

    Parameters
    ----------
    paper : Paper
    box : tuple of float [mm]
        Left, top, width, height.
    aims : pair of Aim
    """
    left, top, wide, high = box
    if alike(aims):
        _dip(paper, box, aims)
        return
    half = (wide - 8.0) / 2.0
    for aim, x in zip(aims, (left, left + half + 8.0), strict=True):
        _dip(paper, (x, top, half, high), (aim,))


def alike(aims):
    """Whether all needles look the same from the side."""
    sides = {(a.fixation.iris_angle, a.fixation.exit_angle, a.fixation.exit_swing, a.fixation.clockwise) for a in aims}
    return len(sides) == 1


def _fan(dip):
    """Dips [deg] from which to which the scale goes."""
    if dip < 0.0:
        return max(5.0 * np.floor(dip / 5.0) - 10.0, -60.0), 5.0
    return 0.0, min(max(15.0, 5.0 * np.ceil(dip / 5.0) + 10.0), 90.0)


def _dip(paper, box, aims):
    left, top, wide, high = box
    aim, dip = aims[0], aims[0].dip
    way = -1.0 if aim.fixation.clockwise else 1.0
    _title(paper, left, top, wide, aims)
    at, reach = _place(left, top + 7.5, wide, high - 7.5, aim, way)
    ray = _Ray(at, way)
    colour = aim.colour if len(aims) == 1 else palette.INK
    _scale(paper, ray, reach, dip, _exit_end(ray, reach, aim, 3.8))
    level = [(left, at[1]), (left + wide, at[1])]
    paper.path(level, part="iris-plane", stroke=palette.LIMBUS, width=THIN, dash=(3.0, 1.0))
    over = 1.0 if dip >= 0.0 else -1.0
    _level(paper, left + wide if way < 0 else left, at[1], wide, over, way)
    paper.path([ray(-_OUTSIDE * reach, dip), ray(reach, dip)], part=f"dip-{aim.k + 1}", stroke=colour, width=BOLD)
    _turned_end(paper, ray, reach, aim, colour)
    paper.disc(at, 1.05, fill="#ffffff", stroke=colour, width=LINE)
    words = "\N{LEFTWARDS ARROW} into the eye" if way < 0 else "into the eye \N{RIGHTWARDS ARROW}"
    words = f"{words}, from the scleral entry" if way < 0 else f"from the scleral entry {words}"
    look = {"size": 2.3, "colour": palette.QUIET, "anchor": "end" if way < 0 else "start", "halo": True}
    paper.text(at[0] + 1.6 * way, at[1] + (-2.2 if over > 0 else 4.0), words, **look)
    c = abs(np.cos(np.radians(dip)))
    beyond = 5.0 + 0.5 * c * width_of(degrees(dip), 4.2, True) + 2.4 * (1.0 - c) + 3.5 * c * (reach < 75.0)
    paper.middle(ray(reach + beyond, dip), degrees(dip), size=4.2, bold=True, colour=colour, halo=True)
    if reach > 60.0 and not aim.turned:
        x, y = ray(reach - 2.5, 0.72 * _fan(dip)[1])
        words, anchor = "read the angle you reached here", "start" if way < 0 else "end"
        paper.text(x, y, words, size=2.4, colour=palette.QUIET, anchor=anchor)


def _level(paper, x, y, wide, over, way):
    """Say what the level line is, at its outer end; in two lines where the drawing is narrow."""
    lines = ("hold this level", "with the iris") if wide < 120.0 else ("hold this level with the iris",)
    first = 3.4 if over > 0 else 1.4 - 3.0 * len(lines)
    for i, words in enumerate(lines):
        paper.text(x, y + first + 3.0 * i, words, size=2.4, colour=palette.QUIET, anchor="end" if way < 0 else "start")


class _Ray:
    """Points [mm] at a distance from the outer opening, along a dip [deg]."""

    def __init__(self, at, way):
        self.at, self.way = np.asarray(at, float), way

    def __call__(self, distance, dip):
        phi = np.radians(dip)
        return self.at + distance * np.array([self.way * np.cos(phi), np.sin(phi)])

    def arc(self, radius, start, end):
        base = 180.0 if self.way < 0 else 0.0
        return arc(self.at, radius, self.way * start - base, self.way * end - base, 41)


def _title(paper, left, top, wide, aims):
    x = left + 2.1
    for aim in aims:
        badge(paper, (x, top + 2.0), aim.k, 2.1)
        x += 5.6
    x += -2.4
    names = "Both haptics" if len(aims) == 2 else f"{aims[0].name.capitalize()} haptic"
    paper.text(x, top + 3.1, names, size=3.1, bold=True)
    x += width_of(names, 3.1, True) + 2.0
    words = f"{degrees(aims[0].dip)} to the iris plane"
    if aims[0].turned:
        words += f", {aims[0].exit_words}"
    paper.text(x, top + 3.1, words, size=2.6)


def _extent(aim):
    """How far the drawing goes from the outer opening for a reach of 1: up, down, back, on."""
    low, high = _fan(aim.dip)
    s, c = np.sin(np.radians(aim.dip)), np.cos(np.radians(aim.dip))
    up, down = max(_OUTSIDE * s, np.sin(np.radians(-low)), 0.0), max(np.sin(np.radians(high)), -_OUTSIDE * s)
    back, on = _OUTSIDE * max(c, 0.6), 1.0
    if aim.turned:
        e = np.radians(aim.exit_dip)
        down = max(down, _TURN * s + (_EXIT + 0.12) * np.sin(e))
        up = max(up, -_TURN * s - (_EXIT + 0.12) * np.sin(e))
    return up, down, back, on


def _place(left, top, wide, high, aim, way):
    """Where the outer opening lies, and how long [mm] the needle is drawn inside."""
    up, down, back, on = _extent(aim)
    above = max(-10.0 * np.sin(np.radians(aim.dip)), 0.0)  # the number at the end of one that rises
    top, high = top + above, high - above
    s = max(np.sin(np.radians(aim.dip)), 0.0)  # the number at the end of a steep needle stands below it
    reach = min((high - 6.0) / (up + down), (wide - _LABELS - 3.0) / (back + on), (high - 5.0 - 13.0 * s) / (up + s))
    spare = wide - _LABELS - reach * (back + on)
    x = left + wide - spare / 2.0 - back * reach if way < 0 else left + spare / 2.0 + back * reach
    return np.array([x, top + 3.0 + up * reach + 0.5 * (high - 6.0 - (up + down) * reach)]), reach


def _scale(paper, ray, reach, dip, label):
    """Draw the scale of dips, to read off what was reached; no number of it where one stands already."""
    low, high = _fan(dip)
    paper.path(ray.arc(reach, low, high), part="fan", stroke=palette.QUIET, width=FINE)
    step, every = 1.0 if reach > 55.0 else 5.0, next(every for every in (5.0, 10.0, 30.0) if every * reach > 200.0)
    for d in np.arange(low, high + 0.5, step):
        five, numbered = d % 5.0 == 0.0, d % every == 0.0 and d != 0.0
        paper.path([ray(reach, d), ray(reach + (2.0 if five else 1.1), d)], stroke=palette.QUIET, width=FINE)
        clear = label is None or np.hypot(*(ray(reach + 4.8, d) - label)) > 9.0
        if clear and numbered and abs(d - dip) * reach > 170.0:
            paper.middle(ray(reach + 4.8, d), degrees(d), size=2.4, colour=palette.QUIET)


def _exit_end(ray, reach, aim, beyond):
    """Where the arrow of a turned end is, so far [mm] beyond its head; None if the needle is not turned."""
    if not aim.turned:
        return None
    return _Ray(ray(_TURN * reach, aim.dip), ray.way)(_EXIT * reach + beyond, aim.exit_dip)


def _turned_end(paper, ray, reach, aim, colour):
    """Draw the direction in which the needle is held at the tunnel's end, if it is turned there."""
    if not aim.turned:
        return
    own = _Ray(ray(_TURN * reach, aim.dip), ray.way)
    radius = 0.24 * reach
    paper.path([own.at, own(0.3 * reach, 0.0)], stroke=palette.LIMBUS, width=THIN, dash=(1.4, 0.8))
    paper.path(own.arc(radius, 0.0, aim.exit_dip), stroke=colour, width=THIN)
    paper.arrow(own.at, own(_EXIT * reach, aim.exit_dip), part=f"exit-{aim.k + 1}", head=2.4, colour=colour, width=BOLD)
    paper.disc(own.at, 0.85, fill=colour, width=0)
    end = _exit_end(ray, reach, aim, 3.8)
    paper.middle(end, degrees(aim.exit_dip), size=3.2, bold=True, colour=colour, halo=True)
