"""The practice log as a file: rows are only ever added, whole, by one writer at a time."""

from __future__ import annotations

import contextlib
import datetime
import os
import random
import time
from pathlib import Path

from ..course.csv_text import LARGEST
from ..course.practice_log import COLUMNS, NEEDED, added
from ..course.practice_row import LogRow
from ..eye.checks import LearnerError, known_name
from .files import in_words, safe

PATIENCE = 20.0
"""How long a writer waits for another [s]."""


def log_path(folder, who):
    """Where the log of somebody lies, whatever they are called.

    Parameters
    ----------
    folder : str or Path
    who : str
        Id of the resident.

    Returns
    -------
    Path
    """
    return Path(folder) / f"{safe(who)}.csv"


def row_of(words):
    """Row of a practice log from words such as "aim=5"; of today, unless another day is among them.

    Parameters
    ----------
    words : iterable of str
        Names of columns with their values.

    Returns
    -------
    LogRow

    Raises
    ------
    LearnerError
        If a word is not a name with its value, a name is unknown or missing, or a value makes no sense.
    """
    given = {"when": datetime.date.today()}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise LearnerError(f"A row takes names with their values, such as aim=5; {word!r} was given.")
        known_name("A row of the log", name, [column for column in COLUMNS if column != "unit"])
        given[name] = value
    missing = [name for name in NEEDED if name not in given]
    if missing:
        raise LearnerError(f"A row needs {', '.join(missing)}, such as quantity=dip aim=5 achieved=7.5.")
    return LogRow(**given)


def add(path, row):
    """Add a row to a practice log, which is begun if it is not there; nothing that is in it ever changes.

    The row is on the disk when this returns. A line that an earlier crash left half written is closed off first.

    Parameters
    ----------
    path : str or Path
    row : LogRow

    Raises
    ------
    LearnerError
        If the file cannot be written to, is too large, or another program keeps it to itself.
    """
    path = Path(path)
    if not isinstance(row, LogRow):
        raise LearnerError(f"A row of the log is added, a LogRow; a {type(row).__name__} was given.")
    try:
        with _alone(path) as file:
            size = os.fstat(file).st_size
            if size > LARGEST:
                raise LearnerError(f"{path.name} is larger than {LARGEST // 1_000_000} MB; is it a practice log?")
            _put(file, size, added(_read(file, size), row))
            if size == 0:
                _settle_folder(path.parent)
    except OSError as error:
        raise LearnerError(f"Nothing can be added to the practice log {path.name} ({in_words(error)}).") from None


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
def _alone(path):
    """Open a file to add to it, as the only one that does; a lock ends with its process, whatever ends that."""
    until = time.monotonic() + PATIENCE
    while True:
        file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0), 0o644)
        try:
            _lock(file, until, path)
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


def _lock(file, until, path):
    while not _locked(file):
        if time.monotonic() > until:
            raise LearnerError(f"Another program keeps the practice log {path.name} to itself; close it and try again.")
        time.sleep(random.uniform(0.001, 0.006))


def _locked(file):
    """Try to lock an open file against other writers."""
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


def told(log):
    """Say what a log tells of its hands: skills, raters, the learning curve, and the drill that would gain most.

    Parameters
    ----------
    log : Log

    Returns
    -------
    str
        A line each.

    Raises
    ------
    LearnerError
        If no row of it can be used.
    """
    from ..course.failures import failed_by_outcome, tried_in
    from ..course.learning_curve import learning_curve
    from ..course.practice_skill import agreements, attempts, skills
    from ..eye.globe import Eye
    from ..eye.lens import Lens
    from ..hold.needle import Fixation
    from ..study.beside import beside
    from ..study.blame import halve
    from ..study.hands import Hands

    if not log.rows:
        raise LearnerError(f"{log!r} Nothing can be told of it.")
    mine = Hands.from_log(attempts(log))
    plan = Eye(), Lens(), Fixation(), Fixation().opposite()
    first = halve(*plan, mine, progress=False)[0]
    lines = [repr(log), "", "Bias and spread, drawn towards the cohort while attempts are few:"]
    lines += [f"  {one!r}" for one in (*skills(log), *skills(log, by="way"))]
    found = agreements(log)
    lines += ["", "Raters:", *(f"  {one!r}" for one in found)] if found else []
    lines += ["", repr(learning_curve(failed_by_outcome(tried_in(log))))]
    drill = f"The drill that would gain most: {first.words} halved, {first.share.text('+.1%')} within limits."
    lines += ["", repr(beside(mine, *plan)), drill]
    return "\n".join(lines)
