"""Eyes of the handbooks: surfaces and indices that reproduce an average eye.

Each has its own crystalline lens, so that its published power and cardinal points can be checked, and an `Eye`
without it, ready to have a lens put in. The numbers stand in `data/schematic_eyes.csv` with kind and source.

Two eyes whose lens has an index that changes from point to point are left out: rays bend inside such a lens, and the
tracer here knows surfaces only.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
from pathlib import Path

from ..eye.checks import LearnerError, known_name, plain_errors
from ..eye.globe import Eye
from ..eye.sources import KINDS, cell_number, data_folder, read_rows
from . import paraxial

COLUMNS = ("eye", "surface", "radius", "q", "gap", "index", "kind", "source", "doi", "note")
"""Of the table; further ones are ignored."""


@dataclasses.dataclass(frozen=True)
class Surface:
    """One surface of a schematic eye, and what follows it.

    Attributes
    ----------
    name : str
        "cornea" (if the eye has a single surface for it), "cornea front", "lens back" and so on.
    radius : float [mm]
        Positive if the centre lies behind.
    q : float [1]
        Conic constant; 0 is a sphere.
    thickness : float [mm]
        To the next surface, or to the retina.
    index : float [1]
        Refractive index of what lies behind it.
    kind, source, doi, note : str
        How far to trust the row, and where it comes from.
    """

    name: str
    radius: float
    q: float
    thickness: float
    index: float
    kind: str
    source: str
    doi: str
    note: str


@dataclasses.dataclass(frozen=True, repr=False)
class SchematicEye:
    """An eye of the handbooks.

    Attributes
    ----------
    name : str
    surfaces : tuple of Surface
        From the front of the cornea to the back of the lens.
    retina_radius : float [mm]
        Of the sphere on which the image falls.
    """

    name: str
    surfaces: tuple
    retina_radius: float

    @property
    def crystalline(self):
        """Surfaces of the eye's own lens."""
        return tuple(s for s in self.surfaces if not s.name.startswith("cornea"))

    @property
    def cornea(self):
        """Surfaces of the cornea: two, or one that stands for both."""
        return tuple(s for s in self.surfaces if s.name.startswith("cornea"))

    @property
    def source(self):
        """Where the numbers come from, and how far to trust them."""
        sources = dict.fromkeys(s.source for s in self.surfaces)
        remembered = "; partly from memory" if any(s.kind == "from memory" for s in self.surfaces) else ""
        words = "; ".join(sources)
        return words if "from memory" in words else words + remembered

    @property
    def axial_length(self):
        """From the corneal vertex to the retina [mm]."""
        return sum(s.thickness for s in self.surfaces)

    @property
    def cardinal(self):
        """Power, focal, principal and nodal points, as a `paraxial.System` that starts at the corneal vertex."""
        return _system(1.0, self.surfaces)

    @property
    def power(self):
        """Equivalent power [D] of the whole eye."""
        return self.cardinal.power

    @property
    def lens_power(self):
        """Equivalent power [D] of the eye's own lens, between the aqueous and the vitreous."""
        return _system(self.cornea[-1].index, self.crystalline).power

    @property
    def refraction(self):
        """Correction [D] at the corneal vertex close to the axis; near nothing for an eye that looks far away."""
        return float(paraxial.refraction(self.cardinal, self.axial_length))

    @property
    def eye(self):
        """The same eye without its lens, as an `Eye`.

        The iris plane lies where the eye's own lens began. A single corneal surface stands for both: the back one
        is then there for its shape only, since the index does not change at it. What a schematic eye does not tell
        (limbus, wall) is that of `Eye()`.
        """
        front, back = self.cornea[0], self.cornea[-1]
        shape = {}
        if front is not back:
            shape = {"posterior_corneal_radius": back.radius, "posterior_corneal_q": back.q}
            shape["corneal_thickness"] = front.thickness
        return Eye(
            corneal_radius=front.radius,
            corneal_q=front.q,
            iris_depth=sum(s.thickness for s in self.cornea),
            axial_length=self.axial_length,
            retina_radius=self.retina_radius,
            n_cornea=front.index,
            n_aqueous=back.index,
            n_vitreous=self.surfaces[-1].index,
            **shape,
        )

    def __repr__(self):
        return (
            f"Schematic eye, {self.name}: {self.power:.2f} D, {self.axial_length:.2f} mm long, {len(self.surfaces)} "
            f"surfaces ({self.source})"
        )


@plain_errors
def schematic_eye(name):
    """Take an eye of the handbooks by its name.

    Raises LearnerError if there is none of that name (the nearest is offered), or the table cannot be read.

    Parameters
    ----------
    name : str
        One of `schematic_eyes()`, such as "exact Gullstrand" or "aspheric".

    Returns
    -------
    SchematicEye
    """
    eyes = _eyes()
    known_name("The table of schematic eyes", name, list(eyes))
    return eyes[name]


def schematic_eyes():
    """Names of all schematic eyes."""
    return tuple(_eyes())


def read_schematic_eyes(path):
    """Read a table of schematic eyes; every fault names file, line and column."""
    file, eyes = Path(path).name, {}
    for name, group in itertools.groupby(read_rows(path, COLUMNS), key=lambda pair: pair[1]["eye"]):
        *surfaces, (line, retina) = group
        where = f"{file}, line {line}"
        if retina["surface"] != "retina" or not surfaces:
            raise LearnerError(f"{where}, column surface: the eye {name!r} must end with its retina.")
        if not name or name in eyes:
            raise LearnerError(f"{where}, column eye: {name!r} is {'there twice' if name else 'empty'}.")
        made = tuple(_surface(row, f"{file}, line {n}") for n, row in surfaces)
        eyes[name] = SchematicEye(name, made, abs(_needed(retina, where, "radius")))
    return eyes


@functools.lru_cache
def _eyes():
    return read_schematic_eyes(data_folder() / "schematic_eyes.csv")


def _surface(row, where):
    if row["kind"] not in KINDS:
        raise LearnerError(f"{where}, column kind: {row['kind']!r} is none of {', '.join(KINDS)}.")
    radius, q, gap, index = (_needed(row, where, column) for column in ("radius", "q", "gap", "index"))
    if radius == 0.0:
        raise LearnerError(f"{where}, column radius: no surface has the radius 0.")
    return Surface(row["surface"], radius, q, gap, index, row["kind"], row["source"], row["doi"], row["note"])


def _needed(row, where, column):
    value = cell_number(row[column], where, column)
    if value is None:
        raise LearnerError(f"{where}, column {column}: it is empty.")
    return value


def _system(first_index, surfaces):
    return paraxial.system(
        [1.0 / s.radius for s in surfaces],
        [s.thickness for s in surfaces[:-1]],
        [first_index, *(s.index for s in surfaces)],
    )
