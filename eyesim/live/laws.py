"""What a change does by itself, in words: the laws that a why refers to, and how a change is called."""

from __future__ import annotations

THINGS = {
    "mark": ("mark",), "distance": ("distance",), "limbus": ("limbus",), "dip": ("dip",),
    "tunnel": ("kind", "wall", "tunnel"), "outside": ("outside",), "turn": ("turned", "turn"), "bend": ("bend",),
    "backwards": ("backwards",), "ring": ("ring_x", "ring_y"), "white_to_white": ("white_to_white",),
    "pupil": ("pupil",), "eye": ("eye",),
}  # fmt: skip
"""What can be changed, and what it is made of: a wall counts through its tunnel, a turn if the end is turned."""

NAMES = {
    "mark": "marks", "distance": "distances", "limbus": "angles to the limbus", "dip": "dips", "tunnel": "tunnels",
    "outside": "lengths left outside", "turn": "turned ends", "bend": "bends", "backwards": "ways the needles run",
    "ring": "marker ring", "white_to_white": "size of the eye", "pupil": "pupil", "eye": "side of the eye",
}  # fmt: skip
"""What to call it among others."""

LAWS = {
    "mark": ("a mark turns its pass about the eye's axis and changes neither dip nor depth",) * 2,
    "distance": (
        "further back on the wall, a tunnel opens deeper and further from the axis",
        "nearer to the limbus, a tunnel opens less deep and nearer to the axis",
    ),
    "limbus": (
        "aimed more towards the eye, a tunnel opens nearer to the axis",
        "aimed more along the limbus, a tunnel opens further from the axis",
    ),
    "limbus straight": (
        "straight on, a needle aimed more towards the eye is through the wall sooner and has a shorter tunnel",
        "straight on, a needle aimed more along the limbus stays in the wall for longer and has a longer tunnel",
    ),
    "dip": ("a steeper needle opens deeper", "a flatter needle opens less deep"),
    "dip straight": (
        "straight on, a steeper needle is through the wall sooner and has a shorter tunnel",
        "straight on, a flatter needle stays in the wall for longer and has a longer tunnel",
    ),
    "tunnel": (
        "a longer tunnel uses up haptic and opens further round the eye",
        "a shorter tunnel leaves more haptic inside and opens less far round the eye",
    ),
    "outside": ("what is left outside of a haptic is missing inside", "what is not left outside is free inside"),
    "turn": ("a turn at the tunnel's end leaves the opening in place and changes how the haptic is held",) * 2,
    "bend": ("a bend changes a haptic's own shape and leaves its opening in place",) * 2,
    "backwards": ("a needle run the other way round opens on the other side of its mark",) * 2,
    "ring": ("a ring prints its marks about its own centre and not about the eye's",) * 2,
    "white_to_white": (
        "in a larger eye, the openings lie further apart while the haptics keep their length",
        "in a smaller eye, the openings lie nearer together while the haptics keep their length",
    ),
}
"""What a thing does when it grows, and when it shrinks, whatever is done on the other side."""

IDLE = {
    "tunnel": "a wall counts only on a straight pass, and a chosen length only where the pass is not straight",
    "turn": "a turn counts only where the needle is turned down at the tunnel's end",
    "eye": "a left eye is operated like a right one, and only nasal and temporal change places",
    "pupil": "a pupil lets light in and holds no haptic",
}
"""Why a thing can be changed and the lens stays where it is."""

SAID = {
    "mark": ("mark", "is", "are", "turned by {} deg"),
    "distance": ("mark", "is", "are", "aimed {} mm behind the limbus"),
    "limbus": ("needle", "runs", "run", "at {} deg to the limbus"),
    "dip": ("needle", "dips", "dip", "by {} deg"),
    "tunnel": ("tunnel", "is", "are", "{} mm long"),
    "outside": ("haptic", "has", "have", "{} mm left outside"),
    "wall": ("wall", "is", "are", "{} mm thick"),
    "turn": ("needle", "is", "are", "turned down at the end to {} deg"),
    "bend": ("haptic", "is", "are", "bent to the front by {} deg"),
}
"""How a quantity of the sides is called: noun, verb of one and of both, and the rest."""

_FROM_NONE = ("mark", "bend")  # of these, a start at 0 goes without saying


def phrase(name, sides, new, old, *, turn=0.0, idle=False):
    """Say that a quantity or setting of one side or of both is new instead of old.

    Parameters
    ----------
    name : str
        Part of one of `THINGS`.
    sides : list of str
    new, old : float [unit of the quantity], bool or str
    turn : float [deg]
        To which a needle is turned down.
    idle : bool
        Where it has no effect, it "would be" so.
    """
    noun, one, many, said = SAID.get(name, ("needle", "is", "are", ""))
    if name == "kind":
        one, many, said = "has", "have", "a tunnel of chosen length"
        if new == "straight":
            one, many, said = "goes", "go", "straight on"
    elif name == "backwards":
        said = f"run the {'wrong' if new else 'right'} way round"
    elif name == "turned":
        said = SAID["turn"][3].format(f"{turn:g}") if new else "no longer turned down"
    else:
        then = f"{old:g}"
        if name == "bend":
            back, was_back = new < 0.0 or new == 0.0 > old, old < 0.0 or old == 0.0 > new
            then = f"{abs(old):g}" if back == was_back else f"to the {'back' if was_back else 'front'} by {abs(old):g}"
            said, new = said.replace("front", "back") if back else said, abs(new)
        instead = "" if name in _FROM_NONE and old == 0.0 else f" instead of {then}"
        said = "no longer bent" if name == "bend" and new == 0.0 else f"{said.format(f'{new:g}')}{instead}"
    verb = "would be" if idle else one if len(sides) == 1 else many
    return f"the {sides[0]} {noun} {verb} {said}" if len(sides) == 1 else f"both {noun}s {verb} {said}"


def both_sides(name, new, old=None, *, idle=False):
    """Say in one breath that a quantity is other than it was on either side, and not alike.

    Parameters
    ----------
    name : str
        Of a quantity in `SAID`; not "bend", whose way may differ.
    new : pair of float [unit of the quantity]
    old : pair of float [unit of the quantity] or None
        None if there was nothing of it before.
    idle : bool
        Where it has no effect, it "would be" so.
    """
    noun, verb, _, said = SAID[name]
    ahead, _, behind = said.partition("{}")
    again = ahead.split()[-1:] if ahead else []
    again = f"{again[0]} " if again and again[0] in ("at", "by", "to") else ""
    first, second = (f"{value:g}" for value in new)
    instead = ""
    if old is not None and not (name in _FROM_NONE and not any(old)):
        instead = f" instead of {' and '.join(dict.fromkeys(f'{value:g}' for value in old))}"
    verb = "would be" if idle else verb
    return f"the first {noun} {verb} {ahead}{first} and the second {again}{second}{behind}{instead}"


def of_neither(thing, values):
    """Say how something that is of neither side now is, and in short how it was: two texts with what it says."""
    if thing == "ring":
        return f"the marker ring lies {_off(values)}", _off(values)
    if thing == "eye":
        return f"it is a {values['eye']} eye", f"a {values['eye']} one"
    size = f"{values[thing]:g}"
    if thing == "pupil":
        return f"the pupil is {size} mm wide", size
    return f"the eye measures {size} mm from white to white", size


def _off(values):
    x, y = values["ring_x"], values["ring_y"]
    ways = [(x, 3 if x > 0.0 else 9), (y, 12 if y > 0.0 else 6)]
    parts = [f"{abs(size):g} mm towards {hour} o'clock" for size, hour in ways if size]
    return " and ".join(parts) or "centred"
