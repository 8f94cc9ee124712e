"""One attempt: what hands make of a plan, for many eyes at once.

Aim, then mark, then needle. The order matters where the errors build on each other: the marker turns and
lies off-centre, its line is followed with an error of its own, the marked point may move, and there the
needle starts, bends, is turned, and leaves a track in which the haptic lies askew.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..hold.needle import Fixation, needle_pass
from . import instruments
from .error_model import columns, normal_deviates

_MARKER = 3.0  # [mm] off-centre; a marker beyond that misses the limbus, and its line may miss the wall
_RANGE = {f.name: (f.metadata["low"], f.metadata["high"]) for f in dataclasses.fields(Fixation) if "low" in f.metadata}


def attempt(hands, eye, lens, plan, uniform):
    """Return both passes as they come out.

    Parameters
    ----------
    hands : Hands
    eye : Eye
        A single one, or as many as there are rows of `uniform`.
    lens : Lens
    plan : pair of Fixation
        Single ones: what was aimed at.
    uniform : (n, columns) array [1]
        Numbers between 0 and 1, columns as in `error.columns()`; further ones are not looked at.

    Returns
    -------
    achieved : two Fixation
        With arrays of n in what the hands change.
    limited : dict
        How many values of "first.outside" and so on had to be held at the end of their sensible range.
    """
    place = {name: i for i, name in enumerate(columns())}
    draw = _Draw(uniform, place)
    limited = {}
    return tuple(_one_side(k, hands, eye, lens, plan[k], draw, limited) for k in range(2)), limited


class _Draw:
    """Columns of chance by name; a normal deviate is only made where it is needed."""

    def __init__(self, uniform, place):
        self.uniform, self.place = uniform, place

    def plain(self, name):
        return self.uniform[:, self.place[name]]

    def error(self, errors, name, side, part="own and shared"):
        """Errors of one side [unit of the quantity]; 0.0 where there can be none."""
        error, own, shared = errors, 0.0, 0.0
        if part != "shared" and error.spreads[side]:
            own = normal_deviates(self.plain(f"{name}.{('first', 'second')[side]}"))
        if part != "own" and error.shared:
            shared = normal_deviates(self.plain(f"{name}.shared"))
        if part == "shared":
            return error.shared * shared
        return error.at(side, own, shared)


def _one_side(k, hands, eye, lens, plan, draw, limited):
    def miss(name, part="own and shared"):
        return draw.error(getattr(hands, name), name, k, part)

    values = {"limbus_distance": plan.limbus_distance + miss("limbus_distance")}
    values["meridian"] = _marked(k, hands, eye, plan, values["limbus_distance"], draw, miss, limited)
    if not (hands.mark_moved_along.none and hands.mark_moved_across.none):
        around = _flat_radius(eye, plan, values["meridian"], values["limbus_distance"])
        values["meridian"] = values["meridian"] + np.degrees(miss("mark_moved_along") / around)
        values["limbus_distance"] = values["limbus_distance"] + miss("mark_moved_across")
    values["iris_angle"] = plan.iris_angle + miss("iris_angle") + miss("needle_bend")
    sideways = dataclasses.replace(hands.needle_bend, bias=0.0)
    swing = draw.error(sideways, "needle_bend_sideways", k) / np.cos(np.radians(plan.iris_angle))
    values["limbus_angle"] = plan.limbus_angle + miss("limbus_angle") + swing
    values["outside"] = plan.outside + miss("outside")
    if plan.tunnel_length is not None:
        values["tunnel_length"] = plan.tunnel_length + miss("tunnel_length")
    elif not hands.wall.none:
        values["wall"] = (eye.scleral_thickness if plan.wall is None else plan.wall) + miss("wall")
    if plan.exit_angle is not None:
        values["exit_angle"] = plan.exit_angle + miss("exit_angle")
    side = ("first", "second")[k]
    achieved = _fixation(plan, values, side, limited)
    if hands.track is None or hands.closure == 1.0:
        return achieved
    play = _play(hands, eye, lens, achieved, draw, side)
    return _fixation(achieved, play, side, limited)


def _marked(k, hands, eye, plan, distance, draw, miss, limited):
    """Meridian [deg] at which the needle starts, by a marker that may be turned and off-centre."""
    line = plan.meridian + miss("meridian", "shared")
    turn = 0.0
    if not (hands.marker_x.none and hands.marker_y.none):
        off = [_off_centre(hands, draw, name, limited if k == 0 else {}) for name in ("marker_x", "marker_y")]
        phi = np.radians(line)
        aside = np.cos(phi) * off[1] - np.sin(phi) * off[0]  # how far the line passes the limbal centre by
        for _ in range(8):  # the first is exact for a circular limbus; an ellipse needs a few
            turn = np.degrees(np.arcsin(aside / _flat_radius(eye, plan, line + turn, distance)))
    return line + turn + miss("meridian", "own")


def _off_centre(hands, draw, name, limited):
    error = getattr(hands, name)
    scale = np.hypot(error.spreads[0], error.shared)
    off = error.biases[0] + (scale * normal_deviates(draw.plain(name)) if scale else 0.0)
    return _held(name, off, -_MARKER, _MARKER, limited)


def _flat_radius(eye, plan, meridian, distance):
    """Distance [mm] from the axis of a point on the wall."""
    distance = np.clip(distance, *_RANGE["limbus_distance"])
    point = eye.wall_point(meridian, distance, plan.scleral_radius)
    return np.hypot(point[..., 0], point[..., 1])


def _play(hands, eye, lens, achieved, draw, side):
    """Direction in which the haptic is held, anywhere in the cone that its track leaves it."""
    length = needle_pass(eye, achieved).tunnel_length
    widest = np.radians(instruments.play_limit(hands.track, lens.haptic_diameter, length, hands.closure))
    widest = np.where(np.isfinite(widest), widest, 0.0)
    # every direction of the cone alike: the cosine is uniform; in half angles, which keep small ones exact
    off = 2.0 * np.degrees(np.arcsin(np.sin(widest / 2.0) * np.sqrt(draw.plain(f"play.{side}"))))
    dip = achieved.iris_angle if achieved.exit_angle is None else achieved.exit_angle
    swing, dip = instruments.askew(dip, off, 360.0 * draw.plain(f"play_side.{side}"))
    return {"exit_swing": achieved.exit_swing + swing, "exit_angle": dip}


def _fixation(plan, values, side, limited):
    """Plan with values changed; what leaves its sensible range is held at its end and counted."""
    held = {}
    for name, value in values.items():
        low, high = _RANGE[name]
        if name == "meridian":
            value = np.where(value > high, value - 360.0, np.where(value < low, value + 360.0, value))
        held[name] = _held(f"{side}.{name}", value, low, high, limited)
    return plan.but(**held)


def _held(name, value, low, high, limited):
    kept = np.clip(value, low, high)
    count = int(np.sum(kept != value))
    if count:
        limited[name] = limited.get(name, 0) + count
    return kept[()]
