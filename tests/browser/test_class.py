"""A class, as its three kinds of people: a director assigns, residents answer in JupyterLab, the director marks."""

from __future__ import annotations

import csv
import io
import urllib.parse

import pytest

from eyesim.__main__ import main
from eyesim.eye.sources import data_folder
from eyesim.marking.assignment import read_assignment
from eyesim.page import hand_out
from eyesim.panel.answer import fields

host = pytest.importorskip("host", reason="playwright is missing")
from drive import READY, RUN  # noqa: E402

pytestmark = pytest.mark.skipif(host.CHROMIUM is None, reason="no Chromium on this machine (apt install chromium)")

PATH = data_folder() / "demo" / "assignment.toml"
HOUR = read_assignment(PATH)


@pytest.fixture(scope="module")
def browser():
    with host.chromium() as one:
        yield one


def opened(browser, address, who):
    """Open somebody's notebook and run it."""
    page = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True).new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    parts = urllib.parse.urlsplit(address)
    path = f"/lab/tree/{who}/{urllib.parse.quote(hand_out.NOTEBOOK)}"
    page.goto(parts._replace(path=path, query=f"{parts.query}&reset").geturl(), wait_until="domcontentloaded")
    page.wait_for_function("window.jupyterapp", timeout=90_000)
    assert page.evaluate(READY)
    page.wait_for_selector(".jp-Notebook .jp-MarkdownOutput h1", timeout=30_000)
    assert page.evaluate(RUN)
    page.wait_for_function(
        f"document.querySelectorAll('.eyesim-board').length === {len(HOUR.entries) + 1}", timeout=60_000
    )
    return page


def board(page, number):
    one = page.locator(".eyesim-board").nth(number)
    one.scroll_into_view_if_needed()
    return one


def saved(page, number):
    page.wait_for_function(
        """n => { const b = document.querySelectorAll('.eyesim-board')[n];
                  return b.dataset.asked === b.dataset.settled && b.innerText.includes('Saved.'); }""",
        arg=number, timeout=20_000,
    )  # fmt: skip


def answer(page, who, number, *, keyboard, wrong=None):
    """Answer one question, by mouse or by keyboard alone; rightly unless a wrong answer is named."""
    entry = HOUR.entries[number]
    question, one = HOUR.question(entry, who), board(page, number)
    if question is None:
        one.locator("textarea").click()
        page.keyboard.type("Along the line of the openings.")
    else:
        given = question.reference.answer if wrong is None else question.wrong[wrong]
        _give(page, one, question, given, keyboard)
        saved(page, number)
        sure = one.get_by_label("certain")
        if keyboard:
            sure.focus()
            page.keyboard.press("Space")
        else:
            sure.click()
    saved(page, number)


def _give(page, one, question, given, keyboard):
    if question.form.kind == "choice":
        keys = [choice.key for choice in question.form.choices]
        radio = (
            one.locator("fieldset")
            .first.locator("input[type=radio]")
            .nth("abcd".index(given) if given in "abcd" else keys.index(given))
        )
        if keyboard:
            radio.focus()
            page.keyboard.press("Space")
        else:
            radio.click()
    elif isinstance(given, str):
        one.get_by_label("This cannot be cured this way").click()
    else:
        texts = _texts(question, given)
        for field, text in texts.items():
            place = one.get_by_label(field, exact=True)
            place.focus() if keyboard else place.click()
            page.keyboard.press("Control+A")
            page.keyboard.type(text)


def _texts(question, given):
    """Say what is typed into each field, with a decimal comma."""
    if not isinstance(given, dict):
        unit = question.form.unit
        return {f"Your answer [{unit}]": f"{given:.4f}".replace(".", ",")}
    found = {}
    for path, words in fields(question).items():
        value = given
        for step in path.split("__"):
            value = value[step]
        found[words] = f"{value:g}".replace(".", ",")
    return found


def hand_in(page):
    """Press the button; return the file."""
    with page.expect_download(timeout=30_000) as waited:
        board(page, len(HOUR.entries)).get_by_role("button", name="Make the hand-in file").click()
    return waited.value


def test_from_the_assignment_to_the_gradebook(browser, tmp_path):
    roster, out, box, marks = (tmp_path / name for name in ("roster.csv", "mine", "box", "marks"))
    roster.write_text("id;name\nr-1;Ada\nr-2;Bo\n")
    assert main(["assign", str(PATH), str(roster), str(out)]) == 0
    box.mkdir()
    with host.served("open", "--folder", str(out)) as lab:
        page = opened(browser, lab.address, "r-1")
        for number in range(4):
            answer(page, "r-1", number, keyboard=False)
        assert page.faults == []
        page.context.close()  # in the middle of it; and on another day
        page = opened(browser, lab.address, "r-1")
        board(page, 10).get_by_text("4 of 10 questions answered").wait_for(timeout=20_000)
        for number in range(4, 10):
            answer(page, "r-1", number, keyboard=False)
        hand_in(page).save_as(box / "from ada.json")
        assert page.faults == []
        page.context.close()

        page = opened(browser, lab.address, "r-2")
        for number in range(10):
            answer(page, "r-2", number, keyboard=True, wrong={3: "mark-alone", 8: "nothing"}.get(number))
        assert "Right." not in board(page, 0).text_content()
        hand_in(page).save_as(box / "r-2.json")
        told = "document.querySelector('.eyesim-board .eyesim-feedback').textContent.includes('Right.')"
        page.wait_for_function(told, timeout=20_000)
        assert page.faults == []
        page.context.close()
    assert main(["mark", str(PATH), str(roster), str(box), str(marks)]) == 0
    rows = list(csv.DictReader(io.StringIO((marks / "gradebook.csv").read_text(encoding="utf-8-sig"))))
    follow = HOUR.question(HOUR.entries[3], "r-2")
    share = follow.judge(follow.wrong["mark-alone"]).share
    assert [row["points"] for row in rows] == ["15.0", str(round(11.0 + round(3.0 * share, 2), 4))]
    assert [row["by hand"] for row in rows] == ["tuck", "tuck"]
