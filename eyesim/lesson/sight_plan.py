"""Nine in ten within half a dioptre: a power and a dip, scored by what many operations leave of the refraction.

Lenses come in steps of half a dioptre, but a dip does not: the dip sets the depth, and the depth can be made to fit
a lens that there is. The best of a table of plans is looked for, and full marks begin at the lower end of its
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
from ..study import Hands, operate
from ..study.estimates import share
from ..text.reading import read_dict, read_number
from .cases import EYE, LENS, asked
from .patient import BAG_DEPTH, DAY, SHELF, moved, on_the_shelf
from .question import Feedback, Plan, Scene

GOAL, WITHIN = 0.90, 0.5
"""[1], [D] Nine in ten within half a dioptre; chosen for teaching."""
DIPS = (5.0, 7.5, 10.0, 12.5, 15.0)
"""[deg] Dips among which the best plan is looked for."""
_PLAN_EYE = EYE.but(axial_length=24.0, corneal_radius=7.8)
_N, _SEED = 2000, 6
_LOWEST, _HIGHEST = 0.0, 25.0  # [deg] of dip


def within_half(id, kind):
    """Ask for a power and a dip with which nine in ten end within half a dioptre."""
    power, dip, best = best_plan()
    full = full_marks()
    form = Plan(
        "Answer with a dict such as {'power': 20, 'iris_angle': 5}.",
        _judge,
    )
    text = (
        f"An eye like es.Eye(axial_length={_PLAN_EYE.axial_length:g}, corneal_radius={_PLAN_EYE.corneal_radius:g}), "
        f"tunnels of 1.5 mm, the usual hands, {_N:,} operations. Choose the power of the lens, in steps of {SHELF:g} "
        f"D, and the dip of both needles, so that as many as can be end within {WITHIN:g} D of sharp, whole pupil, "
        f"{DAY:g} mm. Full marks from {100 * full:.0f} %. (A lens that finds no rest counts as outside.)"
    )
    bag = on_the_shelf(power_for(_PLAN_EYE, LENS, _in_the_capsule()))
    shown = {deg: on_the_shelf(power_for(_PLAN_EYE, LENS, _planned(deg))) for deg in DIPS}
    poorest = min(DIPS, key=lambda deg: _share(shown[deg], deg).value)
    reasoning = (
        f"With {power:g} D and a dip of {dip:g} deg {best.text('.0%')} are within; at {poorest:g} deg the nearest "
        f"lens, {shown[poorest]:g} D, leaves {_share(shown[poorest], poorest).text('.0%')}."
    )
    wrong = {
        "for-the-capsule": {"power": float(bag), "iris_angle": dip},
        "dip-does-not-fit": {"power": float(shown[poorest]), "iris_angle": poorest},
        "next-step": {"power": power + 2 * SHELF, "iris_angle": dip},
    }
    scene = Scene("The plan itself", refract(_PLAN_EYE, LENS.with_power(power), _planned(dip), DAY))
    return asked(
        id,
        kind,
        text,
        form,
        scene.settled,
        reasoning,
        answer={"power": power, "iris_angle": dip},
        wrong=wrong,
        matter="",
    )


@functools.cache
def best_plan():
    """Power [D], dip [deg] and share within, an `Estimate`, of the best plan among `DIPS` and lenses on the shelf."""
    tried = {}
    for dip in DIPS:
        middle = float(on_the_shelf(power_for(_PLAN_EYE, LENS, _planned(dip))))
        for power in (middle - SHELF, middle, middle + SHELF):
            tried[power, dip] = _share(power, dip)
    power, dip = max(tried, key=lambda plan: tried[plan].value)
    return power, dip, tried[power, dip]


def full_marks():
    """Share [1] from which a plan has full marks: in whole per cent, and never above the best plan's interval."""
    return min(GOAL, float(np.floor(100.0 * best_plan()[2].low) / 100.0))


def _judge(answer):
    power, dip = _read(answer)
    near = float(on_the_shelf(power_for(_PLAN_EYE, LENS, _planned(dip))))
    refraction = _refractions(power, dip)
    got, full = _share(power, dip), full_marks()
    mean = float(np.nanmean(refraction))
    head = (
        f"{100 * got.value:.0f} % (95 % interval {100 * got.low:.0f} to {100 * got.high:.0f}) end within {WITHIN:g} D, "
        f"on average at {mean:+.2f} D."
    )
    if got.value >= full:
        return Feedback(True, 1.0, f"{head} The dip was fitted to a lens that there is.")
    credit = float(np.clip(got.value / full, 0.0, 0.99)) ** 2
    if mean < -1.0:
        deeper = _in_the_capsule().depth - _planned(dip).depth
        hint = f"This lens is far too strong for where it rests. It would suit a capsule, {deeper:.1f} mm deeper."
        return Feedback(False, credit, f"{head} {hint}", "for-the-capsule")
    if abs(power - near) > SHELF / 2.0:
        way = "strong" if power > near else "weak"
        hint = f"The lens is too {way} for this dip: first ask which power suits the place where it will rest."
        return Feedback(False, credit, f"{head} {hint}", "next-step")
    hint = (
        "The power is the nearest there is for this dip, but the cloud is not centred on zero. Lenses come in steps; "
        "the dip does not. Change the dip until one of them fits."
    )
    return Feedback(False, credit, f"{head} {hint}", "dip-does-not-fit")


def _read(answer):
    given = read_dict(answer, ["power", "iris_angle"], "{'power': 20, 'iris_angle': 5}")
    if set(given) != {"power", "iris_angle"}:
        raise LearnerError("Both are asked for: {'power': 20, 'iris_angle': 5}.")
    power, dip = read_number(given["power"], "D"), read_number(given["iris_angle"], "deg")
    if not 5.0 <= power <= 34.0 or abs(power / SHELF - round(power / SHELF)) > 1e-9:
        raise LearnerError(f"The shelf has lenses from 5 to 34 D in steps of {SHELF:g} D; {power:g} D was given.")
    if not _LOWEST <= dip <= _HIGHEST:
        raise LearnerError(f"Sensible dips lie between {_LOWEST:g} and {_HIGHEST:g} deg; {dip:g} deg was given.")
    return power, dip


def _passes(dip):
    first = Fixation(meridian=0.0, iris_angle=dip, tunnel_length=1.5)
    return first, first.opposite()


@functools.lru_cache(maxsize=64)
def _planned(dip):
    return settle(_PLAN_EYE, LENS, *_passes(dip))


def _in_the_capsule():
    return moved(_planned(DIPS[0]), z=_PLAN_EYE.limbal_depth - BAG_DEPTH - LENS.optic_thickness / 2.0)


@functools.lru_cache(maxsize=32)
def _poses(dip):
    return operate(_PLAN_EYE, LENS, *_passes(dip), Hands(), n=_N, rng=_SEED, progress=False).pose


def _refractions(power, dip):
    return refract(_PLAN_EYE, LENS.with_power(power), _poses(dip), DAY).M


def _share(power, dip):
    """Share of all operations that end within, an `Estimate`; what found no rest counts as outside."""
    return share(int(np.sum(np.abs(_refractions(power, dip)) <= WITHIN)), _N)
