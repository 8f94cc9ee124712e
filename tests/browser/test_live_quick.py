"""The live session under the hand, in a real browser: the picture first, on its page and in JupyterLab.

How quickly it follows, and whether that is quick enough, says `tests/benchmarks/panel_latency.py`.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from eyesim.live.session import Session
from eyesim.panel.live.picture import live_picture

host = pytest.importorskip("host", reason="playwright is missing")
import hands  # noqa: E402

pytestmark = pytest.mark.skipif(host.CHROMIUM is None, reason="no Chromium on this machine (apt install chromium)")

LENS = "'.eyesim-stage :is([data-part=optic], [data-part^=haptic])'"
AHEAD = f"""name => [Number(document.querySelector(`.eyesim-board input[data-slope=${{name}}]`).value),
  [...document.querySelectorAll({LENS})].slice(0, 3).map(one => one.getAttribute('d').match(/-?[0-9.]+/g)
    .map(Number)).flat()]"""


@pytest.fixture(scope="module")
def browser():
    with host.chromium() as one:
        yield one


@pytest.fixture(scope="module")
def live():
    with host.served("live") as one:
        yield one


@pytest.fixture(scope="module")
def lab():
    with host.served("open") as one:
        yield one


@pytest.fixture(scope="module", params=["live", "lab"])
def page(request, browser):
    one = host.opened(browser, request.getfixturevalue(request.param).address)
    yield one
    assert (one.faults, one.others) == ([], [])
    one.context.close()


def test_a_key_moves_the_picture_and_the_numbers_follow(page):
    pictures, answers = host.pressed(page, times=8)
    assert np.median(pictures) <= np.median(answers)


def test_over_a_slow_connection_the_picture_does_not_wait_for_the_answer(slow_page):
    """The page draws ahead by the slope that it has; here each answer takes 300 ms and more."""
    pictures, answers = host.pressed(slow_page, times=12)
    assert np.median(pictures) < 0.5 * np.median(answers)


def lens(session):
    """Points [mm] of optic and haptics, as Python draws them from in front."""
    svg = live_picture(session, "superior").svg
    paths = re.findall(r'data-part="(?:optic|haptic-\d)" d="([^"]*)"', svg)[:3]
    return np.concatenate([np.array(re.findall(r"-?[0-9.]+", path), float) for path in paths])


@pytest.mark.parametrize("name", ["mark_second", "outside_second", "limbus_first"])
def test_what_is_drawn_ahead_is_near_what_is_solved(browser, slow_page, name):
    """A slider is held over a connection on which answers come ten to twenty steps late."""
    slow_page.locator(host.BOARD).focus()
    slow_page.keyboard.press("2")
    host.rest(slow_page)
    start = Session.read(hands.text_of(slow_page))
    host.slider(slow_page, name)
    slow_page.wait_for_timeout(1000)  # the slope arrives
    seen = [slow_page.evaluate(AHEAD, name) for _ in host.hold(slow_page, 20)]
    at_start, furthest = lens(start), 0.0
    for value, drawn in seen:
        solved = lens(start.but(**{name: value}))
        moved = np.abs(solved - at_start).max()
        furthest = max(furthest, moved)
        assert np.abs(solved - drawn).max() < 0.03 + 0.15 * moved, (value, moved)  # mm
    assert furthest > 0.3


@pytest.fixture(scope="module")
def slow_page(browser, live):
    with host.slowed(live.address, 0.300) as slow:
        page = host.opened(browser, slow)
        page.evaluate(hands.UNFOLD)
        yield page
        assert page.faults == []
        page.context.close()
