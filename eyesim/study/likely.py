"""The likeliest causes of a lens as it was found, which of them cannot be told apart, and what to measure next.

Some of the operations that agree are done once more for each cause, without that one error. The main cause of an
operation is the one without which its lens would lie best.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import must_be, plain_errors, whole
from ..eye.frames import wrap
from .causes import Cause, causes_of, remove_bias
from .error_model import columns
from .estimates import Estimate, weighted_share
from .examination import DIRECTED, MEASURED, SPREADS, measurable, name_words
from .hands import Hands
from .operate import run_operations
from .population import Population
from .random_numbers import seed_of
from .verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .working_back import Reconstruction

_ALIKE = 0.95  # cosine of what two causes do, in errors of measurement, above which it cannot tell them apart
_LIMITS = {"decentration": DECENTRATION_LIMIT, "tilt": TILT_LIMIT, "depth": 0.5, "roll": 20.0}  # last two: chosen
_ONE, _LEAST = 0.8413447460685429, 2.0**-53  # chance at one standard deviation; of no play
_SEEN = 0.25  # product of two effects, in errors of measurement, below which neither is seen
_CHANCES = (0.05, 0.1)  # probabilities below which a cause is not named, and is not called ambiguous


@dataclasses.dataclass(frozen=True, repr=False)
class LikelyCause:
    """One cause, and what speaks for it.

    Attributes
    ----------
    cause : Cause
    probability : Estimate [1]
        That it is the main one; the interval is what the number of operations leaves.
    """

    cause: Cause
    probability: Estimate

    def __repr__(self):
        return f"{self.cause.words} ({100.0 * self.probability.value:.0f} %)"


@dataclasses.dataclass(frozen=True, repr=False)
class NextMeasurement:
    """A further measurement: what it would tell, in bits of the question which cause is the main one."""

    what: str
    bits: float
    sd: float

    def __repr__(self):
        return f"{name_words(self.what)} ({self.bits:.2f} bits)"


@dataclasses.dataclass(frozen=True, repr=False)
class LikelyCauses:
    """What may have led to a lens as it was found.

    Attributes
    ----------
    likely : tuple of LikelyCause
        The likeliest first.
    ambiguous : tuple of (Cause, Cause)
        Pairs that what was measured cannot tell apart.
    measurements : tuple of NextMeasurement
        What was not measured, the most telling first.
    open : float [bits]
        How open the question is which cause is the main one.
    back : Reconstruction
    """

    likely: tuple[LikelyCause, ...]
    ambiguous: tuple
    measurements: tuple[NextMeasurement, ...]
    open: float
    back: Reconstruction

    def __repr__(self):
        named = [one for one in self.likely if one.probability.value >= _CHANCES[0]]
        lines = [f"Likeliest causes: {'; '.join(map(repr, named))}."]
        lines += [f"What was measured cannot tell apart: {'; '.join(one)}." for one in self._groups()]
        if self.measurements and self.measurements[0].bits > 0.05:
            lines.append(f"Next, measuring {self.measurements[0]!r} of {self.open:.2f} still open would show most.")
        else:
            lines.append("No further measurement would show much more.")
        return " ".join(lines)

    def _groups(self):
        """Gather causes, in words, into groups of which no two can be told apart."""
        pairs = {frozenset((one.words, two.words)) for one, two in self.ambiguous}
        groups = []
        for words in (one.cause.words for one in self.likely):
            fits = [group for group in groups if all(frozenset((words, other)) in pairs for other in group)]
            if fits:
                fits[0].append(words)
            else:
                groups.append([words])
        return [group for group in groups if len(group) > 1]


@plain_errors
def likely_causes(back, n=600, rng=1) -> LikelyCauses:
    """Name the likeliest causes of a lens as it was found. Raises LearnerError if it is not what `work_back` gives.

    Parameters
    ----------
    back : Reconstruction
        From `work_back`.
    n : int
        How many of its operations are looked into.
    rng : int or numpy Generator
    """
    must_be("likely_causes", "back", back, Reconstruction)
    whole("likely_causes", "n", n, 50, 5000)
    eye, _, plan, hands = back.setting
    picked = back.sample(n, rng)
    chance = back.chance[picked]
    seen = {name: np.asarray(value)[..., picked] for name, value in measurable(back.done).items()}
    causes = causes_of(hands, eye, plan, parts=True)
    wanted = [name for name in back.found.measured if name in _LIMITS] or list(DIRECTED)
    planned = _planned(back)
    lies = _badly(seen, planned, wanted)
    gain = np.array([lies - _badly(_without(back.setting, one, chance), planned, wanted) for one in causes])
    main = np.argmax(np.where(np.isnan(gain), -np.inf, gain), axis=0)
    counts = np.bincount(main, minlength=len(causes))
    worth = max(1, min(n, round(back.effective)))
    found = [LikelyCause(one, weighted_share(count / n, worth)) for one, count in zip(causes, counts, strict=True)]
    ranked = tuple(sorted(found, key=lambda one: -one.probability.value))
    named = [one.cause for one in ranked if one.probability.value >= _CHANCES[1]]
    measurements = _measurements(back.found, seen, main, np.random.default_rng([seed_of(rng), 2]))
    return LikelyCauses(ranked, _ambiguous(back, named), measurements, _bits(main), back)


def _without(setting, cause, chance):
    """Do the same operations without one error; return what could be measured then."""
    eye, lens, plan, hands = setting
    chance, place = chance.copy(), {i: name for i, name in enumerate(columns())}
    for column in cause.columns:
        chance[:, column] = _LEAST if place.get(column, "").startswith("play.") else 0.5
    if cause.name == "eyes":
        eye = eye.mean_eye()
    return measurable(_run(eye, lens, plan, remove_bias(hands, cause.name), chance))


def _run(eye, lens, plan, hands, chance):
    return run_operations(eye, lens, plan, hands, len(chance), lambda a, b: chance[a:b], 0, "random", progress=False)


def _planned(back):
    """Return what would have been measured had all gone as planned, by name; columns of one case."""
    eye, lens, plan, _ = back.setting
    typical = eye.mean_eye() if isinstance(eye, Population) else eye
    return measurable(_run(typical, lens, plan, Hands.perfect(), np.full((1, len(columns())), 0.5)))


def _badly(seen, planned, wanted):
    """How badly lenses lie: squares of what they are off by, in limits."""
    total = 0.0
    for name in wanted:
        miss = seen[name] - planned[name]
        miss = wrap(miss + 180.0) - 180.0 if name == "roll" else miss
        total = total + np.sum(np.atleast_2d(miss / _LIMITS[name]) ** 2, axis=0)
    return total


def _ambiguous(back, causes):
    """Pairs of causes of which each does what the other does, as far as it was measured."""
    eye, _, plan, _ = back.setting
    middle = np.full((1, back.chance.shape[1]), 0.5)
    at_rest = _effect(back, middle)
    effects = []
    for cause in causes:
        rows = np.repeat(middle, len(cause.columns), axis=0)
        rows[np.arange(len(rows)), list(cause.columns)] = _ONE
        effects.append(_effect(back, rows) - at_rest)
    pairs = []
    for i, one in enumerate(effects):
        pairs += [(causes[j], causes[i]) for j in range(i) if _alike(one, effects[j])]
    return tuple(pairs)


def _effect(back, chance):
    """Return what is measured, in errors of measurement, one row an operation."""
    found, rows = back.found, []
    seen = measurable(_run(*back.setting, chance))
    for name in found.measured:
        value = seen[name]
        if name in DIRECTED and getattr(found, f"{name}_meridian") is None:
            value = np.hypot(*value)
        rows += list(np.atleast_2d(value / getattr(found, SPREADS[name])))
    return np.array(rows).T


def _alike(one, two):
    sizes = np.linalg.norm(one, axis=1)[:, None] * np.linalg.norm(two, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        cosines = np.abs(one @ two.T) / sizes
    return bool(np.any(cosines[sizes > _SEEN] > _ALIKE))


def _measurements(found, seen, main, generator):
    """Further measurements, the most telling first."""
    ranked = []
    for name in MEASURED:
        sd = getattr(found, SPREADS[name])
        new = name not in found.measured
        direction = name in DIRECTED and not new and getattr(found, f"{name}_meridian") is None
        if not new and not direction:
            continue
        values = np.atleast_2d(seen[name])
        again = values + sd * generator.standard_normal(values.shape)
        what = f"direction of the {name}" if direction else name
        ranked.append(NextMeasurement(what, _information(values / sd, again / sd, main), sd))
    return tuple(sorted(ranked, key=lambda one: -one.bits))


def _information(values, again, main):
    """Information [bits] that a measurement gives on which cause is the main one.

    Entropy before, less cross-entropy after. Each operation is judged by all others, never by itself.
    """
    known = np.isfinite(values).all(axis=0)
    values, again, main = values[:, known], again[:, known], main[known]
    near = np.exp(-0.5 * np.sum((again[:, :, None] - values[:, None, :]) ** 2, axis=0))
    np.fill_diagonal(near, 0.0)
    same = main[:, None] == main[None, :]
    chance = (np.sum(near * same, axis=1) + 1e-9) / (np.sum(near, axis=1) + 1e-9)
    return max(0.0, _bits(main) + float(np.mean(np.log2(np.maximum(chance, 1.0 / len(main))))))


def _bits(main):
    shares = np.bincount(main)[np.unique(main)] / len(main)
    return float(max(0.0, -np.sum(shares * np.log2(shares))))
