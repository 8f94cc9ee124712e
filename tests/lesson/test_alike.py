"""One builder a question: a lesson and an assignment say the same, and nothing that is printed contradicts a verdict.

All tests run over every question of every lesson, at the numbers of the lesson and at drawn ones.
"""

from __future__ import annotations

import ast
import re
from collections import Counter

import pytest

from eyesim import lesson
from eyesim.lesson.item import Item
from eyesim.marking.assignment import Assignment, Entry

PEOPLE = [f"resident-{i}" for i in range(4)]
ITEMS = [item for module in lesson.LESSONS.values() for item in module.ITEMS]
SHOWN = [item for item in ITEMS if item.shown is not None]
BOTH = [item for item in SHOWN if item.spans]
PLANS = [item for item in ITEMS if item.kind == "plan"]
NUMBERS = [item for item in ITEMS if item.kind == "number"]


def named(items):
    return pytest.mark.parametrize("item", items, ids=[item.id for item in items])


def asked(item):
    """Give the question as the lesson asks it, and as a few people get it in an assignment."""
    if item.shown is not None:
        yield item.in_lesson()
    if item.spans:
        yield from (item.question(item.parameters("autumn", who)) for who in PEOPLE)


def answers(question):
    """Give right, near, wrong, missing and unreadable answers."""
    yield from (question.reference.answer, *question.wrong.values(), ..., "\0 nonsense", {"no such": 1})
    if question.form.kind == "number":
        form = question.form
        yield from (form.value + side * miss * form.tolerance for side in (-1, 1) for miss in (0.9, 1.1, 2.9, 9.0))
    if question.form.kind == "choice":
        yield from (choice.key for choice in question.form.choices)


@named(BOTH)
def test_a_lesson_and_an_assignment_say_the_same(item, monkeypatch):
    monkeypatch.setattr(Item, "parameters", lambda self, seed, who: dict(self.shown))
    hour = Assignment("An hour", "autumn", (Entry("one", 1.0, "Part", item.id),))
    in_lesson, in_assignment = lesson.question(item.id), hour.question(hour.entries[0], "r-01")
    assert in_lesson.text == in_assignment.text
    assert in_lesson.wrong == in_assignment.wrong
    assert in_lesson.reference.reasoning == in_assignment.reference.reasoning
    for answer in answers(in_lesson):
        if in_lesson.form.kind == "choice" and answer == in_lesson.reference.answer:
            continue  # a letter; in an assignment the choices stand in another order
        here, there = lesson.check(item.id, answer), in_assignment.judge(answer)
        parts = ("right", "share", "misconception", "verdict", "because")
        assert [getattr(here, part) for part in parts] == [getattr(there, part) for part in parts], answer
        assert here.matters == there.matters or (in_lesson.reveals and not there.right)


def examples(question):
    """Give the plans that stand in what somebody reads before a right answer: text, prompt and hints."""
    words = [question.text, question.form.how()]
    words += [question.judge(answer).words for answer in (..., "\0 nonsense", {}, *question.wrong.values())]
    for found in re.findall(r"\{(?:[^{}]|\{[^{}]*\})+\}", " ".join(words)):
        if "..." not in found:
            yield ast.literal_eval(found)


@named(PLANS)
def test_no_example_earns_full_marks(item):
    for question in asked(item):
        found = list(examples(question))
        for plan in found:
            told = question.judge(plan)
            assert told.right is False, (plan, told)
            assert told.share < 1.0


@named(NUMBERS)
def test_what_is_said_to_a_wrong_number_does_not_hold_the_right_one(item):
    for question in asked(item):
        form = question.form
        for answer in (..., "\0 nonsense", *question.wrong.values(), form.value + 4.0 * form.tolerance):
            words = question.judge(answer).because
            written = re.findall(rf"(-?[0-9]+\.[0-9]+) {re.escape(form.unit)}", words) if form.unit else []
            assert not [text for text in written if abs(float(text) - form.value) <= form.tolerance], words


@named([item for item in ITEMS if item.kind != "plan"])
def test_a_choice_or_a_number_stands_once(item):
    """No two choices read alike, and no two slips lead to one number."""
    for question in asked(item):
        form = question.form
        if form.kind == "choice":
            assert len({choice.words for choice in form.choices}) == len(form.choices)
        else:
            values = [form.value, *question.wrong.values()]
            assert all(abs(a - b) > form.tolerance for i, a in enumerate(values) for b in values[:i])


@pytest.mark.slow
@pytest.mark.slow
def test_right_letters_are_spread_evenly():
    """Nobody does well by always choosing the same letter: each comes out about as often as by chance."""
    picks = [form for form in (item.in_lesson().form for item in SHOWN) if form.kind == "choice"]
    counts = Counter(form.letter for form in picks)
    for i, letter in enumerate("abcd"):
        by_chance = sum(1.0 / len(form.choices) for form in picks if i < len(form.choices))
        assert abs(counts[letter] - by_chance) <= max(2.5, 0.35 * by_chance), (letter, by_chance, counts)
