"""The dozen hand-ins of the demonstration, with planted faults, all invented; run as a script it writes them anew."""

from __future__ import annotations

import dataclasses

from eyesim.eye.sources import data_folder
from eyesim.marking.assignment import read_assignment
from eyesim.marking.handin import Answered, HandIn

_TEXTS = (
    "Tucking works along the line of the openings. A mark that is off lies across it, and stays.",
    "It works if too little was drawn out on one side. It does not if the marks are not opposite.",
    "When the lens lies off towards one of the haptics. Never when it lies off at right angles to them.",
    "Only before locking, and only along the line; across it a new pass is needed.",
    "I do not know.",
)
_MORE = ("I would try it on a practice eye.", "That is a guess.", "Pull rises with it.")
"""What they write, all of it invented."""
DEMO = data_folder() / "demo"


def contents():
    """Content of every file by name, bytes; every fault is one that really happens."""
    hour = read_assignment(DEMO / "assignment.toml")
    one, two, three = (
        _by(hour, "r-01"),
        _by(hour, "r-02", "start.alike", "start.follow"),
        _by(hour, "r-03", "start.tilt"),
    )
    eight = _with(
        _by(hour, "r-08", "marks.shift"), tuck='=HYPERLINK("http://example.org"; "marks") <script>alert(1)</script>'
    )
    nine = _by(hour, "r-09", "needles.two-walls")
    half = {name: nine.answers[name] for name in list(nine.answers)[:5]}
    edited = {"marks.shift": Answered("0,05", "certain", (("off", 1.0),))}
    ten = _with(_by(hour, "r-10", "tunnels.recentre"), **{"start.tilt": "five or so", "marks.shift": "0,5 inches"})
    files = {
        "r-01.json": one,
        "r-02.json": dataclasses.replace(two, version="0.0.9"),  # answered by an older version
        "r-03-first.json": dataclasses.replace(
            three, answers={}, made="2026-09-08T17:20:00Z"
        ),  # handed in too early, and again
        "r-03.json": dataclasses.replace(three, made="2026-09-08T17:58:00Z"),
        "r-04.json": dataclasses.replace(three, person="r-04"),  # a copy of another's, with another id
        "r-06.json": dataclasses.replace(_by(hour, "r-06"), mark="0123456789abcdef"),  # of last year's assignment
        "r-07.json": dataclasses.replace(_by(hour, "r-07"), answers={**_by(hour, "r-07").answers, **edited}),
        "r-08.json": eight,
        "r-09 (1).json": dataclasses.replace(nine, answers=half),  # only half of it
        "r-10.json": ten,  # two answers that cannot be read
        "r-12.json": dataclasses.replace(_by(hour, "r-12"), person="r-21"),  # a slip in the id
    }
    found = {name: one.text().encode() for name, one in files.items()}
    found["r-05.json"] = _by(hour, "r-05").text().encode()[:700]  # cut off on its way; and of r-11 there is nothing
    return found


def _by(hour, who, *slips):
    """Hand-in of somebody who is right but for some slips; sure of what is right, and of one slip too."""
    answers = {}
    for i, entry in enumerate(hour.entries):
        asked = hour.question(entry, who)
        sure = ("certain", "fairly sure", "guessing")[(i + int(who[-2:])) % 3]
        answer = asked.reference.answer if asked else f"{_TEXTS[int(who[-2:]) % 5]} {_MORE[int(who[-2:]) // 5]}"
        if entry.name in slips:
            answer, sure = next(iter(asked.wrong.values())), "certain"
        answers[entry.name] = Answered(
            _written(answer), sure if asked else "", tuple((hour.parameters(entry, who) or {}).items())
        )
    return HandIn(who, hour.title, hour.mark, "0.1.0", answers)


def _written(answer):
    """Return an answer as somebody types it, with a decimal comma."""
    if isinstance(answer, dict):
        return {name: _written(value) for name, value in answer.items()}
    return f"{answer:.3g}".replace(".", ",") if isinstance(answer, float) else answer


def _with(hand_in, **answers):
    new = {name: dataclasses.replace(hand_in.answers[name], answer=answer) for name, answer in answers.items()}
    return dataclasses.replace(hand_in, answers={**hand_in.answers, **new})


if __name__ == "__main__":
    (DEMO / "hand-ins").mkdir(exist_ok=True)
    for name, content in contents().items():
        (DEMO / "hand-ins" / name).write_bytes(content)
