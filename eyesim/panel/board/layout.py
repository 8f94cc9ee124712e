"""What can stand on a board, as plain dictionaries that the page reads.

Every control has a name, by which Python knows it, and words, by which people do; sliders have a unit, which
belongs to their accessible name. `look` adds class names for the style sheet.
"""

from __future__ import annotations


def row(*children, look=""):
    """Put things beside each other; they wrap where there is no room.

    Parameters
    ----------
    *children : dict
    look : str
    """
    return {"kind": "row", "children": list(children), "look": look}


def column(*children, look=""):
    """Put things below each other.

    Parameters
    ----------
    *children : dict
    look : str
    """
    return {"kind": "column", "children": list(children), "look": look}


def group(words, *children):
    """Put controls that belong together under a name.

    Parameters
    ----------
    words : str
    *children : dict
    """
    return {"kind": "group", "words": words, "children": list(children), "look": ""}


def fold(words, *children, look="", start=False):
    """Fold things away under a name until they are wanted.

    Parameters
    ----------
    words, look : str
    *children : dict
    start : bool
        Open from the start.
    """
    return {"kind": "fold", "words": words, "children": list(children), "look": look, "open": start}


def region(name):
    """Make room for HTML from Python."""
    return {"kind": "region", "name": name, "look": ""}


def stage(name):
    """Make room for a picture that moves."""
    return {"kind": "stage", "name": name, "look": ""}


def slider(name, words, unit, low, high, step, *, bare=False, look=""):
    """Ask for a number on a scale, which can also be typed.

    Parameters
    ----------
    name, words, unit, look : str
    low, high, step : float [unit]
        Ends of the scale, and its step.
    bare : bool
        It is only typed.
    """
    digits = next(n for n in range(4) if abs(step * 10**n - round(step * 10**n)) < 1e-9)
    scale = {"unit": unit, "low": low, "high": high, "step": step, "digits": digits, "bare": bare}
    return {"kind": "slider", "name": name, "words": words, "look": look, **scale}


def sides(words, *children):
    """Name a quantity of both sides once, with a control for each side.

    Parameters
    ----------
    words : str
    *children : dict
    """
    return {"kind": "sides", "words": words, "children": list(children), "look": ""}


def menu(name, words, options, *, shown=None):
    """Ask for one of several.

    Parameters
    ----------
    name, words : str
    options : sequence of (str, str)
        Key and words of each.
    shown : str or None
        A shorter label beside it.
    """
    label = words if shown is None else shown
    return {"kind": "menu", "name": name, "words": words, "shown": label, "options": _pairs(options), "look": ""}


def radios(name, words, options, *, arranges=False, look=""):
    """Ask for one of several, all of them in sight.

    Parameters
    ----------
    name, words, look : str
    options : sequence of (str, str)
        Key and words of each.
    arranges : bool
        The board carries the choice as `data-name`, so that the style sheet can follow it.
    """
    asked = {"options": _pairs(options), "arranges": arranges}
    return {"kind": "radios", "name": name, "words": words, "look": look, **asked}


def tick(name, words, *, full=None):
    """Ask whether something is so.

    Parameters
    ----------
    name, words : str
    full : str or None
        Its words, where those beside it are too short.
    """
    return {"kind": "tick", "name": name, "words": words, "full": full, "look": ""}


def button(name, words, *, key=None, hint=None, toggle=False, look="", **act):
    """Offer something to press, by a key too.

    Parameters
    ----------
    name, words, look : str
    key, hint : str or None
    toggle : bool or "words"
        It has a value, and stays pressed; with "words" it does not, since its words say what it would do next.
    **act
        What the page does by itself: `act` "fullscreen"; or "copy", with `from` a field and `done` what is said after
        it. `arranges` as in `radios`.
    """
    pressed = {"key": key, "hint": hint, "toggle": toggle, **act}
    return {"kind": "button", "name": name, "words": words, "look": look, **pressed}


def field(name, words, *, hint=None, lines=None, eager=False):
    """Ask for a text.

    Parameters
    ----------
    name, words : str
    hint : str or None
        Such as an example.
    lines : int or None
        Of text; None for one line.
    eager : bool
        It is sent at every key, not when it is done.
    """
    asked = {"hint": hint, "lines": lines, "eager": eager}
    return {"kind": "field", "name": name, "words": words, "look": "", **asked}


def plate(name, words, address, size, kinds, chooser, *, alt, hint):
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
    picture = {"address": address, "width": size[0], "height": size[1], "alt": alt, "hint": hint}
    points = {"kinds": {key: list(one) for key, one in kinds.items()}, "choices": list(kinds), "chooser": chooser}
    return {"kind": "plate", "name": name, "words": words, "look": "", **picture, **points}


def _pairs(options):
    return [list(option) for option in options]
