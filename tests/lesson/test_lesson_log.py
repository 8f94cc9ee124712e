"""The lesson on the practice log: what it asks is held against closed forms, tables and another way of reckoning."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, special, stats

import eyesim as es
from eyesim import lesson, practice
from eyesim.eye.checks import LearnerError
from eyesim.eye.sources import data_folder
from eyesim.lesson import bank, habits, log
from eyesim.lesson.spending import POINTS
from eyesim.photo.camera import Known
from eyesim.photo.front import measure_front
from eyesim.photo.log_rows import log_rows
from eyesim.photo.points import read_points
from eyesim.practice.cusum import Rates, learning_walk
from eyesim.practice.run_length import signal_by
from eyesim.practice.skills import skills

ROOT = Path(__file__).resolve().parents[2]
POINTS_IN_FRONT = read_points(data_folder() / "demo" / "eye-in-front.csv")
PLAN = es.Fixation(meridian=0.0), es.Fixation(meridian=0.0).opposite()


def test_what_lies_behind_the_limbus_is_shifted_by_its_depth_times_the_sine():
    # closed form of parallel projection: a point d behind the plane that is looked at from an angle t moves by d sin t
    shift, oblique = log.parallax()
    # the eye is painted with a depth of 2.7 mm; it is shifted along the line on which the camera stood
    assert np.hypot(*shift) == pytest.approx(2.7 * np.sin(np.radians(oblique)), abs=0.01)
    towards = np.degrees(np.arctan2(shift[1], shift[0]))
    assert (towards - log.CAMERA_FROM + 90.0) % 180.0 - 90.0 == pytest.approx(0.0, abs=3.0)  # points set by hand
    (pose,) = lesson.predict("log.camera").result()
    assert (pose.x, pose.y) == pytest.approx(shift, abs=1e-4)


@pytest.mark.parametrize("n", range(2, 41))
def test_a_row_of_two_follows_from_the_fibonacci_numbers(n):
    # On-Line Encyclopedia of Integer Sequences, A000045: of 2^n rows of heads and tails, F(n + 2) have no two heads
    # beside each other
    a, b = 1, 1
    for _ in range(n):
        a, b = b, a + b
    assert log.row_of_good(2, n, 0.5) == pytest.approx(1.0 - b / 2.0**n, abs=1e-12)


def test_a_row_of_good_ones_as_often_as_it_is_played():
    rng = np.random.default_rng(1)
    good = rng.random((40000, 30)) > 0.3
    rows = np.lib.stride_tricks.sliding_window_view(good, 5, axis=1).all(axis=2).any(axis=1)
    assert log.row_of_good(5, 30, 0.3) == pytest.approx(rows.mean(), abs=4 * np.sqrt(0.11 / len(good)))


@pytest.mark.parametrize(("n", "low", "high"), [(10, 19.023, 2.700), (20, 32.852, 8.907), (30, 45.722, 16.047)])
def test_how_well_a_spread_is_known(n, low, high):
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, critical values of chi-square at 0.975 and 0.025
    assert log.spread_between(n, 1.0) == pytest.approx([np.sqrt((n - 1) / low), np.sqrt((n - 1) / high)], rel=2e-4)


def test_what_is_left_of_a_spread_without_the_worst():
    # order statistics of chi-square by quadrature; the mean of a root lies a little below the root of the mean
    kept, n = 0.0, 10
    for r in range(1, 8):
        many = r * special.comb(n, r)
        kept += integrate.quad(
            lambda x, r=r, many=many: x * many * stats.chi2.cdf(x, 1) ** (r - 1) * stats.chi2.sf(x, 1) ** (n - r)
            * stats.chi2.pdf(x, 1), 0.0, 60.0, limit=200,
        )[0]  # fmt: skip
    root = np.sqrt(kept / 7.0)
    assert 0.93 * root < log.left_of_spread(10, 3) < root


def test_marks_that_are_off_alike_cost_nothing_and_what_differs_does():
    training = habits.training_of(7.0)
    alone = {
        kind: training.share([POINTS * (kind == one) for one in habits.KINDS], 0.4, 5.0).value for kind in habits.KINDS
    }
    none = training.share(training.none, 0.4, 5.0).value
    assert alone["mark_habit"] == pytest.approx(none, abs=0.005)
    assert min(alone["dip_habit"], alone["tunnel_spread"]) > none + 0.05


def test_a_bias_is_the_mean_of_the_misses_that_stand_in_the_text():
    item = bank.ITEMS["log.bias"]
    for person in range(8):
        question = item.question(item.parameters("spring", f"r-{person}"))
        pairs = re.findall(r"(-?\d+(?:\.\d+)?) and (-?\d+(?:\.\d+)?)", question.text)
        assert len(pairs) == 6
        assert question.form.value == pytest.approx(np.mean([float(got) - float(aim) for aim, got in pairs]), abs=1e-9)


def test_a_habit_is_found_by_the_means_that_stand_in_the_text():
    item = bank.ITEMS["log.habit"]
    for person in range(12):
        question = item.question(item.parameters("spring", f"r-{person}"))
        rows = re.findall(r"(towards|away), (A|B), (-?\d+(?:\.\d+)?)", question.text)
        assert len(rows) == 12
        value = np.array([float(row[2]) for row in rows])
        groups = {
            "way": np.array([row[0] == "towards" for row in rows]),
            "rater": np.array([row[1] == "B" for row in rows]),
            "late": np.arange(12) >= 6,
        }
        apart = {key: stats.ttest_ind(value[group], value[~group]).pvalue for key, group in groups.items()}
        found = min(apart, key=apart.get)
        assert question.form.right == (found if apart[found] < 0.005 else "none")


def test_what_the_lesson_says_in_words_is_so():
    words = (ROOT / "notebooks" / "Log your practice.ipynb").read_text()
    rates, demo = Rates(), practice.demonstration()
    passed = signal_by(learning_walk(rates), 0.2, rates.within)[0][-1]
    rows = [100.0 * log.row_of_good(5, n, 0.3) for n in (30, 60)]
    assert f"lets {rows[0]:.0f} of 100 such hands through within 30 attempts, and {rows[1]:.0f} within 60" in words
    assert f"that fail in two of ten it passes {100 * passed:.0f} of 100" in words
    failed = {way: int(practice.curve_of(demo.only(way=way)).failed.sum()) for way in ("away", "towards")}
    assert failed == {"away": 1, "towards": 4}
    assert "failed once in twenty, towards oneself in four of twenty" in words
    assert f"{1.0 / log.left_of_spread(10, 3):.1f} times as steady" in words
    steep = next(one for one in skills(demo, "way") if (one.quantity, one.group) == ("iris_angle", "towards"))
    assert f"known from {steep.bias.low:.1f} to {steep.bias.high:.1f} deg only" in words


def test_an_attempt_that_is_shown_as_failed_has_failed():
    (pose,) = lesson.predict("log.passing").result()
    assert pose.tilt > lesson.TILT_LIMIT


@pytest.mark.slow
def test_lesson_and_bank_ask_the_same_of_training():
    asked = lesson.question("log.train")
    assert asked.judge(asked.reference.answer).right
    assert asked.judge({"dip_habit": 11}).right is None
    assert asked.judge({"mark_habits": 1}).right is None
    assert "dip_habit" in asked.judge("dips first").words


# ---------------------------------------------------------------- from a photograph into the log


def test_a_photograph_gives_rows_for_both_haptics():
    found = measure_front(POINTS_IN_FRONT, Known(camera_from=300.0))
    rows = log_rows(found, *PLAN, when="2026-11-20", attempt="p-1", rater="A")
    assert [(row.side, row.quantity) for row in rows] == [
        (side, one) for side in ("first", "second") for one in ("limbus_angle", "limbus_distance", "meridian")
    ]  # fmt: skip
    assert {(row.attempt, row.rater, row.when.day) for row in rows} == {("p-1", "A", 20)}
    # the photograph is painted: marks at 8 and 184 deg, lines at 22 and 15 deg to the limbus
    truth = {"first": (22.0, 2.0, 8.0), "second": (15.0, 2.2, 184.0)}
    for row, value in zip(rows, [v for side in truth.values() for v in side], strict=True):
        assert row.achieved == pytest.approx(value, abs={"mm": 0.25, "deg": 1.5}[row.unit])
        assert "95 % interval" in row.note


def test_a_line_counts_without_its_mark_and_a_mark_without_its_line():
    only = {name: POINTS_IN_FRONT.of[name] for name in ("limbus", "mark1", "line2")}
    rows = log_rows(measure_front(only, Known(white_to_white=11.8)), *PLAN)
    assert {(row.side, row.quantity) for row in rows} == {
        ("first", "meridian"), ("first", "limbus_distance"),
        ("second", "meridian"), ("second", "limbus_distance"), ("second", "limbus_angle"),
    }  # fmt: skip


def test_a_photograph_without_a_pass_says_so():
    edges = {name: POINTS_IN_FRONT.of[name] for name in ("limbus", "optic")}
    found = measure_front(edges, Known(white_to_white=11.8))
    with pytest.raises(LearnerError, match="set mark1"):
        log_rows(found, *PLAN)
    with pytest.raises(LearnerError, match="first"):
        log_rows(found, 0.0, 180.0)
    with pytest.raises(LearnerError, match="found"):
        log_rows("eye.jpg", *PLAN)
