"""Whose eyes: a population from published means, or a table of biometry drawn from with replacement."""

from __future__ import annotations

import dataclasses
import difflib
from pathlib import Path

import numpy as np

from ..eye.checks import LearnerError, known_name, number
from ..eye.globe import Eye
from ..eye.sources import cell_number, fact, facts, read_rows
from .error_model import normal_deviates

_FIELDS = {f.name: f.metadata for f in dataclasses.fields(Eye) if "low" in f.metadata}
PUBLISHED = ("white_to_white", "axial_length", "corneal_radius", "iris_depth", "corneal_thickness")
PUBLISHED = (*PUBLISHED, "scleral_radius", "scleral_thickness")
_BESIDE = ("eye", "side", "age", "note")  # columns of a biometry table that say nothing of an eye's shape


class Population:
    """Eyes that differ. Without arguments, those of published means, spreads and correlations.

    Raises LearnerError if a name is unknown, a number out of range, or the correlations contradict each other.

    Parameters
    ----------
    spreads : dict or None
        {field of Eye: (mean, SD)} [the field's unit]; None takes the published ones. What is not named is
        alike in all eyes.
    correlations : dict or None
        {(field, field): r}; None takes the published ones between the fields that vary.
    like : Eye or None
        What is alike in all eyes; `es.Eye()` by default.

    Notes
    -----
    Each quantity is normal, truncated to the sensible range of `Eye` and at some four SD; they hang together
    by a normal copula, so that the correlations are those before truncation. Sources in the table of anatomy.
    The depth of the iris is that of eyes which still have their lens. Real biometry has longer tails (very
    long eyes).
    """

    def __init__(self, spreads=None, correlations=None, like=None):
        self.like = _single_eye(like)
        spreads = _published_spreads() if spreads is None else spreads
        if not isinstance(spreads, dict) or not spreads:
            raise LearnerError("Population: spreads is a dictionary such as {'axial_length': (23.5, 1.35)}.")
        self.spreads = {name: _mean_and_spread(name, pair) for name, pair in spreads.items()}
        self.correlations = _published_correlations(self.spreads) if correlations is None else correlations
        self._mix = _mix(list(self.spreads), self.correlations)
        own = spreads != _published_spreads()
        self.table, self.label = None, "means of your own" if own else "published means"

    @classmethod
    def from_csv(cls, path, like=None):
        """Eyes of a biometry table, drawn with replacement.

        Raises LearnerError if the file cannot be read, a column is unknown, or a value does not fit; names line and
        column.

        Parameters
        ----------
        path : str or Path
            CSV with a heading. A column is called after a field of `Eye` (axial_length, white_to_white,
            corneal_radius, ...), in mm; columns eye, side, age and note may be there too. Lines that begin
            with # are remarks. Semicolons or tabs between cells, and decimal commas, are read too.
        like : Eye or None
            What the table does not give.
        """
        self = cls.__new__(cls)
        self.like, self.table = _single_eye(like), _read_table(path, _single_eye(like))
        self.spreads = {name: (float(v.mean()), float(v.std())) for name, v in self.table.items()}
        self.correlations, self._mix, self.label = {}, None, Path(path).name
        return self

    @property
    def columns(self):
        """Names of the columns of chance that `draw` uses, in order."""
        return ("eye.row",) if self.table is not None else tuple(f"eye.{name}" for name in self.spreads)

    def draw(self, uniform):
        """Eyes from numbers between 0 and 1, (n, columns) -> an `Eye` with arrays of n."""
        if self.table is not None:
            size = len(next(iter(self.table.values())))
            row = np.minimum((uniform[:, 0] * size).astype(int), size - 1)
            return self.like.but(**{name: values[row] for name, values in self.table.items()})
        from scipy.special import ndtr, ndtri

        z, values = normal_deviates(uniform), {}
        for i, (name, (mean, spread)) in enumerate(self.spreads.items()):
            # term by term, not as a matrix product, which rounds differently for other numbers of rows
            linked = sum(self._mix[i, j] * z[:, j] for j in range(i + 1))
            values[name] = _truncated(ndtr(linked), mean, spread, _FIELDS[name], ndtr, ndtri)
        try:
            return self.like.but(**values)
        except LearnerError as fault:
            raise LearnerError(f"Population: an eye was drawn that cannot be; make a spread smaller. {fault}") from None

    def mean_eye(self):
        """Eye with the mean of everything."""
        return self.like.but(**{name: mean for name, (mean, _) in self.spreads.items()})

    def __repr__(self):
        words = ", ".join(f"{_in_words(name, mean)} (SD {sd:.2g})" for name, (mean, sd) in self.spreads.items())
        eyes = "" if self.table is None else f" ({len(next(iter(self.table.values())))} eyes)"
        return f"Population: {self.label}{eyes}: {words}"


def eye_in_words(eye):
    """Biometry of a single eye, and what else is not as by default."""
    default = Eye()
    names = [name for name in _FIELDS if name in PUBLISHED or getattr(eye, name) != getattr(default, name)]
    return f"{eye.side} eye: {', '.join(_in_words(name, getattr(eye, name)) for name in names)}"


def _in_words(name, value):
    meta = _FIELDS[name]
    words = meta["words"].partition(";")[0]  # what follows is a hint for who gives the value
    return f"{words} {value:.4g} {meta['unit']}".rstrip()


def _published_spreads():
    rows = [fact("anatomy", name) for name in PUBLISHED]
    return {row.name: (row.value, row.spread) for row in rows}


def _published_correlations(names):
    pairs = {tuple(name.split("~")): row.value for name, row in facts("anatomy").items() if "~" in name}
    return {pair: r for pair, r in pairs.items() if pair[0] in names and pair[1] in names}


def _mean_and_spread(name, pair):
    known_name("Population", name, list(_FIELDS))
    meta = _FIELDS[name]
    if not isinstance(pair, (tuple, list)) or len(pair) != 2:
        raise LearnerError(f"Population: {name} takes a pair (mean, SD) in {meta['unit'] or 'its unit'}.")
    mean = number("Population", name, pair[0], meta["low"], meta["high"], meta["unit"], f"mean {meta['words']}")
    most = meta["high"] - meta["low"]
    spread = number("Population", name, pair[1], 0.0, most, meta["unit"], f"SD of the {meta['words']}")
    if not (isinstance(mean, float) and isinstance(spread, float)):
        raise LearnerError(f"Population: mean and SD of {name} are single numbers.")
    return mean, spread


def _mix(names, correlations):
    """Lower triangle that turns independent normal numbers into correlated ones."""
    matrix = np.eye(len(names))
    if not isinstance(correlations, dict):
        raise LearnerError(
            "Population: correlations is a dictionary such as {('axial_length', 'white_to_white'): 0.4}."
        )
    for pair, r in correlations.items():
        if not isinstance(pair, tuple) or len(pair) != 2 or pair[0] == pair[1]:
            raise LearnerError(
                f"Population: a correlation belongs to two fields, ('axial_length', 'iris_depth'); not "
                f"{str(pair)[:60]!r}."
            )
        for name in pair:
            known_name("Population.correlations", name, names)
        r = number("Population", "correlations", r, -0.99, 0.99, "", f"correlation of {pair[0]} and {pair[1]}")
        if not isinstance(r, float):
            raise LearnerError(f"Population: the correlation of {pair[0]} and {pair[1]} is one number.")
        i, j = names.index(pair[0]), names.index(pair[1])
        matrix[i, j] = matrix[j, i] = r
    try:
        return np.linalg.cholesky(matrix)
    except np.linalg.LinAlgError:
        raise LearnerError("Population: these correlations contradict each other; make the strongest weaker.") from None


def _truncated(share, mean, spread, meta, ndtr, ndtri):
    """Quantiles of a normal distribution truncated to the sensible range."""
    if spread == 0.0:
        return np.full(len(share), mean)
    low, high = ndtr((meta["low"] - mean) / spread), ndtr((meta["high"] - mean) / spread)
    value = mean + spread * ndtri(np.clip(low + share * (high - low), 1e-300, 1.0 - 2.0**-53))
    return np.clip(value, meta["low"], meta["high"])


def _single_eye(like):
    like = Eye() if like is None else like
    if not isinstance(like, Eye) or like.shape:
        raise LearnerError("Population: like is a single Eye, such as es.Eye(); it gives what is alike in all.")
    return like


def _read_table(path, like):
    if not isinstance(path, (str, Path)):
        raise LearnerError(f"A biometry table is given by its file name; a {type(path).__name__} was given.")
    name = Path(path).name
    rows = read_rows(path, ())
    if not rows:
        raise LearnerError(f"{name} has a heading but no eyes.")
    used = [column for column in rows[0][1] if column not in _BESIDE]
    for column in used:
        if column not in _FIELDS:
            near = difflib.get_close_matches(column, [*_FIELDS, *_BESIDE], n=1, cutoff=0.6)
            every = f"Known are {', '.join((*_BESIDE, *PUBLISHED))} and other fields of Eye."
            hint = f"Is it {near[0]}?" if near else every
            raise LearnerError(f"{name}: the column {column[:40]!r} is not known. {hint}")
    if not used:
        raise LearnerError(f"{name} has no column of biometry, such as axial_length.")
    table = {column: np.empty(len(rows)) for column in used}
    for i, (line, row) in enumerate(rows):
        where = f"{name}, line {line}"
        values = {column: _cell(row[column], where, column) for column in used}
        try:
            like.but(**values)
        except LearnerError as fault:
            raise LearnerError(f"{where}: {fault}") from None
        if row.get("side", "") not in ("", "right", "left"):
            raise LearnerError(f"{where}, column side: right or left; {row['side'][:20]!r} is there.")
        for column, value in values.items():
            table[column][i] = value
    return table


def _cell(cell, where, column):
    comma = cell.count(",") == 1 and "." not in cell  # as spreadsheets of many countries write decimals
    value = cell_number(cell.replace(",", ".") if comma else cell, where, column)
    if value is None:
        raise LearnerError(f"{where}, column {column}: it is empty. Leave eyes out that were not measured.")
    return value
