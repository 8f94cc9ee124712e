"""Points that the director gives: filled in in a spreadsheet, kept, and never lost or given to another answer."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
from test_marking import HOUR, handed

from eyesim.__main__ import main
from eyesim.eye.sources import data_folder
from eyesim.hold.needle import least_dip_that_enters, needle_pass
from eyesim.lesson import bank
from eyesim.lesson.build import EYE, FIRST, pose_of
from eyesim.marking.assignment import parse_assignment
from eyesim.marking.manual import NAME


@pytest.fixture
def places(tmp_path):
    """Write a roster of two and what they handed in."""
    (tmp_path / "roster.csv").write_text("id,name\nr-1,Ada\nr-2,Bo\n", "utf-8")
    (tmp_path / "in").mkdir()
    for who in ("r-1", "r-2"):
        _hand_in(tmp_path, who, f"{who} says:\n=1+1; or not, 'so'")
    return tmp_path


def _hand_in(places, who, text):
    whole = handed(who)
    answers = {**whole.answers, "tuck": type(whole.answers["tuck"])(text)}
    (places / "in" / f"{who}.json").write_text(handed(who, answers).text(), "utf-8")


def _mark(places):
    hour = data_folder() / "demo" / "assignment.toml"
    assert main(["mark", str(hour), str(places / "roster.csv"), str(places / "in"), str(places / "out")]) == 0


def _table(places, name=NAME):
    return list(csv.DictReader(io.StringIO((places / "out" / name).read_text("utf-8-sig"), newline="")))


def _fill(places, *filled, separator=","):
    """Fill in points and words as a spreadsheet would, which writes the whole table again."""
    rows = _table(places)
    for row, (points, words) in zip(rows, filled, strict=True):
        row |= {"points": points, "words": words}
    file = io.StringIO()
    writer = csv.DictWriter(file, list(rows[0]), delimiter=separator, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    (places / "out" / NAME).write_text(file.getvalue(), "utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_points_that_were_filled_in_count_and_stay(places, separator, capsys):
    _mark(places)
    assert "2 texts wait for you" in capsys.readouterr().out
    assert [row["points"] for row in _table(places)] == ["", ""]
    _fill(places, ("1,5", "- The line is right, the reason is not."), ("", ""), separator=separator)
    _mark(places)
    assert "1 text waits for you" in capsys.readouterr().out
    books = {row["id"]: row for row in _table(places, "gradebook.csv")}
    assert (books["r-1"]["points"], books["r-1"]["tuck"], books["r-1"]["by hand"]) == ("16.5", "1.5", "")
    assert (books["r-2"]["points"], books["r-2"]["tuck"], books["r-2"]["by hand"]) == ("15.0", "", "tuck")
    page = (places / "out" / "feedback" / "r-1.html").read_text("utf-8")
    assert "- The line is right, the reason is not." in page
    assert "tuck: 1.5 of 2" in page
    statuses = {row["studentSourcedId"]: row["scoreStatus"] for row in _table(places, "oneroster/results.csv")}
    assert statuses == {"r-1": "fully graded", "r-2": "partially graded"}
    before = (places / "out" / NAME).read_bytes()
    _mark(places)
    assert (places / "out" / NAME).read_bytes() == before


@pytest.mark.slow
@pytest.mark.parametrize(("typed", "words"), [
    ("three", "A number is wanted"), ("3", "points from 0 to 2 can be given"), ("-1", "points from 0 to 2"),
    ("=2", "A number is wanted"), ("1e9", "A number is wanted"), ("nan", "A number is wanted"),
])  # fmt: skip
def test_points_that_cannot_be_are_told_and_stay_as_they_were_typed(places, typed, words, capsys):
    _mark(places)
    _fill(places, (typed, "so"), ("2", ""))
    capsys.readouterr()
    _mark(places)
    said = capsys.readouterr().out
    assert "by hand: r-1, tuck: row 2: " in said
    assert words in said
    assert _table(places)[0]["points"].lstrip("'") == typed
    assert {row["id"]: row["tuck"] for row in _table(places, "gradebook.csv")} == {"r-1": "", "r-2": "2.0"}


def test_points_belong_to_one_answer_and_are_told_when_it_is_another(places, capsys):
    _mark(places)
    _fill(places, ("2", "Very good."), ("1", ""))
    _hand_in(places, "r-1", "I have thought again.")
    (places / "roster.csv").write_text("id,name\nr-1,Ada\n", "utf-8")
    capsys.readouterr()
    _mark(places)
    said = capsys.readouterr().out
    assert "r-1, tuck: row 2: the answer is another than the one that had 2 points (Very good.)" in said
    assert "r-2, tuck: row 3: nothing waits for these points (1) any more" in said
    assert "feedback/r-2.html is from before, and of nobody in the roster" in said
    assert [row["points"] for row in _table(places)] == [""]
    told = {(row["about"], row["kind"]) for row in _table(places, "remarks.csv")}
    assert ("r-1, tuck", "by hand") in told


def test_a_table_that_lost_a_column_stops_the_run_before_anything_is_written(places, capsys):
    _mark(places)
    (places / "out" / NAME).write_text("id,question,points\nr-1,tuck,2\n", "utf-8")
    before = (places / "out" / "gradebook.csv").stat().st_mtime_ns
    hour = data_folder() / "demo" / "assignment.toml"
    assert main(["mark", str(hour), str(places / "roster.csv"), str(places / "in"), str(places / "out")]) != 0
    assert "has lost its column 'key'" in capsys.readouterr().err
    assert (places / "out" / "gradebook.csv").stat().st_mtime_ns == before


def test_texts_of_the_bank_bring_their_rubric_and_its_points():
    items = "[{item='tunnels.say-tuck'}, {item='marks.say-three-and-nine', points=6}]"
    content = f"title='a'\nseed='s'\n[[part]]\ntitle='p'\nitems={items}"
    one, two = parse_assignment(content).entries
    assert (one.item, one.points, one.name) == ("", 2.5, "tunnels.say-tuck")
    assert one.text == bank.TEXTS["tunnels.say-tuck"].text
    assert one.rubric.startswith("1 point: pulling a haptic out further")
    assert two.rubric.startswith("Out of 3, then scaled to 6. 1 point: ")
    assert HOUR.mark != parse_assignment(content).mark
    for id, text in bank.TEXTS.items():
        assert id in bank.listing(id.partition(".")[0])
        assert len(text.wanted) >= 2


def test_what_the_rubrics_take_for_right_is_what_the_simulation_says():
    # marks.say-three-and-nine, tunnels.say-tuck
    assert pose_of({"meridian": 20.0}, {"meridian": 200.0}).decentration < 1e-6
    tucked, off = pose_of(first={"outside": 1.8}), pose_of(second={"meridian": 190.0})
    along, across = _by_the_openings(tucked)
    assert along > 0.3 > 3.0 * abs(across)  # towards the first
    assert tucked.tension[0] > pose_of().tension[0]
    along, across = _by_the_openings(off)
    assert abs(across) > 0.3 > 3.0 * abs(along)
    # needles.say-shallow
    least = float(least_dip_that_enters(EYE, FIRST))
    near, next, far, further = (
        needle_pass(EYE, FIRST.but(tunnel_length=None, iris_angle=least + more)).tunnel_length
        for more in (0.5, 1.5, 6.0, 7.0)
    )
    assert near - next > 2.0 * (far - further)
    assert pose_of({"iris_angle": 20.0}, {"iris_angle": 20.0}).depth > pose_of().depth
    # sight.say-depth
    short, long = (bank.ITEMS["sight.deeper"].question({"axial_length": x, "by": 0.5}) for x in (21.0, 26.0))
    assert short.form.value > 2.5 * long.form.value > 0.0


def _by_the_openings(pose):
    """Where the optic lies along and across the line of the inner openings, towards the first [mm]."""
    first, second = (passage.inner[:2] for passage in pose.passages)
    line = (first - second) / np.linalg.norm(first - second)
    return line @ (pose.x, pose.y), line @ (pose.y, -pose.x)
