"""Items of *Set the tunnel and the free haptic*: what drawing does, what it cannot, and what reaches in a large eye."""

from __future__ import annotations

import functools

import numpy as np

from ...eye.checks import LearnerError
from ...eye.checks import number as checked_number
from ...eye.globe import Eye
from ...hold.rest import line_parts
from ...hold.settle import settle
from ...study.verdict import DECENTRATION_LIMIT
from ...text.reading import read_dict, read_number
from ..cases import (
    EYE,
    FIRST,
    LENS,
    SECOND,
    SIMULATED,
    Slip,
    apart,
    exercise,
    number,
    partly,
    pick,
    plain,
    pose_words,
    read_plan,
    settled,
    told_apart,
    which_slip,
)
from ..item import Item, Span, steps
from ..question import Feedback, Misconception, Plan
from ..tunnels import LEAST_OUTSIDE, MOST_PULL, best_draws

_BOUNDS = "computed by the simulation; bounds of pull and of what stays outside: chosen for teaching"


_ROUNDED = 1.5  # [mN] of pull that a plan in hundredths of a millimetre may be above a bound


def draw(id, more):
    """Ask how far a lens moves along the line when a haptic is drawn."""
    pose = settled({"outside": 0.8 + more})
    value = float(line_parts(pose)[0])
    form = number(
        value, 0.06, "mm", 0.0, 1.5,
        f"The lens moves {value:.2f} mm towards that side: the other haptic gives by the rest.",
        Misconception("all-of-it", more, "The lens does not follow the whole way: as it comes, the other haptic "
                                         "straightens and pulls back."),
        Misconception("turned-sign", -value, "The size is right, the direction is not: less haptic inside draws the "
                                             "lens towards its side."),
    )  # fmt: skip
    text = (
        f"{more:g} mm more of the first haptic is drawn out than planned, and nothing on the second side. How far "
        "does the lens move along the line of the openings? (Positive: towards the first side.)"
    )
    return exercise(id, text, form, pose, f"Settled with {0.8 + more:g} mm outside: {value:.3f} mm along the line.")


def pull(id, outside):
    """Ask how many times as strong the pull gets when both haptics are drawn."""
    planned, pose = plain(), settled({"outside": outside}, {"outside": outside})
    value = float(pose.tension[0] / planned.tension[0])
    length = (8.0 - 2.0 - 0.8) / (8.0 - 2.0 - outside)
    form = number(
        value, 0.1 * value, "times", 1.0, 10.0,
        f"From {planned.tension[0]:.0f} to {pose.tension[0]:.0f} mN (upper estimates): {value:.1f} times.",
        Misconception("as-the-length", length, "That would be if pull went with length. The haptic is bent, not "
                                               "stretched, and a little less of it is bent much more tightly."),
        Misconception("as-what-is-outside", outside / 0.8, "That is the ratio of what is left outside. It is what is "
                                                           "left inside that pulls, and how tightly it is bent."),
    )  # fmt: skip
    text = (
        f"On both sides {outside:g} mm of haptic is left outside instead of 0.8. How many times as strong as before "
        "do the haptics pull?"
    )
    return exercise(
        id, text, form, pose, f"{pose.tension[0]:.1f} mN against {planned.tension[0]:.1f} mN: {value:.2f} times."
    )


def other_length(id, length):
    """Ask where a lens goes when one tunnel is shorter or longer."""
    pose = settled({"tunnel_length": length})
    along, across = (float(part) for part in line_parts(pose))
    less = length < 2.0
    told = f"{abs(along):.2f} mm {'towards' if along > 0.0 else 'away from'} that side and {abs(across):.2f} mm across"
    form = pick(
        "towards" if along > 0.0 else "away",
        ("towards", "It moves towards the first side.",
         "A longer tunnel uses up haptic and draws the lens towards its side; a shorter one leaves more inside: "
         f"{told}."),
        ("away", "It moves away from the first side.",
         f"A shorter tunnel leaves more haptic inside, and that pushes; a longer one draws: {told}."),
        ("nothing", "It stays: as much is left outside on both sides.",
         f"What counts is what is left inside, and the tunnel takes its share of it: {told}."),
        ("tilts", "It only tilts: the tunnels open at other depths.",
         f"At a dip of 5 deg the openings differ in depth by little: {pose.tilt:.1f} deg of tilt; but it moves "
         f"{told}."),
    )  # fmt: skip
    text = (
        f"The first tunnel is {length:g} mm long, {'shorter' if less else 'longer'} than the second with 2 mm; on "
        "both sides 0.8 mm of haptic is left outside. What does the lens do?"
    )
    return exercise(id, text, form, pose, f"The lens lies {pose_words(pose)}: {told}.")


_WRONG = {
    "mark": lambda size: {"meridian": 180.0 + 12.0 * size},
    "tunnel": lambda size: {"tunnel_length": 2.0 - size},
    "outside": lambda size: {"outside": 0.8 + size},
}


def _pair(wrong, size):
    return FIRST.but(locked=False), SECOND.but(locked=False, **_WRONG[wrong](size))


@functools.lru_cache(maxsize=256)
def _before_and_best(first, second):
    return settle(EYE, LENS, first, second), best_draws(first, second)


def curable(id, wrong, size):
    """Ask whether drawing cures what went wrong."""
    before, (_, least, best) = _before_and_best(*_pair(wrong, size))
    was = float(before.decentration)
    right = "yes" if least < 0.1 else "hardly" if least > 0.6 * was else "partly"
    told = f"of {was:.2f} mm, the best that any drawing reaches is {least:.2f} mm"
    form = pick(
        right,
        ("yes", "Yes, as good as wholly.", "Only what lies along the line of the openings can be drawn straight: "
                                           f"{told}."),
        ("partly", "In part: some of it stays.",
         f"What lies along the line goes, what lies across it stays: {told}."),
        ("hardly", "Hardly at all.", "Only where it lies across the line of the openings does drawing not reach it: "
                                     f"{told}."),
    )  # fmt: skip
    did = {
        "mark": f"the second mark was {12.0 * size:g} deg off", "tunnel": f"the second tunnel was {size:g} mm too "
                                                                          "short",
        "outside": f"{size:g} mm too much of the second haptic was drawn out",
    }[wrong]  # fmt: skip
    text = (
        f"Nothing is locked yet, and {did}: the lens lies {was:.2f} mm off centre. Can it be centred by drawing "
        f"either haptic out or letting it back in, with at least {LEAST_OUTSIDE:g} mm left outside?"
    )
    return exercise(id, text, form, best, f"By search over both draws: {told}.")


_SLIPS = {
    "drawn": Slip(
        lambda size: {"outside": 0.8 + size}, "{:g} mm too much of it was drawn out.", 1.0,
        "Of these less haptic inside draws the lens towards its side: it would lie {}.",
    ),
    "short": Slip(
        lambda size: {"tunnel_length": 2.0 - 0.8 * size}, "Its tunnel was {:g} mm too short.", 0.8,
        "Of these more haptic inside pushes it away from its side: it would lie {}.",
    ),
    "mark": Slip(
        lambda size: {"meridian": 180.0 + 10.0 * size}, "Its mark was {:g} deg off.", 10.0,
        "Of these a mark shifts it across the line: it would lie {}.",
    ),
    "dip": Slip(
        lambda size: {"iris_angle": 5.0 + 9.0 * size}, "Its needle dipped {:g} deg more.", 9.0,
        "Of these a dip leans it over: it would lie {}.",
    ),
}  # fmt: skip


def cause(id, slip, size):
    """Ask which slip left a lens as it was found."""
    text = (
        "Marks were planned at 0 and 180 deg. The lens is found {}. One thing went wrong with the second haptic, at "
        "180 deg. What?"
    )
    return which_slip(id, _SLIPS, slip, size, text)


def recentre(id, wrong, size):
    """Ask for draws that centre a lens, or for the word that none does."""
    first, second = _pair(wrong, size)
    before, (draws, least, pose) = _before_and_best(first, second)
    cures = least <= DECENTRATION_LIMIT
    example = "{'first': 0.3, 'second': -0.2}"
    form = Plan(
        f"Answer with what you draw out of each haptic [mm], negative for back into the eye, such as {example}; or "
        "with 'not curable'.",
        functools.partial(_judge_draws, first, second),
        {name: f"{name.capitalize()} haptic, drawn out by, minus to let back in [mm]" for name in ("first", "second")},
        way_out="not curable",
    )
    outside = " and ".join(f"{float(side.outside):.1f}" for side in (first, second))
    text = (
        f"Nothing is locked. The lens lies {pose_words(before)}; {outside} mm of the haptics are outside. You cannot "
        f"see what caused it. Draw either haptic further out or let it back in, leave at least {LEAST_OUTSIDE:g} mm "
        f"outside, keep the pull below {MOST_PULL:g} mN, and bring the lens as near to the centre as can be. If no "
        f"drawing brings it within {DECENTRATION_LIMIT:g} mm, say so: 'not curable'."
    )
    best = {"first": round(draws[0], 2), "second": round(draws[1], 2)}
    reasoning = f"Of {before.decentration:.2f} mm, drawing by {best} leaves {least:.2f} mm. " + (
        "It lies off along the line of the openings, where drawing works."
        if cures
        else "It lies off across the line, where no drawing works: a pass has to be made anew."
    )
    wrongs = {"pulls-too-hard": {"first": 1.7, "second": 1.7}}
    wrongs |= {"gave-up": "not curable"} if cures else {"not-seen-as-incurable": best}
    return exercise(
        id, text, form, pose, reasoning, answer=best if cures else "not curable", wrong=wrongs
    )  # fmt: skip


def _judge_draws(first, second, answer):
    before, (_, least, _) = _before_and_best(first, second)
    cures = least <= DECENTRATION_LIMIT
    best = f"the best that drawing can reach is {least:.2f} mm"
    if isinstance(answer, str):
        if answer.strip().casefold() != "not curable":
            raise LearnerError("Give what you draw, such as {'first': 0.3}, or 'not curable'.")
        if cures:
            return Feedback(False, 0.0, f"It can be cured: {best}. Look along which line it lies off.", "gave-up")
        return Feedback(
            True, 1.0, f"{best}, more than {DECENTRATION_LIMIT:g} mm. A pass has to be made anew.", verdict="Right:"
        )
    given = read_dict(answer, ["first", "second"], "{'first': 0.3, 'second': -0.2}")
    draws = [read_number(given.get(name, 0.0), "mm") for name in ("first", "second")]
    for name, side, by in zip(("first", "second"), (first, second), draws, strict=True):
        if not LEAST_OUTSIDE - 1e-9 <= float(side.outside) + by <= 4.0:
            raise LearnerError(
                f"The {name} haptic has {float(side.outside):g} mm outside; {LEAST_OUTSIDE:g} to 4 mm can be. Drawing "
                f"by {by:g} mm goes beyond that."
            )
    pose = settle(EYE, LENS, first.pull(draws[0]), second.pull(draws[1]), on_failure="flag")
    if not pose.settled or pose.tension[0] > MOST_PULL + _ROUNDED:
        why = (
            f"the pull is {pose.tension[0]:.0f} mN" if pose.settled else f"the lens has no resting place: {pose.reason}"
        )
        return partly(0.0, f"Drawn so, {why}; at most {MOST_PULL:g} mN is allowed.", "pulls-too-hard")
    was, left = float(before.decentration), float(pose.decentration)
    head = f"{left:.2f} mm is left of {was:.2f} mm; {best}."
    credit = float(np.clip((was - left) / max(was - least, 1e-6), 0.0, 1.0))
    if not cures:
        words = f"{head} That is more than {DECENTRATION_LIMIT:g} mm, and so the answer is 'not curable'."
        return partly(0.5 * credit, words, "not-seen-as-incurable", pose=pose)
    if left <= least + 0.05:
        return Feedback(True, 1.0, f"{head}", pose=pose)
    if left > was + 0.01:
        return partly(
            0.0, f"{head} This made it worse: what is drawn out brings the lens towards its side.", "turned", pose=pose
        )
    return partly(credit, f"{head} The direction is right; go on.", pose=pose)


@functools.cache
def _large(white_to_white):
    return Eye(white_to_white=white_to_white, scleral_radius=round(12.0 / 11.8 * white_to_white, 3))


@functools.lru_cache(maxsize=4096)
def _reached(white_to_white, tunnel, outside):
    side = FIRST.but(tunnel_length=tunnel, outside=outside)
    return settle(_large(white_to_white), LENS, side, side.opposite(), on_failure="flag")


@functools.cache
def _longest(white_to_white, most_pull):
    """Longest tunnels [mm], in steps of 0.01, whose pull stays below a bound with the least outside."""
    tunnels = np.arange(0.5, 3.0, 0.01)
    side = FIRST.but(tunnel_length=tunnels, outside=LEAST_OUTSIDE)
    pose = settle(_large(white_to_white), LENS, side, side.opposite(), on_failure="flag")
    with np.errstate(invalid="ignore"):
        fine = pose.settled & (pose.tension[..., 0] <= most_pull)
    return float(tunnels[fine].max())


def reach(id, white_to_white, most_pull):
    """Ask for tunnels and free haptic with which a lens reaches in a large eye."""
    longest = _longest(white_to_white, most_pull)
    planned = _reached(white_to_white, 2.0, 0.8)
    example = "{'tunnel_length': 2, 'outside': 0.8}"
    form = Plan(
        f"Answer with tunnel and what is left outside, alike on both sides [mm], such as {example}.",
        functools.partial(_judge_reach, white_to_white, most_pull, example),
        {"tunnel_length": "Tunnel [mm]", "outside": "Left outside [mm]"},
    )
    strong = f"they would pull with {planned.tension[0]:.0f} mN" if planned.settled else f"{planned.reason}"
    text = (
        f"This eye is large: {white_to_white:g} mm from white to white. With tunnels of 2 mm and 0.8 mm outside, "
        f"{strong}. Choose the tunnels and what is left outside, alike on both sides, so that the haptics pull with "
        f"no more than {most_pull:g} mN (an upper estimate) while the tunnels stay as long as they can; at least "
        f"{LEAST_OUTSIDE:g} mm must be left outside for a flange."
    )
    answer = {"tunnel_length": round(longest, 2), "outside": LEAST_OUTSIDE}
    wrong = {
        "as-in-the-usual-eye": {"tunnel_length": 2.0, "outside": 0.8},
        "shorter-than-need-be": {"tunnel_length": 0.6, "outside": 0.8},
    }
    pose = _reached(white_to_white, **dict(zip(("tunnel", "outside"), answer.values(), strict=True)))
    reasoning = (
        f"What is outside is missing inside: leave the least, {LEAST_OUTSIDE:g} mm, and tunnels of {longest:.2f} mm "
        f"just keep the pull at {most_pull:g} mN."
    )
    return exercise(id, text, form, pose, reasoning, answer=answer, wrong=wrong)


def _judge_reach(white_to_white, most_pull, example, answer):
    tunnel, outside = read_plan(answer, ("tunnel_length", "outside"), ("mm", "mm"), example)
    checked_number("The plan", "tunnel_length", tunnel, 0.3, 5.0, "mm", "length of both tunnels")
    checked_number("The plan", "outside", outside, LEAST_OUTSIDE, 4.0, "mm", "left outside on both sides")
    pose, longest = _reached(white_to_white, tunnel, outside), _longest(white_to_white, most_pull)
    if not pose.settled or pose.tension[0] > most_pull + _ROUNDED:
        why = f"the haptics pull with {pose.tension[0]:.0f} mN" if pose.settled else f"{pose.reason}"
        usual = "as-in-the-usual-eye" if tunnel >= 1.95 and outside >= 0.75 else None
        return partly(0.0, f"In this eye {why}. Openings further apart ask for more haptic inside.", usual)
    head = f"The haptics pull with {pose.tension[0]:.0f} mN, and the tunnels are {tunnel:g} mm long."
    if tunnel >= longest - 0.1:
        return Feedback(True, 1.0, f"{head} Hardly longer is possible: {longest:.2f} mm.", pose=pose)
    words = f"{head} Up to {longest:.2f} mm would be possible: leave less outside, or use up more of the pull allowed."
    return partly(tunnel / longest, words, "shorter-than-need-be", pose=pose)


ITEMS = (
    Item("tunnels.draw", "number", "foretell how far drawing moves a lens", "foretell",
         (Span("more", "mm", steps(0.4, 1.0, 0.05)),), draw, SIMULATED, clear=apart),
    Item("tunnels.pull", "number", "foretell how drawing raises the pull", "foretell",
         (Span("outside", "mm", steps(1.1, 1.4, 0.02)),), pull, SIMULATED,
         clear=lambda question: apart(question, 1.2)),
    Item("tunnels.other-length", "choice", "foretell where unequal tunnels put a lens", "foretell",
         (Span("length", "mm", (1.0, 1.1, 1.2, 1.3, 1.4, 2.4, 2.5, 2.6)),), other_length, SIMULATED),
    Item("tunnels.curable", "choice", "tell what drawing cures from what it does not", "recognise",
         (Span("wrong", "", tuple(_WRONG)), Span("size", "", steps(0.6, 1.0, 0.1))), curable, _BOUNDS),
    Item("tunnels.cause", "cause", "tell what was drawn from what was aimed wrong", "recognise",
         (Span("slip", "", tuple(_SLIPS)), Span("size", "", (0.7, 0.8, 0.9, 1.0))), cause, SIMULATED,
         functools.partial(told_apart, _SLIPS)),
    Item("tunnels.recentre", "plan", "centre a lens by drawing, or say that it cannot be", "design",
         (Span("wrong", "", tuple(_WRONG)), Span("size", "", steps(0.7, 1.0, 0.05))), recentre, _BOUNDS,
         lambda wrong, size: abs(_before_and_best(*_pair(wrong, size))[1][1] - DECENTRATION_LIMIT) > 0.05
         and _before_and_best(*_pair(wrong, size))[0].decentration > 0.3),
    Item("tunnels.reach", "plan", "let the haptics reach in a large eye", "design",
         (Span("white_to_white", "mm", (12.4, 12.5, 12.6, 12.7, 12.8)),
          Span("most_pull", "mN", (45.0, 50.0, 55.0, 60.0))),
         reach, _BOUNDS, lambda white_to_white, most_pull: _longest(white_to_white, most_pull) > 1.0),
)  # fmt: skip
