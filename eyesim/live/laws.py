"""What can be changed in a session, and what a change of it does by itself: the laws that a why refers to."""

from __future__ import annotations

FACTORS = {
    "mark": ("mark",), "distance": ("distance",), "limbus": ("limbus",), "dip": ("dip",),
    "tunnel": ("kind", "wall", "tunnel"), "outside": ("outside",), "turn": ("turned", "turn"), "bend": ("bend",),
    "backwards": ("backwards",), "ring": ("ring_x", "ring_y"), "white_to_white": ("white_to_white",),
    "pupil": ("pupil",), "eye": ("eye",),
}  # fmt: skip
"""What can be changed, and what it is made of: a scleral thickness counts through its tunnel, a turn if the
end is turned."""

FACTOR_NAMES = {
    "mark": "marks",
    "distance": "distances",
    "limbus": "limbus angles",
    "dip": "iris angles",
    "tunnel": "tunnels",
    "outside": "externalised lengths",
    "turn": "turned ends",
    "bend": "bends",
    "backwards": "ways the needles run",
    "ring": "marker ring",
    "white_to_white": "size of the eye",
    "pupil": "pupil",
    "eye": "side of the eye",
}
"""What to call a factor among others."""

LAWS = {
    "mark": ("a mark turns its pass about the eye's axis and changes neither iris angle nor depth",) * 2,
    "distance": (
        "further back on the sclera, a tunnel opens deeper and further from the axis",
        "nearer to the limbus, a tunnel opens less deep and nearer to the axis",
    ),
    "limbus": (
        "aimed more towards the eye, a tunnel opens nearer to the axis",
        "aimed more along the limbus, a tunnel opens further from the axis",
    ),
    "limbus straight": (
        "in a single plane, a needle aimed more towards the eye is through the sclera sooner and has a shorter tunnel",
        "in a single plane, a needle aimed more along the limbus stays in the sclera longer and has a longer tunnel",
    ),
    "dip": ("a steeper needle opens deeper", "a flatter needle opens less deep"),
    "dip straight": (
        "in a single plane, a steeper needle is through the sclera sooner and has a shorter tunnel",
        "in a single plane, a flatter needle stays in the sclera longer and has a longer tunnel",
    ),
    "tunnel": (
        "a longer tunnel uses up haptic and opens further round the eye",
        "a shorter tunnel leaves more haptic inside and opens less far round the eye",
    ),
    "outside": ("what is externalised of a haptic is missing inside", "what is not externalised is free inside"),
    "turn": ("a turn at the tunnel's end leaves the internal entry in place and changes how the haptic is held",) * 2,
    "bend": ("a bend changes a haptic's own shape and leaves its internal entry in place",) * 2,
    "backwards": ("a needle run the other way round opens on the other side of its mark",) * 2,
    "ring": ("a ring prints its marks about its own centre and not about the eye's",) * 2,
    "white_to_white": (
        "in a larger eye, the internal entries lie further apart while the haptics keep their length",
        "in a smaller eye, the internal entries lie nearer together while the haptics keep their length",
    ),
}
"""What a factor does when it grows, and when it shrinks, whatever is done on the other side."""

NO_EFFECT = {
    "tunnel": "the scleral thickness counts only on a single-plane pass, and a chosen length only on any other",
    "turn": "a turn counts only where the needle is turned down at the tunnel's end",
    "eye": "a left eye is operated like a right one, and only nasal and temporal change places",
    "pupil": "a pupil lets light in and holds no haptic",
}
"""Why a factor can be changed and the lens stays where it is."""
