"""The practice log as a file to which rows are only added, and what it says of the hands behind it."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..eye.checks import LearnerError, known_name
from ..eye.sources import data_folder
from ..practice.log import COLUMNS, NEEDED, added, read_log
from ..practice.row import PLAIN, LogRow
from ..study.agreement import LEAST
from ..text.append import append
from ..text.files import safe


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
    return not_ahead(LogRow(**given))


def not_ahead(row):
    """Return a row that is about to be added.

    Raises
    ------
    LearnerError
        If its day lies ahead.
    """
    if row.when > datetime.date.today() + datetime.timedelta(days=1):  # where the day begins sooner it is tomorrow
        raise LearnerError(
            f"The day (when), {row.when.isoformat()}, lies ahead; a pass is written down once it is made."
        )
    return row


def demonstration():
    """Return the practice log of the demonstration, invented, a `Log`."""
    return read_log(data_folder() / "demo" / "practice-log.csv")


def add(path, *rows):
    """Add rows to a practice log, which is begun if it is not there; nothing that is in it ever changes.

    The rows are on the disk, all of them or none, when this returns. A line that an earlier crash left half written is
    closed off first.

    Parameters
    ----------
    path : str or Path
    *rows : LogRow

    Raises
    ------
    LearnerError
        If the file cannot be written to, is too large, or another program keeps it to itself.
    """
    for row in rows:
        if not isinstance(row, LogRow):
            raise LearnerError(f"A row of the log is added, a LogRow; a {type(row).__name__} was given.")
    append(Path(path), "practice log", lambda content: added(content, *rows))


def hands_of(log):
    """Return hands that do what a log shows, drawn towards the cohort while it is short, `Hands`."""
    from ..practice.skills import attempts
    from ..study.hands import Hands

    return Hands.from_log(attempts(log))


def curve_of(log, rates=None):
    """Return the learning curve of a log, a `Curve`: an attempt fails by what it would have left in an eye.

    Parameters
    ----------
    log : Log
    rates : practice.cusum.Rates or None
        As for `learning_curve`.
    """
    from ..practice.failures import failed_by_outcome, tried_in
    from ..practice.learning_curve import learning_curve

    return learning_curve(failed_by_outcome(tried_in(log)), rates)


def misses(rows):
    """Say what rows missed by, a line for each haptic."""
    lines = {}
    for row in rows:
        words = f"{PLAIN[row.quantity]} {row.miss:+.2g} {row.unit}"
        lines.setdefault(f"{row.side} haptic" if row.side else "haptic not told", []).append(words)
    return "\n".join(f"{side}: {', '.join(words)}" for side, words in lines.items())


def raters(log):
    """Say how far raters agree, a line for every two who measured the same attempts."""
    from ..practice.skills import agreements

    found = agreements(log)
    return "\n".join(map(repr, found)) or f"No two people have measured the same {LEAST} attempts."


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
    from ..eye.globe import Eye
    from ..eye.lens import Lens
    from ..hold.needle import Fixation
    from ..practice.skills import agreements, skills
    from ..study.blame import halve
    from ..study.compare import compare_with_cohort

    if not log.rows:
        raise LearnerError(f"{log!r} Nothing can be told of it.")
    mine = hands_of(log)
    plan = Eye(), Lens(), Fixation(), Fixation().opposite()
    first = halve(*plan, mine, progress=False)[0]
    lines = [repr(log), "", "Bias and spread, drawn towards the cohort while attempts are few:"]
    lines += [f"  {one!r}" for one in (*skills(log), *skills(log, by="way"))]
    found = agreements(log)
    lines += ["", "Raters:", *(f"  {one!r}" for one in found)] if found else []
    lines += ["", repr(curve_of(log))]
    drill = f"The drill that would gain most: {first.words} halved, {first.share.text('+.1%')} within limits."
    lines += ["", repr(compare_with_cohort(mine, *plan)), drill]
    return "\n".join(lines)
