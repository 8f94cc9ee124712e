"""Sliders for two passes of a needle, and the lens that they hold, from in front and from the side.

::

    from eyesim.panel import marks_panel

    panel = marks_panel()             # the last line of a cell shows it
    panel                             # its repr: one sentence with the numbers
    panel.set(mark_second=10)         # the sliders in the page follow
    panel.preset("One mark 10 deg off")
    panel.choose(seat="temporal")     # or eye, keep, hide, limit_decentration [mm], limit_tilt [deg]
    panel.state                       # {"mark_first": 0.0, "mark_second": 10.0, "ring_x": 0.0, ...}
    panel.controls                    # what the controls stand at: {"mark_both": 5.0, "mark_against": -5.0, ...}
    panel.settled, panel.verdict      # the settled lens, and whether it matters where it sits
    panel.picture()                   # a Picture of the present state, for readers without a kernel
    panel.reset()

A panel begins with two sliders; *More sliders* opens the rest. Every pair of quantities is set *both together* (half
sum) and *one against the other* (half difference), or each side for itself. A case that cannot settle is told in words.
"""

from __future__ import annotations

import contextlib
import functools

from ..chart.dip_plot import dip_plot
from ..draw.front import SEATS
from ..draw.picture import Picture
from ..draw.views import both_views
from ..eye.checks import LearnerError, known_name
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.marker import ring_marks
from ..hold.needle import Fixation
from ..hold.rest import line_parts
from ..hold.settle import settle
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT, checked_limits, judge
from .board import layout
from .controls import HIDDEN, SEAT_OPTIONS, failure, readout, words_alone
from .quantities import Pair, Single, Switch
from .sliders import SliderPanel

_FIRST = Fixation(meridian=0.0)
_SECOND = _FIRST.opposite()
_SEATS, _SIDES = tuple(SEATS), ("right", "left")


class PassPanel(SliderPanel):
    """Sliders beside the eye from in front and from the side, for two passes of a needle and the lens they hold.

    Parameters
    ----------
    name : str
    quantities : list of Single, Pair and Switch
    seen : tuple of str
        Keys of those that are in sight from the start.
    presets : dict
        Name of a mistake to the values it changes.
    build : callable
        From the eye and values of all quantities to `Eye`, `Lens` and two `Fixation`.
    say : callable
        From values and a settled lens to a sentence.
    eye : Eye
    limits : pair of float [mm], [deg]
        Of decentration and tilt.
    extra : callable or None
        From values and lens to HTML below the picture.
    """

    def __init__(self, name, quantities, seen, presets, build, say, eye, limits, extra=None):
        self._build, self._say, self._extra, self._eye = build, say, extra, eye
        self._settled_at = functools.lru_cache(maxsize=4)(self._settle)  # words, picture and verdict ask for one
        self._limits = dict(zip(("decentration", "tilt"), checked_limits(*limits), strict=True))
        super().__init__(name, quantities, seen, presets)
        self._options |= {"seat": "front", "eye": eye.side}
        planned = self._result(self._values)
        self._planned_depth = float(planned.depth) if planned.settled else None
        self._draw()

    @property
    def settled(self):
        """The settled lens, flagged where it could not settle."""
        with self._lock:
            return self._result(self._values)

    @property
    def verdict(self):
        """Whether it matters where the lens sits, a `Verdict`; None where it has not settled."""
        with self._lock:
            pose = self._result(self._values)
            return self._judge(pose) if pose.settled else None

    def picture(self):
        """Picture of the present state, for readers without a running kernel; nothing is hidden in it."""
        with self._lock:
            pose = self._result(self._values)
            return Picture(self._view(pose, hidden=False).svg, self._words(pose))

    def _result(self, values):
        return self._settled_at(self._options.get("eye", self._eye.side), *values.items())

    def _settle(self, side, *items):
        eye, lens, first, second = self._build(self._eye.but(side=side), dict(items))
        return settle(eye, lens, first, second, on_failure="flag")

    def _judge(self, pose):
        return judge(pose, planned_depth=self._planned_depth, **self._limits)

    def _words(self, pose):
        if not pose.settled:
            return f"{self._name}: {failure(pose)}"
        return f"{self._name}: {self._say(self._values, pose)} {self._judge(pose)}"

    def _view(self, pose, hidden):
        """Picture of one settled or flagged lens; marks and needles only, where there is no lens to draw."""
        if pose.settled:
            kept = None if hidden else self._kept
            return both_views(pose, seat=self._options["seat"], compare=kept, hidden=hidden)
        with contextlib.suppress(LearnerError):
            return both_views(pose, seat=self._options["seat"], hidden=True if hidden else "no outcome")
        words = failure(pose)
        return Picture(words_alone(words), words)

    def _pictures(self, values):
        return {"eye": self._view(self._result(values), self._options["hide"])}

    def _regions(self):
        pose = self._result(self._values)
        if self._options["hide"]:
            return {"readout": readout("What do you expect?", "wait", HIDDEN), "after": ""}
        after = self._extra(self._values, pose) if self._extra else ""
        if not pose.settled:
            return {"readout": readout(failure(pose), "stop", "There is no outcome to show."), "after": after}
        verdict = self._judge(pose)
        kind = "go" if verdict.within else "stop"
        return {"readout": readout(self._say(self._values, pose), kind, verdict.short), "after": after}

    def _choose(self, name, value):
        if name.startswith("limit_") and name.removeprefix("limit_") in self._limits:
            limits = self._limits | {name.removeprefix("limit_"): value}
            self._limits = dict(zip(limits, checked_limits(**limits), strict=True))
        elif name in ("seat", "eye"):
            known_name(self._name, value, _SEATS if name == "seat" else _SIDES)
            self._options[name] = value
        else:
            super()._choose(name, value)

    def _option_values(self):
        return super()._option_values() | {f"limit_{name}": value for name, value in self._limits.items()}

    def _view_part(self):
        return [
            layout.menu("seat", "Seat", SEAT_OPTIONS),
            layout.menu("eye", "Eye", [(side, side) for side in _SIDES]),
            *super()._view_part(),
            layout.slider("limit_decentration", "Limit of decentration", "mm", 0.01, 5.0, 0.05, bare=True),
            layout.slider("limit_tilt", "Limit of tilt", "deg", 0.1, 90.0, 0.5, bare=True),
        ]


def marks_panel(eye=None, lens=None, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Panel for two marks, and the ring that makes them.

    Parameters
    ----------
    eye : Eye or None
    lens : Lens or None
    decentration, tilt : float [mm], [deg]
        Limits beyond which it matters; chosen for teaching.

    Returns
    -------
    PassPanel
        Quantities: mark_first, mark_second [deg, off 0 and 180, counter-clockwise], ring_x, ring_y [mm], calipers.
    """
    eye, lens = _given(eye, lens)
    quantities = [
        Pair("mark", "Mark turned", "deg", -30.0, 30.0, 0.5, 0.0),
        Single("ring_x", "Marker ring off-centre, to the right", "mm", -1.0, 1.0, 0.05, 0.0),
        Single("ring_y", "Marker ring off-centre, upwards", "mm", -1.0, 1.0, 0.05, 0.0),
        Switch("calipers", "Distance measured again with calipers"),
    ]
    presets = {
        "One mark 10 deg off": {"mark_second": 10.0},
        "Both turned 15 deg": {"mark_first": 15.0, "mark_second": 15.0},
        "Each 5 deg, against": {"mark_first": -5.0, "mark_second": 5.0},
        "Ring off along the haptic axis": {"ring_x": 0.5},
        "Ring off across the haptic axis": {"ring_y": 0.5},
    }

    def build(eye, v):
        passes = []
        for base, off in ((_FIRST, v["mark_first"]), (_SECOND, v["mark_second"])):
            meridian, distance = ring_marks(eye, v["ring_x"], v["ring_y"], base.meridian + off, calipers=v["calipers"])
            passes.append(base.but(meridian=meridian, limbus_distance=distance))
        return eye, lens, *passes

    def say(v, pose):
        ring = ""
        if v["ring_x"] or v["ring_y"]:
            ring = f", ring {v['ring_x']:.2f} mm to the right and {v['ring_y']:.2f} mm up"
            ring += ", distances measured again" if v["calipers"] else ""
        return (
            f"Turned by {v['mark_first']:.1f} and {v['mark_second']:.1f} deg, "
            f"{_from_opposite(pose):.1f} deg from opposite{ring}. {_parts(pose)}"
        )

    return PassPanel("Marks", quantities, ("mark",), presets, build, say, eye, (decentration, tilt))


def needle_panel(eye=None, lens=None, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Panel for two needles: limbus and iris angle, wall, turned end, and the way round.

    Parameters
    ----------
    eye, lens, decentration, tilt
        As in `marks_panel`.

    Returns
    -------
    PassPanel
        Quantities: dip, limbus, wall, turn (each _first and _second), straight, turned, wrong_way.
    """
    eye, lens = _given(eye, lens)
    wall = float(eye.scleral_thickness)
    quantities = [
        Pair("dip", "Angle to the iris plane", "deg", 0.0, 40.0, 0.5, 10.0),
        Switch("straight", "Single-plane pass (else tunnels of 2 mm)", True),
        Pair("limbus", "Angle to the limbus", "deg", 0.0, 45.0, 0.5, 20.0),
        Pair("wall", "Scleral thickness", "mm", 0.3, 0.9, 0.01, wall, "straight"),
        Switch("turned", "Turned down at the tunnel's end"),
        Pair("turn", "\u2026 to this angle", "deg", 0.0, 90.0, 1.0, 30.0, "turned"),
        Switch("wrong_way", "Second needle run the wrong way round"),
    ]
    presets = {
        "Iris angles 8 and 12 deg": {"dip_first": 8.0, "dip_second": 12.0},
        "Iris angles 10 deg apart, tunnels kept": {"dip_first": 15.0, "dip_second": 5.0, "straight": False},
        "Too shallow": {"dip_first": 5.0, "dip_second": 5.0},
        "Sclera thinner on one side": {"wall_second": wall - 0.1},
        "Ends turned 45 and 30 deg": {"turned": True, "turn_first": 45.0, "turn_second": 30.0, "straight": False},
        "Both too steep": {"dip_first": 20.0, "dip_second": 20.0, "straight": False},
        "Wrong way round": {"wrong_way": True, "straight": False},
    }

    def build(eye, v):
        passes = []
        for base, side in ((_FIRST, "first"), (_SECOND, "second")):
            fields = {
                "iris_angle": v[f"dip_{side}"],
                "limbus_angle": v[f"limbus_{side}"],
                "wall": v[f"wall_{side}"],
                "tunnel_length": None if v["straight"] else 2.0,
                "exit_angle": v[f"turn_{side}"] if v["turned"] else None,
                "clockwise": not (v["wrong_way"] and side == "second"),
            }
            passes.append(base.but(**fields))
        return eye, lens, *passes

    def say(v, pose):
        lengths = " and ".join(f"{float(p.tunnel_length):.2f}" for p in pose.passages)
        ends = f", ends turned to {v['turn_first']:.0f} and {v['turn_second']:.0f} deg" if v["turned"] else ""
        return (
            f"Iris angles {v['dip_first']:.1f} and {v['dip_second']:.1f} deg, limbus angles "
            f"{v['limbus_first']:.1f} and {v['limbus_second']:.1f} deg{ends}: tunnels {lengths} mm. {_parts(pose)}"
        )

    return PassPanel(
        "Needles", quantities, ("dip", "straight"), presets, build, say, eye, (decentration, tilt), dip_plot
    )


def tunnel_panel(eye=None, lens=None, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Panel for tunnel length and the haptic left outside, with a mark error to try a tuck on.

    Parameters
    ----------
    eye, lens, decentration, tilt
        As in `marks_panel`.

    Returns
    -------
    PassPanel
        Quantities: tunnel, outside (each _first and _second) [mm], mark [deg].
    """
    eye, lens = _given(eye, lens)
    quantities = [
        Pair("outside", "Externalised or tucked", "mm", 0.3, 2.0, 0.05, 0.8),
        Pair("tunnel", "Tunnel", "mm", 0.5, 3.0, 0.05, 2.0),
        Single("mark", "Second mark from opposite", "deg", -15.0, 15.0, 0.5, 0.0),
    ]
    presets = {
        "One tunnel 1 mm short": {"tunnel_first": 1.0},
        "Short, and drawn to match": {"tunnel_first": 1.0, "outside_first": 1.8},
        "One tucked 1 mm more": {"outside_first": 1.8},
        "Both trimmed 0.4 mm more": {"outside_first": 1.2, "outside_second": 1.2},
        "Both tunnels 1 mm": {"tunnel_first": 1.0, "tunnel_second": 1.0},
        "Mark 8 deg off, tucked": {"mark": 8.0, "outside_first": 1.1, "outside_second": 0.6},
    }

    def build(eye, v):
        first = _FIRST.but(tunnel_length=v["tunnel_first"], outside=v["outside_first"])
        second = _SECOND.but(meridian=180.0 + v["mark"], tunnel_length=v["tunnel_second"], outside=v["outside_second"])
        return eye, lens, first, second

    def say(v, pose):
        mark = f", second mark {v['mark']:.1f} deg from opposite" if v["mark"] else ""
        return (
            f"{v['tunnel_first']:.2f} and {v['tunnel_second']:.2f} mm long, externalised {v['outside_first']:.2f} and "
            f"{v['outside_second']:.2f} mm{mark}. Pull {pose.tension[0]:.0f} mN (upper estimate), {pose.depth:.2f} "
            f"mm deep. {_parts(pose)}"
        )

    return PassPanel("Tunnels", quantities, ("outside",), presets, build, say, eye, (decentration, tilt))


def _parts(pose):
    """Decentration, split along and across the haptic axis, and tilt."""
    along, across = (abs(float(part)) for part in line_parts(pose))
    return (
        f"The lens lies {pose.decentration:.2f} mm off centre ({along:.2f} along the haptic axis, "
        f"{across:.2f} across), tilted {pose.tilt:.1f} deg."
    )


def _from_opposite(pose):
    return abs((float(pose.second.meridian) - float(pose.first.meridian)) % 360.0 - 180.0)


def _given(eye, lens):
    eye, lens = Eye() if eye is None else eye, Lens() if lens is None else lens
    if not isinstance(eye, Eye) or not isinstance(lens, Lens) or eye.shape or lens.shape:
        raise LearnerError("A panel shows one eye and one lens: give an Eye and a Lens of single numbers, or none.")
    return eye, lens
