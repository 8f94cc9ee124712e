"""The live session: one board before a group, quick under the hand, honest about what stands behind every picture.

What is on the table is a `live.session.Session`. Pictures of the eye, verdict and numbers follow every change at
once; why, letter chart and cloud follow when the hand has come to rest.
"""

from __future__ import annotations

import contextlib

from ...eye.checks import LearnerError, known_name, short
from ...live.parameters import KEYS, Quantity
from ...live.session import MISTAKES, Session
from ...live.votes import OPTIONS
from ...text.reading import read_number
from ..at_rest import AtRest
from ..base import LIMITS_CHOSEN, Panel, slope_step
from ..controls import HIDDEN, preset_of
from . import gif
from .hands import OWN
from .layout import FREE, content, idle, words
from .picture import live_picture
from .rest import REGIONS, Rest, at_rest, cloud
from .state import CHOICES, NAME, SWITCHES, LiveState
from .words import ballot, case_words, message, readout, revealed, sentence

_HEADS = '<div class="heads" aria-hidden="true"><span>First</span><span>Second</span></div>'


class LivePanel(Panel):
    """One eye on a table, for a group; its repr says in a sentence what lies there."""

    def __init__(self, session):
        self._state, self._pictured = LiveState(session, self._can_be_shown), None
        super().__init__(NAME, content(), look="live-board", file="eyesim-live", whole=True, remark=LIMITS_CHOSEN)
        self._rest = AtRest(self._lock, self._work, self._deliver)
        self._board.show(regions={"sides_head": _HEADS})
        self._draw()

    @property
    def session(self):
        """What is on the table, a `Session`."""
        return self._state.session

    @property
    def kept(self):
        """What was kept as A, a `Session` or None."""
        return self._state.kept

    @property
    def tally(self):
        """Votes, a `Tally`."""
        return self._state.tally

    @property
    def case(self):
        """The case that is to be solved, a `Case` or None."""
        return self._state.case

    @property
    def text(self):
        """Short text that restores what is on the table; `restore` reads it."""
        return self.session.text()

    @property
    def sentence(self):
        """What is on the table, in words."""
        return sentence(self.session)

    def set(self, **values):
        """Set quantities by the keys of `live.parameters.KEYS`, such as `mark_second=10`; raises LearnerError."""
        with self._lock:
            self._state.put(self.session.but(**values))
            self._draw()

    def preset(self, name):
        """Show one of the named mistakes alone, as `live.session.MISTAKES` has it; raises LearnerError."""
        known_name(NAME, name, list(MISTAKES))
        with self._lock:
            self._state.preset(name)
            self._draw()

    def reset(self):
        """Go back to the plan."""
        self.preset(next(iter(MISTAKES)))

    def restore(self, text):
        """Bring back what a `text` says; raises LearnerError if it cannot be read."""
        with self._lock:
            self._state.put(Session.read(text))
            self._draw()

    def choose(self, **options):
        """Choose how it is shown. Raises LearnerError if there is no such choice.

        Parameters
        ----------
        seat : "front", "superior" or "temporal"
        link : "each", "together" or "against"
            How the other side comes along when a slider is moved.
        hands : str
            Whose operations the cloud holds, a key of `panel.live.hands.HANDS`.
        own_mark, own_dip, own_tunnel : float [deg, deg, mm]
            Spreads of the hands called "own".
        large : "eye", "chart", "cloud" or "why"
        hide, keep, keys, bare : bool
            Hide the outcome; keep what is shown as A; whether keys work by themselves; pictures without controls.
        solve : bool
            Set a case to solve, or give it up.
        case : int
            Its number: the same one is the same case.
        """
        with self._lock:
            try:
                for name, value in options.items():
                    known_name(NAME, name, [*CHOICES, *SWITCHES, *OWN, "case"])
                    if name in SWITCHES and not isinstance(value, bool):
                        raise LearnerError(f"{NAME}: {name} is True or False; {short(value)} was given.")
                    self._state.choose(name, value)
            finally:
                self._draw()

    def picture(self):
        """Picture of what is on the table, for readers without a running kernel; nothing is hidden in it."""
        with self._lock:
            picture = live_picture(self.session, self._options["seat"], self._state.dashed, readout=True)
            picture.sentence = self.sentence
            return picture

    def cloud(self):
        """Picture of many operations with the chosen hands; raises LearnerError if none are chosen, or none settle."""
        with self._lock:
            if not self._options["hands"]:
                raise LearnerError(f"{NAME}: choose hands first, such as .choose(hands='usual').")
            return cloud(self.session, self._options["hands"], self._options, self._options["seat"])

    @property
    def _options(self):
        return self._state.options

    def _can_be_shown(self, session):
        """Raise LearnerError where a session cannot be said or drawn: it is refused."""
        sentence(session), self._picture_of(session)

    def _draw(self, moving=None):
        """Bring all that follows from what is on the table onto the board, and ask for what follows at rest.

        If a control is `moving`, its slope goes along; before a picture of another form, so that the page can move it
        on as soon as it is there.
        """
        state, hidden = self._state, self._options["hide"]
        before, self._pictured = self._pictured, self._picture_of(self.session)
        early = before is not None and before.drawing.form != self._pictured.drawing.form
        if moving is not None and early:
            self._tell_slope(moving)
        self._board.show(
            values=self._values(),
            regions=self._regions(),
            pictures={"eye": self._pictured},
            words=words(hidden, self.case),
            off=idle(self.session, self._options, state.has_past, self.kept),
            busy=[] if hidden else [*REGIONS],
            said=HIDDEN if hidden else self.sentence,
            memory=state.text(),
        )
        if moving is not None and not early:
            self._board.let_go()
            self._tell_slope(moving)
        if hidden:
            self._rest.drop()
        else:
            own = tuple((key, self._options[key]) for key in OWN)
            seat, hands = self._options["seat"], self._options["hands"]
            self._rest.ask(Rest(self.session, state.before, self.kept, hands, seat, own))

    def _regions(self):
        """HTML by region of what follows at once; with a hidden outcome, nothing stays of what follows at rest."""
        state, hidden = self._state, self._options["hide"]
        case = case_words(self.case, self._options["case"], self.session, hidden, state.solution)
        if hidden:
            now = {"readout": ballot(self.tally, self.session), "votes": "", **dict.fromkeys(REGIONS, "")}
        else:
            votes = revealed(self.tally, self.session) if self.tally.total else ""
            now = {"readout": readout(self.session, self.kept), "votes": votes}
        return now | {"case_words": case}

    def _work(self, asked):
        return at_rest(asked, lambda: self._rest.asked is asked)

    def _deliver(self, asked, result):
        if isinstance(result, LearnerError):
            result = dict.fromkeys(REGIONS, message("stop", str(result)))
        self._board.show(regions=result, busy=[])

    def _picture_of(self, session, *, readout=False):
        hidden, seat = self._options["hide"], self._options["seat"]
        return live_picture(session, seat, None if hidden else self._state.dashed, hidden, readout=readout)

    def _values(self):
        hidden = self._options["hide"]  # whether a needle enters is part of the outcome
        lengths = self.session.free_length.items()
        free = {f"free_{side}": None if hidden else v for side, v in lengths}
        votes = {f"vote_{option.key}": self.tally[option.key] for option in OPTIONS}
        kept = {"keep": self.kept is not None, "solve": self.case is not None, "text": self.text}
        return {**self.session.values, **free, **votes, **self._options, **kept}

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        state = self._state
        if kind == "slope":
            self._tell_slope(name)
            return
        if kind == "film":
            self._board.save(gif.gif(value), "eyesim-live.gif", "image/gif")
            return
        if kind == "memory":
            state.recall(value)
        elif kind == "press":
            self._press(name)
        elif name in KEYS or name.startswith("free_"):
            state.put(state.moved(name, value, typed=kind == "typed"), moving=name)
        elif name == "text":
            state.put(Session.read(value))
        elif name.startswith("vote_"):
            state.vote(name.removeprefix("vote_"), read_number(value, ""))
        else:
            unit = OWN[name].unit if name in OWN else ""
            state.choose(name, read_number(value, unit) if kind == "typed" else value)
        slides = kind != "press" and isinstance(value, (int, float)) and not isinstance(value, bool)
        self._draw(moving=name if slides else None)

    def _press(self, name):
        state = self._state
        if name.startswith("preset_"):
            state.preset(preset_of(name, MISTAKES))
        elif name == "mirror":
            state.put(self.session.mirrored())
        elif name == "swap":
            state.put(self.session.swapped())
        elif name == "undo":
            state.undo()
        elif name == "exchange":
            state.exchange()
        elif name == "clear":
            state.tally = state.tally.cleared()
        elif name in ("svg", "png"):
            self._board.still(self._picture_of(self.session, readout=True).svg, name)
        elif name == "loop":
            if self._options["hide"]:
                raise LearnerError("The outcome is hidden: reveal it before you make a loop.")
            start = self.kept or self.session.plan
            self._board.frames(gif.frames(start, self.session, self._options["seat"]))

    def _tell_slope(self, name):
        """Tell the page how the picture begins to move with a control."""
        free, what = name.startswith("free_"), KEYS.get(name)
        if not free and not isinstance(what, Quantity):
            return
        if (here := self._values()[name]) is None:
            return
        step, ahead = slope_step(here, *(FREE if free else (what.low, what.high, what.step))), {}
        with contextlib.suppress(LearnerError):
            there = self._state.moved(name, round(here + step, 9))
            if free:
                step = there.free_length[name.removeprefix("free_")] - here
            ahead = {"eye": self._picture_of(there)}
        self._board.slope(name, {"eye": self._pictured}, ahead, step)


def live_panel(text="") -> LivePanel:
    """Panel for a live session. Raises LearnerError if the text cannot be read.

    Parameters
    ----------
    text : str
        What is on the table to begin with, as *Copy the state* gives it; without it, the plan.
    """
    return LivePanel(Session.read(text) if text else Session())
