"""What cannot be, in a notebook: the learner's own line and one sentence, without the pages of code between them."""

from __future__ import annotations

import linecache
import sys
import traceback

from ..eye.checks import LearnerError


def speak_plainly(shell=None):
    """Let a notebook answer a `LearnerError` with the line that was run and the sentence; other errors stay.

    Parameters
    ----------
    shell : IPython shell or None
        None takes the one that runs; without one nothing is done.
    """
    if shell is None and "IPython" in sys.modules:  # else no notebook can be running
        from IPython import get_ipython

        shell = get_ipython()
    if shell is not None:
        shell.set_custom_exc((LearnerError,), _answer)


def _answer(shell, kind, error, trace, tb_offset=None):
    """Show the learner's line and the sentence, and hand both on as IPython hands on a traceback."""
    frames = traceback.extract_tb(trace)
    own = [frame for frame in frames if "ipykernel" in frame.filename or "<ipython" in frame.filename]
    lines = []
    if own:
        line = own[-1].line or linecache.getline(own[-1].filename, own[-1].lineno).strip()
        lines.append(f"In line {own[-1].lineno} of this cell:  {line}\n")
    lines.append(f"{kind.__name__}: {error}")
    shell._showtraceback(kind, error, lines)
    return lines
