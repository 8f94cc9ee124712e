"""From a photograph into the practice log: the marks and lines that were measured, as rows beside what was aimed at.

::

    found = measure_front(read_points("points.csv"), Known(white_to_white=11.8))
    log_rows(found, first, second, attempt="p-41", rater="A")
    # (2026-11-27 meridian, first haptic: aim 0 deg, achieved 7.7 deg, miss +7.7 deg, ...)
"""

from __future__ import annotations

from ..eye.checks import LearnerError, must_be, plain_errors
from ..hold.needle import Fixation
from ..practice.measurement import Measurement, today
from .front import Frontal

_SIDES = {"1": "first", "2": "second"}


@plain_errors
def log_rows(found, first, second, when=None, **common):
    """Make rows of a practice log from what a photograph from in front showed.

    Raises LearnerError if nothing of a pass was measured, or a miss is beyond what is sensible.

    Parameters
    ----------
    found : Frontal
        `mark1` and `line1` belong to the first haptic, `mark2` and `line2` to the second. Where a line was drawn, place
        and distance are those of its mark, if there is one.
    first, second : Fixation
        What was aimed at.
    when : date, str or None
        None takes today.
    **common
        Fields that all rows share: attempt, hand, seat, way, rater, note. Without a note it holds the intervals.

    Returns
    -------
    tuple of Measurement
        Meridian and distance behind the limbus of each mark, angle to the limbus of each line.
    """
    must_be("log_rows", "found", found, Frontal)
    aims = {"first": first, "second": second}
    for side, aim in aims.items():
        must_be("log_rows", side, aim, Fixation)
    when = today() if when is None else when
    measured = {}
    for mark in (*found.marks, *found.lines):
        side = _SIDES.get(mark.name[4:])
        for quantity in ("meridian", "limbus_distance", "limbus_angle"):
            if side is not None and hasattr(mark, quantity):
                measured.setdefault((side, quantity), getattr(mark, quantity))
    if not measured:
        raise LearnerError("This photograph shows nothing of a pass: set mark1, line1, mark2 or line2 on it.")
    rows = []
    for (side, quantity), estimate in sorted(measured.items()):
        aim, achieved = float(getattr(aims[side], quantity)), round(estimate.value, 2)
        own = {"side": side, "note": f"photograph: {estimate.text('.1f')}"}
        rows.append(Measurement(when, quantity, aim, achieved, **own | common))
    return tuple(rows)
