"""Work back from the result: what may have happened, how likely each is, and what to measure next."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..study.examination import Examination
from ..study.hands import Hands
from ..study.likely import likely_causes
from ..study.working_back import work_back
from ..text.reading import read_dict, read_number
from .cases import EYE, FIRST, LENS, SECOND, asked, items_of, settled
from .question import Choice, Feedback, Misconception, Number, Pick, Plan

CAUSES = {
    "mark": ("meridian", "marker", "mark_moved"), "dip": ("iris_angle", "needle_bend"), "tunnel": ("tunnel_length",),
    "outside": ("outside",), "angle": ("limbus_angle",), "distance": ("limbus_distance",),
}  # fmt: skip
"""Short word of a cause to the errors that it stands for."""
SAID = {
    "mark": "a mark, or the marker", "dip": "a dip", "tunnel": "a tunnel's length", "outside": "what was left outside",
    "angle": "an angle to the limbus", "distance": "a distance behind the limbus",
}  # fmt: skip
FURTHER = {
    "depth": "how deep the lens lies", "roll": "how far it is turned",
    "second_tunnel": "the length of the second tunnel", "second_mark": "where the second mark really stands",
}  # fmt: skip
"""What else may be measured, and its words."""
_OPERATIONS, _LOOKED_INTO = 2048, 400
_NEAR = 0.02  # sum of squares by which probabilities may differ from those that are right; chosen for teaching


@functools.lru_cache(maxsize=256)
def worked_back(**found):
    """Return the likely causes of a lens as it was found (fields of `Examination`), with the hands of the table."""
    back = work_back(EYE, LENS, FIRST, SECOND, Hands(), Examination(**found), n=_OPERATIONS)
    return likely_causes(back, n=_LOOKED_INTO)


def by_cause(causes):
    """Probability of each of `CAUSES` to be the main one, both sides together; what is left is "other"."""
    told = {word: 0.0 for word in CAUSES}
    for one in causes.likely:
        name = one.cause.name.partition(".")[0]
        for word, names in CAUSES.items():
            if name in names:
                told[word] += float(one.probability.value)
    return told | {"other": max(0.0, 1.0 - sum(told.values()))}


def telling(causes):
    """Bits that each of `FURTHER` would tell."""
    return {one.what: one.bits for one in causes.measurements if one.what in FURTHER}


def found_words(tilt=None, tilt_meridian=None, decentration=None, decentration_meridian=None, depth=None):
    """Say what was found."""
    parts = []
    if decentration is not None:
        parts.append(f"{decentration:g} mm off centre towards {decentration_meridian:g} deg (measured to 0.1 mm)")
    if tilt is not None:
        parts.append(f"tilted by {tilt:g} deg towards {tilt_meridian:g} deg (measured to 1 deg)")
    if depth is not None:
        parts.append(f"{depth:g} mm behind the limbal plane instead of {settled().depth:.2f} (measured to 0.15 mm)")
    return f"The lens is found {' and '.join(parts)}."


_HANDS = "The hands are a beginner's, and the plan is the usual one: marks at 0 and 180 deg, dips of 5 deg."


def likeliest(id, kind, choices=("mark", "dip", "tunnel", "distance"), matter="", **found):
    """Ask which cause is the likeliest of a lens as it was found."""
    causes = worked_back(**found)
    told = by_cause(causes)
    right = max(choices, key=told.get)
    form = Pick(
        tuple(Choice(key, f"{SAID[key][0].upper()}{SAID[key][1:]}.",
                     f"{SAID[key][0].upper()}{SAID[key][1:]} is the main cause in {100 * told[key]:.0f} of 100 "
                     "operations that leave a lens like this.") for key in choices),
        right,
    )  # fmt: skip
    text = f"{found_words(**found)} {_HANDS} Which cause is the likeliest?"
    every = ", ".join(f"{SAID[key]} {100 * told[key]:.0f} %" for key in choices)
    return asked(id, kind, text, form, settled(**_like(found)), f"Worked back: {every}.", matter=matter)


def measure_next(id, kind, matter="", **found):
    """Ask which further measurement tells most."""
    causes = worked_back(**found)
    bits = telling(causes)
    right = max(bits, key=bits.get)
    form = Pick(
        tuple(Choice(key, f"{words[0].upper()}{words[1:]}.",
                     f"Knowing {words} tells {bits.get(key, 0.0):.2f} of the {causes.open:.2f} bits that are open.")
              for key, words in FURTHER.items()),
        right,
    )  # fmt: skip
    text = f"{found_words(**found)} {_HANDS} You may measure one thing more. Which tells most about what went wrong?"
    reasoning = f"{FURTHER[right][0].upper()}{FURTHER[right][1:]}: {bits[right]:.2f} bits."
    return asked(id, kind, text, form, settled(**_like(found)), reasoning, matter=matter)


def how_sure(id, kind, word="dip", **found):
    """Ask how likely one cause is."""
    told = by_cause(worked_back(**found))
    value = 100.0 * told[word]
    form = Number(
        value, 10.0, "%", 0.0, 100.0, f"It is the main cause in {value:.0f} of 100 operations that leave such a lens.",
        (
            Misconception("certain", 100.0, "Other errors leave such a lens too, if more rarely."),
            Misconception("one-in-six", 100.0 / 6.0, "Causes are not equally likely: some hardly do this at all."),
        ) if value < 85.0 else (
            Misconception("one-in-six", 100.0 / 6.0, "Causes are not equally likely: some hardly do this at all."),
            Misconception("half", 50.0, "Nothing else does this nearly as often."),
        ),
    )  # fmt: skip
    text = f"{found_words(**found)} {_HANDS} How likely is it that {SAID[word]} is the main cause, on either side [%]?"
    every = ", ".join(f"{SAID[key]} {100 * one:.0f} %" for key, one in told.items() if key in SAID)
    return asked(id, kind, text, form, settled(**_like(found)), f"Worked back: {every}.", matter="")


def belief(id, kind, **found):
    """Ask for the probability of every cause; a proper score."""
    told = by_cause(worked_back(**found))
    example = "{'mark': 40, 'dip': 10, 'tunnel': 30, 'outside': 10, 'angle': 5, 'distance': 5}"
    form = Plan(
        f"Answer with percentages that add up to 100, such as {example}.",
        functools.partial(_judge_belief, tuple(told.items()), example),
        {key: f"{words[0].upper()}{words[1:]} [%]" for key, words in SAID.items()},
    )
    text = (
        f"{found_words(**found)} {_HANDS} Say how likely each cause is to be the main one. You are scored by how far "
        "your percentages are from those of operations that leave such a lens (squares; whoever says what they believe "
        "does best)."
    )
    whole = sum(told[key] for key in SAID)
    answer = {key: round(100.0 * float(told[key]) / float(whole), 1) for key in SAID}
    top = max(answer, key=answer.get)
    answer[top] = round(answer[top] + 100.0 - sum(answer.values()), 1)
    first = max(SAID, key=told.get)
    least = min(SAID, key=told.get)
    wrong = {
        "only-the-least": dict.fromkeys(SAID, 0) | {least: 100},
        "all-alike": {key: 20 if i < 2 else 15 for i, key in enumerate(SAID)},
    }
    reasoning = f"Likeliest is {SAID[first]}: " + ", ".join(f"{key} {value:g} %" for key, value in answer.items()) + "."
    return asked(id, kind, text, form, settled(**_like(found)), reasoning, answer=answer, wrong=wrong, matter="")


def _judge_belief(told, example, answer):
    told = dict(told)
    given = read_dict(answer, list(SAID), example)
    percent = [read_number(given.get(key, 0), "%") for key in SAID]
    if min(percent) < 0.0 or abs(sum(percent) - 100.0) > 1.5:
        raise LearnerError(f"Percentages are from 0 on and add up to 100; these add up to {sum(percent):g}.")
    right = np.array([told[key] for key in SAID])
    mine = np.array(percent) / 100.0
    off = float(np.sum((mine - right) ** 2))
    first = list(SAID)[int(np.argmax(right))]
    head = f"Likeliest is {SAID[first]}, with {100 * right.max():.0f} %."
    if off <= _NEAR:
        return Feedback(True, 1.0, head, verdict="Right, as near as one can tell.")
    credit = float(np.clip(1.0 - (off - _NEAR) / 0.6, 0.0, 0.95))
    if np.ptp(mine) <= 0.06:
        return Feedback(
            False, credit, f"{head} What you found does speak for some causes and against others.", "all-alike"
        )
    if mine.max() > 0.9 and right[int(np.argmax(mine))] < 0.1:
        return Feedback(False, 0.0, f"{head} What you are sure of hardly leaves such a lens at all.", "only-the-least")
    return Feedback(False, credit, f"{head} Ask of each error which way it moves and leans a lens.")


def _like(found):
    """Fields of `settled` for a picture: a slip of the second side that leaves a lens somewhat like this."""
    if found.get("tilt") is not None:
        return {"second": {"iris_angle": 5.0 + found["tilt"] / 0.55}}
    return {"second": {"meridian": 180.0 + found["decentration"] / 0.054}}


_LEAN = {"tilt": 6.0, "tilt_meridian": 270.0}
_SHIFT = {"decentration": 0.6, "decentration_meridian": 75.0}
_ALONG = {"decentration": 0.6, "decentration_meridian": 345.0}


def leans(id, kind):
    """Ask what a lens that leans about the line of the openings speaks for."""
    return likeliest(id, kind, matter="It matters: who re-marks a leaning lens has done nothing for it.", **_LEAN)


def which_next(id, kind):
    """Ask what tells one side from the other."""
    matter = "It matters: one number more tells which side to do again."
    return measure_next(id, kind, matter=matter, **_LEAN)


def along(id, kind):
    """Ask what a shift along the line speaks for."""
    choices = ("mark", "dip", "outside", "distance")
    matter = "It matters: this is the one shift that drawing can still cure."
    return likeliest(id, kind, choices, matter=matter, **_ALONG)


def sure_of_marks(id, kind):
    """Ask how sure one may be of the marks."""
    return how_sure(id, kind, "mark", **_SHIFT)


def beliefs(id, kind):
    """Ask for the probability of every cause of a shift across the line."""
    return belief(id, kind, **_SHIFT)


PREDICTIONS = {"leans": leans, "along": along, "which-next": which_next}
EXERCISES = {"sure-of-marks": sure_of_marks, "beliefs": beliefs}
ITEMS = items_of("back", PREDICTIONS, EXERCISES)
