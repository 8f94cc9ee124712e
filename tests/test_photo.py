"""Points on a photograph: ellipses as printed, millimetres and degrees as they were, intervals that hold the truth."""

from __future__ import annotations

import numpy as np
import pytest

import eyesim as es
from eyesim.__main__ import main
from eyesim.course import photo_fit
from eyesim.course.measured import measure_front
from eyesim.course.measured_side import measure_side
from eyesim.course.photo_camera import Known
from eyesim.course.photo_fit import fit_ellipse
from eyesim.course.photo_points import points_bytes, points_from, points_of

KNOWN = Known(white_to_white=11.8, white_to_white_spread=0.0, depth=2.7, depth_spread=0.0)


def around(n, start=0.0, stop=360.0):
    return np.radians(np.linspace(start, stop, n, endpoint=False))


def photographed(
    shift=(0.3, -0.2), *, depth=2.7, oblique=0.0, towards=0.0, scale=40.0, turn=0.0, noise=0.0, seed=0, n=12
):
    """Points of a limbus and an optic in a picture by a far camera, y down; the projection is that of any textbook."""
    rng, lean, way = np.random.default_rng(seed), np.radians(oblique), np.radians(towards)
    camera = np.array([np.cos(way), np.sin(way)])

    def seen(places, deep):
        along = places @ camera
        moved = along * (np.cos(lean) - 1.0) + deep * np.sin(lean)
        places = places + moved[:, None] * camera
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        pixels = scale * places @ np.array([[c, s], [-s, c]]) * [1.0, -1.0] + [600.0, 500.0]
        return pixels + noise * rng.standard_normal(pixels.shape)

    circle = np.stack([np.cos(around(n)), np.sin(around(n))], axis=1)
    marks = {f"mark{k + 1}": 5.9 * np.array([[np.cos(m), np.sin(m)]]) for k, m in enumerate(np.radians([0.0, 187.0]))}
    return points_from({"limbus": seen(5.9 * circle, 0.0), "optic": seen(3.0 * circle + shift, depth),
                        **{name: seen(place, 0.0) for name, place in marks.items()}})  # fmt: skip


# ---------------------------------------------------------------- ellipses


def test_reference_the_nearest_ellipse_to_eight_points():
    # Least-squares fitting of circles and ellipses, BIT 1994;34:558-578, DOI 10.1007/BF01934268: the points, and the
    # best ellipse in the geometric sense: centre (2.6996, 3.8160), half-axes 6.5187 and 3.0319 (seen as quoted); it is
    # too rough to be an edge of an eye, so `fit_ellipse` itself refuses it
    points = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7), (6, 2), (8, 4)], float)
    found = photo_fit._nearest(points, photo_fit._start(points, "the edge"))
    short, long = np.linalg.eigvalsh(photo_fit._matrix(found))
    assert found[:2] == pytest.approx((2.6996, 3.8160), abs=2e-4)
    assert (long, short) == pytest.approx((6.5187, 3.0319), abs=2e-4)
    with pytest.raises(es.LearnerError, match="the edge"):
        fit_ellipse(points)


def test_points_on_an_ellipse_are_on_it_wherever_it_lies():
    for angle in np.radians((0.0, 30.0, 90.0, 140.0)):
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        points = np.stack([200.0 * np.cos(around(9)), 150.0 * np.sin(around(9))], axis=1) @ turn + [1000.0, 400.0]
        found = fit_ellipse(points)
        assert found.centre == pytest.approx((1000.0, 400.0), abs=1e-6)
        assert found.half_axes == pytest.approx((200.0, 150.0), abs=1e-6)
        assert np.sin(found.angle - angle) == pytest.approx(0.0, abs=1e-8)


@pytest.mark.parametrize(("stop", "most"), [(360.0, 0.15), (240.0, 1.0)])
def test_whole_edges_are_fitted_without_bias_and_partial_ones_nearly_so(stop, most):
    rng, centres, sizes = np.random.default_rng(2), [], []
    for _ in range(300):
        phi = around(12, 0.0, stop)
        points = np.stack([240.0 * np.cos(phi), 230.0 * np.sin(phi)], axis=1) + 1.5 * rng.standard_normal((12, 2))
        found = fit_ellipse(points)
        centres.append(found.centre)
        sizes.append(found.half_axes)
    error = np.std(centres, axis=0) / np.sqrt(len(centres))
    assert np.all(np.abs(np.mean(centres, axis=0)) < most + 3.0 * error)
    assert np.mean(np.mean(sizes, axis=1)) == pytest.approx(235.0, abs=most + 0.5)


def test_95_percent_intervals_of_an_ellipse_s_centre_cover_the_truth_in_93_to_97_percent_of_fits():
    from scipy.stats import t

    rng, hits = np.random.default_rng(3), []
    for _ in range(600):
        points = np.stack([240.0 * np.cos(around(14)), 225.0 * np.sin(around(14))], axis=1)
        found = fit_ellipse(points + 2.0 * rng.standard_normal(points.shape), floor=0.01)
        half = t.ppf(0.975, found.freedom) * np.sqrt(np.diag(found.covariance)[:2])
        hits.append(np.abs(found.centre) <= half)
    assert np.mean(hits) == pytest.approx(0.95, abs=0.02)


# ---------------------------------------------------------------- from in front


@pytest.mark.parametrize("turn", [0.0, 35.0])
@pytest.mark.parametrize("scale", [20.0, 80.0])
def test_a_straight_photograph_gives_what_was_there_and_no_scale_or_turn_changes_it(turn, scale):
    found = measure_front(photographed(scale=scale, turn=turn), KNOWN)
    way = (np.degrees(np.arctan2(-0.2, 0.3)) + turn) % 360.0
    assert found.size.value == pytest.approx(np.hypot(0.3, 0.2), abs=1e-4)
    assert found.meridian.value == pytest.approx(way, abs=0.01)
    assert found.optic_diameter.value == pytest.approx(6.0, abs=1e-4)
    assert found.marks[1].meridian.value == pytest.approx((187.0 + turn) % 360.0, abs=0.02)
    assert found.apart.value == pytest.approx(187.0, abs=0.02)
    assert found.obliquity.low == 0.0


def test_up_in_the_picture_is_up_in_the_eye():
    # ISO 8429: meridians from the observer's right, counter-clockwise; rows of a picture go down
    found = measure_front(photographed((0.0, 0.4)), KNOWN)
    assert found.meridian.value == pytest.approx(90.0, abs=0.01)
    assert found.y.value == pytest.approx(0.4, abs=1e-4)


@pytest.mark.parametrize("oblique", [8.0, 20.0])
def test_an_oblique_camera_is_corrected_if_its_side_is_known_and_else_both_are_covered(oblique):
    points = photographed(oblique=oblique, towards=40.0)
    known = measure_front(points, KNOWN.but(camera_from=40.0, click=0.05))
    assert (known.x.value, known.y.value) == pytest.approx((0.3, -0.2), abs=0.01)
    assert known.obliquity.value == pytest.approx(oblique, abs=0.1)
    other = measure_front(points, KNOWN.but(camera_from=220.0, click=0.05))
    off = 2.0 * 2.7 * np.tan(np.radians(oblique))  # parallax of the optic behind the limbal plane, twice
    assert np.hypot(other.x.value - 0.3, other.y.value + 0.2) == pytest.approx(off, rel=0.02)
    nobody = measure_front(points, KNOWN)
    assert nobody.x.low <= 0.3 <= nobody.x.high
    assert nobody.y.low <= -0.2 <= nobody.y.high
    assert nobody.x.high - nobody.x.low > known.x.high - known.x.low
    assert "the intervals cover both" in repr(nobody)


@pytest.mark.parametrize("oblique", [0.0, 15.0])
def test_95_percent_intervals_of_decentration_cover_the_truth_in_92_to_100_percent_of_photographs(oblique):
    hits, known = [], KNOWN.but(camera_from=40.0, click=1.5)
    for seed in range(120):
        found = measure_front(photographed(oblique=oblique, towards=40.0, noise=1.5, seed=seed), known)
        hits.append((found.x.low <= 0.3 <= found.x.high, found.y.low <= -0.2 <= found.y.high,
                     found.size.low <= np.hypot(0.3, 0.2) <= found.size.high,
                     found.marks[1].meridian.low <= 187.0 <= found.marks[1].meridian.high))  # fmt: skip
    assert np.all(np.mean(hits, axis=0) >= 0.92), np.mean(hits, axis=0)


def test_a_drawn_line_has_its_angle_to_the_tangent_at_its_start():
    points = photographed()
    start = np.array([5.9 * np.cos(np.radians(30.0)), 5.9 * np.sin(np.radians(30.0))])
    for clockwise in (True, False):
        tangent = np.radians(30.0 + (-90.0 if clockwise else 90.0))
        turn = np.radians(-20.0 if clockwise else 20.0)  # towards the eye
        way = np.array([np.cos(tangent + turn), np.sin(tangent + turn)])
        line = np.stack([start, start + 0.5 * way]) * [40.0, -40.0] + [600.0, 500.0]
        found = measure_front(points_from({**points.of, "line1": line}), KNOWN.but(click=0.05)).drawn[0]
        assert found.limbus_angle.value == pytest.approx(20.0, abs=0.3)
        assert found.clockwise is clockwise
        assert found.meridian.value == pytest.approx(30.0, abs=0.05)


def test_a_ruler_gives_the_scale_as_white_to_white_does():
    points = photographed()
    ruler = np.array([[100.0, 900.0], [500.0, 900.0]])  # 10 mm at 40 px/mm
    found = measure_front(points_from({**points.of, "ruler": ruler}, ruler=10.0), Known(depth_spread=0.0))
    assert found.white_to_white.value == pytest.approx(11.8, abs=1e-3)
    assert found.size.value == pytest.approx(np.hypot(0.3, 0.2), abs=1e-4)


# ---------------------------------------------------------------- from the side


def test_a_lean_from_the_side_is_the_angle_between_the_lines_and_its_interval_holds_it_in_93_to_97_percent():
    hits, rng = [], np.random.default_rng(4)
    limbus = np.array([[100.0, 300.0], [900.0, 310.0]])
    base = np.arctan2(10.0, 800.0)
    for tilt in (0.0, 5.0, -8.0):
        way = np.array([np.cos(base + np.radians(tilt)), np.sin(base + np.radians(tilt))])
        optic = np.array([500.0, 420.0]) + np.array([[-200.0], [0.0], [200.0]]) * way
        assert measure_side({"limbus": limbus, "optic": optic}).tilt.value == pytest.approx(tilt, abs=1e-6)
        for _ in range(200):
            noisy = {
                "limbus": limbus + 1.5 * rng.standard_normal((2, 2)),
                "optic": optic + 1.5 * rng.standard_normal((3, 2)),
            }
            found = measure_side(noisy).tilt
            hits.append(found.low <= tilt <= found.high)
    assert np.mean(hits) == pytest.approx(0.95, abs=0.025)
    assert "its left end lower" in repr(measure_side({"limbus": limbus, "optic": optic}))


# ---------------------------------------------------------------- tables, commands, and what cannot be


def test_points_come_back_from_their_table():
    points = photographed()
    again = points_of(points_bytes(points).decode("utf-8-sig"))
    assert list(again.of) == list(points.of)
    assert again.of["optic"] == pytest.approx(points.of["optic"], abs=0.006)
    odd = points_of("what;x;y\nlimbus;1,5;2\nnose;1;2\nlimbus;here;2\n")
    assert odd.of["limbus"].tolist() == [[1.5, 2.0]]
    assert len(odd.remarks) == 2


def test_the_command_says_what_was_measured(tmp_path, capsys):
    path = tmp_path / "points.csv"
    path.write_bytes(points_bytes(photographed()))
    assert main(["measure", str(path), "--white-to-white", "11.8"]) == 0
    said = capsys.readouterr().out
    assert "The optic's centre lies 0.36 mm" in said
    assert es.CAUTION in said
    path.write_text("what,x,y\nlimbus,100,300\nlimbus,900,300\noptic,300,400\noptic,700,435\n", "utf-8")
    assert main(["measure", str(path)]) == 0
    assert "leans by 5.0 deg" in capsys.readouterr().out
    path.write_text("what,x,y\nlimbus,100,300\n", "utf-8")
    assert main(["measure", str(path)]) == 2
    assert "at least 6" in capsys.readouterr().err


def _limbus(n=12):
    return np.stack([240.0 * np.cos(around(n)), 240.0 * np.sin(around(n))], axis=1) + 600.0


@pytest.mark.parametrize(("points", "words"), [
    ({"optic": _limbus()}, "No point of the limbus"), ({"limbus": _limbus(5)}, "at least 6"),
    ({"limbus": _limbus(40)[:9]}, "too short an arc"),
    ({"limbus": _limbus(), "optic": _limbus() * 1.2}, "changed over"),
    ({"limbus": np.random.default_rng(1).random((12, 2)) * 500.0}, "no ellipse|too short|wide as long"),
    ({"limbus": _limbus(), "optic": 0.4 * _limbus()}, "outside the limbus"), ({"nose": _limbus()}, "nose"),
    ({"limbus": [[1.0, 2.0, 3.0]] * 8}, "pairs of numbers"), ({"limbus": [[np.nan, 1.0]] * 8}, "no place"),
    ({"limbus": _limbus() * [1.0, 0.5]}, "oblique"), ({"limbus": [[5.0, 5.0]] * 9}, "different points"),
    ({"limbus": _limbus(), "line1": [[300.0, 300.0]]}, "one point"), ({"limbus": _limbus(), "mark1": [[600.0, 600.0]]},
                                                                      "no meridian"),
    ({"limbus": _limbus(), "ruler": [[0.0, 0.0], [400.0, 0.0]]}, "how far they lie apart"), ("points", "such as"),
])  # fmt: skip
def test_points_that_cannot_be_of_an_eye_are_told(points, words):
    with pytest.raises(es.LearnerError, match=words):
        measure_front(points, KNOWN)


@pytest.mark.parametrize(("points", "words"), [
    ({"limbus": [[0, 0], [800, 0]]}, "the optic takes"), ({"limbus": [[0, 0]], "optic": [[0, 0], [9, 9]]}, "takes two"),
    ({"limbus": [[0, 0], [800, 0]], "optic": [[0, 0], [3, 0]]}, "too close"),
    ({"limbus": [[0, 0], [800, 0]], "optic": [[0, 0], [50, 300]]}, "changed over"),
])  # fmt: skip
def test_lines_that_cannot_be_are_told(points, words):
    with pytest.raises(es.LearnerError, match=words):
        measure_side(points)


def test_nothing_says_how_large_the_eye_is():
    with pytest.raises(es.LearnerError, match="Nothing says how large"):
        measure_front(photographed(), Known())
