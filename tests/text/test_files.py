"""Files are written whole, or not at all."""

import os

import pytest

from eyesim.text import files


def test_nothing_half_written_is_left_when_writing_fails(tmp_path, monkeypatch):
    def refuse(*_):
        raise OSError("no")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="no"):
        files.write_whole(tmp_path / "a", b"content")
    assert list(tmp_path.iterdir()) == []
