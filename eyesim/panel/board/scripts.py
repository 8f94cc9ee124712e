"""The scripts of a board as the one text that a widget takes.

The scripts are ES modules, so that each says what it needs and can be tried alone. A widget's page is handed one text,
without an address that a module could import another from. So the modules are put one after the other, each after those
it needs, and their imports and exports left out: all names lie in one scope then, and a name that two modules use at
their top level is an error which the browser reports at once.
"""

from __future__ import annotations

import re

_IMPORT = re.compile(r'^import \{ (?P<names>\w+(?:, \w+)*) \} from "\./(?P<module>\w+)\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|class|const) (?P<name>\w+))", re.MULTILINE)
_OTHER = re.compile(r"^(?:import\b|export (?!default \{)).*", re.MULTILINE)


def join_modules(sources, entry):
    """Join modules to one text that does what the entry does.

    Raises ValueError if a module imports or exports in another way, imports what is not there, or imports itself by way
    of others.

    Parameters
    ----------
    sources : dict
        Name of a module to its text. A module may import by `import { a, b } from "./module.js";`, and export
        functions, classes and constants where they are declared; the entry may have an `export default { ... }` too.
    entry : str
        Name of the module that the others serve.
    """
    joined = {}
    _add(sources, entry, joined, ())
    return "\n".join(joined.values())


def _add(sources, name, joined, needed_by):
    """Add a module to what is joined, after those that it needs."""
    if name in needed_by:
        raise ValueError(f"{' imports '.join([*needed_by, name])}")
    if name in joined:
        return
    for found in _IMPORT.finditer(sources[name]):
        module = found["module"]
        if module not in sources:
            raise ValueError(f"{name} imports {module}, which is not there")
        missing = set(found["names"].split(", ")) - {one["name"] for one in _EXPORT.finditer(sources[module])}
        if missing:
            raise ValueError(f"{name} imports {', '.join(sorted(missing))}, which {module} does not export")
        _add(sources, module, joined, (*needed_by, name))
    text = _EXPORT.sub("", _IMPORT.sub("", sources[name]))
    if other := _OTHER.search(text):
        raise ValueError(f"{name} holds a line that cannot be joined: {other[0]}")
    joined[name] = text
