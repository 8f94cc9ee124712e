"""What a practice log says of the hands behind it, in words for whoever keeps it."""

from __future__ import annotations

from ..eye.checks import LearnerError
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..study.agreement import LEAST
from ..study.blame import halve
from ..study.compare import compare_with_cohort
from ..study.hands import Hands
from .failures import failed_by_outcome, group_attempts
from .learning_curve import learning_curve
from .measurement import PLAIN
from .skills import agreements, rater_means, skills


def hands_of(log):
    """Return hands that do what a log shows, drawn towards the cohort while it is short, `Hands`."""
    return Hands.from_log(rater_means(log))


def curve_of(log, rates=None):
    """Return the learning curve of a log, a `Curve`: an attempt fails by what it would have left in an eye.

    Parameters
    ----------
    log : Log
    rates : practice.cusum.Rates or None
        As for `learning_curve`.
    """
    return learning_curve(failed_by_outcome(group_attempts(log)), rates)


def misses(rows):
    """Say what rows missed by, a line for each haptic."""
    lines = {}
    for row in rows:
        words = f"{PLAIN[row.quantity]} {row.miss:+.2g} {row.unit}"
        lines.setdefault(f"{row.side} haptic" if row.side else "haptic not named", []).append(words)
    return "\n".join(f"{side}: {', '.join(words)}" for side, words in lines.items())


def raters(log):
    """Say how far raters agree, a line for every two who measured the same attempts."""
    found = agreements(log)
    return "\n".join(map(repr, found)) or f"No two people have measured the same {LEAST} attempts."


def summarize(log):
    """Say what a log tells of its hands: skills, raters, the learning curve, and the drill that would gain most.

    Raises LearnerError if no row of it can be used.

    Parameters
    ----------
    log : Log

    Returns
    -------
    str
        A line each.
    """
    if not log.rows:
        raise LearnerError(f"{log!r} There is nothing in it to go by.")
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
