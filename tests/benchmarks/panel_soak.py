"""An hour of random hands on the live session, to see whether it grows, and whether it is ever inconsistent.

::

    .venv/bin/python tests/benchmarks/panel_soak.py --minutes 60

Prints, once a minute, what page and kernel hold after a collection of garbage. At every rest the readout, the picture's
numbers and its words are held against those that Python gives for the state whose text stands in the page; at every
fifth, letter chart and cloud as well. It stops with an error at the first difference.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "browser"))
import hands
import host


def main():
    """Move things at random for a while, and print how page and kernel grow."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with host.served("live") as served, host.chromium() as browser:
        page = host.opened(browser, served.address)
        kernel = hands.kernel_of(page, served)
        print(" rests   heap [MB]     nodes  listeners  kernel [MB]")
        rests, first, last = hands.soak(page, 60.0 * asked.minutes, seed=asked.seed, kernel=kernel, say=_say)
        _say(rests, last)
        grown = ", ".join(f"{name} {last[name] - first[name]:+.1f}" for name in first)
        print(f"Growth after warm-up: {grown}.")
        print(f"Errors in the page: {page.faults or 'none'}. Requests to other hosts: {page.others or 'none'}.")
        page.context.close()
        return 1 if page.faults or page.others else 0


def _say(rests, sizes):
    print(
        f"{rests:6d}{sizes['heap']:12.2f}{sizes['nodes']:10.0f}{sizes['listeners']:11.0f}{sizes['kernel']:13.1f}",
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main())
