"""Hide, vote, reveal: what a group thought, and what stands behind a wrong vote.

Right is the option of the `outcome`. A `Tally` counts votes, and after the reveal says in words how many voted what,
which was right and, if most were wrong, why not::

    tally = Tally().plus("tilted", 7).plus("off", 3)
    tally.words(Session(mark_second=10))
    # 10 voted: 3 II (off centre), 7 III (tilted). Right is II: off centre. 3 of 10 saw it. A shift was taken ...
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, known_name, short
from ..sight.refraction import signed
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .outcome import free_words, outcome

_MOST = 1000  # votes for one option: more than sit in a room


@dataclasses.dataclass(frozen=True)
class Option:
    """One thing to vote for: its key, the numeral on the screen and its words."""

    key: str
    numeral: str
    words: str


OPTIONS = (
    Option("well", "I", "well within the limits"),
    Option("off", "II", "off centre"),
    Option("tilted", "III", "tilted"),
    Option("both", "IV", "off centre and tilted"),
    Option("focus", "V", "well placed, but out of focus"),
    Option("none", "VI", "no outcome: the needle or the haptic does not get there"),
)
"""What a group can vote for before the outcome is shown."""

_BY_KEY = {option.key: option for option in OPTIONS}


@dataclasses.dataclass(frozen=True)
class Tally:
    """Votes for the options, in their order; it never changes: `plus` and `cleared` give another."""

    counts: tuple[int, ...] = (0,) * len(OPTIONS)

    def __post_init__(self):
        fits = isinstance(self.counts, tuple) and len(self.counts) == len(OPTIONS)
        if not fits or not all(type(n) is int and 0 <= n <= _MOST for n in self.counts):
            raise LearnerError(f"A tally is {len(OPTIONS)} counts from 0 to {_MOST}; {short(self.counts)} was given.")

    def __getitem__(self, key):
        known_name("The vote", key, list(_BY_KEY))
        return self.counts[list(_BY_KEY).index(key)]

    @property
    def total(self):
        """How many have voted."""
        return sum(self.counts)

    def plus(self, key, n=1):
        """Tally with n more votes for an option; a negative n takes votes back, down to none."""
        known_name("The vote", key, list(_BY_KEY))
        if type(n) is not int or not -_MOST <= n <= _MOST:
            raise LearnerError(f"Votes are whole numbers up to {_MOST}; {short(n)} was given.")
        counts = (min(max(self[k] + n * (k == key), 0), _MOST) for k in _BY_KEY)
        return Tally(tuple(counts))

    def cleared(self):
        """Tally of nobody."""
        return Tally()

    def words(self, session):
        """Say after the reveal how many voted what, which was right and, if most were wrong, what misled them."""
        right = _BY_KEY[outcome(session).key]
        answer = f"Right is {right.numeral}: {right.words}."
        if not self.total:
            return f"Nobody has voted. {answer}"
        voted = [f"{self[o.key]} {o.numeral} ({o.words})" for o in OPTIONS if self[o.key]]
        words = f"{self.total} voted: {', '.join(voted)}. {answer} {self[right.key]} of {self.total} saw it."
        if 2 * self[right.key] >= self.total:
            return words
        wrong = max((o for o in OPTIONS if o is not right), key=lambda o: self[o.key])
        return f"{words} {explain_wrong_vote(session, wrong.key)}"

    def __repr__(self):
        return f"Tally: {', '.join(f'{o.numeral} {n}' for o, n in zip(OPTIONS, self.counts, strict=True))}"


_ASIDE = "within the limits, and lies {deep}, which leaves {surprise}."
_MISLED = {
    "well": {
        "off": "A plan that looks orderly was taken for a good result; but the lens lies {off}.",
        "tilted": "Centred was taken for well placed; but the lens is tilted, by {tilt}.",
        "both": "What differs between the sides was taken to even out; but the lens lies {off}, tilted by {tilt}.",
        "focus": "What looks perfect from in front was taken for a good result; but the lens lies {deep}, "
        "which leaves {surprise}.",
    },
    "off": {
        "well": "More was expected to arrive at the lens than does: it lies {little}.",
        "tilted": "A tilt was taken for a shift; but the lens turns in its place, by {tilt}, and lies {little}.",
        "both": "The shift was seen and the tilt was not; but the lens is tilted as well, by {tilt}.",
        "focus": "A wrong pass was taken to push the lens aside; but it lies {off}, " + _ASIDE,
    },
    "tilted": {
        "well": "More was expected to arrive at the lens than does: it is tilted by {slight}.",
        "off": "A shift was taken for a tilt; but the lens slips sideways, {off}, and is tilted by {slight}.",
        "both": "The tilt was seen and the shift was not; but the lens lies {off} as well.",
        "focus": "A wrong pass was taken to tilt the lens; but it is tilted by {tilt}, " + _ASIDE,
    },
    "both": {
        "well": "More was expected to arrive at the lens than does: it lies {little} and is tilted by {slight}.",
        "off": "Every error was taken to do everything; but this shifts the lens, {off}, and tilts it by {slight}.",
        "tilted": "Every error was taken to do everything; but this tilts the lens, by {tilt}, and leaves it {little}.",
        "focus": "A wrong pass was taken to disturb the lens; but it lies {off} and is tilted by {tilt}, " + _ASIDE,
    },
    "focus": {
        "well": "A change was taken to cost focus; but the lens lies {deep}, and that leaves {surprise}.",
        "off": "Depth was taken to be the matter; but the lens lies {off}, whatever its depth.",
        "tilted": "Depth was taken to be the matter; but the lens is tilted by {tilt}, whatever its depth.",
        "both": "Depth was taken to be the matter; but the lens lies {off}, tilted by {tilt}, whatever its depth.",
    },
}
"""Voted, then right: what was taken for what, and what the session shows instead."""


def explain_wrong_vote(session, key):
    """Say in one line what misled those who voted for this, from what the session shows; "" for the right option.

    Parameters
    ----------
    session : Session
    key : str
        Of an `Option`.
    """
    ended, pose = outcome(session), session.settled
    right = ended.key
    known_name("The vote", key, list(_BY_KEY))
    if key == right:
        return ""
    if right == "none":
        needle = "needle" in pose.reason
        taken = f"A {'needle was taken to arrive wherever it is aimed' if needle else 'haptic was taken to fit'}"
        return f"{taken}; but {ended.failure}."
    if key == "none":
        enough = f"with {free_words(pose)} free both reach"
        return f"An odd pass was taken for one that fails; but both needles enter, and {enough}."
    deeper, left = float(pose.depth - session.planned.depth), session.refraction_surprise
    off, tilt = f"{pose.decentration:.2f} mm off centre", f"{pose.tilt:.1f} deg"
    deep = f"{abs(deeper):.2f} mm {'deeper' if deeper > 0.0 else 'less deep'} than planned"
    return _MISLED[key][right].format(
        off=off,
        tilt=tilt,
        little=f"only {off}" if pose.decentration < 0.5 * DECENTRATION_LIMIT else f"{off}, within the limit",
        slight=f"only {tilt}" if pose.tilt < 0.5 * TILT_LIMIT else f"{tilt}, within the limit",
        deep="as deep as planned" if abs(deeper) < 0.005 else deep,
        surprise=f"{signed(left)} D" if np.isfinite(left) else "nothing to be seen",
    )
