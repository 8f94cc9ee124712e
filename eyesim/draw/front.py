"""The eye from in front, as the surgeon sees it: marks, needle tracks, and where the lens has come to rest.

The iris is drawn as if it let light through, since haptics and the optic's edge lie behind it.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError
from ..eye.frames import clock_words, meridian_to_clock, side_to_meridian, unit_at, wrap
from ..hold.pose import pose_in_words
from . import palette
from .case import draw_ghost, draw_haptic, flange_diameter, heading

SEATS = {
    "front": ("From in front", "as one faces the patient"),
    "superior": ("Superior seat", "12 o'clock nearest to you"),
    "temporal": ("Temporal seat", "temporal side nearest to you"),
}
WIDTH, TOP, VIEW = 450.0, 54.0, 404.0
"""Width of one view, height of its heading, height of its window [px]."""
SCALE = 19.0
"""Pixels a millimetre, alike in both views; less where marks lie far out."""
RIM = 8.4
"""Radius [mm] of the part of the wall that is drawn."""


def front_sentence(case, seat):
    """Say what the view from in front shows.

    Parameters
    ----------
    case : Case
    seat
        As in `front_view`.
    """
    _known_seat(seat)
    where = f"{SEATS[seat][0]}, {case.eye.side} eye"
    marks = _marks_in_words(case)
    if case.hidden:
        return f"{where}: {marks or 'no marks'}. The outcome is hidden."
    text = f"{where}: {pose_in_words(case.pose)}"
    if case.pose.decentration >= 0.005:
        text += f" (off the limbal centre towards {clock_words(case.pose.decentration_meridian)})"
    if case.eye.pupil_x or case.eye.pupil_y:
        off = float(case.pose.decentration_from(case.eye.pupil_x, case.eye.pupil_y))
        text += f"; {off:.2f} mm from the pupil's centre"
    text += f"; {marks}." if marks else "."
    if case.compared is not None:
        text += f" Compared (dashed): {pose_in_words(case.compared.pose)}."
    return text


def draw_from_front(sheet, left, case, seat, title=None):
    """Put the view from in front into a column of the sheet.

    Parameters
    ----------
    sheet : Sheet
    left : float [px]
    case : Case
    seat, title
        As in `front_view`.
    """
    _known_seat(seat)
    turn = turn_of(seat, case.eye.side)
    rim = _rim(case)
    scale = min(SCALE, SCALE * RIM / rim) / (1.0 if sheet.letters == 1.0 else 1.06)  # room for wider words
    plane = sheet.plane(left + 1, TOP, WIDTH - 2, VIEW, scale, turn=turn)
    _ground(plane, case.eye, rim, case.pupil)
    if case.compared is not None and not case.hidden:
        _ghost(plane, case.compared)
    for k in range(2 if case.passages else 0):
        _track(plane, case, k)
    if not case.hidden:
        _optic(plane, case)
        for k in range(2 if case.settled else 0):
            draw_haptic(plane, case, k, haptic=0.15, rim=0.16, ball=0.17, pin=(0.2, 0.12))
        _step_from_centre(plane, case)
    for k in range(2 if case.passages else 0):
        _mark(plane, case, k)
    _cross(plane)
    _dial(plane, case.eye.side, rim)
    sheet.scale_bar(left + 18, TOP + VIEW - 10, 2 * scale, "2 mm")
    plane.close()
    where, hint = SEATS[seat]
    heading(sheet, left, WIDTH, title or where, case.eye, hint if not title else f"{where}: {hint}")


def _known_seat(seat):
    if seat not in SEATS:
        raise LearnerError(f"front_view: seat is {', '.join(map(repr, SEATS))}; {seat!r} was given.")


def turn_of(seat, side):
    """Return the angle [deg] by which the picture is turned so that the seat is at the bottom.

    Parameters
    ----------
    seat : "front", "superior" or "temporal"
    side : "right" or "left"
        Which eye it is.
    """
    if seat == "front":
        return 0.0
    return 270.0 - (90.0 if seat == "superior" else side_to_meridian("temporal", side))


def _rim(case):
    """Room for marks that lie further out than usual, in steps so that the picture does not creep."""
    far = 8.0
    for shown in (case, case.compared):
        for passage in shown.passages if shown is not None and shown.passages else ():
            far = max(far, float(np.hypot(*passage.outer[:2])))
    return RIM + 0.5 * np.ceil(max(0.0, far - 8.0) / 0.5)


def _ground(plane, eye, rim, pupil):
    """Sclera, iris with its fine lines, pupil."""
    plane.disc((0, 0), rim, fill=palette.SCLERA, stroke=palette.SCLERA_EDGE, width=0.05)
    meridians = np.arange(0.0, 361.0, 3.0)
    limbus = unit_at(meridians)[:, :2] * np.asarray(eye.limbal_radius_at(meridians))[:, None]
    plane.path(limbus, part="limbus", closed=True, fill=palette.IRIS, stroke=palette.LIMBUS, width=0.13)
    middle = np.array([eye.pupil_x, eye.pupil_y])
    spokes = np.arange(2.5, 360.0, 5.0)
    rays = unit_at(spokes)[:, :2]
    far = rays * np.asarray(eye.limbal_radius_at(spokes))[:, None]
    near = middle + rays * pupil / 2.0
    lengths = np.where(np.arange(len(spokes)) % 2, 0.95, 0.7)[:, None]
    starts, ends = near + 0.06 * (far - near), near + lengths * (far - near)
    plane.segments(starts, ends, stroke=palette.IRIS_LINE, width=0.05)
    plane.disc(middle, pupil / 2.0, part="pupil", fill=palette.REFLEX, stroke=palette.LIMBUS, width=0.1)


def _track(plane, case, k):
    """Draw the needle's way from outer to inner opening, wider than the haptic, and which way it ran."""
    start, end = (point[:2] for point in case.track(k, case.hidden))
    plane.path([start, end], part=f"track-{k + 1}", width=0.46, stroke=palette.TRACK, cap="butt")
    plane.path([start, end], width=0.32, stroke=palette.PANEL, cap="butt")
    along = (end - start) / np.hypot(*(end - start))
    outwards = start - np.dot(start, along) * along
    beside = 0.55 * outwards / max(np.hypot(*outwards), 1e-9)
    plane.arrow(start + beside + 0.3 * along, end + beside, head=0.5, colour=palette.TRACK, width=0.1)


def _optic(plane, case):
    edge = case.optic_edge()
    look = {"closed": True, "fill": palette.OPTIC, "stroke": palette.INK}
    plane.path(edge, part="optic", opacity=0.42, width=0.11, **look)


def _mark(plane, case, k):
    """Ink across the wall at the outer opening, the lock or what is still open there, and its number."""
    outer, fixation = case.passages[k].outer, case.fixations[k]
    out = unit_at(fixation.meridian)
    ink = {"stroke": palette.MARKER_INK, "width": 0.13}
    plane.path([outer - 0.42 * out, outer + 0.5 * out], part=f"mark-{k + 1}", **ink)
    colour = palette.HAPTICS[k]
    if fixation.locked and fixation.anchor == "tunnel":
        ball = max(flange_diameter(case, k) / 2.0, 0.15) + 0.06
        plane.disc(outer, ball, fill=colour, stroke=palette.PANEL, width=0.06)
    else:
        plane.disc(outer, 0.2, fill=palette.PANEL, stroke=palette.MARKER_INK, width=0.1)
    plane.badge(outer - 1.05 * out, str(k + 1), colour)


def _ghost(plane, other):
    """Draw the compared case: dashed, without numbers in the picture."""
    draw_ghost(plane, other, other.optic_edge(), tunnels=True)
    plane.disc((other.pose.x, other.pose.y), 0.12, fill=palette.PANEL, stroke=palette.QUIET, width=0.08)


def _step_from_centre(plane, case):
    """Draw the arrow from the limbal centre to the optic's, and its length."""
    x, y, step = case.pose.x, case.pose.y, float(case.pose.decentration)
    plane.disc((x, y), 0.13, part="centre", fill=palette.INK)
    if step < 0.005:
        return
    if step > 0.25:
        plane.path([(0, 0), (x, y)], stroke=palette.PANEL, width=0.3)
        plane.arrow((0, 0), (x, y), part="step", head=0.5, colour=palette.INK, width=0.11)
    away = plane.turned((x, y)) / step
    # beside the arrow's tip, on the side away from the centre, where nothing else is written
    anchor = "middle" if abs(away[0]) < 0.5 else ("start" if away[0] > 0 else "end")
    look = {"size": 15, "anchor": anchor, "bold": True, "halo": True}
    plane.words((x, y), f"{step:.2f} mm", dx=11.0 * away[0], dy=-16.0 * away[1] + 5.0, **look)


def _cross(plane):
    """Mark the limbal centre."""
    for end in ((0.42, 0.0), (0.0, 0.42)):
        plane.path([np.negative(end), end], part="limbal-centre", stroke=palette.INK, width=0.07, cap="butt")


def _dial(plane, side, rim):
    """Clock hours and sides; words stay upright however the eye is turned."""
    hours = np.arange(12) * 30.0
    out = unit_at(hours)[:, :2]
    plane.segments(rim * out, (rim + 0.22) * out, stroke=palette.QUIET, width=0.06)
    large = plane.sheet.letters
    names = {word: side_to_meridian(word, side) for word in ("nasal", "temporal", "superior", "inferior")}
    for word, meridian in names.items():
        hour = str(int(round(float(meridian_to_clock(meridian)))))
        at = unit_at(meridian)[:2] * (rim + 0.25)
        x, y = plane.turned(at) / (rim + 0.25)
        if abs(x) > 0.5:  # beside the eye: hour above, word below
            plane.words(at, hour, dx=25 * large * x, dy=-2, size=15, anchor="middle", bold=True)
            plane.words(at, word, dx=25 * large * x, dy=14 * large, size=13, colour=palette.QUIET, anchor="middle")
        else:
            plane.words(at, hour, dx=-4, dy=-5 if y > 0 else 15, size=15, anchor="end", bold=True)
            plane.words(at, word, dx=4, dy=-5 if y > 0 else 15, size=13, colour=palette.QUIET)


def _marks_in_words(case):
    """Say where the marks are and how long the tunnels; of a hidden straight pass not what comes of it."""
    if not case.passages:
        return ""
    one, two = (float(wrap(f.meridian)) for f in case.fixations)
    apart = abs((two - one + 180.0) % 360.0 - 180.0)
    tunnels = []
    for k, passage in enumerate(case.passages):
        if case.hidden and case.fixations[k].tunnel_length is None:
            tunnels.append(f"needle {k + 1} makes a single-plane pass")
        elif passage.enters:
            tunnels.append(f"tunnel {k + 1} is {float(passage.tunnel_length):.1f} mm long")
        else:
            tunnels.append(f"needle {k + 1} stays in the sclera")
    return f"marks at {one:.0f} and {two:.0f} deg, {apart:.0f} deg apart; {', '.join(tunnels)}"
