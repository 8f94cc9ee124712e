"""The pupil from in front: which light goes through the optic, and which beside it.

The beam is drawn as one sees it from far in front of the eye, along the same rays: the cornea enlarges pupil and
optic alike. A ray that passes the optic is a dot, one that passes beside it a cross.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, plain_errors
from ..eye.frames import side_to_meridian, unit_at, wrap
from . import palette
from .case import heading
from .drawing import Sheet
from .picture import Picture

_WIDTH, _TOP, _VIEW = 450.0, 54.0, 404.0
_SHOWN = 1.48
"""Half the width of the view, in radii of the beam [1]."""
_FAR = 2.4
"""So far out, in radii of the beam, the optic's edge is looked for [1]: beyond the corners of the view."""
_SPACING = 8
"""Rays drawn from the middle of the pupil to its edge [1]."""


@plain_errors
def pupil_picture(sight, *, label="") -> Picture:
    """Draw the pupil from in front, with the optic's edge and rays through it and beside it.

    Raises LearnerError if it is not such an eye.

    Parameters
    ----------
    sight : Sight
        Of a single eye that sees through its lens.
    label : str
        Heading.
    """
    if not hasattr(sight, "rays"):
        raise LearnerError(
            f"pupil_picture shows a Sight, as es.refract(...) gives it; {type(sight).__name__} was given."
        )
    edge = optic_edge(sight)
    sentence = _pupil_sentence(sight, edge)
    sentence = f"{label}. {sentence}" if label else sentence
    radius = float(sight.pupil) / 2.0
    sheet = Sheet(_WIDTH, _TOP + _VIEW + 78.0)
    plane = sheet.plane(1.0, _TOP, _WIDTH - 2.0, _VIEW, _WIDTH / (2.0 * radius * _SHOWN))
    plane.disc((0, 0), 2.2 * radius, fill=palette.IRIS)
    plane.disc((0, 0), radius, part="pupil", fill=palette.REFLEX, stroke=palette.LIMBUS, width=0.035 * radius)
    _optic(plane, edge, radius)
    _rays(plane, sight, radius)
    plane.path([(-0.1 * radius, 0), (0.1 * radius, 0)], stroke=palette.INK, width=0.03 * radius)
    plane.path([(0, -0.1 * radius), (0, 0.1 * radius)], stroke=palette.INK, width=0.03 * radius)
    for side in ("nasal", "temporal"):
        at = 1.26 * radius * unit_at(side_to_meridian(side, sight.eye.side))[:2]
        plane.words(at, side, dy=4.0, size=13, anchor="middle", halo=True)
    plane.close()
    sheet.scale_bar(18.0, _TOP + _VIEW - 10.0, plane.scale, "1 mm", palette.IRIS)
    heading(sheet, 0.0, _WIDTH, label or "The pupil from in front", sight.eye, _share(sight))
    _key(sheet, _TOP + _VIEW + 24.0)
    sheet.caution(sheet.height - 16)
    return Picture(sheet.svg("The pupil from in front", sentence, shown=680), sentence)


def _pupil_sentence(sight, edge):
    """Say how much light passes beside the optic, and how near its edge comes."""
    words = f"The pupil from in front, {sight.eye.side} eye, beam {float(sight.pupil):.1f} mm: {_share(sight)}"
    inside = edge.min()
    if not np.isfinite(inside):
        return f"{words}; the optic's edge lies far outside the beam."
    near = np.exp(2j * np.pi * np.flatnonzero(edge < inside + 0.02) / len(edge)).mean()
    at = f"at {wrap(np.degrees(np.angle(near))):.0f} deg" if abs(near) > 0.5 else "all round"
    where = f"{abs(1.0 - inside) * float(sight.pupil) / 2.0:.1f} mm {'inside' if inside < 1.0 else 'outside'} the beam"
    return f"{words}; the optic's edge lies {where} {at}."


def optic_edge(sight, number=180):
    """Distance (number,) of the optic's edge from the middle of the beam, in its radii, at equal steps of meridian.

    Infinite where it lies further out than 2.4 radii.

    Parameters
    ----------
    sight : Sight
    number : int
    """
    out = unit_at(np.arange(number) * (360.0 / number))[:, :2]
    near, far = np.zeros(number), np.full(number, _FAR)
    passes = sight.rays(*(_FAR * out.T)).missed_light
    for _ in range(12):
        middle = (near + far) / 2.0
        beside = sight.rays(*(middle[:, None] * out).T).missed_light
        near, far = np.where(beside, near, middle), np.where(beside, middle, far)
    return np.where(passes, (near + far) / 2.0, np.inf)


def _optic(plane, edge, radius):
    """Draw the optic's edge where it is in view, and hatch the pupil beside it."""
    out = unit_at(np.arange(len(edge)) * (360.0 / len(edge)))[:, :2]
    shown = np.minimum(edge, _FAR)[:, None] * out * radius
    plane.path(shown, closed=True, fill=palette.OPTIC, opacity=0.45)
    seen = np.isfinite(edge)
    steps = seen & np.roll(seen, -1)
    rim = np.where(seen, edge, 0.0)[:, None] * out * radius
    if steps.any():
        plane.segments(
            rim[steps], np.roll(rim, -1, axis=0)[steps], part="optic", stroke=palette.INK, width=0.035 * radius
        )


def _rays(plane, sight, radius):
    """Dots for rays through the optic, crosses for those beside it."""
    at = np.arange(-_SPACING, _SPACING + 1) / (_SPACING + 0.5)
    x, y = (a[np.hypot(*np.meshgrid(at, at)) <= 1.0] for a in np.meshgrid(at, at))
    rays = sight.rays(x, y)
    places = np.stack([x, y], axis=-1) * radius
    for place in places[rays.through]:
        plane.disc(place, 0.02 * radius, part="through", fill=palette.FIRST)
    arm = 0.035 * radius * np.array([1.0, 1.0])
    for way in (arm, arm * [1.0, -1.0]):
        beside = places[rays.missed_light]
        if len(beside):
            plane.segments(beside - way, beside + way, part="beside", stroke=palette.LIMIT, width=0.02 * radius)


def _share(sight):
    if sight.missed_light < 0.0005:
        return "all of the light passes the optic"
    return f"{100 * sight.missed_light:.0f} % of the light passes beside the optic"


def _key(sheet, y):
    """Say what dot, cross and line mean."""
    sheet.badge(26, y - 4, "", palette.FIRST, radius=4.0)
    sheet.text(36, y, "through the optic", size=13)
    for up in (-4.0, 4.0):
        sheet.line((172, y - 4 - up), (180, y - 4 + up), colour=palette.LIMIT, width=2.0)
    sheet.text(188, y, "beside it", size=13)
    sheet.line((276, y - 4), (300, y - 4), width=2.5)
    sheet.text(308, y, "the optic's edge", size=13)
