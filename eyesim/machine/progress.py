"""Bars for work that takes more than a second."""

from __future__ import annotations

import sys


def steps(what, n):
    """Bar for n steps; returns a function to be called after each. Where nobody looks there is no bar."""
    from tqdm import tqdm

    if not sys.stderr.isatty() or n == 0:
        return lambda: None
    bar = tqdm(total=n, desc=what, unit="", delay=1.0, leave=False)

    def step():
        bar.update()
        if bar.n >= n:
            bar.close()

    return step
