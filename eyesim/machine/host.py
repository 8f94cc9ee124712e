"""What the servers of JupyterLab and of the live page share: this machine only, a key, the browser, an orderly end."""

from __future__ import annotations

import contextlib
import http.server
import os
import secrets
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass

from ..eye.checks import LearnerError
from .warm import warm


@dataclass(frozen=True)
class Server:
    """A server to start, and what to ask it and say of it.

    Attributes
    ----------
    name : str
        In a sentence that says it did not start.
    command : callable
        Of the port: module to run, and its arguments.
    host, page : str
        The address: of the machine, and of the page on it.
    answers : str
        Path that it answers as soon as it serves.
    settings : dict
        Environment variables of its own.
    opened, closing : str
        Lines before the page's address and after it.
    """

    name: str
    command: Callable[[int], tuple[str, ...]]
    host: str
    page: str
    answers: str
    settings: dict[str, str]
    opened: str
    closing: str


def _free_port(port: int | None) -> int:
    """Check that a port can be had; without one, find the first free from 8888 on, or any."""
    for candidate in [port] if port else [*range(8888, 8908), 0]:
        with socket.socket() as probe:
            if os.name == "posix":  # as servers do: a port that was just left is free
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", candidate))
            except OSError:
                continue
            return probe.getsockname()[1]
    raise LearnerError(f"Port {port} is taken or not allowed. Choose another with --port, or leave it out.")


def serve(server: Server, *, port: int | None, browser: bool) -> int:
    """Start a server, say where its page is, and close it with the keyboard; meanwhile the solver is compiled.

    Raises LearnerError if the port is taken, or the server does not start.

    Parameters
    ----------
    server : Server
    port : int or None
        None takes a free one.
    browser : bool
        Open the page in the browser too.

    Returns
    -------
    int
        Exit code of the server; 0 if it was stopped by the keyboard.
    """
    port, token = _free_port(port), os.environ.get("JUPYTER_TOKEN") or secrets.token_hex(24)
    site = f"http://{server.host}:{port}"
    with tempfile.TemporaryFile() as log:
        process = subprocess.Popen(
            [sys.executable, "-m", *server.command(port)],
            env={**os.environ, **server.settings, "JUPYTER_TOKEN": token},
            stdin=subprocess.DEVNULL,  # so that it does not ask whether Ctrl-C was meant
            stdout=log,
            stderr=log,
        )
        before = _end_as_by_keyboard()
        try:
            warm()
            _wait_until_served(process, server.name, f"{site}/{server.answers}", token, log)
            address = f"{site}/{server.page}?token={token}"
            print(f"{server.opened}\n\n    {address}\n\n{server.closing}", flush=True)
            if browser:
                _open_in_browser(address)
            return process.wait()
        except KeyboardInterrupt:
            with contextlib.suppress(OSError):  # there may be no terminal left to print to
                print("\nClosed.", flush=True)
            return 0
        finally:
            for end, handler in before.items():
                signal.signal(end, handler)
            _stop(process)


def _end_as_by_keyboard():
    """Let closing the terminal, or asking this process to end, do what Ctrl-C does; return what they did before."""
    ends = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {end: signal.getsignal(end) for end in ends if signal.getsignal(end) is not signal.SIG_IGN}
    for end in before:
        signal.signal(end, signal.default_int_handler)
    return before


def _wait_until_served(process, name, address, token, log):
    """Return when the server of that name answers at an address.

    Raises LearnerError if it ends or does not answer within 90 seconds.
    """
    ask = urllib.request.Request(address, headers={"Authorization": f"token {token}"})
    straight = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    until = time.monotonic() + 90
    while time.monotonic() < until and process.poll() is None:
        try:
            with straight.open(ask, timeout=5):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    log.seek(0)
    last = log.read().decode(errors="replace").strip().splitlines()[-3:]
    raise LearnerError(f"{name} did not start. It said: " + (" / ".join(last) or "nothing"))


def _stop(process):
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()


def _open_in_browser(address: str) -> None:
    """Open an address that holds a key, without showing the key to others who use this machine.

    What a browser is started with stands in the list of processes, which everybody may read. So the browser gets
    the address of a door in this process, which leads to the page once and is shut afterwards.
    """
    ticket = f"/{secrets.token_urlsafe(24)}"
    used = threading.Event()

    class Door(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            if secrets.compare_digest(self.path.encode(), ticket.encode()) and not used.is_set():
                used.set()
                self.send_response(303)
                self.send_header("Location", address)
            else:
                self.send_response(410, "Use the address that the terminal shows")
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_):
            pass

    door = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Door)

    def attend():
        with door:
            used.wait(120)
            door.shutdown()

    for work in (door.serve_forever, attend, lambda: webbrowser.open(f"http://127.0.0.1:{door.server_port}{ticket}")):
        threading.Thread(target=work, daemon=True).start()
