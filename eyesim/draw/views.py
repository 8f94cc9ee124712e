"""The views of an eye: from in front, cut open and seen from the side, and both next to each other."""

from __future__ import annotations

from ..eye.checks import plain_errors
from ..eye.frames import whole_degrees
from . import palette
from .case import shown_case
from .drawing import Sheet
from .front import TOP, VIEW, WIDTH, draw_from_front, front_sentence
from .picture import Picture
from .section import cut_in_words, draw_from_side, section_meridian, side_sentence


@plain_errors
def front_view(
    pose, *, seat="front", compare=None, hidden=False, pupil=3.5, title=None, eye=None, lens=None
) -> Picture:
    """Draw an eye from in front, with the lens as it has come to rest.

    Raises LearnerError if there is not one settled case to draw, or a setting is not known.

    Parameters
    ----------
    pose : Settled or Pose
        A single one. A `Pose` (measured, imagined) needs `eye` and `lens`; it has no haptics.
    seat : "front", "superior" or "temporal"
        Where the surgeon sits; the picture is turned, never mirrored.
    compare : Settled, Pose or None
        Another case, drawn in dashes underneath.
    hidden : bool
        Show eye, marks and needle tracks only: for a prediction before the result.
    pupil : float [mm]
        Diameter of the drawn pupil.
    title : str or None
        Heading; by default it says where one sits.
    eye : Eye or None
    lens : Lens or None
        For a plain `Pose`.
    """
    case = shown_case("front_view", pose, eye, lens, hidden, compare, pupil)
    sentence = front_sentence(case, seat)
    sheet = _sheet(1, case)
    draw_from_front(sheet, 0.0, case, seat, title)
    return _with_numbers(sheet, "The eye from in front", sentence, case)


@plain_errors
def side_view(pose, *, along=None, compare=None, hidden=False, pupil=3.5, title=None, eye=None, lens=None) -> Picture:
    """Draw an eye cut open and seen from the side, the front of the eye up.

    Raises LearnerError if there is not one settled case to draw, or a setting is not sensible.

    Parameters
    ----------
    along : float or None [deg]
        Meridian that comes to lie at the right. By default the one towards which the optic is tilted, if it
        is tilted by more than half a degree; else that of the first fixation.
    pose, compare, hidden, pupil, title, eye, lens
        As in `front_view`.
    """
    case = shown_case("side_view", pose, eye, lens, hidden, compare, pupil)
    along = section_meridian(case, along)
    sentence = side_sentence(case, along)
    sheet = _sheet(1, case)
    draw_from_side(sheet, 0.0, case, along, title)
    return _with_numbers(sheet, "The eye from the side", sentence, case)


@plain_errors
def both_views(
    pose, *, seat="front", along=None, compare=None, hidden=False, pupil=3.5, title=None, eye=None, lens=None
) -> Picture:
    """Draw the view from in front and the one from the side next to each other.

    Raises LearnerError if there is not one settled case to draw, or a setting is not sensible.

    Parameters
    ----------
    pose, seat, along, compare, hidden, pupil, title, eye, lens
        As in `front_view` and `side_view`; the title stands above the view from in front.
    """
    case = shown_case("both_views", pose, eye, lens, hidden, compare, pupil)
    along = section_meridian(case, along)
    sentence = front_sentence(case, seat)
    if not hidden:
        sentence += f" From the side, {cut_in_words(case, along)}."
    sheet = _sheet(2, case)
    draw_from_front(sheet, 0.0, case, seat, title)
    draw_from_side(sheet, WIDTH, case, along)
    return _with_numbers(sheet, "The eye from in front and from the side", sentence, case)


def _sheet(columns, case):
    return Sheet(columns * WIDTH, TOP + VIEW + (94.0 if case.compared is None or case.hidden else 122.0))


def _with_numbers(sheet, name, sentence, case):
    """Put the numbers and the caution below the views, and return the picture."""
    wide = min(WIDTH * 1.5, sheet.width)
    sheet.caution(readout_row(sheet, (sheet.width - wide) / 2, wide, TOP + VIEW + 8.0, case))
    return sheet.picture(name, sentence, shown=680 if sheet.width == WIDTH else 1280)


def readout_row(sheet, left, width, top, case):
    """Put decentration, tilt and depth below a view.

    Parameters
    ----------
    sheet : Sheet
    left, width, top : float [px]
        Where they have room.
    case : Case

    Returns
    -------
    float [px]
        Where the next line of text stands.
    """
    other, hidden = case.compared, case.hidden
    if hidden:
        look = {"size": 17, "colour": palette.QUIET, "anchor": "middle"}
        sheet.text(left + width / 2, top + 30, hidden if isinstance(hidden, str) else "outcome hidden", **look)
        return top + 66
    columns = [left + 20 + share * (width - 36) for share in (0.0, 0.42, 0.76)]
    for x, name in zip(columns, ("off centre", "tilt", "depth"), strict=True):
        sheet.text(x, top + 16, name, size=13, colour=palette.QUIET)
    rows = [(case, palette.INK, True)] + ([] if other is None else [(other, palette.QUIET, False)])
    for i, (shown, colour, bold) in enumerate(rows):
        y = top + 37 + 26 * i
        for x, words in zip(columns, _numbers(shown.pose), strict=True):
            sheet.text(x, y, words, size=16, colour=colour, bold=bold)
        if other is not None:
            x, dash = columns[0] - 12, None if i == 0 else "5 4"
            sheet.line((x, y - 13), (x, y + 2), colour=colour, width=2.5, dash=dash)
    return top + 72 + 26 * (len(rows) - 1)


def _numbers(pose):
    off = f"{pose.decentration:.2f} mm"
    if pose.decentration >= 0.005:
        off += f" to {whole_degrees(pose.decentration_meridian)}°"
    lean = f"{pose.tilt:.1f}°"
    if pose.tilt >= 0.05:
        lean += f" to {whole_degrees(pose.tilt_meridian)}°"
    return off, lean, f"{pose.depth:.2f} mm"
