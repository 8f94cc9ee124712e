"""Panels: sliders beside the eye, from in front and from the side.

::

    from eyesim import panel

    panel = panel.marks_panel()      # the last line of a cell shows it
    panel                             # its repr: one sentence with the numbers
    panel.set(mark_second=10)         # the sliders in the page follow
    panel.preset("One mark 10 deg off")
    panel.choose(seat="temporal")     # or eye, keep, hide, limit_decentration [mm], limit_tilt [deg]
    panel.state                       # {"mark_first": 0.0, "mark_second": 10.0, "ring_x": 0.0, ...}
    panel.controls                    # what the controls stand at: {"mark_both": 5.0, "mark_against": -5.0, ...}
    panel.settled                     # the settled lens, flagged where it could not settle
    panel.picture()                   # a Picture of the present state, for readers without a kernel
    panel.reset()

`marks_panel`, `needle_panel`, `tunnel_panel` each take `eye`, `lens` and the two limits `decentration` [mm] and
`tilt` [deg], which are chosen for teaching. `sight_panel` shows the letter chart as a patient sees it; it takes `eye`,
`lens` and the `pose` in which the lens should lie; *Keep to compare* puts the kept chart beside the next one and the
kept lens under it in dashes. `hand_panel` operates two thousand times with a hand of your own. `live_panel` is for a
group: everything on one board. `photo_panel` measures a practice eye in a photograph, `log_panel` writes a pass into a
practice log.
A panel begins with two sliders; *More sliders* opens the rest. Every pair of quantities is set *both together*
(half sum) and *one against the other* (half difference), or each side for itself. A case that cannot settle is told
in words.
"""

from __future__ import annotations

from ..chart.dip_plot import dip_plot
from ..eye.checks import LearnerError
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.marker import ring_marks
from ..hold.needle import Fixation
from ..hold.rest import line_parts
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .base import Panel
from .controls import Pair, Single, Switch
from .hand import HandPanel, hand_panel
from .live.panel import LivePanel, live_panel
from .log import LogPanel, log_panel
from .photo import PhotoPanel, photo_panel
from .sight import SightPanel, sight_panel

_FIRST = Fixation(meridian=0.0)
_SECOND = _FIRST.opposite()


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
    Panel
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
        "Ring off along the line": {"ring_x": 0.5},
        "Ring off across the line": {"ring_y": 0.5},
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

    return Panel("Marks", quantities, ("mark",), presets, build, say, eye=eye, decentration=decentration, tilt=tilt)


def needle_panel(eye=None, lens=None, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Panel for two needles: limbus and iris angle, wall, turned end, and the way round.

    Parameters are those of `marks_panel`.

    Returns
    -------
    Panel
        Quantities: dip, limbus, wall, turn (each _first and _second), straight, turned, wrong_way.
    """
    eye, lens = _given(eye, lens)
    wall = float(eye.scleral_thickness)
    quantities = [
        Pair("dip", "Dip to the iris plane", "deg", 0.0, 40.0, 0.5, 10.0),
        Switch("straight", "Straight on (else tunnels of 2 mm)", True),
        Pair("limbus", "Angle to the limbus", "deg", 0.0, 45.0, 0.5, 20.0),
        Pair("wall", "Wall", "mm", 0.3, 0.9, 0.01, wall, "straight"),
        Switch("turned", "Turned down at the tunnel's end"),
        Pair("turn", "\u2026 to this dip", "deg", 0.0, 90.0, 1.0, 30.0, "turned"),
        Switch("wrong_way", "Second needle run the wrong way round"),
    ]
    presets = {
        "Dips 8 and 12 deg": {"dip_first": 8.0, "dip_second": 12.0},
        "Dips 10 deg apart, tunnels kept": {"dip_first": 15.0, "dip_second": 5.0, "straight": False},
        "Too shallow": {"dip_first": 5.0, "dip_second": 5.0},
        "Wall thinner on one side": {"wall_second": wall + 0.1},
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
            f"Dips {v['dip_first']:.1f} and {v['dip_second']:.1f} deg, {v['limbus_first']:.1f} and "
            f"{v['limbus_second']:.1f} deg to the limbus{ends}: tunnels {lengths} mm. {_parts(pose)}"
        )

    return Panel(
        "Needles", quantities, ("dip", "straight"), presets, build, say,
        extra=dip_plot, eye=eye, decentration=decentration, tilt=tilt,
    )  # fmt: skip


def tunnel_panel(eye=None, lens=None, *, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT):
    """Panel for tunnel length and the haptic left outside, with a mark error to try a tuck on.

    Parameters are those of `marks_panel`.

    Returns
    -------
    Panel
        Quantities: tunnel, outside (each _first and _second) [mm], mark [deg].
    """
    eye, lens = _given(eye, lens)
    quantities = [
        Pair("outside", "Left outside or tucked", "mm", 0.3, 2.0, 0.05, 0.8),
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
            f"{v['tunnel_first']:.2f} and {v['tunnel_second']:.2f} mm long, outside {v['outside_first']:.2f} and "
            f"{v['outside_second']:.2f} mm{mark}. Pull {pose.tension[0]:.0f} mN (upper estimate), {pose.depth:.2f} "
            f"mm deep. {_parts(pose)}"
        )

    return Panel(
        "Tunnels", quantities, ("outside",), presets, build, say, eye=eye, decentration=decentration, tilt=tilt
    )


def _parts(pose):
    """Decentration, split along and across the line of the openings, and tilt."""
    along, across = (abs(float(part)) for part in line_parts(pose))
    return (
        f"The lens lies {pose.decentration:.2f} mm off centre ({along:.2f} along the line of the openings, "
        f"{across:.2f} across), tilted {pose.tilt:.1f} deg."
    )


def _from_opposite(pose):
    return abs((float(pose.second.meridian) - float(pose.first.meridian)) % 360.0 - 180.0)


def _given(eye, lens):
    eye, lens = Eye() if eye is None else eye, Lens() if lens is None else lens
    if not isinstance(eye, Eye) or not isinstance(lens, Lens) or eye.shape or lens.shape:
        raise LearnerError("A panel shows one eye and one lens: give an Eye and a Lens of single numbers, or none.")
    return eye, lens


__all__ = [
    "HandPanel", "LivePanel", "LogPanel", "PhotoPanel", "SightPanel", "hand_panel", "live_panel", "log_panel",
    "marks_panel", "needle_panel", "photo_panel", "sight_panel", "tunnel_panel",
]  # fmt: skip
