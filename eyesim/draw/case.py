"""One case to be drawn: checked, with the curves and parts that both views share."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, number
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation, Passage
from ..hold.pose import Pose
from ..hold.rest import Settled, haptic_curves
from . import palette

MELTED = 1.2
"""Of what is left outside a locked opening, at most this much [mm] is taken as melted into the flange.

Bench series melt 1 mm (American Journal of Ophthalmology 2021, a biomechanical study of flanged haptics);
the rest is drawn as it lies.
"""


@dataclasses.dataclass
class Case:
    """A single pose with what it was settled from, checked and ready to draw.

    Attributes
    ----------
    compared : Case or None
        Drawn in dashes underneath.
    hidden : bool or str
        Eye, marks and needles alone are drawn; a text stands where the numbers would.
    pupil : float [mm]
        Diameter of the drawn pupil.
    """

    pose: Pose
    eye: Eye
    lens: Lens
    settled: bool
    passages: tuple[Passage, Passage] | None = None
    fixations: tuple[Fixation, Fixation] | None = None
    compared: Case | None = None
    hidden: bool | str = False
    pupil: float = 3.5
    _curves: np.ndarray | None = None

    def curves(self):
        """Both haptics (2, points, 3) [mm]; solved once."""
        if self._curves is None:
            self._curves = haptic_curves(self.pose)
        return self._curves

    def track(self, k, hidden=False):
        """Start and end (3,) [mm] of needle k; 3 mm where it stays in the wall, or that is not to be told."""
        passage = self.passages[k]
        shown = passage.enters and not (hidden and self.fixations[k].tunnel_length is None)
        reach = float(passage.tunnel_length) if shown else 3.0
        return passage.outer, passage.outer + reach * passage.direction

    def optic_edge(self):
        """Return the optic's edge (120, 3) [mm] in the eye."""
        phi = np.radians(np.arange(0.0, 360.0, 3.0))
        ring = np.stack([np.cos(phi), np.sin(phi), np.zeros_like(phi)], axis=-1)
        return self.lens.optic_diameter / 2.0 * ring @ self.pose.rotation.T + self.place

    @property
    def place(self):
        """The optic's centre (3,) [mm]."""
        return np.array([self.pose.x, self.pose.y, self.pose.z], float)


def shown_case(where, pose, eye=None, lens=None, hidden=False, compare=None, pupil=3.5):
    """Check that there is one case to draw; a plain pose that it is compared with takes its eye and lens.

    Raises LearnerError if it is no pose, an array of poses, a case that did not settle, or has no eye and lens.

    Parameters
    ----------
    where : str
        Name of the picture, for the words of an error.
    pose, eye, lens, hidden, compare, pupil
        As in `front_view`.
    """
    case = _checked(where, pose, eye, lens, hidden)
    case.pupil = number(where, "pupil", pupil, 0.5, 9.0, "mm", "diameter of the drawn pupil")
    case.compared = None if compare is None else _checked("compare", compare, case.eye, case.lens, hidden)
    return case


def _checked(where, pose, eye, lens, hidden):
    if not isinstance(pose, Pose):
        raise LearnerError(f"{where} draws a pose, from es.settle or es.Pose; a {type(pose).__name__} was given.")
    if pose.shape:
        raise LearnerError(f"{where}: one pose is drawn at a time; an array of shape {pose.shape} was given.")
    if not isinstance(pose, Settled):
        if not isinstance(eye, Eye) or not isinstance(lens, Lens):
            raise LearnerError(f"{where}: a measured pose needs its eye and lens, as eye=es.Eye(), lens=es.Lens().")
        for thing in (eye, lens):
            if thing.shape:
                kind = type(thing).__name__
                raise LearnerError(f"{where}: one case is drawn at a time; an array of {kind} was given.")
        return Case(pose, eye, lens, settled=False, hidden=hidden)
    if not pose.settled and not hidden:
        raise LearnerError(f"{where}: this lens has not settled ({pose.reason}); there is nothing to draw.")
    fixations = pose.first, pose.second
    return Case(pose, pose.eye, pose.lens, bool(pose.settled), pose.passages, fixations, hidden=hidden)


def flange_diameter(case, k):
    """Diameter [mm] of the ball into which the end of haptic k was melted: the fibre's own volume.

    Parameters
    ----------
    case : Case
    k : int
    """
    length = min(float(case.fixations[k].outside), MELTED)
    return (1.5 * float(case.lens.haptic_diameter) ** 2 * length) ** (1.0 / 3.0)


def _outside_curve(case, k):
    """Return what of haptic k lies free outside its opening, (points, 3) [mm]; empty if nothing does.

    It is drawn in its true length, curving on with the loop's own radius, towards the cornea.
    """
    fixation, passage = case.fixations[k], case.passages[k]
    length = float(fixation.outside) - (MELTED if fixation.locked else 0.0)
    if length <= 0.0:
        return np.empty((0, 3))
    out = -passage.direction / np.linalg.norm(passage.direction)
    inwards = np.array([-passage.outer[0], -passage.outer[1], 0.0])
    inwards -= np.dot(inwards, out) * out
    inwards /= np.linalg.norm(inwards)
    radius = float(case.lens.loop_radius)
    angle = np.linspace(0.0, length / radius, 25)[:, None]
    return passage.outer + radius * (np.sin(angle) * out + (1.0 - np.cos(angle)) * inwards)


def draw_haptic(plane, case, k, place=lambda points: points, *, haptic, rim, ball, pin):
    """Draw one haptic as solved: bent between optic and opening, straight in the tunnel, free outside.

    Parameters
    ----------
    plane : Plane
    case : Case
    k : int
    place : callable
        Puts points (..., 3) [mm] of the eye onto the plane.
    haptic, rim, ball : float [mm]
        Least width of the line, of what keeps it off what lies behind, and radius of the end at the optic.
    pin : pair of float [mm]
        Radius and width of a haptic that is held at a point.
    """
    colour, thick = palette.HAPTICS[k], max(float(case.lens.haptic_diameter), haptic)
    curve, passage = place(case.curves()[k]), case.passages[k]
    plane.path(curve, stroke=palette.PANEL, width=thick + rim)
    plane.path(curve, part=f"haptic-{k + 1}", stroke=colour, width=thick)
    plane.disc(curve[0], ball, fill=colour)
    if case.fixations[k].anchor == "pin":
        plane.disc(place(passage.inner), pin[0], fill=palette.PANEL, stroke=colour, width=pin[1])
        return
    tunnel = place([passage.inner, passage.outer])
    plane.path(tunnel, part=f"tunnel-{k + 1}", stroke=colour, width=thick, dash=(0.28, 0.2), cap="butt")
    tail = _outside_curve(case, k)
    if len(tail):
        plane.path(place(tail), part=f"outside-{k + 1}", stroke=colour, width=thick)


def draw_ghost(plane, other, optic, place=lambda points: points, *, tunnels=False):
    """Draw optic, haptics and, if so wanted, tunnels of a compared case in dashes.

    Parameters
    ----------
    plane, place
        As in `draw_haptic`.
    other : Case
    optic : (n, 3) array [mm]
    tunnels : bool
    """
    look = {"stroke": palette.QUIET, "dash": (0.32, 0.24), "cap": "butt"}
    plane.path(place(optic), part="compared-optic", closed=True, width=0.1, **look)
    for k in range(2 if other.settled else 0):
        plane.path(place(other.curves()[k]), part=f"compared-haptic-{k + 1}", width=0.12, **look)
        if tunnels:
            plane.path([other.passages[k].inner, other.passages[k].outer], width=0.12, **look)
            plane.disc(other.passages[k].outer, 0.17, fill=palette.PANEL, stroke=palette.QUIET, width=0.09)


def heading(sheet, left, width, title, eye, hint):
    """Write above a view what it is, of which eye, and how it is to be seen.

    Parameters
    ----------
    sheet : Sheet
    left, width : float [px]
        Of the view.
    title, hint : str
    eye : Eye
    """
    sheet.text(left + 18, 27, title, size=16, bold=True)
    sheet.text(left + width - 18, 27, f"{eye.side} eye", size=14, colour=palette.QUIET, anchor="end")
    sheet.text(left + 18, 45, hint, size=13, colour=palette.QUIET)
