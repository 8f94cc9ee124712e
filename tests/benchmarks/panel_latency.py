"""How quickly the live session follows the hand, in a real browser, with and without a slow connection.

::

    .venv/bin/python tests/benchmarks/panel_latency.py

For each host (its own page, JupyterLab): from key press to the first painted picture and to settled numbers, median and
95 % [ms]; pictures a second while an arrow key is held; how long after the command the first picture is there [s],
with a browser that runs already. All times but the last are taken inside the page.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "browser"))
import host

_NAMES = {"live": "its own page", "open": "JupyterLab"}
_BOUNDS = "bounds                   20       50          60      120           20         10"


def main():
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--keys", type=int, default=80, help="how many keys are pressed in each case")
    keys = parser.parse_args().keys
    print("host         round    key to picture      key to numbers   pictures/s      first")
    print("             trip    median     95 %   median     95 %    key held    picture")
    with host.chromium() as browser:
        for command, name in _NAMES.items():
            began = time.monotonic()
            with host.served(command) as served:
                host.shown(browser, served.address).context.close()
                first = f"{time.monotonic() - began:11.1f}"
                for trip in (0.0, 0.080):
                    with host.slowed(served.address, trip) if trip else contextlib.nullcontext(served.address) as there:
                        page = host.opened(browser, there)
                        row = "".join(f"{figure:9.0f}" for figure in host.figures(page, keys))
                        print(f"{name:<13}{1000 * trip:5.0f} {row}{host.held(page):12.0f}{first}", flush=True)
                        first = ""
                        page.context.close()
    print(
        "[ms] but the last [s]. Without a slow connection these bounds are kept, with one the first two and the fifth:"
    )
    print(_BOUNDS)


if __name__ == "__main__":
    main()
