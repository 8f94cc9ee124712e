"""What a live session holds: what is on the table, what was there before, what was kept, votes, and how it is shown.

It changes by what hands do, one after the other; a `Session` itself never changes. All of it can be written as a text
that the page remembers, so that a page which is loaded again goes on where it was.
"""

from __future__ import annotations

import json
import secrets

import numpy as np

from ...draw.front import SEATS
from ...eye.checks import LearnerError, known_name
from ...live.case import random_case
from ...live.parameters import KEYS, Quantity
from ...live.session import MISTAKES, Session
from ...live.votes import OPTIONS, Tally
from ...text.reading import read_number
from .hands import HANDS, OWN, checked_own
from .layout import CASES

NAME = "Live session"
CHOICES = {
    "seat": tuple(SEATS),
    "link": ("each", "together", "against"),
    "hands": tuple(HANDS),
    "large": ("eye", "chart", "cloud", "why"),
}
"""Options that are one of several."""
SWITCHES = ("hide", "keep", "solve", "keys", "bare")
"""Options that are so or not."""
LONGEST = 20_000
"""Characters of a memory that is read."""
_BACK = 200  # changes that can be taken back


class LiveState:
    """State of a live session.

    Parameters
    ----------
    session : Session
    check : callable
        Called with a session before it is put on the table; raises LearnerError if it cannot be shown.

    Attributes
    ----------
    session, before : Session
        What is on the table, and what was there before the last change.
    kept : Session or None
        What was kept as A.
    tally : Tally
    case : Case or None
        The case that is to be solved.
    solution : str
        What had been done in the case that was given up.
    options : dict
        How it is shown.
    """

    def __init__(self, session, check):
        self._check = check
        self.session, self.before = session, session.plan
        self.kept, self.tally, self.case, self.solution = None, Tally(), None, ""
        self._past, self._moving = [], None
        self.options = {"seat": "superior", "link": "each", "hands": "usual", "large": "eye", "case": 1}
        self.options |= {"hide": False, "keys": True, "bare": False} | {key: what.start for key, what in OWN.items()}

    @property
    def has_past(self):
        """Whether a change can be taken back."""
        return bool(self._past)

    @property
    def dashed(self):
        """Lens that lies in dashes underneath, the case to be solved or A; None if there is none."""
        shown = self.kept if self.case is None else self.case.hidden
        return shown.settled if shown is not None and shown.settled.settled else None

    def put(self, session, *, before=None, moving=None):
        """Put a session on the table.

        Parameters
        ----------
        session : Session
        before : Session or None
            What a why compares it with; by default what was on the table.
        moving : str or None
            The control that is being moved: as long as it is the same one, it is one change.
        """
        if session == self.session and before is None:
            return
        self._check(session)
        if before is None and session == self.session.but(eye=session["eye"]):  # nothing moves
            before = self.before.but(eye=session["eye"])
        if moving is None or moving != self._moving:
            if session != self.session:
                self._past = [*self._past[1 - _BACK :], (self.session, ...)]  # A stays
            self.before = self.session if before is None else before
        self._moving, self.session = moving, session

    def preset(self, name):
        """Put one of the `MISTAKES` on the table, alone."""
        there = MISTAKES[name].session(self.session)
        self.put(there, before=Session(eye=there["eye"], pupil=there["pupil"]))

    def undo(self):
        """Take the last change back; an exchange of A and B is exchanged back."""
        if self._past:
            before, (there, kept) = self.session, self._past.pop()
            if kept is not ... and self.kept == there:
                self.kept = kept
            self.before, self.session, self._moving = before, there, None

    def exchange(self):
        """Exchange what was kept and what is on the table."""
        if self.kept is not None:
            there, here = self.kept, self.session
            self.put(there)
            if there != here:
                self._past[-1] = (here, there)
            self.kept = here

    def vote(self, key, count):
        """Set how many voted for an option. Raises LearnerError if that is no whole number from 0 on."""
        if count != int(count) or count < 0:
            raise LearnerError(f"Votes are whole numbers from 0 on; {count:g} was given.")
        self.tally = self.tally.plus(key, int(count) - self.tally[key])

    def moved(self, name, value, *, typed=False):
        """Session after a control was set; what a slider asks beyond what can be goes as far as it can.

        Parameters
        ----------
        name : str
            Key of a session, or "free_first", "free_second".
        value : float, bool or str
        typed : bool
            It is a text that was typed, and is refused where it cannot be.
        """
        if name.startswith("free_"):
            return self._with_free_length(name.removeprefix("free_"), value, typed)
        what = KEYS[name]
        value = read_number(value, what.unit) if typed and isinstance(what, Quantity) else value
        return self.session.linked(name, value, self.options["link"])

    def _with_free_length(self, side, value, typed):
        value = read_number(value, "mm") if typed else value
        key = f"outside_{side}"
        free, what, outside = self.session.free_length[side], KEYS[key], self.session[key]
        if not typed and free is not None:
            value = float(np.clip(value, free + outside - what.high, free + outside - what.low))
        there = self.session.with_free_length(side, value)
        return self.session.linked(key, there[key], self.options["link"])

    def choose(self, name, value):
        """Set one of the options. Raises LearnerError if there is no such option or value.

        Parameters
        ----------
        name : str
            Of `CHOICES`, `SWITCHES` or `OWN`; or "case", the number of a case to set.
        value : str, bool, float [unit of that of `OWN`] or int
        """
        if name in CHOICES:
            known_name(f"{NAME}: {name}", value, list(CHOICES[name]))
            self.options[name] = value
        elif name == "case":
            value = read_number(value, "")
            if value != int(value) or not 1 <= value <= CASES:
                raise LearnerError(f"The number of a case is a whole number from 1 to {CASES}; {value:g} was given.")
            self._set_case(int(value))
        elif name in OWN:
            self.options[name] = checked_own(name, value)
        elif name == "keep":
            self.kept, self._moving = self.session if value else None, None
        elif name == "solve":
            self._solve() if value else self._give_up()
        else:
            known_name(NAME, name, [*CHOICES, *SWITCHES])
            if name == "hide" and value and not self.options["hide"]:
                self.tally = self.tally.cleared()  # another question
            self.options[name] = bool(value)

    def _solve(self):
        if self.case is None:
            self._set_case(1 + secrets.randbelow(CASES))

    def _set_case(self, number):
        self.options["case"], self.options["hide"], self.solution = number, False, ""
        self.case = random_case(np.random.default_rng(number))
        self.put(self.case.start)

    def _give_up(self):
        """Show what was done wrong; the lens goes to where the dashed one lies."""
        if self.case is not None:
            self.solution = self.case.answer()
            self.put(self.case.hidden, before=self.case.start)
            self.case = None

    def text(self):
        """Text of all this, for the page to remember; `recall` reads it."""
        a = None if self.kept is None else self.kept.text()
        content = {"table": self.session.text(), "a": a, "votes": list(self.tally.counts)}
        return json.dumps(content | {"options": self.options, "solving": self.case is not None})

    def recall(self, text):
        """Go on where a page was that remembers such a text; nothing in it is evaluated. Raises LearnerError."""
        session, kept, tally, options, solving = _read(text)
        if solving:
            self.choose("case", options.get("case"))
        for name in (*CHOICES, *OWN, "hide", "keys", "bare"):
            if name in options:
                self.choose(name, options[name])
        self.session, self.before, self.kept, self.tally = session, session.plan, kept, tally


def _read(text):
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
