"""The workbook opened in JupyterLab, for this machine only."""

from __future__ import annotations

import os
import urllib.parse
from pathlib import Path

from .host import Server, free_port, say_line, serve
from .warm import warm

# Settings of JupyterLab that hold for the workbook alone: it does not ask about news from the network.
_SETTINGS = Path(__file__).parent / "jupyter"


def open_lab(folder: Path, lesson: str, *, port: int | None, browser: bool, say=say_line) -> int:
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
    port = free_port(port)
    page = f"lab/tree/{urllib.parse.quote(lesson)}"
    settings = os.pathsep.join(filter(None, [str(_SETTINGS), os.environ.get("JUPYTER_CONFIG_PATH")]))
    server = Server(
        name="JupyterLab",
        command=_command(folder, page, port),
        host="localhost",
        port=port,
        page=page,
        answers="api/status",
        settings={"JUPYTER_CONFIG_PATH": settings},
        opened="The workbook is open at",
        closing="Close it with Ctrl-C here; what you have done stays in your folder.",
    )
    return serve(server, browser=browser, meanwhile=lambda: warm(say), say=say)


def _command(folder, page, port):
    command = [
        "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}", f"--LabApp.default_url=/{page}",
        f"--ServerApp.port={port}", "--ServerApp.port_retries=0", "--ServerApp.ip=localhost", "--no-browser",
        "--Application.log_level=ERROR",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",  # a lesson needs no network
    ]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")  # it serves this machine only, and asks for the token
    return tuple(command)
