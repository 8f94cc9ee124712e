"""Hands and tools: what each error does to the pass, in the eye's own geometry."""

import math
import pickle

import numpy as np
import pytest
from bent_needle import needle_deflection
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import eyesim as es
from eyesim.eye.sources import fact
from eyesim.study import error_model as room
from eyesim.study import instruments
from eyesim.study.attempt import attempt
from eyesim.study.error_model import normal_deviates
from eyesim.study.random_numbers import numbers

PLAN = es.Fixation(), es.Fixation(meridian=180)
PERFECT = es.Hands.perfect()


def tried(hands, n=2000, eye=None, plan=PLAN, lens=None, seed=3):
    uniform = numbers(0, n, len(room.columns()), seed)
    return attempt(hands, eye or es.Eye(), lens or es.Lens(), plan, uniform)


def only(**errors):
    return PERFECT.but(**errors)


def test_defaults_come_from_the_table_of_hands():
    usual = es.Hands()
    assert usual.meridian.spread == fact("hands", "meridian").spread
    assert usual.meridian.shared == fact("hands", "meridian_shared").spread
    assert usual.iris_angle.spreads == (
        fact("hands", "iris_angle").spread,
        fact("hands", "iris_angle_second").spread,
    )
    assert usual.track == fact("hands", "track").value
    assert repr(usual) == "Hands()"


def test_default_spreads_lie_in_their_plausible_range():
    for name in room.ERRORS:
        row = fact("hands", "marker" if name.startswith("marker") else name)
        for spread in getattr(es.Hands(), name).spreads:
            assert spread == 0 or row.low <= spread <= max(row.high, 7)


def test_table_says_where_every_default_comes_from():
    table = es.Hands(outside=es.Error(spread=0.1)).table().set_index("quantity")
    assert set(table.loc[:, "kind"]) == {"measured", "assumption", "your own"}
    assert (table.loc[table["kind"] != "your own", "source"] != "").all()
    assert table.loc["outside", "kind"] == "your own"
    assert table.loc["iris_angle", "unit"] == "deg"


def test_the_free_hand_needle_is_called_an_assumption():
    table = es.Hands().table().set_index("quantity")
    for name in ("iris_angle", "limbus_angle", "exit_angle", "tunnel_length"):
        assert table.loc[name, "kind"] == "assumption"


def test_perfect_hands_do_what_was_planned():
    achieved, limited = tried(PERFECT)
    assert limited == {}
    for got, wanted in zip(achieved, PLAN, strict=True):
        for name in wanted.__dataclass_fields__:
            assert np.all(np.asarray(getattr(got, name) == getattr(wanted, name)))


def test_spread_bias_and_shared_part_come_out_as_given():
    error = es.Error(bias=(1.0, -2.0), spread=(3.0, 0.5), shared=1.5)
    (one, two), _ = tried(only(limbus_angle=error), n=40_000)
    a, b = one.limbus_angle - 20.0, two.limbus_angle - 20.0
    assert (a.mean(), b.mean()) == pytest.approx((1.0, -2.0), abs=0.07)
    assert a.std() == pytest.approx(math.hypot(3.0, 1.5), rel=0.015)
    assert b.std() == pytest.approx(math.hypot(0.5, 1.5), rel=0.015)
    assert np.cov(a, b)[0, 1] == pytest.approx(1.5**2, rel=0.06)


def test_normal_errors_are_cut_at_four_standard_deviations():
    u = np.array([2.0**-53, 0.5, 1 - 2.0**-53])
    assert normal_deviates(u) == pytest.approx([-4, 0, 4], abs=1e-9)
    # the inverse distribution of a normal cut at four SD
    u = np.linspace(0.001, 0.999, 99)
    assert normal_deviates(u) == pytest.approx(stats.truncnorm(-4, 4).ppf(u), abs=1e-9)


def test_scaling_halves_spreads_and_keeps_biases_and_play():
    hands = es.Hands(outside=es.Error(bias=0.2, spread=(0.1, 0.3), shared=0.4))
    half = hands.scale(0.5)
    assert half.outside == es.Error(bias=0.2, spread=(0.05, 0.15), shared=0.2)
    assert half.meridian.spread == hands.meridian.spread / 2
    assert half.track == hands.track
    one = hands.scale(0.5, "iris_angle")
    assert one.iris_angle == hands.iris_angle.scale(0.5)
    assert one.but(iris_angle=hands.iris_angle) == hands
    assert hands.scale(0.5, "marker").marker_y.spread == hands.marker_y.spread / 2


def test_without_takes_an_error_away_and_leaves_the_draws_of_all_others():
    (one, two), _ = tried(es.Hands())
    (less, lesser), _ = tried(es.Hands().without("iris_angle", "needle_bend"))
    assert less.iris_angle == 5.0
    np.testing.assert_array_equal(less.meridian, one.meridian)
    np.testing.assert_array_equal(lesser.outside, two.outside)
    assert es.Hands().without("play").track is None
    assert es.Hands().without("mark_moved", "marker").marker_x.none


def test_swapped_hands_have_the_worse_pass_on_the_other_side():
    hands = es.Hands(wall=es.Error(bias=(0.1, -0.1)))
    assert hands.swap().iris_angle.spreads == hands.iris_angle.spreads[::-1]
    assert hands.swap().wall.biases == (-0.1, 0.1)
    assert hands.swap().swap() == hands


def test_hands_are_values():
    hands = es.Hands(track=0.42)
    assert repr(hands) == "Hands(track=0.42)"
    assert repr(PERFECT) == "Hands.perfect()"
    assert repr(es.Error(spread=(4, 5), shared=1)) == "Error(spread=(4, 5), shared=1)"
    assert pickle.loads(pickle.dumps(hands)) == hands
    assert hash(es.Hands()) == hash(es.Hands())
    with pytest.raises(es.LearnerError, match="not changed in place"):
        hands.track = 1.0
    with pytest.raises(es.LearnerError, match="not changed in place"):
        del hands.track


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: es.Hands(iris_angel=es.Error()), "iris_angle"),
        (lambda: es.Hands(iris_angle=4.0), r"es\.Error"),
        (lambda: es.Hands(iris_angle=es.Error(spread=80)), "up to 45 deg"),
        (lambda: es.Hands(marker_x=es.Error(bias=(0.1, 0.2))), "no pairs"),
        (lambda: es.Hands(closure=1.5), "0 to 1"),
        (lambda: es.Hands(track=[0.3, 0.4]), "one number"),
        (lambda: es.Error(spread=-1), "Error.spread"),
        (lambda: es.Error(bias=math.nan), "not a finite number"),
        (lambda: es.Error(bias=(1, 2, 3)), "pair"),
        (lambda: es.Error(shared=(1, 2)), "one number"),
        (lambda: es.Error(spread="4"), "Error.spread"),
        (lambda: es.Hands().without("iris"), "iris_angle"),
        (lambda: es.Hands().scale(-1), "factor"),
        (lambda: es.Hands().scale(0.5, "play"), "no field 'play'"),
    ],
)
def test_wrong_hands_are_answered_in_words(make, words):
    with pytest.raises(es.LearnerError, match=words):
        make()


def test_needle_bend_agrees_with_the_tube_beam():
    # Euler-Bernoulli, slope F L^2 / (2 E I): 50 mN at 12 mm bends a 30-gauge thin-wall some 2.7 deg,
    # a 27-gauge 0.8 and a 26-gauge 0.5; middle of the ISO 9626 bands, bores from the table
    bands = {
        "30G": (0.309, "extra_thin", 2.7, 0.05),
        "27G": (0.410, "thin", 0.8, 0.05),
        "26G": (0.4636, "regular", 0.5, 0.05),
    }
    for gauge, (outer, wall, slope, digits) in bands.items():
        bore = fact("needles", f"{gauge}_bore_{wall}").value
        assert needle_deflection(outer, bore, 12.0, 50.0) == pytest.approx(slope, abs=digits)
    # by hand, a solid rod: I = pi d^4 / 64 = 4.909e-6 mm^4 at d 0.1; 1e-3 N 10^2 / (2 2e5 I) = 0.0509 rad
    assert needle_deflection(0.1, 0.0, 10.0, 1.0) == pytest.approx(math.degrees(0.050930), rel=1e-4)


def test_needle_bend_grows_with_load_and_length():
    assert needle_deflection(0.31, 0.16, 12, [10, 20, 40]) == pytest.approx(
        needle_deflection(0.31, 0.16, 12, 10) * np.array([1, 2, 4])
    )
    ratio = needle_deflection(0.31, 0.16, 24, 10) / needle_deflection(0.31, 0.16, 12, 10)
    assert ratio == pytest.approx(4)


def test_play_of_a_needle_track():
    # atan(clearance / length): about 4.6 deg for a 30-gauge and 7.4 for a 27-gauge track over 2 mm, twice at 1 mm
    thin, wide = fact("needles", "30G_outer").value, fact("needles", "27G_outer").value
    assert instruments.play_limit(thin, 0.15, 2.0) == pytest.approx(4.6, abs=0.05)
    assert instruments.play_limit(wide, 0.16, 2.0) == pytest.approx(7.4, abs=0.05)
    assert instruments.play_limit(thin, 0.15, 1.0) == pytest.approx(9.2, abs=0.1)
    assert instruments.play_limit(0.1, 0.15, 2.0) == 0.0
    assert instruments.play_limit(thin, 0.15, 2.0, closure=1.0) == 0.0


def directions(fixation):
    return -np.broadcast_to(es.needle_pass(es.Eye(), fixation).held, (len(fixation.exit_swing), 3))


@pytest.mark.parametrize("exit_angle", [None, 45.0, 89.0, 90.0, 110.0])
def test_play_fills_its_cone_evenly_whatever_the_turn(exit_angle):
    plan = tuple(one.but(exit_angle=exit_angle) for one in PLAN)
    (one, two), limited = tried(only(track=0.42, closure=0.0), n=20_000, plan=plan)
    assert limited == {}
    widest = instruments.play_limit(0.42, 0.15, 2.0)
    for got, wanted in ((one, plan[0]), (two, plan[1])):
        axis = -es.needle_pass(es.Eye(), wanted).held
        seen = directions(got) @ axis
        off = np.degrees(np.arccos(np.clip(seen, -1, 1)))
        assert off.max() <= widest + 1e-9
        # every direction of the cone alike: the cosine is uniform
        share = (1 - seen) / (1 - math.cos(math.radians(widest)))
        assert stats.kstest(share, "uniform").pvalue > 1e-4
        # and no side is preferred: the mean direction is the axis
        across = directions(got) - seen[:, None] * axis
        assert np.linalg.norm(across.mean(axis=0)) < 4 * across.std() / math.sqrt(20_000) * math.sqrt(3)


@given(st.floats(-60, 120), st.floats(0, 40), st.floats(0, 360))
def test_askew_turns_by_the_angle_it_is_told(dip, off, around):
    swing, after = instruments.askew(dip, off, around)
    b, s, d = math.radians(after), math.radians(float(swing)), math.radians(dip)
    new = np.array([math.cos(b) * math.cos(s), math.cos(b) * math.sin(s), math.sin(b)])
    old = np.array([math.cos(d), 0.0, math.sin(d)])
    assert math.degrees(math.atan2(np.linalg.norm(np.cross(new, old)), new @ old)) == pytest.approx(off, abs=1e-9)
    assert abs(swing) <= 90.0
    deeper = np.array([-math.sin(d), 0.0, math.cos(d)])
    assert new @ deeper == pytest.approx(math.sin(math.radians(off)) * math.cos(math.radians(around)), abs=1e-9)


EYES = [es.Eye(), es.Eye(white_to_white=11.2, white_to_white_vertical=10.6, scleral_radius=13.4)]


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("meridian", [0.0, 37.0, 90.0, 200.0])
def test_marker_off_centre_puts_the_opening_on_its_own_line(eye, meridian):
    """The outer opening lies on the marker's own line, at the chosen distance behind the limbus."""
    plan = es.Fixation(meridian=meridian), es.Fixation(meridian=meridian + 180.0)
    x, y = 0.6, -0.4
    hands = only(marker_x=es.Error(bias=x), marker_y=es.Error(bias=y))
    achieved, _ = tried(hands, n=1, eye=eye, plan=plan)
    for got, wanted in zip(achieved, plan, strict=True):
        place = es.needle_pass(eye, got).outer.reshape(3)[:2] - [x, y]
        phi = math.radians(wanted.meridian)
        assert math.sin(phi) * place[0] - math.cos(phi) * place[1] == pytest.approx(0.0, abs=1e-9)
        assert math.cos(phi) * place[0] + math.sin(phi) * place[1] > 0.0
        assert got.limbus_distance == 2.0


def test_a_marker_far_off_is_held_where_its_line_still_crosses_the_wall():
    small = es.Eye(white_to_white=9.0, scleral_radius=9.0)
    plan = tuple(one.but(limbus_distance=0.2) for one in PLAN)
    achieved, limited = tried(only(marker_y=es.Error(bias=1.5, spread=1.5, shared=1.5)), eye=small, plan=plan)
    assert limited.keys() == {"marker_y"}
    assert limited["marker_y"] > 100
    assert np.isfinite(achieved[0].meridian).all()


def test_marker_moved_along_its_line_changes_nothing_and_across_it_moves_both_marks_alike():
    along, _ = tried(only(marker_x=es.Error(bias=0.5)), n=1)
    assert along[0].meridian == pytest.approx(0.0, abs=1e-12)
    assert along[1].meridian == pytest.approx(180.0, abs=1e-12)
    across, _ = tried(only(marker_y=es.Error(bias=0.5)), n=1)
    radius = np.linalg.norm(es.needle_pass(es.Eye(), PLAN[0]).outer[:2])
    turn = math.degrees(math.asin(0.5 / radius))
    assert across[0].meridian == pytest.approx(turn)
    assert across[1].meridian == pytest.approx(180.0 - turn)


def test_a_mark_that_moved_lies_as_far_along_the_wall_as_it_moved():
    (one, two), _ = tried(only(mark_moved_along=es.Error(bias=0.3), mark_moved_across=es.Error(bias=(0.2, -0.2))), n=1)
    radius = np.linalg.norm(es.needle_pass(es.Eye(), PLAN[0]).outer[:2])
    assert math.radians(one.meridian) * radius == pytest.approx(0.3)
    assert math.radians(two.meridian - 180.0) * radius == pytest.approx(0.3)
    assert (one.limbus_distance, two.limbus_distance) == pytest.approx((2.2, 1.8))


def test_errors_that_cannot_matter_do_not_appear():
    (one, _), _ = tried(only(exit_angle=es.Error(spread=5), wall=es.Error(spread=0.05)))
    assert one.exit_angle is None
    assert one.wall is None
    straight = tuple(p.but(tunnel_length=None, iris_angle=12.0) for p in PLAN)
    (one, _), _ = tried(only(tunnel_length=es.Error(spread=0.3), wall=es.Error(spread=0.05)), plan=straight)
    assert one.tunnel_length is None
    assert np.std(one.wall) == pytest.approx(0.05, rel=0.05)
    assert np.mean(one.wall) == pytest.approx(0.5, abs=0.005)
    turned = tuple(p.but(exit_angle=40.0) for p in PLAN)
    (one, _), _ = tried(only(exit_angle=es.Error(bias=3.0)), n=1, plan=turned)
    assert one.exit_angle == 43.0


def test_a_bent_needle_goes_astray_to_all_sides_alike():
    (one, _), _ = tried(
        only(needle_bend=es.Error(spread=2.0)), n=20_000, plan=tuple(p.but(iris_angle=40.0) for p in PLAN)
    )
    aim = -es.needle_pass(es.Eye(), PLAN[0].but(iris_angle=40.0)).held
    astray = -es.needle_pass(es.Eye(), one).held
    across = np.degrees(np.linalg.norm(astray - aim, axis=1))
    down = np.std(one.iris_angle)
    assert down == pytest.approx(2.0, rel=0.03)
    assert np.mean(across**2) == pytest.approx(2 * 2.0**2, rel=0.05)


def test_what_leaves_the_sensible_range_is_held_and_counted():
    plan = PLAN[0].but(outside=0.1), PLAN[1].but(meridian=1079.9, outside=3.0)
    (one, two), limited = tried(only(outside=es.Error(spread=0.3), meridian=es.Error(spread=3.0)), plan=plan)
    assert limited.keys() == {"first.outside"}
    assert limited["first.outside"] == int(np.sum(one.outside == 0.0)) > 100
    assert two.meridian.min() < 730.0  # a full turn back, not held


def test_columns_of_chance_have_a_fixed_order():
    names = room.columns()
    assert len(set(names)) == len(names)
    assert names[:3] == ("meridian.first", "meridian.second", "meridian.shared")
    assert names.index("iris_angle.second") == 10
    assert names[-4:] == ("play.first", "play_side.first", "play.second", "play_side.second")
