"""Files written whole, and what the system says about them in plain words."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is either there as a whole or not at all."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as part:
            part.write(content)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def in_words(error: OSError) -> str:
    """Say why the system refused, without its numbers and names."""
    return (error.strerror or str(error)).lower()
