"""The workbook opened in JupyterLab, for this machine only."""

from __future__ import annotations

import functools
import os
import urllib.parse
from pathlib import Path

from .host import Server, serve

# Settings of JupyterLab that hold for the workbook alone: it does not ask about news from the network.
_SETTINGS = Path(__file__).parent / "jupyter"


def open_lab(folder: Path, lesson: str, *, port: int | None, browser: bool) -> int:
    """Serve a folder in JupyterLab, on this machine only, until it is stopped.

    Parameters
    ----------
    folder, lesson : Path, str
        What is served, and the name of the file in it that is opened first.
    port, browser
        As for `host.serve`, and so are the exit code and what may be raised.
    """
    page = f"lab/tree/{urllib.parse.quote(lesson)}"
    settings = os.pathsep.join(filter(None, [str(_SETTINGS), os.environ.get("JUPYTER_CONFIG_PATH")]))
    server = Server(
        name="JupyterLab",
        command=functools.partial(_command, folder, page),
        host="localhost",
        page=page,
        answers="api/status",
        settings={"JUPYTER_CONFIG_PATH": settings},
        opened="The workbook is open at",
        closing="Close it with Ctrl-C here; what you have done stays in your folder.",
    )
    return serve(server, port=port, browser=browser)


def _command(folder, page, port):
    command = [
        "jupyterlab",
        "--no-browser",
        f"--ServerApp.root_dir={folder.resolve()}",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        "--ServerApp.ip=localhost",
        f"--LabApp.default_url=/{page}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",  # a lesson needs no network
        "--Application.log_level=ERROR",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")  # it serves this machine only, and asks for the token
    return tuple(command)
