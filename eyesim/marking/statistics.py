"""What a class's marks say of the questions: difficulty, discrimination, confidence, and reliability.

Every figure carries its 95 % interval, and is None where there is too little to say it from.
"""

from __future__ import annotations

import dataclasses
from collections import Counter

import numpy as np

from ..lesson.question import CONFIDENCE
from ..study.estimates import Estimate, share

LEVEL = 0.95
LEAST = 4
"""Fewest people for whom discrimination and reliability are given; chosen for teaching."""


@dataclasses.dataclass(frozen=True)
class ItemStatistics:
    """How one question went.

    Attributes
    ----------
    name : str
    n : int
        How many handed in.
    difficulty : Estimate or None [1]
        Mean share of the points: the higher, the easier.
    discrimination : Estimate or None [1]
        Correlation with what people had on all other questions.
    misconceptions : tuple of (str, int)
        How often each was recognised, the commonest first.
    unanswered : int
    """

    name: str
    n: int
    difficulty: Estimate | None
    discrimination: Estimate | None
    misconceptions: tuple
    unanswered: int


@dataclasses.dataclass(frozen=True)
class ClassStatistics:
    """How a class went: its questions, its reliability, and how sure people were against how right.

    Attributes
    ----------
    items : tuple of ItemStatistics
    reliability : Estimate or None [1]
        Cronbach's alpha; of questions that are right or wrong it is Kuder and Richardson's formula 20.
    right_or_wrong : bool
    by_confidence : dict
        By confidence, how often such answers were right, an `Estimate`, and of how many.
    """

    items: tuple[ItemStatistics, ...]
    reliability: Estimate | None
    right_or_wrong: bool
    by_confidence: dict


def class_statistics(everybody):
    """Work out how a class went.

    Parameters
    ----------
    everybody : iterable of Result
        Who is missing is left out.
    """
    here = [one for one in everybody if one.state != "missing"]
    names = [mark.name for mark in here[0].marks] if here else []
    scores = np.array([[mark.share for mark in one.marks] for one in here], float).reshape(len(here), len(names))
    judged = [j for j in range(len(names)) if len(here) and not np.isnan(scores[:, j]).any()]
    items = tuple(_item_statistics([one.marks[j] for one in here], scores, j, judged) for j in range(len(names)))
    marked = scores[:, judged]
    return ClassStatistics(items, reliability(marked), bool(np.isin(marked, (0.0, 1.0)).all()), _by_confidence(here))


def _item_statistics(marks, scores, j, judged):
    name, unanswered = marks[0].name, sum(mark.answer is None for mark in marks)
    if j not in judged:
        return ItemStatistics(name, len(marks), None, None, (), unanswered)
    rest = scores[:, [k for k in judged if k != j]].sum(axis=1)
    difficulty, discrimination = mean_share(scores[:, j]), correlation(scores[:, j], rest)
    misconceptions = Counter(mark.misconception for mark in marks if mark.misconception).most_common()
    return ItemStatistics(name, len(marks), difficulty, discrimination, tuple(misconceptions), unanswered)


def mean_share(shares):
    """Mean of shares [1] with its interval: exact where all are 0 or 1, else by Student's t, never beyond 0 and 1."""
    from scipy import stats

    shares = np.asarray(shares, float)
    n = len(shares)
    if n == 0:
        return None
    if np.isin(shares, (0.0, 1.0)).all():
        return share(int(shares.sum()), n)
    mean, spread = float(shares.mean()), float(shares.std(ddof=1)) if n > 1 else np.inf
    half = spread / np.sqrt(n) * stats.t.ppf(0.5 + LEVEL / 2.0, n - 1) if n > 1 else 1.0
    return Estimate(mean, max(0.0, mean - half), min(1.0, mean + half), "Student's t")


def correlation(one, other):
    """Correlation [1] of two scores, with Fisher's interval; None for fewer than `LEAST`, or without a spread.

    Parameters
    ----------
    one, other : (n,) arrays
    """
    from scipy import stats

    one, other = np.asarray(one, float), np.asarray(other, float)
    if len(one) < LEAST or np.ptp(one) < 1e-12 or np.ptp(other) < 1e-12:
        return None
    r = float(np.clip(np.corrcoef(one, other)[0, 1], -1.0, 1.0))
    half = stats.norm.ppf(0.5 + LEVEL / 2.0) / np.sqrt(len(one) - 3.0)
    z = np.arctanh(np.clip(r, -1.0 + 1e-12, 1.0 - 1e-12))
    return Estimate(r, float(np.tanh(z - half)), float(np.tanh(z + half)), "Fisher's z")


def reliability(scores):
    """Cronbach's alpha of scores (people, questions), with the interval of Feldt, Woodruff and Salih.

    Applied Psychological Measurement 1987, Statistical inference for coefficient alpha, formulas 6 and 7. None for
    fewer than `LEAST` people or two questions, or where nobody differs.
    """
    from scipy import stats

    scores = np.asarray(scores, float)
    n, k = scores.shape
    if n < LEAST or k < 2 or np.ptp(scores.sum(axis=1)) < 1e-12:
        return None
    alpha = k / (k - 1.0) * (1.0 - scores.var(axis=0, ddof=1).sum() / scores.sum(axis=1).var(ddof=1))
    tail, df = 0.5 - LEVEL / 2.0, (n - 1.0, (n - 1.0) * (k - 1.0))
    low = 1.0 - (1.0 - alpha) * stats.f.ppf(1.0 - tail, *df)
    high = 1.0 - (1.0 - alpha) * stats.f.ppf(tail, *df)
    return Estimate(float(alpha), float(low), float(high), "Feldt, Woodruff and Salih 1987")


def _by_confidence(here):
    """By confidence, how often answers were right, and of how many."""
    found = {}
    for level in CONFIDENCE:
        marks = [mark for one in here for mark in one.marks if mark.confidence == level]
        rights = [mark.share >= 1.0 for mark in marks if mark.share is not None]
        if rights:
            found[level] = share(sum(rights), len(rights)), len(rights)
    return found
