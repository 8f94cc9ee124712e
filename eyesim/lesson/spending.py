"""Points of training: what they come to in lenses within limits, spent as well as can be found, and judged against it.

Three exercises ask how to spend them; they differ in what can be trained, and in the hand that is::

    training = Training(("mark", "dip"), hands_after, "{'mark': 4, 'dip': 6}")
    training.share((4, 6), 0.4, 5.0)      # of lenses, an Estimate
    training.best(0.4, 5.0)               # the best that was found: Estimate, and its points
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable

import numpy as np

from ..eye.checks import LearnerError
from ..study.estimates import share
from ..study.hands import Hands
from ..study.operate import operate
from ..text.reading import read_dict, read_number
from .cases import EYE, FIRST, LENS, SECOND
from .question import Feedback, Plan

POINTS, GAIN = 10, 0.88
"""Points of training to spend, and what a point leaves of a spread [1]. Chosen for teaching."""


@dataclasses.dataclass(frozen=True)
class Training:
    """What can be trained, and what it comes to; always seen on the same draws, with the usual plan.

    Attributes
    ----------
    kinds : tuple of str
        What points can be spent on, by the words that a learner writes.
    after : callable
        Of a tuple with one number of points for each kind: the hands afterwards.
    example : str
        An answer, as a learner may write it.
    draws : int
        Operations.
    """

    kinds: tuple[str, ...]
    after: Callable
    example: str
    draws: int = 1000

    @property
    def none(self):
        """Not a point spent."""
        return (0,) * len(self.kinds)

    @property
    def even(self):
        """All points, spent as evenly as they can be; what can be trained first gets one more."""
        return evenly(len(self.kinds))

    def share(self, spent, off, lean):
        """Share of lenses within limits [mm], [deg] after so many points on each kind, an `Estimate`."""
        shift, tilt = _lying(self, tuple(spent))
        return share(int(np.sum((shift <= off) & (tilt <= lean))), self.draws)

    def best(self, off, lean):
        """Share and points of the best spending that was found: each where it does most, then moved."""
        spent = _best(self, off, lean)
        return self.share(spent, off, lean), spent

    def form(self, off, lean, slip, words):
        """Form in which points are spent, a `Plan`.

        Parameters
        ----------
        off, lean : float [mm], [deg]
            Limits.
        slip : callable
            Of the points by kind of an answer that is not good enough: a reason, and the name of a misconception or
            None.
        words : iterable of str
            What each kind is called, in a form with fields.
        """
        return Plan(
            f"Answer with points, whole and {POINTS} in all, such as {self.example}.",
            functools.partial(self._judge, off, lean, slip),
            {kind: f"{one[0].upper()}{one[1:]} [points]" for kind, one in zip(self.kinds, words, strict=True)},
        )

    def _judge(self, off, lean, slip, answer):
        spent = read_spending(answer, self.kinds, self.example)
        (best, _), got = self.best(off, lean), self.share(spent, off, lean)
        none, even = self.share(self.none, off, lean), self.share(self.even, off, lean)
        head = (
            f"{100 * got.value:.0f} % lie within; without training it was {100 * none.value:.0f} %, evenly spent "
            f"{100 * even.value:.0f} %, with the best that was found {100 * best.value:.0f} %."
        )
        if got.value >= full_marks_from(best):
            return Feedback(True, 1.0, f"{head}")
        words, misconception = slip(dict(zip(self.kinds, spent, strict=True)))
        return Feedback(False, credit_for(got, none, best), f"{head} {words}", misconception)


@functools.lru_cache(maxsize=1024)
def _lying(training, spent):
    pose = operate(EYE, LENS, FIRST, SECOND, training.after(spent), n=training.draws, rng=3, progress=False).pose
    return pose.decentration, pose.tilt


@functools.cache
def _best(training, off, lean):
    return best_spending(len(training.kinds), lambda one: training.share(one, off, lean).value)


def steadier(errors, spent):
    """Return the usual hands with so many points spent on the spread of each error."""
    hands = Hands()
    for name, points in zip(errors, spent, strict=True):
        hands = hands.scaled(GAIN**points, name)
    return hands


def evenly(kinds):
    """Spend all points on so many kinds as evenly as can be; the first ones get one more."""
    each, more = divmod(POINTS, kinds)
    return tuple(each + (i < more) for i in range(kinds))


def best_spending(kinds, value):
    """Find a spending of `POINTS` over several kinds with a large value: each where it does most, then moved.

    Parameters
    ----------
    kinds : int
    value : callable
        Of a tuple with one number of points for each kind; larger is better.

    Returns
    -------
    tuple of int
    """
    spent = (0,) * kinds
    for _ in range(POINTS):
        tried = [tuple(n + (i == k) for i, n in enumerate(spent)) for k in range(kinds)]
        spent = max(tried, key=value)
    for _ in range(POINTS):
        moved = [
            tuple(n + (i == to) - (i == away) for i, n in enumerate(spent))
            for away in range(kinds) for to in range(kinds) if away != to and spent[away]
        ]  # fmt: skip
        better = max(moved, key=value)
        if value(better) <= value(spent):
            break
        spent = better
    return spent


def read_spending(answer, names, example):
    """Points of an answer, one number for each of the names; what is not named gets none.

    Parameters
    ----------
    answer : dict
    names : iterable of str
    example : str
        An answer, for the message.

    Returns
    -------
    tuple of int

    Raises
    ------
    LearnerError
        If a name is unknown, or they are not whole points, `POINTS` at most.
    """
    names = list(names)
    given = read_dict(answer, names, example)
    points = [read_number(given.get(name, 0), "") for name in names]
    if any(n < 0 or n != int(n) for n in points) or sum(points) > POINTS:
        raise LearnerError(f"Points are whole numbers from 0 on, {POINTS} in all; such as {example}.")
    return tuple(int(n) for n in points)


def full_marks_from(best):
    """Value from which a spending is as good as the best, an `Estimate`: a quarter of what chance leaves below it.

    All are seen on the same draws, so that little between them is left to chance.
    """
    return best.value - 0.25 * (best.value - best.low)


def credit_for(got, none, best):
    """Credit [1] for a spending short of full marks: the way from no training that it comes, of three `Estimate`s."""
    way = (got.value - none.value) / (full_marks_from(best) - none.value)
    return min(max(way, 0.0), 0.95)
