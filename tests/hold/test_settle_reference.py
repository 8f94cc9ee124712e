"""Where the lens comes to rest, against cases solved elsewhere and directions seen elsewhere."""

import json
from pathlib import Path

import numpy as np
import peer
import pytest

import eyesim as es

CASES = json.loads((Path(__file__).parents[1] / "reference" / "mechanics.json").read_text())["cases"]
EYE, LENS = es.Eye(), es.Lens()
FIRST, SECOND = es.Fixation(), es.Fixation(meridian=180.0)


def setting(case):
    return es.Eye(**case["eye"]), es.Lens(**case["lens"]), *(es.Fixation(**p) for p in case["passes"])


def angle_between(a, b):
    return abs((a - b + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("case", [c for c in CASES if "centre" in c["expected"]], ids=lambda c: c["name"])
def test_reference_case_solved_by_two_independent_formulations(case):
    # reference/mechanics.json: shooting and collocation, agreed to 1e-6 mm
    eye, lens, first, second = setting(case)
    expected = case["expected"]
    pose = es.settle(eye, lens, first, second)
    assert np.array([pose.x, pose.y, pose.z]) == pytest.approx(expected["centre"], abs=2e-5)
    assert pose.tilt == pytest.approx(expected["tilt"], abs=1e-3)
    if expected["tilt"] > 0.1:
        assert angle_between(pose.tilt_meridian, expected["tilt_meridian"]) < 0.05
    assert angle_between(pose.roll, expected["roll"]) < 1e-3
    assert pose.tension / lens.bending_stiffness == pytest.approx(expected["tension_over_EI"], rel=1e-4)
    assert pose.free_length == pytest.approx(expected["free_lengths"], abs=1e-9)
    for passage, inner in zip(pose.passages, expected["inner_openings"], strict=True):
        assert passage.inner == pytest.approx(inner, abs=1e-9)


def test_reference_case_whose_needle_never_enters():
    # reference/mechanics.json: straight pass, 20 degrees to the limbus, 5 down
    case = next(c for c in CASES if "never enters" in c["name"])
    with pytest.raises(es.LearnerError, match="never enters the eye"):
        es.settle(*setting(case))
    assert es.settle(*setting(case), on_failure="flag").reason == "needle never enters the eye"


def test_reference_full_problem_against_a_general_boundary_value_solver():
    # scipy.integrate.solve_bvp, see peer.py
    second = SECOND.but(meridian=174.0, limbus_distance=2.3, iris_angle=12.0, tunnel_length=1.6)
    other = peer.rest(EYE, LENS, FIRST, second, tol=1e-8)
    assert other.status == 0
    pose = es.settle(EYE, LENS, FIRST, second)
    assert np.array([pose.x, pose.y, pose.z]) == pytest.approx(other.p[:3], abs=1e-5)
    assert np.linalg.norm(other.p[6:9]) * LENS.bending_stiffness == pytest.approx(pose.tension[0], rel=1e-4)


def test_reference_common_practice_gives_a_tunnel_of_about_two_millimetres():
    # common practice, no source: 2 mm behind the limbus, 20 degrees to it, 5 to 10 down, wall 0.45 to 0.5
    for wall, dip in ((0.45, 10.0), (0.5, 10.0), (0.45, 7.0)):
        passage = es.needle_pass(EYE.but(scleral_thickness=wall), es.Fixation(iris_angle=dip, tunnel_length=None))
        assert 1.4 < passage.tunnel_length < 2.6
    assert not es.needle_pass(EYE, es.Fixation(iris_angle=5.0, tunnel_length=None)).enters
    assert es.least_dip_that_enters(EYE, es.Fixation()) == pytest.approx(5.27, abs=0.01)


def test_reference_directions_seen_on_a_model_eye_shorter_tunnel_lies_deeper():
    # Retina 2023, DOI 10.1097/iae.0000000000003960: tunnels of 1.0 mm put the lens deeper than of 2.0 mm
    depths = []
    for dip in (10.0, 16.0, 24.0):  # on a straight pass the steeper needle has the shorter tunnel
        one, two = (f.but(iris_angle=dip, tunnel_length=None) for f in (FIRST, SECOND))
        pose = es.settle(EYE, LENS, one, two)
        depths.append((pose.passages[0].tunnel_length, pose.depth))
    lengths, depths = np.array(depths).T
    assert np.all(np.diff(lengths) < 0)
    assert np.all(np.diff(depths) > 0)


def test_reference_directions_seen_on_a_model_eye_unequal_tunnels():
    # the same: the optic leaves the side of the shorter tunnel and tilts across the fixation axis
    pose = es.settle(EYE, LENS, FIRST.but(tunnel_length=1.0), SECOND)
    axis = pose.passages[0].inner - pose.passages[1].inner
    assert np.array([pose.x, pose.y]) @ axis[:2] < -0.3 * np.hypot(*axis[:2])
    assert angle_between(pose.tilt_meridian, np.degrees(np.arctan2(axis[1], axis[0]))) > 60.0


def test_reference_directions_seen_on_a_model_eye_entries_not_opposite():
    # the same: entries not 180 degrees apart decentre and tilt
    pose = es.settle(EYE, LENS, FIRST.but(meridian=15.0), SECOND)
    assert pose.decentration > 0.5
    assert pose.tilt > 0.1


@pytest.mark.parametrize(("exit_angle", "depth"), [(30.0, 2.1), (45.0, 2.4), (90.0, 2.9)])
def test_turned_end_sets_the_depth(exit_angle, depth):
    pose = es.settle(EYE, LENS, FIRST.but(exit_angle=exit_angle), SECOND.but(exit_angle=exit_angle))
    assert pose.depth == pytest.approx(depth, abs=0.06)


def test_unequal_turned_ends_tilt_more_than_marks_do():
    turned = es.settle(EYE, LENS, FIRST.but(exit_angle=45.0), SECOND.but(exit_angle=30.0))
    marked = es.settle(EYE, LENS, FIRST.but(meridian=15.0), SECOND)
    assert turned.tilt == pytest.approx(7.6, abs=0.1)
    assert marked.tilt < 1.0


def test_walls_of_unequal_thickness_decentre_under_a_perfect_hand():
    straight = es.Fixation(iris_angle=10.0, tunnel_length=None)
    one, two = straight.but(wall=0.5), straight.but(wall=0.6, meridian=180.0)
    pose = es.settle(EYE, LENS, one, two)
    lengths = [p.tunnel_length for p in pose.passages]
    assert lengths == pytest.approx([1.80, 2.35], abs=0.01)
    assert pose.decentration == pytest.approx(0.40, abs=0.01)


def test_a_bent_root_tilts():
    assert es.settle(EYE, LENS.but(first_bend=10.0), FIRST, SECOND).tilt == pytest.approx(4.1, abs=0.1)


@pytest.mark.parametrize("outside", [0.2, 0.4, 0.8])
@pytest.mark.parametrize("tunnel", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("length", [8.0, 9.0])
def test_no_haptic_lies_in_its_tunnel_the_wrong_way_round(outside, tunnel, length):
    # the equations alone would allow it: with one needle run the wrong way, a flat lens near the middle
    one, two = (f.but(outside=outside, tunnel_length=tunnel) for f in (FIRST.but(clockwise=False), SECOND))
    pose = es.settle(EYE, LENS.but(haptic_length=length), one, two, on_failure="flag")
    if pose.settled:
        curves = es.haptic_curves(pose)
        for curve, passage in zip(curves, pose.passages, strict=True):
            assert (curve[-1] - curve[-2]) @ passage.held > 0.0
        assert pose.decentration > 2.0


def test_a_cloud_of_needles_run_the_wrong_way_is_what_each_case_is_alone():
    rng = np.random.default_rng(8)
    tunnel, dip = rng.normal(1.6, 0.3, 60), rng.normal(5.0, 4.0, 60)
    many = es.settle(EYE, LENS, FIRST.but(clockwise=False, tunnel_length=tunnel), SECOND.but(iris_angle=dip))
    for i in range(0, 60, 6):
        one = FIRST.but(clockwise=False, tunnel_length=float(tunnel[i]))
        alone = es.settle(EYE, LENS, one, SECOND.but(iris_angle=float(dip[i])), on_failure="flag")
        assert alone.code == many.code[i]
        assert [many.x[i], many.y[i], many.z[i]] == pytest.approx([alone.x, alone.y, alone.z], abs=1e-6, nan_ok=True)


def test_taut_haptics_are_drawn_to_their_openings():
    one, two = FIRST.but(outside=1.4), SECOND.but(outside=1.45, iris_angle=9.0)
    pose = es.settle(EYE, LENS, one, two)
    assert pose.tension[0] > 120.0
    for curve, passage in zip(es.haptic_curves(pose), pose.passages, strict=True):
        assert curve[-1] == pytest.approx(passage.inner, abs=1e-4)
        assert np.linalg.norm(np.diff(curve, axis=0), axis=1).sum() == pytest.approx(pose.free_length.min(), abs=0.2)


def test_a_needle_run_the_wrong_way_sets_the_lens_on_edge():
    for one, two in ((FIRST.but(clockwise=False), SECOND), (FIRST, SECOND.but(clockwise=False))):
        pose = es.settle(EYE, LENS, one, two)
        assert pose.decentration == pytest.approx(3.8, abs=0.1)
        assert 75.0 < pose.tilt < 95.0
