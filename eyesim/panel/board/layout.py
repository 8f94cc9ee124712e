"""What can stand on a board, as plain dictionaries that the page reads.

Every control has a name, by which Python knows it, and words, by which people do; sliders have a unit, which
belongs to their accessible name. `look` adds class names for the style sheet.
"""

from __future__ import annotations


def row(*children, look=""):
    """Put things beside each other; they wrap where there is no room."""
    return {"kind": "row", "children": list(children), "look": look}


def column(*children, look=""):
    """Put things below each other."""
    return {"kind": "column", "children": list(children), "look": look}


def group(words, *children, look=""):
    """Put controls that belong together under a name."""
    return {"kind": "group", "words": words, "children": list(children), "look": look}


def fold(words, *children, look="", start=False):
    """Fold things away under a name until they are wanted; open from the `start` or not."""
    return {"kind": "fold", "words": words, "children": list(children), "look": look, "open": start}


def region(name, look=""):
    """Make room for HTML from Python."""
    return {"kind": "region", "name": name, "look": look}


def stage(name, look=""):
    """Make room for a picture that moves."""
    return {"kind": "stage", "name": name, "look": look}


def slider(name, words, unit, low, high, step, *, bare=False, look=""):
    """Ask for a number on a scale, which can also be typed; if `bare`, only typed."""
    digits = next(n for n in range(4) if abs(step * 10**n - round(step * 10**n)) < 1e-9)
    return {
        "kind": "slider", "name": name, "words": words, "unit": unit, "low": low, "high": high, "step": step,
        "digits": digits, "bare": bare, "look": look,
    }  # fmt: skip


def sides(words, *children, look=""):
    """Name a quantity of both sides once, with a control for each side."""
    return {"kind": "sides", "words": words, "children": list(children), "look": look}


def menu(name, words, options, *, shown=None, arranges=False, look=""):
    """Ask for one of several; options are pairs of key and words. `shown` is a shorter label beside it.

    If it `arranges`, the board carries the choice as `data-name`, so that the style sheet can follow it.
    """
    return {
        "kind": "menu", "name": name, "words": words, "shown": words if shown is None else shown,
        "options": [list(one) for one in options], "arranges": arranges, "look": look,
    }  # fmt: skip


def radios(name, words, options, *, arranges=False, look=""):
    """Ask for one of several, all of them in sight; options are pairs of key and words. `arranges` as in `menu`."""
    return {
        "kind": "radios", "name": name, "words": words, "options": [list(one) for one in options],
        "arranges": arranges, "look": look,
    }  # fmt: skip


def tick(name, words, *, full=None, look=""):
    """Ask whether something is so; `full` are its words where those beside it are too short."""
    return {"kind": "tick", "name": name, "words": words, "full": full, "look": look}


def button(name, words, *, key=None, hint=None, toggle=False, look="", **act):
    """Offer something to press, by a key too.

    A toggle has a value, and stays pressed; with "words" it does not, since its words say what it would do next. `act`
    is what the page does by itself: "fullscreen"; "copy" with `from` a field and `done` what is said after it.
    """
    return {
        "kind": "button", "name": name, "words": words, "key": key, "hint": hint, "toggle": toggle, "look": look, **act,
    }  # fmt: skip


def field(name, words, *, hint=None, lines=None, eager=False, look=""):
    """Ask for a text; several `lines` of it, or one. An `eager` one is told at every key, not when it is done."""
    return {
        "kind": "field", "name": name, "words": words, "hint": hint, "lines": lines, "eager": eager, "look": look,
    }  # fmt: skip


def plate(name, words, address, size, kinds, chooser, *, alt, hint, look=""):
    """Show a photograph on which points are set; its value holds `points` (what, x, y) and `edges` that fit.

    Parameters
    ----------
    name, words : str
    address : str
        Of the picture: a data address.
    size : pair of int [px]
        Of the photograph itself, however large it is shown.
    kinds : dict
        What points can lie on: to a letter, a colour, and "edge" (points are numbered), "line" (they are joined) or
        "spot". The keys 1, 2, 3 ... choose among them.
    chooser : str
        Name of the control that says what the next point lies on.
    alt, hint : str
        What the picture shows, and which keys do what.
    """
    return {
        "kind": "plate", "name": name, "words": words, "address": address, "width": size[0], "height": size[1],
        "kinds": {key: list(look) for key, look in kinds.items()}, "choices": list(kinds), "chooser": chooser,
        "alt": alt, "hint": hint, "look": look,
    }  # fmt: skip
