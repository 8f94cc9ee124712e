"""A question with buttons: think, commit, and only then see.

::

    from eyesim import show
    from eyesim.show.ask import ask
    ask("opposite.ten-off")

Shows the text, the choices (or a field for a number, point or comma), how sure one is, and a button. What the
simulation says appears after committing, and the answer cannot be changed then; *Try again* starts anew. The repr is
one sentence, the same wherever it is run, for readers without a kernel.
"""

from __future__ import annotations

import threading
from html import escape

import ipywidgets as widgets

from .. import CAUTION, course
from ..eye.checks import LearnerError
from ..sight import Sight
from .controls import SMALL, readout
from .letter_chart import letter_chart
from .picture import Picture
from .side import both_views

SURE = ("guessing", "fairly sure", "certain")


class Ask:
    """A prediction being made.

    Attributes
    ----------
    question : Question
    answer, confidence : what is set now
    committed : bool
    feedback : Feedback or None
        None before committing.
    """

    def __init__(self, question, seat="front"):
        if question.form.kind == "plan":
            raise LearnerError(f"{question.id} asks for a plan, which has no buttons; answer it with course.check.")
        self._lock = threading.RLock()
        self.question, self._seat = question, seat
        self.feedback, self.committed = None, False
        self._field = self._choices() if question.form.kind == "choice" else self._number()
        self._sure = widgets.RadioButtons(options=SURE, value=SURE[0], tooltip="How sure are you?",
                                          layout=widgets.Layout(width="auto"))  # fmt: skip
        self.commit_button = widgets.Button(description="Commit", button_style="primary", tooltip="Commit to this "
                                                                                                  "answer",
                                            layout=widgets.Layout(width="110px"))  # fmt: skip
        self.again_button = widgets.Button(description="Try again", tooltip="Start anew", disabled=True,
                                           layout=widgets.Layout(width="110px"))  # fmt: skip
        self.commit_button.on_click(lambda _: self.commit())
        self.again_button.on_click(lambda _: self.again())
        self.view = widgets.HTML(layout=widgets.Layout(width="auto"))
        self.widget = self._put_together()
        self.again()

    @property
    def answer(self):
        """What is set now: a choice's letter, or the text of the number; None if nothing is."""
        if self.question.form.kind == "choice":
            return None if self._field.index is None else "abcdefgh"[self._field.index]
        return self._field.value.strip() or None

    @answer.setter
    def answer(self, value):
        """Set the answer; refused once it is committed."""
        if self.committed:
            raise LearnerError("This answer is committed. 'Try again' starts anew.")
        if self.question.form.kind == "choice":
            choices = [(choice.key, choice.words) for choice in self.question.form.choices]
            self._field.index = course.read_choice(value, choices)
        else:
            self._field.value = value if isinstance(value, str) else f"{course.read_number(value, ''):g}"

    @property
    def confidence(self):
        """How sure: one of `SURE`."""
        return self._sure.value

    def commit(self):
        """Commit to the answer and show what the simulation says."""
        with self._lock:
            if self.committed:
                return
            if self.answer is None:
                self.view.value = readout("Choose or write an answer first; a guess will do.", "wait")
                return
            feedback = self.question.judge(self.answer)
            if feedback.right is None:
                self.view.value = readout(feedback.words, "wait")
                return
            self.feedback, self.committed = feedback, True
            for widget in (self._field, self._sure, self.commit_button):
                widget.disabled = True
            self.again_button.disabled = False
            self.view.value = self._revealed()

    def again(self):
        """Start anew: nothing chosen, nothing shown."""
        with self._lock:
            self.feedback, self.committed = None, False
            for widget in (self._field, self._sure, self.commit_button):
                widget.disabled = False
            self.again_button.disabled = True
            if self.question.form.kind == "choice":
                self._field.index = None
            else:
                self._field.value = ""
            self.view.value = ""

    def picture(self):
        """Picture that the reveal draws: the result, beside the eye from the side.

        Raises
        ------
        LearnerError
            Before committing.
        """
        if not self.committed:
            raise LearnerError("The picture belongs to the result: commit to an answer first.")
        return self._picture()

    def __repr__(self):
        head = f"Question {self.question.id}: {self.question.text} "
        choices = " ".join(self.question.form.lines())
        if not self.committed:
            return f"{head}{choices + ' ' if choices else ''}Not answered yet."
        return f"{head}Your answer: {self._said()} ({self.confidence}). {self.feedback.words}"

    def _repr_mimebundle_(self, include=None, exclude=None):
        view = {"version_major": 2, "version_minor": 0, "model_id": self.widget.model_id}
        return {"application/vnd.jupyter.widget-view+json": view, "text/plain": repr(self)}

    def _said(self):
        if self.question.form.kind == "choice":
            return f"({self.answer}) {self.question.form.choices[self._field.index].words.rstrip('.')}"
        unit = self.question.form.unit
        return self.answer if not unit or self.answer[-1].isalpha() else f"{self.answer} {unit}"

    def _picture(self):
        scenes = self.question.scenes
        if not scenes:
            return Picture("", self.question.reference.reasoning)
        if isinstance(scenes[0].settled, Sight):
            return letter_chart(scenes[0].settled)
        return both_views(scenes[0].settled, seat=self._seat, title=None)

    def _revealed(self):
        right = self.feedback.right
        words = f"{'Right' if right else 'Not as predicted'}. " + self.feedback.words.removeprefix(
            "Right. "
        ).removeprefix("The simulation shows otherwise. ")
        if self.question.form.kind == "number" and not right:
            words = f"{words} What the simulation says: {self.question.form.because}"
        label = self.question.scenes[0].label if self.question.scenes else ""
        rest = "".join(
            f"<li>{escape(scene.label)}: {escape(_compared(scene.settled))}</li>" for scene in self.question.scenes[1:]
        )
        compared = (
            f'<div style="{SMALL};margin-top:6px">To compare:<ul style="margin:2px 0">{rest}</ul></div>' if rest else ""
        )
        return (
            readout(words, "go" if right else "stop")
            + f'<div style="{SMALL};margin:4px 0">{escape(label)}</div>'
            + f'<div style="max-width:900px">{self._picture().svg}</div>{compared}'
        )

    def _choices(self):
        return widgets.RadioButtons(
            options=self.question.form.lines(), index=None, tooltip="Your answer",
            layout=widgets.Layout(width="auto", max_width="900px"),
        )  # fmt: skip

    def _number(self):
        unit = {"": "", "times": " (times)"}.get(self.question.form.unit, f" [{self.question.form.unit}]")
        return widgets.Text(
            value="", description=f"Your answer{unit}", placeholder="0,5 or 0.5", tooltip=f"Your answer{unit}",
            style={"description_width": "initial"}, layout=widgets.Layout(width="280px"),
        )  # fmt: skip

    def _put_together(self):
        text = widgets.HTML(
            f'<div style="font-size:16px;line-height:1.45;max-width:860px">{escape(self.question.text)}</div>'
        )
        sure = widgets.HBox(
            [widgets.HTML('<div style="font-size:14px">How sure are you?</div>'), self._sure],
            layout=widgets.Layout(align_items="flex-start", grid_gap="10px"),
        )
        buttons = widgets.HBox([self.commit_button, self.again_button])
        caution = widgets.HTML(f'<div style="{SMALL}">{escape(CAUTION)}</div>')
        return widgets.VBox(
            [text, self._field, sure, buttons, self.view, caution],
            layout=widgets.Layout(max_width="960px", grid_gap="4px"),
        )


def _compared(shown):
    """Say what another lens does: where it lies, or what is seen through it."""
    if isinstance(shown, Sight):
        return course.sight_words(shown)
    return f"{course.pose_words(shown)}, {shown.depth:.2f} mm deep"


def ask(id, *, seat="front"):
    """Ask a question of the course with buttons.

    Parameters
    ----------
    id : str
        Such as "opposite.ten-off"; a prediction, or an exercise whose answer is a choice or a number.
    seat : "front", "superior" or "temporal"
        From where the result is seen.

    Returns
    -------
    Ask

    Raises
    ------
    LearnerError
        If there is no such question, or it asks for a plan.
    """
    return Ask(course.question(id), seat)
