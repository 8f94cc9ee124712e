"""Run notebooks from top to bottom and store what they print, as the tests compare it.

    python tests/store_notebooks.py                     # all of them
    python tests/store_notebooks.py "Start here" ...    # some

Words and drawings are stored, not widgets, which need a kernel; nothing is written if a cell fails.
"""

from __future__ import annotations

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
WIDGET = "application/vnd.jupyter.widget-view+json"
KEPT = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"}}  # fmt: skip


def joined(outputs):
    """Put printed lines that came in pieces together: where a kernel cuts them is chance."""
    whole = []
    for output in outputs:
        if whole and output.output_type == whole[-1].output_type == "stream":
            whole[-1].text += output.text
        else:
            whole.append(output)
    return whole


def store(path):
    """Run a notebook and write it with its outputs."""
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=600, resources={"metadata": {"path": str(path.parent)}}).execute()
    notebook.metadata = KEPT
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type == "code":
            cell.outputs = joined([output for output in cell.outputs if output.get("name") != "stderr"])
            for output in cell.outputs:
                output.get("data", {}).pop(WIDGET, None)
    path.write_text(nbformat.writes(notebook) + "\n", encoding="utf-8")


if __name__ == "__main__":
    for name in sys.argv[1:] or sorted(path.stem for path in FOLDER.glob("*.ipynb")):
        store(FOLDER / f"{name}.ipynb")
        print(f"{name}: stored")
