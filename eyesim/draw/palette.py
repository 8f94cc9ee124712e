"""Colours, fixed in one place: safe for the colour-blind, strong enough on the panel that pictures stand on.

Every picture brings its own light panel, so that it reads the same on a white page, on a dark one and in
print. Series differ by line, hatch, marker or number as well; colour only helps.
"""

from __future__ import annotations

PANEL = "#fbfaf7"
"""What everything stands on."""
EDGE = "#cfd4d6"
INK = "#18222b"
"""Words, axes, the optic, the step from the limbal centre."""
QUIET = "#4f5b66"
"""Second words, dimensions, a compared case."""

SCLERA = "#f2ecdf"
SCLERA_EDGE = "#857c6b"
LIMBUS = "#5c7480"
IRIS = "#b5c9cf"
IRIS_LINE = "#9db5bd"
REFLEX = "#f4cdb4"
"""The pupil, as the microscope's light comes back from the fundus."""
CORNEA = "#c4dbe3"
AQUEOUS = "#eef4f5"
WALL = "#e6dcc8"
OPTIC = "#ffffff"
MARKER_INK = "#5a2f8a"
"""The marks on the eye."""
TRACK = "#5f6b75"
"""The needle's way through the wall."""

FIRST = "#005b94"
SECOND = "#9c3d00"
HAPTICS = (FIRST, SECOND)
"""First and second haptic."""

SERIES = ("#005b94", "#9c3d00", "#006b4f", "#7a2f78", "#18222b")
"""Lines of a chart, in this order; see `DASHES` and `MARKERS`."""
DASHES = ("-", (0, (6, 2.2)), (0, (1.4, 1.6)), (0, (7, 2, 1.4, 2)), (0, (3, 1.5)))
MARKERS = ("o", "s", "^", "D", "v")
HATCHES = ("", "///", "xxx", "...")
BANDS = ("#dfe9ee", "#94b8cb", "#3f83a8", "#0b4263")
"""Light to dark: steps of one quantity."""
DIVERGING = ("#08306b", "#3f6fb5", "#8f8d86", "#b9691e", "#7a2e00")
"""From one side of nothing to the other, dark at both ends: blue and orange, which the colour-blind tell apart."""
LIMIT = "#8a1020"
"""Tolerances."""


def look(i):
    """Colour, dashes and marker of line i; no two of the first twenty-five are alike in all."""
    turned = i + i // len(SERIES)
    return SERIES[i % len(SERIES)], DASHES[turned % len(DASHES)], MARKERS[turned % len(MARKERS)]
