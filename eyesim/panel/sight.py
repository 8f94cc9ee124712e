"""What the patient sees, with sliders: move the lens in the eye and read the letter chart with her.

The chart stands beside the sliders and the lens from the side, so that what looks bad and what is bad can be told
apart. Lens and words follow the hand; the chart takes longer, comes as soon as the hand rests, and is marked as old
until then. The planned place is drawn in dashes, or what was kept; what matters is judged against the same eye with
its lens in the planned place, at the same pupil.
"""

from __future__ import annotations

import dataclasses
import difflib
import functools
from html import escape

import numpy as np

from ..draw.letters import compared_charts, letter_chart
from ..draw.picture import Picture
from ..draw.views import side_view
from ..eye.checks import LearnerError, short
from ..eye.frames import whole_degrees
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..hold.pose import Pose
from ..hold.settle import settle
from ..lesson.patient import (
    BAG_DEPTH,
    DAY,
    NIGHT,
    SightVerdict,
    chosen_lens,
    moved,
    on_the_shelf,
    row_words,
    rows_lost,
    touches,
)
from ..sight import power_for, refract
from ..sight.refraction import in_words
from ..sight.spectacles import fit_glasses
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT
from .at_rest import AtRest
from .base import Panel
from .board import layout
from .controls import Single, readout, words_alone

_NAME = "Sight"
_SHOWN = ("deeper", "tilt")
_EDGE = {"off": 1.5, "pupil": 6.0}
_FOLLOWS = "<p>The chart follows.</p>"
_ROUND = 6.0  # [D] about the lens's own power that its slider reaches


@dataclasses.dataclass(frozen=True, eq=False)
class Seen:
    """What the patient sees with the sliders as they stand.

    Attributes
    ----------
    pose : Pose
    sight : Sight or None
        None where nothing is seen.
    found : GlassesFit or None
        Without glasses and with the best ones.
    reason : str
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
    lens : Lens
        With the power it had at the start.
    planned : Pose
        Where the lens should lie.
    """

    def __init__(self, eye, lens, planned):
        self.lens, self.planned = lens, planned
        self._planned_at = functools.lru_cache(maxsize=8)(self._seen_in_place)
        self._seen = functools.lru_cache(maxsize=4)(self._seen_with)
        self._charted = None
        bag = float(np.clip(_bag_power(eye, lens), lens.power - _ROUND, lens.power + _ROUND))
        super().__init__(
            _NAME, _quantities(lens), _SHOWN, _presets(bag), None, None, eye=eye, decentration=DECENTRATION_LIMIT,
            tilt=TILT_LIMIT,
        )  # fmt: skip

    def choose(self, **options):
        """Choose how the panel is seen.

        Parameters
        ----------
        keep : bool
            Keep the lens as it lies now in dashes, and its chart beside the next; or let go of it.
        hide : bool
            Hide the letter chart and the numbers, for a prediction.
        more : bool
            Show all sliders.

        Raises
        ------
        LearnerError
            If there is no such choice.
        """
        super().choose(**options)

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
            return Picture(_chart((seen, None)) if seen.settled else words_alone(words), words)

    def _settle(self, values):
        return self._seen(tuple(values.items()))  # picture, sentence and verdict ask for the same one

    def _seen_with(self, items):
        values = dict(items)
        pose = _pose_of(self.planned, values)
        try:
            sight = refract(self._eye, self._lens_of(values), pose, values["pupil"], on_failure="raise")
            return Seen(pose, sight, fit_glasses(sight))
        except LearnerError as error:
            return Seen(pose, reason=str(error))

    def _lens_of(self, values):
        power = values["power"]
        return self.lens if abs(power - self._start["power"]) < 1e-9 else self.lens.with_power(power)

    def _seen_in_place(self, pupil):
        return fit_glasses(refract(self._eye, self.lens, self.planned, pupil))

    def _words(self, seen):
        if not seen.settled:
            return f"{_NAME}: {seen.reason} {self._touched(seen)}".rstrip()
        return f"{_NAME}: {self._said(self._values, seen)} {self._matters(seen)}"

    def _said(self, v, seen):
        sight = seen.sight
        power, chosen = v["power"], self._start["power"]
        power = f"; its power is {power:.1f} D instead of {chosen:.1f} D" if power != chosen else ""
        beside = (
            f", {100 * sight.missed_light:.0f} % of the light beside the optic" if sight.missed_light >= 0.005 else ""
        )
        words = (
            f"The patient reads {_read(seen.found)}. The lens lies {_where(v)}{power}. Chamber depth "
            f"{sight.chamber_depth:.2f} mm, pupil {v['pupil']:.1f} mm. Over the whole pupil the eye measures "
            f"{in_words(sight)}; coma (a smear to one side) {sight.coma:.2f} um{beside}."
        )
        return " ".join(part for part in (words, self._of_the_pupil(), self._touched(seen)) if part)

    def _of_the_pupil(self):
        """Say what the pupil alone costs, if it costs two rows: that is not the lens's place."""
        here, usual = (self._planned_at(pupil) for pupil in (self._values["pupil"], self._start["pupil"]))
        if (
            rows_lost(here.read, usual.read) < 2 or SightVerdict(here, here).poor_in_place
        ):  # the verdict says that first
            return ""
        return f"At this pupil {row_words(here.read)} is read even with the lens in its place."

    def _touched(self, seen):
        """Say what the optic would touch, if anything; the picture shows it going through."""
        part = touches(self._eye, self._lens_of(self._values), seen.pose)
        return f"So placed, the optic would touch the {part}; the model lets it through." if part else ""

    def _matters(self, seen):
        return SightVerdict(seen.found, self._planned_at(self._values["pupil"]))

    def _pictures(self, values):
        return {"eye": self._lens_from_the_side(values)}

    def _lens_from_the_side(self, v):
        along = v[_cut_along(self._values)]  # of what is shown: a section that jumps has no slope
        pupil = float(np.clip(v["pupil"] * 0.9, 0.5, 9.0))  # the cornea enlarges it
        look = {"eye": self._eye, "lens": self._lens_of(v), "along": along, "pupil": pupil}
        try:
            return side_view(_pose_of(self.planned, v), compare=self._compared()[0], **look)
        except LearnerError as error:
            return Picture(words_alone(str(error)), str(error))

    def _compared(self):
        """Pose that is drawn in dashes, and what it is."""
        if self._kept is None or self._options["hide"]:
            return self.planned, "where the lens should lie"
        return self._kept.pose, "as kept (A)"

    def _regions(self):
        seen, follows = self._settle(self._values), _FOLLOWS if self._chart_wanted() != self._charted else ""
        regions = {"kept": "", "dashed": f'<div class="eyesim-small">Dashed: {self._compared()[1]}.</div>'}
        if self._options["hide"]:
            words = "What does the patient see? What do you expect?"
            head = readout(words, "wait", "The letter chart is hidden.")
            return regions | {"readout": head, "follows": "", "chart": ""}
        if not seen.settled:
            words = f"{seen.reason} {self._touched(seen)}".rstrip()
            head = readout(words, "stop", "There is no image to show.")
            return regions | {"readout": head, "follows": "", "chart": ""}
        verdict = self._matters(seen)
        kind = "stop" if verdict.matters else "told" if verdict.glare else "go"
        regions |= {"readout": readout(self._said(self._values, seen), kind, str(verdict)), "follows": follows}
        if self._kept is not None:
            kept = f"{in_words(self._kept.sight)}; the patient reads {_read(self._kept.found)}."
            regions["kept"] = readout(f"A, kept to compare: {kept}", "told")
        return regions

    def _chart_wanted(self):
        """Return what the chart is to show, what is seen now and what was kept; None if nothing."""
        seen = self._settle(self._values)
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
        return AtRest(self._lock, _chart, self._show_chart)

    def _show_chart(self, asked, chart):
        self._charted = None if isinstance(chart, LearnerError) else asked
        html = chart if self._charted else f'<p role="alert">{escape(str(chart))}</p>'
        self._board.show(regions={"chart": html, "follows": ""})

    def preset(self, name):
        """Set one of the named mistakes, by the words of its button; all else as planned."""
        words = {"Reset: as planned" if key == "As planned" else key: key for key in self._presets}
        if name not in self._presets and name not in words:
            near = difflib.get_close_matches(str(name), [*words], n=1, cutoff=0.6)
            hint = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(words)}."
            raise LearnerError(f"{_NAME} has no button {str(name)[:60]!r}. {hint}")
        super().preset(words.get(name, name))

    def _option_values(self):
        return {"keep": self._options["keep"], "hide": self._options["hide"], "more": self._more}

    def _content(self):
        """Put the lens below the sliders, and the chart beside them."""
        content = super()._content()
        lens = layout.column(layout.stage("eye"), layout.region("dashed"))
        content["children"][1]["children"][0]["children"].append(lens)
        return {**content, "look": "sight"}

    def _shown_part(self):
        regions = [layout.region(name) for name in ("readout", "kept", "follows", "chart")]
        return layout.column(*regions, look="shown")

    def _view_part(self):
        hints = {
            "keep": "Keep this lens in dashes, and its chart beside the next",
            "hide": "Hide the letter chart and the numbers, for a prediction",
        }
        words = {"keep": ("Keep to compare", True), "hide": ("Hide the outcome", "words")}
        return [layout.button(name, words[name][0], hint=hints[name], toggle=words[name][1]) for name in words]


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
    power = float(round(lens.power, 1))
    turned = [Single("turn", "Turned about its middle", "deg", -45.0, 45.0, 1.0, 0.0)] if lens.toric_cylinder else []
    return [
        Single("deeper", "Deeper than planned (\u2212: nearer)", "mm", -2.0, 2.0, 0.05, 0.0),
        Single("tilt", "Tilted", "deg", 0.0, 30.0, 0.5, 0.0),
        Single("tilt_towards", "Tilted: front towards", "deg", 0.0, 355.0, 5.0, 90.0),
        Single("off", "Off centre", "mm", 0.0, 3.0, 0.05, 0.0),
        Single("off_towards", "Off centre: towards", "deg", 0.0, 355.0, 5.0, 0.0),
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


def _cut_along(v):
    """Quantity whose meridian the section takes: of shift or tilt, whichever is the larger part of its limit."""
    shifted = v["off"] / DECENTRATION_LIMIT > v["tilt"] / TILT_LIMIT
    return "tilt_towards" if v["tilt"] and not shifted else "off_towards"


def _chart(asked):
    """Chart of what is seen now as SVG, beside that of what was kept."""
    seen, kept = asked
    if kept is None:
        return letter_chart(seen.sight, found=seen.found).svg
    return compared_charts(kept.found, seen.found).svg


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
