"""What the patient sees, with sliders: move the lens in the eye and read the letter chart with her.

The chart stands beside the sliders and the lens from the side, so that what looks bad and what is bad can be told
apart. Lens and words follow the hand; the chart takes longer, comes as soon as the hand rests, and is marked as old
until then. The planned place is drawn in dashes, or what was kept; what matters is judged against the same eye with
its lens in the planned place, at the same pupil.
"""

from __future__ import annotations

import functools
from html import escape

import numpy as np

from ..draw.picture import Picture
from ..eye.checks import LearnerError, short
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..hold.pose import Pose
from ..hold.settle import settle
from ..lesson.patient import DAY, NIGHT, capsule_pose, chosen_lens, moved, on_the_shelf
from ..sight import power_for, refract
from ..sight.refraction import in_words
from .at_rest import AtRest
from .board import layout
from .controls import readout, words_alone
from .moved_lens import MovedLens, chart_of, reading_words, steepest
from .quantities import Single
from .sliders import SliderPanel

_NAME = "Sight"
_SEEN = ("deeper", "tilt")
_EDGE = {"off": 1.5, "pupil": 6.0}
_FOLLOWS = "<p>The chart follows.</p>"
_POWERS = 6.0  # [D] about the lens's own power that its slider reaches


class SightPanel(SliderPanel):
    """Sliders beside the letter chart; set one in Python or by hand, and read the panel: its repr is a sentence.

    Attributes
    ----------
    lens : Lens
        With the power it had at the start.
    planned : Pose
        Where the lens should lie.
    """

    _LOOK = "sight"
    _KEEP = "Keep this lens in dashes, and its chart beside the next"
    _HIDE = "Hide the letter chart and the numbers, for a prediction"

    def __init__(self, eye, lens, planned):
        self.lens, self.planned = lens, planned
        self._moved = MovedLens(eye, lens, planned)
        self._charted = None
        bag = float(np.clip(_bag_power(eye, lens), lens.power - _POWERS, lens.power + _POWERS))
        super().__init__(_NAME, _quantities(lens), _SEEN, _presets(bag))
        self._draw()

    @property
    def sight(self):
        """What is seen now, a `Sight`; None where nothing is."""
        with self._lock:
            return self._result(self._values).sight

    @property
    def verdict(self):
        """Whether it matters for reading, a `SightVerdict`; None where nothing is seen."""
        with self._lock:
            return self._result(self._values).verdict

    def picture(self):
        """Picture of the present state, for readers without a running kernel: the letter chart."""
        with self._lock:
            seen = self._result(self._values)
            words = self._words(seen)
            return Picture(chart_of(seen).svg if seen.settled else words_alone(words), words)

    def _result(self, values):
        return self._moved.see(values)

    def _words(self, seen):
        return f"{_NAME}: {seen.words} {seen.verdict or ''}".rstrip()

    def _pictures(self, values):
        along = values[steepest(self._values)]  # of what is shown: a section that jumps has no slope
        return {"eye": self._moved.from_the_side(values, self._compared()[0], along)}

    def _compared(self):
        """Pose that is drawn in dashes, and what it is."""
        if self._kept is None or self._options["hide"]:
            return self.planned, "where the lens should lie"
        return self._kept.pose, "as kept (A)"

    def _regions(self):
        seen = self._result(self._values)
        regions = {
            "kept": "",
            "follows": "",
            "dashed": f'<div class="eyesim-small">Dashed: {self._compared()[1]}.</div>',
        }
        if self._options["hide"]:
            words = "What does the patient see? What do you expect?"
            return regions | {"readout": readout(words, "wait", "The letter chart is hidden."), "chart": ""}
        if not seen.settled:
            return regions | {"readout": readout(seen.words, "stop", "There is no image to show."), "chart": ""}
        verdict = seen.verdict
        kind = "stop" if verdict.matters else "told" if verdict.glare else "go"
        regions["readout"] = readout(seen.words, kind, str(verdict))
        if self._chart_wanted() != self._charted:
            regions["follows"] = _FOLLOWS
        if self._kept is not None:
            kept = f"{in_words(self._kept.sight)}; the patient reads {reading_words(self._kept.fit)}."
            regions["kept"] = readout(f"A, kept to compare: {kept}", "told")
        return regions

    def _chart_wanted(self):
        """Return what the chart is to show, what is seen now and what was kept; None if nothing."""
        seen = self._result(self._values)
        return None if self._options["hide"] or not seen.settled else (seen, self._kept)

    def _draw(self):
        with self._lock:
            super()._draw()
            wanted = self._chart_wanted()
            if wanted is None:
                self._charted = None
            if wanted == self._charted:
                self._chart_at_rest.drop()
            else:
                self._chart_at_rest.ask(wanted)

    @functools.cached_property
    def _chart_at_rest(self):
        return AtRest(self._lock, lambda wanted: chart_of(*wanted).svg, self._show_chart)

    def _show_chart(self, wanted, chart):
        self._charted = None if isinstance(chart, LearnerError) else wanted
        html = chart if self._charted else f'<p role="alert">{escape(str(chart))}</p>'
        self._board.show(regions={"chart": html, "follows": ""})

    def _control_part(self):
        """Put the lens below the sliders."""
        return [*super()._control_part(), layout.column(layout.stage("eye"), layout.region("dashed"))]

    def _shown_part(self):
        regions = [layout.region(name) for name in ("readout", "kept", "follows", "chart")]
        return layout.column(*regions, look="shown")


def sight_panel(eye=None, lens=None, pose=None):
    """Panel for what a patient sees: move the lens, open the pupil, change the power.

    Raises LearnerError if these are not one eye, one lens and one pose, or nothing is seen with the lens in its place.

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
    """
    eye = Eye() if eye is None else eye
    given = (("eye", eye, Eye), ("lens", lens, Lens), ("pose", pose, Pose))
    for name, value, kind in given:
        if value is not None and (not isinstance(value, kind) or value.shape != ()):
            raise LearnerError(
                f"sight_panel: {name} is one {kind.__name__} of single numbers, or none is given; {short(value)} was "
                "given."
            )
    if pose is None:
        first = Fixation(meridian=0.0)
        pose = settle(eye, Lens() if lens is None else lens, first, first.opposite())
    lens = chosen_lens(eye=eye, pose=pose) if lens is None else lens
    refract(eye, lens, pose, DAY)  # nothing to move if nothing is seen
    return SightPanel(eye, lens, moved(pose))


def _quantities(lens):
    power = float(round(lens.power, 1))  # as `MovedLens` has it
    turned = [Single("turn", "Turned about its middle", "deg", -45.0, 45.0, 1.0, 0.0)] if lens.toric_cylinder else []
    return [
        Single("deeper", "Deeper than planned (\u2212: nearer)", "mm", -2.0, 2.0, 0.05, 0.0),
        Single("tilt", "Tilted", "deg", 0.0, 30.0, 0.5, 0.0),
        Single("tilt_towards", "Tilted: front towards", "deg", 0.0, 355.0, 5.0, 90.0),
        Single("off", "Off centre", "mm", 0.0, 3.0, 0.05, 0.0),
        Single("off_towards", "Off centre: towards", "deg", 0.0, 355.0, 5.0, 0.0),
        *turned,
        Single("pupil", "Pupil, as the beam at the cornea", "mm", 2.0, 7.0, 0.25, DAY),
        Single("power", "Power of the lens", "D", power - _POWERS, power + _POWERS, 0.1, power),
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
    return float(on_the_shelf(power_for(eye, lens, capsule_pose(eye, lens))))
