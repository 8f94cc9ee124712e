"""How long a move of a slider takes in Python: picture, panel, and refraction where light is followed too.

Run: python tests/benchmarks/slider_speed.py

Prints the shortest and the median time of each, and how many times a panel takes what settling and drawing alone take.
Exits with 1 if a bound for a hand on a slider is not kept. What the page adds is in `panel_latency.py`.
"""

from __future__ import annotations

import asyncio
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from page import Page, layout

import eyesim as es
from eyesim import draw
from eyesim.panel import passes, sight_panel

PICTURE = 0.016
"""Both views, drawn anew [s]: one picture of a screen that shows sixty a second."""
SIGHT = 0.1
"""A new value where the patient's sight is worked out too [s]: what is felt as at once."""
TIMES = 8.0
"""A change settles and draws twice, for the picture and for its slope, and waits a little between them [1]."""


def main():
    """Print the figures; return the exit code."""
    kept = [_views(), *(_panel(name, make) for name, make in PANELS.items()), *(asyncio.run(_sight(p)) for p in SEEN)]
    return int(not all(kept))


PANELS = {"marks": passes.marks_panel, "needle": passes.needle_panel, "tunnel": passes.tunnel_panel}
SEEN = (("As planned", "deeper"), ("Wide pupil, edge of the optic in it", "off"))


def _views():
    pose = es.settle(es.Eye(), es.Lens(), es.Fixation(), es.Fixation(meridian=190.0, iris_angle=12.0))
    times = [_took(lambda: (draw.front_view(pose), draw.side_view(pose))) for _ in range(30)]
    return _say("both views drawn", times, PICTURE)


def _panel(name, make):
    panel = make()
    page = Page(panel)
    slider = next(part for part in layout(panel).values() if part["kind"] == "slider" and part["name"] in panel.seen)
    low, high = slider["low"], slider["high"]
    times, alone = [], []
    for value in np.linspace(low + 0.4 * (high - low), high * 0.9 + 0.1 * low, 40):
        times.append(_took(lambda value=value: page.say("set", slider["name"], float(value))))
        alone.append(_took(lambda: _settle_and_draw(panel.settled)))
    ratio = np.median(times) / np.median(alone)
    median = f"{1e3 * np.median(times):8.1f} ms"
    print(f"{name + ' panel':<42}{median}; {ratio:.1f} times settling and drawing, bound {TIMES}")
    return ratio < TIMES


def _settle_and_draw(pose):
    again = es.settle(pose.eye, pose.lens, pose.first, pose.second, on_failure="flag")
    return draw.both_views(again, hidden=not again.settled)


async def _sight(start_and_name):
    start, name = start_and_name
    panel = sight_panel()
    panel.preset(start)
    page = Page(panel)
    times = [_took(lambda v=v: page.say("set", name, float(round(v, 2)))) for v in np.arange(0.05, 1.0, 0.05)]
    return _say(f"sight, {start}", times, SIGHT)


def _took(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _say(what, times, bound):
    shortest, median = 1e3 * min(times), 1e3 * np.median(times)
    print(f"{what:<42}{shortest:8.1f} ms, median {median:.1f} ms, bound {1e3 * bound:.0f} ms")
    return min(times) < bound


if __name__ == "__main__":
    sys.exit(main())
