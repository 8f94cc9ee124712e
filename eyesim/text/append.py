"""Files that only grow: what is added is on the disk whole or not at all, by one writer at a time."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from ..eye.checks import LearnerError
from .files import reason
from .lock import take_lock
from .tables import LARGEST

PATIENCE = 20.0
"""How long a writer waits for another [s]."""


def append(path: Path, what: str, more) -> None:
    """Add to a file, which is begun if it is not there; what is in it never changes.

    Raises LearnerError if it cannot be written to, is too large, or another program keeps it to itself.

    Parameters
    ----------
    path : Path
    what : str
        What it is, for the words: "practice log".
    more : callable
        Of the bytes that are in the file: the bytes to be written behind them.
    """
    try:
        with _alone(path, what) as file:
            size = os.fstat(file).st_size
            if size > LARGEST:
                raise LearnerError(f"{path.name} is larger than {LARGEST // 1_000_000} MB; is it a {what}?")
            _put(file, size, more(_read(file, size)))
            if size == 0:
                _settle_folder(path.parent)
    except OSError as error:
        raise LearnerError(f"Nothing can be added to the {what} {path.name} ({reason(error)}).") from None


def _put(file, size, content):
    """Write behind the end in one go; what was written of it is taken back if the disk is full."""
    try:
        if os.write(file, content) < len(content):
            raise OSError(28, "No space left on device")
        os.fsync(file)
    except OSError:
        with contextlib.suppress(OSError):
            os.ftruncate(file, size)
        raise


def _read(file, size):
    os.lseek(file, 0, os.SEEK_SET)
    parts = []
    while size > 0:
        part = os.read(file, size)
        if not part:
            break
        parts.append(part)
        size -= len(part)
    return b"".join(parts)


@contextlib.contextmanager
def _alone(path, what):
    """Open a file to add to it, as the only one that does; a lock ends with its process, whatever ends that."""
    message = f"Another program keeps the {what} {path.name} to itself; close it and try again."
    while True:
        file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o644)
        try:
            take_lock(file, PATIENCE, message)
            if _still(file, path):
                yield file
                return
        finally:
            os.close(file)  # and with it the lock


def _still(file, path):
    """Whether the open file is the one that the name means: a spreadsheet puts a new file in place of the old."""
    try:
        return os.path.samestat(os.fstat(file), os.stat(path))
    except FileNotFoundError:
        return False


def _settle_folder(folder):
    """See that the name of a new file is on the disk too."""
    if os.name == "nt":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
