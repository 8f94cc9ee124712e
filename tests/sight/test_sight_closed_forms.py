"""Optics on the back of an envelope: worked examples with their source, and identities checked by number."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import eyesim as es
from eyesim.eye.sources import fact
from eyesim.sight import paraxial, zernike
from eyesim.sight.closed_forms import (
    airy_radius,
    axial_shift,
    blur_disc,
    prentice,
    shifted_coma,
    shifted_spherical_aberration,
    spectacles_to_cornea,
    thin_lens_for,
    thin_lens_refraction,
    tilted_thin_lens,
    turned_toric,
)
from eyesim.sight.refraction import Refraction


@pytest.mark.parametrize(("power", "sphere", "cylinder"), [(15.0, 15.15, 0.47), (-15.0, -15.15, -0.47)])
def test_reference_tilted_thin_lens_worked_example(power, sphere, cylinder):
    # an online course of ophthalmic optics: +-15.00 D tilted by 10 deg about the horizontal, 2n taken as 3
    worked = Refraction.of(sphere, cylinder, 180.0)
    acts = tilted_thin_lens(power, 10.0)
    assert (acts.M, acts.J0, acts.J45) == pytest.approx((worked.M, worked.J0, worked.J45), abs=0.005)


def test_reference_tilt_at_the_lens():
    # tan^2 of 10 degrees times 20 D: 0.62 D at the lens; in water, index 1.458 over 1.336, a little more: 0.63 D
    assert tilted_thin_lens(20.0, 10.0, index=1.458 / 1.336).cylinder == pytest.approx(-0.63, abs=0.005)


@given(st.floats(-30, 30), st.floats(0, 30), st.floats(0, 360))
def test_a_tilted_lens_turns_with_its_meridian_and_the_square_of_small_tilts(power, tilt, meridian):
    one, turned = tilted_thin_lens(power, tilt, 0.0), tilted_thin_lens(power, tilt, meridian)
    assert turned.M == one.M
    assert turned.cylinder == pytest.approx(one.cylinder, abs=1e-12)
    half = one.J0 * np.exp(2j * np.radians(meridian))
    assert (turned.J0, turned.J45) == pytest.approx((half.real, half.imag), abs=1e-12)
    assert tilted_thin_lens(power, 1.0).cylinder == pytest.approx(-abs(power) * np.radians(1.0) ** 2, rel=1e-3)
    assert tilted_thin_lens(power, 0.0, meridian).M == power


def test_reference_prentice():
    # any textbook of ophthalmic optics: 4 D met 5 mm off centre is 2 prism dioptres
    assert prentice(4.0, 5.0) == 2.0
    assert prentice(-4.0, 5.0) == -2.0
    assert prentice(21.0, np.array([0.0, 0.5])).tolist() == [0.0, 1.05]


def test_reference_vertex_distance():
    # any textbook of ophthalmic optics: -10.00 D at 12 mm is -8.93 D at the cornea, +10.00 D is +11.36 D
    assert spectacles_to_cornea(-10.0) == pytest.approx(-8.93, abs=0.005)
    assert spectacles_to_cornea(10.0) == pytest.approx(11.36, abs=0.005)
    assert Refraction(spectacles_to_cornea(-7.3, 14.0)).at_spectacles(14.0).M == pytest.approx(-7.3, rel=1e-13)


@pytest.mark.parametrize(
    ("length", "forwards", "backwards"),
    [
        (21, -1.10, 1.09), (22, -0.89, 0.88), (23.5, -0.64, 0.63), (25, -0.44, 0.44), (26.5, -0.29, 0.28),
        (29, -0.09, 0.08),
    ],
)  # fmt: skip
def test_reference_axial_shift(length, forwards, backwards):
    # computed elsewhere by vergence: cornea 44 D, lens 5 mm behind it, index 1.336; half a millimetre either way
    assert axial_shift([-0.5, 0.5], length) == pytest.approx([forwards, backwards], abs=0.0051)


def test_axial_shift_agrees_with_matrices():
    lengths, depths, shift = np.array([[21.0], [24.0], [28.0]]), np.array([4.0, 5.5]), 0.7
    power = thin_lens_for(lengths, depths)

    def eye(depth):
        """Refract by matrices: a thin lens is two surfaces of a very dense medium with nothing between them."""
        front = paraxial.system([44.0 / 336.0], [], [1.0, 1.336])
        bend = power / 1e6
        return front.then(depth, paraxial.system([bend / 2, -bend / 2], [0.0], [1.336, 1001.336, 1.336]))

    assert paraxial.refraction(eye(depths), lengths) == pytest.approx(np.zeros((3, 2)), abs=1e-9)
    shifted = paraxial.refraction(eye(depths + shift), lengths)
    assert axial_shift(shift, lengths, depths) == pytest.approx(shifted, abs=1e-9)
    assert thin_lens_refraction(power, lengths, depths) == pytest.approx(np.zeros((3, 2)), abs=1e-9)


@given(st.floats(20, 30), st.floats(3, 7), st.floats(-5, 5))
def test_a_lens_made_for_a_target_leaves_it(length, depth, target):
    power = thin_lens_for(length, depth, target)
    assert thin_lens_refraction(power, length, depth) == pytest.approx(target, abs=1e-9)


@pytest.mark.parametrize(("turn", "left"), [(5, 0.349), (10, 0.695), (15, 1.035), (30, 2.000), (90, 4.000)])
def test_reference_turned_toric(turn, left):
    # 2 C sin(turn) of 2 D, computed elsewhere; J Cataract Refract Surg 2011;37:1895: a third at 10, all at 30 degrees
    assert -turned_toric(2.0, turn).cylinder == pytest.approx(left, abs=0.0005)
    rows = fact("optics", "toric_loss_10"), fact("optics", "toric_loss_30")
    for row, angle in zip(rows, (10.0, 30.0), strict=True):
        assert -turned_toric(1.0, angle).cylinder == pytest.approx(row.value, abs=0.02)


@given(st.floats(0.1, 10), st.floats(-90, 90), st.floats(0, 180))
def test_a_turned_toric_is_the_difference_of_two_glasses(cylinder, turn, axis):
    needs, gives = Refraction.of(0.0, -cylinder, axis), Refraction.of(0.0, -cylinder, axis + turn)
    left, worked = needs.less(gives), turned_toric(cylinder, turn, axis)
    assert (worked.M, worked.J0, worked.J45) == pytest.approx((left.M, left.J0, left.J45), abs=1e-12)
    assert -worked.cylinder == pytest.approx(2.0 * cylinder * abs(np.sin(np.radians(turn))), abs=1e-12)


@pytest.mark.parametrize("turn", [1.0, 10.0, 40.0])
def test_the_axis_of_what_a_turned_toric_leaves(turn):
    # the difference of two unit arrows at 0 and 2 t points to t - 90, on the doubled circle: axis t/2 - 45, plus 180
    assert turned_toric(2.0, turn, 180.0).axis == pytest.approx(turn / 2.0 - 45.0 + 180.0, abs=1e-9)


def test_reference_airy():
    # 1.22 wavelength / diameter: at 555 nm and 3 mm 0.78 arcmin; any textbook of optics
    assert airy_radius(3.0) == pytest.approx(1.22 * 555e-9 / 3e-3 * 3437.75, rel=5e-4)
    from scipy.special import j1

    angle = airy_radius(2.5, 600.0) / 3437.7467707849
    assert j1(np.pi * 2.5e6 / 600.0 * angle) == pytest.approx(0.0, abs=1e-9)


def test_reference_blur_disc():
    # one dioptre over 3 mm is 3 mrad, 10.3 arcmin
    assert blur_disc(-1.0, 3.0) == pytest.approx(10.31, abs=0.005)
    assert blur_disc([0.5, 1.0], 4.0) == pytest.approx(np.array([2.0, 4.0]) * 3.437747, rel=1e-6)


def shifted(coefficient, n, m, shift, pupil):
    """Coefficients of a single polynomial seen through a pupil that has moved to the right, by least squares."""
    x, y, weight = zernike.sampling()
    s = 2.0 * shift / pupil
    seen = coefficient * zernike.polynomials(x + s, y)[:, zernike.index(n, m)]
    basis = zernike.polynomials(x, y)
    root = np.sqrt(weight)
    return np.linalg.lstsq(basis * root[:, None], seen * root, rcond=None)[0]


def test_reference_spherical_aberration_off_centre():
    # 0.40 um moved by 0.25 mm in a pupil of 6 mm: 2 sqrt(10) 0.40 / 12 = 0.21 um
    assert shifted_spherical_aberration(0.40, 0.25, 6.0) == pytest.approx(0.21, abs=0.005)


def test_reference_coma_off_centre():
    # 0.40 um of coma moved by 0.25 mm in a pupil of 6 mm gives 0.13 D of defocus and 0.13 D of astigmatism (read in
    # an online course of visual optics)
    change = shifted_coma(0.40, 0.25, 6.0)
    assert (abs(change.M), -change.cylinder) == pytest.approx((0.13, 0.13), abs=0.005)


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(2, 8))
def test_shifts_are_exact_for_the_polynomials_themselves(coefficient, shift, pupil):
    propagate = shifted(coefficient, 4, 0, shift, pupil)
    assert shifted_spherical_aberration(coefficient, shift, pupil) == pytest.approx(
        propagate[zernike.index(3, 1)], abs=1e-12
    )
    propagate, change = shifted(coefficient, 3, 1, shift, pupil), shifted_coma(coefficient, shift, pupil)
    square = pupil**2 / 4.0
    assert change.M == pytest.approx(-4.0 * np.sqrt(3.0) * propagate[4] / square, abs=1e-11)
    assert change.J0 == pytest.approx(-2.0 * np.sqrt(6.0) * propagate[5] / square, abs=1e-11)
    assert propagate[3] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: tilted_thin_lens(20.0, 80.0), "tilt .* 0 to 45 deg"),
        (lambda: prentice("strong", 1.0), "power"),
        (lambda: spectacles_to_cornea(-4.0, 0.012 * 1e3 * 2), "vertex_distance"),
        (lambda: thin_lens_for(2.3), "axial_length .* 17 to 38 mm"),
        (lambda: axial_shift(float("nan"), 23.0), "shift"),
        (lambda: turned_toric(2.0, 400.0), "turn"),
        (lambda: airy_radius(0.0), "pupil"),
        (lambda: airy_radius(3.0, 0.555), "wavelength"),
        (lambda: blur_disc(1.0, 3e-3), "pupil"),
        (lambda: shifted_coma(0.4, 0.25, 60.0), "pupil"),
    ],
)
def test_bad_input_is_answered_with_the_range(call, words):
    with pytest.raises(es.LearnerError, match=words):
        call()


def test_tables_of_optics_agree_with_closed_forms():
    # the worked example and the coma example stand in data/optics.csv as they were read
    acts = tilted_thin_lens(15.0, 10.0)
    assert fact("optics", "tilted_thin_lens_cylinder").value == pytest.approx(-acts.cylinder, abs=0.005)
    assert fact("optics", "tilted_thin_lens_sphere").value == pytest.approx(acts.sphere + acts.cylinder, abs=0.005)
    change = shifted_coma(0.40, 0.25, 6.0)
    assert fact("optics", "shifted_coma_astigmatism").value == pytest.approx(-change.cylinder, abs=0.005)
