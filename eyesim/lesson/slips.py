"""Which slip was it? Questions in which a lens was found somewhere, and one thing went wrong on the second side."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable

import numpy as np

from ..eye.frames import direction_words
from ..hold.rest import Settled
from .build import FIRST, build, pick, planned, pose_of, pose_words

_APART = 3.0  # between what two slips leave, as `_nearest` counts; chosen for teaching


@dataclasses.dataclass(frozen=True)
class Slip:
    """One thing that can have gone wrong on the second side.

    Attributes
    ----------
    change : callable
        From a size [1] to the fields of the pass that are then other than planned.
    words : str
        How it is called, with a gap for how much.
    much : float
        How much it is at size 1.
    does : str
        What it does to a lens, with a gap for where the lens then lies.
    """

    change: Callable[[float], dict]
    words: str
    much: float
    does: str


def examination_words(pose):
    """Say where a lens was found, as one who examines the eye would: place, lean and depth."""
    lean = f"; its edge lies deepest at {direction_words(pose.tilt_meridian)}" if pose.tilt >= 0.5 else ""
    return f"{pose_words(pose)}{lean}; {pose.depth:.2f} mm behind the limbal plane (planned: {planned().depth:.2f})"


@functools.cache
def _pose_after(slip, size):
    return pose_of(second=slip.change(size))


def _nearest(pose, candidates):
    """Key of the candidate whose lens lies most like this one, and how clearly so [1]: the distance of the next one.

    Shift [0.1 mm], tilt [1 deg] and depth [0.1 mm] count alike; chosen for teaching.
    """
    away = {key: _distance(pose, other) for key, other in candidates.items()}
    first, second = sorted(away, key=away.get)[:2]
    return first, away[second]


def _distance(one, other):
    place = np.array([one.x - other.x, one.y - other.y, one.z - other.z], float) / 0.1
    lean = np.degrees(np.asarray(one.normal)[..., :2] - np.asarray(other.normal)[..., :2])
    return float(np.hypot(np.linalg.norm(place), np.linalg.norm(lean)))


def which_slip(id, slips, slip, size, text, *, say=examination_words):
    """Ask which of several slips left the lens as it was found.

    Parameters
    ----------
    id : str
    slips : dict of str to Slip
    slip : str
        The one that it was.
    size : float [1]
    text : str
        With a gap for where the lens was found.
    say : callable
        From a pose to words: how each slip's lens is described.
    """
    pose = _pose_after(slips[slip], size)
    others = {name: _pose_after(other, size) for name, other in slips.items()}
    right, _ = _nearest(pose, others)
    choices = [
        (name, other.words.format(round(size * other.much, 2)), other.does.format(say(others[name])))
        for name, other in slips.items()
    ]
    words = slips[right].words.format(round(size * slips[right].much, 2))
    reasoning = f"Each was simulated by itself; only one leaves the lens there. {words}"
    return build(id, text.format(examination_words(pose)), pick(right, *choices), pose, reasoning)


def is_recognisable(slips, slip, size):
    """Whether it is plain which of several slips it was.

    Parameters
    ----------
    slips : dict of str to Slip
    slip : str
        The one that it was.
    size : float [1]
    """
    poses = {name: _pose_after(other, size) for name, other in slips.items()}
    return _nearest(poses[slip], poses)[1] > _APART


@functools.cache
def shifted_lens(x, y) -> Settled:
    """Pose of a lens that came to lie off centre, nearly flat, after errors of a mark and of externalised lengths.

    Parameters
    ----------
    x, y : float [mm]
    """
    from scipy.optimize import fsolve

    def lens(values):
        turn, more = map(float, values)
        return pose_of({"meridian": turn, "outside": FIRST.outside + more}, {"outside": FIRST.outside - more})

    return lens(fsolve(lambda values: [lens(values).x - x, lens(values).y - y], (0.0, 0.0), epsfcn=1e-4))
