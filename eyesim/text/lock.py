"""Locks on files, which end with the process that holds them, whatever ends that."""

from __future__ import annotations

import contextlib
import os
import random
import time
from pathlib import Path

from ..eye.checks import LearnerError


def take_lock(file: int, patience: float, message: str) -> None:
    """Lock an open file against other writers until it is closed.

    Parameters
    ----------
    file : int
        Its handle.
    patience : float [s]
        How long to wait for another.
    message : str
        What is answered after that, as a `LearnerError`.
    """
    until = time.monotonic() + patience
    while not _locked(file):
        if time.monotonic() > until:
            raise LearnerError(message)
        time.sleep(random.uniform(0.001, 0.006))


@contextlib.contextmanager
def locked(path: Path, patience: float, message: str):
    """Hold a lock that belongs to a file, in a hidden file beside it.

    Parameters
    ----------
    path : Path
    patience, message
        As for `take_lock`.
    """
    try:
        file = os.open(path.with_name(f".{path.name}.lock"), os.O_RDWR | os.O_CREAT, 0o644)
    except OSError:  # a folder that cannot be written to is answered by the write itself
        yield
        return
    try:
        try:
            take_lock(file, patience, message)
        except OSError:  # there are no locks on this disk
            raise LearnerError(message) from None
        yield
    finally:
        os.close(file)


def _locked(file):
    """Try to lock an open file."""
    try:
        if os.name == "nt":  # a byte far behind the end, since there a lock keeps readers out too
            import msvcrt

            os.lseek(file, 2**30, os.SEEK_SET)
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True
