"""What a card says of one haptic: how its needle is aimed, in numbers and words, and the sign that stands for it."""

from __future__ import annotations

import dataclasses

import numpy as np

from ..draw import palette
from ..draw.drawing import num
from ..eye.checks import LearnerError
from ..eye.frames import clock_words, meridian_to_side, unit_at, wrap
from ..eye.globe import Eye
from ..hold.needle import Fixation, Passage, least_dip_that_enters, needle_pass


@dataclasses.dataclass(frozen=True)
class Aim:
    """Haptic k of a plan, 0 or 1: the eye, where its needle is aimed, and the way that the needle takes."""

    k: int
    eye: Eye
    fixation: Fixation
    passage: Passage

    @property
    def name(self):
        """Which haptic."""
        return ("first", "second")[self.k]

    @property
    def colour(self):
        """Its colour."""
        return palette.HAPTICS[self.k]

    @property
    def meridian(self):
        """Of the mark [deg], from 0 to below 360."""
        return float(wrap(self.fixation.meridian))

    @property
    def along(self):
        """The way in which the needle runs along the limbus, seen from in front (2,)."""
        return unit_at(self.meridian + (-90.0 if self.fixation.clockwise else 90.0))[:2]

    @property
    def outwards(self):
        """Away from the axis at the mark (2,)."""
        return unit_at(self.meridian)[:2]

    @property
    def clock(self):
        """Clock time of the mark: "3 o'clock", "3:16"."""
        return clock_words(self.meridian, 1)

    @property
    def side(self):
        """Nasal, superotemporal, ..."""
        return meridian_to_side(self.meridian, self.eye.side)

    @property
    def dip(self):
        """Of the needle to the iris plane [deg]."""
        return float(self.fixation.iris_angle)

    @property
    def exit_dip(self):
        """Of the needle as it is held at the tunnel's end [deg]."""
        return self.dip if self.fixation.exit_angle is None else float(self.fixation.exit_angle)

    @property
    def turned(self):
        """Whether the needle is turned at the tunnel's end."""
        return self.exit_dip != self.dip or bool(self.fixation.exit_swing)

    @property
    def exit_words(self):
        """How the needle is turned at the tunnel's end."""
        swing = f", swung {degrees(self.fixation.exit_swing)}" if self.fixation.exit_swing else ""
        return f"exit {degrees(self.exit_dip)}{swing}"


def aim_of(eye, k, fixation):
    """Work out the `Aim` of a haptic. Raises LearnerError if the needle never enters the eye.

    Parameters
    ----------
    eye : Eye
    k : int
        0 or 1.
    fixation : Fixation
    """
    passage = needle_pass(eye, fixation)
    if not passage.enters:
        limit = float(least_dip_that_enters(eye, fixation))
        hint = f" it enters from {limit:.1f} deg to the iris plane on;" if limit == limit else ""
        raise LearnerError(
            f"No card can be drawn: [{('first', 'second')[k]}] is a single-plane pass that never enters the eye. "
            f"As aimed otherwise,{hint} or give it a tunnel_length [mm] to practise."
        )
    return Aim(k, eye, fixation, passage)


def badge(paper, centre, k, radius):
    """Draw the number of haptic k about a point [mm]: on a disc for the first, on a square for the second.

    Parameters
    ----------
    paper : Paper
    centre : pair of float [mm]
    k : int
        0 or 1.
    radius : float [mm]
    """
    (x, y), colour = centre, palette.HAPTICS[k]
    if k == 0:
        paper.disc(centre, radius, fill=colour, width=0)
    else:
        side = 1.8 * radius
        paper.box(x - side / 2, y - side / 2, side, side, fill=colour, width=0)
    paper.middle(centre, k + 1, size=1.35 * radius, colour="#ffffff", bold=True)


def millimetres(value):
    """Write a length [mm]: one decimal where that is all there is, else two."""
    value = float(value)
    return f"{value:.1f} mm" if abs(10.0 * value - round(10.0 * value)) < 1e-6 else f"{value:.2f} mm"


def degrees(value):
    """Write an angle [deg]."""
    return f"{num(float(value), 1)}°".replace("-", "\N{MINUS SIGN}")


def limbus_at(eye, meridian):
    """Points (..., 2) [mm] of the limbus at meridians (...) [deg].

    Parameters
    ----------
    eye : Eye
    meridian : array [deg]
    """
    return unit_at(meridian)[..., :2] * np.asarray(eye.limbal_radius_at(meridian))[..., None]
