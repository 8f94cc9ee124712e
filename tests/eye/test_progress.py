"""Bars: at a terminal or in a notebook, and only where somebody waits."""

import sys

import pytest
from tqdm import tqdm

from eyesim.eye import progress
from eyesim.eye.progress import progress_bar


def test_a_bar_that_is_wanted_counts_and_goes(capsys):
    bar = progress_bar([3, 1, 2], words="lenses", unit="eyes", shown=True)
    assert list(bar) == [3, 1, 2]
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "lenses:" in shown.err
    assert "0/3" in shown.err
    assert shown.err.endswith("\r")  # wiped
    assert bar.n == bar.total == 3


@pytest.mark.parametrize(("shown", "terminal", "notebook", "there"), [
    (None, False, False, False), (None, True, False, True), (None, False, True, True),
    (False, True, True, False), (True, False, False, True),
])  # fmt: skip
def test_a_bar_is_there_for_who_waits(shown, terminal, notebook, there, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: terminal)
    monkeypatch.setattr(progress, "_in_notebook", lambda: notebook)
    with progress_bar(words="lenses", total=4, shown=shown) as bar:
        assert isinstance(bar, tqdm) is there
        bar.update()
        assert not there or bar.delay == (0.0 if shown else 1.0 if terminal else 5.0)


def test_short_work_shows_nothing(monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    assert list(progress_bar(range(5), words="lenses")) == list(range(5))
    assert capsys.readouterr().err == ""
