"""Measure a practice eye in a notebook: set points on a photograph, by mouse or keyboard, and read what they say.

::

    from eyesim.panel.photo import photo_panel

    panel = photo_panel("eye.jpg", white_to_white=11.8)   # the last line of a cell shows it
    panel.set(camera_from="0", depth=2.5)
    panel.found                                           # the numbers, each with its interval
    panel.points                                          # as `photo.points` keeps them
"""

from __future__ import annotations

import math
from html import escape

import numpy as np

from ..draw import palette
from ..draw.measured_picture import measured_picture
from ..eye.checks import LearnerError, known_name, short
from ..eye.sources import data_folder
from ..page.measurement import number_rows
from ..photo.camera import Known
from ..photo.ellipse import LEAST, fit_ellipse
from ..photo.front import measure_front, y_up
from ..photo.photograph import read_photograph
from ..photo.points import Points, points_bytes, read_points
from ..photo.side import measure_side
from ..text.reading import read_number
from .base import Panel
from .board import layout
from .controls import readout

KINDS = {
    "limbus": ("L", palette.FIRST, "edge"), "optic": ("O", palette.SECOND, "edge"), "ruler": ("R", palette.INK, "line"),
    "mark1": ("1", palette.MARKER_INK, "spot"), "mark2": ("2", palette.MARKER_INK, "spot"),
    "line1": ("a", palette.SERIES[2], "line"), "line2": ("b", palette.SERIES[2], "line"),
}  # fmt: skip
"""What points can lie on in a panel: the letter beside them, their colour, and how they are drawn."""
_WORDS = {
    "limbus": "Limbus", "optic": "Edge of the optic", "ruler": "Ruler, two points", "mark1": "First mark",
    "mark2": "Second mark", "line1": "First line, from the entry", "line2": "Second line, from the entry",
}  # fmt: skip
_NUMBERS = {
    "white_to_white": ("White-to-white", "mm", 5.0, 40.0, 0.1),
    "white_to_white_spread": ("its spread", "mm", 0.0, 2.0, 0.05),
    "ruler": ("Length of the ruler", "mm", 0.1, 200.0, 0.5),
    "depth": ("Depth of the optic", "mm", -1.0, 15.0, 0.1),
    "depth_spread": ("its spread", "mm", 0.0, 5.0, 0.05),
    "click": ("A point is set this well", "px", 0.1, 100.0, 0.1),
}
"""What is known, by name: words, unit, both ends of its scale and its step."""
_SIDES = (("", "not known"), *((f"{30 * k}", f"{30 * k} deg, {(2 - k) % 12 + 1} o'clock") for k in range(12)))
_USUAL = {"white_to_white": 11.8, "ruler": 10.0}
_MOST = 300
_HINT = (
    "Click to set a point. By keyboard: arrows move the cross by 1 px, with Shift by 10; Enter sets a point, Backspace "
    "removes the last one; 1 to 7 choose what it lies on."
)


class PhotoPanel(Panel):
    """A photograph with points on it; its repr says what they come to.

    Attributes
    ----------
    photograph : Photograph
    known : Known
        As it stands in the controls.
    found : Frontal, Side or None
        None while the points do not suffice.
    """

    def __init__(self, photograph, known, points=None):
        self.photograph, self.known = photograph, known
        self._set, self._what, self.found, self._words = [], "limbus", None, ""
        if points is not None:
            photograph.check(points)
            self._set = [[name, *map(float, at)] for name in KINDS for at in points.of.get(name, ())]
            if points.ruler is not None:
                self.known = known.but(ruler=points.ruler)
        self._sides = _SIDES if self._side in dict(_SIDES) else (*_SIDES, (self._side, self._side))
        super().__init__("Photograph", self._content(), file="eyesim-photograph")
        self._show()

    @property
    def points(self):
        """The points as `photo.points` keeps them."""
        named = {}
        for what, x, y in self._set:
            named.setdefault(what, []).append((x, y))
        return Points({name: np.array(places) for name, places in named.items()}, self.known.ruler)

    @property
    def sentence(self):
        """What the points come to, or what is still wanted."""
        return f"{self.photograph!r} {self._words}"

    def put(self, what, *places):
        """Set points (x, y) [px] on something, as clicks do."""
        with self._lock:
            self._heard("set", "points", {"points": self._set + [[what, *place] for place in places]})

    def picture(self):
        """Return the photograph with its points, and what was measured by them drawn into it, a `Picture`."""
        with self._lock:
            return measured_picture(self.photograph, self._finished, self.found)

    @property
    def _side(self):
        """Side of the camera, as the menu names it."""
        return "" if self.known.camera_from is None else f"{self.known.camera_from % 360.0:g}"

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "press":
            self._press(name)
        elif kind in ("set", "typed"):
            self._take(name, value)
        self._show()

    def _press(self, name):
        if name == "clear":
            self._set = [one for one in self._set if one[0] != self._what]
        elif name == "undo":
            self._set = self._set[:-1]
        elif name == "save":
            if not self._set:
                raise LearnerError("There are no points to save yet.")
            self._board.save(points_bytes(self.points), "points.csv", "text/csv")

    def _take(self, name, value):
        if name == "points":
            self._set = self._placed(value)
        elif name == "what":
            known_name("What a point lies on", value, tuple(KINDS))
            self._what = value
        elif name == "camera_from":
            if value not in dict(self._sides):
                raise LearnerError(f"The camera's side is one of those in the menu, not {short(value)}.")
            self.known = self.known.but(camera_from=float(value) if value else None)
        else:
            known_name("The panel", name, tuple(_NUMBERS))
            unit = _NUMBERS[name][1]
            number = read_number(value, unit if unit in ("mm", "deg") else "")
            self.known = self.known.but(**{name: number})

    def _placed(self, value):
        """Points as the page tells them, if they are points."""
        points = value.get("points") if isinstance(value, dict) else None
        if not isinstance(points, list) or len(points) > _MOST:
            raise LearnerError(f"Up to {_MOST} points can be set.")
        placed = []
        for one in points:
            if not isinstance(one, (list, tuple)) or len(one) != 3 or one[0] not in KINDS:
                raise LearnerError(f"A point lies on one of {', '.join(KINDS)}, at x and y; {short(one)} was given.")
            x, y = (read_number(v, "") if not isinstance(v, str) else math.nan for v in one[1:])
            if not (0.0 <= x <= self.photograph.width and 0.0 <= y <= self.photograph.height):
                raise LearnerError("A point lies within the photograph.")
            placed.append([one[0], round(x, 2), round(y, 2)])
        return placed

    def _measure(self):
        """Measure what can be measured; return the words."""
        points, known = self.points, self.known
        self.found, self._finished, self._wanted = None, points, ""
        counts = {name: len(points.of.get(name, ())) for name in KINDS}
        if counts["ruler"] < 2:  # not finished, so white-to-white gives the scale
            points.of.pop("ruler", None)
            known = known.but(ruler=None)
        if counts["limbus"] == 2 and counts["optic"] >= 2:
            self.found = measure_side(points, known)
        elif counts["limbus"] < LEAST:
            more = LEAST - counts["limbus"]
            raise LearnerError(
                f"Set {more} more points on the limbus, better 10 all around it. (From the side: two on the limbus, "
                "two or more on the optic.)"
            )
        else:
            for name in ("optic", "line1", "line2"):  # what is not finished is not measured yet
                if 0 < counts[name] < (LEAST if name == "optic" else 2):
                    points.of.pop(name)
            self.found = measure_front(points, known)
        if 0 < counts["optic"] < LEAST and counts["limbus"] != 2:
            self._wanted = f" Set {LEAST - counts['optic']} more points on the edge of the optic."
        return repr(self.found) + self._wanted

    def _edges(self):
        """Return ellipses [px, y down] that fit: centre, half-axes, and the longer one's turn [deg], clockwise."""
        edges = []
        for name, places in self.points.of.items():
            if name in ("limbus", "optic") and len(places) >= LEAST:
                try:
                    fit = fit_ellipse(y_up(places), name)
                except LearnerError:
                    continue
                edges.append([fit.centre[0], -fit.centre[1], *fit.half_axes, -math.degrees(fit.angle)])
        return [[round(float(v), 2) for v in edge] for edge in edges]

    def _show(self):
        try:
            self._words, kind = self._measure(), "go"
        except LearnerError as error:
            self._words, kind = str(error), "wait"
        values = {name: getattr(self.known, name) for name in _NUMBERS}
        values |= {"points": {"points": self._set, "edges": self._edges()}, "what": self._what}
        values["camera_from"] = self._side
        self._board.show(values=values, regions={"told": self._told(kind)}, said=self._words)

    def _told(self, kind):
        """Return what was measured: a line and a table where it is much, else the sentence."""
        rows = number_rows(self.found)
        if not rows:
            return readout(self._words, kind)
        lines = "".join(f"<tr><th scope='row'>{escape(a)}</th><td>{escape(b)}</td></tr>" for a, b in rows[1:])
        words = " ".join(self.found.remarks) + self._wanted
        head = readout(words, kind, ": ".join(rows[0]).capitalize())
        return f"{head}<table class='eyesim-rows'><tbody>{lines}</tbody></table>"

    def _content(self):
        photo = self.photograph
        plate = layout.plate(
            "points",
            "Photograph, points are set here",
            photo.address,
            (photo.width, photo.height),
            KINDS,
            "what",
            alt=f"{photo!r} What is measured in it stands in the sentence.",
            hint=_HINT,
        )
        what = layout.radios("what", "The next point lies on", list(_WORDS.items()))
        numbers = [layout.slider(name, *scale, bare=True) for name, scale in _NUMBERS.items()]
        buttons = layout.row(
            layout.button("undo", "Remove the last point"),
            layout.button("clear", "Remove all of this kind"),
            layout.button("save", "Save the points", hint="As a table that the command line reads too"),
            look="buttons",
        )
        side = layout.menu("camera_from", "The camera looked from the side of meridian", self._sides)
        controls = layout.column(what, layout.group("What is known", *numbers), side, look="controls")
        # What is told stands below: as it grows it must not move the photograph under the hand.
        shown = layout.column(plate, buttons, layout.region("told"), look="shown")
        return layout.column(layout.row(controls, shown), layout.region("caution"))


def photo_panel(path=None, *, points=None, **known) -> PhotoPanel:
    """Open a photograph to be measured.

    Parameters
    ----------
    path : str, Path or None
        A JPEG or PNG; None opens the one of the demonstration.
    points : Points or None
        To begin with.
    **known
        Fields of `Known`; to begin with, white_to_white is 11.8 mm and a ruler, if one is pointed at, 10 mm long.
    """
    path = data_folder() / "demo" / "eye-in-front.jpg" if path is None else path
    return PhotoPanel(read_photograph(path), Known(**(_USUAL | known)), points)


def demonstration_photo(**known):
    """Open the photograph of the demonstration with its points set, a `PhotoPanel`.

    Parameters
    ----------
    **known
        Fields of `photo.camera.Known`, such as `camera_from`.
    """
    return _demonstrated("eye-in-front", known)


def demonstration_section(**known):
    """Open the demonstration's photograph from the side with its points set, a `PhotoPanel`; parameters alike."""
    return _demonstrated("eye-from-the-side", known)


def _demonstrated(name, known):
    where = data_folder() / "demo"
    return photo_panel(where / f"{name}.jpg", points=read_points(where / f"{name}.csv"), **known)
