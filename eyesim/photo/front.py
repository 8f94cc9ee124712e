"""A practice eye measured in a photograph from in front: where the optic lies, where the marks, which way the lines.

Every number is an `Estimate`: its 95 % interval covers how the points were set, how well scale and depth are known,
and from which side the camera looked, where nobody knows. See `camera` for what is assumed. ::

    found = measure_front(read_points("points.csv"), Known(white_to_white=11.8))
    found.decentration      # how far the optic's centre lies from the limbal centre
    found.lines[0]          # the first line: meridian, and angle to the limbal tangent
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, must_be, plain_errors
from ..eye.frames import whole_degrees
from ..study.estimates import Estimate
from .camera import Known, estimate_camera
from .ellipse import fit_ellipse, line_direction
from .points import Points, make_points
from .uncertainty import Chance, angle_interval, contains_origin, interval, size_and_meridian

TOO_OBLIQUE = 45.0
"""[deg] Chosen for teaching: a photograph more oblique than this is not measured."""


@dataclasses.dataclass(frozen=True, repr=False)
class Mark:
    """Where a mark lies.

    Attributes
    ----------
    name : str
    meridian : Estimate [deg]
        About the limbal centre.
    limbus_distance : Estimate [mm]
        Behind the limbus, along the sclera.
    """

    name: str
    meridian: Estimate
    limbus_distance: Estimate

    def __repr__(self):
        where = meridian_words(self.meridian, ".1f")
        return f"{self.name} lies at the meridian of {where}, {self.limbus_distance.text('.2f')} behind the limbus."


@dataclasses.dataclass(frozen=True, repr=False)
class Line(Mark):
    """A drawn line: a mark where it starts, and how it runs.

    Attributes
    ----------
    limbus_angle : Estimate [deg]
        Between the line and the limbal tangent at the meridian of its start, towards the eye; negative away from it.
    clockwise : bool
        Which way along the limbus it runs.
    """

    limbus_angle: Estimate
    clockwise: bool

    def __repr__(self):
        way = "clockwise" if self.clockwise else "counter-clockwise"
        return (
            f"{self.name} starts at the meridian of {meridian_words(self.meridian, '.1f')} and runs {way}, at "
            f"{self.limbus_angle.text('.1f')} to the limbal tangent, towards the eye."
        )


@dataclasses.dataclass(frozen=True, repr=False)
class Frontal:
    """What a photograph from in front shows.

    Attributes
    ----------
    x, y : Estimate or None [mm]
        Of the optic's centre, to the observer's right and upwards; None where no optic was marked.
    decentration, meridian : Estimate or None [mm], [deg]
        How far the optic's centre lies from the limbal centre, and towards which meridian.
    optic_diameter : Estimate or None [mm]
    obliquity : Estimate [deg]
        Of the camera.
    camera_meridian : Estimate [deg]
        Towards which the camera leaned; where nobody knows from which side it looked, it may be the opposite one.
    white_to_white : Estimate [mm]
    scale : Estimate [px/mm]
    marks : tuple of Mark
    lines : tuple of Line
    apart : Estimate or None [deg]
        From the first mark to the second, counter-clockwise: their errors in common cancel.
    click : float [px]
        Spread with which the points were set, at least.
    remarks : tuple of str
        What ought to be known about it.
    """

    x: Estimate | None
    y: Estimate | None
    decentration: Estimate | None
    meridian: Estimate | None
    optic_diameter: Estimate | None
    obliquity: Estimate
    camera_meridian: Estimate
    white_to_white: Estimate
    scale: Estimate
    marks: tuple[Mark, ...]
    lines: tuple[Line, ...]
    apart: Estimate | None
    click: float
    remarks: tuple[str, ...]

    def __repr__(self):
        sentences = [_where(self), *map(repr, (*self.marks, *self.lines))]
        if self.apart is not None:
            sentences.append(f"From {self.marks[0].name} to {self.marks[1].name} are {self.apart.text('.1f')}.")
        return " ".join(filter(None, [*sentences, *self.remarks]))


@plain_errors
def measure_front(points, known):
    """Measure an eye in a photograph from in front.

    Raises LearnerError if the points are too few, are no ellipse, cannot lie so in an eye, or nothing says how large it
    is.

    Parameters
    ----------
    points : Points or dict
        Pixels, y down; the limbus is needed, all else is measured if it is there.
    known : Known
        What is known of the eye and the camera.

    Returns
    -------
    Frontal
    """
    must_be("measure_front", "known", known, Known)
    points = points if isinstance(points, Points) else make_points(points)
    of = {name: y_up(places) for name, places in points.of.items()}
    if "limbus" not in of:
        raise LearnerError("No point of the limbus was given; set at least 6, better 10 all around.")
    limbus = fit_ellipse(of["limbus"], "the limbus", floor=known.click)
    optic = fit_ellipse(of["optic"], "the optic's edge", floor=known.click) if "optic" in of else None
    if optic is not None:
        _one_inside_the_other(limbus, optic)
    chance, click = Chance(), limbus.spread if optic is None else max(limbus.spread, optic.spread)
    if known.ruler is None and points.ruler is not None and "ruler" in of:
        known = known.but(ruler=points.ruler)
    camera = estimate_camera(limbus, _ruler(of, known, click, chance), known, chance)
    oblique = _obliquity(camera, known)
    _not_too_oblique(limbus, oblique)
    marks = tuple(_mark(name, of[name], camera, known, click, chance) for name in points.named("mark"))
    lines = tuple(_line(name, of[name], camera, known, click, chance) for name in points.named("line"))
    return Frontal(
        **_decentration(optic, camera, known, chance),
        obliquity=oblique,
        camera_meridian=_camera_meridian(camera),
        white_to_white=interval([2.0 * camera.radius / camera.scale], "mm"),
        scale=interval([camera.scale], "px/mm"),
        marks=tuple(mark for mark, _ in marks),
        lines=lines,
        apart=_apart(marks),
        click=click,
        remarks=_remarks(limbus, optic, oblique, known),
    )


def meridian_words(meridian, spec=".0f"):
    """Say a meridian [deg] with its interval, whose ends lie from 0 to 360, counter-clockwise.

    Parameters
    ----------
    meridian : Estimate [deg]
    spec : str
        Format of the numbers, ".0f" or ".1f".
    """
    digits = int(spec[1:-1])
    ends = (round(angle % 360.0, digits) % 360.0 for angle in (meridian.value, meridian.low, meridian.high))
    value, low, high = (format(angle, spec) for angle in ends)
    return f"{value} deg (95 % interval {low}, counter-clockwise to {high})"


def y_up(points):
    """Points (..., 2) of a picture, whose y goes down, with y up."""
    return np.asarray(points, float) * [1.0, -1.0]


def _one_inside_the_other(limbus, optic):
    """Refuse an optic that lies around the limbus, or outside it."""
    if optic.half_axes[0] >= limbus.half_axes[0]:
        raise LearnerError(
            "The points of the optic lie around those of the limbus; the optic is the smaller one. Were the two "
            "changed over?"
        )
    if not limbus.holds(optic.centre):
        raise LearnerError("The optic's centre lies outside the limbus; from in front that cannot be seen.")


def _ruler(of, known, click, chance):
    if "ruler" not in of:
        if known.ruler is not None:
            raise LearnerError("The ruler's length is given, but not its two points in the photograph ('ruler').")
        return None
    places = of["ruler"]
    if known.ruler is None:
        raise LearnerError("The ruler's two points are given, but not how far they lie apart: ruler [mm].")
    apart = f"at least {20.0 * known.click:.0f} px apart"
    if len(places) != 2:
        raise LearnerError(f"The ruler takes two points, {apart}; {len(places)} were given.")
    if np.hypot(*(places[0] - places[1])) < 20.0 * known.click:
        raise LearnerError(f"The ruler's two points lie too close together to give a scale; they lie {apart}.")
    return places + click * chance.normal(2, 2)


def _obliquity(camera, known):
    """Obliquity of the camera; it begins at nought where the limbus may be seen from straight in front, or says less.

    Where the limbus looks more oblique than the camera can have been, it tells nothing of how oblique it was.
    """
    found = interval([np.degrees(np.arccos(camera.cosine))], "deg")
    beyond = known.most_oblique is not None and found.high >= known.most_oblique - 1e-6
    return dataclasses.replace(found, low=0.0) if beyond or contains_origin(camera.lean) else found


def _camera_meridian(camera):
    phi = np.degrees(np.arctan2(camera.towards[:, 1], camera.towards[:, 0]))
    if not camera.one_side:
        return angle_interval([phi], turn=180.0)
    return angle_interval([phi + 90.0 * (1.0 - camera.signs[0])])


def _not_too_oblique(limbus, oblique):
    if oblique.value > TOO_OBLIQUE:
        long, short = limbus.half_axes
        raise LearnerError(
            f"The limbus is {short / long:.2f} times as wide as long: the camera would have been {oblique.value:.0f} "
            f"degrees oblique. Up to {TOO_OBLIQUE:.0f} are measured; take a photograph from in front."
        )


def _decentration(optic, camera, known, chance):
    if optic is None:
        return dict.fromkeys(("x", "y", "decentration", "meridian", "optic_diameter"))
    centre, shape = optic.drawn(chance.normal(5), chance.chi2(optic.freedom))
    depth = known.depth + known.depth_spread * chance.normal()
    larger = known.magnification + known.magnification_spread * chance.normal()
    places = [camera.lifted(centre, depth, sign) / larger[:, None] for sign in camera.signs]
    x, y = (interval([place[:, axis] for place in places], "mm") for axis in (0, 1))
    size, meridian = size_and_meridian(places)
    diameter = interval([2.0 * np.linalg.eigvalsh(shape)[:, 1] / camera.scale / larger], "mm")
    return {"x": x, "y": y, "decentration": size, "meridian": meridian, "optic_diameter": diameter}


def _on_the_sclera(points, camera, radius, sign):
    """Where points (n, 2) [px] lie (n, 2) [mm] on the sclera, a sphere through the limbus; and how far behind it."""
    limbus = camera.radius / camera.scale
    radius = np.maximum(radius, 1.02 * limbus)
    place = camera.on_ball(points, radius, np.sqrt(radius**2 - limbus**2), sign)
    out = np.minimum(np.hypot(place[:, 0], place[:, 1]), 0.99 * radius)
    return place, radius * (np.arcsin(out / radius) - np.arcsin(limbus / radius))


def _scleral_radius(known, chance):
    return known.scleral_radius + known.scleral_radius_spread * chance.normal()


def _meridian(place):
    return np.degrees(np.arctan2(place[:, 1], place[:, 0]))


def _mark(name, places, camera, known, click, chance):
    """Return a mark, and its meridian in every draw."""
    points = places.mean(axis=0) + click / np.sqrt(len(places)) * chance.normal(2)
    radius = _scleral_radius(known, chance)
    lies = [_on_the_sclera(points, camera, radius, sign) for sign in camera.signs]
    meridians = [_meridian(place) for place, _ in lies]
    _not_in_the_middle(name, lies[0][0][0], camera)
    return Mark(name, angle_interval(meridians), interval([back for _, back in lies], "mm")), meridians


def _apart(marks):
    if len(marks) < 2:
        return None
    (_, one), (_, other) = marks[:2]
    return angle_interval([b - a for a, b in zip(one, other, strict=True)])


def _not_in_the_middle(name, place, camera):
    if np.hypot(*place) < 0.25 * camera.radius[0] / camera.scale[0]:
        raise LearnerError(f"{name} lies near the limbal centre, where it has no meridian; marks lie near the limbus.")


def _line(name, places, camera, known, click, chance):
    if len(places) < 2:
        raise LearnerError(f"{name} has one point; a line takes two or more, from where the needle enters.")
    if np.hypot(*(places[-1] - places[0])) < 4.0 * click:
        raise LearnerError(
            f"{name} is shorter than {4.0 * click:.0f} px: points set {click:.1f} px off tell nothing of its direction."
        )
    points = places + click * chance.normal(*places.shape)
    radius = _scleral_radius(known, chance)
    starts, angles, backs, clockwise = [], [], [], None
    for sign in camera.signs:
        on = [_on_the_sclera(points[:, k], camera, radius, sign) for k in range(len(places))]
        phi = line_direction(np.stack([place for place, _ in on], axis=1))
        start = _meridian(on[0][0])
        turn = np.radians(start) + 0.5 * np.pi  # of the tangent, counter-clockwise
        along, inwards = np.cos(phi - turn), np.sin(phi - turn)
        clockwise = bool(along[0] < 0.0) if clockwise is None else clockwise
        angles.append(np.degrees(np.arctan2(inwards, -along if clockwise else along)))
        starts.append(start)
        backs.append(on[0][1])
    _not_in_the_middle(name, on[0][0][0], camera)
    angle = angle_interval(angles)
    shift = 360.0 if angle.value > 180.0 else 0.0
    angle = dataclasses.replace(angle, value=angle.value - shift, low=angle.low - shift, high=angle.high - shift)
    return Line(name, angle_interval(starts), interval(backs, "mm"), angle, clockwise)


def _where(found):
    if found.decentration is None:
        return ""
    any_way = found.meridian.high - found.meridian.low >= 360.0
    way = "towards no meridian that can be determined" if any_way else f"towards {meridian_words(found.meridian)}"
    return (
        f"The optic's centre lies {found.decentration.text('.2f')} from the limbal centre, {way}: "
        f"{found.x.text('.2f')} to the observer's right, {found.y.text('.2f')} upwards."
    )


def _remarks(limbus, optic, oblique, known):
    """Say what ought to be known: obliquity and its two senses, what was assumed, points that lie off."""
    circle = known.limbus_ratio == 1.0 and not known.limbus_ratio_spread
    limbal = "if the limbus is circular" if circle else "with a limbus of the proportions given"
    remarks = [f"The camera was {oblique.text('.0f')} oblique, {limbal}."]
    if known.camera_from is None:
        remarks.append("From which of two opposite sides it looked is not known: the intervals cover both.")
    else:
        remarks.append(f"It is taken to have looked from the side of meridian {whole_degrees(known.camera_from)}.")
    if optic is not None:
        depth = f"{known.depth:g} mm (SD {known.depth_spread:g})"
        remarks.append(f"The optic is taken to lie {depth} behind the limbal plane.")
    for edge, name in ((limbus, "limbus"), (optic, "optic")):
        if edge is not None:
            usual = float(np.median(np.abs(edge.off)))
            off = float(abs(edge.off[edge.worst - 1]))
            if off > 6.0 * max(usual, known.click / 2.0):
                remarks.append(f"Point {edge.worst} of the {name} lies {off:.0f} px off; is it misplaced?")
            if edge.gap > 120.0:
                remarks.append(f"A part of {edge.gap:.0f} deg of the {name} has no point; one there would help most.")
    return tuple(remarks)
