"""Points of training: the best is not beaten, and whoever reaches the printed percentage has reached it."""

from __future__ import annotations

import re

import numpy as np
import pytest

from eyesim import lesson
from eyesim.lesson import bank, spending, start, vary
from eyesim.lesson.spending import POINTS
from eyesim.study.error_model import Error
from eyesim.study.hands import Hands

IDS = ("start.train", "vary.spend", "log.train")


def spendings(kinds, n, rng):
    """Ways to spend all points, n of them, each as likely as by throwing points one by one."""
    return [tuple(int(one) for one in rng.multinomial(POINTS, [1.0 / kinds] * kinds)) for _ in range(n)]


def asked(id):
    """Give the question of the lesson, if it asks it, and of two people."""
    item = bank.ITEMS[id]
    if item.shown is not None:
        yield item.in_lesson()
    yield from (item.question(item.parameters("autumn", who)) for who in ("resident-1", "resident-2"))


@pytest.mark.slow
@pytest.mark.parametrize("id", IDS)
def test_whoever_reaches_the_printed_percentage_has_reached_it(id):
    for question in asked(id):
        enough = int(re.search(r"Full marks from (\d+) %", question.text)[1])
        kinds = list(question.form.fields)
        tried = [tuple(question.reference.answer.values()), *spendings(len(kinds), 12, np.random.default_rng(4))]
        best = tried[0]  # and its neighbours, which lie about the limit
        tried += [
            tuple(n - (i == away) + (i == to) for i, n in enumerate(best))
            for away in range(len(kinds)) for to in range(len(kinds)) if away != to and best[away]
        ][:12]  # fmt: skip
        verdicts = set()
        for spent in tried:
            feedback = question.judge(dict(zip(kinds, spent, strict=True)))
            reached, best_found = (int(text) for text in re.search(r"^(\d+) % .* (\d+) %\.", feedback.because).groups())
            assert feedback.right == (reached >= enough), feedback
            assert feedback.right or feedback.share < 1.0
            assert enough <= best_found
            verdicts.add(feedback.right)
        assert verdicts == {True, False}


@pytest.mark.slow
@pytest.mark.parametrize("training", [start._TRAINING, vary._TRAINING], ids=["start", "vary"])
def test_the_best_is_not_beaten_by_random_search(training):
    rng = np.random.default_rng(8)
    best, spent = training.best(0.4, 5.0)
    assert sum(spent) == POINTS
    assert best.value >= max(training.share(one, 0.4, 5.0).value for one in spendings(len(spent), 30, rng))


def test_what_each_kind_of_training_does_adds_up_where_errors_are_small():
    """Near the plan a lens follows small errors in proportion: then adding up leaves nothing to chance."""
    hands = Hands.perfect()

    def small(left):
        spread = {"meridian": 0.3, "iris_angle": 0.3}
        errors = zip(spread.items(), left, strict=True)
        return hands.but(**{name: Error(spread=float(rest * size)) for (name, size), rest in errors})

    training = spending.Training(("mark", "dip"), ("marks", "dips"), small, None, "", draws=200)
    untrained = spending._places(training, (0, 0))
    alone = [spending._places(training, one) - untrained for one in ((POINTS, 0), (0, POINTS))]
    parts = (1.0 - training.left((6, 4))) / (1.0 - training.left((POINTS, POINTS)))
    added = untrained + parts[0] * alone[0] + parts[1] * alone[1]
    apart = np.abs(added - spending._places(training, (6, 4)))
    for pair in (slice(0, 2), slice(2, 4)):  # shift, and tilt
        assert apart[pair].max() < 0.01 * np.abs(untrained[pair]).max()


def test_all_ways_to_spend_are_there():
    # stars and bars: ten points over k kinds can be spent in C(10 + k - 1, k - 1) ways
    for kinds, ways in ((2, 11), (4, 286), (6, 3003)):
        every = spending._spendings(kinds)
        assert len({tuple(one) for one in every.tolist()}) == len(every) == ways
        assert np.all(every.sum(axis=1) == POINTS)
        assert every.min() == 0


@pytest.mark.parametrize("answer", [{"mark": -1}, {"mark": 11}, {"mark": 1.5}, {"mark": 6, "dip": 5}, {"markings": 1}])
def test_points_are_whole_and_no_more_than_there_are(answer):
    feedback = lesson.check("vary.spend", answer)
    assert feedback.right is None
    assert feedback.words.startswith("This cannot be read")


def test_errors_are_understood_by_the_words_that_learners_read():
    question = lesson.question("vary.spend")
    for error, tunnel in (("iris angle", "tunnel lengths"), ("iris_angle", "tunnel_length"), ("Dips", "tunnel")):
        assert question.judge({error: 5, tunnel: 5}) == question.judge({"dip": 5, "tunnel": 5})
    assert "twice" in question.judge({"dip": 5, "iris_angle": 5}).because
