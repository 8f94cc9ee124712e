"""What must hold for any lens between any two haptics."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim.hold.rod import follow

EYE, LENS = es.Eye(), es.Lens()


def plan(**changes):
    return es.Fixation(**{"meridian": 0.0, **changes})


passes = st.builds(
    plan,
    meridian=st.floats(-20, 20),
    limbus_distance=st.floats(1.2, 3.0),
    limbus_angle=st.floats(8, 32),
    iris_angle=st.floats(-5, 20),
    tunnel_length=st.floats(0.8, 2.4),
    outside=st.floats(0.4, 1.2),
    exit_swing=st.floats(-8, 8),
)
few = settings(max_examples=40, deadline=None, derandomize=True)


def settled(one, two, eye=EYE, lens=LENS):
    pose = es.settle(eye, lens, one, two, on_failure="flag")
    assert pose.reason in ("", "haptic cannot reach")
    return pose if pose.settled else None


def same_turn(a, b):
    return abs((a - b + 180.0) % 360.0 - 180.0)


def test_property_perfect_symmetry_is_centred_and_flat():
    # common practice, no source: exactly opposite and alike means centred
    for meridian in (0.0, 37.0, 90.0, 250.0):
        pose = es.settle(EYE, LENS, plan(meridian=meridian), plan(meridian=meridian + 180.0))
        assert pose.decentration < 1e-9
        assert pose.tilt < 1e-7


@few
@given(passes, passes, st.floats(-180, 180))
def test_property_turning_all_meridians_turns_the_pose(one, two, turn):
    two = two.but(meridian=two.meridian + 180.0)
    pose = settled(one, two)
    if pose is None:
        return
    other = settled(one.but(meridian=one.meridian + turn), two.but(meridian=two.meridian + turn))
    a = np.radians(turn)
    back = [other.x * np.cos(a) + other.y * np.sin(a), other.y * np.cos(a) - other.x * np.sin(a), other.z]
    assert back == pytest.approx([pose.x, pose.y, pose.z], abs=1e-6)
    assert other.tilt == pytest.approx(pose.tilt, abs=1e-5)
    assert same_turn(other.roll, pose.roll + turn) < 1e-4


@few
@given(passes, passes)
def test_property_swapping_the_sides_turns_by_half_a_turn(one, two):
    pose = settled(one, two.but(meridian=two.meridian + 180.0))
    if pose is None:
        return
    other = settled(two, one.but(meridian=one.meridian + 180.0))
    assert [-other.x, -other.y, other.z] == pytest.approx([pose.x, pose.y, pose.z], abs=1e-6)
    assert other.tension == pytest.approx(pose.tension, rel=1e-5)


@few
@given(passes, passes)
def test_property_mirror_image_errors_give_mirror_image_poses(one, two):
    two = two.but(meridian=two.meridian + 180.0)
    pose = settled(one, two)
    if pose is None:
        return
    mirrored = [f.but(meridian=-f.meridian, clockwise=False) for f in (one, two)]
    other = settled(*mirrored, lens=LENS.but(loops="clockwise"))
    assert [other.x, -other.y, other.z] == pytest.approx([pose.x, pose.y, pose.z], abs=1e-6)
    assert other.tilt == pytest.approx(pose.tilt, abs=1e-5)


@few
@given(passes, passes, st.floats(0.5, 5.0))
def test_property_the_pose_does_not_depend_on_youngs_modulus_and_pull_is_proportional(one, two, modulus):
    two = two.but(meridian=two.meridian + 180.0)
    pose = settled(one, two)
    if pose is None:
        return
    other = settled(one, two, lens=LENS.but(youngs_modulus=modulus))
    assert (other.x, other.y, other.z, other.tilt) == (pose.x, pose.y, pose.z, pose.tilt)
    assert other.tension == pytest.approx(pose.tension * modulus / LENS.youngs_modulus, rel=1e-12)


@few
@given(passes, passes)
def test_property_forces_and_moments_balance_and_ends_are_held(one, two):
    two = two.but(meridian=two.meridian + 180.0)
    pose = settled(one, two)
    if pose is None:
        return
    force, moment = np.zeros(3), np.zeros(3)
    turn, centre = pose.rotation, np.array([pose.x, pose.y, pose.z])
    for k, root in enumerate(LENS.roots()):
        wrench = (1.0 - 2.0 * k) * pose.wrench
        end = follow(root, wrench, pose.free_length[k], 1 / LENS.loop_radius, 0.0, LENS.poisson_ratio)[-1]
        at_root = wrench[3:] - np.cross(root[:3], wrench[:3])
        force += wrench[:3]
        moment += at_root + np.cross(root[:3], wrench[:3])
        # followed from the root alone, a taut rod magnifies the rounding of its method along its length
        room = 1e-5 * np.exp(np.sqrt(np.linalg.norm(wrench[:3])) * pose.free_length[k])
        assert turn @ end[:3] + centre == pytest.approx(pose.passages[k].inner, abs=room)
        assert (turn @ end[6:]) @ pose.passages[k].held > 0.9
        assert np.cross(turn @ end[6:], pose.passages[k].held) == pytest.approx(np.zeros(3), abs=room)
        assert (wrench[3:] - np.cross(end[:3], wrench[:3])) @ end[6:] == pytest.approx(0.0, abs=4 * room)
    assert np.abs(force).max() < 1e-12
    assert np.abs(moment).max() < 1e-12


def test_property_arrays_give_what_single_cases_give():
    rng = np.random.default_rng(5)
    turns, dips = rng.normal(0, 6, 60), rng.normal(5, 5, 60)
    many = es.settle(EYE, LENS, plan(meridian=turns), plan(meridian=180.0, iris_angle=dips))
    for i in range(0, 60, 7):
        one = es.settle(EYE, LENS, plan(meridian=turns[i]), plan(meridian=180.0, iris_angle=dips[i]))
        assert [many.x[i], many.y[i], many.z[i]] == pytest.approx([one.x, one.y, one.z], abs=1e-6)
        assert many.tension[i] == pytest.approx(one.tension, rel=1e-5)


def test_property_shapes_broadcast_as_in_numpy():
    eye = es.Eye(white_to_white=np.array([11.4, 11.8, 12.2])[:, None])
    pose = es.settle(eye, LENS, plan(meridian=np.array([0.0, 5.0])), plan(meridian=180.0))
    assert pose.shape == pose.x.shape == pose.settled.shape == (3, 2)
    assert pose.tension.shape == pose.free_length.shape == (3, 2, 2)
    assert pose.rotation.shape == (3, 2, 3, 3)


def test_property_a_case_does_not_depend_on_its_company():
    rng = np.random.default_rng(6)
    turns = rng.normal(0, 6, 3000)
    pilot = es.settle(EYE, LENS, plan(), plan(meridian=180.0))
    whole = es.settle(EYE, LENS, plan(meridian=turns), plan(meridian=180.0), pilot=pilot)
    for part in (slice(0, 7), slice(11, 1500), slice(1500, 3000)):
        some = es.settle(EYE, LENS, plan(meridian=turns[part]), plan(meridian=180.0), pilot=pilot)
        assert np.array_equal(some.x, whole.x[part])
        assert np.array_equal(some.tension, whole.tension[part])


def test_a_mark_error_moves_across_and_drawing_through_moves_along_the_line_of_the_openings():
    base = es.settle(EYE, LENS, plan(), plan(meridian=180.0))
    line = (base.passages[0].inner - base.passages[1].inner)[:2]
    line /= np.hypot(*line)
    marked = es.settle(EYE, LENS, plan(meridian=10.0), plan(meridian=180.0))
    drawn = es.settle(EYE, LENS, plan(outside=1.2), plan(meridian=180.0))
    for pose, along in ((marked, False), (drawn, True)):
        part = abs(np.array([pose.x, pose.y]) @ line) / pose.decentration
        assert (part > 0.95) if along else (part < 0.45)
    assert np.array([drawn.x, drawn.y]) @ line > 0  # towards the side that was drawn


@pytest.mark.slow
def test_hundred_thousand_draws_around_realistic_plans_none_lost_none_unconverged():
    rng = np.random.default_rng(2)
    n = 50_000
    seen = {}
    for straight in (False, True):

        def draw(meridian, straight=straight):
            length = None if straight else np.clip(rng.normal(2.0, 0.3, n), 0.1, None)
            return es.Fixation(
                meridian=rng.normal(meridian, 4, n), limbus_distance=np.clip(rng.normal(2, 0.3, n), 0.3, None),
                limbus_angle=rng.normal(20, 5, n), iris_angle=rng.normal(10 if straight else 5, 4, n),
                tunnel_length=length, outside=np.clip(rng.normal(0.8, 0.2, n), 0, None), exit_swing=rng.normal(0, 4, n),
            )  # fmt: skip

        eye = es.Eye(white_to_white=rng.normal(11.8, 0.42, n), scleral_radius=np.clip(rng.normal(13, 1, n), 10.5, None))
        pose = es.settle(eye, LENS, draw(0.0), draw(180.0))
        for reason, count in zip(*np.unique(pose.reason, return_counts=True), strict=True):
            seen[str(reason)] = seen.get(str(reason), 0) + int(count)
        ok = pose.settled
        assert np.all(np.isfinite(pose.x[ok]))
        assert np.all(np.isfinite(pose.tension[ok]))
        assert np.nanmax(pose.residual) < 1e-4
    assert sum(seen.values()) == 2 * n
    assert set(seen) <= {"", "haptic cannot reach", "needle never enters the eye"}
    assert seen[""] > n


@pytest.mark.slow
def test_one_stride_and_many_lead_to_the_same_rest():
    """How sure the method is of its branch: the quick way from a pilot against load stepping from no stress."""
    rng = np.random.default_rng(3)
    n = 400
    first = es.Fixation(
        meridian=rng.normal(0, 8, n), limbus_angle=rng.normal(20, 8, n), iris_angle=rng.normal(5, 8, n),
        tunnel_length=rng.uniform(1.0, 2.6, n), outside=rng.uniform(0.2, 1.2, n), exit_swing=rng.normal(0, 8, n),
    )  # fmt: skip
    many = es.settle(EYE, LENS, first, es.Fixation(meridian=180.0))
    for i in range(n):
        alone = es.settle(EYE, LENS, first.but(**{
            name: float(getattr(first, name)[i])
            for name in ("meridian", "limbus_angle", "iris_angle", "tunnel_length", "outside", "exit_swing")
        }), es.Fixation(meridian=180.0), on_failure="flag")  # fmt: skip
        assert alone.code == many.code[i]
        if alone.settled:
            assert [many.x[i], many.y[i], many.z[i]] == pytest.approx([alone.x, alone.y, alone.z], abs=3e-6)
