"""Items on hands that vary: whose error it is, what is worth training, and what both sides have in common."""

from __future__ import annotations

import functools

import numpy as np

from ...study.blame import blame
from ...study.causes import errors_in_common, halve_cause
from ...study.error import Error
from ...study.hands import Hands
from ...study.operate import operate
from ..cases import EYE, FIRST, LENS, SECOND, SIMULATED, apart, exercise, number, pick, plain
from ..item import Item, Span, steps
from ..question import Misconception
from ..vary import ERRORS
from ..vary import spend as training

_HANDS = "computed by the simulation with the table of hands, most of whose spreads are assumptions"
_SAID = {"mark": "the marks", "dip": "the dips", "tunnel": "the tunnels", "distance": "the distances behind the limbus"}
_CLEAR = 1.6  # how many times larger the first part has to be than the second, so that there is no doubt
_DRAWS = 1000


@functools.lru_cache(maxsize=256)
def _done(hands):
    return operate(EYE, LENS, FIRST, SECOND, hands, n=_DRAWS, rng=5, progress=False)


def gain(id, error, off, lean):
    """Ask how many more lenses lie within limits when one error is halved."""
    usual, better = _done(Hands()), _done(halve_cause(Hands(), ERRORS[error]))
    now, value = 100.0 * usual.share(off, lean).value, 100.0 * better.share(off, lean).value
    gone = 100.0 * _done(Hands().without(ERRORS[error])).share(off, lean).value
    form = number(
        value - now, 1.5, "", 0.0, 60.0, f"{now:.0f} of 100 become {value:.0f}.",
        Misconception("half-of-all", 0.5 * (100.0 - now), "Half of those that fail: but most of them fail by other "
                                                          "errors as well."),
        Misconception("all-of-it", gone - now, "So many would be gained if this error did not exist at all.")
        if gone - value > 4.0 else
        Misconception("after", value, "So many lie within afterwards; how many more is asked."),
    )  # fmt: skip
    text = (
        f"A beginner's hands leave {now:.0f} of 100 lenses within {off:g} mm and {lean:g} deg. Of all their errors one "
        f"is halved, bias and spread: that of {_SAID[error]}. How many more of 100 lie within then?"
    )
    return exercise(id, text, form, plain(), f"On the same draws: {value - now:.1f} of 100.")


def mean_tilt(id, spread):
    """Ask how far lenses lean on average when only dips spread."""
    hands = Hands.perfect().but(iris_angle=Error(spread=spread))
    value = float(_done(hands).mean("tilt").value)
    form = number(
        value, 0.2, "deg", 0.0, 15.0, f"The dips differ by {1.41 * spread:.1f} deg (SD); the lens follows half.",
        Misconception("as-the-dip", spread, "A lens leans less than its needles differ: two haptics hold against it."),
        Misconception("sum", 2.0 * spread, "The errors of two sides do not simply add: they differ by chance, and the "
                                           "lens follows about half of the difference."),
    )  # fmt: skip
    text = (
        f"Only the dips err, each by chance with a standard deviation of {spread:g} deg. By how many degrees do the "
        "lenses lean on average?"
    )
    return exercise(id, text, form, plain(), f"The mean of {_DRAWS} operations: {value:.2f} deg.")


@functools.lru_cache(maxsize=64)
def _parts(larger):
    hands = Hands() if not larger else Hands().scaled(2.0, ERRORS[larger])
    found = blame(EYE, LENS, FIRST, SECOND, hands, of=("decentration", "tilt", "depth"), n=512, progress=False)
    return {of: {key: found.total[of][ERRORS[key]].value for key in _SAID} for of in found.total}


def main(id, of, larger):
    """Ask from which error most of a quantity comes."""
    told = _parts(larger)[of]
    right = max(told, key=told.get)
    form = pick(right, *((key, f"{_SAID[key].capitalize()}.", f"They bring {100 * value:.0f} % of its variance.")
                         for key, value in told.items()))  # fmt: skip
    doubled = f"; of these, {_SAID[larger]} spread twice as much" if larger else ""
    what = {"decentration": "off centre", "tilt": "tilted", "depth": "more or less deep"}[of]
    text = (
        f"A beginner's hands{doubled}. Lenses come to lie {what}, differently each time. From which of four errors "
        "does most of that come?"
    )
    every = ", ".join(f"{_SAID[key]} {100 * value:.0f} %" for key, value in told.items())
    return exercise(id, text, form, plain(), f"Parts of the variance: {every}.")


def _one_main(of, larger):
    second, first = sorted(_parts(larger)[of].values())[-2:]
    return first > _CLEAR * second


def alike(id, error, times):
    """Ask what an error does that is the same on both sides."""
    hands = Hands.perfect().but(**{ERRORS[error]: Error(spread=times * getattr(Hands(), ERRORS[error]).spreads[0])})
    apart_, both = _done(hands), _done(errors_in_common(hands, ERRORS[error]))
    changes = {
        "turned": np.nanstd(both.pose.roll) / 3.0, "deeper": np.nanstd(both.pose.depth) / 0.1,
        "pull": np.nanstd(both.pose.tension[:, 0]) / 20.0,
    }  # fmt: skip
    right = max(changes, key=changes.get)
    told = (
        f"Alike, it spreads the turn by {np.nanstd(both.pose.roll):.1f} deg, the depth by "
        f"{np.nanstd(both.pose.depth):.2f} mm, the pull by {np.nanstd(both.pose.tension[:, 0]):.0f} mN; lenses lie "
        f"{both.mean('decentration').value:.2f} mm off centre and lean by {both.mean('tilt').value:.1f} deg."
    )
    one_sided = (
        f"On one side at a time it did: {apart_.mean('decentration').value:.2f} mm and "
        f"{apart_.mean('tilt').value:.1f} deg."
    )
    form = pick(
        right,
        ("turned", "They lie centred and flat, only turned.", f"Marks that are alike turn a lens. {told}"),
        ("deeper", "They lie centred and flat, but more or less deep.", f"Dips that are alike set the depth. {told}"),
        (
            "pull",
            "They lie centred and flat, turned a little; the haptics pull more or less.",
            f"Tunnels that are alike decide how much haptic is left inside. {told}",
        ),
        ("off", "They lie off centre or lean, as when the sides differ.", f"{one_sided} {told}"),
    )
    text = (
        f"Only {_SAID[error]} err, by as much as a beginner's{'' if times == 1 else f' times {times:g}'}, but in each "
        "eye both sides err alike. How do the lenses lie?"
    )
    return exercise(id, text, form, plain(), told)


_CLOUDS = {
    "mark": ("Marks spread three times as much as usual.", {"meridian": 3.0}),
    "dip": ("Dips spread twice as much as usual.", {"iris_angle": 2.0}),
    "tunnel": ("Tunnels spread twice as much as usual.", {"tunnel_length": 2.0}),
    "outside": ("What is left outside spreads three times as much as usual.", {"outside": 3.0}),
}


@functools.cache
def _cloud(name):
    hands = Hands()
    for error, times in _CLOUDS[name][1].items():
        hands = hands.scaled(times, error)
    return hands


def _spreads(done):
    """Spread of lenses along the line of the openings and across it [mm], and of their lean [deg]."""
    pose = done.pose
    first, second = (passage.inner[:2] for passage in plain().passages)
    line = (first - second) / np.linalg.norm(first - second)
    along, across = line[0] * pose.x + line[1] * pose.y, line[0] * pose.y - line[1] * pose.x
    return np.nanstd(along), np.nanstd(across), np.nanmean(pose.tilt)


def cause(id, name, seed):
    """Ask which hand left a cloud of lenses."""
    done = operate(EYE, LENS, FIRST, SECOND, _cloud(name), n=_DRAWS, rng=int(seed), progress=False)
    seen = [f"{a:.2f} mm along and {b:.2f} mm across, leaning by {c:.1f} deg on average"
            for a, b, c in (_spreads(one) for one in (done, *(_done(_cloud(key)) for key in _CLOUDS)))]  # fmt: skip
    form = pick(name, *((key, words, f"That leaves them {told}.")
                        for (key, (words, _)), told in zip(_CLOUDS.items(), seen[1:], strict=True)))  # fmt: skip
    usual = "{:.2f} mm along and {:.2f} mm across, {:.1f} deg".format(*_spreads(_done(Hands())))
    text = (
        f"Many lenses by one hand: they spread (SD) {seen[0]}; along and across the line of the openings. A usual "
        f"beginner's spread {usual}. What is different about this hand?"
    )
    return exercise(id, text, form, plain(), f"Each was simulated; this is what {name} leaves.")


def spend(id, off, lean):
    """Ask how to spend training on six errors."""
    return training(id, "exercise", off, lean)


ITEMS = (
    Item("vary.gain", "number", "foretell what halving one error gains", "foretell",
         (Span("error", "", ("mark", "dip", "tunnel")), Span("off", "mm", (0.35, 0.4, 0.45, 0.5)),
          Span("lean", "deg", (4.0, 5.0, 6.0))), gain, _HANDS, clear=apart),
    Item("vary.mean-tilt", "number", "foretell how far lenses lean by dips that spread", "foretell",
         (Span("spread", "deg", steps(2.0, 6.0, 0.5)),), mean_tilt, SIMULATED, clear=apart),
    Item("vary.main", "choice", "name the error to blame", "recognise",
         (Span("of", "", ("decentration", "tilt", "depth")), Span("larger", "", ("", *_SAID))),
         main, _HANDS, _one_main),
    Item("vary.alike", "choice", "tell what errors common to both sides do and do not do", "recognise",
         (Span("error", "", ("mark", "dip", "tunnel")), Span("times", "", (1.0, 1.5, 2.0))), alike, _HANDS),
    Item("vary.cause", "cause", "read from a cloud of lenses what is different about a hand", "recognise",
         (Span("name", "", tuple(_CLOUDS)), Span("seed", "", (11.0, 12.0, 13.0, 14.0))), cause, _HANDS),
    Item("vary.spend", "plan", "spend training where it keeps most lenses within limits", "design",
         (Span("off", "mm", (0.35, 0.4, 0.45, 0.5)), Span("lean", "deg", (4.0, 5.0))), spend, _HANDS),
)  # fmt: skip
