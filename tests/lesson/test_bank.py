"""Every question, at the lesson's numbers and at everybody's own.

The bank: the reference is right for all, and wrong ideas are named. And one builder a question: a lesson and an
assignment say the same, and nothing that is printed contradicts a verdict.
"""

from __future__ import annotations

import ast
import hashlib
import json
import re
from collections import Counter

import numpy as np
import pytest

import eyesim as es
from eyesim import lesson
from eyesim.hold.needle import needle_pass
from eyesim.lesson import LESSONS, bank
from eyesim.lesson.item import Item, Span
from eyesim.marking.assignment import Assignment, Entry

PEOPLE = [f"resident-{i}" for i in range(6)]
NUMBERS = [item for item in bank.ITEMS.values() if item.kind == "number"]
PLANS = [item for item in bank.ITEMS.values() if item.kind == "plan"]
EVERY = [item for module in LESSONS.values() for item in module.ITEMS]
SHOWN = [item for item in EVERY if item.shown is not None]
BOTH = [item for item in SHOWN if item.spans]
ALL_PLANS = [item for item in EVERY if item.kind == "plan"]
ALL_NUMBERS = [item for item in EVERY if item.kind == "number"]


def drawn(item, seed="autumn"):
    """Questions of a few people."""
    return [(numbers, item.question(numbers)) for numbers in (item.parameters(seed, who) for who in PEOPLE)]


def test_every_lesson_has_at_least_six_items_of_all_four_kinds():
    lessons = {}
    for id, item in bank.ITEMS.items():
        lessons.setdefault(id.partition(".")[0], []).append(item)
    assert set(lessons) == set(LESSONS)
    for items in lessons.values():
        assert len(items) >= 6
        assert {item.kind for item in items} == set(bank.KINDS)
    assert {item.level for item in bank.ITEMS.values()} == set(bank.LEVELS)


@pytest.mark.parametrize("item", bank.ITEMS.values(), ids=list(bank.ITEMS))
def test_the_reference_is_right_and_every_wrong_idea_is_named_with_its_reason(item):
    for numbers, question in drawn(item):
        right = question.judge(question.reference.answer)
        assert (right.right, right.share) == (True, 1.0), (numbers, right)
        assert 2 <= len(question.wrong) <= 3
        for name, answer in question.wrong.items():
            told = question.judge(answer)
            assert (told.right, told.misconception) == (False, name), (numbers, name, told)
            assert told.share < 1.0
            assert len(told.words) > 40
        words = repr(question) + repr(question.reference) + right.words
        assert not re.search(r"\bnan\b|\binf\b|None|\{\w+\}", words), words
        assert question.judge(...).right is None
        assert question.judge("\0 nonsense").right is None


@pytest.mark.slow
@pytest.mark.parametrize("item", bank.ITEMS.values(), ids=list(bank.ITEMS))
def test_numbers_are_ones_own_and_stand_in_the_text(item):
    every = [item.parameters("autumn", f"resident-{i}") for i in range(40)]
    assert len({json.dumps(one) for one in every}) >= 5
    assert every[0] == item.parameters("autumn", "resident-0")
    assert every != [item.parameters("spring", f"resident-{i}") for i in range(40)]
    assert len({repr(question) for _, question in drawn(item)}) >= 2
    for one in every:
        assert list(one) == [span.name for span in item.spans]
        assert all(one[span.name] in span.values for span in item.spans)


def test_numbers_follow_from_seed_person_and_item_by_a_published_digest():
    # FIPS 180-4 (SHA-256), by the standard library: the first draw is the digest of the text, counted from 0
    item = bank.ITEMS["start.tilt"]
    (span,) = item.spans
    text = json.dumps(["autumn", "resident-1", "start.tilt", 0]).encode()
    digest = int.from_bytes(hashlib.sha256(text + bytes(4)).digest(), "big")
    assert item.parameters("autumn", "resident-1") == {"more": span.values[digest % len(span.values)]}


def test_every_value_is_as_likely():
    item = bank.Item("test.one", "number", "", "recognise", (Span("x", "", tuple("abcdefgh")),), lambda id, x: x, "")
    counts = Counter(item.parameters("s", str(i))["x"] for i in range(4000))
    expected = 4000 / 8  # chi-square, 7 degrees of freedom: 24.3 is passed by chance once in a thousand
    assert sum((n - expected) ** 2 / expected for n in counts.values()) < 24.3
    assert len(counts) == 8


@pytest.mark.parametrize("item", NUMBERS, ids=[item.id for item in NUMBERS])
def test_numbers_are_taken_with_commas_and_units_and_near_ones_earn_something(item):
    for _, question in drawn(item)[:3]:
        form = question.form
        text = f"{form.value:.5f}".replace(".", ",")
        assert question.judge(text).right
        assert question.judge(f"{text} {form.unit}".strip()).right
        near = question.judge(form.value + 2.0 * form.tolerance)
        assert near.share in (0.0, 0.5)
        assert question.judge(form.value + 1e6).share == 0.0


@pytest.mark.parametrize("item", [i for i in bank.ITEMS.values() if i.kind in ("choice", "cause")],
                         ids=[i.id for i in bank.ITEMS.values() if i.kind in ("choice", "cause")])  # fmt: skip
def test_what_is_right_differs_between_people(item):
    rights = Counter(item.question(item.parameters("autumn", f"r{i}")).form.right for i in range(30))
    if item.id == "start.alike":  # what is alike never shifts nor tilts, whatever the numbers
        assert set(rights) == {"deeper"}
    else:
        assert len(rights) >= 2


@pytest.mark.parametrize("item", PLANS, ids=[item.id for item in PLANS])
@pytest.mark.parametrize("answer", [
    "", "all of it", None, 3, [], {"first": "x"}, {"nonsense": 1}, {1: 2}, {"first": {"iris_angle": 1e300}},
    {"iris_angle": float("nan"), "tunnel_length": 1, "outside": 1}, {"power": 20, "iris_angle": 1e9},
    {"power": 20.1, "iris_angle": 5}, {"meridian": "__import__('os')", "iris_angle": 5}, {"mark": -1}, {"mark": 99},
    {"tunnel_length": -5, "outside": 0.8}, {"first": 1e12, "second": 0},
])  # fmt: skip
def test_what_is_no_plan_is_said_in_words(item, answer):
    told = drawn(item)[0][1].judge(answer)
    assert told.right in (None, False)
    assert "Traceback" not in told.words
    assert told.words


def test_a_straight_tunnel_by_hand():
    # where the line from the outer opening meets the inner sphere, by the quadratic formula, apart from the solver
    item = bank.ITEMS["needles.length"]
    for numbers, question in drawn(item):
        radius, edge = 12.0, 11.8 / 2.0
        alpha = np.arcsin(edge / radius) + 2.0 / radius
        start = radius * np.array([np.sin(alpha), 0.0, np.cos(alpha)])
        gamma, beta = np.radians(numbers["limbus"]), np.radians(numbers["dip"])
        way = np.array([-np.cos(beta) * np.sin(gamma), -np.cos(beta) * np.cos(gamma), -np.sin(beta)])
        half = start @ way
        root = half**2 - (radius**2 - (radius - numbers["wall"]) ** 2)
        assert question.form.value == pytest.approx(-half - np.sqrt(root), abs=1e-6)


def test_four_passes_of_which_one_stays_in_the_wall():
    for numbers, question in drawn(bank.ITEMS["needles.stays"]):
        stuck = []
        for choice in question.form.choices:
            limbus, dip = (float(text) for text in re.findall(r"([0-9.]+) deg", choice.words))
            side = es.Fixation(limbus_angle=limbus, iris_angle=dip, tunnel_length=None, wall=numbers["wall"])
            stuck += [] if needle_pass(es.Eye(), side).enters else [choice.key]
        assert stuck == [question.form.right]


def test_a_plan_is_scored_by_what_the_simulation_makes_of_it():
    item = bank.ITEMS["start.train"]
    numbers = {"off": 0.4, "lean": 4.0}
    question = item.question(numbers)
    best = question.judge(question.reference.answer)
    equal = question.judge({"mark": 3, "dip": 3, "tunnel": 2, "outside": 2})
    none = question.judge({})
    assert best.share == 1.0 > equal.share > none.share == 0.0
    hands = es.Hands().scale(0.88**3, "meridian", "iris_angle").scale(0.88**2, "tunnel_length", "outside")
    plain = es.Fixation(meridian=0.0)
    pose = es.operate(es.Eye(), es.Lens(), plain, plain.opposite(), hands, n=500, rng=3, progress=False).pose
    with np.errstate(invalid="ignore"):
        share = np.mean(pose.settled & (pose.decentration <= 0.4) & (pose.tilt <= 4.0))
    assert equal.words.startswith(f"{100 * share:.0f} % lie within")


def test_not_curable_is_a_plan_that_is_right_where_it_is_so():
    item = bank.ITEMS["tunnels.recentre"]
    mark, drawn_out = ({"wrong": wrong, "size": 1.0} for wrong in ("mark", "outside"))
    assert item.question(mark).judge("Not curable").right
    assert not item.question(drawn_out).judge("not curable").right
    assert item.question(drawn_out).judge({"second": -1.0}).share > 0.9


@pytest.mark.parametrize(("seed", "who"), [("", "a"), ("a", ""), (3, "a"), ("a", None)])
def test_seed_and_person_are_texts(seed, who):
    with pytest.raises(es.LearnerError, match="is a text"):
        bank.ITEMS["marks.shift"].parameters(seed, who)


def test_a_second_pass_that_is_printed_as_within_the_limits_is_right():
    question = bank.ITEMS["start.follow"].question({"mark": 8.0, "dip": 12.0})
    near = [question.judge({"meridian": 188.0 + off, "iris_angle": 12.0}) for off in np.arange(1.5, 2.3, 0.02)]
    shifts = [float(feedback.pose.decentration) for feedback in near]
    assert any(0.1 < shift < 0.105 for shift in shifts)
    assert [feedback.right for feedback in near] == [float(f"{shift:.2f}") <= 0.1 for shift in shifts]


def test_tunnels_that_are_printed_as_within_the_limits_are_right():
    question = bank.ITEMS["needles.two-walls"].question({"thin": 0.45, "thick": 0.63, "goal": 2.0})
    best = question.reference.answer
    near = [
        question.judge({**best, "second": {**best["second"], "limbus_angle": best["second"]["limbus_angle"] + more}})
        for more in np.arange(1.0, 2.4, 0.02)
    ]
    lengths = [float(re.search(r"and ([0-9.]+) mm\.", feedback.because)[1]) for feedback in near]
    assert {1.84, 1.85} <= set(lengths)
    assert [feedback.right for feedback in near] == [length >= 1.85 for length in lengths]


# ---------------------------------------------------------------- in lessons and in assignments alike


def named(items):
    return pytest.mark.parametrize("item", items, ids=[item.id for item in items])


def asked(item):
    """Give the question as the lesson asks it, and as a few people get it in an assignment."""
    if item.shown is not None:
        yield item.in_lesson()
    if item.spans:
        yield from (item.question(item.parameters("autumn", who)) for who in PEOPLE[:4])


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


@named(ALL_PLANS)
def test_no_example_earns_full_marks(item):
    for question in asked(item):
        found = list(examples(question))
        for plan in found:
            told = question.judge(plan)
            assert told.right is False, (plan, told)
            assert told.share < 1.0


@named(ALL_NUMBERS)
def test_what_is_said_to_a_wrong_number_does_not_hold_the_right_one(item):
    for question in asked(item):
        form = question.form
        for answer in (..., "\0 nonsense", *question.wrong.values(), form.value + 4.0 * form.tolerance):
            words = question.judge(answer).because
            written = re.findall(rf"(-?[0-9]+\.[0-9]+) {re.escape(form.unit)}", words) if form.unit else []
            assert not [text for text in written if abs(float(text) - form.value) <= form.tolerance], words


@named([item for item in EVERY if item.kind != "plan"])
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
def test_right_letters_are_spread_evenly():
    """Nobody does well by always choosing the same letter: each comes out about as often as by chance."""
    picks = [form for form in (item.in_lesson().form for item in SHOWN) if form.kind == "choice"]
    counts = Counter(form.letter for form in picks)
    for i, letter in enumerate("abcd"):
        by_chance = sum(1.0 / len(form.choices) for form in picks if i < len(form.choices))
        assert abs(counts[letter] - by_chance) <= max(2.5, 0.35 * by_chance), (letter, by_chance, counts)
