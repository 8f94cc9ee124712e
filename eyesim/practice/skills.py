"""What a practice log says of hands: bias and spread of each quantity, and how far raters agree.

An attempt that several people measured counts once, with the mean of what they found::

    log = read_log("practice-log.csv")
    skills(log)                  # (iris_angle, 38 attempts: bias +2.1 deg (95 % interval 0.9 to 3.2), ...)
    skills(log, by="way")        # towards oneself and away apart
    agreements(log)              # two raters, where both measured
    Hands.from_log(rater_means(log))
"""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np

from ..eye.checks import LearnerError, short
from ..study.agreement import LEAST, agreement
from ..study.error_model import MEASURED, QUANTITIES
from ..study.shrink import prior_of
from ..study.skill import skill, usual_prior

GROUPS = {"side": ("first", "second"), "way": ("towards", "away"), "hand": ("right", "left")}
GROUPS |= {"seat": ("superior", "temporal", "nasal", "inferior")}
"""By what attempts may be grouped, and into which groups."""


def rater_means(log):
    """Rows of a log, one for each attempt at a quantity: the mean where several measured the same one.

    Parameters
    ----------
    log : Log or iterable of Measurement

    Returns
    -------
    tuple of Measurement
        Rows without an attempt's name each count as an attempt.
    """
    rows = tuple(getattr(log, "rows", log))
    groups = {}
    for i, row in enumerate(rows):
        key = (row.attempt, row.quantity, row.side) if row.attempt else i
        groups.setdefault(key, []).append(row)
    return tuple(_mean(group) for group in groups.values())


def _mean(rows):
    if len(rows) == 1:
        return rows[0]
    miss = float(np.mean([row.miss for row in rows]))
    raters = " and ".join(dict.fromkeys(row.rater for row in rows if row.rater))
    return dataclasses.replace(rows[0], achieved=rows[0].aim + miss, rater=raters[:200], note="")


def skills(log, by=None, cohort=None):
    """Judge every quantity that a log holds. Raises LearnerError if attempts cannot be grouped by that.

    Parameters
    ----------
    log : Log or iterable of Measurement
    by : None, "side", "way", "hand" or "seat"
        Group attempts; a group without attempts is left out.
    cohort : None, Hands, or dict of Prior
        What is usual: None takes the usual hands; `cohort_of` makes a dict from several residents' logs.

    Returns
    -------
    tuple of Skill
    """
    if by is not None and (not isinstance(by, str) or by not in GROUPS):
        raise LearnerError(f"Attempts are grouped by {', '.join(GROUPS)}, or None; {short(by)} was given.")
    mine, found = rater_means(log), []
    for quantity in MEASURED:
        rows = [row for row in mine if row.quantity == quantity]
        for group in ("all",) if by is None else GROUPS[by]:
            misses = [row.miss for row in rows if by is None or getattr(row, by) == group]
            if misses:
                found.append(skill(quantity, misses, _prior(quantity, cohort, by, group), group))
    return tuple(found)


def _prior(quantity, cohort, by, group):
    if isinstance(cohort, dict) and quantity in cohort:
        return cohort[quantity]
    hands = None if isinstance(cohort, dict) else cohort
    return usual_prior(quantity, hands, GROUPS["side"].index(group) if by == "side" else None)


def cohort_of(logs):
    """Find what is usual among several residents, a dict of `Prior` by quantity.

    Parameters
    ----------
    logs : iterable of Log
        One a resident. A quantity that fewer than three of them measured is left to the usual hands.
    """
    every = [rater_means(log) for log in logs]
    found = {}
    for quantity in MEASURED:
        prior = prior_of([[row.miss for row in rows if row.quantity == quantity] for rows in every])
        if prior is not None:
            found[quantity] = prior
    return found


def agreements(log):
    """How far raters agree, for every quantity and every two raters who measured enough attempts alike.

    Parameters
    ----------
    log : Log or iterable of Measurement

    Returns
    -------
    tuple of Agreement
    """
    rows, found = tuple(getattr(log, "rows", log)), []
    for quantity in MEASURED:
        read = {}
        for row in rows:
            if row.quantity == quantity and row.attempt and row.rater:
                read.setdefault(row.rater, {}).setdefault((row.attempt, row.side), []).append(row.miss)
        for one, two in itertools.combinations(sorted(read), 2):
            alike = [key for key in read[one] if key in read[two]]
            if len(alike) >= LEAST:
                pairs = np.array([[np.mean(read[who][key]) for who in (one, two)] for key in alike])
                found.append(agreement(*pairs.T, QUANTITIES[quantity].unit, (one, two), quantity))
    return tuple(found)
