"""How kernels are compiled: at first use, kept on disk, and renewed when any of their room changes.

Numba keeps compiled code by the date of the file a function stands in, and would go on using a kernel
whose callee in another file has changed. So the folder of kept code is named after the text of all
kernel files of the room. It lies beside them, or in the user's cache folder where that is read-only.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import numba


def compiler(room, *names, fast=("contract", "nsz", "arcp")):
    """Return the decorator `jit` of a room's kernels.

    Parameters
    ----------
    room : Path
        Folder of the kernel files.
    names : str
        Their names.
    fast : tuple of str
        Liberties with rounding that the compiler may take.

    Returns
    -------
    callable
        Compiles a kernel: no Python inside, no lock held, division by zero as in NumPy.
    """
    folder = _cache_folder(room, names)

    def jit(function):
        before = numba.config.CACHE_DIR
        numba.config.CACHE_DIR = folder
        try:
            return numba.njit(nogil=True, cache=True, error_model="numpy", fastmath=set(fast))(function)
        finally:
            numba.config.CACHE_DIR = before

    return jit


def _cache_folder(room, names) -> str:
    text = b"".join((room / name).read_bytes() for name in names)
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


jit = compiler(Path(__file__).parent, "rod.py", "balance.py", "continuation.py")
