"""The eye with its lens, built and traced in a general-purpose optics package, batoid.

It shares with eyesim the setting and nothing else: surfaces, frames, refraction, paths, pupils, the reference sphere
and the Zernike fit are the package's, SciPy's or written here from the definitions. The frame is that of eyesim: z
towards the observer, so light runs towards -z, and a surface that bulges to the front has a negative curvature here.
The package knows no toric surface: it is a conic and the rest as Zernike polynomials to the 18th order, which
leaves less than 1e-12 mm.
"""

from __future__ import annotations

import dataclasses
import functools
import importlib

import numpy as np
from scipy.optimize import root
from scipy.spatial.transform import Rotation
from scipy.special import eval_jacobi


class _Later:
    """A package that is loaded when something of it is first used; these bring a second of astronomy with them."""

    def __init__(self, name):
        self._name = name

    def __getattr__(self, what):
        return getattr(importlib.import_module(self._name), what)


batoid, zernike = _Later("batoid"), _Later("galsim.zernike")
EYE_FIELDS = (
    "corneal_radius", "corneal_q", "posterior_corneal_radius", "posterior_corneal_q", "corneal_thickness", "iris_depth",
    "axial_length", "retina_radius", "n_cornea", "n_aqueous", "n_vitreous", "corneal_cylinder",
    "corneal_steep_meridian", "pupil_x", "pupil_y", "sight_x", "sight_y",
)  # fmt: skip
OPTIC_FIELDS = (
    "anterior_radius", "anterior_q", "posterior_radius", "posterior_q", "thickness", "index", "toric_cylinder",
    "toric_marks",
)  # fmt: skip
BEFORE = 10.0
"""Where rays set out, before the plane of the corneal vertex [mm]."""
WATER = 1.336
"""Index in which the cylinder of a toric lens is stated [1]."""


@dataclasses.dataclass
class Traced:
    """Rays of the peer at the retina: points [mm], directions behind the lens, paths from the vertex plane [mm]."""

    points: np.ndarray
    directions: np.ndarray
    path: np.ndarray


class Eye:
    """A single eye with its lens.

    eye, optic : dicts of EYE_FIELDS and OPTIC_FIELDS (toric ones, pupil and sight may be missing); centre :
    of the optic's mid-plane [mm]; tilt, meridian, roll [deg]; flipped : back to front; vertex : z of the corneal
    vertex [mm].
    """

    def __init__(self, eye, optic, centre, tilt=0.0, meridian=0.0, flipped=False, vertex=0.0, roll=0.0):
        self.eye, self.vertex, self.thickness = eye, vertex, optic["thickness"]
        # the axis of tilt stands across the meridian; turning about it brings the normal from z to the meridian
        across = np.radians(meridian + 90.0)
        turned = Rotation.from_rotvec(np.radians(tilt) * np.array([np.cos(across), np.sin(across), 0.0])).as_matrix()
        self.centre, half = np.asarray(centre, float), 0.5 * optic["thickness"] * turned[:, 2]
        turned = turned @ about_z(roll)

        step = optic.get("toric_cylinder", 0.0) / (2000.0 * (optic["index"] - WATER))
        marks = turned @ about_z(optic.get("toric_marks", 0.0) * (-1.0 if flipped else 1.0))
        front = 1.0 / optic["anterior_radius"] + np.array([-step, step]), optic["anterior_q"], marks
        back = np.full(2, 1.0 / optic["posterior_radius"]), optic["posterior_q"], turned
        if flipped:
            front, back = ((-bend, q, frame) for bend, q, frame in (back, front))

        step = eye.get("corneal_cylinder", 0.0) / (2000.0 * (eye["n_cornea"] - 1.0))
        self.pupil = np.array([eye.get("pupil_x", 0.0), eye.get("pupil_y", 0.0)])
        gaze = np.array([*(np.tan(np.radians(eye.get(f"sight_{axis}", 0.0))) for axis in "xy"), 1.0])
        self.gaze = gaze / np.linalg.norm(gaze)
        steep = about_z(eye.get("corneal_steep_meridian", 0.0))
        media = [1.0, eye["n_cornea"], eye["n_aqueous"], optic["index"], eye["n_vitreous"]]
        inside = vertex - eye["corneal_thickness"]
        places = [
            (1.0 / eye["corneal_radius"] + np.array([step, -step]), eye["corneal_q"], steep, (0.0, 0.0, vertex)),
            (np.full(2, 1.0 / eye["posterior_corneal_radius"]), eye["posterior_corneal_q"], np.eye(3), (0, 0, inside)),
            (*front, self.centre + half),
            (*back, self.centre - half),
        ]
        self.bends = [np.mean(bend) for bend, *_ in places]
        self.refracting = [
            batoid.RefractiveInterface(
                shape(*bend, conic),
                name=f"surface {k}",
                inMedium=batoid.ConstMedium(media[k]),
                outMedium=batoid.ConstMedium(media[k + 1]),
                coordSys=batoid.CoordSys(np.asarray(place, float), frame),
            )
            for k, (bend, conic, frame, place) in enumerate(places)
        ]
        self.retina = batoid.Detector(
            batoid.Sphere(eye["retina_radius"]),
            name="retina",
            inMedium=batoid.ConstMedium(eye["n_vitreous"]),
            coordSys=batoid.CoordSys(np.array([0.0, 0.0, vertex - eye["axial_length"]]), np.eye(3)),
        )

    def trace(self, x, y, way=(0.0, 0.0, -1.0)):
        """Trace rays that cross the plane through the corneal vertex at x, y [mm]."""
        x, y = (v.ravel() for v in np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float)))
        return self.follow(np.stack([x, y, np.full(x.size, self.vertex)]), way)

    def follow(self, points, way, surfaces=None):
        """Trace rays through points (3, rays), to the retina or to the last of some surfaces."""
        # the package cannot meet a surface where it already stands, so rays set out in front of the cornea
        speeds = np.repeat(np.asarray(way, float)[:, None], points.shape[1], axis=1)  # in air, of index one
        rays = batoid.RayVector(*(points - BEFORE * speeds), *speeds, t=-BEFORE)
        for surface in surfaces or (*self.refracting, self.retina):
            surface.trace(rays)
        assert not rays.failed.any()
        rays.toCoordSys(batoid.CoordSys(np.zeros(3), np.eye(3)))
        ways = rays.v / np.linalg.norm(rays.v, axis=1, keepdims=True)
        return Traced(np.array(rays.r), ways, np.array(rays.t))

    @property
    def exit_pupil(self):
        """Middle of the image of the pupil through the lens, upright at its place: n'/s' = n/s + (n' - n)/R twice."""
        z, index, scale = self.vertex - self.eye["iris_depth"], self.eye["n_aqueous"], 1.0
        for k, side in ((2, 0.5), (3, -0.5)):
            vertex = self.centre[2] + side * self.thickness
            behind = self.refracting[k].outMedium.n
            away = vertex - z  # along the light: negative while the iris lies before the surface
            if away:
                image = behind / ((behind - index) * self.bends[k] + index / away)
                scale *= index * image / (behind * away)
                z = vertex - image
            index = behind
        return np.array([*(scale * self.pupil), z])

    @functools.cached_property
    def chief(self):
        """Point on the ray along the line of sight that meets the middle of the pupil."""
        place = [0.0, 0.0, self.vertex - self.eye["iris_depth"]]
        iris = batoid.Interface(batoid.Plane(), name="iris", coordSys=batoid.CoordSys(np.array(place), np.eye(3)))

        def miss(start):
            point = np.array([[start[0]], [start[1]], [self.vertex]])
            return self.follow(point, -self.gaze, (*self.refracting[:2], iris)).points[0, :2] - self.pupil

        return np.array([*root(miss, self.pupil * 1.1, tol=1e-13).x, self.vertex])

    def wavefront(self, x, y):
        """Path of the chief ray less that of rays x, y [mm] away across the beam, in um, to the reference sphere.

        The sphere is centred where the chief ray meets the retina and passes through the middle of the exit pupil.
        """
        x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        across = Rotation.from_rotvec(np.arccos(self.gaze[2]) * unit(np.cross([0.0, 0.0, 1.0], self.gaze))).as_matrix()
        places = np.stack([np.append(0.0, x), np.append(0.0, y)])
        traced = self.follow(self.chief[:, None] + across[:, :2] @ places, -self.gaze)
        centre = traced.points[0]
        radius = np.linalg.norm(centre - self.exit_pupil)
        off = traced.points - centre
        along = np.sum(off * traced.directions, axis=1)
        back = -along - np.sqrt(along**2 - np.sum(off**2, axis=1) + radius**2)
        path = traced.path + self.eye["n_vitreous"] * back
        return 1e3 * (path[0] - path[1:]).reshape(x.shape)

    def zernike(self, pupil, rings=12, spokes=36):
        """Coefficients j = 0..27 [um] over a beam of diameter `pupil`, by quadrature over 432 rays."""
        nodes, weights = np.polynomial.legendre.leggauss(rings)
        r = np.sqrt((nodes + 1.0) / 2.0)[:, None]
        a = (2.0 * np.pi * np.arange(spokes) / spokes)[None, :]
        w = self.wavefront(0.5 * pupil * r * np.cos(a), 0.5 * pupil * r * np.sin(a))
        share = (weights / 2.0)[:, None] / spokes
        return np.array([np.sum(share * w * osa_polynomial(j, r, a)) for j in range(28)])

    def whole(self, pupil):
        """Return the same eye as one of the package's own optics, for its own wavefront and Zernike functions.

        They ask for light that passes a stop; here it is the plane of the corneal vertex.
        """
        stop = batoid.Interface(batoid.Plane(), name="stop", coordSys=batoid.CoordSys([0, 0, self.vertex], np.eye(3)))
        return batoid.CompoundOptic(
            [*self.refracting, self.retina], name="eye", stopSurface=stop, pupilSize=pupil, backDist=BEFORE,
            sphereRadius=self.exit_pupil[2] - (self.vertex - self.eye["axial_length"]),
            inMedium=batoid.ConstMedium(1.0), outMedium=batoid.ConstMedium(self.eye["n_vitreous"]),
        )  # fmt: skip


def unit(vector):
    """Vector of length one; of no direction, as it is."""
    return vector / (np.linalg.norm(vector) or 1.0)


def about_z(angle):
    """Rotation by an angle [deg], counter-clockwise for the observer."""
    return Rotation.from_euler("z", angle, degrees=True).as_matrix()


def shape(along_x, along_y, conic):
    """Surface of the package, of curvatures [1/mm] that are positive if it bulges towards the observer."""
    if along_x == along_y:
        return batoid.Quadric(-1.0 / along_x, conic)
    mean = (along_x + along_y) / 2.0
    return batoid.Sum(
        [batoid.Quadric(-1.0 / mean, conic), batoid.Zernike(_rest(-along_x, -along_y, conic), R_outer=_REACH)]
    )


_REACH = 3.2  # [mm]


@functools.cache
def _rest(a, b, q):
    """Zernike coefficients of a toric surface less the conic of its mean curvature."""
    at = np.linspace(-_REACH, _REACH, 121)
    x, y = (v[np.hypot(*np.meshgrid(at, at)) <= _REACH] for v in np.meshgrid(at, at))

    def height(a, b):
        return (a * x**2 + b * y**2) / (1.0 + np.sqrt(1.0 - (1.0 + q) * (a**2 * x**2 + b**2 * y**2)))

    mean = (a + b) / 2.0
    basis = zernike.zernikeBasis(190, x, y, R_outer=_REACH)
    return np.linalg.lstsq(basis.T, height(a, b) - height(mean, mean), rcond=None)[0]


def osa_polynomial(j, r, angle):
    """Orthonormal polynomial by its OSA index, from SciPy's Jacobi polynomials."""
    n = int(np.ceil((-3 + np.sqrt(9 + 8 * j)) / 2))
    m = 2 * j - n * (n + 2)
    k = (n - abs(m)) // 2
    radial = (-1) ** k * r ** abs(m) * eval_jacobi(k, abs(m), 0, 1.0 - 2.0 * r**2)
    turning = np.cos(m * angle) if m >= 0 else np.sin(-m * angle)
    return np.sqrt((n + 1) * (1 if m == 0 else 2)) * radial * turning


def of(eye, lens, pose):
    """Build the peer of an eyesim eye, lens and pose (single ones)."""
    optic = {name: getattr(lens, "optic_thickness" if name == "thickness" else name) for name in OPTIC_FIELDS}
    return Eye(
        {name: getattr(eye, name) for name in EYE_FIELDS}, optic, (pose.x, pose.y, pose.z), pose.tilt,
        pose.tilt_meridian, lens.flipped, sag(eye.corneal_radius, eye.corneal_q, eye.white_to_white / 2.0), pose.roll,
    )  # fmt: skip


def sag(radius, q, height):
    """Depth [mm] of a conic at a height: the smaller root of (1 + q) z^2 - 2 R z + h^2 = 0."""
    roots = np.roots([1.0 + q, -2.0 * radius, height**2]) if q != -1.0 else [height**2 / (2.0 * radius)]
    return float(min(np.real(roots), key=abs))
