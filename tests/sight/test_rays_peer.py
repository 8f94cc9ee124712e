"""Rays through the eye and its lens against batoid, a general-purpose optics package: ray by ray, and as wavefronts."""

import json
from pathlib import Path

import numpy as np
import optics_peer
import pytest

import eyesim as es
from eyesim.sight import optics, rays

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "optics.json").read_text())
CASES = [(model, case) for model in REFERENCE["models"].values() for case in model["cases"]]

EYE = es.Eye()
ASPHERIC = es.Lens(
    anterior_radius=11.0629, anterior_q=-6.0, posterior_radius=-22.0, optic_thickness=0.85, index=1.491
)  # fmt: skip
HOLLOW = es.Lens(anterior_radius=7.0, posterior_radius=30.0, posterior_q=4.0)
LONG = es.Eye(corneal_radius=7.1, corneal_q=0.3, axial_length=29.0, retina_radius=14.0)
PLACES = np.random.default_rng(4).uniform(-2.0, 2.0, (2, 60))  # [mm] at the cornea

POSES = [
    es.Pose(),
    es.Pose(x=0.4, y=-0.3, z=-2.4, tilt=6.0, tilt_meridian=35.0),
    es.Pose(x=-0.8, y=0.5, z=-1.6, tilt=14.0, tilt_meridian=200.0, roll=80.0),
    es.Pose(x=0.1, y=0.9, z=-3.4, tilt=25.0, tilt_meridian=291.0, roll=-30.0),
]
SETTINGS = {
    "equal radii": (EYE, es.Lens()),
    "aspheric": (EYE, ASPHERIC),
    "aspheric, back to front": (EYE, ASPHERIC.but(flipped=True)),
    "hollow back": (EYE, HOLLOW),
    "long eye, steep cornea": (LONG, ASPHERIC),
    "four indices": (EYE.but(n_cornea=1.3771, n_aqueous=1.3374, n_vitreous=1.331), es.Lens(index=1.55)),
    "toric cornea": (EYE.but(corneal_cylinder=3.0, corneal_steep_meridian=70.0), es.Lens()),
    "toric lens": (EYE, ASPHERIC.but(toric_cylinder=4.0, toric_marks=25.0)),
    "both toric, lens back to front": (
        EYE.but(corneal_cylinder=1.5, corneal_steep_meridian=160.0),
        es.Lens(toric_cylinder=3.0, toric_marks=-40.0, flipped=True),
    ),
    "near a parabola": (EYE.but(corneal_q=-0.999999), es.Lens(anterior_q=-1.000001, posterior_q=-0.999999)),
}  # fmt: skip


def both(eye, lens, pose, x, y):
    """Trace the same rays in eyesim and in the peer."""
    start = np.stack([x, y, np.full_like(x, eye.limbal_depth)], axis=-1)
    ours = rays.trace(optics.surfaces(eye, lens.but(optic_diameter=8.0), pose), start, [[0.0, 0.0, -1.0]])
    return ours, optics_peer.of(eye, lens, pose).trace(x, y)


@pytest.mark.parametrize("pose", POSES, ids=repr)
@pytest.mark.parametrize("setting", SETTINGS.values(), ids=SETTINGS)
def test_reference_each_ray_goes_as_in_a_general_purpose_package(setting, pose):
    # batoid, see optics_peer.py
    ours, other = both(*setting, pose, *PLACES)
    assert ours.through.all()
    np.testing.assert_allclose(ours.points, other.points, atol=1e-9, rtol=0.0)  # [mm]
    np.testing.assert_allclose(ours.path, other.path, atol=1e-9, rtol=0.0)
    np.testing.assert_allclose(ours.directions, other.directions, atol=1e-10, rtol=0.0)


def test_reference_rays_that_come_aslant():
    # batoid; light from a point 8 degrees off the axis
    pose, way = POSES[1], np.array([np.sin(0.14) * 0.6, np.sin(0.14) * 0.8, -np.cos(0.14)])
    x, y = PLACES
    start = np.stack([x, y, np.full_like(x, EYE.limbal_depth)], axis=-1)
    ours = rays.trace(optics.surfaces(EYE, ASPHERIC, pose), start, [way])
    other = optics_peer.of(EYE, ASPHERIC, pose).trace(x, y, way)
    np.testing.assert_allclose(ours.points, other.points, atol=1e-9, rtol=0.0)
    np.testing.assert_allclose(ours.path, other.path, atol=1e-9, rtol=0.0)


def test_a_parabola_is_what_conics_next_to_it_tend_to():
    # the package divides by 1 + q and cannot trace a parabola, so that one is reached from both sides
    x, y = PLACES
    start = np.stack([x, y, np.full_like(x, EYE.limbal_depth)], axis=-1)

    def points(q):
        lens = es.Lens(anterior_q=q, posterior_q=q)
        return rays.trace(optics.surfaces(EYE.but(corneal_q=q), lens, POSES[1]), start, [[0.0, 0.0, -1.0]]).points

    exact = points(-1.0)
    for step in (1e-3, 1e-5):
        below, above = points(-1.0 - step) - exact, points(-1.0 + step) - exact
        assert np.abs(above).max() < step
        np.testing.assert_allclose(below, -above, atol=2.0 * step**2 + 1e-12)


@pytest.mark.parametrize(("model", "case"), CASES, ids=[f"{c['name']}-{i}" for i, (_, c) in enumerate(CASES)])
def test_the_peer_is_itself_a_witness_of_the_reference_cases(model, case):
    # reference/optics.json, tolerance same_definition; the peer shares no code with eyesim
    centre = (case["x"], case["y"], -case["midplane_depth"])
    peer = optics_peer.Eye(
        model["eye"], model["optic"], centre, case["tilt"], case["tilt_meridian"], case["flipped"]
    )  # fmt: skip
    for pupil in (3, 5):
        expected = case[f"beam_{pupil}mm"]["zernike_um"]
        np.testing.assert_allclose(peer.zernike(pupil), expected, atol=5e-6, rtol=0.0)  # [um]; 5e-4 is allowed


@pytest.mark.parametrize("pose", POSES[:3], ids=repr)
@pytest.mark.parametrize("pupil", [2.0, 4.0])
@pytest.mark.parametrize("setting", SETTINGS.values(), ids=SETTINGS)
def test_reference_wavefront_by_another_quadrature_in_another_package(setting, pose, pupil):
    # batoid, SciPy's Jacobi polynomials, 432 rays: reference/optics.json, tolerance same_definition, 0.0005 um
    eye, lens = setting
    sight = es.refract(eye, lens, pose, pupil)
    assert sight.missed_light == 0.0
    expected = optics_peer.of(eye, lens, pose).zernike(pupil)
    np.testing.assert_allclose(sight.zernike, expected, atol=5e-4, rtol=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("lens", [ASPHERIC, es.Lens(toric_cylinder=3.0, toric_marks=20.0)], ids=["aspheric", "toric"])
@pytest.mark.parametrize(
    "aside", [{"sight_x": 5.0}, {"sight_x": -4.0, "sight_y": 7.0}, {"pupil_x": 0.3, "pupil_y": -0.15},
              {"sight_x": 5.0, "sight_y": 1.5, "pupil_x": -0.3, "corneal_cylinder": 2.0}],
    ids=["gaze", "gaze both ways", "pupil", "gaze, pupil and toric cornea"],
)  # fmt: skip
def test_reference_eyes_that_look_beside_their_axis_through_pupils_off_centre(aside, lens):
    # batoid: the chief ray found by SciPy's root finder, the pupil's image by thin beams
    eye, pose = EYE.but(**aside), POSES[1]
    sight, peer = es.refract(eye, lens, pose, 3.0), optics_peer.of(eye, lens, pose)
    np.testing.assert_allclose(sight.zernike, peer.zernike(3.0), atol=5e-6, rtol=0.0)  # [um]; 5e-4 is allowed
    chief = peer.follow(peer.chief[:, None], -peer.gaze).points[0, :2]
    np.testing.assert_allclose(sight.retina_point, chief, atol=1e-9, rtol=0.0)


@pytest.mark.parametrize("pose", POSES, ids=repr)
def test_reference_further_rays_of_a_single_eye(pose):
    # batoid: wavefront to a nanometre's thousandth, points on the retina to 1e-9 mm
    sight = es.refract(EYE, ASPHERIC, pose, 4.0)
    x, y = PLACES / 2.0
    more, peer = sight.rays(x, y), optics_peer.of(EYE, ASPHERIC, pose)
    np.testing.assert_allclose(more.wavefront, peer.wavefront(2.0 * x, 2.0 * y), atol=2e-6, rtol=0.0)
    np.testing.assert_allclose(more.retina, peer.trace(2.0 * x, 2.0 * y).points, atol=1e-9, rtol=0.0)
