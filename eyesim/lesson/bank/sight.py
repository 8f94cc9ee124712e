"""Items of *See what the patient sees*: what depth, tilt and shift cost in glasses, and which power fits a plan."""

from __future__ import annotations

import functools

import numpy as np

from ...eye.checks import LearnerError
from ...hold.needle import Fixation
from ...hold.settle import settle
from ...sight.choose import power_for
from ...sight.refract import refract
from ...sight.refraction import in_words, signed
from ...sight.spectacles import fit_glasses
from ...study import Hands, operate
from ...study.estimates import share
from ..cases import EYE, LENS, SIMULATED, apart, exercise, number, partly, pick, read_plan
from ..item import Item, Span
from ..patient import BAG_DEPTH, DAY, SHELF, SightVerdict, is_lost, moved, on_the_shelf, planned_pose
from ..question import Feedback, Misconception, Plan

_STEPS = f"computed by the simulation; lenses in steps of {SHELF:g} D: common practice, no source"


@functools.cache
def _eye(axial_length, corneal_radius=EYE.corneal_radius):
    return EYE.but(axial_length=axial_length, corneal_radius=corneal_radius)


@functools.cache
def _sharp(axial_length):
    """Lens that leaves nothing to correct where it is planned, of whatever power."""
    eye = _eye(axial_length)
    return LENS.with_power(power_for(eye, LENS, planned_pose()))


@functools.lru_cache(maxsize=512)
def _moved(axial_length, deeper=0.0, tilt=0.0, x=0.0):
    """Trace what is seen in an eye whose lens came to lie elsewhere; a `Sight`."""
    place = moved(planned_pose(), deeper=deeper, tilt=tilt, x=x)
    return refract(_eye(axial_length), _sharp(axial_length), place, DAY)


def deeper(id, axial_length, by):
    """Ask what an eye needs whose lens lies deeper or less deep."""
    sight = _moved(axial_length, deeper=by)
    value, usual = float(sight.M), float(_moved(EYE.axial_length, deeper=by).M)
    way = "deeper" if by > 0.0 else "less deep"
    form = number(
        value, 0.09, "D", -3.0, 3.0,
        f"The eye needs {signed(value)} D: {way} is {'long' if value > 0.0 else 'short'}-sighted, the more so the "
        f"stronger the lens, and this one has {_sharp(axial_length).power:.1f} D.",
        Misconception("turned-sign", -value, "The size is right, the sign is not: a lens further back brings the image "
                                             "together further back."),
        Misconception("nothing", 0.0, "The lens has kept its power, but its place has changed, and the eye sees both."),
        *([Misconception("as-the-usual-eye", usual, f"That is what it costs in an eye of {EYE.axial_length:g} mm; the "
                                                    "lens of this one has another power.")]
          if min(abs(usual - value), abs(usual)) > 0.2 else []),
    )  # fmt: skip
    text = (
        f"An eye of {axial_length:g} mm from cornea to retina. Its lens has just the power that leaves nothing to "
        f"correct where it was planned, at a {DAY:g} mm pupil. It came to lie {abs(by):g} mm {way}. What does the eye "
        "need, as spherical equivalent, with its sign?"
    )
    return exercise(id, text, form, sight, f"Traced with the lens {abs(by):g} mm {way}: {value:+.3f} D.")


def verdict(id, axial_length, by, tilt, x):
    """Ask whether glasses are needed, help, or do not."""
    sight, plain = _moved(axial_length, by, tilt, x), _moved(axial_length)
    found, goal = fit_glasses(sight), fit_glasses(plain)
    right = _mends(found, goal)
    told = f"{in_words(sight)}; {SightVerdict(found, goal)}"
    form = pick(
        right,
        ("nothing", "Nothing that matters for reading.",
         f"Whether it matters is not seen at the microscope but read from the chart: {told}"),
        ("glasses", "It matters, and glasses mend it.",
         f"Glasses give sphere and regular cylinder, and that is what a wrong depth leaves: {told}"),
        ("not-mended", "It matters, and glasses do not mend it.",
         f"What varies within the pupil, coma above all, no glasses reach: {told}"),
    )  # fmt: skip
    parts = [f"{abs(by):g} mm {'deeper' if by > 0.0 else 'less deep'} than planned"] if by else []
    parts += [f"tilted by {tilt:g} deg"] if tilt else []
    parts += [f"{x:g} mm off centre"] if x else []
    text = (
        f"An eye of {axial_length:g} mm, its lens of just the right power for its planned place. The lens lies "
        f"{' and '.join(parts)}. What does that mean for her reading, at a {DAY:g} mm pupil? (It matters if two rows "
        "of the chart are lost and less than 20/25 is left: chosen for teaching.)"
    )
    return exercise(id, text, form, sight, told)


def _mends(found, goal):
    if is_lost(found.best, goal.best):
        return "not-mended"
    return "glasses" if is_lost(found.read, goal.read) else "nothing"


def cylinder(id, axial_length, tilt):
    """Ask for the cylinder that a large tilt leaves."""
    sight, small = _moved(axial_length, tilt=tilt), _moved(axial_length, tilt=5.0)
    value, linear = abs(float(sight.cylinder)), abs(float(small.cylinder)) * tilt / 5.0
    form = number(
        value, 0.12, "D", 0.0, 6.0,
        f"{value:.2f} D. At 5 deg it is {abs(float(small.cylinder)):.2f} D: it grows with the square of the tilt.",
        Misconception("in-proportion", linear, f"In proportion to 5 deg it would be {linear:.2f} D; but it grows "
                                               "with the square of the tilt."),
        Misconception("dioptre-a-degree", tilt / 10.0 * 2.5, "Tilt is not as bad as it looks at the microscope: small "
                                                             "tilts cost next to nothing."),
    )  # fmt: skip
    text = (
        f"An eye of {axial_length:g} mm whose lens is tilted by {tilt:g} deg in its planned place. How much cylinder "
        f"does that leave at a {DAY:g} mm pupil? (At 5 deg it is {abs(float(small.cylinder)):.2f} D.)"
    )
    return exercise(id, text, form, sight, f"Traced: {value:.3f} D.")


@functools.lru_cache(maxsize=256)
def _planned(eye, dip):
    first = Fixation(meridian=0.0, iris_angle=dip)
    return settle(eye, LENS, first, first.opposite())


@functools.cache
def _in_a_capsule(eye):
    """Power [D] that is sharp in a capsule."""
    back = eye.limbal_depth - BAG_DEPTH - LENS.optic_thickness / 2.0
    return float(power_for(eye, LENS, moved(planned_pose(), z=back)))


def power(id, axial_length, corneal_radius, dip):
    """Ask for the power from the shelf that fits a plan."""
    eye = _eye(axial_length, corneal_radius)
    pose = _planned(eye, dip)
    value = float(power_for(eye, LENS, pose))
    bag = _in_a_capsule(eye)
    seen = refract(eye, LENS.with_power(on_the_shelf(value)), pose, DAY)
    form = number(
        value, 0.6 * SHELF, "D", 5.0, 34.0,
        f"{value:.2f} D would be exact; from the shelf {on_the_shelf(value):.1f} D, which leaves "
        f"{signed(float(seen.M))} D.",
        Misconception("for-the-capsule", float(on_the_shelf(bag)),
                      f"That is the power for a lens in its capsule, {BAG_DEPTH:g} mm behind the cornea (chosen for "
                      "teaching). Fixed to the wall by this plan it rests elsewhere."),
        Misconception("for-the-usual-eye", float(on_the_shelf(_sharp(EYE.axial_length).power)),
                      "That is the lens of the usual eye. This one has another length and another cornea."),
    )  # fmt: skip
    text = (
        f"An eye of {axial_length:g} mm with a corneal radius of {corneal_radius:g} mm. Both needles will dip {dip:g} "
        f"deg, tunnels of 2 mm, all else as usual. Which power, in steps of {SHELF:g} D, leaves her nearest to 0 D at "
        f"a {DAY:g} mm pupil?"
    )
    return exercise(
        id, text, form, seen, f"At {pose.depth:.2f} mm behind the limbal plane {value:.2f} D is sharp; in a capsule "
                              f"{bag:.1f} D.",
        answer=float(on_the_shelf(value)),
    )  # fmt: skip


_FOUND = {
    "deep": ("The lens lies {:g} mm deeper than planned.", "deeper", 0.7),
    "shallow": ("The lens lies {:g} mm less deep than planned.", "deeper", -0.7),
    "tilt": ("The lens is tilted by {:g} deg.", "tilt", 17.0),
    "off": ("The lens lies {:g} mm off centre.", "x", 0.6),
}


@functools.lru_cache(maxsize=256)
def _finding(axial_length, name, size):
    _, what, most = _FOUND[name]
    return _moved(axial_length, **{what: most * size})


def cause(id, axial_length, slip, size):
    """Ask what lies behind a refraction."""
    sight = _finding(axial_length, slip, size)
    others = {name: _finding(axial_length, name, size) for name in _FOUND}
    choices = [
        (name, words.format(round(abs(most * size), 2)), f"That would leave {in_words(others[name])}: "
         + {"deep": "deeper is long-sighted", "shallow": "less deep is short-sighted",
            "tilt": "tilt leaves cylinder above all", "off": "shift alone leaves next to nothing"}[name] + ".")
        for name, (words, _, most) in _FOUND.items()
    ]  # fmt: skip
    text = (
        f"An eye of {axial_length:g} mm had a lens of just the right power. It measures {in_words(sight)} at a "
        f"{DAY:g} mm pupil. One of these is so. Which?"
    )
    return exercise(
        id, text, pick(slip, *choices), sight, f"Each alone was traced; only one leaves {in_words(sight)}: {slip}."
    )


def _unlike(axial_length, slip, size):
    """How unlike [D] what the others leave is."""
    own = _finding(axial_length, slip, size)
    others = [_finding(axial_length, name, size) for name in _FOUND if name != slip]
    return min(float(np.linalg.norm([own.M - o.M, own.J0 - o.J0, own.J45 - o.J45])) for o in others)


_N, _WITHIN, _GOAL = 500, 0.5, 0.9
_DIPS = (0.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0)


@functools.lru_cache(maxsize=128)
def _operated(eye, dip):
    first = Fixation(meridian=0.0, iris_angle=dip, tunnel_length=1.5)
    return operate(eye, LENS, first, first.opposite(), Hands(), n=_N, rng=6, progress=False).pose


@functools.lru_cache(maxsize=1024)
def _refractions(eye, strength, dip):
    return refract(eye, LENS.with_power(strength), _operated(eye, dip), DAY).M


def _within(eye, strength, dip):
    with np.errstate(invalid="ignore"):
        return share(int(np.sum(np.abs(_refractions(eye, strength, dip)) <= _WITHIN)), _N)


@functools.lru_cache(maxsize=128)
def _fits(eye, dip):
    """Power from the shelf that is nearest for a dip."""
    first = Fixation(meridian=0.0, iris_angle=dip, tunnel_length=1.5)
    return float(on_the_shelf(power_for(eye, LENS, settle(eye, LENS, first, first.opposite()))))


@functools.cache
def _best(eye):
    tried = {(_fits(eye, dip), dip): _within(eye, _fits(eye, dip), dip) for dip in _DIPS}
    best = max(tried, key=lambda plan: tried[plan].value)
    return best, tried[best]


def plan(id, axial_length, corneal_radius):
    """Ask for power and dip with which most eyes end near what was meant."""
    eye = _eye(axial_length, corneal_radius)
    (strength, dip), best = _best(eye)
    full = min(_GOAL, best.low)
    example = "{'power': 20, 'iris_angle': 5}"
    form = Plan(
        f"Answer with the power [D] and the dip [deg] of both needles, such as {example}.",
        functools.partial(_judge_plan, eye, example),
        {"power": "Power [D]", "iris_angle": "Dip [deg]"},
    )
    text = (
        f"An eye of {axial_length:g} mm with a corneal radius of {corneal_radius:g} mm; tunnels of 1.5 mm, the usual "
        f"hands, {_N} operations. Choose the power, in steps of {SHELF:g} D, and the dip of both needles so that as "
        f"many as can be end within {_WITHIN:g} D of sharp at a {DAY:g} mm pupil. Full marks from {100 * full:.0f} %. "
        "(A lens that finds no rest counts as outside.)"
    )
    wrong = {
        "for-the-capsule": {"power": float(on_the_shelf(_in_a_capsule(eye))), "iris_angle": dip},
        "not-for-this-dip": {"power": strength - 2.0 * SHELF, "iris_angle": dip},
    }
    pose = _planned(eye, dip)
    seen = refract(eye, LENS.with_power(strength), pose, DAY)
    reasoning = (
        f"With {strength:g} D and a dip of {dip:g} deg {best.text('.0%')} end within: the dip was fitted to a lens "
        "that there is."
    )
    return exercise(id, text, form, seen, reasoning, answer={"power": strength, "iris_angle": dip}, wrong=wrong)


def _judge_plan(eye, example, answer):
    strength, dip = read_plan(answer, ("power", "iris_angle"), ("D", "deg"), example)
    if not 5.0 <= strength <= 34.0 or abs(strength / SHELF - round(strength / SHELF)) > 1e-9:
        raise LearnerError(f"The shelf has lenses from 5 to 34 D in steps of {SHELF:g} D; {strength:g} D was given.")
    if not 0.0 <= dip <= 25.0:
        raise LearnerError(f"Sensible dips lie between 0 and 25 deg; {dip:g} deg was given.")
    got, (_, best) = _within(eye, strength, dip), _best(eye)
    full, mean = min(_GOAL, best.low), float(np.nanmean(_refractions(eye, strength, dip)))
    head = f"{got.text('.0%')} end within {_WITHIN:g} D, on average at {signed(mean)} D."
    if got.value >= full:
        return Feedback(True, 1.0, f"{head}")
    credit = (got.value / full) ** 2
    if strength == on_the_shelf(_in_a_capsule(eye)):
        words = f"{head} This lens would suit a capsule, further back, and is too strong for where it rests."
        return partly(credit, words, "for-the-capsule")
    if abs(strength - _fits(eye, dip)) > SHELF / 2.0:
        way = "strong" if mean < 0.0 else "weak"
        return partly(credit, f"{head} The lens is too {way} for this dip.", "not-for-this-dip")
    return partly(credit, f"{head} Lenses come in steps, the dip does not: change it until one of them fits.")


@functools.lru_cache(maxsize=256)
def _plainly(axial_length, by, tilt, x):
    """Whether the verdict would be the same a little further off, and a little less."""
    if sum(bool(v) for v in (by, tilt, x)) != 1:
        return False
    goal = fit_glasses(_moved(axial_length))
    verdicts = {
        _mends(fit_glasses(_moved(axial_length, by * f, tilt * f, x * f)), goal) for f in (0.93, 1.0, 1.07)
    }  # fmt: skip
    return len(verdicts) == 1


ITEMS = (
    Item("sight.deeper", "number", "foretell what a wrong depth costs", "foretell",
         (Span("axial_length", "mm", (21.0, 21.5, 22.0, 22.5, 25.0, 25.5, 26.0)),
          Span("by", "mm", (-0.6, -0.5, -0.4, 0.4, 0.5, 0.6))), deeper, SIMULATED,
         lambda axial_length, by: abs(_moved(axial_length, deeper=by).M) > 0.2,
         lambda question: apart(question, 1.5)),
    Item("sight.verdict", "choice", "tell what glasses mend from what they do not", "recognise",
         (Span("axial_length", "mm", (21.0, 23.0)), Span("by", "mm", (-1.0, 0.0, 0.2, 1.0)),
          Span("tilt", "deg", (0.0, 6.0, 22.0)), Span("x", "mm", (0.0, 0.5, 2.4))), verdict,
         "computed by the simulation; two rows and 20/25: chosen for teaching", _plainly),
    Item("sight.cylinder", "number", "foretell the cylinder of a large tilt", "foretell",
         (Span("axial_length", "mm", (21.0, 21.5, 22.0, 22.5)), Span("tilt", "deg", (14.0, 15.0, 16.0, 17.0, 18.0))),
         cylinder, SIMULATED, clear=apart),
    Item("sight.power", "number", "find the power that fits a plan", "foretell",
         (Span("axial_length", "mm", (22.5, 24.5, 25.0, 25.5)), Span("corneal_radius", "mm", (7.6, 7.7, 7.9, 8.0)),
          Span("dip", "deg", (5.0, 10.0, 15.0))), power, _STEPS,
         clear=apart),
    Item("sight.cause", "cause", "read from a refraction what lies behind it", "recognise",
         (Span("axial_length", "mm", (21.0, 21.5, 22.0, 22.5, 23.0)), Span("slip", "", tuple(_FOUND)),
          Span("size", "", (0.9, 1.0, 1.1))), cause, SIMULATED,
         lambda axial_length, slip, size: _unlike(axial_length, slip, size) > 0.3),
    Item("sight.plan", "plan", "fit power and dip to each other for hands that spread", "design",
         (Span("axial_length", "mm", (23.0, 24.0, 25.0)), Span("corneal_radius", "mm", (7.7, 7.8, 7.9))), plan, _STEPS),
)  # fmt: skip
