"""Kinds of tests, and in which order two cores are done with them soonest."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SECONDS = {
    "tests/browser/test_open.py": 250, "tests/browser/test_hub.py": 120, "tests/browser/test_live_access.py": 110,
    "tests/browser/test_live_true.py": 110, "tests/browser/test_live_quick.py": 60, "tests/browser/test_class.py": 40,
    "tests/browser/test_log_form.py": 25, "tests/browser/test_photo_panel.py": 20, "tests/browser/test_board.py": 20,
    "tests/lesson/test_bank.py": 100, "tests/study/test_working_back.py": 45,
    "notebooks/Let hands vary.ipynb": 35, "tests/test_command_line.py": 20, "tests/study/test_steps.py": 25,
    "tests/machine/test_servers.py": 15,
    "tests/photo/test_photo.py": 20, "tests/marking/test_fuzz.py": 20, "tests/study/test_blame.py": 17,
    "tests/page/test_results.py": 20, "tests/lesson/test_lesson.py": 15, "tests/hold/test_settle_properties.py": 14,
    "tests/study/test_operate_sight.py": 13, "tests/live/test_session.py": 12, "tests/practice/test_log.py": 12,
    "tests/sight/test_letters.py": 12, "tests/sight/test_rays_peer.py": 11, "tests/panel/test_answering.py": 11,
}  # fmt: skip
"""What files cost that take longer than ten seconds, roughly, on one quiet core; all others some tenths a test."""
SLOW_CASES = {
    "tests/lesson/": (
        "vary.", "back.", "log.train", "log.cure", "start.train", "sight.plan", "sight.verdict", "sight.glasses-fix",
        "tunnels.recentre",
    )
}  # fmt: skip
"""Questions whose answer is searched or worked back, which takes seconds: every test of such a question is slow."""


def kind_of(path):
    """Name the kind of all tests in a file, by where it lies; "" if each test says it for itself."""
    if path.suffix == ".ipynb":
        return "notebook"
    return "browser" if path.parent.name == "browser" else ""


def is_slow_case(name):
    """Whether a test, by its full name, is one of a slow question."""
    case = name.partition("[")[2]
    return any(name.startswith(folder) and any(id in case for id in ids) for folder, ids in SLOW_CASES.items())


def longest_first(items):
    """Order files by what they cost, and let those with browsers and those without take turns.

    Workers take one file after the other from the front, so that the short ones at the end keep all of them busy, and
    browsers and what computes share the cores from the beginning.
    """
    files = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    cost = {path: SECONDS.get(path.relative_to(ROOT).as_posix(), 0.1 * len(files[path])) for path in files}
    order = sorted(files, key=lambda path: (-cost[path], str(path)))
    lanes = [[path for path in order if (kind_of(path) == "browser") is browser] for browser in (True, False)]
    spent = [0.0, 0.0]
    while any(lanes):
        lane = min((i for i in range(2) if lanes[i]), key=lambda i: spent[i])
        path = lanes[lane].pop(0)
        spent[lane] += cost[path]
        yield from files[path]
