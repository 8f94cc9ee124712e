"""The workbook as a learner meets it: opened by the command line, in a real browser, with the keyboard."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
LESSONS = sorted(path.name for path in (HERE.parent.parent / "notebooks").glob("*.ipynb"))
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine (Debian: apt install chromium)")


WITHOUT = ("Start here", "Set and mark exercises")
"""Lessons in which there is nothing to slide: the door, and the one for directors."""


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """Yield the address that `python -m eyesim open` prints; close the workbook afterwards as Ctrl-C does."""
    home = tmp_path_factory.mktemp("home")  # settings of whoever runs the tests must not matter
    (home / "jupyter_lab_config.json").write_text(json.dumps({"LabApp": {"expose_app_in_browser": True}}))
    places = {"CONFIG_DIR": home, "DATA_DIR": home / "data", "RUNTIME_DIR": home / "runtime"}
    own = {f"JUPYTER_{name}": str(place) for name, place in places.items()}
    own |= {
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "desk"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "settings"),
    }
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "eyesim", "open", "--no-browser", "--port", str(port)]
    server = subprocess.Popen(
        [*command, "--folder", str(home / "mine")],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, **own, "IPYTHONDIR": str(home / "ipython"), "PYTHONUNBUFFERED": "1"},
    )
    watch = threading.Timer(300, server.terminate)  # should it never print an address
    watch.start()
    try:
        lines = []
        for line in server.stdout:
            lines.append(line)
            if "http" in line:
                break
        watch.cancel()
        address = re.search(r"http://\S+", "".join(lines))
        assert address, "".join(lines)
        yield address.group()
    finally:
        watch.cancel()
        server.send_signal(signal.SIGINT)
        rest, _ = server.communicate(timeout=30)
    assert "Closed." in rest
    assert server.returncode == 0


def drive(address, lesson, shot=None):
    """Look at a lesson with a browser, in a process of its own, away from pytest's event loop."""
    command = [sys.executable, str(HERE / "drive.py"), address, "--chromium", CHROMIUM, "--lesson", lesson]
    ran = subprocess.run(command + (["--shot", str(shot)] if shot else []), capture_output=True, text=True, timeout=300)
    assert ran.returncode == 0, ran.stderr[-2000:]
    return json.loads(ran.stdout)


@pytest.mark.parametrize("lesson", LESSONS)
def test_a_lesson_runs_in_the_browser(opened, lesson):
    seen = drive(opened, lesson)
    assert seen["ready"], "the kernel never became idle"
    assert seen["ended"], "the cells did not come to an end"
    assert seen["dialogs"] == []
    assert not [error for cell in seen["cells"] for error in cell["errors"]]
    assert all(cell["count"] for cell in seen["cells"])
    for when in ("stored", "run"):  # stored pictures show only if the lesson is signed
        assert seen[when], f"no picture ({when})"
        for picture in seen[when]:
            assert picture["whole"], picture
            assert picture["width"] > 150, picture
            assert picture["height"] > 80, picture
            assert len(picture["words"]) >= 20, picture
    if seen["panel"]:
        assert seen["panel"]["value"][0] != seen["panel"]["value"][1], "the arrow key did not move the slider"
        assert seen["panel"]["before"] != seen["panel"]["after"], "the words did not follow the slider"
    else:
        assert any(name in lesson for name in WITHOUT), "a lesson has a slider"


def test_the_door_is_what_opens_first(opened):
    assert "/lab/tree/Start%20here.ipynb" in opened
