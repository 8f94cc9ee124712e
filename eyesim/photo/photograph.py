"""A photograph read from a file: upright, in plain colours, small enough, and nothing else that the file may say.

Only the pixels are kept; place, time, camera and whatever else stands in a file is never looked at but for which way
is up. Files that are too large, broken, or no photographs are answered in words, before they cost time or memory.
"""

from __future__ import annotations

import dataclasses
import io
import warnings
from base64 import b64encode
from pathlib import Path

from ..eye.checks import LearnerError
from ..text.tables import read_content
from .points import Points

LARGEST = 40_000_000
"""Bytes of a file."""
MOST_PIXELS = 60_000_000
"""Of a photograph; it takes three bytes each while it is read."""
SMALLEST = 64
"""Pixels across and down; on fewer nothing can be pointed at."""
SHOWN = 1400
"""Pixels of the longer side, as a page shows it; points are kept in pixels of the photograph itself."""
_KINDS = ("JPEG", "PNG")


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class Photograph:
    """A photograph, upright.

    Attributes
    ----------
    name : str
        Of its file.
    width, height : int [px]
    shown : bytes
        The picture as a JPEG for a page, its longer side at most `SHOWN`, without any metadata.
    """

    name: str
    width: int
    height: int
    shown: bytes

    @property
    def address(self):
        """The picture as a data address, for a page."""
        return f"data:image/jpeg;base64,{b64encode(self.shown).decode()}"

    def check(self, points):
        """Refuse points that lie outside the photograph. Raises LearnerError if one does: says which."""
        for name, places in points.of.items() if isinstance(points, Points) else points.items():
            for i, (x, y) in enumerate(places, 1):
                if not (0.0 <= x <= self.width and 0.0 <= y <= self.height):
                    raise LearnerError(
                        f"Point {i} of {name} lies at ({x:.0f}, {y:.0f}), outside {self.name}, which is {self.width} "
                        f"by {self.height} px. Are the points of another photograph, or of a smaller copy?"
                    )

    def __repr__(self):
        return f"A photograph, {self.name}: {self.width} by {self.height} px."


def read_photograph(path):
    """Read a photograph from a JPEG or PNG file.

    Raises LearnerError if it cannot be read, is no photograph, broken, too large or too small.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Photograph
    """
    return decode_photograph(read_content(path, "photograph", LARGEST), Path(path).name)


def decode_photograph(content, name="the photograph"):
    """Read a photograph from the bytes of a file; raises as `read_photograph` does.

    Parameters
    ----------
    content : bytes
    name : str
        What it is called, for the words.
    """
    from PIL import Image, ImageOps

    if len(content) > LARGEST:
        raise LearnerError(f"{name} is larger than {LARGEST // 1_000_000} MB; save it smaller.")
    picture = None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of odd metadata; sizes are checked here
            picture = Image.open(io.BytesIO(content), formats=_KINDS)
            _size(picture, name)
            picture.load()
            upright = _plain(ImageOps.exif_transpose(picture))
    except LearnerError:
        raise
    except Image.DecompressionBombError:
        raise LearnerError(f"{name} has far too many pixels; save it smaller.") from None
    except Exception:  # a broken file may fail in any way
        if picture is None:
            raise LearnerError(
                f"{name} is no photograph: JPEG or PNG is wanted, whatever its name ends with."
            ) from None
        raise LearnerError(f"{name} is broken or not complete; copy it again.") from None
    width, height = upright.size
    upright.thumbnail((SHOWN, SHOWN))
    file = io.BytesIO()
    upright.save(file, "JPEG", quality=88)
    return Photograph(name, width, height, file.getvalue())


def _size(picture, name):
    """Refuse a picture that is too large or too small, from what its head says, before its pixels are unpacked."""
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise LearnerError(
            f"{name} has {width} by {height} pixels, {width * height / 1e6:.0f} million; up to "
            f"{MOST_PIXELS / 1e6:.0f} million are read. Save it smaller."
        )
    if min(width, height) < SMALLEST:
        raise LearnerError(f"{name} has {width} by {height} pixels; at least {SMALLEST} each way are wanted.")


def _plain(picture):
    """Return a new picture in eight bits and three colours, on white, that holds nothing but pixels."""
    from PIL import Image

    if picture.mode.startswith(("I", "F")):  # sixteen bits or more
        low, high = picture.getextrema()
        grey = 255.0 / max(high - low, 1e-9)
        picture = picture.convert("F").point(lambda v: v * grey - low * grey).convert("L")
    if picture.has_transparency_data:
        picture = picture.convert("RGBA")
        plain = Image.new("RGB", picture.size, "white")
        plain.paste(picture, mask=picture.getchannel("A"))
        return plain
    plain = Image.new("RGB", picture.size)
    plain.paste(picture.convert("RGB"))
    return plain
