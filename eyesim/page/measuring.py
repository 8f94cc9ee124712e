"""A photograph and its table of points, measured: what the command line says of them."""

from __future__ import annotations

import dataclasses

from ..draw.measured_picture import measured_picture
from ..draw.picture import Picture
from ..photo.front import Frontal, measure_front, meridian_words
from ..photo.photograph import read_photograph
from ..photo.points import read_points
from ..photo.side import Side, measure_side

_ROWS = (
    ("decentration", "size", ".2f"), ("to the right", "x", ".2f"), ("upwards", "y", ".2f"),
    ("optic's diameter", "optic_diameter", ".2f"), ("white-to-white", "white_to_white", ".2f"),
    ("scale", "scale", ".2f"), ("camera oblique", "obliquity", ".0f"),
)  # fmt: skip


@dataclasses.dataclass(frozen=True, repr=False)
class Measured:
    """What a photograph and its points come to.

    Attributes
    ----------
    found : Frontal or Side
    words : str
        The sentence, then one line a number.
    picture : Picture
        The photograph with what was fitted drawn into it; saved as .svg or .html.
    """

    found: Frontal | Side
    words: str
    picture: Picture

    def __repr__(self):
        return self.words


def measure_files(photo, table, known, *, front="up", meridian=None):
    """Measure what is seen in a photograph, by the points in a table, and draw it into the photograph.

    Parameters
    ----------
    photo, table : str or Path
        A JPEG or PNG, and a CSV as `photo.points` reads it.
    known : Known
    front : str
        From the side: where the front of the eye is, as in `measure_side`.
    meridian : float or None [deg]
        From the side: of the picture's right side.

    Returns
    -------
    Measured

    Raises
    ------
    LearnerError
        If either cannot be read, a point lies outside the photograph, or they cannot be measured.
    """
    picture, points = read_photograph(photo), read_points(table)
    picture.check(points)
    if points.from_the_side:
        found = measure_side(points, known, front=front, meridian=meridian)
    else:
        found = measure_front(points, known)
    return Measured(found, report(found, points.remarks), measured_picture(picture, points, found))


def report(found, remarks=()):
    """Text of what was measured: the sentence, then one line a number.

    Parameters
    ----------
    found : Frontal or Side
    remarks : iterable of str
        On the table of points.
    """
    told = numbers(found)
    return "\n".join([repr(found), *remarks, *([""] if told else []), *(f"  {words:<18}{one}" for words, one in told)])


def numbers(found):
    """Pairs of words and number, one for each that a photograph from in front gave; none from the side.

    Parameters
    ----------
    found : Frontal or Side
    """
    if not isinstance(found, Frontal):
        return []
    rows = [(words, getattr(found, name), spec) for words, name, spec in _ROWS]
    told = [(words, one.text(spec)) for words, one, spec in rows if one is not None]
    if found.meridian is not None and found.meridian.high - found.meridian.low < 360.0:
        told.insert(1, ("towards", meridian_words(found.meridian)))
    for one in (*found.marks, *found.drawn):
        told.append((one.name, f"meridian {meridian_words(one.meridian, '.1f')}"))
    return told + [(one.name, f"limbus angle {one.limbus_angle.text('.1f')}") for one in found.drawn]
