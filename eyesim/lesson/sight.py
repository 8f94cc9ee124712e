"""See what the patient sees: what tilt, shift, depth and a wide pupil cost her; exercises are in `see_exercises`."""

from __future__ import annotations

import numpy as np

from ..sight.choose import toric_for
from .cases import EYE, asked, items_of
from .patient import (
    ASPHERIC,
    DAY,
    NIGHT,
    SPHERICAL,
    chosen_lens,
    loss,
    patient,
    planned_pose,
    reads,
    reads_at_best,
    refraction_words,
    row_words,
    sight_matters,
)
from .question import Choice, Pick, Scene
from .sight_exercises import choose_power, glasses_fix, half_deeper, marks
from .sight_plan import within_half

TILTED, OFF, DEEP = 5.0, 0.5, 0.5
"""[deg], [mm], [mm] What befalls the three patients of the opening vote."""
ASPHERIC_OFF = 0.4
"""[mm] Shift at which the two optics are compared; chosen for teaching."""
SHORT, LONG = 21.0, 29.0
"""[mm] Axial lengths of a short and a long eye; chosen for teaching."""


def which_one(id, kind):
    """Ask which of three patients notices: tilted, off centre, or too deep."""
    seen = {"tilted": patient(tilt=TILTED, tilt_meridian=90.0), "off": patient(x=OFF), "deep": patient(deeper=DEEP)}
    plain = patient()
    lost = {key: loss(reads(sight), reads(plain)) for key, sight in seen.items()}
    told = {key: f"{refraction_words(sight)}, and {row_words(reads(sight))} is read" for key, sight in seen.items()}
    rest = (
        f"Too deep: {told['deep']}. Tilted: {told['tilted']}. Off centre: {told['off']}. In its place: "
        f"{row_words(reads(plain))}."
    )
    form = Pick(
        (
            Choice("tilted", "The first: a tilted lens is what the slit lamp shows at once.",
                   f"The slit lamp shows it, the patient does not see it. {rest}"),
            Choice("off", "The second: she looks through the lens beside its middle.",
                   f"Half a millimetre beside its middle the lens is nearly the same lens. {rest}"),
            Choice("deep", "The third, although nothing is to be seen at the slit lamp.",
                   f"Depth is the error that hides from us and not from her. {rest}"),
            Choice("alike", "All three about alike: each is a small error.",
                   f"They are far from alike. {rest}"),
        ),
        max(lost, key=lost.get),
    )  # fmt: skip
    text = (
        "Three patients, the same eye, the same lens, its power chosen for the place where it should lie. In the "
        f"first it is tilted by {TILTED:g} deg, in the second it lies {OFF:g} mm off centre, in the third {DEEP:g} mm "
        "too deep. Without glasses: which of them will notice?"
    )
    labels = {"deep": "The third: too deep", "tilted": "The first: tilted", "off": "The second: off centre"}
    scenes = (*(Scene(label, seen[key]) for key, label in labels.items()), Scene("As planned", plain))
    return asked(id, kind, text, form, None, rest, scenes=scenes, matter=sight_matters(seen["deep"], plain))


def forward(id, kind):
    """Ask what half a millimetre nearer to the iris does."""
    sight, plain = patient(deeper=-0.5), patient()
    change = sight.M - plain.M
    right = "none" if abs(change) < 0.1 else ("short-sighted" if change < 0 else "long-sighted")
    said = f"The eye now needs {refraction_words(sight)} instead of {refraction_words(plain)}"
    form = Pick(
        (
            Choice("long-sighted", "Long-sighted: the lens lies further from the retina, so it is too weak.",
                   "Further from the retina means more room to bring the light together: the image now lies before "
                   f"the retina, not behind it. {said}."),
            Choice("none", "Nothing to speak of: the power of the lens is the same.",
                   f"The power of the lens is the same, its place is not, and the eye sees both. {said}."),
            Choice("short-sighted", "Short-sighted: the image moves forward with the lens.",
                   f"{said}. Forward is short-sighted, deeper is long-sighted."),
            Choice("cylinder", "Astigmatic: cylinder appears.",
                   f"A lens that is flat and centred has no direction in which to differ: {said}, "
                   f"{abs(sight.cylinder):.2f} D of it cylinder."),
        ),
        right,
    )  # fmt: skip
    text = (
        "The same eye and lens. This time it comes to lie 0.5 mm nearer to the iris than planned, centred and flat. "
        "What has become of the eye?"
    )
    matter = sight_matters(sight, plain)
    return asked(id, kind, text, form, sight, f"{said}.", scenes=(Scene("As planned", plain),), matter=matter)


def short_and_long(id, kind):
    """Ask about the same depth error in a short and in a long eye."""
    shifts, seen = {}, {}
    for length in (SHORT, LONG):
        eye = EYE.but(axial_length=length)
        lens = chosen_lens(eye=eye)
        plain, seen[length] = patient(lens, eye=eye), patient(lens, eye=eye, deeper=DEEP)
        shifts[length] = float(seen[length].M - plain.M)
    times = shifts[SHORT] / shifts[LONG]
    right = (
        "alike" if 0.75 < times < 1.33 else ("long" if times < 1.0 else "short-much" if times > 4.0 else "short-little")
    )
    said = (
        f"{DEEP:g} mm costs {shifts[SHORT]:+.2f} D in the eye of {SHORT:g} mm, whose lens has "
        f"{seen[SHORT].lens.power:.1f} D, and {shifts[LONG]:+.2f} D in that of {LONG:g} mm, whose lens has "
        f"{seen[LONG].lens.power:.1f} D: {times:.0f} times as much"
    )
    form = Pick(
        (
            Choice("alike", "Alike in both: half a millimetre is half a millimetre.",
                   f"The move is the same, the lens that moves is not. {said}."),
            Choice("long", "More in the long eye, since the light has further to go.",
                   f"A long eye has a weak lens, and moving a weak lens does little. {said}."),
            Choice("short-little", "A little more in the short eye, in proportion to the lengths.",
                   f"The order is right, the size is not: what counts is the power of the lens that moves. {said}."),
            Choice("short-much", "Several times as much in the short eye.", f"{said}. A strong lens forgives nothing."),
        ),
        right,
    )  # fmt: skip
    text = (
        f"Two eyes, {SHORT:g} and {LONG:g} mm long. Each has got the lens that suits it, and in each the lens comes to "
        f"lie {DEEP:g} mm too deep. How do the two errors of refraction compare?"
    )
    short = EYE.but(axial_length=SHORT)
    matter = sight_matters(seen[SHORT], patient(chosen_lens(eye=short), eye=short))
    scenes = Scene(f"The eye of {SHORT:g} mm", seen[SHORT]), Scene(f"The eye of {LONG:g} mm", seen[LONG])
    return asked(id, kind, text, form, None, f"{said}.", scenes=scenes, matter=matter)


def at_night(id, kind):
    """Ask what a wide pupil does while nothing moves."""
    day, night = patient(), patient(pupil=NIGHT)
    change = float(night.M - day.M)
    right = "nothing" if abs(change) < 0.1 else ("short-sighted" if change < 0 else "long-sighted")
    said = (
        f"Over the whole pupil the eye now measures {night.M:+.2f} D instead of {day.M:+.2f}; in the middle of the "
        f"pupil it is {night.paraxial.M:+.2f} D. She reads {row_words(reads(night))} instead of "
        f"{row_words(reads(day))}, and with the best glasses {row_words(reads_at_best(night))}"
    )
    form = Pick(
        (
            Choice("nothing", "Nothing: no part of the eye has moved.",
                   "Nothing has moved, but more of the cornea and of the optic is used, and their rims are too "
                   f"strong. {said}."),
            Choice("short-sighted", "The whole pupil measures more short-sighted, its middle does not.",
                   f"Rims of round faces are too strong. {said}."),
            Choice("long-sighted", "It measures long-sighted, since the light comes in further out.",
                   f"It is the other way round: further out, round faces are too strong, not too weak. {said}."),
        ),
        right,
    )  # fmt: skip
    text = (
        f"The lens lies in its place, centred and flat. At dusk, or after drops, the pupil opens from {DAY:g} to "
        f"{NIGHT:g} mm. An automatic refractor that takes in the whole pupil is read again. What does it say?"
    )
    matter = (
        "It matters: who holds the reading of a wide pupil against the plan will blame the lens's place for what the "
        "pupil did."
        if right != "nothing"
        else "It does not matter: the pupil changes the reading by less than 0.1 D."
    )
    return asked(id, kind, text, form, night, f"{said}.", scenes=(Scene("By day", day),), matter=matter)


def aspheric_off(id, kind):
    """Ask whether a spherical or an aspheric optic loses more when it lies off centre."""
    lenses = {"spherical": chosen_lens(SPHERICAL), "aspheric": chosen_lens(ASPHERIC)}
    plain = {name: patient(lens, NIGHT) for name, lens in lenses.items()}
    off = {name: patient(lens, NIGHT, x=ASPHERIC_OFF) for name, lens in lenses.items()}
    lost = {name: loss(reads_at_best(off[name]), reads_at_best(plain[name])) for name in lenses}
    ahead = loss(reads_at_best(off["spherical"]), reads_at_best(off["aspheric"]))
    if lost["aspheric"] <= lost["spherical"]:
        right = "spherical"
    else:
        right = "still-ahead" if ahead > 0.02 else "behind"
    words = [
        f"{name} in place {row_words(reads_at_best(plain[name]))}, off centre {row_words(reads_at_best(off[name]))} "
        f"with {off[name].coma:.2f} um of coma"
        for name in lenses
    ]
    said = f"With the best glasses: {'; '.join(words)} (coma is a smear to one side)"
    form = Pick(
        (
            Choice("spherical", "The spherical one loses more: it was the worse lens to begin with.",
                   f"It has less to lose. {said}."),
            Choice("still-ahead", "The aspheric one loses more, but remains the better of the two.",
                   "What it takes away of the cornea's aberration, it takes away at the wrong place once it is off "
                   f"centre. {said}."),
            Choice("behind", "The aspheric one loses more, and is now the worse of the two.",
                   f"It does lose more, but it had a lead. {said}."),
        ),
        right,
    )  # fmt: skip
    text = (
        "Two optics of the same power, one with round faces, one aspheric, which takes away the blur that the "
        f"cornea's rim makes. Both come to lie {ASPHERIC_OFF:g} mm off centre, the pupil is {NIGHT:g} mm wide. Which "
        "loses more, with the best glasses?"
    )
    scenes = (
        Scene("Aspheric, off centre", off["aspheric"]),
        Scene("Spherical, off centre", off["spherical"]),
        Scene("Aspheric, in place", plain["aspheric"]),
    )
    matter = sight_matters(off["aspheric"], plain["aspheric"])
    return asked(id, kind, text, form, None, f"{said}.", scenes=scenes, matter=matter)


def toric_ten(id, kind):
    """Ask how much cylinder a toric lens leaves when it is turned by 10 degrees."""
    eye, right_lens = toric_case()
    bare, turned = patient(eye=eye), patient(right_lens, eye=eye, roll=planned_pose().roll + 10.0)
    share = float(turned.cylinder / bare.cylinder)
    right = "tenth" if share < 0.2 else "third" if share < 0.42 else "half" if share < 0.75 else "all"
    said = (
        f"{abs(turned.cylinder):.2f} of {abs(bare.cylinder):.2f} D are left, {100 * share:.0f} %: two cylinders "
        f"crossed at a small angle make 2 sin 10 deg = {2 * np.sin(np.radians(10)):.2f} of one. At 30 deg nothing is "
        "gained any more"
    )
    form = Pick(
        (
            Choice("tenth", "About a ninth, as 10 of 90 deg.",
                   f"It does not go with the angle's share of a quarter turn. {said}."),
            Choice("third", "About a third.", f"{said}."),
            Choice("half", "About half.", f"Half is left at some 15 deg. {said}."),
            Choice("all", "All of it: a toric lens that has turned corrects nothing.",
                   f"That is so at 30 deg. {said}."),
        ),
        right,
    )  # fmt: skip
    text = (
        f"The cornea has {eye.corneal_cylinder:g} D of regular astigmatism, and a toric lens takes it away. Then the "
        "lens settles 10 deg turned, about its own middle. How much of the cylinder is left?"
    )
    matter = sight_matters(turned, patient(right_lens, eye=eye))
    scenes = (Scene("Not turned", patient(right_lens, eye=eye)), Scene("A lens that is not toric", bare))
    return asked(id, kind, text, form, turned, f"{said}.", scenes=scenes, matter=matter)


def toric_case():
    """Eye with astigmatism, and the toric lens that suits it where the lens should lie."""
    eye = EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=70.0)
    return eye, toric_for(eye, chosen_lens(), planned_pose())


PREDICTIONS = {
    "which-one": which_one,
    "forward": forward,
    "short-and-long": short_and_long,
    "at-night": at_night,
    "aspheric-off": aspheric_off,
    "toric-ten": toric_ten,
}
EXERCISES = {
    "half-deeper": half_deeper,
    "choose-power": choose_power,
    "glasses-fix": glasses_fix,
    "marks": marks,
    "within-half": within_half,
}
ITEMS = items_of("see", PREDICTIONS, EXERCISES)
