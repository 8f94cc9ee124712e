"""Items on the practice log: bias and spread, how sure one may be of them, what to train, and when to call it good."""

from __future__ import annotations

import functools

import numpy as np

from ...practice.cusum import Rates, learning_walk, watch_walk
from ...practice.learning_curve import LOST, NOT_YET, SHOWN, learning_curve
from ...study.error import QUANTITIES
from ..cases import apart, exercise, number, pick
from ..item import Item, Span, steps
from ..log import ERRORS, RECKONED, SAID, cures, row_of_good, spread_between
from ..log import cure as what_helps
from ..log import train as training
from ..question import Misconception

_HANDS = "computed by the simulation with the table of hands, most of whose spreads are assumptions"

_INVENTED = "invented attempts; normal errors"


def bias(id, error, seed):
    """Ask for the bias of a few attempts."""
    pairs = _attempted(error, seed)
    unit, misses = QUANTITIES[ERRORS[error]].unit, [got - aim for aim, got in pairs]
    value = float(np.mean(misses))
    form = number(
        value, 0.15 if unit == "deg" else 0.03, unit, -10.0, 10.0, "Each achieved less its aim, and the mean of them.",
        Misconception("of-the-sizes", float(np.mean(np.abs(misses))), "Signs count: misses to both sides cancel in a "
                                                                       "bias. What is left of them is the spread."),
        Misconception("without-aim", float(np.mean([got for _, got in pairs])), "That is the mean of what was "
                                                                                "achieved. The aim goes off it."),
    )  # fmt: skip
    every = ", ".join(f"{aim:g} and {got:g}" for aim, got in pairs)
    text = (
        f"Six attempts at {SAID[error]}, aim and achieved [{unit}]: {every}. What is the bias (achieved less aim, the "
        "mean)?"
    )
    return exercise(id, text, form, None, f"The mean of the six misses: {value:+.2f} {unit}.")


@functools.cache
def _attempted(error, seed):
    """Pairs of aim and achieved; the aims differ, so that only the misses can be averaged."""
    rng = np.random.default_rng([int(seed), len(error)])
    aims, spread, digits = {
        "mark": ((0.0, 10.0, 20.0), 3.0, 1), "dip": ((5.0, 8.0, 10.0), 3.0, 1), "tunnel": ((1.5, 2.0), 0.3, 2),
    }[error]  # fmt: skip
    habit = spread * (0.4 + 0.8 * rng.random()) * rng.choice([-1.0, 1.0])
    return tuple((float(aim), round(float(aim + habit + spread * rng.normal()), digits)) for aim in rng.choice(aims, 6))


def how_wide(id, n, spread):
    """Ask how large the spread of a hand may be."""
    value = spread_between(n, spread)[1]
    form = number(
        value, 0.1 * value, "deg", 0.5, 30.0, f"After {n} attempts it reaches up to {value / spread:.2f} times.",
        Misconception("itself", spread, "That is the spread of these attempts. The hand's own may be larger."),
        Misconception("of-the-mean", spread / np.sqrt(n), "So well is the bias known (its standard error). How far the "
                                                          "spread itself may reach is asked."),
    )  # fmt: skip
    text = (
        f"{n} attempts had a spread (SD) of {spread:g} deg. How large may the spread of that hand be, at the upper end "
        "of its 95 % interval?"
    )
    return exercise(id, text, form, None, f"{spread:g} deg times {value / spread:.2f} (chi-square).")


def in_a_row(id, k, n, fails):
    """Ask how often a row of good attempts comes by chance."""
    value, once = 100.0 * row_of_good(k, n, fails / 10.0), 100.0 * (1.0 - fails / 10.0) ** k
    blocks = 100.0 * (1.0 - (1.0 - once / 100.0) ** (n // k))
    form = number(
        value, 6.0, "%", 0.0, 100.0, f"{value:.0f} of 100: a row can begin at any of {n - k + 1} attempts.",
        Misconception("named-before", once, f"So likely it is for {k} attempts that were named beforehand."),
        Misconception("in-blocks", blocks, f"That counts rows that begin at every {k}th attempt only; they may begin "
                                           "at any."),
    )  # fmt: skip
    text = (
        f"A hand fails in {fails:g} attempts of 10 and makes {n}. How likely is it that somewhere among them "
        f"{k} in a row are good [%]?"
    )
    return exercise(id, text, form, None, f"Reckoned attempt by attempt: {value:.1f} %.")


def verdict(id, seed):
    """Ask what a learning curve says of attempts."""
    failed = _series(seed)
    found, walk, watch = learning_curve(failed), learning_walk(Rates()), watch_walk(Rates())
    form = pick(
        {SHOWN: "shown", NOT_YET: "open", LOST: "lost"}[found.state],
        ("shown", "Competence has been shown, and was kept.",
         f"{found.verdict} Add up the counts, from nought again wherever they would fall below it."),
        ("open", "Competence is not shown yet.", f"{found.verdict} What counts is what adds up since it was nought."),
        ("lost", "Competence was shown, and has been lost since.",
         f"{found.verdict} The watch begins at nought when competence has been shown, and adds up failures."),
        otherwise=RECKONED,
    )  # fmt: skip
    tens = " ".join("".join("x" if one else "o" for one in failed[i : i + 10]) for i in range(0, len(failed), 10))
    text = (
        f"{len(failed)} attempts, o good and x failed: {tens}. On the learning-curve chart a good one counts "
        f"{walk.success:+.2f} and a failed one {walk.failure:+.2f}, never below 0; competence has been shown at "
        f"{walk.upper:.2f}. From then on the watch counts {watch.success:+.2f} and {watch.failure:+.2f}, and raises an "
        f"alarm at {watch.upper:.2f}. What do they say in the end?"
    )
    return exercise(id, text, form, None, found.verdict)


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


def cure(id, bias, spread):
    """Ask what helps a hand most."""
    return what_helps(id, "exercise", bias, spread, matter="")


def _one_cures(bias, spread):
    second, first = sorted(one.value for one in cures(bias, spread).values())[-2:]
    return first > second + 0.02


_HABITS = {
    "way": ("Passes towards oneself dip more steeply.", ("away", "towards")),
    "rater": ("One of the two who measured reads more.", ("A", "B")),
    "late": ("The hand has changed: later attempts are steeper.", ("first six", "last six")),
}
_STEEP = 6.0  # [deg] by which a habit shows; attempts spread by a third of it


def habit(id, which, seed):
    """Ask what is behind the attempts of a log."""
    told = _logged(which, seed)
    shifts = _shifts(told)
    most = max(shifts, key=lambda key: abs(shifts[key][1]))
    right = most if abs(shifts[most][1]) > 3.0 else "none"
    said = "; ".join(f"{b} less {a}: {shifts[key][0]:+.1f} deg" for key, (_, (a, b)) in _HABITS.items())
    form = pick(
        right,
        *((key, words, f"Compare the means. {said}.") for key, (words, _) in _HABITS.items()),
        ("none", "Nothing but a hand that is unsteady.", f"Compare the means. {said}."),
        otherwise=RECKONED,
    )
    rows = "; ".join(f"{way}, {rater}, {got:g}" for way, rater, _, got in told)
    text = (
        f"Twelve attempts at a dip of 5 deg, in their order: towards oneself or away, who measured, achieved [deg]: "
        f"{rows}. What is behind them?"
    )
    return exercise(id, text, form, None, f"{said}.")


@functools.cache
def _logged(which, seed):
    """Twelve attempts: way, rater, early or late, and what was achieved; each pair of causes as often together."""
    rng = np.random.default_rng([int(seed), len(which)])
    told = []
    for late in (False, True):
        cells = [(way, rater) for way in _HABITS["way"][1] for rater in _HABITS["rater"][1]] + [
            ("away", "A" if late else "B"), ("towards", "B" if late else "A")]  # fmt: skip
        for way, rater in rng.permutation(cells):
            shows = {"way": way == "towards", "rater": rater == "B", "late": late, "none": False}[which]
            achieved = 5.0 + _STEEP * (shows - 0.5 * (which != "none")) + _STEEP / 3.0 * rng.normal()
            told.append((str(way), str(rater), _HABITS["late"][1][late], round(float(achieved), 1)))
    return tuple(told)


def _shifts(told):
    """By how much the mean of the second group is larger than that of the first, in deg and in standard errors."""
    shifts = {}
    for place, (key, (_, groups)) in enumerate(_HABITS.items()):
        one, two = (np.array([row[3] for row in told if row[place] == group]) for group in groups)
        error = np.sqrt(one.var(ddof=1) / len(one) + two.var(ddof=1) / len(two))
        shifts[key] = float(two.mean() - one.mean()), float((two.mean() - one.mean()) / error)
    return shifts


def _stands_out(which, seed):
    sizes = {key: abs(one) for key, (_, one) in _shifts(_logged(which, seed)).items()}
    own = sizes.pop(which, None)
    return max(sizes.values()) < 1.5 and (own is None or own > 4.0)


def train(id, steep, off, lean):
    """Ask how to spend training on habits and spreads."""
    return training(id, "exercise", steep, off, lean)


_SEEDS = tuple(float(i) for i in range(1, 13))

ITEMS = (
    Item("log.bias", "number", "reckon a bias from aims and what was achieved", "recognise",
         (Span("error", "", tuple(ERRORS)), Span("seed", "", _SEEDS)), bias, _INVENTED, clear=apart),
    Item("log.how-wide", "number", "say how well a spread is known after so many attempts", "foretell",
         (Span("n", "", (6, 8, 10, 12, 15, 20, 25, 30)), Span("spread", "deg", steps(2.0, 5.0, 0.5))), how_wide,
         "chi-square interval of a normal spread", clear=apart),
    Item("log.in-a-row", "number", "foretell how often a row of good attempts comes by chance", "foretell",
         (Span("k", "", (4, 5, 6, 7, 8)), Span("n", "", (20, 30, 40)), Span("fails", "", (2.0, 3.0, 4.0))), in_a_row,
         "reckoned as a Markov chain", clear=apart),
    Item("log.verdict", "choice", "say what a learning curve says", "recognise",
         (Span("seed", "", tuple(float(i) for i in range(1, 61))),), verdict, _INVENTED, _without_doubt),
    Item("log.cure", "choice", "tell what a habit wants from what unsteadiness wants", "foretell",
         (Span("bias", "deg", (2.0, 4.0, 6.0, 8.0)), Span("spread", "deg", (2.0, 3.0, 5.0, 6.0))), cure, _HANDS,
         _one_cures),
    Item("log.habit", "cause", "find in a log what is behind misses", "recognise",
         (Span("which", "", (*_HABITS, "none")), Span("seed", "", _SEEDS)), habit, _INVENTED, _stands_out),
    Item("log.train", "plan", "spend training on what a log shows", "design",
         (Span("steep", "deg", (7.0, 9.0)), Span("off", "mm", (0.4, 0.5)), Span("lean", "deg", (4.0, 5.0))), train,
         _HANDS),
)  # fmt: skip
