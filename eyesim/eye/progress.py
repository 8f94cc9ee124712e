"""A bar for work that takes more than a moment, on the error stream."""

from __future__ import annotations

import sys


def progress_bar(things=None, *, words, unit="", total=None, shown=None):
    """Count what is done on a bar of tqdm's, which goes when all is done.

    Parameters
    ----------
    things : iterable or None
        What is gone through; None for a bar that is moved on by its `update`.
    words, unit : str
        What is done, and what is counted.
    total : int or None
        How many there are; None asks the things.
    shown : bool or None
        Show it at once, or never. None shows it after a second at a terminal, after five in a notebook, which keeps
        what is shown, and nowhere else.
    """
    terminal = sys.stderr.isatty()
    if shown is None:
        shown, delay = terminal or _in_notebook(), 1.0 if terminal else 5.0
    else:
        delay = 0.0
    if not shown:
        return _NoBar(things)
    from tqdm import tqdm

    return tqdm(things, desc=words, unit=f" {unit}", total=total, leave=False, delay=delay)


class _NoBar:
    """In place of a bar that nobody sees: tqdm takes a lock, which a forked process that is killed would keep."""

    def __init__(self, things):
        self._things = things

    def __iter__(self):
        return iter(self._things)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def update(self, more=1):
        pass


def _in_notebook():
    return "IPython" in sys.modules and sys.modules["IPython"].get_ipython() is not None
