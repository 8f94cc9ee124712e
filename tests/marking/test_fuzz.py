"""A run against time: hand-ins that were broken at random are read, marked and shown, whatever is in them.

Every run breaks others; what failed is in the message, with the seed. EYESIM_FUZZ_SECONDS sets how long it goes on.
"""

from __future__ import annotations

import copy
import html.parser
import json
import math
import os
import random
import time
from pathlib import Path

import pytest
from test_marking import HOUR, PEOPLE, handed

from eyesim.marking.handin import Damaged, parse_hand_in
from eyesim.marking.mark import HandedIn, mark_hand_in
from eyesim.page.feedback_page import feedback_page
from eyesim.page.gradebook import tables

SECONDS = float(os.environ.get("EYESIM_FUZZ_SECONDS", "12"))
TOTAL = sum(entry.points for entry in HOUR.entries)
ODD = (
    "", " ", "0", "-0", "1e308", "1e999", "-1e-400", "NaN", "Infinity", "0x10", "1_000", "1,5", "١٢", "½", "5 °",
    "=1+1", "@x", "+1", "-1", "\x00", "\x1b[31m", "\u202e", "\ud800", "\U0001f600", "a\u0301", "]]>", "';--", "%s%n",
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "../../x", "C:\\x", "__import__('os')", "{{7*7}}",
    "a" * 9000,
)  # fmt: skip
VALUES = (*ODD, None, True, False, 0, -1, 10**15, 1e15, 1e-300, 0.1, [], {}, [[]], {"": {}}, ["a"] * 99)


def _broken_tree(draw, found):
    """Put something odd in one place of a tree, or take something out, or move it."""
    places = list(_places(found))
    where, key = draw.choice(places)
    how = draw.randrange(5)
    if how == 0:
        where[key] = copy.deepcopy(draw.choice(VALUES))
    elif how == 1:
        del where[key]
    elif how == 2:
        other, name = draw.choice(places)
        where[key] = copy.deepcopy(other[name])
    elif how == 3 and isinstance(where, dict):
        where[str(draw.choice(ODD))] = where.pop(key)
    elif isinstance(where[key], (int, float)):
        where[key] = where[key] * draw.choice((-1, 0.5, 1e3, 1e9)) + draw.choice((0, 1e-9, 90.0))
    return found


def _places(found):
    keys = list(found) if isinstance(found, dict) else range(len(found)) if isinstance(found, list) else ()
    for key in keys:
        yield found, key
        yield from _places(found[key])


def _broken_bytes(draw, content):
    """Change, take out, double or put in some bytes anywhere."""
    start = draw.randrange(len(content) + 1)
    stop = min(len(content), start + draw.choice((1, 1, 2, 7, 60, 900)))
    odd = draw.choice(ODD).encode("utf-8", "surrogatepass")
    put = draw.choice((b"", odd, bytes([draw.randrange(256)]), content[start:stop] * 2, b'"', b"{", b"],", b"\\u"))
    return content[:start] + put + content[stop:]


def broken(draw, whole):
    """Damage a hand-in at random, as a tree and as bytes."""
    found = json.loads(whole)
    for _ in range(draw.choice((0, 1, 1, 2, 4))):
        if isinstance(found, dict) and found:
            found = _broken_tree(draw, found)
    content = json.dumps(found, ensure_ascii=draw.random() < 0.3).encode("utf-8", "surrogatepass")
    for _ in range(draw.choice((0, 0, 0, 1, 3))):
        content = _broken_bytes(draw, content)
    return content


class _Tags(html.parser.HTMLParser):
    def handle_starttag(self, tag, attributes):
        assert tag not in ("script", "img", "iframe", "object", "embed", "base", "form", "a"), tag
        assert not [name for name, _ in attributes if name.startswith("on")], attributes


def _try(content, show):
    """Read, mark and perhaps show; return whether it could be read."""
    try:
        one = parse_hand_in(content)
    except Damaged as damaged:
        one, words = None, str(damaged)
    if one is None:
        assert 9 <= len(words) <= 300
        assert words.isprintable()
        return False
    told = mark_hand_in(HOUR, PEOPLE.people[0], HandedIn(one, Path("x.json"), 0.0))
    assert 0.0 <= told.points <= TOTAL
    for mark in told.marks:
        assert mark.share is None or (math.isfinite(mark.share) and 0.0 <= mark.share <= 1.0)
        assert "could not judge" not in mark.words, mark.name
    if show:
        _Tags().feed(feedback_page(HOUR, told))
        for name, data in tables(HOUR, [told], []).items():
            assert not name.endswith(".csv") or b"\n=" not in data.replace(b",", b"\n").replace(b'"', b""), name
    return True


@pytest.mark.slow
@pytest.mark.filterwarnings("error")
def test_property_whatever_is_broken_in_a_hand_in_it_is_read_or_refused_and_nothing_else():
    seed = random.SystemRandom().randrange(10**9)
    draw = random.Random(seed)
    whole = handed().text()
    until, counts = time.monotonic() + SECONDS, {True: 0, False: 0}
    while time.monotonic() < until:
        content = broken(draw, whole)
        try:
            counts[_try(content, show=draw.random() < 0.1)] += 1
        except Exception as error:
            error.add_note(f"seed {seed}, after {sum(counts.values())}: {content[:20000]!r}")
            raise
    assert min(counts.values()) > SECONDS  # both ways are gone often
