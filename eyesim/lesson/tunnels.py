"""Set the tunnel and the free haptic: what can still be put right before locking, and what cannot."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..hold.rest import line_parts
from ..hold.settle import settle
from ..study.verdict import DECENTRATION_LIMIT, judge
from ..text.reading import read_dict, read_number
from .cases import EYE, FIRST, LENS, SECOND, asked, items_of, pose_words, settled
from .question import Choice, Feedback, Misconception, Number, Pick, Plan, Scene

LEAST_OUTSIDE, MOST_PULL = 0.5, 80.0
"""[mm], [mN] Bounds in the recentring exercises; chosen for teaching: something must be left for a flange, and
the haptics must not be drawn taut. The pull of the model is an upper estimate."""

_SUCCESS = 0.05  # [mm] from the best possible
_EYES = {
    "recentre-morning": (
        {"outside": 0.8, "tunnel_length": 1.8, "limbus_distance": 1.6},
        {"outside": 1.3, "limbus_distance": 2.3},
    ),
    "recentre-evening": ({"outside": 1.2, "meridian": -6.0}, {"outside": 0.8, "meridian": 186.0}),
}


def short_one(id, kind):
    """Ask about one tunnel 1 mm shorter, outside the same."""
    pose = settled({"tunnel_length": 1.0})
    along, across = line_parts(pose)
    both = settled({"tunnel_length": 1.0}, {"tunnel_length": 1.0})
    if pose.decentration < 0.2:
        right = "nothing"
    else:
        right = "towards" if along > 0 else "away"
    form = Pick(
        (
            Choice("towards", "It moves towards the side with the shorter tunnel, which holds less.",
                   f"The shorter tunnel leaves 1 mm more haptic inside the eye, and that pushes the lens away from its "
                   f"side: {pose.decentration:.2f} mm."),
            Choice("nothing", "Nothing: the same amount of haptic was left outside on both sides.",
                   "What counts is what is left inside. A tunnel 1 mm shorter leaves 1 mm more of it, and the lens "
                   f"moves {pose.decentration:.2f} mm away from that side."),
            Choice("tilts", "It tilts: the shorter tunnel comes out higher.",
                   f"At a dip of 5 deg the inner openings differ in depth by less than 0.1 mm: {pose.tilt:.1f} deg "
                   f"of tilt. The longer haptic inside pushes the lens {pose.decentration:.2f} mm away."),
            Choice("away", "It moves away from the side with the shorter tunnel.",
                   f"One millimetre more of haptic lies inside on that side and pushes: {pose.decentration:.2f} mm "
                   f"away ({abs(along):.2f} mm along the line of the openings, {abs(across):.2f} mm across it, since "
                   "the inner opening has moved as well)."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The first tunnel is 1 mm long, the second 2 mm; on both sides 0.8 mm of haptic is left outside. What does the "
        "lens do?"
    )
    reasoning = f"More haptic inside on the first side pushes the lens away from it: it lies {pose_words(pose)}."
    return asked(id, kind, text, form, pose, reasoning, scenes=(Scene("Both tunnels 1 mm", both),))


def tuck_direction(id, kind):
    """Ask about one millimetre more haptic drawn out on one side."""
    pose = settled({"outside": 1.8})
    along, across = line_parts(pose)
    right = "towards" if along > abs(across) else ("away" if along < -abs(across) else "across")
    form = Pick(
        (
            Choice("away", "It is pushed away from that side by what is tucked in there.",
                   "Tucked haptic lies in the wall, not in the eye: it pushes nothing. Less is left inside, and the "
                   f"lens moves {along:.2f} mm towards that side."),
            Choice("towards", "It is drawn towards that side, along the line of the openings.",
                   f"Less haptic is left inside on that side: the lens moves {along:.2f} mm along the line towards it, "
                   f"{abs(across):.2f} mm across it. The pull rises to {pose.tension[0]:.0f} mN (an upper estimate)."),
            Choice("across", "It turns, and so moves across the line of the openings.",
                   f"It turns a little, but it moves along the line: {along:.2f} mm along it, {abs(across):.2f} mm "
                   "across it."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Before anything is locked, 1 mm more of the first haptic is drawn out of the eye and tucked into the wall. "
        "What does the lens do?"
    )
    return asked(
        id, kind, text, form, pose, f"Drawing out moves the lens towards that side: it lies {pose_words(pose)}."
    )


def tuck_the_mark(id, kind):
    """Ask about whether drawing haptics cures a mark error."""
    fixations = FIRST.but(locked=False), SECOND.but(meridian=190.0, locked=False)
    before = settle(EYE, LENS, *fixations)
    draws, least, pose = best_draws(*fixations)
    if least < 0.1:
        right = "yes"
    else:
        right = "hardly" if least > 0.6 * before.decentration else "half"
    form = Pick(
        (
            Choice("yes", "Yes: draw on the side away from which it has slipped until it is centred.",
                   f"It slipped across the line of the openings, and drawing moves it along that line. From "
                   f"{before.decentration:.2f} mm the best that any drawing reaches is {least:.2f} mm."),
            Choice("half", "By about half: draw both alike to pull the lens straight.",
                   "Both drawn alike pull harder and leave the lens where it is, midway between the openings. The "
                   f"best is {least:.2f} mm of {before.decentration:.2f} mm."),
            Choice("hardly", "Hardly: it moves the lens the wrong way, along the line.",
                   f"The mark moved it across the line, drawing moves it along. Of {before.decentration:.2f} mm at "
                   f"best {least:.2f} mm is left. A new pass, or a new mark, cures it."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The second mark was 10 deg off, and the lens sits off centre. Nothing is locked yet. Can it be centred by "
        "drawing more or less of the haptics through their tunnels?"
    )
    reasoning = f"By optimisation over both draws: {least:.3f} mm is left of {before.decentration:.3f} mm."
    return asked(id, kind, text, form, before, reasoning, scenes=(Scene("The best that drawing can do", pose),))


def trim_and_pull(id, kind):
    """Ask about pull when 0.4 mm more is outside on both sides."""
    plain, pose = settled(), settled({"outside": 1.2}, {"outside": 1.2})
    times = pose.tension[0] / plain.tension[0]
    right = "doubles" if 1.6 < times < 3.0 else "little"
    form = Pick(
        (
            Choice("little", "A little: by some 5 per cent, as 0.4 of 8 mm.",
                   f"The haptic is bent, not stretched, and its free part is only {plain.free_length[0]:.1f} mm long "
                   f"between two openings that stay where they are. The pull rises {times:.1f} times."),
            Choice("doubles", "It more than doubles.",
                   f"From {plain.tension[0]:.0f} to {pose.tension[0]:.0f} mN: {times:.1f} times (upper estimates; "
                   "the tissue gives way). The pose does not show it, since both sides pull alike."),
            Choice("moves", "Not at all; the lens goes deeper instead.",
                   f"The depth changes by {abs(pose.depth - plain.depth):.2f} mm, the pull {times:.1f} times."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Both haptics are trimmed and melted further: 1.2 mm instead of 0.8 mm of each is used up outside. How does "
        "the pull in the haptics change?"
    )
    reasoning = f"From {plain.tension[0]:.1f} to {pose.tension[0]:.1f} mN, {times:.2f} times."
    matter = "It matters for what a flange has to hold, not for where the lens sits: nothing in the picture shows it."
    return asked(id, kind, text, form, pose, reasoning, matter=matter)


def draw_and_move(id, kind):
    """Ask about move along the line for 0.8 mm drawn."""
    pose = settled({"outside": 1.6})
    value = float(line_parts(pose)[0])
    form = Number(
        value, 0.05, "mm", 0.0, 1.0,
        f"The lens moves {value:.2f} mm: about half of what is drawn, since the other haptic gives by the rest.",
        (
            Misconception("all-of-it", 0.8,
                          "The lens does not follow the whole way: as it comes, the other haptic straightens and "
                          "pulls back."),
            Misconception("turned-sign", -value,
                          "The size is right, the direction is not: drawing more out leaves less inside, and the "
                          "lens comes towards that side."),
            Misconception("nothing", 0.0, "The haptic is elastic, but so is the other: the lens settles between them."),
        ),
    )  # fmt: skip
    text = (
        "0.8 mm more of the first haptic is drawn out than planned. How far does the lens move along the line of "
        "the openings? (Positive: towards the first side.)"
    )
    return asked(id, kind, text, form, pose, f"Settled with 1.6 mm outside: {value:.3f} mm along the line.")


def pull_of_long_tunnels(id, kind):
    """Ask about how many times as strong the pull is with 2 mm tunnels as with 1 mm."""
    plain = settled()
    pose = settled({"tunnel_length": 1.0}, {"tunnel_length": 1.0})
    value = plain.tension[0] / pose.tension[0]
    form = Number(
        value, 0.4, "times", 1.0, 10.0,
        f"The pull falls from {plain.tension[0]:.0f} to {pose.tension[0]:.0f} mN: it is {value:.1f} times as "
        "strong with 2 mm.",
        (
            Misconception("as-the-tunnel", 2.0,
                          "That would be if pull went with tunnel length. It goes with how tightly the free haptic "
                          "is bent, and that rises much faster."),
            Misconception("upside-down", 1.0 / value, "This is the short tunnels' pull as a share of the long "
                                                      "ones'; turn it over."),
            Misconception("no-change", 1.0,
                          "The outside is unchanged, but 1 mm more of each haptic lies inside, and it is bent much "
                          "less."),
        ),
    )  # fmt: skip
    text = (
        "All else alike, how many times as strong is the pull in the haptics with two tunnels of 2 mm as with two "
        "tunnels of 1 mm?"
    )
    matter = "It matters for wobble and for what the flange holds, not for centring: both poses look alike."
    reasoning = f"{plain.tension[0]:.1f} mN against {pose.tension[0]:.1f} mN (upper estimates): {value:.2f} times."
    return asked(id, kind, text, form, pose, reasoning, matter=matter, scenes=(Scene("Two tunnels of 2 mm", plain),))


def recentre(id, kind):
    """Ask about recentre a lens by drawing haptics; "not curable" is an allowed answer."""
    key = id.partition(".")[2]
    fixations = _eye_of(key)
    before = settle(EYE, LENS, *fixations)
    draws, least, pose = best_draws(*fixations)
    curable = least <= DECENTRATION_LIMIT
    form = Plan(
        "Answer with a dict of what you draw out [mm], negative for back into the eye, such as "
        "{'first': 0.3, 'second': "
        "-0.2}; or with 'not curable'.",
        functools.partial(_judge_draws, key),
    )
    outside = " and ".join(f"{side.outside:.1f}" for side in fixations)
    text = (
        f"Nothing is locked. The lens lies {pose_words(before)}; {outside} mm of the haptics are outside. You cannot "
        f"see which error did it. Draw either haptic further out or let it back in, leave at least {LEAST_OUTSIDE:g} "
        f"mm outside and keep the pull below {MOST_PULL:g} mN, and bring the lens as near to the centre as can be. "
        f"If no drawing brings it within {DECENTRATION_LIMIT:g} mm, say so: 'not curable'."
    )
    moved = {"first": round(draws[0], 2), "second": round(draws[1], 2)}
    reasoning = f"Of {before.decentration:.2f} mm, drawing by {moved} leaves {least:.2f} mm. " + (
        "The lens lies off along the line of the openings, where drawing works."
        if curable
        else "The lens lies off across the line of the openings, where no drawing works: a pass has to be made anew."
    )
    if curable:
        wrong = {
            "gave-up": "not curable",
            "turned-the-wrong-way": {name: -0.5 * value for name, value in moved.items()},
            "pulls-too-hard": {"first": 1.6, "second": 1.6},
        }
    else:
        wrong = {"not-seen-as-incurable": moved, "pulls-too-hard": {"first": 1.6, "second": 1.6}}
    return asked(
        id, kind, text, form, pose, reasoning, scenes=(Scene("As you found it", before),),
        answer=moved if curable else "not curable", wrong=wrong, matter="",
    )  # fmt: skip


def _judge_draws(key, answer):
    fixations = _eye_of(key)
    before = settle(EYE, LENS, *fixations)
    _, least, _ = best_draws(*fixations)
    curable = least <= DECENTRATION_LIMIT
    if isinstance(answer, str):
        if answer.strip().casefold() != "not curable":
            raise LearnerError("Give a dict of draws such as {'first': 0.3}, or 'not curable'.")
        if curable:
            return Feedback(
                False, 0.0,
                "It can be cured. Look where the lens lies off: along the line of the openings, and that is where "
                f"drawing moves it. {least:.2f} mm can be reached.",
                "gave-up",
            )  # fmt: skip
        return Feedback(True, 1.0, "It lies off across the line of the openings; drawing moves it along. The "
                                   f"best is {least:.2f} mm, more than {DECENTRATION_LIMIT:g}. A pass has to be made "
                                   "anew.")  # fmt: skip
    given = read_dict(answer, ["first", "second"], "{'first': 0.3, 'second': -0.2}")
    moved = [read_number(given.get(name, 0.0), "mm") for name in ("first", "second")]
    for name, side, move in zip(("first", "second"), fixations, moved, strict=True):
        if side.outside + move < LEAST_OUTSIDE - 1e-9:
            raise LearnerError(
                f"The {name} haptic has {side.outside:g} mm outside and {LEAST_OUTSIDE:g} mm must stay there; "
                f"{move:g} mm was drawn. Sensible draws lie between {LEAST_OUTSIDE - side.outside:.1f} and 1 mm."
            )
    pose = settle(EYE, LENS, *(side.pull(move) for side, move in zip(fixations, moved, strict=True)), on_failure="flag")
    if not pose.settled or pose.tension[0] > MOST_PULL:
        strong = (
            f"the pull is {pose.tension[0]:.0f} mN" if pose.settled else f"the lens has no resting place: {pose.reason}"
        )
        return Feedback(
            False, 0.0,
            f"Drawn out like this {strong}, and at most {MOST_PULL:g} mN is allowed. Let the other haptic back in "
            "instead.",
            "pulls-too-hard",
        )  # fmt: skip
    left = (
        f"{pose.decentration:.2f} mm is left of {before.decentration:.2f} mm; the best that drawing can reach is "
        f"{least:.2f} mm."
    )
    credit = float(np.clip((before.decentration - pose.decentration) / (before.decentration - least), 0.0, 1.0))
    if not curable:
        return Feedback(
            False, 0.5 * credit, f"{left} That is still more than {DECENTRATION_LIMIT:g} mm, so the answer is 'not "
                                 "curable': "
            "the lens lies off across the line of the openings, and drawing moves it along.",
            "not-seen-as-incurable",
        )  # fmt: skip
    if pose.decentration > before.decentration + 0.01:
        return Feedback(
            False, 0.0, f"{left} This made it worse: more drawn out brings the lens towards that side, not away "
                        "from it.",
            "turned-the-wrong-way",
        )  # fmt: skip
    if pose.decentration <= least + _SUCCESS:
        return Feedback(True, 1.0, f"{left} {judge(pose)}")
    return Feedback(False, credit, f"{left} The direction is right; go on.")


@functools.cache
def _eye_of(key):
    first, second = _EYES[key]
    return FIRST.but(locked=False, **first), SECOND.but(locked=False, **second)


def best_draws(first, second):
    """Draws (first, second) [mm] that bring the lens nearest to the centre, what is left [mm], and that pose.

    A grid over both draws, made finer three times about its best point; the bounds are `LEAST_OUTSIDE` and `MOST_PULL`.
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


PREDICTIONS = {
    "short-one": short_one,
    "tuck-direction": tuck_direction,
    "tuck-the-mark": tuck_the_mark,
    "trim-and-pull": trim_and_pull,
    "pull-of-long-tunnels": pull_of_long_tunnels,
}
EXERCISES = {
    "draw-and-move": draw_and_move,
    "recentre-morning": recentre,
    "recentre-evening": recentre,
}
ITEMS = items_of("tunnel", PREDICTIONS, EXERCISES)
