"""Where the first degree or millimetre is cheapest: each error taken off step by step, with all chance as before.

Halving asks of each error a price of its own: half of a large one is more work than half of a small one. Here the same
step is taken off each, one degree or a tenth of a millimetre; and the last step, too, since it does not bring the same.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, known_name, plain_errors, short, whole
from ..eye.progress import progress_bar
from .causes import WORDS, errors_of, scale_cause, size_of
from .compare import share_gained
from .estimates import Estimate, holds_zero, per_hundred
from .operate import check, operate
from .random_numbers import seed_of
from .verdict import DECENTRATION_LIMIT, TILT_LIMIT

STEP = {"deg": 1.0, "mm": 0.1}
"""What is taken off first, and last [deg], [mm]; chosen for teaching. The two have no common price."""
UNIT_WORDS = {"deg": "degree", "mm": "tenth of a millimetre"}
_MOST = 50


@dataclasses.dataclass(frozen=True, repr=False)
class Reduction:
    """What is gained as one error goes.

    Attributes
    ----------
    cause, words : str
        Its name, and what it is called.
    size, step : float [unit]
        How large it is, see `causes.size_of`; and how much of it the first step, and the last, takes off: `STEP`, or
        all of an error that is smaller.
    unit : "deg" or "mm"
    left : tuple of float [1]
        How much of it is left, from 1 to 0; the ends of the first and the last step are among them.
    gains : tuple of Estimate [1]
        Gain in the share within limits at each of these, paired.
    first, last : Estimate [1]
        Gain of the first step, and of the last one, all other errors as they are.
    """

    cause: str
    words: str
    size: float
    step: float
    unit: str
    left: tuple[float, ...]
    gains: tuple[Estimate, ...]
    first: Estimate
    last: Estimate

    @property
    def whole(self):
        """Whether one step takes all of it."""
        return self.step >= self.size

    @property
    def off(self):
        """How much of it is taken off [unit], at each of `left`."""
        return tuple(self.size * (1.0 - one) for one in self.left)

    def __repr__(self):
        if self.whole:
            gain = per_hundred(self.first).text("+.1f")
            return f"{self.words}, all {self.size:.2g} {self.unit} of it: {gain} lenses of 100"
        first, last = (per_hundred(one).text("+.1f") for one in (self.first, self.last))
        return f"{self.words}: first {UNIT_WORDS[self.unit]} {first} lenses of 100, last {last}"


@dataclasses.dataclass(frozen=True, repr=False)
class Steps:
    """What each error gives as it is taken off step by step.

    Attributes
    ----------
    errors : tuple of Reduction
        Those in degrees, then those in millimetres; of each, the one whose first step gains most first.
    ahead : dict
        Unit to `Estimate` [1]: by how much the first step of the first gains more than that of the second, paired.
        Which two these are was chosen by the same draws.
    usual : Estimate [1]
        Share within limits before anything is taken off.
    limits : pair of float [mm], [deg]
    n : int
    """

    errors: tuple[Reduction, ...]
    ahead: dict
    usual: Estimate
    limits: tuple[float, float]
    n: int

    def measured_in(self, unit):
        """Errors in "deg" or in "mm", the one whose first step gains most first."""
        return tuple(one for one in self.errors if one.unit == unit)

    def __repr__(self):
        within = f"within {self.limits[0]:g} mm and {self.limits[1]:g} deg"
        parts = [self._cheapest(unit) for unit in STEP if self.measured_in(unit)]
        return f"Of 100 lenses {100.0 * self.usual.value:.1f} lie {within}. {' '.join(parts)}"

    def _cheapest(self, unit):
        best, *others = self.measured_in(unit)
        every = f" (all {best.size:.2g} {unit} there is)" if best.whole else ""
        last = "" if best.whole else f"; the last one there, {per_hundred(best.last).text('+.1f')}"
        text = f"Cheapest first {UNIT_WORDS[unit]}: {best.words}{every}, {per_hundred(best.first).text('+.1f')}{last}."
        if not others:
            return text
        gap = self.ahead[unit]
        apart = "cannot be told apart, behind by" if holds_zero(gap) else "behind by"
        return f"{text} Next: {others[0].words}, {apart} {per_hundred(gap).text('.1f')}."


@plain_errors
def lessen(
    eye,
    lens,
    first,
    second,
    hands,
    causes=None,
    n=2048,
    rng=1,
    draws="sobol",
    progress=None,
    *,
    steps=4,
    decentration=None,
    tilt=None,
) -> Steps:
    """Take each error off step by step, and tell what the first degree or tenth of a millimetre gains, and the last.

    Raises LearnerError if something given is not what it should be, or these hands have no such error.

    Parameters
    ----------
    eye, lens, first, second, hands, n, rng, draws, progress
        As for `operate`.
    causes : None, str or list of str
        Errors to be taken off, such as "iris_angle", "marker" or "play"; None takes all that these hands have.
    steps : int
        Even steps from all of an error to none, 1 to 50, besides the first and the last one.
    decentration, tilt : float or None [mm], [deg]
        Limits within which a lens lies well; None takes those of `Outcomes.share`.

    Notes
    -----
    Bias, spread and shared part of an error are all taken off in proportion, and a step is a step of its root mean
    square on one side (`causes.size_of`). So where most of an error is alike on both sides, as with marks, a step off
    it takes little off what differs; `hands.but` without the shared part tells what a step off that gains.
    """
    check(eye, lens, first, second, hands, n, draws, 4096)
    names = _wanted(causes, hands, lens, (first, second))
    whole("lessen", "steps", steps, 1, _MOST)
    limits = (DECENTRATION_LIMIT if decentration is None else decentration, TILT_LIMIT if tilt is None else tilt)
    walks = {name: _walk(*size_of(hands, name, lens), steps) for name in names}
    seed = seed_of(rng)
    runs = 1 + sum(len(walk) - 1 for walk in walks.values())
    with progress_bar(words="hands", unit="hands", total=runs, shown=progress) as bar:

        def done(better):
            outcomes = operate(eye, lens, first, second, better, n, seed, draws, progress=False)
            bar.update()
            return outcomes

        usual = done(hands)
        share = usual.share(*limits)
        found = []
        for name, walk in walks.items():
            runs = {left: done(scale_cause(hands, name, left)) if left < 1.0 else usual for left in walk}
            found.append(_lessened(name, *size_of(hands, name, lens), runs, limits))
    found.sort(key=lambda pair: (list(STEP).index(pair[0].unit), -pair[0].first.value))
    return Steps(tuple(one for one, _ in found), _ahead(found, limits), share, limits, n)


def _wanted(causes, hands, lens, plan):
    """Names of the errors to be taken off, as they were asked for."""
    there = errors_of(hands, lens, plan)
    if not there:
        raise LearnerError("There is nothing to take off: these hands do exactly what was planned.")
    asked = there if causes is None else [causes] if isinstance(causes, str) else causes
    if not isinstance(asked, (list, tuple)) or not asked:
        raise LearnerError(f"lessen: causes names errors, such as {', '.join(there[:3])}; {short(causes)} was given.")
    for name in asked:
        known_name("lessen", name, [one for one in WORDS if one != "eyes"])
        if name not in there:
            raise LearnerError(
                f"There is nothing to take off {name} ({WORDS[name]}): with this plan these hands err in "
                f"{', '.join(there)}."
            )
    return list(dict.fromkeys(asked))


def _knots(size, unit):
    """How much is left after the first step, and before the last."""
    part = min(STEP[unit] / size, 1.0)
    return 1.0 - part, part


def _walk(size, unit, steps):
    """How much is left at each place on the way, from all to nothing."""
    even = np.linspace(0.0, 1.0, steps + 1).tolist()
    return sorted({*even, *_knots(size, unit)}, reverse=True)


def _lessened(name, size, unit, runs, limits):
    """One error's gains, and what came of its first step."""
    usual, none = runs[1.0], runs[0.0]
    after, before = (runs[left] for left in _knots(size, unit))
    gains = tuple(share_gained(usual, one, *limits) for one in runs.values())
    first, last = share_gained(usual, after, *limits), share_gained(before, none, *limits)
    step = min(STEP[unit], size)
    return Reduction(name, WORDS[name], size, step, unit, tuple(runs), gains, first, last), after


def _ahead(found, limits):
    """By how much the best first step of each unit gains more than the next."""
    leading = {unit: [after for one, after in found if one.unit == unit][:2] for unit in STEP}
    return {unit: share_gained(pair[1], pair[0], *limits) for unit, pair in leading.items() if len(pair) == 2}
