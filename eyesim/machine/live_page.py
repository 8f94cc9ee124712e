"""The live session as a page of its own: the panel and nothing else, for this machine only.

The page is a notebook of one cell, shown by Voila without its code. A kernel is started before the page asks for it,
so that the first picture is there soon; each page has a kernel of its own, which ends when the page is closed.
"""

from __future__ import annotations

import functools
import html
import importlib
import importlib.util
import json
import os
import sys
import tempfile
from pathlib import Path

from ..eye.checks import LearnerError
from .host import Server, serve

TITLE = "eyesim live session"
PANEL = "eyesim.panel:live_panel"
_JUPYTER = Path(__file__).parent / "jupyter"  # where Voila finds the look of the page, `eyesim`
_EXTENSIONS = ["anywidget", "@jupyter-widgets/jupyterlab-manager", "@voila-dashboards/widgets-manager8"]
_FAILED = "The panel could not be built. Reload the page, or close it and start it again."


def open_live(*, port: int | None, browser: bool, dark: bool = False, panel: str = PANEL) -> int:
    """Serve the live session, on this machine only, until it is stopped.

    Parameters
    ----------
    port, browser
        As for `host.serve`, and so are the exit code and what may be raised.
    dark : bool
        Light letters on a dark ground.
    panel : str
        Which one: `module:function`.
    """
    if importlib.util.find_spec("voila") is None:
        raise LearnerError("The live page needs Voila, which is missing here: pip install voila")
    with tempfile.TemporaryDirectory(prefix="eyesim-live-", ignore_cleanup_errors=True) as folder:
        home = Path(folder)
        notebook = home / "live.ipynb"
        _write_page(notebook, panel, kernel="eyesim")
        _write_kernel(home / "kernels" / "eyesim")
        paths = os.pathsep.join(filter(None, [folder, str(_JUPYTER), os.environ.get("JUPYTER_PATH")]))
        server = Server(
            name="The live page",
            command=functools.partial(_command, notebook, dark),
            host="127.0.0.1",
            page="",
            answers="voila/static/voila.js",
            settings={"JUPYTER_PATH": paths, "IPYTHONDIR": str(home / "ipython")},
            opened="The live session is at",
            closing="Close it with Ctrl-C here.",
        )
        return serve(server, port=port, browser=browser)


def panel_or_words(panel: str):
    """Build a panel, `module:function`; if that fails, words for the page that would stay blank otherwise."""
    module, _, function = panel.partition(":")
    try:
        return getattr(importlib.import_module(module), function)()
    except Exception as error:
        from IPython.display import HTML

        why = html.escape(f"{type(error).__name__}: {error}")
        return HTML(f'<p role="alert" style="font-size: 1.2rem; padding: 2rem">{_FAILED}<br>It said: {why}</p>')


def _write_page(path, panel, kernel):
    """Write the notebook of one cell that Voila shows as the live page."""
    import nbformat

    shown = {"template": "eyesim"}
    spec = {"name": kernel, "display_name": kernel, "language": "python"}
    source = f"from eyesim.machine import live_page\n\nlive_page.panel_or_words({panel!r})"
    cell = nbformat.v4.new_code_cell(source, id="panel")
    notebook = nbformat.v4.new_notebook(cells=[cell], metadata={"title": TITLE, "kernelspec": spec, "voila": shown})
    path.write_text(nbformat.writes(notebook), encoding="utf-8")


def _write_kernel(folder):
    """Say how to start a kernel of this very Python: one called python3 may belong to another."""
    command = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}", "--log-level=ERROR"]
    folder.mkdir(parents=True)
    spec = {"argv": command, "display_name": "eyesim", "language": "python"}
    (folder / "kernel.json").write_text(json.dumps(spec), encoding="utf-8")


def _command(notebook, dark, port):
    return (
        "voila", str(notebook), "--no-browser", f"--Voila.port={port}", "--Voila.port_retries=0",
        "--Voila.ip=127.0.0.1", "--Voila.auto_token=True",
        "--Voila.config_file_paths=[]",  # settings of whoever sits here must not matter
        f"--Voila.connection_dir_root={notebook.parent}", "--Voila.log_level=ERROR",
        "--VoilaConfiguration.template=eyesim", f"--VoilaConfiguration.theme={'dark' if dark else 'light'}",
        f"--VoilaConfiguration.extension_allowlist={_EXTENSIONS}",
        "--VoilaConfiguration.preheat_kernel=True",
        "--VoilaKernelManager.fill_delay=3",  # the next one must not hold up the first page
        "--MappingKernelManager.cull_idle_timeout=3600",  # [s] of a page that went without a word; looked for seldom:
        "--MappingKernelManager.cull_interval=3600",  # a page that is being opened would look like one for a moment
        f"--VoilaExecutor.cell_error_instruction={_FAILED}",
        # A page that is closed asks for its kernel to be ended, without the proof that this check wants. That it asks
        # from an address of our own, and with our cookie, is checked all the same.
        "--Voila.tornado_settings=disable_check_xsrf=True",
    )  # fmt: skip
