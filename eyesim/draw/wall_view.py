"""The wall as a needle meets it: cut open where it runs, along it and down.

In that plane the needle is straight and dips by its true angle, and the round wall is a circle of its own. So it can be
seen how a flat needle stays in a wall that curves away beneath it.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import plain_errors
from . import palette
from .case import shown_case
from .drawing import Sheet, arc
from .picture import Picture

_WIDTH, _HIGH, _HEAD, _SCALE = 450.0, 150.0, 42.0, 52.0
_AHEAD = 6.0
"""Of a needle that never gets through, so much is drawn [mm]."""


@plain_errors
def wall_view(pose) -> Picture:
    """Draw both needles in the wall, each in the plane in which it runs.

    Raises LearnerError if there is not one case to draw, or it has no needles.

    Parameters
    ----------
    pose : Settled
        A single one; it need not have settled.
    """
    case = shown_case("wall_view", pose, hidden=True)
    sheet = Sheet(_WIDTH, 2 * (_HEAD + _HIGH) + 36.0)
    needles = [_needle(sheet, k * (_HEAD + _HIGH), case, k) for k in range(2)]
    sheet.caution(sheet.height - 13.0)
    sentence = f"The sclera cut open along each needle, front of the eye up: {'; '.join(needles)}."
    return sheet.picture("Needles in the sclera", sentence, shown=680)


def _needle(sheet, top, case, k):
    """Draw one of them, and say what it does."""
    passage, fixation = case.passages[k], case.fixations[k]
    start, way = np.asarray(passage.outer, float), np.asarray(passage.direction, float)
    along = way[:2] / np.hypot(*way[:2])
    beside = float(np.hypot(*(start[:2] - (start[:2] @ along) * along)))
    outer = float(case.eye.scleral_radius)
    inner = outer - float(case.eye.scleral_thickness if fixation.wall is None else fixation.wall)
    middle = np.array([-start[:2] @ along, float(case.eye.wall_centre()) - start[2]])
    plane = sheet.plane(10, top + _HEAD, _WIDTH - 20, _HIGH, _SCALE, centre=(2.2, -0.75))
    rings = [arc(middle, np.sqrt(radius**2 - beside**2), 150.0, 30.0, 181) for radius in (outer, inner)]
    plane.path([*rings[1], (9.0, -9.0), (-9.0, -9.0)], closed=True, fill=palette.AQUEOUS)
    wall = np.concatenate([rings[0], rings[1][::-1]])
    plane.path(wall, part="wall", closed=True, fill=palette.WALL, stroke=palette.SCLERA_EDGE, width=0.02)
    enters = bool(passage.enters)
    length = float(passage.tunnel_length) if enters else _AHEAD
    end = length * np.array([way[:2] @ along, way[2]])
    look = {"stroke": palette.HAPTICS[k], "width": 0.07, "cap": "butt"}
    plane.path([(0.0, 0.0), end], part=f"track-{k + 1}", dash=None if enters else (0.2, 0.12), **look)
    if enters:
        plane.disc(end, 0.07, fill=palette.HAPTICS[k])
    plane.disc((0.0, 0.0), 0.07, fill=palette.PANEL, stroke=palette.MARKER_INK, width=0.04)
    plane.words((-1.6, -1.95), "in the eye", size=15, colour=palette.QUIET)
    plane.close()
    angle = f"{float(fixation.iris_angle):g}\N{DEGREE SIGN} to the iris plane"
    does = f"through after {length:.1f} mm" if enters else "never through the sclera"
    sheet.badge(24, top + 22, str(k + 1), palette.HAPTICS[k])
    sheet.text(40, top + 28, f"{angle}: {does}", size=18, bold=True)
    return f"needle {k + 1} at {angle.replace(chr(176), ' deg')}, {does}"
