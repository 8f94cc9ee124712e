"""What the page of a live session remembers, so that a page that is loaded again goes on where it was."""

from __future__ import annotations

import json

from ...eye.checks import LearnerError
from ...live.session import Session
from ...live.votes import OPTIONS, Tally

LONGEST = 20_000
"""Characters of a memory that is read."""


def remembered(session, kept, tally, options, solving):
    """Text of all that is on the board: `recalled` reads it."""
    return json.dumps({
        "table": session.text(), "a": None if kept is None else kept.text(), "votes": list(tally.counts),
        "options": options, "solving": solving,
    })  # fmt: skip


def recalled(text):
    """Session, A or None, tally, options (not checked) and whether a case is being solved, of such a text.

    Nothing in it is evaluated. Raises LearnerError if it is no such text.
    """
    wrong = LearnerError("What the page remembered cannot be read; it begins with the plan.")
    if not isinstance(text, str) or len(text) > LONGEST:
        raise wrong
    try:
        found = json.loads(text)
        table, a, votes, options, solving = (found[key] for key in ("table", "a", "votes", "options", "solving"))
        fits = isinstance(options, dict) and isinstance(solving, bool) and len(votes) == len(OPTIONS)
        if not fits:
            raise wrong
        return Session.read(table), None if a is None else Session.read(a), Tally(tuple(votes)), options, solving
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise wrong from error
