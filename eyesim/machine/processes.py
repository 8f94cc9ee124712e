"""The same work for many, by all cores where it takes long."""

from __future__ import annotations

import multiprocessing
import os
import time
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

PATIENCE = 2.0
"""Work that takes less [s] is done here; others would not have been started much sooner."""


def parallel_map(work, things):
    """Yield work(thing) for all things, in their order.

    Parameters
    ----------
    work : callable
        That another process can be sent.
    things : list
    """
    done, spent = 0, 0.0
    while done < len(things) and not _is_long(spent, done, len(things) - done):
        start = time.perf_counter()
        result = work(things[done])
        spent, done = spent + time.perf_counter() - start, done + 1
        yield result
    try:
        if done < len(things):
            with ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn")) as pool:
                for result in pool.map(work, things[done:], chunksize=16):
                    done += 1
                    yield result
    except BrokenProcessPool:  # others cannot be started here, or were killed: what is left is done here
        pass
    for thing in things[done:]:
        yield work(thing)


def _is_long(spent, done, left):
    """Whether there is more to do than is worth doing here."""
    return (os.cpu_count() or 1) > 1 and spent > PATIENCE and left * spent / done > PATIENCE
