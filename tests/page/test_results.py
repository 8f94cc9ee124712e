"""Marking as a director does it: from a folder of files to a gradebook, twice the same, whatever is in the files."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import multiprocessing
import os
import random
import signal
import sys
import time
import zipfile
from html.parser import HTMLParser

import openpyxl
import pytest
from demo_hand_ins import contents as demo_contents

from eyesim.__main__ import main
from eyesim.eye.sources import data_folder
from eyesim.machine import processes
from eyesim.marking.assignment import Assignment, Entry, parse_assignment, read_assignment
from eyesim.marking.handin import Answered, HandIn
from eyesim.marking.roster import parse_roster
from eyesim.marking.statistics import class_statistics
from eyesim.page.class_page import class_page
from eyesim.page.gradebook import tables
from eyesim.page.hand_out import items
from eyesim.page.results import ABOUT, mark_class, write_results

PATH = data_folder() / "demo" / "assignment.toml"
HOUR = read_assignment(PATH)
EVIL = "=HYPERLINK(\"http://x\")<script>alert('x')</script>"


def right(who, **changes):
    answers = {}
    for entry in HOUR.entries:
        asked = HOUR.question(entry, who)
        answers[entry.name] = Answered(EVIL if asked is None else asked.reference.answer, "certain")
    return HandIn(who, HOUR.title, HOUR.mark, HOUR.version, {**answers, **changes}).text()


@pytest.fixture
def places(tmp_path):
    """Roster and hand-ins of four: all right, some wrong, one with odd names, one missing."""
    roster = tmp_path / "roster.csv"
    roster.write_text(f"id;name;email\nr-1;Ada;ada@example.org\nr-2;Bo;\n../r-3;{EVIL.replace(';', ',')};\nr-4;Dov;\n")
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.json").write_text(right("r-1"))
    wrong = HOUR.question(HOUR.entries[3], "r-2").wrong["mark-alone"]
    (folder / "b.json").write_text(right("r-2", **{"start.follow": Answered(wrong), "start.tilt": Answered("-1+1")}))
    (folder / "c.json").write_text(right("../r-3"))
    (folder / "d.json").write_text("{")
    for i, place in enumerate(sorted(folder.iterdir())):
        os.utime(place, (1_700_000_000 + i, 1_700_000_000 + i))
    return roster, folder, tmp_path / "out"


def run(places):
    roster, folder, out = places
    return main(["mark", str(PATH), str(roster), str(folder), str(out)])


def contents(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def table(content):
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))


@pytest.mark.slow
def test_the_gradebook_is_right_to_the_last_digit(places, capsys):
    assert run(places) == 0
    files = contents(places[2])
    head, *rows = table(files["gradebook.csv"])
    books = {row[0]: dict(zip(head, row, strict=True)) for row in rows}
    assert (books["r-1"]["points"], books["r-1"]["of"], books["r-1"]["by hand"]) == ("15.0", "17.0", "tuck")
    follow = HOUR.question(HOUR.entries[3], "r-2")
    share = follow.judge(follow.wrong["mark-alone"]).share
    assert books["r-2"]["points"] == str(round(15.0 - 3.0 - 1.0 + round(3.0 * share, 2), 4))
    assert (books["r-4"]["state"], books["r-4"]["points"]) == ("missing", "0.0")
    assert "damaged: d.json" in capsys.readouterr().out
    for name in ("class.html", "gradebook.xlsx", "feedback/r-1.html", "oneroster/results.csv", "statements.jsonl"):
        assert name in files


@pytest.mark.slow
def test_it_can_be_run_again_and_gives_the_same_bytes(places):
    assert run(places) == 0
    first = contents(places[2])
    times = {path: path.stat().st_mtime_ns for path in places[2].rglob("*") if path.is_file()}
    time.sleep(1.1)
    assert run(places) == 0
    assert contents(places[2]) == first
    assert {path: path.stat().st_mtime_ns for path in times} == times


def test_nothing_is_written_outside_the_folder_of_results(places):
    before = set(contents(places[0].parent))
    assert run(places) == 0
    new = set(contents(places[0].parent)) - before
    assert all(name.startswith("out/") for name in new)
    assert sum(name.startswith("out/feedback/") for name in new) == 2 * 4


def test_spreadsheets_hold_no_live_formulas(places):
    assert run(places) == 0
    files = contents(places[2])
    for name in (name for name in files if name.endswith(".csv")):
        for row in table(files[name]):
            assert not [
                cell for cell in row if cell.lstrip().startswith(("=", "+", "@", "-", "\t")) and not _number(cell)
            ]
    book = openpyxl.load_workbook(io.BytesIO(files["gradebook.xlsx"]))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert any(cell.value == EVIL for cell in cells)
    assert all(cell.data_type != "f" for cell in cells)
    with zipfile.ZipFile(io.BytesIO(files["gradebook.xlsx"])) as archive:
        assert not [name for name in archive.namelist() if b"<f>" in archive.read(name)]


def _number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


class _Tags(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.words = [], [], ""
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += [name for name, _ in attributes]

    def handle_data(self, data):
        self.words += data


def test_pages_hold_what_was_written_as_words_alone(places):
    assert run(places) == 0
    pages = {name: _Tags(data.decode()) for name, data in contents(places[2]).items() if name.endswith(".html")}
    for name, page in pages.items():
        assert "script" not in page.tags, name
        assert not [one for one in page.attributes if one.startswith("on")], name
        assert "never plan care" in page.words
    assert EVIL in pages["feedback/r-1.html"].words
    assert "What comes of this plan." in pages["feedback/r-1.html"].words
    assert "not operative skill" in pages["class.html"].words


def test_tables_for_others_agree_with_the_gradebook(places):
    assert run(places) == 0
    files = contents(places[2])
    points = {row[0].lstrip("'"): float(row[3]) for row in table(files["gradebook.csv"])[1:]}
    (head, line) = table(files["oneroster/lineItems.csv"])
    item = dict(zip(head, line, strict=True))
    assert float(item["resultValueMax"]) == 17.0
    head, *rows = table(files["oneroster/results.csv"])
    results = {row[4].lstrip("'"): dict(zip(head, row, strict=True)) for row in rows}
    assert {id: float(one["score"] or 0) for id, one in results.items()} == points
    assert {one["lineItemSourcedId"] for one in results.values()} == {item["sourcedId"]}
    assert results["r-4"]["scoreStatus"] == "not submitted"
    by_id = {row[0].lstrip("'"): row[1:] for row in table(files["platform/by-id.csv"])[1:]}
    assert {id: float(row[0] or 0) for id, row in by_id.items()} == points
    assert by_id["r-4"] == ["", "missing", "0"]
    assert table(files["platform/by-email.csv"])[1:] == [["ada@example.org", "15.0", "handed in", "1"]]
    by_name = {row[0].lstrip("'"): row[3] for row in table(files["platform/by-name.csv"])[1:]}
    assert by_name["r-1"] == "handed in; 9 of 9 right, 1 not marked yet"


def test_reference_statements_are_xapi(places):
    # IEEE 9274.1.1: what a statement must have, and of which kind
    assert run(places) == 0
    lines = [json.loads(line) for line in contents(places[2])["statements.jsonl"].splitlines()]
    assert len(lines) == 3 * len(HOUR.entries)
    assert len({line["id"] for line in lines}) == len(lines)
    for line in lines:
        assert {"id", "actor", "verb", "object"} <= set(line)
        assert line["verb"]["id"].startswith("http://")
        assert set(line["actor"]["account"]) == {"homePage", "name"}
        assert line["object"]["id"].startswith("urn:")
        if "score" in line["result"]:
            score = line["result"]["score"]
            assert -1.0 <= score["scaled"] <= 1.0
            assert score["min"] <= score["raw"] <= score["max"]
    text = contents(places[2])["statements.jsonl"].decode()
    assert not [word for word in ("Ada", "r-1", "ada@example.org") if f'"{word}' in text]


@pytest.mark.parametrize(("change", "words"), [
    (lambda p: p[1].rename(p[1].with_name("elsewhere")), "no folder"),
    (lambda p: p[0].write_text("name\nAda"), "says who"),
    (lambda p: p[2].write_text("a file"), "is a file; a folder"),
])  # fmt: skip
def test_what_cannot_be_is_said_in_a_sentence(places, change, words, capsys):
    change(places)
    assert run(places) == 2
    assert words in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL") or sys.platform == "darwin", reason="needs fork and SIGKILL")
@pytest.mark.filterwarnings("ignore:This process.*fork:DeprecationWarning")
def test_killed_at_any_moment_every_file_is_whole(tmp_path):
    roster = parse_roster("id,name\n" + "\n".join(f"r{i},Person {i}" for i in range(12)))
    folder = tmp_path / "in"
    folder.mkdir()
    results = []
    for kind in (0, 1):  # two states of the world, between which it is killed
        for person in roster.people:
            (folder / f"{person.id}.json").write_text(
                right(person.id) if kind else right(person.id, **{"start.tilt": Answered(0)})
            )
            os.utime(folder / f"{person.id}.json", (1e9, 1e9))
        results.append(mark_class(HOUR, roster, folder))
    whole = [tmp_path / "one", tmp_path / "two"]
    for one, place in zip(results, whole, strict=True):
        write_results(HOUR, one, place)
    wanted = [contents(place) for place in whole]
    assert wanted[0] != wanted[1]
    out, draw, context = tmp_path / "out", random.Random(4), multiprocessing.get_context("fork")

    def work():
        for i in range(1000):
            write_results(HOUR, results[i % 2], out)

    for _ in range(100):
        child = context.Process(target=work)
        child.start()
        time.sleep(draw.uniform(0.0, 0.12))
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        for name, data in contents(out).items() if out.exists() else ():
            assert name.endswith(".part") or data in (wanted[0][name], wanted[1][name]), name
    write_results(HOUR, results[1], out)
    assert contents(out) == wanted[1]


def test_the_same_marks_give_the_same_tables_whatever_the_time(places):
    roster, folder, _ = places
    found = mark_class(HOUR, parse_roster(roster.read_text()), folder)
    first = tables(HOUR, found.everybody, found.remarks)
    time.sleep(2.1)  # archives count in steps of two seconds
    assert tables(HOUR, found.everybody, found.remarks) == first


@pytest.mark.slow
def test_the_demonstration_s_hand_ins_are_as_they_are_made_and_every_planted_fault_is_found(tmp_path, capsys):
    made, demo = demo_contents(), data_folder() / "demo"
    assert {place.name: place.read_bytes() for place in (demo / "hand-ins").iterdir()} == made
    folder = tmp_path / "in"
    folder.mkdir()
    for i, (name, content) in enumerate(sorted(made.items())):
        (folder / name).write_bytes(content)
        os.utime(folder / name, (1e9 + i, 1e9 + i))
    os.utime(folder / "r-03-first.json", (1e9 - 9, 1e9 - 9))
    assert main(["mark", str(PATH), str(demo / "roster.csv"), str(folder), str(tmp_path / "out")]) == 0
    found = {(row[0], row[1]) for row in table((tmp_path / "out" / "remarks.csv").read_bytes())[1:]}
    assert found == {
        ("version", "r-02.json"), ("duplicate", "r-03-first.json"), ("numbers", "r-04.json"), ("alike", "r-03, r-04"),
        ("damaged", "r-05.json"), ("foreign", "r-06.json"), ("numbers", "r-07.json"), ("unmatched", "r-12.json"),
        *(("missing", f"r-{n}") for n in ("05", "06", "11", "12")),
    }  # fmt: skip
    said = capsys.readouterr().out
    assert "those of r-03" in said
    assert "It may be r-05.json" in said
    assert "8 of 12 handed in" in said


@pytest.mark.slow
@pytest.mark.parametrize("n", [0, 5, 71])
def test_what_takes_long_is_done_by_other_processes_in_its_order(n, monkeypatch):
    monkeypatch.setattr(processes, "PATIENCE", 0.0)
    monkeypatch.setattr(processes.os, "cpu_count", lambda: 2)
    done = list(processes.parallel_map(_who, range(n)))
    assert [thing for thing, _ in done] == list(range(n))
    assert (os.getpid() in {process for _, process in done}) == (n > 0)  # the first, to see how long it takes
    assert len({process for _, process in done} - {os.getpid()}) >= (n > 1)


def _who(thing):
    return thing, os.getpid()


def test_what_goes_wrong_in_another_process_is_not_lost(monkeypatch):
    monkeypatch.setattr(processes, "PATIENCE", 0.0)
    monkeypatch.setattr(processes.os, "cpu_count", lambda: 2)
    with pytest.raises(ValueError, match="invalid literal"):
        list(processes.parallel_map(int, ["1"] * 60 + ["x"]))


def test_the_class_page_tells_the_director_s_own_objectives_and_levels(places, capsys):
    own = places[0].parent / "items.csv"
    own.write_bytes(items(HOUR).replace(b"foretell what a mark that is off costs", b"=Our <aim> 3.2"))
    roster, folder, out = places
    assert main(["mark", str(PATH), str(roster), str(folder), str(out), "--items", str(own)]) == 0
    page = (out / "class.html").read_text("utf-8")
    assert "=Our &lt;aim&gt; 3.2" in page
    assert "foretell what a mark that is off costs" not in page
    own.write_text("question,aim\nmarks.shift,x\n", "utf-8")
    assert main(["mark", str(PATH), str(roster), str(folder), str(out), "--items", str(own)]) == 2
    assert "has no column 'objective'" in capsys.readouterr().err


def test_the_class_page_says_that_nothing_was_odd_where_nothing_was():
    page = class_page(HOUR, [], class_statistics([]), [])
    assert "Nothing odd was found." in page
    assert "Nothing was handed in that could be marked." in page


def test_results_never_fall_among_hand_ins_nor_over_what_is_not_of_an_earlier_run(places, capsys):
    roster, folder, out = places
    for place in (folder, folder / "marks", folder.parent):
        assert main(["mark", str(PATH), str(roster), str(folder), str(place)]) == 2
        assert "a folder of their own" in capsys.readouterr().err
    out.mkdir()
    (out / "gradebook.csv").write_text("mine", "utf-8")
    assert run(places) == 2
    assert "holds other things" in capsys.readouterr().err
    assert (out / "gradebook.csv").read_text("utf-8") == "mine"
    assert main(["mark", str(PATH), str(roster), str(folder), str(out), "--force"]) == 0
    assert run(places) == 0  # it is of an earlier run now
    about = (out / ABOUT).read_text("utf-8")
    for name in contents(out):
        assert name.split("/")[0] in about or name == ABOUT, name


def test_a_class_of_which_nothing_can_be_marked_is_told_and_has_a_gradebook(places, capsys):
    roster, folder, out = places
    for path in folder.iterdir():
        path.unlink()
    assert run(places) == 0
    assert "0 of 4 handed in" in capsys.readouterr().out
    assert "Nothing was handed in that could be marked" in (out / "class.html").read_text("utf-8")
    assert len(table((out / "gradebook.csv").read_bytes())) == 5


def test_who_handed_in_nothing_gets_no_answers(places):
    assert run(places) == 0
    page = (places[2] / "feedback" / "r-4.html").read_text("utf-8")
    assert "nothing was handed in that could be read" in page
    assert "What the simulation says" not in page


def test_titles_points_and_rubrics_may_be_mended_after_it_was_given_out(places, tmp_path):
    text = PATH.read_text("utf-8").replace("An hour on two", "One hour on two").replace("points = 3", "points = 4")
    mended = tmp_path / "mended.toml"
    mended.write_text(text.replace("1 point: pulling", "1 point: that pulling"), "utf-8")
    roster, folder, out = places
    assert main(["mark", str(mended), str(roster), str(folder), str(out)]) == 0
    books = {row[0]: row for row in table((out / "gradebook.csv").read_bytes())[1:]}
    assert books["r-1"][2:5] == ["handed in", "18.0", "20.0"]


@pytest.mark.slow
def test_of_two_files_that_one_counts_which_says_that_it_was_made_later(tmp_path):
    roster = parse_roster("id\nr-3\n")
    demo_files = demo_contents()
    for name in ("r-03-first.json", "r-03.json"):
        (tmp_path / name).write_bytes(demo_files[name].replace(b'"r-03"', b'"r-3"'))
    os.utime(tmp_path / "r-03.json", (1e9, 1e9))  # as copying may leave it
    found = mark_class(HOUR, roster, tmp_path)
    assert found.everybody[0].file == "r-03.json"


def test_copies_that_are_given_out_hold_no_rubric_and_ask_the_same():
    copy = parse_assignment(HOUR.without_rubrics())
    assert copy.mark == HOUR.mark
    assert "mark error lies across" not in HOUR.without_rubrics()
    for one, two in zip(HOUR.entries, copy.entries, strict=True):
        assert dataclasses.replace(one, rubric="") == dataclasses.replace(two, rubric="")
        for who in ("r-1", "r-2"):
            assert repr(HOUR.question(one, who)) == repr(copy.question(two, who))


def test_copies_keep_every_character_of_the_directors_words_and_the_points_as_given():
    words = 'An eye \U0001f441, a path C:\\eyes, \u201cquoted\u201d "twice", \x7f\u2028 and a tab\t.'
    asked = (Entry("why", 0.1 + 0.2, words, text=words, rubric="Anything."),)
    copy = parse_assignment(Assignment(words, words, asked, introduction=words).without_rubrics())
    assert {copy.title, copy.seed, copy.introduction, copy.entries[0].part, copy.entries[0].text} == {words}
    assert copy.entries[0].points == 0.1 + 0.2


def test_choices_stand_in_an_order_of_ones_own():
    entry = next(one for one in HOUR.entries if one.item == "start.alike")
    letters = {HOUR.question(entry, f"r-{i}").reference.answer for i in range(40)}
    assert len(letters) >= 3
    for i in range(5):
        question = HOUR.question(entry, f"r-{i}")
        assert question.judge(question.reference.answer).right
        assert question.judge(question.form.right).right
