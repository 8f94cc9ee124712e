"""A question of an assignment with fields to answer in, and the button that makes the file to hand in."""

from __future__ import annotations

import re
from html import escape

from ..eye.checks import LearnerError
from ..lesson.question import CONFIDENCE
from ..marking.handin import Answered
from ..page.feedback_page import answer_words, plan_picture, tolerance
from ..text.reading import read_number
from .base import Panel
from .board import layout
from .controls import answer_control, confidence_control, readout

_UNIT = re.compile(r"\[([A-Za-z]+)\]")


class AnswerPanel(Panel):
    """One question being answered; every change is kept at once.

    Attributes
    ----------
    entry : Entry
    question : Question or None
        None for a text that the director marks.
    """

    def __init__(self, sheet, entry):
        self.sheet, self.entry = sheet, entry
        self.question = sheet.assignment.question(entry, sheet.person)
        self._fields = {} if self.question is None else fields(self.question)
        given = sheet.answered(entry.name)
        self._values, self._told = self._start(), given is not None and given.final
        super().__init__("Question", self._content(), look="asked", file="eyesim-question")
        text = entry.text if self.question is None else self.question.text
        self._board.show(regions={"text": f'<div class="eyesim-question">{escape(text)}</div>{self._within()}'})
        self._show()
        sheet.after_handing_in(self._show)

    @property
    def sentence(self):
        """What is asked and answered, in words."""
        given = self.sheet.answered(self.entry.name)
        text = self.entry.text if self.question is None else self.question.text
        if given is None:
            return f"Question {self.entry.name}: {text} Not answered yet."
        sure = f" ({given.confidence})" if given.confidence else ""
        return f"Question {self.entry.name}: {text} Your answer: {answer_words(given.answer)}{sure}."

    def commit(self):
        """Commit to the answer and hear what the simulation says, where the assignment tells it at once."""
        with self._lock:
            self._heard("press", "commit", None)

    def _within(self):
        """Say within what a number is right."""
        words = "" if self.question is None else tolerance(self.question)
        return f'<div class="eyesim-small">{escape(words)}</div>' if words else ""

    def _start(self):
        """Values of the fields: what was answered before, or nothing."""
        given = self.sheet.answered(self.entry.name)
        values = {"sure": "" if given is None else given.confidence, "answer": "", **dict.fromkeys(self._fields, "")}
        if given is None:
            return values
        if isinstance(given.answer, dict):
            for path in self._fields:
                value = given.answer
                for step in path.split("__"):
                    value = value.get(step, "") if isinstance(value, dict) else ""
                values[path] = str(value)
        elif self._fields:
            values["refused"] = str(given.answer)
        else:
            values["answer"] = str(given.answer)
        return values

    def _answer(self):
        """Return the answer as it stands in the fields; None if nothing does."""
        if self._values.get("refused"):
            return self._values["refused"]
        if not self._fields:
            return self._values["answer"].strip() or None
        plan = {}
        for path in self._fields:
            text = self._values[path].strip()
            if text:
                *outer, last = path.split("__")
                inner = plan
                for step in outer:
                    inner = inner.setdefault(step, {})
                inner[last] = text
        return plan or None

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "press":
            self._commit()
        elif kind in ("set", "typed"):
            if self._told:
                raise LearnerError("You have committed to this answer.")
            if name not in self._board_names - {"commit"}:
                raise LearnerError(f"There is no field {str(name)[:40]!r} here.")
            if name == "sure" and value not in CONFIDENCE:
                raise LearnerError(f"How sure is one of {', '.join(CONFIDENCE)}.")
            longest = 4000 if name == "answer" else 60
            if name == "refused":
                value = self.question.form.way_out if value is True else ""
            value = str(value)
            if len(value) > longest:
                raise LearnerError(f"At most {longest} characters can be kept here.")
            before = self._values.get(name, "")
            self._values[name] = value
            try:
                self._keep()
            except LearnerError:
                self._values[name] = before
                raise
        self._show()

    def _keep(self):
        answer = self._answer()
        self.sheet.keep(self.entry.name, None if answer is None else Answered(answer, self._values["sure"]))

    def _commit(self):
        answer = self._answer()
        if answer is None:
            raise LearnerError("Choose or write an answer first; a guess will do.")
        if not self._values["sure"]:
            raise LearnerError("Say how sure you are first.")
        told = self.question.judge(answer)
        if told.right is None:
            raise LearnerError(told.words)
        if not self._told:
            self.sheet.keep(self.entry.name, Answered(answer, self._values["sure"], final=True))
        self._told = True

    def _show(self):
        answer, told = self._answer(), self._told or (self.sheet.closed and self.question is not None)
        saved = "Not answered yet." if answer is None else "\N{CHECK MARK} Saved."
        amiss = "" if told else self._amiss()
        if answer is not None and not amiss and not told:
            saved += self._unfinished(answer)
        if answer is not None and amiss:  # to be told before it is too late; what the answer is worth is not
            saved += f" But it cannot be read as it stands: {amiss}"
        off = [*self._values, "commit", "refused"] if told or self.sheet.closed else []
        values = {**self._values, "refused": bool(self._values.get("refused"))}
        self._board.show(
            values={name: value for name, value in values.items() if name in self._board_names},
            regions={
                "saved": f'<div class="eyesim-small">{escape(saved)}</div>',
                "feedback": self._feedback(answer, told),
            },
            off=[name for name in off if name in self._board_names],
            said=saved,
        )

    def _unfinished(self, answer):
        """Say what an answer still lacks."""
        empty = [words for path, words in self._fields.items() if not self._values[path].strip()]
        if isinstance(answer, dict) and empty:
            return f" Still empty: {'; '.join(empty)}."
        return "" if self._values["sure"] or self.question is None else " Say how sure you are, too."

    def _amiss(self):
        """Say what of an answer is no number; "" if all is well. Nothing is simulated for this."""
        asked = {path: _UNIT.search(words)[1] for path, words in self._fields.items()}
        if self.question is not None and self.question.form.kind == "number":
            asked = {"answer": self.question.form.unit}
        for name, wanted in asked.items():
            if self._values[name].strip():
                try:
                    read_number(self._values[name], wanted if wanted != "points" else "")
                except LearnerError as error:
                    return str(error)
        return ""

    def _feedback(self, answer, told):
        if not told or answer is None:
            return ""
        feedback = self.question.judge(answer)
        words = feedback.words
        if feedback.right is not True:
            words += f" What the simulation says: {self.question.reference.reasoning}"
        picture = plan_picture(feedback.pose)
        shown = f'<div class="eyesim-answer">{picture}</div>' if picture else ""
        return readout(words, "go" if feedback.right else "stop") + shown

    def _content(self):
        parts = [layout.region("text"), *self._controls()]
        parts += [confidence_control()] if self.question is not None else []
        if self.sheet.assignment.feedback == "at once" and self.question is not None:
            commit = layout.button("commit", "Commit", hint="Commit to this answer and hear the result", look="main")
            parts.append(layout.row(commit, look="buttons"))
        self._board_names = {"answer", "sure", "refused", "commit", *self._fields} & _names(parts)
        return layout.column(*parts, layout.region("saved"), layout.region("feedback"), layout.region("caution"))

    def _controls(self):
        if self.question is None:
            return [layout.field("answer", "Your answer", lines=6, eager=True)]
        if not self._fields:
            return [answer_control(self.question.form, eager=True)]
        controls = [layout.field(path, words, eager=True) for path, words in self._fields.items()]
        if self.question.form.way_out:
            controls.append(layout.tick("refused", "This cannot be cured this way"))
        return controls


class HandInPanel(Panel):
    """The button that makes the one file to hand in."""

    def __init__(self, sheet):
        self.sheet, self._asked = sheet, False
        content = layout.column(
            layout.region("text"),
            layout.row(layout.button("make", "Make the hand-in file", look="main"), look="buttons"),
            layout.region("caution"),
        )
        super().__init__("Hand in", content, look="asked", file="eyesim-hand-in")
        self._show()
        sheet.after_keeping(self._show)

    def make(self):
        """Make the file, as the button does; with questions left open, only if asked twice."""
        with self._lock:
            self._heard("press", "make", None)

    @property
    def sentence(self):
        """How far it is, in words."""
        if self.sheet.handed.exists():
            return f"{self.sheet!r} The file to hand in is {self.sheet.handed.name}."
        return f"{self.sheet!r} No file to hand in has been made yet."

    def _heard(self, kind, name, value):
        if kind == "press":
            if self.sheet.open and not self._asked and not self.sheet.closed:
                self._asked = True
            else:
                place = self.sheet.make()
                self._board.save(place.read_bytes(), place.name, "application/json")
        self._show()

    def _show(self):
        left = self.sheet.open
        words, kind = repr(self.sheet), "go" if not left else "wait"
        if left:
            words += f" Without an answer: {_numbers(self.sheet.assignment, left)}."
        if self._asked and left and not self.sheet.handed.exists():
            kept = "" if self.sheet.assignment.feedback == "director" else " Answers cannot be changed after that."
            words += f" Press again to hand in as it is.{kept}"
        if self.sheet.handed.exists():
            kind = "go"
            words += f" Your file is {self.sheet.handed.name}, beside this notebook: send that one file."
        self._board.show(regions={"text": readout(words, kind)}, said=words)


def answer_panel(sheet, name) -> AnswerPanel:
    """Question of an assignment with fields to answer in; what was answered before stands in them.

    Raises LearnerError if there is no such question, or the answers cannot be read.

    Parameters
    ----------
    sheet : AnswerSheet
    name : str
        Of the question, as in the assignment.
    """
    sheet.reload()
    return AnswerPanel(sheet, sheet.entry(name))


def hand_in_panel(sheet):
    """Button that makes the file to hand in from an `AnswerSheet`."""
    return HandInPanel(sheet)


def fields(question):
    """Fields of a plan, by name, with their words; none for other questions."""
    return getattr(question.form, "fields", {})


def _names(parts):
    return {part["name"] for part in parts if "name" in part} | {
        child["name"] for part in parts for child in part.get("children", []) if "name" in child
    }


def _numbers(assignment, names):
    """Say which questions are meant by the numbers that stand above them."""
    places = {entry.name: str(i) for i, entry in enumerate(assignment.entries, 1)}
    *most, last = (places[name] for name in names)
    return f"questions {', '.join(most)} and {last}" if most else f"question {last}"
