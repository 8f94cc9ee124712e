"""What stands on the table in a live session: one eye, two needles' passes, and what comes of them.

A `Session` is the plan with whatever was changed in it. It never changes itself, so that what was there before can be
kept beside it. Each side has its own quantities; what is of neither side (marker ring, eye, pupil) has one name::

    session = Session(dip_second=20)            # the same as Session().but(dip_second=20)
    session["dip_second"], session.settled, session.sight
    session.linked("dip_first", 15, "against")  # first 5 deg steeper, second 5 deg shallower
    Session.read(session.text()) == session     # "eyesim live: dip 2 = 20"
"""

from __future__ import annotations

import dataclasses
import functools
from types import MappingProxyType

import numpy as np

from ..eye.checks import LearnerError, known_name, short
from ..eye.globe import Eye
from ..hold.marker import ring_marks
from ..hold.needle import Fixation
from ..hold.pose import Pose
from ..hold.settle import settle
from ..lesson.build import LENS
from ..lesson.patient import chosen_lens
from ..sight.refract import refract
from .notation import read_changes, write_changes
from .parameters import KEYS, PARAMETERS, SIDES, Quantity, check_number, check_value

_RADIUS = 12.0 / 11.8  # of the wall, to its white-to-white: the usual eye, larger or smaller; chosen for teaching
_NEAREST, _FURTHEST = 0.2, 6.0  # [mm] behind the limbus, between which a needle can start: `Fixation.limbus_distance`


class Session:
    """All that stands on the table; without changes it is the plan. It never changes: `but` gives another.

    `changes` is what is other than planned, by key (`KEYS`): numbers in the unit of their `Quantity`, or an option. A
    key that is not known, or a value that makes no sense, raises `LearnerError`.
    """

    def __init__(self, **changes):
        values = {key: what.start for key, what in KEYS.items()}
        for key, value in changes.items():
            known_name("The session", key, list(KEYS))
            values[key] = check_value(key, value)
        self._values = values
        for side in SIDES:
            behind = self._mark(side)[1]
            if behind > _FURTHEST:
                far = f"With the marker that far off-centre and distance_{side} {values[f'distance_{side}']:g} mm"
                where = f"the {side} mark would lie {behind:.1f} mm behind the limbus"
                raise LearnerError(f"{far} {where}; up to {_FURTHEST:g} mm can be. Come nearer.")
            if behind < _NEAREST:
                near = f"With the marker that far off-centre and distance_{side} {values[f'distance_{side}']:g} mm"
                raise LearnerError(f"{near} the {side} mark would lie on limbus or cornea. Go further back.")

    def but(self, **changes):
        """Return the same session with some values changed (and checked)."""
        return Session(**{**self._values, **changes})

    def __getitem__(self, key):
        known_name("The session", key, list(KEYS))
        return self._values[key]

    @property
    def values(self):
        """Every key and its value, to be read."""
        return MappingProxyType(self._values)

    @property
    def changes(self):
        """What is other than planned: key to value."""
        return {key: value for key, value in self._values.items() if value != KEYS[key].start}

    def __eq__(self, other):
        return self._values == other._values if isinstance(other, Session) else NotImplemented

    def __hash__(self):
        return hash(tuple(self._values.values()))

    @property
    def words(self):
        """What is other than planned, in words: "mark 2 = 10 deg"."""
        return write_changes(self.changes, units=True)

    def __repr__(self):
        return f"Session: {self.words}"

    @functools.cached_property
    def eye(self):
        """The `Eye`, its wall as large in proportion as its white-to-white."""
        size = self["white_to_white"]
        return Eye(side=self["eye"], white_to_white=size, scleral_radius=_RADIUS * size)

    @functools.cached_property
    def lens(self):
        """The `Lens`: of the power from the shelf that fits the plan in this eye, its haptics bent as said."""
        return _plain_lens(self["white_to_white"]).but(first_bend=self["bend_first"], second_bend=self["bend_second"])

    @functools.cached_property
    def first(self):
        """`Fixation` of the first haptic."""
        return self._fixation("first")

    @functools.cached_property
    def second(self):
        """`Fixation` of the second haptic."""
        return self._fixation("second")

    @functools.cached_property
    def settled(self):
        """Where the lens comes to rest, a `Settled`; flagged with a reason where it does not."""
        return settle(self.eye, self.lens, self.first, self.second, on_failure="flag")

    @functools.cached_property
    def sight(self):
        """What the patient sees at this pupil, a `Sight` (flagged if nothing); None where nothing has settled."""
        if not self.settled.settled:
            return None
        return refract(self.eye, self.lens, self.settled, self["pupil"], on_failure="flag")

    @property
    def plan(self):
        """The same eye at the same pupil, operated as planned: a `Session`."""
        return _plan(**{key: self[key] for key in ("white_to_white", "eye", "pupil")})

    @property
    def planned(self):
        """Where the lens comes to rest in the same eye operated as planned, a `Settled`."""
        return self.plan.settled

    @property
    def planned_sight(self):
        """What the patient sees with the lens where it was planned, a `Sight`."""
        return self.plan.sight

    @property
    def refraction_surprise(self):
        """Spherical equivalent [D] less that of the plan; NaN if nothing is seen."""
        return float("nan") if self.sight is None else float(self.sight.M - self.planned_sight.M)

    @property
    def free_length(self):
        """Haptic between optic and internal entry [mm], by side; None where the needle never enters the eye."""
        lengths = (float(length) for length in self.settled.free_length)
        return {side: length if np.isfinite(length) else None for side, length in zip(SIDES, lengths, strict=True)}

    def with_free_length(self, side, value):
        """Session in which this much of a haptic is free between optic and internal entry; its tunnel stays.

        Raises LearnerError if that needle never enters the eye, or so much or so little cannot be externalised.

        Parameters
        ----------
        side : "first" or "second"
        value : float [mm]
        """
        outside, what = self[f"outside_{side}"], KEYS[f"outside_{side}"]
        free = self.free_length[side]
        if free is None:
            raise LearnerError(f"The {side} needle never enters the eye, so that no haptic is free in it.")
        words = "haptic between optic and internal entry"
        value = check_number("intraocular haptic length", value, 0.0, 16.0, "mm", words)
        least, most = free + outside - what.high, free + outside - what.low
        if not least - 1e-9 <= value <= most + 1e-9:
            raise LearnerError(
                f"With this tunnel {least:.2f} to {most:.2f} mm of the {side} haptic can be free: {what.low:g} to "
                f"{what.high:g} mm of it is externalised. {value:g} mm was asked for."
            )
        left = min(max(round(free + outside - value, 9), what.low), what.high)
        return self.but(**{f"outside_{side}": left})

    def linked(self, key, value, how):
        """Session in which a value is set and the other side comes along; what is of neither side is just set.

        Parameters
        ----------
        key : str
            Of `KEYS`.
        value : float [unit of its quantity], or one of the options of its setting
        how : "each", "together" or "against"
            The other side stays, moves by as much, or by as much the other way, and no further than its range. Of a
            `Setting` it becomes the same with "together", and else stays.
        """
        if how not in ("each", "together", "against"):
            raise LearnerError(f"The sides move 'each', 'together' or 'against'; {short(how)} was given.")
        before, what = self[key], KEYS[key]
        changes = {key: check_value(key, value)}
        if what.sided and isinstance(what, Quantity) and how != "each":
            by = changes[key] - before if how == "together" else before - changes[key]
            changes[_other(key)] = min(max(round(self[_other(key)] + by, 9), what.low), what.high)
        elif what.sided and how == "together":
            changes[_other(key)] = changes[key]
        return self.but(**changes)

    def mirrored(self, side="first"):
        """Session in which the other side is made like this one; what is of neither side, the ring too, stays."""
        return self.but(
            **{_other(key): self[key] for key in (f"{what.key}_{side}" for what in PARAMETERS if what.sided)}
        )

    def swapped(self):
        """Session turned half round the axis: each side has what the other had, and the ring is off the other way."""
        sides = {_other(key): self[key] for key, what in KEYS.items() if what.sided}
        return self.but(**sides, ring_x=-self["ring_x"], ring_y=-self["ring_y"])

    def text(self):
        """Short text that restores it by `Session.read`: what is other than planned, sides written 1 and 2."""
        return f"eyesim live: {write_changes(self.changes)}"

    @classmethod
    def read(cls, text):
        """Session that a text from `text` describes; capitals, blanks, line breaks and decimal commas do not matter.

        A name without a side stands for both. Nothing in the text is evaluated; what cannot be read is named in a
        `LearnerError`.
        """
        return cls(**read_changes(text))

    def _fixation(self, side):
        v = {what.key: self[f"{what.key}_{side}"] for what in PARAMETERS if what.sided}
        meridian, distance = self._mark(side)
        return Fixation(
            meridian=meridian, limbus_distance=distance, limbus_angle=v["limbus"], iris_angle=v["dip"],
            tunnel_length=None if v["kind"] == "straight" else v["tunnel"], outside=v["outside"],
            exit_angle=v["turn"] if v["turned"] else None, wall=v["wall"], clockwise=not v["backwards"],
        )  # fmt: skip

    def _mark(self, side):
        arm = (180.0 if side == "second" else 0.0) + self[f"mark_{side}"]
        return ring_marks(self.eye, self["ring_x"], self["ring_y"], arm, self[f"distance_{side}"])


@dataclasses.dataclass(frozen=True)
class Mistake:
    """A classic mistake to show by one key, as changes of the plan; or (`eye`) another eye, operated as usual."""

    key: str
    name: str
    changes: dict
    eye: bool = False

    def session(self, before=None):
        """Session of this mistake alone; eye side and pupil stay as they were `before`, if that is given."""
        kept = {} if before is None else {"eye": before["eye"], "pupil": before["pupil"]}
        return Session(**kept, **self.changes)


_STRAIGHT = {"kind_first": "straight", "kind_second": "straight"}
_MISTAKES = (
    Mistake("p", "As planned", {}),
    Mistake("1", "One mark 10 deg off", {"mark_second": 10.0}),
    Mistake("2", "One needle 10 deg steeper", {"dip_second": 20.0}),
    Mistake("3", "One needle run the wrong way", {"backwards_second": True}),
    Mistake("4", "Marker 0.5 mm off-centre", {"ring_x": 0.5}),
    Mistake("5", "Ends turned 45 and 30 deg", {"turned_first": True, "turned_second": True, "turn_first": 45.0}),
    Mistake("6", "One tunnel 1 mm short", {"tunnel_second": 1.0}),
    Mistake("7", "One haptic bent 10 deg", {"bend_second": 10.0}),
    Mistake("8", "Single plane, one sclera thinner", {**_STRAIGHT, "wall_second": 0.4}),
    Mistake("9", "Small eye", {"white_to_white": 10.8}, eye=True),
    Mistake("0", "Large eye", {"white_to_white": 12.8}, eye=True),
    Mistake("b", "Both sides wrong alike", {"dip_first": 20.0, "dip_second": 20.0}),
    Mistake("n", "Single plane, never through", {**_STRAIGHT, "dip_second": 5.0}),
)
MISTAKES = MappingProxyType({one.name: one for one in _MISTAKES})
"""Name to `Mistake`, in the order of their keys on the keyboard."""

_plan = functools.lru_cache(maxsize=256)(Session)


@functools.lru_cache(maxsize=256)
def _plain_lens(white_to_white):
    """Lens for the plan in an eye of this size; chosen at the pupil of a `DAY`, whatever the pupil of the session."""
    eye, passes = Session(white_to_white=white_to_white).eye, Session()
    planned = settle(eye, LENS, passes.first, passes.second)
    return chosen_lens(LENS, eye, Pose(z=float(planned.z), roll=float(planned.roll)))


def _other(key):
    name, _, side = key.rpartition("_")
    return f"{name}_{'second' if side == 'first' else 'first'}"
