"""The tables of facts: what they hold, where they are found, and what a broken one says."""

import contextlib
import csv

import pytest
from bent_needle import needle_deflection
from demo_clinic import invent_clinic
from hypothesis import given, settings
from hypothesis import strategies as st

import eyesim as es
from eyesim.eye import sources
from eyesim.eye.sources import COLUMNS, fact, facts, read_facts
from eyesim.study.population import PUBLISHED

TABLES = ("anatomy", "hands", "needles", "optics", "series")


@pytest.mark.parametrize("table", TABLES)
def test_every_fact_has_a_kind_and_every_measured_one_a_source(table):
    for row in facts(table).values():
        assert row.kind in sources.KINDS
        assert row.unit in ("mm", "deg", "mN", "GPa", "D", "")
        if row.kind == "measured":
            assert row.source
        if row.kind in ("from memory", "assumption"):
            assert row.note or row.source
        if row.low is not None and row.high is not None:
            assert row.low <= row.high
        if row.doi:
            assert row.doi.startswith("10.")
            assert row.source


def test_a_fact_is_found_with_everything_that_belongs_to_it():
    # Global metrics on ocular biometry in ten countries (Eye): white-to-white 11.80, SD 0.42 mm
    row = fact("anatomy", "white_to_white")
    assert (row.value, row.spread, row.unit, row.kind) == (11.80, 0.42, "mm", "measured")
    assert "Global metrics" in row.source
    assert "11.8" in repr(row)


def test_unknown_names_are_answered_with_the_nearest():
    with pytest.raises(es.LearnerError, match="white_to_white"):
        fact("anatomy", "white_to_wite")
    with pytest.raises(es.LearnerError, match="anatomy, hands"):
        fact("anatomi", "x")
    with pytest.raises(es.LearnerError, match="no table"):
        fact("demo_clinic", "axial_length")


def test_defaults_of_hands_follow_from_the_rows_they_name():
    rows = facts("hands")

    def square(name):
        return (rows[name].value ** 2 + rows[name].spread ** 2) ** 0.5

    assert rows["meridian"].spread == pytest.approx(square("mark_single"), abs=0.05)
    assert rows["meridian_shared"].spread == pytest.approx(square("mark_seated"), abs=0.05)
    assert rows["marker"].high == pytest.approx(square("mark_offset"), abs=0.01)
    distance = (rows["caliper"].spread ** 2 + rows["limbus_definition"].spread ** 2) ** 0.5
    assert rows["limbus_distance"].spread == pytest.approx(distance, abs=0.005)
    needle = fact("needles", "30G_outer").value, fact("needles", "30G_bore_thin").value
    bend = needle_deflection(*needle, rows["needle_free_length"].value, rows["side_load"].spread)
    assert rows["needle_bend"].spread == pytest.approx(bend, abs=0.05)
    assert rows["track"].value == needle[0]
    assert rows["wall"].spread == pytest.approx(fact("anatomy", "scleral_thickness").spread / 2**0.5, abs=0.005)


def test_wall_of_the_population_is_the_mean_of_its_two_sides():
    nasal, temporal = (fact("anatomy", f"scleral_thickness_{side}_2mm") for side in ("nasal", "temporal"))
    both = fact("anatomy", "scleral_thickness")
    assert both.value == pytest.approx((nasal.value + temporal.value) / 2, abs=0.005)
    assert both.spread == pytest.approx((nasal.spread + temporal.spread) / 2, abs=0.001)


def test_installed_tables_come_before_those_of_a_checkout(tmp_path, monkeypatch):
    installed = tmp_path / "eyesim" / "_data"
    checkout = tmp_path / "data"
    module = tmp_path / "eyesim" / "eye" / "sources.py"
    monkeypatch.setattr(sources, "__file__", str(module))
    with pytest.raises(es.LearnerError, match="install"):
        sources.data_folder()
    for folder in (checkout, installed):
        folder.mkdir(parents=True)
        (folder / "hands.csv").write_text("x")
        assert sources.data_folder() == folder


HEAD = ",".join(COLUMNS)
GOOD = "a,1,0.1,,,mm,5,measured,A paper,,"


def written(tmp_path, text):
    path = tmp_path / "facts.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_good_table_is_read_with_remarks_and_windows_line_ends(tmp_path):
    text = "\ufeff# a remark, with a comma\r\n\r\n" + HEAD + "\r\n" + GOOD + "\r\n# another\r\n"
    row = read_facts(written(tmp_path, text))["a"]
    assert (row.value, row.spread, row.low, row.n) == (1.0, 0.1, None, 5)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "facts.csv is empty"),
        (b"\xff\xfe\x00", "UTF-8"),
        ("name,value\na,1\n", "line 1: the heading lacks column spread"),
        (HEAD + ",unit\n", "column 'unit' is there twice"),
        (HEAD + "\n" + GOOD + "\na,2", "line 3: 2 cells"),
        (HEAD + "\n" + GOOD + ",,,\n", "line 2: 14 cells"),
        (HEAD + '\n"a,1,0.1', "line 2"),
        (
            HEAD + "\n" + GOOD.replace("0.1", '"0,1"'),
            "line 2, column spread: '0,1' is not a number. Write decimals",
        ),
        (HEAD + "\n" + GOOD.replace("0.1", "nan"), "column spread: 'nan'"),
        (HEAD + "\n" + GOOD.replace("measured", "guessed"), "column kind: 'guessed'"),
        (HEAD + "\n" + GOOD.replace("A paper", ""), "column source: a measured value needs"),
        (HEAD + "\n" + GOOD + "\n" + GOOD, "line 3, column name: 'a' is there twice"),
        (HEAD + "\n" + GOOD[1:], "column name: '' is empty"),
    ],
)
def test_a_broken_table_names_file_line_and_column(tmp_path, text, words):
    with pytest.raises(es.LearnerError) as told:
        read_facts(written(tmp_path, text))
    assert words in str(told.value)
    assert "facts.csv" in str(told.value)


def test_a_missing_table_is_told_without_a_traceback_of_files(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path, tmp_path / "a\0b.csv"):
        with pytest.raises(es.LearnerError, match="cannot be read"):
            read_facts(path)


@settings(max_examples=400, deadline=None)
@given(st.one_of(st.binary(max_size=200), st.text(max_size=120).map(lambda t: (HEAD + "\n" + t).encode())))
def test_no_bytes_make_reading_fail_in_another_way(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "junk.csv"
    path.write_bytes(data)
    for read in (read_facts, es.Population.from_csv):
        with contextlib.suppress(es.LearnerError):
            read(path)


def test_the_invented_clinic_is_what_its_recipe_makes_byte_for_byte():
    assert (sources.data_folder() / "demo_clinic.csv").read_bytes() == invent_clinic().encode()


def test_the_invented_clinic_says_so_and_looks_like_the_population_it_was_made_from():
    path = sources.data_folder() / "demo_clinic.csv"
    assert path.read_text().startswith("# Invented")
    clinic = es.Population.from_csv(path)
    assert "demo_clinic.csv (240 eyes)" in repr(clinic)
    for name in PUBLISHED:
        if name == "scleral_radius":
            continue
        row = fact("anatomy", name)
        mean, spread = clinic.spreads[name]
        assert abs(mean - row.value) < 3.5 * row.spread / 240**0.5
        assert spread == pytest.approx(row.spread, rel=0.16)  # 3.5 standard errors of an SD from 240


def test_series_name_quantity_method_and_axis():
    for row in facts("series").values():
        assert row.more["quantity"] in (
            "tilt", "decentration", "edge height", "refraction surprise", "spherical equivalent",
        )  # fmt: skip
        assert row.more["label"]
        assert row.more["method"]
        assert row.more["axis"]
        assert row.more["weak"] in ("yes", "no")
        if row.kind == "from memory":
            assert row.more["weak"] == "yes"


def test_files_are_plain_csv_without_odd_blanks():
    for path in sources.data_folder().glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            for cells in csv.reader((line for line in file if not line.startswith("#")), strict=True):
                assert all(cell == cell.strip() for cell in cells)
