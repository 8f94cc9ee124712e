"""The eye of a card from in front, in millimetres of paper: at true scale, and enlarged with its numbers.

Each haptic has a frame of its own, along the way the needle runs and outwards. Numbers that belong to the mark stand
behind the needle's start, those of the tunnel ahead of it, so they keep clear of each other at any meridian.
"""

from __future__ import annotations

import numpy as np

from ..draw import palette
from ..draw.drawing import BOLD, FINE, LINE, THIN, Plane, arc
from ..draw.fonts import width_of
from ..eye.frames import meridian_to_clock, side_to_meridian, unit_at
from .card_aim import badge, degrees, limbus_at, millimetres

SCALES = (5.0, 4.0, 3.0, 2.5, 2.0)
"""How much larger than the eye the enlarged drawing may be; the largest that has room is taken."""
_LETTER = 2.8  # [mm] height of the letters of numbers
_SHAFT, _TANGENT, _AHEAD, _ARC = 25.0, 26.0, 21.0, 18.0  # [mm] of paper, in the enlarged drawing
_NEAR = 14  # places that are tried before a unit goes below its number
_DASH, _DOTS = (1.6, 0.9), (0.5, 0.7)


class Front(Plane):
    """The eye about a point of the paper, turned for a seat: where its points lie, and where words have room.

    Parameters
    ----------
    paper : Paper or None
        None where nothing is drawn.
    centre : pair of float [mm of paper]
    scale : float [1]
        Paper by eye.
    turn : float [deg]
        Counter-clockwise.
    """

    def __init__(self, paper, centre, scale, turn=0.0):
        super().__init__(paper, (*centre, 0.0, 0.0), scale, turn=turn)
        self.middle, self.turn = np.asarray(centre, float), turn
        self.edges = (-np.inf, np.inf)  # within which words stand [mm of paper]
        self.lines, self.boxes = np.empty((0, 2)), []  # points and boxes that words keep clear of

    def way(self, vectors):
        """Directions (..., 2 or 3) in the eye as they are on the paper, not enlarged."""
        return self.turned(vectors) * (1.0, -1.0)

    def off(self, aim, point, along, outwards):
        """Place on the paper, from a point of the eye so far [mm of paper] along the needle's way and outwards."""
        return self.at(point) + self.way(along * aim.along + outwards * aim.outwards)

    def keep_clear(self, points):
        """Take a line through points [mm of paper] as one that no words may cross."""
        points = np.asarray(points, float)
        share = np.linspace(0.0, 1.0, 31)[:, None]
        pieces = [a + share * (b - a) for a, b in zip(points[:-1], points[1:], strict=True)]
        self.lines = np.concatenate([self.lines, *pieces])

    def reserve(self, at, wide, high):
        """Take a box about a point [mm of paper] as one that no words may cover."""
        self.boxes.append((*np.asarray(at, float), wide / 2.0, high / 2.0))

    def label(self, places, words, **look):
        """Put words in the first of some places [mm of paper] where they cover nothing.

        A number whose unit has no room beside it has it below.
        """
        places, (number, _, unit) = list(places), words.rpartition(" ")
        whole = np.array([width_of(words, _LETTER) / 2.0 + 0.4, 0.5 * _LETTER])
        at = next((place for place in places[:_NEAR] if self._free(place, whole)), None)
        if at is None and number and " " not in number:
            half = np.array([width_of(number, _LETTER) / 2.0, 0.95 * _LETTER])
            at = next((place for place in places if self._free(place, half)), None)
            if at is not None:
                self.reserve(at, *(2.0 * half))
                self.sheet.middle(at - (0.0, 0.5 * _LETTER), number, size=_LETTER, halo=True, **look)
                self.sheet.middle(at + (0.0, 0.55 * _LETTER), unit, size=0.85 * _LETTER, halo=True, **look)
                return
        if at is None:
            at = next((place for place in places if self._free(place, whole)), places[0])
        self.reserve(at, *(2.0 * whole))
        self.sheet.middle(at, words, size=_LETTER, halo=True, **look)

    def _free(self, at, half):
        if at[0] - half[0] < self.edges[0] or at[0] + half[0] > self.edges[1]:
            return False
        if np.any(np.all(np.abs(self.lines - at) < half + 0.3, axis=-1)):
            return False
        return all(abs(x - at[0]) >= w + half[0] or abs(y - at[1]) >= h + half[1] for x, y, w, h in self.boxes)


def _draw_limbus(front, eye, part):
    """Draw the limbus: a circle, or the ellipse that it is."""
    if eye.white_to_white_vertical in (None, eye.white_to_white):
        radius = front.scale * float(eye.limbal_radius)
        front.sheet.disc(front.middle, radius, part=part, stroke=palette.LIMBUS, width=LINE)
        return
    ring = front.at(limbus_at(eye, np.arange(0.0, 360.0, 1.0)))
    front.sheet.path(ring, part=part, closed=True, stroke=palette.LIMBUS, width=LINE)


def true_scale(paper, centre, eye, aims, turn=0.0):
    """Draw the eye as large as it is: limbus, marks, openings, and the needles' lines.

    Parameters
    ----------
    paper : Paper
    centre : pair of float [mm]
    eye : Eye
    aims : pair of Aim
    turn : float [deg]
        For a seat.
    """
    front = Front(paper, centre, 1.0, turn)
    _draw_limbus(front, eye, "true-limbus")
    for m in range(0, 360, 30):
        edge, out = limbus_at(eye, float(m)), unit_at(float(m))[:2]
        paper.path(front.at([edge, edge - (1.0 if m % 90 == 0 else 0.6) * out]), stroke=palette.LIMBUS, width=FINE)
    for hour, m in ((12, 90.0), (3, 0.0), (6, 270.0), (9, 180.0)):
        edge, out = limbus_at(eye, m), unit_at(m)[:2]
        beyond = 2.6 if hour == 12 and abs(front.way(out)[0]) > 0.5 else 2.1
        paper.middle(front.at(edge - beyond * out), hour, size=1.9)
    for word in ("nasal", "temporal"):
        at = front.at(0.58 * limbus_at(eye, side_to_meridian(word, eye.side)))
        beside = (0.0, 2.2) if abs(at[0] - centre[0]) > 1.0 else (2.6, 0.0)
        paper.middle(at + beside, word[0].upper(), size=1.9, bold=True, colour=palette.QUIET)
    _cross(front, 0.7)
    for aim in aims:
        _needle(front, aim, back=9.0, ahead=6.0, tangent=5.0, small=True)
        badge(paper, front.off(aim, aim.passage.outer, 0.0, 3.4), aim.k, 1.5)


def enlarged(paper, box, eye, aims, turn=0.0):
    """Draw the eye as large as a box has room for, with its numbers; return the scale.

    Parameters
    ----------
    paper : Paper
    box : tuple of float [mm]
        Left, top, width, height.
    eye, aims, turn
        As in `true_scale`.
    """
    left, top, wide, high = box
    scale = next((s for s in SCALES if _fits(eye, aims, s, wide / 2.0, high / 2.0, turn)), SCALES[-1])
    front = Front(paper, (left + wide / 2.0, top + high / 2.0), scale, turn)
    front.edges = (left, left + wide)
    _draw_limbus(front, eye, "large-limbus")
    front.keep_clear(front.at(limbus_at(eye, np.arange(0.0, 361.0, 10.0))))
    _dial(front, eye)
    _cross(front, 2.0)
    for aim in aims:
        _needle(front, aim, back=_SHAFT, ahead=_AHEAD, tangent=_TANGENT, small=False)
        _name(front, aim)
    for aim in aims:
        _distance(front, aim)
        _angle(front, aim)
        _tunnel(front, aim)
    return scale


def key(paper, left, top, step):
    """Say what each sign means, one a line; return where the next line would be [mm].

    Parameters
    ----------
    paper : Paper
    left, top, step : float [mm]
    """
    ink, quiet = palette.INK, palette.QUIET
    rows = (
        ("first haptic, second haptic",
         lambda y: [badge(paper, (left + x, y), k, 1.5) for k, x in enumerate((1.6, 5.4))]),
        ("limbus", lambda y: paper.path([(left, y), (left + 7, y)], stroke=palette.LIMBUS, width=LINE)),
        ("mark at the limbus, on its meridian", lambda y: _mark(paper, (left + 2, y), (left + 5, y), 0.5)),
        ("scleral entry: the needle enters", lambda y: _outer(paper, (left + 3.5, y), 1.0, ink)),
        ("internal entry: the haptic is held", lambda y: paper.disc((left + 3.5, y), 0.8, fill=ink, width=0)),
        ("needle; tunnel in the sclera (thick)", lambda y: _sample(paper, left, y)),
        ("its line onwards, inside the eye", lambda y: paper.arrow((left, y), (left + 7, y), dash=_DOTS)),
        ("direction of the limbal tangent",
         lambda y: paper.path([(left, y), (left + 7, y)], stroke=quiet, dash=_DASH)),
        ("nasal, temporal",
         lambda y: paper.text(left + 1.2, y + 0.9, "N, T", size=2.4, bold=True, colour=quiet)),
    )  # fmt: skip
    for words, draw in rows:
        draw(top - 0.9)
        paper.text(left + 9.0, top, words, size=2.4)
        top += step
    return top


def _sample(paper, left, y):
    paper.path([(left, y), (left + 3.5, y)], width=LINE)
    paper.path([(left + 3.5, y), (left + 7, y)], width=3.0 * LINE)


def _cross(front, arm):
    x, y = front.middle
    front.sheet.path([(x - arm, y), (x + arm, y)], width=FINE)
    front.sheet.path([(x, y - arm), (x, y + arm)], width=FINE)


def _dial(front, eye):
    """Clock hours and degrees inside the limbus, and the four sides."""
    paper = front.sheet
    for m in range(0, 360, 10):
        edge, out = front.at(limbus_at(eye, float(m))), front.way(unit_at(float(m)))
        paper.path([edge, edge - (2.0 if m % 30 == 0 else 1.1) * out], stroke=palette.LIMBUS, width=FINE)
        if m % 30 == 0 and front.scale * float(eye.limbal_radius) > 18.0:
            hour = str(int(round(float(meridian_to_clock(float(m))))))
            paper.middle(edge - 4.3 * out, hour, size=2.9, bold=True)
            paper.middle(edge - (8.6 + 1.6 * abs(out[0])) * out, f"{m}°", size=2.2, colour=palette.QUIET)
    for word in ("nasal", "temporal", "superior", "inferior"):
        edge = limbus_at(eye, side_to_meridian(word, eye.side))
        flat = abs(front.way(edge)[0]) > 1.0
        at = front.at((0.43 if flat else 0.36) * edge) + (0.0, 3.0 if flat else 0.0)
        paper.middle(at, word, size=2.4, colour=palette.QUIET, halo=True)


def _needle(front, aim, *, back, ahead, tangent, small):
    """Draw tangent, needle, tunnel, openings and mark; lengths in mm of paper."""
    paper, u = front.sheet, front.way(aim.passage.direction)
    u = u / max(float(np.hypot(*u)), 1e-9)
    outer, inner = front.at(aim.passage.outer), front.at(aim.passage.inner)
    edge = front.at(limbus_at(aim.eye, aim.meridian))
    names = {} if small else {n: f"{n}-{aim.k + 1}" for n in ("shaft", "tangent", "tunnel", "outer", "inner", "mark")}
    if not small:
        paper.path([front.middle, outer], stroke=palette.EDGE, width=THIN)
        front.keep_clear([front.middle, outer])
    ends = [front.off(aim, aim.passage.outer, a, 0.0) for a in (-tangent, 0.6 * tangent)]
    dash = (0.9, 0.5) if small else _DASH
    paper.path(ends, part=names.get("tangent"), stroke=palette.QUIET, width=FINE if small else THIN, dash=dash)
    paper.path([outer - back * u, outer], part=names.get("shaft"), stroke=aim.colour, width=THIN if small else LINE)
    reach = outer + max(ahead, float(np.hypot(*(inner - outer))) + (2.5 if small else 5.0)) * u
    paper.arrow(inner, reach, head=1.1 if small else 1.8, colour=aim.colour, width=FINE if small else THIN, dash=_DOTS)
    paper.path([outer, inner], part=names.get("tunnel"), stroke=aim.colour, width=0.45 if small else 3.0 * LINE)
    front.keep_clear(ends)
    front.keep_clear([outer - back * u, reach])
    out = front.way(aim.outwards)
    arm = 0.6 if small else 1.8
    _mark(paper, edge - arm * out, edge + arm * out, 0.25 if small else BOLD, names.get("mark"))
    _outer(paper, outer, 0.35 if small else 1.05, aim.colour, names.get("outer") or f"true-outer-{aim.k + 1}")
    part = names.get("inner") or f"true-inner-{aim.k + 1}"
    paper.disc(inner, 0.3 if small else 0.85, part=part, fill=aim.colour, width=0)


def _mark(paper, start, end, width, part=None):
    paper.path([start, end], part=part, stroke=palette.MARKER_INK, width=width)


def _outer(paper, at, radius, colour, part=None):
    paper.disc(at, radius, part=part, fill="#ffffff", stroke=colour, width=0.4 * min(radius, 0.75))


def _ahead(aim):
    """+1 where the tunnel runs to the limbus's side of the tangent, as it should; -1 else."""
    return 1.0 if float(aim.fixation.limbus_angle) >= 0.0 else -1.0


def _room(way, words):
    """Half the room [mm] that upright words take in a direction on the paper."""
    return abs(way[0]) * width_of(words, _LETTER) / 2.0 + abs(way[1]) * 0.5 * _LETTER


def _distance(front, aim):
    """Draw the distance behind the limbus, behind the needle's start."""
    words, paper, back = millimetres(aim.fixation.limbus_distance), front.sheet, -_ahead(aim)
    edge, outer = limbus_at(aim.eye, aim.meridian), aim.passage.outer
    for end in (edge, outer):
        ends = [front.off(aim, end, back * a, 0.0) for a in (2.4, 6.4)]
        paper.path(ends, stroke=palette.QUIET, width=FINE)
    one, two = (front.off(aim, end, back * 5.4, 0.0) for end in (edge, outer))
    head = min(1.3, 0.4 * float(np.hypot(*(two - one))))
    for end in (one, two):
        paper.arrow((one + two) / 2.0, end, head=head, width=FINE)
    front.keep_clear([one, two])
    middle = (edge + outer[:2]) / 2.0
    beside = back * (6.6 + _room(front.way(aim.along), words))
    radius, ways = front.scale * float(np.hypot(*edge)), beside + back * np.arange(0.0, 16.0, 0.5)
    falls = radius - np.sqrt(np.maximum(radius**2 - ways**2, 0.0))  # as the limbus curves away there is more room
    front.label([front.off(aim, middle, w, -fall / 2.0) for w, fall in zip(ways, falls, strict=True)], words)


def _angle(front, aim):
    """Draw the angle between tangent and needle, on the side from which the needle comes."""
    paper, g = front.sheet, float(aim.fixation.limbus_angle)
    turn = -1.0 if aim.fixation.clockwise else 1.0
    base = front.turn + aim.meridian - 90.0 * turn  # the direction from which a needle along the tangent comes
    outer = front.at(aim.passage.outer)
    bow = arc(outer, _ARC, -base, -base - g * turn, 41)
    paper.path(bow, part=f"arc-{aim.k + 1}", width=THIN)
    front.keep_clear(bow)
    places = [arc(outer, _ARC + step, -base, -base - g * turn, 3)[1] for step in np.arange(3.4, 8.0, 0.5)]
    if abs(g) < 14.0:  # too narrow for words
        places = [front.off(aim, aim.passage.outer, -_ARC - step, -2.4 * _ahead(aim)) for step in (3.0, 4.5, 6.0)]
    front.label(places, degrees(g))


def _tunnel(front, aim):
    """Write the tunnel's length ahead of the mark, outside the tangent."""
    words = f"tunnel {millimetres(aim.passage.tunnel_length)}"
    room = _room(front.way(aim.outwards), words)
    middle = float((aim.passage.inner - aim.passage.outer)[:2] @ aim.along) * front.scale / 2.0
    places = [
        front.off(aim, aim.passage.outer, middle + step, out + room)
        for out in (1.2, 4.0, 8.0)
        for step in np.arange(0.0, 16.0, 0.5)
    ]
    front.label(places, words, colour=aim.colour)


def _name_place(front, aim):
    """Where the number of a haptic stands, and to which side its words go."""
    (across, up), ahead = front.way(aim.outwards), front.way(aim.along)[0]
    along, out = (8.0, 5.0) if aim.fixation.limbus_angle > 40.0 else (0.0, 6.5 + 2.5 * abs(up))
    at = front.off(aim, aim.passage.outer, along, out)
    x = across if abs(across) > 0.35 else ahead
    return at, 1.0 if x > 0.0 else -1.0


def _name_wide(aim):
    return max(width_of(degrees(aim.meridian), 3.1, True), width_of(aim.clock, 2.4))


def _name(front, aim):
    """Put the number of the haptic outside its mark, with the mark's meridian and clock time."""
    at, side = _name_place(front, aim)
    look = {"anchor": "start" if side > 0 else "end"}
    badge(front.sheet, at, aim.k, 2.1)
    x = at[0] + 3.2 * side
    front.sheet.text(x, at[1] - 0.2, degrees(aim.meridian), size=3.1, bold=True, colour=aim.colour, halo=True, **look)
    front.sheet.text(x, at[1] + 2.9, aim.clock, size=2.4, halo=True, **look)
    front.reserve(at, 4.6, 4.6)
    front.reserve((x + side * _name_wide(aim) / 2.0, at[1] + 0.2), _name_wide(aim), 8.6)


def _fits(eye, aims, scale, wide, high, turn):
    """Whether a drawing of that scale and its words stay within half a box's width and height [mm]."""
    front = Front(None, (0.0, 0.0), scale, turn)
    points = [*front.at(limbus_at(eye, np.arange(0.0, 360.0, 5.0)))]
    for aim in aims:
        outer, u = front.at(aim.passage.outer), front.way(aim.passage.direction)
        at, side = _name_place(front, aim)
        points += [outer - _SHAFT * u, front.off(aim, aim.passage.outer, -_TANGENT, 0.0), front.at(aim.passage.inner)]
        points += [at + (side * (3.2 + _name_wide(aim)), y) for y in (-3.0, 3.5)]
    return bool(np.all(np.abs(points) <= (wide, high)))
