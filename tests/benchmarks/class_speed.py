"""How long it takes to mark a large class, with plans to simulate and without.

Run: python tests/benchmarks/class_speed.py [--people 1000]

Makes up a class and what it hands in, twice: ten items of which no plan is simulated, and the demonstration's hour with
its three plans. A fresh process marks each, so that nothing is known from before. Prints the seconds for reading and
marking, for writing all pages (HTML and PDF), and the memory of that process. Reading is held against a
general-purpose peer in the same run: json and jsonschema, which check less.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import random
import resource
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from eyesim.eye.sources import data_folder
from eyesim.marking.assignment import parse_assignment, read_assignment
from eyesim.marking.handin import Answered, HandIn
from eyesim.marking.mark import collect
from eyesim.marking.roster import parse_roster
from eyesim.page.results import mark_class, write_results

PLAIN = (
    "marks.shift", "marks.limit", "marks.turned", "marks.ring", "start.limits",
    "start.alike", "start.tilt", "start.depth", "tunnels.draw", "needles.length",
)  # fmt: skip
"""Items that are marked without simulating a plan."""


def main(people):
    """Print the figures."""
    roster = parse_roster("id,name\n" + "\n".join(f"r-{i},Person {i}" for i in range(people)))
    items = ", ".join(f"{{item = {name!r}}}" for name in PLAIN)
    plain = parse_assignment(f"title = 'Ten items'\nseed = 's'\n[[part]]\ntitle = 'All'\nitems = [{items}]\n")
    for assignment in (plain, read_assignment(data_folder() / "demo" / "assignment.toml")):
        with tempfile.TemporaryDirectory() as place:
            _one(assignment, roster, Path(place))


def _one(assignment, roster, place):
    handed, out = place / "hand-ins", place / "out"
    handed.mkdir()
    for person in roster.people:
        (handed / f"{person.id}.json").write_text(_hand_in(assignment, person.id), "utf-8")
    start = time.perf_counter()
    collect(handed, assignment, roster)
    read = time.perf_counter() - start
    peer = _peer(handed)
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as fresh:
        done, kept, files, memory = fresh.submit(_timed, assignment, roster, handed, out).result()
    print(f"{assignment.title}: {len(roster.people)} people, {len(assignment.entries)} questions")
    print(f"  read {read:.2f} s, {peer / read:.1f} times as fast as json and jsonschema ({peer:.2f} s)")
    print(f"  read and marked {done:.2f} s; {files} files written in {kept:.2f} s; memory {memory:.0f} MB")


def _timed(assignment, roster, handed, out):
    start = time.perf_counter()
    results = mark_class(assignment, roster, handed)
    done = time.perf_counter()
    files = write_results(assignment, results, out)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return done - start, time.perf_counter() - done, len(files), memory


def _hand_in(assignment, who):
    """Write a hand-in of somebody who is right in six answers of ten."""
    draw, answers = random.Random(who), {}
    for entry in assignment.entries:
        question = assignment.question(entry, who)
        if question is None:
            answers[entry.name] = Answered(f"What {who} has to say.")
            continue
        wrong = draw.random() < 0.4
        answer = draw.choice(list(question.wrong.values())) if wrong else question.reference.answer
        answers[entry.name] = Answered(answer, draw.choice(["guessing", "certain"]))
    return HandIn(who, assignment.title, assignment.mark, assignment.version, answers).text()


def _peer(folder):
    import jsonschema

    schema = json.loads((data_folder() / "hand-in.schema.json").read_text("utf-8"))
    check = jsonschema.validators.validator_for(schema)(schema)
    start = time.perf_counter()
    for path in folder.iterdir():
        check.validate(json.loads(path.read_text("utf-8")))
    return time.perf_counter() - start


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--people", type=int, default=1000)
    main(**vars(parser.parse_args()))
