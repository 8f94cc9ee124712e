"""Points of training: what they come to in lenses within limits, and how they are spent best.

Three exercises ask for a spending; they differ in what can be trained, and in whose hands they are. All spendings are
seen on the same operations. The best is looked for among all: what each kind of training does to each of these lenses,
trained alone, is added up for every spending, and the few that then promise most are simulated in full.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
from collections.abc import Callable

import numpy as np

from ..eye.checks import LearnerError
from ..study.estimates import share
from ..study.examination import measurable
from ..study.hands import Hands
from ..study.operate import operate
from ..text.reading import read_dict, read_number
from .build import ERRORS, EYE, FIRST, LENS, SECOND, build, error_words, partly, pose_of
from .question import Feedback, Plan

POINTS, GAIN = 10, 0.88
"""Points of training to spend, and what a point leaves of a spread [1]. Chosen for teaching."""
_PROMISING = 12  # spendings that are simulated in full


@dataclasses.dataclass(frozen=True)
class Training:
    """What can be trained, and what it comes to with the usual plan.

    Attributes
    ----------
    kinds : tuple of str
        What points can be spent on, by the words that a learner writes.
    words : tuple of str
        What each kind is called.
    hands : callable
        Of a tuple with what is left of each kind [1]: the hands afterwards.
    slip : callable
        Of the points by kind of an answer short of full marks: a reason, and the name of a misconception or None.
    example : str
        An answer, as a learner may write it; a poor one.
    leaves : tuple of float [1]
        What a point leaves of each kind; () for `GAIN` of each.
    draws : int
        Operations.
    """

    kinds: tuple[str, ...]
    words: tuple[str, ...]
    hands: Callable
    slip: Callable
    example: str
    leaves: tuple[float, ...] = ()
    draws: int = 1000

    @property
    def none(self):
        """Not a point spent."""
        return (0,) * len(self.kinds)

    @property
    def even(self):
        """All points, spent as evenly as they can be; what can be trained first gets one more."""
        each, more = divmod(POINTS, len(self.kinds))
        return tuple(each + (i < more) for i in range(len(self.kinds)))

    def left(self, spent):
        """Give what points, in the last axis, leave of each kind [1]."""
        return np.array(self.leaves or [GAIN] * len(self.kinds)) ** np.asarray(spent)

    def share(self, spent, off, lean):
        """Share of lenses within limits after so many points on each kind.

        Parameters
        ----------
        spent : sequence of int
        off, lean : float [mm], [deg]

        Returns
        -------
        Estimate
        """
        return share(_within(_places(self, tuple(spent)), off, lean), self.draws)

    def best(self, off, lean):
        """Share of the best spending that was found, an `Estimate`, and its points; limits [mm], [deg]."""
        spent = max(_promising(self, off, lean), key=lambda one: self.share(one, off, lean).value)
        return self.share(spent, off, lean), spent

    def full_marks_from(self, off, lean):
        """Whole per cent of lenses within limits [mm], [deg] from which a spending is as good as the best.

        It lies below the best by a quarter of what chance leaves below it, rounded down: all are seen on the same
        operations, so that little between them is left to chance.
        """
        best, _ = self.best(off, lean)
        return int(100.0 * (best.value - 0.25 * (best.value - best.low)))

    def judge(self, off, lean, answer):
        """Feedback on an answer, by the whole percentages that are printed.

        Parameters
        ----------
        off, lean : float [mm], [deg]
        answer : object
        """
        spent = self.read(answer)
        (best, _), enough = self.best(off, lean), self.full_marks_from(off, lean)
        none, even, reached = (_percent(self.share(one, off, lean)) for one in (self.none, self.even, spent))
        head = (
            f"{reached} % lie within; without training it was {none} %, evenly spent {even} %, with the best that was "
            f"found {_percent(best)} %."
        )
        if reached >= enough:
            return Feedback(True, 1.0, head)
        words, misconception = self.slip(dict(zip(self.kinds, spent, strict=True)))
        return partly((reached - none) / (enough - none), f"{head} {words}", misconception)

    def read(self, answer):
        """Points of an answer, one number for each kind; what is not named gets none.

        Raises LearnerError if a name is unknown, or they are not whole points, `POINTS` at most.
        """
        given = read_dict(answer, list(self.kinds), self.example)
        points = [read_number(given.get(name, 0), "") for name in self.kinds]
        if any(n < 0 or n != int(n) for n in points) or sum(points) > POINTS:
            raise LearnerError(f"Points are whole numbers from 0 on, {POINTS} in all; such as {self.example}.")
        return tuple(int(n) for n in points)


def ask_spending(id, training, off, lean, text, reasoning, wrong, scenes=()):
    """Ask how to spend points of training.

    Parameters
    ----------
    id : str
    training : Training
    off, lean : float [mm], [deg]
        Limits.
    text : str
        Whose hands they are, and what a point does.
    reasoning : str
        What the best spending teaches.
    wrong : dict
        Misconception name to the points by kind that show it.
    scenes : tuple of Scene
    """
    best, spent = training.best(off, lean)
    none, even = (_percent(training.share(one, off, lean)) for one in (training.none, training.even))
    names = ", ".join(f"{kind} ({words})" for kind, words in zip(training.kinds, training.words, strict=True))
    form = Plan(
        f"Answer with points, whole and {POINTS} in all, such as {training.example}. The names are {names}.",
        functools.partial(training.judge, off, lean),
        {
            kind: f"{words[0].upper()}{words[1:]} [points]"
            for kind, words in zip(training.kinds, training.words, strict=True)
        },
    )
    text = (
        f"{text} Untrained, {none} % of the lenses lie within {off:g} mm and {lean:g} deg; with the points spent "
        f"evenly, {even} %. Do better. Full marks from {training.full_marks_from(off, lean)} %."
    )
    answer = dict(zip(training.kinds, spent, strict=True))
    reasoning = f"The best that was found keeps {best.text('.0%')}: {answer}. {reasoning}"
    wrong = {name: dict.fromkeys(training.kinds, 0) | points for name, points in wrong.items()}
    return build(id, text, form, pose_of(), reasoning, label="As planned", scenes=scenes, answer=answer, wrong=wrong)


def steadiness(errors, slip, example, draws=1000):
    """Training of the usual hands, which takes off the spreads of some errors.

    Parameters
    ----------
    errors : tuple of str
        Of `build.ERRORS`.
    slip, example, draws
        As of `Training`.

    Returns
    -------
    Training
    """
    hands = functools.partial(_steadier, errors)
    return Training(errors, tuple(map(error_words, errors)), hands, slip, example, draws=draws)


def _steadier(errors, left):
    hands = Hands()
    for error, factor in zip(errors, left, strict=True):
        hands = hands.scale(float(factor), ERRORS[error])
    return hands


@functools.lru_cache(maxsize=1024)
def _places(training, spent):
    """Where lenses lie after so many points: x, y [mm] and tilt along x, y [deg] of each operation, (4, draws)."""
    hands = training.hands(training.left(spent))
    lenses = measurable(operate(EYE, LENS, FIRST, SECOND, hands, n=training.draws, rng=3, progress=False))
    return np.concatenate([lenses["decentration"], lenses["tilt"]])


def _within(places, off, lean):
    x, y, tilt_x, tilt_y = places
    return int(np.sum((np.hypot(x, y) <= off) & (np.hypot(tilt_x, tilt_y) <= lean)))


@functools.cache
def _promising(training, off, lean):
    """Spendings that keep most lenses within limits if what each kind does simply adds up, the best first."""
    kinds, untrained = len(training.kinds), _places(training, training.none)
    alone = np.array([_places(training, one) for one in map(tuple, POINTS * np.eye(kinds, dtype=int))]) - untrained
    spendings = _spendings(kinds)
    parts = (1.0 - training.left(spendings)) / (1.0 - training.left(np.full(kinds, POINTS)))
    counts = [_within(untrained + np.tensordot(part, alone, 1), off, lean) for part in parts]
    return [tuple(map(int, spendings[i])) for i in np.argsort(counts, kind="stable")[::-1][:_PROMISING]]


@functools.cache
def _spendings(kinds):
    """Every way to spend all points over so many kinds, (ways, kinds)."""
    ends = itertools.combinations(range(POINTS + kinds - 1), kinds - 1)
    return np.diff([(-1, *one, POINTS + kinds - 1) for one in ends], axis=1) - 1


def _percent(estimate):
    return round(100.0 * estimate.value)
