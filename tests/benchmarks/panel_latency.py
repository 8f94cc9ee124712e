"""How quickly a panel follows the hand, in a real browser, with and without a slow connection.

::

    .venv/bin/python tests/benchmarks/panel_latency.py

For each host (the live page, JupyterLab): from key press to the first painted picture and to settled numbers [ms],
pictures a second while an arrow key is held, and how long after the command the first picture is there [s]. Times are
taken inside the page; the driver's round trips are not counted.
"""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "browser"))
import host

_NAMES = {"live": "live page", "open": "JupyterLab"}


def main():
    """Measure and print."""
    print("host        round trip   key to picture     key to numbers    held        first picture")
    print("                  [ms]   median   p95 [ms]  median  p95 [ms]  [pictures/s]  [s]")
    for command, name in _NAMES.items():
        began = time.monotonic()
        with host.served(command) as address, host.chromium() as browser:
            host.opened(browser, address).context.close()
            first = time.monotonic() - began
            for trip in (0.0, 0.080):
                with host.slowed(address, trip) if trip else contextlib.nullcontext(address) as reached:
                    page = host.opened(browser, reached)
                    both = host.pressed(page, times=80)
                    figures = [host.quantile(values, share) for values in both for share in (0.5, 0.95)]
                    row = "".join(f"{figure:9.0f}" for figure in figures)
                    print(f"{name:<12}{1000 * trip:10.0f} {row}{host.held(page):12.0f}{first:12.1f}", flush=True)
                    page.context.close()


if __name__ == "__main__":
    main()
