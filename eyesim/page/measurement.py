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
    ("decentration", "decentration", ".2f"),
    ("to the right", "x", ".2f"),
    ("upwards", "y", ".2f"),
    ("optic's diameter", "optic_diameter", ".2f"),
    ("white-to-white", "white_to_white", ".2f"),
    ("scale", "scale", ".2f"),
    ("camera oblique", "obliquity", ".0f"),
)


@dataclasses.dataclass(frozen=True, repr=False)
class Measurement:
    """What a photograph and its points come to.

    Attributes
    ----------
    result : Frontal or Side
    words : str
        The sentence, then one line a number.
    picture : Picture
        The photograph with what was fitted drawn into it; saved as .svg or .html.
    """

    result: Frontal | Side
    words: str
    picture: Picture

    def __repr__(self):
        return self.words


def measure_files(photo, table, known, *, front="up", meridian=None) -> Measurement:
    """Measure what is seen in a photograph, by the points in a table, and draw it into the photograph.

    Raises LearnerError if either cannot be read, a point lies outside the photograph, or they cannot be measured.

    Parameters
    ----------
    photo, table : str or Path
        A JPEG or PNG, and a CSV as `photo.points` reads it.
    known : Known
    front : str
        From the side: where the front of the eye is, as in `measure_side`.
    meridian : float or None [deg]
        From the side: of the picture's right side.
    """
    picture, points = read_photograph(photo), read_points(table)
    picture.check(points)
    if points.from_the_side:
        result = measure_side(points, known, front=front, meridian=meridian)
    else:
        result = measure_front(points, known)
    return Measurement(result, measurement_words(result, points.remarks), measured_picture(picture, points, result))


def measurement_words(result, remarks=()):
    """Text of what was measured: the sentence, then one line a number.

    Parameters
    ----------
    result : Frontal or Side
    remarks : iterable of str
        On the table of points.
    """
    rows = number_rows(result)
    lines = [f"  {words:<18}{number}" for words, number in rows]
    return "\n".join([repr(result), *remarks, *([""] if rows else []), *lines])


def number_rows(result):
    """Pairs of words and number, one for each that a photograph from in front gave; none from the side.

    Parameters
    ----------
    result : Frontal or Side
    """
    if not isinstance(result, Frontal):
        return []
    values = [(words, getattr(result, name), spec) for words, name, spec in _ROWS]
    rows = [(words, value.text(spec)) for words, value, spec in values if value is not None]
    if result.meridian is not None and result.meridian.high - result.meridian.low < 360.0:
        rows.insert(1, ("towards", meridian_words(result.meridian)))
    for one in (*result.marks, *result.lines):
        rows.append((one.name, f"meridian {meridian_words(one.meridian, '.1f')}"))
    return rows + [(one.name, f"limbus angle {one.limbus_angle.text('.1f')}") for one in result.lines]
