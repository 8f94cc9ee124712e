"""The learner's copy of the workbook: renewed where nobody touched it; nothing that a learner wrote is ever lost."""

import json

import nbformat
import pytest

from eyesim.__main__ import main
from eyesim.machine import jupyterlab, workbook


def lesson(words, name=workbook.START):
    cells = [nbformat.v4.new_markdown_cell(f"# {words}", id="one")]
    return name, nbformat.writes(nbformat.v4.new_notebook(cells=cells)).encode()


@pytest.fixture
def shipped(tmp_path):
    folder = tmp_path / "shipped"
    folder.mkdir()
    for name, content in (lesson("Start"), lesson("Aim", "Aim.ipynb")):
        (folder / name).write_bytes(content)
    return folder


def fates(laid):
    return {one.name: one.state for one in laid}


def test_lessons_are_copied_and_remembered(shipped, tmp_path):
    mine = tmp_path / "deep" / "mine"
    assert fates(workbook.copy_lessons(shipped, mine)) == {"Aim.ipynb": "new", workbook.START: "new"}
    assert (mine / "Aim.ipynb").read_bytes() == (shipped / "Aim.ipynb").read_bytes()
    assert set(fates(workbook.copy_lessons(shipped, mine)).values()) == {"same"}


def test_a_lesson_that_nobody_touched_is_renewed_in_place(shipped, tmp_path):
    mine = tmp_path / "mine"
    workbook.copy_lessons(shipped, mine)
    (shipped / "Aim.ipynb").write_bytes(lesson("Aim better")[1])
    assert fates(workbook.copy_lessons(shipped, mine))["Aim.ipynb"] == "renewed"
    assert b"Aim better" in (mine / "Aim.ipynb").read_bytes()
    assert not list(mine.glob("* (new*"))


def test_what_a_learner_changed_is_never_overwritten(shipped, tmp_path):
    mine = tmp_path / "mine"
    workbook.copy_lessons(shipped, mine)
    my_work = lesson("My answers")[1]
    (mine / "Aim.ipynb").write_bytes(my_work)
    assert fates(workbook.copy_lessons(shipped, mine))["Aim.ipynb"] == "kept"

    for k, words in enumerate(["Second edition", "Third edition"]):
        (shipped / "Aim.ipynb").write_bytes(lesson(words)[1])
        laid = {one.name: one for one in workbook.copy_lessons(shipped, mine)}["Aim.ipynb"]
        assert (laid.state, laid.beside) == ("beside", "Aim (new).ipynb"), k  # an untouched new one is renewed
        assert (mine / "Aim.ipynb").read_bytes() == my_work
        assert words.encode() in (mine / laid.beside).read_bytes()
        assert fates(workbook.copy_lessons(shipped, mine))["Aim.ipynb"] == "kept"  # and it is said once only

    my_second = lesson("My answers to the third edition")[1]
    (mine / "Aim (new).ipynb").write_bytes(my_second)
    (shipped / "Aim.ipynb").write_bytes(lesson("Fourth edition")[1])
    laid = {one.name: one for one in workbook.copy_lessons(shipped, mine)}["Aim.ipynb"]
    assert laid.beside == "Aim (new 2).ipynb"
    assert (mine / "Aim (new).ipynb").read_bytes() == my_second
    assert (mine / "Aim.ipynb").read_bytes() == my_work


@pytest.mark.parametrize("memory", [None, b"", b"{half", b"[1]"])
def test_a_folder_without_memory_is_taken_as_the_learners_own(shipped, tmp_path, memory):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "Aim.ipynb").write_bytes(b"not even a notebook")
    if memory is not None:
        (mine / ".shipped.json").write_bytes(memory)
    laid = {one.name: one for one in workbook.copy_lessons(shipped, mine)}
    assert (laid["Aim.ipynb"].state, laid[workbook.START].state) == ("beside", "new")
    assert (mine / "Aim.ipynb").read_bytes() == b"not even a notebook"
    assert set(json.loads((mine / ".shipped.json").read_text())) >= {"Aim.ipynb", "Aim (new).ipynb"}


def test_a_renewed_lesson_is_announced(shipped, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(workbook, "shipped_lessons", lambda: shipped)
    monkeypatch.setattr(jupyterlab, "open_lab", lambda *given, **also: 0)
    mine = tmp_path / "mine"
    assert main(["open", "--folder", str(mine)]) == 0
    (mine / "Aim.ipynb").write_bytes(lesson("Mine")[1])
    (shipped / "Aim.ipynb").write_bytes(lesson("Renewed")[1])
    capsys.readouterr()
    assert main(["open", "--folder", str(mine)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "Yours is kept" in out
    assert "Aim (new).ipynb" in out
