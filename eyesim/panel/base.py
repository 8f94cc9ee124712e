"""What all panels share: a board, a sentence that says what stands on it, and a picture where no script runs."""

from __future__ import annotations

import functools
import threading
from html import escape

from ..draw.picture import Picture
from ..text.caution import CAUTION
from .board import Board

LIMITS_CHOSEN = "Limits chosen for teaching. Numbers beside the sliders can be typed."
"""Said below the caution of panels with sliders and limits."""
_SMALL_STEP = 0.1
"""Share of a slider's step over which a picture's slope is taken."""


class Panel:
    """Something on a board that a notebook shows; its repr is a sentence.

    A class that inherits has `sentence`, answers the page in `_heard` (see `Board`) and, where there is something to
    see, gives a `picture`. A notebook may call back from another thread, so all that changes a panel holds its lock.

    Parameters
    ----------
    name : str
        What the board is called by who cannot see it.
    content : dict
        What is on it, made by the functions of `layout`; its region "caution" is filled in here.
    file : str
        Begin of the names of files that are saved from the page.
    look : str
        Further class names for the style sheet.
    whole : bool
        It is the whole page.
    remark : str
        Said after the caution.
    """

    def __init__(self, name, content, *, file, look="", whole=False, remark=""):
        self._lock = threading.RLock()
        self._board = Board(name, content, self._heard, self._lock, look=look, file=file, whole=whole)
        words = f"{CAUTION} {remark}".strip()
        self._board.show(regions={"caution": f'<div class="eyesim-small">{escape(words)}</div>'})

    @property
    def sentence(self):
        """What the panel shows, in words."""
        raise NotImplementedError

    def picture(self):
        """Picture of the present state; None where there is nothing to see yet."""
        return None

    def set(self, **values):
        """Set controls by their names, as the page does.

        Raises LearnerError if a name is unknown or a value cannot be.
        """
        with self._lock:
            for name, value in values.items():
                self._heard("set", name, value)

    def __repr__(self):
        return self.sentence

    @functools.cached_property
    def widget(self):
        """The board as a widget; beneath it a picture for pages in which its script does not run."""
        import ipywidgets as widgets

        self._still = widgets.HTML()
        self._still.add_class("eyesim-still")
        whole = widgets.VBox([self._still, self._board.widget], layout=widgets.Layout(overflow="visible"))
        whole.add_class("eyesim-whole")
        return whole

    def _without_scripts(self):
        """Picture that a notebook keeps for readers without a kernel; None where showing it would tell too much."""
        return self.picture()

    def _repr_mimebundle_(self, include=None, exclude=None):
        picture, widget = self._without_scripts(), self.widget
        self._still.value = picture.svg if isinstance(picture, Picture) else ""
        view = {"version_major": 2, "version_minor": 0, "model_id": widget.model_id}
        bundle = {"application/vnd.jupyter.widget-view+json": view, "text/plain": repr(self)}
        return bundle | ({"image/svg+xml": picture.svg} if self._still.value.startswith("<svg") else {})


def slope_step(value, low, high, step):
    """Small step of a control, away from the nearer end of its scale, over which a slope is taken.

    Parameters
    ----------
    value, low, high, step : float [unit of the control]
        Where it stands, the ends of its scale and the step of its slider.
    """
    return _SMALL_STEP * step * (1.0 if value < 0.5 * (low + high) else -1.0)
