"""A plan on file: eye or population, lens, two passes and hands, in one TOML file that can be handed on."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from pathlib import Path

from ..eye.checks import LearnerError, known_name
from ..eye.globe import Eye
from ..eye.lens import Lens
from ..hold.needle import Fixation
from .error_model import ERRORS, Error
from .hands import Hands
from .operate import operate
from .population import Population
from .vision import PUPIL, checked_light

_SECTIONS = ("eye", "lens", "first", "second", "hands")
_KEYS = ("title", "n", "rng", "draws", "pupil", "target", "power", "population", *_SECTIONS)


@dataclasses.dataclass(frozen=True)
class Plan:
    """What `operate` needs, as read from a file."""

    title: str
    eye: Eye | Population
    lens: Lens
    first: Fixation
    second: Fixation
    hands: Hands
    n: int
    rng: int
    draws: str
    pupil: float = PUPIL
    target: float | None = None
    power: str | None = None

    def operate(self, progress=None):
        """Carry the plan out n times; see `eyesim.operate`."""
        given = {f.name: getattr(self, f.name) for f in dataclasses.fields(self) if f.name != "title"}
        return operate(**given, progress=progress)


def read_plan(path) -> Plan:
    """Read a plan from a TOML file.

    Raises LearnerError if the file cannot be read or something in it does not fit; names file and section.

    Parameters
    ----------
    path : str or Path
        Sections [eye], [lens], [first], [second] hold fields of `Eye`, `Lens` and `Fixation`;
        tunnel_length = "straight" is a straight pass, and power [D] in [lens] is `Lens.with_power`.
        [hands.NAME] holds bias, spread and shared of one error; [hands] itself track, closure, and start = "usual" or
        "perfect". Above the sections: title, n, rng, draws, pupil [mm], target [D], power, and population, the name
        of a biometry table beside the plan or "published".

        power is "each" or "given", as for `operate`. A plan that leaves it out and states the power of its [lens]
        means that lens, "given", also for a population; power = "each" says otherwise, and then the power in [lens]
        only lends its shape.
    """
    if not isinstance(path, (str, Path)):
        raise LearnerError(f"A plan is given by its file name; a {type(path).__name__} was given.")
    name = Path(path).name
    text = ""
    try:
        text = Path(path).read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise LearnerError(f"{name} is not a proper TOML file: {fault}.{_decimal_comma(text)}") from None
    except (OSError, ValueError) as fault:
        why = "it is not UTF-8 text" if isinstance(fault, UnicodeDecodeError) else "is the name right?"
        raise LearnerError(f"The file {name} cannot be read: {why}") from None
    except RecursionError:
        raise LearnerError(f"{name} is not a plan: it is nested too deeply.") from None
    for key in values:
        known_name(name, key, _KEYS)
    try:
        eye = _made(Eye, values, "eye")
        if "population" in values:
            eye = _population(values["population"], Path(path).parent, eye)
        opposite = {"meridian": 180.0, **_section(values, "second")}
        sides = _made(Fixation, values, "first"), _made(Fixation, {"second": opposite}, "second")
        lens, hands = _made(Lens, values, "lens"), _hands(_section(values, "hands"))
        chance = values.get("n", 10_000), values.get("rng", 1), values.get("draws", "random")
        light = checked_light(values.get("pupil", PUPIL), values.get("target"), _power(values))
        plan = Plan(str(values.get("title", name)), eye, lens, *sides, hands, *chance, *light)
    except LearnerError as fault:
        raise LearnerError(f"{name}: {fault}{_decimal_comma(text)}") from None
    for key in ("first", "second"):
        if key not in values:
            raise LearnerError(
                f"{name} has no [{key}]: is it cut off? A plan says how each haptic is fixed; an empty [{key}] is the "
                "usual pass."
            )
    return plan


_COMMA = re.compile(r"""^(?!\s*title\b)\s*[\w."']+\s*=\s*["']?\s*([-+]?\d+),(\d+)\s*["']?\s*(\#.*)?$""", re.MULTILINE)


def _decimal_comma(text):
    """Hint at the decimal point, if a number in the file has a comma instead."""
    found = _COMMA.search(text)
    if not found:
        return ""
    line = 1 + text.count("\n", 0, found.start(1))
    return f" Line {line}: a decimal is written with a point, {found[1]}.{found[2]}."


def _power(values):
    """Whose power it is, where the plan does not say: a lens that states its own is meant as it is."""
    stated = "power" in _section(values, "lens")
    return values.get("power", "given" if stated else None)


def _section(values, key):
    section = values.get(key, {})
    if not isinstance(section, dict):
        raise LearnerError(f"[{key}] is a section with names and numbers; {str(section)[:60]!r} was given.")
    return section


def _made(kind, values, key):
    section = dict(_section(values, key))
    if kind is Fixation and section.get("tunnel_length") == "straight":
        section["tunnel_length"] = None
    power = section.pop("power", None) if kind is Lens else None
    try:
        made = kind(**section) if power is None else kind(**section).with_power(power)
    except LearnerError as fault:
        raise LearnerError(f"[{key}] {fault}") from None
    if made.shape:
        raise LearnerError(f"[{key}] takes single numbers, no lists.")
    return made


def _population(word, folder, like):
    if word == "published":
        return Population(like=like)
    if not isinstance(word, str) or Path(word).name != word:
        raise LearnerError(
            f'population is "published" or the name of a table beside the plan; {str(word)[:60]!r} was given.'
        )
    return Population.from_csv(folder / word, like)


def _hands(section):
    section = dict(section)
    start = section.pop("start", "usual")
    if start not in ("usual", "perfect"):
        raise LearnerError(f'[hands] start is "usual" or "perfect"; {str(start)[:60]!r} was given.')
    changes = {}
    for name, value in section.items():
        known_name("[hands]", name, (*ERRORS, "track", "closure"))
        if name in ERRORS:
            if not isinstance(value, dict):
                raise LearnerError(f"[hands.{name}] is a section with bias, spread or shared.")
            for part in value:
                known_name(f"[hands.{name}]", part, ("bias", "spread", "shared"))
                if isinstance(value[part], list) and len(value[part]) != 2:
                    raise LearnerError(
                        f"[hands.{name}] {part} is one number, or a pair [first side, second side]; {len(value[part])} "
                        "numbers were given. A decimal is written with a point: [4.5, 5.0]."
                    )
            value = Error(**value)
        changes[name] = value
    return (Hands() if start == "usual" else Hands.perfect()).but(**changes)
