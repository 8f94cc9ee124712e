"""What glasses correct and what they do not: four findings, and a verdict on what a patient reads."""

from __future__ import annotations

import functools

from ..eye.checks import LearnerError
from ..sight.refraction import in_words
from ..study.sight_verdict import judge_sight, logmar_lost, reads, reads_at_best, row_words, rows_lost
from .build import EYE, build, partly, pick
from .patient import DAY, chosen_lens, patient, with_exact_lens
from .question import Feedback, Plan, Scene

FINDINGS_PUPIL = 4.0
"""[mm] Pupil at which the four findings are read."""
_FINDINGS_EYE = EYE.but(axial_length=21.0)  # a strong lens makes tilt and shift plain


def finding(eye=_FINDINGS_EYE, **changes):
    """Trace the eye of the findings.

    Parameters
    ----------
    eye : Eye
    **changes
        How its lens lies otherwise than planned, as for `moved`.
    """
    return patient(chosen_lens(eye=_FINDINGS_EYE), FINDINGS_PUPIL, eye, **changes)


@functools.cache
def findings():
    """Four findings after an operation, all at the same pupil: letter to words, and to what the patient sees."""
    wound = _FINDINGS_EYE.but(corneal_cylinder=2.0, corneal_steep_meridian=30.0)
    return {
        "a": ("the lens lies 1.5 mm too deep", finding(deeper=1.5)),
        "b": ("the lens is tilted by 15 deg and 1 mm off centre, both towards 0 deg", finding(tilt=15.0, x=1.0)),
        "c": ("the lens is in place, a tight corneal wound makes 2 D of regular astigmatism", finding(wound)),
        "d": ("the lens lies 2.5 mm off centre", finding(x=2.5)),
    }


@functools.cache
def corrected():
    """Letters of the findings with which, by the best glasses, at most one row of the chart is lost."""
    goal = reads_at_best(finding())
    return "".join(letter for letter, (_, sight) in findings().items() if rows_lost(reads_at_best(sight), goal) <= 1)


@functools.cache
def _mildest():
    """Letters of the two findings that read most without glasses."""
    goal = reads(finding())
    uncorrected = {letter: logmar_lost(reads(sight), goal) for letter, (_, sight) in findings().items()}
    return "".join(sorted(sorted(uncorrected, key=uncorrected.get)[:2]))


def _findings_words():
    each = [
        f"({letter}) {row_words(reads(sight))} without, {row_words(reads_at_best(sight))} with glasses."
        for letter, (_, sight) in findings().items()
    ]
    return f"{' '.join(each)} With the lens in its place she reads {row_words(reads(finding()))}."


def glasses_fix(id):
    """Ask which of four findings glasses put right."""
    right = corrected() or "none"
    form = Plan(
        'Answer with the letters of those that glasses put right, in quotes, such as "bd"; with "none" or "abcd" if it '
        "is none or all.",
        _judge_findings,
    )
    text = (
        f"Four findings in eyes of {_FINDINGS_EYE.axial_length:g} mm at a {FINDINGS_PUPIL:g} mm pupil: "
        f"{'; '.join(f'({letter}) {words}' for letter, (words, _) in findings().items())}. Which of them do glasses "
        "put right, so that with the best glasses she reads at most one line less than with the lens in its place?"
    )
    wrong = {"everything": "abcd", "nothing": "none", "mildest-without-glasses": _mildest()}
    wrong = {name: answer for name, answer in wrong.items() if answer != right}
    (_, sight), *others = findings().values()
    scenes = [Scene(f"({letter})", other) for letter, (_, other) in zip("bcd", others, strict=True)]
    return build(id, text, form, sight, _findings_words(), label="(a)", scenes=scenes, answer=right, wrong=wrong)


def _read_letters(answer):
    if not isinstance(answer, str):
        raise LearnerError('Letters in quotes are wanted, such as "bd"; something else was given.')
    given = answer.casefold().replace(",", "").replace(" ", "")
    if given == "none":
        return ""
    if not given or set(given) - set(findings()) or len(set(given)) != len(given):
        raise LearnerError(
            f'Letters from a to d are wanted, each once, such as "bd", or "none"; {answer[:40]!r} was given.'
        )
    return given


def _judge_findings(answer):
    given, letters = _read_letters(answer), list(findings())
    agreed = [letter for letter in letters if (letter in given) == (letter in corrected())]
    if agreed == letters:
        why = "Sphere and regular cylinder go into glasses; coma, and light that misses the optic, do not."
        return Feedback(True, 1.0, f"{_findings_words()} {why}")
    credit = max(0.0, len(agreed) / len(letters) - 0.25)
    if len(given) == len(letters):
        words = (
            "Not everything: glasses give sphere and cylinder. What varies within the pupil, and light beside the "
            "optic, they cannot reach."
        )
        return partly(credit, words, "everything")
    if not given:
        words = "Glasses can do more: a wrong depth, or a regular cylinder of any size, is just what they are made for."
        return partly(credit, words, "nothing")
    if set(given) == set(_mildest()):
        words = (
            "These are the two that read most without glasses. How bad it is without glasses says nothing about what "
            "glasses can do."
        )
        return partly(credit, words, "mildest-without-glasses")
    words = (
        f"{len(agreed)} of {len(letters)} are judged rightly. Ask of each: is it sphere or regular cylinder, the same "
        "all over the pupil?"
    )
    return partly(credit, words)


def verdict(id, axial_length, by, tilt, x):
    """Ask whether glasses are needed, help, or do not.

    Parameters
    ----------
    id : str
    axial_length, by, tilt, x : float [mm], [mm], [deg], [mm]
        Of the eye; and how much deeper, tilted and off centre its lens lies.
    """
    sight = with_exact_lens(axial_length, by, tilt, x)
    judged = judge_sight(sight, with_exact_lens(axial_length))
    outcome = f"{in_words(sight)}; {judged}"
    form = pick(
        _what_helps(judged),
        ("nothing", "Nothing that matters for reading.",
         f"Whether it matters is not seen at the microscope but read from the chart: {outcome}"),
        ("glasses", "It matters, and glasses correct it.",
         f"Glasses give sphere and regular cylinder, and that is what a wrong depth leaves: {outcome}"),
        ("not-mended", "It matters, and glasses do not correct it.",
         f"What varies within the pupil, coma above all, no glasses reach: {outcome}"),
    )  # fmt: skip
    parts = [f"{abs(by):g} mm {'deeper' if by > 0.0 else 'less deep'} than planned"] if by else []
    parts += [f"tilted by {tilt:g} deg"] if tilt else []
    parts += [f"{x:g} mm off centre"] if x else []
    text = (
        f"An eye of {axial_length:g} mm, its lens of just the right power for its planned place. The lens lies "
        f"{' and '.join(parts)}. What does that mean for her reading, at a {DAY:g} mm pupil? (It matters if two lines "
        "of the chart are lost and less than 20/25 is left: chosen for teaching.)"
    )
    return build(id, text, form, sight, outcome)


def _what_helps(judged):
    return "not-mended" if judged.beyond_glasses else "glasses" if judged.without_glasses else "nothing"


@functools.lru_cache(maxsize=256)
def is_plain_error(axial_length, by, tilt, x):
    """Whether the verdict on a single error would be the same a little further off, and a little less.

    Parameters
    ----------
    axial_length, by, tilt, x
        As for `verdict`.
    """
    if sum(bool(error) for error in (by, tilt, x)) != 1:
        return False
    plain = with_exact_lens(axial_length)
    near = (with_exact_lens(axial_length, by * f, tilt * f, x * f) for f in (0.93, 1.0, 1.07))
    return len({_what_helps(judge_sight(sight, plain)) for sight in near}) == 1
