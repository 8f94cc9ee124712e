"""What all tests share: their kinds, their order on two cores, and Hypothesis without a clock."""

from __future__ import annotations

import os
import signal
import threading

import kinds
import numpy as np
import pytest
from hypothesis import settings

# A machine that is busy compiling is slow, not wrong; derandomised, so that a red run can be run again.
settings.register_profile("eyesim", deadline=None, derandomize=True)
settings.load_profile("eyesim")

os.environ.setdefault("MPLBACKEND", "agg")

# A shell starts what runs in its background deaf to Ctrl-C, and children inherit that; servers are closed by it here.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and threading.current_thread() is threading.main_thread():
    signal.signal(signal.SIGINT, signal.default_int_handler)

SEEDS = pytest.StashKey[list]()


@pytest.hookimpl(tryfirst=True)  # before `-m` chooses
def pytest_collection_modifyitems(items):
    """Mark tests by their kind, and let a worker begin with what takes longest."""
    for item in items:
        if kind := kinds.kind_of(item.path) or ("slow" if kinds.is_slow_case(item.nodeid) else ""):
            item.add_marker(kind)
        if not any(item.get_closest_marker(name) for name in ("slow", "browser", "server", "notebook")):
            item.add_marker("quick")
    if "PYTEST_XDIST_WORKER" in os.environ:
        items[:] = kinds.longest_first(items)


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
