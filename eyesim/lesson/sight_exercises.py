"""Exercises of the lesson on sight: a refraction, a power, what glasses mend, and where toric marks belong."""

from __future__ import annotations

from ..eye.checks import LearnerError
from ..eye.frames import wrap
from ..hold.needle import Fixation
from ..hold.settle import settle
from ..sight.choose import power_for, toric_for
from ..sight.refract import refract
from .cases import EYE, LENS, asked
from .patient import (
    BAG_DEPTH,
    DAY,
    SHELF,
    chosen_lens,
    loss,
    moved,
    on_the_shelf,
    patient,
    planned_pose,
    reads,
    reads_at_best,
    row_words,
    rows_lost,
)
from .question import Feedback, Misconception, Number, Plan, Scene

FINDINGS_PUPIL = 4.0
"""[mm] Pupil at which the four findings are read."""
_FINDINGS_EYE = EYE.but(axial_length=21.0)  # a strong lens makes tilt and shift plain


def half_deeper(id, kind):
    """Ask what an eye of 22 mm needs in glasses when its lens lies half a millimetre deeper."""
    eye, pose = EYE.but(axial_length=22.0), planned_pose()
    lens = LENS.with_power(power_for(eye, LENS, pose))
    sight = refract(eye, lens, moved(pose, deeper=0.5), DAY)
    usual = LENS.with_power(power_for(EYE, LENS, pose))
    same = float(refract(EYE, usual, moved(pose, deeper=0.5), DAY).M)
    value = float(sight.M)
    form = Number(
        value, 0.08, "D", -2.0, 2.0,
        f"The eye needs {value:+.2f} D: deeper is long-sighted, and more so in a short eye, whose lens is strong "
        f"({lens.power:.1f} D).",
        (
            Misconception("turned-sign", -value, "The size is right, the sign is not: a lens that lies deeper brings "
                                                 "the image together behind the retina."),
            Misconception("as-the-usual-eye", same,
                          f"That is what it costs in an eye of {EYE.axial_length:g} mm. This one is shorter, and its "
                          "lens stronger."),
            Misconception("nothing", 0.0, "The power of the lens has not changed, but its place has, and the eye sees "
                                          "both."),
        ),
    )  # fmt: skip
    text = (
        f"An eye like es.Eye(axial_length={eye.axial_length:g}). Its lens has just the power, {lens.power:.2f} D, that "
        f"leaves nothing to correct {pose.depth:.2f} mm behind the limbal plane, at a {DAY:g} mm pupil. It came to lie "
        "0.5 mm deeper. What does the eye need, as spherical equivalent at the cornea (with its sign)?"
    )
    reasoning = f"Traced with the lens 0.5 mm deeper: {value:+.3f} D; in the usual eye {same:+.2f} D."
    return asked(id, kind, text, form, sight, reasoning, matter="")


def choose_power(id, kind):
    """Ask for the power from the shelf for a given eye and a planned resting place."""
    eye = EYE.but(axial_length=25.0, corneal_radius=7.9)
    first = Fixation(meridian=0.0, iris_angle=15.0)
    pose = settle(eye, LENS, first, first.opposite())
    value = float(power_for(eye, LENS, pose))
    half = LENS.optic_thickness / 2.0
    bag = float(power_for(eye, LENS, moved(pose, z=eye.limbal_depth - BAG_DEPTH - half)))
    shallow = settle(eye, LENS, first.but(iris_angle=5.0), first.opposite(iris_angle=5.0))
    seen = refract(eye, LENS.with_power(on_the_shelf(value)), pose, DAY)
    form = Number(
        value, SHELF / 2.0, "D", 5.0, 30.0,
        f"{value:.2f} D would be exact; from the shelf {on_the_shelf(value):.1f} D, which leaves {seen.M:+.2f} D. The "
        f"lens rests with a chamber depth of {seen.chamber_depth:.2f} mm after the operation.",
        (
            Misconception("for-the-capsule", on_the_shelf(bag),
                          f"That is the power for a lens in its capsule, some {BAG_DEPTH:g} mm behind the cornea. "
                          "Fixed to the wall by this plan the lens rests further forward, and would make the eye "
                          "short-sighted."),
            Misconception("for-the-usual-dip", on_the_shelf(float(power_for(eye, LENS, shallow))),
                          "That is for needles at 5 deg. At 15 deg the lens rests deeper and has to be stronger."),
            Misconception("for-the-usual-eye", float(chosen_lens().power),
                          "That is the lens of the usual eye. This one is longer and its cornea flatter."),
        ),
    )  # fmt: skip
    text = (
        f"An eye like es.Eye(axial_length={eye.axial_length:g}, corneal_radius={eye.corneal_radius:g}). Both needles "
        f"will dip 15 deg, tunnels of 2 mm, all else as usual. Which power, in steps of {SHELF:g} D, leaves her "
        f"nearest to 0 D at a {DAY:g} mm pupil?"
    )
    reasoning = (
        f"Settled {pose.depth:.2f} mm behind the limbal plane, there {value:.2f} D is sharp; in a capsule {bag:.1f} D."
    )
    return asked(id, kind, text, form, seen, reasoning, answer=float(on_the_shelf(value)), matter="")


def finding(eye=_FINDINGS_EYE, **changes):
    """Trace the eye of the findings, its lens moved as `moved` says; in its place if nothing is said."""
    return patient(chosen_lens(eye=_FINDINGS_EYE), FINDINGS_PUPIL, eye, **changes)


def findings():
    """Four findings after an operation, all at the same pupil: letter to words, and to what the patient sees."""
    wound = _FINDINGS_EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=30.0)
    return {
        "a": ("the lens lies 1.5 mm too deep", finding(deeper=1.5)),
        "b": ("the lens is tilted by 15 deg and 1 mm off centre, both towards 0 deg", finding(tilt=15.0, x=1.0)),
        "c": ("the lens is in place, a tight corneal wound makes 2 D of regular astigmatism", finding(wound)),
        "d": ("the lens lies 2.5 mm off centre", finding(x=2.5)),
    }


def glasses_fix(id, kind):
    """Ask which of four findings glasses put right."""
    plain, found = finding(), findings()
    right = mended(plain, found)
    form = Plan(
        'Answer with the letters of those that glasses put right, in quotes, such as "bd"; with "none" or "abcd" if it '
        "is none or all.",
        lambda answer: _judge_mended(answer, plain, found),
    )
    listed = "; ".join(f"({letter}) {words}" for letter, (words, _) in found.items())
    text = (
        f"Four findings in eyes of {_FINDINGS_EYE.axial_length:g} mm at a {FINDINGS_PUPIL:g} mm pupil: {listed}. Which "
        "of them do glasses put right, so that with the best glasses she reads at most one row less than with the lens "
        "in its place?"
    )
    uncorrected = {letter: loss(reads(sight), reads(plain)) for letter, (_, sight) in found.items()}
    mildest = "".join(sorted(sorted(uncorrected, key=uncorrected.get)[:2]))
    wrong = {"everything": "abcd", "nothing": "none", "mildest-without-glasses": mildest}
    reasoning = " ".join([*(_told(letter, sight) for letter, (_, sight) in found.items()), _in_place(plain)])
    scenes = tuple(Scene(f"({letter})", found[letter][1]) for letter in "bcd")
    return asked(
        id, kind, text, form, found["a"][1], reasoning, scenes=scenes, answer=right or "none",
        wrong={name: answer for name, answer in wrong.items() if answer != (right or "none")}, matter="",
    )  # fmt: skip


def mended(plain, found):
    """Letters of the findings with which, by the best glasses, at most one row of the chart is lost."""
    goal = reads_at_best(plain)
    return "".join(letter for letter, (_, sight) in found.items() if rows_lost(reads_at_best(sight), goal) <= 1)


def _judge_mended(answer, plain, found):
    if not isinstance(answer, str):
        raise LearnerError('Letters in quotes are wanted, such as "bd"; something else was given.')
    given = answer.casefold().replace(",", "").replace(" ", "")
    given = "" if given == "none" else given
    if set(given) - set(found) or len(set(given)) != len(given) or (not given and answer.strip().casefold() != "none"):
        raise LearnerError(
            f'Letters from a to d are wanted, each once, such as "bd", or "none"; {answer[:40]!r} was given.'
        )
    right = mended(plain, found)
    agreed = [letter for letter in found if (letter in given) == (letter in right)]
    if len(agreed) == len(found):
        told = " ".join(_told(letter, sight) for letter, (_, sight) in found.items())
        why = "Sphere and regular cylinder go into glasses; coma, and light that misses the optic, do not."
        return Feedback(True, 1.0, f"{told} {_in_place(plain)} {why}")
    share = max(0.0, len(agreed) / len(found) - 0.25)
    uncorrected = {letter: loss(reads(sight), reads(plain)) for letter, (_, sight) in found.items()}
    mildest = set(sorted(uncorrected, key=uncorrected.get)[:2])
    if len(given) == len(found):
        return Feedback(False, share, "Not everything: glasses give sphere and cylinder. What varies within the "
                                      "pupil, and "
                                      "light beside the optic, they cannot reach.", "everything")  # fmt: skip
    if not given:
        return Feedback(False, share, "Glasses can do more: a wrong depth, or a regular cylinder of any size, is just "
                                      "what they are made for.", "nothing")  # fmt: skip
    if set(given) == mildest:
        return Feedback(False, share, "These are the two that read most without glasses. How bad it is without "
                                      "glasses says "
                                      "nothing about what glasses can do.", "mildest-without-glasses")  # fmt: skip
    return Feedback(False, share, f"{len(agreed)} of {len(found)} are judged rightly. Ask of each: is it sphere or "
                                  "regular cylinder, the same all over the pupil?")  # fmt: skip


def _told(letter, sight):
    return f"({letter}) {row_words(reads(sight))} without, {row_words(reads_at_best(sight))} with glasses."


def _in_place(plain):
    return f"With the lens in its place she reads {row_words(reads(plain))}."


def marks(id, kind):
    """Ask where the marks of a toric optic have to stand for a steep meridian and a planned resting place."""
    eye = EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=25.0)
    pose = planned_pose()
    lens = toric_for(eye, chosen_lens(), pose)
    value, roll = float(lens.toric_marks % 180.0), float(wrap(pose.roll + 180.0) - 180.0)
    steep = float(eye.corneal_steep_meridian)
    sight = patient(lens, eye=eye)
    form = Number(
        value, 2.0, "deg", 0.0, 180.0,
        f"The lens rests with its first haptic's root at {roll:.0f} deg, so the marks stand at {steep:g} - "
        f"({roll:.0f}) = {steep - roll:.0f} deg from the root. {abs(sight.cylinder):.2f} D is left.",
        (
            Misconception("roll-left-out", steep % 180.0,
                          "That would do if the first root lay at 0 deg. The loops turn the lens on its way to rest: "
                          "ask where it comes to lie (pose.roll)."),
            Misconception("roll-turned-round", (steep + roll) % 180.0,
                          "The roll has been added where it has to be taken away: marks are counted from the root."),
            Misconception("flat-meridian", (value + 90.0) % 180.0,
                          "Marks show the meridian of least power, and that belongs on the cornea's steep meridian, "
                          "not on its flat one."),
        ),
    )  # fmt: skip
    text = (
        f"The cornea is steepest along {steep:g} deg, by {eye.corneal_cylinder:g} D. The lens will be settled by the "
        "usual passes, marks at 0 and 180 deg. Where on its optic do the marks of the toric lens have to stand, "
        "counted from the first haptic's root, counter-clockwise, between 0 and 180 deg?"
    )
    reasoning = f"Steep meridian {steep:g} deg less a roll of {roll:.0f} deg: {value:.0f} deg from the root."
    return asked(id, kind, text, form, sight, reasoning, matter="")
