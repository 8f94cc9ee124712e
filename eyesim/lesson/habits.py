"""Training of a hand as a log shows it: points off its habits (biases), and off what differs from time to time."""

from __future__ import annotations

import functools

from ..study.error_model import QUANTITIES, Error
from ..study.hands import Hands
from .build import ERRORS, error_words
from .spending import GAIN, POINTS, Training, ask_spending

LOGGED = ("mark", "dip", "tunnel")
"""What a practice log measures most often, of `build.ERRORS`."""
KINDS = tuple(f"{error}_{kind}" for error in LOGGED for kind in ("habit", "spread"))
"""What can be trained: of each error the habit (bias), and what differs from time to time (spread)."""
HABIT = 0.75
"""What a point of training leaves of a habit [1]. Chosen for teaching: whoever knows a habit is half rid of it."""
_TURNED = 8.0  # [deg] by which both marks are off alike: the largest habit to look at, and it turns a lens only
_DRAWS = 600


def train(id, steep, off, lean):
    """Ask how to spend training on habits and spreads, for a hand as a log shows it.

    Parameters
    ----------
    id : str
    steep : float [deg]
        By which the second iris angle is too steep on average.
    off, lean : float [mm], [deg]
        Limits.
    """
    training = training_of(steep)
    text = (
        f"A log of forty attempts (bias on the first and second side; spread): {_hand_words(steep)}. All else is a "
        f"beginner's. {POINTS} points of training: a point takes {100 * (1 - HABIT):.0f} % off a habit on both sides, "
        f"or {100 * (1 - GAIN):.0f} % off a spread."
    )
    wrong = {
        "evenly": dict(zip(KINDS, training.even, strict=True)),
        "alike": {"mark_habit": POINTS},
        "marks": {"mark_spread": POINTS},
    }
    return ask_spending(id, training, off, lean, text, "What both sides have in common costs nothing.", wrong)


def _hand(steep):
    """Biases of both sides, and spread, of each error in `LOGGED`."""
    return ((_TURNED, _TURNED), 2.5), ((0.0, steep), 3.0), ((0.0, 0.2), 0.25)


def _hand_words(steep):
    words = []
    for error, (biases, spread) in zip(LOGGED, _hand(steep), strict=True):
        unit = QUANTITIES[ERRORS[error]].unit
        first, second = ("0" if bias == 0.0 else f"{bias:+g}" for bias in biases)
        words.append(f"{error_words(error)} {first} and {second} {unit}; {spread:g} {unit}")
    return ", ".join(words)


def _trained(steep, left):
    errors = {}
    for error, (biases, spread), habit, steady in zip(LOGGED, _hand(steep), left[::2], left[1::2], strict=True):
        errors[ERRORS[error]] = Error(bias=tuple(float(habit * bias) for bias in biases), spread=float(steady * spread))
    return Hands().but(**errors)


@functools.cache
def training_of(steep):
    """Training of a hand whose second iris angle is so much too steep [deg], a `Training`."""
    example = dict(zip(KINDS, (3, 3, 1, 1, 1, 1), strict=True))
    words = tuple(f"{error_words(error)}, {kind}" for error in LOGGED for kind in ("habit", "spread"))
    hands = functools.partial(_trained, steep)
    return Training(KINDS, words, hands, _unwise_spending, str(example), (HABIT, GAIN) * len(LOGGED), _DRAWS)


def _unwise_spending(spent):
    points = list(spent.values())
    if sum(points) == POINTS and max(points) - min(points) <= 1:
        return "Not everything costs the same; ask what each does to a lens.", "evenly"
    if spent["mark_habit"] >= POINTS // 2:
        return "Marks off by the same on both sides are still opposite: they rotate the lens, and that is all.", "alike"
    if spent["mark_spread"] >= 8:
        return "Marks shift a little and never tilt; others cost more.", "marks"
    if spent["mark_habit"]:
        return "Take the points off the marks' habit: it is alike on both sides, and costs nothing.", None
    if spent["dip_habit"] < 3:
        return "The rest of the steep side's habit still costs most.", None
    if spent["tunnel_spread"] + spent["tunnel_habit"] < 3:
        return "The habit is nearly gone; now tunnels shift most, by their spread and by the longer one.", None
    return "Nearly: move a point from one spread to the other.", None
