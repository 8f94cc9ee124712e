"""The workbook opened in JupyterLab: the solver compiled beforehand, and a server for this machine only."""

from __future__ import annotations

import functools
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

from ..eye.checks import LearnerError

# Settings of JupyterLab that hold for the workbook alone: it does not ask about news from the network.
_SETTINGS = Path(__file__).parent / "jupyter"
_say = functools.partial(print, flush=True)


def compile_solver() -> None:
    """Settle a few eyes and look through one, so that every kernel is compiled and kept on disk."""
    import numpy as np

    from ..eye import Eye, Lens
    from ..hold import Fixation, Pose, settle
    from ..sight import refract

    pose = settle(Eye(), Lens(), Fixation(), Fixation(meridian=180.0))
    refract(Eye(corneal_cylinder=1.0), Lens(), pose)
    refract(Eye(), Lens(), Pose(x=1.0), pupil=8.0)  # part of the light beside the optic
    settle(Eye(white_to_white=np.linspace(11.4, 12.2, 40)), Lens(), Fixation(), Fixation(meridian=180.0))


def warm(say=_say) -> None:
    """Compile the solver; if that takes more than a second, say so once and show that it goes on."""
    done, failure = threading.Event(), []

    def work():
        try:
            compile_solver()
        except BaseException as error:  # handed on to the caller's thread below
            failure.append(error)
        finally:
            done.set()

    began = time.monotonic()
    threading.Thread(target=work, daemon=True).start()
    if not done.wait(1.0):
        say("Getting the solver ready; it is compiled once on every machine, which takes some 20 seconds.")
        while not done.wait(0.5):
            if sys.stderr.isatty():
                print(f"\r  {time.monotonic() - began:.0f} s ", end="", file=sys.stderr, flush=True)
        if sys.stderr.isatty():
            print("\r        \r", end="", file=sys.stderr, flush=True)
        say(f"Ready after {time.monotonic() - began:.0f} s.")
    if failure:
        raise failure[0]


def open_lab(folder: Path, lesson: str, *, port: int | None, browser: bool, say=_say) -> int:
    """Serve a folder in JupyterLab, on this machine only, until it is stopped.

    Parameters
    ----------
    folder : Path
    lesson : str
        File name of the lesson to open first.
    port : int or None
        None takes a free one.
    browser : bool
        Open it in the browser too.
    say : callable
        Prints a line.

    Returns
    -------
    int
        Exit code of the server; 0 if it was stopped by the keyboard.

    Raises
    ------
    LearnerError
        If the port is taken, or the server does not start.
    """
    port = _free_port(port)
    token = os.environ.get("JUPYTER_TOKEN") or os.urandom(24).hex()
    page = f"lab/tree/{urllib.parse.quote(lesson)}"
    settings = os.pathsep.join(filter(None, [str(_SETTINGS), os.environ.get("JUPYTER_CONFIG_PATH")]))
    with tempfile.TemporaryFile() as log:
        server = subprocess.Popen(
            _command(folder, page, port, browser),
            env={**os.environ, "JUPYTER_TOKEN": token, "JUPYTER_CONFIG_PATH": settings},
            stdin=subprocess.DEVNULL,  # so that it does not ask whether Ctrl-C was meant
            stdout=log,
            stderr=log,
        )
        before = signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            _wait_until_served(server, port, token, log)
            say(f"The workbook is open at\n\n    http://localhost:{port}/{page}?token={token}\n")
            say("Close it with Ctrl-C here; what you have done stays in your folder.")
            return server.wait()
        except KeyboardInterrupt:
            say("\nClosed.")
            return 0
        finally:
            signal.signal(signal.SIGTERM, before)
            server.terminate()
            try:
                server.wait(10)
            except subprocess.TimeoutExpired:
                server.kill()


def _command(folder, page, port, browser):
    command = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}",
        f"--LabApp.default_url=/{page}", f"--ServerApp.port={port}", "--ServerApp.port_retries=0",
        "--ServerApp.ip=localhost", "--Application.log_level=ERROR",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",  # a lesson needs no network
    ]  # fmt: skip
    if not browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")  # it serves this machine only, and asks for the token
    return command


def _free_port(port):
    """Check that a port can be had; without one, the first free from 8888 on, or any."""
    for candidate in [port] if port else [*range(8888, 8908), 0]:
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", candidate))
            except OSError:
                continue
            return probe.getsockname()[1]
    raise LearnerError(f"Port {port} is taken or not allowed. Choose another with --port, or leave it out.")


def _wait_until_served(server, port, token, log):
    """Return when the server answers.

    Raises
    ------
    LearnerError
        If it ends or does not answer within 90 seconds.
    """
    ask = urllib.request.Request(f"http://localhost:{port}/api/status", headers={"Authorization": f"token {token}"})
    straight = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    for _ in range(450):
        if server.poll() is not None:
            break
        try:
            with straight.open(ask, timeout=5):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
    log.seek(0)
    last = log.read().decode(errors="replace").strip().splitlines()[-3:]
    raise LearnerError("JupyterLab did not start. It said: " + (" / ".join(last) or "nothing"))
