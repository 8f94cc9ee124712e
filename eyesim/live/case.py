"""A case to solve: the lens lies as the dashed one does, and something was done wrong.

A `Case` holds a session in which one or two things are other than planned, so that a limit is overstepped. It is
solved by any session whose lens lies in the same place: one pose may have several causes, and that is the lesson::

    case = random_case(np.random.default_rng(17))
    case.distance(session)   # how far [mm] and how much turned [deg] a session's lens lies from the one looked for
    case.clue(session)       # in words, and in which direction to look
    case.answer(session)     # what was done, and whether the session is another way there
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, short
from ..eye.frames import direction_words
from ..study.verdict import DECENTRATION_LIMIT, DEPTH_LIMIT, TILT_LIMIT
from .change import Clause, clause, measure_change
from .outcome import explain_failure, outcome
from .parameters import KEYS, SIDES, Quantity
from .session import Session
from .wording import describe_changes

NEAR = (0.1, 1.0)
"""[mm], [deg] A lens that lies this near to the one looked for has solved the case. Chosen for teaching."""
ERRORS = {
    "mark": (4.0, 15.0), "dip": (4.0, 14.0), "tunnel": (0.4, 1.0), "outside": (0.3, 1.2), "bend": (4.0, 12.0),
    "distance": (0.4, 1.0), "ring": (0.3, 0.7),
}  # fmt: skip
"""What can be wrong, and how much of it, either way, as far as its slider goes. Chosen for teaching."""
_ALIKE = 0.2  # how often both sides are wrong alike; chosen for teaching
_SAME = 4.001  # steps of a slider by which the same error can differ; chosen for teaching
_GIVEN = ("eye", "white_to_white", "pupil")  # no answer: they were so before the operation


@dataclasses.dataclass(frozen=True)
class Case:
    """A case to solve: the session that is `hidden`, and the plan that one starts from."""

    hidden: Session

    @property
    def start(self):
        """The plan in the same eye at the same pupil, a `Session`."""
        return self.hidden.plan

    def distance(self, session):
        """How far [mm] and how much turned [deg] a session's lens lies from the one looked for; None if nowhere.

        Between the centres of the optics in space, and between their axes; how a lens is rolled about its axis does not
        count. Raises `LearnerError` if it is no `Session`.
        """
        if not isinstance(session, Session):
            raise LearnerError(f"A case is solved by a Session; {short(session)} was given.")
        if not session.settled.settled:
            return None
        left = measure_change(session, self.hidden)
        return float(np.hypot(left.off, left.deeper)), left.lean

    def solved(self, session):
        """Whether a session's lens lies where the one looked for does, as near as `NEAR`."""
        found = self.distance(session)
        return found is not None and found[0] <= NEAR[0] and found[1] <= NEAR[1]

    def remaining(self, session) -> Clause:
        """Where most of the way to the lens looked for lies, and what to look for; of a session that has settled."""
        left = measure_change(session, self.hidden)
        sizes = {
            "along": left.along / DECENTRATION_LIMIT,
            "across": left.across / DECENTRATION_LIMIT,
            "deep": left.deeper / DEPTH_LIMIT,
            "lean along": left.lean_along / TILT_LIMIT,
            "lean across": left.lean_across / TILT_LIMIT,
        }
        most = max(sizes, key=lambda way: abs(sizes[way]))
        return _clue(most, left, sizes[most] > 0.0)

    def clue(self, session) -> str:
        """Say how far a session's lens is from the one looked for, and where to look; not what was done."""
        found = self.distance(session)
        if found is None:
            return f"There is nothing to compare: {explain_failure(session)}."
        apart = f"{found[0]:.2f} mm and {found[1]:.1f} deg apart"
        if self.solved(session):
            return f"The two lenses lie alike, {apart}."
        enough = f"{NEAR[0]:g} mm and {NEAR[1]:g} deg are near enough"
        return f"{apart}; {enough}. Most of it is {self.remaining(session)}."

    def answer(self, session=None) -> str:
        """Say what was done; and of a session that lies in the same place, whether it is another way there."""
        done = f"What was done: {describe_changes(self.start, self.hidden)}."
        if session is None or not self.solved(session):
            return done
        if self.same(session):
            return f"{done} You found it."
        yours = describe_changes(self.start, session.but(**{key: self.start[key] for key in _GIVEN}))
        return f"{done} Yours is also a way there ({yours}): one place of the lens can have several causes."

    def same(self, session) -> bool:
        """Whether the same things are other than planned, by about as much; what has no effect does not count."""
        yours, hidden = _effective(session), _effective(self.hidden)
        return yours.keys() == hidden.keys() and all(_near(key, yours[key], hidden[key]) for key in hidden)


def _effective(session):
    """Of what is other than planned, keep what has an effect: key to value."""

    def idle(key):
        name, _, side = key.rpartition("_")
        straight, turned = session.values.get(f"kind_{side}") == "straight", session.values.get(f"turned_{side}")
        return key in _GIVEN or {"wall": not straight, "tunnel": straight, "turn": not turned}.get(name, False)

    return {key: value for key, value in session.changes.items() if not idle(key)}


def _near(key, one, other):
    what = KEYS[key]
    return abs(one - other) <= _SAME * what.step if isinstance(what, Quantity) else one == other


_CLUES = {
    "along": "{size:.2f} mm along the haptic axis towards the {side} side: look for what pulls one haptic "
    "out further or sets one internal entry further out",
    "across": "{size:.2f} mm across the haptic axis towards {ahead}: look for what moves an internal entry "
    "round the eye",
    "deep": "{size:.2f} mm of depth, {way}: look for what both sides have in common, or what sinks one and not the "
    "other",
    "lean along": "{size:.1f} deg along the haptic axis, the {side} side deeper: look for what sets one "
    "internal entry deeper than the other",
    "lean across": "{size:.1f} deg about the haptic axis, the edge towards {ahead} deeper: look for what "
    "holds or shapes one haptic otherwise than the other",
}
"""Where most of the way lies, and what to look for."""


def _clue(most, left, more):
    """Clause on where most of a change that is left lies; `more` is its sign."""
    sizes = {
        "along": left.along,
        "across": left.across,
        "deep": left.deeper,
        "lean along": left.lean_along,
        "lean across": left.lean_across,
    }
    towards = left.line + (90.0 if more else -90.0)
    return clause(
        most,
        _CLUES[most],
        size=abs(sizes[most]),
        side=SIDES[0 if more else 1],
        towards=towards % 360.0,
        ahead=direction_words(towards),
        way="deeper" if more else "less deep",
    )


def random_case(rng):
    """Draw a case to solve, which a session on the sliders' own steps can solve.

    Raises LearnerError if rng is no generator.

    Parameters
    ----------
    rng : numpy Generator

    Returns
    -------
    Case
        Its lens has settled, oversteps a limit (`outcome`), and can be seen through.
    """
    if not isinstance(rng, np.random.Generator):
        raise LearnerError(f"random_case takes a numpy Generator, such as default_rng(17); {short(rng)} was given.")
    while True:
        names = rng.choice(list(ERRORS), size=rng.integers(1, 3), replace=False)
        try:
            case = Case(Session(**{key: value for name in names for key, value in _one(str(name), rng).items()}))
        except LearnerError:  # both together push a mark off the wall
            continue
        if outcome(case.hidden).key not in ("well", "none") and case.hidden.sight.seen and not case.solved(case.start):
            return case


def _one(name, rng):
    """Draw what is other than planned: values by key, on the steps of their slider."""
    sides = SIDES if rng.random() < _ALIKE else (rng.choice(SIDES),)
    keys = [f"ring_{rng.choice(('x', 'y'))}"] if name == "ring" else [f"{name}_{side}" for side in sides]
    what, (least, most) = KEYS[keys[0]], ERRORS[name]
    steps = rng.integers(round(least / what.step), round(most / what.step) + 1) * rng.choice((-1, 1))
    return dict.fromkeys(keys, float(round(np.clip(what.start + steps * what.step, what.low, what.high), 9)))
