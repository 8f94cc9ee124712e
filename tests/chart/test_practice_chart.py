"""Pictures of a practice log and the page that is kept: numbers in words, names as data, nothing overwritten."""

from __future__ import annotations

import numpy as np
import pytest

import eyesim as es
from eyesim.chart.practice import curve_chart, miss_chart
from eyesim.draw.picture import Chart
from eyesim.eye.sources import data_folder
from eyesim.page.practice_report import FILES, practice_page, write_practice
from eyesim.practice.failures import failed_by_outcome, group_attempts
from eyesim.practice.learning_curve import learning_curve
from eyesim.practice.log import parse_log, read_log
from eyesim.practice.measurement import Measurement
from eyesim.practice.skills import skills

LOG = read_log(data_folder() / "demo" / "practice-log.csv")


@pytest.mark.parametrize("by", [None, "way", "side", "hand", "seat"])
def test_the_misses_are_told_as_they_are_drawn(by):
    chart = miss_chart(LOG, by)
    assert isinstance(chart, Chart)
    for one in skills(LOG, by):
        digits = 1 if one.bias.unit == "deg" else 2
        assert one.bias.text(f"+.{digits}f") in repr(chart)
        assert one.spread.text(f".{digits}f") in repr(chart)
    marks = {tuple(np.round(line.get_xdata(), 9)) for axes in chart.figure.axes for line in axes.lines}
    for one in skills(LOG, by):
        assert tuple(np.round([one.bias.low, one.bias.high], 9)) in marks


def test_the_curve_is_told_as_it_is_drawn():
    curve = learning_curve(failed_by_outcome(group_attempts(LOG)))
    chart = curve_chart(curve)
    assert curve.verdict in repr(chart)
    assert "4.8%" in repr(chart)
    crosses = [line for line in chart.figure.axes[0].lines if line.get_marker() == "x"]
    assert crosses[0].get_xdata().tolist() == (1 + np.flatnonzero(curve.failed)).tolist()
    drawn = [line.get_ydata() for line in chart.figure.axes[0].lines]
    assert any(len(y) == len(curve.phases[0].values) and np.allclose(y, curve.phases[0].values) for y in drawn)


@pytest.mark.parametrize(
    "failed", [[True], [False], [True] * 30, [False] * 60, [False] * 30 + [True] * 9 + [False] * 3]
)
def test_any_curve_can_be_drawn(failed):
    assert curve_chart(learning_curve(failed)).png.startswith(b"\x89PNG")


def test_what_cannot_be_drawn_is_said_in_words():
    with pytest.raises(es.LearnerError, match="no attempts"):
        miss_chart(parse_log(b""))
    with pytest.raises(es.LearnerError, match="no attempts"):
        miss_chart([Measurement("2026-11-26", "outside", 0.8, 0.9)], by="way")
    with pytest.raises(es.LearnerError, match="learning_curve"):
        curve_chart([True, False])


def test_one_attempt_is_drawn_too():
    assert "1 attempt," in repr(miss_chart([Measurement("2026-11-26", "outside", 0.8, 0.9)]))


def test_names_are_never_html_on_the_page():
    evil = "<script>alert(1)</script> $x^$ &amp;"
    rows = [Measurement("2026-11-26", "outside", 0.8, 0.9 + 0.01 * i, attempt=f"{i}", rater=who)
            for i in range(5) for who in (evil, "=2+2")]  # fmt: skip
    page = practice_page(type(LOG)(tuple(rows)))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert es.CAUTION in page


@pytest.mark.slow
def test_page_and_table_are_kept_and_never_overwritten_unasked(tmp_path):
    folder = tmp_path / "out"
    assert write_practice(LOG, folder) == FILES
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    table = (folder / "practice-skill.csv").read_text("utf-8-sig").splitlines()
    assert len(table) == 1 + 3 + 6 + 6
    before = (folder / "practice.html").read_bytes()
    with pytest.raises(es.LearnerError, match="--force"):
        write_practice(LOG, folder)
    write_practice(LOG, folder, overwrite=True)
    assert (folder / "practice.html").read_bytes() == before
    with pytest.raises(es.LearnerError, match="cannot be kept"):
        write_practice(LOG, folder / "practice.html" / "deeper")


def test_the_page_says_what_was_not_read():
    page = practice_page(read_log(data_folder() / "demo" / "practice-log-damaged.csv"))
    assert "Not read" in page
    assert "line 11" in page
