"""Panels for everybody, in a real browser: by keyboard alone, by name, at 200 percent, in light and dark."""

from __future__ import annotations

import re
import subprocess
import tarfile

import pytest

host = pytest.importorskip("host", reason="playwright is missing")
import hands  # noqa: E402
import ring  # noqa: E402

pytestmark = pytest.mark.skipif(host.CHROMIUM is None, reason="no Chromium on this machine (apt install chromium)")

AXE = "axe-core@4.14.1"
# Everything that can be used now; of radio buttons one for all, since arrow keys move between them.
CONTROLS = """() => {
  const groups = new Set();
  window.eyesimControls = [...document.querySelectorAll(
      '.eyesim-board :is(input, select, button, textarea, summary, a[href])')].filter(one => {
    if (one.disabled || !one.checkVisibility({visibilityProperty: true})) return false;
    if (one.type !== 'radio') return true;
    const first = !groups.has(one.name);
    groups.add(one.name);
    return first; });
  return window.eyesimControls.map(one => one.outerHTML.slice(0, 120)); }"""
FOCUSED = """() => {
  const one = document.activeElement;
  if (!one.closest('.eyesim-board') || one.matches('.eyesim-board')) return null;
  const box = one.getBoundingClientRect(), style = getComputedStyle(one);
  return {number: window.eyesimControls.findIndex(other => other === one
            || (one.type === 'radio' && other.name === one.name)),
          ring: (style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2) || style.boxShadow !== 'none',
          inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
          html: one.outerHTML.slice(0, 120)}; }"""
# What scrolling cannot bring to where it can be pressed.
OUT_OF_REACH = """() => window.eyesimControls.filter(one => {
  one.scrollIntoView({block: 'center', inline: 'nearest'});
  const box = one.getBoundingClientRect(), x = box.left + box.width / 2, y = box.top + box.height / 2;
  const there = document.elementFromPoint(x, y);
  return box.left < 0 || box.right > innerWidth + 1 || !there || !(one.contains(there) || there.contains(one)
    || (one.labels && [...one.labels].some(label => label.contains(there))));
}).map(one => one.outerHTML.slice(0, 120))"""
WIDE = """() => [document.documentElement, document.body, document.querySelector('#rendered_cells')]
  .map(one => [one.scrollWidth, one.clientWidth])"""
NAMES = """() => [...document.querySelectorAll(
    '.eyesim-board :is(input, select, button, textarea, summary)')].map(one =>
  [one.type || one.tagName, one.getAttribute('aria-label') || (one.labels && one.labels.length
    && one.labels[0].textContent) || one.textContent || ''])"""


@pytest.fixture(scope="module")
def browser():
    with host.chromium() as one:
        yield one


@pytest.fixture(scope="module")
def live():
    with host.served("live") as one:
        yield one


@pytest.fixture(scope="module")
def page(browser, live):
    """Keep one page for all tests; each begins with the plan."""
    one = host.opened(browser, live.address)
    one.evaluate(hands.UNFOLD)
    yield one
    assert (one.faults, one.others) == ([], [])
    one.context.close()


@pytest.fixture(scope="module")
def lab(browser):
    with host.served("open") as served:
        one = host.opened(browser, served.address)
        one.evaluate(hands.UNFOLD)
        yield one
        assert (one.faults, one.others) == ([], [])
        one.context.close()


@pytest.fixture(params=["page", "lab"])
def either(request):
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    """Text of the accessibility engine, from the npm registry."""
    folder = tmp_path_factory.mktemp("axe")
    try:
        packed = subprocess.run(
            ["npm", "pack", "--silent", AXE], cwd=folder, capture_output=True, text=True, timeout=120
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        pytest.skip(f"npm cannot be used here: {error}")
    if packed.returncode:
        pytest.skip(f"the npm registry has no answer: {packed.stderr[-200:]}")
    with tarfile.open(next(folder.glob("*.tgz"))) as archive:
        return archive.extractfile("package/axe.min.js").read().decode()


def press(page, keys):
    page.locator(host.BOARD).first.focus()
    for key in keys:
        page.keyboard.press(key)
    host.answered(page)


def choose(page, words):
    page.locator(".eyesim-radios label", has_text=words).first.click()
    host.answered(page)


def serious(axe, page, where="document"):
    """Serious and critical findings of the engine."""
    page.evaluate(axe)
    found = page.evaluate(f"axe.run({where}, {{resultTypes: ['violations']}})")
    return [
        (one["id"], one["impact"], [re.sub(r"\s+", " ", node["html"])[:160] for node in one["nodes"]][:4])
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]


def walk(axe, page, where="document"):
    """Look at every face that the live session has."""
    page.evaluate(hands.UNFOLD)
    press(page, "p")
    host.rest(page)
    for keys in ("", "2a1", "h", "hn", "r"):  # as it is; kept and changed; hidden; no outcome; a case to solve
        press(page, keys)
        host.rest(page)
        assert serious(axe, page, where) == [], keys
    field = page.get_by_label("Angle to the iris plane, second [deg], typed")
    field.fill("steep")
    field.press("Enter")
    page.wait_for_selector("[role=alert]:not(:empty)")
    for words in ("Chart", "Cloud", "Why"):
        choose(page, words)
    assert serious(axe, page, where) == []
    press(page, "rap")
    choose(page, "Eye")


def test_an_engine_finds_nothing_serious_in_light(axe, page):
    walk(axe, page)


def test_an_engine_finds_nothing_serious_in_dark(axe, browser):
    with host.served("live", "--dark") as served:
        page = host.opened(browser, served.address)
        ground = page.evaluate("getComputedStyle(document.querySelector('.eyesim-board')).backgroundColor")
        assert max(map(int, re.findall(r"\d+", ground)[:3])) < 80
        walk(axe, page)
        assert ring.faint(page) == []
        assert page.faults == []
        page.context.close()


def test_an_engine_finds_nothing_serious_in_jupyterlab(axe, lab):
    walk(axe, lab, "'.eyesim-board'")
    lab.evaluate("window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'})")
    lab.wait_for_selector("body[data-jp-theme-light=false]", state="attached")
    lab.wait_for_timeout(500)
    assert serious(axe, lab, "'.eyesim-board'") == []
    lab.evaluate("window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Light'})")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_an_engine_finds_nothing_serious_in_the_other_panels(axe, browser, dark):
    with host.served_panel("others:others", dark) as served:
        page = host.opened(browser, served.address)
        page.wait_for_function("document.querySelectorAll('.eyesim-board').length === 4")
        page.evaluate(hands.UNFOLD)
        page.wait_for_timeout(1500)
        assert serious(axe, page) == []
        asked = page.locator(".eyesim-board.asked")
        asked.get_by_role("radio").first.check()
        asked.get_by_role("button", name="Commit").click()
        asked.locator(".eyesim-answer > svg").wait_for()
        page.get_by_role("button", name="Hide the outcome").first.click()
        page.wait_for_timeout(300)
        assert serious(axe, page) == []
        assert named(page)
        assert reached(page)
        assert (page.faults, page.others) == ([], [])
        page.context.close()


def named(page):
    """Hold that every control has a name, and every slider its unit; return how many there are."""
    names = page.evaluate(NAMES)
    assert [kind for kind, words in names if not words.strip()] == []
    sliders = [words for kind, words in names if kind == "range"]
    assert [words for words in sliders if not re.search(r" \[(mm|deg|D)\]$", words)] == []
    return len(sliders)


def reached(page):
    """Hold that the Tab key reaches every control, and that one sees where it is; return how many there are."""
    wanted = page.evaluate(CONTROLS)
    page.locator(host.BOARD).first.focus()
    found, outside = {}, 0
    for _ in range(len(wanted) + 60):
        page.keyboard.press("Tab")
        seen = page.evaluate(FOCUSED)
        outside = outside + 1 if seen is None else 0
        if seen is not None:
            found[seen["number"]] = seen
        elif outside > 3 or len(found) == len(wanted):
            break
    assert [words for i, words in enumerate(wanted) if i not in found] == []
    assert [seen["html"] for seen in found.values() if not seen["ring"]] == [], "the focus is not seen"
    assert [seen["html"] for seen in found.values() if not seen["inside"]] == [], "the focus is out of sight"
    return len(wanted)


def test_every_control_has_a_name_and_the_tab_key_reaches_it(either):
    press(either, "p1")
    host.rest(either)  # what comes later would push things down
    assert named(either) > 20
    assert reached(either) > 60


def test_one_sees_where_the_focus_is(either):
    press(either, "p1")
    host.rest(either)
    assert ring.faint(either) == []


def test_arrow_keys_move_a_slider_and_nothing_around_it(either):
    press(either, "p")
    one = host.slider(either, "dip_second")
    for key in ("ArrowRight", "ArrowRight", "ArrowUp", "ArrowLeft", "ArrowDown", "ArrowRight"):
        either.keyboard.press(key)
    host.answered(either)
    assert one.input_value() == "11"
    assert hands.text_of(either) == "eyesim live: dip 2 = 11"
    assert either.evaluate("document.activeElement.dataset.slope") == "dip_second"
    either.keyboard.press("Home")
    host.answered(either)
    assert one.input_value() == "0"


def test_keys_work_where_nothing_is_typed_and_can_be_switched_off(either):
    field = either.locator(".eyesim-field input").first
    press(either, "1")
    assert hands.text_of(either) == "eyesim live: mark 2 = 10"
    host.slider(either, "dip_second")
    either.keyboard.press("2")
    host.answered(either)
    assert hands.text_of(either) == "eyesim live: dip 2 = 20"
    field.focus()
    either.keyboard.press("End")
    either.keyboard.press("1")
    assert field.input_value() == "eyesim live: dip 2 = 201", "a key that is typed is typed"
    either.keyboard.press("Backspace")
    tick = either.get_by_label("Keys work by themselves").first
    tick.uncheck()
    press(either, "14h")
    assert hands.text_of(either) == "eyesim live: dip 2 = 20"
    assert either.get_by_role("button", name="Reveal the outcome").count() == 0
    tick.check()
    press(either, "p")
    assert hands.text_of(either) == "eyesim live: as planned"


def test_keys_of_the_board_do_nothing_to_the_notebook(lab):
    cells = "window.jupyterapp.shell.currentWidget.content.model.cells.length"
    before = lab.evaluate(cells)
    press(lab, "abddxxyzzmm00ap")
    lab.keyboard.press("Enter")
    assert lab.evaluate(cells) == before
    assert lab.evaluate("document.activeElement.matches('.eyesim-board')")


@pytest.mark.parametrize("size", [(1280, 720), (640, 360)], ids=["1280x720", "200 percent"])
def test_it_fits_a_projector_and_a_page_at_200_percent(page, size):
    page.set_viewport_size({"width": size[0], "height": size[1]})
    press(page, "p1")
    page.evaluate("scrollTo(0, 0)")
    if size[0] == 1280:
        box = page.locator(".eyesim-stage").bounding_box()
        assert box["y"] + 0.9 * box["height"] < size[1], "the eye is seen without scrolling"
    for keys in ("", "ah"):
        press(page, keys)
        assert [one for one in page.evaluate(WIDE) if one[0] > one[1]] == []
        page.evaluate(CONTROLS)
        assert page.evaluate(OUT_OF_REACH) == []
    press(page, "hap")
    page.set_viewport_size({"width": 1280, "height": 720})
