"""Centre the lens while it can be: how near pulling and releasing the haptics brings it, and when none of it helps."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..hold.settle import settle
from ..study.verdict import DECENTRATION_LIMIT, judge
from ..text.reading import read_dict, read_number
from .build import EYE, FIRST, LENS, SECOND, build, partly, pose_words
from .question import Feedback, Plan, Scene

LEAST_OUTSIDE, MOST_PULL = 0.5, 80.0
"""[mm], [mN] Bounds in the recentring exercises; chosen for teaching: something must be left for a flange, and
the haptics must not be drawn taut. The pull of the model is an upper estimate."""

_ROUNDED = 1.5  # [mN] of pull that a plan in hundredths of a millimetre may be above the bound
_SIDES = ("first", "second")
_WRONG = {
    "mark": lambda size: ({}, {"meridian": 180.0 + 12.0 * size}),
    "tunnel": lambda size: ({}, {"tunnel_length": 2.0 - size}),
    "outside": lambda size: ({}, {"outside": 0.8 + size}),
    "morning": lambda size: (
        {"outside": 0.8, "tunnel_length": 1.8, "limbus_distance": 1.6},
        {"outside": 1.3, "limbus_distance": 2.3},
    ),
    "evening": lambda size: ({"outside": 1.2, "meridian": -6.0}, {"outside": 0.8, "meridian": 186.0}),
}
"""What went wrong, by name: from a size [1] to fields of both passes. The last two are of one size."""


def passes_of(wrong, size=1.0):
    """Both passes after something went wrong, neither haptic flanged or tied yet.

    Parameters
    ----------
    wrong : str
    size : float [1]
    """
    first, second = _WRONG[wrong](size)
    return FIRST.but(locked=False, **first), SECOND.but(locked=False, **second)


@functools.lru_cache(maxsize=256)
def before_and_best(first, second):
    """Pose as it lies, a `Settled`, and `best_draws`.

    Parameters
    ----------
    first, second : Fixation
        Neither flanged nor tied.
    """
    return settle(EYE, LENS, first, second), best_draws(first, second)


def best_draws(first, second):
    """Draws (first, second) [mm] that bring the lens nearest to the centre, what is left [mm], and that pose.

    A grid over both draws, made finer three times about its best point; the bounds are `LEAST_OUTSIDE` and `MOST_PULL`.

    Parameters
    ----------
    first, second : Fixation
        Neither flanged nor tied.
    """
    low = np.array([LEAST_OUTSIDE - first.outside, LEAST_OUTSIDE - second.outside])
    high = low + 2.0
    middle, reach = 0.5 * (low + high), 0.5 * (high - low)
    for _ in range(4):
        one, two = (
            np.clip(np.linspace(-r, r, 15) + m, a, b) for m, r, a, b in zip(middle, reach, low, high, strict=True)
        )
        one, two = np.meshgrid(one, two, indexing="ij")
        pose = settle(EYE, LENS, first.pull(one), second.pull(two), on_failure="flag")
        with np.errstate(invalid="ignore"):
            allowed = pose.settled & (pose.tension[..., 0] <= MOST_PULL)
        best = np.unravel_index(np.argmin(np.where(allowed, pose.decentration, np.inf)), one.shape)
        middle, reach = np.array([one[best], two[best]]), reach / 5.0
    best_pose = settle(EYE, LENS, first.pull(middle[0]), second.pull(middle[1]))
    return tuple(float(m) for m in middle), float(best_pose.decentration), best_pose


def recentre(id, wrong, size=1.0):
    """Ask for draws that centre a lens, or for the word that none does.

    Parameters
    ----------
    id : str
    wrong : str
        What went wrong, as for `passes_of`.
    size : float [1]
    """
    passes = passes_of(wrong, size)
    before, (draws, least, pose) = before_and_best(*passes)
    example = "{'first': 0.3, 'second': -0.2}"
    form = Plan(
        f"Answer with what you pull out of each haptic [mm], negative for release into the eye, such as {example}; "
        "or with 'not curable'.",
        functools.partial(_judge_draws, *passes, example),
        {side: f"{side.capitalize()} haptic, pulled out by, minus to release [mm]" for side in _SIDES},
        way_out="not curable",
    )
    outside = " and ".join(f"{float(side.outside):.1f}" for side in passes)
    text = (
        f"Neither haptic is flanged or tied. The lens lies {pose_words(before)}; {outside} mm of the haptics are "
        "externalised. You cannot see what caused it. Pull either haptic further out or release it, leave at least "
        f"{LEAST_OUTSIDE:g} mm externalised, keep the pull below {MOST_PULL:g} mN, and bring the lens as near to the "
        f"centre as can be. If nothing of this brings it within {DECENTRATION_LIMIT:g} mm, say so: 'not curable'."
    )
    best = {side: round(draw, 2) for side, draw in zip(_SIDES, draws, strict=True)}
    moves = " and ".join(f"{draw:+.2f} mm on the {side} side" for side, draw in best.items())
    reasoning = f"Of {before.decentration:.2f} mm, {moves} leave {least:.2f} mm. "
    wrongs = {"pulls-too-hard": {"first": 1.7, "second": 1.7}}
    if least <= DECENTRATION_LIMIT:
        answer, reasoning = best, f"{reasoning}It lies off along the haptic axis, where pulling works."
        side = max(best, key=best.get)  # to be pulled out, or released less than the other
        by = round(LEAST_OUTSIDE - float(passes[_SIDES.index(side)].outside), 2)
        turned = {name: by if name == side else 0.5 * by for name in _SIDES}
        wrongs |= {"gave-up": "not curable", "turned-the-wrong-way": turned}
    else:
        answer = "not curable"
        reasoning += "It lies off across the haptic axis, where no pulling works: a pass has to be made anew."
        wrongs |= {"not-seen-as-incurable": best}
    label, scenes = "The best that pulling can do", (Scene("As it was found", before),)
    return build(id, text, form, pose, reasoning, label=label, scenes=scenes, answer=answer, wrong=wrongs)


def _judge_draws(first, second, example, answer):
    before, (_, least, _) = before_and_best(first, second)
    cures, best = least <= DECENTRATION_LIMIT, f"the best that pulling can reach is {least:.2f} mm"
    if isinstance(answer, str):
        if answer.strip().casefold() != "not curable":
            raise LearnerError(f"Give what you pull out, such as {example}, or 'not curable'.")
        if cures:
            return Feedback(False, 0.0, f"It can be cured: {best}. Look along which line it lies off.", "gave-up")
        words = f"It lies off across the haptic axis, and {best}, more than {DECENTRATION_LIMIT:g} mm"
        return Feedback(True, 1.0, f"{words}. A pass has to be made anew.")
    given = read_dict(answer, list(_SIDES), example)
    draws = [read_number(given.get(side, 0.0), "mm") for side in _SIDES]
    for name, side, by in zip(_SIDES, (first, second), draws, strict=True):
        if not LEAST_OUTSIDE - 1e-9 <= float(side.outside) + by <= 4.0:
            raise LearnerError(
                f"The {name} haptic has {float(side.outside):g} mm externalised; {LEAST_OUTSIDE:g} mm must stay there, "
                f"and 4 mm is the most. Pulling out by {by:g} mm goes beyond that."
            )
    pose = settle(EYE, LENS, first.pull(draws[0]), second.pull(draws[1]), on_failure="flag")
    if not pose.settled or pose.tension[0] > MOST_PULL + _ROUNDED:
        strong = f"the pull is {pose.tension[0]:.0f} mN"
        why = strong if pose.settled else f"the lens has no resting place ({pose.reason})"
        words = f"With this {why}; at most {MOST_PULL:g} mN is allowed. Release the other haptic instead."
        return partly(0.0, words, "pulls-too-hard")
    was, left = float(before.decentration), float(pose.decentration)
    head = f"{left:.2f} mm is left of {was:.2f} mm; {best}."
    credit = float(np.clip((was - left) / max(was - least, 1e-6), 0.0, 1.0))
    if not cures:
        words = f"{head} That is more than {DECENTRATION_LIMIT:g} mm, and so the answer is 'not curable'."
        return partly(0.5 * credit, words, "not-seen-as-incurable", pose)
    if left <= least + 0.05:
        return Feedback(True, 1.0, head, pose=pose, matters=str(judge(pose)))
    if left > was + 0.01:
        words = f"{head} This made it worse: what is pulled out brings the lens towards its side."
        return partly(0.0, words, "turned-the-wrong-way", pose)
    return partly(credit, f"{head} The direction is right; go on.", pose=pose)
