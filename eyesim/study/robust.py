"""A plan that these hands can keep: of many plans, the one that leaves most lenses within limits.

All plans are tried on the same draws of chance, one quantity after another from several starts, then the best of each
way are tried once more on many new draws. What is best for one pair of hands need not be for another.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from ..eye.checks import LearnerError, known_name, must_be, number, plain_errors, short
from ..eye.progress import progress_bar
from ..hold.needle import Fixation
from .compare import share_gained
from .estimates import Estimate
from .operate import check, operate
from .outcomes import Outcomes
from .random_numbers import seed_of
from .verdict import DECENTRATION_LIMIT, TILT_LIMIT

WAYS = {
    "flange, chosen tunnel": {"exit_angle": None, "tunnel_length": 2.0, "outside": 0.8},
    "flange, end turned in": {"exit_angle": 45.0, "tunnel_length": 2.0, "outside": 0.8},
    "flange, straight through": {"exit_angle": None, "tunnel_length": None, "outside": 0.8, "iris_angle": 14.0},
    "slit and tuck": {"exit_angle": None, "tunnel_length": 2.0, "outside": 2.5},
}
"""Ways to fix a haptic, each as changes of a `Fixation` from which the search starts; the split is chosen for
teaching. A tuck keeps more haptic outside the eye, in a slit of the wall, than a flange does."""
_VALUES = {
    "limbus_distance": np.arange(1.5, 3.01, 0.25),  # nearer lies what bleeds; common practice, no source
    "limbus_angle": np.arange(10.0, 41.0, 5.0),
    "iris_angle": np.arange(0.0, 22.1, 2.0),
    "tunnel_length": np.arange(1.0, 3.51, 0.25),
    "exit_angle": np.arange(20.0, 81.0, 10.0),
    "outside": {"flange": np.arange(0.5, 1.51, 0.25), "slit": np.arange(2.0, 3.51, 0.25)},
}
_SWEEPS = 3
_GUESS = 150  # plans of one way, as they are usually tried
_FEW = 256  # operations by which plans are sifted


@dataclasses.dataclass(frozen=True, repr=False)
class TriedPlan:
    """One plan that was tried with these hands.

    Attributes
    ----------
    way : str
        A key of `WAYS`.
    first, second : Fixation
        The second is the first's opposite.
    share : Estimate [1]
        Within limits.
    behind : Estimate [1]
        How far its share is behind the best one's, on the same draws; 0 for the best itself.
    pull : float [mN]
        Middle pull of those that settled, NaN if none did. An upper estimate.
    """

    way: str
    first: Fixation
    second: Fixation
    share: Estimate
    behind: Estimate
    pull: float

    @property
    def as_good(self):
        """Whether chance alone may set it behind the best."""
        return self.behind.low <= 0.0

    def __repr__(self):
        f = self.first
        tunnel = "a single-plane pass" if f.tunnel_length is None else f"a tunnel of {f.tunnel_length:g} mm"
        turn = "" if f.exit_angle is None else f", its end turned to {f.exit_angle:g} deg"
        return (
            f"{self.way}: {f.limbus_distance:g} mm behind the limbus, {f.limbus_angle:g} deg to its tangent, "
            f"{f.iris_angle:g} deg to the iris plane, {tunnel}{turn}, {f.outside:g} mm externalised: "
            f"{100.0 * self.share.value:.0f} % within limits, pull {self.pull:.0f} mN"
        )


@dataclasses.dataclass(frozen=True, repr=False)
class Robust:
    """Plans that were tried, the best first, and how the usual plan does.

    Attributes
    ----------
    plans : tuple of TriedPlan
        The best of each way, by their share on many draws.
    usual : TriedPlan
        The plan that they are held against.
    candidates : tuple of (str, float, float)
        All plans by which these were found: way, share [1], pull [mN]; on few draws.
    limits : tuple
        Of decentration [mm], tilt [deg] and refraction [D].
    """

    plans: tuple[TriedPlan, ...]
    usual: TriedPlan
    candidates: tuple
    limits: tuple

    @property
    def best(self):
        """Plan with the largest share."""
        return self.plans[0]

    def __repr__(self):
        others = [one for one in self.plans[1:] if one.as_good]
        lines = [f"Best of {len(self.candidates)} plans for these hands: {self.best!r}."]
        lines += [f"As good, as far as chance allows a comparison: {one!r}." for one in others]
        lines += [f"Behind by {one.behind.text('.1%')}: {one!r}." for one in self.plans[1:] if one not in others]
        lines.append(f"The usual plan is behind by {self.usual.behind.text('.1%')}: {self.usual!r}.")
        return "\n".join(lines)


@plain_errors
def robust_plan(
    eye,
    lens,
    hands,
    ways=tuple(WAYS),
    n=4096,
    rng=1,
    progress=None,
    *,
    usual=None,
    decentration=DECENTRATION_LIMIT,
    tilt=TILT_LIMIT,
    refraction=None,
    least_pull=5.0,
) -> Robust:
    """Search the plan that leaves most lenses within limits, with these hands in these eyes.

    Parameters
    ----------
    eye : Eye or Population
    lens : Lens
    hands : Hands
    ways : tuple of str
        Some of `WAYS`.
    n : int
        Draws on which the best of each way are compared.
    rng : int or numpy Generator
    progress : bool or None
        As for `operate`; here each plan that is tried is a step.
    usual : Fixation or None
        First side of the plan that the others are held against; its mark is theirs. The second side is its opposite.
        None takes `es.Fixation()`.
    least_pull : float [mN]
        Plans whose middle pull is less are not taken: a slack haptic holds nothing. Chosen for teaching.
    decentration, tilt, refraction
        Limits, as of `Outcomes.share`. With a refraction it takes several times as long.
    """
    usual = Fixation() if usual is None else usual
    must_be("robust_plan", "usual", usual, Fixation)
    least_pull = number("robust_plan", "least_pull", least_pull, 0.0, 200.0, "mN", "least pull in a haptic")
    check(eye, lens, usual, usual.opposite(), hands, n, "sobol", 4096)
    ways = (ways,) if isinstance(ways, str) else tuple(ways)
    for way in ways:
        known_name("robust_plan: ways", way, list(WAYS))
    if not ways:
        raise LearnerError(f"robust_plan: ways names some of {', '.join(WAYS)}; {short(ways)} was given.")
    seed = seed_of(rng)
    limits = (decentration, tilt, refraction)
    with progress_bar(words="plans", unit="plans", total=_GUESS * len(ways), shown=progress) as bar:
        search = _Search(eye, lens, hands, usual.meridian, seed, limits, least_pull, bar)
        found = [("usual", usual), *((way, search.best_of(way)) for way in ways)]
    done = [(way, first, search.done(first, n, seed + 1)) for way, first in found]
    best = max((one for _, _, one in done[1:]), key=lambda one: one.share(*limits).value)
    tried = [
        TriedPlan(way, first, first.opposite(), one.share(*limits), share_gained(one, best, *limits), _pull(one))
        for way, first, one in done
    ]
    usual, *tried = tried
    tried.sort(key=lambda one: (-one.share.value, one.pull))
    return Robust(tuple(tried), usual, tuple(search.candidates), limits)


class _Search:
    """Coordinate after coordinate, on the same few draws, from several starts; every plan is tried once."""

    def __init__(self, eye, lens, hands, meridian, seed, limits, least_pull, bar):
        self.setting, self.hands, self.meridian = (eye, lens), hands, meridian
        self.seed, self.limits, self.least_pull, self.bar = seed, limits, least_pull, bar
        self.candidates, self.known = [], {}

    def best_of(self, way):
        """Find the plan of one way with the largest share on few draws."""
        best, highest = None, -2.0
        for more in ({}, {"limbus_distance": 1.5, "limbus_angle": 30.0}):
            plan = Fixation(meridian=self.meridian).but(**{**WAYS[way], **more})
            share, moved, sweeps = self._share(way, plan), True, 0
            while moved and sweeps < _SWEEPS:
                moved, sweeps = False, sweeps + 1
                for name in self._names(plan):
                    rivals = [plan.but(**{name: float(value)}) for value in self._values(way, name)]
                    shares = [self._share(way, one) for one in rivals]
                    if max(shares) > share:
                        share, moved = max(shares), True
                        plan = rivals[int(np.argmax(shares))]
            if share > highest:
                best, highest = plan, share
        return best

    def done(self, first, n, seed) -> Outcomes:
        """Operate one plan."""
        return operate(*self.setting, first, first.opposite(), self.hands, n, seed, "sobol", False)

    def _share(self, way, plan):
        key = (way, repr(plan))
        if key not in self.known:
            done = self.done(plan, _FEW, self.seed)
            self.bar.update()
            share, pull = done.share(*self.limits).value, _pull(done)
            self.candidates.append((way, share, pull))
            self.known[key] = share if pull >= self.least_pull else -1.0
        return self.known[key]

    @staticmethod
    def _names(plan):
        names = ["iris_angle", "limbus_angle", "limbus_distance", "outside"]
        names += ["tunnel_length"] if plan.tunnel_length is not None else []
        return names + (["exit_angle"] if plan.exit_angle is not None else [])

    @staticmethod
    def _values(way, name):
        values = _VALUES[name]
        return values[way[: way.index(" ")].strip(",")] if isinstance(values, dict) else values


def _pull(done):
    pulls = done.pose.tension[done.pose.settled, 0]
    return float(np.median(pulls)) if len(pulls) else float("nan")
