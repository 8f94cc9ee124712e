"""How work is shared among the cores: many cases in threads, small products of matrices on a single core."""

from __future__ import annotations

import contextlib
import functools
import os
from concurrent.futures import ThreadPoolExecutor


def in_threads(work, size, block):
    """Call `work(start, stop)` for every block of `size` cases; a single block is done at once.

    The kernels hold no lock, and no case knows of another.

    Parameters
    ----------
    work : callable
    size, block : int
    """
    starts = range(0, size, block)
    if len(starts) < 2:
        if size:
            work(0, size)
        return
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda start: work(start, min(start + block, size)), starts))


def single_core(function):
    """Decorate a function so that the matrix products in it use one core.

    An image of the retina takes a dozen products of some hundred rows; two cores spend longer on waiting for each other
    than on the work, and on a machine that is busy elsewhere, as a laptop with a browser is, five times as long.
    """

    @functools.wraps(function)
    def on_one_core(*args, **kwargs):
        libraries = _libraries()
        with contextlib.nullcontext() if libraries is None else libraries.limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return on_one_core


@functools.lru_cache
def _libraries():
    from threadpoolctl import ThreadpoolController

    found = ThreadpoolController()
    return found if found.lib_controllers else None
