"""Virtual operations end in vision: what the eyes see, how far that is from what was meant, and in what share."""

import numpy as np
import pytest
from contrast import contrast

import eyesim as es
from eyesim import chart as charts
from eyesim.draw import palette
from eyesim.eye.sources import facts
from eyesim.study import compare_published
from eyesim.study.plan import read_plan

EYE, LENS, FIRST, SECOND = es.Eye(), es.Lens(), es.Fixation(), es.Fixation(meridian=180)
PERFECT = es.Hands.perfect()
NEVER = es.Fixation(iris_angle=5.0, tunnel_length=None)  # straight and too shallow: stays in the wall
SEEN = (
    "sphere", "cylinder", "axis", "M", "J0", "J45", "coma", "spherical_aberration", "rms_hoa", "prism", "missed_light",
    "chamber_depth",
)  # fmt: skip


def cloud(hands=None, n=1000, eye=EYE, first=FIRST, second=SECOND, lens=LENS, **more):
    return es.operate(eye, lens, first, second, hands or es.Hands(), n, progress=False, **more)


@pytest.fixture(scope="module")
def usual():
    return cloud(n=3000)


@pytest.fixture(scope="module")
def clinic():
    return cloud(n=1500, eye=es.Population())


@pytest.fixture(scope="module")
def same_lens():
    return cloud(n=1500, eye=es.Population(), power="given")


@pytest.fixture(scope="module")
def wild():
    """Hands so clumsy that many lenses do not settle, and some leave the pupil uncovered."""
    hands = es.Hands(marker_y=es.Error(spread=1.5), meridian=es.Error(spread=14.0), outside=es.Error(spread=0.8))
    return cloud(hands, n=800, pupil=6.0)


# What is seen


@pytest.mark.parametrize("which", ["usual", "clinic", "wild"])
def test_every_case_is_seen_or_has_a_reason_and_counts_add_up(which, request):
    got = request.getfixturevalue(which)
    assert got.sight.shape == (got.n,)
    settled, seen = got.pose.settled, got.sight.seen
    assert not np.any(seen & ~settled)
    assert sum(got.unseen().values()) == int(np.sum(settled & ~seen))
    assert sum(got.unseen().values()) + int(seen.sum()) + sum(got.counts().values()) - got.counts()["settled"] == got.n
    assert (got.sight.reason[~settled] == "the lens has not settled").all()
    for values in (got.surprise, got.sight.M, got.sight.coma):
        np.testing.assert_array_equal(np.isfinite(values), seen)
    np.testing.assert_array_equal(np.isfinite(got.sight.chamber_depth), settled)


def test_clumsy_hands_leave_some_unsettled_and_some_unseen(wild):
    assert (~wild.pose.settled).sum() > 20
    assert sum(wild.unseen().values()) > 0
    assert "Settled, but without a refraction" in repr(wild.summary())
    assert len(wild.settled_values("surprise")) == wild.sight.seen.sum()
    assert len(wild.settled_values("tilt")) == wild.pose.settled.sum()


def test_each_case_is_what_refract_says_of_its_eye_and_pose(clinic):
    for i in (0, 4, 1499):
        one = clinic.case(i)
        alone = es.refract(one.eye, one.lens, one)
        assert one.lens.power == pytest.approx(clinic.powers[i], abs=1e-9)
        for name in ("M", "J0", "cylinder", "coma", "chamber_depth"):
            assert getattr(clinic.sight, name)[i] == pytest.approx(getattr(alone, name), abs=1e-4)


def test_operating_traces_no_ray_until_it_is_asked(monkeypatch):
    from eyesim.study import powers, vision

    calls = []
    kept = vision.refract
    for module in (powers, vision):
        monkeypatch.setattr(module, "refract", lambda *given, **more: calls.append(1) or kept(*given, **more))
    for eye in (es.Population(), EYE):
        got = cloud(n=50, eye=eye)
        got.share(), got.mean("tilt"), repr(got), got.counts(), got.quantile("depth", 0.9)
        assert not calls
    assert got.sight is got.sight
    assert got.surprise is got.surprise
    assert len(calls) == 2  # the operations, and the plan
    got.frame(), got.summary(), got.share(refraction=0.5)
    assert len(calls) == 2


@pytest.mark.slow
@pytest.mark.parametrize("draws", ["random", "sobol"])
@pytest.mark.parametrize("eye", [EYE, es.Population()])
def test_same_seed_same_sight_bit_by_bit_however_the_work_is_cut(draws, eye):
    whole = cloud(n=1100, eye=eye, rng=5, draws=draws)
    for n, block in ((1100, 37), (1100, 1099), (513, 4096), (60, 1), (1, 4096)):
        cut = cloud(n=n, eye=eye, rng=5, draws=draws, block=block)
        np.testing.assert_array_equal(cut.surprise, whole.surprise[:n])
        np.testing.assert_array_equal(cut.sight.zernike, whole.sight.zernike[:n])
        for name in SEEN:
            np.testing.assert_array_equal(getattr(cut.sight, name), getattr(whole.sight, name)[:n], name)


def test_the_pupil_is_the_one_asked_for(usual):
    wide = cloud(n=40, pupil=5.0)
    assert usual.pupil == 3.0
    assert (wide.sight.pupil == 5.0).all()
    # spherical aberration grows with the fourth power of the pupil
    ratio = np.nanmedian(wide.sight.spherical_aberration) / np.nanmedian(usual.sight.spherical_aberration[:40])
    assert ratio == pytest.approx((5.0 / 3.0) ** 4, rel=0.25)


# How far it is from what was meant


@pytest.mark.parametrize("eye", [EYE, es.Eye(corneal_cylinder=2.0, axial_length=26.0)])
def test_perfect_hands_surprise_nobody(eye):
    got = cloud(PERFECT, n=8, eye=eye)
    assert np.abs(got.surprise).max() < 1e-6
    assert abs(got.sight.M[0]) > 1.0  # though the power given does not suit the place: that is the plan's doing
    assert got.share(refraction=0.5).value == 1.0


def test_a_deeper_lens_is_hyperopic_by_a_known_amount():
    """Reference: two thin lenses in vergence, a cornea of 43.3 D and a lens of 21 D, sharp at 5 mm, moved by 1 mm."""
    length = 1.336 / (21.0 + 1.0 / (1.0 / 43.3 - 0.005 / 1.336))  # from a lens 5 mm deep to the image

    def needed(depth):  # refraction at the cornea that brings the image onto the same retina
        behind = 1.336 / (length + 0.005 - depth) - 21.0
        return behind / (1.0 + depth / 1.336 * behind) - 43.3

    thin = needed(0.0055) - needed(0.0045)  # [D] a millimetre
    assert thin == pytest.approx(1.3, abs=0.1)
    # both needles steeper by the same angle put the lens deeper, centred and flat
    deep = cloud(PERFECT.but(iris_angle=es.Error(bias=10.0)), n=1)
    moved = float(deep.sight.chamber_depth[0] - deep.planned_sight.chamber_depth)
    assert moved > 0.2
    assert deep.pose.decentration[0] < 0.02
    assert deep.surprise[0] / moved == pytest.approx(thin, abs=0.12)


def test_surprise_follows_depth(usual):
    seen = usual.sight.seen
    depth, surprise = usual.sight.chamber_depth[seen], usual.surprise[seen]
    assert np.polyfit(depth, surprise, 1)[0] == pytest.approx(1.3, abs=0.15)
    assert np.corrcoef(depth, surprise)[0, 1] > 0.85


def test_the_same_hands_surprise_more_with_a_stronger_lens():
    weak, strong = (cloud(n=400, lens=LENS.with_power(power)).spread("surprise").value for power in (12.0, 28.0))
    assert strong > 1.8 * weak


def test_a_target_is_taken_at_its_word(usual):
    got = cloud(n=200, target=-0.5)
    np.testing.assert_array_equal(got.surprise, got.sight.M + 0.5)
    np.testing.assert_array_equal(got.sight.M, usual.sight.M[:200])
    assert "-0.50 D" in repr(got.summary())


def test_eyes_of_a_population_are_each_compared_with_themselves(same_lens):
    planned = es.settle(es.Population().mean_eye(), LENS, FIRST, SECOND)
    assert same_lens.planned.z == pytest.approx(planned.z, abs=1e-9)
    there = es.refract(same_lens.eye, LENS, planned, on_failure="flag")
    np.testing.assert_array_equal(same_lens.surprise, same_lens.sight.M - there.M)
    # eyes differ by many dioptres; what the hands did to them, by far less
    assert np.nanstd(same_lens.sight.M) > 5.0 * np.nanstd(same_lens.surprise)


def test_a_population_of_equal_eyes_is_one_eye():
    same = es.Population({"axial_length": (EYE.axial_length, 0.0)}, {}, EYE)
    for power in ("each", "given"):
        one, many = cloud(n=60, power=power), cloud(n=60, eye=same, power=power)
        assert np.nanmax(np.abs(one.surprise - many.surprise)) < 1e-9


# Which lens each eye gets


@pytest.mark.parametrize("target", [None, -0.5])
def test_each_eye_s_own_lens_leaves_it_at_the_target_where_the_plan_puts_it(target):
    got = cloud(n=300, eye=es.Population(), target=target)
    assert got.powers.shape == (300,)
    there = es.refract(got.eye, LENS.with_power(got.powers), got.planned)
    assert there.M == pytest.approx(target or 0.0, abs=2e-7)
    seen = got.sight.seen
    np.testing.assert_allclose(got.surprise[seen], got.sight.M[seen] - (target or 0.0), atol=2e-7)
    assert got.planned_sight.M == pytest.approx(target or 0.0, abs=2e-7)
    assert np.corrcoef(got.powers, got.eye.axial_length)[0, 1] < -0.8  # long eyes get weak lenses


def test_powers_are_those_of_another_solver(clinic):
    assert clinic.powers == pytest.approx(es.power_for(clinic.eye, LENS, clinic.planned), abs=1e-5)


def test_a_lens_s_power_does_not_change_where_it_lies(clinic, same_lens):
    for name in ("x", "y", "z", "tilt", "roll", "code"):
        np.testing.assert_array_equal(getattr(clinic.pose, name), getattr(same_lens.pose, name))
    for i in (1, 77):  # settled again with the power of its own
        assert clinic.case(i).z == pytest.approx(clinic.pose.z[i], abs=1e-5)


def test_a_single_case_gets_the_power_that_it_has_among_many(clinic):
    few = cloud(n=20, eye=es.Population())
    assert few.case(7).lens.power == pytest.approx(clinic.powers[7], abs=1e-9)  # chosen alone
    np.testing.assert_array_equal(few.powers, clinic.powers[:20])


def test_eyes_differ_so_each_gets_its_own_and_a_single_eye_the_lens_as_given(usual, clinic, same_lens):
    assert (usual.power, clinic.power, same_lens.power) == ("given", "each", "given")
    assert usual.powers == same_lens.powers == LENS.power
    own = cloud(n=50, power="each")
    assert own.powers == pytest.approx(es.power_for(EYE, LENS, own.planned), abs=1e-6)
    assert own.sight.M[own.sight.seen] == pytest.approx(own.surprise[own.sight.seen], abs=2e-7)
    frame = clinic.frame()
    np.testing.assert_array_equal(frame["power"], clinic.powers)
    assert frame.attrs["units"]["power"] == "D"
    assert (usual.frame()["power"] == LENS.power).all()


def test_one_power_for_all_distorts_what_a_millimetre_costs():
    """The numbers in the docstring of `Outcomes.surprise`."""
    eyes = es.Population().mean_eye().but(axial_length=[20.5, 27.0])
    planned = es.settle(es.Population().mean_eye(), LENS, FIRST, SECOND)
    own = LENS.with_power(es.power_for(eyes, LENS, planned))
    for lens, cost in ((LENS.with_power(19.0), (0.77, 0.54)), (own, (1.19, 0.27))):
        ends = [es.refract(eyes, lens, es.Pose(z=planned.z + shift)).M for shift in (-0.25, 0.25)]
        assert ends[0] - ends[1] == pytest.approx(cost, abs=0.005)


def test_powers_chosen_eye_by_eye_change_the_spread_little(clinic, same_lens):
    ratio = np.nanstd(same_lens.surprise) / np.nanstd(clinic.surprise)
    assert ratio == pytest.approx(1.03, abs=0.03)  # what the docstring of `Outcomes.surprise` says


def test_eyes_that_no_lens_of_this_shape_suits_are_held_counted_and_told():
    meniscus = es.Lens(anterior_radius=8.0, posterior_radius=20.0, optic_thickness=1.5)  # of at most some 25 D
    got = cloud(n=400, eye=es.Population(), lens=meniscus)
    held = np.flatnonzero(got.powers > got.powers.max() - 1e-9)
    assert 0 < len(held) < 40
    there = es.refract(got.eye, meniscus.with_power(got.powers), got.planned).M
    assert there[held].min() > 0.0  # too weak for them
    assert np.abs(np.delete(there, held)).max() < 2e-7
    np.testing.assert_allclose(got.surprise, got.sight.M - there, atol=1e-12)
    summary = got.summary()
    assert summary.limited["power"] == len(held)
    assert f"Held at the end of what can be made: {len(held)};" in repr(summary)
    assert sum(got.counts().values()) == 400


def test_long_eyes_between_plus_and_minus_lenses_lose_no_case():
    got = cloud(n=300, eye=es.Population({"axial_length": (30.9, 0.3)}, {}), power="each")
    assert (got.powers > 0.0).any()
    assert (got.powers < 0.0).any()
    there = es.refract(got.eye, LENS.with_power(got.powers), got.planned).M
    assert np.abs(there).max() < 0.03  # the flattest lens there is: 0.03 D


def test_eyes_that_see_nothing_there_keep_the_lens_and_are_told():
    small = es.Lens(optic_diameter=4.2, haptic_length=8.8)
    eyes = es.Population({"pupil_x": (0.0, 1.2), "axial_length": (23.5, 1.35)}, {})
    got = cloud(PERFECT, n=100, eye=eyes, lens=small, pupil=6.0)
    blind = ~got.sight.seen
    assert 5 < blind.sum() < 40
    assert got.powers[blind] == pytest.approx(small.power)
    assert np.isnan(got.surprise[blind]).all()
    assert np.abs(got.surprise[~blind]).max() < 1e-6
    assert f"Seeing nothing with the lens in that place: {blind.sum()};" in repr(got.summary())


def test_a_lens_from_which_no_power_can_be_chosen_says_so():
    strong = es.Lens(anterior_radius=3.5, posterior_radius=-3.5, index=1.7, optic_diameter=4.2, optic_thickness=2.0)
    strong = strong.but(haptic_length=8.8)
    got = cloud(n=30, eye=es.Population(), lens=strong)
    with pytest.raises(es.LearnerError, match=r"power='given'"):
        got.powers  # noqa: B018
    assert "power='given'" in repr(got.summary())
    assert np.isnan(got.frame()["M"]).all()
    assert got.share().value > 0.0
    i = int(np.flatnonzero(got.pose.settled)[0])
    assert got.case(i).settled


def test_without_a_place_no_power_is_chosen():
    got = cloud(n=100, eye=es.Population(), first=NEVER, second=NEVER.opposite(), target=0.0)
    assert got.powers == LENS.power
    with pytest.raises(es.LearnerError, match=r"does not settle in the mean eye.*power='given', target=0.0"):
        got.surprise  # noqa: B018
    assert "as given; without a place no other could be chosen" in repr(got.summary())
    meant = cloud(n=100, eye=es.Population(), first=NEVER, second=NEVER.opposite(), target=0.0, power="given")
    np.testing.assert_array_equal(meant.surprise, meant.sight.M)


def test_the_summary_says_which_lens_it_was(usual, clinic, same_lens):
    words = repr(clinic.summary())
    powers = clinic.powers
    assert f"mean {powers.mean():.2f} D, SD {powers.std(ddof=1):.2f} D, from {powers.min():.2f} to" in words
    assert clinic.mean("power").value == pytest.approx(powers[clinic.pose.settled].mean())
    left = es.refract(same_lens.eye, LENS, same_lens.planned).M
    said = "21.00 D, the same in all eyes. What it leaves where the plan puts it in their mean eye: mean"
    assert f"{said} {left.mean():+.2f} D, SD {left.std(ddof=1):.2f} D" in repr(same_lens.summary())
    assert "Power of the lens: 21.00 D." in repr(usual.summary())
    sharp = cloud(n=20, target=0.0)
    assert f"where the plan puts it, it leaves {sharp.planned_sight.M:+.2f} D" in repr(sharp.summary())


def test_whose_spread_it_is_about_a_target_is_told_only_where_it_is_so():
    mostly = "mostly that of the eyes"
    assert mostly in repr(cloud(n=300, eye=es.Population(), target=0.0, power="given").summary())
    alike = es.Population({"axial_length": (23.5, 0.05)}, {})
    assert mostly not in repr(cloud(n=300, eye=alike, target=0.0, power="given").summary())
    assert mostly not in repr(cloud(n=300, eye=es.Population(), target=0.0).summary())


def test_of_one_case_no_spread_is_told_and_of_none_no_cylinder():
    for power in ("each", "given"):
        assert "SD" not in repr(cloud(n=1, eye=es.Population(), power=power).summary())
    far = FIRST.but(outside=5.5)
    words = repr(cloud(PERFECT, n=20, first=far, second=far.opposite()).summary())
    assert "None settled, so there is no refraction and no cylinder" in words
    assert "D of cylinder from" not in words
    assert "Within 0.5 D" not in words


def test_where_the_plan_does_not_settle_it_is_said():
    got = cloud(n=200, first=NEVER, second=NEVER.opposite())
    assert 0 < got.pose.settled.sum() < 200
    for call in (
        lambda: got.surprise,
        lambda: got.mean("surprise"),
        lambda: got.share(refraction=0.5),
        lambda: charts.cloud(got, colour="surprise"),
        lambda: charts.refractions(got),
        lambda: compare_published(got, "refraction surprise"),
    ):
        with pytest.raises(es.LearnerError, match=r"plan itself does not settle \(needle never.*target=0.0"):
            call()
    words = repr(got.summary())
    assert "There is no refraction surprise: the plan itself does not settle" in words
    assert "More than 0.5 D of cylinder" in words
    assert np.isnan(got.frame()["surprise"]).all()
    assert np.isfinite(got.frame()["M"]).sum() == got.sight.seen.sum()
    meant = cloud(n=200, first=NEVER, second=NEVER.opposite(), target=0.0)
    np.testing.assert_array_equal(meant.surprise, meant.sight.M)


def test_a_lens_that_cannot_be_ground_still_settles_and_says_so():
    got = cloud(n=30, lens=es.Lens(optic_diameter=7.0))
    with pytest.raises(es.LearnerError, match="optic_thickness"):
        got.surprise  # noqa: B018
    assert "There is no refraction surprise: Lens.optic_thickness" in repr(got.summary())
    assert not got.frame()["seen"].any()
    assert np.isnan(got.frame()["M"]).all()
    assert got.share().value > 0.0


# Shares and tables


def test_within_takes_a_limit_on_surprise(usual):
    near = usual.within(None, None, 0.5)
    np.testing.assert_array_equal(near, np.abs(usual.surprise) <= 0.5)
    assert not near[~usual.pose.settled].any()
    np.testing.assert_array_equal(usual.within(refraction=0.5), usual.within() & near)
    assert usual.share(refraction=0.5).value == usual.within(refraction=0.5).mean()
    np.testing.assert_array_equal(usual.within(), usual.within(refraction=None))
    for wrong, words in (
        (-0.1, "refraction .tolerance"),
        ("half", "refraction .tolerance"),
        ([0.5, 1.0], "one number"),
    ):
        with pytest.raises(es.LearnerError, match=words):
            usual.within(refraction=wrong)
    with pytest.raises(es.LearnerError, match="one number"):
        usual.cylinder_share([0.5, 1.0])


def test_the_frame_says_the_same_as_the_sight(usual):
    frame = usual.frame()
    for name in SEEN:
        np.testing.assert_array_equal(frame[name], getattr(usual.sight, name))
    np.testing.assert_array_equal(frame["surprise"], usual.surprise)
    units = frame.attrs["units"]
    assert {units[name] for name in ("sphere", "cylinder", "M", "J0", "J45", "surprise")} == {"D"}
    assert {units[name] for name in ("coma", "spherical_aberration", "rms_hoa")} == {"um"}
    assert (units["axis"], units["prism"], units["missed_light"]) == ("deg", "prism dioptres", "")
    assert (units["chamber_depth"], units["seen"]) == ("mm", "")
    np.testing.assert_allclose(frame["sphere"] + frame["cylinder"] / 2.0, frame["M"])


def test_columns_of_eyes_that_vary_have_their_own_units():
    eyes = es.Population({"corneal_q": (-0.18, 0.05), "sight_x": (5.0, 1.0), "axial_length": (23.5, 1.0)}, {})
    units = cloud(n=10, eye=eyes).frame().attrs["units"]
    assert [units[f"eye_{name}"] for name in ("corneal_q", "sight_x", "axial_length")] == ["", "deg", "mm"]


@pytest.mark.parametrize("which", ["usual", "clinic", "wild"])
def test_the_summary_adds_up_with_the_frame(which, request):
    got = request.getfixturevalue(which)
    frame, summary = got.frame(), got.summary(refraction=0.5)
    size = frame["surprise"].abs()
    assert summary.sight.within[0.5].value == (size <= 0.5).mean()
    assert summary.sight.within[1.0].value == (size <= 1.0).mean()
    assert summary.sight.cylinder.value == (frame["cylinder"] < -0.5).mean()
    good = (frame["decentration"] <= 0.4) & (frame["tilt"] <= 5.0) & (size <= 0.5)
    assert summary.within.value == good.mean()
    for name in ("surprise", "chamber_depth"):
        measure = summary.measures[name]
        assert measure.mean.value == pytest.approx(frame[name].mean())
        assert measure.spread.value == pytest.approx(frame[name].std())
        assert measure.mean.low <= measure.mean.value <= measure.mean.high
    words = repr(summary)
    for line in ("and no more than 0.5 D from the refraction meant", "Refraction meant, at a", "; within 1 D: "):
        assert line in words


def test_intervals_come_with_even_points_too():
    even = cloud(n=800, draws="sobol")
    for what in ("surprise", "cylinder", "chamber_depth", "coma", "prism"):
        assert "randomisations" in even.mean(what).how
        assert even.quantile(what, 0.5).low <= even.quantile(what, 0.5).value
    with pytest.raises(es.LearnerError, match="chamber_depth"):
        even.mean("chamber_deph")
    with pytest.raises(es.LearnerError, match="no field 'axis'"):  # angles have no mean of this kind
        even.mean("axis")


def test_cylinder_is_the_lens_s_only_in_a_round_eye(usual):
    assert "cylinder from the lens" in repr(usual.summary())
    for got in (
        cloud(n=20, eye=es.Eye(corneal_cylinder=1.0)),
        cloud(n=20, eye=es.Eye(sight_x=5.0)),
        cloud(n=20, lens=es.Lens(toric_cylinder=2.0)),
    ):
        assert "cylinder left" in repr(got.summary())
    toric = cloud(PERFECT, n=5, lens=es.Lens(toric_cylinder=2.0))
    assert toric.cylinder_share().value == 1.0
    assert toric.cylinder_share(limit=3.0).value == 0.0


# Beside what was measured


def test_published_surprise_stands_beside_the_model_and_spreads_wider(clinic):
    both = compare_published(clinic, "refraction surprise")
    own, *published = both.of("refraction surprise")
    assert own.mean == clinic.mean("surprise").value
    assert own.n == clinic.sight.seen.sum()
    assert len(published) == sum(row.more["quantity"] == "refraction surprise" for row in facts("series").values()) >= 5
    # the model leaves out biometry, wound and healing, so it has to be the surest
    assert own.spread < min(row.spread for row in published)
    assert "biometry" in both.caveat
    assert "tilt" not in both.caveat
    assert charts.series(both).png
    every = compare_published(clinic, ("tilt", "refraction surprise"))
    assert every.caveat.count("Not a validation") == 2
    with pytest.raises(es.LearnerError, match="refraction surprise"):
        compare_published(clinic, "refraction suprise")


# Pictures


def test_a_coloured_cloud_says_by_shape_and_words_what_it_says_by_colour(usual):
    chart = charts.cloud(usual, colour="surprise")
    axes = chart.figure.axes[0]
    values = usual.surprise[usual.sight.seen]
    sizes = [len(group.get_offsets()) for group in axes.collections]
    assert sum(sizes) == min(usual.pose.settled.sum(), 2000)
    drawn = dict(zip(("none", "near", "short", "long"), sizes, strict=True))
    assert drawn["short"] / sum(sizes) == pytest.approx((values < -0.5).mean(), abs=0.02)
    assert drawn["long"] / sum(sizes) == pytest.approx((values > 0.5).mean(), abs=0.02)
    shapes = {group.get_paths()[0].vertices.tobytes() for group in axes.collections[1:]}
    assert len(shapes) == 3
    share = usual.share(None, None, 0.5)
    assert f"{100 * share.value:.1f} % (95 % interval {100 * share.low:.1f} to" in chart.sentence
    assert f"{100 * (usual.surprise < -0.5).mean():.1f} % more myopic" in chart.sentence
    words = " ".join(text.get_text() for text in chart.figure.findobj(lambda a: hasattr(a, "get_text")))
    for word in ("myopic", "hyperopic", "refraction surprise [D]", "within 0.5 D"):
        assert word in words


def test_points_are_coloured_by_their_own_surprise(usual):
    axes = charts.cloud(usual, colour="surprise").figure.axes[0]
    chosen = np.flatnonzero(usual.pose.settled)
    place = {(usual.pose.x[i], usual.pose.y[i]): usual.surprise[i] for i in chosen}
    for group in axes.collections[1:]:
        for (x, y), value in zip(group.get_offsets(), group.get_array(), strict=True):
            assert place[x, y] == value


def test_compared_clouds_share_their_colours_and_wrong_colours_are_refused(usual, clinic):
    chart = charts.cloud(usual, compare=clinic, colour="surprise")
    norms = {group.norm for axes in chart.figure.axes[:2] for group in axes.collections[1:]}
    assert len(norms) == 1
    assert "A: 3000" in chart.sentence
    for wrong in ("tilt", "Surprise", 3, ["surprise"]):
        with pytest.raises(es.LearnerError, match="colour is None or 'surprise'"):
            charts.cloud(usual, colour=wrong)


def test_unseen_cases_are_drawn_and_counted(wild):
    chart = charts.cloud(wild, colour="surprise")
    blind = sum(wild.unseen().values())
    assert f"{blind} without a refraction" in chart.sentence
    assert f"{(~wild.pose.settled).sum()} did not settle" in chart.sentence
    assert len(chart.figure.axes[0].collections[0].get_offsets()) == blind


def test_refractions_are_drawn_with_shares_of_all(wild):
    chart = charts.refractions(wild)
    near, wide = wild.share(None, None, 0.5), wild.share(None, None, 1.0)
    assert f"{100 * near.value:.1f} %" in chart.sentence
    assert f"{100 * wide.value:.1f} %" in chart.sentence
    assert f"{100 * wild.cylinder_share().value:.1f} %" in chart.sentence
    assert "at a 6 mm pupil" in chart.sentence
    left = chart.figure.axes[0]
    total = sum(bar.get_height() for bar in left.patches)
    assert total == pytest.approx(100.0 * wild.sight.seen.mean(), rel=0.01)
    limits = sorted(line.get_xdata()[0] for line in left.lines[1:])
    assert limits == [-1.0, -0.5, 0.5, 1.0]
    assert charts.refractions(cloud(PERFECT, n=3)).png
    assert "SD" in chart.sentence
    assert "SD" not in charts.refractions(cloud(PERFECT, n=1)).sentence
    with pytest.raises(es.LearnerError, match=r"es\.operate"):
        charts.refractions("many")


def test_diverging_colours_stand_out_and_darken_to_both_ends():
    against = [contrast(colour, "#ffffff") for colour in palette.DIVERGING]
    assert min(against) >= 3.0
    assert against[0] > against[1] > against[2] < against[3] < against[4]


# Plans on file


def test_pupil_and_target_can_be_written_in_a_plan(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("n = 20\npupil = 4.5\ntarget = -0.25\n[first]\n[second]\n")
    plan = read_plan(path)
    assert (plan.pupil, plan.target) == (4.5, -0.25)
    got = plan.operate(progress=False)
    assert got.pupil == 4.5
    np.testing.assert_array_equal(got.surprise, got.sight.M + 0.25)
    path.write_text("n = 20\n[first]\n[second]\n")
    assert (read_plan(path).pupil, read_plan(path).target) == (3.0, None)


def test_whose_power_it_is_can_be_written_in_a_plan(tmp_path):
    path = tmp_path / "mine.toml"
    end = "[first]\n[second]\n"
    for top, lens, power in (
        ("", "", "each"),
        ("", "[lens]\npower = 19.0\n", "given"),  # a lens that states its power is meant
        ('power = "each"\n', "[lens]\npower = 19.0\n", "each"),
        ('power = "given"\n', "", "given"),
        ("", "[lens]\nhaptic_length = 8.1\n", "each"),
    ):
        path.write_text(f'n = 5\npopulation = "published"\n{top}{lens}{end}')
        assert read_plan(path).operate(progress=False).power == power
    path.write_text(f"n = 5\n{end}")
    assert read_plan(path).operate(progress=False).power == "given"
    path.write_text(f"power = 19.0\n{end}")
    with pytest.raises(es.LearnerError, match=r"mine.toml: operate: power is 'each'"):
        read_plan(path)


def test_the_power_of_the_lens_can_be_written_in_a_plan(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text("n = 10\n[lens]\npower = 18.5\nhaptic_length = 8.2\n[first]\n[second]\n", encoding="utf-8")
    plan = read_plan(path)
    assert plan.lens.power == pytest.approx(18.5)
    assert plan.lens.haptic_length == 8.2
    path.write_text("[lens]\npower = 'much'\n[first]\n[second]\n", encoding="utf-8")
    with pytest.raises(es.LearnerError, match=r"\[lens\].*power"):
        read_plan(path)
