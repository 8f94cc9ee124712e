"""For lessons whose questions are still written apart from the bank's: the names that they use."""

from __future__ import annotations

from ..study.verdict import judge
from .build import (  # noqa: F401
    EYE,
    FIRST,
    LENS,
    SECOND,
    SIMULATED,
    STRAIGHT,
    number,
    partly,
    pick,
    pose_words,
    read_plan,
)
from .build import are_apart as apart  # noqa: F401
from .build import build as exercise
from .build import is_clear as clear  # noqa: F401
from .build import planned as plain  # noqa: F401
from .build import pose_of as settled  # noqa: F401
from .item import Item
from .slips import (  # noqa: F401
    Slip,
    nearest,  # noqa: F401
    which_slip,
)
from .slips import examination_words as found  # noqa: F401
from .slips import is_recognisable as told_apart  # noqa: F401
from .slips import pose_after as slipped  # noqa: F401


def asked(id, kind, text, form, pose, reasoning, *, matter=None, **more):
    """Put a question together whose line on what matters follows from its pose."""
    return exercise(id, text, form, pose, reasoning, matters=judge(pose) if matter is None else matter, **more)


def items_of(lesson, predictions, exercises):
    """Items that only the lesson asks."""

    def made(key, make, kind):
        return Item(f"{lesson}.{key}", "choice", key, "foretell", (), lambda id: make(id, kind), "", shown={},
                    predicts=kind == "prediction")  # fmt: skip

    return tuple(
        made(key, make, kind)
        for kind, every in (("prediction", predictions), ("exercise", exercises))
        for key, make in every.items()
    )
