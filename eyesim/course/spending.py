"""Points of training: spent as well as can be found, read from an answer, and judged against the best."""

from __future__ import annotations

from ..eye.checks import LearnerError
from .reading import read_dict, read_number

POINTS, GAIN = 10, 0.88
"""Points of training to spend, and what a point leaves of a spread [1]. Chosen for teaching."""


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
