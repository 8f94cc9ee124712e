"""See what the patient sees: what tilt, shift, depth and a wide pupil cost her, and which power fits a place."""

from __future__ import annotations

import functools

import numpy as np

from ..eye.frames import wrap
from ..hold.needle import Fixation
from ..hold.settle import settle
from ..sight.choose import power_for, toric_for
from ..sight.refract import refract
from ..sight.refraction import in_words, signed
from ..study.sight_verdict import judge_sight, logmar_lost, reads, reads_at_best, row_words
from .build import EYE, LENS, SIMULATED, are_apart, build, number, pick, planned
from .glasses import glasses_fix, is_plain_error, verdict
from .item import Item, Span
from .patient import (
    ASPHERIC,
    BAG_DEPTH,
    DAY,
    NIGHT,
    SHELF,
    SPHERICAL,
    capsule_pose,
    chosen_lens,
    exact_lens,
    eye_of,
    on_the_shelf,
    patient,
    planned_pose,
    with_exact_lens,
)
from .power_and_dip import plan
from .question import Misconception, Scene

_STEPS = f"computed by the simulation; lenses in steps of {SHELF:g} D: common practice, no source"


def _which_one(id, tilt, off, deeper):
    """Ask which of three patients notices: tilted, off centre, or too deep."""
    seen = {"tilted": patient(tilt=tilt, tilt_meridian=90.0), "off": patient(x=off), "deep": patient(deeper=deeper)}
    plain = patient()
    lost = {key: logmar_lost(reads(sight), reads(plain)) for key, sight in seen.items()}
    each = {key: f"{in_words(sight)}, and {row_words(reads(sight))} is read" for key, sight in seen.items()}
    outcome = (
        f"Too deep: {each['deep']}. Tilted: {each['tilted']}. Off centre: {each['off']}. In its place: "
        f"{row_words(reads(plain))}."
    )
    form = pick(
        max(lost, key=lost.get),
        ("tilted", "The first: a tilted lens is what the slit lamp shows at once.",
         f"The slit lamp shows it, the patient does not see it. {outcome}"),
        ("off", "The second: she looks through the lens beside its middle.",
         f"Half a millimetre beside its middle the lens is nearly the same lens. {outcome}"),
        ("deep", "The third, although nothing is to be seen at the slit lamp.",
         f"Depth is the error that hides from us and not from her. {outcome}"),
        ("alike", "All three about alike: each is a small error.", f"They are far from alike. {outcome}"),
    )  # fmt: skip
    text = (
        "Three patients, the same eye, the same lens, its power chosen for the place where it should lie. In the "
        f"first it is tilted by {tilt:g} deg, in the second it lies {off:g} mm off centre, in the third {deeper:g} mm "
        "too deep. Without glasses: which of them will notice?"
    )
    labels = {"tilted": "The first: tilted", "off": "The second: off centre", "deep": "The third: too deep"}
    shown = [form.right, *(key for key in seen if key != form.right)]  # who notices is drawn first
    scenes = (*(Scene(labels[key], seen[key]) for key in shown), Scene("As planned", plain))
    return build(id, text, form, None, outcome, scenes=scenes, matters=judge_sight(seen[form.right], plain))


def _forward(id, by):
    """Ask what a lens does that lies nearer to the iris."""
    sight, plain = patient(deeper=-by), patient()
    change = sight.M - plain.M
    right = "none" if abs(change) < 0.1 else ("myopic" if change < 0 else "hyperopic")
    outcome = f"The eye now needs {in_words(sight)} instead of {in_words(plain)}"
    form = pick(
        right,
        ("myopic", "Myopic: the image moves forward with the lens.",
         f"{outcome}. Forward is myopic, deeper is hyperopic."),
        ("none", "Nothing to speak of: the power of the lens is the same.",
         f"The power of the lens is the same, its place is not, and the eye sees both. {outcome}."),
        ("hyperopic", "Hyperopic: the lens lies further from the retina, so it is too weak.",
         "Further from the retina means more room to bring the light together: the image now lies before the retina, "
         f"not behind it. {outcome}."),
        ("cylinder", "Astigmatic: cylinder appears.",
         f"A lens that is flat and centred has no direction in which to differ: {outcome}, "
         f"{abs(sight.cylinder):.2f} D of it cylinder."),
    )  # fmt: skip
    text = (
        f"The same eye and lens. This time it lies {by:g} mm nearer to the iris than planned, centred and "
        "flat. What has become of the eye?"
    )
    scenes = (Scene("As planned", plain),)
    return build(id, text, form, sight, f"{outcome}.", scenes=scenes, matters=judge_sight(sight, plain))


def _short_and_long(id, short, long, deeper):
    """Ask about the same depth error in a short and in a long eye."""
    plain, seen = {}, {}
    for length in (short, long):
        eye = eye_of(length)
        lens = chosen_lens(eye=eye)
        plain[length], seen[length] = patient(lens, eye=eye), patient(lens, eye=eye, deeper=deeper)
    shifts = {length: float(seen[length].M - plain[length].M) for length in seen}
    times = shifts[short] / shifts[long]
    right = (
        "alike" if 0.75 < times < 1.33 else ("long" if times < 1.0 else "short-much" if times > 4.0 else "short-little")
    )
    outcome = (
        f"{deeper:g} mm costs {shifts[short]:+.2f} D in the eye of {short:g} mm, whose lens has "
        f"{seen[short].lens.power:.1f} D, and {shifts[long]:+.2f} D in that of {long:g} mm, whose lens has "
        f"{seen[long].lens.power:.1f} D: {times:.0f} times as much"
    )
    form = pick(
        right,
        ("alike", "Alike in both: half a millimetre is half a millimetre.",
         f"The move is the same, the lens that moves is not. {outcome}."),
        ("long", "More in the long eye, since the light has further to go.",
         f"A long eye has a weak lens, and moving a weak lens does little. {outcome}."),
        ("short-little", "A little more in the short eye, in proportion to the lengths.",
         f"The order is right, the size is not: what counts is the power of the lens that moves. {outcome}."),
        ("short-much", "Several times as much in the short eye.", f"{outcome}. A strong lens forgives nothing."),
    )  # fmt: skip
    text = (
        f"Two eyes, {short:g} and {long:g} mm long. Each has got the lens that suits it, and in each the lens "
        f"lies {deeper:g} mm too deep. How do the two errors of refraction compare?"
    )
    scenes = [Scene(f"The eye of {length:g} mm", seen[length]) for length in (short, long)]
    return build(id, text, form, None, f"{outcome}.", scenes=scenes, matters=judge_sight(seen[short], plain[short]))


def _at_night(id, pupil):
    """Ask what a wide pupil does while nothing moves."""
    day, night = patient(), patient(pupil=pupil)
    change = float(night.M - day.M)
    right = "nothing" if abs(change) < 0.1 else ("myopic" if change < 0 else "hyperopic")
    outcome = (
        f"Over the whole pupil the eye now measures {night.M:+.2f} D instead of {day.M:+.2f}; in the middle of the "
        f"pupil it is {night.paraxial.M:+.2f} D. She reads {row_words(reads(night))} instead of "
        f"{row_words(reads(day))}, and with the best glasses {row_words(reads_at_best(night))}"
    )
    form = pick(
        right,
        ("myopic", "The whole pupil measures more myopic, its middle does not.",
         f"Rims of spherical faces are too strong. {outcome}."),
        ("nothing", "Nothing: no part of the eye has moved.",
         "Nothing has moved, but more of the cornea and of the optic is used, and their rims are too strong. "
         f"{outcome}."),
        ("hyperopic", "It measures hyperopic, since the light comes in further out.",
         f"It is the other way round: further out, spherical faces are too strong, not too weak. {outcome}."),
    )  # fmt: skip
    text = (
        f"The lens lies in its place, centred and flat. At dusk, or after drops, the pupil opens from {DAY:g} to "
        f"{pupil:g} mm. An automatic refractor that takes in the whole pupil is read again. What does it say?"
    )
    matters = (
        "It does not matter: the pupil changes the reading by less than 0.1 D."
        if right == "nothing"
        else "It matters: who holds the reading of a wide pupil against the plan will blame the lens's place for what "
        "the pupil did."
    )
    return build(id, text, form, night, f"{outcome}.", scenes=(Scene("By day", day),), matters=matters)


def _aspheric_off(id, off):
    """Ask whether a spherical or an aspheric optic loses more when it lies off centre."""
    lenses = {"spherical": chosen_lens(SPHERICAL), "aspheric": chosen_lens(ASPHERIC)}
    place = {name: patient(lens, NIGHT) for name, lens in lenses.items()}
    moved = {name: patient(lens, NIGHT, x=off) for name, lens in lenses.items()}
    before, after = ({name: reads_at_best(one[name]) for name in lenses} for one in (place, moved))
    lost = {name: logmar_lost(after[name], before[name]) for name in lenses}
    ahead = logmar_lost(after["spherical"], after["aspheric"])
    right = "spherical"
    if lost["aspheric"] > lost["spherical"]:
        right = "still-ahead" if ahead > 0.02 else "behind"
    words = [
        f"{name} in place {row_words(before[name])}, off centre {row_words(after[name])} with {moved[name].coma:.2f} "
        "um of coma"
        for name in lenses
    ]
    outcome = f"With the best glasses: {'; '.join(words)} (coma is a smear to one side)"
    form = pick(
        right,
        ("spherical", "The spherical one loses more: it was the worse lens to begin with.",
         f"It has less to lose. {outcome}."),
        ("behind", "The aspheric one loses more, and is now the worse of the two.",
         f"It does lose more, but it had a lead. {outcome}."),
        ("still-ahead", "The aspheric one loses more, but remains the better of the two.",
         "What it takes away of the cornea's aberration, it takes away at the wrong place once it is off centre. "
         f"{outcome}."),
    )  # fmt: skip
    text = (
        "Two optics of the same power, one with spherical faces, one aspheric, which takes away the blur that the "
        f"cornea's rim makes. Both lie {off:g} mm off centre, the pupil is {NIGHT:g} mm wide. Which loses more, with "
        "the best glasses?"
    )
    scenes = (
        Scene("Aspheric, off centre", moved["aspheric"]),
        Scene("Spherical, off centre", moved["spherical"]),
        Scene("Aspheric, in place", place["aspheric"]),
    )
    matters = judge_sight(moved["aspheric"], place["aspheric"])
    return build(id, text, form, None, f"{outcome}.", scenes=scenes, matters=matters)


def toric_case():
    """Eye with astigmatism, and the toric lens that suits it where the lens should lie."""
    eye = EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=70.0)
    return eye, toric_for(eye, chosen_lens(), planned_pose())


def _toric_turned(id, turn):
    """Ask how much cylinder a toric lens leaves when it is turned."""
    eye, toric = toric_case()
    bare, place = patient(eye=eye), patient(toric, eye=eye)
    turned = patient(toric, eye=eye, roll=planned_pose().roll + turn)
    share = float(turned.cylinder / bare.cylinder)
    right = "angle-share" if share < 0.2 else "third" if share < 0.42 else "half" if share < 0.75 else "all"
    outcome = (
        f"{abs(turned.cylinder):.2f} of {abs(bare.cylinder):.2f} D are left, {100 * share:.0f} %: two cylinders "
        f"crossed at a small angle make 2 sin {turn:g} deg = {2 * np.sin(np.radians(turn)):.2f} of one. At 30 deg "
        "nothing is gained any more"
    )
    form = pick(
        right,
        ("angle-share", f"About {turn:g}/90 of it, in proportion to the angle.",
         f"It is not in proportion to the angle. {outcome}."),
        ("third", "About a third.", f"{outcome}."),
        ("half", "About half.", f"Half is left at some 15 deg. {outcome}."),
        ("all", "All of it: a toric lens that has rotated corrects nothing.", f"That is so at 30 deg. {outcome}."),
    )  # fmt: skip
    text = (
        f"The cornea has {eye.corneal_cylinder:g} D of regular astigmatism, and a toric lens takes it away. Then the "
        f"lens settles rotated by {turn:g} deg, about its own middle. How much of the cylinder is left?"
    )
    scenes = (Scene("Not rotated", place), Scene("A lens that is not toric", bare))
    return build(id, text, form, turned, f"{outcome}.", scenes=scenes, matters=judge_sight(turned, place))


def _deeper(id, axial_length, by):
    """Ask what an eye needs whose lens lies deeper or less deep."""
    sight, lens = with_exact_lens(axial_length, deeper=by), exact_lens(axial_length)
    value, usual = float(sight.M), float(with_exact_lens(EYE.axial_length, deeper=by).M)
    way = "deeper" if by > 0.0 else "less deep"
    wrong = [
        Misconception("turned-sign", -value, "The size is right, the sign is not: a lens further back brings the image "
                                             "together further back."),
        Misconception("nothing", 0.0, "The lens has kept its power, but its place has changed, and the eye sees both."),
    ]  # fmt: skip
    if min(abs(usual - value), abs(usual)) > 0.2:
        hint = (
            f"That is what it costs in an eye of {EYE.axial_length:g} mm; the lens of this one has another power, "
            f"{lens.power:.1f} D."
        )
        wrong.append(Misconception("as-the-usual-eye", usual, hint))
    because = (
        f"The eye needs {signed(value)} D: {way} is {'hyperopic' if value > 0.0 else 'myopic'}, the more so the "
        f"stronger the lens, and this one has {lens.power:.1f} D."
    )
    text = (
        f"An eye of {axial_length:g} mm from cornea to retina, all else as usual. Its lens has just the power, "
        f"{lens.power:.2f} D, that leaves nothing to correct where it was planned, {planned().depth:.2f} mm behind the "
        f"limbal plane, at a {DAY:g} mm pupil. It lies {abs(by):g} mm {way}. What does the eye need at the "
        "cornea, as spherical equivalent, with its sign?"
    )
    reasoning = f"Traced with the lens {abs(by):g} mm {way}: {value:+.3f} D; in the usual eye {usual:+.2f} D."
    return build(id, text, number(value, 0.09, "D", -3.0, 3.0, because, *wrong), sight, reasoning)


def _cylinder(id, axial_length, tilt):
    """Ask for the cylinder that a large tilt leaves."""
    sight, small = with_exact_lens(axial_length, tilt=tilt), with_exact_lens(axial_length, tilt=5.0)
    value, at_five = abs(float(sight.cylinder)), abs(float(small.cylinder))
    form = number(
        value, 0.12, "D", 0.0, 6.0,
        f"{value:.2f} D. At 5 deg it is {at_five:.2f} D: it grows with the square of the tilt.",
        Misconception("in-proportion", at_five * tilt / 5.0,
                      f"In proportion to 5 deg it would be {at_five * tilt / 5.0:.2f} D; but it grows with the square "
                      "of the tilt."),
        Misconception("dioptre-a-degree", tilt / 10.0 * 2.5,
                      "Tilt is not as bad as it looks at the microscope: small tilts cost next to nothing."),
    )  # fmt: skip
    text = (
        f"An eye of {axial_length:g} mm whose lens is tilted by {tilt:g} deg in its planned place. How much cylinder "
        f"does that leave at a {DAY:g} mm pupil? (At 5 deg it is {at_five:.2f} D.)"
    )
    return build(id, text, form, sight, f"Traced: {value:.3f} D.")


@functools.lru_cache(maxsize=256)
def _settled(eye, dip):
    first = Fixation(meridian=0.0, iris_angle=dip)
    return settle(eye, LENS, first, first.opposite())


def _power(id, axial_length, corneal_radius, dip):
    """Ask for the power from the shelf that fits a plan."""
    eye, usual_dip, tolerance = eye_of(axial_length, corneal_radius), Fixation().iris_angle, 0.6 * SHELF
    pose, bag = _settled(eye, dip), float(power_for(eye, LENS, capsule_pose(eye)))
    value = float(power_for(eye, LENS, pose))
    sight = refract(eye, LENS.with_power(on_the_shelf(value)), pose, DAY)
    wrong = [
        Misconception("for-the-capsule", float(on_the_shelf(bag)),
                      f"That is the power for a lens in its capsule, {BAG_DEPTH:g} mm behind the cornea (chosen for "
                      "teaching). Fixed to the sclera by this plan it rests elsewhere."),
        Misconception("for-the-usual-eye", float(on_the_shelf(exact_lens(EYE.axial_length).power)),
                      "That is the lens of the usual eye. This one has another length and another cornea."),
    ]  # fmt: skip
    shallow = float(on_the_shelf(power_for(eye, LENS, _settled(eye, usual_dip))))
    if min(abs(shallow - other) for other in (value, *(one.value for one in wrong))) > 2.0 * tolerance:
        hint = f"That is for needles at {usual_dip:g} deg. At {dip:g} deg the lens rests deeper and has to be stronger."
        wrong.append(Misconception("for-the-usual-dip", shallow, hint))
    because = (
        f"{value:.2f} D would be exact; from the shelf {on_the_shelf(value):.1f} D, which leaves {signed(sight.M)} D."
    )
    text = (
        f"An eye of {axial_length:g} mm with a corneal radius of {corneal_radius:g} mm. Both needles will run at "
        f"{dip:g} deg to the iris plane, tunnels of 2 mm, all else as usual. Which power, in steps of {SHELF:g} D, "
        f"leaves her nearest to 0 D at a {DAY:g} mm pupil?"
    )
    form = number(value, tolerance, "D", 5.0, 34.0, because, *wrong)
    reasoning = f"At {pose.depth:.2f} mm behind the limbal plane {value:.2f} D is sharp; in a capsule {bag:.1f} D."
    return build(id, text, form, sight, reasoning, answer=float(on_the_shelf(value)))


def _toric_marks(id, steep):
    """Ask where the marks of a toric optic have to stand for a steep meridian and a planned resting place."""
    eye, pose = EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=steep), planned_pose()
    lens = toric_for(eye, chosen_lens(), pose)
    value, roll = float(lens.toric_marks % 180.0), float(wrap(pose.roll + 180.0) - 180.0)
    sight = patient(lens, eye=eye)
    form = number(
        value, 2.0, "deg", 0.0, 180.0,
        f"The lens rests with its first haptic's root at {roll:.0f} deg, so the marks stand at {steep:g} - "
        f"({roll:.0f}) = {steep - roll:.0f} deg from the root. {abs(sight.cylinder):.2f} D is left.",
        Misconception("roll-left-out", steep % 180.0,
                      "That would do if the first root lay at 0 deg. The loops rotate the lens on its way to rest: ask "
                      "how it lies (pose.roll)."),
        Misconception("roll-turned-round", (steep + roll) % 180.0,
                      "The rotation has been added where it has to be taken away: marks are counted from the root."),
        Misconception("flat-meridian", (value + 90.0) % 180.0,
                      "Marks show the meridian of least power, and that belongs on the cornea's steep meridian, not "
                      "on its flat one."),
    )  # fmt: skip
    text = (
        f"The cornea is steepest along {steep:g} deg, by {eye.corneal_cylinder:g} D. The lens will be settled by the "
        "usual passes, marks at 0 and 180 deg. Where on its optic do the marks of the toric lens have to stand, "
        "counted from the first haptic's root, counter-clockwise, between 0 and 180 deg?"
    )
    return build(
        id, text, form, sight, f"Steep meridian {steep:g} deg less a rotation of {roll:.0f} deg: {value:.0f} deg."
    )


_CAUSES = {
    "deep": ("deeper", 0.7, "The lens lies {:g} mm deeper than planned.", "deeper is hyperopic"),
    "shallow": ("deeper", -0.7, "The lens lies {:g} mm less deep than planned.", "less deep is myopic"),
    "tilt": ("tilt", 17.0, "The lens is tilted by {:g} deg.", "tilt leaves cylinder above all"),
    "off": ("x", 0.6, "The lens lies {:g} mm off centre.", "shift alone leaves next to nothing"),
}  # fmt: skip
"""What can lie behind a refraction: the quantity that is off, by how much at size 1, its words, and what it does."""


def _by_cause(axial_length, size):
    return {key: with_exact_lens(axial_length, **{_CAUSES[key][0]: _CAUSES[key][1] * size}) for key in _CAUSES}


def _cause(id, axial_length, slip, size):
    """Ask what lies behind a refraction."""
    seen = _by_cause(axial_length, size)
    choices = [
        (key, words.format(round(abs(much * size), 2)), f"That would leave {in_words(seen[key])}: {does}.")
        for key, (_, much, words, does) in _CAUSES.items()
    ]
    text = (
        f"An eye of {axial_length:g} mm had a lens of just the right power. It measures {in_words(seen[slip])} at a "
        f"{DAY:g} mm pupil. Which of these explains it?"
    )
    reasoning = f"Each alone was traced; only one leaves {in_words(seen[slip])}: {slip}."
    return build(id, text, pick(slip, *choices), seen[slip], reasoning)


def _is_unlike(axial_length, slip, size):
    """Whether each of the other causes leaves a refraction that is plainly another."""
    vectors = {key: np.array([one.M, one.J0, one.J45]) for key, one in _by_cause(axial_length, size).items()}
    return min(np.linalg.norm(vectors[slip] - other) for key, other in vectors.items() if key != slip) > 0.3


ITEMS = (
    Item("sight.which-one", "choice", "tell what a patient notices from what the slit lamp shows", "foretell", (),
         _which_one, SIMULATED, shown={"tilt": 5.0, "off": 0.5, "deeper": 0.5}, predicts=True),
    Item("sight.forward", "choice", "foretell the sign of what a wrong depth does", "foretell", (), _forward, SIMULATED,
         shown={"by": 0.5}, predicts=True),
    Item("sight.short-and-long", "choice", "foretell in which eye a wrong depth costs more", "foretell", (),
         _short_and_long, SIMULATED, shown={"short": 21.0, "long": 29.0, "deeper": 0.5}, predicts=True),
    Item("sight.at-night", "choice", "tell what a wide pupil did from what the place of the lens did", "foretell", (),
         _at_night, SIMULATED, shown={"pupil": NIGHT}, predicts=True),
    Item("sight.aspheric-off", "choice", "foretell what a shift costs two kinds of optic", "foretell", (),
         _aspheric_off, SIMULATED, shown={"off": 0.4}, predicts=True),
    Item("sight.toric-turned", "choice", "foretell what a rotated toric lens leaves", "foretell", (), _toric_turned,
         SIMULATED, shown={"turn": 10.0}, predicts=True),
    Item("sight.deeper", "number", "foretell what a wrong depth costs", "foretell",
         (Span("axial_length", "mm", (21.0, 21.5, 22.0, 22.5, 25.0, 25.5, 26.0)),
          Span("by", "mm", (-0.6, -0.5, -0.4, 0.4, 0.5, 0.6))), _deeper, SIMULATED,
         lambda axial_length, by: abs(with_exact_lens(axial_length, deeper=by).M) > 0.2,
         lambda question: are_apart(question, 1.5), shown={"axial_length": 22.0, "by": 0.5}),
    Item("sight.power", "number", "find the power that fits a plan", "foretell",
         (Span("axial_length", "mm", (22.5, 24.5, 25.0, 25.5)), Span("corneal_radius", "mm", (7.6, 7.7, 7.9, 8.0)),
          Span("dip", "deg", (5.0, 10.0, 15.0))), _power, _STEPS, clear=are_apart,
         shown={"axial_length": 25.0, "corneal_radius": 7.9, "dip": 15.0}),
    Item("sight.glasses-fix", "plan", "tell what glasses put right from what they do not", "recognise", (), glasses_fix,
         SIMULATED, shown={}),
    Item("sight.toric-marks", "number", "find where the marks of a toric optic belong", "foretell", (), _toric_marks,
         SIMULATED, shown={"steep": 25.0}),
    Item("sight.plan", "plan", "fit power and iris angle to each other for hands that spread", "design",
         (Span("axial_length", "mm", (23.0, 24.0, 25.0)), Span("corneal_radius", "mm", (7.7, 7.8, 7.9))), plan, _STEPS,
         shown={"axial_length": 24.0, "corneal_radius": 7.8}),
    Item("sight.verdict", "choice", "tell what glasses correct from what they do not", "recognise",
         (Span("axial_length", "mm", (21.0, 23.0)), Span("by", "mm", (-1.0, 0.0, 0.2, 1.0)),
          Span("tilt", "deg", (0.0, 6.0, 22.0)), Span("x", "mm", (0.0, 0.5, 2.4))), verdict,
         "computed by the simulation; two lines and 20/25: chosen for teaching", is_plain_error),
    Item("sight.cylinder", "number", "foretell the cylinder of a large tilt", "foretell",
         (Span("axial_length", "mm", (21.0, 21.5, 22.0, 22.5)), Span("tilt", "deg", (14.0, 15.0, 16.0, 17.0, 18.0))),
         _cylinder, SIMULATED, clear=are_apart),
    Item("sight.cause", "cause", "read from a refraction what lies behind it", "recognise",
         (Span("axial_length", "mm", (21.0, 21.5, 22.0, 22.5, 23.0)), Span("slip", "", tuple(_CAUSES)),
          Span("size", "", (0.9, 1.0, 1.1))), _cause, SIMULATED, _is_unlike),
)  # fmt: skip
