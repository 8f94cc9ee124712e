"""The lesson on sight: what is right follows from tracing, and plans are scored by what many operations leave."""

import functools
import types

import numpy as np
import pytest

import eyesim as es
from eyesim import lesson
from eyesim.hold.contact import touches
from eyesim.lesson import glasses, patient, power_and_dip, sight
from eyesim.sight import Refraction
from eyesim.sight.acuity import Acuity
from eyesim.sight.spectacles import GlassesFit, fit_glasses
from eyesim.study.sight_verdict import SightVerdict

EYE, FIRST = es.Eye(), es.Fixation(meridian=0.0)


@functools.cache
def planned():
    return es.settle(EYE, es.Lens(), FIRST, FIRST.opposite())


@functools.cache
def chosen():
    """Lens of the power that leaves nothing to correct, in half dioptres."""
    return es.Lens().with_power(round(2.0 * es.power_for(EYE, es.Lens(), planned())) / 2.0)


def sees(lens=None, eye=EYE, pupil=3.0, **changes):
    return es.refract(eye, lens or chosen(), lesson.moved(planned(), **changes), pupil=pupil)


# ---------------------------------------------------------------- what is right follows from the simulation


def test_the_lens_of_the_lesson_was_chosen_for_its_place():
    assert patient.chosen_lens().power == pytest.approx(chosen().power)
    assert abs(sees().M) < 0.25  # half a step of the shelf is 0.25 D in the lens, less at the cornea
    assert patient.chosen_lens(patient.ASPHERIC).power % 0.5 == pytest.approx(0.0, abs=1e-9)


def _lead(x, pupil=5.0):
    """How many logMAR the aspheric optic is ahead of the round one with the best glasses, x [mm] off centre."""
    lenses = chosen(), patient.ASPHERIC.with_power(18.5)
    best = [lesson.reads_at_best(sees(lens, pupil=pupil, x=x)).logmar for lens in lenses]
    return best[0] - best[1]


@pytest.mark.slow
@pytest.mark.parametrize("pupil", [4.5, 5.0, 5.5])
def test_the_aspheric_lead_is_eaten_up_by_a_shift_whatever_its_neighbours(pupil):
    """What the lesson says: ahead up to 0.4 mm, nothing left from 0.9 mm on."""
    lead = [_lead(x, pupil) for x in (0.0, 0.1, 0.2, 0.3, 0.4)]
    assert all(np.diff(lead) < 0.0)
    assert lead[-1] > 0.02
    assert all(abs(_lead(x, pupil)) < 0.05 for x in (0.9, 1.0, 1.1, 1.2))


@pytest.mark.parametrize(
    ("id", "key", "seen"),
    [
        ("sight.which-one", "deep",
         lambda: abs(sees(deeper=0.5).M - sees().M) > 4.0 * max(sees(tilt=5.0).blur, sees(x=0.5).blur)),
        ("sight.forward", "myopic", lambda: sees(deeper=-0.5).M < sees().M - 0.3),
        ("sight.at-night", "myopic",
         lambda: sees(pupil=5.0).M < sees().M - 0.3
         and abs(sees(pupil=5.0).paraxial.M - sees().paraxial.M) < 0.05),
        ("sight.aspheric-off", "still-ahead",
         lambda: 0.3 < _lead(0.4) / _lead(0.0) < 0.7),
    ],
)  # fmt: skip
def test_right_choice_is_what_the_simulation_says(id, key, seen):
    assert seen()
    assert lesson.predict(id).form.right == key


def test_a_depth_error_costs_many_times_more_in_a_short_eye():
    costs = []
    for length in (21.0, 29.0):
        eye = EYE.but(axial_length=length)
        lens = es.Lens().with_power(es.power_for(eye, es.Lens(), planned()))
        costs.append(sees(lens, eye, deeper=0.5).M)
    assert costs[0] == pytest.approx(1.1, abs=0.05)
    assert costs[1] == pytest.approx(0.14, abs=0.05)
    assert lesson.predict("sight.short-and-long").form.right == "short-much"


def test_right_choice_is_derived_not_typed():
    """Were the third lens hardly deeper, another patient would notice first, and her chart would be drawn first."""
    question = sight._which_one("sight.which-one", tilt=5.0, off=0.5, deeper=0.02)
    assert question.form.right == "tilted"
    assert question.scenes[0].label == "The first: tilted"
    assert sight._forward("sight.forward", by=-0.5).form.right == "hyperopic"
    assert sight._short_and_long("sight.short-and-long", short=22.0, long=24.0, deeper=0.5).form.right == "short-little"
    assert sight._at_night("sight.at-night", pupil=3.2).form.right == "nothing"
    assert sight._toric_turned("sight.toric-turned", turn=30.0).form.right == "all"


def test_a_turned_toric_lens_leaves_what_crossed_cylinders_leave():
    """Closed form: two cylinders C crossed at an angle leave 2 C sin(angle)."""
    eye, lens = sight.toric_case()
    bare = sees(eye=eye).cylinder
    for turn in (10.0, 20.0, 30.0):
        left = sees(lens, eye, roll=planned().roll + turn).cylinder
        assert left / bare == pytest.approx(2.0 * np.sin(np.radians(turn)), abs=1e-3)
    assert lesson.predict("sight.toric-turned").form.right == "third"


def test_numbers_agree_with_direct_tracing():
    short = EYE.but(axial_length=22.0)
    sharp = es.Lens().with_power(es.power_for(short, es.Lens(), planned()))
    assert lesson.reference_answer("sight.deeper").answer == pytest.approx(sees(sharp, short, deeper=0.5).M, rel=1e-3)
    long = EYE.but(axial_length=25.0, corneal_radius=7.9)
    steep = FIRST.but(iris_angle=15.0)
    pose = es.settle(long, es.Lens(), steep, steep.opposite())
    power = lesson.reference_answer("sight.power").answer
    powers = power + np.array([-0.5, 0.0, 0.5])
    left = es.refract(long, es.Lens().with_power(powers), pose).M
    assert np.argmin(np.abs(left)) == 1


def test_marks_belong_on_the_steep_meridian_of_the_cornea():
    answer = lesson.reference_answer("sight.toric-marks").answer
    eye = EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=25.0)
    lens = es.toric_for(eye, chosen(), planned()).but(toric_marks=answer)
    assert abs(sees(lens, eye).cylinder) < 0.01
    assert (answer + planned().roll) % 180.0 == pytest.approx(25.0, abs=0.05)
    for wrong in (answer + 90.0, 25.0):
        assert abs(sees(lens.but(toric_marks=wrong), eye).cylinder) > 1.0


@pytest.mark.slow
def test_glasses_mend_sphere_and_regular_cylinder_only():
    plain = glasses.finding()
    limit = lesson.reads_at_best(plain).row + 0.125  # logMAR: a letter short of a row still counts as that row
    for letter, (_, seen) in glasses.findings().items():
        clear = fit_glasses(seen).best.logmar - limit
        assert (letter in "ac") == (clear < 0.0)
        assert abs(clear) > 0.05, "half a row from the limit, so that no rounding decides"
        assert (letter in "bd") == lesson.sight_matters(seen, plain).beyond_glasses
        assert fit_glasses(seen).read.logmar > 0.4  # each of them is plainly bad without glasses
    feedback = lesson.check("sight.glasses-fix", "c, a")
    assert feedback.right
    assert "With the lens in its place she reads 20/" in feedback.words
    assert 0.0 < lesson.check("sight.glasses-fix", "a").share < 1.0


@pytest.mark.parametrize("answer", ["ax", "aa", "", 3, None, {"a": 1}, "a" * 500, "nonea"])
def test_letters_that_mean_nothing_are_answered_in_words(answer):
    feedback = lesson.check("sight.glasses-fix", answer)
    assert feedback.right is None
    assert len(feedback.words) < 300


# ---------------------------------------------------------------- nine in ten


def test_the_reference_plan_earns_full_marks_and_agrees_with_operate():
    eye = EYE.but(axial_length=24.0, corneal_radius=7.8)
    (power, dip), best = power_and_dip.best_plan(eye)
    first = FIRST.but(iris_angle=dip, tunnel_length=1.5)
    done = es.operate(eye, es.Lens().with_power(power), first, first.opposite(), es.Hands(), n=500, rng=6, target=0.0)
    assert done.share(None, None, 0.5).value == pytest.approx(best.value)
    assert power_and_dip.GOAL <= best.value
    assert best.low - 0.01 <= power_and_dip.full_marks(eye) <= min(best.low, power_and_dip.GOAL)
    assert lesson.check("sight.plan", {"power": power, "iris_angle": dip}).right


def test_other_plans_within_the_interval_are_right_too_and_the_rest_by_share():
    assert lesson.check("sight.plan", {"power": "19 D", "iris_angle": "12,5"}).right
    shares = [lesson.check("sight.plan", {"power": p, "iris_angle": 7.5}).share for p in (20.0, 19.5, 19.0, 18.5)]
    assert shares == sorted(shares)
    assert shares[0] < 0.1
    assert shares[-1] == 1.0


@pytest.mark.slow
def test_whoever_reaches_the_printed_percentage_has_reached_it():
    for length, radius in ((23.0, 7.9), (24.0, 7.8), (25.0, 7.7)):
        eye = EYE.but(axial_length=length, corneal_radius=radius)
        question, full = power_and_dip.plan("sight.plan", length, radius), power_and_dip.full_marks(eye)
        assert f"Full marks from {100 * full:.10g} %" in question.text  # whole: what is printed is what is asked for
        for dip in power_and_dip.DIPS:
            for power in power_and_dip.nearest_power(eye, dip) + np.array([-0.5, 0.0, 0.5]):
                got = power_and_dip.share_within(eye, power, dip).value
                feedback = question.judge({"power": power, "iris_angle": dip})
                assert feedback.right == (round(1000 * got) >= round(1000 * full))
                assert f"{got:.1%} (95 % interval" in feedback.words  # of 500 in tenths of a per cent, nothing rounded


@pytest.mark.parametrize(
    "answer",
    [{}, {"power": 18.5}, {"power": 18.3, "iris_angle": 5}, {"power": 18.5, "iris_angle": 80}, {"power": "x",
     "iris_angle": 5}, {"power": 400, "iris_angle": 5}, 18.5, [18.5, 5], {"power": 18.5, "iris_angle": 5, "wall": 1}],
)  # fmt: skip
def test_plans_that_are_none_are_answered_in_words(answer):
    feedback = lesson.check("sight.plan", answer)
    assert feedback.right is None
    assert len(feedback.words) < 300


# ---------------------------------------------------------------- whether it matters


def test_whether_it_matters_and_whether_glasses_mend_it():
    verdicts = {
        "tilt": lesson.sight_matters(sees(tilt=5.0), sees()),
        "deep": lesson.sight_matters(sees(deeper=0.5), sees()),
        "both": lesson.sight_matters(sees(pupil=4.0, tilt=25.0), sees(pupil=4.0)),
        "edge": lesson.sight_matters(sees(pupil=6.0, x=1.5), sees(pupil=6.0)),
    }
    assert not verdicts["tilt"].matters
    assert verdicts["deep"].without_glasses
    assert not verdicts["deep"].beyond_glasses
    assert verdicts["both"].beyond_glasses
    assert [name for name, verdict in verdicts.items() if verdict.glare] == ["edge"]
    assert "misses the optic: glare" in str(verdicts["edge"])
    assert str(lesson.sight_matters(sees(), sees())).endswith("as with the lens in its place.")


def _reading(row, best=None):
    """Acuities of an eye that reads a row [logMAR] without glasses, and one with +1 D."""
    glasses = Refraction(0.0 if best is None else 1.0)
    spread = types.SimpleNamespace(haze=0.0)
    return GlassesFit(glasses, spread, spread, Acuity(row), Acuity(row if best is None else best))


@pytest.mark.parametrize(
    ("read", "best", "goal", "says"),
    [
        (0.0, None, 0.0, "It does not matter for reading: 20/20 (1.0), as with the lens in its place."),
        (0.1, None, 0.0, "It does not matter for reading: 20/25 (0.8) instead of 20/20 (1.0), one line worse."),
        (0.1, None, -0.1, "It does not matter for reading: 20/25 (0.8) instead of 20/16 (1.25), two lines worse, and "
                          "20/25 is enough."),
        (0.2, None, 0.0, "It matters, and glasses do not correct it: 20/32 (0.63) at best instead of 20/20 (1.0), two "
                         "lines worse."),
        (0.2, 0.0, 0.0, "It matters until there are glasses: 20/32 (0.63) instead of 20/20 (1.0), two lines worse; "
                        "with +1.00 D it is 20/20 (1.0)."),
        (0.2, 0.1, -0.1, "It matters until there are glasses: 20/32 (0.63) instead of 20/16 (1.25), three lines worse: "
                         "letters 2 times as large; with +1.00 D it is 20/25 (0.8), enough for reading."),
        (0.0, None, 0.1, "It does not matter for reading: 20/20 (1.0) instead of 20/25 (0.8), one line better."),
        (0.7, None, 0.7, "Even in its place this lens leaves 20/100 (0.2) at this pupil, and glasses make it no "
                         "better. Nothing is lost beyond that."),
        (0.8, None, 0.7, "Even in its place this lens leaves 20/100 (0.2) at this pupil, and glasses make it no "
                         "better. Beyond that it does not matter for reading: 20/125 (0.16) instead of 20/100 (0.2), "
                         "one line worse."),
        (np.nan, None, 0.0, "It matters, and glasses do not correct it: less than 20/2000 (less than 0.01) at best "
                            "instead of 20/20 (1.0), no letter is large enough."),
    ],
)  # fmt: skip
def test_the_verdict_follows_from_the_rows_it_names(read, best, goal, says):
    assert str(SightVerdict(_reading(read, best), _reading(goal))) == says


@pytest.mark.parametrize(
    ("read", "best", "goal", "beyond", "without", "poor"),
    [
        (0.1, 0.1, -0.1, False, False, False),  # two lines are lost, and 20/25 is enough
        (0.2, 0.2, 0.1, False, False, False),  # less than 20/25, but one line is lost
        (0.2, 0.2, 0.0, True, True, False),
        (0.2, 0.1, 0.0, False, True, False),
        (0.5, 0.3, 0.3, False, True, False),
        (0.4, 0.4, 0.4, False, False, True),
        (0.6, 0.4, 0.4, False, True, True),
        (np.nan, np.nan, 0.4, True, True, True),
        (np.nan, np.nan, np.nan, False, False, True),
    ],
)
def test_what_the_verdict_holds(read, best, goal, beyond, without, poor):
    verdict = SightVerdict(_reading(read, best), _reading(goal))
    assert (verdict.beyond_glasses, verdict.without_glasses, verdict.poor_in_place) == (beyond, without, poor)
    assert verdict.matters == (beyond or without or poor)
    assert not verdict.glare


def test_no_eye_that_reads_enough_is_called_beyond_glasses():
    for read in np.arange(-0.3, 0.12, 0.01):
        for goal in np.arange(-0.3, 0.3, 0.05):
            assert not SightVerdict(_reading(read), _reading(goal)).matters


def test_a_flat_lens_leans_towards_0_unless_told_and_a_tilted_one_as_before():
    assert planned().tilt < 1e-3
    assert lesson.moved(planned(), tilt=5.0).tilt_meridian == 0.0
    leaning = es.Pose(tilt=3.0, tilt_meridian=40.0)
    assert lesson.moved(leaning, tilt=5.0).tilt_meridian == 40.0
    several = lesson.moved(es.Pose(tilt=[0.0, 3.0], tilt_meridian=[236.0, 40.0]), deeper=0.1)
    assert several.tilt_meridian == pytest.approx([0.0, 40.0])


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: lesson.moved(5, tilt=5.0), "takes a Pose"),
        (lambda: lesson.moved("x"), "takes a Pose"),
        (lambda: lesson.moved(planned(), deeper="1"), "deeper"),
        (lambda: lesson.moved(planned(), deeper=None), "deeper"),
        (lambda: lesson.moved(planned(), deeper=float("nan")), "deeper"),
        (lambda: lesson.moved(planned(), tilt="5"), "tilt"),
    ],
)
def test_moves_that_are_none_are_answered_in_words(call, match):
    with pytest.raises(es.LearnerError, match=match):
        call()


def test_what_the_optic_would_touch():
    assert touches(EYE, chosen(), planned(), 3.0) == ""
    front = EYE.iris_z - planned().z - chosen().optic_thickness / 2.0  # from there the vertex stands in the iris plane
    assert touches(EYE, chosen(), lesson.moved(planned(), deeper=-front + 0.05), 3.0) == ""
    assert touches(EYE, chosen(), lesson.moved(planned(), deeper=-front - 0.3), 3.0) == "iris"
    assert touches(EYE, chosen(), lesson.moved(planned(), deeper=-2.0, tilt=30.0, x=3.0), 3.0) == "cornea"
    room = EYE.limbal_depth - EYE.corneal_thickness - planned().z - chosen().optic_thickness / 2.0
    assert touches(EYE, chosen(), lesson.moved(planned(), deeper=-room - 0.05), 3.0) == "cornea"


@pytest.mark.parametrize("answer", ["1.0 dioptres", "1 D", "1,0 dpt", np.array(1.0), np.float32(1.0), 1])
def test_a_number_may_be_written_in_many_ways(answer):
    assert lesson.read_number(answer, "D") == 1.0


@pytest.mark.parametrize("sign", ["-", "\u2212", "\u2013"])
def test_a_minus_may_be_a_hyphen_a_minus_or_an_en_dash(sign):
    assert lesson.read_number(f"{sign}0,54 D", "D") == -0.54


@pytest.mark.parametrize(
    ("answer", "kind"),
    [
        (EYE, "an Eye"),
        (es.Lens(), "a Lens"),
        ([1], "a list"),
        (np.zeros(2), "an array"),
        (None, "nothing"),
        (True, "True"),
    ],
)
def test_what_is_no_number_is_named_in_good_english(answer, kind):
    with pytest.raises(es.LearnerError, match=f"; {kind}.* was given"):
        lesson.read_number(answer, "D")


def test_moved_changes_what_is_said_and_nothing_else():
    pose = lesson.moved(planned(), deeper=0.3, tilt=4.0, tilt_meridian=30.0)
    assert pose.depth == pytest.approx(planned().depth + 0.3)
    assert (pose.tilt, pose.tilt_meridian, pose.roll) == (4.0, 30.0, planned().roll)
    assert lesson.moved(planned(), deeper=[0.0, 0.5, 1.0]).shape == (3,)
    with pytest.raises(es.LearnerError, match="no field of a pose"):
        lesson.moved(planned(), deep=0.5)


def test_tilt_and_shift_add_up_or_cancel_by_their_direction():
    towards, away = (sees(tilt=10.0, tilt_meridian=m, x=1.0) for m in (0.0, 180.0))
    assert towards.blur > 4.0 * away.blur
    both = [
        sees(tilt=10.0, tilt_meridian=m + 40.0, x=np.cos(np.radians(40)), y=np.sin(np.radians(40))) for m in (0, 180)
    ]
    assert both[0].blur == pytest.approx(towards.blur, rel=1e-6)  # turning everything turns the axis only
    assert both[1].blur == pytest.approx(away.blur, rel=1e-6)
