"""Panels in a real browser: serve them as people do, slow the connection down, press keys, measure in the page."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from pathlib import Path

import nbformat
from drive import FLAGS, READY, RUN
from playwright.sync_api import sync_playwright

HERE = Path(__file__).resolve().parent
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
LESSON = "One panel.ipynb"
BOARD = ".eyesim-board"
PAUSES = (50, 300, 120, 450)  # [ms] between keys: some come while what follows at rest is being worked out

# Written down for every key: when the next picture was painted, and when the numbers that it asked for were. A frame
# is taken to be painted when the task after it runs.
PROBE = """() => {
  if (window.eyesimLog) { window.eyesimLog.keys.length = window.eyesimLog.pictures.length = 0; return; }
  const board = document.querySelector('.eyesim-board');
  const log = window.eyesimLog = {keys: [], pictures: []};
  const painted = (done) => requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = () => done(performance.now());
    channel.port2.postMessage(0);
  });
  document.addEventListener('keydown', event =>
    log.keys.push({at: event.timeStamp, turn: null, geometry: null, settled: null}), true);
  document.addEventListener('input', () => {
    const key = log.keys.at(-1);
    if (key && key.turn === null) key.turn = Number(board.dataset.asked);
  });
  const note = (name, keys) => {
    if (keys.length) painted(now => keys.forEach(key => { if (key[name] === null) key[name] = now - key.at; }));
  };
  let waits = false;
  new MutationObserver(() => {
    note('geometry', log.keys.filter(key => key.geometry === null));
    if (waits) return;
    waits = true;
    painted(now => { waits = false; log.pictures.push(now); });
  }).observe(board.querySelector('.eyesim-stage'),
             {subtree: true, childList: true, characterData: true, attributes: true});
  new MutationObserver(() => note('settled', log.keys.filter(key =>
    key.settled === null && key.turn !== null && key.turn <= Number(board.dataset.settled)))
  ).observe(board, {attributes: true, attributeFilter: ['data-settled']});
}"""
ANSWERED = """() => { const board = document.querySelector('.eyesim-board');
  return board !== null && board.dataset.settled === board.dataset.asked; }"""
RESTED = f"() => ({ANSWERED})() && !document.querySelector('.eyesim-board [aria-busy=true]')"


@dataclasses.dataclass
class Served:
    """A command of `python -m eyesim` that serves a page.

    Attributes
    ----------
    address : str
        Of the page, as the command prints it.
    home : Path
        Holds everything that it and its kernels write.
    process : subprocess.Popen
    """

    address: str
    home: Path
    process: subprocess.Popen

    def kernels(self, name=""):
        """Return the processes (numbers) of its kernels, or of the one of that name, as far as the system tells."""
        found = set()
        for place in Path("/proc").glob("[0-9]*/cmdline"):
            with contextlib.suppress(OSError):
                words = place.read_bytes()
                if all(part in words for part in (b"ipykernel_launcher", os.fsencode(self.home), name.encode())):
                    found.add(int(place.parent.name))
        return found


@contextlib.contextmanager
def served(*command):
    """Serve what a command serves, such as "live", "--dark" or "open"; close it as Ctrl-C does."""
    with _run([sys.executable, "-m", "eyesim", *command, "--no-browser"], command[0] == "open") as one:
        yield one


NAMELESS = """() => [...document.querySelectorAll('.eyesim-board :is(input, select, button, img, [tabindex="0"])')]
  .filter(one => !(one.getAttribute('aria-label') || one.alt || (one.labels && one.labels.length) || one.textContent))
  .map(one => one.outerHTML.slice(0, 100))"""
"""Controls and pictures of a board that have no name."""


@contextlib.contextmanager
def served_panel(panel, dark=False):
    """Serve any panel, `module:function`, alone on a page; the module may lie beside this one."""
    code = (
        "import sys; from eyesim.machine.live_page import open_live; port = int(sys.argv[sys.argv.index('--port') + 1])"
    )
    code += f"; sys.exit(open_live(port=port, browser=False, dark={dark}, panel={panel!r}))"
    with _run([sys.executable, "-c", code], False) as one:
        yield one


@contextlib.contextmanager
def _run(command, lab):
    home = Path(tempfile.mkdtemp(prefix="host")).resolve()  # settings of whoever runs this must not matter
    command += ["--port", str(_free_port())]
    if lab and "--folder" not in command:
        _write_lesson(home / "mine")
        command += ["--folder", str(home / "mine")]
    (home / "tmp").mkdir()
    (home / "jupyter_lab_config.json").write_text(json.dumps({"LabApp": {"expose_app_in_browser": True}}))
    places = {"CONFIG_DIR": home, "DATA_DIR": home / "data", "RUNTIME_DIR": home / "runtime"}
    own = {f"JUPYTER_{name}": str(place) for name, place in places.items()}
    own |= {"JUPYTERLAB_WORKSPACES_DIR": str(home / "desk"), "JUPYTERLAB_SETTINGS_DIR": str(home / "settings")}
    own |= {"IPYTHONDIR": str(home / "ipython"), "TMPDIR": str(home / "tmp"), "PYTHONUNBUFFERED": "1"}
    own["PYTHONPATH"] = os.pathsep.join(filter(None, [str(HERE), os.environ.get("PYTHONPATH")]))
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, **own})
    one = Served("", home, process)
    watch = threading.Timer(120, process.terminate)  # should it never print an address
    watch.start()
    said = []
    try:
        for line in process.stdout:
            said.append(line)
            if found := re.search(r"http://\S+", line):
                one.address = found.group()
                break
        watch.cancel()
        assert one.address, "".join(said)
        yield one
    finally:
        watch.cancel()
        process.send_signal(signal.SIGINT)
        try:
            said.append(process.communicate(timeout=30)[0])
            kernels, left = one.kernels(), [there.name for there in (home / "tmp").iterdir() if "eyesim" in there.name]
        finally:
            process.kill()
            shutil.rmtree(home, ignore_errors=True)
    assert "Closed." in said[-1], said
    assert process.returncode == 0
    assert (kernels, left) == (set(), []), "kernels or folders are left"


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _write_lesson(folder):
    cells = [
        nbformat.v4.new_markdown_cell("# One panel"),
        nbformat.v4.new_code_cell("from eyesim import panel\n\npanel.live_panel()"),
    ]
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = nbformat.v4.new_notebook(cells=cells, metadata={"kernelspec": kernel})
    folder.mkdir()
    (folder / LESSON).write_text(nbformat.writes(notebook), encoding="utf-8")


@contextlib.contextmanager
def slowed(address, round_trip):
    """Address of the same page over a connection that takes `round_trip` [s] there and back."""
    parts, port = urllib.parse.urlsplit(address), _free_port()
    command = [sys.executable, str(HERE / "slow.py"), str(port), str(parts.port), str(round_trip)]
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
    """Open a page with a panel, as `shown`, and wait until it is at rest."""
    page = shown(browser, address, width=width, height=height)
    rest(page)
    page.locator(BOARD).first.scroll_into_view_if_needed()
    return page


def shown(browser, address, *, width=1280, height=720):
    """Open a page with a panel; it notes requests to other hosts in `others`, its errors in `faults`, and `kernels`."""
    context = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True)
    context.others, seen = [], lambda request: None if _own(request.url) else context.others.append(request.url)
    context.on("request", seen)
    page = context.new_page()
    page.others, page.faults, page.kernels = context.others, [], []
    page.on("websocket", seen)
    page.on("websocket", lambda one: page.kernels.extend(re.findall(r"/api/kernels/([^/]+)/channels", one.url)))
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    if "/lab" in address:
        parts = urllib.parse.urlsplit(address)
        path = f"/lab/tree/{urllib.parse.quote(LESSON)}"
        page.goto(parts._replace(path=path, query=f"{parts.query}&reset").geturl(), wait_until="domcontentloaded")
        page.wait_for_function("window.jupyterapp", timeout=90_000)
        assert page.evaluate(READY)
        page.wait_for_selector(".jp-Notebook .jp-MarkdownOutput h1", timeout=30_000)
        assert page.evaluate(RUN)
    else:
        page.goto(address, wait_until="domcontentloaded")
    page.wait_for_selector(f"{BOARD} :is(.eyesim-stage > svg, .eyesim-question)", state="attached", timeout=60_000)
    return page


def _own(url):
    parts = urllib.parse.urlsplit(url)
    return parts.scheme in ("data", "blob", "about") or parts.hostname in ("127.0.0.1", "localhost")


def slider(page, name):
    """Give the focus to the slider of a quantity, such as "dip_second"."""
    found = page.locator(f"{BOARD} input[type=range][data-slope={name}]").first
    found.scroll_into_view_if_needed()
    found.focus()
    return found


def answered(page):
    """Wait until the newest change is answered; what follows at rest may still be on its way."""
    page.wait_for_function(ANSWERED, timeout=30_000)


def rest(page):
    """Wait until all that was asked is shown."""
    page.wait_for_function(RESTED, timeout=60_000)


def pressed(page, name="dip_second", times=36):
    """From key press to picture, and to settled numbers [ms], for `times` presses of an arrow key."""
    slider(page, name)
    rest(page)
    page.wait_for_timeout(300)  # the slope arrives
    page.evaluate(PROBE)
    for i in range(times):
        page.keyboard.press("ArrowRight" if i % 20 < 10 else "ArrowLeft")
        page.wait_for_function("window.eyesimLog.keys.at(-1).settled !== null", timeout=10_000)
        page.wait_for_timeout(PAUSES[i % len(PAUSES)])
    keys = page.evaluate("window.eyesimLog.keys")
    assert len(keys) == times
    return [key["geometry"] for key in keys], [key["settled"] for key in keys]


def hold(page, times, rate=30.0, key="ArrowRight"):
    """Hold an arrow key, repeated `rate` times a second as a keyboard does; yields after every repetition."""
    tell = page.context.new_cdp_session(page)
    codes = {"ArrowRight": 39, "ArrowLeft": 37}
    event = {"key": key, "code": key, "windowsVirtualKeyCode": codes[key]}
    began = time.monotonic()
    for i in range(times):
        tell.send("Input.dispatchKeyEvent", {"type": "rawKeyDown", "autoRepeat": i > 0, **event})
        yield i
        time.sleep(max(0.0, began + (i + 1) / rate - time.monotonic()))
    tell.send("Input.dispatchKeyEvent", {"type": "keyUp", **event})
    tell.detach()


def held(page, name="mark_second", seconds=2.0):
    """Pictures a second while an arrow key is held, towards nought and beyond."""
    value = float(slider(page, name).input_value())
    rest(page)
    page.wait_for_timeout(300)
    page.evaluate(PROBE)
    for _ in hold(page, int(30 * seconds), key="ArrowLeft" if value > 0.0 else "ArrowRight"):
        pass
    log = page.evaluate("window.eyesimLog")
    first, last = log["keys"][0]["at"], log["keys"][-1]["at"]
    return sum(first <= at <= last for at in log["pictures"]) / (last - first) * 1000.0


def quantile(values, share):
    """Value below which a share [1] of all lies."""
    return sorted(values)[min(len(values) - 1, round(share * (len(values) - 1)))]


def figures(page, times=36):
    """Key to picture, median and 95 %; key to settled numbers, median and 95 % [ms]."""
    return tuple(quantile(values, share) for values in pressed(page, times=times) for share in (0.5, 0.95))
