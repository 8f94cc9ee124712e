"""The live session in a real browser: what stands on the page is what Python gives, however hands go about it."""

from __future__ import annotations

import os
import time

import pytest

from eyesim.live.session import MISTAKES
from eyesim.panel import live_panel
from eyesim.panel.live import words as live_words
from eyesim.panel.live.picture import live_picture

host = pytest.importorskip("host", reason="playwright is missing")
import hands  # noqa: E402

pytestmark = pytest.mark.skipif(host.CHROMIUM is None, reason="no Chromium on this machine (apt install chromium)")


@pytest.fixture(scope="module")
def browser():
    with host.chromium() as one:
        yield one


@pytest.fixture(scope="module")
def live():
    with host.served("live") as one:
        yield one


@pytest.fixture
def page(browser, live):
    one = host.opened(browser, live.address)
    yield one
    assert (one.faults, one.others) == ([], [])
    one.context.close()


def readout(page):
    return page.locator(".eyesim-readout").inner_text()


def press(page, keys):
    page.locator(host.BOARD).focus()
    for key in keys:
        page.keyboard.press(key)
    host.answered(page)


def test_the_page_draws_and_says_what_a_panel_of_the_same_text_does(page):
    names = ("dip_second", "mark_first", "tunnel_second", "outside_first", "bend_second", "ring_x", "white_to_white")
    page.evaluate(hands.UNFOLD)
    for i, name in enumerate(names):
        host.slider(page, name)
        for key in ["ArrowRight"] * (i + 3) + ["ArrowLeft", "PageUp"]:
            page.keyboard.press(key)
        host.rest(page)
        panel = live_panel(hands.text_of(page))
        hands.same_drawing(page.evaluate(hands.NUMBERS), live_picture(panel.session, "superior"), name)
        told = page.evaluate(hands.WORDS, [live_words.readout(panel.session)])[0]
        assert page.locator(".eyesim-readout").text_content() == told, name
    assert len(panel.session.changes) >= len(names)


def test_a_hidden_outcome_shows_no_intraocular_haptic_length(page):
    fields = [page.get_by_label(f"Intraocular haptic length, {side} [mm], typed") for side in ("first", "second")]
    shown = [field.input_value() for field in fields]
    assert all(float(words) > 4.0 for words in shown)
    press(page, "h")
    assert [field.input_value() for field in fields] == ["", ""]
    press(page, "h")
    assert [field.input_value() for field in fields] == shown


def test_random_hands_leave_nothing_inconsistent_and_no_litter(page, live):
    rests, first, last = hands.soak(page, 20.0, seed=7, kernel=hands.kernel_of(page, live))
    assert rests >= 3
    assert last["heap"] < 1.3 * first["heap"] + 3.0  # MB
    assert last["nodes"] < 1.3 * first["nodes"] + 500
    assert last["listeners"] < 1.1 * first["listeners"] + 10
    assert last["kernel"] < first["kernel"] + 60.0  # MB


def test_every_mistake_stands_on_its_key(page):
    for mistake in MISTAKES.values():
        press(page, mistake.key)
        assert hands.text_of(page) == mistake.session().text()


def test_a_text_that_was_copied_comes_back_and_one_that_makes_no_sense_is_refused(page):
    field = page.locator(".eyesim-field input")
    field.fill("eyesim live: dip 2 = 14; mark 1 = -3.5")
    field.press("Enter")
    host.answered(page)
    assert page.locator("input[data-slope=dip_second]").input_value() == "14"
    assert page.locator("input[data-slope=mark_first]").input_value() == "-3.5"
    before = readout(page)
    field.fill("dip 2 = steep")
    field.press("Enter")
    host.answered(page)
    assert "dip" in page.get_by_role("alert").inner_text()
    assert readout(page) == before
    assert field.input_value() == "dip 2 = steep"  # to be mended, not to be typed again
    field.fill("eyesim live: dip 2 = 14")
    field.press("Enter")
    host.answered(page)
    assert page.get_by_role("alert").inner_text() == ""


def test_two_pages_do_not_disturb_each_other(browser, live, page):
    other = host.opened(browser, live.address)
    press(page, "1")
    assert "0.54 mm" in readout(page)
    press(other, "2h")
    assert "0.54 mm" in readout(page)
    assert "hidden" in readout(other)
    press(page, "p")
    press(other, "h")
    assert "0.00 mm" in readout(page)
    assert hands.text_of(other) == "eyesim live: dip 2 = 20"
    assert (other.faults, other.others) == ([], [])
    other.context.close()


def ends(kernel, live):
    """Wait until a kernel has ended; whether it has."""
    until = time.monotonic() + 20.0
    while kernel in live.kernels() and time.monotonic() < until:
        time.sleep(0.2)
    return kernel not in live.kernels()


def test_a_page_that_is_loaded_again_goes_on_where_it_was_and_the_old_kernel_ends(page, live):
    kernel = hands.kernel_of(page, live)
    press(page, "1a2")
    before = readout(page)
    page.reload()
    page.wait_for_selector(f"{host.BOARD} .eyesim-stage svg")
    host.rest(page)
    assert hands.text_of(page) == "eyesim live: dip 2 = 20"
    assert readout(page) == before
    assert "A: 0.54 mm" in before
    assert ends(kernel, live), "the old page's kernel is left"
    assert hands.kernel_of(page, live) in live.kernels()


def test_a_page_that_is_opened_anew_is_fresh_and_one_that_was_only_looked_at_leaves_no_kernel(browser, live, page):
    press(page, "1a2")
    other = host.opened(browser, live.address)
    assert hands.text_of(other) == "eyesim live: as planned"
    assert "A:" not in readout(other)
    kernel = hands.kernel_of(other, live)
    assert kernel in live.kernels()
    other.close()
    assert ends(kernel, live), "the kernel of a page without a click is left"
    other.context.close()


def test_pictures_stand_alone_and_the_keys_go_on(page):
    controls = page.locator(".controls")
    press(page, "c")
    assert not controls.is_visible()
    press(page, "1")
    assert "0.54 mm" in readout(page)
    press(page, "c")
    assert controls.is_visible()


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="the system does not tell which processes run")
def test_nothing_is_left_after_ctrl_c(browser):
    with host.served("live") as one:  # looks for kernels and folders that are left when it is closed
        page = host.opened(browser, one.address)
        assert one.kernels()
        assert [place for place in (one.home / "tmp").iterdir() if place.name.startswith("eyesim-live-")]
        page.context.close()
    assert not one.home.exists()


def test_stills_and_a_loop_can_be_kept(page, tmp_path):
    press(page, "1")
    begins = {"Still (SVG)": b"<svg", "Still (PNG)": b"\x89PNG", "Loop (GIF)": b"GIF89a"}
    for words, begin in begins.items():
        with page.expect_download(timeout=60_000) as waited:
            page.get_by_role("button", name=words).click()
        place = tmp_path / waited.value.suggested_filename
        waited.value.save_as(place)
        assert place.read_bytes().startswith(begin)
        assert place.stat().st_size > 5000
