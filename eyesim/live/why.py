"""Why did it do that? Two sentences for whatever just happened: what was changed and what it did, and the reason.

The first sentence is measured from before to after. The second joins the law of the thing that was changed (`LAWS`)
to what carries it to the lens, and that is measured as well: where the internal entries went, how much haptic is
free, how it is held. What the simulation does not show is not said. If several things changed, each is tried alone
first::

    why(Session(), Session(mark_second=10)).text
    # The second mark is turned by 10 deg: the lens moves 0.54 mm across towards about 6 o'clock. A mark turns ...
    why(Session(), Session(mark_second=10)).change.across  # -0.54
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError
from ..hold.rest import REASONS
from ..lesson.build import pose_words
from ..sight.refraction import signed
from .change import BLURS, LEANS, ROLLS, SHOWN, Change, Clause, clause, join_words, measure_change
from .laws import FACTOR_NAMES, LAWS, NO_EFFECT
from .outcome import explain_failure
from .parameters import KEYS, SIDES
from .session import Session
from .wording import changed_factors, factor_changes, summarise_changes

_SINCE = {reason: f"a {reason}" for reason in REASONS[1:4]}  # what a haptic or a needle does


@dataclasses.dataclass(frozen=True, repr=False)
class Reason:
    """Why a change of one factor does what it does; its text says it.

    Attributes
    ----------
    words : str
    laws : tuple of (str, bool)
        What was referred to: key of `LAWS`, and whether it grew.
    clauses : tuple of Clause
        What carries the change to the lens, most important first.
    alike : bool
        Whether it was changed alike on both sides.
    """

    words: str
    laws: tuple[tuple[str, bool], ...] = ()
    clauses: tuple[Clause, ...] = ()
    alike: bool = False

    def __str__(self):
        return self.words

    __repr__ = __str__


@dataclasses.dataclass(frozen=True, repr=False)
class Why:
    """Two sentences on what just happened, and what to draw beside them.

    Attributes
    ----------
    sentences : (str, str)
    before, after : Session
    dominant : str
        The factor (`FACTORS`) that did most; "" if nothing was changed.
    view : "front" or "side"
        What shows it best.
    change : Change or None
        None where nothing has settled before or after.
    reason : Reason or None
        Of the dominant factor; None where there is no change to explain.
    alone : Change or None
        What the dominant one of several factors does alone.
    """

    sentences: tuple[str, str]
    before: Session
    after: Session
    dominant: str = ""
    view: str = "front"
    change: Change | None = None
    reason: Reason | None = None
    alone: Change | None = None

    @property
    def text(self):
        """Both sentences."""
        return " ".join(self.sentences)

    def __repr__(self):
        return self.text


def why(before, after) -> Why:
    """Say what was changed from one session to another, what it did, and why.

    Parameters
    ----------
    before, after : Session
    """
    changed, first = changed_factors(before, after), summarise_changes(before, after)
    rests = after.settled.settled
    if not changed:
        second = f"the lens lies {pose_words(after.settled)}" if rests else explain_failure(after)
        return Why(_sentences(first, second), before, after)
    if not (before.settled.settled and rests):
        dominant, outcome, second = _unsettled(changed, before, after)
        return Why(_sentences(f"{first}: {outcome}", second), before, after, dominant)
    change = measure_change(before, after)
    best = max(change.shares, key=change.shares.get)
    view = "side" if best != "off" and change.shares[best] > 0.1 else "front"
    if len(changed) == 1:
        dominant, alone, reason = changed[0], None, _reason(changed[0], change, before, after)
        second = str(reason)
    else:
        dominant, alone, reason, second = _of_these(changed, change, before, after)
    return Why(_sentences(f"{first}: {change}", second), before, after, dominant, view, change, reason, alone)


def _sentences(*parts):
    return tuple(f"{words[0].upper()}{words[1:]}." for words in parts)


def _only(factor, before, after):
    """Session in which only this was changed; None if there is no such session."""
    try:
        return before.but(**factor_changes(factor, before, after))
    except LearnerError:  # a mark that only another change brought back on to the wall
        return None


def _of_these(changed, change, before, after):
    """Which of several factors did most, what it does alone, why, and the sentence on that."""
    sessions = {factor: _only(factor, before, after) for factor in changed}
    sessions = {factor: one for factor, one in sessions.items() if one is not None and one.settled.settled}
    if not sessions:
        reason = Reason("", clauses=tuple(_carried(changed[0], change)))
        carried = join_words(reason.clauses) or "the lens lies as before"
        words = f"with any one of these changes alone the lens would have no resting place; {carried}"
        return changed[0], None, reason, words
    changes = {factor: measure_change(before, one) for factor, one in sessions.items()}
    dominant = max(changes, key=lambda factor: (bool(changes[factor].shown), _weight(factor, changes[factor])))
    alone, name = changes[dominant], FACTOR_NAMES[dominant]
    reason = _reason(dominant, alone, before, sessions[dominant])
    if not any(one.shown for one in changes.values()):
        return dominant, alone, reason, f"alone none of these moves the lens to speak of; as to the {name}, {reason}"
    sizes = {
        "off": f"{alone.off:.2f} mm aside",
        "lean": f"{alone.lean:.1f} deg",
        "deep": f"{abs(alone.deeper):.2f} mm of depth",
    }
    did = join_words(sizes[kind] for kind in alone.shown)
    return dominant, alone, reason, f"of these the {name} did most (alone {did}): {reason}"


def _weight(factor, change):
    least = abs(np.log(change.pull[1] / change.pull[0])) + abs(change.roll) / 90.0 + 0.1 * (factor == "pupil")
    return float(np.linalg.norm([*change.shares.values()]) + 1e-2 * least)


def _unsettled(changed, before, after):
    """Which factor it is, what became of the lens, and why, where it has no resting place before or after."""
    rests, rested = after.settled.settled, before.settled.settled
    dominant = changed[0]
    if len(changed) > 1 and (rests or rested):
        start, goal = (after, before) if rests else (before, after)
        alone = {factor: _only(factor, start, goal) for factor in changed}
        guilty = [factor for factor, one in alone.items() if one is not None and not one.settled.settled]
        dominant = (guilty or changed)[0]
    if rests:
        again = f"the lens comes to rest again, {pose_words(after.settled)}"
        return dominant, again, f"before: {explain_failure(before)}"
    since = _SINCE.get(after.settled.reason, "no balance is found")
    return dominant, f"the lens {'' if rested else 'still '}has no resting place, since {since}", explain_failure(after)


def _reason(factor, c, before, after):
    """Say why a change of this factor alone does what it does."""
    if factor == "pupil" and (found := _light_reason(before, after)):
        return found
    grown = (0.0, 0.0) if factor in ("pupil", "eye") else _grown(factor, c, before, after)
    if factor in NO_EFFECT and not any(grown):
        return Reason(NO_EFFECT[factor])
    laws = {}
    for side, more in sorted(zip(SIDES, grown, strict=True), key=lambda one: -abs(one[1])):
        straight = factor in ("dip", "limbus") and after[f"kind_{side}"] == "straight"
        key = f"{factor} straight" if straight else factor
        if more:
            laws.setdefault(LAWS[key][0 if more > 0.0 else 1], (key, more > 0.0))
    one, *other = laws
    law = join_words(
        [one, *(words.removeprefix("in a single plane, ") if words[:8] == one[:8] else words for words in other)]
    )
    clauses, keys = tuple(_carried(factor, c)), tuple(laws.values())
    if not clauses:
        return Reason(f"{law}, but by too little here to show", keys)
    if abs(grown[0] - grown[1]) >= 1e-6:
        return Reason(f"{law}; {join_words(clauses)}", keys, clauses)
    still = c.off < SHOWN and c.lean < LEANS
    differed = "alike on both sides, this does not cancel, since the sides differed before: "
    alike = "alike on both sides, this sets neither against the other, and " if still else differed
    return Reason(f"{law}; {alike}{join_words(clauses)}", keys, clauses, alike=True)


def _light_reason(before, after):
    """Say why another pupil changes the refraction, where it does as spherical aberration has it; None elsewhere."""
    if not (before.sight.seen and after.sight.seen):
        return None
    was, now = float(before.sight.M), float(after.sight.M)
    if abs(now - was) < BLURS or (after["pupil"] - before["pupil"]) * (now - was) >= 0.0:
        return None
    refraction = clause("refraction", "the refraction goes from {was} to {now} D", was=signed(was), now=signed(now))
    light = "light through the outer parts of cornea and lens is bent more (spherical aberration)"
    return Reason(f"{light}, so that over the whole pupil {refraction}", clauses=(refraction,))


def _grown(factor, c, before, after):
    """By side, how much there is more of a factor."""
    if factor == "ring":
        return 1.0, -1.0  # what it adds on one side it takes from the other
    if factor == "turn":
        return tuple(more if abs(more) > 1e-9 else 0.0 for more in c.held)
    if factor == "tunnel":
        passes = zip(before.settled.passages, after.settled.passages, strict=True)
        return tuple(float(q.tunnel_length - p.tunnel_length) for p, q in passes)
    keys = [f"{factor}_{side}" if f"{factor}_{side}" in KEYS else factor for side in SIDES]
    return tuple(float(after[key]) - float(before[key]) for key in keys)


def _carried(factor, c):
    """Say what carries a change to the lens, most important first: clauses of what was measured."""
    if factor == "backwards" and c.off > 1.0:
        words = (
            "the haptic in it, held another way round, takes the lens to another place and another tilt, as far as "
            "iris and cornea, which are left out here, would let it"
        )
        return [clause("turned round", words)]
    carries = {"off": _moved, "lean": _leaned, "deep": _deepened}
    if c.shown:
        most, *others = c.shown
        clauses = carries[most](factor, c)
        if others and (len(clauses) < 2 or c.shares[others[0]] >= 0.5 * c.shares[most]):
            clauses += carries[others[0]](factor, c)
        return clauses
    if c.pulls:
        tighter = "tighter" if c.pull[1] > c.pull[0] else "less tight"
        return [clause("drawn", "both haptics are only held {way}", way=tighter)]
    return [clause("rolls", "the lens only rotates between its internal entries")] if abs(c.roll) >= ROLLS else []


def _moved(factor, c):
    clauses, wanted = [], [abs(size) >= SHOWN for size in (c.along, c.across)]
    more = c.free[0] - c.free[1]
    if wanted[0] and abs(more) >= SHOWN and more * c.along < 0.0:
        clauses.append(_freed(c, more))
        wanted[0] = False
    slips = [
        abs(slip) if want and slip * move > 0.0 and abs(slip) >= 0.5 * abs(move) else 0.0
        for want, slip, move in zip(wanted, c.middle, (c.along, c.across), strict=True)
    ]
    if any(slips):
        way = "across" if slips[1] > 2.0 * slips[0] else "along" if slips[0] > 2.0 * slips[1] else "along and across"
        words = "the middle of the internal entries moves {size:.2f} mm {way} the haptic axis, and the lens follows"
        clauses.append(clause("slips", words, size=float(np.hypot(*slips)), way=way))
    return clauses or [clause("balance", "the haptics come into balance in another place")]


def _freed(c, more):
    """How much more haptic is free on the side on which most has changed; against the other, if both have."""
    side = int(abs(c.free[1]) > abs(c.free[0]))
    against = min(abs(size) for size in c.free) >= 0.005
    less = more * (1.0 - 2.0 * side) < 0.0
    return clause(
        "free",
        "with {size:.2f} mm {way} haptic free{against} the {side} side {does}",
        size=abs(more) if against else abs(c.free[side]),
        way="less" if less else "more",
        against=" against the other than before," if against else "",
        side=SIDES[side],
        does="pulls the lens towards itself" if less else "pushes the lens away along the haptic axis",
    )


def _leaned(factor, c):
    if abs(c.lean_across) < abs(c.lean_along):
        lower = c.sunk[0] - c.sunk[1]
        if abs(lower) >= 0.02 and lower * c.lean_along > 0.0:
            words = "the {side} side opens {size:.2f} mm deeper against the other and tilts the lens"
            return [clause("sunk", words, side=SIDES[int(lower < 0.0)], size=abs(lower))]
        return [clause("balance", "the haptics come into balance at another tilt")]
    more = c.held[0] - c.held[1]
    if abs(more) >= 1.0 and more * c.lean_across < 0.0:
        side = int(abs(c.held[1]) > abs(c.held[0]))
        against = min(abs(size) for size in c.held) >= 0.5
        return [
            clause(
                "held",
                "the {side} haptic, held {size:g} deg {way}{against}, tilts the optic about the haptic axis",
                side=SIDES[side],
                size=round(abs(more if against else c.held[side]), 1),
                way="steeper" if more * (1.0 - 2.0 * side) > 0.0 else "flatter",
                against=" against the other than before" if against else "",
            )
        ]
    if factor == "bend":
        return [clause("shape", "the new shape tilts the optic about the haptic axis")]
    if abs(c.free[0] - c.free[1]) >= SHOWN:
        words = "free lengths that changed against each other tilt the optic about the haptic axis"
        return [clause("lengths", words)]
    return [clause("balance", "the haptics come into balance at another tilt")]


def _deepened(factor, c):
    held, sunk = float(np.mean(c.held)), float(np.mean(c.sunk))
    deeper = "deeper" if c.deeper > 0.0 else "less deep"
    if abs(held) >= 1.0 and held * c.deeper > 0.0:
        words = "the haptics, {size:g} deg {way} on average, set the lens {deeper}"
        way = "steeper" if held > 0.0 else "flatter"
        return [clause("held together", words, size=round(abs(held), 1), way=way, deeper=deeper)]
    if abs(sunk) >= 0.02 and sunk * c.deeper > 0.0:
        words = "the internal entries lie {size:.2f} mm {deeper} on average"
        return [clause("sunk together", words, size=abs(sunk), deeper=deeper)]
    if abs(np.log(c.pull[1] / c.pull[0])) > 0.1 and (c.pull[1] - c.pull[0]) * c.deeper < 0.0:
        tight = "less tight, let the lens lie deeper" if c.deeper > 0.0 else "pulled tighter, hold the lens less deep"
        return [clause("tight", "the haptics, {way}", way=tight)]
    if factor == "bend":
        return [clause("shape", "the new shape sets the lens {deeper}", deeper=deeper)]
    return [clause("balance", "the haptics come into balance at another depth")]
