"""Virtual operations: nothing is lost, chance can be repeated, and the cloud has the right symmetry."""

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

import eyesim as es
from eyesim.eye.sources import data_folder, fact
from eyesim.study import compare_published
from eyesim.study.plan import read_plan

EYE, LENS, FIRST, SECOND = es.Eye(), es.Lens(), es.Fixation(), es.Fixation(meridian=180)
STRAIGHT = es.Fixation(iris_angle=10.0, tunnel_length=None)
PERFECT = es.Hands.perfect()


def cloud(hands=None, n=2000, eye=EYE, first=FIRST, second=SECOND, **more):
    return es.operate(eye, LENS, first, second, hands or es.Hands(), n, progress=False, **more)


@pytest.fixture(scope="module")
def usual():
    return cloud(n=4000)


def test_every_case_is_settled_or_flagged_and_counts_add_up():
    for first in (FIRST, STRAIGHT):
        got = cloud(first=first, second=first.opposite())
        assert sum(got.counts().values()) == got.n == 2000
        assert "not converged" not in got.counts()
        assert np.isfinite(got.pose.tilt[got.pose.settled]).all()
        assert np.isnan(got.pose.tilt[~got.pose.settled]).all()
        assert ((got.pose.reason == "") == got.pose.settled).all()
        assert got.share(None, None).value == got.settled_share.value == got.pose.settled.mean()


def test_perfect_hands_give_the_pose_of_the_plan():
    plan = FIRST, SECOND.but(meridian=172.0, iris_angle=9.0)
    pose = es.settle(EYE, LENS, *plan)
    got = cloud(PERFECT, n=5, second=plan[1])
    for name in ("x", "y", "z", "tilt", "roll"):
        assert getattr(got.pose, name) == pytest.approx(getattr(pose, name), abs=1e-7)
    assert got.pose.tension[:, 1] == pytest.approx(pose.tension[1], rel=1e-5)
    assert got.share().value == float(pose.decentration < 0.4 and pose.tilt < 5.0)


def test_each_case_is_what_settle_says_of_what_was_achieved(usual):
    for i in (0, 7, 3999):
        alone = usual.case(i)
        for name in ("x", "y", "z", "tilt"):
            assert getattr(alone, name) == pytest.approx(getattr(usual.pose, name)[i], abs=1e-5)
    np.testing.assert_allclose(usual.pose.passages[0].tunnel_length, usual.first.tunnel_length)


@pytest.mark.slow
@pytest.mark.parametrize("draws", ["random", "sobol"])
@pytest.mark.parametrize("eye", [EYE, es.Population()])
def test_same_seed_same_numbers_bit_by_bit_however_the_work_is_cut(draws, eye):
    whole = cloud(n=700, eye=eye, rng=5, draws=draws)
    for block in (1, 37, 699):
        cut = cloud(n=700 if block > 1 else 60, eye=eye, rng=5, draws=draws, block=block)
        for name in ("x", "y", "z", "tilt", "tilt_meridian", "roll", "code"):
            np.testing.assert_array_equal(getattr(cut.pose, name), getattr(whole.pose, name)[: cut.n])
        np.testing.assert_array_equal(cut.first.exit_swing, whole.first.exit_swing[: cut.n])
    other = cloud(n=60, eye=eye, rng=6, draws=draws)
    assert not np.array_equal(other.pose.x, whole.pose.x[:60])


def test_cut_does_not_show_where_the_plan_itself_cannot_settle():
    never = es.Fixation(iris_angle=5.0, tunnel_length=None)  # straight and too shallow: stays in the wall
    whole = cloud(n=300, first=never, second=never.opposite())
    cut = cloud(n=300, first=never, second=never.opposite(), block=11)
    assert 0 < whole.counts()["needle never enters the eye"] < 300
    np.testing.assert_array_equal(cut.pose.x, whole.pose.x)


def test_a_plan_that_nobody_can_carry_out_is_told_in_counts():
    far = FIRST.but(outside=5.5)
    got = cloud(PERFECT, n=10, first=far, second=far.opposite())
    assert got.counts() == {"haptic cannot reach": 10}
    assert got.share().value == 0.0
    assert "Too few settled" in repr(got.summary())
    for call in (got.mean, got.spread):
        with pytest.raises(es.LearnerError, match="too few"):
            call("tilt")
    with pytest.raises(es.LearnerError, match="cannot reach"):
        got.case(0)


def test_generators_give_new_operations_and_seeds_the_same():
    rng = np.random.default_rng(3)
    one, two = cloud(n=30, rng=rng), cloud(n=30, rng=rng)
    assert not np.array_equal(one.pose.x, two.pose.x)
    np.testing.assert_array_equal(cloud(n=30, rng=np.random.default_rng(3)).pose.x, one.pose.x)


def test_an_error_of_both_marks_together_only_rolls_the_lens():
    got = cloud(PERFECT.but(meridian=es.Error(shared=4.0)), n=300)
    calm = es.settle(EYE, LENS, FIRST, SECOND)
    assert got.pose.decentration.max() < 1e-6
    assert got.pose.tilt.max() < 1e-5
    assert got.pose.z == pytest.approx(calm.z, abs=1e-7)
    turned = np.mod(got.pose.roll - calm.roll - got.first.meridian + 180.0, 360.0) - 180.0
    assert np.abs(turned).max() < 1e-5


def test_one_mark_off_decentres_across_and_does_not_tilt():
    # design figure: one mark 10 degrees off is about 0.54 mm and almost no tilt
    got = cloud(PERFECT.but(meridian=es.Error(bias=(10.0, 0.0))), n=1)
    assert got.pose.decentration[0] == pytest.approx(0.54, abs=0.03)
    assert got.pose.tilt[0] < 0.4


def test_a_marker_across_the_line_decentres_and_along_it_does_not():
    across = cloud(PERFECT.but(marker_y=es.Error(bias=0.5)), n=1)
    along = cloud(PERFECT.but(marker_x=es.Error(bias=0.5)), n=1)
    assert across.pose.decentration[0] == pytest.approx(0.43, abs=0.04)  # design figure 0.43 mm
    assert along.pose.decentration[0] < 1e-6


def test_dip_tilts_and_marks_decentre():
    dip = cloud(PERFECT.but(iris_angle=es.Error(spread=4.0)))
    marks = cloud(PERFECT.but(meridian=es.Error(spread=3.0)))
    assert dip.mean("tilt").value > 5 * marks.mean("tilt").value
    assert marks.mean("decentration").value > 3 * dip.mean("decentration").value


def test_hands_changed_over_give_the_cloud_turned_by_half_a_turn():
    """The plan looks alike from both sides, so swapping the sides turns the cloud: x and y change sign."""
    hands = es.Hands(limbus_distance=es.Error(bias=(0.3, 0.0), spread=0.2), iris_angle=es.Error(spread=(1.0, 6.0)))
    one, two = cloud(hands, rng=1), cloud(hands.swap(), rng=2)
    a, b = (np.stack([o.pose.x, o.pose.y])[:, o.pose.settled] for o in (one, two))
    assert abs(a.mean(axis=1)).max() > 0.03  # there is something to turn
    for k in range(2):
        assert stats.ks_2samp(a[k], -b[k]).pvalue > 1e-4
    assert stats.ks_2samp(one.settled_values("tilt"), two.settled_values("tilt")).pvalue > 1e-4


def test_mirrored_plan_and_hands_give_the_mirror_image_statistically():
    """In a mirror that swaps right and left, the loops open and the needles run the other way."""
    distance = es.Error(bias=(0.3, 0.0), spread=0.2)
    hands = es.Hands(limbus_distance=distance, meridian=es.Error(bias=(3.0, 1.0), spread=2.0))
    mirrored = hands.swap().but(meridian=es.Error(bias=(-1.0, -3.0), spread=2.0))
    one = cloud(hands, rng=1)
    two = es.operate(
        EYE, LENS.but(loops="clockwise"), FIRST.but(clockwise=False), SECOND.but(clockwise=False), mirrored, 2000, 2,
        progress=False,
    )  # fmt: skip
    a, b = (np.stack([o.pose.x, o.pose.y])[:, o.pose.settled] for o in (one, two))
    assert abs(a.mean(axis=1)).max() > 0.03
    assert stats.ks_2samp(a[0], -b[0]).pvalue > 1e-4
    assert stats.ks_2samp(a[1], b[1]).pvalue > 1e-4


def test_steadier_hands_do_better(usual):
    half = cloud(es.Hands().scale(0.5), n=4000)
    assert half.share().low > usual.share().high
    assert half.mean("decentration").high < usual.mean("decentration").low
    assert half.spread("tilt").high < usual.spread("tilt").low


def test_sobol_points_agree_with_random_ones_and_are_surer(usual):
    even = cloud(n=4000, draws="sobol")
    for what in ("decentration", "tilt", "depth"):
        one, two = usual.mean(what), even.mean(what)
        gap = math.hypot(one.high - one.value, two.high - two.value)
        assert abs(one.value - two.value) < 1.6 * gap  # some three standard errors
        assert "randomisations" in two.how
    assert even.mean("depth").high - even.mean("depth").low < usual.mean("depth").high - usual.mean("depth").low
    assert "wider than need be" in even.share().how


def test_intervals_of_the_mean_cover_what_a_long_run_says(usual):
    """Thirty short runs: the long run's mean lies in at least 25 intervals (fewer: 1 time in 300)."""
    truth = usual.mean("tilt").value
    hits = 0
    for seed in range(30):
        got = cloud(n=100, rng=100 + seed).mean("tilt")
        hits += got.low <= truth <= got.high
    assert hits >= 25


def test_populations_vary_and_are_kept(usual):
    got = cloud(n=500, eye=es.Population())
    assert got.eye.shape == (500,)
    assert np.std(got.eye.white_to_white) == pytest.approx(0.42, rel=0.15)
    assert np.corrcoef(got.eye.white_to_white, got.eye.corneal_radius)[0, 1] == pytest.approx(0.422, abs=0.13)
    frame = got.frame()
    assert len(frame) == 500
    assert "eye_axial_length" in frame
    assert frame.attrs["units"]["eye_axial_length"] == "mm"
    assert got.case(2).settled


def test_frame_holds_every_case_with_units(usual):
    frame = usual.frame()
    assert len(frame) == usual.n
    assert frame["settled"].sum() == usual.counts()["settled"]
    assert frame.attrs["units"]["tilt"] == "deg"
    assert frame.attrs["units"]["tension"] == "mN"
    assert frame["second_iris_angle"].std() == pytest.approx(math.hypot(5.0, 1.2), rel=0.05)
    assert set(frame["reason"].unique()) <= {"", "haptic cannot reach", "haptic snaps to another shape"}


def test_summary_speaks_in_order_with_intervals(usual):
    lines = repr(usual.summary()).splitlines()
    starts = [
        "4000 operations",
        "Settled",
        "Within tolerance",
        "Power of the lens",
        "Refraction meant",
        "Within 0.5 D",
        "More than 0.5 D of cylinder",
        "Off centre",
        "Tilted",
        "Behind the limbal",
        "Pull",
        "Refraction surprise",
        "Anterior chamber",
    ]
    assert lines.pop(7) == "What follows is of those that settled."
    assert [line.startswith(start) for line, start in zip(lines, starts, strict=True)] == [True] * 13
    assert all("[" in line for line in lines[1:] if not line.startswith(("Refraction meant", "Power")))
    assert "within 0.4 mm and 5 deg" in repr(usual)
    with pytest.raises(es.LearnerError, match="tolerance"):
        usual.summary(decentration=-1.0)
    with pytest.raises(es.LearnerError, match="one number"):
        usual.share(tilt=[3.0, 5.0])


def test_limits_that_a_share_does_not_know_are_answered_with_those_it_knows(usual):
    for ask in (usual.share, usual.within, usual.summary):
        with pytest.raises(es.LearnerError, match=r"no limit 'surprise'.*decentration= .*by refraction="):
            ask(surprise=0.5)
    with pytest.raises(es.LearnerError, match="cylinder_share"):
        usual.share(cylinder=0.5)
    with pytest.raises(es.LearnerError, match=r"no limit 'tilts'.*tilt="):
        usual.share(tilts=3.0)


def test_one_operation_is_one_and_few_are_counted():
    assert repr(cloud(n=1).summary()).startswith("1 operation, same plan")
    words = repr(cloud(n=1).summary())
    assert "Too few settled to say where the lens lies: 1, and 4 are needed." in words
    assert "SD" not in words


def test_published_series_stand_beside_the_model_and_say_what_they_are(usual):
    both = compare_published(usual)
    tilt = both.of("tilt")
    assert tilt[0].interval.value == usual.mean("tilt").value
    assert "simulated" in repr(both)
    assert "Not a validation" in repr(both)
    assert {row.kind for row in tilt} == {"simulated", "measured", "from memory"}
    # an axis 5 degrees off makes the mean tilt look larger
    assert tilt[1].mean > tilt[0].mean
    frame = both.frame()
    assert len(frame) == len(both.rows)
    assert frame.loc[frame["kind"] == "measured", "source"].str.len().min() > 5
    with pytest.raises(es.LearnerError, match="operate"):
        compare_published(None)


def test_a_lens_with_perfect_hands_read_against_an_axis_off_shows_that_angle():
    row = compare_published(cloud(PERFECT, n=4)).of("tilt")[1]
    assert row.mean == pytest.approx(5.0, abs=1e-4)


def test_a_bar_is_shown_on_the_error_stream_only_when_asked_or_long(capsys):
    cloud(n=50, block=10)
    assert capsys.readouterr() == ("", "")
    es.operate(EYE, LENS, FIRST, SECOND, es.Hands(), 50, progress=True, block=10)
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "operations" in shown.err


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"eye": None}, "Eye or a Population"),
        ({"eye": es.Eye(white_to_white=[11.0, 12.0])}, "single one"),
        ({"lens": es.Eye()}, "a Lens"),
        ({"first": es.Fixation(meridian=[0.0, 1.0])}, "single one"),
        ({"second": 180}, "a Fixation"),
        ({"hands": None}, "Hands"),
        ({"hands": es.Error()}, "Hands"),
        ({"n": 0}, "n is a whole number"),
        ({"n": 10.0}, "n is a whole number"),
        ({"n": True}, "n is a whole number"),
        ({"n": 10**9}, "n is a whole number"),
        ({"rng": None}, "rng is a seed"),
        ({"rng": -3}, "rng is a seed"),
        ({"draws": "halton"}, "'random' or 'sobol'"),
        ({"draws": ["random"]}, "'random' or 'sobol'"),
        ({"block": 0}, "block is a whole number"),
        ({"pupil": 0.0}, "beam at the cornea"),
        ({"pupil": None}, "beam at the cornea"),
        ({"pupil": [3.0, 4.0]}, "pupil is one number"),
        ({"target": "sharp"}, "refraction that is meant"),
        ({"target": 40.0}, "-12 to 12 D"),
        ({"target": [0.0, 1.0]}, "target is one number"),
        ({"power": 19.0}, "'each' .* or 'given' .*with_power"),
        ({"power": "own"}, "'each'"),
        ({"power": ["each"]}, "'each'"),
    ],
)
def test_wrong_calls_are_answered_in_words(change, words):
    call = {"eye": EYE, "lens": LENS, "first": FIRST, "second": SECOND, "hands": PERFECT, "n": 5} | change
    with pytest.raises(es.LearnerError, match=words):
        es.operate(**call)


JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-(2**70), 2**70), st.floats(), st.text(max_size=5), st.binary(max_size=3),
    st.lists(st.one_of(st.floats(), st.text(max_size=2), st.none()), max_size=3), st.complex_numbers(),
    st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)), st.just(np.array([1.0, np.nan])),
    st.dictionaries(st.text(max_size=3), st.floats(), max_size=2), st.just(object()), st.floats(-10, 10),
)  # fmt: skip
NAMES = st.sampled_from([*es.Hands.__slots__, "iris_angel", ""])


@pytest.mark.slow
@settings(max_examples=700)
@given(NAMES, JUNK, JUNK, JUNK)
def test_junk_never_makes_hands_that_fail_later(name, a, b, c):
    for make in (
        lambda: es.Hands(**{name: a}),
        lambda: es.Hands(**{name: es.Error(a, b, c)}),
        lambda: es.Hands.perfect().but(**{name: es.Error(spread=a)}),
        lambda: es.Hands().scale(a, b),
        lambda: es.Hands().without(a),
    ):
        with contextlib.suppress(es.LearnerError):
            hands = make()
            assert repr(hands).startswith("Hands")
            assert hands == hands.but()


@settings(max_examples=300)
@given(JUNK, JUNK, JUNK, JUNK)
def test_junk_is_refused_by_operate_and_population(a, b, c, d):
    for call in (
        lambda: es.operate(EYE, LENS, FIRST, SECOND, PERFECT, a, b, c, False, block=d),
        lambda: es.operate(a, b, c, d, PERFECT, 1),
        lambda: es.operate(EYE, LENS, FIRST, SECOND, PERFECT, 1, pupil=a, target=b, power=c),
        lambda: es.Population(a, b, c),
        lambda: es.Population({"axial_length": a}),
        lambda: es.Population(
            {"axial_length": (23.0, 1.0), "iris_depth": (3.0, 0.4)}, {("axial_length", "iris_depth"): b}
        ),
        lambda: es.Population.from_csv(a),
        lambda: read_plan(a),
    ):
        if isinstance(a, (int, np.integer)) and a > 1000:
            continue  # a sensible number of operations, only long
        with contextlib.suppress(es.LearnerError):
            call()


HARSH = st.builds(es.Error, st.floats(-1.5, 1.5), st.floats(0, 1.5), st.floats(0, 1.5))
LENGTHS = st.sampled_from(["limbus_distance", "tunnel_length", "outside", "marker_y", "mark_moved_along"])
ANGLES = st.sampled_from(["meridian", "iris_angle", "limbus_angle", "exit_angle", "needle_bend"])


@settings(max_examples=25)
@given(
    st.dictionaries(LENGTHS, HARSH), st.dictionaries(ANGLES, HARSH),
    st.sampled_from([None, 2.0]), st.sampled_from([None, 45.0, 90.0]), st.integers(0, 99),
)  # fmt: skip
def test_the_clumsiest_hands_lose_no_case(lengths, angles, tunnel, turn, seed):
    wild = {name: es.Error(10 * e.bias, 10 * e.spread, 10 * e.shared) for name, e in angles.items()}
    plan = es.Fixation(iris_angle=10.0, tunnel_length=tunnel, exit_angle=turn)
    got = cloud(es.Hands(**lengths, **wild), n=30, first=plan, second=plan.opposite(), rng=seed)
    assert sum(got.counts().values()) == 30
    assert np.isfinite(got.pose.x[got.pose.settled]).all()
    assert all(0 < count <= 30 for count in got.limited.values())


def test_population_of_ones_own_and_its_mean_eye():
    long = es.Population({"axial_length": (27.0, 1.0), "white_to_white": (11.9, 0.3)}, {}, es.Eye(scleral_radius=13.0))
    eyes = long.draw(np.random.default_rng(1).random((4000, 2)))
    assert eyes.scleral_radius == 13.0
    assert np.mean(eyes.axial_length) == pytest.approx(27.0, abs=0.06)
    assert abs(np.corrcoef(eyes.axial_length, eyes.white_to_white)[0, 1]) < 0.06
    assert long.mean_eye().axial_length == 27.0
    assert "length of the eye from the corneal vertex 27 mm (SD 1)" in repr(long)
    assert "axial_length" not in repr(long)


def test_population_is_truncated_to_eyes_that_can_be():
    flat = es.Population({"axial_length": (18.0, 3.0)}, {})
    got = flat.draw(np.random.default_rng(1).random((20_000, 1))).axial_length
    # reference: the truncated normal
    exact = stats.truncnorm((17.0 - 18.0) / 3.0, (38.0 - 18.0) / 3.0, 18.0, 3.0)
    assert got.min() >= 17.0
    assert got.mean() == pytest.approx(exact.mean(), abs=0.06)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("eye,axial_lenght\n1,23\n", "axial_length"),
        ("eye,axial_length\n1,230\n", "line 2.*axial_length"),
        ("eye,axial_length\n1,23\n2,\n", "line 3, column axial_length: it is empty"),
        ("eye,axial_length\n1,23,4\n", "line 2: 3 cells"),
        ("eye,axial_length\n", "no eyes"),
        ("eye,age\n1,70\n", "no column of biometry"),
        ("eye,side,axial_length\n1,OD,23\n", "line 2, column side"),
        ("white_to_white,scleral_radius\n14,9\n7,9\n", "line 3"),
        ("eye,axial_length\n1,23.4x\n", "'23.4x' is not a number"),
    ],
)
def test_a_broken_biometry_table_names_line_and_column(tmp_path, text, words):
    path = tmp_path / "eyes.csv"
    path.write_text(text)
    with pytest.raises(es.LearnerError, match=f"eyes.csv.*{words}"):
        es.Population.from_csv(path)


@pytest.mark.parametrize(("separator", "point"), [(",", "."), (";", ","), (";", "."), ("\t", ",")])
def test_a_biometry_table_is_read_as_spreadsheets_of_other_countries_write_it(tmp_path, separator, point):
    path = tmp_path / "eyes.csv"
    rows = [["eye", "side", "axial_length"], ["1", "left", f"23{point}4"], ["2", "right", f"22{point}05"]]
    path.write_text("\n".join(separator.join(row) for row in rows), encoding="utf-8-sig")
    assert es.Population.from_csv(path).table["axial_length"].tolist() == [23.4, 22.05]


def test_a_table_is_drawn_from_with_replacement():
    path = data_folder() / "demo_clinic.csv"
    clinic = es.Population.from_csv(path)
    eyes = clinic.draw(np.random.default_rng(2).random((2000, 1)))
    rows = {tuple(row) for row in np.stack(list(clinic.table.values()), axis=1)}
    drawn = {tuple(row) for row in np.stack([getattr(eyes, name) for name in clinic.table], axis=1)}
    assert drawn <= rows
    assert len(drawn) > 230


def test_the_demo_plan_can_be_carried_out():
    plan = read_plan(data_folder() / "demo_plan.toml")
    assert plan.hands == es.Hands()
    assert plan.second.meridian == 180.0
    assert isinstance(plan.eye, es.Population)
    got = es.operate(plan.eye, plan.lens, plan.first, plan.second, plan.hands, 50, plan.rng, plan.draws, False)
    assert got.n == 50


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("n = ", "TOML"),
        ("m = 3", "no field 'm'"),
        ("[eye]\nwhite_to_wite = 3", r"\[eye\].*white_to_white"),
        ("[first]\ntunnel_length = 20", r"\[first\].*tunnel_length"),
        ("[first]\nmeridian = [0, 1]", "single numbers"),
        ("eye = 3", r"\[eye\] is a section"),
        ("population = '../x.csv'", "beside the plan"),
        ("population = 'none.csv'", "none.csv cannot be read"),
        ("[hands]\nstart = 'best'", "usual"),
        ("[hands]\niris_angle = 3", r"\[hands.iris_angle\] is a section"),
        ("[hands.iris_angle]\nsd = 3", "sd"),
        ("[hands.iris]\nspread = 3", "iris_angle"),
    ],
)
def test_a_wrong_plan_names_file_and_section(tmp_path, text, words):
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(es.LearnerError, match=f"mine.toml.*{words}"):
        read_plan(path)


def test_a_straight_pass_and_perfect_hands_can_be_written_in_a_plan(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(
        "n = 7\n[first]\ntunnel_length = 'straight'\niris_angle = 10\n[second]\n[hands]\nstart = 'perfect'\n"
    )
    plan = read_plan(path)
    assert plan.first.tunnel_length is None
    assert plan.hands == PERFECT
    assert plan.operate(progress=False).n == 7


@pytest.mark.parametrize("text", ["", "[first]\nmeridian = 0\n", "[second]\nmeridian = 180\n"])
def test_a_plan_that_is_cut_off_is_not_operated(tmp_path, text):
    path = tmp_path / "cut.toml"
    path.write_text(text)
    with pytest.raises(es.LearnerError, match="is it cut off"):
        read_plan(path)


@pytest.mark.parametrize(("quantity", "series"), [
    ("tilt", "tilt_tunnel_capsule_12m"),
    ("decentration", "decentration_tunnel_capsule_6m"),
])  # fmt: skip
def test_reference_default_hands_lie_inside_one_sd_of_a_published_series(usual, quantity, series):
    # Clinical Ophthalmology 2022;16:93-100, DOI 10.2147/OPTH.S344523; the hands were not tuned to it, and the
    # model's means lie below the published means (see the lesson on tunnels)
    published = fact("series", series)
    mean = float(np.nanmean(getattr(usual.pose, quantity)))
    assert published.value - published.spread < mean < published.value + published.spread
