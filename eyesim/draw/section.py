"""The eye cut open: how deep the lens lies, and how it is tilted.

The plane of the section holds the eye's axis. The eye is cut there; lens, haptics and needles are seen from
the side, as they come to lie before or behind that plane. The front of the eye is up.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import number
from ..eye.frames import meridian_to_side, unit_at, whole_degrees, wrap
from ..eye.globe import sag
from ..hold.pose import pose_in_words
from . import palette
from .case import draw_ghost, draw_haptic, heading
from .drawing import arc
from .front import TOP, VIEW, WIDTH

ZOOM = 21.5
"""Pixels a millimetre: a little more than from in front, since depth and tilt are small."""
UP = -4.9
"""What lies in the middle of the window [mm]; the limbal plane is at 0, the cornea up to about 2.6."""
AXIS_DASH = (0.5, 0.18, 0.1, 0.18)
_BESIDE = 4.0  # [mm] from the axis, beyond which a needle starts at one side of the cut
IRIS_THICKNESS = 0.3
"""Drawn thickness of the iris [mm]; chosen for the picture, the model knows its plane only."""


def section_meridian(case, along):
    """Return the meridian [deg] at the right of the section; it gives nothing of a hidden outcome away.

    Parameters
    ----------
    case : Case
    along : float or None [deg]
        As it was asked for.
    """
    if along is not None:
        along = number("side_view", "along", along, -720.0, 1080.0, "deg", "meridian at the right")
        return float(wrap(along))
    if not case.hidden and case.pose.tilt > 0.5:
        return float(wrap(case.pose.tilt_meridian))
    return float(wrap(case.fixations[0].meridian)) if case.fixations else 0.0


def side_sentence(case, along):
    """Say what the view from the side shows.

    Parameters
    ----------
    case : Case
    along : float [deg]
    """
    cut = cut_in_words(case, along)
    dips = ""
    if case.fixations:
        one, two = (float(f.iris_angle) for f in case.fixations)
        dips = f"needles at {one:.0f} and {two:.0f} deg to the iris plane"
    if case.hidden:
        return f"From the side, {case.eye.side} eye, {cut}: {dips or 'no needles'}. The outcome is hidden."
    text = f"From the side, {case.eye.side} eye, {cut}: {pose_in_words(case.pose)}"
    seen = tilt_in_section(case.pose, along)
    if abs(abs(seen) - case.pose.tilt) > 0.05:
        text += f" ({abs(seen):.1f} deg of the tilt seen in this plane)"
    text += f"; {dips}." if dips else "."
    if case.compared is not None:
        text += f" Compared (dashed): {pose_in_words(case.compared.pose)}."
    return text


def tilt_in_section(pose, along):
    """Angle [deg] between the axis of the eye and the optic's normal as it appears in the section.

    Parameters
    ----------
    pose : Pose
    along : float [deg]
        Meridian at the right of the section.
    """
    normal = pose.normal
    return float(np.degrees(np.arctan2(normal @ unit_at(along), normal[2])))


def draw_from_side(sheet, left, case, along, title=None):
    """Put the view from the side into a column of the sheet.

    Parameters
    ----------
    sheet : Sheet
    left : float [px]
    case : Case
    along : float [deg]
    title
        As in `side_view`.
    """
    plane = sheet.plane(left + 12, TOP, WIDTH - 24, VIEW, ZOOM, centre=(0.0, UP))
    draw_cut(plane, case, along)
    name_parts(plane, case.eye, along)
    _name_ends(plane, case.eye, along)
    _dips(sheet, left, case)
    plane.close()
    sheet.scale_bar(left + WIDTH / 2 - ZOOM, TOP + VIEW - 10, 2 * ZOOM, "2 mm")
    heading(sheet, left, WIDTH, title or "From the side", case.eye, "cut through the axis, front of the eye up")


def draw_cut(plane, case, along, *, whole=True):
    """Draw the eye cut open along a meridian.

    Parameters
    ----------
    plane : Plane
    case : Case
    along : float [deg]
        Meridian at the right.
    whole : bool
        Say of the tilt in the cut too what it is a part of.
    """
    cut = _Cut(along)
    _globe(plane, case.eye, along)
    _iris(plane, case.eye, along, case.pupil)
    if case.compared is not None and not case.hidden:
        draw_ghost(plane, case.compared, optic_outline(case.compared, along), cut)
    for k in range(2 if case.passages else 0):
        _needle(plane, cut, case, k, whole)
    if not case.hidden:
        _optic(plane, cut, case, along)
        for k in range(2 if case.settled else 0):
            draw_haptic(plane, case, k, cut, haptic=0.13, rim=0.12, ball=0.15, pin=(0.18, 0.1))
        _lean(plane, cut, case, along, whole)
        _depth(plane, cut, case)
    if case.passages:
        _numbers(plane, cut, case)


class _Cut:
    """Puts points (..., 3) [mm] into the section (..., 2): along its meridian, and to the front."""

    def __init__(self, along):
        self.right = unit_at(along)

    def __call__(self, points):
        points = np.asarray(points, float)
        return np.stack([points @ self.right, points[..., 2]], axis=-1)


def _globe(plane, eye, along):
    """Wall, chambers and cornea, cut in the plane."""
    edge = float(eye.limbal_radius_at(along))
    outer, inner = float(eye.scleral_radius), float(eye.scleral_radius - eye.scleral_thickness)
    middle = (0.0, float(eye.wall_centre()))
    start = np.degrees(np.arccos(min(1.0, edge / outer)))
    outside = arc(middle, outer, start, start - 100.0)
    inside = arc(middle, inner, start + 1.0, start - 100.0)
    h = np.linspace(-edge, edge, 81)
    front = np.stack([h, eye.limbal_depth - sag(h, eye.corneal_radius, eye.corneal_q)], axis=-1)
    reach = inside[0, 0]
    h = np.linspace(-reach, reach, 81)
    depth = eye.corneal_thickness + sag(h, eye.posterior_corneal_radius, eye.posterior_corneal_q)
    back = np.stack([h, eye.limbal_depth - depth], axis=-1)
    mirror = np.array([-1.0, 1.0])
    hollow = np.concatenate([back, inside[1:], (inside * mirror)[::-1][:-1]])
    plane.path(hollow, closed=True, fill=palette.AQUEOUS)
    for side in (np.ones(2), mirror):
        ring = np.concatenate([outside, inside[::-1]]) * side
        plane.path(ring, part="wall", closed=True, fill=palette.WALL, stroke=palette.SCLERA_EDGE, width=0.06)
    shell = np.concatenate([front, back[::-1]])
    plane.path(shell, part="cornea", closed=True, fill=palette.CORNEA, stroke=palette.LIMBUS, width=0.08)


def _iris(plane, eye, along, pupil):
    """Draw the iris plane with the pupil's gap, out to the wall."""
    z, thick = float(eye.iris_z), IRIS_THICKNESS
    inner, middle = float(eye.scleral_radius - eye.scleral_thickness), float(eye.wall_centre())
    wall = np.sqrt(max(inner**2 - (z - middle) ** 2, 0.1))
    gap = float(eye.pupil_x * np.cos(np.radians(along)) + eye.pupil_y * np.sin(np.radians(along)))
    for side in (1.0, -1.0):
        root, tip = side * wall, gap + side * pupil / 2.0
        rim = tip + side * 0.25
        leaf = [(root, 0.2), (rim, 0.6), (tip, 0.0), (rim, -0.5), (root, -0.6)]
        leaf = [(h, z + share * thick) for h, share in leaf]
        plane.path(leaf, part="iris", closed=True, fill=palette.IRIS, stroke=palette.LIMBUS, width=0.08)


def optic_outline(case, along):
    """Outline (n, 3) [mm] of the optic cut through its own centre, nearest to the plane of the section.

    Parameters
    ----------
    case : Case
    along : float [deg]
        Meridian at the right of the section.
    """
    lens, right = case.lens, unit_at(along)
    normal = case.pose.normal
    across = right - np.dot(right, normal) * normal
    size = np.linalg.norm(across)
    if size < 1e-6:  # the optic stands on edge, square to the section
        across, size = np.array([0.0, 0.0, 1.0]), 1.0
    half = float(lens.optic_diameter) / 2.0
    r = np.linspace(-half, half, 41)
    fore = lens.optic_thickness / 2.0 - sag(r, lens.anterior_radius, lens.anterior_q)
    aft = -lens.optic_thickness / 2.0 - sag(r, lens.posterior_radius, lens.posterior_q)
    fore = np.maximum(fore, aft + 0.02)  # a drawn edge, where the given curves would meet before it
    if lens.flipped:
        fore, aft = -aft, -fore
    r, w = np.concatenate([r, r[::-1]]), np.concatenate([fore, aft[::-1]])
    return case.place + np.outer(r, across / size) + np.outer(w, normal)


def _optic(plane, cut, case, along):
    look = {"closed": True, "fill": palette.OPTIC, "stroke": palette.INK}
    plane.path(cut(case.optic_edge()), part="optic-edge", opacity=0.5, width=0.05, **look)
    plane.path(cut(optic_outline(case, along)), part="optic", opacity=0.85, width=0.1, **look)


def _needle(plane, cut, case, k, whole):
    """Draw the needle's way as it dips, seen from the side."""
    start, end = (cut(point) for point in case.track(k, case.hidden))
    stuck = not case.passages[k].enters and case.hidden is not True
    if abs(start[0]) > _BESIDE and (stuck or (case.hidden and not whole)):
        plane.disc(start, 0.19, fill=palette.PANEL, stroke=palette.MARKER_INK, width=0.1)
        return  # it runs towards whoever looks, in a wall that lies deeper there than in this cut
    plane.path([start, end], part=f"track-{k + 1}", width=0.42, stroke=palette.TRACK, cap="butt")
    plane.path([start, end], width=0.3, stroke=palette.PANEL, cap="butt")
    plane.disc(start, 0.19, fill=palette.PANEL, stroke=palette.MARKER_INK, width=0.1)
    run = float(np.hypot(*(end - start)))
    if run > 0.5:
        along = (end - start) / run
        across = np.array([-along[1], along[0]])
        beside = start - 0.5 * across * np.sign(across[1])  # behind the wall, where the number does not stand
        plane.arrow(beside, beside + max(run, 0.9) * along, head=0.45, colour=palette.TRACK, width=0.09)


def _lean(plane, cut, case, along, whole):
    """Draw the axis of the eye, the optic's own, and the angle between them."""
    place, lean = cut(case.place), tilt_in_section(case.pose, along)
    plane.path([(0.0, 3.6), (0.0, -9.0)], stroke=palette.QUIET, width=0.05, dash=AXIS_DASH, cap="butt")
    plane.disc(place, 0.12, part="centre", fill=palette.INK)
    if abs(lean) < 0.25:
        return
    length = 4.6 if abs(lean) < 30.0 else 2.8  # a large angle would sweep over everything
    length = min(length, plane.top - place[1] - 0.2)  # and a lens far forward has little room above it
    own = np.array([np.sin(np.radians(lean)), np.cos(np.radians(lean))])
    plane.path([place, place + (0.0, length)], stroke=palette.INK, width=0.05, cap="butt")
    plane.path([place, place + length * own], part="normal", stroke=palette.INK, width=0.09, cap="butt")
    plane.path(arc(place, length - 0.5, 90.0, 90.0 - lean, 25), stroke=palette.INK, width=0.08, cap="butt")
    words = f"{abs(lean):.1f}°"
    if whole and abs(abs(lean) - case.pose.tilt) > 0.05:
        words = f"{words} of {case.pose.tilt:.1f}°"
    right, beside = lean > 0, own
    if length < 4.0:  # amid the wide angle, where neither line runs through the words
        beside = np.array([np.sin(np.radians(lean / 2.0)), np.cos(np.radians(lean / 2.0))])
    tip = place + (length - 0.5) * beside
    look = {"size": 15, "bold": True, "anchor": "start" if right else "end", "halo": True}
    plane.words(tip, words, dx=9 if right else -9, dy=4, **look)


def _depth(plane, cut, case):
    """How far the optic's centre lies behind the limbal plane."""
    place, left = cut(case.place), -9.5
    plane.path([(left - 0.5, place[1]), place], stroke=palette.QUIET, width=0.05, dash=(0.2, 0.2), cap="butt")
    plane.path([(left, 0.0), (left, place[1])], part="depth", stroke=palette.INK, width=0.09, cap="butt")
    for z in (0.0, place[1]):
        plane.path([(left - 0.22, z), (left + 0.22, z)], stroke=palette.INK, width=0.09, cap="butt")
    above = (left - 0.5, max(0.0, place[1]))
    plane.words(above, f"{case.pose.depth:.2f} mm", dy=-9, size=15, bold=True, halo=True)


def name_parts(plane, eye, along):
    """Name what is seen, once, where nothing else lies.

    Parameters
    ----------
    plane : Plane
    eye : Eye
    along : float [deg]
    """
    edge, quiet = float(eye.limbal_radius_at(along)), {"size": 13, "colour": palette.QUIET, "anchor": "end"}
    starts, ends = [(-9.8, 0.0), (edge, 0.0)], [(-edge, 0.0), (9.8, 0.0)]
    plane.segments(starts, ends, stroke=palette.QUIET, width=0.05, dash=(0.2, 0.2), cap="butt")
    plane.words((9.8, 0.0), "limbal plane", dy=-6, **quiet)
    depth = float(eye.limbal_depth)
    plane.words((-4.3, depth - 0.5), "cornea", **quiet)
    plane.words((4.2, float(eye.iris_z) + 0.3), "iris", **quiet)


def _name_ends(plane, eye, along):
    """Say which way is right and left."""
    for side, at in ((-1.0, along + 180.0), (1.0, along)):
        at = float(wrap(at))
        words = f"{whole_degrees(at)}°, {meridian_to_side(at, eye.side)}"
        plane.words((side * 9.7, plane.bottom), words, dy=-9, anchor="start" if side < 0 else "end")


def _dips(sheet, left, case):
    """How far each needle dips below the iris plane, and how it is turned at the end, as numbers."""
    for k in range(2 if case.fixations else 0):
        fixation = case.fixations[k]
        words = f"{float(fixation.iris_angle):.0f}° to the iris plane"
        if fixation.exit_angle is not None and fixation.exit_angle != fixation.iris_angle:
            words += f", turned to {float(fixation.exit_angle):.0f}° at its end"
        y = TOP + VIEW - 84 + 24 * k
        sheet.badge(left + 135, y - 4.5, str(k + 1), palette.HAPTICS[k])
        sheet.text(left + 150, y, words)


def _numbers(plane, cut, case):
    """Put the needles' numbers just outside the wall; where both start before the axis, to either side of them."""
    (one, ahead), (two, _) = ([cut(point) for point in case.track(k, True)] for k in range(2))
    apart = one[0] - two[0] if abs(one[0] - two[0]) > 1e-6 else one[0] - ahead[0]  # or behind the start of the first
    first = 1.0 if apart > 0.0 else -1.0
    for k, (start, side) in enumerate(((one, first), (two, -first))):
        side = np.sign(start[0]) if abs(start[0]) > _BESIDE else side
        plane.badge(start + np.array([0.62 * side, 0.5]), str(k + 1), palette.HAPTICS[k])


def cut_in_words(case, along):
    """Say along which meridians the eye is cut.

    Parameters
    ----------
    case : Case
    along : float [deg]
        Meridian at the right.
    """
    other = float(wrap(along + 180.0))
    side = meridian_to_side(along, case.eye.side)
    return f"meridian {whole_degrees(along)} deg ({side}) at the right, {whole_degrees(other)} deg at the left"
