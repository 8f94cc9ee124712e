"""The learner's own copy of the workbook.

Lessons are shipped with the project and worked on in a folder of the learner's own. What a learner has
changed is never overwritten: a renewed lesson is then laid beside it. A small file in that folder
remembers what was shipped, so that a copy which nobody touched can be renewed in place.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
from pathlib import Path

from ..eye.checks import LearnerError
from ..text.files import reason, write_whole

START = "Start here.ipynb"
_MEMORY = ".shipped.json"


@dataclasses.dataclass(frozen=True)
class LessonCopy:
    """What became of one lesson in the learner's folder.

    Attributes
    ----------
    name : str
        File name of the lesson.
    state : "new", "renewed", "same", "kept" or "beside"
        Copied for the first time; untouched and replaced by a newer one; already there; changed by the
        learner and left alone; the same, and a newer one laid beside it.
    beside : str
        File name of the newer one; empty otherwise.
    """

    name: str
    state: str
    beside: str = ""


def shipped_lessons() -> Path:
    """Folder of the lessons as shipped: in a checkout of the project, or in the installed package.

    Raises LearnerError if there is none.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package.parent / "notebooks", package / "_notebooks"):
        if (folder / START).is_file():
            return folder
    raise LearnerError(f"The workbook is not where it should be: no {START!r} was found. Install the project again.")


def copy_lessons(source: Path, folder: Path) -> list[LessonCopy]:
    """Copy all lessons to the learner's folder, never over anything the learner has changed.

    Raises LearnerError if the folder cannot be made or written to.

    Parameters
    ----------
    source : Path
        Folder of the lessons as shipped.
    folder : Path
        The learner's; made if need be.

    Returns
    -------
    list of LessonCopy
        One a lesson, in the order of their names.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        memory = _read_memory(folder)
        laid = [_copy_lesson(path, folder, memory) for path in sorted(source.glob("*.ipynb"))]
        write_whole(folder / _MEMORY, json.dumps(memory, indent=1, sort_keys=True).encode())
    except OSError as error:
        raise LearnerError(
            f"The folder {str(folder)!r} cannot be used for your workbook ({reason(error)}). "
            "Choose another one with --folder."
        ) from None
    return laid


def _copy_lesson(path, folder, memory):
    """Decide about one lesson; `memory` maps file names to what was last shipped under them."""
    shipped, target = path.read_bytes(), folder / path.name
    now, known = _digest(shipped), memory.get(path.name)
    mine = _digest(target.read_bytes()) if target.exists() else None
    memory[path.name] = now
    if mine == now:
        return LessonCopy(path.name, "same")
    if mine is None or mine == known:
        _write_signed(target, shipped)
        return LessonCopy(path.name, "new" if mine is None else "renewed")
    if known == now:
        return LessonCopy(path.name, "kept")
    beside = _name_beside(folder, path, memory)
    _write_signed(folder / beside, shipped)
    memory[beside] = now
    return LessonCopy(path.name, "beside", beside)


def _name_beside(folder, path, memory):
    """First "... (new).ipynb", "... (new 2).ipynb" that is free, or that nobody has touched."""
    count = 1
    while True:
        name = f"{path.stem} (new{'' if count == 1 else f' {count}'}).ipynb"
        place = folder / name
        if not place.exists() or _digest(place.read_bytes()) == memory.get(name):
            return name
        count += 1


def _write_signed(place, content):
    """Write a lesson and sign it: JupyterLab shows stored pictures of signed notebooks only."""
    write_whole(place, content)
    import nbformat
    from nbformat.sign import NotebookNotary

    with contextlib.suppress(OSError, nbformat.ValidationError):  # unsigned, pictures appear when a cell is run
        NotebookNotary().sign(nbformat.reads(content.decode(), as_version=4))


def _read_memory(folder):
    try:
        memory = json.loads((folder / _MEMORY).read_text())
    except (FileNotFoundError, ValueError):
        return {}
    return memory if isinstance(memory, dict) else {}


def _digest(content):
    return hashlib.sha256(content).hexdigest()
