"""How every number is checked before it is used, and how a mistake is explained to the learner.

A class of quantities lists its fields with default, unit and sensible range; a value that does not
fit raises `LearnerError`, which names the field, what was given and what would make sense.
"""

from __future__ import annotations

import dataclasses
import difflib
import functools
import inspect
import math

import numpy as np


class LearnerError(ValueError):
    """A mistake, explained in the learner's words: which field, what was given, what makes sense."""


def quantity(default, low, high, unit, words, *, optional=False):
    """Declare a field: a number or an array of numbers between `low` and `high` [unit].

    Parameters
    ----------
    default : float or None
    low, high : float
        Sensible range, ends included [unit].
    unit : str
        "" for a number without dimension.
    words : str
        What it is, for the learner.
    optional : bool
        None is allowed, and means what the class says.
    """
    what = {"low": low, "high": high, "unit": unit, "words": words, "optional": optional}
    return dataclasses.field(default=default, metadata=what)


def choice(default, options, words):
    """Declare a field that takes one of a few values.

    Parameters
    ----------
    default, options : the value, and a tuple of all that it may be
    words : str
        What it is, for the learner.
    """
    return dataclasses.field(default=default, metadata={"options": options, "words": words})


def quantities(cls):
    """Class decorator: a frozen dataclass whose fields are checked when it is made.

    Wrong names are answered with the nearest right one, numbers are kept as float or as read-only
    arrays, and all arrays of one object must broadcast together; `shape` is their common shape.
    """
    cls = dataclasses.dataclass(frozen=True, repr=False, eq=False)(cls)
    made = cls.__init__
    names = [f.name for f in dataclasses.fields(cls)]

    @functools.wraps(made)
    def __init__(self, *args, **kwargs):
        if len(args) > len(names):
            raise LearnerError(f"{cls.__name__} has {len(names)} fields, {len(args)} values were given.")
        for name in kwargs:
            known_name(cls.__name__, name, names)
        twice = [name for name in names[: len(args)] if name in kwargs]
        if twice:
            raise LearnerError(f"{cls.__name__}: {twice[0]} was given twice.")
        made(self, *args, **kwargs)
        for field in dataclasses.fields(cls):
            object.__setattr__(self, field.name, _checked(cls.__name__, field, getattr(self, field.name)))
        common_shape(cls.__name__, {name: getattr(self, name) for name in names})
        verify = getattr(self, "_verify", None)
        if verify is not None:
            verify()

    cls.__init__ = __init__
    cls.shape = property(
        lambda self: common_shape(cls.__name__, {name: getattr(self, name) for name in names}),
        doc="Common shape of all fields; () for a single one.",
    )
    if "__repr__" not in cls.__dict__:
        cls.__repr__ = as_call
    cls.but = but
    return cls


def as_call(self):
    """Write an object of quantities as the call that makes it; what is usual is left out."""
    parts = []
    for field in dataclasses.fields(self):
        value = getattr(self, field.name)
        if isinstance(value, np.ndarray):
            parts.append(f"{field.name}={value.shape} array")
        elif field.default is dataclasses.MISSING or value != field.default:
            parts.append(f"{field.name}={value:g}" if isinstance(value, float) else f"{field.name}={value!r}")
    return f"{type(self).__name__}({', '.join(parts)})"


def but(self, **changes):
    """Return the same object with some fields changed (and checked).

    Parameters
    ----------
    self : object of quantities
    **changes
        Fields that are other than in this one.
    """
    names = [f.name for f in dataclasses.fields(self)]
    for name in changes:
        known_name(type(self).__name__, name, names)
    return dataclasses.replace(self, **changes)


def must_be(owner, name, value, kind):
    """Raise if what was given to `owner` as `name` is not of a kind.

    Parameters
    ----------
    owner, name : str
        Who takes it, and as what.
    value, kind : what was given, and the class that is wanted
    """
    if not isinstance(value, kind):
        article = "an" if kind.__name__[0] in "AEIO" else "a"
        raise LearnerError(
            f"{owner}: {name} must be {article} {kind.__name__}, such as es.{kind.__name__}(); a "
            f"{type(value).__name__} was given."
        )


def make_unchecked(kind, values):
    """Make an object of quantities from values that were checked before, or may be NaN.

    Parameters
    ----------
    kind : class
    values : dict
        Field to value.
    """
    one = object.__new__(kind)
    for name, value in values.items():
        object.__setattr__(one, name, value)
    return one


def element(many, place, kind=None, shape=None):
    """Object of quantities at one place of an object with arrays.

    Parameters
    ----------
    many : object of quantities
    place : index, slice or tuple
    kind : class or None
        Of the object that is made; None takes that of `many`.
    shape : tuple or None
        To which the arrays broadcast; None takes that of `many`.
    """
    kind, shape, values = kind or type(many), many.shape if shape is None else shape, {}
    for field in dataclasses.fields(kind):
        value = getattr(many, field.name)
        if isinstance(value, np.ndarray) and value.ndim:
            value = np.broadcast_to(value, shape)[place]
            value = float(value) if value.ndim == 0 else value
        values[field.name] = value
    return make_unchecked(kind, values)


def known_name(owner, name, names):
    """Raise if `name` is not among `names`; suggest the nearest.

    Parameters
    ----------
    owner, name : str
        Who was asked, and for what.
    names : sequence of str
    """
    if not isinstance(name, str) or name not in names:
        near = difflib.get_close_matches(str(name), names, n=1, cutoff=0.6)
        hint = f" Did you mean {near[0]!r}?" if near else f" It knows: {', '.join(filter(None, names))}."
        raise LearnerError(f"{owner} has no field {str(name)[:60]!r}.{hint}")


def number(owner, name, value, low, high, unit, words, *, optional=False):
    """Check a number or array; return float or a read-only float array.

    Raises LearnerError if it is no real number, not finite, or outside [low, high].

    Parameters
    ----------
    owner, name : str
        Who takes it, and as what; owner may be "".
    value : float or array [unit]
    low, high : float [unit]
    unit, words : str
        Its unit, and what it is, for the learner.
    optional : bool
        None is let through.
    """
    if value is None and optional:
        return None
    where = f"{owner}.{name}" if owner else name
    fit = f"{_text(low)} to {_text(high)}{' ' + unit if unit else ''}"
    wanted = f"{where} ({words}) takes a number from {fit}"
    try:
        array = np.asarray(value)
    except ValueError:
        raise LearnerError(f"{wanted}; {short(value)} is neither a number nor a regular array.") from None
    if array.dtype.kind not in "iuf" or array.size == 0:
        raise LearnerError(f"{wanted}; {short(value)} was given.")
    array = array.astype(float)
    bad = ~np.isfinite(array)
    if bad.any():
        raise LearnerError(f"{wanted}; {_which(array, bad)} is not a finite number.")
    bad = (array < low) | (array > high)
    if bad.any():
        raise LearnerError(
            f"{wanted}; {_which(array, bad)} was given.{_other_unit(float(array[bad].flat[0]), low, high, unit)}"
        )
    if array.ndim == 0:
        return float(array)
    array.setflags(write=False)
    return array


def whole(owner, name, value, low, high):
    """Return a whole number within a range.

    Raises LearnerError if it is none: says which, what was given, and what would be.

    Parameters
    ----------
    owner, name : str
        Who takes it, and as what.
    value, low, high : int
    """
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or not low <= value <= high:
        raise LearnerError(f"{owner}: {name} is a whole number from {low} to {high}; {short(value)} was given.")
    return int(value)


def common_shape(owner, values):
    """Shape to which all arrays among `values` broadcast.

    Raises LearnerError if they do not; names two fields that disagree.

    Parameters
    ----------
    owner : str
        Whose they are.
    values : dict
        Name to value; what is no array does not count.
    """
    shape, last = (), None
    for name, value in values.items():
        if isinstance(value, np.ndarray) and value.ndim:
            try:
                shape = np.broadcast_shapes(shape, value.shape)
            except ValueError:
                raise LearnerError(
                    f"{owner}: {last} has shape {shape} and {name} has shape {value.shape}; "
                    "arrays must have equal lengths (or length 1)."
                ) from None
            last = name
    return shape


def _checked(owner, field, value):
    meta = field.metadata
    if "options" in meta:
        if (
            isinstance(value, (str, bool))
            and value in meta["options"]
            and type(value) in {type(o) for o in meta["options"]}
        ):
            return value
        options = " or ".join(repr(option) for option in meta["options"])
        raise LearnerError(f"{owner}.{field.name} ({meta['words']}) is {options}; {short(value)} was given.")
    if "low" not in meta:
        return value
    return number(
        owner,
        field.name,
        value,
        meta["low"],
        meta["high"],
        meta["unit"],
        meta["words"],
        optional=meta["optional"],
    )


def _text(value):
    return f"{value:g}"


def short(value):
    """Write what a learner gave in at most 60 characters."""
    try:
        text = repr(value)
    except Exception:  # a stranger's repr may fail; the learner still gets an answer
        text = f"a {type(value).__name__}"
    return text if len(text) <= 60 else text[:57] + "..."


def _which(array, bad):
    value = f"{array[bad].flat[0]:g}"
    if array.ndim == 0:
        return value
    place = tuple(int(i) for i in np.argwhere(bad)[0])
    return f"{value} (at position {place if len(place) > 1 else place[0]})"


def _other_unit(value, low, high, unit):
    scales = {
        "mm": [(1000.0, "metres"), (0.001, "micrometres"), (10.0, "centimetres")],
        "deg": [(180.0 / math.pi, "radians")],
        "GPa": [(0.001, "MPa"), (1e-9, "Pa")],
    }
    for factor, name in scales.get(unit, []):
        much = abs(value) > 20.0 * max(abs(low), abs(high))  # a little too much is no other unit
        if low <= value * factor <= high and value != 0 and (much or factor > 1.0):
            return f" Was it in {name}?"
    return ""


def plain_errors(function, name=None, hint=""):
    """Decorate a function so that a call that does not fit it raises `LearnerError`, not Python's own words.

    Calls that fit cost nothing more; what goes wrong inside the function is left alone.

    Parameters
    ----------
    function : callable
    name : str or None
        What the learner calls it; None takes its own name.
    hint : str
        What ends every answer.
    """
    name = name or function.__name__
    signature = inspect.signature(function)

    @functools.wraps(function)
    def answered(*args, **kwargs):
        try:
            return function(*args, **kwargs)
        except TypeError:
            try:
                signature.bind(*args, **kwargs)
            except TypeError:
                raise LearnerError(_what_is_wrong(name, signature, args, kwargs) + hint) from None
            raise

    return answered


def _what_is_wrong(name, signature, args, kwargs):
    """Say what does not fit, in the order in which a learner would look for it."""
    known = [one for one in signature.parameters.values() if one.name != "self"]
    names = [one.name for one in known]
    takes = f"It takes {', '.join(names)}." if names else "It takes nothing."
    for key in kwargs:
        if key not in names:
            near = difflib.get_close_matches(key, names, n=1, cutoff=0.6)
            return f"{name} knows no {key!r}. " + (f"Did you mean {near[0]!r}?" if near else takes)
    places = [one for one in known if one.kind is not one.KEYWORD_ONLY]
    given = len(args) - ("self" in signature.parameters)
    if given > len(places):
        behind = [one.name for one in known if one.kind is one.KEYWORD_ONLY]
        by_name = f" By name only: {', '.join(behind)}." if behind else ""
        row = ", ".join(one.name for one in places)
        return f"{name} takes {row}, in this order; {given} things were given.{by_name}"
    twice = [one.name for one in places[:given] if one.name in kwargs]
    if twice:
        return f"{name}: {twice[0]} was given twice."
    missing = [one.name for one in places[given:] if one.default is one.empty and one.name not in kwargs]
    return f"{name} still needs {' and '.join(missing)}. {takes}"
