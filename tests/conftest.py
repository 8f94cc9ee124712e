"""What all tests share: where the project lies, and Hypothesis without a clock."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent

# A machine that is busy compiling is slow, not wrong; derandomised, so that a red run can be run again.
settings.register_profile("eyesim", deadline=None, derandomize=True)
settings.load_profile("eyesim")

os.environ.setdefault("MPLBACKEND", "agg")


@pytest.fixture(scope="session")
def root() -> Path:
    """Folder of the project."""
    return ROOT
