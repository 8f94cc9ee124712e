"""A short loop for slides: from one session to another and back, painted in the page, put together here."""

from __future__ import annotations

import io

import numpy as np

from ...eye.checks import LearnerError
from ...live.parameters import KEYS, Quantity
from .picture import live_picture

STEPS = 16
_PAUSE, _REST = 70, 900  # [ms] for a picture on the way, and at either end
_LARGEST = 4_000_000  # bytes of one painted picture
_WIDEST = 4000  # px


def between(start, end, share):
    """Session on the way from one to another; what is one of a few changes half way.

    Parameters
    ----------
    start, end : Session
    share : float [1]
        Of the way. A session in between that cannot be raises LearnerError.
    """
    mixed = {}
    for key, what in KEYS.items():
        one, two = start[key], end[key]
        slides = isinstance(what, Quantity)
        mixed[key] = round((1.0 - share) * one + share * two, 9) if slides else (two if share >= 0.5 else one)
    return end.but(**mixed)


def frames(start, end, seat):
    """Pictures (SVG texts) of the way from one session to another, without those that cannot be drawn.

    Parameters
    ----------
    start, end : Session
    seat : "front", "superior" or "temporal"
    """
    drawn = []
    for share in 0.5 - 0.5 * np.cos(np.pi * np.arange(STEPS + 1) / STEPS):
        try:
            drawn.append(live_picture(between(start, end, float(share)), seat, readout=True).svg)
        except LearnerError:
            continue
    return drawn


def gif(painted):
    """Put painted pictures (PNG files, as bytes) together as a GIF that goes there and back, again and again.

    Raises LearnerError if they are no such pictures.
    """
    from PIL import Image

    if not 1 <= len(painted) <= STEPS + 1:
        raise LearnerError("The page painted no pictures for a loop. Try again.")
    images = [_opened(one) for one in painted]
    if len({image.size for image in images}) > 1:
        raise LearnerError("The page painted pictures of different sizes. Try again.")
    both = Image.new("RGB", (2 * images[0].width, images[0].height))
    both.paste(images[0], (0, 0))
    both.paste(images[-1], (images[0].width, 0))
    palette = both.quantize(255)  # one for all, so that nothing flickers
    flat = [image.quantize(palette=palette, dither=Image.Dither.NONE) for image in images]
    order = [*range(len(flat)), *range(len(flat) - 2, 0, -1)]
    ends = {0, len(flat) - 1}
    film = io.BytesIO()
    flat[order[0]].save(
        film,
        format="GIF",
        save_all=True,
        append_images=[flat[i] for i in order[1:]],
        loop=0,
        duration=[_REST if i in ends else _PAUSE for i in order],
    )
    return film.getvalue()


def _opened(content):
    from PIL import Image

    wrong = LearnerError("The page sent something else than a painted picture. Try again.")
    if not isinstance(content, bytes) or len(content) > _LARGEST:
        raise wrong
    try:
        image = Image.open(io.BytesIO(content), formats=["PNG"])
        if max(image.size) > _WIDEST:
            raise wrong
        return image.convert("RGB")
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise wrong from error
