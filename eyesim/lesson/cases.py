"""The eye, lens and passes that all questions start from, and short words for what a pass or a pose shows."""

from __future__ import annotations

import functools

from ..eye.frames import direction_words
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..hold.settle import settle
from ..study.verdict import judge
from ..text.reading import LETTERS
from .question import Question, Reference, Scene, wrong_answers

EYE = Eye()
LENS = Lens()
FIRST = Fixation(meridian=0.0)
SECOND = FIRST.opposite()
STRAIGHT = {"tunnel_length": None}


def settled(first=None, second=None, eye=EYE, lens=LENS, on_failure=None):
    """Settle the usual lens in the usual eye, one or both passes changed by dicts of fields; failures as `settle`."""
    passes = FIRST.but(**(first or {})), SECOND.but(**(second or {}))
    return settle(eye, lens, *passes, on_failure=on_failure, pilot=_at_rest())


@functools.cache
def _at_rest():
    """Settle the usual case, from which others are sooner reached than from an unstressed lens."""
    return settle(EYE, LENS, FIRST, SECOND)


def pose_words(pose):
    """Say where a lens lies, in the digits that matter to a learner."""
    off = "centred" if pose.decentration < 0.05 else (
        f"{pose.decentration:.2f} mm off centre towards {direction_words(pose.decentration_meridian)}"
    )  # fmt: skip
    lean = "flat" if pose.tilt < 0.5 else f"tilted by {pose.tilt:.1f} deg"
    return f"{off} and {lean}"


def asked(id, kind, text, form, pose, reasoning, *, scenes=(), answer=None, wrong=None, matter=None):
    """Put a question together; the first scene is its result, and its line on what matters follows from it."""
    if answer is None:
        answer = _letter_of(form) if form.kind == "choice" else float(f"{form.value:.4g}")
    first = (Scene("What the simulation shows", pose),) if pose is not None else ()
    return Question(
        id=id,
        kind=kind,
        text=text,
        form=form,
        matters=str(judge(pose) if matter is None else matter),
        scenes=(*first, *scenes),
        reference=Reference(answer, reasoning),
        wrong=wrong_answers(form) if wrong is None else wrong,
    )


def _letter_of(form):
    return LETTERS[[choice.key for choice in form.choices].index(form.right)]
