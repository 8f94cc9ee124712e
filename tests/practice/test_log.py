"""A practice log only grows: rows are checked one by one, added whole, and none is lost with another."""

from __future__ import annotations

import datetime
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from demo_practice_log import contents
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim import practice
from eyesim.__main__ import main
from eyesim.eye.sources import data_folder
from eyesim.practice.log import COLUMNS, Log, addition, line_ending, parse_log, read_log
from eyesim.practice.measurement import PLAIN, Measurement, read_day
from eyesim.text.files import safe_name

DEMO = data_folder() / "demo"
HEAD = ",".join(COLUMNS)


def row(i=0, **changes):
    usual = {"when": "2026-09-01", "quantity": "iris_angle", "aim": 5, "achieved": 6.5 + i / 10, "attempt": f"a-{i}"}
    return Measurement(**{**usual, "side": "second", "rater": "A", **changes})


# ---------------------------------------------------------------- rows


def test_a_row_knows_its_miss_and_reads_what_people_write():
    one = row(quantity="Dip", aim="5 deg", achieved="7,5\N{DEGREE SIGN}", side="2", way="towards oneself", hand="R")
    assert (one.quantity, one.miss, one.side, one.way, one.hand, one.unit) == (
        "iris_angle", 2.5, "second", "towards", "right", "deg",
    )  # fmt: skip
    assert row(quantity="mark", aim=359, achieved=1).miss == pytest.approx(2.0)
    for name, words in PLAIN.items():  # as they are called on charts and pages
        assert row(quantity=words.capitalize(), aim=5, achieved=5).quantity == name
    assert row(quantity="limbus_angle").quantity == "limbus_angle"
    assert repr(row()).startswith("2026-09-01 iris_angle, second haptic: aim 5 deg, achieved 6.5 deg, miss +1.5 deg")


@pytest.mark.parametrize(("text", "day"), [
    ("2026-11-26", (2026, 11, 26)), ("26.11.2026", (2026, 11, 26)), ("26/11/2026", (2026, 11, 26)),
    ("11/26/2026", (2026, 11, 26)), ("2026-11-26T18:04:00Z", (2026, 11, 26)), ("5/5/2026", (2026, 5, 5)),
])  # fmt: skip
def test_days_are_read_as_they_are_written(text, day):
    assert read_day(text) == datetime.date(*day)


@pytest.mark.parametrize(("changes", "words"), [
    ({"when": "5/6/2026"}, "could be two days"), ({"when": "soon"}, "soon"), ({"quantity": "luck"}, "luck"),
    ({"achieved": "six"}, "six"), ({"achieved": ""}, "missing"), ({"achieved": float("nan")}, "achieved"),
    ({"achieved": 64}, "a miss of up to"), ({"side": "third"}, "first or second"), ({"aim": "5 mm"}, "mm"),
    ({"rater": "x" * 300}, "up to 200"), ({"note": 3}, "text"), ({"achieved": 10**400}, "achieved"),
    ({"seat": "floor"}, "superior"), ({"when": datetime.date(1, 1, 1), "aim": None}, "aim"),
])  # fmt: skip
def test_what_is_no_row_is_said_in_words(changes, words):
    with pytest.raises(es.LearnerError, match=words):
        row(**changes)


# ---------------------------------------------------------------- reading


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_logs_of_many_hands_are_read_alike(separator, mark, end):
    value = '"6,5"' if separator == "," else "6,5"
    lines = ["# a remark", separator.join(("Date", "What", "aimed", "got", "haptic", "remarks")),
             separator.join(("1.9.2026", "dip", "5", value, "second", "")), ""]  # fmt: skip
    log = parse_log((mark + end.join(lines)).encode())
    assert [one.miss for one in log.rows] == [1.5]
    assert log.bad_lines == ()
    assert log.remarks == ("a remark",)


def test_bad_rows_are_named_and_all_others_count():
    log = read_log(DEMO / "practice-log-damaged.csv")
    assert [one.achieved for one in log.rows] == [7.5, 182.5, 2.2, 6.5]
    told = {bad.line: bad.why for bad in log.bad_lines}
    assert sorted(told) == [5, 6, 7, 8, 10, 11]
    for line, words in {5: "six", 6: "mm", 7: "two days", 8: "tunnel_length", 10: "miss", 11: "cut off"}.items():
        assert words in told[line], (line, told[line])
    assert log.rows[2].rater == "=A1"  # a name, as it was typed; in the file it is made harmless
    assert "not read: line 5" in repr(log)


def test_the_demonstration_is_what_its_recipe_makes():
    for name, content in contents().items():
        assert (DEMO / name).read_bytes() == content
    log = read_log(DEMO / "practice-log.csv")
    assert len({one.attempt for one in log.rows}) == 40
    assert len(log.only(rater="B")) == 15
    assert log.remarks[0].startswith("Invented for teaching")
    assert log.bad_lines == ()


@pytest.mark.parametrize(("content", "words"), [
    (b"", "empty|Not a single|without rows"), (b"PK\x03\x04 zip", "Is it the right file"),
    (b"\xff\xfea\x00", "UTF-16"), (b"a,b,c\n1,2,3\n", "Is it the right file"), (b"\x00" * 99, "Is it the right file"),
])  # fmt: skip
def test_what_is_no_log_is_said_in_words(content, words):
    try:
        said = repr(parse_log(content))
    except es.LearnerError as error:
        said = str(error)
    assert any(one in said for one in words.split("|"))


def test_a_log_of_more_than_a_few_megabytes_is_not_read(tmp_path):
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.truncate(2**31)
    with pytest.raises(es.LearnerError, match="larger than"):
        read_log(path)
    with pytest.raises(es.LearnerError, match="cannot be read: no such file"):
        read_log("no\0name")
    with pytest.raises(es.LearnerError, match="cannot be read"):
        read_log(tmp_path / "none.csv")


# ---------------------------------------------------------------- adding


def test_nothing_that_is_there_ever_changes(tmp_path):
    path = tmp_path / "log.csv"
    before = b""
    for i in range(20):
        practice.add(path, row(i, note='=HYPERLINK("x"), "quoted"; and, commas'))
        now = path.read_bytes()
        assert now.startswith(before)
        before = now
    log = read_log(path)
    assert [one.attempt for one in log.rows] == [f"a-{i}" for i in range(20)]
    assert log.rows[3].note == '=HYPERLINK("x"), "quoted"; and, commas'
    assert b"\n=" not in before
    assert b",=" not in before
    assert b"'=HYPERLINK" in before


def test_a_table_of_another_form_is_gone_on_with():
    content = "\ufeffwhen;attempt;quantity;aim;achieved;note\r\n1.9.2026;x;dip;5;6,5;\r\n".encode()
    more = content + addition(content, row(1, side="", rater=""))
    assert [one.achieved for one in parse_log(more).rows] == [6.5, 6.6]
    whole = more + addition(more, row(2))  # side and rater have no place there: a new head comes first
    assert [one.side for one in parse_log(whole).rows] == ["", "", "second"]


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_a_line_that_broke_off_is_closed_told_and_goes_on(cut, tmp_path):
    path = tmp_path / "log.csv"
    practice.add(path, row(1))
    whole = path.read_bytes()
    practice.add(path, row(2))
    broken = path.read_bytes()[: len(whole) + cut]
    path.write_bytes(broken)
    practice.add(path, row(3))
    assert path.read_bytes().startswith(broken)
    log = read_log(path)
    assert [one.attempt for one in log.rows if one.attempt != "a-2"] == ["a-1", "a-3"]
    assert len(log.bad_lines) == (len(log.rows) == 2)
    assert line_ending(path.read_bytes()) == b""


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_property_whatever_is_in_the_file_a_row_can_be_added_and_read_again(content):
    assume(not content.startswith((b"\xff\xfe", b"\xfe\xff")))
    more = content + addition(content, row(7))
    log = parse_log(more)
    assert row(7) in log.rows
    again = more + addition(more, row(8))
    assert {row(7), row(8)} <= set(parse_log(again).rows)


@given(st.text(max_size=120), st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_property_names_and_notes_come_back_as_text(note, rater):
    one = row(1, note=note, rater=rater)
    assert one in parse_log(addition(b"", one)).rows


def test_a_name_is_never_a_path(tmp_path):
    for who in ("../../etc/passwd", "a/b", "CON", "x\0y", "..", "é ü", "=1"):
        path = tmp_path / f"{safe_name(who)}.csv"
        assert path.parent == tmp_path
        practice.add(path, row())
        assert path.is_file()
    assert len(list(tmp_path.iterdir())) == 7


_WRITER = """
import sys
from eyesim.practice.measurement import Measurement
from eyesim import practice
for i in range(int(sys.argv[3])):
    row = Measurement("2026-09-01", "iris_angle", 5, 6, attempt=f"{sys.argv[2]}-{i}", rater="A" * 60)
    practice.add(sys.argv[1], row)
    print(i, flush=True)
"""


@pytest.mark.slow
def test_four_writers_at_once_lose_nothing(tmp_path):
    path = tmp_path / "log.csv"
    writers = [subprocess.Popen([sys.executable, "-c", _WRITER, str(path), f"w{k}", "40"], stdout=subprocess.DEVNULL)
               for k in range(4)]  # fmt: skip
    assert [one.wait(60) for one in writers] == [0] * 4
    log = read_log(path)
    assert sorted(one.attempt for one in log.rows) == sorted(f"w{k}-{i}" for k in range(4) for i in range(40))
    assert log.bad_lines == ()


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="processes are ended otherwise there")
def test_two_dozen_writers_killed_at_random_moments_leave_every_row_that_was_said_to_be_kept(tmp_path):
    path, said, draw = tmp_path / "log.csv", [], random.Random(3)
    for k in range(6):
        some = [subprocess.Popen([sys.executable, "-c", _WRITER, str(path), f"k{k}.{j}", "5000"],
                                 stdout=subprocess.PIPE, text=True) for j in range(4)]  # fmt: skip
        for one in some:
            assert one.stdout.readline() == "0\n"
        time.sleep(draw.uniform(0.0, 0.05))
        for one in some:
            os.kill(one.pid, signal.SIGKILL)
        for j, one in enumerate(some):
            rest, _ = one.communicate()
            said += [f"k{k}.{j}-{i}" for i in range(1 + rest.count("\n"))]
    log = read_log(path)
    kept = [one.attempt for one in log.rows]
    assert set(said) <= set(kept)
    assert len(kept) == len(set(kept))
    assert all("cut off" in bad.why for bad in log.bad_lines)


def test_a_full_disk_leaves_the_log_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "log.csv"
    practice.add(path, row(1))
    before = path.read_bytes()
    write = os.write
    monkeypatch.setattr(os, "write", lambda file, data: write(file, data[:9]))
    with pytest.raises(es.LearnerError, match="no space left"):
        practice.add(path, row(2))
    assert path.read_bytes() == before


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(es.LearnerError, match="Nothing can be added"):
        practice.add(tmp_path / "none" / "log.csv", row())
    (tmp_path / "wide.csv").write_bytes("when".encode("utf-16"))
    with pytest.raises(es.LearnerError, match="UTF-16"):
        practice.add(tmp_path / "wide.csv", row())
    with pytest.raises(es.LearnerError, match="Measurement"):
        practice.add(Path(tmp_path / "log.csv"), "row")
    assert repr(Log(())) == "A practice log without rows."


@pytest.mark.slow
def test_the_command_adds_rows_and_says_what_they_tell(tmp_path, capsys):
    path = tmp_path / "mine.csv"
    for i in range(4):
        words = [
            "quantity=iris_angle",
            "aim=5",
            f"achieved={7 + i}",
            "side=second",
            "way=towards",
            f"attempt=p-{i}",
            "rater=A",
        ]
        assert main(["practice", str(path), "--add", *words]) == 0
    assert "Kept: " in capsys.readouterr().out
    assert main(["practice", str(path)]) == 0
    said = capsys.readouterr().out
    assert "iris_angle (towards), 4 attempts: bias +" in said
    assert "Competence is not shown yet after 4 attempts" in said
    assert "The drill that would gain most: " in said
    assert es.CAUTION in said
    slips = {"aim": "names with their values", "luck=1": "luck", "aim=5": "needs quantity, achieved",
             "quantity=dip aim=5 achieved=six": "six"}  # fmt: skip
    for bad, words in slips.items():
        assert main(["practice", str(path), "--add", *bad.split()]) == 2
        assert words in capsys.readouterr().err
    assert len(read_log(path).rows) == 4
    assert main(["practice", str(tmp_path / "none.csv")]) == 2
