"""Where the lens comes to rest between its two fixations.

`settle` is the call that everything else is built on. The equations and the way they are solved are in `balance` and
`continuation`; here a lens, an eye and two fixations are put into them, many at once, and every case comes back
settled or with a reason.
"""

from __future__ import annotations

import numpy as np

from ..eye.checks import LearnerError, common_shape, must_be, plain_errors
from ..eye.globe import Eye
from ..eye.lens import Lens
from .cores import in_threads
from .needle import Fixation, least_dip_that_enters, needle_pass
from .rest import Settled

_CANNOT_REACH, _NEVER_ENTERS, _SNAPS, _NOT_CONVERGED, _FREE = range(1, 6)
_CHUNK = 1024
_ALONE = 24  # so few cases are each carried from their own unstressed lens


@plain_errors
def settle(eye, lens, first, second, *, on_failure=None, pilot=None):
    """Find where a lens comes to rest.

    Raises LearnerError if shapes do not fit; if a case has no pose and `on_failure` says so.

    Parameters
    ----------
    eye : Eye
    lens : Lens
    first, second : Fixation
        Of the first and the second haptic. Anything in these four may be an array; all broadcast.
    on_failure : "raise", "flag" or None
        What to do with a case that has no pose. None raises for a single case and flags in arrays.
    pilot : Settled or None
        A single settled case from which arrays are carried on; by default a case amid them. Results do
        not depend on it: they agree to the solver's tolerance, and bit by bit for the same pilot. Plans in
        which a needle runs against its loop can rest in more than one way, so there every case is carried
        from its own unstressed lens.

    Returns
    -------
    Settled
        In the broadcast shape.
    """
    for name, value, kind in (
        ("eye", eye, Eye),
        ("lens", lens, Lens),
        ("first", first, Fixation),
        ("second", second, Fixation),
    ):
        must_be("settle", name, value, kind)
    if on_failure not in (None, "raise", "flag"):
        raise LearnerError(f"on_failure is 'raise' or 'flag'; {on_failure!r} was given.")
    if pilot is not None:
        must_be("settle", "pilot", pilot, Settled)
        if pilot.shape or not pilot.settled:
            raise LearnerError("settle: pilot must be a single lens that has settled.")
    parts = {"eye": eye, "lens": lens, "first": first, "second": second}
    shape = common_shape("settle", {name: np.empty(part.shape) for name, part in parts.items()})
    with_loops = lens.counterclockwise == first.clockwise == second.clockwise
    passages = needle_pass(eye, first), needle_pass(eye, second)
    sides, code = _sides(lens, (first, second), passages, shape)
    free_length = sides[..., 0].copy()
    state, residual = _solve(sides.reshape(-1, 2, sides.shape[-1]), code.reshape(-1), pilot, with_loops)
    state[code.reshape(-1) != 0] = np.nan
    residual[code.reshape(-1) != 0] = np.nan
    state, residual = state.reshape(*shape, -1), residual.reshape(shape)
    result = Settled((eye, lens, first, second), passages, free_length, code, state, residual)
    if np.any(code != 0) and (on_failure == "raise" or (on_failure is None and shape == ())):
        raise LearnerError(_why(result))
    return result


def _sides(lens, fixations, passages, shape):
    """Fill the rows of `balance`, and flag what cannot be settled however it is solved."""
    from . import balance as b

    sides = np.zeros((*shape, 2, b.FIELDS))
    code = np.zeros(shape, np.int64)
    sides[..., b.CURVATURE] = (1.0 / np.asarray(lens.loop_radius, float))[..., None]
    sides[..., b.RATIO] = np.asarray(lens.poisson_ratio, float)[..., None]
    sides[..., b.ROOT : b.OPENING] = lens.roots()
    for k, (fixation, passage) in enumerate(zip(fixations, passages, strict=True)):
        free = np.asarray(lens.haptic_length) - passage.tunnel_length - np.asarray(fixation.outside)
        sides[..., k, b.LENGTH] = free
        sides[..., k, b.OPENING : b.HELD] = passage.inner
        sides[..., k, b.HELD : b.PIN] = passage.held
        sides[..., k, b.PIN] = float(fixation.anchor == "pin")
        code[~np.broadcast_to(passage.enters, shape)] = _NEVER_ENTERS
    entered = code == 0
    span = np.linalg.norm(sides[..., 0, b.OPENING : b.HELD] - sides[..., 1, b.OPENING : b.HELD], axis=-1)
    reach = np.sum(sides[..., b.LENGTH], axis=-1) + np.asarray(lens.optic_diameter)
    with np.errstate(invalid="ignore"):
        short = (sides[..., b.LENGTH] < 0.2).any(axis=-1) | (span >= reach) | (span < 0.5)
    code[entered & short] = _CANNOT_REACH
    if fixations[0].anchor == fixations[1].anchor == "pin":
        code[code == 0] = _FREE
    return sides, code


def _solve(sides, code, pilot, with_loops):
    """States and residuals of all cases whose code is 0; codes of the others are left.

    Where both needles run with the loops, many cases are first carried from the pilot with cheap sensitivities;
    those which that does not reach, and all others, are carried from their own unstressed lens with exact ones,
    in as many strides as it takes.
    """
    from . import continuation as b

    state, found = np.full((len(sides), b.STATE), np.nan), np.full(len(sides), b.NOT_CONVERGED)
    residual = np.full(len(sides), np.nan)
    todo = np.flatnonzero(code == 0)
    lead = None
    if pilot is not None and with_loops:
        lead = _lead_of(pilot)
    elif with_loops and len(todo) > _ALONE:
        lead = _lead(_amid(sides[todo]))

    def from_pilot(cases):
        _carry(*lead, sides[cases], False, state, found, cases)

    def alone(cases):
        starts, begins = np.empty((len(cases), 2, b.FIELDS)), np.empty((len(cases), b.STATE))
        b.unstressed(sides[cases], starts, begins)
        _carry(starts, begins, np.zeros(len(cases)), sides[cases], True, state, found, cases)

    def check(cases):
        misses = np.empty(len(cases))
        b.largest_misses(sides[cases], state[cases], misses)
        residual[cases] = misses

    if lead is not None:
        _in_threads(from_pilot, todo)
    missed = (found[todo] != b.SETTLED) & (found[todo] != b.TAUT)
    _in_threads(alone, todo[missed])
    _in_threads(check, todo[found[todo] == b.SETTLED])
    meaning = {b.SETTLED: 0, b.TAUT: _CANNOT_REACH, b.SNAPS: _SNAPS, b.NOT_CONVERGED: _NOT_CONVERGED}
    for kind, reason in meaning.items():
        code[(code == 0) & (found == kind)] = reason
    return state, residual


def _carry(starts, begins, signs, goals, exact, state, found, cases):
    """`carry_all` into the rows of these cases; cheap sensitivities give up early."""
    from . import continuation as b

    got, report = np.empty((len(cases), b.STATE)), np.empty((len(cases), 3))
    codes = np.empty(len(cases), np.int64)
    shortest = b.SMALLEST_STRIDE if exact else b.CHEAP_STRIDE
    b.carry_all(starts, begins, goals, signs, exact, shortest, got, report, codes)
    state[cases], found[cases] = got, codes
    return report


def _lead_of(pilot):
    """Return the lead that a settled case gives; it is found once and stays with the case."""
    if pilot._lead is None:
        goal, _ = _sides(pilot.lens, (pilot.first, pilot.second), pilot.passages, ())
        object.__setattr__(pilot, "_lead", _lead(goal))
    return pilot._lead


def _lead(goal):
    """Return setting, state and determinant's sign of a case carried from the unstressed lens; None if it fails."""
    from . import continuation as b

    goals = goal[None]
    starts, begins = np.empty((1, 2, b.FIELDS)), np.empty((1, b.STATE))
    b.unstressed(goals, starts, begins)
    state, found = np.empty((1, b.STATE)), np.empty(1, np.int64)
    report = _carry(starts, begins, np.zeros(1), goals, True, state, found, np.arange(1))
    return (goals, state, report[:, 2].copy()) if found[0] == b.SETTLED else None


def _amid(sides):
    """Make up a case in the middle of many: medians, with directions brought back to length one."""
    from . import balance as b

    middle = np.median(sides, axis=0)
    for first in (b.ROOT + 6, b.HELD, b.ROOT + 3):
        direction = middle[:, first : first + 3]
        if first == b.ROOT + 3:
            along = middle[:, b.ROOT + 6 : b.ROOT + 9]
            direction = direction - along * np.sum(along * direction, axis=1, keepdims=True)
        middle[:, first : first + 3] = direction / np.linalg.norm(direction, axis=1, keepdims=True)
    return middle


def _in_threads(work, cases):
    in_threads(lambda start, stop: work(cases[start:stop]), len(cases), _CHUNK)


def _why(result):
    """Tell the learner why the first failing case has no pose, and what would be sensible."""
    place = tuple(int(i) for i in np.argwhere(np.asarray(result.code) != 0)[0])
    code = int(np.asarray(result.code)[place])
    one, two = result.free_length[place]
    where = f" (case {place if len(place) > 1 else place[0]})" if place else ""
    lengths = f"intraocular haptic lengths {one:.1f} and {two:.1f} mm"
    if code == _NEVER_ENTERS:
        fixation = result.first if not np.asarray(result.passages[0].enters).all() else result.second
        limit = np.asarray(least_dip_that_enters(result.eye, fixation))
        limit = limit[place] if limit.shape else limit
        hint = f" it enters from about {limit:.1f} deg on" if np.isfinite(limit) else " no angle below 89 deg enters"
        return (
            f"The needle never enters the eye{where}: on a single-plane pass it stays in the sclera at this angle "
            f"to the iris plane; with this sclera, distance and limbus angle{hint}. Aim steeper, or choose the length "
            "of the tunnel and turn the needle down there."
        )
    if code == _CANNOT_REACH:
        return (
            f"A haptic cannot reach its internal entry{where}: {lengths} are left between optic and entries, "
            "and the lens would have to be pulled taut. Externalise less, shorten a tunnel, or go nearer to the limbus."
        )
    if code == _FREE:
        return (
            "Two pins and nothing else leave the lens free to rotate about the line between them: its tilt is "
            "undetermined. A tunnel, or a third point, would hold it."
        )
    if code == _SNAPS:
        return (
            f"A haptic snaps to another shape{where}: with {lengths} there is no resting place that can be reached "
            "from the unstressed lens without a jump. Check the direction in which each needle runs, and these lengths."
        )
    return (
        f"No resting place was found{where} ({lengths}). The setting is far outside what the model is made for; "
        "check meridians, distances and angles."
    )
