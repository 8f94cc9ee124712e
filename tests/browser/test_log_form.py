"""The form for the practice log in a real browser: by keyboard alone, and however quickly it is filled in."""

from __future__ import annotations

import pytest

from eyesim.practice.log import read_log

host = pytest.importorskip("host", reason="playwright is missing")

pytestmark = pytest.mark.skipif(host.CHROMIUM is None, reason="no Chromium on this machine (apt install chromium)")

FORM = ".eyesim-board.form"


@pytest.fixture(scope="module")
def served():
    with host.chromium() as browser, host.served_panel("alone:log") as one:
        page = browser.new_context(viewport={"width": 1000, "height": 900}).new_page()
        page.faults = []
        page.on("pageerror", lambda error: page.faults.append(str(error)))
        page.goto(one.address, wait_until="domcontentloaded")
        page.wait_for_selector(FORM, timeout=60_000)
        yield page, one.home / "tmp" / "practice.csv"
        assert page.faults == []


def told(page):
    host.answered(page)
    return page.locator(".eyesim-told").inner_text()


def test_a_row_is_written_down_by_keyboard_alone(served):
    page, path = served
    page.get_by_label("Achieved").focus()
    page.keyboard.type("7,5")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")  # the haptic: first
    page.keyboard.press("ArrowDown")
    for words, text in (("Its name", "p-01"), ("Who measured", "A")):
        page.get_by_label(words).focus()
        page.keyboard.type(text)
    page.get_by_role("button", name="Add").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelector('.eyesim-told').innerText.includes('Kept')", timeout=20_000)
    (row,) = read_log(path).rows
    assert (row.achieved, row.side, row.attempt, row.rater) == (7.5, "second", "p-01", "A")
    assert page.get_by_label("Achieved").input_value() == ""
    assert page.get_by_label("Its name").input_value() == "p-01"


def test_what_was_typed_quickly_is_what_is_kept(served):
    page, path = served
    before = len(read_log(path).rows)
    for i in range(12):
        page.get_by_label("Achieved").press_sequentially(f"{i}.5", delay=0)
        page.get_by_label("Note").fill(f"quickly {i}")
        page.get_by_role("button", name="Add").dblclick()  # the second press finds nothing to add
        page.wait_for_function("document.querySelector('.eyesim-told').innerText.includes('is missing')")
        host.answered(page)
    rows = read_log(path).rows[before:]
    assert [(row.achieved, row.note) for row in rows] == [(i + 0.5, f"quickly {i}") for i in range(12)]


def test_nonsense_is_said_beside_the_form_and_stays_to_be_mended(served):
    page, path = served
    before = path.read_bytes()
    page.get_by_label("Achieved").fill("steep")
    page.get_by_role("button", name="Add").click()
    page.wait_for_selector(".eyesim-told:has-text('Nothing was added. achieved')")
    assert page.get_by_label("Achieved").input_value() == "steep"
    assert path.read_bytes() == before


def test_everything_has_a_name_and_the_caution_stands_there(served):
    page, _ = served
    assert page.evaluate(host.NAMELESS) == []
    assert "This is no medical device" in page.locator(".eyesim-caution").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
