"""How a panel shows itself: the board, and where no script runs a picture and a sentence."""

from __future__ import annotations

import functools

from ...draw.picture import Picture


class Shown:
    """Something on a board that a notebook shows; its repr is a sentence.

    A class that inherits sets `self._board` and has `picture()`, which may return None while there is none.
    """

    @functools.cached_property
    def widget(self):
        """The board as a widget; beneath it a picture for pages in which its script does not run."""
        import ipywidgets as widgets

        self._still = widgets.HTML()
        self._still.add_class("eyesim-still")
        whole = widgets.VBox([self._still, self._board.widget], layout=widgets.Layout(overflow="visible"))
        whole.add_class("eyesim-whole")
        return whole

    def picture(self):
        """Picture of the present state; None where there is nothing to see yet."""
        return None

    def _repr_mimebundle_(self, include=None, exclude=None):
        picture, widget = self.picture(), self.widget
        self._still.value = picture.svg if isinstance(picture, Picture) else ""
        bundle = {
            "application/vnd.jupyter.widget-view+json": {
                "version_major": 2, "version_minor": 0, "model_id": widget.model_id,
            },
            "text/plain": repr(self),
        }  # fmt: skip
        return bundle | ({"image/svg+xml": picture.svg} if self._still.value.startswith("<svg") else {})
