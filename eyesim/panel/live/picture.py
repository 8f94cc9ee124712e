"""The picture of a live session: from in front, and cut open both ways, in letters for a back row.

The two cuts stay where they are, from 3 to 9 and from 6 to 12 o'clock, whichever way the lens leans, so that a tilt is
seen to grow in the one or in the other and nothing jumps. The lens of a plan has its internal entries along the first.
"""

from __future__ import annotations

import numpy as np

from ...draw import palette
from ...draw.case import shown_case
from ...draw.drawing import Sheet
from ...draw.front import TOP, VIEW, WIDTH, draw_from_front, front_sentence, turn_of
from ...draw.picture import Picture
from ...draw.section import ZOOM, draw_cut, name_parts, tilt_in_section
from ...draw.views import readout_row
from ...eye.frames import clock_words, meridian_to_side

_LETTERS = 1.2
_TOPS, _HIGH = (34.0, 262.0), 200.0  # [px] of the windows of the two cuts
_MIDDLE = 2.9 - _HIGH / ZOOM / 2.0  # [mm] what lies there; the cornea's top just fits in
_LONGEST = 96  # characters of what was done that fit into a line


def live_picture(session, seat, compare=None, hidden=False, *, readout=False) -> Picture:
    """Draw what lies on the table.

    Parameters
    ----------
    session : Session
    seat : "front", "superior" or "temporal"
    compare : Settled or None
        Drawn in dashes underneath.
    hidden : bool
        Eye and needles alone; so it is as well where no lens came to rest.
    readout : bool
        With what was done and the numbers below: for a slide.
    """
    pose = session.settled
    hidden = True if hidden else False if pose.settled else "no outcome"
    compare = None if hidden else compare
    case = shown_case("live_picture", pose, hidden=hidden, compare=compare, pupil=session["pupil"])
    rows = 0.0 if not readout else 96.0 if compare is None else 122.0
    sheet = Sheet(2 * WIDTH, TOP + VIEW + 32.0 + rows, _LETTERS)
    draw_from_front(sheet, 0.0, case, seat)
    cuts = [_rightwards(meridian, turn_of(seat, case.eye.side)) for meridian in (0.0, 90.0)]
    for top, along in zip(_TOPS, cuts, strict=True):
        _cut(sheet, top, case, along)
    bottom = TOP + VIEW + 22.0
    if readout:
        _done(sheet, bottom, session)
        bottom = readout_row(sheet, WIDTH / 4, WIDTH * 1.5, bottom + 6.0, case)
    sheet.caution(bottom)
    sentence = front_sentence(case, seat)
    if not hidden:
        leans = [
            f"{abs(tilt_in_section(pose, m)):.1f} deg in the cut from {_ends_words(m, m + 180.0)}" for m in (0.0, 90.0)
        ]
        sentence += f" It is tilted by {' and '.join(leans)}."
    return sheet.picture("The eye from in front, and cut open both ways", sentence, shown=1280)


def _rightwards(meridian, turn):
    """Return the end of a line [deg] that is at the right as seen from the seat, or at the top if neither is."""
    across, up = np.cos(np.radians(meridian + turn)), np.sin(np.radians(meridian + turn))
    return meridian if across > 0.5 or (abs(across) <= 0.5 and up > 0.0) else meridian + 180.0


def _cut(sheet, top, case, along):
    plane = sheet.plane(WIDTH + 12, top, WIDTH - 24, _HIGH, ZOOM, centre=(0.0, _MIDDLE))
    draw_cut(plane, case, along, whole=False)
    if top == _TOPS[0]:
        name_parts(plane, case.eye, along)
        sheet.scale_bar(WIDTH * 1.5 - ZOOM, top + _HIGH - 8, 2 * ZOOM, "2 mm")
    else:
        _dips(sheet, top + _HIGH - 36, case)  # above the names of the ends
    plane.close()
    ends = along + 180.0, along
    for x, anchor, end in zip((WIDTH + 18, 2 * WIDTH - 18), ("start", "end"), ends, strict=True):
        words = f"{clock_words(end)}, {meridian_to_side(end % 360.0, case.eye.side)}"
        sheet.text(x, top + _HIGH - 10, words, size=13, anchor=anchor)
    name = f"Cut open from {_ends_words(*ends)}"
    sheet.text(WIDTH + 18, top - 11, name, size=14, bold=True)


def _ends_words(one, other):
    return f"{clock_words(one).split()[0]} to {clock_words(other)}"


def _dips(sheet, y, case):
    for k in range(2):
        x = 1.5 * WIDTH + (-92.0, 22.0)[k]
        sheet.badge(x, y - 5.0, str(k + 1), palette.HAPTICS[k])
        sheet.text(x + 15.0, y, f"iris {float(case.fixations[k].iris_angle):g}°", size=13)


def _done(sheet, y, session):
    words = session.words
    if len(words) > _LONGEST:
        words = f"{len(session.changes)} things are other than planned"
    sheet.text(WIDTH, y, words[0].upper() + words[1:], size=14, anchor="middle")
