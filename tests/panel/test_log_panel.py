"""The form for the practice log: a row is kept or the reason said, and nothing that was typed is lost."""

from __future__ import annotations

import html

import pytest
from page import Page, layout, shown

from eyesim import practice
from eyesim.chart import doubt_chart
from eyesim.eye.checks import LearnerError
from eyesim.eye.sources import data_folder
from eyesim.panel import log_panel
from eyesim.panel import photo as photo_panel
from eyesim.photo.points import read_points
from eyesim.practice.log import read_log

DEMO = data_folder() / "demo"


def told(form):
    return form._board._now["regions"]["told"]


@pytest.mark.slow
def test_the_same_row_twice_is_asked_about(form):
    form.set(achieved="6", attempt="p-1")
    form.add()
    form.set(achieved="6")
    with pytest.raises(LearnerError, match="this very row of p-1 already"):
        form.add()
    form.set(note="measured again")
    form.add()
    assert form._values["note"] == ""
    assert len(read_log(form.path).rows) == 2


@pytest.fixture
def form(tmp_path):
    return log_panel(tmp_path / "mine.csv")


def test_a_row_is_kept_and_what_stays_the_same_stays(form):
    page = Page(form)
    for name, value in {"side": "second", "way": "towards", "achieved": "7,5", "rater": "A", "attempt": "p-1"}.items():
        page.say("set", name, value)
    page.say("press", "add")
    (row,) = read_log(form.path).rows
    assert (row.quantity, row.aim, row.achieved, row.side, row.way) == ("iris_angle", 5.0, 7.5, "second", "towards")
    told = page.last()[0]
    assert told["fault"] == ""
    assert {told["values"][name] for name in ("achieved", "note")} == {""}
    assert [told["values"][name] for name in ("side", "way", "rater", "attempt")] == ["second", "towards", "A", "p-1"]
    assert "Kept" in shown(form)
    assert "A practice log: 1 row of 1 attempt" in repr(form)


def test_a_second_press_adds_nothing(form):
    page = Page(form)
    page.say("set", "achieved", "6")
    page.say("press", "add")
    page.say("press", "add")
    assert "Nothing was added. Achieved is missing" in told(form)
    assert "Kept" not in told(form)
    assert len(read_log(form.path).rows) == 1


@pytest.mark.parametrize(("name", "value", "words"), [
    ("achieved", "six", "A number is wanted"), ("achieved", "64", "a miss of up to 45 deg is sensible"),
    ("when", "5/6/2026", "could be two days"), ("when", "2091-01-01", "lies ahead"),
    ("attempt", "x" * 201, "up to 200 characters"),
])  # fmt: skip
def test_what_makes_no_sense_is_said_and_kept_in_the_form(form, name, value, words):
    page = Page(form)
    page.say("set", "achieved", "6")
    page.say("set", name, value)
    page.say("press", "add")
    assert words in told(form)
    assert not form.path.exists()
    assert page.last()[0]["values"][name] == value
    page.say("set", name, "7" if name == "achieved" else "2026-06-05" if name == "when" else "p-1")
    page.say("press", "add")
    assert "Kept" in told(form)
    assert len(read_log(form.path).rows) == 1


@pytest.mark.parametrize(("name", "value"), [
    ("side", "third"), ("quantity", "tilt"), ("path", "/etc/passwd"), ("achieved", 7), ("note", "x" * 1001),
    ("seat", None),
])  # fmt: skip
def test_what_no_form_would_send_is_refused(form, name, value):
    page = Page(form)
    before = dict(form._values)
    page.say("set", name, value)
    assert page.fault
    assert form._values == before


def test_the_aim_follows_quantity_and_side_until_one_sets_it(form):
    page = Page(form)
    aims = {}
    for quantity in ("meridian", "tunnel_length", "exit_angle"):
        page.say("set", "quantity", quantity)
        for side in ("first", "second"):
            page.say("set", "side", side)
            aims[quantity, side] = page.last()[0]["values"]["aim"]
    assert (aims["meridian", "first"], aims["meridian", "second"]) == ("0", "180")
    assert aims["tunnel_length", "first"] == aims["tunnel_length", "second"] == "2"
    assert aims["exit_angle", "first"] == ""  # the usual plan has none
    form.set(quantity="meridian", side="second", aim="185")
    form.set(side="first", achieved="3")
    form.set(side="second")
    assert form._values["aim"] == "185"
    assert form._values["achieved"] == "3"


def test_names_are_text_and_nothing_else(form):
    form.set(achieved="6", attempt="<img src=x onerror=alert(1)>", rater="=HYPERLINK(1)", note="../../x")
    form.add()
    assert "<img" not in form._board._now["regions"]["rows"]
    assert html.escape("<img src=x") in form._board._now["regions"]["rows"]
    assert [path.name for path in form.path.parent.iterdir()] == ["mine.csv"]
    assert read_log(form.path).rows[0].rater == "=HYPERLINK(1)"
    assert b"'=HYPERLINK" in form.path.read_bytes()


def test_every_field_has_words_and_the_page_can_be_left_to_the_keyboard(form):
    parts = layout(form)
    assert {
        "quantity",
        "aim",
        "achieved",
        "side",
        "way",
        "hand",
        "seat",
        "attempt",
        "rater",
        "when",
        "note",
        "add",
    } <= (set(parts))
    assert all(part["words"] for part in parts.values() if part["kind"] in ("menu", "field", "button"))


def test_a_log_that_is_there_goes_on(tmp_path):
    path = tmp_path / "mine.csv"
    path.write_bytes((DEMO / "practice-log.csv").read_bytes())
    before = path.read_bytes()
    form = log_panel(path)
    assert "135 rows" in repr(form)
    assert "How hands miss their aim" in repr(form.picture())
    form.set(quantity="tunnel_length", achieved="2.2")
    form.add()
    assert path.read_bytes().startswith(before)
    assert len(read_log(path).rows) == 136


def test_a_file_that_is_no_log_is_left_alone(tmp_path):
    path = tmp_path / "notes.csv"
    path.write_text("dear diary\n" * 5)
    with pytest.raises(LearnerError, match="Is it the right file"):
        log_panel(path)
    assert path.read_text() == "dear diary\n" * 5


def test_a_folder_that_is_not_there_is_said(tmp_path):
    form = log_panel(tmp_path / "nowhere" / "mine.csv")
    form.set(achieved="6")
    with pytest.raises(LearnerError, match="Nothing can be added"):
        form.add()
    assert form._values["achieved"] == "6"


def test_rows_are_added_together_and_said_in_words(tmp_path):
    rows = practice.demonstration().rows[:6]
    practice.add(tmp_path / "mine.csv", *rows)
    assert read_log(tmp_path / "mine.csv").rows == rows
    said = practice.misses(rows)
    assert said.splitlines()[0].startswith("first haptic: iris angle -5.3 deg, mark's meridian +1.8 deg")
    assert said.splitlines()[1].startswith("second haptic: iris angle +6.2 deg")


# ---------------------------------------------------------------- pictures of the lesson


def test_a_photograph_shows_its_points_before_and_after_it_is_measured():
    bare = photo_panel.photo_panel().picture()
    assert "Points on a photograph: none" in repr(bare)
    few = photo_panel.photo_panel()
    few.put("limbus", (695, 350), (650, 231))
    assert few.picture().svg.count("<circle") == bare.svg.count("<circle") + 2
    deep = photo_panel.demonstration_section().found.depth
    assert deep.low < 2.7 < deep.high < deep.low + 0.3  # the eye is painted with that depth
    known = photo_panel.demonstration_photo(camera_from=300, depth=2.7, depth_spread=0.05)
    assert repr(known.found) == repr(known.picture())
    assert "Not measured yet" not in known.picture().svg
    assert known.points.of.keys() == read_points(DEMO / "eye-in-front.csv").of.keys()
    narrow, wide = known.found.decentration, photo_panel.demonstration_photo().found.decentration
    assert 2.0 * (narrow.high - narrow.low) < wide.high - wide.low
    assert narrow.low < 0.515 < narrow.high  # and with this decentration


def test_doubt_chart_says_what_ten_attempts_tell():
    # chi-square factors as in test_course_log
    said = repr(doubt_chart(4.0, 10))
    assert "between 2.8 and 7.3 deg" in said
    assert "after 40 between 3.3 and 5.1" in said
    for wrong in ({"spread": 0.0}, {"spread": "much"}, {"attempts": 2}, {"attempts": 500}, {"attempts": 7.5},
                  {"attempts": True}, {"most": 5}):  # fmt: skip
        with pytest.raises(LearnerError):
            doubt_chart(**wrong)
