"""Panels that stand alone on a page."""

from __future__ import annotations

import tempfile
from pathlib import Path

from eyesim.panel.log import log_panel
from eyesim.panel.photo import photo_panel


def photo():
    """Return the demonstration's photograph, without points."""
    return photo_panel(camera_from=300.0)


def log():
    """Return the form for a practice log that is not there yet."""
    return log_panel(Path(tempfile.gettempdir()) / "practice.csv")
