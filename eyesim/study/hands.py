"""Hands: how the pass that is achieved differs from the one that was aimed at.

Every quantity has an `Error`: a bias (always the same), a spread (new on each side of each eye) and a
shared part (new in each eye, the same on both sides). Normal errors are cut at four standard deviations.
"""

from __future__ import annotations

from ..eye.checks import LearnerError, known_name, number
from ..eye.sources import fact
from .error_model import ERRORS, GROUPS, QUANTITIES, Error, single, text_of, usual_error
from .skill import measured_errors

_NAMES = (*ERRORS, "track", "closure")
_PLAY_WORDS = {"track": "diameter of the needle's track", "closure": "share of the clearance that closes"}


class Hands:
    """A pair of hands with their tools: an `Error` for every quantity, and the play in the needle's track.

    Raises LearnerError if a name is unknown, or a value is no `Error` or out of its sensible range.

    Parameters
    ----------
    meridian, limbus_angle, iris_angle : Error [deg]
        Of the needle's start and direction. The shared part of `meridian` turns the marker about its centre.
    limbus_distance, tunnel_length, outside : Error [mm]
        `tunnel_length` counts only where the plan chooses a tunnel.
    exit_angle : Error [deg]
        Counts only where the plan turns the needle at the tunnel's end.
    wall : Error [mm]
        How the wall differs from what is planned for that side; counts on straight passes.
    mark_moved_along, mark_moved_across : Error [mm]
        A mark that moved with the conjunctiva, counter-clockwise along the limbus and away from it.
    marker_x, marker_y : Error [mm]
        Marker off-centre: both marks are opposite about its centre, not about that of the limbus. The outer
        opening lies where its line crosses the chosen distance behind the limbus, measured with calipers.
        One marker serves both sides: no pairs here; spread and shared part add up.
    needle_bend : Error [deg]
        The needle bends under the wall's side load. Bias is downwards; spread goes in dip and sideways alike.
    track : float or None [mm]
        Diameter of the needle's track, in which the haptic may lie askew to any side; None for no play.
    closure : float [1]
        Share of the clearance that tissue closes again. 0 is the upper bound of the play.

    Notes
    -----
    What is not given is taken from the table of hands (`hands.table()` shows value, kind and source of each).
    No repeatability of a free-hand needle has been published: those figures are assumptions.
    """

    __slots__ = _NAMES

    def __init__(self, **values):
        for name in values:
            known_name("Hands", name, _NAMES)
        for name in ERRORS:
            object.__setattr__(self, name, _checked(name, values[name]) if name in values else usual_error(name))
        track = values["track"] if "track" in values else fact("hands", "track").value
        closure = values["closure"] if "closure" in values else fact("hands", "closure").value
        track = number("Hands", "track", track, 0.01, 2.0, "mm", "diameter of the needle's track", optional=True)
        closure = number("Hands", "closure", closure, 0.0, 1.0, "", "share of the clearance that tissue closes")
        object.__setattr__(self, "track", track if track is None else single("track", track))
        object.__setattr__(self, "closure", single("closure", closure))

    def __setattr__(self, name, value):
        raise LearnerError("Hands are not changed in place; hands.but(iris_angle=es.Error(spread=3)) gives new ones.")

    def __delattr__(self, name):
        raise LearnerError("Hands are not changed in place; hands.without('iris_angle') gives new ones.")

    def __reduce__(self):
        return _made, ({name: getattr(self, name) for name in _NAMES},)

    def __eq__(self, other):
        return isinstance(other, Hands) and all(getattr(self, n) == getattr(other, n) for n in _NAMES)

    def __hash__(self):
        return hash(tuple(getattr(self, name) for name in _NAMES))

    @classmethod
    def perfect(cls):
        """Hands that do exactly what was planned, with a track as tight as the haptic."""
        return cls(**{name: Error() for name in ERRORS}, track=None)

    @classmethod
    def from_log(cls, rows, start=None, sides=True):
        """Hands that do what was measured in practice, drawn towards the cohort while that is little.

        Raises LearnerError if a row names nothing that can be measured, or its miss is no number.

        Parameters
        ----------
        rows : iterable
            One for each attempt at a quantity, with `quantity`, `miss` (achieved less aim) and `side` ("first",
            "second" or ""), such as `eyesim.practice.skills.rater_means(log)`.
        start : Hands or None
            The cohort; it gives what the log does not say, too. None takes `Hands()`.
        sides : bool
            Judge first and second haptic apart where the log tells them.
        """
        start = cls() if start is None else start
        return start.but(**measured_errors(rows, start, sides))

    def but(self, **changes):
        """Return the same hands with some fields changed (and checked)."""
        return Hands(**{**{name: getattr(self, name) for name in _NAMES}, **changes})

    def scale(self, factor, *names):
        """Return hands whose spreads and shared parts are times a factor: of all errors, or of those named.

        Biases and the play in the track stay.
        """
        named = [one for name in names for one in _members(name, play=False)] or ERRORS
        return self.but(**{name: getattr(self, name).scale(factor) for name in named})

    def without(self, *names):
        """Return hands without some errors: no bias, no spread.

        "marker", "mark_moved" and "play" are names too.
        """
        gone = [one for name in names for one in _members(name)]
        return self.but(**{name: None if name == "track" else Error() for name in gone})

    def swap(self):
        """Return hands whose two sides are changed over."""
        return self.but(**{name: getattr(self, name).swap() for name in ERRORS})

    def table(self):
        """Table (pandas), one row a quantity: bias, spread, shared, unit, plausible spread, kind, source."""
        import pandas as pd

        return pd.DataFrame([_row(name, getattr(self, name)) for name in (*ERRORS, "track", "closure")])

    def __repr__(self):
        if self == Hands():
            return "Hands()"
        if self == Hands.perfect():
            return "Hands.perfect()"
        usual = Hands()
        other = [name for name in _NAMES if getattr(self, name) != getattr(usual, name)]
        return f"Hands({', '.join(f'{name}={text_of(getattr(self, name))}' for name in other)})"


def _checked(name, error):
    unit, most, words = QUANTITIES[name]
    if not isinstance(error, Error):
        raise LearnerError(
            f"Hands.{name} ({words}) takes an es.Error, such as es.Error(bias=0, spread=1) in {unit}; "
            f"a {type(error).__name__} was given."
        )
    for part, values in (("bias", error.biases), ("spread", error.spreads), ("shared", (error.shared,))):
        worst = max(values, key=abs)
        if abs(worst) > most:
            raise LearnerError(
                f"Hands.{name} ({words}): {part} {worst:g} {unit} was given; up to {most:g} {unit} is sensible."
            )
    if name in GROUPS["marker"] and (isinstance(error.bias, tuple) or isinstance(error.spread, tuple)):
        raise LearnerError(f"Hands.{name} ({words}): one marker serves both sides, so it takes no pairs.")
    return error


def _members(name, play=True):
    groups = GROUPS | ({"play": ("track",)} if play else {})
    known_name("Hands", name, (*ERRORS, *groups))
    return groups.get(name, (name,))


def _row(name, value):
    unit, _, words = QUANTITIES.get(name, ("mm" if name == "track" else "", 0.0, _PLAY_WORDS.get(name)))
    source = fact("hands", "marker" if name in GROUPS["marker"] else name)
    usual = value == (usual_error(name) if name in ERRORS else source.value)
    if isinstance(value, Error):
        bias, spread, shared = value.bias, value.spread, value.shared
    else:
        bias, spread, shared = value, None, None
    row = {"quantity": name, "what": words, "bias": bias, "spread": spread, "shared": shared, "unit": unit}
    row |= {"plausible": f"{source.low:g} to {source.high:g}", "kind": source.kind if usual else "your own"}
    return row | {"source": (source.source or source.note) if usual else ""}


def _made(values):
    return Hands(**values)
