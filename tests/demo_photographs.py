"""Invented photographs of a practice eye whose pose is known: to learn measuring on, and to test the measuring with.

An open eye without a cornea, seen from in front by a camera that may look obliquely, or cut through and seen from the
side. What is painted is projected by the same far camera that `photo.camera` reckons with, but the other way
round: from the eye to the picture. Every picture says that it is invented.
"""

from __future__ import annotations

import dataclasses
import io

import numpy as np

from eyesim.draw.drawing import CAUTION
from eyesim.photo.points import Points

INVENTED = f"Invented, for teaching: no real eye. {CAUTION}"
_SKIN, _SCLERA, _IRIS, _PUPIL, _OPTIC = (168, 134, 118), (232, 224, 212), (98, 116, 126), (150, 62, 44), (206, 168, 150)
_RIM, _HAPTIC, _INK, _DARK = (238, 232, 226), (60, 92, 170), (92, 40, 140), (14, 16, 20)
_SWEEP = 115.0  # [deg] over which a haptic is painted


@dataclasses.dataclass(frozen=True)
class PracticeEye:
    """An eye to be painted.

    Attributes
    ----------
    white_to_white, optic_diameter, scleral_radius : float [mm]
    x, y, depth : float [mm]
        Where the optic's centre lies from the limbal centre, and how far behind its plane.
    tilt : float [deg]
        Of the optic, in the plane of the section; above nought if the right edge lies deeper. From in front the optic
        is painted without it.
    obliquity, camera_meridian : float [deg]
        Of the camera, and the meridian towards which it leans.
    marks : tuple of (float, float)
        Meridian [deg] and distance behind the limbus [mm].
    lines : tuple of (float, float, float, float)
        Of the start meridian [deg] and distance [mm], then angle to the limbal tangent [deg] and length [mm]; they run
        clockwise.
    ruler : float [mm]
        Length of a ruler in the limbal plane, above the limbus; 0 for none.
    scale : float [px/mm]
    width, height : int [px]
    blur, noise : float [px], [levels]
        Standard deviations.
    """

    white_to_white: float = 11.8
    optic_diameter: float = 6.0
    scleral_radius: float = 12.0
    x: float = 0.45
    y: float = 0.25
    depth: float = 2.7
    tilt: float = 6.0
    obliquity: float = 9.0
    camera_meridian: float = 300.0
    marks: tuple = ((8.0, 2.0), (184.0, 2.2))
    lines: tuple = ((8.0, 2.0, 22.0, 2.2), (184.0, 2.2, 15.0, 2.2))
    ruler: float = 10.0
    scale: float = 42.0
    width: int = 900
    height: int = 760
    blur: float = 1.4
    noise: float = 5.0

    @property
    def wall_back(self):
        """How far the middle of the wall's sphere lies behind the limbal plane [mm]."""
        return float(np.sqrt(self.scleral_radius**2 - (self.white_to_white / 2.0) ** 2))

    def seen(self, points):
        """Pixels (n, 2), y down, at which points (n, 3) [mm] of the eye appear."""
        points = np.asarray(points, float)
        t, a = np.radians(self.obliquity), np.radians(self.camera_meridian)
        way = np.array([np.cos(a), np.sin(a)])
        along = points[:, :2] @ way
        flat = points[:, :2] + (along * (np.cos(t) - 1.0) - points[:, 2] * np.sin(t))[:, None] * way
        return np.array([self.width / 2.0, self.height / 2.0]) + self.scale * flat * [1.0, -1.0]

    def plane(self, pixels, z):
        """Where (..., 2) [mm] pixels (..., 2), y down, lie in the plane at height z [mm] of the eye."""
        t, a = np.radians(self.obliquity), np.radians(self.camera_meridian)
        way = np.array([np.cos(a), np.sin(a)])
        flat = (pixels - [self.width / 2.0, self.height / 2.0]) * [1.0, -1.0] / self.scale
        along = flat @ way
        return flat + ((along + z * np.sin(t)) / np.cos(t) - along)[..., None] * way

    def on_wall(self, flat):
        """Points (n, 3) [mm] of the wall above points (n, 2) of the limbal plane."""
        flat = np.asarray(flat, float)
        high = np.sqrt(self.scleral_radius**2 - np.sum(flat**2, axis=1)) - self.wall_back
        return np.column_stack([flat, high])

    def start(self, meridian, distance):
        """Where (2,) [mm] a point so far behind the limbus along the wall lies, from in front."""
        out = self.scleral_radius * np.sin(
            np.arcsin(self.white_to_white / 2.0 / self.scleral_radius) + distance / self.scleral_radius
        )
        return out * np.array([np.cos(np.radians(meridian)), np.sin(np.radians(meridian))])

    def line(self, meridian, distance, angle, length, points=2):
        """Points (points, 3) [mm] of a drawn line."""
        phi = np.radians(meridian)
        out, tangent = np.array([np.cos(phi), np.sin(phi)]), np.array([np.sin(phi), -np.cos(phi)])
        way = np.cos(np.radians(angle)) * tangent - np.sin(np.radians(angle)) * out
        return self.on_wall(self.start(meridian, distance) + np.linspace(0.0, length, points)[:, None] * way)


def circle(radius, n, x=0.0, y=0.0, z=0.0, start=0.0):
    """Points (n, 3) [mm] all around a circle in a plane of the eye.

    Parameters
    ----------
    radius : float [mm]
    n : int
    x, y, z : float [mm]
        Its centre.
    start : float [deg]
        Where the first point lies.
    """
    phi = np.radians(start + np.arange(n) * 360.0 / n)
    return np.column_stack([x + radius * np.cos(phi), y + radius * np.sin(phi), np.full(n, z)])


def true_points(eye, n=12):
    """Return where everything truly appears from in front, by name, in pixels, y down.

    Parameters
    ----------
    eye : PracticeEye
    n : int
        Points on each edge.
    """
    points = {
        "limbus": eye.seen(circle(eye.white_to_white / 2.0, n, start=7.0)),
        "optic": eye.seen(circle(eye.optic_diameter / 2.0, n, eye.x, eye.y, -eye.depth, start=11.0)),
    }
    points |= {f"mark{i}": eye.seen(eye.on_wall([eye.start(*mark)])) for i, mark in enumerate(eye.marks, 1)}
    return points | {f"line{i}": eye.seen(eye.line(*line)) for i, line in enumerate(eye.lines, 1)}


def ruler_points(eye):
    """Return where the ruler's two ends appear, in pixels, y down."""
    return eye.seen([(-eye.ruler / 2.0, 7.8, 0.0), (eye.ruler / 2.0, 7.8, 0.0)])


def true_side(eye):
    """Return where limbus and edges of the optic truly appear from the side."""
    t, half = np.radians(eye.tilt), eye.optic_diameter / 2.0
    across, down = half * np.cos(t), half * np.sin(t)
    limbus = [(-eye.white_to_white / 2.0, 0.0), (eye.white_to_white / 2.0, 0.0)]
    optic = [(eye.x - across, -eye.depth + down), (eye.x + across, -eye.depth - down)]
    return {"limbus": _side_pixels(eye, limbus), "optic": _side_pixels(eye, optic)}


def clicked(points, spread, rng):
    """Return the same points set by a hand: off by a spread [px] across and down.

    Parameters
    ----------
    points : dict of (n, 2) array [px]
    spread : float [px]
    rng : Generator
    """
    return {name: places + rng.normal(0.0, spread, places.shape) for name, places in points.items()}


def front_photo(eye, rng):
    """Paint an eye from in front: an array (height, width, 3) of bytes, without words.

    Parameters
    ----------
    eye : PracticeEye
    rng : Generator
    """
    pixels = np.stack(np.meshgrid(np.arange(eye.width) + 0.5, np.arange(eye.height) + 0.5), axis=-1)
    picture = np.zeros((eye.height, eye.width, 3)) + _SKIN
    ball = np.hypot(*np.moveaxis(eye.plane(pixels, -eye.wall_back), -1, 0))
    _paint(picture, eye.scleral_radius * 0.8 - ball, _SCLERA, eye)
    shade = np.clip(1.0 - 0.012 * ball**1.6 / 3.0, 0.5, 1.0)[..., None]
    picture *= shade
    limbal = np.hypot(*np.moveaxis(eye.plane(pixels, 0.0), -1, 0))
    place = eye.plane(pixels, -eye.depth) - [eye.x, eye.y]
    out, half, limbus = np.hypot(*np.moveaxis(place, -1, 0)), eye.optic_diameter / 2.0, eye.white_to_white / 2.0
    _paint(picture, limbus - limbal, _IRIS, eye)
    _paint(picture, 4.6 - limbal, _PUPIL, eye)
    for meridian, *_ in eye.lines:  # haptics: from the optic's edge counter-clockwise outwards, towards the lines
        phi = np.degrees(np.arctan2(place[..., 1], place[..., 0])) - (meridian - _SWEEP - 18.0)
        swept = (phi % 360.0) / _SWEEP
        away = np.abs(out - half - (limbus - half) * swept**1.3)
        _paint(picture, np.where((swept < 1.0) & (limbal < 4.6), 0.09 - away, -1.0), _HAPTIC, eye)
    _paint(picture, half - out, _OPTIC, eye, 0.55)
    _paint(picture, 0.06 - np.abs(out - half + 0.06), _RIM, eye)
    _strokes(picture, [eye.seen(eye.line(*line, points=7)) for line in eye.lines], 1.6)
    _strokes(picture, [eye.seen(eye.on_wall([eye.start(*mark)])) for mark in eye.marks], 5.0)
    if eye.ruler:
        ends = ruler_points(eye)
        ticks = [end + [[0.0, -9.0], [0.0, 9.0]] for end in ends]
        _strokes(picture, [ends, *ticks], 1.4)
    return _exposed(picture, eye, rng)


def side_photo(eye, rng):
    """Paint a section of an eye seen from the side, its front upwards; as `front_photo`.

    Parameters
    ----------
    eye : PracticeEye
    rng : Generator
    """
    pixels = np.stack(np.meshgrid(np.arange(eye.width) + 0.5, np.arange(eye.height) + 0.5), axis=-1)
    place = (pixels - _side_origin(eye)) * [1.0, -1.0] / eye.scale
    x, y = place[..., 0], place[..., 1]
    picture = np.zeros((eye.height, eye.width, 3)) + _DARK
    half = eye.white_to_white / 2.0
    ball = np.hypot(x, y + eye.wall_back)
    wall = np.where(y < 0.0, 0.28 - np.abs(ball - eye.scleral_radius + 0.28), -1.0)
    _paint(picture, wall, (190, 190, 186), eye)
    back = np.sqrt(7.8**2 - half**2)
    cornea = np.where(y >= 0.0, 0.27 - np.abs(np.hypot(x, y + back) - 7.8 + 0.27), -1.0)
    _paint(picture, cornea, (120, 124, 126), eye)
    t = np.radians(eye.tilt)
    along = (x - eye.x) * np.cos(t) - (y + eye.depth) * np.sin(t)
    across = (x - eye.x) * np.sin(t) + (y + eye.depth) * np.cos(t)
    lens = 0.12 + 0.35 * (1.0 - (2.0 * along / eye.optic_diameter) ** 2) - np.abs(across)
    _paint(picture, np.minimum(lens, eye.optic_diameter / 2.0 - np.abs(along)), (214, 216, 214), eye)
    return _exposed(picture, eye, rng)


def jpeg(picture):
    """JPEG of a painted picture, with the words that it is invented."""
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(picture)
    pen = ImageDraw.Draw(image)
    high = 30
    pen.rectangle((0, image.height - high, image.width, image.height), fill=(24, 34, 43))
    pen.text((10, image.height - high + 4), INVENTED, fill="white", font=ImageFont.load_default(18))
    file = io.BytesIO()
    image.save(file, "JPEG", quality=84, optimize=True)
    return file.getvalue()


def demonstrations():
    """Return the two photographs of the demonstration with their points: name to bytes, and name to `Points`."""
    eye, rng = PracticeEye(), np.random.default_rng(11)
    section = dataclasses.replace(eye, scale=52.0, noise=9.0)
    pictures = {
        "eye-in-front.jpg": jpeg(front_photo(eye, rng)),
        "eye-from-the-side.jpg": jpeg(side_photo(section, rng)),
    }
    front = clicked(true_points(eye) | {"ruler": ruler_points(eye)}, 1.2, rng)
    points = {
        "eye-in-front.csv": Points(front, eye.ruler),
        "eye-from-the-side.csv": Points(clicked(true_side(section), 1.2, rng)),
    }
    return pictures, points


def _side_origin(eye):
    return np.array([eye.width / 2.0, 0.42 * eye.height])


def _side_pixels(eye, points):
    return _side_origin(eye) + eye.scale * np.asarray(points) * [1.0, -1.0]


def _paint(picture, inside, colour, eye, strength=1.0):
    """Lay a colour where `inside` [mm] is above nought, with an edge of one pixel."""
    cover = strength * np.clip(inside * eye.scale + 0.5, 0.0, 1.0)[..., None]
    picture += cover * (np.asarray(colour, float) - picture)


def _strokes(picture, lines, radius):
    """Lay ink along lines of pixels (n, 2), y down; one point is a dot."""
    rows, columns = np.mgrid[: picture.shape[0], : picture.shape[1]] + 0.5
    for line in lines:
        near = np.full(picture.shape[:2], np.inf)
        for (x, y), (right, down) in zip(line, np.diff(line, axis=0, append=line[-1:]), strict=True):
            length = max(right**2 + down**2, 1e-9)
            part = np.clip(((columns - x) * right + (rows - y) * down) / length, 0.0, 1.0)
            near = np.minimum(near, (columns - x - part * right) ** 2 + (rows - y - part * down) ** 2)
        picture += np.clip(radius - np.sqrt(near) + 0.5, 0.0, 1.0)[..., None] * (np.array(_INK) - picture)


def _exposed(picture, eye, rng):
    """Blur, noise, and bytes."""
    from scipy.ndimage import gaussian_filter

    soft = gaussian_filter(picture, (eye.blur, eye.blur, 0.0))
    return np.clip(soft + rng.normal(0.0, eye.noise, soft.shape), 0.0, 255.0).astype(np.uint8)
