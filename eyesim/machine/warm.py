"""The solver compiled beforehand, so that no learner and no audience waits for it later."""

from __future__ import annotations

import sys
import threading
import time

PATIENCE = 2.5
"""[s] Kept kernels are loaded sooner, also while a server starts beside them; what takes longer is compiled."""


def compile_solver() -> None:
    """Settle a few eyes and look through one, so that every kernel is compiled and kept on disk."""
    import numpy as np

    from ..eye import Eye, Lens
    from ..hold import Fixation, Pose, settle
    from ..sight import refract

    pose = settle(Eye(), Lens(), Fixation(), Fixation(meridian=180.0))
    refract(Eye(corneal_cylinder=1.0), Lens(), pose)
    refract(Eye(), Lens(), Pose(x=1.0), pupil=8.0)  # part of the light beside the optic
    settle(Eye(white_to_white=np.linspace(11.4, 12.2, 40)), Lens(), Fixation(), Fixation(meridian=180.0))


def warm() -> None:
    """Compile the solver; if that takes long, print so once and show that it goes on."""
    done, failure = threading.Event(), []

    def work():
        try:
            compile_solver()
        except BaseException as error:  # handed on to the caller's thread below
            failure.append(error)
        finally:
            done.set()

    began = time.monotonic()
    threading.Thread(target=work, daemon=True).start()
    if not done.wait(PATIENCE):
        words = "Getting the solver ready; it is compiled once on every machine, which takes some 20 seconds."
        print(words, flush=True)
        while not done.wait(0.5):
            if sys.stderr.isatty():
                print(f"\r  {time.monotonic() - began:.0f} s ", end="", file=sys.stderr, flush=True)
        if sys.stderr.isatty():
            print("\r        \r", end="", file=sys.stderr, flush=True)
        print(f"Ready after {time.monotonic() - began:.0f} s.", flush=True)
    if failure:
        raise failure[0]
