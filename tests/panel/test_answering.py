"""Answering an assignment: saved at each change, whole at all times, one file whatever befell the cells."""

from __future__ import annotations

import json
import multiprocessing
import os
import random
import signal
import sys
import threading
import time

import nbformat
import pytest
from page import Page, layout, off, shown

import eyesim as es
from eyesim.__main__ import main
from eyesim.eye.sources import data_folder
from eyesim.marking.answer_sheet import open_sheet
from eyesim.marking.assignment import read_assignment
from eyesim.marking.handin import Answered, read_hand_in
from eyesim.marking.mark import collect, mark_hand_in
from eyesim.marking.roster import read_roster
from eyesim.page import hand_out
from eyesim.panel.answer import answer_panel, fields, hand_in_panel
from eyesim.text import files

DEMO = data_folder() / "demo"
TEXT = (DEMO / "assignment.toml").read_text(encoding="utf-8")


@pytest.fixture
def place(tmp_path):
    def put(feedback="after hand-in"):
        (tmp_path / "assignment.toml").write_text(
            TEXT.replace('"after hand-in" ', f'"{feedback}" ', 1), encoding="utf-8"
        )
        return tmp_path / "assignment.toml"

    return put


def opened(path, person="r-01"):
    return open_sheet(path, person)


def kept(sheet):
    return {name: one.answer for name, one in read_hand_in(sheet.place).answers.items()}


def test_every_key_is_kept_and_comes_back(place):
    sheet = opened(place())
    page = Page(answer_panel(sheet, "marks.shift"))
    for text in ("0", "0,", "0,5", "0,54"):
        page.say("set", "answer", text)
        assert kept(sheet) == {"marks.shift": text}
    page.say("set", "sure", "certain")
    page.widget._handle_custom_msg(  # an older change that comes last, from another thread of the kernel
        {"kind": "set", "name": "answer", "value": "0,5", "view": "page", "turn": 3}, []
    )
    assert kept(sheet) == {"marks.shift": "0,54"}
    again = answer_panel(opened(place()), "marks.shift")
    assert "Your answer: 0,54 (certain)." in repr(again)
    assert Page(again).values == {"answer": "0,54", "sure": "certain"}
    page.say("set", "answer", " ")
    assert kept(sheet) == {}
    assert "Not answered yet" in shown(answer_panel(again.sheet, "marks.shift"))


def test_what_cannot_be_read_is_kept_and_said_while_it_can_be_mended(place):
    sheet = opened(place())
    panel = answer_panel(sheet, "marks.shift")
    page = Page(panel)
    page.say("set", "answer", "0,5 mmx")
    assert kept(sheet) == {"marks.shift": "0,5 mmx"}
    assert "mmx" in shown(panel)
    assert "Saved" in shown(panel)
    page.say("set", "answer", "0,5 mm")
    assert "cannot be read" not in shown(panel)


def test_nothing_is_told_before_it_is_handed_in_and_nothing_changes_after(place):
    sheet = opened(place())
    panel, last = answer_panel(sheet, "start.alike"), hand_in_panel(sheet)
    page, button = Page(panel), Page(last)
    right = panel.question.reference.answer
    page.say("set", "answer", right)
    page.say("set", "sure", "guessing")
    assert panel._board._now["regions"]["feedback"] == ""
    button.say("press", "make")
    assert "Press again" in shown(last)
    others = [str(i) for i, e in enumerate(sheet.assignment.entries, 1) if e.name != "start.alike"]
    assert f"Without an answer: questions {', '.join(others[:-1])} and {others[-1]}." in shown(last)
    assert not sheet.handed.exists()
    button.say("press", "make")
    assert sheet.handed.exists()
    assert button.last("file")[0]["name"] == "hand-in-r-01.json"
    assert "Right." in panel._board._now["regions"]["feedback"]
    assert {"answer", "sure"} <= set(off(panel))
    page.say("set", "answer", "a")
    assert "handed in" in page.fault
    assert kept(sheet) == {"start.alike": right}


def test_told_at_once_means_after_committing(place):
    sheet = opened(place("at once"))
    panel = answer_panel(sheet, "start.tilt")
    page = Page(panel)
    page.say("press", "commit")
    assert "answer first" in page.fault
    page.say("set", "answer", "0")
    page.say("press", "commit")
    assert "how sure" in page.fault
    page.say("set", "sure", "certain")
    page.say("press", "commit")
    assert "What the simulation says" in panel._board._now["regions"]["feedback"]
    page.say("set", "answer", "5")
    assert "committed" in page.fault
    assert kept(sheet) == {"start.tilt": "0"}
    again = answer_panel(opened(sheet.folder / "assignment.toml"), "start.tilt")  # as after the kernel was started anew
    assert "What the simulation says" in again._board._now["regions"]["feedback"]
    with pytest.raises(es.LearnerError, match="committed"):
        again.set(answer="5")


def test_told_by_the_director_it_can_be_handed_in_again(place):
    sheet = opened(place("director"))
    sheet.keep("start.tilt", Answered("5", "certain"))
    sheet.make()
    sheet.keep("start.tilt", Answered("6", "certain"))
    sheet.make()
    assert read_hand_in(sheet.handed).answers["start.tilt"].answer == "6"
    assert "feedback" in answer_panel(sheet, "start.tilt")._board._now["regions"]
    assert answer_panel(sheet, "start.tilt")._board._now["regions"]["feedback"] == ""


@pytest.mark.parametrize("name", ["start.follow", "needles.two-walls", "tunnels.recentre"])
def test_a_plan_is_answered_in_fields_and_marked_as_what_it_means(place, name):
    sheet = opened(place())
    panel = answer_panel(sheet, name)
    page = Page(panel)
    answer = panel.question.reference.answer
    if isinstance(answer, str):
        page.say("set", "refused", True)
    else:
        for key, value in answer.items():
            inner = value.items() if isinstance(value, dict) else [(None, value)]
            for step, number in inner:
                page.say("set", f"{key}__{step}" if step else key, str(number).replace(".", ","))
    assert panel.question.judge(kept(sheet)[name]).right
    again = answer_panel(sheet, name)
    assert again._answer() == kept(sheet)[name]
    assert all(layout(panel)[path]["words"].endswith("]") for path in fields(panel.question))


def test_two_notebooks_at_a_time_keep_each_other_s_answers(place):
    one, two = opened(place()), opened(place())
    names = [entry.name for entry in one.assignment.entries]

    def work(sheet, mine):
        for i in range(40):
            sheet.keep(mine[i % len(mine)], Answered(str(i)))

    threads = [threading.Thread(target=work, args=both) for both in ((one, names[:5]), (two, names[5:]))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(kept(one)) == set(names)


def test_a_full_disk_costs_the_last_change_alone(place, monkeypatch):
    sheet = opened(place())
    panel = answer_panel(sheet, "marks.shift")
    page = Page(panel)
    page.say("set", "answer", "0,5")

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "replace", full)
    page.say("set", "answer", "0,54")
    assert "no space left" in page.fault
    assert kept(sheet) == {"marks.shift": "0,5"}
    monkeypatch.undo()
    page.say("set", "answer", "0,55")
    assert kept(sheet) == {"marks.shift": "0,55"}
    assert not list(sheet.folder.glob(".*.part"))


def test_answers_that_were_damaged_by_others_are_kept_aside_and_said(place):
    sheet = opened(place())
    sheet.keep("start.tilt", Answered("5"))
    sheet.place.write_text("{")
    with pytest.raises(es.LearnerError, match="cannot be read"):
        opened(place())
    assert sheet.place.with_suffix(".damaged.json").read_text() == "{"
    sheet.place.write_text(json.dumps({"format": "eyesim hand-in 1"}))
    with pytest.raises(es.LearnerError, match="by the schema"):
        opened(place())


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL") or sys.platform == "darwin", reason="needs fork and SIGKILL")
@pytest.mark.filterwarnings("ignore:This process.*fork:DeprecationWarning")
def test_killed_at_any_moment_what_was_said_to_be_saved_is_there(place):
    path, draw, context = place(), random.Random(3), multiprocessing.get_context("fork")
    sheet = opened(path)
    said = path.parent / "said"

    def work(start):
        with said.open("ab", buffering=0) as told:
            for i in range(start, start + 10_000):
                sheet.keep("start.tilt", Answered(str(i)))
                told.write(f"{i}\n".encode())

    for round_ in range(100):
        child = context.Process(target=work, args=(round_ * 10_000,))
        child.start()
        time.sleep(draw.uniform(0.02, 0.09))
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        last = said.read_text().split("\n")[-2:] if said.exists() else []
        if last and last[0]:
            assert int(kept(sheet)["start.tilt"]) >= int(last[0])


def test_everybody_gets_a_folder_and_nothing_that_was_changed_is_overwritten(tmp_path, capsys):
    out = tmp_path / "out"
    call = ["assign", str(DEMO / "assignment.toml"), str(DEMO / "roster.csv"), str(out)]
    assert main(call) == 0
    people = read_roster(DEMO / "roster.csv").people
    assert sorted(place.name for place in out.iterdir()) == [
        "items.csv",
        "preview.html",
        *(person.id for person in people),
    ]
    (out / "r-01" / hand_out.NOTEBOOK).write_text("mine")
    capsys.readouterr()
    assert main(call) == 0
    assert f"r-01/{hand_out.NOTEBOOK} is other" in capsys.readouterr().out
    assert (out / "r-01" / hand_out.NOTEBOOK).read_text() == "mine"
    text = (out / "preview.html").read_text()
    assert "never plan care" in text
    assert "Recognised and answered with the reason" in text


def test_the_notebook_is_one_and_the_hand_in_does_not_care_for_its_cells(tmp_path):
    assignment = read_assignment(DEMO / "assignment.toml")
    (tmp_path / "assignment.toml").write_text(TEXT, encoding="utf-8")
    roster = read_roster(DEMO / "roster.csv")
    person = roster.people[0]
    notebook = nbformat.reads(hand_out.notebook(assignment, person), 4)
    nbformat.validate(notebook)
    assert es.CAUTION in notebook.cells[0].source
    sources = [cell.source for cell in notebook.cells if cell.cell_type == "code"]
    space, draw = {}, random.Random(1)
    exec(sources[0].replace('"assignment.toml"', repr(str(tmp_path / "assignment.toml"))), space)
    asked = [source for source in sources[1:-1] if draw.random() < 0.7] + sources[1:4]  # some deleted, some twice
    draw.shuffle(asked)
    for source in asked:
        panel = eval(source, space)
        if panel.question is not None and not fields(panel.question):
            panel.set(answer=str(panel.question.reference.answer), sure="certain")
    button = eval(sources[-1], space)
    button.make()
    button.make()
    (tmp_path / "in").mkdir()
    space["sheet"].handed.rename(tmp_path / "in" / "x.json")
    found = collect(tmp_path / "in", assignment, roster)
    first = roster.people[0]
    one = mark_hand_in(assignment, first, found.by_person.get(first.id))
    assert one.state == "handed in"
    assert all(mark.share == 1.0 for mark in one.marks if mark.answer is not None)
    assert sum(mark.answer is not None for mark in one.marks) >= 3


def test_names_from_a_roster_are_words_in_notebook_and_page():
    assignment = read_assignment(DEMO / "assignment.toml")
    from eyesim.marking.roster import Person

    person = Person('x"); import os #', "<script>alert(1)</script> **bold** [a](http://x)")
    notebook = nbformat.reads(hand_out.notebook(assignment, person), 4)
    assert "<script>" not in notebook.cells[0].source
    assert "](" not in notebook.cells[0].source
    compile(notebook.cells[1].source, "cell", "exec")
    assert json.dumps(person.id) in notebook.cells[1].source
    page = hand_out.instructions(assignment, person)
    assert "<script>" not in page
    assert files.safe_name(person.id) in page


@pytest.mark.parametrize("id", ["r-01", "Ada", "a.b_c"])
def test_plain_ids_name_their_own_files(id):
    assert files.safe_name(id) == id


@pytest.mark.parametrize(
    "id", ["../x", "a/b", "a\\b", "", ".", "..", "con", "NUL", "x" * 300, "\u00e4", "a\nb", "a:b", "~root", "-rf"]
)
def test_other_ids_name_files_that_are_harmless(id):
    name = files.safe_name(id)
    assert name not in ("", ".", "..")
    assert len(name) < 80
    assert not set(name) & set("/\\:\n ~")
    assert not name.startswith(("-", "."))
