"""A wrong call, answered in words: which name is not known, which is missing, and which was meant."""

from __future__ import annotations

import difflib
import functools
import inspect

from .checks import LearnerError


def spoken(function, name=None, hint=""):
    """Decorate a function so that a call that does not fit it raises `LearnerError`, not Python's own words.

    Calls that fit cost nothing more; what goes wrong inside the function is left alone. `hint` ends every answer.
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
