"""Many cases in blocks on all cores; the kernels hold no lock, and no case knows of another."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor


def in_threads(work, size, block):
    """Call `work(start, stop)` for every block of `size` cases; a single block is done at once."""
    starts = range(0, size, block)
    if len(starts) < 2:
        if size:
            work(0, size)
        return
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda start: work(start, min(start + block, size)), starts))
