"""What the live session says: verdict, numbers, votes, and where nothing can be shown, why."""

from __future__ import annotations

import functools
from html import escape

import numpy as np

from ..course.cases import pose_words
from ..course.judge import matters
from ..course.votes import OPTIONS, OUT_OF_FOCUS, nowhere, outcome, surprise
from ..eye.frames import whole_degrees
from ..sight.refraction import in_words, signed

_SIGNS = {"go": "\N{CHECK MARK}", "stop": "!", "wait": "?", "told": "\N{BULLET}"}
NOWHERE = "\N{EN DASH}"


@functools.lru_cache(maxsize=16)
def verdict(session):
    """Whether it matters: a kind ("go" or "stop") and a sentence, in step with `course.votes.outcome`."""
    pose = session.settled
    if not pose.settled:
        words = nowhere(session)
        return "stop", f"There is no outcome: {words}."
    said = matters(pose).replace(" (limits chosen for teaching)", "")
    left = surprise(session)
    blurred = f"{signed(left)} D off what was meant" if np.isfinite(left) else "nothing can be seen through it"
    if outcome(session) == "focus":
        return "stop", f"It matters: well placed, but out of focus, {blurred}."
    if not said.startswith("It matters"):
        return "go", said
    return "stop", said if abs(left) <= OUT_OF_FOCUS else f"{said[:-1]}; and {blurred}."


def sentence(session):
    """Say where the lens lies, what is left for glasses, and whether it matters."""
    pose = session.settled
    said = verdict(session)[1]
    if not pose.settled:
        return f"Live session: {said}"
    return f"Live session: the lens is {pose_words(pose)}, {pose.depth:.2f} mm deep; {_glasses(session)}. {said}"


def _glasses(session):
    sight = session.sight
    if sight is None or not sight.seen:
        return "nothing can be seen through it"
    return f"the eye measures {in_words(sight)}, {signed(surprise(session))} D off what was meant"


def told(kind, words, more=""):
    """Put a line of words with a sign before it, so that colour never stands alone; and smaller ones below."""
    below = f'<div class="more">{escape(more)}</div>' if more else ""
    sign = f'<span aria-hidden="true">{_SIGNS[kind]}</span>'
    return f'<div class="told {kind}">{sign}<div><div>{escape(words)}</div>{below}</div></div>'


def readout(session, kept=None):
    """HTML of verdict and numbers; those of a session that was `kept` stand below."""
    kind, words = verdict(session)
    now, was = _numbers(session), None if kept is None else _numbers(kept)
    tiles = []
    for name, number in now.items():
        before = "" if was is None else f'<dd class="was">A: {escape(was[name])}</dd>'
        tiles.append(f"<div><dt>{escape(name)}</dt><dd>{escape(number)}</dd>{before}</div>")
    return f'{told(kind, words)}{_asked(session)}<dl class="tiles">{"".join(tiles)}</dl>'


def _asked(session):
    """Say what is on the table, for all to see."""
    return f'<p class="asked">On the table: <b>{escape(session.words)}</b></p>'


def _numbers(session):
    pose = session.settled
    if not pose.settled:
        return dict.fromkeys(("off centre", "tilt", "depth", "refraction surprise"), NOWHERE)
    seen = session.sight is not None and session.sight.seen
    off = f"{pose.decentration:.2f} mm"
    lean = f"{pose.tilt:.1f}\N{DEGREE SIGN}"
    if pose.decentration >= 0.005:
        off += f" to {whole_degrees(pose.decentration_meridian)}\N{DEGREE SIGN}"
    if pose.tilt >= 0.05:
        lean += f" to {whole_degrees(pose.tilt_meridian)}\N{DEGREE SIGN}"
    return {
        "off centre": off,
        "tilt": lean,
        "depth": f"{pose.depth:.2f} mm",
        "refraction surprise": f"{signed(surprise(session))} D" if seen else "nothing seen",
    }


def ballot(tally, session):
    """HTML of what is asked and can be voted for, while the outcome is hidden."""
    options = "".join(f"<li><b>{option.letter}</b> {escape(option.words)}</li>" for option in OPTIONS)
    count = "1 has" if tally.total == 1 else f"{tally.total} have" if tally.total else "Nobody has"
    head = told("wait", "What do you expect?", f"The outcome is hidden. {count} voted.")
    return f'{head}{_asked(session)}<ul class="ballot">{options}</ul>'


def revealed(tally, session):
    """HTML of how the group voted, and what was right; a bar for each option."""
    right = outcome(session)
    most = max(*tally.counts, 1)
    rows = []
    for option in OPTIONS:
        n, mark = tally[option.key], " \N{CHECK MARK} right" if option.key == right else ""
        bar = f'<i style="width:{100 * n / most:.0f}%"></i>'
        rows.append(f"<tr><th>{option.letter} {escape(option.words)}</th><td>{bar}</td><td>{n}{mark}</td></tr>")
    return f'<table class="votes">{"".join(rows)}</table><p>{escape(tally.words(session))}</p>'


def unseen(session):
    """Say why there is no letter chart; "" where there is one."""
    if not session.settled.settled:
        return "The lens has no resting place, and nothing is seen through it."
    if not session.sight.seen:
        return f"There is no image: {session.sight.reason}."
    return ""
