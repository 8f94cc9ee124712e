"""What the live session says: verdict, numbers, votes, and where nothing can be shown, why."""

from __future__ import annotations

from html import escape

import numpy as np

from ...eye.frames import clock_words
from ...lesson.build import pose_words
from ...live.outcome import OUT_OF_FOCUS, outcome
from ...live.votes import OPTIONS, explain_wrong_vote
from ...sight.refraction import in_words, signed
from ...study.verdict import DECENTRATION_LIMIT, TILT_LIMIT

_SIGNS = {"go": "\N{CHECK MARK}", "stop": "!", "wait": "?", "told": "\N{BULLET}"}
_NO_NUMBER = "\N{EN DASH}"
_LIMITS = (
    f"matters beyond {DECENTRATION_LIMIT:g} mm, {TILT_LIMIT:g}\N{DEGREE SIGN} or {OUT_OF_FOCUS:g} D: "
    "chosen for teaching"
)


def sentence(session):
    """Say where the lens lies, what is left for glasses, and whether it matters."""
    pose, ended = session.settled, outcome(session)
    if not pose.settled:
        return f"Live session: {ended}"
    return f"Live session: the lens is {pose_words(pose)}, {pose.depth:.2f} mm deep; {_glasses(session)}. {ended}"


def _glasses(session):
    sight = session.sight
    if sight is None or not sight.seen:
        return "nothing can be seen through it"
    return f"the eye measures {in_words(sight)}, {signed(session.refraction_surprise)} D off what was meant"


def message(kind, words, more=""):
    """Put a line of words with a sign before it, so that colour never stands alone; and smaller ones below.

    Parameters
    ----------
    kind : "go", "stop", "wait" or "told"
    words, more : str
    """
    below = f'<div class="more">{escape(more)}</div>' if more else ""
    sign = f'<span aria-hidden="true">{_SIGNS[kind]}</span>'
    return f'<div class="told {kind}">{sign}<div><div>{escape(words)}</div>{below}</div></div>'


def readout(session, kept=None):
    """HTML of outcome and numbers.

    Parameters
    ----------
    session : Session
    kept : Session or None
        Its numbers stand below.
    """
    ended = outcome(session)
    now, was = _numbers(session), None if kept is None else _numbers(kept)
    tiles = []
    for name, (number, way) in now.items():
        before = "" if was is None else f'<dd class="was">A: {escape(was[name][0])}</dd>'
        tiles.append(f"<div><dt>{escape(name + way)}</dt><dd>{escape(number)}</dd>{before}</div>")
    head = message("go" if ended.within else "stop", str(ended))
    return f'{head}{_on_the_table(session, _LIMITS)}<dl class="tiles">{"".join(tiles)}</dl>'


def _on_the_table(session, more=""):
    """Say what is on the table, for all to see."""
    fits = " (lens power chosen for this eye)" if "white_to_white" in session.changes else ""
    more = f'<span class="limits">{escape(more)}</span>' if more else ""
    return f'<p class="asked"><span>On the table: <b>{escape(session.words)}</b>{fits}</span>{more}</p>'


def _numbers(session):
    """By name of a tile, its number, and which way it goes."""
    pose = session.settled
    if not pose.settled:
        return dict.fromkeys(("off centre", "tilt", "depth", "refraction surprise", "pull at most"), (_NO_NUMBER, ""))
    seen = session.sight is not None and session.sight.seen
    off = f", to {clock_words(pose.decentration_meridian)}" if pose.decentration >= 0.005 else ""
    lean = f", deeper at {clock_words(pose.tilt_meridian)}" if pose.tilt >= 0.05 else ""
    return {
        "off centre": (f"{pose.decentration:.2f} mm", off),
        "tilt": (f"{pose.tilt:.1f}\N{DEGREE SIGN}", lean),
        "depth": (f"{pose.depth:.2f} mm", ""),
        "refraction surprise": (f"{signed(session.refraction_surprise)} D" if seen else "nothing seen", ""),
        "pull at most": (f"{float(np.max(pose.tension)):.0f} mN", ""),
    }


def case_words(case, number, session, hidden, solution):
    """HTML of what is to be done in a case, or of what was done wrong in the one that was given up.

    Parameters
    ----------
    case : Case or None
    number : int
    session : Session
    hidden : bool
        Whether the outcome is.
    solution : str
        Of the case that was given up.
    """
    if case is None:
        return message("told", f"Case {number}", solution) if solution else ""
    if hidden:
        return message("wait", f"Case {number}: reveal the outcome to go on.")
    if case.solved(session):
        return message("go", f"Case {number} is solved.", case.answer(session))
    return message("wait", f"Case {number}: bring the lens to where the dashed one lies.", case.clue(session))


def ballot(tally, session):
    """HTML of what is asked and can be voted for, while the outcome is hidden.

    Parameters
    ----------
    tally : Tally
    session : Session
    """
    options = "".join(f"<li><b>{option.numeral}</b> {escape(option.words)}</li>" for option in OPTIONS)
    count = "1 has" if tally.total == 1 else f"{tally.total} have" if tally.total else "Nobody has"
    head = message("wait", "What do you expect?", f"The outcome is hidden. {count} voted.")
    return f'{head}{_on_the_table(session)}<ul class="ballot">{options}</ul>'


def revealed(tally, session):
    """HTML of how the group voted, and what was right; a bar for each option.

    Parameters
    ----------
    tally : Tally
    session : Session
    """
    right, most, rows = outcome(session).key, max(*tally.counts, 1), []
    for option in OPTIONS:
        n, mark = tally[option.key], "\N{CHECK MARK} right: " if option.key == right else ""
        bar = f'<i style="width:{100 * n / most:.0f}%"></i>'
        rows.append(f"<li><b>{n}</b> {mark}{option.numeral} {escape(option.words)}{bar}</li>")
    wrong = explain_wrong_vote(session, max(OPTIONS, key=lambda one: tally[one.key]).key)
    seen = f"{tally[right]} of {tally.total} saw it. {wrong}".strip()
    return f'<ul class="tally">{"".join(rows)}</ul><p class="asked">{escape(seen)}</p>'


def unseen(session):
    """Say why there is no letter chart; "" where there is one."""
    if not session.settled.settled:
        return "The lens has no resting place, and nothing is seen through it."
    if not session.sight.seen:
        return f"There is no image: {session.sight.reason}."
    return ""
