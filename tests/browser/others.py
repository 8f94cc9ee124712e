"""All other panels and a question on one page, to be looked at in a browser."""

from __future__ import annotations

import ipywidgets as widgets

from eyesim.show import panels
from eyesim.show.ask import ask


def others():
    """One of each: marks, sight, hands, a question with choices and one with a number."""
    shown = [panels.marks_panel(), panels.sight_panel(), panels.hand_panel(), ask("opposite.ten-off")]
    return widgets.VBox([one.widget for one in shown])
