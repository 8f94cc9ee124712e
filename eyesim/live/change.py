"""What happened to a lens from one session to another: measured, and what of it is worth a word.

"Across" is across the line from opening to opening, "towards a side" is along it.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.frames import meridian_to_clock
from ..study.verdict import DECENTRATION_LIMIT, DEPTH_LIMIT, TILT_LIMIT
from .quantities import SIDES
from .votes import surprise

SHOWN, LEANS, SINKS, ROLLS, PULLS, BLURS = 0.05, 0.5, 0.05, 2.0, 1.25, 0.1
"""[mm], [deg], [mm], [deg], [times], [D] Less than this is not worth a word; chosen for teaching."""


@dataclasses.dataclass(frozen=True)
class Change:
    """What happened to a lens from before to after, and to what holds it; pairs are before and after, or by side."""

    line: float  # [deg] meridian of the line of the openings on its first side, midway between before and after
    along: float  # [mm] how its centre moved along that line, towards the first side
    across: float  # [mm] and across it, counter-clockwise
    lean: float  # [deg] angle between its normals
    lean_along: float  # [deg] how its normal moved towards the first side
    lean_across: float  # [deg] and across the line
    deeper: float  # [mm]
    roll: float  # [deg]
    tilt: tuple  # [deg] before and after
    pull: tuple  # [mN] before and after
    middle: tuple  # [mm] how the middle of the two openings moved along and across
    free: tuple  # [mm] by side, how much more haptic is free
    held: tuple  # [deg] by side, how much steeper it is held
    sunk: tuple  # [mm] by side, how much deeper the tunnel opens

    @property
    def off(self):
        """How far [mm] the centre moved, seen from in front."""
        return float(np.hypot(self.along, self.across))

    @property
    def shares(self):
        """How much it is, as shares of the limits for "off", "lean" and "deep"."""
        sizes = self.off / DECENTRATION_LIMIT, self.lean / TILT_LIMIT, abs(self.deeper) / DEPTH_LIMIT
        return dict(zip(("off", "lean", "deep"), sizes, strict=True))

    @property
    def shown(self):
        """Which of "off", "lean" and "deep" are worth a word, most first."""
        sizes = {"off": self.off / SHOWN, "lean": self.lean / LEANS, "deep": abs(self.deeper) / SINKS}
        return sorted((kind for kind in sizes if sizes[kind] >= 1.0), key=self.shares.get, reverse=True)


def measured(before, after):
    """Measure the `Change` between two sessions; both have to be settled."""
    p, q = before.settled, after.settled
    opened, openings = (np.array([passage.inner for passage in pose.passages]) for pose in (p, q))
    spans = [ends[0, :2] - ends[1, :2] for ends in (opened, openings)]
    line = np.sum([span / np.linalg.norm(span) for span in spans], axis=0)
    line = line / np.linalg.norm(line)
    frame = np.array([line, [-line[1], line[0]]])
    along, across = frame @ [q.x - p.x, q.y - p.y]
    leaned = np.degrees(frame @ (q.normal - p.normal)[:2])
    held = [np.degrees(np.arcsin([passage.held[2] for passage in pose.passages])) for pose in (p, q)]
    return Change(
        line=float(np.degrees(np.arctan2(line[1], line[0]))), along=float(along), across=float(across),
        lean=float(np.degrees(np.arctan2(np.linalg.norm(np.cross(p.normal, q.normal)), p.normal @ q.normal))),
        lean_along=float(leaned[0]), lean_across=float(leaned[1]), deeper=float(q.depth - p.depth),
        roll=float((q.roll - p.roll + 180.0) % 360.0 - 180.0),
        tilt=(p.tilt, q.tilt), pull=(float(p.tension[0]), float(q.tension[0])),
        middle=tuple((frame @ (openings - opened).mean(axis=0)[:2]).tolist()),
        free=tuple((q.free_length - p.free_length).tolist()), held=tuple((held[1] - held[0]).tolist()),
        sunk=tuple((opened - openings)[:, 2].tolist()),
    )  # fmt: skip


def did(c, before, after):
    """Say what a `Change` did to the lens and to the eye: "the lens lies 0.20 mm deeper"."""
    parts = [{"off": _went, "lean": _tilted, "deep": _sank}[kind](c) for kind in c.shown]
    if not parts and abs(c.roll) >= ROLLS:
        parts.append(f"rolls by {abs(c.roll):.0f} deg")
    if len(parts) < 2 and max(c.pull) >= PULLS * min(c.pull):
        parts.append(f"is held with {c.pull[1]:.0f} instead of {c.pull[0]:.0f} mN (an upper estimate)")
    if not parts:
        still = max(c.off, abs(c.deeper)) < 0.005 and c.lean < 0.05 and abs(c.roll) < 0.5
        parts.append("stays where it is" if still else "hardly moves")
    blurred = _blurred(before, after)
    if abs(blurred) >= BLURS:
        parts.append(f"leaves the eye {abs(blurred):.2f} D more {'long' if blurred > 0.0 else 'short'}-sighted")
    seen = [one.sight.seen for one in (before, after)]
    if seen[0] != seen[1]:
        parts.append("can be seen through again" if seen[1] else "can no longer be seen through")
    return f"the lens {joined(parts)}"


def _went(c):
    along = f"{abs(c.along):.2f} mm towards the {SIDES[int(c.along < 0.0)]} side"
    hour = np.floor(meridian_to_clock(c.line + (90.0 if c.across > 0.0 else -90.0)) + 0.5)
    across = f"{abs(c.across):.2f} mm across towards about {hour:.0f} o'clock"
    if min(abs(c.along), abs(c.across)) >= SHOWN:
        return f"moves {along} and {across}"
    return f"moves {along if abs(c.along) > abs(c.across) else across}"


def _tilted(c):
    was, now = (f"{tilt:.1f}" for tilt in c.tilt)
    if abs(c.tilt[1] - c.tilt[0]) <= 0.5 * c.lean:
        return f"leans another way by {c.lean:.1f} deg"
    if now == "0.0":
        return f"lies flat instead of tilted by {was} deg"
    return f"is tilted by {now} deg" if was == "0.0" else f"is tilted by {now} instead of {was} deg"


def _sank(c):
    return f"lies {abs(c.deeper):.2f} mm {'deeper' if c.deeper > 0.0 else 'less deep'}"


def _blurred(before, after):
    """How much [D] more long-sighted the eye is; if it is another, each against what it was planned to be; or NaN."""
    if before["white_to_white"] != after["white_to_white"]:
        return surprise(after) - surprise(before)
    return float(after.sight.M - before.sight.M)


def joined(parts):
    """Join parts of a sentence by commas and an and."""
    if len(parts) < 2:
        return "".join(parts)
    comma = "," if len(parts) > 2 or " and " in "".join(parts) or "," in parts[0] else ""
    return f"{', '.join(parts[:-1])}{comma} and {parts[-1]}"
