"""Item statistics against a published worked example and known truths; coverage of every interval that is shown."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from eyesim.marking.mark import Mark, Result
from eyesim.marking.roster import Person
from eyesim.marking.statistics import class_statistics, correlation, mean_share, reliability

# "The Kuder-Richardson 20", worked example of ten students and ten items, East Carolina University, StatHelp KR20.txt
QUIZ = np.array([[int(c) for c in row] for row in (
    "1111110110", "1011011101", "1111011001", "0010001000", "0000010010",
    "1110111111", "1101110111", "1111111101", "0101111101", "1101101110",
)])  # fmt: skip


def everybody(scores, confidence=""):
    people = []
    for i, row in enumerate(scores):
        marks = tuple(Mark(f"q{j}", s, 1.0, float(s), s == 1, "", "" if s else "slip", confidence, "x")
                      for j, s in enumerate(row))  # fmt: skip
        people.append(Result(Person(f"r{i}"), "handed in", marks))
    return people


def test_reference_the_worked_example_of_a_quiz():
    found = class_statistics(everybody(QUIZ))
    # printed there: p of the items, and the variance of the totals
    printed = [0.7, 0.7, 0.6, 0.7, 0.6, 0.8, 0.7, 0.7, 0.5, 0.6]
    assert [one.difficulty.value for one in found.items] == pytest.approx(printed, abs=1e-12)
    assert QUIZ.sum(axis=1).var() == pytest.approx(5.84, abs=0.005)
    assert found.right_or_wrong


def test_reference_kuder_and_richardson_by_hand():
    p = QUIZ.mean(axis=0)
    totals = QUIZ.sum(axis=1)
    # KR-20 as every textbook has it, with variances of the population
    kr20 = 10.0 / 9.0 * (1.0 - (p * (1.0 - p)).sum() / totals.var())
    assert reliability(QUIZ).value == pytest.approx(kr20, abs=1e-12)


def test_reference_alpha_is_hoyt_s_ratio_of_mean_squares():
    # Psychometrika 1941, Test reliability estimated by analysis of variance: 1 - MS(residual) / MS(persons)
    rng = np.random.default_rng(5)
    scores = rng.normal(size=(30, 1)) + rng.normal(size=(30, 6))
    persons = 6.0 * scores.mean(axis=1).var(ddof=1)
    residual = scores - scores.mean(axis=1, keepdims=True) - scores.mean(axis=0) + scores.mean()
    within = (residual**2).sum() / (29 * 5)
    assert reliability(scores).value == pytest.approx(1.0 - within / persons, abs=1e-12)


def test_reference_interval_of_alpha_by_its_formula():
    # as the R package cocron documents it (Feldt, Woodruff and Salih 1987, formulas 6 and 7)
    found = reliability(QUIZ)
    one, two = (stats.f(9, 81).ppf(q) for q in (0.975, 0.025))
    assert found.low == pytest.approx(1.0 - (1.0 - found.value) * one)
    assert found.high == pytest.approx(1.0 - (1.0 - found.value) * two)


def test_the_interval_of_alpha_covers_the_truth_19_times_in_20():
    # parallel items of variance 2 with covariance 1: alpha = 8 / 9 * ... = k c / (v + (k - 1) c) = 0.8889 for k = 8
    rng, covered = np.random.default_rng(1), 0
    for _ in range(600):
        scores = rng.normal(size=(40, 1)) + rng.normal(size=(40, 8))
        found = reliability(scores)
        covered += found.low <= 8.0 / 9.0 <= found.high
    assert 0.92 <= covered / 600 <= 0.98


def test_the_interval_of_a_discrimination_covers_the_truth_19_times_in_20():
    rng, covered = np.random.default_rng(2), 0
    for _ in range(600):
        x = rng.normal(size=30)
        y = 0.6 * x + 0.8 * rng.normal(size=30)
        found = correlation(x, y)
        covered += found.low <= 0.6 <= found.high
    assert 0.92 <= covered / 600 <= 0.98


def test_the_interval_of_a_difficulty_covers_the_truth_at_least_19_times_in_20():
    rng, exact, graded = np.random.default_rng(3), 0, 0
    for _ in range(600):
        found = mean_share((rng.random(25) < 0.7).astype(float))
        exact += found.low <= 0.7 <= found.high
        found = mean_share(rng.choice([0.0, 0.5, 1.0], 25, p=[0.2, 0.3, 0.5]))
        graded += found.low <= 0.65 <= found.high
    assert exact / 600 >= 0.94
    assert 0.92 <= graded / 600 <= 0.98


def test_discrimination_leaves_the_question_itself_out():
    scores = np.array([[1, 0, 0], [0, 1, 1], [1, 0, 0], [0, 1, 1], [1, 1, 0], [0, 0, 1]])
    asked = class_statistics(everybody(scores)).items
    assert asked[0].discrimination.value == pytest.approx(np.corrcoef(scores[:, 0], scores[:, 1:].sum(axis=1))[0, 1])
    assert asked[0].discrimination.value < 0.0


@pytest.mark.parametrize("shape", [(9, 4), (3, 4), (9, 1), (0, 0)])
@pytest.mark.parametrize("fill", [np.ones, np.zeros])
def test_where_too_little_is_known_nothing_is_said(shape, fill):
    found = class_statistics(everybody(fill(shape)))
    assert found.reliability is None
    assert all(one.discrimination is None for one in found.items)


def test_misconceptions_are_counted_and_confidence_is_held_against_what_is_right():
    found = class_statistics(everybody(QUIZ, "certain"))
    first = found.items[0]
    assert first.misconceptions == (("slip", int((QUIZ[:, 0] == 0).sum())),)
    right, n = found.by_confidence["certain"]
    assert (n, right.value) == (100, pytest.approx(QUIZ.mean()))


def test_who_is_missing_counts_for_nothing_and_a_text_is_left_to_the_director():
    people = everybody(QUIZ)
    text = Mark("why", None, 2.0, None, None, "", "", "", "because")
    people = [Result(one.person, one.state, (*one.marks, text)) for one in people]
    gone = Result(Person("gone"), "missing", people[0].marks)
    found = class_statistics([*people, gone])
    assert found.items[0].n == 10
    assert found.items[-1].difficulty is None
    assert found.reliability.value == pytest.approx(reliability(QUIZ).value)
