r"""From a photograph to millimetres on the eye: what the limbus tells of the camera, and what has to be known.

The camera is far away (weak perspective: parallel rays and one scale), its upper edge is the eye's upper edge, and
the limbus is a flat circle, or an ellipse of known proportions. Seen from a direction that leans by t towards the
meridian a, a point at (p along a, q across it) in a plane d behind the limbal one appears at::

          camera
            \          appears at   along a:  p cos t + d sin t
             \ t                    across :  q
        ------+------ limbus
              |  d                  so a limbal circle becomes an ellipse, 1 long and cos t wide,
        ------+------ optic         and the optic behind it is shifted towards the camera: parallax

The ellipse is the same whether the camera leans towards a or away from it. Who does not know from which side the
photograph was taken has to reckon with both, and the interval covers both. Perspective, a turned camera, and a limbus
of unknown form are left out; the cornea's magnification is reckoned with only as far as it is given.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, quantities, quantity
from .uncertainty import contains_origin


@quantities
class Known:
    """What is known of the eye and the camera beside the photograph.

    Parameters
    ----------
    white_to_white, white_to_white_spread : float or None, float [mm]
        Horizontal diameter of the limbus: the scale, where there is no ruler.
    ruler, ruler_spread : float or None, float [mm]
        Length between the two points of the ruler, which lies in the limbal plane: the scale.
    depth, depth_spread : float [mm]
        Of the optic behind the limbal plane.
    limbus_ratio, limbus_ratio_spread : float [1]
        Vertical over horizontal diameter of the limbus itself. 1 and 0 mean that it is known to be circular.
    camera_from : float or None [deg]
        Meridian from whose side the camera looked, roughly; None if nobody knows.
    most_oblique : float or None [deg]
        The camera is known to have been no more oblique than this; None if nobody knows.
    magnification, magnification_spread : float [1]
        By which the optic appears larger about the middle of the cornea than it is; 1 for an open practice eye.
    scleral_radius, scleral_radius_spread : float [mm]
        Of the sclera on which marks and lines lie.
    click : float [px]
        Least spread with which a hand sets a point.

    Notes
    -----
    Depth and its spread are chosen for teaching: the workbook's lens comes to rest 1.5 mm behind the limbal plane by
    iris angles of 5 deg, and 2.7 mm by those of 25 deg. A photograph from the side shows it far better. The scleral
    radius is as in `Eye`, its spread is a published one (see `data/anatomy.csv`).
    """

    white_to_white: float | None = quantity(None, 5.0, 40.0, "mm", "diameter of the limbus", optional=True)
    white_to_white_spread: float = quantity(0.1, 0.0, 2.0, "mm", "how well that is known")
    ruler: float | None = quantity(None, 0.1, 200.0, "mm", "length between the ruler's two points", optional=True)
    ruler_spread: float = quantity(0.05, 0.0, 5.0, "mm", "how well that is known")
    depth: float = quantity(2.1, -1.0, 15.0, "mm", "depth of the optic behind the limbal plane")
    depth_spread: float = quantity(0.6, 0.0, 5.0, "mm", "how well that is known")
    limbus_ratio: float = quantity(1.0, 0.7, 1.3, "", "vertical over horizontal diameter of the limbus")
    limbus_ratio_spread: float = quantity(0.0, 0.0, 0.1, "", "how well that is known")
    camera_from: float | None = quantity(None, -720.0, 1080.0, "deg", "side from which it was taken", optional=True)
    most_oblique: float | None = quantity(None, 0.0, 60.0, "deg", "how oblique the camera can have been", optional=True)
    magnification: float = quantity(1.0, 0.8, 1.6, "", "by which the optic appears larger")
    magnification_spread: float = quantity(0.0, 0.0, 0.2, "", "how well that is known")
    scleral_radius: float = quantity(12.0, 7.0, 40.0, "mm", "outer radius of the sclera")
    scleral_radius_spread: float = quantity(1.3, 0.0, 5.0, "mm", "how well that is known")
    click: float = quantity(1.5, 0.01, 100.0, "px", "least spread with which a hand sets a point")

    def _verify(self):
        if self.shape != ():
            raise LearnerError("Known: one photograph at a time; every field takes one number.")


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class Camera:
    """The camera in many ways that agree with the limbus; the first of each array is the likeliest.

    Attributes
    ----------
    centre : (n, 2) array [px]
        Of the limbus; y up.
    radius : (n,) array [px]
        Half of the limbus's horizontal diameter, as it would be seen from straight in front.
    cosine : (n,) array [1]
        Of the obliquity.
    towards : (n, 2) array
        Unit vectors in the picture along which the camera leans, one way or the other.
    signs : list of (n,) arrays
        The ways it may have leaned: both, or the one that is known, and with it none at all where the limbus may be
        seen from straight in front.
    one_side : bool
        Whether it is known from which side it looked.
    scale : (n,) array [px/mm]
    """

    centre: np.ndarray
    radius: np.ndarray
    cosine: np.ndarray
    towards: np.ndarray
    signs: list
    one_side: bool
    scale: np.ndarray

    @property
    def lean(self):
        """How far the limbus is from a circle (n, 2); nought means that it is seen from straight in front."""
        (a, b), far = self.towards.T, 1.0 - self.cosine
        return np.stack([far * (a**2 - b**2), far * 2.0 * a * b], axis=-1)

    def lifted(self, points, depth, sign):
        """Return where points (n, 2) [px, y up] lie (n, 2) [mm] in a plane so deep (n,) [mm] behind the limbal one."""
        seen, along, sine, cosine = self._seen(points, sign)
        moved = (along - depth * sine) / cosine - along
        return seen + moved[:, None] * self.towards

    def on_ball(self, points, radius, back, sign):
        """Return where points (n, 2) [px, y up] lie (n, 2) [mm], from in front, on a ball whose middle is so far back.

        Parameters
        ----------
        points : (n, 2) array
        radius, back : (n,) arrays [mm]
        sign : (n,) array

        Notes
        -----
        The ray through the point is cut with the ball, on the camera's side; a point that misses it lies on its edge,
        and one within the limbus in the limbal plane.
        """
        seen, along, sine, cosine = self._seen(points, sign)
        middle = back * cosine
        square = seen[:, 0] ** 2 + seen[:, 1] ** 2 + back**2 - 2.0 * along * back * sine
        way = np.sqrt(np.maximum(0.0, middle**2 - square + radius**2)) - middle
        return self.lifted(points, np.maximum(0.0, along * sine - way * cosine), sign)

    def _seen(self, points, sign):
        """Points from the limbal centre [mm as seen], how far along the lean, and the lean's sine and cosine."""
        seen = (points - self.centre) / self.scale[:, None]
        sine = sign * np.sqrt(np.maximum(0.0, 1.0 - self.cosine**2))
        return seen, np.sum(seen * self.towards, axis=1), sine, np.where(sign == 0.0, 1.0, self.cosine)


def estimate_camera(limbus, ruler, known, chance):
    """Work out the camera from the limbus.

    Parameters
    ----------
    limbus : Ellipse
        Fitted with y up.
    ruler : (n, 2, 2) array or None [px]
        The ruler's two points in each draw.
    known : Known
    chance : Chance

    Returns
    -------
    Camera
    """
    centre, seen = limbus.drawn(chance.normal(5), chance.chi2(limbus.freedom))
    ratio = known.limbus_ratio + known.limbus_ratio_spread * chance.normal()
    form = np.zeros((len(centre), 2, 2))
    form[:, 0, 0], form[:, 1, 1] = 1.0, ratio
    values, vectors = np.linalg.eigh(_projection(seen, form))
    radius, cosine, towards = values[:, 1], values[:, 0] / values[:, 1], vectors[:, :, 0]
    if known.most_oblique is not None:
        cosine = np.maximum(cosine, np.cos(np.radians(known.most_oblique)))
    cosine = np.clip(cosine, 0.05, 1.0)
    if known.camera_from is None:
        towards = towards * np.where(towards @ towards[0] < 0.0, -1.0, 1.0)[:, None]
        signs = [np.ones(len(radius)), -np.ones(len(radius))]
    else:
        phi = np.radians(known.camera_from)
        signs = [np.where(towards @ [np.cos(phi), np.sin(phi)] < 0.0, -1.0, 1.0)]
    camera = Camera(centre, radius, cosine, towards, signs, known.camera_from is not None, np.ones(len(radius)))
    if camera.one_side and contains_origin(camera.lean):
        signs.append(np.zeros(len(radius)))
    return dataclasses.replace(camera, scale=_scale(camera, ruler, known, chance))


def _projection(seen, form):
    """Symmetric P with P form form P = seen seen: what turns the limbus (its form, in radii) into what is seen."""
    back = np.linalg.inv(form)
    inner = form @ seen @ seen @ form
    values, vectors = np.linalg.eigh(inner)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]) @ np.swapaxes(vectors, 1, 2)
    return back @ root @ back


def _scale(camera, ruler, known, chance):
    """Pixels per millimetre, by the ruler if there is one, else by white-to-white."""
    if ruler is not None and known.ruler is not None:
        one, other = (camera.lifted(ruler[:, i], 0.0, camera.signs[0]) for i in (0, 1))
        length = known.ruler + known.ruler_spread * chance.normal()
        return np.hypot(*(one - other).T) / np.maximum(length, 1e-3 * known.ruler)
    if known.white_to_white is None:
        raise LearnerError(
            "Nothing says how large the eye is: give white_to_white [mm], or two points of a ruler and their distance "
            "(ruler) [mm]."
        )
    width = known.white_to_white + known.white_to_white_spread * chance.normal()
    return 2.0 * camera.radius / np.maximum(width, 0.1 * known.white_to_white)
