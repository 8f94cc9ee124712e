"""The live session: one board before a group, quick under the hand, honest about what stands behind every picture.

What is on the table is a `live.session.Session`. Pictures of the eye, verdict and numbers follow every change at
once; why, letter chart and cloud follow when the hand has come to rest.
"""

from __future__ import annotations

import contextlib
import secrets

import numpy as np

from ...draw.front import SEATS
from ...eye.checks import LearnerError, known_name, short
from ...live.quantities import KEYS, Quantity
from ...live.riddle import riddle
from ...live.session import MISTAKES, Session
from ...live.votes import OPTIONS, Tally
from ...text.reading import read_number
from ..at_rest import AtRest
from ..base import LIMITS_CHOSEN, Panel, slope_step
from . import gif
from .hands import HANDS, OWN, checked_own
from .layout import CASES, FREE, content, idle, words
from .memory import recalled, remembered
from .picture import live_picture
from .rest import REGIONS, Rest, at_rest, cloud
from .words import ballot, case_words, readout, revealed, sentence, told

_NAME = "Live session"
_BACK = 200  # changes that can be taken back
_CHOICES = {
    "seat": tuple(SEATS), "link": ("each", "together", "against"), "hands": tuple(HANDS),
    "large": ("eye", "chart", "cloud", "why"),
}  # fmt: skip
_SWITCHES = ("hide", "keep", "riddle", "keys", "bare")


class LivePanel(Panel):
    """One eye on a table, for a group; its repr says in a sentence what lies there.

    Attributes
    ----------
    session : Session
        What is on the table.
    kept : Session or None
        What was kept as A.
    tally : Tally
        Votes.
    case : Riddle or None
        The case that is to be solved.
    """

    def __init__(self, session):
        self.session, self.kept, self.tally, self.case = session, None, Tally(), None
        self._before, self._moving, self._past = session.plan, None, []
        self._pictured, self._solution = None, ""
        self._options = {
            "seat": "superior", "link": "each", "hands": "usual", "large": "eye", "hide": False, "keys": True,
            "bare": False, "case": 1, **{key: what.start for key, what in OWN.items()},
        }  # fmt: skip
        super().__init__(_NAME, content(), look="live-board", file="eyesim-live", whole=True, remark=LIMITS_CHOSEN)
        self._rest = AtRest(self._lock, self._work, self._deliver)
        heads = '<div class="heads" aria-hidden="true"><span>First</span><span>Second</span></div>'
        self._board.show(regions={"sides_head": heads})
        self._draw()

    @property
    def text(self):
        """Short text that restores what is on the table; `restore` reads it."""
        return self.session.text()

    @property
    def sentence(self):
        """What is on the table, in words."""
        return sentence(self.session)

    def set(self, **values):
        """Set quantities by the keys of `live.session.KEYS`, such as `mark_second=10`; raises LearnerError."""
        with self._lock:
            self._put(self.session.but(**values))
            self._draw()

    def preset(self, name):
        """Show one of the named mistakes alone, as `live.session.MISTAKES` has it; raises LearnerError."""
        known_name(_NAME, name, list(MISTAKES))
        with self._lock:
            there = MISTAKES[name].session(self.session)
            self._put(there, before=Session(eye=there["eye"], pupil=there["pupil"]))
            self._draw()

    def reset(self):
        """Go back to the plan."""
        self.preset(next(iter(MISTAKES)))

    def restore(self, text):
        """Bring back what a `text` says; raises LearnerError if it cannot be read."""
        with self._lock:
            self._put(Session.read(text))
            self._draw()

    def choose(self, **options):
        """Choose how it is shown.

        Parameters
        ----------
        seat : "front", "superior" or "temporal"
        link : "each", "together" or "against"
            How the other side comes along when a slider is moved.
        hands : str
            Whose operations the cloud holds, a key of `live_hands.HANDS`.
        own_mark, own_dip, own_tunnel : float [deg, deg, mm]
            Spreads of the hands called "own".
        large : "eye", "chart", "cloud" or "why"
        hide, keep, keys, bare : bool
            Hide the outcome; keep what is shown as A; whether keys work by themselves; pictures without controls.
        riddle : bool
            Set a case to solve, or give it up.
        case : int
            Its number: the same one is the same case.

        Raises
        ------
        LearnerError
            If there is no such choice.
        """
        with self._lock:
            try:
                for name, value in options.items():
                    known_name(_NAME, name, [*_CHOICES, *_SWITCHES, *OWN, "case"])
                    if name in _SWITCHES and not isinstance(value, bool):
                        raise LearnerError(f"{_NAME}: {name} is True or False; {short(value)} was given.")
                    self._opt(name, value)
            finally:
                self._draw()

    def picture(self):
        """Picture of what is on the table, for readers without a running kernel; nothing is hidden in it."""
        with self._lock:
            picture = live_picture(self.session, self._options["seat"], self._ghost(), readout=True)
            picture.sentence = self.sentence
            return picture

    def cloud(self):
        """Picture of many operations with the chosen hands; raises LearnerError if none are chosen, or none settle."""
        with self._lock:
            if not self._options["hands"]:
                raise LearnerError(f"{_NAME}: choose hands first, such as .choose(hands='usual').")
            return cloud(self.session, self._options["hands"], self._options, self._options["seat"])

    def _put(self, session, *, before=None, moving=None):
        """Put a session on the table; `moving` is the control that is being moved, for as long as it is the same."""
        if session == self.session and before is None:
            return
        sentence(session), self._picture_of(session)  # what cannot be said or drawn is refused
        only_named = before is None and session == self.session.but(eye=session["eye"])  # nothing moves
        if only_named:
            before = self._before.but(eye=session["eye"])
        if moving is None or moving != self._moving:
            if session != self.session:
                self._past = [*self._past[1 - _BACK :], (self.session, ...)]  # A stays
            self._before = self.session if before is None else before
        self._moving, self.session = moving, session

    def _draw(self, moving=None):
        """Bring all that follows from what is on the table onto the board, and ask for what follows at rest.

        If a control is `moving`, its slope goes along; before a picture of another form, so that the page can move it
        on as soon as it is there.
        """
        hidden = self._options["hide"]
        before, self._pictured = self._pictured, self._picture_of(self.session)
        early = before is not None and before.drawing.form != self._pictured.drawing.form
        if moving is not None and early:
            self._tell_slope(moving)
        if hidden:
            now = {"readout": ballot(self.tally, self.session), "votes": ""}
            self._rest.drop()
            now |= dict.fromkeys(REGIONS, "")
        else:
            now = {"readout": readout(self.session, self.kept)}
            now["votes"] = revealed(self.tally, self.session) if self.tally.total else ""
        o = self._options
        now["riddle"] = case_words(self.case, o["case"], self.session, o["hide"], self._solution)
        self._board.show(
            values=self._values(), regions=now, pictures={"eye": self._pictured}, words=words(hidden, self.case),
            off=idle(self.session, self._options, self._past, self.kept), busy=[] if hidden else [*REGIONS],
            said="The outcome is hidden." if hidden else self.sentence,
            memory=remembered(self.session, self.kept, self.tally, o, self.case is not None),
        )  # fmt: skip
        if moving is not None and not early:
            self._board.let_go()
            self._tell_slope(moving)
        if not hidden:
            own = tuple((key, o[key]) for key in OWN)
            self._rest.ask(Rest(self.session, self._before, self.kept, o["hands"], o["seat"], own))

    def _work(self, asked):
        return at_rest(asked, lambda: self._rest.asked is asked)

    def _deliver(self, asked, result):
        if isinstance(result, LearnerError):
            result = dict.fromkeys(REGIONS, told("stop", str(result)))
        self._board.show(regions=result, busy=[])

    def _picture_of(self, session, *, readout=False):
        hidden, seat = self._options["hide"], self._options["seat"]
        return live_picture(session, seat, None if hidden else self._ghost(), hidden, readout=readout)

    def _ghost(self):
        """Return what lies in dashes underneath: the case to be solved, or A."""
        shown = self.kept if self.case is None else self.case.hidden
        return shown.settled if shown is not None and shown.settled.settled else None

    def _values(self):
        hidden = self._options["hide"]  # whether a needle enters is part of the outcome
        lengths = self.session.free_length.items()
        free = {f"free_{side}": FREE[0] if hidden or v is None else v for side, v in lengths}
        votes = {f"vote_{option.key}": self.tally[option.key] for option in OPTIONS}
        kept = {"keep": self.kept is not None, "riddle": self.case is not None, "text": self.text}
        return {**self.session.values, **free, **votes, **self._options, **kept}

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "slope":
            self._tell_slope(name)
            return
        if kind == "film":
            self._board.save(gif.gif(value), "eyesim-live.gif", "image/gif")
            return
        if kind == "memory":
            self._recall(value)
        elif kind == "press":
            self._press(name)
        elif name in KEYS or name.startswith("free_"):
            self._put(self._moved(name, value, typed=kind == "typed"), moving=name)
        elif name == "text":
            self._put(Session.read(value))
        elif name.startswith("vote_"):
            self._vote(name.removeprefix("vote_"), read_number(value, ""))
        else:
            unit = OWN[name].unit if name in OWN else ""
            self._opt(name, read_number(value, unit) if kind == "typed" else value)
        slides = kind != "press" and isinstance(value, (int, float)) and not isinstance(value, bool)
        self._draw(moving=name if slides else None)

    def _press(self, name):
        if name.startswith("preset_"):
            there = list(MISTAKES.values())[int(name.removeprefix("preset_"))].session(self.session)
            self._put(there, before=Session(eye=there["eye"], pupil=there["pupil"]))
        elif name == "mirror":
            self._put(self.session.mirrored())
        elif name == "swap":
            self._put(self.session.swapped())
        elif name == "undo" and self._past:
            before, (there, kept) = self.session, self._past.pop()
            if kept is not ... and self.kept == there:  # the two were exchanged
                self.kept = kept
            self._before, self.session, self._moving = before, there, None
        elif name == "exchange" and self.kept is not None:
            there, here = self.kept, self.session
            self._put(there)
            if there != here:
                self._past[-1] = (here, there)
            self.kept = here
        elif name == "clear":
            self.tally = self.tally.cleared()
        elif name in ("svg", "png"):
            self._board.still(self._picture_of(self.session, readout=True).svg, name)
        elif name == "loop":
            if self._options["hide"]:
                raise LearnerError("The outcome is hidden: reveal it before you make a loop.")
            start = self.kept or self.session.plan
            self._board.frames(gif.frames(start, self.session, self._options["seat"]))

    def _moved(self, name, value, *, typed=False):
        """Session after a control was set; what a slider asks beyond what can be goes as far as it can."""
        side = name.rpartition("_")[2]
        if name.startswith("free_"):
            value = read_number(value, "mm") if typed else value
            return self._with_free(side, value, typed)
        what = KEYS[name]
        if typed and isinstance(what, Quantity):
            value = read_number(value, what.unit)
        return self.session.linked(name, value, self._options["link"])

    def _with_free(self, side, value, typed):
        if not typed:
            free, what = self.session.free_length[side], KEYS[f"outside_{side}"]
            outside = self.session[f"outside_{side}"]
            if free is not None:
                value = float(np.clip(value, free + outside - what.high, free + outside - what.low))
        there = self.session.with_free_length(side, value)
        return self.session.linked(f"outside_{side}", there[f"outside_{side}"], self._options["link"])

    def _tell_slope(self, name):
        """Tell the page how the picture begins to move with a control."""
        free, what = name.startswith("free_"), KEYS.get(name)
        if not free and not isinstance(what, Quantity):
            return
        low, high, step = FREE if free else (what.low, what.high, what.step)
        here = self._values()[name]
        step, ahead = slope_step(here, low, high, step), {}
        with contextlib.suppress(LearnerError):
            there = self._moved(name, round(here + step, 9))
            if free:
                step = there.free_length[name.rpartition("_")[2]] - here
            ahead = {"eye": self._picture_of(there)}
        self._board.slope(name, {"eye": self._pictured}, ahead, step)

    def _vote(self, key, count):
        if count != int(count) or count < 0:
            raise LearnerError(f"Votes are whole numbers from 0 on; {count:g} was given.")
        self.tally = self.tally.plus(key, int(count) - self.tally[key])

    def _opt(self, name, value):
        if name in _CHOICES:
            known_name(f"{_NAME}: {name}", value, list(_CHOICES[name]))
            self._options[name] = value
        elif name == "case":
            value = read_number(value, "")
            if value != int(value) or not 1 <= value <= CASES:
                raise LearnerError(f"The number of a case is a whole number from 1 to {CASES}; {value:g} was given.")
            self._options["case"] = int(value)
            self._set_case()
        elif name in OWN:
            self._options[name] = checked_own(name, value)
        elif name == "keep":
            self.kept, self._moving = self.session if value else None, None
        elif name == "riddle":
            if value and self.case is None:
                self._options["case"] = 1 + secrets.randbelow(CASES)
                self._set_case()
            elif not value:
                self._give_up()
        else:
            known_name(_NAME, name, [*_CHOICES, *_SWITCHES])
            if name == "hide" and value and not self._options["hide"]:
                self.tally = self.tally.cleared()  # another question
            self._options[name] = bool(value)

    def _recall(self, text):
        """Go on where a page that is loaded again was."""
        session, kept, tally, options, solving = recalled(text)
        if solving:
            self._opt("case", options.get("case"))
        for name in (*_CHOICES, *OWN, "hide", "keys", "bare"):
            if name in options:
                self._opt(name, options[name])
        self.session, self._before, self.kept, self.tally = session, session.plan, kept, tally

    def _set_case(self):
        self._solution = ""
        self.case = riddle(np.random.default_rng(self._options["case"]))
        self._options["hide"] = False
        self._put(self.case.start)

    def _give_up(self):
        """Show what was done wrong; the lens goes to where the dashed one lies."""
        if self.case is not None:
            self._solution = self.case.answer()
            self._put(self.case.hidden, before=self.case.start)
            self.case = None


def live_panel(text=""):
    """Panel for a live session.

    Parameters
    ----------
    text : str
        What is on the table to begin with, as *Copy the state* gives it; without it, the plan.

    Returns
    -------
    LivePanel

    Raises
    ------
    LearnerError
        If the text cannot be read.
    """
    return LivePanel(Session.read(text) if text else Session())
