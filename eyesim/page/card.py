"""A card for the wet lab: one page at true scale, to lie beside the practice eye and to write on.

It shows a plan from in front, 1:1 and enlarged, the needle's angle to the iris plane from the side, and boxes for what
was reached.
"""

from __future__ import annotations

from pathlib import Path

from ..draw import palette
from ..draw.drawing import FINE, THIN, Paper, num
from ..draw.fonts import fitted, plain, width_of
from ..draw.front import SEATS, turn_of
from ..draw.pdf import sheet_pdf, size_of
from ..eye.checks import LearnerError
from ..eye.frames import whole_degrees
from ..eye.sources import data_folder
from ..study.plan import read_plan
from ..study.population import Population
from ..text.caution import CAUTION
from ..text.files import refuse_to_overwrite, write_all
from .card_aim import aim_of
from .card_front import Front, enlarged, key, true_scale
from .card_side import alike, needle_dips
from .card_tables import log_table, plan_table

_WIDE = 186.0  # [mm] of what is printed
_EDGE = 9.5  # [mm] that printers leave free, and a little more
_LEFT = 50.0  # [mm] of the column at true scale
_FRONT, _SIDE, _TABLES = 104.0, 47.0, 66.0  # [mm] heights of the parts
SQUARE, BAR = 20.0, 10.0
"""Side of the square and length of the bar to hold a ruler to [mm]."""
_STEPS = (
    "Print at 100 %, not fit to page; then measure the square. It must be 20 mm a side.",
    "Lay the card by the eye, clock to clock. Mark the limbus at both meridians; measure behind it.",
    "Hold the needle on the coloured line; from the side (card upright) on the thick line.",
    "Measure what you reached and write it beside the aim, however far off. One card an attempt.",
)


def card(plan, sheet="A4", seat="front"):
    """Draw the card of a plan.

    Raises LearnerError if there is no such sheet or seat, or a needle of the plan never enters the eye.

    Parameters
    ----------
    plan : eyesim.study.plan.Plan
        Of a population its mean eye is drawn.
    sheet : str
        "A4" or "letter".
    seat : str
        "front", "superior" or "temporal": the eye is turned, never mirrored, so that the seat is at the page's foot.

    Returns
    -------
    str
        SVG text, as large as the sheet, in millimetres.
    """
    _known_seat(seat)
    wide, high = (v * 25.4 / 72.0 for v in size_of(sheet))
    wide, high = round(wide, 1), round(high, 1)
    many = isinstance(plan.eye, Population)
    eye = plan.eye.mean_eye() if many else plan.eye
    aims = tuple(aim_of(eye, k, fixation) for k, fixation in enumerate((plan.first, plan.second)))
    turn = turn_of(seat, eye.side)
    ways = tuple("" if seat == "front" else _way(aim, turn) for aim in aims)
    paper, left = Paper(wide, high), (wide - _WIDE) / 2.0
    spare = high - 2.0 * _EDGE - 22.5 - _FRONT - _SIDE - _TABLES - 7.0
    side = _SIDE + max(0.0, min(12.0, 0.5 * (spare - 16.0)))
    gap = (spare - side + _SIDE) / 4.0
    y = _head(paper, left, _EDGE, plan.title, eye, many) + gap
    _from_in_front(paper, left, y, eye, aims, seat)
    y += _FRONT + gap
    _from_the_side(paper, left, y, side, aims)
    y += side + gap
    plan_table(paper, (left, y, 88.0, _TABLES), eye, aims, ways)
    log_table(paper, (left + 94.0, y, _WIDE - 94.0, _TABLES), aims, ways, "" if seat == "front" else seat)
    _foot(paper, left, high - _EDGE)
    return paper.svg("Card for the wet lab", plain(_sentence(plan.title, eye, aims, many, seat)))


def write_card(plan_path, folder, sheet="A4", force=False, seat="front"):
    """Write the card of a plan as a PDF and an SVG.

    Raises LearnerError if the plan cannot be read or drawn, the folder cannot be written to, or holds such a card
    already.

    Parameters
    ----------
    plan_path : str, Path or None
        As for `python -m eyesim operate`; None is the demonstration plan.
    folder : str or Path
        Made if it is not there.
    sheet : str
        "A4" or "letter".
    force : bool
        Overwrite cards that are there.
    seat : str
        "front", "superior" or "temporal": the eye is turned, never mirrored, so that the seat is at the page's foot.

    Returns
    -------
    list of str
        Names of the files written.
    """
    size_of(sheet)
    _known_seat(seat)
    plan = read_plan(data_folder() / "demo_plan.toml" if plan_path is None else plan_path)
    folder = Path(folder)
    name = f"card-{sheet}" if seat == "front" else f"card-{sheet}-{seat}"
    names = [f"{name}.pdf", f"{name}.svg"]
    if not force:
        refuse_to_overwrite(folder, names, "an earlier card")
    svg = card(plan, sheet, seat)
    whole = f'<?xml version="1.0" encoding="UTF-8"?>\n{svg}\n'
    write_all(folder, dict(zip(names, (sheet_pdf(svg, sheet), whole.encode()), strict=True)), "The card")
    return names


def _known_seat(seat):
    if not isinstance(seat, str) or seat not in SEATS:
        raise LearnerError(f"A seat is {', '.join(SEATS)}; {str(seat)[:60]!r} was given.")


def _way(aim, turn):
    """Say how a needle runs for who sits at the foot of the page."""
    right, down = Front(None, (0.0, 0.0), 1.0, turn).way(aim.passage.direction)
    if abs(down) >= abs(right):
        return "towards you" if down > 0.0 else "away from you"
    return "to your right" if right > 0.0 else "to your left"


def _head(paper, left, top, title, eye, many):
    """Title, which eye, and what to do with the page; return where it ends [mm]."""
    right = left + _WIDE
    paper.text(left, top + 5.2, "Card for the wet lab", size=6.0, bold=True)
    paper.text(right, top + 2.4, fitted(title, 105.0, 3.0, bold=True), size=3.0, bold=True, anchor="end")
    whose = "mean eye of the plan" if many else "the plan's eye"
    words = f"{eye.side.capitalize()} eye, limbus {_limbus(eye)} across ({whose})"
    paper.text(right, top + 6.2, words, size=2.6, colour=palette.QUIET, anchor="end")
    paper.path([(left, top + 8.4), (right, top + 8.4)], width=THIN)
    wide = (_WIDE - 3 * 4.0) / 4.0
    for i, words in enumerate(_STEPS):
        x = left + i * (wide + 4.0)
        paper.text(x, top + 12.8, str(i + 1), size=4.2, bold=True, colour=palette.LIMBUS)
        paper.block(x + 4.0, top + 12.2, words, wide - 4.0, size=2.4, step=3.15)
    return top + 22.5


def _limbus(eye):
    if eye.white_to_white_vertical in (None, eye.white_to_white):
        return f"{num(eye.white_to_white, 2)} mm"
    return f"{num(eye.white_to_white, 2)} by {num(eye.white_to_white_vertical, 2)} mm"


def _heading(paper, x, y, words, more):
    paper.text(x, y + 3.2, words, size=3.6, bold=True)
    paper.text(x + width_of(words, 3.6, True) + 2.0, y + 3.2, more, size=2.5, colour=palette.QUIET)


def _from_in_front(paper, left, top, eye, aims, seat):
    """Both drawings from in front, what to measure with a ruler, and the key."""
    turn, (heading, hint) = turn_of(seat, eye.side), SEATS[seat]
    _heading(paper, left, top, "1:1", "true scale")
    paper.text(left, top + 7.0, f"{heading}: {hint}", size=2.3, colour=palette.QUIET)
    true_scale(paper, (left + 21.0, top + 26.0), eye, aims, turn)
    _rulers(paper, left, top + 46.0)
    key(paper, left, top + 72.5, 3.9)
    x, wide = left + _LEFT + 4.0, _WIDE - _LEFT - 4.0
    room = _FRONT - (10.0 if seat == "front" else 13.0)
    scale = enlarged(paper, (x, top + 5.0, wide, room), eye, aims, turn)
    if seat != "front":
        paper.middle(
            (x + 0.5 * wide, top + room + 7.3), "\N{BLACK UP-POINTING TRIANGLE} you sit here", size=2.4, bold=True
        )
    words = "Distances behind the limbus run along the curved sclera; from in front they look a little shorter."
    paper.text(left + _WIDE, top + _FRONT - 0.5, words, size=2.3, colour=palette.QUIET, anchor="end")
    _heading(paper, x, top, f"{num(scale, 1)}:1", "enlarged, not true scale; its numbers are those of the eye")


def _rulers(paper, left, top):
    """Check square and scale bar."""
    paper.box(left, top, SQUARE, SQUARE, part="check-square", stroke=palette.INK, width=THIN)
    paper.middle((left + SQUARE / 2, top + 8.4), "20 mm", size=2.8, bold=True)
    paper.middle((left + SQUARE / 2, top + 12.2), "each side", size=2.3, colour=palette.QUIET)
    x, y = left + SQUARE + 6.0, top + 6.0
    paper.path([(x, y), (x + BAR, y)], part="scale-bar", width=0.3)
    for i in range(11):
        paper.path([(x + i, y), (x + i, y - (2.0 if i % 5 == 0 else 1.1))], width=FINE)
    paper.middle((x + BAR / 2, y + 2.6), "10 mm", size=2.8, bold=True)
    paper.block(x, y + 7.2, "Hold a ruler to both before use.", 22.0, size=2.4, step=3.1, colour=palette.QUIET)


def _from_the_side(paper, left, top, high, aims):
    words = f"The {'needle' if alike(aims) else 'needles'} from the side"
    more = "square to it, from outside the eye, its front up; angles are true, lengths are not"
    _heading(paper, left, top, words, more)
    needle_dips(paper, (left, top + 6.0, _WIDE, high - 6.0), aims)


def _foot(paper, left, bottom):
    first, _, second = CAUTION.partition(": ")
    paper.text(left, bottom - 3.2, f"{first}:", size=2.5, bold=True)
    paper.text(left, bottom, second, size=2.5)


def _sentence(title, eye, aims, many, seat):
    """Say what the card shows, with its numbers."""
    parts = [f"{title}: {eye.side} eye, limbus {_limbus(eye)} across{' (mean eye)' if many else ''}"]
    parts.append(f"{SEATS[seat][0][0].lower()}{SEATS[seat][0][1:]}, {SEATS[seat][1]}")
    for aim in aims:
        f = aim.fixation
        parts.append(
            f"{aim.name} haptic: mark at {num(aim.meridian, 1)} deg ({aim.clock}, {aim.side}), "
            f"{num(f.limbus_distance, 2)} mm behind the limbus, {num(f.limbus_angle, 1)} deg to the limbal tangent, "
            f"{num(f.iris_angle, 1)} deg to the iris plane, tunnel {float(aim.passage.tunnel_length):.2f} mm, "
            f"internal entry at {whole_degrees(aim.passage.inner_meridian)} deg"
        )
    return f"{'; '.join(parts)}. {CAUTION}"
