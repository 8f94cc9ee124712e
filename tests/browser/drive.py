"""Drive one lesson in a real browser and print what was seen, as JSON; test_open runs it as a process."""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
import urllib.parse

from playwright.sync_api import TimeoutError as PlaywrightTimeout
from playwright.sync_api import sync_playwright

FLAGS = """--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking
    --disable-component-update --disable-sync""".split()

READY = """async () => {
  const app = window.jupyterapp;
  await app.restored;
  for (let i = 0; i < 300; i++) {
    const held = app.shell.currentWidget && app.shell.currentWidget.sessionContext;
    if (held && held.session && held.session.kernel && held.session.kernel.status === 'idle') return true;
    await new Promise(done => setTimeout(done, 200));
  }
  return false;
}"""

# Open what a lesson folds away until the learner has guessed.
UNFOLD = """async () => {
  for (const command of ['expand-all-headings', 'show-all-cell-code', 'show-all-cell-outputs'])
    await window.jupyterapp.commands.execute(`notebook:${command}`);
}"""

# Run all cells; give up after four minutes, so that a kernel that hangs fails a test instead of holding it up.
RUN = """() => Promise.race([
  window.jupyterapp.commands.execute('notebook:run-all-cells').then(() => true),
  new Promise(done => setTimeout(() => done(false), 240000))])"""

CELLS = """() => window.jupyterapp.shell.currentWidget.content.model.toJSON().cells
    .filter(cell => cell.cell_type === 'code' && cell.source.length)
    .map(cell => ({source: [].concat(cell.source).join(''), count: cell.execution_count,
                   errors: cell.outputs.filter(o => o.ename).map(o => `${o.ename}: ${o.evalue}`)}))"""

# Every picture is scrolled to, as a reader would; only then does JupyterLab lay it out.
PICTURES = """async () => {
  const seen = [];
  const find = () => [...document.querySelectorAll('.jp-OutputArea-output :is(figure img, svg[role=img])')]
    .filter(one => !one.closest('.eyesim-still'));  // it is for pages without scripts
  for (let i = 0; i < find().length && i < 60; i++) {
    const picture = find()[i];
    picture.scrollIntoView({block: 'center'});
    const there = () => picture.getBoundingClientRect().height > 80 && picture.complete !== false;
    for (let k = 0; k === 0 || (k < 100 && !there()); k++) await new Promise(done => setTimeout(done, 30));
    const box = picture.getBoundingClientRect();
    seen.push({words: picture.getAttribute('alt') || picture.getAttribute('aria-label') || '',
               width: Math.round(box.width), height: Math.round(box.height),
               whole: picture.tagName !== 'IMG' || (picture.complete && picture.naturalWidth > 0)});
  }
  return seen;
}"""

# The words of the panel that holds the focus; a picture's words are those it says to who cannot see it.
PANEL = """() => {
  const panel = document.activeElement.closest('.jp-OutputArea-output');
  const pictures = panel ? [...panel.querySelectorAll('[role=img]')] : [];
  return panel ? [panel.innerText, ...pictures.map(one => one.getAttribute('aria-label'))].join('\\n') : '';
}"""

TO_THE_TOP = "() => (document.activeElement.closest('.jp-Cell') || document.body).scrollIntoView({block: 'start'})"


def drive(address, chromium, lesson=None, shot=None, slider=0, presses=3):
    """Open a lesson, run it, move a slider of its by the keyboard.

    Returns
    -------
    dict
        stored and run: the pictures before and after; cells; panel: words before and after; dialogs.
    """
    parts = urllib.parse.urlsplit(address)
    path = f"/lab/tree/{urllib.parse.quote(lesson)}" if lesson else parts.path
    address = parts._replace(path=path, query=f"{parts.query}&reset").geturl()  # no tabs of the lesson before
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, headless=True, args=FLAGS)
        page = browser.new_page(viewport={"width": 1400, "height": 1120})
        page.goto(address, wait_until="domcontentloaded", timeout=90_000)
        page.wait_for_function("window.jupyterapp", timeout=90_000)
        seen = {"ready": page.evaluate(READY)}
        page.wait_for_selector(".jp-Notebook .jp-MarkdownOutput h1", timeout=30_000)
        seen["title"] = page.locator(".jp-Notebook .jp-MarkdownOutput h1").first.inner_text().rstrip("¶")
        page.evaluate(UNFOLD)
        seen["stored"] = page.evaluate(PICTURES)
        seen["ended"] = page.evaluate(RUN)
        page.wait_for_timeout(300)  # the last outputs are laid out
        seen["cells"] = page.evaluate(CELLS)
        seen["run"] = page.evaluate(PICTURES)
        seen["dialogs"] = page.locator(".jp-Dialog, .Toastify__toast").all_inner_texts()
        if shot:
            page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-left-area')")
        seen["panel"] = _move_slider(page, slider, presses)
        if shot:
            page.evaluate(TO_THE_TOP)
            page.wait_for_timeout(1000)
            page.screenshot(path=shot)
        browser.close()
    return seen


def _move_slider(page, number, presses):
    """Words of a panel before and after one of its sliders was moved; None without a panel."""
    handle = page.locator(".jp-OutputArea-output input[type=range]").nth(number)
    if not handle.count():
        return None
    handle.scroll_into_view_if_needed()
    handle.focus()
    before = page.evaluate(PANEL)
    value = handle.input_value()
    for _ in range(presses):
        page.keyboard.press("ArrowRight")
    with contextlib.suppress(PlaywrightTimeout):  # then "after" says that nothing changed
        page.wait_for_function(f"before => ({PANEL})() !== before", arg=before, timeout=20_000)
    return {
        "before": before,
        "after": page.evaluate(PANEL),
        "value": [value, handle.input_value()],
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("address")
    parser.add_argument("--chromium", required=True)
    parser.add_argument("--lesson")
    parser.add_argument("--shot", help="where to put a picture of the window")
    parser.add_argument("--slider", type=int, default=0, help="which of the sliders, from 0 on")
    parser.add_argument("--presses", type=int, default=3, help="how often to press the arrow key")
    json.dump(drive(**vars(parser.parse_args())), sys.stdout)
