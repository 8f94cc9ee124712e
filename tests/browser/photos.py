"""A photograph to set points on, alone on a page."""

from __future__ import annotations

from eyesim.show.photo_panel import photo_panel


def photo():
    """Return the demonstration's photograph, without points."""
    return photo_panel(camera_from=300.0)
