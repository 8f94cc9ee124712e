"""Let hands vary: whose error it is, what is worth training, and what an error common to both sides does not do."""

from __future__ import annotations

import functools

import numpy as np

from ..study.blame import blame, halve
from ..study.causes import errors_in_common, scale_cause
from ..study.error_model import QUANTITIES, Error
from ..study.hands import Hands
from ..study.operate import operate
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .build import (
    BY_TABLE_OF_HANDS,
    ERRORS,
    EYE,
    FIRST,
    LENS,
    SECOND,
    SIMULATED,
    are_apart,
    build,
    error_words,
    number,
    pick,
    pose_of,
)
from .item import Item, Span, steps
from .question import Misconception, Scene
from .spending import GAIN, POINTS, ask_spending, steadiness

_DRAWS = 1000
_LIMITS = f"{DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"
_CLEAR = 1.6  # how many times larger the first part has to be than the second, so that there is no doubt


@functools.lru_cache(maxsize=256)
def _operations(hands):
    return operate(EYE, LENS, FIRST, SECOND, hands, n=_DRAWS, rng=5, progress=False)


def _slip(error, size, both=False):
    """Label and pose of a lens after an error of a size [unit] on the second side, or on both alike."""
    field = ERRORS[error]
    first, second = ({field: getattr(side, field) + size} for side in (FIRST, SECOND))
    where = "both sides alike" if both else "the second side"
    label = f"An error of {size:.2g} {QUANTITIES[field].unit} in {error_words(error)}, {where}"
    return label, pose_of(first if both else None, second)


def _usual_spread(error):
    return getattr(Hands(), ERRORS[error]).spreads[1]


_MECHANISMS = {
    "mark": "A mark turns the pass about the eye's axis: it shifts the lens and leaves it flat.",
    "dip": "The iris angle sets the direction in which the haptic leaves its tunnel: the lens tilts and lies deeper.",
    "tunnel": "A tunnel decides where it opens and how much haptic is left: that shifts.",
    "distance": "A haptic fixed further behind the limbus lies deeper on its side, but only a little.",
}


@functools.lru_cache(maxsize=64)
def _parts(larger):
    """Part of the variance [1] of each quantity that each of four errors brings, one of them twice as large or none."""
    hands = Hands().scale(2.0, ERRORS[larger]) if larger else Hands()
    parts = blame(EYE, LENS, FIRST, SECOND, hands, of=("decentration", "tilt", "depth"), n=512, progress=False).total
    return {of: {error: parts[of][ERRORS[error]].value for error in _MECHANISMS} for of in parts}


def _main(id, of, larger):
    """Ask from which error most of a quantity comes."""
    parts = _parts(larger)[of]
    right, least = max(parts, key=parts.get), min(parts, key=parts.get)
    form = pick(
        right,
        *(
            (
                error,
                f"From {error_words(error)}.",
                f"{_MECHANISMS[error]} {100 * part:.0f} % of the variance of {_QUANTITY_WORDS[of][0]} comes from it.",
            )
            for error, part in parts.items()
        ),
    )
    spreads = ", ".join(_spread_words(error, 1.0 + (error == larger)) for error in parts)
    doubled = f"; {error_words(larger)} twice as much as usual" if larger else ""
    text = (
        f"A beginner's hand errs in everything a little, on each side anew, among others in {spreads} (SD; spreads of "
        f"the table of hands, most of them assumptions{doubled}). Lenses lie {_QUANTITY_WORDS[of][1]}, "
        "differently each time. From which of these four errors does most of that come?"
    )
    every = ", ".join(f"{error_words(error)} {100 * part:.0f} %" for error, part in parts.items())
    matters = f"It matters: who trains {error_words(least)} against {_QUANTITY_WORDS[of][0]} trains the wrong thing."
    label, pose = _slip(right, _usual_spread(right) * (1.0 + (right == larger)))
    return build(id, text, form, pose, f"Parts of the variance: {every}.", label=label, matters=matters)


def _spread_words(error, times):
    """Say how much an error spreads on each side, times a factor."""
    sides = sorted({times * spread for spread in getattr(Hands(), ERRORS[error]).spreads})
    return f"{error_words(error)} by {' and '.join(f'{one:g}' for one in sides)} {QUANTITIES[ERRORS[error]].unit}"


_QUANTITY_WORDS = {
    "decentration": ("decentration", "off centre"), "tilt": ("tilt", "tilted"), "depth": ("depth", "more or less deep"),
}  # fmt: skip


def _one_is_main(of, larger):
    second, first = sorted(_parts(larger)[of].values())[-2:]
    return first > _CLEAR * second


_HALVED = ("mark", "dip", "outside", "tunnel")


@functools.cache
def _halving_gains():
    """Lenses gained of 100, within the limits for teaching, when one error is halved, by error."""
    halved = halve(EYE, LENS, FIRST, SECOND, Hands(), n=2048, progress=False)
    gains = {one.cause: 100.0 * one.share.value for one in halved}
    return {error: gains[ERRORS[error]] for error in _HALVED}


def _halve_first(id):
    """Ask which error would be the first to halve."""
    gains = _halving_gains()
    right = max(gains, key=gains.get)
    choices = (
        (error, f"{error_words(error).capitalize()}.", f"Halved, they bring {gain:.1f} more lenses of 100.")
        for error, gain in gains.items()
    )
    text = f"One error of this hand can be halved, bias and spread. Which brings most lenses within {_LIMITS}?"
    every = ", ".join(f"{error_words(error)} {gain:+.0f}" for error, gain in gains.items())
    label, pose = _slip(right, _usual_spread(right))
    matters = "It matters: hours of training go where they bring most."
    return build(id, text, pick(right, *choices), pose, f"Lenses gained of 100: {every}.", label=label, matters=matters)


def _in_common(id):
    """Ask what errors of a hand do that are the same on both sides."""
    usual = Hands().without("marker", "play")
    own, common = _operations(usual), _operations(errors_in_common(usual))
    own_share, common_share = 100.0 * own.share().value, 100.0 * common.share().value
    own_depth, common_depth = own.spread("depth").value, common.spread("depth").value
    counts = (
        f"{own_share:.0f} % lie within {_LIMITS} when the sides err independently, {common_share:.0f} % when they err "
        f"alike; the depth spreads by {own_depth:.2f} mm and {common_depth:.2f} mm."
    )
    form = pick(
        "depth" if common_share > own_share and common_depth > own_depth else "same",
        ("same", "Nothing: the errors are as large as before.",
         f"As large, but they no longer differ between the sides. {counts}"),
        ("all", "All is well: what is alike cancels.", f"Not the depth, which both sides set together. {counts}"),
        ("worse", "It is worse: now both sides are wrong at once.",
         f"Off centre and tilt come from what differs between the sides, not from what both are. {counts}"),
        ("depth", "Lenses lie centred and flat, but their depth spreads more.", counts),
    )  # fmt: skip
    text = (
        "Two hands err by the same amounts. The first errs on each side independently; the second errs alike on both "
        "sides of an eye, and differently in the next eye. What is different for the second?"
    )
    label, pose = _slip("dip", _usual_spread("dip"), both=True)
    matters = "It matters: a hand that errs alike on both sides needs another depth, not another hand."
    return build(id, text, form, pose, counts, label=label, matters=matters)


def _gain(id, error, off, lean):
    """Ask how many more lenses lie within limits when one error is halved."""
    usual, halved = _operations(Hands()), _operations(scale_cause(Hands(), ERRORS[error], 0.5))
    now, after = 100.0 * usual.share(off, lean).value, 100.0 * halved.share(off, lean).value
    gone = 100.0 * _operations(Hands().without(ERRORS[error])).share(off, lean).value
    what, limit = ("tilt", lean) if error == "dip" else ("decentration", off)
    beyond = 100.0 * float(np.mean(~(getattr(usual.pose, what) <= limit)))
    wrong = [
        Misconception("half-of-all", 0.5 * (100.0 - now),
                      "Half of those that fail: but most of them fail by other errors as well."),
        Misconception("all-of-it", gone - now, "So many would be gained if this error did not exist at all.")
        if gone - after > 4.0 else
        Misconception("after", after, "So many lie within afterwards; how many more is asked."),
    ]  # fmt: skip
    if min(abs(beyond - value) for value in (after - now, *(one.value for one in wrong))) > 3.0:
        hint = f"So many lie beyond the limit of {what} now. Of them only those gain that lie within the other limit."
        wrong.append(Misconception("all-beyond", beyond, hint))
    form = number(after - now, 1.5, "", 0.0, 60.0, f"{now:.0f} of 100 become {after:.0f}.", *wrong)
    text = (
        f"A beginner's hands leave {now:.0f} of 100 lenses within {off:g} mm and {lean:g} deg. Of all their errors one "
        f"is halved, bias and spread: that of {error_words(error)}. How many more of 100 lie within then?"
    )
    (label, pose), half = _slip(error, _usual_spread(error)), _slip(error, 0.5 * _usual_spread(error))
    reasoning = f"On the same draws: {after - now:.1f} of 100."
    return build(id, text, form, pose, reasoning, label=label, scenes=(Scene(*half),))


def _mean_tilt(id, spread):
    """Ask how far lenses tilt on average when only iris angles spread."""
    value = float(_operations(Hands.perfect().but(iris_angle=Error(spread=spread))).mean("tilt").value)
    form = number(
        value, 0.2, "deg", 0.0, 15.0, f"The iris angles differ by {1.41 * spread:.1f} deg (SD); the lens follows half.",
        Misconception("as-the-dip", spread, "A lens tilts less than its needles differ: two haptics hold against it."),
        Misconception("sum", 2.0 * spread, "The errors of two sides do not simply add: they differ by chance, and the "
                                           "lens follows about half of the difference."),
    )  # fmt: skip
    text = (
        f"Only the iris angles err, each by chance with a standard deviation of {spread:g} deg. By how "
        "many degrees do the lenses tilt on average?"
    )
    label, pose = _slip("dip", spread)
    return build(id, text, form, pose, f"The mean of {_DRAWS} operations: {value:.2f} deg.", label=label)


def _alike(id, error, times):
    """Ask what one error does that is the same on both sides."""
    spread = times * getattr(Hands(), ERRORS[error]).spreads[0]
    hands = Hands.perfect().but(**{ERRORS[error]: Error(spread=spread)})
    own, common = _operations(hands), _operations(errors_in_common(hands, ERRORS[error]))
    roll, depth = np.nanstd(common.pose.roll), np.nanstd(common.pose.depth)
    pull = np.nanstd(common.pose.tension[:, 0])
    changes = {"turned": roll / 3.0, "deeper": depth / 0.1, "pull": pull / 20.0}
    counts = (
        f"Alike, it spreads the rotation by {roll:.1f} deg, the depth by {depth:.2f} mm, the pull by {pull:.0f} mN; "
        f"lenses lie {common.mean('decentration').value:.2f} mm off centre and tilt by "
        f"{common.mean('tilt').value:.1f} deg."
    )
    one_sided = (
        f"On one side at a time it did: {own.mean('decentration').value:.2f} mm and {own.mean('tilt').value:.1f} deg."
    )
    form = pick(
        max(changes, key=changes.get),
        ("turned", "They lie centred and flat, only rotated.", f"Marks that are alike rotate a lens. {counts}"),
        ("deeper", "They lie centred and flat, but more or less deep.",
         f"Iris angles that are alike set the depth. {counts}"),
        ("pull", "They lie centred and flat, rotated a little; the haptics pull more or less.",
         f"Tunnels that are alike decide how much haptic is left inside. {counts}"),
        ("off", "They lie off centre or tilted, as when the sides differ.", f"{one_sided} {counts}"),
    )  # fmt: skip
    text = (
        f"Only {error_words(error)} err, by as much as a beginner's{'' if times == 1 else f' times {times:g}'}, but in "
        "each eye both sides err alike. How do the lenses lie?"
    )
    (label, pose), one_side = _slip(error, spread, both=True), _slip(error, spread)
    return build(id, text, form, pose, counts, label=label, scenes=(Scene(*one_side),))


_LARGER = {"mark": 3.0, "dip": 2.0, "tunnel": 2.0, "outside": 3.0}
"""How many times an error of a hand is larger than usual, in whose cloud it shows."""


def _spreads(operations):
    """Spread of lenses along the line of the planned openings and across it [mm], and their mean tilt [deg]."""
    pose = operations.pose
    first, second = (passage.inner[:2] for passage in pose_of().passages)
    line = (first - second) / np.linalg.norm(first - second)
    along, across = line[0] * pose.x + line[1] * pose.y, line[0] * pose.y - line[1] * pose.x
    return np.nanstd(along), np.nanstd(across), np.nanmean(pose.tilt)


def _cause(id, name, seed):
    """Ask which hand left a cloud of lenses."""
    hands = {error: Hands().scale(times, ERRORS[error]) for error, times in _LARGER.items()}
    cloud = operate(EYE, LENS, FIRST, SECOND, hands[name], n=_DRAWS, rng=int(seed), progress=False)
    words = "{:.2f} mm along and {:.2f} mm across, tilted by {:.1f} deg on average"
    choices = [
        (
            error,
            f"{'Three times' if times == 3.0 else 'Twice'} the usual spread of {error_words(error)}.",
            f"That leaves them {words.format(*_spreads(_operations(hands[error])))}.",
        )
        for error, times in _LARGER.items()
    ]
    text = (
        f"Many lenses by one hand: they spread (SD) {words.format(*_spreads(cloud))}; along and across the "
        f"haptic axis. A usual beginner's spread {words.format(*_spreads(_operations(Hands())))}. What is different "
        "about this hand?"
    )
    label, pose = _slip(name, _LARGER[name] * _usual_spread(name))
    reasoning = " ".join(["Each was simulated.", *(f"{words} {leaves}" for _, words, leaves in choices)])
    return build(id, text, pick(name, *choices), pose, reasoning, label=label)


def _spend(id, off, lean):
    """Ask how to spend training on six errors."""
    text = (
        f"A beginner's hands; {POINTS} points of training, for six errors. Each point takes "
        f"{100 * (1.0 - GAIN):.0f} % off one spread."
    )
    wrong = {"marks-alone": {"mark": POINTS}, "evenly": dict(zip(ERRORS, _TRAINING.even, strict=True))}
    return ask_spending(id, _TRAINING, off, lean, text, "Tunnels and iris angles come first.", wrong)


def _unwise_spending(spent):
    if tuple(spent.values()) == _TRAINING.even:
        return "Not all errors cost the same; ask what halving each would gain.", "evenly"
    if spent["mark"] == max(spent.values()) >= 8:
        return "Marks shift a little and never tilt; others cost more.", "marks-alone"
    return "Tilt comes from iris angles, and shift from tunnels first.", None


_TRAINING = steadiness(tuple(ERRORS), _unwise_spending, "{'mark': 4, 'distance': 3, 'outside': 3}")

ITEMS = (
    Item("vary.main", "choice", "name the error to blame", "recognise",
         (Span("of", "", ("decentration", "tilt", "depth")), Span("larger", "", ("", *_MECHANISMS))),
         _main, BY_TABLE_OF_HANDS, _one_is_main, shown={"of": "tilt", "larger": ""}, predicts=True),
    Item("vary.halve-first", "choice", "name the error that is worth halving first", "foretell", (), _halve_first,
         BY_TABLE_OF_HANDS, shown={}, predicts=True),
    Item("vary.in-common", "choice", "tell what a hand costs that errs alike on both sides", "foretell", (),
         _in_common, BY_TABLE_OF_HANDS, shown={}, predicts=True),
    Item("vary.gain", "number", "foretell what halving one error gains", "foretell",
         (Span("error", "", ("mark", "dip", "tunnel")), Span("off", "mm", (0.35, 0.4, 0.45, 0.5)),
          Span("lean", "deg", (4.0, 5.0, 6.0))), _gain, BY_TABLE_OF_HANDS, clear=are_apart,
         shown={"error": "dip", "off": DECENTRATION_LIMIT, "lean": TILT_LIMIT}),
    Item("vary.spend", "plan", "spend training where it keeps most lenses within limits", "design",
         (Span("off", "mm", (0.35, 0.4, 0.45, 0.5)), Span("lean", "deg", (4.0, 5.0))), _spend, BY_TABLE_OF_HANDS,
         shown={"off": DECENTRATION_LIMIT, "lean": TILT_LIMIT}),
    Item("vary.mean-tilt", "number", "foretell how far lenses tilt by iris angles that spread", "foretell",
         (Span("spread", "deg", steps(2.0, 6.0, 0.5)),), _mean_tilt, SIMULATED, clear=are_apart),
    Item("vary.alike", "choice", "tell what errors common to both sides do and do not do", "recognise",
         (Span("error", "", ("mark", "dip", "tunnel")), Span("times", "", (1.0, 1.5, 2.0))), _alike, BY_TABLE_OF_HANDS),
    Item("vary.cause", "cause", "read from a cloud of lenses what is different about a hand", "recognise",
         (Span("name", "", tuple(_LARGER)), Span("seed", "", (11.0, 12.0, 13.0, 14.0))), _cause, BY_TABLE_OF_HANDS),
)  # fmt: skip
