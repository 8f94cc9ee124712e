"""Fit power and dip to each other: a plan, scored by what many operations leave of the refraction.

Lenses come in steps of half a dioptre, but a dip does not: the dip sets the depth, and the depth can be made to fit
a lens that exists. The best of a table of plans is looked for, and full marks begin at the lower end of its
interval, or at nine in ten if that is less.
"""

from __future__ import annotations

import functools

import numpy as np

from ..eye.checks import LearnerError
from ..hold.needle import Fixation
from ..hold.settle import settle
from ..sight.choose import power_for
from ..sight.refract import refract
from ..sight.refraction import signed
from ..study import Hands, operate
from ..study.estimates import share
from .build import EYE, LENS, build, partly, read_plan
from .patient import DAY, SHELF, capsule_pose, on_the_shelf
from .question import Feedback, Plan

GOAL, WITHIN = 0.90, 0.5
"""[1], [D] Nine in ten within half a dioptre; chosen for teaching."""
DIPS = (0.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0)
"""[deg] Dips among which the best plan is looked for."""
OPERATIONS = 500
_EXAMPLE = "{'power': 30, 'iris_angle': 20}"


def plan(id, axial_length, corneal_radius):
    """Ask for power and iris angle with which most eyes end near what was meant.

    Parameters
    ----------
    id : str
    axial_length, corneal_radius : float [mm]
    """
    eye = EYE.but(axial_length=axial_length, corneal_radius=corneal_radius)
    (power, dip), best = best_plan(eye)
    form = Plan(
        f"Answer with the power [D] and the angle of both needles to the iris plane [deg], such as {_EXAMPLE}.",
        functools.partial(_judge, eye),
        {"power": "Power [D]", "iris_angle": "Angle to the iris plane [deg]"},
    )
    text = (
        f"An eye of {axial_length:g} mm with a corneal radius of {corneal_radius:g} mm; tunnels of 1.5 mm, the usual "
        f"hands, {OPERATIONS} operations. Choose the power, in steps of {SHELF:g} D, and the angle of both needles "
        f"to the iris plane so that as many as can be end within {WITHIN:g} D of sharp, whole pupil, {DAY:g} mm. Full "
        f"marks from {100 * full_marks(eye):.0f} %. (A lens that finds no rest counts as outside.)"
    )
    wrong = {
        "for-the-capsule": {"power": capsule_power(eye), "iris_angle": dip},
        "not-for-this-dip": {"power": power - 2.0 * SHELF, "iris_angle": dip},
    }
    poorest = min(DIPS, key=lambda dip: share_within(eye, nearest_power(eye, dip), dip).value)
    left = share_within(eye, nearest_power(eye, poorest), poorest)
    if left.value < full_marks(eye):
        wrong["dip-does-not-fit"] = {"power": nearest_power(eye, poorest), "iris_angle": poorest}
    reasoning = (
        f"With {power:g} D and an angle of {dip:g} deg {best.text('.1%')} end within: the angle was fitted to a "
        f"lens that exists. At {poorest:g} deg the nearest one, {nearest_power(eye, poorest):g} D, leaves "
        f"{left.text('.1%')}."
    )
    sight = refract(eye, LENS.with_power(power), _planned(eye, dip), DAY)
    return build(id, text, form, sight, reasoning, answer={"power": power, "iris_angle": dip}, wrong=wrong)


@functools.cache
def best_plan(eye):
    """Best plan among `DIPS`, each with its nearest lens: its power [D] and dip [deg], and its share, an `Estimate`."""
    tried = {(nearest_power(eye, dip), dip): share_within(eye, nearest_power(eye, dip), dip) for dip in DIPS}
    best = max(tried, key=lambda plan: tried[plan].value)
    return best, tried[best]


def full_marks(eye):
    """Share [1] from which a plan has full marks: in whole per cent, and never above the best plan's interval."""
    return min(GOAL, float(np.floor(100.0 * best_plan(eye)[1].low) / 100.0))


@functools.lru_cache(maxsize=128)
def nearest_power(eye, dip):
    """Power [D] from the shelf that is nearest for a dip.

    Parameters
    ----------
    eye : Eye
    dip : float [deg]
    """
    return float(on_the_shelf(power_for(eye, LENS, _planned(eye, dip))))


@functools.cache
def capsule_power(eye):
    """Power [D] from the shelf for a lens in its capsule."""
    return float(on_the_shelf(power_for(eye, LENS, capsule_pose(eye))))


def share_within(eye, power, dip):
    """Share of all operations that end within, an `Estimate`; what found no rest counts as outside.

    Parameters
    ----------
    eye : Eye
    power : float [D]
    dip : float [deg]
    """
    with np.errstate(invalid="ignore"):
        return share(int(np.sum(np.abs(_refractions(eye, power, dip)) <= WITHIN)), OPERATIONS)


@functools.lru_cache(maxsize=1024)
def _refractions(eye, power, dip):
    return refract(eye, LENS.with_power(power), _operated(eye, dip), DAY).M


@functools.lru_cache(maxsize=128)
def _operated(eye, dip):
    return operate(eye, LENS, *_passes(dip), Hands(), n=OPERATIONS, rng=6, progress=False).pose


@functools.lru_cache(maxsize=128)
def _planned(eye, dip):
    return settle(eye, LENS, *_passes(dip))


def _passes(dip):
    first = Fixation(meridian=0.0, iris_angle=dip, tunnel_length=1.5)
    return first, first.opposite()


def _judge(eye, answer):
    power, dip = read_plan(answer, ("power", "iris_angle"), ("D", "deg"), _EXAMPLE)
    if not 5.0 <= power <= 34.0 or abs(power / SHELF - round(power / SHELF)) > 1e-9:
        raise LearnerError(f"The shelf has lenses from 5 to 34 D in steps of {SHELF:g} D; {power:g} D was given.")
    if not 0.0 <= dip <= 25.0:
        raise LearnerError(f"Sensible angles to the iris plane lie between 0 and 25 deg; {dip:g} deg was given.")
    got, full = share_within(eye, power, dip), full_marks(eye)
    mean = float(np.nanmean(_refractions(eye, power, dip)))
    head = f"{got.text('.1%')} end within {WITHIN:g} D, on average at {signed(mean)} D."
    if got.value >= full:
        return Feedback(True, 1.0, f"{head} The angle was fitted to a lens that exists.")
    credit = (got.value / full) ** 2
    if power == capsule_power(eye):
        deeper = float(_planned(eye, dip).z - capsule_pose(eye).z)
        hint = f"This lens would suit a capsule, {deeper:.1f} mm further back; it is too strong for where it rests."
        return partly(credit, f"{head} {hint}", "for-the-capsule")
    if abs(power - nearest_power(eye, dip)) > SHELF / 2.0:
        way = "strong" if mean < 0.0 else "weak"
        hint = f"The lens is too {way} for this angle: first ask which power suits the place where it will rest."
        return partly(credit, f"{head} {hint}", "not-for-this-dip")
    hint = (
        "The power is the nearest there is for this angle, but the cloud is not centred on zero. Lenses come in steps, "
        "the angle does not: change it until one of them fits."
    )
    return partly(credit, f"{head} {hint}", "dip-does-not-fit")
