"""A question with buttons: think, commit, and only then see.

::

    from eyesim.panel import ask
    ask("marks.which-way")

Shows the text, the choices (or a field for a number, point or comma), how sure one is, and a button. What the
simulation says appears after committing, and the answer cannot be changed then; *Try again* starts anew. The repr is
one sentence, the same wherever it is run, for readers without a kernel.
"""

from __future__ import annotations

import dataclasses
from html import escape

from .. import lesson
from ..draw.letters import letter_chart
from ..draw.picture import Picture
from ..draw.views import both_views
from ..eye.checks import LearnerError, known_name
from ..lesson.question import CONFIDENCE
from ..sight import Sight
from ..text.reading import LETTERS
from .base import Panel
from .board import layout
from .controls import answer_control, confidence_control, readout


class Ask(Panel):
    """A prediction being made.

    Attributes
    ----------
    question : Question
    feedback : Feedback or None
        None before committing.
    """

    def __init__(self, question, seat="front"):
        if question.form.kind == "plan":
            raise LearnerError(f"{question.id} asks for a plan, which has no buttons; answer it with lesson.check.")
        self.question, self._seat = question, seat
        self._answer, self._sure = "", CONFIDENCE[0]
        self.feedback = None
        super().__init__("Question", self._content(), look="asked", file="eyesim-question")
        self._board.show(regions={"text": f'<div class="eyesim-question">{escape(question.text)}</div>'})
        self.again()

    @property
    def answer(self):
        """What is set now: a choice's letter, or the text of the number; None if nothing is."""
        return self._answer.strip() or None

    @answer.setter
    def answer(self, value):
        """Set the answer; refused once it is committed."""
        if self.question.form.kind == "choice":
            choices = [(choice.key, choice.words) for choice in self.question.form.choices]
            read = LETTERS[lesson.read_choice(value, choices)]
        else:
            read = value if isinstance(value, str) else f"{lesson.read_number(value, ''):g}"
        with self._lock:
            self._change(read, self._sure)

    @property
    def confidence(self):
        """How sure: one of `lesson.question.CONFIDENCE`."""
        return self._sure

    @confidence.setter
    def confidence(self, value):
        """Set how sure one is; refused once the answer is committed."""
        known_name("confidence", value, list(CONFIDENCE))
        with self._lock:
            self._change(self._answer, value)

    @property
    def committed(self):
        """Whether the answer is committed, and what the simulation says is shown."""
        return self.feedback is not None

    def commit(self):
        """Commit to the answer and show what the simulation says."""
        with self._lock:
            if self.committed:
                return
            if self.answer is None:
                self._tell("Choose or write an answer first; a guess will do.")
                return
            feedback = self.question.judge(self.answer)
            if feedback.right is None:
                self._tell(feedback.words)
                return
            self.feedback = feedback
            self._board.show(
                regions={"feedback": self._revealed()}, off=["answer", "sure", "commit"], said=self._verdict()
            )

    def again(self):
        """Start anew: nothing chosen, nothing shown."""
        with self._lock:
            self.feedback = None
            self._change("", self._sure)
            self._board.show(regions={"feedback": ""}, off=["again"], said="")

    @property
    def sentence(self):
        """What is asked, what is answered, and what the simulation says to it, in words."""
        head = f"Question {self.question.id}: {self.question.text} "
        choices = " ".join(self.question.form.lines())
        if not self.committed:
            return f"{head}{choices + ' ' if choices else ''}Not answered yet."
        return f"{head}Your answer: {self._answer_words()} ({self.confidence}). {self.feedback.words}"

    def picture(self):
        """Picture that the reveal draws, beside the eye from the side. Raises LearnerError until committed."""
        if not self.committed:
            raise LearnerError("The picture belongs to the result: commit to an answer first.")
        return self._picture()

    def _without_scripts(self):
        return None  # the picture is the answer

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "press":
            self.commit() if name == "commit" else self.again()
        elif kind == "set" and name == "answer":
            self._change(str(value), self._sure)
        elif kind == "set" and name == "sure":
            self.confidence = value

    def _change(self, answer, sure):
        if self.committed:
            raise LearnerError("This answer is committed. 'Try again' starts anew.")
        self._answer, self._sure = answer, sure
        self._board.show(values={"answer": answer, "sure": sure}, regions={"feedback": ""}, said="")

    def _tell(self, words):
        self._board.show(regions={"feedback": readout(words, "wait")}, said=words)

    def _answer_words(self):
        if self.question.form.kind == "choice":
            return f"({self.answer}) {self.question.form.choices[LETTERS.index(self.answer)].words.rstrip('.')}"
        unit = self.question.form.unit
        return self.answer if not unit or self.answer[-1].isalpha() else f"{self.answer} {unit}"

    def _picture(self):
        scenes = self.question.scenes
        if not scenes:
            return Picture("", self.question.reference.reasoning)
        if isinstance(scenes[0].settled, Sight):
            return letter_chart(scenes[0].settled)
        return both_views(scenes[0].settled, seat=self._seat, title=None)

    def _verdict(self):
        right = self.feedback.right
        words = dataclasses.replace(self.feedback, verdict="Right." if right else "Not as predicted.").words
        if self.question.form.kind == "number" and not right:
            words = f"{words} What the simulation says: {self.question.form.because}"
        return words

    def _revealed(self):
        label = self.question.scenes[0].label if self.question.scenes else ""
        rest = "".join(
            f"<li>{escape(scene.label)}: {escape(_compared(scene.settled))}</li>" for scene in self.question.scenes[1:]
        )
        compared = f'<div class="eyesim-small">To compare:<ul>{rest}</ul></div>' if rest else ""
        return (
            readout(self._verdict(), "go" if self.feedback.right else "stop")
            + f'<div class="eyesim-small">{escape(label)}</div>'
            + f'<div class="eyesim-answer">{self._picture().svg}</div>{compared}'
        )

    def _content(self):
        """Lay the board out."""
        return layout.column(
            layout.region("text"),
            answer_control(self.question.form),
            confidence_control(),
            layout.row(
                layout.button("commit", "Commit", hint="Commit to this answer", look="main"),
                layout.button("again", "Try again", hint="Start anew"),
                look="buttons",
            ),
            layout.region("feedback"),
            layout.region("caution"),
        )


def _compared(shown):
    """Say what another lens does: where it lies, or what is seen through it."""
    if isinstance(shown, Sight):
        return lesson.sight_words(shown)
    return f"{lesson.pose_words(shown)}, {shown.depth:.2f} mm deep"


def ask(id, *, seat="front") -> Ask:
    """Ask a question of the course with buttons.

    Raises LearnerError if there is no such question, or it asks for a plan.

    Parameters
    ----------
    id : str
        Such as "marks.which-way"; a prediction, or an exercise whose answer is a choice or a number.
    seat : "front", "superior" or "temporal"
        From where the result is seen.
    """
    return Ask(lesson.question(id), seat)
