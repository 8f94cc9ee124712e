"""Write a pass down while it is fresh: a form for the practice log, in a notebook.

::

    panel = panels.log_panel("my-practice-log.csv")     # the last line of a cell shows it
    panel.set(quantity="iris_angle", aim="5", achieved="7,5", side="second", way="towards")
    panel.add()                                           # the row is on the disk
    panel.log                                             # what the file holds

Rows are only added, never changed. What stays the same from row to row stays filled in; what was achieved does not.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from ..chart.practice import WAYS, miss_chart
from ..eye.checks import LearnerError, known_name, short
from ..hold.needle import Fixation
from ..practice.log import Log, add, check_day, read_log
from ..practice.measurement import PLAIN, Measurement, number_text, today
from ..practice.skills import GROUPS
from ..study.error_model import MEASURED, QUANTITIES
from .base import Panel
from .board import layout
from .controls import readout

_TEXTS = {
    "aim": "Aim", "achieved": "Achieved", "when": "Day", "attempt": "Its name", "rater": "Who measured", "note": "Note",
}  # fmt: skip
_CHOICES = {
    name: (words, (("", "not told"), *((one, WAYS.get(one, one)) for one in GROUPS[name])))
    for name, words in {"side": "Haptic", "way": "The needle ran", "hand": "Hand", "seat": "Seat"}.items()
}
_NAMES = ("quantity", *_TEXTS, *_CHOICES)
_COLUMNS = "day", "attempt", "quantity", "haptic", "aim", "achieved", "miss", "measured by"
_SHOWN = 5  # rows of the file that are seen
_HINTS = {
    "aim": "7,5 or 7.5", "achieved": "good or bad", "attempt": "such as p-07", "rater": "initials will do",
}  # fmt: skip
_PLAN = Fixation(), Fixation().opposite()


class LogPanel(Panel):
    """A form for the practice log; its repr says what the file holds.

    Attributes
    ----------
    path : Path
    log : Log
        What the file held when it was last looked at.
    """

    def __init__(self, path):
        self.path = Path(path)
        self.log = read_log(self.path) if self.path.exists() else Log(())
        self._values = dict.fromkeys(_NAMES, "") | {"quantity": "iris_angle"}
        self._values |= {"when": today().isoformat()}
        self._aims = {}
        super().__init__("Practice log", _content(), look="form", file="eyesim-practice")
        self._aim()
        self._show("Fill in what was measured of one pass, then add it.", "wait")

    def add(self) -> Measurement:
        """Add what is filled in to the file.

        Raises LearnerError if something is missing or makes no sense, or nothing can be added to the file: nothing is
        added then.
        """
        with self._lock:
            for name in ("aim", "achieved"):
                if not self._values[name].strip():
                    raise LearnerError(f"{_TEXTS[name]} is missing.")
            row = check_day(Measurement(**self._values))
            if row.attempt and row in self.log.rows:
                held = f"The log holds this very row of {row.attempt} already."
                raise LearnerError(f"{held} Was it measured again? Then say so in the note.")
            add(self.path, row)
            self.log = read_log(self.path)
            self._values |= {"achieved": "", "note": ""}
            self._show(f"Kept: {_said(row)}.", "go")
            return row

    @property
    def sentence(self):
        """What the file holds."""
        if not self.log.rows and not self.log.bad_lines:
            return f"Practice log {self.path.name}: nothing in it yet."
        return f"{self.path.name}. {self.log!r}"

    def picture(self):
        """Return how the hands of the file miss their aims, a `Chart`; None while it holds nothing."""
        return miss_chart(self.log) if self.log.rows else None

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "press" and name == "add":
            try:
                self.add()
            except LearnerError as error:  # said where what was kept is said, so that nobody takes it for kept
                self._show(f"Nothing was added. {error}", "stop")
        elif kind in ("set", "typed"):
            self._take(name, value)

    def _take(self, name, value):
        known_name("The form", name, _NAMES)
        if not isinstance(value, str) or len(value) > 1000:
            raise LearnerError(f"{name} is a text as it is typed; {short(value)} was given.")
        offered = _CHOICES[name][1] if name in _CHOICES else ()
        if offered and value not in dict(offered) or name == "quantity" and value not in MEASURED:
            raise LearnerError(f"{name} is one of those in the form, not {short(value)}.")
        if name == "aim":
            self._aims[self._values["quantity"], self._values["side"]] = value
        self._values[name] = value
        if name in ("quantity", "side"):
            self._aim()
        if name == "quantity":  # what was typed is of another one
            self._values["achieved"] = ""
        self._board.show(values=self._values, regions={"unit": _unit(self._values["quantity"])})

    def _aim(self):
        """Fill in the aim: what it was last time, or what the usual plan aims at."""
        quantity, side = self._values["quantity"], self._values["side"]
        planned = getattr(_PLAN[side == "second"], quantity)
        usual = "" if planned is None else number_text(planned)
        self._values["aim"] = self._aims.get((quantity, side), usual)

    def _show(self, words, kind):
        chart = self.picture()
        regions = {"told": readout(f"{words} {self!r}", kind)}
        regions |= {"rows": _table(self.log.rows[-_SHOWN:]), "chart": "" if chart is None else chart.html}
        regions |= {"unit": _unit(self._values["quantity"])}
        self._board.show(values=self._values, regions=regions, said=words)


def log_panel(path) -> LogPanel:
    """Open a form for a practice log. Raises LearnerError if the file is there and is no practice log.

    Parameters
    ----------
    path : str or Path
        The log, a CSV; begun with the first row if it is not there.
    """
    return LogPanel(path)


def _content():
    quantities = [(name, QUANTITIES[name].words.capitalize()) for name in MEASURED]
    pass_ = [layout.menu(name, words, options) for name, (words, options) in _CHOICES.items()]
    measured = [
        layout.menu("quantity", "Quantity", quantities),
        layout.region("unit"),
        *(_text_field(name) for name in ("aim", "achieved")),
    ]
    about = [_text_field(name) for name in ("attempt", "rater", "when", "note")]
    controls = layout.column(
        layout.group("What was measured", *measured),
        layout.group("The pass", *pass_),
        layout.group("The attempt", *about),
        layout.button("add", "Add to the log", hint="Add this row; rows are only added, never changed", look="main"),
        look="controls",
    )
    shown = layout.column(layout.region("told"), layout.region("rows"), layout.region("chart"), look="shown")
    return layout.column(layout.row(controls, shown), layout.region("caution"))


def _text_field(name):
    return layout.field(name, _TEXTS[name], hint=_HINTS.get(name), eager=True)


def _unit(quantity):
    unit, _, words = QUANTITIES[quantity]
    return f'<div class="eyesim-small">{escape(words.capitalize())}, in {escape(unit)}</div>'


def _said(row):
    side = f" of the {row.side} haptic" if row.side else ""
    return f"{PLAIN[row.quantity]}{side}, aim {row.aim:g} {row.unit}, achieved {row.achieved:g}, miss {row.miss:+.3g}"


def _table(rows):
    """Return the last rows as a table; names in it are text and nothing else."""
    if not rows:
        return ""
    head = "".join(f"<th scope='col'>{one}</th>" for one in _COLUMNS)
    lines = []
    for row in reversed(rows):
        pass_ = [row.when.isoformat(), row.attempt, PLAIN[row.quantity], row.side]
        cells = [*pass_, f"{row.aim:g}", f"{row.achieved:g} {row.unit}", f"{row.miss:+.3g}", row.rater]
        lines.append("<tr>" + "".join(f"<td>{escape(one)}</td>" for one in cells) + "</tr>")
    words = "The last row" if len(rows) == 1 else f"The last {len(rows)} rows, the newest first"
    words = f"<caption class='eyesim-small'>{words}</caption>"
    return f"<table class='eyesim-rows'>{words}<thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody></table>"
