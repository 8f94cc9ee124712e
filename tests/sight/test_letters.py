"""Letters, chart and acuity: the proportions of the open standard, and published relations of blur and acuity."""

import base64
import re
import zlib

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt, label

import eyesim as es
from eyesim.draw.letters import letter_chart as chart_picture
from eyesim.draw.letters import png, spread_picture
from eyesim.draw.pupil_view import optic_edge, pupil_picture
from eyesim.sight.acuity import Acuity, acuity, letter_shares, letters_right
from eyesim.sight.eye_chart import SCALE, WIDTH, chart_height, letter_chart, rows
from eyesim.sight.letters import LETTERS, ink, size_names
from eyesim.sight.refract import refract
from eyesim.sight.spectacles import fit_glasses
from eyesim.sight.spread import point_spread, spread_of

EYE, LENS = es.Eye(), es.Lens()
SHARP = EYE.limbal_depth - 5.3


def defocused(M, pupil=3.0, J0=0.0):
    c, r = np.zeros(28), pupil / 2.0
    c[4], c[5] = -M * r * r / np.sqrt(48.0), -J0 * r * r / np.sqrt(24.0)
    return c


def reads(M, pupil=3.0, **more):
    return acuity(spread_of(defocused(M, pupil, **more), pupil)).logmar


def sight(pupil=3.0, z=SHARP, **pose):
    return refract(EYE, LENS, es.Pose(z=z, **pose), pupil=pupil)


@pytest.mark.parametrize("letter", LETTERS)
def test_a_letter_fills_the_square_of_five_strokes(letter):
    # ISO 8596: the whole is five times the stroke
    drawn = ink(letter, 100, 2)
    assert drawn.any(axis=0).all()
    assert drawn.any(axis=1).all()
    corners = np.array([corner for stroke in LETTERS[letter] for corner in stroke])
    assert corners.min() == pytest.approx(0.0, abs=1e-12)
    assert corners.max() == pytest.approx(5.0, abs=1e-12)


@pytest.mark.parametrize("letter", LETTERS)
def test_every_stroke_is_one_unit_wide(letter):
    for stroke in LETTERS[letter]:
        corners = np.array(stroke)
        sides = np.roll(corners, -1, axis=0) - corners
        area = 0.5 * abs(np.sum(np.cross(np.c_[corners, np.zeros(4)], np.c_[np.roll(corners, -1, 0), np.zeros(4)])))
        assert area / np.linalg.norm(sides, axis=1).max() == pytest.approx(1.0, abs=1e-9)
        crossed = [a[0] * b[1] - a[1] * b[0] for a, b in zip(sides, np.roll(sides, -1, axis=0), strict=True)]
        assert min(crossed) > 0.0  # convex, counter-clockwise, as the drawing takes it


@pytest.mark.parametrize("letter", LETTERS)
def test_strokes_meet_without_slits_or_blocks(letter):
    drawn = np.pad(ink(letter, 200, 1) > 0.5, 20)
    assert distance_transform_edt(drawn).max() / 40.0 < 0.75  # units; half a stroke is 0.5
    assert label(~drawn)[1] == (2 if letter == "A" else 1)  # all paper hangs together, but for the eye of A


def test_letters_of_unlike_shape_all_count_alike_for_a_sharp_eye():
    spread = spread_of(np.zeros(28), 3.0)
    right = letter_shares(spread, [acuity(spread).logmar])[0]
    assert right.min() > 0.4
    assert right.max() < 0.8


def test_reference_names_of_rows():
    # ISO 8596 with the preferred numbers of ISO 3; 20/20 is a stroke of one minute of arc
    known = {
        -0.1: ("20/16", "1.25"), 0.0: ("20/20", "1.0"), 0.1: ("20/25", "0.8"), 0.3: ("20/40", "0.5"),
        0.5: ("20/63", "0.32"), 0.7: ("20/100", "0.2"), 0.9: ("20/160", "0.125"), 1.0: ("20/200", "0.1"),
        1.3: ("20/400", "0.05"), 1.8: ("20/1250", "0.016"),
    }  # fmt: skip
    assert {step: size_names(step) for step in known} == known


def test_reference_letters_of_the_chart_have_their_size():
    # ISO 8596: at logMAR 0 a letter is 5 minutes of arc high; ten steps make a decade
    page = 1.0 - letter_chart(scale=0.1)
    for row in rows():
        assert row.height == pytest.approx(5.0 * 10.0**row.logmar)
        near = page[
            round((row.top - 1.5) / 0.1) : round((row.top + row.height + 1.5) / 0.1),
            round((row.left - 1.0) / 0.1) : round((row.left + row.height + 1.0) / 0.1),
        ]
        inked = [np.flatnonzero(near.max(axis=axis) > 0.05) for axis in (1, 0)]
        assert [(i[-1] - i[0] + 1) * 0.1 for i in inked] == pytest.approx([row.height] * 2, abs=0.2)
    assert [round(10 * r.logmar) for r in rows()] == list(range(10, -2, -1))


def test_the_chart_holds_as_much_ink_at_any_scale():
    inked = sum(ink(letter, 200).sum() / 1600.0 * (row.height / 5.0) ** 2 for row in rows() for letter in row.letters)
    for scale in (0.2, SCALE, 0.73):
        page = letter_chart(scale=scale)
        assert np.sum(1.0 - page) * scale * scale == pytest.approx(inked, rel=2e-3)
        assert page.min() >= -1e-9
        assert page.max() <= 1.0 + 1e-9
        assert page.shape == (round(chart_height() / scale), round(WIDTH / scale))


def test_a_perfect_eye_sees_the_chart_as_it_is_drawn_but_for_its_finest_detail():
    sharp, seen = letter_chart(), letter_chart(spread_of(np.zeros(28), 6.0, light=555.0))
    top = rows()[0]
    inside = (round((top.top + top.height / 2.0) / SCALE), round((top.left + top.height / 10.0) / SCALE))
    assert sharp[inside] == pytest.approx(0.0)
    assert seen[inside] < 0.03
    assert np.abs(seen - sharp).mean() < 0.01


@pytest.mark.parametrize("M", [0.0, -1.0, -5.0])
def test_blank_paper_stays_white_and_no_ink_is_lost_or_comes_in_again(M):
    spread = spread_of(defocused(M), 3.0)
    sharp, seen = letter_chart(), letter_chart(spread)
    assert seen.max() <= 1.0
    reach = 2.0 * abs(M) * 3.0 / 2.0 * 1e-3 * 3438.0  # twice the blur's radius [arcmin]
    far = round((rows()[-1].left + 9 * rows()[-1].height + reach + 25.0) / SCALE)
    if far < seen.shape[1] - 5:
        assert seen[-round(20.0 / SCALE) :, far:].min() > 0.995
    if reach < 20.0:  # all that is blurred stays on the page
        assert np.sum(1.0 - seen) == pytest.approx(np.sum(1.0 - sharp), rel=0.01)


def test_what_is_seen_is_the_chart_spread_point_by_point():
    # by convolution in the picture itself, without Fourier
    from scipy.signal import convolve

    zernike = defocused(-0.5)
    zernike[7], zernike[8] = 0.15, 0.1
    spread = spread_of(zernike, 3.0)
    at = np.arange(-60, 61) * SCALE
    kernel = spread.on(at, at[::-1]) * SCALE * SCALE  # upwards is the first row
    expected = convolve(1.0 - letter_chart(), kernel, mode="same")
    assert 1.0 - letter_chart(spread) == pytest.approx(np.clip(expected, 0.0, 1.0), abs=0.01)


def test_a_tilt_of_the_wavefront_moves_the_letters_its_own_way():
    up, left = np.zeros(28), np.zeros(28)
    up[1], left[2] = 1.0, 1.0
    sharp = 1.0 - letter_chart(spread_of(np.zeros(28), 3.0))

    def middle(page):
        down, across = np.indices(page.shape)
        return np.array([np.sum(a * page) / page.sum() for a in (down, across)])

    moved = 4e-3 / 3.0 * 3437.7 / SCALE  # slope 2 um over 1.5 mm, in pixels
    assert middle(1.0 - letter_chart(spread_of(up, 3.0))) - middle(sharp) == pytest.approx([-moved, 0.0], abs=0.1)
    assert middle(1.0 - letter_chart(spread_of(left, 3.0))) - middle(sharp) == pytest.approx([0.0, -moved], abs=0.1)


def test_noise_is_such_that_a_perfect_eye_reads_a_little_better_than_20_20():
    # chosen for teaching: logMAR -0.1 at 3 mm
    assert reads(0.0) == pytest.approx(-0.1, abs=0.02)
    assert acuity(spread_of(np.zeros(28), 3.0)).fraction == "20/16"


@pytest.mark.parametrize("blur", [0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
def test_reference_acuity_and_defocus(blur):
    # Optometry and Vision Science 2015, abstract (PubMed 25955640): smallest angle in proportion to 1 + blur^2
    assert reads(-blur) == pytest.approx(np.log10(1.0 + blur * blur), abs=0.2)
    assert reads(blur) == pytest.approx(np.log10(1.0 + blur * blur), abs=0.2)


def test_reference_smallest_letter_grows_with_pupil_and_defocus():
    # Optometry and Vision Science 1991;68:591, abstract: angle linear in refractive error and in pupil diameter
    cases = ((3.0, -2.0), (3.0, -4.0), (3.0, -6.0), (4.5, -4.0), (6.0, -2.0), (6.0, -4.0))
    factors = np.array([10.0 ** reads(M, pupil) / (pupil * -M) for pupil, M in cases])
    assert factors == pytest.approx(factors.mean(), rel=0.06)
    assert 0.4 < factors.mean() < 1.1  # about 0.65 from memory; the matcher is a little worse than people


def test_reference_short_sight_in_tables():
    # open textbooks, from memory: 1 D about 20/50 to 20/60, 2 D 20/100 to 20/150, 3 D 20/200
    assert 0.35 < reads(-1.0) < 0.55
    assert 0.6 < reads(-2.0) < 0.9
    assert 0.85 < reads(-3.0) < 1.1


def test_more_defocus_is_never_read_better():
    steps = np.arange(0.25, 6.1, 0.25)
    for sign in (-1.0, 1.0):
        read = np.array([reads(sign * M) for M in steps])
        assert np.all(np.diff(read) > -0.01)


def test_cylinder_costs_about_half_of_what_sphere_does():
    # Optometry and Vision Science 2013, abstract (children aged 6 to 14): loss a dioptre about half that for sphere
    sphere = 10.0 ** reads(-2.0) - 10.0 ** reads(0.0)
    cylinder = 10.0 ** reads(-1.0, J0=1.0) - 10.0 ** reads(0.0)
    assert 0.25 < cylinder / sphere < 0.75


def test_larger_letters_are_read_better_by_a_sharp_eye():
    right = letters_right(spread_of(np.zeros(28), 3.0), np.arange(-0.4, 0.6, 0.1))
    assert np.all(np.diff(right) > 0.0)
    assert right[0] < 0.1
    assert right[-1] > 0.999


def test_five_degrees_of_tilt_hardly_matter_and_a_third_of_a_millimetre_of_depth_does():
    flat, tilted, forward = (
        acuity(point_spread(s)).logmar for s in (sight(), sight(tilt=5.0, tilt_meridian=90.0), sight(z=SHARP + 0.3))
    )
    assert 0.0 < tilted - flat < 0.1  # less than a row
    assert 0.15 < forward - flat < 0.4  # two or three rows


def test_light_beside_the_optic_costs_contrast():
    from dataclasses import replace

    spread = spread_of(defocused(-0.25), 3.0)
    veiled = replace(spread, haze=0.3)
    assert acuity(veiled).logmar > acuity(spread).logmar + 0.05
    dark, pale = (1.0 - letter_chart(s) for s in (spread, veiled))
    assert pale.max() == pytest.approx(0.7 * dark.max(), abs=0.05)


def test_acuity_in_words():
    assert repr(Acuity(0.46)) == "Acuity: reads 20/63 (decimal 0.32), logMAR 0.46"
    assert Acuity(0.51).fraction == "20/63"  # a letter short of a row still counts as that row
    assert Acuity(0.0).decimal == "1.0"
    assert Acuity(float("nan")).fraction == "less than 20/2000"
    assert acuity(spread_of(defocused(-40.0, 6.0), 6.0)).row == np.inf


def grey_of(png_bytes):
    """Pixels of a grey PNG without filters, read back by hand."""
    wide, high = (int.from_bytes(png_bytes[k : k + 4], "big") for k in (16, 20))
    body, place = b"", 8
    while place < len(png_bytes):
        size, kind = int.from_bytes(png_bytes[place : place + 4], "big"), png_bytes[place + 4 : place + 8]
        if kind == b"IDAT":
            body += png_bytes[place + 8 : place + 8 + size]
        place += size + 12
    return np.frombuffer(zlib.decompress(body), np.uint8).reshape(high, wide + 1)[:, 1:]


def test_pictures_hold_luminance_on_the_curve_of_a_screen():
    # IEC 61966-2-1: 0.2140 of full luminance is code 0.5
    grey = grey_of(png(np.array([[0.0, 0.2140, 1.0], [0.0021, 0.0, 0.5]])))
    assert grey == pytest.approx(np.array([[0, 127.5, 255], [6.9, 0, 187.5]]), abs=0.6)


def test_the_picture_says_what_is_read_and_shows_the_same():
    seen = sight(z=SHARP + 0.3)
    found = fit_glasses(seen)
    picture = chart_picture(seen, label="Case B")
    assert repr(picture) == (
        f"Case B. Without glasses this eye reads the line {found.read.fraction} (decimal {found.read.decimal}); with "
        f"-0.75 D it reads the line {found.best.fraction} (decimal {found.best.decimal}): glasses correct it."
    )
    images = [grey_of(base64.b64decode(d)) for d in re.findall(r"base64,([^\"]+)", picture.svg)]
    assert len(images) == 2
    assert images[0].shape == letter_chart().shape
    assert images[0].min() > images[1].min() + 10  # paler without glasses
    assert (images[0][:5] == 255).all()
    for row in rows():
        assert f">{size_names(row.logmar)[0]}<" in picture.svg
    assert "for planning care" in picture.svg


def test_what_glasses_cannot_mend_is_named():
    off = repr(chart_picture(sight(x=2.0, tilt=15.0, tilt_meridian=0.0)))
    assert "glasses help, but not all the way; coma" in off
    assert "of the light beside the optic remain." in off
    wide = repr(chart_picture(sight(6.0)))
    assert "spherical aberration" in wide
    assert "through so narrow a pupil no eye sees finer" in repr(chart_picture(sight(0.8)))
    assert "it needs none" in repr(chart_picture(sight(2.0, z=SHARP - 0.15)))


def test_a_star_is_shown_before_and_after():
    picture = spread_picture(sight(z=SHARP + 0.3))
    found = fit_glasses(sight(z=SHARP + 0.3))
    assert f"without glasses half of the light lies within {found.before.radius:.1f} arcmin" in repr(picture)
    assert f"within {found.after.radius:.1f} arcmin." in repr(picture)
    assert "arcmin</text>" in picture.svg


def test_the_pupil_is_shown_with_what_passes_beside():
    off = sight(5.0, x=1.8)
    picture = pupil_picture(off)
    assert f"{100 * off.missed_light:.0f} % of the light passes beside the optic" in repr(picture)
    assert 'data-part="beside"' in picture.svg
    whole = pupil_picture(sight())
    assert "all of the light passes the optic" in repr(whole)
    assert 'data-part="beside"' not in whole.svg


def test_the_optics_edge_bounds_the_light_that_passes():
    off = sight(5.0, x=1.8)
    edge = optic_edge(off, 360)
    inside = np.minimum(edge, 1.0)
    assert 1.0 - np.mean(inside**2) == pytest.approx(off.missed_light, abs=0.005)
    turned = optic_edge(sight(5.0, y=1.8), 360)
    assert np.argmin(edge) == pytest.approx(180, abs=5)
    assert np.argmin(turned) == pytest.approx(270, abs=5)
    assert turned.min() == pytest.approx(edge.min(), abs=0.002)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: letter_chart("blurred"), "PointSpread"),
        (lambda: letter_chart(scale=50.0), "0.1 to 2"),
        (lambda: ink("Q", 5), "'Q'"),
        (lambda: chart_picture("an eye"), "Sight"),
        (lambda: spread_picture(None), "Sight"),
        (lambda: pupil_picture(3), "Sight"),
    ],
)
def test_bad_input_is_answered_in_words(call, said):
    with pytest.raises(es.LearnerError, match=said):
        call()
