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
from ..practice.cusum import Rates, learning_walk, watch_walk
from ..practice.learning_curve import LOST, NOT_YET, SHOWN, learning_curve
from ..practice.run_length import Walk, signal_by
from ..study.error_model import QUANTITIES, Error
from ..study.estimates import spread_factors
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
    are_apart,
    build,
    error_words,
    number,
    pick,
    pose_of,
)
from .habits import LOGGED, train
from .item import Item, Span, steps
from .question import Misconception
from .slips import shifted_lens

CAMERA_FROM = 300.0
"""[deg] From whose side the photograph of the demonstration was taken."""
_CALCULATED = "The calculation says otherwise."
_INVENTED = "invented attempts; normal errors"
_LIMITS = f"{DECENTRATION_LIMIT:g} mm and {TILT_LIMIT:g} deg"
_DRAWS = 600


def _steep(angle):
    """Pose of a lens whose second needle ran at this iris angle [deg]."""
    return pose_of(second={"iris_angle": angle})


_FAILS_ALONE = 17.0  # [deg] iris angle by which a pass fails by itself, two or three usual spreads off
_FAILED = "An attempt that failed: an iris angle far too steep"


def _camera(id):
    """Ask what a camera that looks askew does to what is measured."""
    shift, oblique = parallax()
    moved = float(np.hypot(*shift))
    seen = f"Seen from {oblique:.0f} deg aside, the optic in this photograph appears {moved:.2f} mm from where it lies."
    form = pick(
        "shift" if moved > 0.15 else "nothing",
        ("nothing", f"Nothing: {oblique:.0f} deg are as good as straight.",
         f"The optic lies behind the limbus, and whatever lies behind is shifted. {seen}"),
        ("narrow", "It makes the limbus an ellipse, and leaves the optic in its middle.",
         f"The ellipse shows where the camera stood, but the optic lies deeper than the limbus. {seen}"),
        ("small", "It makes everything smaller, by a tenth.",
         f"One diameter becomes shorter, by {100 * (1 - math.cos(math.radians(oblique))):.0f} %. {seen}"),
        ("shift", "It shifts the optic in the picture by about half a millimetre.", seen),
    )  # fmt: skip
    text = (
        f"A practice eye was photographed from in front, but not quite: the camera stood {oblique:.0f} deg aside, "
        f"towards {direction_words(CAMERA_FROM)}. The optic lies some 2.7 mm behind the limbal plane, as after needles "
        "that ran steeply. What does that do to its place in the picture?"
    )
    matters = f"It matters: {moved:.2f} mm are more than the limit of {DECENTRATION_LIMIT:g} mm."
    label = "A lens that really lies so far off centre"
    return build(id, text, form, shifted_lens(*shift), seen, label=label, matters=matters)


@functools.cache
def parallax():
    """How far the optic in the demonstration's photograph seems off its place, x, y [mm]; the camera's angle [deg]."""
    points, section = (read_points(data_folder() / "demo" / f"eye-{one}.csv") for one in ("in-front", "from-the-side"))
    known = Known(white_to_white=11.8, camera_from=CAMERA_FROM)
    deep = measure_side(section, known).depth.value
    measured = measure_front(points, known.but(depth=deep, depth_spread=0.05))
    limbus, optic = (fit_ellipse(y_up(points.of[name]), name) for name in ("limbus", "optic"))
    seen = (optic.centre - limbus.centre) / measured.scale.value
    return (float(seen[0] - measured.x.value), float(seen[1] - measured.y.value)), measured.obliquity.value


def _good_days(id):
    """Ask what becomes of a spread when bad attempts are not written down."""
    left = left_of_spread(10, 3)
    close = {"all": 1.0, "most": 0.9, "half": 0.6, "none": 0.1}
    average = f"With the three worst of ten left out, {100 * left:.0f} % of the spread is left on average."
    form = pick(
        min(close, key=lambda key: abs(close[key] - left)),
        ("all", "It hardly changes: seven good ones are what a hand can do.",
         f"They are what it did on good days. A patient gets one attempt, and not the best of ten. {average}"),
        ("most", "It becomes a tenth smaller: three of ten is little.",
         f"The three worst hold most of a spread, since it counts squares. {average}"),
        ("half", "Little more than half of it is left.", average),
        ("none", "Hardly anything is left of it.", f"The seven still differ. {average}"),
        otherwise=_CALCULATED,
    )  # fmt: skip
    text = (
        "Ten passes on practice eyes. The three worst 'slipped' and are not written down; seven stand in the log. What "
        "becomes of the spread that the log shows?"
    )
    matters = "It matters: whoever plans by such a log plans for a hand that does not exist."
    label = "What a pass leaves that was left out: an iris angle far too steep"
    return build(id, text, form, _steep(_FAILS_ALONE), average, label=label, matters=matters)


@functools.cache
def left_of_spread(n, gone):
    """Share of a normal spread [1] that is left on average when the largest errors are not written down.

    Parameters
    ----------
    n, gone : int
        Attempts, and how many of them are left out.
    """
    errors = np.random.default_rng(7).normal(size=(20000, n))
    order = np.argsort(np.abs(errors), axis=1)[:, : n - gone]
    return float(np.take_along_axis(errors, order, axis=1).std(axis=1, ddof=1).mean())


def spread_between(n, spread):
    """Both ends (2, ...) of the 95 % interval of a hand's spread.

    Parameters
    ----------
    n : int or array
        Attempts.
    spread : float [unit of the quantity]
        By which they spread.
    """
    return spread * spread_factors(np.subtract(n, 1.0))


def _how_sure(id):
    """Ask between what the spread of a hand lies, by ten attempts."""
    low, high = spread_between(10, 4.0)
    intervals = {"narrow": (3.6, 4.4), "even": (3.0, 5.0), "wide": (2.8, 7.3), "open": (0.5, 16.0)}
    factors = f"With ten attempts the 95 % interval reaches from {low / 4:.1f} to {high / 4:.1f} times the spread."
    enough = next(n for n in range(10, 2000, 10) if spread_between(n, 1.0)[1] <= 1.1)
    because = {
        "narrow": f"It is so narrow only after some {enough} attempts. {factors}",
        "even": f"It reaches further up than down, and further than most expect. {factors}",
        "wide": factors,
        "open": f"Ten attempts do show something. {factors}",
    }
    right = min(intervals, key=lambda key: abs(intervals[key][0] - low) + abs(intervals[key][1] - high))
    choices = ((key, f"{a:g} and {b:g} deg.", because[key]) for key, (a, b) in intervals.items())
    text = (
        "In ten attempts your iris angles had a spread (SD) of 4 deg. Between what does the spread of your hand really "
        "lie?"
    )
    matters = "It matters: after ten attempts, 'I have become twice as steady' may be chance."
    form, label = pick(right, *choices, otherwise=_CALCULATED), _one_spread_words(high)
    pose = _steep(FIRST.iris_angle + high)
    return build(id, text, form, pose, factors, label=label, matters=matters)


def _one_spread_words(spread):
    return f"An iris angle too steep by one spread of {spread:.1f} deg"


def _how_wide(id, n, spread):
    """Ask how large the spread of a hand may be."""
    value = float(spread_between(n, spread)[1])
    form = number(
        value, 0.1 * value, "deg", 0.5, 30.0, f"After {n} attempts it reaches up to {value / spread:.2f} times.",
        Misconception("itself", spread, "That is the spread of these attempts. The hand's own may be larger."),
        Misconception("of-the-mean", spread / math.sqrt(n), "That is how well the bias is known (its standard error). "
                                                            "The question is about the spread itself."),
    )  # fmt: skip
    text = (
        f"{n} attempts had a spread (SD) of {spread:g} deg. How large may the spread of that hand be, at the upper end "
        "of its 95 % interval?"
    )
    reasoning, pose = f"{spread:g} deg times {value / spread:.2f} (chi-square).", _steep(FIRST.iris_angle + value)
    return build(id, text, form, pose, reasoning, label=_one_spread_words(value))


def _cure(id, bias, spread):
    """Ask what helps a hand most that runs too steeply towards oneself, by a bias and a spread [deg]."""
    shares = {key: 100.0 * share.value for key, share in _cures(bias, spread).items()}
    now = f"{shares['more']:.0f} % of the lenses lie within {_LIMITS} now"
    form = pick(
        max(shares, key=shares.get),
        ("steady", "Train until the iris angles are twice as steady.",
         "Both iris angles spread half as much, and one of them stays as much too steep as before. "
         f"{now}, {shares['steady']:.0f} % then."),
        ("aim", f"Aim {bias:g} deg flatter on that side.",
         f"That takes the habit away and leaves the spread. {now}, {shares['aim']:.0f} % then."),
        ("mark", "Train until the marks are twice as steady.",
         f"Marks shift a lens and do not tilt it. {now}, {shares['mark']:.0f} % then."),
        ("more", "Twenty more passes, each as well as can be.",
         f"Repetition changes nothing if nobody says what to do differently. {now}, {shares['more']:.0f} % then."),
    )  # fmt: skip
    text = (
        f"A log shows: towards oneself the iris angles are {bias:g} deg too steep on average, away from oneself they "
        f"are right; in both they spread by {spread:g} deg (SD). All else is a beginner's. What brings most lenses "
        f"within {_LIMITS}?"
    )
    every = ", ".join(f"{key} {share:.0f} %" for key, share in shares.items())
    matters = "It matters: a habit is cured by aiming, unsteadiness by repeating."
    label, pose = f"What the habit alone does: an iris angle {bias:g} deg too steep", _steep(FIRST.iris_angle + bias)
    return build(id, text, form, pose, f"On the same draws: {every}.", label=label, matters=matters)


@functools.cache
def _cures(bias, spread):
    """Share within limits after each of four cures of a hand, on the same draws, by the name of the cure."""
    hands = Hands().but(iris_angle=Error(bias=(0.0, bias), spread=spread))
    cured = {
        "aim": hands.but(iris_angle=Error(bias=0.0, spread=spread)),
        "steady": hands.scale(0.5, "iris_angle"),
        "mark": hands.scale(0.5, "meridian"),
        "more": hands,
    }
    return {
        key: operate(EYE, LENS, FIRST, SECOND, one, n=_DRAWS, rng=3, progress=False).share()
        for key, one in cured.items()
    }


def _one_cures(bias, spread):
    second, first = sorted(share.value for share in _cures(bias, spread).values())[-2:]
    return first > second + 0.02


@functools.cache
def row_of_good(k, n, rate):
    """Chance [1] that a row of good attempts is among others.

    Parameters
    ----------
    k, n : int
        Length of the row, and number of attempts.
    rate : float [1]
        At which attempts fail.
    """
    up, _ = signal_by(Walk(failure=-float(k), success=1.0, upper=float(k)), rate, n)
    return float(up[-1])


def _passing(id, k, n, fails):
    """Ask how often an unsafe hand passes by a row of good attempts."""
    chance, once = row_of_good(k, n, fails / 10.0), (1.0 - fails / 10.0) ** k
    close = {"never": 0.02, "rarely": once, "half": 0.5, "mostly": 0.9}
    counted = f"Within {n} attempts, {100 * chance:.0f} of 100 such hands have {k} good ones in a row somewhere."
    form = pick(
        min(close, key=lambda key: abs(close[key] - chance)),
        ("never", f"Hardly ever: {fails:g} of ten fail.", counted),
        ("rarely", f"In {100 * once:.0f} of 100.", f"That is so for {k} attempts named beforehand. {counted}"),
        ("half", "In half of them.", f"There are {n - k + 1} places at which a row can begin. {counted}"),
        ("mostly", "In nine of ten.", counted),
        otherwise=_CALCULATED,
    )  # fmt: skip
    text = (
        f"A programme passes whoever has {k} good attempts in a row. A hand that fails in {fails:g} attempts of ten "
        f"makes {n}. How likely is it to pass?"
    )
    rates = Rates()
    matters = (
        "It matters: a learning-curve chart with stated rates passes few of such hands: "
        f"{100 * rates.beta:.0f} of 100 within {rates.within} attempts."
    )
    return build(id, text, form, _steep(_FAILS_ALONE), counted, label=_FAILED, matters=matters)


def _in_a_row(id, k, n, fails):
    """Ask how often a row of good attempts comes by chance."""
    value, once = 100.0 * row_of_good(k, n, fails / 10.0), 100.0 * (1.0 - fails / 10.0) ** k
    blocks = 100.0 * (1.0 - (1.0 - once / 100.0) ** (n // k))
    form = number(
        value, 6.0, "%", 0.0, 100.0, f"{value:.0f} of 100: a row can begin at any of {n - k + 1} attempts.",
        Misconception("named-before", once, f"That is the chance for {k} attempts named beforehand."),
        Misconception("in-blocks", blocks, f"That counts rows that begin at every {k}th attempt only; they may begin "
                                           "at any."),
    )  # fmt: skip
    text = (
        f"A hand fails in {fails:g} attempts of 10 and makes {n}. How likely is it that somewhere among them "
        f"{k} in a row are good [%]?"
    )
    reasoning = f"Calculated attempt by attempt: {value:.1f} %."
    return build(id, text, form, _steep(_FAILS_ALONE), reasoning, label=_FAILED)


def _bias(id, error, seed):
    """Ask for the bias of a few attempts."""
    pairs = _attempts(error, seed)
    unit, misses = QUANTITIES[ERRORS[error]].unit, [achieved - aim for aim, achieved in pairs]
    value = float(np.mean(misses))
    form = number(
        value, 0.15 if unit == "deg" else 0.03, unit, -10.0, 10.0, "The mean of each achieved value less its aim.",
        Misconception("of-the-sizes", float(np.mean(np.abs(misses))), "Signs count: misses to both sides cancel in a "
                                                                      "bias. What is left of them is the spread."),
        Misconception("without-aim", float(np.mean([achieved for _, achieved in pairs])),
                      "That is the mean of what was achieved; subtract the aim."),
    )  # fmt: skip
    every = ", ".join(f"{aim:g} and {achieved:g}" for aim, achieved in pairs)
    text = (
        f"Six attempts at {error_words(error)}, aim and achieved [{unit}]: {every}. What is the bias (achieved less "
        "aim, the mean)?"
    )
    field = ERRORS[error]
    pose, label = (
        pose_of(second={field: getattr(SECOND, field) + value}),
        "A lens whose second pass misses by this bias",
    )
    return build(id, text, form, pose, f"The mean of the six misses: {value:+.2f} {unit}.", label=label)


@functools.cache
def _attempts(error, seed):
    """Pairs of aim and achieved; the aims differ, so that only the misses can be averaged."""
    rng = np.random.default_rng([int(seed), len(error)])
    aims, spread, digits = {
        "mark": ((0.0, 10.0, 20.0), 3.0, 1),
        "dip": ((5.0, 8.0, 10.0), 3.0, 1),
        "tunnel": ((1.5, 2.0), 0.3, 2),
    }[error]
    habit = spread * (0.4 + 0.8 * rng.random()) * rng.choice([-1.0, 1.0])
    return tuple((float(aim), round(float(aim + habit + spread * rng.normal()), digits)) for aim in rng.choice(aims, 6))


def _verdict(id, seed):
    """Ask what a learning curve says of attempts."""
    failed = _series(seed)
    curve, walk, watch = learning_curve(failed), learning_walk(Rates()), watch_walk(Rates())
    form = pick(
        {SHOWN: "shown", NOT_YET: "open", LOST: "lost"}[curve.state],
        ("shown", "Competence has been shown, and was kept.",
         f"{curve.verdict} Add up the counts, from zero again wherever they would fall below it."),
        ("open", "Competence is not shown yet.", f"{curve.verdict} What counts is the sum since it was last zero."),
        ("lost", "Competence was shown, and has been lost since.",
         f"{curve.verdict} The watch begins at zero when competence has been shown, and adds up failures."),
        otherwise=_CALCULATED,
    )  # fmt: skip
    tens = " ".join("".join("x" if one else "o" for one in failed[i : i + 10]) for i in range(0, len(failed), 10))
    text = (
        f"{len(failed)} attempts, o good and x failed: {tens}. On the learning-curve chart a good one counts "
        f"{walk.success:+.2f} and a failed one {walk.failure:+.2f}, never below 0; competence has been shown at "
        f"{walk.upper:.2f}. From then on the watch counts {watch.success:+.2f} and {watch.failure:+.2f}, and raises an "
        f"alarm at {watch.upper:.2f}. What do both charts say in the end?"
    )
    return build(id, text, form, _steep(_FAILS_ALONE), curve.verdict, label=_FAILED)


@functools.cache
def _series(seed):
    """Forty attempts of an invented resident: one who fails rarely, one who fails often, or one who becomes worse."""
    rng = np.random.default_rng([int(seed), 40])
    rates = ((0.35, 0.3), (0.1, 0.02), (0.02, 0.6))[int(seed) % 3]
    return tuple(bool(one) for one in rng.random(40) < np.repeat(rates, (24, 16)))


def _without_doubt(seed):
    """Whether numbers rounded as they stand in the text say the same, and do so some attempts before the end."""
    failed, state, value = _series(seed), NOT_YET, 0.0
    learning, watch = learning_walk(Rates()), watch_walk(Rates())
    for i, one in enumerate(failed):
        walk = watch if state == SHOWN else learning
        value = max(0.0, value + round(walk.failure if one else walk.success, 2))
        if abs(value - walk.upper) < 0.06:
            return False
        if value > walk.upper:
            state, value, last = LOST if walk is watch else SHOWN, 0.0, i
    return state == learning_curve(failed).state and (state == NOT_YET or last < len(failed) - 3)


_REASONS = {
    "way": ("Passes towards oneself are steeper.", ("away", "towards")),
    "rater": ("One of the two who measured reads more.", ("A", "B")),
    "late": ("The hand has changed: later attempts are steeper.", ("first six", "last six")),
}
_STEEP = 6.0  # [deg] by which a habit shows; attempts spread by a third of it


def _habit(id, which, seed):
    """Ask what is behind the attempts of a log."""
    rows = _logged(which, seed)
    differences = _differences(rows)
    most = max(differences, key=lambda key: abs(differences[key][1]))
    means = "; ".join(f"{b} less {a}: {differences[key][0]:+.1f} deg" for key, (_, (a, b)) in _REASONS.items())
    form = pick(
        most if abs(differences[most][1]) > 3.0 else "none",
        *((key, words, f"Compare the means. {means}.") for key, (words, _) in _REASONS.items()),
        ("none", "Nothing but a hand that is unsteady.", f"Compare the means. {means}."),
        otherwise=_CALCULATED,
    )
    listed = "; ".join(f"{way}, {rater}, {achieved:g}" for way, rater, _, achieved in rows)
    text = (
        "Twelve attempts at an iris angle of 5 deg, in their order: towards oneself or away, who measured, achieved "
        f"[deg]: {listed}. What is behind them?"
    )
    steepest = max(achieved for *_, achieved in rows)
    return build(
        id, text, form, _steep(steepest), f"{means}.", label=f"The steepest of these attempts: {steepest:g} deg"
    )


@functools.cache
def _logged(which, seed):
    """Twelve attempts: way, rater, early or late, and what was achieved; each pair of causes as often together."""
    rng = np.random.default_rng([int(seed), len(which)])
    rows = []
    for late in (False, True):
        cells = [(way, rater) for way in _REASONS["way"][1] for rater in _REASONS["rater"][1]]
        cells += [("away", "A" if late else "B"), ("towards", "B" if late else "A")]
        for way, rater in rng.permutation(cells):
            shows = {"way": way == "towards", "rater": rater == "B", "late": late, "none": False}[which]
            achieved = 5.0 + _STEEP * (shows - 0.5 * (which != "none")) + _STEEP / 3.0 * rng.normal()
            rows.append((str(way), str(rater), _REASONS["late"][1][late], round(float(achieved), 1)))
    return tuple(rows)


def _differences(rows):
    """By how much the mean of the second group is larger than that of the first, in deg and in standard errors."""
    differences = {}
    for place, (key, (_, groups)) in enumerate(_REASONS.items()):
        one, two = (np.array([row[3] for row in rows if row[place] == group]) for group in groups)
        error = np.sqrt(one.var(ddof=1) / len(one) + two.var(ddof=1) / len(two))
        differences[key] = float(two.mean() - one.mean()), float((two.mean() - one.mean()) / error)
    return differences


def _stands_out(which, seed):
    sizes = {key: abs(errors) for key, (_, errors) in _differences(_logged(which, seed)).items()}
    own = sizes.pop(which, None)
    return max(sizes.values()) < 1.5 and (own is None or own > 4.0)


_SEEDS = tuple(float(i) for i in range(1, 13))

ITEMS = (
    Item("log.camera", "choice", "foretell what a camera that stands aside does to a photograph", "foretell", (),
         _camera, "measured in the photograph of the demonstration", shown={}, predicts=True),
    Item("log.good-days", "choice", "say what a log hides from which bad attempts are missing", "foretell", (),
         _good_days, _INVENTED, shown={}, predicts=True),
    Item("log.how-sure", "choice", "say between what a spread lies after ten attempts", "foretell", (), _how_sure,
         "chi-square interval of a normal spread", shown={}, predicts=True),
    Item("log.cure", "choice", "tell what a habit wants from what unsteadiness wants", "foretell",
         (Span("bias", "deg", (2.0, 4.0, 6.0, 8.0)), Span("spread", "deg", (2.0, 3.0, 5.0, 6.0))), _cure,
         BY_TABLE_OF_HANDS, _one_cures, shown={"bias": 6.0, "spread": 3.0}, predicts=True),
    Item("log.passing", "choice", "say how often an unsafe hand passes by a row of good attempts", "foretell", (),
         _passing, "calculated as a Markov chain", shown={"k": 5, "n": 30, "fails": 3.0}, predicts=True),
    Item("log.how-wide", "number", "say how well a spread is known after so many attempts", "foretell",
         (Span("n", "", (6, 8, 10, 12, 15, 20, 25, 30)), Span("spread", "deg", steps(2.0, 5.0, 0.5))), _how_wide,
         "chi-square interval of a normal spread", clear=are_apart, shown={"n": 20, "spread": 3.0}),
    Item("log.train", "plan", "spend training on what a log shows", "design",
         (Span("steep", "deg", (7.0, 9.0)), Span("off", "mm", (0.4, 0.5)), Span("lean", "deg", (4.0, 5.0))), train,
         BY_TABLE_OF_HANDS, shown={"steep": 8.0, "off": DECENTRATION_LIMIT, "lean": TILT_LIMIT}),
    Item("log.bias", "number", "work out a bias from aims and what was achieved", "recognise",
         (Span("error", "", LOGGED), Span("seed", "", _SEEDS)), _bias, _INVENTED, clear=are_apart),
    Item("log.in-a-row", "number", "foretell how often a row of good attempts comes by chance", "foretell",
         (Span("k", "", (4, 5, 6, 7, 8)), Span("n", "", (20, 30, 40)), Span("fails", "", (2.0, 3.0, 4.0))), _in_a_row,
         "calculated as a Markov chain", clear=are_apart),
    Item("log.verdict", "choice", "say what a learning curve says", "recognise",
         (Span("seed", "", tuple(float(i) for i in range(1, 61))),), _verdict, _INVENTED, _without_doubt),
    Item("log.habit", "cause", "find in a log what is behind misses", "recognise",
         (Span("which", "", (*_REASONS, "none")), Span("seed", "", _SEEDS)), _habit, _INVENTED, _stands_out),
)  # fmt: skip
