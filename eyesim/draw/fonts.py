"""The letters of printed pages: the font that goes with matplotlib, and how wide words are in it."""

from __future__ import annotations

import functools
from pathlib import Path

REGULAR, BOLD = "eyesim", "eyesim-bold"


@functools.cache
def register():
    """Make both fonts known to what writes PDFs."""
    import matplotlib
    from reportlab import rl_config
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    rl_config.useA85 = 0  # binary streams: shorter, and written sooner
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(REGULAR, folder / "DejaVuSans.ttf"))
    pdfmetrics.registerFont(TTFont(BOLD, folder / "DejaVuSans-Bold.ttf"))


@functools.lru_cache(maxsize=4096)
def width_of(words, size, bold=False):
    """Width of words, in the unit of the size of their letters.

    Parameters
    ----------
    words : str
    size : float
    bold : bool
    """
    from reportlab.pdfbase.pdfmetrics import stringWidth

    register()
    return stringWidth(words, BOLD if bold else REGULAR, size)


def fitted(words, wide, size, bold=False):
    """Shorten words to a width, with an ellipsis where something is left out.

    Parameters
    ----------
    words : str
    wide, size : float [unit of the sheet]
        The room, and the size of the letters.
    bold : bool
    """
    words = plain(words)
    if width_of(words, size, bold) <= wide:
        return words
    while words and width_of(f"{words}\N{HORIZONTAL ELLIPSIS}", size, bold) > wide:
        words = words[:-1]
    return f"{words.rstrip()}\N{HORIZONTAL ELLIPSIS}"


def plain(words):
    """Leave out what cannot be printed."""
    return "".join(c for c in " ".join(str(words).split()) if c.isprintable())
