"""How a session ends: whether it matters where the lens lies and what is left for glasses, or why it lies nowhere."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..eye.checks import LearnerError, short
from ..hold.needle import least_dip_that_enters
from ..hold.settle import settle
from ..sight.refraction import signed
from ..study.verdict import REFRACTION_LIMITS, Verdict, judge
from .parameters import PARAMETERS, SIDES
from .session import Session

OUT_OF_FOCUS = REFRACTION_LIMITS[0]
"""[D] Of the refraction surprise, either way, beyond which a lens is out of focus. Chosen for teaching."""
_KEYS = {"off-centre": "off", "tilted": "tilted", "both": "both"}
_STRIKES = 40.0
"""[deg] Of tilt, from which an optic reaches through the plane of the iris at any usual depth."""


@dataclasses.dataclass(frozen=True, repr=False)
class Outcome:
    """What came of a session; its text is the sentence for the room.

    Attributes
    ----------
    verdict : Verdict or None
        On where the lens lies; None where it has no resting place.
    surprise : float [D]
        Refraction surprise; NaN if nothing is seen.
    failure : str
        Which limit keeps the lens from coming to rest; "" where it has.
    """

    verdict: Verdict | None
    surprise: float
    failure: str = ""

    @property
    def key(self) -> str:
        """Which of "well", "off", "tilted", "both", "focus" and "none" it is: what a group can vote for."""
        if self.verdict is None:
            return "none"
        return _KEYS.get(self.verdict.key) or ("well" if abs(self.surprise) <= OUT_OF_FOCUS else "focus")

    @property
    def within(self) -> bool:
        """Whether the lens lies and focuses within the limits."""
        return self.key == "well"

    def __str__(self):
        if self.verdict is None:
            return f"There is no outcome: {self.failure}."
        seen = np.isfinite(self.surprise)
        focus = f"{signed(self.surprise)} D off what was meant" if seen else "nothing can be seen through it"
        if self.key == "focus":
            return f"It matters: well placed, but out of focus, {focus}."
        words = self.verdict.short
        if self.within:
            return words
        if abs(self.surprise) > OUT_OF_FOCUS:
            words = f"{words[:-1]}; and {focus}."
        if self.verdict.tilt > _STRIKES:
            words = f"{words[:-1]}; iris and cornea, which would stop it, are left out here."
        return words

    __repr__ = __str__


@functools.lru_cache(maxsize=64)
def outcome(session) -> Outcome:
    """Judge what came of a `Session`."""
    if not isinstance(session, Session):
        raise LearnerError(f"outcome takes a Session; {short(session)} was given.")
    if not session.settled.settled:
        return Outcome(None, float("nan"), explain_failure(session))
    return Outcome(judge(session.settled), session.refraction_surprise)


@functools.lru_cache(maxsize=64)
def explain_failure(session) -> str:
    """Say which limit keeps a lens that has not settled from coming to rest: no capital, no full stop."""
    pose = session.settled
    stuck = [side for side, passage in zip(SIDES, pose.passages, strict=True) if not passage.enters]
    alike = all(session[f"{what.key}_first"] == session[f"{what.key}_second"] for what in PARAMETERS if what.sided)
    if len(stuck) == 2 and alike:
        return _stays_in_the_wall(session, "first", "either needle")
    if stuck:
        return "; ".join(_stays_in_the_wall(session, side, f"the {side} needle") for side in stuck)
    free = free_words(pose)
    if pose.reason == "haptic cannot reach":
        missing = missing_length(session)
        much = f"some {missing:.1f} mm more of each" if missing else "far more of each"
        return f"with {free} free the two cannot reach their internal entries, and {much} would be needed"
    if session["backwards_first"] or session["backwards_second"]:
        return f"with {free} free, a haptic held against its curve has no shape that it can take without a jump"
    return f"with {free} free, the simulation finds no place where the haptics are in balance"


def free_words(pose) -> str:
    """Say how much of each haptic is free: "5.2 mm of each haptic"."""
    first, second = (f"{length:.1f}" for length in pose.free_length)
    return f"{first} mm of each haptic" if first == second else f"{first} and {second} mm of the haptics"


def least_dip(session, side) -> float:
    """Least dip [deg] at which a single-plane pass is through the wall, in tenths; infinite if none is.

    Parameters
    ----------
    session : Session
    side : "first" or "second"
    """
    least = float(least_dip_that_enters(session.eye, session.first if side == "first" else session.second))
    return float(np.ceil(10.0 * least - 1e-6) / 10.0)  # so that what is said does enter


def _stays_in_the_wall(session, side, needle):
    least = least_dip(session, side)
    enough = f"only from {least:.1f} deg on is it through" if np.isfinite(least) else "no angle gets it through"
    dip, wall = session[f"dip_{side}"], session[f"wall_{side}"]
    stays = f"{needle}, in a single plane, stays in the curved sclera of {wall:g} mm"
    return f"at {dip:g} deg to the iris plane {stays}, and {enough}"


def missing_length(session) -> float | None:
    """How much longer [mm] both haptics would have to be for the lens to come to rest; None if 4 mm do not do."""
    more = np.arange(0.1, 4.05, 0.1)
    lens = session.lens.but(haptic_length=session.lens.haptic_length + more)
    rests = settle(session.eye, lens, session.first, session.second, on_failure="flag").settled
    return float(more[np.argmax(rests)]) if np.any(rests) else None
