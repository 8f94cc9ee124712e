"""A practice eye in a photograph: fits against printed ones, geometry against known poses, files that are none."""

from __future__ import annotations

import dataclasses
import io
import math

import demo_photographs
import numpy as np
import pytest
from demo_photographs import PracticeEye, clicked, ruler_points, true_points, true_side
from page import Page, layout, shown
from PIL import Image

import eyesim as es
from eyesim import LearnerError
from eyesim.__main__ import main
from eyesim.eye.sources import data_folder
from eyesim.page.measurement import measure_files, measurement_words
from eyesim.panel.photo import KINDS, photo_panel
from eyesim.photo import ellipse, photograph
from eyesim.photo.camera import Known
from eyesim.photo.ellipse import distances, fit_ellipse
from eyesim.photo.front import measure_front, meridian_words
from eyesim.photo.photograph import decode_photograph, read_photograph
from eyesim.photo.points import make_points, parse_points, points_bytes, read_points
from eyesim.photo.side import measure_side
from eyesim.photo.uncertainty import angle_interval

DEMO = data_folder() / "demo"
WIDTH = Known(white_to_white=11.8)
SQUARE = PracticeEye(obliquity=0.0)


def ellipse_points(n, a, b, angle=0.0, centre=(0.0, 0.0), span=2.0 * np.pi):
    t = np.linspace(0.0, span, n, endpoint=False)
    c, s = np.cos(angle), np.sin(angle)
    return np.column_stack([a * np.cos(t), b * np.sin(t)]) @ [[c, s], [-s, c]] + centre


def held(estimate, truth, turn=None):
    """Whether an interval holds the truth; of an angle, `turn` after which it is the same."""
    if turn:
        truth = estimate.value + (truth - estimate.value + turn / 2.0) % turn - turn / 2.0
    return estimate.low - 1e-9 <= truth <= estimate.high + 1e-9


# --- the fit ----------------------------------------------------------------------------------------------------


def test_the_nearest_ellipse_is_the_one_that_is_printed():
    points = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7), (6, 2), (8, 4)], float)
    found = ellipse._nearest(points, np.array([*points.mean(axis=0), 3.0, 0.0, 3.0]))
    centre, shape = found[:2], ellipse._matrix(found)
    short, long = np.linalg.eigvalsh(shape)
    # Gander, Golub and Strebel, BIT 1994;34:558-578, as printed in a public fitting library's example file
    assert [*centre, long, short] == pytest.approx([2.6996, 3.8160, 6.5187, 3.0319], abs=5e-5)
    axis = np.linalg.eigh(shape)[1][:, 1]
    assert math.atan2(axis[1], axis[0]) % np.pi == pytest.approx(0.3596, abs=5e-5)
    # residual norm 1.1719: that paper, from memory; computed again outside the project
    assert np.linalg.norm(distances(points, centre, shape)[0]) == pytest.approx(1.1719, abs=5e-5)


def direct_fit(points):
    """Coefficients of the conic x^2, xy, y^2, x, y, 1 that fits points best among ellipses, without any iteration.

    Halir and Flusser, Numerically stable direct least squares fitting of ellipses, WSCG 1998.
    """
    (x, y), one = points.T, np.ones(len(points))
    square, line = np.column_stack([x * x, x * y, y * y]), np.column_stack([x, y, one])
    rest = -np.linalg.solve(line.T @ line, line.T @ square)
    reduced = (square.T @ square + square.T @ line @ rest)[[2, 1, 0]] / np.array([[2.0], [-1.0], [2.0]])
    vectors = np.real(np.linalg.eig(reduced)[1])
    a = vectors[:, np.argmax(4.0 * vectors[0] * vectors[2] - vectors[1] ** 2)]
    return np.concatenate([a, rest @ a])


def centre_and_shape(conic):
    """Centre's two numbers, and P's first, mixed and second, of an ellipse given by the coefficients of its conic."""
    a, b, c, d, e, f = conic
    form = np.array([[a, b / 2.0], [b / 2.0, c]])
    centre = -np.linalg.solve(form, [d, e]) / 2.0
    values, axes = np.linalg.eigh(form / (centre @ form @ centre - f))
    shape = (axes / np.sqrt(values)) @ axes.T
    return np.array([*centre, shape[0, 0], shape[0, 1], shape[1, 1]])


@pytest.mark.slow
def test_the_fit_reaches_the_minimum_from_its_circle():
    rng, fitted = np.random.default_rng(12), 0
    for _ in range(150):  # flat ones, partial arcs, and points far off among them
        size, flat, turn = rng.uniform(60.0, 900.0), rng.uniform(0.36, 1.0), rng.uniform(0.0, np.pi)
        t = rng.uniform(0.0, 2.0 * np.pi) + np.sort(rng.uniform(0.0, np.radians(rng.uniform(190.0, 360.0)), 14))
        true = np.column_stack([size * np.cos(t), size * flat * np.sin(t)])
        true = true @ [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]] + rng.uniform(-2e3, 2e3, 2)
        points = true + rng.normal(0.0, rng.choice([0.1, 1.5, 0.03 * size]), true.shape)
        try:
            found = fit_ellipse(points)
        except LearnerError:  # too short an arc, too flat or too rough, which the tests below are about
            continue
        fitted += 1
        middle, scale = points.mean(axis=0), size
        start = centre_and_shape(direct_fit((points - middle) / scale))
        others = [start, start + rng.normal(0.0, 0.1, 5), start * [1.0, 1.0, 1.3, 0.5, 0.8]]
        for other in others:
            best = ellipse._nearest((points - middle) / scale, other)
            assert middle + scale * best[:2] == pytest.approx(found.centre, abs=1e-4)  # [px]
            assert scale * ellipse._matrix(best) == pytest.approx(found.shape, abs=1e-4)
    assert fitted > 90


def test_a_distance_to_an_ellipse_is_the_one_that_is_printed():
    # scikit-image, tests of measure.EllipseModel: (0, 10) lies 5 from the ellipse about (0, 0) with half-axes 10 and 5
    assert distances(np.array([[0.0, 10.0]]), np.zeros(2), np.diag([10.0, 5.0]))[0] == pytest.approx([5.0])


def test_distances_agree_with_another_library_s():
    from skimage.measure import EllipseModel

    rng, shape = np.random.default_rng(3), np.array([[8.0, 1.5], [1.5, 5.0]])
    points = rng.uniform(-12.0, 12.0, (60, 2))
    short, long = np.linalg.eigvalsh(shape)
    axis = np.linalg.eigh(shape)[1][:, 1]
    other = EllipseModel((0.5, -0.3), (long, short), math.atan2(axis[1], axis[0]))
    mine = np.abs(distances(points, np.array([0.5, -0.3]), shape)[0])
    assert mine == pytest.approx(other.residuals(points), abs=1e-3)  # theirs is a search


def test_slopes_of_distances_are_those_of_small_steps():
    points = np.random.default_rng(4).uniform(-9.0, 9.0, (20, 2))
    found = np.array([0.3, -0.2, 7.0, 1.0, 5.0])

    def off(p):
        return distances(points, p[:2], ellipse._matrix(p))[0]

    slopes = distances(points, found[:2], ellipse._matrix(found))[1]
    for i, step in enumerate(1e-6 * np.eye(5)):
        assert slopes[:, i] == pytest.approx((off(found + step) - off(found - step)) / 2e-6, abs=1e-6)


@pytest.mark.parametrize("ratio", [1.0, 0.9, 0.7])
@pytest.mark.parametrize("place", [(0.0, 0.0), (4000.0, -3000.0)])
def test_points_without_error_give_the_ellipse_back(ratio, place):
    found = fit_ellipse(ellipse_points(11, 300.0, 300.0 * ratio, 0.6, place))
    assert found.centre == pytest.approx(place, abs=1e-5)
    assert found.half_axes == pytest.approx((300.0, 300.0 * ratio), abs=1e-5)
    assert ratio == 1.0 or found.angle == pytest.approx(0.6, abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("span", [360.0, 220.0])
def test_the_fit_is_not_drawn_towards_smaller_ellipses_as_the_algebraic_one_is(span):
    rng, sizes = np.random.default_rng(5), []
    true = ellipse_points(14, 250.0, 240.0, 0.3, span=np.radians(span))
    for _ in range(200):
        found = fit_ellipse(true + rng.normal(0.0, 1.5, true.shape))
        sizes.append(np.mean(found.half_axes))
    error = np.std(sizes) / math.sqrt(len(sizes))
    assert abs(np.mean(sizes) - 245.0) < 4.0 * error + 0.1  # [px]


@pytest.mark.slow
def test_centre_and_axes_lie_in_their_95_percent_intervals_in_95_percent_of_cases():
    rng, hits, n = np.random.default_rng(6), np.zeros(5), 300
    for _ in range(n):
        ratio, angle, points = rng.uniform(0.8, 1.0), rng.uniform(0.0, np.pi), int(rng.integers(9, 15))
        true = ellipse_points(points, 240.0, 240.0 * ratio, angle)
        found = fit_ellipse(true + rng.normal(0.0, 2.0, true.shape), floor=0.1)
        t = 240.0 * np.array([1.0, ratio])
        axes = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        shape = (axes * t) @ axes.T
        from scipy.special import stdtrit

        half = stdtrit(found.freedom, 0.975) * np.sqrt(np.diag(found.covariance))
        miss = [*found.centre, *(found.shape - shape)[[0, 0, 1], [0, 1, 1]]]
        hits += np.abs(miss) <= half
    assert np.all(np.abs(hits / n - 0.95) < 4.0 * math.sqrt(0.95 * 0.05 / n)), hits / n


def test_the_spread_of_points_is_never_below_the_floor():
    points = ellipse_points(12, 200.0, 190.0)
    assert fit_ellipse(points).spread == ellipse.CLICK
    assert fit_ellipse(points, floor=0.3).spread == 0.3


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (ellipse_points(5, 9.0, 8.0), "at least 6"),
        (np.repeat(ellipse_points(3, 90.0, 80.0), 4, axis=0), "3 different points"),
        (ellipse_points(12, 200.0, 190.0, span=1.5), "too short an arc"),
        (ellipse_points(12, 200.0, 190.0, span=3.0), "too short an arc"),
        (np.column_stack([np.arange(9.0), 2.0 * np.arange(9.0)]), "no ellipse|too short|as wide as long"),
        (np.random.default_rng(1).uniform(0.0, 500.0, (14, 2)), "no ellipse|too short|as wide as long"),
        (ellipse_points(12, 200.0, 40.0), "as wide as long"),
        (np.full((8, 2), np.nan), "no place"),
        (np.full((8, 2), 1e9), "no place"),
        ("limbus", "pairs"),
        ([1, 2, 3], "pairs"),
        (np.zeros((0, 2)), "pairs"),
    ],
)
def test_what_is_no_edge_is_said_so(points, words):
    with pytest.raises(LearnerError, match=words):
        fit_ellipse(points, "the limbus")


@pytest.mark.slow
def test_any_points_are_answered_in_words_and_no_number_is_missing():
    rng = np.random.default_rng(9)
    for _ in range(80):
        n = int(rng.integers(0, 12))
        points = rng.normal(0.0, rng.choice([1e-9, 1.0, 1e5]), (n, 2)) + rng.choice([0.0, 1e5])
        points[: n // 2] = np.round(points[: n // 2])
        try:
            found = fit_ellipse(points)
        except LearnerError:
            continue
        assert np.all(np.isfinite(found.covariance))
        assert np.all(np.isfinite(found.half_axes))


@pytest.mark.slow
def test_the_point_that_was_misplaced_is_named_in_nineteen_of_twenty_refusals():
    rng, right, refused = np.random.default_rng(5), 0, 0
    for _ in range(120):
        n = int(rng.integers(9, 14))
        points = ellipse_points(n, 245.0, 240.0, rng.uniform(0, 3)) + rng.normal(0.0, 1.5, (n, 2))
        wrong = int(rng.integers(n))
        points[wrong] += rng.uniform(60.0, 140.0) * np.array([np.cos(angle := rng.uniform(0, 6.28)), np.sin(angle)])
        try:
            fit_ellipse(points, "the limbus")
        except LearnerError as error:
            if "fits least" in str(error):
                refused += 1
                right += f"Point {wrong + 1} fits least" in str(error)
    assert refused > 50
    assert right >= 0.95 * refused


def test_a_point_that_was_misplaced_is_named():
    places = true_points(SQUARE, 14)
    places["limbus"][4] += 11.0
    assert "Point 5 of the limbus lies" in repr(measure_front(places, WIDTH))


# --- from in front ----------------------------------------------------------------------------------------------


def test_meridians_run_counter_clockwise_from_the_observer_s_right_though_pixels_go_down():
    for angle, (right, down) in {0: (1, 0), 90: (0, -1), 180: (-1, 0), 270: (0, 1)}.items():
        limbus = ellipse_points(12, 240.0, 240.0, centre=(400.0, 300.0))
        optic = ellipse_points(12, 120.0, 120.0, centre=(400.0 + 20.0 * right, 300.0 + 20.0 * down))
        mark = [(400.0 + 280.0 * right, 300.0 + 280.0 * down)]
        found = measure_front({"limbus": limbus, "optic": optic, "mark1": mark}, WIDTH)
        assert math.cos(math.radians(found.meridian.value - angle)) == pytest.approx(1.0, abs=1e-6)
        assert math.cos(math.radians(found.marks[0].meridian.value - angle)) == pytest.approx(1.0, abs=1e-6)
        assert found.x.value == pytest.approx(right * 20.0 * 11.8 / 480.0, abs=1e-3)
        assert found.y.value == pytest.approx(-down * 20.0 * 11.8 / 480.0, abs=1e-3)


@pytest.mark.parametrize("towards", [0.0, 75.0, 200.0, 310.0])
@pytest.mark.parametrize("oblique", [6.0, 20.0, 35.0])
def test_points_without_error_give_the_pose_back(towards, oblique):
    eye = PracticeEye(obliquity=oblique, camera_meridian=towards, x=-0.3, y=0.7)
    found = measure_front(true_points(eye), WIDTH.but(camera_from=towards + 30.0, depth=eye.depth, click=0.05))
    assert found.x.value == pytest.approx(-0.3, abs=1e-3)
    assert found.y.value == pytest.approx(0.7, abs=1e-3)
    assert found.obliquity.value == pytest.approx(oblique, abs=1e-2)
    assert math.cos(math.radians(found.camera_meridian.value - towards)) == pytest.approx(1.0, abs=1e-5)
    assert found.optic_diameter.value == pytest.approx(6.0, abs=1e-3)
    for mark, (meridian, distance) in zip(found.marks, eye.marks, strict=True):
        assert mark.meridian.value == pytest.approx(meridian, abs=0.05)
        assert mark.limbus_distance.value == pytest.approx(distance, abs=0.01)
    for line, (meridian, _, angle, _) in zip(found.lines, eye.lines, strict=True):
        assert line.meridian.value == pytest.approx(meridian, abs=0.05)
        assert line.limbus_angle.value == pytest.approx(angle, abs=0.1)
        assert line.clockwise
    assert found.apart.value == pytest.approx(176.0, abs=0.05)


def test_a_line_is_what_the_needle_of_a_fixation_is_from_in_front():
    from eyesim.hold.needle import needle_direction

    start = es.Eye().wall_point(30.0, 2.0)
    for clockwise, angle in ((True, 20.0), (False, 35.0), (True, -10.0)):
        way = needle_direction(30.0, angle, 5.0, clockwise)
        eye = PracticeEye(obliquity=0.0, marks=(), lines=())
        places = true_points(eye) | {"line1": eye.seen([start, start + 2.0 * way])}
        line = measure_front(places, WIDTH).lines[0]
        assert line.clockwise is clockwise
        assert line.limbus_angle.value == pytest.approx(angle, abs=0.2)
        assert line.limbus_distance.value == pytest.approx(2.0, abs=0.02)


def test_the_sign_of_the_camera_s_obliquity_is_two_fold_and_the_interval_covers_both():
    eye = PracticeEye(obliquity=15.0, camera_meridian=0.0, x=0.4, y=0.0)
    places, known = true_points(eye), WIDTH.but(click=0.2, depth=eye.depth, depth_spread=0.01)
    unknown, right, left = (measure_front(places, known.but(camera_from=side)) for side in (None, 10.0, 190.0))
    shift = eye.depth * math.sin(math.radians(15.0)) / math.cos(math.radians(15.0))  # of parallax, either way
    assert right.x.value == pytest.approx(0.4, abs=5e-3)
    assert left.x.value == pytest.approx(0.4 + 2.0 * shift, abs=2e-2)
    assert unknown.x.value == pytest.approx(0.4 + shift, abs=1e-2)
    assert unknown.x.low <= right.x.low + 1e-9
    assert left.x.high - 1e-9 <= unknown.x.high
    assert "two opposite sides" in repr(unknown)
    assert "side of meridian 10" in repr(right)


def test_a_camera_known_to_look_from_straight_in_front_takes_the_parallax_out_of_the_interval():
    places = clicked(true_points(SQUARE), 1.0, np.random.default_rng(2))
    free, square = measure_front(places, WIDTH), measure_front(places, WIDTH.but(most_oblique=2.0))
    assert square.x.high - square.x.low < 0.5 * (free.x.high - free.x.low)
    assert held(square.x, SQUARE.x)
    assert free.obliquity.low == 0.0


def test_an_oval_limbus_is_not_taken_for_an_oblique_camera_if_its_form_is_known():
    eye, t = SQUARE, np.linspace(0.0, 2.0 * np.pi, 14, endpoint=False)
    oval = np.column_stack([5.9 * np.cos(t), 0.95 * 5.9 * np.sin(t), 0.0 * t])
    places = true_points(eye, 14) | {"limbus": eye.seen(oval)}
    assert measure_front(places, WIDTH).obliquity.value == pytest.approx(math.degrees(math.acos(0.95)), abs=0.1)
    told = measure_front(places, WIDTH.but(limbus_ratio=0.95))
    assert told.obliquity.value == pytest.approx(0.0, abs=0.5)
    assert told.obliquity.low == 0.0
    assert "proportions given" in repr(told)


def test_a_ruler_gives_the_scale_and_is_not_foreshortened():
    eye = PracticeEye(obliquity=30.0, camera_meridian=0.0)
    places = true_points(eye) | {"ruler": ruler_points(eye)}
    found = measure_front(places, Known(ruler=10.0, click=0.05, camera_from=0.0))
    assert found.white_to_white.value == pytest.approx(11.8, abs=1e-3)
    assert found.scale.value == pytest.approx(eye.scale, rel=1e-4)


def test_a_magnifying_cornea_is_reckoned_with_as_far_as_it_is_given():
    places = true_points(SQUARE)
    bare, behind = measure_front(places, WIDTH), measure_front(places, WIDTH.but(magnification=1.13))
    assert bare.decentration.value / behind.decentration.value == pytest.approx(1.13, rel=1e-6)
    assert bare.optic_diameter.value / behind.optic_diameter.value == pytest.approx(1.13, rel=1e-6)


@pytest.fixture(scope="module")
def many():
    """Measure eyes of known pose from points set 1 to 2 px off, and count which intervals hold the truth."""
    rng, counts = np.random.default_rng(12), {}
    for case in ("side known", "side unknown", "square"):
        hits = {}
        for _ in range(80):
            low, high = (0.0, 1.5) if case == "square" else (0.0, 25.0)
            eye = PracticeEye(
                obliquity=rng.uniform(low, high), camera_meridian=rng.uniform(0.0, 360.0),
                x=rng.normal(0.0, 0.4), y=rng.normal(0.0, 0.4), depth=rng.normal(2.1, 0.6),
                white_to_white=rng.normal(11.8, 0.1), scleral_radius=float(np.clip(rng.normal(12.0, 1.3), 9.0, 15.0)),
            )  # fmt: skip
            side = eye.camera_meridian + rng.uniform(-50.0, 50.0) if case == "side known" else None
            places = clicked(true_points(eye, int(rng.integers(9, 14))), rng.uniform(1.0, 2.0), rng)
            known = WIDTH.but(camera_from=side, most_oblique=1.5 if case == "square" else None)
            _count(hits, measure_front(places, known), eye)
        counts[case] = {name: np.mean(found) for name, found in hits.items()}
    return counts


def _count(hits, found, eye):
    told = {
        "x": held(found.x, eye.x), "y": held(found.y, eye.y),
        "size": held(found.decentration, math.hypot(eye.x, eye.y)),
        "meridian": held(found.meridian, math.degrees(math.atan2(eye.y, eye.x)), 360.0),
        "optic": held(found.optic_diameter, eye.optic_diameter),
        "obliquity": held(found.obliquity, eye.obliquity),
        "mark": held(found.marks[0].meridian, eye.marks[0][0], 360.0),
        "distance": held(found.marks[0].limbus_distance, eye.marks[0][1]),
        "apart": held(found.apart, eye.marks[1][0] - eye.marks[0][0], 360.0),
        "line": held(found.lines[1].limbus_angle, eye.lines[1][2]),
    }  # fmt: skip
    for name, yes in told.items():
        hits.setdefault(name, []).append(yes)


@pytest.mark.slow
@pytest.mark.parametrize("case", ["side known", "side unknown", "square"])
def test_every_95_percent_interval_holds_the_truth_in_at_least_95_percent_of_eyes(many, case):
    least = 0.95 - 3.0 * math.sqrt(0.95 * 0.05 / 80)
    assert {name: share for name, share in many[case].items() if share < least} == {}


def test_a_centred_optic_has_a_size_that_reaches_nought_and_no_meridian():
    places = clicked(true_points(dataclasses.replace(SQUARE, x=0.0, y=0.0)), 1.5, np.random.default_rng(7))
    found = measure_front(places, WIDTH)
    assert found.decentration.low == 0.0
    assert found.meridian.high - found.meridian.low == 360.0
    assert "no meridian that can be determined" in repr(found)


def test_ends_of_a_meridian_s_interval_are_told_from_0_to_360():
    estimate = angle_interval([np.array([2.0, 355.0, 350.0, 8.0, 12.0] * 20)])
    assert estimate.low < 0.0 < estimate.high
    assert meridian_words(estimate) == "2 deg (95 % interval 350, counter-clockwise to 12)"


def test_the_same_points_give_the_same_words():
    places = clicked(true_points(PracticeEye()), 1.5, np.random.default_rng(8))
    assert repr(measure_front(places, WIDTH)) == repr(measure_front(make_points(places), WIDTH))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"limbus": None}, "No point of the limbus"),
        ({"limbus": "optic", "optic": "limbus"}, "changed over"),
        ({"optic": [(20.0, 0.0), (40.0, 20.0), (20.0, 40.0), (0.0, 20.0), (6.0, 6.0), (34.0, 34.0)]}, "outside"),
        ({"ruler": [(10.0, 10.0), (400.0, 10.0)]}, "how far they lie apart"),
        ({"mark1": [(450.0, 382.0)]}, "no meridian"),
        ({"line1": [(700.0, 380.0)]}, "two or more"),
        ({"line1": [(700.0, 380.0), (702.0, 380.0)]}, "shorter than"),
        ({"haptic": [(1.0, 1.0)]}, "limbus, optic, ruler"),
    ],
)
def test_what_cannot_lie_so_in_an_eye_is_said(change, words):
    true = true_points(SQUARE)
    places = {name: spot for name, spot in (true | change).items() if spot is not None}
    places = {name: true[spot] if isinstance(spot, str) else spot for name, spot in places.items()}
    with pytest.raises(LearnerError, match=words):
        measure_front(places, WIDTH)


def test_a_scale_and_a_photograph_from_in_front_are_needed():
    with pytest.raises(LearnerError, match="how large the eye is"):
        measure_front(true_points(SQUARE), Known())
    with pytest.raises(LearnerError, match="not its two points"):
        measure_front(true_points(SQUARE), Known(ruler=10.0))
    with pytest.raises(LearnerError, match="50 degrees oblique"):
        measure_front(true_points(PracticeEye(obliquity=50.0)), WIDTH)
    with pytest.raises(LearnerError, match="white_to_white"):
        Known(white_to_white=118.0)
    with pytest.raises(LearnerError, match="one photograph at a time"):
        Known(white_to_white=[11.8, 12.0])


# --- from the side ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tilt", [-12.0, 0.0, 6.0])
def test_tilt_and_depth_from_the_side(tilt):
    eye = PracticeEye(tilt=tilt)
    found = measure_side(true_side(eye), WIDTH, meridian=180.0)
    assert found.tilt.value == pytest.approx(tilt, abs=1e-6)
    assert found.depth.value == pytest.approx(eye.depth, abs=1e-6)
    word = {-12.0: "left (meridian 0) edge", 0.0: "cannot be determined", 6.0: "right (meridian 180) edge"}[tilt]
    assert word in repr(found)


@pytest.mark.parametrize(("front", "turns"), [("up", 0), ("left", 1), ("down", 2), ("right", 3)])
def test_the_front_may_be_on_any_side_of_the_picture(front, turns):
    places = true_side(PracticeEye(tilt=6.0))
    for _ in range(turns):  # a quarter to the left: right goes up
        places = {name: np.column_stack([spot[:, 1], -spot[:, 0]]) for name, spot in places.items()}
    found = measure_side(places, WIDTH, front=front)
    assert found.tilt.value == pytest.approx(6.0, abs=1e-6)
    assert found.depth.value == pytest.approx(2.7, abs=1e-6)


def test_tilt_and_depth_lie_in_their_95_percent_intervals_in_at_least_95_percent_of_sections():
    rng, hits, n = np.random.default_rng(13), np.zeros(2), 240
    for i in range(n):
        eye = PracticeEye(tilt=rng.normal(0.0, 6.0), white_to_white=rng.normal(11.8, 0.1))
        places = true_side(eye)
        if i % 2:  # many points on the optic: their spread is estimated
            ends = places["optic"]
            places["optic"] = ends[0] + np.linspace(0.0, 1.0, 9)[:, None] * (ends[1] - ends[0])
        places = clicked(places, 1.5, rng)
        found = measure_side(places, WIDTH)
        hits += held(found.tilt, eye.tilt), held(found.depth, eye.depth)
    assert np.all(hits / n > 0.95 - 3.0 * math.sqrt(0.95 * 0.05 / n)), hits / n


def test_from_the_side_what_is_missing_is_said():
    places = true_side(PracticeEye())
    with pytest.raises(LearnerError, match="two points of the optic"):
        measure_side({"limbus": places["limbus"]}, WIDTH)
    with pytest.raises(LearnerError, match="too close"):
        measure_side(places | {"optic": places["optic"] * 0.01}, WIDTH)
    with pytest.raises(LearnerError, match="up, left, right, down"):
        measure_side(places, WIDTH, front="north")
    assert measure_side(places, Known()).depth is None


# --- points and photographs -------------------------------------------------------------------------------------


def test_points_written_are_the_points_read(tmp_path):
    points = make_points(true_points(PracticeEye()))
    file = tmp_path / "points.csv"
    file.write_bytes(points_bytes(points, "invented"))
    again = read_points(file)
    assert list(again.of) == list(points.of)
    for name, places in points.of.items():
        assert again.of[name] == pytest.approx(places, abs=0.006)
    assert again.remarks == ()


def test_a_table_of_points_as_spreadsheets_write_it():
    text = "What;X;Y;mm\nLimbus;10,5;20;\nmark 1;3;4\nruler;0;0;10\nruler;50;0;10\nhaptic;1;2\noptic;x;2\n;;\n"
    found = parse_points(text)
    assert found.of["limbus"].tolist() == [[10.5, 20.0]]
    assert found.ruler == 10.0
    assert len(found.remarks) == 2
    assert "line 6 is left out" in found.remarks[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("a,b\n1,2\n", "no column what"),
        ("what,x,y\n", "No point"),
        ("what,x,y\nhaptic,1,2\n", "No point"),
        ("what,x,y,mm\nruler,1,2,3\nruler,1,2,4\n", "different lengths"),
        ("what,x,y\n" + "limbus,1,2\n" * 2001, "more than 2000"),
    ],
)
def test_a_table_without_points_is_refused(text, words):
    with pytest.raises(LearnerError, match=words):
        parse_points(text)


def content(picture, kind="PNG", **how):
    file = io.BytesIO()
    picture.save(file, kind, **how)
    return file.getvalue()


NOISE = Image.effect_noise((300, 200), 60.0)
BROKEN = {
    "one pixel": (lambda: content(Image.new("RGB", (1, 1))), "at least 64"),
    "200 megapixels": (lambda: content(Image.new("1", (20_000, 10_000))), "pixels"),
    "80 megapixels": (lambda: content(Image.new("1", (10_000, 8_000))), "80 million"),
    "text": (lambda: b"what,x,y\nlimbus,1,2\n", "no photograph"),
    "nothing": (lambda: b"", "no photograph"),
    "half a PNG": (lambda: content(NOISE)[:20_000], "broken or not complete"),
    "half a JPEG": (lambda: content(NOISE, "JPEG")[:4_000], "broken or not complete"),
    "a GIF": (lambda: content(Image.new("P", (100, 100)), "GIF"), "no photograph"),
    "spoilt": (lambda: content(NOISE)[:60] + b"x" * 40 + content(NOISE)[100:], "broken|no photograph"),
}
"""How to build files that cannot be measured, and what is said of them."""


@pytest.mark.parametrize("case", BROKEN)
def test_a_file_that_is_no_photograph_is_answered_in_words(case, tmp_path):
    build, words = BROKEN[case]
    file = tmp_path / "eye.png"
    file.write_bytes(build())
    with pytest.raises(LearnerError, match=words):
        read_photograph(file)


def test_a_file_that_is_missing_or_too_large_is_answered_in_words(tmp_path, monkeypatch):
    for path in (tmp_path / "none.png", tmp_path, "bad\0name"):
        with pytest.raises(LearnerError):
            read_photograph(path)
    monkeypatch.setattr(photograph, "LARGEST", 1000)
    (tmp_path / "large.png").write_bytes(content(NOISE))
    with pytest.raises(LearnerError, match="larger than"):
        read_photograph(tmp_path / "large.png")


def test_any_bytes_are_answered_in_words():
    rng = np.random.default_rng(14)
    for kind in ("PNG", "JPEG"):
        whole = content(NOISE, kind)
        for _ in range(60):
            spoilt = bytearray(whole)
            for place in rng.integers(0, len(whole), 3):
                spoilt[place] = int(rng.integers(0, 256))
            try:
                decode_photograph(bytes(spoilt))
            except LearnerError:
                pass


def test_a_photograph_is_turned_upright_and_loses_what_else_it_says():
    picture, exif = Image.new("RGB", (300, 200), "white"), Image.Exif()
    picture.paste("black", (0, 0, 60, 60))  # at the left above; the camera was turned a quarter
    exif[0x0112], exif[0x010F], exif[0x0132] = 6, "a maker", "2020:01:01 00:00:00"
    found = decode_photograph(content(picture, "JPEG", exif=exif), "turned.jpg")
    assert (found.width, found.height) == (200, 300)
    shown = Image.open(io.BytesIO(found.shown))
    assert shown.getpixel((190, 10))[0] < 60 < 200 < shown.getpixel((10, 10))[0]
    assert not shown.getexif()
    assert b"maker" not in found.shown
    assert repr(found) == "A photograph, turned.jpg: 200 by 300 px."


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_any_kind_of_pixels_is_read(mode):
    assert decode_photograph(content(Image.new(mode, (120, 90)))).height == 90


def test_large_photographs_are_shown_smaller_but_keep_their_pixels():
    found = decode_photograph(content(Image.new("RGB", (3000, 1500)), "JPEG"))
    assert (found.width, found.height) == (3000, 1500)
    assert Image.open(io.BytesIO(found.shown)).size == (photograph.SHOWN, photograph.SHOWN // 2)


def test_points_outside_the_photograph_are_refused(tmp_path):
    (tmp_path / "p.csv").write_text("what,x,y\nlimbus,5000,10\n")
    with pytest.raises(LearnerError, match="Point 1 of limbus lies at"):
        measure_files(DEMO / "eye-in-front.jpg", tmp_path / "p.csv", WIDTH)


# --- photographs that are painted -------------------------------------------------------------------------------


def test_edges_are_painted_where_the_points_say():
    eye = PracticeEye(obliquity=20.0, camera_meridian=40.0, blur=0.7, noise=1.0, ruler=0.0, lines=())
    picture = demo_photographs.front_photo(eye, np.random.default_rng(0)).astype(float)
    true = true_points(eye, 24)
    for name in ("limbus", "optic"):
        centre = true[name].mean(axis=0)
        away = (true[name] - centre) / np.hypot(*(true[name] - centre).T)[:, None]
        steps = np.arange(-6.0, 6.5, 0.5)
        along = true[name][:, None] + steps[:, None] * away[:, None]
        column, row = np.moveaxis(np.floor(along).astype(int), -1, 0)
        seen = picture[row, column].sum(axis=-1)
        edge = steps[np.argmax(np.abs(seen[:, 4:] - seen[:, :-4]), axis=1) + 2]  # where it changes most
        strong = np.abs(seen[:, -1] - seen[:, 0]) > 60.0
        assert strong.sum() > 12  # elsewhere a haptic or the iris lies behind
        assert abs(np.median(edge[strong])) < (1.1 if name == "limbus" else 3.0)  # the optic has a bright rim inside


def test_the_demonstration_is_as_it_is_painted_and_says_that_it_is_invented():
    pictures, points = demo_photographs.demonstrations()
    for name, made in pictures.items():
        kept = (DEMO / name).read_bytes()
        assert len(kept) < 150_000
        one, other = (np.asarray(Image.open(io.BytesIO(file)), float) for file in (kept, made))
        assert np.abs(one - other).mean() < 2.0  # libraries pack a JPEG a little differently
    for name, made in points.items():
        assert (DEMO / name).read_bytes() == points_bytes(made, demo_photographs.INVENTED)
        assert "Invented" in (DEMO / name).read_text()


def test_the_demonstration_is_measured_to_what_was_painted():
    eye, known = PracticeEye(), Known(camera_from=300.0)
    found = measure_files(DEMO / "eye-in-front.jpg", DEMO / "eye-in-front.csv", known).result
    assert held(found.x, eye.x)
    assert held(found.y, eye.y)
    assert held(found.white_to_white, eye.white_to_white)
    assert all(held(one.limbus_angle, line[2]) for one, line in zip(found.lines, eye.lines, strict=True))
    text = measurement_words(found)
    assert "decentration" in text
    assert "line2" in text
    side = measure_files(
        DEMO / "eye-from-the-side.jpg", DEMO / "eye-from-the-side.csv", known.but(white_to_white=11.8)
    ).result
    assert held(side.tilt, eye.tilt)
    assert held(side.depth, eye.depth)
    assert measurement_words(side).startswith("The optic is tilted")


# --- the panel --------------------------------------------------------------------------------------------------


def test_points_set_in_the_panel_are_measured_at_once():
    panel, points = photo_panel(camera_from=300.0), read_points(DEMO / "eye-in-front.csv").of
    page = Page(panel)
    assert "Set 6 more points on the limbus" in shown(panel)
    for what, places in points.items():
        page.say("set", "what", what)
        for x, y in places:
            before = page.values["points"]
            page.say("set", "points", before | {"points": [*before["points"], [what, float(x), float(y)]]})
            assert page.fault == ""
    assert len(page.values["points"]["edges"]) == 2
    assert repr(panel.found) == repr(measure_files(
        DEMO / "eye-in-front.jpg", DEMO / "eye-in-front.csv", Known(white_to_white=11.8, camera_from=300.0)
    ).result)  # fmt: skip
    assert "The optic's centre lies 0.52 mm" in page.last()[0]["said"]


def test_points_of_the_panel_are_saved_as_the_command_line_reads_them():
    points = read_points(DEMO / "eye-in-front.csv")
    page = Page(photo_panel(points=points))
    page.say("press", "save")
    message, buffers = page.last("file")
    again = parse_points(buffers[0].decode("utf-8-sig"))
    assert message["name"] == "points.csv"
    assert {name: spot.tolist() for name, spot in again.of.items()} == {k: v.tolist() for k, v in points.of.items()}
    assert again.ruler == 10.0


def test_points_are_taken_back_and_the_side_is_measured_too():
    points = read_points(DEMO / "eye-from-the-side.csv")
    panel = photo_panel(DEMO / "eye-from-the-side.jpg", points=points)
    page = Page(panel)
    assert "The optic is tilted by 6.0 deg" in repr(panel)
    page.say("press", "undo")
    assert len(page.values["points"]["points"]) == 3
    page.say("press", "clear")
    assert len(page.values["points"]["points"]) == 1
    panel.put("limbus", (150.0, 320.0), (750.0, 320.0))
    panel.put("optic", (600.0, 470.0))
    assert "The optic is tilted" in panel.sentence


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("points", {"points": [["limbus", -5.0, 1.0]]}, "within the photograph"),
        ("points", {"points": [["limbus", "1", 1.0]]}, "within the photograph"),
        ("points", {"points": [["haptic", 1.0, 1.0]]}, "lies on one of"),
        ("points", {"points": [["limbus", 1.0]]}, "lies on one of"),
        ("points", {"points": [["limbus", 1.0, 1.0]] * 301}, "Up to 300"),
        ("points", "x", "Up to 300"),
        ("what", "haptic", "What a point lies on"),
        ("camera_from", "17", "those in the menu"),
        ("depth", "deep", "A number is wanted"),
        ("depth", "99", "depth"),
        ("power", "21", "The panel has no field"),
    ],
)
def test_what_no_hand_can_do_is_answered_and_changes_nothing(name, value, words):
    page = Page(photo_panel())
    before = page.values
    page.say("typed" if name == "depth" else "set", name, value)
    assert words in page.fault
    assert page.values == before


def test_every_control_of_the_panel_has_words_and_the_picture_an_alternative():
    found = layout(photo_panel())
    assert all(part["words"] for part in found.values() if part["kind"] != "region")
    assert "900 by 760 px" in found["points"]["alt"]
    assert found["points"]["choices"] == list(KINDS)
    assert found["points"]["address"].startswith("data:image/jpeg;base64,")
    assert es.CAUTION in shown(photo_panel())


@pytest.mark.parametrize(
    ("name", "words"), [("eye-in-front", "optic's centre lies"), ("eye-from-the-side", "optic is tilted")]
)
def test_the_command_measures_the_demonstration(name, words, capsys):
    demo = data_folder() / "demo"
    given = ["measure", str(demo / f"{name}.jpg"), str(demo / f"{name}.csv"), "--white-to-white", "11.8"]
    assert main(given) == 0
    said = capsys.readouterr().out
    assert words in said.lower()
    assert es.CAUTION in said
    given[2] = str(demo / "none.csv")
    assert main(given) == 2
