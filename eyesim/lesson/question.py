"""What a question is: a text, a form in which it is answered, and what the simulation says to it.

Three forms: `Pick` one of several choices, give a `Number` with unit, or make a `Plan`. A wrong answer
that residents really give is a *misconception* with a name and a reason; the reason is what they read.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from html import escape

from ..eye.checks import LearnerError
from ..text.reading import LETTERS, read_choice, read_number

CONFIDENCE = ("guessing", "fairly sure", "certain")
"""How sure somebody can be of an answer."""


@dataclasses.dataclass(frozen=True, repr=False)
class Feedback:
    """What a learner hears about an answer; its repr is the words.

    Attributes
    ----------
    right : bool or None
        None where nothing was judged: not answered yet, or not readable.
    share : float [1]
        Credit from 0 to 1.
    because : str
        The reason, or what to look at.
    misconception : str or None
        Name of the wrong idea that was recognised, for the overview of a class.
    pose : Settled or None
        Where the lens comes to rest by a plan.
    verdict : str
        What is said before the reason; of a right answer "Right." unless given.
    matters : str
        Whether it matters, and why; "" where that is not shown.
    """

    right: bool | None
    share: float
    because: str
    misconception: str | None = None
    pose: object = dataclasses.field(default=None, compare=False)
    verdict: str = ""
    matters: str = ""

    def __post_init__(self):
        if self.right and not self.verdict:
            object.__setattr__(self, "verdict", "Right.")

    @property
    def words(self):
        """All that is said."""
        return " ".join(part for part in (self.verdict, self.because, self.matters) if part)

    def __repr__(self):
        return self.words

    def _repr_html_(self):
        head = {True: "\u2713 ", False: "\u2192 ", None: "\u2026 "}[self.right]
        return f'<div role="status" style="max-width:60em"><b aria-hidden="true">{head}</b>{escape(self.words)}</div>'


@dataclasses.dataclass(frozen=True)
class Choice:
    """One choice of a `Pick`: a stable key, its words, and the reason a learner reads after choosing it."""

    key: str
    words: str
    because: str


@dataclasses.dataclass(frozen=True)
class Pick:
    """One of several choices; every wrong one is a misconception, named by its key.

    `right` is the key that the simulation points to; it is never typed in beside the choices. `otherwise` begins the
    feedback on a wrong one.
    """

    choices: tuple[Choice, ...]
    right: str
    otherwise: str = "The simulation shows otherwise."
    kind = "choice"

    def __post_init__(self):
        if self.right not in [choice.key for choice in self.choices]:
            raise ValueError(f"The simulation points to {self.right!r}, which is not among the choices.")

    def how(self):
        """Say how to answer."""
        return f'Answer with one letter in quotes, "a" to "{LETTERS[len(self.choices) - 1]}".'

    def lines(self):
        """Choices with their letters."""
        return [f"({letter}) {choice.words}" for letter, choice in zip(LETTERS, self.choices, strict=False)]

    @property
    def letter(self):
        """Letter of the right choice."""
        return LETTERS[[choice.key for choice in self.choices].index(self.right)]

    def judge(self, answer):
        """Feedback on one choice, given by letter, key or its words."""
        chosen = self.choices[read_choice(answer, [(c.key, c.words) for c in self.choices])]
        if chosen.key == self.right:
            return Feedback(True, 1.0, chosen.because)
        return Feedback(False, 0.0, chosen.because, chosen.key, verdict=self.otherwise)


@dataclasses.dataclass(frozen=True)
class Misconception:
    """A wrong number that has a reason: its name, the number it leads to, and the hint."""

    name: str
    value: float
    hint: str


@dataclasses.dataclass(frozen=True)
class Number:
    """A number with a unit. Right within `tolerance` of the simulation's value; near it, part of the credit.

    `low` and `high` are the range worth thinking of; a learner who is far off reads them. `advice` ends the
    feedback on a number that is no known slip.
    """

    value: float
    tolerance: float
    unit: str
    low: float
    high: float
    because: str
    misconceptions: tuple[Misconception, ...] = ()
    advice: str = "Go back to the picture or the sliders above, and try again."
    kind = "number"

    def how(self):
        """Say how to answer."""
        unit = f" in {self.unit}" if self._unit else ""
        return (
            f"Answer with a number{unit}, right within {self.tolerance:.2g}{self._unit}; "
            "with a decimal comma, or with its unit, put it in quotes."
        )

    def lines(self):
        """Give nothing to choose from."""
        return []

    @property
    def _unit(self):
        return f" {self.unit}" if self.unit not in ("", "times") else ""

    def judge(self, answer):
        """Feedback on a number."""
        given = read_number(answer, self.unit)
        miss = abs(given - self.value)
        if miss <= self.tolerance:
            return Feedback(True, 1.0, self.because)
        for wrong in self.misconceptions:
            if abs(given - wrong.value) <= max(self.tolerance, 0.02 * abs(wrong.value)):
                return Feedback(False, 0.0, wrong.hint, wrong.name)
        high = "high" if given > self.value else "low"
        if miss <= 3.0 * self.tolerance:
            near = f"Near, but a little too {high}:"
            return Feedback(False, 0.5, f"within {self.tolerance:.2g}{self._unit} is asked.", verdict=near)
        sensible = f"Sensible values lie between {self.low:g} and {self.high:g}{self._unit}."
        words = ([] if self.low <= given <= self.high else [sensible]) + ([self.advice] if self.advice else [])
        return Feedback(False, 0.0, " ".join(words), verdict=f"Too {high}.")


@dataclasses.dataclass(frozen=True)
class Plan:
    """A plan to design; its credit is what the simulation makes of it.

    Attributes
    ----------
    prompt : str
        How the answer is written, with an example.
    score : callable
        From what the learner gave to `Feedback`; raises `LearnerError` for what is no plan.
    fields : dict
        Numbers that it is made of, for who fills in fields: by name ("first__iris_angle" of a plan for each side),
        words with the unit in brackets. Empty where it is written by hand alone.
    way_out : str
        What may be answered instead of a plan, such as "not curable"; "" if nothing may.
    """

    prompt: str
    score: Callable[[object], Feedback]
    fields: dict = dataclasses.field(default_factory=dict)
    way_out: str = ""
    kind = "plan"

    def how(self):
        """Say how to answer."""
        return self.prompt

    def lines(self):
        """Give nothing to choose from."""
        return []

    def judge(self, answer):
        """Feedback on a plan."""
        return self.score(answer)


@dataclasses.dataclass(frozen=True)
class Scene:
    """One thing to draw when the answer is shown: a label, and a settled lens or what is seen, a `Sight`."""

    label: str
    settled: object


@dataclasses.dataclass(frozen=True)
class Reference:
    """The answer that the simulation gives, as a learner would write it, and the reasoning."""

    answer: object
    reasoning: str

    def __repr__(self):
        return f"{self.answer!r}: {self.reasoning}"


@dataclasses.dataclass(frozen=True, repr=False)
class Question:
    """What is asked; its repr is what the learner reads.

    Attributes
    ----------
    id : str
        Stable, such as "marks.shift".
    text : str
    form : Pick, Number or Plan
    matters : str
        One line: it matters, or it does not, because. It is shown with a right answer, and with any that `reveals`.
    scenes : tuple of Scene
        What the reveal draws; the first one is the result itself.
    reference : Reference
    wrong : dict
        Misconception name to an answer that shows it, for tests and for the overview of a class.
    reveals : bool
        Whether the result is shown after one answer, right or wrong: so it is with a prediction.
    """

    id: str
    text: str
    form: Pick | Number | Plan
    matters: str
    scenes: tuple[Scene, ...]
    reference: Reference
    wrong: dict = dataclasses.field(default_factory=dict)
    reveals: bool = False

    def arranged(self, choices):
        """Return the same question with its choices in another order."""
        form = dataclasses.replace(self.form, choices=tuple(choices))
        return dataclasses.replace(self, form=form, reference=dataclasses.replace(self.reference, answer=form.letter))

    def result(self):
        """Settled poses, or sights, of the reveal; the result itself first."""
        return tuple(scene.settled for scene in self.scenes)

    def judge(self, answer):
        """Feedback on an answer; never raises on what a learner gives."""
        if answer is ...:
            return Feedback(None, 0.0, f"Not answered yet: {self.id}. {self.form.how()}")
        try:
            feedback = self.form.judge(answer)
        except LearnerError as error:
            return Feedback(None, 0.0, f"This cannot be read as an answer. {error}")
        if feedback.right is None or not (feedback.right or self.reveals):  # nobody's answer is given away
            return feedback
        return dataclasses.replace(feedback, matters=feedback.matters or self.matters)

    def __repr__(self):
        return "\n".join([self.text, *self.form.lines(), self.form.how()])

    def _repr_html_(self):
        lines = "".join(f"<div style='margin-left:1.5em'>{escape(line)}</div>" for line in self.form.lines())
        return (
            f'<div style="max-width:60em"><p><b>{escape(self.text)}</b></p>{lines}'
            f"<p><i>{escape(self.form.how())}</i></p></div>"
        )


def wrong_answers(form):
    """Misconception name to an answer that shows it, for a `Pick` or a `Number`."""
    if isinstance(form, Pick):
        return {choice.key: choice.key for choice in form.choices if choice.key != form.right}
    return {wrong.name: wrong.value for wrong in form.misconceptions}
