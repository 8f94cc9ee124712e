"""Whose error was it? What comes from which cause, and which error would be the first to halve.

`blame` tells apart the variance: alone (first order) and with all that a cause does together with others (total).
`halve` asks the plain question by simulation: the same operations once more, with one error half as large.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, known_name, plain_errors
from .causes import Cause, causes_of, scale_cause
from .compare import mean_gained, share_gained
from .estimates import Estimate, share, sobol_indices
from .operate import chance_width, check, operate, run_operations
from .outcomes import Outcomes
from .random_numbers import numbers, seed_of
from .vision import PUPIL

QUANTITIES = ("decentration", "tilt", "depth", "refraction", "cylinder")
"""What can be blamed on something. Decentration, tilt and cylinder are taken with their directions."""
_LYING = QUANTITIES[:3]


@dataclasses.dataclass(frozen=True, repr=False)
class Blame:
    """Which part of the variance of each quantity comes from which cause.

    Attributes
    ----------
    causes : tuple of Cause
    first, total : dict
        Quantity to {name of a cause: `Estimate` [1]}: alone, and with all that it does together with others.
    n : int
        Operations in each of the tables of chance that are compared.
    settled : Estimate [1]
        Share of operations that settled; those which did not are left out, with their partners.
    """

    causes: tuple[Cause, ...]
    first: dict
    total: dict
    n: int
    settled: Estimate

    def main(self, quantity):
        """Causes from the largest part on, as pairs (Cause, Estimate of the total index)."""
        known_name("Blame", quantity, list(self.total))
        found = self.total[quantity]
        return sorted(((one, found[one.name]) for one in self.causes), key=lambda pair: -pair[1].value)

    def __repr__(self):
        lines = []
        for quantity in self.total:
            parts = [f"{one.words} {part.text('.0%')}" for one, part in self.main(quantity) if part.value >= 0.05][:4]
            lines.append(f"{quantity.capitalize()} comes from {'; '.join(parts)}.")
        if self.settled.value < 1.0:
            lines.append(f"{100.0 * self.settled.value:.0f} % of the operations settled; these shares are of those.")
        return "\n".join(lines)


@dataclasses.dataclass(frozen=True, repr=False)
class Halving:
    """What is gained when one cause is halved.

    Attributes
    ----------
    cause : str
    words : str
    share : Estimate [1]
        Gain in the share within limits.
    decentration, tilt : Estimate [mm], [deg]
        Change of the means; negative is better.
    """

    cause: str
    words: str
    share: Estimate
    decentration: Estimate
    tilt: Estimate

    def __repr__(self):
        return f"{self.words} halved: {100.0 * self.share.value:+.1f} points within limits"


@plain_errors
def blame(
    eye,
    lens,
    first,
    second,
    hands,
    of=QUANTITIES,
    n=2048,
    rng=1,
    draws="sobol",
    progress=None,
    *,
    parts=False,
    pupil=PUPIL,
    power=None,
) -> Blame:
    """Tell from which causes the variance of each quantity comes.

    Raises LearnerError if something given is not what it should be, or nothing varies.

    Parameters
    ----------
    eye : Eye or Population
    lens : Lens
    first, second : Fixation
        The plan.
    hands : Hands
    of : tuple of str
        Some of `QUANTITIES`. What is seen takes longer than how a lens lies.
    n : int
        Operations in each table of chance; there are two more tables than causes.
    rng, draws, progress, pupil, power
        As for `operate`.
    parts : bool
        Tell the first side, the second side and what both have in common apart.
    """
    of = _quantities(of)
    check(eye, lens, first, second, hands, n, draws, 4096)
    if n < 256:
        raise LearnerError(f"blame: n is at least 256, since parts of a variance need many cases; {n} was given.")
    causes = causes_of(hands, eye, (first, second), parts=parts)
    if not causes:
        raise LearnerError("Nothing is to blame: these hands do exactly what was planned, in one eye.")
    seed, width = seed_of(rng), chance_width(eye)
    rows = _Tables(causes, n, width, seed, draws)
    done = run_operations(
        eye, lens, (first, second), hands, rows.n, rows, seed, draws, pupil=pupil, power=power, progress=progress
    )
    values = {name: _values(done, name).reshape(-1, len(causes) + 2, n).transpose(1, 2, 0) for name in of}
    alone, total = {}, {}
    for name, (a, b, *mixed) in values.items():
        found = sobol_indices(a, b, np.array(mixed), replicates=draws == "sobol")
        alone[name], total[name] = (dict(zip([c.name for c in causes], one, strict=True)) for one in found)
    settled = int(done.pose.settled[: 2 * n].sum())
    return Blame(causes, alone, total, n, share(settled, 2 * n, conservative=draws == "sobol"))


@plain_errors
def halve(
    eye, lens, first, second, hands, n=4096, rng=1, draws="sobol", progress=None, *, decentration=None, tilt=None
):
    """Operate once more for each cause, with that one halved and all chance as before.

    Parameters
    ----------
    eye, lens, first, second, hands, n, rng, draws, progress
        As for `operate`.
    decentration, tilt : float or None [mm], [deg]
        Limits within which a lens lies well; None takes those of `Outcomes.share`.

    Returns
    -------
    tuple of Halving
        The one that gains most first.
    """
    seed = seed_of(rng)
    limits = {name: value for name, value in (("decentration", decentration), ("tilt", tilt)) if value is not None}
    usual = operate(eye, lens, first, second, hands, n, seed, draws, progress)
    found = []
    for cause in causes_of(hands, eye, (first, second)):
        if cause.name == "eyes":
            continue
        better = scale_cause(hands, cause.name, 0.5)
        after = operate(eye, lens, first, second, better, n, seed, draws, progress)
        changes = [mean_gained(usual, after, what) for what in ("decentration", "tilt")]
        found.append(Halving(cause.name, cause.words, share_gained(usual, after, **limits), *changes))
    return tuple(sorted(found, key=lambda one: -one.share.value))


class _Tables:
    """Rows of chance: those of A, of B, and of A with the columns of each cause from B, one table after another."""

    def __init__(self, causes, n, width, seed, draws):
        self.causes, self.each, self.width = causes, n, width
        self.seed, self.draws = seed, draws
        self.n = n * (len(causes) + 2)

    def __call__(self, start, stop):
        parts = []
        while start < stop:
            table, row = divmod(start, self.each)
            last = min(self.each, row + stop - start)
            parts.append(self._rows(table, row, last))
            start += last - row
        return np.concatenate(parts)

    def _rows(self, table, start, stop):
        both = numbers(start, stop, 2 * self.width, self.seed, self.draws)
        a, b = both[:, : self.width], both[:, self.width :]
        if table < 2:
            return (a, b)[table]
        mixed = a.copy()
        columns = list(self.causes[table - 2].columns)
        mixed[:, columns] = b[:, columns]
        return mixed


def _values(done: Outcomes, name):
    """Quantity of all cases, its components on the first axis; NaN where there is none."""
    pose = done.pose
    if name == "decentration":
        return np.stack([pose.x, pose.y])
    if name == "tilt":
        towards = np.radians(pose.tilt_meridian)
        return pose.tilt * np.stack([np.cos(towards), np.sin(towards)])
    if name == "depth":
        return np.asarray(pose.z)[None]
    return np.stack([done.sight.J0, done.sight.J45]) if name == "cylinder" else done.values("surprise")[None]


def _quantities(of):
    of = (of,) if isinstance(of, str) else tuple(of)
    for name in of:
        known_name("blame", name, list(QUANTITIES))
    if not of:
        raise LearnerError(f"blame: of names what is to be explained, such as {', '.join(_LYING)}.")
    return of
