"""Points spent as well as can be found: each where it does most, then moved for as long as that helps."""

from __future__ import annotations


def best_spending(kinds, points, value):
    """Find a spending of whole points over several kinds with a large value.

    Parameters
    ----------
    kinds, points : int
    value : callable
        Of a tuple with one number of points for each kind; larger is better.

    Returns
    -------
    tuple of int
    """
    spent = (0,) * kinds
    for _ in range(points):
        tried = [tuple(n + (i == k) for i, n in enumerate(spent)) for k in range(kinds)]
        spent = max(tried, key=value)
    for _ in range(points):
        moved = [
            tuple(n + (i == to) - (i == away) for i, n in enumerate(spent))
            for away in range(kinds) for to in range(kinds) if away != to and spent[away]
        ]  # fmt: skip
        better = max(moved, key=value)
        if value(better) <= value(spent):
            break
        spent = better
    return spent
