"""The command line: what it says, and what it keeps."""

from __future__ import annotations

import contextlib
import csv
import io
import re
import shutil
import subprocess
import sys
from html import unescape

import pytest

import eyesim as es
from eyesim.__main__ import main
from eyesim.page import report


def said(capsys, *argv):
    """Run the command line in this process; return exit code and what went to stdout and stderr."""
    try:
        code = main(list(argv))
    except SystemExit as stop:
        code = stop.code
    out, err = capsys.readouterr()
    return code, out, err


def test_without_arguments_it_says_what_it_can_do():
    ran = subprocess.run([sys.executable, "-m", "eyesim"], capture_output=True, text=True)
    assert ran.returncode == 0
    assert ran.stderr == ""
    assert 8 <= len(ran.stdout.splitlines()) <= 19
    for command in (
        "practice",
        "measure",
        "open",
        "live",
        "operate",
        "assign",
        "answer",
        "mark",
        "card",
        "warm",
        "--help",
    ):
        assert command in ran.stdout
    assert es.CAUTION in ran.stdout


def test_version(capsys):
    assert said(capsys, "--version") == (0, f"eyesim {es.__version__}\n", "")


@pytest.mark.parametrize("command", [[], ["open"], ["live"], ["operate"], ["warm"]])
def test_help_is_given_for_every_command(capsys, command):
    code, out, err = said(capsys, *command, "--help")
    assert (code, err) == (0, "")
    assert "usage" in out


@pytest.mark.parametrize("argv", [["opne"], ["open", "--port", "no"], ["open", "--port", "70000"], ["operate", "--x"]])
def test_what_is_mistyped_is_answered_without_a_traceback(capsys, argv):
    code, out, err = said(capsys, *argv)
    assert (code, out) == (2, "")
    assert "Traceback" not in err
    assert argv[-1] in err


def test_a_folder_that_cannot_be_used_is_refused_in_plain_words(tmp_path, capsys):
    (tmp_path / "file").write_text("in the way")
    code, out, err = said(capsys, "open", "--folder", str(tmp_path / "file"), "--no-browser")
    assert (code, out) == (2, "")
    assert "--folder" in err
    assert "Traceback" not in err
    assert (tmp_path / "file").read_text() == "in the way"


PLAN = """
title = "A small plan"
n = 300
[first]
meridian = 0
[second]
meridian = 185
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "small.toml"
    path.write_text(PLAN)
    return path


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Return a folder that a plan was operated in, once, where its results are by default, and what was printed."""
    home = tmp_path_factory.mktemp("home")
    (home / "small.toml").write_text(PLAN)
    with contextlib.chdir(home), contextlib.redirect_stdout(io.StringIO()) as printed:
        assert main(["operate", "small.toml"]) == 0
    return home / "my-workbook" / "operated-small", printed.getvalue()


def test_a_plan_is_operated_and_kept_in_the_learners_folder_by_default(kept):
    out, printed = kept
    assert "A small plan" in printed
    assert "95 % intervals" in printed
    assert es.CAUTION in printed
    assert sorted(path.name for path in out.iterdir()) == sorted(report.FILES)
    rows = list(csv.DictReader((out / "outcomes.csv").read_text().splitlines()))
    assert len(rows) == 300
    share = sum(row["settled"] == "True" for row in rows) / 300
    assert f"Settled: {100 * share:.1f} %" in printed
    again = es.operate(es.Eye(), es.Lens(), es.Fixation(), es.Fixation(meridian=185), es.Hands(), n=300, rng=1)
    assert [float(row["x"]) for row in rows[:20]] == pytest.approx(again.pose.x[:20], rel=1e-5)
    assert [float(row["M"] or "nan") for row in rows] == pytest.approx(again.sight.M, rel=1e-4, nan_ok=True)
    near = sum(abs(float(row["surprise"] or "inf")) <= 0.5 for row in rows) / 300
    assert f"Within 0.5 D of it, of all operations: {100 * near:.1f} %" in printed
    page = (out / "report.html").read_text()
    assert es.CAUTION in page
    assert "refraction surprise mean" in page
    assert page.count("<figure") == 6
    assert 'src="http' not in page
    assert (out / "plan.toml").read_text() == PLAN
    for name in ("plan-front.svg", "plan-side.svg"):
        assert "<text" in (out / name).read_text()


def test_a_title_or_a_pair_with_a_comma_is_no_decimal(tmp_path, capsys):
    path = tmp_path / "half.toml"
    path.write_text('title = "1,5"\npupil = 30\n[hands.iris_angle]\nspread = [4,5]\n[first]\n[second]\n')
    _, _, err = said(capsys, "operate", str(path), "--out", str(tmp_path / "out"))
    assert "0.2 to 8 mm" in err
    assert "decimal" not in err


def operated(tmp_path, capsys, text):
    """Text printed and page kept of a plan."""
    path = tmp_path / "one.toml"
    path.write_text(text)
    code, printed, _ = said(capsys, "operate", str(path), "--out", str(tmp_path / "out"), "--force")
    assert code == 0
    return printed, (tmp_path / "out" / "report.html").read_text()


@pytest.mark.slow
def test_the_headline_is_two_sentences_and_says_what_is_left_out(tmp_path, capsys):
    end = "[first]\n[second]\n"
    printed, page = operated(tmp_path, capsys, f'n = 200\npopulation = "published"\n{end}')
    for text in (printed, page):
        assert re.search(r"Of 200 operations \d+ % \(95 % interval \d+ to \d+ %\) end within 0.4 mm", text)
        assert re.search(
            r"\. In \d+ % \([^)]*\) the place of the lens shifts the refraction by no more than 0.5 D\.", text
        )
        assert "no error of biometry, of the power formula or of the lens" in text
        assert "horizontal corneal diameter 11.8 mm (SD 0.42)" in text
        assert not re.search(r"[a-z]_[a-z]", text.partition("Kept in")[0])  # no name of a field
    assert "Only what hands do" in printed
    printed, _ = operated(tmp_path, capsys, f'n = 200\npopulation = "published"\ntarget = 0\npower = "given"\n{end}')
    assert re.search(r"In \d+ % \([^)]*\) the refraction ends within 0.5 D of 0.00 D\.", printed)
    assert "Only what hands do" not in printed
    assert "what the lens as given leaves" in printed


@pytest.mark.slow
def test_captions_do_not_repeat_the_numbers_and_charts_are_as_large_as_drawn(tmp_path, capsys):
    _, page = operated(tmp_path, capsys, "n = 100\n[first]\n[second]\n")
    captions = re.findall(r"<figcaption>(.*?)</figcaption>", page)
    assert len(captions) == 4
    assert not any(character.isdigit() for character in unescape("".join(captions)))
    widths = [int(width) for width in re.findall(r'<img [^>]* width="(\d+)"', page)]
    assert len(widths) == 4
    assert all(500 <= width <= 960 for width in widths)  # letters of 13 pixels on a page of 960
    assert all(len(words) > 100 for words in re.findall(r' alt="([^"]*)"', page))


@pytest.mark.slow
def test_one_operation_and_none_that_settles_are_reported(tmp_path, capsys):
    printed, page = operated(tmp_path, capsys, "n = 1\n[first]\n[second]\n")
    assert "Of 1 operation " in printed
    assert "Operated once, one right eye: horizontal corneal diameter 11.8 mm" in printed
    assert "SD" not in printed
    assert "SD" not in re.sub(r"base64,[^\"]*", "", page)
    none = "n = 20\n[first]\noutside = 5.5\n[second]\noutside = 5.5\n[hands]\nstart = 'perfect'\n"
    printed, page = operated(tmp_path, capsys, none)
    assert "Of 20 operations none settled." in printed
    assert "cylinder from" not in printed
    assert "<figure" not in page
    assert not (tmp_path / "out" / "cloud.png").exists()


def test_earlier_results_are_not_overwritten_unless_asked(plan, tmp_path, capsys):
    out = tmp_path / "results"
    out.mkdir()
    (out / "outcomes.csv").write_text("mine")
    code, printed, err = said(capsys, "operate", str(plan), "--out", str(out))
    assert (code, printed) == (2, "")
    assert "--force" in err
    assert [path.name for path in out.iterdir()] == ["outcomes.csv"]
    assert (out / "outcomes.csv").read_text() == "mine"


@pytest.mark.slow
def test_earlier_results_are_replaced_and_a_plan_that_does_not_settle_leaves_no_picture(kept, plan, tmp_path, capsys):
    out = tmp_path / "results"
    shutil.copytree(kept[0], out)
    assert (out / "plan-front.svg").exists()
    assert (out / "refraction.png").exists()
    (out / "outcomes.csv").write_text("mine")
    plan.write_text(PLAN.replace("meridian = 185", "meridian = 185\noutside = 3.5"))
    code, printed, _ = said(capsys, "operate", str(plan), "--out", str(out), "--force")
    assert code == 0
    assert (out / "outcomes.csv").read_text() != "mine"
    assert "Not settled" in printed
    assert "There is no refraction surprise: the plan itself does not settle" in printed
    assert not (out / "plan-front.svg").exists()
    assert not (out / "refraction.png").exists()
    assert (out / "cloud.png").exists()


@pytest.mark.slow
def test_the_demonstration_plan_can_be_operated(tmp_path, capsys):
    code, printed, _ = said(capsys, "operate", "--out", str(tmp_path / "out"))
    assert code == 0
    assert "10000 operations" in printed


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[first]\nmeridian = \n", "line 2"),
        ('title = "half', "half.toml"),
        ("[first\nmeridian = 1", "line 1"),
        ("[fisrt]\nmeridian = 0\n", "first"),
        ("[first]\nmeridiam = 0\n", "meridian"),
        ("[first]\niris_angle = 200\n", "89"),
        ("[first]\niris_angle = nan\n", "iris_angle"),
        ('[first]\niris_angle = "steep"\n', "iris_angle"),
        ("[lens]\nhaptic_length = 8000\n", "haptic_length"),
        ("[hands.iris_angel]\nspread = 1\n", "iris_angle"),
        ("[hands.iris_angle]\nspraed = 1\n", "spread"),
        ("[hands.iris_angle]\nspread = -1\n", "spread"),
        ("first = 3\n", "first"),
        ("[first]\nlimbus_distance = 0.002\n[second]\n", "metres"),
        ("[first]\nmeridian = 0\n", "cut off"),
        ("n = 0\n[first]\n[second]\n", "n is a whole number"),
        ("n = 1.5\n[first]\n[second]\n", "n is a whole number"),
        ('rng = "lucky"\n[first]\n[second]\n', "rng"),
        ('draws = "dice"\n[first]\n[second]\n', "sobol"),
        ("pupil = 30\n[first]\n[second]\n", "diameter of the beam at the cornea) takes a number from 0.2 to 8 mm"),
        ("pupil = [3, 4]\n[first]\n[second]\n", "pupil is one number"),
        ("pupil = true\n[first]\n[second]\n", "pupil"),
        ('target = "sharp"\n[first]\n[second]\n', "refraction that is meant"),
        ("target = -50\n[first]\n[second]\n", "-12 to 12 D"),
        ("target = nan\n[first]\n[second]\n", "finite"),
        ('population = "nowhere.csv"\n', "nowhere.csv"),
        ("[lens]\npower = 19,5\n", "Line 2: a decimal is written with a point, 19.5."),
        ("pupil = -3,25 # mm\n", "Line 1: a decimal is written with a point, -3.25."),
        ('[first]\niris_angle = "5,5"\n[second]\n', "Line 2: a decimal is written with a point, 5.5."),
        ("[hands.iris_angle]\nspread = [4,5, 5]\n[first]\n[second]\n", "a pair [first side, second side]; 3 numbers"),
    ],
)
def test_a_plan_that_cannot_be_is_answered_in_plain_words(tmp_path, capsys, text, told):
    path = tmp_path / "half.toml"
    path.write_text(text)
    code, printed, err = said(capsys, "operate", str(path), "--out", str(tmp_path / "out"))
    assert (code, printed) == (2, "")
    assert told in err
    assert "Traceback" not in err
    assert len(err) < 500


def test_files_that_are_no_plan(tmp_path, capsys):
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\xff\x00")
    for path in (tmp_path / "missing.toml", tmp_path / "picture.toml", tmp_path):
        code, printed, err = said(capsys, "operate", str(path), "--out", str(tmp_path / "out"))
        assert (code, printed) == (2, "")
        assert path.name in err
        assert "Traceback" not in err


def test_results_that_cannot_be_kept_are_refused_before_the_work(plan, tmp_path, capsys, monkeypatch):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(report, "report_on", lambda *_: pytest.fail("worked in vain"))
    code, printed, err = said(capsys, "operate", str(plan), "--out", str(tmp_path / "file" / "deeper"))
    assert (code, printed) == (2, "")
    assert "--out" in err


def test_ctrl_c_ends_it_without_a_traceback(plan, tmp_path, capsys, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(report, "report_on", interrupted)
    code, _, err = said(capsys, "operate", str(plan), "--out", str(tmp_path / "out"))
    assert code == 130
    assert "stopped" in err
