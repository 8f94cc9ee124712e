"""What all tests share: their kinds, their order on two cores, and Hypothesis without a clock."""

from __future__ import annotations

import os
import signal
import threading
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent

# A machine that is busy compiling is slow, not wrong; derandomised, so that a red run can be run again.
settings.register_profile("eyesim", deadline=None, derandomize=True)
settings.load_profile("eyesim")

os.environ.setdefault("MPLBACKEND", "agg")

# A shell starts what runs in its background deaf to Ctrl-C, and children inherit that; servers are closed by it here.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and threading.current_thread() is threading.main_thread():
    signal.signal(signal.SIGINT, signal.default_int_handler)

SEEDS = pytest.StashKey[list]()
SECONDS = {}
"""What files of tests cost that take longer than ten seconds, on one quiet core; in the order in which they run."""


def kind_of(path):
    """Name the kind of all tests in a file, by where it lies; "" if each test says it for itself."""
    if path.suffix == ".ipynb":
        return "notebook"
    return "browser" if path.parent.name == "browser" else ""


@pytest.hookimpl(tryfirst=True)  # before `-m` chooses
def pytest_collection_modifyitems(items):
    """Mark tests by their kind, and let a worker begin with what takes longest."""
    for item in items:
        if kind := kind_of(item.path):
            item.add_marker(kind)
        if not any(item.get_closest_marker(name) for name in ("slow", "browser", "server", "notebook")):
            item.add_marker("quick")
    if "PYTEST_XDIST_WORKER" in os.environ:
        items[:] = longest_first(items)


def longest_first(items):
    """Order files by what they cost, and let those with browsers and those without take turns.

    Workers take one file after the other from the front, so that the short ones at the end keep all of them busy, and
    at most one browser runs at a time where there are two workers.
    """
    files = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    cost = {path: SECONDS.get(path.relative_to(ROOT).as_posix(), 0.1 * len(files[path])) for path in files}
    order = sorted(files, key=lambda path: (-cost[path], str(path)))
    lanes = [[path for path in order if (kind_of(path) == "browser") is browser] for browser in (True, False)]
    spent = [0.0, 0.0]
    while any(lanes):
        lane = min((i for i in range(2) if lanes[i]), key=lambda i: spent[i])
        path = lanes[lane].pop(0)
        spent[lane] += cost[path]
        yield from files[path]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    """Remember with which seeds random numbers were begun, by the test or by what it calls."""
    begin, item.stash[SEEDS] = np.random.default_rng, []

    def remembered(seed=None):
        item.stash[SEEDS].append(seed)
        return begin(seed)

    np.random.default_rng = remembered
    try:
        return (yield)
    finally:
        np.random.default_rng = begin


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Name the seeds of what failed; Hypothesis names its example itself."""
    report = yield
    seeds = list(dict.fromkeys(map(_plain, item.stash.get(SEEDS, []))))
    if report.failed and seeds:
        report.sections.append(("seeds of random numbers", ", ".join(seeds[:50])))
    return report


def _plain(seed):
    """Write a seed down: a number, several, or a generator that was begun elsewhere."""
    return repr(np.ravel(seed).tolist() if isinstance(seed, (list, tuple, np.ndarray)) else seed)
