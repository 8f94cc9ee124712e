"""What a view or a chart is: something to look at, and one sentence that says the same.

The sentence is the repr, the caption and the text for who cannot see the picture: a changed number changes
the sentence, a changed pixel does not.
"""

from __future__ import annotations

import base64
import threading
from html import escape
from pathlib import Path

from ..eye.checks import LearnerError
from ..text.files import write_whole

_ONE_AT_A_TIME = threading.Lock()
"""Panels draw in threads, and fonts are cached for all figures together."""


class _Shown:
    """Shows itself in a notebook and is saved whole or not at all."""

    def __init__(self, sentence):
        self.sentence = sentence

    def __repr__(self):
        return self.sentence

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": self.html, "text/plain": self.sentence}

    @property
    def html(self):
        """The picture with its sentence below, as HTML that needs nothing else."""
        return (
            f'<figure style="margin:0">{self._image()}'
            '<figcaption aria-hidden="true" style="font-size:0.9em;margin:0.4em 0 0;max-width:60em">'
            f"{escape(self.sentence)}</figcaption></figure>"
        )

    def save(self, path) -> Path:
        """Write the picture to a file; a file that is there is replaced at once or not at all.

        Raises LearnerError if the ending is unknown, or the folder does not exist.

        Parameters
        ----------
        path : str or path
            Its ending says the kind: see the class.
        """
        path = Path(path)
        kinds = self._kinds()
        if path.suffix.lower() not in kinds:
            raise LearnerError(
                f"A {type(self).__name__.lower()} is saved as {' or '.join(kinds)}; {path.name!r} was given."
            )
        if not path.parent.is_dir():
            raise LearnerError(f"There is no folder {str(path.parent)!r} to save {path.name!r} in.")
        content = kinds[path.suffix.lower()]()
        write_whole(path, content)
        return path

    def _page(self):
        head = f'<meta charset="utf-8"><title>{escape(self.sentence)}</title>'
        body = f'<body style="font-family:sans-serif">{self.html}</body>'
        return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head>{body}</html>\n'.encode()


class Picture(_Shown):
    """Geometry, drawn as SVG; saved as .svg or .html.

    Attributes
    ----------
    sentence : str
        What it shows, with the numbers; also the repr and the SVG's aria-label.
    """

    def __init__(self, svg, sentence, drawing=None):
        super().__init__(sentence)
        self._svg, self._drawing = svg, drawing

    @property
    def svg(self):
        """SVG text; written when it is first asked for."""
        if callable(self._svg):
            self._svg = self._svg()
        return self._svg

    @property
    def drawing(self):
        """What of it can move, a `drawing.Drawing`; None where nothing can."""
        return self._drawing() if self._drawing is not None else None

    def _image(self):
        return self.svg

    def _kinds(self):
        head = '<?xml version="1.0" encoding="UTF-8"?>\n'
        return {".svg": lambda: (head + self.svg + "\n").encode(), ".html": self._page}


class Chart(_Shown):
    """Statistics, drawn as PNG; saved as .png, .svg, .pdf or .html.

    Attributes
    ----------
    png : bytes
    sentence : str
        What it shows, with the numbers; also the repr and the image's alternative text.
    figure : matplotlib.figure.Figure
    """

    def __init__(self, figure, sentence, dots_per_inch=144):
        super().__init__(sentence)
        self.figure = figure
        self.png = _written(figure, "png", dots_per_inch)
        self._width = round(figure.get_figwidth() * 96)

    def _image(self):
        data = base64.b64encode(self.png).decode()
        return (
            f'<img src="data:image/png;base64,{data}" alt="{escape(self.sentence)}"'
            f' style="width:100%;max-width:{self._width}px;height:auto;display:block">'
        )

    def _kinds(self):
        return {
            ".png": lambda: self.png,
            ".svg": lambda: _written(self.figure, "svg"),
            ".pdf": lambda: _written(self.figure, "pdf"),
            ".html": self._page,
        }


def _written(figure, kind, dots_per_inch=144):
    """Return a figure as bytes; without a date, so the same figure gives the same bytes."""
    import io

    buffer = io.BytesIO()
    unsaid = {  # who wrote it and when
        "png": {"Software": None},
        "svg": {"Date": None},
        "pdf": {"CreationDate": None, "Creator": None},
    }
    with _ONE_AT_A_TIME:
        figure.savefig(buffer, format=kind, dpi=dots_per_inch, metadata=unsaid[kind])
    return buffer.getvalue()
