"""Chance: numbers between 0 and 1 that a case keeps however the work is cut up.

Case i gets the same row of numbers for the same seed, whatever n, the size of the chunks or the number of
workers. Each column has a name, in a fixed order, so that one cause of error can be drawn anew while all
others keep their numbers.
"""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError, short

KINDS = ("random", "sobol")
REPLICATES = 16
"""Sobol' points come as so many independent randomisations, interleaved: case i belongs to i % 16."""
_BLOCK = 1024


def seed_of(rng):
    """Whole number that stands for `rng`: itself, or one drawn from a NumPy Generator.

    Raises LearnerError if it is neither.
    """
    if isinstance(rng, np.random.Generator):
        return int(rng.integers(2**63))
    if isinstance(rng, (int, np.integer)) and not isinstance(rng, bool) and 0 <= rng < 2**128:
        return int(rng)
    raise LearnerError(
        f"rng is a seed (a whole number from 0 on) or a NumPy Generator; {short(rng)} was given. "
        "The same seed gives the same numbers again."
    )


def numbers(start, stop, width, seed, kind="random"):
    """Rows `start` to `stop` (not included) of the endless table of numbers that belongs to a seed.

    Parameters
    ----------
    start, stop : int
    width : int
        Number of columns. Pseudo-random columns do not depend on how many follow; Sobol' points do.
    seed : int
    kind : "random" or "sobol"
        Pseudo-random, or scrambled Sobol' points in `REPLICATES` independent randomisations.

    Returns
    -------
    table : (stop - start, width) array, each number above 0 and below 1
    """
    if kind not in KINDS:
        raise LearnerError(f"draws is 'random' or 'sobol'; {short(kind)} was given.")
    step = _BLOCK * (REPLICATES if kind == "sobol" else 1)
    block = _sobol_block if kind == "sobol" else _random_block
    parts = []
    for index in range(start // step, -(-stop // step)):
        low, high = max(start - index * step, 0), min(stop - index * step, step)
        parts.append(block(seed, index, width)[low:high])
    return np.concatenate(parts) if parts else np.empty((0, width))


@functools.lru_cache(maxsize=2)
def _random_block(seed, index, width):
    generator = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(index,)))
    return _open(generator.random((width, _BLOCK)).T)  # so a column does not depend on how many follow


@functools.lru_cache(maxsize=2)
def _sobol_block(seed, index, width):
    from scipy.stats import qmc

    block = np.empty((_BLOCK, REPLICATES, width))
    for r in range(REPLICATES):
        generator = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(r, 0)))
        try:
            engine = qmc.Sobol(width, scramble=True, rng=generator)
        except TypeError:  # SciPy before 1.15 calls it seed
            engine = qmc.Sobol(width, scramble=True, seed=generator)
        if index:
            engine.fast_forward(index * _BLOCK)
        block[:, r] = engine.random(_BLOCK)
    return _open(block.reshape(-1, width))


def _open(table):
    """Keep off 0 and 1 themselves, where a normal deviate would be infinite."""
    table = np.clip(table, 2.0**-53, 1.0 - 2.0**-53)
    table.setflags(write=False)
    return table
