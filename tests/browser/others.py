"""All other panels and a question on one page, to be looked at in a browser."""

from __future__ import annotations

import ipywidgets as widgets

from eyesim.panel import hand_panel, passes, sight_panel
from eyesim.panel.question import ask


def others():
    """One of each: marks, sight, hands, a question with choices and one with a number."""
    shown = [passes.marks_panel(), sight_panel(), hand_panel(), ask("marks.which-way")]
    return widgets.VBox([one.widget for one in shown])
