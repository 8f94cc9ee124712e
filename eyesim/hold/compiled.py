"""How the kernels of this room are compiled: at first use, kept on disk, and renewed when any of them changes.

Numba keeps compiled code by the date of the file a function stands in, and would go on using a kernel
whose callee in another file has changed. So the folder of kept code is named after the text of all
kernel files of this room. It lies beside them, or in the user's cache folder where that is read-only.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import numba


def _cache_folder() -> str:
    room = Path(__file__).parent
    text = b"".join(path.read_bytes() for path in (room / name for name in ("rod.py", "balance.py", "branch.py")))
    name = "kernels-" + hashlib.sha256(text).hexdigest()[:16]
    beside = room / "__pycache__"
    try:
        beside.mkdir(exist_ok=True)
        writable = os.access(beside, os.W_OK)
    except OSError:
        writable = False
    if writable:
        return str(beside / name)
    user = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return str(Path(user) / "eyesim" / name)


_FOLDER = _cache_folder()


def jit(function):
    """Compile a kernel: no Python inside, no lock held, division by zero as in NumPy."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = _FOLDER
    try:
        return numba.njit(nogil=True, cache=True, error_model="numpy", fastmath={"contract", "nsz", "arcp"})(function)
    finally:
        numba.config.CACHE_DIR = before
