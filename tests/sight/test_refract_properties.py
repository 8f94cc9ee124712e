"""What must hold for sight whatever the numbers: laws of optics, symmetry, counting, shapes, words."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import eyesim as es
from eyesim.eye.frames import rotation_of
from eyesim.sight import optics, rays, zernike
from eyesim.sight.beam import beam_of_sight
from eyesim.sight.refraction import Refraction
from eyesim.sight.surface import CONIC, CURVE, EDGE, FRAME, INDEX, surface
from eyesim.sight.wavefront import fit_coefficients

EYE, LENS = es.Eye(), es.Lens()
ODD = EYE.but(corneal_cylinder=1.5, corneal_steep_meridian=70.0)
TORIC = LENS.but(toric_cylinder=2.0, toric_marks=35.0, posterior_q=-1.5)
POSE = es.Pose(x=0.3, y=-0.2, z=-2.0, tilt=6.0, tilt_meridian=40.0, roll=25.0)


def poses(n, seed=3):
    rng = np.random.default_rng(seed)
    return es.Pose(
        x=rng.normal(0, 0.5, n), y=rng.normal(0, 0.5, n), z=rng.normal(-2.5, 0.3, n),
        tilt=np.abs(rng.normal(0, 6, n)), tilt_meridian=rng.uniform(0, 360, n), roll=rng.uniform(0, 360, n),
    )  # fmt: skip


def looking(slopes):
    """Line of sight with slopes to the right and upwards."""
    return {"sight_x": np.degrees(np.arctan(slopes[0])), "sight_y": np.degrees(np.arctan(slopes[1]))}


# --- rays -------------------------------------------------------------------------------------------


def system(eye=ODD, lens=TORIC, pose=POSE):
    return optics.surfaces(eye, lens, pose)


def beam(radius=2.0, count=40):
    rng = np.random.default_rng(1)
    start = np.zeros((count, 3))
    start[:, :2] = rng.uniform(-radius, radius, (count, 2))
    start[:, 2] = EYE.limbal_depth + 1.0
    return start, np.tile([0.0, 0.0, -1.0], (count, 1))


def test_light_goes_back_the_way_it_came():
    rows, (start, down) = system(), beam()
    there = rays.trace(rows, start, down)
    assert there.through.all()
    back_rows = rows[-2::-1].copy()  # without the retina, from the other side
    back_rows[:, INDEX] = [*rows[-3::-1, INDEX], 1.0]
    back = rays.trace(back_rows, there.points, -there.directions, rows[-2, INDEX])
    assert back.through.all()
    np.testing.assert_allclose(back.directions, -down, atol=1e-12)
    np.testing.assert_allclose((back.points - start)[:, :2], 0.0, atol=1e-11)
    np.testing.assert_allclose(back.path + (start[:, 2] - back.points[:, 2]), there.path, atol=1e-11)


def test_snells_law_holds_at_every_surface_and_rays_lie_on_it():
    rows, (start, down) = system(), beam()
    index, way = 1.0, np.broadcast_to(down, start.shape)
    for k, row in enumerate(rows):
        got = rays.trace(rows[: k + 1], start, down)
        frame = row[FRAME:CURVE].reshape(3, 3)
        own = (got.points - row[:3]) @ frame.T
        (a, b), (p, q) = row[CURVE:CONIC], row[CONIC:EDGE]
        root = np.sqrt(1 - (1 + p) * (a * own[:, 0]) ** 2 - (1 + q) * (b * own[:, 1]) ** 2)
        np.testing.assert_allclose(own[:, 2], (a * own[:, 0] ** 2 + b * own[:, 1] ** 2) / (1 + root), atol=1e-13)
        step = 1e-5
        slopes = []
        for axis in (0, 1):
            heights = []
            for sign in (1.0, -1.0):
                x, y = own[:, 0] + sign * step * (axis == 0), own[:, 1] + sign * step * (axis == 1)
                inside = 1 - (1 + p) * (a * x) ** 2 - (1 + q) * (b * y) ** 2
                heights.append((a * x**2 + b * y**2) / (1 + np.sqrt(inside)))
            slopes.append((heights[0] - heights[1]) / (2 * step))
        normal = np.stack([-slopes[0], -slopes[1], np.ones(len(own))], axis=1)
        normal = normal / np.linalg.norm(normal, axis=1, keepdims=True) @ frame
        before, behind = index * np.cross(normal, way), row[INDEX] * np.cross(normal, got.directions)
        np.testing.assert_allclose(before, behind, atol=1e-9)
        np.testing.assert_allclose(np.linalg.norm(got.directions, axis=1), 1.0, atol=1e-14)
        index, way = row[INDEX], got.directions


def test_a_toric_surface_without_cylinder_is_the_conic():
    flat = surface([0, 0, 0], 1.4, -0.12, -0.3)
    nearly = surface([0, 0, 0], 1.4, -0.12, -0.3, across=-0.12 * (1 + 1e-15), conic_across=-0.3)
    assert nearly[CURVE] != nearly[CURVE + 1]
    start, down = beam()
    one, other = rays.trace(flat[None], start, down), rays.trace(nearly[None], start, down)
    np.testing.assert_allclose(one.points, other.points, atol=1e-13)
    np.testing.assert_allclose(one.directions, other.directions, atol=1e-13)


def test_what_befalls_a_ray_is_told_at_the_surface_where_it_happens():
    ball = surface([0, 0, 0], 1.5, 1.0 / 2.0, edge=1.5)  # light comes down; the centre lies above: hollow
    low = surface([0, 0, -3.0], 1.0, 0.0)
    start = np.array([[0.0, 0, 3], [1.7, 0, 3], [2.5, 0, 3]])
    got = rays.trace(np.stack([ball, low]), start, [[0.0, 0.0, -1.0]])
    assert got.fate.tolist() == [rays.THROUGH, rays.BEYOND, rays.MISSES]
    assert got.surface.tolist() == [1, 0, 0]
    steep = np.array([[np.sin(1.0), 0.0, -np.cos(1.0)]])  # 57 deg from the normal, inside glass: reflected
    plane = surface([0, 0, 0], 1.0)
    inside = rays.trace(plane[None], [[0.0, 0.0, 1.0]], steep, 1.5)
    assert inside.fate.tolist() == [rays.REFLECTED]
    for one in (got, inside):
        for value in (one.points, one.directions, one.path):
            assert np.isfinite(value).all()


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0, 74), st.floats(0, 360), st.floats(-0.3, 0.3), st.floats(-8, 8))
def test_no_ray_ever_becomes_nan(x, y, tilt, meridian, curvature, conic):
    frame = rotation_of(tilt, meridian, 0.0)
    rows = np.stack([
        surface([x, y, 0], 1.5, curvature, conic, frame=frame),
        surface([x, y, -1], 1.3, -curvature, conic, frame=frame, across=0.1, conic_across=-1.0),
    ])  # fmt: skip
    got = rays.trace(rows, *beam(6.0, 25))
    for value in (got.points, got.directions, got.path):
        assert np.isfinite(value).all()
    assert ((got.fate >= 0) & (got.fate < 4)).all()


def test_badly_shaped_rays_are_told_so():
    with pytest.raises(es.LearnerError, match="surfaces"):
        rays.trace(np.zeros((2, 5)), np.zeros((1, 3)), np.zeros((1, 3)))
    with pytest.raises(es.LearnerError, match="rays, 3"):
        rays.trace(system(), np.zeros((1, 2)), np.zeros((1, 3)))


# --- polynomials ------------------------------------------------------------------------------------


def test_polynomials_are_orthonormal_on_the_sampling():
    x, y, weight = zernike.sampling()
    basis = zernike.polynomials(x, y)
    np.testing.assert_allclose(basis.T @ (basis * weight[:, None]), np.eye(28), atol=1e-13)
    assert (weight > 0).all()
    assert weight.sum() == pytest.approx(1.0, abs=1e-14)


def test_order_and_frequency_as_in_the_standard():
    # ANSI Z80.28, table of single index: 3 is oblique astigmatism, 4 defocus, 8 horizontal coma, 12 spherical
    known = {0: (0, 0), 1: (1, -1), 2: (1, 1), 3: (2, -2), 4: (2, 0), 5: (2, 2), 7: (3, -1), 8: (3, 1), 12: (4, 0),
             24: (6, 0), 27: (6, 6)}  # fmt: skip
    for j, pair in known.items():
        assert zernike.order_and_frequency(j) == pair
        assert zernike.index(*pair) == j


def test_polynomials_against_their_published_formulas():
    # ANSI Z80.28, table of polynomials
    r, t = np.meshgrid(np.linspace(0, 1, 7), np.linspace(0, 6, 11))
    values = zernike.polynomials(r * np.cos(t), r * np.sin(t))
    for j, formula in {
        1: 2 * r * np.sin(t),
        5: np.sqrt(6) * r**2 * np.cos(2 * t),
        7: np.sqrt(8) * (3 * r**3 - 2 * r) * np.sin(t),
        12: np.sqrt(5) * (6 * r**4 - 6 * r**2 + 1),
        24: np.sqrt(7) * (20 * r**6 - 30 * r**4 + 12 * r**2 - 1),
        26: np.sqrt(14) * (6 * r**6 - 5 * r**4) * np.cos(4 * t),
    }.items():
        np.testing.assert_allclose(values[..., j], formula, atol=1e-13)


def test_coefficients_converge_with_the_number_of_rays():
    sight = es.refract(EYE, LENS, POSE, pupil=5.0)
    misses = []
    for rings, spokes in ((2, 7), (3, 9), (4, 11), (5, 13), (6, 15), (9, 21)):
        x, y, weight = zernike.sampling(rings, spokes)
        wave = sight.rays(x, y).wavefront
        found = (wave * weight) @ zernike.polynomials(x, y)
        misses.append(np.abs(found - sight.zernike)[3:15].max())
    assert misses[-1] < 1e-7
    assert misses[4] < 1e-12  # the sampling itself
    assert all(b < 0.3 * a for a, b in zip(misses[:4], misses[1:5], strict=True))


def test_a_polynomial_wavefront_is_found_exactly_also_where_part_of_it_is_hidden():
    x, y, _ = zernike.sampling()
    made = np.random.default_rng(5).normal(size=(3, 28))
    wave = made @ zernike.polynomials(x, y).T
    np.testing.assert_allclose(wave @ zernike.projection(), made, atol=1e-13)
    seen = np.broadcast_to(x < 0.55, wave.shape)
    np.testing.assert_allclose(fit_coefficients(np.where(seen, wave, np.nan), seen), made, atol=1e-8)


# --- symmetry ---------------------------------------------------------------------------------------


TURNED = 1e-4
"""[D], [um] Rays do not turn with the eye: they sample another part of what 28 polynomials leave of the wavefront."""


@pytest.mark.parametrize("angle", [17.0, 90.0, 211.0])
def test_turning_everything_turns_the_axis(angle):
    turn = np.array([[np.cos(np.radians(angle)), -np.sin(np.radians(angle))],
                     [np.sin(np.radians(angle)), np.cos(np.radians(angle))]])  # fmt: skip
    pose = poses(20)
    xy = np.stack([pose.x, pose.y], axis=-1) @ turn.T
    turned = pose.but(x=xy[:, 0], y=xy[:, 1], tilt_meridian=np.mod(pose.tilt_meridian + angle, 360), roll=pose.roll)
    # the roll is counted before the lean, so that rotation_of towards a turned meridian needs a turned roll as well
    turned = turned.but(roll=pose.roll + angle)
    eye = ODD.but(corneal_steep_meridian=ODD.corneal_steep_meridian + angle - 360, **looking(turn @ [0.05, 0.09]))
    one, other = es.refract(ODD.but(**looking([0.05, 0.09])), TORIC, pose, 4.0), es.refract(eye, TORIC, turned, 4.0)
    np.testing.assert_allclose(other.M, one.M, atol=TURNED)
    np.testing.assert_allclose(np.mod(other.axis - one.axis - angle + 90.0, 180.0), 90.0, atol=2e-3)
    np.testing.assert_allclose(other.cylinder, one.cylinder, atol=TURNED)
    np.testing.assert_allclose(other.prism, one.prism, atol=TURNED)
    np.testing.assert_allclose(np.mod(other.prism_meridian - one.prism_meridian - angle + 180, 360), 180.0, atol=5e-3)
    np.testing.assert_allclose(other.rms_hoa, one.rms_hoa, atol=TURNED)


def test_a_mirror_image_has_a_mirrored_axis():
    pose = poses(20)
    mirrored = pose.but(x=-pose.x, tilt_meridian=np.mod(180 - pose.tilt_meridian, 360), roll=-pose.roll)
    eye = ODD.but(corneal_steep_meridian=180 - ODD.corneal_steep_meridian, sight_x=-5.0, sight_y=2.0)
    one = es.refract(ODD.but(sight_x=5.0, sight_y=2.0), TORIC, pose, 4.0)
    other = es.refract(eye, TORIC.but(toric_marks=-TORIC.toric_marks), mirrored, 4.0)
    np.testing.assert_allclose(other.M, one.M, atol=TURNED)
    np.testing.assert_allclose(other.J0, one.J0, atol=TURNED)
    np.testing.assert_allclose(other.J45, -one.J45, atol=TURNED)


def test_up_in_the_eye_is_up_in_the_numbers():
    up = es.refract(EYE, LENS, es.Pose(y=0.5))
    assert up.retina_point[1] > 0.1
    assert up.prism_meridian == pytest.approx(90.0)  # the optic draws light towards its middle
    right = es.refract(EYE, LENS, es.Pose(x=0.5))
    assert right.prism_meridian == pytest.approx(0.0, abs=1e-6)
    assert right.coma == pytest.approx(up.coma, rel=1e-9)


def test_a_lens_turned_over_twice_is_as_before():
    bent = LENS.but(anterior_radius=9.0, posterior_radius=-20.0, anterior_q=-3.0, optic_thickness=0.9)
    mirrored = bent.but(anterior_radius=20.0, posterior_radius=-9.0, anterior_q=0.0, posterior_q=-3.0, flipped=True)
    one, other = es.refract(EYE, bent, POSE), es.refract(EYE, mirrored, POSE)
    np.testing.assert_allclose(one.zernike, other.zernike, atol=1e-12)
    assert es.refract(EYE, bent.but(flipped=True), POSE).M != pytest.approx(one.M, abs=0.05)


def test_roll_does_not_matter_to_a_round_optic():
    one, other = (es.refract(EYE, LENS, POSE.but(roll=roll)) for roll in (0.0, 77.0))
    np.testing.assert_allclose(one.zernike, other.zernike, atol=1e-12)


def test_deeper_is_hyperopic_and_wider_is_more_myopic():
    depth = es.refract(EYE, LENS, es.Pose(z=np.linspace(-1.5, -3.5, 9)))
    assert (np.diff(depth.M) > 0).all()
    wide = es.refract(EYE, LENS, es.Pose(), pupil=np.linspace(1.0, 6.0, 9))
    assert (np.diff(wide.M) < 0).all()
    assert np.ptp(wide.paraxial.M) < 0.01  # the middle of the pupil does not know how wide it is


# --- the light --------------------------------------------------------------------------------------


def test_every_ray_is_accounted_for():
    sight = es.refract(EYE, LENS, poses(200), pupil=5.5)
    assert sight.seen.sum() + sum(np.sum(sight.code == code) for code in range(1, 7)) == 200
    alone = es.refract(EYE, LENS, es.Pose(x=1.4, tilt=3.0), pupil=6.0)
    rng = np.random.default_rng(2)
    r, t = np.sqrt(rng.random(60_000)), rng.uniform(0, 2 * np.pi, 60_000)
    light = alone.rays(r * np.cos(t), r * np.sin(t))
    assert (light.through ^ light.missed_light).all()
    share = light.missed_light.mean()
    assert 0.05 < share < 0.3
    assert alone.missed_light == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 60_000) + 2e-4)


@pytest.mark.parametrize(
    ("eye", "lens", "pose", "pupil"),
    [
        (es.Eye(), es.Lens(flipped=True), es.Pose(tilt=59), 4.0),  # its outline is an ellipse
        (es.Eye(), es.Lens(), es.Pose(x=0.5, tilt=60), 3.0),
        (es.Eye(sight_x=12), es.Lens(optic_diameter=5.2), es.Pose(x=0.4, z=-11), 1.4),  # far behind the iris
        (es.Eye(), es.Lens(optic_thickness=4.3), es.Pose(x=1.8, tilt=24.5), 1.0),  # its faces lean apart
    ],
)
def test_light_beside_an_optic_that_leans_or_lies_far_back_is_counted(eye, lens, pose, pupil):
    sight = es.refract(eye, lens, pose, pupil)
    at = (np.arange(200) + 0.5) / 100 - 1
    x, y = (a[np.hypot(*np.meshgrid(at, at)) <= 1] for a in np.meshgrid(at, at))
    light = sight.rays(x, y)
    assert not (light.through & light.missed_light).any()  # and some is totally reflected
    assert light.missed_light.mean() > 0.01
    assert sight.missed_light == pytest.approx(light.missed_light.mean(), abs=0.01)


def test_eyes_that_differ_only_in_where_the_limbus_lies():
    eyes = EYE.but(white_to_white=[11.0, 11.8, 12.6])
    together = es.refract(eyes, LENS, POSE)
    for k, width in enumerate(eyes.white_to_white):
        assert together.M[k] == es.refract(EYE.but(white_to_white=width), LENS, POSE).M


def test_no_light_passes_beside_a_centred_optic_and_more_the_further_off():
    off = es.refract(EYE, LENS, es.Pose(x=np.linspace(0, 2, 9)), pupil=5.0)
    assert off.missed_light[0] == 0.0
    assert (np.diff(off.missed_light) >= 0).all()
    assert off.missed_light[-1] > 0.2


def test_a_physical_pupil_is_what_the_beam_fills():
    eye = EYE.but(pupil_x=0.4, pupil_y=-0.2)
    sight = es.refract(eye, LENS, es.Pose(), physical_pupil=4.0)
    angles = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    start, way = beam_of_sight(sight).rays(np.cos(angles), np.sin(angles))
    place = rays.trace(optics.anterior_surfaces(eye), start, way).points[:, :2]
    reach = np.linalg.norm(place - [0.4, -0.2], axis=1)
    assert reach.mean() == pytest.approx(2.0, abs=0.005)
    assert np.ptp(reach) < 0.03  # a pupil off the axis makes a beam that is not quite round
    assert sight.pupil == pytest.approx(4.0 * optics.entrance_pupil(eye).magnification, rel=0.02)


def test_a_pupil_off_the_axis_sees_an_off_centre_lens_as_much_as_the_other_way_round():
    pupil_off = es.refract(EYE.but(pupil_x=-0.5), LENS, es.Pose())
    lens_off = es.refract(EYE, LENS, es.Pose(x=0.5))
    assert pupil_off.middle[0] == pytest.approx(-0.5 * optics.entrance_pupil(EYE).magnification, rel=0.01)
    assert abs(pupil_off.cylinder) > 0.01
    assert lens_off.prism > pupil_off.prism  # the fovea stays where it is


def test_oblique_astigmatism_of_one_surface():
    # Narrow pencil that meets a sphere at an angle i, refracted to i': n' cos^2 i' / t' - V_t cos^2 i = K and
    # n' / s' - V_s = K, K = (n' cos i' - cos i) / R. *Handbook of Optics*, vol. 1, McGraw-Hill 2010, from memory.
    n, radius = 1.34, 7.8
    bare = {"n_cornea": n, "n_aqueous": n, "n_vitreous": n, "corneal_radius": radius, "corneal_q": 0.0}
    for slant in (4.0, 9.0):
        eye, nothing = es.Eye(**bare, sight_x=slant), LENS.but(index=n)
        sight = es.refract(eye, nothing, es.Pose(), pupil=0.4)
        beam = beam_of_sight(sight)
        start, way = beam.rays(np.zeros(1), np.zeros(1))
        rows = optics.surfaces(eye, nothing, es.Pose())
        met, end = rays.trace(rows[:1], start, way), rays.trace(rows, start, way)
        normal = (met.points[0] - [0.0, 0.0, eye.limbal_depth - radius]) / radius
        cos_i, cos_r = -normal @ way[0], -normal @ met.directions[0]
        length = np.linalg.norm(end.points[0] - met.points[0])
        power = 1000.0 * (n * cos_r - cos_i) / radius
        tangential = (1000.0 * n * cos_r**2 / length - power) / cos_i**2
        sagittal = 1000.0 * n / length - power
        gap = np.linalg.norm(met.points[0] - beam.origin) - np.linalg.norm(
            optics.entrance_pupil(eye).position + 1.0
        )  # from the entrance pupil to the cornea, in metres below
        across, along = (v / (1.0 + gap / 1000.0 * v) for v in (tangential, sagittal))
        assert sight.paraxial.M == pytest.approx((across + along) / 2.0, abs=0.02)
        assert sight.paraxial.J0 == pytest.approx((across - along) / 2.0, rel=0.01)
        assert abs(sight.J45) < 1e-9


def test_a_lens_that_leans_adds_to_the_slant_of_the_line_of_sight_or_takes_from_it():
    nasal = EYE.but(sight_x=5.0)  # a right eye
    flat, towards, away = (es.refract(nasal, LENS, es.Pose(tilt=t, tilt_meridian=m)).cylinder
                           for t, m in ((0.0, 0.0), (5.0, 0.0), (5.0, 180.0)))  # fmt: skip
    assert abs(towards) < abs(flat) < abs(away)


# --- shapes, blocks, words --------------------------------------------------------------------------


def test_everything_broadcasts_and_many_are_as_one():
    eye = EYE.but(axial_length=np.array([[22.0], [23.5], [26.0]]))
    pose = es.Pose(tilt=np.array([0.0, 5.0, 10.0, 2.0]), x=0.2)
    sight = es.refract(eye, LENS, pose, pupil=np.array([[3.0], [4.0], [5.0]]))
    assert sight.shape == (3, 4)
    assert sight.zernike.shape == (3, 4, 28)
    for i, j in ((0, 0), (2, 3), (1, 1)):
        alone = es.refract(
            EYE.but(axial_length=eye.axial_length[i, 0]), LENS, es.Pose(tilt=pose.tilt[j], x=0.2), pupil=3.0 + i
        )
        np.testing.assert_array_equal(sight.zernike[i, j], alone.zernike)
        assert sight.M[i, j] == alone.M
        assert isinstance(alone.M, float)


def test_no_eye_knows_of_its_company():
    pose = poses(1500)
    whole = es.refract(ODD, TORIC, pose, pupil=5.0)
    fields = ("x", "y", "z", "tilt", "tilt_meridian", "roll")
    parts = [pose.but(**{name: getattr(pose, name)[k:] for name in fields}) for k in (1, 700, 1499)]
    for k, part in zip((1, 700, 1499), parts, strict=True):
        some = es.refract(ODD, TORIC, part, pupil=5.0)
        np.testing.assert_array_equal(some.zernike, whole.zernike[k:])
        np.testing.assert_array_equal(some.prism, whole.prism[k:])
        np.testing.assert_array_equal(some.missed_light, whole.missed_light[k:])


def test_a_lens_that_did_not_settle_has_no_refraction_and_a_reason():
    first = es.Fixation(outside=np.array([0.8, 6.5]))
    pose = es.settle(EYE, LENS, first, first.opposite())
    sight = es.refract(EYE, LENS, pose)
    assert sight.seen.tolist() == [True, False]
    assert np.isnan(sight.M[1])
    assert np.isnan(sight.zernike[1]).all()
    assert sight.reason[1] == "the lens has not settled"
    assert np.isfinite(sight.zernike[0]).all()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"pose": es.Pose(x=4.0)}, "4.0 mm off centre"),
        ({"pose": es.Pose(tilt=80.0)}, "tilted by 80 deg"),
        ({"pose": es.Pose(z=2.0)}, "into the cornea"),
        ({"pose": es.Pose(x=2.9), "pupil": 8.0}, "beside the optic"),
        ({"lens": LENS.but(optic_diameter=7.0)}, r"optic_thickness.*1\.08 mm"),
        ({"lens": LENS.but(anterior_radius=3.0, anterior_q=1.0)}, "does not reach"),
        ({"pupil": 30.0}, "0.2 to 8 mm"),
        ({"pupil": np.array([3.0, np.nan])}, "not a finite number"),
        ({"pose": "here"}, "es.Pose"),
        ({"on_failure": "hope"}, "on_failure"),
        ({"pose": poses(3), "pupil": np.ones(2)}, "pupil has shape"),
    ],
)
def test_what_cannot_be_seen_through_is_said_in_words(given, said):
    arguments = {"eye": EYE, "lens": LENS, "pose": es.Pose(), "pupil": 3.0} | given
    with pytest.raises(es.LearnerError, match=said):
        es.refract(**arguments)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: es.point_spread(3.0), r"a Sight, as es.refract\(...\) gives it; 3.0"),
        (lambda: es.best_spectacles(LENS), r"a Sight, as es.refract\(...\) gives it"),
        (lambda: es.acuity(LENS), r"a Sight, as es.refract\(...\) gives it"),
        (lambda: es.refract(EYE, LENS, POSE).rays(np.zeros(2), np.zeros(3)), r"x has shape \(2,\)"),
        (lambda: es.power_for(EYE.but(axial_length=[22.0, 23.0, 24.0]), LENS, POSE, [0.0, -1.0]), "target has shape"),
        (lambda: es.power_for(None, LENS, POSE), "eye must be an Eye"),
        (lambda: rays.trace(system(), np.zeros((10, 3)), np.zeros((4, 3))), r"trace: .* do not go together"),
        (lambda: Refraction("-1"), r"Refraction\.M .*'-1' was given.*Refraction\.of"),
        (lambda: Refraction(-1.0, None), r"Refraction\.J0 "),
    ],
)
def test_what_is_asked_of_a_sight_is_answered_in_words(call, said):
    with pytest.raises(es.LearnerError, match=said):
        call()


def test_a_sight_reads_as_a_sentence():
    sight = es.refract(EYE, LENS, es.Pose(tilt=10.0, tilt_meridian=90.0))
    assert repr(sight).startswith("Sight at a 3.0 mm pupil: -0.48 D sphere, -0.44 D cylinder, axis 180")
    assert "2 see through" in repr(es.refract(EYE, LENS, es.Pose(tilt=[0.0, 10.0])))
    assert "beside" in repr(es.refract(EYE, LENS, es.Pose(x=1.5), pupil=5.0))


# --- the other way round ----------------------------------------------------------------------------


@given(st.floats(-12, 12), st.floats(-6, 0), st.floats(0.5, 179.5))
def test_sphere_cylinder_and_axis_are_one_thing_with_the_power_vector(sphere, cylinder, axis):
    one = Refraction.of(sphere, cylinder, axis)
    assert one.sphere == pytest.approx(sphere, abs=1e-9)
    assert one.cylinder == pytest.approx(cylinder, abs=1e-9)
    if cylinder < -1e-3:
        assert one.axis == pytest.approx(axis, abs=1e-6)
    plus = Refraction.of(sphere + cylinder, -cylinder, axis + 90.0)  # the same, written with plus cylinder
    assert plus.less(one).blur == pytest.approx(0.0, abs=1e-9)


def test_glasses_stand_before_the_eye():
    # effectivity: +10 D at 12 mm needs 10 / (1 + 0.012 * 10) at the glasses; and back again
    assert Refraction(10.0).at_spectacles().M == pytest.approx(10.0 / 1.12)
    mixed = Refraction.of(-8.0, -3.0, 30.0)
    there = mixed.at_spectacles(12.0)
    assert there.axis == pytest.approx(30.0)
    assert there.at_spectacles(-12.0).less(mixed).blur == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(es.LearnerError, match="far point"):
        Refraction(-90.0).at_spectacles(12.0)


def test_a_sight_knows_how_far_behind_the_cornea_it_holds():
    # a 20 mm eye, by vergence: what it needs at the entrance pupil, carried 2.57 + 12 mm forward
    short_eye = es.refract(EYE.but(axial_length=20.0), LENS, es.Pose())
    depth = optics.entrance_pupil(EYE).position
    assert short_eye.at_spectacles().M == pytest.approx(short_eye.M / (1 + (12.0 + depth) / 1000 * short_eye.M))
    assert es.best_spectacles(short_eye).M == pytest.approx(short_eye.at_spectacles().M, abs=0.3)
    both = es.refract(EYE.but(axial_length=[20.0, 38.0]), LENS, es.Pose()).at_spectacles(0.0)
    assert both.M[0] == pytest.approx(short_eye.at_spectacles(0.0).M)
    far = Refraction(np.array([-90.0, -1.0])).at_spectacles(12.0)  # no glasses for the first; the second keeps its own
    assert np.isnan(far.M[0])
    assert far.M[1] == pytest.approx(-1.0 / (1 - 0.012))
    with pytest.raises(es.LearnerError, match="metres"):
        short_eye.at_spectacles(0.012)
    with pytest.raises(es.LearnerError, match=r"halves of a cylinder.*Refraction\.of"):
        Refraction(-2, -1, 90)


def test_one_of_many_can_be_taken():
    many = es.refract(ODD.but(axial_length=[[22.0], [25.0]]), TORIC, es.Pose(tilt=[0.0, 5.0, 90.0]), pupil=4.0)
    one = many[1, 1]
    assert one.shape == ()
    assert one.M == many.M[1, 1]
    assert one.eye.axial_length == 25.0
    assert es.best_spectacles(one).blur > 0.0
    assert many[0].shape == (3,)
    assert not many[0, 2].seen
    with pytest.raises(es.LearnerError, match="single"):
        one[0]
    with pytest.raises(es.LearnerError, match=r"no eye at .*\(2, 3\)"):
        many[5]


def test_light_that_is_lost_is_not_said_to_pass_beside():
    eye = EYE.but(posterior_corneal_q=1.0, posterior_corneal_radius=4.5, pupil_x=2.0, pupil_y=2.0)
    sight = es.refract(eye, LENS, es.Pose(z=-4.0), pupil=8.0, on_failure="flag")
    assert sight.reason == "the light is lost before it reaches the retina"
    with pytest.raises(es.LearnerError, match="toric|optic_diameter"):
        es.refract(EYE, LENS.but(index=1.34, toric_cylinder=20.0), es.Pose())


def test_the_power_asked_for_is_the_power_made():
    powers = np.array([-8.0, 6.0, 15.0, 21.0, 30.0])
    for lens in (LENS, LENS.but(anterior_radius=11.0, posterior_radius=-22.0, anterior_q=-6.0, index=1.491)):
        made = lens.with_power(powers)
        np.testing.assert_allclose(made.power, powers, atol=1e-9)
        shape = lens.anterior_radius / lens.posterior_radius
        np.testing.assert_allclose(made.anterior_radius / made.posterior_radius, shape, rtol=1e-12)
    for flat in (1e4, -1e4):  # a flat face stays flat
        plano = LENS.but(posterior_radius=flat, anterior_radius=8.0).with_power(10.0)
        assert plano.power == pytest.approx(10.0, abs=1e-9)
        assert plano.posterior_radius == flat
    thick = LENS.with_power(np.array([15.0, 30.0]))
    np.testing.assert_allclose(thick.edge_thickness, LENS.edge_thickness, atol=1e-9)
    with pytest.raises(es.LearnerError, match="Near 0 D"):
        LENS.with_power(0.0)
    with pytest.raises(es.LearnerError, match="-30 to 60 D"):
        LENS.with_power(210.0)


def test_the_power_that_is_chosen_leaves_the_target():
    eye = EYE.but(axial_length=np.array([21.0, 23.5, 27.0]))
    for target in (0.0, -2.0):
        power = es.power_for(eye, LENS, POSE, target)
        left = es.refract(eye, LENS.with_power(power), POSE)
        np.testing.assert_allclose(left.M, target, atol=1e-6)
    assert es.power_for(EYE, LENS, es.Pose(z=-1.5)) < es.power_for(EYE, LENS, es.Pose(z=-2.7))
    with pytest.raises(es.LearnerError, match="target"):
        es.power_for(EYE, LENS, POSE, 40.0)
    with pytest.raises(es.LearnerError, match="60 D"):
        es.power_for(EYE.but(axial_length=17.0, corneal_radius=10.0), LENS, POSE, -12.0)


@pytest.mark.parametrize("flipped", [False, True])
def test_the_toric_lens_that_is_chosen_leaves_no_cylinder(flipped):
    eye = ODD.but(corneal_steep_meridian=np.array([0.0, 45.0, 160.0]))
    lens = es.toric_for(eye, LENS.but(flipped=flipped), POSE)
    left = es.refract(eye, lens, POSE)
    np.testing.assert_allclose(left.cylinder, 0.0, atol=1e-6)
    assert (lens.toric_cylinder > 1.5).all()
    bare = es.refract(eye, LENS.but(flipped=flipped), POSE)
    np.testing.assert_allclose(left.M, bare.M, atol=0.03)  # the mean power is kept
    if not flipped:
        upright = es.toric_for(ODD, LENS, es.Pose(roll=30.0))
        assert upright.toric_marks == pytest.approx(ODD.corneal_steep_meridian - 30.0, abs=1e-6)
    with pytest.raises(es.LearnerError, match="most is 20 D"):
        es.toric_for(EYE.but(corneal_cylinder=12.0), LENS.but(index=1.4, anterior_radius=30, posterior_radius=-30),
                     es.Pose(z=-9.0))  # fmt: skip


def test_a_search_that_fails_says_so(monkeypatch):
    monkeypatch.setattr("eyesim.sight.choose._ROUNDS", 1)
    for call in (lambda: es.power_for(EYE, LENS, POSE, -3.0), lambda: es.toric_for(ODD, LENS, POSE)):
        with pytest.raises(es.LearnerError, match="no lens was found"):
            call()


def test_a_round_eye_gets_no_toric_lens():
    assert repr(es.toric_for(EYE, LENS, es.Pose())) == repr(LENS)
    both = es.toric_for(EYE.but(corneal_cylinder=[0.0, 3.0]), LENS, es.Pose())
    assert (both.toric_cylinder > 0.0).tolist() == [False, True]


def test_glasses_for_eyes_at_the_end_of_what_is_allowed():
    deep = es.refract(EYE.but(iris_depth=6.5), LENS, es.Pose(z=-4.0))
    assert es.best_spectacles(deep, vertex_distance=15.0).M == pytest.approx(deep.at_spectacles(15.0).M, abs=0.3)
    odd = es.refract(EYE, LENS, es.Pose(x=2.5, tilt=30.0), pupil=0.2)  # more than 30 D of cylinder
    assert es.best_spectacles(odd).cylinder >= -30.0
    long = es.refract(EYE.but(axial_length=38.0), LENS, es.Pose())  # needs some -34 D in glasses
    assert es.best_spectacles(long).M == pytest.approx(long.at_spectacles().M, abs=0.5)
    assert repr(Refraction(np.nan)) == "Refraction: there is none"
