"""What all tests share: where the project lies, and Hypothesis without a clock."""

from __future__ import annotations

import os
import signal
import threading
from pathlib import Path

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


@pytest.fixture(scope="session")
def root() -> Path:
    """Folder of the project."""
    return ROOT
