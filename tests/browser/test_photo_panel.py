"""Points on a photograph in a real browser: by mouse, by keyboard alone, and every control with a name."""

from __future__ import annotations

import pytest

from eyesim.eye.sources import data_folder
from eyesim.photo.points import read_points

host = pytest.importorskip("host", reason="playwright is missing")

pytestmark = pytest.mark.skipif(host.CHROMIUM is None, reason="no Chromium on this machine (apt install chromium)")

POINTS = read_points(data_folder() / "demo" / "eye-in-front.csv").of
FRAME = ".eyesim-plate-frame"


@pytest.fixture(scope="module")
def page():
    with host.chromium() as browser, host.served_panel("alone:photo") as one:
        page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
        page.faults = []
        page.on("pageerror", lambda error: page.faults.append(str(error)))
        page.goto(one.address, wait_until="domcontentloaded")
        page.wait_for_selector(FRAME, timeout=60_000)
        yield page
        assert page.faults == []


def told(page):
    host.answered(page)
    return page.locator(".eyesim-told").inner_text()


def test_points_are_set_by_mouse_and_measured_at_once(page):
    box = page.locator(f"{FRAME} svg").bounding_box()
    scale = box["width"] / 900.0
    for what, words in (("limbus", "Limbus"), ("optic", "Edge of the optic")):
        page.get_by_label(words).check()
        for x, y in POINTS[what]:
            page.mouse.click(box["x"] + scale * x, box["y"] + scale * y)
            host.answered(page)
    assert page.locator(f"{FRAME} svg").bounding_box() == box, "the photograph moved under the hand"
    assert "Decentration: 0.5" in told(page)
    assert page.locator(f"{FRAME} ellipse").count() == 2


def test_points_are_set_and_removed_by_keyboard_alone(page):
    page.locator(FRAME).focus()
    page.keyboard.press("4")
    before = page.locator(f"{FRAME} circle").count()
    for key in ["Shift+ArrowRight"] * 15 + ["ArrowUp"] * 3 + ["Enter"]:
        page.keyboard.press(key)
    assert "mark1\tmeridian" in told(page)
    assert page.get_by_label("First mark").is_checked()
    assert page.locator(f"{FRAME} circle").count() == before + 1
    page.keyboard.press("Backspace")
    assert "mark1" not in told(page)


def test_everything_has_a_name_and_the_picture_says_what_it_is(page):
    assert page.evaluate(host.NAMELESS) == []
    assert "A photograph, eye-in-front.jpg" in page.locator(f"{FRAME} img").get_attribute("alt")
    assert "This is no medical device" in page.locator(".eyesim-caution").inner_text()
