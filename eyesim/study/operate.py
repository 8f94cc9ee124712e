"""Operate many times: the same plan, the same hands, and every time it comes out differently."""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, element, plain_errors
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..eye.progress import progress_bar
from ..hold.needle import Fixation
from ..hold.settle import settle
from .attempt import attempt
from .error_model import columns
from .hands import Hands
from .outcomes import Outcomes
from .population import Population
from .random_numbers import KINDS, numbers, seed_of
from .store import Store
from .vision import PUPIL, checked_light

_MOST = 10_000_000
_SCOUTS = 256


@plain_errors
def operate(
    eye,
    lens,
    first,
    second,
    hands,
    n=10_000,
    rng=1,
    draws="random",
    progress=None,
    *,
    pupil=PUPIL,
    target=None,
    power=None,
    block=4096,
):
    """Do a planned operation n times with given hands.

    Parameters
    ----------
    eye : Eye or Population
        One eye operated on n times, or n eyes drawn from a population.
    lens : Lens
    first, second : Fixation
        The plan: what is aimed at.
    hands : Hands
    n : int
    rng : int or numpy Generator
        The same seed gives the same operations, bit by bit, and the first ones of a longer run.
    draws : "random" or "sobol"
        Pseudo-random numbers, or scrambled Sobol' points in independent randomisations (smoother estimates).
    progress : bool or None
        Show a bar on the error stream; None shows one where the work takes long (`eye.progress`).
    pupil : float [mm]
        Diameter of the beam at the cornea at which the eyes are refracted.
    target : float or None [D]
        Spherical equivalent that is meant; negative is myopic. None: with power "each" a sharp eye; with
        "given" what this lens leaves where the plan puts it, as if its power had been chosen for that place. See
        `Outcomes.surprise`.
    power : "each", "given" or None
        "each": every eye gets a lens of this shape with the power that leaves it at the target, were the lens where
        the plan puts it in the mean eye. "given": the lens as it is, in every eye. None is "each" for a Population
        and "given" for one Eye. Where a lens comes to rest does not depend on it.
    block : int
        How many are done at a time. It bounds the memory and changes no result.

    Returns
    -------
    Outcomes
        Every case is settled or has a reason; the counts add up to n.
    """
    check(eye, lens, first, second, hands, n, draws, block)
    seed, width = seed_of(rng), chance_width(eye)
    done = {"pupil": pupil, "target": target, "power": power, "block": block, "progress": progress}
    plan = (first, second)
    return run_operations(
        eye, lens, plan, hands, n, lambda a, b: numbers(a, b, width, seed, draws), seed, draws, **done
    )


def chance_width(eye):
    """How many columns of chance an operation uses: those of the hands, then those of the eye."""
    return len(columns()) + (len(eye.columns) if isinstance(eye, Population) else 0)


def run_operations(
    eye, lens, plan, hands, n, rows, seed, draws, *, pupil=PUPIL, target=None, power=None, block=4096, progress=None
):
    """Do n operations by given chance; parameters and result as in `operate`.

    Parameters
    ----------
    eye, lens, hands, n, pupil, target, power, block, progress
        As of `operate`.
    plan : pair of Fixation
    rows : callable
        rows(start, stop) gives those rows of chance, (stop - start, columns) numbers between 0 and 1.
    seed, draws
        Where they come from; kept with the outcomes.
    """
    pupil, target, power = checked_light(pupil, target, power)
    many = isinstance(eye, Population)
    power = power or ("each" if many else "given")

    def case(start, stop):
        uniform = rows(start, stop)
        eyes = eye.draw(uniform[:, len(columns()) :]) if many else eye
        return eyes, *attempt(hands, eyes, lens, plan, uniform)

    typical = eye.mean_eye() if many else eye
    pilot = _pilot(typical, lens, *plan, case, n)
    block = block if pilot is not None else 4096  # without a common pilot the cut would show in the last digits
    store = Store(n)
    with progress_bar(words="operations", unit="cases", total=n, shown=progress) as bar:
        for start in range(0, n, block):
            stop = min(start + block, n)
            eyes, achieved, limited = case(start, stop)
            pose = settle(eyes, lens, *achieved, on_failure="flag", pilot=pilot)
            store.put(slice(start, stop), eyes, achieved, pose, limited)
            bar.update(stop - start)
    return Outcomes(store, lens, plan, hands, seed, draws, typical, pupil, target, power)


def _pilot(eye, lens, first, second, case, n):
    """Return a settled case that leads all others: the plan itself, or the first attempt that settles."""
    plan = settle(eye, lens, first, second, on_failure="flag")
    if plan.settled:
        return plan
    eyes, achieved, _ = case(0, min(n, _SCOUTS))
    scouts = settle(eyes, lens, *achieved, on_failure="flag")
    for k in np.flatnonzero(np.atleast_1d(scouts.settled)):
        alone = settle(element(eyes, k), lens, *(element(one, k) for one in achieved), on_failure="flag")
        if alone.settled:
            return alone
    return None


def check(eye, lens, first, second, hands, n, draws, block):
    """Refuse what cannot be operated, in a learner's words.

    Parameters
    ----------
    eye, lens, first, second, hands, n, draws, block
        As of `operate`.
    """
    wanted = (
        ("eye", eye, (Eye, Population), "an Eye or a Population, such as es.Eye()"),
        ("lens", lens, Lens, "a Lens, such as es.Lens()"),
        ("first", first, Fixation, "a Fixation, such as es.Fixation(meridian=0)"),
        ("second", second, Fixation, "a Fixation, such as es.Fixation(meridian=180)"),
        ("hands", hands, Hands, "Hands, such as es.Hands()"),
    )
    for name, value, kind, words in wanted:
        if not isinstance(value, kind):
            raise LearnerError(f"operate: {name} must be {words}; a {type(value).__name__} was given.")
        if getattr(value, "shape", ()) != ():
            raise LearnerError(
                f"operate: {name} must be a single one, not an array of {value.shape}; operate does it n "
                "times itself. Eyes that differ are a Population."
            )
    for name, value, most in (("n", n, _MOST), ("block", block, _MOST)):
        if not isinstance(value, (int, np.integer)) or isinstance(value, bool) or not 1 <= value <= most:
            raise LearnerError(f"operate: {name} is a whole number from 1 to {most:,}; {str(value)[:60]!r} was given.")
    if not isinstance(draws, str) or draws not in KINDS:
        raise LearnerError(f"operate: draws is 'random' or 'sobol'; {str(draws)[:60]!r} was given.")
