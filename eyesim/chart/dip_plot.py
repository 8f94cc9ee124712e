"""Tunnel length against dip on a straight pass: why a needle near its limit cannot be trusted."""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.drawing import Sheet
from ..hold.needle import needle_pass

_WIDTH, _HEIGHT = 900.0, 196.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 66.0, 280.0, 34.0, 152.0
_DIPS = np.linspace(0.0, 40.0, 401)
_LONGEST = 4.0


def dip_plot(values, pose):
    """SVG of both sides' tunnel lengths against the dip, with a dot where each needle is now.

    Parameters
    ----------
    values : dict
        State of the needle panel.
    pose : Settled
        Its settled lens, or flagged.
    """
    sheet = Sheet(_WIDTH, _HEIGHT)
    sheet.text(
        18, 22, "Tunnel of a single-plane pass [mm] against the angle to the iris plane [deg]", size=15, bold=True
    )
    for length in range(0, 5):
        y = _y(length)
        sheet.line((_LEFT, y), (_WIDTH - _RIGHT, y), colour=palette.EDGE, width=1)
        sheet.text(_LEFT - 8, y + 5, str(length), size=13, anchor="end", colour=palette.QUIET)
    for dip in range(0, 41, 10):
        sheet.text(_x(dip), _BOTTOM + 18, str(dip), size=13, anchor="middle", colour=palette.QUIET)
    words = []
    alike = abs(float(pose.first.iris_angle) - float(pose.second.iris_angle)) < 0.8
    for k, dash in enumerate((None, (9.0, 6.0))):
        fixation = (pose.first, pose.second)[k].but(tunnel_length=None)
        lengths = needle_pass(pose.eye, fixation.but(iris_angle=_DIPS)).tunnel_length
        _curve(sheet, lengths, palette.HAPTICS[k], dash)
        now = needle_pass(pose.eye, fixation)
        dip = float(fixation.iris_angle)
        at = _x(min(dip, 40.0)) + (9.0 if alike and k else -9.0 if alike else 0.0)
        if now.enters:
            sheet.badge(at, _y(min(float(now.tunnel_length), _LONGEST)), str(k + 1), palette.HAPTICS[k])
            words.append(f"{k + 1}: {float(now.tunnel_length):.2f} mm at {dip:.1f} deg")
        else:
            sheet.badge(at, _y(0.0), str(k + 1), palette.LIMIT)
            words.append(f"{k + 1}: never enters at {dip:.1f} deg")
    for k, line in enumerate(words):
        y = _TOP + 22 + 26 * k
        start = _WIDTH - _RIGHT + 18
        sheet.line((start, y - 5), (start + 34, y - 5), colour=palette.HAPTICS[k], width=3, dash="7 4" if k else None)
        sheet.text(start + 42, y, line, size=14)
    if not values["straight"]:
        sheet.text(_WIDTH - _RIGHT + 18, _TOP + 84, "(tunnels are set to 2 mm now)", size=13, colour=palette.QUIET)
    sheet.text(18, _HEIGHT - 10, "A curve begins where the needle first enters the eye.", size=13, colour=palette.QUIET)
    svg = sheet.svg(
        "Tunnel length against iris angle", f"Tunnel of a single-plane pass: {'; '.join(words)}.", shown=1280
    )
    return f'<div style="margin-top:8px">{svg}</div>'


def _curve(sheet, lengths, colour, dash):
    seen = np.isfinite(lengths) & (lengths <= _LONGEST)
    wide, high = _WIDTH - _RIGHT - _LEFT, _BOTTOM - _TOP
    plane = sheet.plane(_LEFT, _TOP, wide, high, 1.0)  # its origin is the middle of the window
    points = np.stack([(_DIPS / 40.0 - 0.5) * wide, (lengths / _LONGEST - 0.5) * high], -1)[seen]
    if len(points) > 1:
        plane.path(points, stroke=colour, width=2.5, dash=dash, cap="butt")
    plane.close()


def _x(dip):
    return _LEFT + (_WIDTH - _RIGHT - _LEFT) * dip / 40.0


def _y(length):
    return _BOTTOM - (_BOTTOM - _TOP) * length / _LONGEST
