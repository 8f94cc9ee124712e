"""Log your practice: what a photograph shows, what ten attempts tell, what to train, and when a hand is good enough."""

from __future__ import annotations

import functools
import math

import numpy as np

from ..eye.frames import direction_words
from ..eye.sources import data_folder
from ..photo.camera import Known
from ..photo.ellipse import fit_ellipse
from ..photo.front import measure_front, y_up
from ..photo.points import read_points
from ..photo.side import measure_side
from ..practice.cusum import Rates
from ..practice.run_length import Walk, signal_by
from ..study.error import QUANTITIES, Error
from ..study.estimates import spread_factors
from ..study.hands import Hands
from ..study.operate import operate
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .cases import EYE, FIRST, LENS, SECOND, asked, items_of, settled
from .question import Choice, Misconception, Number, Pick, Scene
from .spending import GAIN, POINTS, Training, ask_spending

ERRORS = {"mark": "meridian", "dip": "iris_angle", "tunnel": "tunnel_length"}
"""What a practice log measures most often, by the short word that a learner writes."""
SAID = {"mark": "marks", "dip": "dips", "tunnel": "tunnel lengths"}
KINDS = tuple(f"{error}_{kind}" for error in ERRORS for kind in ("habit", "spread"))
"""What can be trained: of each error the habit (bias), and what differs from time to time (spread)."""
HABIT = 0.75
"""What a point of training leaves of a habit [1]. Chosen for teaching: whoever knows a habit is half rid of it."""
CAMERA_FROM = 300.0
"""[deg] From whose side the photograph of the demonstration was taken."""
_DRAWS = 600
RECKONED = "The reckoning says otherwise."
_LIMITS = f"{DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"


def camera(id, kind):
    """Ask what a camera that looks askew does to what is measured."""
    moved, oblique = parallax()
    right = "shift" if moved > 0.15 else "nothing"
    told = f"Seen from {oblique:.0f} deg aside, the optic in this photograph appears {moved:.2f} mm from where it lies."
    form = Pick(
        (
            Choice("nothing", f"Nothing: {oblique:.0f} deg are as good as straight.",
                   f"The optic lies behind the limbus, and whatever lies behind is shifted. {told}"),
            Choice("narrow", "It makes the limbus an ellipse, and leaves the optic in its middle.",
                   f"The ellipse gives the camera away; but the optic lies deeper than the limbus. {told}"),
            Choice("shift", "It shifts the optic in the picture by about half a millimetre.", told),
            Choice("small", "It makes everything smaller, by a tenth.",
                   f"One diameter becomes shorter, by {100 * (1 - math.cos(math.radians(oblique))):.0f} %. {told}"),
        ),
        right,
    )  # fmt: skip
    text = (
        f"A practice eye was photographed from in front, but not quite: the camera stood {oblique:.0f} deg aside, "
        f"towards {direction_words(CAMERA_FROM)}. The optic lies some 2.7 mm behind the limbal plane, as after needles "
        "that dipped steeply. What does that do to its place in the picture?"
    )
    matter = f"It matters: {moved:.2f} mm are more than the limit of {DECENTRATION_LIMIT:g} mm."
    seen = Scene("A lens that really lies so far off centre", settled(second={"meridian": 180.0 + moved / _PER_DEGREE}))
    return asked(id, kind, text, form, None, told, scenes=(seen,), matter=matter)


_PER_DEGREE = 0.054  # [mm] that a lens shifts for each degree from opposite; for pictures only


_FAR_TOO_STEEP = {"iris_angle": 17.0}  # a second pass that fails by itself, two or three usual spreads off


@functools.cache
def parallax():
    """How far the optic of the demonstration's photograph appears from where it lies [mm]; the camera's angle [deg]."""
    points, section = (read_points(data_folder() / "demo" / f"eye-{one}.csv") for one in ("in-front", "from-the-side"))
    known = Known(white_to_white=11.8, camera_from=CAMERA_FROM)
    deep = measure_side(section, known).depth.value
    found = measure_front(points, known.but(depth=deep, depth_spread=0.05))
    limbus, optic = (fit_ellipse(y_up(points.of[name]), name) for name in ("limbus", "optic"))
    seen = (optic.centre - limbus.centre) / found.scale.value
    return float(np.hypot(seen[0] - found.x.value, seen[1] - found.y.value)), found.obliquity.value


def good_days(id, kind):
    """Ask what becomes of a spread when bad attempts are not written down."""
    kept = left_of_spread(10, 3)
    close = {"all": 1.0, "most": 0.9, "half": 0.6, "none": 0.1}
    right = min(close, key=lambda key: abs(close[key] - kept))
    told = f"With the three worst of ten left out, {100 * kept:.0f} % of the spread is left on average."
    form = Pick(
        (
            Choice("all", "Nearly nothing: seven good ones are what a hand can do.",
                   f"They are what it did on good days. A patient gets one attempt, and not the best of ten. {told}"),
            Choice("most", "It becomes a tenth smaller: three of ten is little.",
                   f"The three worst hold most of a spread, since it counts squares. {told}"),
            Choice("half", "Little more than half of it is left.", told),
            Choice("none", "Hardly anything is left of it.", f"The seven still differ. {told}"),
        ),
        right,
        RECKONED,
    )  # fmt: skip
    text = (
        "Ten passes on practice eyes. The three worst 'slipped' and are not written down; seven stand in the log. What "
        "becomes of the spread that the log shows?"
    )
    matter = "It matters: whoever plans by such a log plans for a hand that is not there."
    slip = Scene("What a pass leaves that was left out: a dip far too steep", settled(second=_FAR_TOO_STEEP))
    return asked(id, kind, text, form, None, told, scenes=(slip,), matter=matter)


@functools.cache
def left_of_spread(n, gone):
    """Share of a normal spread that is left, on average, when the largest of n errors are not written down [1]."""
    errors = np.random.default_rng(7).normal(size=(20000, n))
    order = np.argsort(np.abs(errors), axis=1)[:, : n - gone]
    return float(np.take_along_axis(errors, order, axis=1).std(axis=1, ddof=1).mean())


def how_sure(id, kind):
    """Ask between what the spread of a hand lies, by ten attempts."""
    low, high = spread_between(10, 4.0)
    told = {"narrow": (3.6, 4.4), "even": (3.0, 5.0), "wide": (2.8, 7.3), "open": (0.5, 16.0)}
    said = f"With ten attempts the 95 % interval reaches from {low / 4:.1f} to {high / 4:.1f} times the spread."
    because = {
        "narrow": f"So narrow it is after some {_attempts_for(1.1)} attempts. {said}",
        "even": f"It reaches further up than down, and further than one thinks. {said}",
        "wide": said,
        "open": f"Ten attempts do tell something. {said}",
    }
    right = min(told, key=lambda key: abs(told[key][0] - low) + abs(told[key][1] - high))
    form = Pick(
        tuple(Choice(key, f"{a:g} and {b:g} deg.", because[key]) for key, (a, b) in told.items()), right, RECKONED
    )
    text = "In ten attempts your dips had a spread (SD) of 4 deg. Between what does the spread of your hand really lie?"
    matter = "It matters: after ten attempts, 'I have become twice as steady' may be chance."
    ends = tuple(
        Scene(f"A dip too steep by one spread of {end:.1f} deg", settled(second={"iris_angle": 5.0 + end}))
        for end in (high, low)
    )
    return asked(id, kind, text, form, None, said, scenes=ends, matter=matter)


def spread_between(n, spread):
    """Return both ends (2, ...) of the 95 % interval of a hand's spread, by n attempts that spread so much."""
    return spread * spread_factors(np.subtract(n, 1.0))


@functools.cache
def _attempts_for(times):
    """Find after how many attempts, in tens, the interval of a spread reaches no further up than so many times."""
    return next(n for n in range(10, 2000, 10) if spread_between(n, 1.0)[1] <= times)


def cure(id, kind, bias=6.0, spread=3.0, matter="It matters: a habit is cured by aiming, unsteadiness by repeating."):
    """Ask what helps a hand most that dips too steeply towards oneself, by a habit and a spread [deg]."""
    told = {key: 100.0 * value.value for key, value in cures(bias, spread).items()}
    words = {
        "aim": f"Aim {bias:g} deg flatter on that side.", "steady": "Train until the dips are twice as steady.",
        "mark": "Train until the marks are twice as steady.", "more": "Twenty more passes, each as well as can be.",
    }  # fmt: skip
    because = {
        "aim": "That takes the habit away and leaves the spread. ",
        "steady": "Both dips spread half as much, and the one is as much too steep as before. ",
        "mark": "Marks shift a lens and do not tilt it. ",
        "more": "Passes alone change nothing, if nobody says what to do otherwise. ",
    }
    right = max(told, key=told.get)
    said = f"{told['more']:.0f} % of the lenses lie within {_LIMITS} now"
    form = Pick(
        tuple(Choice(key, words[key], f"{because[key]}{said}, {value:.0f} % then.") for key, value in told.items()),
        right,
    )
    text = (
        f"A log shows: towards oneself the dips are {bias:g} deg too steep on average, away from oneself they are "
        f"right; in both they spread by {spread:g} deg (SD). All else is a beginner's. What brings most lenses within "
        f"{_LIMITS}?"
    )
    every = ", ".join(f"{key} {value:.0f} %" for key, value in told.items())
    return asked(id, kind, text, form, settled(second={"iris_angle": 5.0 + bias}), f"On the same draws: {every}.",
                 matter=matter)  # fmt: skip


@functools.cache
def cures(bias, spread):
    """Share within limits after each of four cures of a hand, on the same draws, by the name of the cure."""

    def dips(bias, spread):
        return Hands().but(iris_angle=Error(bias=(0.0, bias), spread=spread))

    hands = {
        "aim": dips(0.0, spread), "steady": dips(bias, spread / 2.0),
        "mark": dips(bias, spread).scale(0.5, "meridian"), "more": dips(bias, spread),
    }  # fmt: skip
    done = {key: operate(EYE, LENS, FIRST, SECOND, one, n=_DRAWS, rng=3, progress=False) for key, one in hands.items()}
    return {key: one.share() for key, one in done.items()}


def in_a_row(id, kind):
    """Ask how often an unsafe hand has five good attempts in a row."""
    chance = row_of_good(5, 30, 0.3)
    close = {"never": 0.02, "rarely": 0.168, "half": 0.5, "mostly": 0.9}
    right = min(close, key=lambda key: abs(close[key] - chance))
    told = f"Within 30 attempts, {100 * chance:.0f} of 100 such hands have five good ones in a row somewhere."
    form = Pick(
        (
            Choice("never", "Hardly ever: three of ten fail.", told),
            Choice("rarely", "In 17 of 100.", f"That is so for five that were named beforehand. {told}"),
            Choice("half", "In half of them.", f"There are 26 places at which a row can begin. {told}"),
            Choice("mostly", "In nine of ten.", told),
        ),
        right,
        RECKONED,
    )
    text = (
        "A programme passes whoever has five good attempts in a row. A hand that fails in three attempts of ten makes "
        "30. How likely is it to pass?"
    )
    r = Rates()
    matter = (
        "It matters: a learning-curve chart with stated rates passes few of such hands: "
        f"{100 * r.beta:.0f} of 100 within {r.within} attempts."
    )
    failed = Scene("An attempt that failed: a dip far too steep", settled(second=_FAR_TOO_STEEP))
    return asked(id, kind, text, form, None, told, scenes=(failed,), matter=matter)


@functools.cache
def row_of_good(k, n, rate):
    """Chance that k good attempts in a row are among n, for somebody who fails at a rate [1]."""
    up, _ = signal_by(Walk(failure=-float(k), success=1.0, upper=float(k)), rate, n)
    return float(up[-1])


def steadier(id, kind):
    """Ask up to what a spread may reach."""
    value = spread_between(20, 3.0)[1]
    form = Number(
        value, 0.08 * value, "deg", 0.5, 15.0, f"With 20 attempts it reaches up to {value / 3.0:.2f} times the spread.",
        (
            Misconception("itself", 3.0, "That is the spread of these twenty. The hand's own may be larger."),
            Misconception("of-the-mean", 3.0 / math.sqrt(20.0), "So well is the bias known (its standard error). How "
                                                               "far the spread itself may reach is asked."),
        ),
    )  # fmt: skip
    text = (
        "Twenty attempts had a spread of 3 deg. How large may the spread of that hand be, at the upper end of the 95 % "
        "interval? The picture above shows it for any number of attempts."
    )
    end = Scene("A dip that is one such spread too steep", settled(second={"iris_angle": 5.0 + value}))
    return asked(id, kind, text, form, None, f"3 deg times {value / 3.0:.2f} (chi-square).", scenes=(end,), matter="")


def train(id, kind, steep=8.0, off=DECENTRATION_LIMIT, lean=TILT_LIMIT):
    """Ask how to spend training on habits and spreads, for a hand as a log shows it."""
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


_TURNED = 8.0  # [deg] by which both marks are off alike: the largest habit to look at, and it turns a lens only


def _hand(steep):
    """Biases of both sides and spread of each of `TRAINED`."""
    return ((_TURNED, _TURNED), 2.5), ((0.0, steep), 3.0), ((0.0, 0.2), 0.25)


def _hand_words(steep):
    words = []
    for error, (biases, spread) in zip(ERRORS, _hand(steep), strict=True):
        unit = QUANTITIES[ERRORS[error]].unit
        first, second = ("0" if bias == 0.0 else f"{bias:+g}" for bias in biases)
        words.append(f"{SAID[error]} {first} and {second} {unit}; {spread:g} {unit}")
    return ", ".join(words)


def _trained(steep, left):
    errors = {}
    for name, (biases, spread), habit, steady in zip(ERRORS.values(), _hand(steep), left[::2], left[1::2], strict=True):
        errors[name] = Error(bias=tuple(float(habit * bias) for bias in biases), spread=float(steady * spread))
    return Hands().but(**errors)


@functools.cache
def training_of(steep):
    """Training of a hand that dips so much too steeply on its second side [deg], a `Training`."""
    example = dict(zip(KINDS, (3, 3, 1, 1, 1, 1), strict=True))
    words = tuple(f"{SAID[error]}, {kind}" for error in ERRORS for kind in ("habit", "spread"))
    hands = functools.partial(_trained, steep)
    return Training(KINDS, words, hands, _unwise_spending, str(example), (HABIT, GAIN) * len(ERRORS), _DRAWS)


def _unwise_spending(spent):
    points = list(spent.values())
    if sum(points) == POINTS and max(points) - min(points) <= 1:
        return "Not all of it costs alike; ask what each does to a lens.", "evenly"
    if spent["mark_habit"] >= POINTS // 2:
        return "Marks off by the same on both sides are still opposite: they turn the lens, and that is all.", "alike"
    if spent["mark_spread"] >= 8:
        return "Marks shift a little and never tilt; others cost more.", "marks"
    if spent["mark_habit"]:
        return "Take the points off the marks' habit: it is alike on both sides, and costs nothing.", None
    if spent["dip_habit"] < 3:
        return "What is left of the steep side's habit still costs most.", None
    if spent["tunnel_spread"] + spent["tunnel_habit"] < 3:
        return "The habit is nearly gone; now tunnels shift most, by what they spread and by the longer one.", None
    return "Nearly: move a point between the two that spread.", None


PREDICTIONS = {
    "camera": camera, "good-days": good_days, "how-sure": how_sure, "cure": cure, "in-a-row": in_a_row,
}  # fmt: skip
EXERCISES = {"steadier": steadier, "train": train}
ITEMS = items_of("log", PREDICTIONS, EXERCISES)
