"""Your own hand: set how much it varies, operate two thousand times, and see where the lenses come to lie."""

from __future__ import annotations

import numpy as np

from ..chart.hand_cloud import hand_cloud
from ..eye.checks import LearnerError
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from ..study import Error, Hands, operate
from ..study.verdict import DECENTRATION_LIMIT, TILT_LIMIT, checked_limits
from .at_rest import AtRest
from .board import layout
from .controls import preset_buttons, preset_of, readout
from .quantities import Quantities, Single
from .sliders import QuantityPanel

_NAME = "The hand"
_SPREADS = (
    Single("meridian", "Spread of a mark", "deg", 0.0, 12.0, 0.5, 3.0),
    Single("limbus_angle", "Spread of the angle to the limbus", "deg", 0.0, 12.0, 0.5, 4.0),
    Single("iris_angle", "Spread of the angle to the iris plane", "deg", 0.0, 12.0, 0.5, 4.0),
    Single("tunnel_length", "Spread of the tunnel", "mm", 0.0, 0.6, 0.05, 0.3),
    Single("outside", "Spread of the externalised length", "mm", 0.0, 0.6, 0.05, 0.2),
)
_PRESETS = {
    "Beginning (assumed)": {},
    "Marks twice as steady": {"meridian": 1.5},
    "Iris angles twice as steady": {"iris_angle": 2.0},
    "Tunnels twice as steady": {"tunnel_length": 0.15},
}
_STEPS = (125, 500, 1000, 2000)
"""Operations after which the cloud is drawn: the first of a longer run are those of a shorter one."""
_REMARK = "Spreads to begin with are assumptions; limits chosen for teaching. Numbers beside the sliders can be typed."


class HandPanel(QuantityPanel):
    """Five spreads, a button, and a cloud of virtual operations; its repr is a sentence with the numbers.

    Its state holds, by name, standard deviations per side: meridian, limbus_angle, iris_angle [deg], tunnel_length and
    outside [mm].

    Attributes
    ----------
    outcomes : Outcomes or None
        Of the last run; None where a spread has changed since.
    """

    def __init__(self, eye, lens, first, second, seed, decentration, tilt):
        self._plan, self._seed = (eye, lens, first, second), seed
        self._limits = checked_limits(decentration, tilt)
        self.outcomes = None
        super().__init__("Your hand", Quantities(_NAME, _SPREADS), _PRESETS, file="eyesim-hand", remark=_REMARK)
        self._run = AtRest(self._lock, self._operate, self._show_step, pause=0.0)
        self._wait()

    @property
    def hands(self):
        """Hands with these spreads and nothing else: no bias, no play, steady marker and wall."""
        with self._lock:
            return _hands(self._values)

    def set(self, **spreads):
        """Set spreads by name; the sliders follow, and the cloud waits for the next run.

        Raises LearnerError if a name is unknown or a value out of range.
        """
        checked = self._quantities.checked(spreads)
        with self._lock:
            if self._values | checked != self._values:
                self._values |= checked
                self._wait()

    def operate(self):
        """Operate, drawing the cloud as it grows; return the outcomes.

        Returns
        -------
        Outcomes or None
            None if the operations cannot be carried out, which is then told on the panel.
        """
        with self._lock:
            self._run.drop()
            values = self._begin()
            try:
                for n in _STEPS:
                    if not self._show((values, n), self._operate((values, n))):
                        break
            except LearnerError as error:
                self._show((values, n), error)
            finally:
                self._board.show(off=[])
            return self.outcomes

    @property
    def sentence(self):
        """What the panel shows, in words."""
        with self._lock:
            if self.outcomes is None:
                return f"Your hand: {self._spreads()}. Not operated yet."
            return self._words(self.outcomes)

    def picture(self):
        """Picture of the last run; operates first if there is none.

        Raises LearnerError if the operations cannot be carried out.
        """
        with self._lock:
            outcomes = self.outcomes or self.operate()
            if outcomes is None:
                raise LearnerError("There is no picture: these operations cannot be carried out; the panel says why.")
            return hand_cloud(outcomes, self._limits, self._words(outcomes))

    def _without_scripts(self):
        return None  # it would have to operate first

    def _heard(self, kind, name, value):
        """Answer the page: see `Board`."""
        if kind == "press" and name == "operate":
            self._run.ask((self._begin(), _STEPS[0]))
        elif kind == "press":
            self.preset(preset_of(name, _PRESETS))
        elif kind == "typed":
            self.set(**{name: self._quantities.read(name, value)})
        elif kind == "set":
            self.set(**{name: value})

    def _content(self):
        """Lay the board out."""
        controls = layout.column(
            layout.group("Your hand: spread (SD) a side", *self._quantities.layout()),
            layout.button("operate", "Operate 2,000 times", hint="Operate 2,000 times with this hand", look="main"),
            layout.region("progress"),
            look="controls",
        )
        shown = layout.column(layout.region("readout"), layout.region("cloud"), look="shown")
        return layout.column(preset_buttons(self.presets), layout.row(controls, shown), layout.region("caution"))

    def _begin(self):
        """Show that it begins; return the spreads it begins with."""
        self._board.show(regions={"progress": _progress(0)}, off=["operate"], said="Operating.")
        return dict(self._values)

    def _operate(self, asked):
        values, n = asked
        return operate(*self._plan, _hands(values), n=n, rng=self._seed, progress=False)

    def _show_step(self, asked, result):
        """Show what has been done so far and go on, as long as there is more to do."""
        if self._show(asked, result):
            values, n = asked
            self._run.ask((values, _STEPS[_STEPS.index(n) + 1]))

    def _show(self, asked, result):
        """Show what has been done so far; return whether there is more to do."""
        if isinstance(result, LearnerError):
            self.outcomes = None
            self._board.show(
                regions={"readout": readout(str(result), "stop"), "cloud": "", "progress": ""}, off=[], said=str(result)
            )
            return False
        words, more = self._words(result), asked[1] < _STEPS[-1]
        regions = {
            "readout": self._readout(result),
            "cloud": hand_cloud(result, self._limits, words).svg,
            "progress": _progress(result.n),
        }
        self._board.show(regions=regions)
        if not more:
            self.outcomes = result
            self._board.show(off=[], said=words)
        return more

    def _spreads(self):
        v = self._values
        return (
            f"marks {v['meridian']:.1f} deg, "
            f"limbus and iris angles {v['limbus_angle']:.1f} and {v['iris_angle']:.1f} deg, "
            f"tunnels {v['tunnel_length']:.2f} mm, externalised lengths {v['outside']:.2f} mm (SD a side)"
        )

    def _words(self, outcomes):
        off, lean = self._limits
        share = outcomes.share(off, lean)
        pose = outcomes.pose
        settled = np.asarray(pose.settled)
        half = "none of them came to rest"
        if settled.any():
            off_by, lean_by = (np.median(np.asarray(one)[settled]) for one in (pose.decentration, pose.tilt))
            half = f"half of them are more than {off_by:.2f} mm off centre, half tilt more than {lean_by:.1f} deg"
        lost = outcomes.n - int(settled.sum())
        lost_words = f" {lost} did not settle and count as outside." if lost else ""
        return (
            f"Your hand: {self._spreads()}. Of {outcomes.n:,} operations {100 * share.value:.0f} % (95 % interval "
            f"{100 * share.low:.0f} to {100 * share.high:.0f}) end within {off:g} mm and {lean:g} deg; "
            f"{half}.{lost_words}"
        )

    def _readout(self, outcomes):
        off, lean = self._limits
        share = outcomes.share(off, lean)
        verdict = f"{100 * share.value:.0f} % of {outcomes.n:,} lenses lie within {off:g} mm and {lean:g} deg."
        return readout(_capital(self._words(outcomes).partition(": ")[2]), "told", verdict)

    def _wait(self):
        """Show the spreads, and nothing of an earlier run."""
        self._run.drop()
        self.outcomes = None
        off, lean = self._limits
        words = (
            f"{_capital(self._spreads())}. How many of 2,000 lenses will lie within {off:g} mm and {lean:g} deg? "
            "Guess, then operate."
        )
        regions = {"readout": readout(words, "wait", "Not operated yet."), "cloud": "", "progress": ""}
        self._board.show(values=self._values, regions=regions, off=[], said=self.sentence)


def hand_panel(
    eye=None, lens=None, first=None, second=None, *, rng=1, decentration=DECENTRATION_LIMIT, tilt=TILT_LIMIT
) -> HandPanel:
    """Panel that operates two thousand times with a hand of your own.

    Parameters
    ----------
    eye : Eye or None
    lens : Lens or None
    first, second : Fixation or None
        The plan; by default opposite points and tunnels of 2 mm.
    rng : int
        Seed; the same one gives the same operations.
    decentration, tilt : float [mm], [deg]
        Limits; chosen for teaching.
    """
    first = Fixation(meridian=0.0, iris_angle=10.0) if first is None else first
    if not isinstance(first, Fixation) or first.shape:
        raise LearnerError("hand_panel takes a plan: first and second are single Fixations, or none are given.")
    second = first.opposite() if second is None else second
    eye, lens = Eye() if eye is None else eye, Lens() if lens is None else lens
    if isinstance(rng, bool) or not isinstance(rng, int):
        raise LearnerError(f"rng is a whole number, the seed; a {type(rng).__name__} was given.")
    return HandPanel(eye, lens, first, second, rng, decentration, tilt)


def _hands(values):
    return Hands.perfect().but(**{name: Error(spread=value) for name, value in values.items()})


def _progress(done):
    words = f"{done:,} of {_STEPS[-1]:,} operations"
    return f'<progress max="{_STEPS[-1]}" value="{done}" aria-label="{words}"></progress><div>{words}</div>'


def _capital(words):
    return words[:1].upper() + words[1:]
