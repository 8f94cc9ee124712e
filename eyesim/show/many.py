"""The same work for many, by all cores where it pays."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

FEW = 60
"""So few are done sooner here than others are started."""


def each(work, things, step=lambda: None):
    """Yield work(thing) for all things, in their order.

    Parameters
    ----------
    work : callable
        That another process can be sent.
    things : list
    step : callable
        Called after each.
    """
    done = 0
    if len(things) >= FEW and (os.cpu_count() or 1) > 1:
        try:
            with ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn")) as pool:
                for result in pool.map(work, things, chunksize=16):
                    done += 1
                    step()
                    yield result
        except BrokenProcessPool:  # others cannot be started here, or were killed: what is left is done here
            pass
    for thing in things[done:]:
        result = work(thing)
        step()
        yield result
