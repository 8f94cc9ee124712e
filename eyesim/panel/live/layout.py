"""How the live session is laid out: pictures for the back row, controls within reach, keys for what is needed often."""

from __future__ import annotations

from ...live.parameters import KEYS, SIDES
from ...live.session import MISTAKES
from ...live.votes import OPTIONS
from ..board import layout
from ..controls import SEAT_OPTIONS
from .hands import HANDS, OWN

FREE = (0.0, 12.0, 0.05)
"""[mm] Ends and step of the scale on which the free haptic is set."""
CASES = 9999
_LINKS = (("each", "each for itself"), ("together", "both alike"), ("against", "one against the other"))
_LARGE = (("eye", "Eye"), ("chart", "Chart"), ("cloud", "Cloud"), ("why", "Why"))
_FIRST_ROW = ("mark", "distance", "limbus", "dip", "tunnel")
_REST = ("outside", "turn", "wall", "bend")
_OWN = ("ring_x", "ring_y", "white_to_white", "pupil")
_LETTERS = {
    "mirror": "m",
    "swap": "x",
    "undo": "z",
    "hide": "h",
    "keep": "a",
    "exchange": "e",
    "solve": "r",
    "bare": "c",
}


def content():
    """All that stands on the board."""
    presets = [
        layout.button(f"preset_{i}", one.name, key=one.key, hint=f"Set: {one.name} (key {one.key.upper()})")
        for i, one in enumerate(MISTAKES.values())
    ]
    return layout.column(
        layout.row(*presets, look="buttons presets"),
        layout.row(_shown(), _controls(), look="table"),
        layout.region("caution"),
        look="live",
    )


def words(hidden, case):
    """Words of the buttons that say what they would do next.

    Parameters
    ----------
    hidden : bool
        Whether the outcome is.
    case : Case or None
    """
    return {
        "hide": "Reveal the outcome" if hidden else "Hide the outcome",
        "solve": "Give the case up" if case else "A case to solve",
    }


def idle(session, options, past, kept):
    """Name the controls that do nothing now.

    Parameters
    ----------
    session : Session
    options : dict
        How it is shown.
    past : bool
        Whether a change can be taken back.
    kept : Session or None
    """
    off = []
    for side in SIDES:
        off += [f"tunnel_{side}"] if session[f"kind_{side}"] == "straight" else [f"wall_{side}"]
        off += [] if session[f"turned_{side}"] else [f"turn_{side}"]
        off += [f"free_{side}"] if options["hide"] or session.free_length[side] is None else []
    off += [] if options["hands"] == "own" else [*OWN]
    return off + ([] if past else ["undo"]) + ([] if kept else ["exchange"])


def _shown():
    return layout.column(
        layout.region("readout"),
        layout.region("votes"),
        layout.column(
            layout.column(layout.stage("eye"), look="card eye"),
            layout.column(layout.region("why"), look="card why"),
            layout.column(layout.region("chart"), look="card chart"),
            layout.column(layout.region("cloud"), look="card cloud"),
            look="cards",
        ),
        look="pictures",
    )


def _controls():
    return layout.column(
        layout.row(
            _button(
                "hide", "Hide the outcome", "Hide lens and numbers until all have voted", toggle="words", arranges=True
            ),
            _button("keep", "Keep A", "Keep this as A, in dashes under what follows", toggle=True),
            _button("exchange", "Exchange A and B", "Exchange what was kept and what is shown"),
            _button("undo", "Back", "Take the last change back"),
            look="buttons",
        ),
        layout.radios("large", "Large", _LARGE, arranges=True, look="inline"),
        layout.region("case_words"),
        _vote(),
        layout.menu("link", "Move the sides", _LINKS, shown="Sides"),
        layout.row(
            _button("mirror", "Second like first", "Make the second side like the first"),
            _button("swap", "Change sides", "Give each side what the other had"),
            look="buttons",
        ),
        layout.region("sides_head"),
        *(_pair(key) for key in _FIRST_ROW),
        layout.sides("Intraocular haptic length [mm]", *(_free(side) for side in SIDES)),
        _options("kind", "Pass", {"chosen": "tunnel as chosen", "straight": "single-plane"}),
        layout.fold(
            "More: externalised length, turned ends, sclera, bend, way round",
            *(_pair(key) for key in _REST),
            _ticks("turned", "Turned down at its end", "turned"),
            _ticks("backwards", "Run the wrong way round", "wrong way"),
        ),
        layout.fold("Marker ring, eye and pupil", *(_single(key) for key in _OWN)),
        layout.fold(
            "Seat, hands, case to solve",
            layout.menu("seat", "Seat", SEAT_OPTIONS),
            layout.menu("eye", "Eye", (("right", "right"), ("left", "left"))),
            layout.menu("hands", "Hands of the cloud", tuple((key, words) for key, (words, _) in HANDS.items())),
            *(layout.slider(key, what.words, what.unit, what.low, what.high, what.step) for key, what in OWN.items()),
            _button("solve", "A case to solve", "Find what was done wrong in an eye", toggle="words"),
            layout.slider("case", "Number of the case", "", 1, CASES, 1, bare=True),
            start=True,
        ),
        layout.fold("Keep and show", *_files(), start=True),
        look="controls",
    )


def _vote():
    fields = [
        layout.slider(f"vote_{one.key}", f"{one.numeral} {one.words}", "", 0, 1000, 1, bare=True, look="vote")
        for one in OPTIONS
    ]
    clear = layout.button("clear", "Clear the votes")
    return layout.fold("Votes", *fields, clear, look="voting")


def _files():
    field = layout.field("text", "State as a text", hint="eyesim live: dip 2 = 14")
    return (
        field,
        layout.row(
            layout.button("copy", "Copy the state", act="copy", **{"from": "text"}, done="Copied"),
            layout.button("svg", "Still (SVG)"),
            layout.button("png", "Still (PNG)"),
            layout.button("loop", "Loop (GIF)", hint="From A, or the plan, to what is shown, and back"),
            layout.button("full", "Full screen", key="f", act="fullscreen"),
            _button("bare", "Pictures alone", "Put the controls away, or back", toggle=True, arranges=True),
            look="buttons",
        ),
        layout.tick("keys", "Keys work by themselves", full="Keys work by themselves, without Ctrl or Alt"),
    )


def _button(name, words, hint, **look):
    key = _LETTERS[name]
    return layout.button(name, words, key=key, hint=f"{hint} (key {key.upper()})", **look)


def _slider(name, what, side=""):
    words = f"{what.words}, {side}" if side else what.words
    return layout.slider(name, words, what.unit, what.low, what.high, what.step)


def _pair(key):
    what = KEYS[f"{key}_first"]
    return layout.sides(f"{what.words} [{what.unit}]", *(_slider(f"{key}_{side}", what, side) for side in SIDES))


def _single(key):
    return _slider(key, KEYS[key])


def _free(side):
    return layout.slider(f"free_{side}", f"Intraocular haptic length, {side}", "mm", *FREE)


def _options(key, words, options):
    menus = [layout.menu(f"{key}_{side}", f"{words}, {side}", tuple(options.items()), shown="") for side in SIDES]
    return layout.sides(words, *menus)


def _ticks(key, words, short):
    ticks = [layout.tick(f"{key}_{side}", short, full=f"{words}, {side}") for side in SIDES]
    return layout.sides(words, *ticks)
