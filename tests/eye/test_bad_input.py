"""Nonsense is answered in the learner's words: field, value, range; never NumPy's, never NaN, never a hang."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim import chart as charts
from eyesim import draw, lesson
from eyesim.eye.checks import plain_errors

FIELDS = {
    es.Eye: ["white_to_white", "scleral_radius", "scleral_thickness", "white_to_white_vertical", "corneal_radius",
             "corneal_q", "iris_depth", "axial_length", "n_cornea", "side", "pupil_x"],
    es.Lens: ["optic_diameter", "haptic_length", "haptic_diameter", "loop_radius", "root_angle", "angulation",
              "youngs_modulus", "poisson_ratio", "first_bend", "loops", "flipped", "posterior_radius", "index"],
    es.Fixation: ["meridian", "limbus_distance", "limbus_angle", "iris_angle", "tunnel_length", "outside", "exit_angle",
                  "exit_swing", "wall", "scleral_radius", "clockwise", "anchor", "locked"],
    es.Pose: ["x", "y", "z", "tilt", "tilt_meridian", "roll"],
}  # fmt: skip

junk = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True),
    st.integers(),
    st.text(max_size=8),
    st.booleans(),
    st.none(),
    st.complex_numbers(),
    st.binary(max_size=4),
    st.lists(st.one_of(st.floats(), st.text(max_size=3), st.lists(st.floats(), max_size=2)), max_size=4),
    st.dictionaries(st.text(max_size=3), st.floats(), max_size=2),
    st.just(np.array([])),
    st.just(np.array(["a", None], dtype=object)),
    st.just(object()),
    st.just(float),
)
many = settings(max_examples=1500, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


@pytest.mark.slow
@many
@given(st.data())
def test_property_no_field_takes_nonsense_or_answers_in_other_words(data):
    kind = data.draw(st.sampled_from(sorted(FIELDS, key=lambda k: k.__name__)))
    name = data.draw(st.sampled_from(FIELDS[kind]))
    value = data.draw(junk)
    try:
        made = kind(**{name: value})
    except es.LearnerError as error:
        words = str(error)
    else:
        kept = getattr(made, name)
        assert kept is None or isinstance(kept, (str, bool)) or np.all(np.isfinite(kept))
        assert "nan" not in repr(made)
        return
    assert name in words
    assert len(words) < 400


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.builds(
        dict,
        meridian=st.floats(-700, 1000), limbus_distance=st.floats(0.2, 6), limbus_angle=st.floats(-60, 90),
        iris_angle=st.floats(-45, 89), tunnel_length=st.one_of(st.none(), st.floats(0.05, 6)), outside=st.floats(0, 8),
        exit_angle=st.one_of(st.none(), st.floats(-60, 120)), exit_swing=st.floats(-60, 60), clockwise=st.booleans(),
        anchor=st.sampled_from(["tunnel", "pin"]),
    ),
    st.builds(
        dict, haptic_length=st.floats(2, 16), loop_radius=st.floats(2, 1000), root_angle=st.floats(-30, 120),
        angulation=st.floats(-30, 30), flipped=st.booleans(), first_bend=st.floats(-60, 60),
    ),
)  # fmt: skip
def test_property_whatever_is_allowed_settles_or_says_why(fields, shape):
    lens = es.Lens(**shape)
    pose = es.settle(es.Eye(), lens, es.Fixation(**fields), es.Fixation(meridian=180.0), on_failure="flag")
    numbers = [pose.x, pose.y, pose.z, pose.tilt, pose.roll, *pose.tension]
    assert pose.settled == all(map(math.isfinite, numbers))
    assert pose.settled == (pose.reason == "")
    if not pose.settled:
        with pytest.raises(es.LearnerError):
            es.settle(es.Eye(), lens, es.Fixation(**fields), es.Fixation(meridian=180.0))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: es.Eye(white_to_white=0.0118), "metres"),
        (lambda: es.Eye(scleral_thickness=500), "micrometres"),
        (lambda: es.Lens(youngs_modulus=2500), "MPa"),
        (lambda: es.Fixation(iris_angel=5), "iris_angle"),
        (lambda: es.Fixation(limbus_angle=[10, math.nan]), "position 1"),
        (lambda: es.Eye(white_to_white=[11, 12], iris_depth=[3, 3, 3]), "shape"),
        (lambda: es.Fixation().but(merdian=3), "meridian"),
        (lambda: es.Fixation(0.0, meridian=1.0), "twice"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(), 180.0), "Fixation"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(), es.Fixation(), on_failure="x"), "on_failure"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(outside=[1, 1]), es.Fixation(meridian=[1, 2, 3])), "shape"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(outside=4), es.Fixation(meridian=180)), "cannot reach"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(anchor="pin"), es.Fixation(meridian=180, anchor="pin")),
         "free to rotate"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(), es.Fixation(meridian=180), pilot=3), "pilot"),
        (lambda: es.settle(es.Eye(), es.Lens(), es.Fixation(), es.Fixation()), "cannot reach"),
        (lambda: es.Fixation().pull(0.3), "locked"),
        (lambda: es.Fixation(locked=False).pull(-2.0), "outside"),
        (lambda: es.Fixation(locked=False).pull("a"), "haptic to pull"),
        (lambda: es.Fixation.aimed_at(es.Eye(), 0, tunnel_length=None), "never enters"),
        (lambda: es.clock_to_meridian(25), "clock hour"),
        (lambda: es.side_to_meridian("left", "right"), "nasal"),
        (lambda: es.haptic_curves(es.Pose()), "single lens that has settled"),
        (lambda: es.Eye(corneal_q=1.0, corneal_radius=6.0, white_to_white=14.0), "does not reach"),
    ],
)  # fmt: skip
def test_clear_error(make, words):
    with pytest.raises(es.LearnerError, match=words):
        make()


def test_speed_of_a_wrong_and_of_a_right_answer_is_the_same_no_hang():
    wild = es.Fixation(meridian=np.linspace(-180, 180, 721))
    pose = es.settle(es.Eye(), es.Lens(), wild, es.Fixation(meridian=180.0))
    assert pose.shape == (721,)
    assert np.all(pose.settled | (pose.reason != ""))
    assert not np.any(pose.reason == "not converged")


EYE, LENS, POSE = es.Eye(), es.Lens(), es.Pose()


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: es.refract(EYE, LENS, POSE, pupl=3.0), "refract knows no 'pupl'. Did you mean 'pupil'?"),
        (lambda: es.refract(EYE, LENS, POSE, colour=3.0), "refract knows no 'colour'. It takes eye, lens, pose, pupil"),
        (lambda: es.refract(EYE, LENS), "refract still needs pose."),
        (
            lambda: es.refract(EYE, LENS, POSE, 3.0, 4.0),
            "refract takes eye, lens, pose, pupil, in this order; 5 things",
        ),
        (lambda: es.refract(EYE, LENS, POSE, pose=POSE), "refract: pose was given twice."),
        (lambda: es.operate(EYE, LENS, es.Fixation(), es.Fixation()), "operate still needs hands."),
        (lambda: es.settle(EYE, LENS, es.Fixation()), "settle still needs second."),
        (lambda: es.Refraction(sphere=-1.0), "Refraction knows no 'sphere'. It takes M, J0, J45. From sphere"),
        (lambda: draw.letter_chart(EYE, LENS, POSE), "letter_chart takes sight, in this order; 3 things were given."),
        (lambda: charts.cloud(None, color="surprise"), "cloud knows no 'color'. Did you mean 'colour'?"),
        (lambda: lesson.check("sight.forward"), "check still needs answer."),
    ],
)
def test_a_wrong_call_is_answered_in_words(call, said):
    with pytest.raises(es.LearnerError) as answer:
        call()
    assert str(answer.value).startswith(said)


def test_a_fault_inside_a_call_that_fits_is_left_alone():
    @plain_errors
    def adds(one, two=1):
        return one + two

    assert adds(1) == 2
    with pytest.raises(TypeError, match="unsupported operand"):
        adds(1, "2")
