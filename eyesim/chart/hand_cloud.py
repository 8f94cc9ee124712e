"""Many operations in one picture: where the optics' centres come to lie, and how much they tilt."""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.drawing import Sheet
from ..draw.picture import Picture
from ..eye.frames import side_to_meridian, unit_at

_WIDTH, _HEIGHT, _VIEW = 900.0, 470.0, 360.0


def hand_cloud(outcomes, limits, sentence, *, turn=0.0, side="right") -> Picture:
    """Draw the cloud of optic centres, and beside it how many tilt how much.

    Parameters
    ----------
    outcomes : Outcomes
    limits : pair of float [mm], [deg]
        Of decentration and tilt.
    sentence : str
        What the picture says.
    turn : float [deg]
        By which the eye is turned, counter-clockwise, as the surgeon sits.
    side : "right" or "left"
        Which eye it is.
    """
    sheet = Sheet(_WIDTH, _HEIGHT)
    pose = outcomes.pose
    ok = np.asarray(pose.settled)
    x, y, tilt = (np.asarray(v)[ok] for v in (pose.x, pose.y, pose.tilt))
    _centres(sheet, x, y, tilt, limits, turn, side)
    _tilts(sheet, tilt, limits[1])
    sheet.caution(_HEIGHT - 14)
    return Picture(sheet.svg("A cloud of virtual operations", sentence, shown=1280), sentence)


def _centres(sheet, x, y, tilt, limits, turn, side):
    sheet.text(18, 27, "Where the optics' centres lie", size=16, bold=True)
    sheet.text(18, 45, "from the same seat as the eye; circle: limit", size=13, colour=palette.QUIET)
    reach = max(1.2, float(np.quantile(np.hypot(x, y), 0.995)) * 1.1 if len(x) else 1.2)
    plane = sheet.plane(1, 56, 448, _VIEW, 0.5 * _VIEW / reach * 0.97, turn=turn)
    size = 0.007 * reach
    good = (np.hypot(x, y) <= limits[0]) & (tilt <= limits[1])
    for inside, colour in ((False, palette.SECOND), (True, palette.FIRST)):
        px, py = x[good == inside], y[good == inside]
        if inside:
            ends = np.stack([px - 0.1 * size, py], -1), np.stack([px + 0.1 * size, py], -1)  # round ends: dots
            plane.segments(*ends, stroke=colour, width=2 * size)
        else:
            arm = 1.4 * size
            for up in (arm, -arm):
                ends = np.stack([px - arm, py - up], -1), np.stack([px + arm, py + up], -1)
                plane.segments(*ends, stroke=colour, width=0.7 * size)
    plane.disc((0, 0), limits[0], fill="none", stroke=palette.LIMIT, width=0.012 * reach)
    for end in ((0.06 * reach, 0.0), (0.0, 0.06 * reach)):
        plane.path([np.negative(end), end], stroke=palette.INK, width=0.008 * reach, cap="butt")
    for word in ("nasal", "temporal", "superior", "inferior"):
        across, up = plane.turned(unit_at(side_to_meridian(word, side)))
        beside = abs(across) > 0.5
        at = (225.0 + 216.0 * across, 240.0) if beside else (225.0, 236.0 - 0.5 * _VIEW * up + 12.0 * up)
        anchor = "middle" if not beside else "end" if across > 0.0 else "start"
        sheet.text(*at, word, size=13, colour=palette.QUIET, anchor=anchor, halo=True)
    plane.close()
    sheet.scale_bar(20, 56 + _VIEW - 10, 0.5 * plane.scale, "0.5 mm")
    key = f"dots: within both limits ({good.sum():,}); crosses: beyond one ({(~good).sum():,})"
    sheet.text(440, 56 + _VIEW + 20, key, size=13, colour=palette.QUIET, anchor="end")


def _tilts(sheet, tilt, limit):
    left, right, top, bottom = 500.0, 870.0, 76.0, 56.0 + _VIEW - 26
    sheet.text(left - 18, 27, "How much they tilt", size=16, bold=True)
    sheet.text(left - 18, 45, "lenses for each degree; line: limit", size=13, colour=palette.QUIET)
    most = int(np.clip(np.ceil(np.quantile(tilt, 0.995)) if len(tilt) else 8, 8, 40))
    counts, _ = np.histogram(np.minimum(tilt, most - 1e-9), bins=np.arange(most + 1))
    tallest = max(1, counts.max())
    wide = (right - left) / most
    for degree, count in enumerate(counts):
        at, high = left + (degree + 0.5) * wide, (bottom - top) * count / tallest
        colour = palette.FIRST if degree + 1 <= limit + 1e-9 else palette.SECOND
        sheet.line((at, bottom), (at, bottom - high), colour=colour, width=wide * 0.82)
    for degree in range(0, most + 1, 2 if most <= 16 else 5):
        sheet.text(left + degree * wide, bottom + 18, str(degree), size=13, anchor="middle", colour=palette.QUIET)
    words, middle = "tilt [deg]; the last bar holds all above", (left + right) / 2
    sheet.text(middle, bottom + 40, words, size=13, anchor="middle", colour=palette.QUIET)
    if limit <= most:
        x = left + limit * wide
        sheet.line((x, top - 8), (x, bottom), colour=palette.LIMIT, width=2, dash="6 4")
    sheet.line((left, bottom), (right, bottom), width=1.5)
