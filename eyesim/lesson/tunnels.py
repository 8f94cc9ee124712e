"""Set the tunnel and the free haptic: what pulling does, what it does not, and what reaches in a large eye."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import number as checked_number
from ..eye.globe import Eye
from ..hold.rest import line_parts
from ..study.verdict import DECENTRATION_LIMIT, judge
from .build import (
    FIRST,
    LENS,
    SIMULATED,
    are_apart,
    build,
    number,
    partly,
    pick,
    planned,
    pose_of,
    pose_words,
    read_plan,
)
from .item import Item, Span, steps
from .question import Feedback, Misconception, Plan, Scene
from .recentring import LEAST_OUTSIDE, before_and_best, passes_of, recentre
from .slips import Slip, is_recognisable, which_slip

_BOUNDS = "computed by the simulation; bounds of pull and of what stays externalised: chosen for teaching"
_USUAL = float(FIRST.outside)
_WRONG = ("mark", "tunnel", "outside")


def _other_length(id, length):
    """Ask where a lens goes when one tunnel is shorter or longer."""
    pose, both = pose_of({"tunnel_length": length}), pose_of({"tunnel_length": length}, {"tunnel_length": length})
    along, across = (float(part) for part in line_parts(pose))
    way = "towards" if along > 0.0 else "away from"
    where = f"{abs(along):.2f} mm {way} that side along the haptic axis and {abs(across):.2f} mm across it"
    form = pick(
        "towards" if along > 0.0 else "away",
        ("towards", "It moves towards the first side.",
         "A longer tunnel takes up haptic and pulls the lens towards its side; a shorter one leaves more inside: "
         f"{where}."),
        ("away", "It moves away from the first side.",
         f"A shorter tunnel leaves more haptic inside, and that pushes; a longer one pulls: {where}."),
        ("nothing", "It stays: as much is externalised on both sides.",
         f"What counts is what is left inside, and the tunnel takes its share of it: {where}."),
        ("tilts", "It only tilts: the tunnels end at other depths.",
         f"At {FIRST.iris_angle:g} deg to the iris plane the internal entries differ in depth by little: "
         f"{pose.tilt:.1f} deg of tilt; but it moves {where}."),
    )  # fmt: skip
    text = (
        f"The first tunnel is {length:g} mm long, {'shorter' if length < 2.0 else 'longer'} than the second with 2 mm; "
        f"on both sides {_USUAL:g} mm of haptic is externalised. What does the lens do?"
    )
    scenes, reasoning = (Scene(f"Both tunnels {length:g} mm", both),), f"The lens lies {pose_words(pose)}: {where}."
    return build(id, text, form, pose, reasoning, scenes=scenes, matters=judge(pose))


def _which_way(id, more):
    """Ask what happens to a lens when more of one haptic is pulled out."""
    pose = pose_of({"outside": _USUAL + more})
    along, across = (float(part) for part in line_parts(pose))
    form = pick(
        "towards" if along > abs(across) else ("away" if along < -abs(across) else "across"),
        ("towards", "It is pulled towards that side, along the haptic axis.",
         f"Less haptic is left inside on that side: the lens moves {along:.2f} mm along the haptic axis towards it, "
         f"{abs(across):.2f} mm across it. The pull rises to {pose.tension[0]:.0f} mN (an upper estimate)."),
        ("away", "It is pushed away from that side by what is tucked in there.",
         "Tucked haptic lies in the sclera, not in the eye: it pushes nothing. Less is left inside, and the lens moves "
         f"{along:.2f} mm towards that side."),
        ("across", "It turns, and so moves across the haptic axis.",
         f"It turns a little, but it moves along the haptic axis: {along:.2f} mm along, {abs(across):.2f} mm across."),
    )  # fmt: skip
    text = (
        f"Before anything is flanged or tied, {more:g} mm more of the first haptic is pulled out of the eye and tucked "
        "into a scleral pocket. What does the lens do?"
    )
    reasoning = f"Pulling out moves the lens towards that side: it lies {pose_words(pose)}."
    return build(id, text, form, pose, reasoning, matters=judge(pose))


def _curable(id, wrong, size):
    """Ask whether pulling and releasing cures what went wrong."""
    before, (_, least, best) = before_and_best(*passes_of(wrong, size))
    was = float(before.decentration)
    where = f"of {was:.2f} mm, the best that any pulling reaches is {least:.2f} mm"
    form = pick(
        "yes" if least < 0.1 else "hardly" if least > 0.6 * was else "partly",
        ("yes", "Yes, as good as wholly.",
         f"Only what lies along the haptic axis can be put right by pulling: {where}."),
        ("partly", "In part: some of it stays.",
         "What lies along the haptic axis is put right, what lies across it stays, and pulling both alike only pulls "
         f"harder: {where}."),
        ("hardly", "Hardly at all.",
         f"Only where it lies across the haptic axis does pulling not reach it, and a new pass is needed: {where}."),
    )  # fmt: skip
    happened = {
        "mark": f"the second mark was {12.0 * size:g} deg off",
        "tunnel": f"the second tunnel was {size:g} mm too short",
        "outside": f"{size:g} mm too much of the second haptic was pulled out",
    }
    text = (
        f"Neither haptic is flanged or tied yet, and {happened[wrong]}: the lens lies {was:.2f} mm off centre. Can it "
        "be centred by pulling either haptic out or releasing it, with at least "
        f"{LEAST_OUTSIDE:g} mm left externalised?"
    )
    scenes, label = (Scene("The best that pulling can do", best),), "As it was found"
    reasoning = f"By search over both draws: {where}."
    return build(id, text, form, before, reasoning, label=label, scenes=scenes, matters=judge(before))


def _trim(id, more):
    """Ask how the pull rises when more of both haptics is used up outside."""
    pose = pose_of({"outside": _USUAL + more}, {"outside": _USUAL + more})
    times, whole = pose.tension[0] / planned().tension[0], float(LENS.haptic_length)
    form = pick(
        "doubles" if 1.6 < times < 3.0 else "little",
        ("doubles", "It more than doubles.",
         f"From {planned().tension[0]:.0f} to {pose.tension[0]:.0f} mN: {times:.1f} times (upper estimates; the tissue "
         "gives way). The pose does not show it, since both sides pull alike."),
        ("little", f"A little: by some {100.0 * more / whole:.0f} per cent, as {more:g} of {whole:g} mm.",
         f"The haptic is bent, not stretched, and only {planned().free_length[0]:.1f} mm of it lie in the eye, between "
         f"two points that stay where they are. The pull rises {times:.1f} times."),
        ("moves", "Not at all; the lens goes deeper instead.",
         f"The depth changes by {abs(pose.depth - planned().depth):.2f} mm, the pull {times:.1f} times."),
    )  # fmt: skip
    text = (
        f"Both haptics are trimmed and melted further: {_USUAL + more:g} mm instead of {_USUAL:g} mm of each is used "
        "up outside the eye. How does the pull in the haptics change?"
    )
    reasoning = f"From {planned().tension[0]:.1f} to {pose.tension[0]:.1f} mN, {times:.2f} times."
    matters = "It matters for what a flange has to hold, not for where the lens sits: nothing in the picture shows it."
    return build(id, text, form, pose, reasoning, matters=matters)


def _long_and_short(id, long, short):
    """Ask how many times as strong the pull is with long tunnels as with short ones."""
    passes = [({"tunnel_length": tunnel},) * 2 for tunnel in (long, short)]
    strong, weak = (pose_of(*both) for both in passes)
    value = strong.tension[0] / weak.tension[0]
    form = number(
        value, 0.4, "times", 1.0, 10.0,
        f"The pull falls from {strong.tension[0]:.0f} to {weak.tension[0]:.0f} mN: it is {value:.1f} times as strong "
        f"with {long:g} mm.",
        Misconception("as-the-tunnel", long / short, "That would be so if pull were in proportion to the tunnel. It "
                                                     "depends on how tightly the intraocular haptic is bent."),
        Misconception("upside-down", 1.0 / value, "This is the short tunnels' pull as a share of the long ones': "
                                                  "invert it."),
        Misconception("no-change", 1.0, "As much is externalised, but more of each haptic lies inside with the short "
                                        "tunnels, and it is bent much less."),
    )  # fmt: skip
    text = (
        f"All else alike, how many times as strong is the pull in the haptics with two tunnels of {long:g} mm as with "
        f"two tunnels of {short:g} mm?"
    )
    reasoning = f"{strong.tension[0]:.1f} mN against {weak.tension[0]:.1f} mN (upper estimates): {value:.2f} times."
    matters = "It matters for wobble and for what the flange holds, not for centring: both poses look alike."
    label, scenes = f"Two tunnels of {short:g} mm", (Scene(f"Two tunnels of {long:g} mm", strong),)
    return build(id, text, form, weak, reasoning, label=label, scenes=scenes, matters=matters)


def _draw(id, more):
    """Ask how far a lens moves along the haptic axis when a haptic is pulled out."""
    pose = pose_of({"outside": _USUAL + more})
    value = float(line_parts(pose)[0])
    form = number(
        value, 0.06, "mm", 0.0, 1.5,
        f"The lens moves {value:.2f} mm towards that side: the other haptic gives by the rest.",
        Misconception("all-of-it", more, "The lens does not follow the whole way: as it comes, the other haptic "
                                         "straightens and pulls back."),
        Misconception("turned-sign", -value, "The size is right, the direction is not: less haptic inside pulls the "
                                             "lens towards its side."),
        Misconception("nothing", 0.0, "The haptic is elastic, but so is the other: the lens settles between them."),
    )  # fmt: skip
    text = (
        f"{more:g} mm more of the first haptic is pulled out than planned, and nothing on the second side. How far "
        "does the lens move along the haptic axis? (Positive: towards the first side.)"
    )
    reasoning = f"Settled with {_USUAL + more:g} mm externalised: {value:.3f} mm along the haptic axis."
    return build(id, text, form, pose, reasoning, matters=judge(pose))


def _pull(id, outside):
    """Ask how many times as strong the pull gets when more of both haptics is externalised."""
    pose, usual = pose_of({"outside": outside}, {"outside": outside}), planned()
    value = float(pose.tension[0] / usual.tension[0])
    inside = LENS.haptic_length - FIRST.tunnel_length
    form = number(
        value, 0.1 * value, "times", 1.0, 10.0,
        f"From {usual.tension[0]:.0f} to {pose.tension[0]:.0f} mN (upper estimates): {value:.1f} times.",
        Misconception("as-the-length", (inside - _USUAL) / (inside - outside),
                      "That would be so if pull were in proportion to length. The haptic is bent, not stretched, "
                      "and a little less of it is bent much more tightly."),
        Misconception("as-what-is-outside", outside / _USUAL,
                      "That is the ratio of what is externalised. It is what is left inside that pulls, and how "
                      "tightly it is bent."),
    )  # fmt: skip
    text = (
        f"On both sides {outside:g} mm of haptic is externalised instead of {_USUAL:g}. How many times as strong as "
        "before do the haptics pull?"
    )
    reasoning = f"{pose.tension[0]:.1f} mN against {usual.tension[0]:.1f} mN: {value:.2f} times."
    return build(id, text, form, pose, reasoning)


_SLIPS = {
    "drawn": Slip(
        lambda size: {"outside": 0.8 + size}, "{:g} mm too much of it was pulled out.", 1.0,
        "Less haptic inside pulls the lens towards its side: it would lie {}.",
    ),
    "short": Slip(
        lambda size: {"tunnel_length": 2.0 - 0.8 * size}, "Its tunnel was {:g} mm too short.", 0.8,
        "More haptic inside pushes the lens away from its side: it would lie {}.",
    ),
    "mark": Slip(
        lambda size: {"meridian": 180.0 + 10.0 * size}, "Its mark was {:g} deg off.", 10.0,
        "A mark shifts the lens across the haptic axis: it would lie {}.",
    ),
    "dip": Slip(
        lambda size: {"iris_angle": 5.0 + 9.0 * size}, "Its needle ran {:g} deg more steeply to the iris plane.", 9.0,
        "Unequal iris angles tilt the lens: it would lie {}.",
    ),
}  # fmt: skip


def _cause(id, slip, size):
    """Ask which slip left a lens as it was found."""
    text = (
        "Marks were planned at 0 and 180 deg. The lens is found {}. One thing went wrong with the second haptic, at "
        "180 deg. What?"
    )
    return which_slip(id, _SLIPS, slip, size, text)


@functools.lru_cache(maxsize=4096)
def _reached(white_to_white, tunnel, outside):
    """Pose in a large eye with the same tunnel and externalised length on both sides; each may be an array's tuple."""
    eye = Eye(white_to_white=white_to_white, scleral_radius=round(12.0 / 11.8 * white_to_white, 3))
    fields = {"tunnel_length": np.array(tunnel) if isinstance(tunnel, tuple) else tunnel, "outside": outside}
    return pose_of(fields, fields, eye=eye, on_failure="flag")


@functools.cache
def _longest(white_to_white, most_pull):
    """Longest tunnels [mm], in steps of 0.01, whose pull stays below a bound with the least externalised."""
    tunnels = np.arange(0.5, 3.0, 0.01)
    pose = _reached(white_to_white, tuple(tunnels), LEAST_OUTSIDE)
    with np.errstate(invalid="ignore"):
        fine = pose.settled & (pose.tension[..., 0] <= most_pull)
    return float(tunnels[fine].max())


def _reach(id, white_to_white, most_pull):
    """Ask for tunnels and externalised lengths with which a lens reaches in a large eye."""
    longest, usual = _longest(white_to_white, most_pull), _reached(white_to_white, 2.0, _USUAL)
    example = f"{{'tunnel_length': 2, 'outside': {_USUAL:g}}}"
    form = Plan(
        f"Answer with tunnel and externalised length ('outside'), alike on both sides [mm], such as {example}.",
        functools.partial(_judge_reach, white_to_white, most_pull, example),
        {"tunnel_length": "Tunnel [mm]", "outside": "Externalised [mm]"},
    )
    strong = f"they would pull with {usual.tension[0]:.0f} mN" if usual.settled else f"{usual.reason}"
    text = (
        f"This eye is large: {white_to_white:g} mm from white to white. With tunnels of 2 mm and {_USUAL:g} mm "
        f"externalised, {strong}. Choose the tunnels and the externalised length, alike on both sides, so that the "
        f"haptics pull with no more than {most_pull:g} mN (an upper estimate) while the tunnels stay as long as they "
        f"can; at least {LEAST_OUTSIDE:g} mm must be left for a flange."
    )
    answer = {"tunnel_length": round(longest, 2), "outside": LEAST_OUTSIDE}
    wrong = {
        "as-in-the-usual-eye": {"tunnel_length": 2.0, "outside": _USUAL},
        "shorter-than-need-be": {"tunnel_length": 0.6, "outside": _USUAL},
    }
    reasoning = (
        f"What is externalised is missing inside: leave the least, {LEAST_OUTSIDE:g} mm, and tunnels of {longest:.2f} "
        f"mm just keep the pull at {most_pull:g} mN."
    )
    pose = _reached(white_to_white, *answer.values())
    return build(id, text, form, pose, reasoning, answer=answer, wrong=wrong)


def _judge_reach(white_to_white, most_pull, example, answer):
    tunnel, outside = read_plan(answer, ("tunnel_length", "outside"), ("mm", "mm"), example)
    checked_number("The plan", "tunnel_length", tunnel, 0.3, 5.0, "mm", "length of both tunnels")
    checked_number("The plan", "outside", outside, LEAST_OUTSIDE, 4.0, "mm", "externalised on both sides")
    pose, longest = _reached(white_to_white, tunnel, outside), _longest(white_to_white, most_pull)
    if not pose.settled or round(float(pose.tension[0])) > most_pull:
        why = f"the haptics pull with {pose.tension[0]:.0f} mN" if pose.settled else f"{pose.reason}"
        usual = "as-in-the-usual-eye" if tunnel >= 1.95 and outside >= 0.75 else None
        return partly(0.0, f"In this eye {why}. Internal entries further apart ask for more haptic inside.", usual)
    head = f"The haptics pull with {pose.tension[0]:.0f} mN, and the tunnels are {tunnel:g} mm long."
    if tunnel >= longest - 0.1:
        return Feedback(True, 1.0, f"{head} Hardly longer is possible: {longest:.2f} mm.", pose=pose)
    words = f"{head} Longer ones are possible: externalise less, or use up more of the pull allowed."
    return partly(tunnel / longest, words, "shorter-than-need-be", pose=pose)


ITEMS = (
    Item("tunnels.other-length", "choice", "foretell where unequal tunnels put a lens", "foretell",
         (Span("length", "mm", (1.0, 1.1, 1.2, 1.3, 1.4, 2.4, 2.5, 2.6)),), _other_length, SIMULATED,
         shown={"length": 1.0}, predicts=True),
    Item("tunnels.which-way", "choice", "foretell which way pulling out moves a lens", "foretell", (), _which_way,
         SIMULATED, shown={"more": 1.0}, predicts=True),
    Item("tunnels.curable", "choice", "tell what pulling cures from what it does not", "recognise",
         (Span("wrong", "", _WRONG), Span("size", "", steps(0.6, 1.0, 0.1))), _curable, _BOUNDS,
         shown={"wrong": "mark", "size": 10.0 / 12.0}, predicts=True),
    Item("tunnels.trim", "choice", "foretell what trimming does to the pull", "foretell", (), _trim, SIMULATED,
         shown={"more": 0.4}, predicts=True),
    Item("tunnels.long-and-short", "number", "foretell how the length of tunnels changes the pull", "foretell", (),
         _long_and_short, SIMULATED, shown={"long": 2.0, "short": 1.0}, predicts=True),
    Item("tunnels.draw", "number", "foretell how far pulling moves a lens", "foretell",
         (Span("more", "mm", steps(0.4, 1.0, 0.05)),), _draw, SIMULATED, clear=are_apart, shown={"more": 0.8}),
    Item("tunnels.recentre", "plan", "centre a lens by pulling, or say that it cannot be", "design",
         (Span("wrong", "", _WRONG), Span("size", "", steps(0.7, 1.0, 0.05))), recentre, _BOUNDS,
         lambda wrong, size: abs(before_and_best(*passes_of(wrong, size))[1][1] - DECENTRATION_LIMIT) > 0.05
         and before_and_best(*passes_of(wrong, size))[0].decentration > 0.3, shown={"wrong": "morning"}),
    Item("tunnels.recentre-evening", "plan", "centre a lens by pulling, or say that it cannot be", "design", (),
         recentre, _BOUNDS, shown={"wrong": "evening"}),
    Item("tunnels.pull", "number", "foretell how pulling out raises the pull", "foretell",
         (Span("outside", "mm", steps(1.1, 1.4, 0.02)),), _pull, SIMULATED,
         clear=lambda question: are_apart(question, 1.2)),
    Item("tunnels.cause", "cause", "tell what was pulled from what was aimed wrong", "recognise",
         (Span("slip", "", tuple(_SLIPS)), Span("size", "", (0.7, 0.8, 0.9, 1.0))), _cause, SIMULATED,
         functools.partial(is_recognisable, _SLIPS)),
    Item("tunnels.reach", "plan", "let the haptics reach in a large eye", "design",
         (Span("white_to_white", "mm", (12.4, 12.5, 12.6, 12.7, 12.8)),
          Span("most_pull", "mN", (45.0, 50.0, 55.0, 60.0))),
         _reach, _BOUNDS, lambda white_to_white, most_pull: _longest(white_to_white, most_pull) > 1.0),
)  # fmt: skip
