"""Panels in a real browser: serve them as learners do, slow the connection down, press keys, measure in the page."""

from __future__ import annotations

import contextlib
import json
import os
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from pathlib import Path

from drive import FLAGS, READY, RUN
from playwright.sync_api import sync_playwright

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
LESSON = "Live session.ipynb"
BOARD = ".eyesim-board"

# Written down for every key: when the next picture was painted, and when what is shown was settled. A frame is taken
# to be painted when the task after it runs.
PROBE = """() => {
  const board = document.querySelector('.eyesim-board');
  const log = window.eyesimLog = {keys: [], pictures: []};
  const painted = (done) => requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = () => done(performance.now());
    channel.port2.postMessage(0);
  });
  const note = (name, now) => log.keys.forEach(key => { if (key[name] === null) key[name] = now - key.at; });
  const key = event => log.keys.push({at: event.timeStamp, geometry: null, settled: null});
  document.addEventListener('keydown', key, true);
  let waits = false;
  new MutationObserver(() => {
    if (waits) return;
    waits = true;
    painted(now => { waits = false; log.pictures.push(now); note('geometry', now); });
  }).observe(board.querySelector('.eyesim-stage'),
             {subtree: true, childList: true, characterData: true, attributes: true});
  new MutationObserver(() => {
    if (board.dataset.settled === board.dataset.asked) painted(now => note('settled', now));
  }).observe(board, {attributes: true, attributeFilter: ['data-settled']});
}"""
RESTED = """() => { const board = document.querySelector('.eyesim-board');
  return board && board.dataset.settled === board.dataset.asked && !board.querySelector('[aria-busy=true]'); }"""


@contextlib.contextmanager
def served(*command, settings=None):
    """Address that a command of `python -m eyesim` prints; afterwards it is closed as by Ctrl-C."""
    home = Path(tempfile.mkdtemp(prefix="host"))  # settings of whoever runs this must not matter
    (home / "jupyter_lab_config.json").write_text(json.dumps({"LabApp": {"expose_app_in_browser": True}}))
    places = {"CONFIG_DIR": home, "DATA_DIR": home / "data", "RUNTIME_DIR": home / "runtime"}
    own = {f"JUPYTER_{name}": str(place) for name, place in places.items()}
    own |= {"JUPYTERLAB_WORKSPACES_DIR": str(home / "desk"), "JUPYTERLAB_SETTINGS_DIR": str(home / "settings")}
    own |= {"IPYTHONDIR": str(home / "ipython"), "PYTHONUNBUFFERED": "1", **(settings or {})}
    ran = [sys.executable, "-m", "eyesim", *command, "--no-browser"]
    if command[0] == "open":
        ran += ["--folder", str(home / "mine")]
    with subprocess.Popen(ran, stdout=subprocess.PIPE, text=True, env={**os.environ, **own}) as server:
        watch = threading.Timer(120, server.terminate)  # should it never print an address
        watch.start()
        try:
            lines = []
            for line in server.stdout:
                lines.append(line)
                if "http" in line:
                    break
            yield re.search(r"http://\S+", "".join(lines)).group()
        finally:
            watch.cancel()
            server.terminate()
            server.wait(60)
    shutil.rmtree(home, ignore_errors=True)


@contextlib.contextmanager
def slowed(address, round_trip):
    """Address of the same page over a connection that takes `round_trip` [s] there and back."""
    parts = urllib.parse.urlsplit(address)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, str(Path(__file__).with_name("slow.py")), str(port), str(parts.port), str(round_trip)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as slow:
        try:
            assert slow.stdout.readline() == "ready\n"
            yield parts._replace(netloc=f"{parts.hostname}:{port}").geturl()
        finally:
            slow.kill()


@contextlib.contextmanager
def chromium():
    """Start a browser of its own."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield browser
        browser.close()


def opened(browser, address, *, width=1280, height=720):
    """Open a page with the live session, at rest; it keeps requests to other hosts, and its own faults."""
    page = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True).new_page()
    page.others, page.faults = [], []
    page.on("request", lambda r: None if _own(r.url) else page.others.append(r.url))
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    if "/lab" in address:
        parts = urllib.parse.urlsplit(address)
        path = f"/lab/tree/{urllib.parse.quote(LESSON)}"
        page.goto(parts._replace(path=path, query=f"{parts.query}&reset").geturl(), wait_until="domcontentloaded")
        page.wait_for_function("window.jupyterapp", timeout=90_000)
        assert page.evaluate(READY)
        page.wait_for_selector(".jp-Notebook .jp-MarkdownOutput h1", timeout=30_000)
        page.evaluate(RUN)
        page.locator(BOARD).first.scroll_into_view_if_needed()
    else:
        page.goto(address, wait_until="domcontentloaded")
    page.wait_for_selector(f"{BOARD} .eyesim-stage svg", timeout=60_000)
    page.wait_for_function(RESTED, timeout=60_000)
    return page


def _own(url):
    return urllib.parse.urlsplit(url).hostname in ("127.0.0.1", "localhost", None)


def slider(page, name):
    """Give the focus to the slider of a quantity, such as "dip_second"."""
    found = page.locator(f"{BOARD} input[type=range][data-slope={name}]").first
    found.scroll_into_view_if_needed()
    found.focus()
    return found


def rest(page):
    """Wait until all that was asked is shown."""
    page.wait_for_function(RESTED, timeout=30_000)


def pressed(page, name="dip_second", times=40):
    """From key press to picture, and to settled numbers [ms], for `times` presses of an arrow key."""
    slider(page, name)
    rest(page)
    page.evaluate(PROBE)
    for i in range(times):
        page.keyboard.press("ArrowRight" if i % 20 < 10 else "ArrowLeft")
        page.wait_for_function("window.eyesimLog.keys.at(-1).settled !== null", timeout=10_000)
        page.wait_for_timeout(120)
    keys = page.evaluate("window.eyesimLog.keys")[2:]
    return [key["geometry"] for key in keys], [key["settled"] for key in keys]


def held(page, name="dip_second", seconds=2.0):
    """Pictures a second while an arrow key is held, at 30 repetitions a second as a keyboard does."""
    slider(page, name)
    rest(page)
    page.evaluate(PROBE)
    tell = page.context.new_cdp_session(page)
    key = {"key": "ArrowRight", "code": "ArrowRight", "windowsVirtualKeyCode": 39}
    began = time.monotonic()
    for i in range(int(30 * seconds)):
        tell.send("Input.dispatchKeyEvent", {"type": "rawKeyDown", "autoRepeat": i > 0, **key})
        time.sleep(max(0.0, began + (i + 1) / 30.0 - time.monotonic()))
    tell.send("Input.dispatchKeyEvent", {"type": "keyUp", **key})
    log = page.evaluate("window.eyesimLog")
    first, last = log["keys"][0]["at"], log["keys"][-1]["at"]
    return sum(first <= at <= last for at in log["pictures"]) / (last - first) * 1000.0


def quantile(values, share):
    """Value below which a share [1] of all lies."""
    return sorted(values)[min(len(values) - 1, round(share * (len(values) - 1)))]


def soak(page, seconds, check, seed=1, say=lambda figures: None):
    """Do something random again and again, checking at every rest; return how the page has grown.

    `say` is told the figures once a minute: heap [bytes] and nodes after a collection of garbage.
    """
    draw = random.Random(seed)
    page.evaluate("() => document.querySelectorAll('.eyesim-board details').forEach(one => { one.open = true; })")
    tell = page.context.new_cdp_session(page)
    grown, began, minute = {}, time.monotonic(), 0
    _anything(page, draw, 25)
    while time.monotonic() - began < seconds or not grown:
        _anything(page, draw, 12)
        rest(page)
        check()
        if not grown or (time.monotonic() - began) // 60 > minute:
            minute = (time.monotonic() - began) // 60
            now = _size(tell)
            grown = grown or {f"{name} at first": value for name, value in now.items()}
            say(now)
    return grown | _size(tell)


def _anything(page, draw, times):
    """Press arrows on sliders, keys of mistakes and letters, and choose from menus, at random."""
    sliders = page.locator(f"{BOARD} input[type=range]:enabled")
    for _ in range(times):
        kind = draw.random()
        if kind < 0.6:
            one = sliders.nth(draw.randrange(sliders.count()))
            one.focus()
            for _ in range(draw.randrange(1, 8)):
                page.keyboard.press(draw.choice(("ArrowRight", "ArrowLeft", "PageUp", "PageDown")))
        elif kind < 0.9:
            page.locator(BOARD).first.focus()
            page.keyboard.press(draw.choice("1234567890bnphhaaezmxr"))
        else:
            menus = page.locator(f"{BOARD} select")
            one = menus.nth(draw.randrange(menus.count()))
            one.select_option(index=draw.randrange(one.locator("option").count()))
    if page.get_by_role("button", name="Reveal the outcome").count():
        page.locator(BOARD).first.focus()
        page.keyboard.press("h")


def _size(tell):
    tell.send("HeapProfiler.collectGarbage")
    tell.send("Performance.enable")
    found = {one["name"]: one["value"] for one in tell.send("Performance.getMetrics")["metrics"]}
    return {"heap": found["JSHeapUsedSize"], "nodes": found["Nodes"]}
