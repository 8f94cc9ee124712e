"""Let hands vary: whose error it is, what is worth training, and what an error common to both sides does not do."""

from __future__ import annotations

import functools

import numpy as np

from ..study.blame import blame, halve
from ..study.causes import errors_in_common
from ..study.hands import Hands
from ..study.operate import operate
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .cases import EYE, FIRST, LENS, SECOND, asked, items_of, settled
from .question import Choice, Misconception, Number, Pick
from .spending import GAIN, POINTS, Training, full_marks_from, steadier

ERRORS = {"mark": "meridian", "distance": "limbus_distance", "angle": "limbus_angle", "dip": "iris_angle",
          "tunnel": "tunnel_length", "outside": "outside"}  # fmt: skip
"""What can be trained, by the short word that a learner writes."""
_SAID = {"mark": "marks", "distance": "distances behind the limbus", "angle": "angles to the limbus", "dip": "dips",
         "tunnel": "tunnel lengths", "outside": "haptic left outside"}  # fmt: skip
_DRAWS, _LYING = 1000, ("decentration", "tilt")
_LIMITS = f"{DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"


@functools.cache
def parts():
    """Whose error it is, with the hands of the table, a `Blame`."""
    return blame(EYE, LENS, FIRST, SECOND, Hands(), of=_LYING, n=1024, progress=False)


def _done(hands):
    return operate(EYE, LENS, FIRST, SECOND, hands, n=_DRAWS, rng=3, progress=False)


@functools.cache
def gains():
    """Return what halving each error gains, by its name in `WORDS`, `Halving`."""
    return {one.cause: one for one in halve(EYE, LENS, FIRST, SECOND, Hands(), n=2048, progress=False)}


def tilt_from(id, kind):
    """Ask which error tilts."""
    told = {key: parts().total["tilt"][ERRORS[key]].value for key in ("mark", "dip", "tunnel", "distance")}
    right = max(told, key=told.get)
    words = {"mark": "From the marks.", "dip": "From the dips of the needles.", "tunnel": "From tunnel lengths.",
             "distance": "From the distances behind the limbus."}  # fmt: skip
    because = {
        "mark": "A mark turns the pass about the eye's axis: it shifts the lens and leaves it flat. ",
        "dip": "The dip is the direction in which the haptic leaves its tunnel, and the lens leans with it. ",
        "tunnel": "A tunnel decides where it opens and how much haptic is left: that shifts. ",
        "distance": "A haptic that starts further behind the limbus lies deeper on its side, but only a little. ",
    }
    form = Pick(
        tuple(Choice(key, words[key], f"{because[key]}{100 * value:.0f} % of the tilt's variance is its own.")
              for key, value in told.items()),
        right,
    )  # fmt: skip
    text = (
        "A hand errs in everything a little, on each side anew: marks by 3 deg, dips by 3 to 4 deg, tunnels by 0.3 mm, "
        "distances by 0.2 mm (spreads of the table of hands, most of them assumptions). From which of them does most "
        "of the tilt come?"
    )
    reasoning = f"{_SAID[right].capitalize()} bring {100 * told[right]:.0f} % of the variance of the tilt."
    pose = settled({"iris_angle": 8.0}, {"iris_angle": 2.0})
    matter = "It matters: who trains marks against tilt trains in vain."
    return asked(id, kind, text, form, pose, reasoning, matter=matter)


def halve_first(id, kind):
    """Ask which error would be the first to halve."""
    told = {key: gains()[ERRORS[key]].share for key in ("mark", "dip", "tunnel", "outside")}
    right = max(told, key=lambda key: told[key].value)
    form = Pick(
        tuple(Choice(key, f"{_SAID[key].capitalize()}.",
                     f"{_SAID[key].capitalize()}: halved, they bring {100 * told[key].value:.1f} more lenses of 100.")
              for key in told),
        right,
    )  # fmt: skip
    text = (
        f"One error of this hand can be halved, bias and spread. Which brings most lenses within {_LIMITS}?"
    )  # fmt: skip
    every = ", ".join(f"{_SAID[key]} {100 * one.value:+.0f}" for key, one in told.items())
    pose, matter = settled({"tunnel_length": 1.7}), "It matters: hours of training go where they bring most."
    return asked(id, kind, text, form, pose, f"Lenses gained of 100: {every}.", matter=matter)


def alike(id, kind):
    """Ask what errors do that are the same on both sides."""
    usual = Hands().without("marker", "play")
    one, two = (_done(hands) for hands in (usual, errors_in_common(usual)))
    worse = two.spread("depth").value > one.spread("depth").value
    right = "depth" if two.share().value > one.share().value and worse else "same"
    told = (
        f"{100 * one.share().value:.0f} % lie within {_LIMITS} when the sides err on their own, "
        f"{100 * two.share().value:.0f} % when they err alike; the depth spreads by {one.spread('depth').value:.2f} mm "
        f"and {two.spread('depth').value:.2f} mm."
    )
    form = Pick(
        (
            Choice("same", "Nothing: the errors are as large as before.",
                   f"As large, but they no longer differ between the sides. {told}"),
            Choice("depth", "Lenses lie centred and flat, but their depth spreads more.", told),
            Choice("all", "All is well: what is alike cancels.",
                   f"Not the depth, which both sides set together. {told}"),
            Choice("worse", "It is worse: now both sides are wrong at once.",
                   f"Off centre and tilt come from what differs between the sides, not from what both are. {told}"),
        ),
        right,
    )  # fmt: skip
    text = (
        "Two hands err by the same amounts. The first errs on each side on its own; the second errs alike on both "
        "sides of an eye, and otherwise in the next eye. What is different for the second?"
    )
    pose = settled({"iris_angle": 8.0}, {"iris_angle": 8.0})
    matter = "It matters: a hand that errs alike on both sides needs another depth, not another hand."
    return asked(id, kind, text, form, pose, told, matter=matter)


def gain_of_dips(id, kind):
    """Ask how many lenses halving the dips gains."""
    usual, value = _done(Hands()), 100.0 * gains()["iris_angle"].share.value
    now, tilted = 100.0 * usual.share().value, 100.0 * float(np.mean(~(usual.pose.tilt <= TILT_LIMIT)))
    form = Number(
        value, 2.0, "", 0.0, 60.0, f"{value:.0f} of 100: a lens that is no longer tilted may still be off centre.",
        (
            Misconception("all-tilted", tilted, "So many lie beyond the limit of tilt now. Halving the dips rescues "
                                                "only those of them that are centred as well."),
            Misconception("as-the-variance", parts().total["tilt"]["iris_angle"].value * (100.0 - now),
                          "That is the dips' part of the tilt's variance, of all that fail; most fail off centre."),
        ),
    )  # fmt: skip
    text = (
        f"With this hand {now:.0f} of 100 lenses lie within {_LIMITS}. The dips are halved, bias and spread. How many "
        "more of 100 lie within then?"
    )
    reasoning = f"Simulated on the same draws: {value:.1f} of 100."
    return asked(id, kind, text, form, settled(second={"iris_angle": 8.0}), reasoning, matter="")


def spend(id, kind, off=DECENTRATION_LIMIT, lean=TILT_LIMIT):
    """Ask how to spend training on six errors, so that lenses lie within limits [mm, deg]."""
    best, spent = TRAINING.best(off, lean)
    none, even = (TRAINING.share(one, off, lean) for one in (TRAINING.none, TRAINING.even))
    form = TRAINING.form(off, lean, _slip, _SAID.values())
    text = (
        f"{POINTS} points of training, for six errors; each point takes {100 * (1.0 - GAIN):.0f} % off one spread. "
        f"Untrained, {100 * none.value:.0f} % lie within {off:g} mm and {lean:g} deg; spent evenly, "
        f"{100 * even.value:.0f} %. Do better. Full marks from {100 * full_marks_from(best):.0f} %."
    )
    wrong = {
        "marks-alone": dict.fromkeys(ERRORS, 0) | {"mark": POINTS},
        "evenly": dict(zip(ERRORS, TRAINING.even, strict=True)),
    }
    reasoning = f"The best that was found keeps {best.text('.0%')}: tunnels and dips first."
    answer = dict(zip(ERRORS, spent, strict=True))
    return asked(id, kind, text, form, settled(), reasoning, answer=answer, wrong=wrong, matter="")


TRAINING = Training(
    tuple(ERRORS), functools.partial(steadier, tuple(ERRORS.values())),
    "{'mark': 2, 'distance': 1, 'angle': 1, 'dip': 3, 'tunnel': 2, 'outside': 1}",
)  # fmt: skip
"""Of the usual hands: points on each of `ERRORS`."""


def _slip(spent):
    if tuple(spent.values()) == TRAINING.even:
        return "Not all errors cost alike; ask what halving each would gain.", "evenly"
    if spent["mark"] == max(spent.values()) >= 8:
        return "Marks shift a little and never tilt; others cost more.", "marks-alone"
    return "Tilt comes from dips, and shift from tunnels first.", None


PREDICTIONS = {"tilt-from": tilt_from, "halve-first": halve_first, "alike": alike}
EXERCISES = {"gain-of-dips": gain_of_dips, "spend": spend}
ITEMS = items_of("vary", PREDICTIONS, EXERCISES)
