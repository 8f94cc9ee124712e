"""What the patient sees, with sliders: move the lens in the eye and read the letter chart with her.

The chart stands beside the lens from the side, so that what looks bad and what is bad can be told apart. The planned
place is drawn in dashes; what matters is judged against the same eye with its lens there, at the same pupil.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from ..course.judge import DECENTRATION_LIMIT, TILT_LIMIT
from ..course.patient import (
    BAG_DEPTH,
    DAY,
    NIGHT,
    ROW,
    chosen_lens,
    fitted_matters,
    loss,
    moved,
    on_the_shelf,
    row_words,
)
from ..eye.checks import LearnerError
from ..eye.frames import whole_degrees
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..hold.pose import Pose
from ..hold.settle import settle
from ..sight import power_for, refract
from ..sight.refraction import in_words
from ..sight.spectacles import fitted
from .controls import Single, readout, view_options, words_alone
from .letter_chart import letter_chart
from .panel import Panel
from .picture import Picture
from .side import side_view

_NAME = "Sight"
_SHOWN = ("deeper", "tilt")
_EDGE = {"off": 1.5, "pupil": 6.0}
_ROUND = 6.0  # [D] about the lens's own power that its slider reaches


@dataclasses.dataclass(frozen=True)
class Seen:
    """What the patient sees with the sliders as they stand.

    Attributes
    ----------
    pose : Pose
    sight : Sight or None
        None where nothing is seen.
    found : Fitted or None
        Without glasses and with the best ones.
    settled : bool
        Whether there is something to see.
    reason : str
        Why not.
    """

    pose: Pose
    sight: object = None
    found: object = None
    reason: str = ""

    @property
    def settled(self):
        """Whether there is something to see."""
        return self.sight is not None

    @property
    def depth(self):
        """Depth [mm] of the optic behind the limbal plane."""
        return self.pose.depth


class SightPanel(Panel):
    """Sliders beside the letter chart; set one in Python or by hand, and read the panel: its repr is a sentence.

    Attributes
    ----------
    sliders, state, view, more, buttons : as in `Panel`
    lens : Lens
        With the power it had at the start.
    planned : Pose
        Where the lens should lie.
    """

    def __init__(self, eye, lens, planned):
        self.lens, self.planned = lens, planned
        self._planned_at = functools.lru_cache(maxsize=8)(self._seen_in_place)
        self._seen = functools.lru_cache(maxsize=2)(self._seen_with)
        bag = float(np.clip(_bag_power(eye, lens), lens.power - _ROUND, lens.power + _ROUND))
        super().__init__(
            _NAME, _quantities(lens), _SHOWN, _presets(bag), None, None, eye=eye, decentration=DECENTRATION_LIMIT,
            tilt=TILT_LIMIT,
        )  # fmt: skip

    @property
    def sight(self):
        """What is seen now, a `Sight`; None where nothing is."""
        with self._lock:
            return self._settle(self._values).sight

    def picture(self):
        """Picture of the present state, for readers without a running kernel: the letter chart."""
        with self._lock:
            seen = self._settle(self._values)
            words = self._words(seen)
            return Picture(
                letter_chart(seen.sight, found=seen.found).svg if seen.settled else words_alone(words), words
            )

    def _settle(self, values):
        return self._seen(tuple(values.items()))  # picture, sentence and verdict ask for the same one

    def _seen_with(self, items):
        values = dict(items)
        pose = _pose_of(self.planned, values)
        try:
            sight = refract(self._eye, self._lens_of(values), pose, values["pupil"], on_failure="raise")
            return Seen(pose, sight, fitted(sight))
        except LearnerError as error:
            return Seen(pose, reason=str(error))

    def _lens_of(self, values):
        power = values["power"]
        return self.lens if abs(power - self._start["power"]) < 1e-9 else self.lens.with_power(power)

    def _seen_in_place(self, pupil):
        return fitted(refract(self._eye, self.lens, self.planned, pupil))

    def _words(self, seen):
        if not seen.settled:
            return f"{_NAME}: {seen.reason}"
        return f"{_NAME}: {self._said(self._values, seen)} {self._matters(seen)}"

    def _said(self, v, seen):
        sight = seen.sight
        power = f", power {v['power']:.1f} D" if v["power"] != self._start["power"] else ""
        beside = f", {100 * sight.beside:.0f} % of the light beside the optic" if sight.beside >= 0.005 else ""
        return (
            f"The patient reads {_read(seen.found)}. The lens lies {_where(v)}{power}; chamber depth "
            f"{sight.chamber_depth:.2f} mm, pupil {v['pupil']:.1f} mm. Over the whole pupil the eye measures "
            f"{in_words(sight)}; coma {sight.coma:.2f} um{beside}.{self._of_the_pupil()}"
        )

    def _of_the_pupil(self):
        """Say what the pupil alone costs, if it costs a row: that is not the lens's place."""
        here, there = (self._planned_at(pupil).read for pupil in (self._values["pupil"], self._start["pupil"]))
        if loss(here, there) <= ROW:
            return ""
        return f" At this pupil {row_words(here)} is read even with the lens in its place."

    def _matters(self, seen):
        return fitted_matters(seen.found, self._planned_at(self._values["pupil"]))

    def _html(self):
        seen = self._settle(self._values)
        if self._hidden:
            head = readout("What does the patient see? What do you expect?", "wait", "The letter chart is hidden.")
            return head + _beside("", self._lens_view(seen))
        if not seen.settled:
            return readout(seen.reason, "stop", "There is no image to show.") + _beside("", self._lens_view(seen))
        verdict = self._matters(seen)
        kind = "stop" if verdict.startswith("It matters") else "told" if "glare" in verdict else "go"
        head = readout(self._said(self._values, seen), kind, verdict)
        return head + _beside(letter_chart(seen.sight, found=seen.found).svg, self._lens_view(seen)) + self._compared()

    def _lens_view(self, seen):
        v = self._values
        along = v["tilt_towards"] if v["tilt"] else v["off_towards"]
        pupil = float(np.clip(v["pupil"] * 0.9, 0.5, 9.0))  # the cornea enlarges it
        try:
            return side_view(
                seen.pose, eye=self._eye, lens=self._lens_of(v), compare=self.planned, along=along, pupil=pupil
            ).svg
        except LearnerError:
            return ""

    def _compared(self):
        if self._kept is None:
            return ""
        kept = f"Kept to compare: {in_words(self._kept.sight)}; the patient reads {_read(self._kept.found)}."
        return readout(kept, "told")

    def _view_row(self):
        import ipywidgets as widgets

        every = view_options(self._side, **self._limits)
        self.options = {name: every[name] for name in ("keep", "hide")}
        self.options["keep"].tooltip = "Keep what is seen now, in words below the next"
        self.options["hide"].tooltip = "Hide the letter chart and the numbers, for a prediction"
        for name, widget in self.options.items():
            widget.observe(lambda change, name=name: self._option_changed(name, change["new"]), "value")
        return widgets.HBox(list(self.options.values()), layout=widgets.Layout(flex_flow="row wrap", margin="6px 0 0"))


def sight_panel(eye=None, lens=None, pose=None):
    """Panel for what a patient sees: move the lens, open the pupil, change the power.

    Parameters
    ----------
    eye : Eye or None
    lens : Lens or None
        By default one whose power was chosen, in steps of half a dioptre, for where it should lie.
    pose : Pose or None
        Where the lens should lie; by default where the usual passes lay it.

    Returns
    -------
    SightPanel
        Quantities: deeper [mm], tilt, tilt_towards [deg], off [mm], off_towards [deg], pupil [mm], power [D] and, of
        a toric lens, turn [deg].

    Raises
    ------
    LearnerError
        If these are not one eye, one lens and one pose, or nothing is seen with the lens in its place.
    """
    eye = Eye() if eye is None else eye
    given = (("eye", eye, Eye), ("lens", lens, Lens), ("pose", pose, Pose))
    for name, value, kind in given:
        if value is not None and (not isinstance(value, kind) or value.shape != ()):
            raise LearnerError(f"sight_panel: {name} is one {kind.__name__} of single numbers, or none is given.")
    if pose is None:
        first = Fixation(meridian=0.0)
        pose = settle(eye, Lens() if lens is None else lens, first, first.opposite())
    lens = chosen_lens(eye=eye, pose=pose) if lens is None else lens
    refract(eye, lens, pose, DAY)  # nothing to move if nothing is seen
    return SightPanel(eye, lens, moved(pose))


def _quantities(lens):
    power = float(round(lens.power, 1))
    turned = [Single("turn", "Turned about its middle", "deg", -45.0, 45.0, 1.0, 0.0)] if lens.toric_cylinder else []
    return [
        Single("deeper", "Deeper than planned (\u2212: nearer)", "mm", -2.0, 2.0, 0.05, 0.0),
        Single("tilt", "Tilted", "deg", 0.0, 30.0, 0.5, 0.0),
        Single("tilt_towards", "\u2026 its front towards", "deg", 0.0, 355.0, 5.0, 90.0),
        Single("off", "Off centre", "mm", 0.0, 3.0, 0.05, 0.0),
        Single("off_towards", "\u2026 towards", "deg", 0.0, 355.0, 5.0, 0.0),
        *turned,
        Single("pupil", "Pupil, as the beam at the cornea", "mm", 2.0, 7.0, 0.25, DAY),
        Single("power", "Power of the lens", "D", power - _ROUND, power + _ROUND, 0.1, power),
    ]


def _presets(bag):
    return {
        "Tilted 5 deg": {"tilt": 5.0},
        "0.5 mm off centre": {"off": 0.5},
        "0.5 mm too deep": {"deeper": 0.5},
        "0.5 mm too far forward": {"deeper": -0.5},
        "Wide pupil": {"pupil": NIGHT},
        "Wide pupil, edge of the optic in it": _EDGE,
        "Tilt and shift that add up": {"tilt": 10.0, "tilt_towards": 0.0, "off": 1.0},
        "Tilt and shift that cancel": {"tilt": 10.0, "tilt_towards": 180.0, "off": 1.0},
        "Power meant for a capsule": {"power": bag},
    }


def _bag_power(eye, lens):
    """Power from the shelf for the same lens in its capsule."""
    z = eye.limbal_depth - BAG_DEPTH - lens.optic_thickness / 2.0
    return float(on_the_shelf(power_for(eye, lens, Pose(z=z))))


def _pose_of(planned, v):
    phi = np.radians(v["off_towards"])
    changes = {"x": planned.x + v["off"] * np.cos(phi), "y": planned.y + v["off"] * np.sin(phi)}
    if v["tilt"]:
        changes |= {"tilt": v["tilt"], "tilt_meridian": v["tilt_towards"]}
    return moved(planned, deeper=v["deeper"], roll=planned.roll + v.get("turn", 0.0), **changes)


def _where(v):
    """Say how a lens lies against where it should, in the fewest words that tell it."""
    words = []
    if v["deeper"]:
        words.append(f"{abs(v['deeper']):.2f} mm {'deeper' if v['deeper'] > 0 else 'nearer to the iris'} than planned")
    if v["tilt"]:
        words.append(f"tilted {v['tilt']:.1f} deg towards {whole_degrees(v['tilt_towards'])} deg")
    if v["off"]:
        words.append(f"{v['off']:.2f} mm off centre towards {whole_degrees(v['off_towards'])} deg")
    if v.get("turn"):
        words.append(f"turned {v['turn']:.0f} deg")
    return ", ".join(words) or "where it should"


def _read(found):
    """Say which row is read without glasses, and with them."""
    if found.glasses.blur:
        return f"{row_words(found.read)}, with {in_words(found.glasses)} {row_words(found.best)}"
    return f"{row_words(found.read)} and {'needs no glasses' if found.read.row <= 0.0 else 'no better with glasses'}"


def _beside(chart, lens):
    """Put the chart and the lens from the side next to each other, or below where there is no room."""
    parts = [(chart, "3 1 460px", 720), (lens, "1 1 250px", 340)]
    cells = "".join(
        f'<div style="flex:{flex};max-width:{most}px;min-width:0">{svg}</div>' for svg, flex, most in parts if svg
    )
    return f'<div style="display:flex;flex-wrap:wrap;gap:10px;align-items:flex-start">{cells}</div>'
