"""A hand-in: one JSON file of answers, by the schema `hand-in.schema.json`, read as if an enemy had written it.

A hand-in holds no code, and none in it is ever run: it is text that is parsed, checked against the schema, and compared
with what the simulation says. What cannot be read raises `Damaged`, with a sentence that a director can pass on.
"""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import json
import math
import os
import stat
from pathlib import Path

from ..eye.checks import LearnerError, short
from ..eye.sources import data_folder
from ..lesson.question import CONFIDENCE

FORMAT = "eyesim hand-in 1"
LARGEST = 1_000_000  # bytes of a hand-in
_DEEPEST = 8  # brackets within brackets
_DIGITS = 40  # of a number


class Damaged(LearnerError):
    """Said of what is no hand-in that can be read."""


@dataclasses.dataclass(frozen=True)
class Answered:
    """What somebody answered to one question, and how sure they were ("" if not given).

    `numbers` are those that it was asked with, as pairs; `final` is whether it was committed to and its result shown.
    """

    answer: object
    confidence: str = ""
    numbers: tuple = ()
    final: bool = False


@dataclasses.dataclass(frozen=True)
class HandIn:
    """What one person handed in for one assignment.

    Attributes
    ----------
    person : str
    assignment, mark, version : str
        Title and digest of the assignment, and version of the package by which it was answered.
    answers : dict
        By name of the question, an `Answered`.
    made : str
        When the file was made, by the clock of whoever answered: "2026-11-26T18:04:00Z"; "" if not given.
    digest : str
        SHA-256 of the file: evidence of what was handed in.
    """

    person: str
    assignment: str
    mark: str
    version: str
    answers: dict
    digest: str = ""
    made: str = ""

    def text(self):
        """JSON text of it: the content of a hand-in file."""
        answers = {}
        for name, one in self.answers.items():
            answers[name] = {"answer": one.answer}
            answers[name] |= {"confidence": one.confidence} if one.confidence else {}
            answers[name] |= {"final": True} if one.final else {}
            answers[name] |= {"numbers": dict(one.numbers)} if one.numbers else {}
        content = {"format": FORMAT, "version": self.version, "assignment": self.assignment, "mark": self.mark}
        content |= {"person": self.person} | ({"made": self.made} if self.made else {}) | {"answers": answers}
        return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def read_hand_in(path):
    """Read a hand-in from a file, in bounded time and memory.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    HandIn

    Raises
    ------
    Damaged
        If it is no ordinary file, too large, no JSON, or not by the schema: says what, and where.
    """
    return parse_hand_in(_content(Path(path)))


def parse_hand_in(content):
    """Read a hand-in from the bytes of a file; raises as `read_hand_in` does."""
    if len(content) > LARGEST:
        raise Damaged(f"it is larger than {LARGEST // 1000} kB, and no hand-in is")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Damaged("it is not in UTF-8; it may have been saved by another program") from None
    if not text.strip():
        raise Damaged("it is empty")
    _not_too_deep(text)
    try:
        found = json.loads(
            text,
            object_pairs_hook=_each_once,
            parse_constant=_no_such_number,
            parse_float=lambda text: _number(text, float),
            parse_int=lambda text: _number(text, int),
        )
    except json.JSONDecodeError as error:
        raise Damaged(f"it is no JSON, or was cut off, in line {error.lineno}") from None
    except RecursionError:
        raise Damaged("it is nested too deeply") from None
    _sane(found)
    _by_the_schema(found)
    answers = {
        name: Answered(**one | {"numbers": tuple(one.get("numbers", {}).items())})
        for name, one in found["answers"].items()
    }
    own = (found[name] for name in ("person", "assignment", "mark", "version"))
    return HandIn(*own, answers, hashlib.sha256(content).hexdigest(), found.get("made", ""))


def _content(path):
    """Bytes of an ordinary file, at most one more than may be; nothing is followed and nothing waited for."""
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        if path.is_symlink():
            raise Damaged("it is a symbolic link, and links are not followed")
        handle = os.open(path, flags)
    except (OSError, ValueError) as error:
        raise Damaged(f"it cannot be opened: {getattr(error, 'strerror', None) or 'no such name can be'}") from None
    with os.fdopen(handle, "rb") as file:
        kind = os.fstat(handle)
        if not stat.S_ISREG(kind.st_mode):
            raise Damaged("it is no ordinary file")
        if kind.st_size > LARGEST:
            raise Damaged(f"it is larger than {LARGEST // 1000} kB, and no hand-in is")
        return file.read(LARGEST + 1)


def _not_too_deep(text):
    """Count brackets within brackets, outside of strings, before anything is parsed."""
    depth, quoted, escaped = 0, False, False
    for c in text:
        if quoted:
            escaped, quoted = (not escaped and c == "\\"), not (c == '"' and not escaped)
        elif c == '"':
            quoted = True
        elif c in "[{":
            depth += 1
            if depth > _DEEPEST:
                raise Damaged("it is nested too deeply")
        elif c in "]}":
            depth -= 1


def _each_once(pairs):
    found = {}
    for key, value in pairs:
        if key in found:
            raise Damaged(f"{short(key)} stands in it twice, and nobody knows which one counts")
        found[key] = value
    return found


def _no_such_number(text):
    raise Damaged(f"{text} is no number that can be an answer")


def _number(text, kind):
    if len(text) > _DIGITS:
        raise Damaged(f"a number of {len(text)} digits is in it")
    value = kind(text)
    if not math.isfinite(value):
        raise Damaged(f"{short(text)} is larger than any number that can be an answer")
    return value


def _sane(found):
    """Refuse numbers too large to reckon with, and halves of characters, which no file can hold."""
    if isinstance(found, dict):
        _sane([*found, *found.values()])
    elif isinstance(found, list):
        for value in found:
            _sane(value)
    elif isinstance(found, str):
        if any("\ud800" <= c <= "\udfff" for c in found):
            raise Damaged("half a character is in it, which is none")
    elif isinstance(found, (int, float)) and abs(found) > 1e15:
        raise Damaged("a number is in it that is larger than any answer")


def _by_the_schema(found):
    """Hold it against the schema; say in words what does not fit, never at length, since anything may be in it."""
    import fastjsonschema

    try:
        _validator()(found)
    except fastjsonschema.JsonSchemaValueException as wrong:
        where = " / ".join(short(str(step)) for step in wrong.path[1:]) or "the whole"
        raise Damaged(f"it is not by the schema: {where}: {_WORDS.get(wrong.rule, 'it does not fit')}") from None


_WORDS = {
    "additionalProperties": "something is there that does not belong", "required": "something is missing",
    "maxLength": "a text is too long", "minLength": "a text is empty", "maxProperties": "there is too much of it",
    "propertyNames": "a name is none", "pattern": "it is written in another way", "type": "it is of another kind",
    "const": f"{FORMAT!r} is wanted", "enum": f"one of {', '.join(CONFIDENCE)} is wanted",
    "oneOf": "no answer is given like this",
}  # fmt: skip


@functools.cache
def _validator():
    import fastjsonschema

    return fastjsonschema.compile(json.loads((data_folder() / "hand-in.schema.json").read_text(encoding="utf-8")))
