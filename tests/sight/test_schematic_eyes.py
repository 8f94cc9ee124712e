"""Eyes of the handbooks: published powers and cardinal points, exact rays, and a lens put in instead of their own."""

import json
from pathlib import Path

import numpy as np
import pytest

import eyesim as es
from eyesim.sight import rays
from eyesim.sight.schematic import COLUMNS, read_schematic_eyes, schematic_eye, schematic_eyes
from eyesim.sight.surface import surface

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "optics.json").read_text())["schematic_eyes"]
RELAXED = [name for name in schematic_eyes() if "accommodated" not in name]


POINTS = ("front_focal_length", "back_focal_length", "front_principal", "back_principal", "front_nodal", "back_nodal")


@pytest.mark.parametrize("name", REFERENCE)
def test_reference_power_and_focus_computed_elsewhere(name):
    # reference/optics.json, an independent tracer, to the digits printed; published power to its last digit
    eye, expected = schematic_eye(name), REFERENCE[name]
    assert eye.power == pytest.approx(expected["F_own"], abs=1e-6)
    assert eye.cardinal.back_focus == pytest.approx(expected["z_F2_own"], abs=1e-6)
    assert eye.power == pytest.approx(expected["published_F"], abs=0.01)
    for face, row in zip(eye.surfaces, expected["surfaces_r_k_thickness_nafter"], strict=True):
        assert (face.radius, face.q, face.index) == pytest.approx((row[0], row[1], row[3]))


@pytest.mark.parametrize(
    ("name", "power", "expected"),
    [
        # Optics of the Human Eye, Butterworth-Heinemann 2000: 58.64 D read; principal and nodal points from memory
        ("exact Gullstrand", 58.64, (None, None, 1.35, 1.60, 7.08, 7.33)),
        # the same book, from memory
        ("exact Gullstrand, accommodated", 70.57, None),
        # Physiological Optics, Springer 1980, as an open-source package's own tests cite it
        ("full theoretical", 59.94, (-16.68, 22.29, 1.59, 1.91, 7.20, 7.51)),
        ("full theoretical, accommodated", None, (-14.78, 19.74, 1.82, 2.19, 6.78, 7.16)),
        # Clinical Visual Optics, 2nd ed., Butterworth-Heinemann, as the same tests cite it
        ("three-surface 60 D", 60.00, (-16.67, 22.27, 1.51, 1.82, 7.11, 7.42)),
        # textbooks of visual optics, from memory
        ("simplified Gullstrand", 60.49, (None, None, 1.55, 1.85, 7.06, 7.36)),
        # Journal of the Optical Society of America A 1985;2:1273, power from memory
        ("aspheric", 60.42, None),
    ],
)
def test_reference_published_power_and_cardinal_points(name, power, expected):
    whole = schematic_eye(name).cardinal
    if power is not None:
        assert whole.power == pytest.approx(power, abs=0.01)
    for point, value in zip(POINTS, expected or (), strict=bool(expected)):
        if value is not None:
            assert getattr(whole, point) == pytest.approx(value, abs=0.0055)


def test_reference_focal_points_of_the_three_surface_eye():
    # Clinical Visual Optics, 2nd ed., as an open-source package's own tests cite it: -15.16 and 24.09 mm
    whole = schematic_eye("three-surface 60 D").cardinal
    assert (whole.front_focus, whole.back_focus) == pytest.approx((-15.16, 24.09), abs=0.006)


def test_reference_accommodation():
    # Optics of the Human Eye, Butterworth-Heinemann 2000: the exact eye accommodates by 10.87 D
    assert schematic_eye("exact Gullstrand, accommodated").refraction == pytest.approx(-10.87, abs=0.005)
    # Physiological Optics, Springer 1980, from memory: about 7 D
    assert schematic_eye("full theoretical, accommodated").refraction == pytest.approx(-7.05, abs=0.05)


def test_reference_power_of_the_eyes_own_lens():
    # textbooks of visual optics, from memory: 19.11 D, accommodated 33.06 D
    assert schematic_eye("exact Gullstrand").lens_power == pytest.approx(19.11, abs=0.005)
    assert schematic_eye("exact Gullstrand, accommodated").lens_power == pytest.approx(33.06, abs=0.005)


@pytest.mark.parametrize("name", RELAXED)
def test_relaxed_eyes_see_far(name):
    assert abs(schematic_eye(name).refraction) < 0.02


@pytest.mark.parametrize("name", schematic_eyes())
def test_narrow_beams_traced_exactly_meet_the_axis_in_the_back_focus(name):
    eye = schematic_eye(name)
    depth = np.concatenate([[0.0], np.cumsum([s.thickness for s in eye.surfaces[:-1]])])
    rows = np.stack([
        surface([0, 0, -z], s.index, -1.0 / s.radius, s.q) for z, s in zip(depth, eye.surfaces, strict=True)
    ])  # fmt: skip
    heights = np.array([1e-3, 0.5])
    start = np.stack([heights, 0 * heights, 1.0 + 0 * heights], axis=-1)
    got = rays.trace(rows, start, [[0.0, 0.0, -1.0]])
    assert got.through.all()
    crossing = got.points[:, 0] * got.directions[:, 2] / got.directions[:, 0] - got.points[:, 2]
    assert crossing[0] == pytest.approx(eye.cardinal.back_focus, abs=2e-6)
    assert crossing[1] < crossing[0]  # the rim of every one of these eyes is myopic: positive aberration


@pytest.mark.parametrize("name", schematic_eyes())
def test_each_is_ready_to_have_a_lens_put_in(name):
    own = schematic_eye(name)
    eye = own.eye
    assert eye.axial_length == pytest.approx(own.axial_length)
    assert eye.iris_depth == pytest.approx(sum(s.thickness for s in own.cornea))
    pose = es.Pose(z=eye.limbal_depth - 5.0)
    power = es.power_for(eye, es.Lens(), pose, pupil=1.0)
    assert 15.0 < power < 25.0
    sight = es.refract(eye, es.Lens().with_power(power), pose, pupil=1.0)
    assert sight.M == pytest.approx(0.0, abs=1e-5)
    assert sight.paraxial.cylinder == pytest.approx(0.0, abs=1e-9)


def test_a_single_corneal_surface_stands_for_both():
    own = schematic_eye("simplified Gullstrand")
    eye = own.eye
    assert eye.n_cornea == eye.n_aqueous == pytest.approx(4 / 3)
    assert len(own.cornea) == 1
    assert [s.name for s in own.crystalline] == ["lens front", "lens back"]
    pose = es.Pose(z=eye.limbal_depth - 5.0)
    other = eye.but(posterior_corneal_radius=5.0, posterior_corneal_q=0.5)
    assert es.refract(eye, es.Lens(), pose).M == pytest.approx(es.refract(other, es.Lens(), pose).M, abs=1e-9)


def test_every_row_says_how_far_to_trust_it():
    for name in schematic_eyes():
        eye = schematic_eye(name)
        assert eye.source
        for face in eye.surfaces:
            assert face.kind in ("tabulated", "from memory")
            assert face.source
            assert face.note
        if any(s.kind == "from memory" for s in eye.surfaces):
            assert "from memory" in eye.source
    assert "from memory" not in schematic_eye("exact Gullstrand").source


def test_an_eye_says_what_it_is():
    assert repr(schematic_eye("exact Gullstrand")).startswith("Schematic eye, exact Gullstrand: 58.64 D, 24.39 mm long")
    with pytest.raises(es.LearnerError, match="simplified Gullstrand"):
        schematic_eye("simplified gullstrand")
    with pytest.raises(es.LearnerError, match="aspheric wide-angle"):
        schematic_eye(3)


HEAD = ",".join(COLUMNS)
CORNEA, RETINA = "a,cornea,8,0,20,1.3,tabulated,A book,,x", "a,retina,-12,0,,,assumption,,,x"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([CORNEA], "line 2, column surface: the eye 'a' must end with its retina"),
        ([RETINA], "must end with its retina"),
        ([CORNEA, RETINA, CORNEA.replace("a,", "b,", 1), RETINA.replace("a,", "b,", 1), CORNEA, RETINA], "there twice"),
        ([CORNEA[1:], RETINA[1:]], "column eye: '' is empty"),
        ([CORNEA.replace("8", "0"), RETINA], "line 2, column radius: no surface has the radius 0"),
        ([CORNEA.replace("8", "x"), RETINA], "line 2, column radius: 'x' is not a number"),
        ([CORNEA.replace("20", ""), RETINA], "line 2, column gap: it is empty"),
        ([CORNEA, RETINA.replace("-12", "")], "line 3, column radius: it is empty"),
        ([CORNEA.replace("tabulated", "guessed"), RETINA], "line 2, column kind: 'guessed'"),
    ],
)
def test_a_broken_table_names_file_line_and_column(tmp_path, rows, words):
    path = tmp_path / "eyes.csv"
    path.write_text("\n".join([HEAD, *rows]) + "\n")
    with pytest.raises(es.LearnerError) as told:
        read_schematic_eyes(path)
    assert words in str(told.value)
    assert "eyes.csv" in str(told.value)
    path.write_text("\n".join([HEAD, CORNEA, RETINA]))
    assert read_schematic_eyes(str(path))["a"].axial_length == 20.0
