"""Why did it do that? Two sentences for whatever just happened: what was changed and what it did, and the reason.

The first sentence is measured from before to after. The second joins the law of the thing that was changed (`LAWS`)
to what carries it to the lens, and that is measured as well: where the openings went, how much haptic is free, how
it is held. What the simulation does not show is not said. If several things changed, each is tried alone first::

    why(Session(), Session(mark_second=10)).text
    # The second mark is turned by 10 deg: the lens moves 0.54 mm across towards about 6 o'clock. A mark turns ...
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, short
from ..lesson.cases import pose_words
from ..sight.refraction import signed
from .change import BLURS, LEANS, PULLS, ROLLS, SHOWN, Change, did, joined, measured
from .laws import IDLE, LAWS, NAMES, SAID, THINGS, both_sides, of_neither, phrase
from .quantities import KEYS, SIDES
from .session import Session
from .votes import nowhere

_COUNTS = "no one two three four five six seven eight nine ten eleven twelve thirteen".split()


@dataclasses.dataclass(frozen=True, repr=False)
class Why:
    """Two sentences on what just happened, and what to draw beside them.

    `dominant` is the thing (`THINGS`) that did most, "" if nothing was changed; `view` ("front" or "side") shows it
    best; `change` is measured, None where nothing has settled before or after.
    """

    sentences: tuple[str, str]
    before: Session
    after: Session
    dominant: str
    view: str
    change: Change | None

    @property
    def text(self):
        """Both sentences."""
        return " ".join(self.sentences)

    def __repr__(self):
        return self.text


def why(before, after):
    """Say what was changed from one `Session` to another, what it did, and why: a `Why`."""
    changed = _changed(before, after)
    said, change, view, dominant = _said(changed, before, after), None, "front", ""
    if not changed:
        second = f"the lens lies {pose_words(after.settled)}" if after.settled.settled else nowhere(after)
    elif not (before.settled.settled and after.settled.settled):
        dominant, said, second = _unsettled(changed, before, after, said)
    else:
        change = measured(before, after)
        said = f"{said}: {did(change, before, after)}"
        if len(changed) == 1:
            dominant, second = changed[0], _reason(changed[0], change, before, after)
        else:
            dominant, second = _of_these(changed, change, before, after)
        best = max(change.shares, key=change.shares.get)
        view = "side" if best != "off" and change.shares[best] > 0.1 else "front"
    sentences = tuple(f"{words[0].upper()}{words[1:]}." for words in (said, second))
    return Why(sentences, before, after, dominant, view, change)


def changes_in_words(before, after):
    """Say each thing that was changed from one `Session` to another; "nothing" if there is none."""
    return joined([_told(thing, before, after) for thing in _changed(before, after)] or ["nothing"])


def _changed(before, after):
    for one in (before, after):
        if not isinstance(one, Session):
            raise LearnerError(f"why takes two Sessions, before and after; {short(one)} was given.")
    return [thing for thing in THINGS if _changes(thing, before, after)]


def _changes(thing, before, after):
    values = after.values.items()
    return {key: value for key, value in values if KEYS[key].key in THINGS[thing] and value != before[key]}


def _alone(thing, before, after):
    """Session in which only this was changed; None if there is no such session."""
    try:
        return before.but(**_changes(thing, before, after))
    except LearnerError:  # a mark that only another change brought back on to the wall
        return None


def _of_these(changed, change, before, after):
    """Which of several things did most, and why."""
    alone = {thing: _alone(thing, before, after) for thing in changed}
    alone = {thing: one for thing, one in alone.items() if one is not None and one.settled.settled}
    if not alone:
        dominant = changed[0]
        carried = joined(_carried(dominant, change)) or "the lens lies as before"
        return dominant, f"with any one of these changes alone the lens would have no resting place; {carried}"
    sizes = {thing: measured(before, one) for thing, one in alone.items()}
    dominant = max(alone, key=lambda thing: (bool(sizes[thing].shown), _weight(thing, sizes[thing])))
    most = sizes[dominant]
    reason = _reason(dominant, most, before, alone[dominant])
    if not any(size.shown for size in sizes.values()):
        return dominant, f"alone none of these moves the lens to speak of; as to the {NAMES[dominant]}, {reason}"
    aside, turned, deep = f"{most.off:.2f} mm aside", f"{most.lean:.1f} deg", f"{abs(most.deeper):.2f} mm of depth"
    told = joined([{"off": aside, "lean": turned, "deep": deep}[kind] for kind in most.shown])
    return dominant, f"of these the {NAMES[dominant]} did most (alone {told}): {reason}"


def _weight(thing, change):
    least = abs(np.log(change.pull[1] / change.pull[0])) + abs(change.roll) / 90.0 + 0.1 * (thing == "pupil")
    return float(np.linalg.norm([*change.shares.values()]) + 1e-2 * least)


def _said(changed, before, after):
    """Say what was changed."""
    if not changed:
        return "nothing was changed, and nothing moves"
    if len(changed) > 1:
        return f"{_COUNTS[len(changed)]} things were changed ({', '.join(NAMES[thing] for thing in changed)})"
    return _told(changed[0], before, after)


def _told(thing, before, after):
    """Say how one thing was changed."""
    if thing in ("ring", "white_to_white", "pupil", "eye"):
        now, was = of_neither(thing, after.values)[0], of_neither(thing, before.values)[1]
        return now if was == "centred" else f"{now} instead of {was}"
    words = joined([part for name in THINGS[thing] for part in _told_of(name, before, after)])
    lengths = np.array([[float(p.tunnel_length) for p in one.settled.passages] for one in (before, after)])
    if thing == "tunnel" and "long" not in words and np.all(np.isfinite(lengths)) and np.ptp(lengths, axis=0).any():
        was, now = (" and ".join(dict.fromkeys(f"{length:.2f}" for length in pair)) for pair in lengths)
        words += f" (tunnels {now} mm instead of {was})"
    return words


def _told_of(name, before, after):
    """Say how a quantity or setting of the sides was changed, one part a side, or one for both alike."""
    parts = {}
    for side in SIDES:
        new, old = after[f"{name}_{side}"], before[f"{name}_{side}"]
        turned = name == "turn" and after[f"turned_{side}"] != before[f"turned_{side}"]
        idle = (name == "turn" and not after[f"turned_{side}"]) or (
            name == "tunnel" and after[f"kind_{side}"] == "straight"
        )
        if new != old and not turned:
            parts.setdefault((new, old, after[f"turn_{side}"] if name == "turned" else 0.0, idle), []).append(side)
    if len(parts) == 2:
        new, old, turn, idle = zip(*parts, strict=True)
        if name in SAID and name != "bend" and idle[0] == idle[1]:
            return [both_sides(name, new, old, idle=idle[0])]
        if name == "turned" and all(new):
            return [both_sides("turn", turn)]
    return [phrase(name, sides, new, old, turn=turn, idle=idle) for (new, old, turn, idle), sides in parts.items()]


def _unsettled(changed, before, after, said):
    """Which thing it is, and both sentences, where the lens has no resting place before or after."""
    rests, rested = after.settled.settled, before.settled.settled
    dominant = changed[0]
    if len(changed) > 1 and (rests or rested):
        start, goal = (after, before) if rests else (before, after)
        alone = {thing: _alone(thing, start, goal) for thing in changed}
        guilty = [thing for thing, one in alone.items() if one is not None and not one.settled.settled]
        dominant = (guilty or changed)[0]
    if rests:
        return (
            dominant,
            f"{said}: the lens comes to rest again, {pose_words(after.settled)}",
            f"before: {nowhere(before)}",
        )
    reason = after.settled.reason
    since = f"a {reason}" if reason.startswith(("haptic", "needle")) else "no balance is found"
    return dominant, f"{said}: the lens {'' if rested else 'still '}has no resting place, since {since}", nowhere(after)


def _reason(thing, c, before, after):
    """Say why a change of this thing alone does what it does."""
    if thing == "pupil" and before.sight.seen and after.sight.seen:
        wider, more = after["pupil"] - before["pupil"], float(after.sight.M - before.sight.M)
        if abs(more) >= BLURS and wider * more < 0.0:
            return (
                "light through the outer parts of cornea and lens is bent more (spherical aberration), so that over "
                f"the whole pupil the refraction goes from {signed(before.sight.M)} to {signed(after.sight.M)} D"
            )
    grown = (0.0, 0.0) if thing in ("pupil", "eye") else _grown(thing, c, before, after)
    if thing in IDLE and not any(grown):
        return IDLE[thing]
    laws = []
    for side, more in sorted(zip(SIDES, grown, strict=True), key=lambda one: -abs(one[1])):
        straight = thing in ("dip", "limbus") and after[f"kind_{side}"] == "straight"
        laws += [LAWS[f"{thing} straight" if straight else thing][0 if more > 0.0 else 1]] if more else []
    one, *other = dict.fromkeys(laws)
    law = joined([one, *(words.removeprefix("straight on, ") if words[:8] == one[:8] else words for words in other)])
    carried = _carried(thing, c)
    if not carried:
        return f"{law}, but by too little here to show"
    alike = ""
    if abs(grown[0] - grown[1]) < 1e-6:
        still = c.off < SHOWN and c.lean < LEANS
        differed = "alike on both sides, this does not cancel, since the sides differed before: "
        alike = "alike on both sides, this sets neither against the other, and " if still else differed
    return f"{law}; {alike}{joined(carried)}"


def _grown(thing, c, before, after):
    """By side, how much there is more of a thing."""
    if thing == "ring":
        return 1.0, -1.0  # what it adds on one side it takes from the other
    if thing == "turn":
        return tuple(more if abs(more) > 1e-9 else 0.0 for more in c.held)
    if thing == "tunnel":
        passes = zip(before.settled.passages, after.settled.passages, strict=True)
        return tuple(float(q.tunnel_length - p.tunnel_length) for p, q in passes)
    keys = [f"{thing}_{side}" if f"{thing}_{side}" in KEYS else thing for side in SIDES]
    return tuple(float(after[key]) - float(before[key]) for key in keys)


def _carried(thing, c):
    """Say what carries a change to the lens, most important first, each clause of what was measured."""
    if thing == "backwards" and c.off > 1.0:
        taken = "the haptic in it, held another way round, takes the lens to another place and another tilt"
        return [f"{taken}, as far as iris and cornea, which are left out here, would let it"]
    clauses = {"off": _moved, "lean": _leaned, "deep": _deepened}
    if c.shown:
        most, *others = c.shown
        told = clauses[most](thing, c)
        if others and (len(told) < 2 or c.shares[others[0]] >= 0.5 * c.shares[most]):
            told += clauses[others[0]](thing, c)
        return told
    if max(c.pull) >= PULLS * min(c.pull):
        return [f"both haptics are only drawn {'tighter' if c.pull[1] > c.pull[0] else 'less tight'}"]
    return ["the lens only rolls between its openings"] if abs(c.roll) >= ROLLS else []


def _moved(thing, c):
    parts, wanted = [], [abs(size) >= SHOWN for size in (c.along, c.across)]
    more = c.free[0] - c.free[1]
    if wanted[0] and abs(more) >= SHOWN and more * c.along < 0.0:
        side = int(abs(c.free[1]) > abs(c.free[0]))
        against = " against the other than before," if min(abs(size) for size in c.free) >= 0.005 else ""
        size = abs(more) if against else abs(c.free[side])
        less = more * (1.0 - 2.0 * side) < 0.0
        does = "draws the lens towards itself" if less else "pushes the lens away along the line"
        parts.append(
            f"with {size:.2f} mm {'less' if less else 'more'} haptic free{against} the {SIDES[side]} side {does}"
        )
        wanted[0] = False
    went = [
        abs(slip) if want and slip * move > 0.0 and abs(slip) >= 0.5 * abs(move) else 0.0
        for want, slip, move in zip(wanted, c.middle, (c.along, c.across), strict=True)
    ]
    if any(went):
        way = "across" if went[1] > 2.0 * went[0] else "along" if went[0] > 2.0 * went[1] else "along and across"
        parts.append(
            f"the middle of the openings slips {np.hypot(*went):.2f} mm {way} their line and takes the lens along"
        )
    return parts or ["the haptics come into balance in another place"]


def _leaned(thing, c):
    if abs(c.lean_across) < abs(c.lean_along):
        lower = c.sunk[0] - c.sunk[1]
        if abs(lower) >= 0.02 and lower * c.lean_along > 0.0:
            side = SIDES[int(lower < 0.0)]
            return [f"the {side} side opens {abs(lower):.2f} mm deeper against the other and tips the lens"]
        return ["the haptics come into balance at another tilt"]
    more = c.held[0] - c.held[1]
    if abs(more) >= 1.0 and more * c.lean_across < 0.0:
        side = int(abs(c.held[1]) > abs(c.held[0]))
        steeper = "steeper" if more * (1.0 - 2.0 * side) > 0.0 else "flatter"
        against = " against the other than before" if min(abs(size) for size in c.held) >= 0.5 else ""
        held = f"held {_deg(more if against else c.held[side])} {steeper}{against}"
        return [f"the {SIDES[side]} haptic, {held}, turns the optic about the line of the openings"]
    if thing == "bend":
        return ["the new shape turns the optic about the line of the openings"]
    if abs(c.free[0] - c.free[1]) >= SHOWN:
        return ["free lengths that changed against each other turn the optic about the line of the openings"]
    return ["the haptics come into balance at another tilt"]


def _deepened(thing, c):
    held, sunk = np.mean(c.held), np.mean(c.sunk)
    deeper = "deeper" if c.deeper > 0.0 else "less deep"
    if abs(held) >= 1.0 and held * c.deeper > 0.0:
        return [f"the haptics, {_deg(held)} {'steeper' if held > 0.0 else 'flatter'} on average, set the lens {deeper}"]
    if abs(sunk) >= 0.02 and sunk * c.deeper > 0.0:
        return [f"the openings lie {abs(sunk):.2f} mm {deeper} on average"]
    if abs(np.log(c.pull[1] / c.pull[0])) > 0.1 and (c.pull[1] - c.pull[0]) * c.deeper < 0.0:
        tight = "drawn tighter, hold the lens less deep", "less tight, let the lens lie deeper"
        return [f"the haptics, {tight[int(c.deeper > 0.0)]}"]
    return [
        f"the new shape sets the lens {deeper}" if thing == "bend" else "the haptics come into balance at another depth"
    ]


def _deg(size):
    return f"{round(abs(size), 1):g} deg"
