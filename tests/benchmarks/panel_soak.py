"""An hour of random hands on the live session: it must not grow, and never be inconsistent.

::

    .venv/bin/python tests/benchmarks/panel_soak.py --minutes 60

Prints, once a minute, what the page and its kernel hold; at every rest the numbers on the page are held against those
that Python gives for the state whose text stands there.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "browser"))
import host

from eyesim.show import panels


def main():
    """Move things at random for a while, and print how the page grows."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    minutes = parser.parse_args().minutes
    rests = []
    with host.served("live") as address, host.chromium() as browser:
        page = host.opened(browser, address)
        kernels = _kernels()

        def check():
            text = page.locator(".eyesim-board .eyesim-field input").first.input_value()
            pose = panels.live_panel(text).session.settled
            shown = page.locator(".eyesim-board .eyesim-readout").first.inner_text()
            wanted = f"{pose.depth:.2f} mm" if pose.settled else "no outcome"
            assert wanted in shown or "hidden" in shown, (text, shown)
            rests.append(text)

        def say(now):
            held = max((_held(kernel) for kernel in kernels), default=0.0)
            print(f"{len(rests):6d} rests  page {now['heap'] / 1e6:7.1f} MB  {now['nodes']:6.0f} nodes  "
                  f"kernel {held:6.0f} MB", flush=True)  # fmt: skip

        grown = host.soak(page, 60.0 * minutes, check, say=say)
        print(f"in all {len(rests)} rests, none inconsistent; page errors: {page.faults or 'none'}; heap "
              f"{grown['heap at first'] / 1e6:.1f} to {grown['heap'] / 1e6:.1f} MB, nodes "
              f"{grown['nodes at first']:.0f} to {grown['nodes']:.0f}")  # fmt: skip


def _kernels():
    """Find the processes that hold a kernel of the live page, where the system tells."""
    found = []
    for place in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            if b"eyesim-live-" in place.read_bytes():
                found.append(place.parent)
        except OSError:
            continue
    return found


def _held(process):
    try:
        lines = (process / "status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024.0 for line in lines if line.startswith("VmRSS")), 0.0)


if __name__ == "__main__":
    main()
