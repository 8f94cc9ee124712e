"""What happened to a lens from one session to another: measured, and what of it is worth a word.

"Across" is across the haptic axis, "towards a side" is along it.
"""

from __future__ import annotations

import dataclasses
from types import MappingProxyType

import numpy as np

from ..eye.frames import meridian_to_clock
from ..study.verdict import DECENTRATION_LIMIT, DEPTH_LIMIT, TILT_LIMIT
from .parameters import SIDES
from .session import Session

SHOWN, LEANS, SINKS, ROLLS, PULLS, BLURS = 0.05, 0.5, 0.05, 2.0, 1.25, 0.1
"""[mm], [deg], [mm], [deg], [times], [D] Less than this is not worth a word; chosen for teaching."""


@dataclasses.dataclass(frozen=True)
class Clause:
    """Part of a sentence: what it says as values, and the words that they are put into; its text is both.

    Attributes
    ----------
    name : str
    words : str
        With a place for each value that is said.
    values : mapping
    """

    name: str
    words: str
    values: MappingProxyType

    def __str__(self):
        return self.words.format_map(self.values)


def clause(name, words, **values) -> Clause:
    """Make a clause.

    Parameters
    ----------
    name, words : str
    **values
        That are put into the words.
    """
    return Clause(name, words, MappingProxyType(values))


@dataclasses.dataclass(frozen=True, repr=False)
class Change:
    """What happened to a lens from before to after, and to what holds it; its text says it of the lens and the eye.

    Pairs are before and after, or by side.
    """

    before: Session
    after: Session
    line: float  # [deg] meridian of the haptic axis on its first side, midway between before and after
    along: float  # [mm] how its centre moved along that line, towards the first side
    across: float  # [mm] and across it, counter-clockwise
    lean: float  # [deg] angle between its normals
    lean_along: float  # [deg] how its normal moved towards the first side
    lean_across: float  # [deg] and across the line
    deeper: float  # [mm]
    roll: float  # [deg]
    tilt: tuple  # [deg] before and after
    pull: tuple  # [mN] before and after
    middle: tuple  # [mm] how the middle of the internal entries moved along and across
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

    @property
    def pulls(self):
        """Whether the haptics are drawn tighter or less tight by so much that it is worth a word."""
        return max(self.pull) >= PULLS * min(self.pull)

    @property
    def more_hyperopic(self):
        """How much [D] more hyperopic the eye is; if it is another, each against what was planned; or NaN."""
        if self.before["white_to_white"] != self.after["white_to_white"]:
            return self.after.refraction_surprise - self.before.refraction_surprise
        return float(self.after.sight.M - self.before.sight.M)

    @property
    def clauses(self):
        """What is worth a word, most important first: a tuple of `Clause`."""
        return (*self._of_the_lens(), *self._of_the_eye())

    def _of_the_lens(self):
        says = {"off": self._went, "lean": self._tilted, "deep": self._sank}
        found = [one for kind in self.shown for one in says[kind]()]
        if not self.shown and abs(self.roll) >= ROLLS:
            found = [clause("roll", "rotates by {size:.0f} deg", size=abs(self.roll))]
        if len(self.shown or found) < 2 and self.pulls:
            words = "is held with {after:.0f} instead of {before:.0f} mN (an upper estimate)"
            found.append(clause("pull", words, before=self.pull[0], after=self.pull[1]))
        if not found:
            still = max(self.off, abs(self.deeper)) < 0.005 and self.lean < 0.05 and abs(self.roll) < 0.5
            found = [clause("still", "stays where it is") if still else clause("hardly", "hardly moves")]
        return found

    def _of_the_eye(self):
        found, more = [], self.more_hyperopic
        if abs(more) >= BLURS:
            words = "leaves the eye {size:.2f} D more {way}"
            found.append(clause("sight", words, size=abs(more), way="hyperopic" if more > 0.0 else "myopic"))
        seen = [session.sight.seen for session in (self.before, self.after)]
        if seen[0] != seen[1]:
            words = "can be seen through again" if seen[1] else "can no longer be seen through"
            found.append(clause("seen" if seen[1] else "unseen", words))
        return found

    def _went(self):
        hour = int(np.floor(meridian_to_clock(self.line + (90.0 if self.across > 0.0 else -90.0)) + 0.5))
        ways = {
            "along": ("{size:.2f} mm towards the {way} side", SIDES[int(self.along < 0.0)]),
            "across": ("{size:.2f} mm across towards about {way} o'clock", hour),
        }
        sizes = {"along": abs(self.along), "across": abs(self.across)}
        if min(sizes.values()) < SHOWN:
            sizes = dict([max(sizes.items(), key=lambda item: item[1])])
        heads = ("moves ", "")  # of both ways the first has the verb
        return [
            clause(way, head + ways[way][0], size=size, way=ways[way][1])
            for head, (way, size) in zip(heads, sizes.items(), strict=False)
        ]

    def _tilted(self):
        was, now = self.tilt
        if abs(now - was) <= 0.5 * self.lean:
            return [clause("lean", "is tilted another way by {size:.1f} deg", size=self.lean)]
        if f"{now:.1f}" == "0.0":
            return [clause("flat", "lies flat instead of tilted by {before:.1f} deg", before=was, after=now)]
        instead = "" if f"{was:.1f}" == "0.0" else " instead of {before:.1f}"
        return [clause("tilt", f"is tilted by {{after:.1f}}{instead} deg", before=was, after=now)]

    def _sank(self):
        way = "deeper" if self.deeper > 0.0 else "less deep"
        return [clause("deep", "lies {size:.2f} mm {way}", size=abs(self.deeper), way=way)]

    def __str__(self):
        parts, before = [], ""
        for one in self.clauses:
            both = (before, one.name) == ("along", "across")  # ways of one movement: one part
            parts[len(parts) - both :] = [f"{parts[-1]} and {one}" if both else str(one)]
            before = one.name
        return f"the lens {join_words(parts)}"

    __repr__ = __str__


def measure_change(before, after) -> Change:
    """Measure what happened to a lens between two sessions.

    Parameters
    ----------
    before, after : Session
        Both have to be settled.
    """
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
        before=before,
        after=after,
        line=float(np.degrees(np.arctan2(line[1], line[0]))),
        along=float(along),
        across=float(across),
        lean=float(np.degrees(np.arctan2(np.linalg.norm(np.cross(p.normal, q.normal)), p.normal @ q.normal))),
        lean_along=float(leaned[0]),
        lean_across=float(leaned[1]),
        deeper=float(q.depth - p.depth),
        roll=float((q.roll - p.roll + 180.0) % 360.0 - 180.0),
        tilt=(p.tilt, q.tilt),
        pull=(float(p.tension[0]), float(q.tension[0])),
        middle=tuple((frame @ (openings - opened).mean(axis=0)[:2]).tolist()),
        free=tuple((q.free_length - p.free_length).tolist()),
        held=tuple((held[1] - held[0]).tolist()),
        sunk=tuple((opened - openings)[:, 2].tolist()),
    )


def join_words(parts) -> str:
    """Join parts of a sentence by commas and an and."""
    parts = [str(part) for part in parts]
    if len(parts) < 2:
        return "".join(parts)
    comma = "," if len(parts) > 2 or " and " in "".join(parts) or "," in parts[0] else ""
    return f"{', '.join(parts[:-1])}{comma} and {parts[-1]}"
