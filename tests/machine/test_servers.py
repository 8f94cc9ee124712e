"""Servers for this machine only: a key, an orderly end, and the solver compiled meanwhile."""

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request

import pytest

import eyesim as es
from eyesim.machine import jupyterlab, live_page, warm, workbook


def test_a_port_that_is_taken_is_refused(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(es.LearnerError, match="taken"):
            jupyterlab.open_lab(tmp_path, workbook.START, port=taken.getsockname()[1], browser=False)


def test_the_live_page_says_what_it_lacks(monkeypatch):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(es.LearnerError, match="taken"):
            live_page.open_live(port=taken.getsockname()[1], browser=False)
    monkeypatch.setattr(live_page.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(es.LearnerError, match="pip install voila"):
        live_page.open_live(port=None, browser=False)


def test_a_panel_that_cannot_be_built_is_told_on_the_page():
    page = live_page.panel_or_words("eyesim.panel:no_such_panel")
    assert "could not be built" in page.data
    assert "no_such_panel" in page.data


def asked_to_end(kernel, address, opener, origin):
    """Answer to what a page sends when it is closed."""
    ask = urllib.request.Request(f"{address}/voila/api/shutdown/{kernel}", b"", {"Origin": origin})
    try:
        return opener.open(ask, timeout=60).status
    except urllib.error.HTTPError as refused:
        return refused.code


def served_page(address, folder):
    """Ask for the page with the key and without it, and end its kernel as a page does that is closed."""
    keyed = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    page = keyed.open(address, timeout=60).read().decode()
    with contextlib.suppress(urllib.error.HTTPError):
        assert "eyesim" not in urllib.request.urlopen(address.partition("?")[0], timeout=60).read().decode()
    here = address.partition("/?")[0]
    kernel = next(folder.glob("eyesim-live-*/*/kernel-*.json")).stem.removeprefix("kernel-")
    assert asked_to_end(kernel, here, urllib.request.build_opener(), origin=here) == 403
    assert asked_to_end(kernel, here, keyed, origin="http://elsewhere.example") == 404
    assert asked_to_end(kernel, here, keyed, origin=here) == 204
    return page


@pytest.mark.server
@pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent to a child in another way")
@pytest.mark.parametrize("end", ["SIGINT", "SIGTERM", "SIGHUP"], ids=["Ctrl-C", "ended", "terminal closed"])
def test_the_live_page_is_served_to_who_has_the_key_and_leaves_nothing(tmp_path, end):
    if signal.getsignal(getattr(signal, end)) is signal.SIG_IGN:
        pytest.skip(f"{end} is ignored here, and by all that is started from here")
    own = {"TMPDIR": str(tmp_path), "JUPYTER_CONFIG_DIR": str(tmp_path / "none"), "PYTHONUNBUFFERED": "1"}
    own |= {"JUPYTER_RUNTIME_DIR": str(tmp_path / "runtime"), "JUPYTER_DATA_DIR": str(tmp_path / "none")}
    command = [sys.executable, "-m", "eyesim", "live", "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, **own}) as server:
        address = next(re.search(r"http://\S+", line) for line in server.stdout if "http" in line).group()
        page = served_page(address, tmp_path) if end == "SIGINT" else ""  # the page is the same, however it ends
        server.send_signal(getattr(signal, end))
        rest = server.stdout.read()
    assert server.returncode == 0
    assert "Closed" in rest
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", urllib.parse.urlsplit(address).port)) != 0, "somebody still answers"
    assert "live_panel" not in page  # no code is shown
    assert not re.findall(r"""(?:src|href)=["'](?:https?:)?//(?!127\.0\.0\.1)""", page)
    assert list(tmp_path.glob("eyesim-live-*")) == []


def test_warming_says_once_that_it_takes_time(monkeypatch, capsys):
    monkeypatch.setattr(warm, "PATIENCE", 0.3)
    monkeypatch.setattr(warm, "compile_solver", lambda: time.sleep(0.6))
    warm.warm()
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == ["Getting", "Ready"]
    monkeypatch.setattr(warm, "compile_solver", lambda: None)
    warm.warm()
    assert capsys.readouterr().out == ""


def test_warming_hands_on_what_went_wrong(monkeypatch):
    def fail():
        raise es.LearnerError("no")

    monkeypatch.setattr(warm, "compile_solver", fail)
    with pytest.raises(es.LearnerError, match="no"):
        warm.warm()
