"""Questions to be answered in one's own words, with the rubric by which somebody marks them by hand.

A rubric is a list of things that are there or not, each with its points, so that two people who mark come to the same
sum. What it takes for right is what the simulation says; `tests/marking/test_by_hand.py` holds it against that.
"""

from __future__ import annotations

import dataclasses
from types import MappingProxyType


@dataclasses.dataclass(frozen=True)
class Text:
    """A question in words.

    Attributes
    ----------
    id, objective, level : str
        As of an `Item`.
    text : str
    wanted : tuple of (float, str)
        Points, and what is there for them.
    """

    id: str
    objective: str
    level: str
    text: str
    wanted: tuple[tuple[float, str], ...]

    @property
    def points(self):
        """Sum of the points that can be had."""
        return sum(points for points, _ in self.wanted)

    @property
    def rubric(self):
        """How it is marked, a sentence for each thing wanted."""
        return " ".join(f"{points:g} {'point' if points == 1 else 'points'}: {words}" for points, words in self.wanted)


_ALL = (
    Text(
        "start.say-last-look", "say what can still be changed before haptics are flanged, and what cannot", "design",
        "Both haptics are externalised, and neither is flanged or tied. What do you look at before you flange them, "
        "and what could you still do about each thing that you find? Which of it could you no longer do afterwards?",
        ((1, "off centre along the haptic axis: a haptic is pulled out or released, before either is flanged or tied."),
         (1, "off centre across the haptic axis, or tilted: a pass has to be made anew; pulling does not cure it."),
         (1, "once flanged or tied, length and pass are fixed: only a new fixation changes them.")),
    ),
    Text(
        "marks.say-three-and-nine", "tell opposite from horizontal in words", "recognise",
        "A colleague says: 'Mark exactly at 3 and 9 o'clock, then nothing can go wrong.' What is right in it, and what "
        "is not?",
        ((1, "that marks are opposite counts; marks turned alike rotate the lens and do not put it off centre."),
         (1, "opposite about what: a marker set off-centre gives opposite marks about a wrong centre."),
         (1, "marks decide nothing about tilt by themselves: angles to the iris plane, ends and distances do.")),
    ),
    Text(
        "needles.say-shallow", "weigh a shallow needle against a steep one", "design",
        "'The shallower the needle, the safer.' When is that so, and when is the opposite so?",
        ((1, "below some angle to the iris plane a single-plane pass stays in the sclera and never enters the eye."),
         (1, "just above it, one degree changes the tunnel most, so that unequal angles make unequal tunnels."),
         (1, "steeper needles put the lens deeper, and their ends hold the haptics more steeply.")),
    ),
    Text(
        "tunnels.say-tuck", "say what tucking cures and what it does not", "recognise",
        "A colleague says: 'The lens was off centre, so I tucked one haptic further until it was centred.' When does "
        "that work, and when not?",
        ((1, "pulling a haptic out further moves the lens along the haptic axis, towards that side."),
         (1, "what a mark did lies across the haptic axis and is not cured."),
         (0.5, "it costs pull, since less haptic is left in the eye.")),
    ),
    Text(
        "sight.say-depth", "explain to a patient what a wrong depth does", "foretell",
        "In two eyes the lens lies half a millimetre too deep: one eye is short, the other long. What do you tell "
        "each patient about their glasses, and why is it not the same?",
        ((1, "a deeper lens leaves the eye hyperopic: plus glasses."),
         (1, "in the short eye it is much more, since its lens is stronger."),
         (1, "glasses correct it: the refraction changes, not the best corrected acuity.")),
    ),
)  # fmt: skip

TEXTS = MappingProxyType({one.id: one for one in _ALL})
"""Id to `Text`, lesson by lesson."""
