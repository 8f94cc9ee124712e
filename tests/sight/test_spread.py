"""How a point is spread: against closed forms of waves and rays, and against rays traced through a whole eye."""

import numpy as np
import pytest
from scipy.special import j0, j1

import eyesim as es
from eyesim.sight.acuity import acuity
from eyesim.sight.pupil import ARCMIN, chromatic, spots, wavefront_on
from eyesim.sight.refract import refract
from eyesim.sight.refraction import Refraction
from eyesim.sight.spectacles import (
    best_power,
    best_spectacles,
    contrast_sensitivity,
    fit_glasses,
    image_quality,
    round_glasses,
)
from eyesim.sight.spread import SENSITIVITY, WAVELENGTHS, point_spread, spread_of

EYE, LENS = es.Eye(), es.Lens()
SHARP = EYE.limbal_depth - 5.3


def defocused(M, pupil, J0=0.0, J45=0.0):
    """Coefficients of an eye that needs this power vector; definitions of ANSI Z80.28."""
    c, r = np.zeros(28), pupil / 2.0
    c[4], c[5], c[3] = -M * r * r / np.sqrt(48.0), -J0 * r * r / np.sqrt(24.0), -J45 * r * r / np.sqrt(24.0)
    return c


def sight(pupil=3.0, z=SHARP, **pose):
    return refract(EYE, LENS, es.Pose(z=z, **pose), pupil=pupil)


PERFECT = np.zeros(28)


@pytest.mark.parametrize("pupil", [2.0, 3.0, 6.0])
def test_reference_first_dark_ring_of_the_airy_pattern(pupil):
    # Introduction to Fourier Optics, 3rd ed., Roberts 2005, section 4.4.2: 1.22 wavelengths over the diameter
    spread = spread_of(PERFECT, pupil, light=555.0)
    dark = 1.2197 * 555e-6 / pupil / ARCMIN
    across = np.linspace(0.0, 2.0 * dark, 401)
    light = spread.on(across, [0.0])[0]
    x = np.pi * pupil * across[1:] * ARCMIN / 555e-6
    assert light[1:] / light[0] == pytest.approx((2.0 * j1(x) / x) ** 2, abs=3e-3)
    lowest = across[np.argmin(light[:280])]
    assert lowest == pytest.approx(dark, rel=0.01)


def test_reference_light_within_the_first_dark_ring():
    # Principles of Optics, 7th ed., Cambridge 1999, section 8.5.2: 1 - J0^2 - J1^2, 83.8 per cent
    spread = spread_of(PERFECT, 3.0, light=555.0)
    dark = 1.2197 * 555e-6 / 3.0 / ARCMIN
    at = (np.arange(200) - 99.5) * (dark / 100.0)
    inside = np.hypot(at, at[:, None]) <= dark
    share = spread.on(at, at)[inside].sum() * (dark / 100.0) ** 2
    x = np.pi * 1.2197
    assert 1.0 - j0(x) ** 2 - j1(x) ** 2 == pytest.approx(0.838, abs=5e-4)
    assert share == pytest.approx(0.838, abs=5e-3)


@pytest.mark.parametrize("direction", [0.0, 30.0, 90.0])
@pytest.mark.parametrize(("pupil", "wavelength"), [(3.0, 555.0), (6.0, 500.0)])
def test_reference_contrast_of_a_perfect_eye(pupil, wavelength, direction):
    # Introduction to Fourier Optics, 3rd ed., Roberts 2005, equation 6-31; chromatic defocus taken off by glasses
    worn = Refraction(float(chromatic(wavelength)))
    spread = spread_of(PERFECT, pupil, worn, light=wavelength)
    frequency = np.linspace(0.0, 110.0 * pupil / 3.0, 45)
    q = np.clip(frequency * wavelength * 1e-6 / pupil * 180.0 / np.pi, 0.0, 1.0)
    assert spread.mtf(frequency, direction) == pytest.approx(
        2.0 / np.pi * (np.arccos(q) - q * np.sqrt(1.0 - q * q)), abs=3e-3
    )


def test_reference_chromatic_defocus_of_the_eye():
    # Applied Optics 1992;31:3594, DOI 10.1364/AO.31.003594: some 2 D from 400 to 700 nm, focused at 589 with 1.68524
    assert chromatic(700.0) - chromatic(400.0) == pytest.approx(2.1, abs=0.1)
    wavelength = np.array([400.0, 480.0, 589.0, 700.0])
    needed = 1.68524 - 633.46 / (np.append(wavelength, 555.0) - 214.102)
    assert chromatic(wavelength) == pytest.approx(needed[:-1] - needed[-1], abs=1e-3)
    assert chromatic(480.0) < -0.4
    white = SENSITIVITY / SENSITIVITY.sum()
    assert white @ chromatic(WAVELENGTHS) == pytest.approx(0.0, abs=0.06)  # 555 nm stands well for the whole


@pytest.mark.parametrize("method", ["diffraction", "geometric"])
@pytest.mark.parametrize("light", ["white", 520.0])
def test_no_light_is_lost(method, light):
    # Parseval: the light over all angles is the light through the pupil
    zernike = defocused(-1.0, 3.0)
    zernike[7] = 0.2
    spread = spread_of(zernike, 3.0, light=light, method=method)
    assert spread.psf.sum() == pytest.approx(1.0, abs=1e-6)
    assert spread.psf.min() >= 0.0
    assert spread.otf([0.0], [0.0])[0, 0] == pytest.approx(1.0, abs=1e-5)
    assert np.abs(spread.otf(np.linspace(1.0, 40.0, 9), [0.0, 7.0])).max() < 1.0


@pytest.mark.parametrize(("pupil", "defocus"), [(3.0, 5.0), (3.0, -8.0), (6.0, 3.0)])
def test_reference_blur_disc_of_a_defocused_eye(pupil, defocus):
    # geometry: angular diameter is pupil times defocus; even light, so half of it lies within 1/sqrt 2 of the radius
    spread = spread_of(defocused(defocus, pupil), pupil, light=555.0)
    assert spread.method == "geometric"
    radius = abs(defocus) * pupil / 2.0 * 1e-3 / ARCMIN
    assert spread.radius == pytest.approx(radius / np.sqrt(2.0), rel=0.01)
    lit = spread.angles[spread.psf.sum(axis=0) > 1e-6]
    assert lit.max() - lit.min() == pytest.approx(2.0 * radius, abs=2.5 * spread.pitch)


@pytest.mark.parametrize(
    "zernike",
    [defocused(-2.0, 3.0), defocused(0.5, 3.0, 1.0), defocused(-1.5, 3.0) + 0.1 * np.eye(28)[7]],
    ids=["defocus", "astigmatism", "with coma"],
)
def test_waves_and_rays_agree_where_both_serve(zernike):
    waves, rays = (spread_of(zernike, 3.0, method=m) for m in ("diffraction", "geometric"))
    frequency = np.linspace(0.5, 6.0, 12)
    for direction in (0.0, 45.0, 90.0):
        assert waves.mtf(frequency, direction) == pytest.approx(rays.mtf(frequency, direction), abs=0.05)
    assert waves.radius == pytest.approx(rays.radius, rel=0.05)


def test_the_method_is_chosen_by_how_steep_the_wavefront_is():
    assert spread_of(defocused(-1.0, 3.0), 3.0).method == "diffraction"
    steep = spread_of(defocused(-6.0, 3.0), 3.0)
    assert steep.method == "geometric"
    assert "too steep" in steep.why
    assert spread_of(defocused(-4.0, 3.0), 3.0, method="diffraction").method == "diffraction"
    with pytest.raises(es.LearnerError, match="too steep"):
        spread_of(defocused(-30.0, 6.0), 6.0, method="diffraction")


def test_finer_sampling_of_the_pupil_comes_closer_to_the_contrast_of_a_perfect_eye():
    from eyesim.sight.pupil import diffract
    from eyesim.sight.spread import PointSpread

    frequency = np.linspace(5.0, 90.0, 18)
    q = frequency * 555e-6 / 3.0 * 180.0 / np.pi
    perfect = 2.0 / np.pi * (np.arccos(q) - q * np.sqrt(1.0 - q * q))
    errors = []
    for cells in (32, 64, 128):
        psf, pitch = diffract(*wavefront_on(cells, PERFECT, 3.0), 3.0, np.array([555.0]), np.ones(1))
        spread = PointSpread(psf, pitch, (0.0, 0.0), 0.0, "diffraction", "", 555.0, 3.0)
        errors.append(np.abs(spread.mtf(frequency) - perfect).max())
    assert errors[2] < 0.6 * errors[0]
    assert errors[1] < errors[0]


def test_what_is_seen_lies_where_traced_rays_say():
    # a ray that meets the retina below the chief ray is seen above it, and so on: object space is upside down
    seen = sight(4.0, z=SHARP + 1.0, x=0.8, y=0.5, tilt=12.0, tilt_meridian=70.0)
    at = np.linspace(-0.95, 0.95, 21)
    x, y = (a[np.hypot(*np.meshgrid(at, at)) < 1.0] for a in np.meshgrid(at, at))
    rays = seen.rays(x, y)
    middle = seen.rays(0.0, 0.0).retina
    nodal = 17.0  # [mm] from the nodal point to the retina, of a common eye
    off = (rays.retina - middle) / nodal / ARCMIN
    u, v = off[:, 0], -off[:, 1]  # patient's right is -x; the picture is turned over both ways
    spread = spread_of(seen.zernike, 4.0, light=555.0, method="geometric")
    mean_u = spread.psf.sum(axis=0) @ spread.angles + spread.offset[0]
    mean_v = spread.psf.sum(axis=1) @ spread.angles + spread.offset[1]
    assert [mean_u, mean_v] == pytest.approx([u.mean(), v.mean()], abs=0.35)
    assert np.hypot(mean_u, mean_v) > 1.0  # coma: the middle of the light is off the chief ray
    for k, values in ((0, u), (1, v)):
        along = spread.psf.sum(axis=k)
        centre = along @ spread.angles
        spread_out = np.sqrt(along @ (spread.angles - centre) ** 2)
        assert spread_out == pytest.approx(values.std(), rel=0.08)
        lean = along @ (spread.angles - centre) ** 3 / spread_out**3
        skew = np.mean((values - values.mean()) ** 3) / values.std() ** 3
        assert np.sign(lean) == np.sign(skew)


def test_a_tilt_of_the_wavefront_moves_the_seen_point_its_own_way():
    up, right = np.zeros(28), np.zeros(28)
    up[1], right[2] = 1.0, 1.0  # W = 2 y and 2 x over a pupil of 2 mm: slopes of 2 um/mm
    slope = 2e-3 / ARCMIN
    assert spread_of(up, 2.0).offset == pytest.approx((0.0, slope))
    assert spread_of(right, 2.0).offset == pytest.approx((-slope, 0.0))  # the observer's right is the patient's left
    phase = np.angle(spread_of(up, 2.0).otf([0.0], [1.0])[0, 0])
    assert phase == pytest.approx(-2.0 * np.pi * slope / 60.0, abs=1e-3)


def test_cylinder_axis_180_blurs_along_the_vertical():
    # needs minus power in the vertical meridian: light spreads up and down, and level stripes go first
    spread = spread_of(defocused(0.0, 3.0, J0=0.75) + defocused(-0.75, 3.0), 3.0)
    assert spread.mtf([10.0], 90.0)[0] < 0.1 < spread.mtf([10.0], 0.0)[0]


@pytest.mark.parametrize("method", ["diffraction", "geometric"])
def test_mirrored_eyes_see_mirrored(method):
    one = point_spread(sight(3.0, x=0.7, y=0.3, tilt=8.0, tilt_meridian=25.0), method=method)
    two = point_spread(sight(3.0, x=-0.7, y=0.3, tilt=8.0, tilt_meridian=155.0), method=method)
    u, v = np.linspace(-6.0, 6.0, 25), np.linspace(-5.0, 7.0, 25)
    light = one.on(u, v)
    assert two.on(-u, v) == pytest.approx(light, abs=0.01 * light.max())
    assert np.abs(one.on(-u, v) - light).max() > 0.05 * light.max()


def test_glasses_take_away_what_they_are_made_for():
    bare = defocused(-2.0, 3.0, 0.6, -0.3)
    worn = spread_of(bare, 3.0, Refraction(-2.0, 0.6, -0.3))
    assert worn.psf == pytest.approx(spread_of(PERFECT, 3.0).psf, abs=1e-5)


@pytest.mark.parametrize("vector", [(-2.0, 0.0, 0.0), (1.5, 0.5, 0.0), (-3.25, 0.4, 0.9), (0.0, -0.2, 0.3)])
def test_best_glasses_find_pure_sphere_and_cylinder(vector):
    power, keeps = best_power(defocused(vector[0], 3.0, *vector[1:]), 3.0, [np.array(vector)] * 2)
    assert power == pytest.approx(vector)
    assert keeps(np.array([vector]))[0] == pytest.approx(1.0, abs=0.01)
    made = round_glasses(power, 15.0, keeps)
    assert made.sphere * 4 == pytest.approx(round(made.sphere * 4))
    assert made.cylinder * 4 == pytest.approx(round(made.cylinder * 4))
    left = Refraction(*vector).less(made.at_spectacles(-15.0))
    assert left.blur < 0.25


def test_best_glasses_climb_from_a_poor_start():
    power, _ = best_power(defocused(-1.0, 3.0), 3.0, [np.array([-0.25, 0.3, 0.2])] * 2)
    assert power == pytest.approx([-1.0, 0.0, 0.0], abs=0.13)


def test_best_glasses_of_a_traced_eye_undo_its_cornea():
    toric = refract(EYE.but(corneal_cylinder=1.5, corneal_steep_meridian=90.0), LENS, es.Pose(z=SHARP))
    glasses = best_spectacles(toric, vertex_distance=0.0)
    assert glasses.cylinder == pytest.approx(-1.5, abs=0.26)
    assert min(glasses.axis, 180.0 - glasses.axis) < 4.0


@pytest.mark.parametrize("seed", range(8))
def test_no_other_glasses_nearby_read_clearly_better(seed):
    rng = np.random.default_rng(seed)
    x, y, dz = rng.normal(0.0, 0.7, 3)
    pose = {"x": x, "y": y, "tilt": abs(rng.normal(0.0, 8.0)), "tilt_meridian": rng.uniform(0.0, 360.0)}
    eye = sight(rng.choice([2.5, 3.0, 5.0]), z=SHARP + dz, **pose)
    found = fit_glasses(eye)
    assert found.best.logmar <= found.read.logmar
    made = found.glasses
    steps = np.array([-0.5, -0.25, 0.0, 0.25, 0.5])
    others = [(float(made.sphere + a), float(made.cylinder + b)) for a in steps for b in steps]
    tried = [Refraction.of(s, c, float(made.axis)) for s, c in others if c <= 0.0]
    read = [acuity(point_spread(eye, spectacles=one)).logmar for one in tried]
    assert found.best.logmar <= min(read) + 0.05  # half a row: the last hundredths are not worth a quarter dioptre


def test_glasses_are_judged_as_a_point_spread_says():
    # the same measure from the point spread itself, by a sum over directions
    zernike = defocused(-0.5, 3.0)
    zernike[12] = 0.1
    keeps = image_quality(zernike, 3.0, None)
    frequency = np.arange(0.25, 95.0, 0.5)
    weight = frequency * contrast_sensitivity(frequency)
    worn, perfect = spread_of(zernike, 3.0, light=555.0), spread_of(PERFECT, 3.0, light=555.0)
    kept = [
        sum(weight @ s.mtf(frequency, direction) for direction in np.arange(0.0, 180.0, 15.0)) for s in (worn, perfect)
    ]
    assert keeps(np.zeros((1, 3)))[0] == pytest.approx(kept[0] / kept[1], abs=0.01)


def test_light_beside_the_optic_lowers_contrast_by_its_share():
    off = sight(5.0, x=1.8)
    assert off.missed_light > 0.1
    spread = point_spread(off)
    assert spread.haze == pytest.approx(off.missed_light)
    low = spread.mtf([0.0, 0.02])
    assert low == pytest.approx([1.0, 1.0 - off.missed_light], abs=0.01)
    assert point_spread(off).psf.sum() == pytest.approx(1.0)


def test_only_light_through_the_optic_makes_the_image():
    wavefront, amplitude = wavefront_on(64, PERFECT, 3.0, traced=lambda x, y: (0.0 * x, x > 0.0))
    assert amplitude[:, :32].sum() > 1000.0  # the observer's right half, seen from behind, is on the left
    assert amplitude[:, 32:].sum() == 0.0
    psf, _ = spots(wavefront, amplitude, 3.0, np.array([555.0]), np.ones(1))
    assert psf.sum() == pytest.approx(1.0)
    with pytest.raises(es.LearnerError, match="No light"):
        spread_of(PERFECT, 3.0, traced=lambda x, y: (0.0 * x, x > 5.0))


def test_light_beside_the_optic_is_spread_wider_than_the_largest_letter():
    # what the docstring says of haze: without the lens the default eye is far-sighted by some 15 D at the cornea
    weak = refract(EYE, LENS.with_power(5.0), es.Pose(z=SHARP))
    strong = refract(EYE, LENS, es.Pose(z=SHARP))
    aphakic = (weak.M - strong.M) * 21.0 / 16.0
    assert 12.0 < aphakic < 18.0
    assert aphakic * 1e-3 / ARCMIN == pytest.approx(50.0, abs=8.0)  # 1 mm of pupil


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: spread_of(np.zeros(10), 3.0), "28 finite"),
        (lambda: spread_of(np.full(28, np.nan), 3.0), "28 finite"),
        (lambda: spread_of(PERFECT, 3.0, light="blue"), "'white'"),
        (lambda: spread_of(PERFECT, 3.0, light=50.0), "400 to 800"),
        (lambda: spread_of(PERFECT, 3.0, method="guess"), "'diffraction'"),
        (lambda: point_spread(sight(), spectacles=-1.0), "one Refraction"),
        (lambda: point_spread(sight(), spectacles=Refraction(-1.0), vertex_distance=99.0), "vertex_distance"),
        (lambda: point_spread(refract(EYE, LENS, es.Pose(z=SHARP, tilt=np.zeros(3)))), "one eye at a time"),
        (lambda: best_spectacles(refract(EYE, LENS, es.Pose(z=SHARP, x=5.0), on_failure="flag")), "no image"),
    ],
)
def test_bad_input_is_answered_in_words(call, said):
    with pytest.raises(es.LearnerError, match=said):
        call()
