"""What stands below a card's drawings: the plan's numbers, and boxes for what was reached."""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.drawing import FINE, THIN
from ..draw.fonts import fitted
from ..eye.frames import whole_degrees
from .card_aim import badge, degrees, millimetres

_TICKED = ("towards you", "away from you")


def plan_table(paper, box, eye, aims, ways):
    """Print the plan's numbers with units into a box.

    Parameters
    ----------
    paper, box, eye, aims
        As in `card_front.enlarged`.
    ways : pair of str
        How each needle runs as seen from the seat; "" where no seat is given.
    """
    left, top, wide, _ = box
    columns = (left + 33.0, left + 33.0 + (wide - 33.0) / 2.0)
    room = (wide - 33.0) / 2.0 - 1.5
    paper.text(left, top + 3.2, "The plan", size=3.6, bold=True)
    _names(paper, columns, top, aims)
    y = top + 6.0
    for words, one, two in _rows(aims, ways):
        paper.path([(left, y), (left + wide, y)], stroke=palette.EDGE, width=FINE)
        paper.text(left, y + 3.3, words, size=2.4, colour=palette.QUIET)
        for x, value in zip(columns, (one, two), strict=True):
            paper.text(x, y + 3.3, fitted(value, room, 2.5), size=2.5)
        y += 4.7
    paper.path([(left, y), (left + wide, y)], stroke=palette.EDGE, width=FINE)
    sclera = f"radius {millimetres(eye.scleral_radius)}, {millimetres(eye.scleral_thickness)} thick"
    words = f"Depth: behind the limbal plane. Sclera: {sclera}."
    paper.text(left, y + 3.4, fitted(words, wide, 2.2), size=2.2, colour=palette.QUIET)


def _rows(aims, ways):
    """Rows of the plan: words, and the value of each haptic."""
    one, two = (_values(aim, way) for aim, way in zip(aims, ways, strict=True))
    return [(words, one[words], two[words]) for words in one if one[words] or two[words]]


def _values(aim, way):
    f, p = aim.fixation, aim.passage
    inner = float(np.hypot(*p.inner[:2]))
    plane = " (single plane)" if f.tunnel_length is None else ""
    return {
        "mark": f"{degrees(aim.meridian)}, {aim.clock}",
        "on which side": aim.side,
        "behind the limbus": millimetres(f.limbus_distance),
        "to the limbal tangent": f"{degrees(f.limbus_angle)}, {'clockwise' if f.clockwise else 'counter-cl.'}",
        "from your seat it runs": way,
        "angle to the iris plane": degrees(f.iris_angle),
        "at the tunnel's end": aim.exit_words if aim.turned else "",
        "tunnel in the sclera": f"{millimetres(p.tunnel_length)}{plane}",
        "externalised length": millimetres(f.outside),
        "scleral entry from axis": f"{np.hypot(*p.outer[:2]):.2f} mm",
        "internal entry from axis": f"{inner:.2f} mm, at {whole_degrees(p.inner_meridian)}°",
        "internal entry's depth": f"{-p.inner[2]:.2f} mm".replace("-", "\N{MINUS SIGN}"),
    }


def log_table(paper, box, aims, ways, seat):
    """Draw boxes to write in what was reached, the aim beside each.

    Parameters
    ----------
    paper, box, aims, ways
        As in `plan_table`.
    seat : str
        Printed where it is known.
    """
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
    rows = _measured(aims)
    row = 6.4 if len(rows) < 6 else 5.4
    for words, unit, values in rows:
        paper.text(left, y + 0.5 * row + 0.8, words, size=2.4)
        for x, value in zip(columns, values, strict=True):
            paper.text(x + 11.0, y + 0.5 * row + 0.8, value, size=2.5, anchor="end")
            paper.box(x + 12.5, y, pair - 13.5, row)
            paper.text(x + pair - 1.8, y + row - 1.0, unit, size=2.2, colour=palette.QUIET, anchor="end")
        y += row
    _ticks(paper, left, columns, y + 1.4, "needle ran", ways, (("towards me", 0.0, 0.0), ("away from me", 0.0, 3.9)))
    _ticks(paper, left, columns, y + 9.4, "needle in hand", ("", ""), (("left", 0.0, 0.0), ("right", 10.5, 0.0)))
    y += 13.6
    for x, room, words, skip in ((0.0, 34.0, "date", 8.0), (37.0, 22.0, "attempt", 12.5), (62.0, 30.0, "seat", 8.0)):
        _blank(paper, left + x, y, room, words, skip, seat if words == "seat" else "")
    _blank(paper, left, y + 7.0, wide, "who measured", 21.5)


def _measured(aims):
    """Rows to be measured: words, unit, aims."""
    f = [aim.fixation for aim in aims]
    rows = [
        ("mark (meridian)", "deg", [degrees(aim.meridian) for aim in aims]),
        ("behind limbus", "mm", [millimetres(one.limbus_distance)[:-3] for one in f]),
        ("limbus angle", "deg", [degrees(one.limbus_angle) for one in f]),
        ("iris angle", "deg", [degrees(one.iris_angle) for one in f]),
        ("tunnel", "mm", [millimetres(aim.passage.tunnel_length)[:-3] for aim in aims]),
    ]
    if any(aim.turned for aim in aims):
        rows.append(("iris angle at exit", "deg", [degrees(aim.exit_dip) for aim in aims]))
    return rows


def _ticks(paper, left, columns, y, words, aims, choices):
    """Draw boxes to tick for each haptic, beside what is aimed at."""
    paper.text(left, y + 2.5, words, size=2.4)
    for x, aim in zip(columns, aims, strict=True):
        paper.text(x + 11.0, y + 2.5, aim.split(" ")[0] if aim in _TICKED else "", size=2.3, anchor="end")
        for choice, dx, dy in choices:
            paper.box(x + 12.5 + dx, y + dy, 3.0, 3.0)
            paper.text(x + 16.6 + dx, y + dy + 2.4, choice, size=2.3)


def _blank(paper, x, y, room, words, skip, given=""):
    """Draw a line to write on, with its words before it and what is known already on it."""
    paper.text(x, y + 5.2, words, size=2.4)
    paper.text(x + skip + 1.0, y + 4.9, given, size=2.5)
    paper.path([(x + skip, y + 5.6), (x + room, y + 5.6)], stroke=palette.QUIET, width=THIN)


def _names(paper, columns, top, aims):
    for x, aim in zip(columns, aims, strict=True):
        badge(paper, (x + 1.6, top + 2.2), aim.k, 1.6)
        paper.text(x + 4.4, top + 3.1, f"{aim.name} haptic", size=2.6, bold=True, colour=aim.colour)
