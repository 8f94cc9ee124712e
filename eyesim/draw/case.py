"""One case to be drawn, and the parts that both views share."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError
from ..eye.frames import whole_degrees
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
    """A single pose with what it was settled from, checked and ready to draw."""

    pose: Pose
    eye: Eye
    lens: Lens
    settled: bool
    passages: tuple[Passage, Passage] | None = None
    fixations: tuple[Fixation, Fixation] | None = None
    _curves: np.ndarray | None = None

    def curves(self):
        """Both haptics (2, points, 3) [mm]; solved once."""
        if self._curves is None:
            self._curves = haptic_curves(self.pose)
        return self._curves

    def track(self, k, hidden=False):
        """Start and end (3,) [mm] of needle k; 3 mm where it stays in the wall, or that is not to be told."""
        passage = self.passages[k]
        told = passage.enters and not (hidden and self.fixations[k].tunnel_length is None)
        reach = float(passage.tunnel_length) if told else 3.0
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


def shown_case(where, pose, eye=None, lens=None, hidden=False):
    """Check that there is one case to draw.

    Raises
    ------
    LearnerError
        If it is no pose, an array of poses, a case that did not settle, or has no eye and lens.
    """
    if not isinstance(pose, Pose):
        raise LearnerError(f"{where} draws a pose, from es.settle or es.Pose; a {type(pose).__name__} was given.")
    if pose.shape:
        raise LearnerError(f"{where}: one pose is drawn at a time; an array of shape {pose.shape} was given.")
    if not isinstance(pose, Settled):
        if not isinstance(eye, Eye) or not isinstance(lens, Lens):
            raise LearnerError(f"{where}: a measured pose needs its eye and lens, as eye=es.Eye(), lens=es.Lens().")
        _single(where, eye, lens)
        return Case(pose, eye, lens, settled=False)
    if not pose.settled and not hidden:
        raise LearnerError(f"{where}: this lens has not settled ({pose.reason}); there is nothing to draw.")
    return Case(pose, pose.eye, pose.lens, bool(pose.settled), pose.passages, (pose.first, pose.second))


def compared_case(case, compare, hidden):
    """Check a case to be compared with another; a plain pose takes that one's eye and lens."""
    return None if compare is None else shown_case("compare", compare, case.eye, case.lens, hidden)


def flange_diameter(case, k):
    """Diameter [mm] of the ball into which the end of haptic k was melted: the fibre's own volume."""
    length = min(float(case.fixations[k].outside), MELTED)
    return (1.5 * float(case.lens.haptic_diameter) ** 2 * length) ** (1.0 / 3.0)


def outside_curve(case, k):
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


def readout_row(sheet, left, width, top, case, other, hidden):
    """Put the three numbers below a view; return where the next line of text stands [px]."""
    if hidden:
        look = {"size": 17, "colour": palette.QUIET, "anchor": "middle"}
        sheet.text(left + width / 2, top + 30, hidden if isinstance(hidden, str) else "outcome hidden", **look)
        return top + 66
    columns = [left + 20 + share * (width - 36) for share in (0.0, 0.42, 0.76)]
    for x, name in zip(columns, ("off centre", "tilt", "depth"), strict=True):
        sheet.text(x, top + 16, name, size=13, colour=palette.QUIET)
    rows = [(case, palette.INK, True)] + ([] if other is None else [(other, palette.QUIET, False)])
    for i, (shown, colour, bold) in enumerate(rows):
        y = top + 37 + 26 * i
        for x, words in zip(columns, _numbers(shown.pose), strict=True):
            sheet.text(x, y, words, size=16, colour=colour, bold=bold)
        if other is not None:
            x, dash = columns[0] - 12, None if i == 0 else "5 4"
            sheet.line((x, y - 13), (x, y + 2), colour=colour, width=2.5, dash=dash)
    return top + 72 + 26 * (len(rows) - 1)


def _numbers(pose):
    off = f"{pose.decentration:.2f} mm"
    if pose.decentration >= 0.005:
        off += f" to {whole_degrees(pose.decentration_meridian)}°"
    lean = f"{pose.tilt:.1f}°"
    if pose.tilt >= 0.05:
        lean += f" to {whole_degrees(pose.tilt_meridian)}°"
    return off, lean, f"{pose.depth:.2f} mm"


def _single(where, *things):
    for thing in things:
        if thing.shape:
            kind = type(thing).__name__
            raise LearnerError(f"{where}: one case is drawn at a time; an array of {kind} was given.")
