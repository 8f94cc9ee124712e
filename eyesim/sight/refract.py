"""From an eye, a lens and a pose to what the patient needs in glasses, and to what no glasses mend.

Rays of a parallel beam are traced through cornea and optic to the retina; how far each is ahead of the chief ray
is the wavefront, and its shape over the pupil is the refraction (`Sight`).

Definitions. The wavefront is W = path of the chief ray less path of the ray, up to a sphere about the point
where the chief ray meets the retina, through the paraxial exit pupil. With coefficients c [um] and the beam's
radius r [mm] the refraction is

    M = -4 sqrt(3) c(2,0) / r^2,   J0 = -2 sqrt(6) c(2,2) / r^2,   J45 = -2 sqrt(6) c(2,-2) / r^2   [D]

for the whole pupil, and at its middle, from the wavefront's curvature there,

    M = -(4 sqrt(3) c(2,0) - 12 sqrt(5) c(4,0) + 24 sqrt(7) c(6,0)) / r^2, and J0, J45 likewise.

Source: ANSI Z80.28 and ISO 24157 for coefficients and axes; *Accuracy and precision of objective refraction from
wavefront aberrations*, Journal of Vision 2004;4:329, DOI 10.1167/4.4.9, for both refractions, from memory.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from ..eye.checks import LearnerError, common_shape, make_unchecked, must_be, number, plain_errors
from ..eye.frames import wrap
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.cores import in_threads
from ..hold.pose import Pose
from . import zernike
from .beam import AHEAD, beam_of
from .missed_light import missed_share, misses_optic
from .optics import chamber_depth, entrance_pupil, exit_pupil, surfaces
from .rays import trace
from .refraction import Refraction
from .sight import REASONS, Sight
from .surface import FIELDS
from .wavefront import coefficients, fit_coefficients, wavefront

_SEEN, _UNSETTLED, _IN_CORNEA, _ON_EDGE, _UNCOVERED, _BESIDE, _LOST = range(7)
_BLOCK = 512
_STEEPEST = 60.0  # [deg] of tilt; beyond it 28 polynomials no longer describe the wavefront
_GLANCE = 0.01  # [deg] by which two rays glance off the axis, to see how far on the retina an angle reaches


@plain_errors
def refract(eye, lens, pose, pupil=3.0, *, physical_pupil=None, on_failure=None):
    """Trace what a patient sees with the lens as it lies.

    Raises LearnerError if something given is not what it should be, shapes do not fit, or a face of the optic cannot
    be; if an eye has no refraction and `on_failure` says so.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    pose : Pose
        Settled, measured or imagined. Anything in these three may be an array; all broadcast.
    pupil : float or array [mm]
        Diameter of the parallel beam at the cornea. It comes along the eye's line of sight and is centred on the
        light that meets the middle of the pupil.
    physical_pupil : float, array or None [mm]
        Diameter of the pupil itself, in the iris plane, instead: the beam is then that which passes it.
    on_failure : "raise", "flag" or None
        What to do with an eye that does not see through its lens. None raises for a single eye and flags in arrays.

    Returns
    -------
    Sight
        In the broadcast shape.

    Notes
    -----
    Light of one colour. By default the line of sight is the axis of the eye. Real eyes look some 5 degrees to the
    nasal side of it (`Eye.sight_x`), and a lens that leans adds to that angle or takes from it.
    """
    for name, value, kind in (("eye", eye, Eye), ("lens", lens, Lens), ("pose", pose, Pose)):
        must_be("refract", name, value, kind)
    if on_failure not in (None, "raise", "flag"):
        raise LearnerError(f"refract: on_failure is 'raise' or 'flag'; {str(on_failure)[:60]!r} was given.")
    pupil = number("refract", "pupil", pupil, 0.2, 8.0, "mm", "diameter of the beam at the cornea")
    physical_pupil = number(
        "refract", "physical_pupil", physical_pupil, 0.2, 8.0, "mm", "diameter of the pupil", optional=True
    )
    _faces_must_reach(lens)
    given = {"eye": eye, "lens": lens, "pose": pose, "pupil": pupil, "physical_pupil": physical_pupil}
    shape = common_shape("refract", {name: np.empty(np.shape(value)) for name, value in given.items()})
    parts = _Flat(given, shape)
    size = int(np.prod(shape))
    found = {name: np.full((size, *more), np.nan) for name, more in _KEPT.items()}

    def block(start, stop):
        here = slice(start, stop)
        for name, values in _look(stop - start, *parts.cut(here)).items():
            found[name][here] = values

    in_threads(block, size, _BLOCK)
    result = _gathered(found, shape, eye, lens, pose)
    if np.any(result.code != 0) and (on_failure == "raise" or (on_failure is None and shape == ())):
        raise LearnerError(_why(result))
    return result


_NUMBERS = ("pupil", "prism", "prism_meridian", "missed_light", "chamber_depth", "code", "reference")
_KEPT = {"zernike": (zernike.NUMBER,), "middle": (2,), "retina_point": (2,)} | dict.fromkeys(_NUMBERS, ())
"""What a block of eyes yields, and the shape of each."""


def _look(size, eye, lens, pose, pupil, opening):
    """Trace a block of eyes; numbers are single ones or arrays of `size`."""
    pose, code = _first_faults(size, eye, lens, pose)
    x, y, weight = zernike.sampling()
    beam = beam_of(eye, pupil, opening)
    rows = np.broadcast_to(surfaces(eye, lens, pose), (size, 5, FIELDS))
    rays = trace(rows, *beam.rays(x, y))
    leaves = exit_pupil(eye, lens, pose)
    aside = eye.pupil_centre * np.asarray(leaves.magnification)[..., None]
    centre = np.stack(np.broadcast_arrays(aside[..., 0], aside[..., 1], eye.limbal_depth - leaves.position), axis=-1)
    reference = np.linalg.norm(rays.points[:, 0] - centre, axis=-1)
    wave = wavefront(rays, reference, eye.n_vitreous)
    shape, through = coefficients(wave), rays.through
    cut = np.flatnonzero(~through.all(axis=1))
    if len(cut):
        past = misses_optic(rays)[cut]
        middle, most = ~through[cut, 0], through[cut] @ weight < 0.5
        why = np.where(middle, np.where(past[:, 0], _UNCOVERED, _LOST), 0)
        why = np.where(~middle & most, np.where(past @ weight >= 0.25, _BESIDE, _LOST), why)
        code[cut] = np.where(code[cut] == 0, why, code[cut])
        cut = cut[code[cut] == 0]
        shape[cut] = fit_coefficients(wave[cut], through[cut])
    prism = _prism(rows, rays, beam, eye, lens, pose)
    found = {
        "zernike": shape,
        "pupil": beam.diameter,
        "middle": beam.middle,
        "reference": reference,
        "retina_point": rays.points[:, 0, :2],
        "prism": np.hypot(*prism),
        "prism_meridian": wrap(np.degrees(np.arctan2(prism[1], prism[0]))),
        "missed_light": missed_share(rows, beam, eye),
        "chamber_depth": chamber_depth(eye, lens, pose),
        "code": code,
    }
    bad = code != 0
    if bad.any():
        for name in ("zernike", "prism", "prism_meridian", "retina_point", "reference"):
            found[name][bad] = np.nan
        for name in ("missed_light", "chamber_depth"):
            found[name] = np.where(code == _UNSETTLED, np.nan, found[name])
    return found


def _first_faults(size, eye, lens, pose):
    """Flag what light cannot pass however it is traced, and put a harmless pose in the place of a missing one."""
    code = np.zeros(size, np.int64)
    missing = np.broadcast_to(np.isnan(pose.z), size)
    if missing.any():
        values = {}
        for field in dataclasses.fields(Pose):
            values[field.name] = np.where(missing, field.default, getattr(pose, field.name))
        pose = make_unchecked(Pose, values)
    with np.errstate(invalid="ignore"):
        code[np.broadcast_to(chamber_depth(eye, lens, pose) < eye.corneal_thickness, size)] = _IN_CORNEA
        code[np.broadcast_to(np.asarray(pose.tilt) > _STEEPEST, size)] = _ON_EDGE
    code[missing] = _UNSETTLED
    return pose, code


def _prism(rows, rays, beam, eye, lens, pose):
    """Deviation [prism dioptres] of light along the line of sight, to the observer's right and upwards.

    How far an angle before the eye reaches on the retina is seen from two rays that glance off the chief ray.
    """
    glance = np.radians(_GLANCE)
    frame, enters = beam.frame, entrance_pupil(eye)
    ways = np.array([[0.0, 0.0, -1.0], [np.sin(glance), 0.0, -np.cos(glance)], [0.0, np.sin(glance), -np.cos(glance)]])
    ways = ways @ np.swapaxes(frame, -1, -2)
    ahead = np.asarray(enters.position)[..., None, None] + AHEAD
    chief = beam.origin + np.squeeze(frame[..., :2] @ beam.middle[..., None], axis=-1)
    entrance = chief - frame[..., :, 2] * ahead[..., 0]
    points = trace(rows, entrance[..., None, :] - ahead * ways, ways).points[..., :2]
    a, b = np.moveaxis((points[:, 1:] - points[:, :1]) / np.tan(glance), 1, 0)
    x, y = np.moveaxis(rays.points[:, 0, :2] - _fovea(beam, eye, lens, pose), -1, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = 100.0 / (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
        return share * (x * b[:, 1] - y * b[:, 0]), share * (y * a[:, 0] - x * a[:, 1])


def _fovea(beam, eye, lens, pose):
    """Where the line of sight meets the retina (..., 2) [mm] with the same lens centred and upright."""
    if not np.any(beam.middle) and not np.any(eye.sight_x) and not np.any(eye.sight_y):
        return np.zeros(2)
    upright = make_unchecked(
        Pose, {field.name: 0.0 for field in dataclasses.fields(Pose)} | {"z": pose.z, "roll": pose.roll}
    )
    return trace(surfaces(eye, lens, upright), *beam.rays(np.zeros(1), np.zeros(1))).points[..., 0, :2]


def _gathered(found, shape, eye, lens, pose):
    """Bring what the blocks found into the shape asked for."""
    values = {name: a.reshape((*shape, *_KEPT[name]))[()] for name, a in found.items()}
    c, r2 = values["zernike"], np.square(values["pupil"]) / 4.0
    values["code"] = values["code"].astype(np.int64)[()]
    M, J0, J45 = _whole_pupil(c, r2)
    middle = Refraction(*_middle_of_pupil(c, r2))
    return Sight(M=M, J0=J0, J45=J45, paraxial=middle, eye=eye, lens=lens, pose=pose, **values)


def _whole_pupil(c, r2):
    """M, J0 and J45 that leave the least mean square error of the wavefront."""
    return (
        -4.0 * math.sqrt(3.0) * c[..., zernike.index(2, 0)] / r2,
        -2.0 * math.sqrt(6.0) * c[..., zernike.index(2, 2)] / r2,
        -2.0 * math.sqrt(6.0) * c[..., zernike.index(2, -2)] / r2,
    )


def _middle_of_pupil(c, r2):
    """M, J0 and J45 from the terms in the square of the radius that all orders have."""
    c20, c40, c60 = (c[..., zernike.index(n, 0)] for n in (2, 4, 6))
    M = -(4.0 * math.sqrt(3.0) * c20 - 12.0 * math.sqrt(5.0) * c40 + 24.0 * math.sqrt(7.0) * c60) / r2
    halves = []
    for m in (2, -2):
        c22, c42, c62 = (c[..., zernike.index(n, m)] for n in (2, 4, 6))
        halves.append(-2.0 * (math.sqrt(6.0) * c22 - 3.0 * math.sqrt(10.0) * c42 + 6.0 * math.sqrt(14.0) * c62) / r2)
    return M, *halves


class _Flat:
    """Whatever was given, its arrays made flat, so that a block of eyes can be cut out of it."""

    def __init__(self, given, shape):
        self.kinds, self.parts = (Eye, Lens, Pose), []
        for one, kind in zip((given["eye"], given["lens"], given["pose"]), self.kinds, strict=True):
            self.parts.append({f.name: _flat(getattr(one, f.name), shape) for f in dataclasses.fields(kind)})
        self.beam = [_flat(given[name], shape) for name in ("pupil", "physical_pupil")]

    def cut(self, here):
        """Eye, lens, pose, pupil and physical pupil of a block."""
        objects = [
            make_unchecked(kind, {name: _part(value, here) for name, value in values.items()})
            for kind, values in zip(self.kinds, self.parts, strict=True)
        ]
        return *objects, *(_part(value, here) for value in self.beam)


def _flat(value, shape):
    if isinstance(value, np.ndarray) and value.ndim:
        return np.broadcast_to(value, shape).reshape(-1)
    return value


def _part(value, here):
    return value[here] if isinstance(value, np.ndarray) and value.ndim else value


def _faces_must_reach(lens):
    edge = np.where(_toric_face_reaches(lens), lens.edge_thickness, np.nan)
    if np.all(edge >= 0.0):
        return
    if np.any(np.isnan(edge)):
        raise LearnerError(
            "Lens: a face of this radius and conic constant does not reach as far out as optic_diameter; choose a "
            "larger radius (default 11.6 mm) or a smaller optic."
        )
    first = np.flatnonzero(edge.ravel() < 0.0)[0]
    thickness = np.broadcast_to(lens.optic_thickness, edge.shape).ravel()[first]
    raise LearnerError(
        f"Lens.optic_thickness: with {thickness:g} mm in the middle the two faces meet before the optic's edge; "
        f"these radii and this diameter take {thickness - edge.ravel()[first]:.2f} mm. (with_power chooses it.)"
    )


def _toric_face_reaches(lens):
    steepest = np.abs(1.0 / np.asarray(lens.anterior_radius)) + lens.toric_step
    return (1.0 + np.asarray(lens.anterior_q)) * (steepest * np.asarray(lens.optic_diameter) / 2.0) ** 2 < 1.0


def _why(result):
    """Tell the learner why the first eye that has no refraction has none."""
    codes = np.asarray(result.code)
    place = tuple(int(i) for i in np.argwhere(codes != 0)[0])
    code = int(codes[place])
    where = f" (case {place if len(place) > 1 else place[0]})" if place else ""
    pose = result.pose
    off, tilt, deep = (
        float(np.broadcast_to(v, codes.shape)[place]) for v in (pose.decentration, pose.tilt, pose.depth)
    )
    hints = {
        _UNSETTLED: "settle says why; where a lens does not rest, nothing is seen through it.",
        _IN_CORNEA: f"it lies {deep:.1f} mm behind the limbal plane. Poses of a fixed lens lie 1 to 4 mm behind it.",
        _ON_EDGE: f"it is tilted by {tilt:.0f} deg; up to {_STEEPEST:g} deg light can be traced through it.",
        _UNCOVERED: f"it lies {off:.1f} mm off centre. Look at a pose nearer to the middle.",
        _LOST: "cornea or optic is so curved, or so far aside, that light misses it. Is it a real eye?",
        _BESIDE: f"it lies {off:.1f} mm off centre. Choose a smaller pupil, or a pose nearer to the middle.",
    }
    return f"There is no refraction{where}: {REASONS[code]}; {hints[code]}"
