"""What stands below a card's drawings: the plan's numbers, and boxes for what was reached."""

from __future__ import annotations

import numpy as np

from ..eye.frames import whole_degrees
from . import palette
from .card_front import badge, degrees, millimetres
from .card_side import exit_words, turned
from .paper import FINE, THIN, fitted


def plan_table(paper, box, eye, aims):
    """Print the plan's numbers with units into a box (left, top, wide, high) [mm]."""
    left, top, wide, _ = box
    columns = (left + 33.0, left + 33.0 + (wide - 33.0) / 2.0)
    room = (wide - 33.0) / 2.0 - 1.5
    paper.text(left, top + 3.2, "The plan", size=3.6, bold=True)
    _names(paper, columns, top, aims)
    y = top + 6.0
    for words, one, two in _rows(aims):
        paper.path([(left, y), (left + wide, y)], colour=palette.EDGE, width=FINE)
        paper.text(left, y + 3.3, words, size=2.4, colour=palette.QUIET)
        for x, value in zip(columns, (one, two), strict=True):
            paper.text(x, y + 3.3, fitted(value, room, 2.5), size=2.5)
        y += 4.7
    paper.path([(left, y), (left + wide, y)], colour=palette.EDGE, width=FINE)
    wall = f"Wall of the eye: radius {millimetres(eye.scleral_radius)}, {millimetres(eye.scleral_thickness)} thick."
    paper.text(left, y + 3.4, wall, size=2.3, colour=palette.QUIET)


def _rows(aims):
    """Rows of the plan: words, and the value of each haptic."""
    told = [_told(aim) for aim in aims]
    return [(words, told[0][words], told[1][words]) for words in told[0] if any(t[words] for t in told)]


def _told(aim):
    f, p = aim.fixation, aim.passage
    inner = float(np.hypot(*p.inner[:2]))
    straight = " (straight)" if f.tunnel_length is None else ""
    return {
        "mark": f"{degrees(aim.meridian)}, {aim.clock}",
        "on which side": aim.side,
        "behind the limbus": millimetres(f.limbus_distance),
        "to the limbal tangent": f"{degrees(f.limbus_angle)}, {'clockwise' if f.clockwise else 'counter-cl.'}",
        "dip to the iris plane": degrees(f.iris_angle),
        "at the tunnel's end": exit_words(f) if turned(f) else "",
        "tunnel in the wall": f"{millimetres(p.tunnel_length)}{straight}",
        "haptic left outside": millimetres(f.outside),
        "outer opening from axis": f"{np.hypot(*p.outer[:2]):.2f} mm",
        "inner opening from axis": f"{inner:.2f} mm, at {whole_degrees(p.inner_meridian)}°",
        "and behind limbal plane": f"{-p.inner[2]:.2f} mm",
    }


def log_table(paper, box, aims):
    """Draw boxes to write in what was reached, the aim beside each."""
    left, top, wide, high = box
    first = 22.0
    pair = (wide - first) / 2.0
    paper.text(left, top + 3.2, "Reached", size=3.6, bold=True)
    columns = (left + first, left + first + pair)
    _names(paper, columns, top, aims)
    y = top + 6.0
    for x in columns:
        paper.text(x + 11.0, y + 2.4, "aim", size=2.3, colour=palette.QUIET, anchor="end")
        paper.text(x + 12.5, y + 2.4, "reached", size=2.3, colour=palette.QUIET)
    y += 3.4
    asked = _asked(aims)
    high_row = 6.6 if len(asked) < 6 else 5.6
    for words, unit, values in asked:
        paper.text(left, y + 0.5 * high_row + 0.8, words, size=2.4)
        for x, value in zip(columns, values, strict=True):
            paper.text(x + 11.0, y + 0.5 * high_row + 0.8, value, size=2.5, anchor="end")
            paper.box(x + 12.5, y, pair - 13.5, high_row)
            paper.text(x + pair - 1.8, y + high_row - 1.0, unit, size=2.2, colour=palette.QUIET, anchor="end")
        y += high_row
    _ways(paper, left, columns, y + 1.2)
    _written(paper, left, y + 7.6, wide)


def _asked(aims):
    """Rows to be measured: words, unit, aims."""
    f = [aim.fixation for aim in aims]
    rows = [
        ("mark (meridian)", "deg", [degrees(aim.meridian) for aim in aims]),
        ("behind limbus", "mm", [millimetres(one.limbus_distance)[:-3] for one in f]),
        ("angle to tangent", "deg", [degrees(one.limbus_angle) for one in f]),
        ("dip to iris plane", "deg", [degrees(one.iris_angle) for one in f]),
        ("tunnel", "mm", [millimetres(aim.passage.tunnel_length)[:-3] for aim in aims]),
    ]
    if any(turned(one) for one in f):
        exits = [one.iris_angle if one.exit_angle is None else one.exit_angle for one in f]
        rows.append(("dip at exit", "deg", [degrees(e) for e in exits]))
    return rows


def _ways(paper, left, columns, y):
    """Ask for the way in which each needle ran, seen by whoever held it."""
    paper.text(left, y + 3.2, "needle ran", size=2.4)
    for x in columns:
        for dx, words in ((1.0, "towards me"), (21.5, "away")):
            paper.box(x + dx, y + 0.6, 3.2, 3.2)
            paper.text(x + dx + 4.4, y + 3.2, words, size=2.4)


def _written(paper, left, y, wide):
    """Ask when, which attempt, whose hand, from which seat, and who measured."""
    for x, room, words, skip in (
        (0.0, 38.0, "date", 8.0),
        (41.0, 22.0, "attempt", 12.5),
        (66.0, wide - 66.0, "seat", 8.0),
    ):
        _blank(paper, left + x, y, room, words, skip)
    paper.text(left, y + 12.2, "hand", size=2.4)
    for dx, words in ((9.0, "left"), (22.0, "right")):
        paper.box(left + dx, y + 9.6, 3.2, 3.2)
        paper.text(left + dx + 4.4, y + 12.2, words, size=2.4)
    _blank(paper, left + 41.0, y + 7.0, wide - 41.0, "who measured", 21.5)


def _blank(paper, x, y, room, words, skip):
    paper.text(x, y + 5.2, words, size=2.4)
    paper.path([(x + skip, y + 5.6), (x + room, y + 5.6)], colour=palette.QUIET, width=THIN)


def _names(paper, columns, top, aims):
    for x, aim in zip(columns, aims, strict=True):
        badge(paper, (x + 1.6, top + 2.2), aim, 1.6)
        paper.text(x + 4.4, top + 3.1, f"{aim.name} haptic", size=2.6, bold=True, colour=aim.colour)
