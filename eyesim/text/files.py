"""Files written whole, and what the system says about them in plain words."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
from pathlib import Path

from ..eye.checks import LearnerError


def write_whole(path: Path, content: bytes, *, lasting: bool = False) -> None:
    """Write a file so that it is either there as a whole or not at all.

    Parameters
    ----------
    path, content : Path, bytes
    lasting : bool
        See that it is on the disk when this returns, whatever happens to the power.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as part:
            part.write(content)
            if lasting:
                part.flush()
                os.fsync(part.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def put(path: Path, content: bytes) -> None:
    """Write a file whole, with the folder that it lies in; one that holds the same already is left as it is.

    Parameters
    ----------
    path, content : Path, bytes
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.is_file() or path.is_symlink() or path.read_bytes() != content:
        write_whole(path, content)


def remove(*paths: Path) -> None:
    """Take files away; those that are not there are no fault."""
    for path in paths:
        path.unlink(missing_ok=True)


def check_writable(folder: Path) -> None:
    """See that files can be written into a folder, which is made if it is not there; raises OSError if not."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryFile(dir=folder):
        pass


def refuse_to_overwrite(folder: Path, names, what: str = "earlier results") -> None:
    """See that nothing of the names is in a folder.

    Raises LearnerError if something is: says what, and how to have it overwritten.

    Parameters
    ----------
    folder, names : Path, iterable of str
    what : str
        What would be lost, for the words.
    """
    there = [name for name in names if os.path.exists(folder / name)]  # one that may not be asked: writing says so
    if there:
        raise LearnerError(
            f"{str(folder)!r} holds {what} ({', '.join(there)}). Add --force to overwrite, or choose another folder "
            "with --out."
        )


def write_all(folder: Path, content: dict[str, bytes], what: str = "Results") -> None:
    """Write files into a folder, which is made if it is not there; each is there as a whole or not at all.

    Raises LearnerError if the system refuses.

    Parameters
    ----------
    folder : Path
    content : dict
        Of each file, by its name.
    what : str
        What they are, for the words.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in content.items():
            write_whole(folder / name, data)
    except OSError as error:
        raise LearnerError(
            f"{what} cannot be kept in {str(folder)!r} ({reason(error)}). Choose another folder with --out."
        ) from None


def safe_name(id: str) -> str:
    """Name for a file of somebody: the id where it is a plain one, else what is plain in it and a digest."""
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", id).strip(".-")[:60]
    if plain and plain == id and id.upper() not in _DEVICES:
        return id
    return f"{plain or 'person'}-{hashlib.sha256(id.encode()).hexdigest()[:8]}"


_DEVICES = {"CON", "PRN", "AUX", "NUL", *(f"{name}{i}" for name in ("COM", "LPT") for i in range(1, 10))}


def reason(error: OSError) -> str:
    """Say why the system refused, without its numbers and names."""
    return (error.strerror or str(error)).lower()
