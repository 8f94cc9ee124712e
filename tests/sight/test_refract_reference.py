"""What a patient sees, against cases traced elsewhere, published figures and closed forms."""

import json
from pathlib import Path

import numpy as np
import pytest

import eyesim as es
from eyesim.eye.frames import rotation_of
from eyesim.eye.sources import fact
from eyesim.sight import rays, zernike
from eyesim.sight.closed_forms import (
    axial_shift,
    prentice,
    shifted_spherical_aberration,
    thin_lens_refraction,
    tilted_thin_lens,
    turned_toric,
)
from eyesim.sight.surface import surface

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "optics.json").read_text())
CASES = [
    (model, case, pupil) for model in REFERENCE["models"].values() for case in model["cases"] for pupil in (3, 5)
]  # fmt: skip
ALLOWED = REFERENCE["tolerances"]["same_definition_order6_fit_ge_61_rays"]

EYE, LENS = es.Eye(), es.Lens()
ASPHERIC = es.Lens(
    anterior_radius=11.0629, anterior_q=-6.0, posterior_radius=-22.0, optic_thickness=0.85, index=1.491
)  # fmt: skip
DEPTH = 5.3  # [mm] of the optic's mid-plane behind the corneal vertex
HERE = es.Pose(z=EYE.limbal_depth - DEPTH)


def setting(model, flipped=False):
    optic = dict(model["optic"])
    optic["optic_thickness"] = optic.pop("thickness")
    return es.Eye(**model["eye"]), es.Lens(**optic, flipped=flipped)


def between(a, b):
    """Angle between two axes [deg]."""
    return abs((a - b + 90.0) % 180.0 - 90.0)


@pytest.mark.parametrize(
    ("model", "case", "pupil"), CASES, ids=[f"{c['name']}-{p} mm-{i // 2}" for i, (_, c, p) in enumerate(CASES)]
)
def test_reference_case_traced_by_an_independent_tracer(model, case, pupil):
    # reference/optics.json, tolerances same_definition; agreed there with two general-purpose optics packages
    eye, lens = setting(model, case["flipped"])
    pose = es.Pose(
        x=case["x"], y=case["y"], z=eye.limbal_depth - case["midplane_depth"], tilt=case["tilt"],
        tilt_meridian=case["tilt_meridian"],
    )  # fmt: skip
    sight, expected = es.refract(eye, lens, pose, pupil), case[f"beam_{pupil}mm"]
    assert sight.zernike == pytest.approx(expected["zernike_um"], abs=ALLOWED["coefficients_um"])
    assert sight.M == pytest.approx(expected["M"], abs=ALLOWED["M_D"])
    assert (sight.J0, sight.J45) == pytest.approx((expected["J0"], expected["J45"]), abs=ALLOWED["J_D"])
    assert sight.sphere == pytest.approx(expected["sphere"], abs=ALLOWED["M_D"] + ALLOWED["J_D"])
    assert sight.cylinder == pytest.approx(expected["cylinder"], abs=2.0 * ALLOWED["J_D"])
    higher = np.linalg.norm(expected["zernike_um"][6:])
    assert sight.rms_hoa == pytest.approx(higher, abs=ALLOWED["rms_hoa_um"])
    if expected["cylinder"] < -0.05:
        assert between(sight.axis, expected["axis"]) < ALLOWED["axis_deg_if_C_gt_0p05D"]
    assert 0.0 < sight.axis <= 180.0
    assert (sight.missed_light > 0.0) == expected[
        "beyond_3mm_optic"
    ]  # and where part of the beam is cut, the rest tells


@pytest.mark.parametrize("row", REFERENCE["paraxial_refraction_table"]["rows"], ids=lambda r: f"{r['iol_power_D']:g} D")
def test_reference_refraction_of_narrow_beams(row):
    # reference/optics.json, paraxial_refraction_table: at the entrance pupil, and in glasses 12 mm before the cornea
    eye = setting(REFERENCE["models"]["PE-A"])[0].but(axial_length=row["axial_length_mm"])
    lens = es.Lens(anterior_radius=row["iol_radius_mm"], posterior_radius=-row["iol_radius_mm"], optic_diameter=5.0)
    assert lens.power == pytest.approx(row["iol_power_D"], abs=2e-5)
    sight = es.refract(eye, lens, HERE, pupil=0.5)
    assert sight.paraxial.M == pytest.approx(row["refraction_entrance_pupil_D"], abs=0.002)
    enters = es.sight.optics.entrance_pupil(eye).position
    assert sight.paraxial.at_spectacles(12.0 + enters).M == pytest.approx(row["refraction_spectacle_12mm_D"], abs=0.002)


@pytest.mark.parametrize("name", ["tilt_astigmatism_5", "tilt_astigmatism_10"])
@pytest.mark.parametrize("lens", [ASPHERIC, LENS], ids=["aspheric", "spherical"])
def test_reference_published_astigmatism_of_a_tilted_lens(lens, name):
    # J Cataract Refract Surg 2018;44:745-749, DOI 10.1016/j.jcrs.2018.04.035: aspheric 22 D, ray-traced, corneal plane
    tilt = float(name.split("_")[-1])
    sight = es.refract(EYE, lens.with_power(22.0), HERE.but(tilt=tilt, tilt_meridian=0.0))
    assert -sight.at_spectacles(0.0).cylinder == pytest.approx(fact("optics", name).value, rel=0.15)


def share_at_the_cornea(power):
    """Dioptres at the cornea to one at the lens, for thin lenses."""
    step = 0.01
    ends = [thin_lens_refraction(power + s, EYE.axial_length, DEPTH, CORNEA) for s in (-step, step)]
    return (ends[0] - ends[1]) / (2.0 * step)


CORNEA = REFERENCE["models"]["PE-A"]["paraxial"]["F_cornea"]


@pytest.mark.parametrize("tilt", [3.0, 5.0, 10.0, 20.0])
def test_a_tilted_lens_in_a_real_eye_departs_from_the_thin_lens_formula_by_some_percent(tilt):
    # light converges on it, the optic has thickness: the formula exceeds the ray trace by 5 to 15 %
    sight = es.refract(EYE, LENS, HERE.but(tilt=tilt, tilt_meridian=90.0), pupil=1.0)
    formula = tilted_thin_lens(LENS.power, tilt, 90.0, LENS.index / EYE.n_aqueous)
    assert 1.05 < share_at_the_cornea(LENS.power) * formula.cylinder / sight.cylinder < 1.15
    assert between(sight.axis, formula.axis) == pytest.approx(90.0, abs=1e-6)  # what the eye needs is the opposite


def test_depth_costs_about_a_dioptre_and_a_third_for_each_millimetre():
    # vergence, thin lens of 21 D: 1.3 D a millimetre; lens further forward: myopic
    deep = es.refract(EYE, LENS, HERE.but(z=HERE.z - np.array([-0.5, 0.0, 0.5])), pupil=2.0).paraxial.M
    assert np.diff(deep) == pytest.approx([0.65, 0.65], abs=0.04)
    formula = axial_shift(np.array([-0.5, 0.5]), EYE.axial_length, DEPTH, CORNEA)
    assert deep[[0, 2]] - deep[1] == pytest.approx(formula, rel=0.06)


@pytest.mark.parametrize(("length", "dioptres"), [(21.0, 1.10), (29.0, 0.09)])
def test_the_length_of_the_eye_decides_what_depth_costs(length, dioptres):
    # computed elsewhere by vergence (cornea 44 D, lens 5 mm behind it): half a millimetre, short against long eye
    eye = EYE.but(axial_length=length, corneal_radius=7.5)
    pose = es.Pose(z=eye.limbal_depth - 5.0)
    lens = LENS.with_power(es.power_for(eye, LENS, pose, pupil=1.0))
    change = es.refract(eye, lens, pose.but(z=pose.z - 0.5), pupil=1.0).M
    assert change == pytest.approx(dioptres, rel=0.15, abs=0.02)


@pytest.mark.parametrize("pupil", [1.0, 3.0])
def test_a_turned_toric_lens_leaves_twice_the_sine(pupil):
    # power vectors: residual 2 C sin(turn), mean sphere the same
    eye = EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=75.0)
    bare = es.refract(eye, LENS, HERE, pupil)
    toric = es.toric_for(eye, LENS, HERE, pupil)
    turn = np.array([5.0, 10.0, 15.0, 30.0, -10.0])
    sight = es.refract(eye, toric, HERE.but(roll=turn), pupil)
    left = turned_toric(bare.cylinder, turn, bare.axis)
    assert sight.J0 == pytest.approx(left.J0, abs=0.003)
    assert sight.J45 == pytest.approx(left.J45, abs=0.003)
    assert sight.M == pytest.approx(np.full(5, es.refract(eye, toric, HERE, pupil).M), abs=0.005)
    assert sight.cylinder[3] == pytest.approx(bare.cylinder, abs=0.002)  # at 30 degrees all is lost
    assert sight.cylinder[1] / bare.cylinder == pytest.approx(1 / 3, abs=0.02)  # at 10 degrees a third


def thin_lens(power, centre=(0.0, 0.0, 0.0), tilt=0.0, meridian=0.0, thickness=1e-5, index=1.5):
    """Rows of an equally curved lens in air."""
    curve, frame = power / (2000.0 * (index - 1.0)), rotation_of(tilt, meridian, 0.0)
    half = frame[:, 2] * thickness / 2.0
    return np.stack([
        surface(np.asarray(centre) + half, index, -curve, frame=frame),
        surface(np.asarray(centre) - half, 1.0, curve, frame=frame),
    ])  # fmt: skip


@pytest.mark.parametrize("power", [-6.0, 4.0, 21.0])
def test_prentices_rule_on_a_thin_lens_in_air(power):
    # deviation of light along the axis by a lens d off centre: d F / 10 prism dioptres, the base where the lens is
    off = np.array([4.0, 1.0, 0.25])
    miss = []
    for d in off:
        got = rays.trace(thin_lens(power, (d, 0.0, 0.0)), [[0.0, 0.0, 5.0]], [[0.0, 0.0, -1.0]])
        prism = 100.0 * got.directions[0, 0] / -got.directions[0, 2]
        miss.append(prism / prentice(power, d) - 1.0)
    assert miss[2] == pytest.approx(0.0, abs=1e-4)
    assert np.log2(miss[0] / miss[1]) == pytest.approx(4.0, abs=0.3)  # close to the axis: of second order in d


def test_prism_of_an_eye_follows_prentices_rule():
    # a lens off centre by d deviates light by about d F / 10 at the lens; the cornea's share brings some 4/5 before it
    sight = es.refract(EYE, LENS, HERE.but(x=np.array([0.25, 0.5])), pupil=1.0)
    assert sight.prism == pytest.approx(0.8 * prentice(21.0, np.array([0.25, 0.5])), rel=0.15)
    assert sight.prism_meridian == pytest.approx([0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("power", [-8.0, 15.0])
def test_a_tilted_thin_lens_in_air_converges_to_its_formula(power):
    # equations of narrow oblique bundles, to second order in the tilt; bundles along both lines of symmetry
    tilts, error = np.array([20.0, 10.0, 5.0]), []
    step = 1e-3
    start = np.array([[0.0, 0.0, 5.0], [step, 0.0, 5.0], [0.0, step, 5.0]])
    for tilt in tilts:
        ways = rays.trace(thin_lens(power, tilt=tilt, meridian=90.0), start, [[0.0, 0.0, -1.0]]).directions
        slopes = ways[:, :2] / -ways[:, 2:]
        across, along = -1000.0 * (slopes[1, 0] - slopes[0, 0]) / step, -1000.0 * (slopes[2, 1] - slopes[0, 1]) / step
        formula = tilted_thin_lens(power, tilt, 90.0)
        error.append((across - (formula.M + formula.J0), along - (formula.M - formula.J0)))
    error = np.abs(error)
    assert error[2] == pytest.approx([0.0, 0.0], abs=5e-4)
    assert np.log2(error[0] / error[1]) == pytest.approx([4.0, 4.0], abs=0.3)


@pytest.mark.parametrize("pupil", [4.0, 5.0])
def test_coma_of_a_pupil_off_centre_is_what_spherical_aberration_shifted_gives(pupil):
    # the same centred eye, looked through beside its middle
    centred = es.refract(EYE, LENS, HERE, pupil)
    beside = es.refract(EYE.but(pupil_x=0.2), LENS, HERE, pupil)
    formula = shifted_spherical_aberration(centred.spherical_aberration, beside.middle[0], pupil)
    assert beside.zernike[zernike.index(3, 1)] == pytest.approx(formula, rel=0.03)
    assert between(beside.coma_meridian, 0.0) < 1e-6
