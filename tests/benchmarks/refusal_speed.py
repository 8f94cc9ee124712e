"""How long it takes to refuse what is broken: hand-ins that were damaged at random, and files that are no photograph.

Run: python tests/benchmarks/refusal_speed.py [--seconds 10] [--seed N]

What somebody hands in must not keep a marker waiting, whatever is in it. Prints the longest time of each kind, and the
seed; exits with 1 if anything took two seconds.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "marking"))
sys.path.insert(0, str(Path(__file__).parents[1] / "photo"))
from test_fuzz import broken, handed
from test_photo import BROKEN

from eyesim import LearnerError
from eyesim.marking.handin import Damaged, parse_hand_in
from eyesim.photo.photograph import read_photograph

LONGEST = 2.0
"""[s] for one file."""


def main(seconds, seed):
    """Print the figures; return the exit code."""
    draw, whole, until = random.Random(seed), handed().text(), time.monotonic() + seconds
    hand_ins, photographs = [], []
    while time.monotonic() < until:
        content = broken(draw, whole)
        hand_ins.append(_took(lambda content=content: parse_hand_in(content), Damaged))
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "eye.png"
        for build, _ in BROKEN.values():
            file.write_bytes(build())
            photographs.append(_took(lambda: read_photograph(file), LearnerError))
    for what, times in (("hand-ins", hand_ins), ("photographs", photographs)):
        print(f"{what:<12}{len(times):8,}, longest {max(times):.3f} s, bound {LONGEST} s")
    print(f"seed {seed}")
    return int(max(hand_ins + photographs) >= LONGEST)


def _took(work, refusal):
    start = time.perf_counter()
    with contextlib.suppress(refusal):
        work()
    return time.perf_counter() - start


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**9))
    sys.exit(main(**vars(parser.parse_args())))
