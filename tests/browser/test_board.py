"""The board's scripts, each alone in a browser and all of them under a linter; and how they become one text."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from eyesim.panel.board.board import Page
from eyesim.panel.board.scripts import join_modules

HERE = Path(__file__).resolve().parent
SCRIPTS = HERE.parents[1] / "eyesim" / "panel" / "board"
ESLINT = "eslint@9.39.5"
ADDRESS = "http://localhost/"
NAMES = [
    (path.name, name)
    for path in sorted((HERE / "board").glob("*.test.js"))
    for name in re.findall(r'^test\("([^"]+)"', path.read_text(encoding="utf-8"), re.MULTILINE)
]


@pytest.fixture(scope="module")
def page():
    host = pytest.importorskip("host", reason="playwright is missing")
    if host.CHROMIUM is None:
        pytest.skip("no Chromium on this machine (apt install chromium)")

    def answer(route):
        path = route.request.url.removeprefix(ADDRESS)
        if not path:
            return route.fulfill(body="<!doctype html><body></body>", content_type="text/html")
        folder, _, name = path.partition("/")
        place = {"scripts": SCRIPTS, "tests": HERE / "board"}[folder] / name
        return route.fulfill(body=place.read_text(encoding="utf-8"), content_type="text/javascript")

    with host.chromium() as browser:
        one = browser.new_page()
        one.route(f"{ADDRESS}**", answer)
        one.goto(ADDRESS)
        yield one


@pytest.mark.parametrize(("file", "name"), NAMES, ids=[f"{file[:-8]}: {name}" for file, name in NAMES])
def test_script(page, file, name):
    page.evaluate(
        """async ([file, name]) => {
          await import(`/tests/${file}`);
          await (await import("/tests/check.js")).run(name); }""",
        [file, name],
    )


def test_the_joined_text_is_one_module_that_shows_a_board(page):
    found = page.evaluate(
        """async (text) => {
          const place = URL.createObjectURL(new Blob([text], {type: "text/javascript"}));
          const {default: {render}} = await import(place), sent = [];
          const content = {kind: "region", name: "readout", look: ""};
          const model = {get: () => ({name: "Test", content, file: "test"}), on: () => {}, off: () => {},
            send: (message) => sent.push(message.kind)};
          const close = render({model, el: document.body});
          const boards = document.querySelectorAll(".eyesim-board .eyesim-readout").length;
          close();
          return [sent, boards]; }""",
        str(Page._esm),
    )
    assert found == [["hello"], 1]


def test_the_joined_text_holds_every_script_once_and_imports_nothing():
    for path in SCRIPTS.glob("*.js"):
        first = path.read_text(encoding="utf-8").splitlines()[0]
        assert str(Page._esm).count(first) == 1, path.name
    assert not re.search(r"^\s*import\b", str(Page._esm), re.MULTILINE)


def test_modules_are_joined_after_those_they_need():
    sources = {
        "a": 'import { b, c } from "./b.js";\nimport { d } from "./d.js";\nexport default { b, c, d };\n',
        "b": 'import { d } from "./d.js";\nexport const b = d;\nexport async function c() {}\n',
        "d": "export class d {}\n",
        "unused": "export const e = 1;\n",
    }
    joined = "class d {}\n\nconst b = d;\nasync function c() {}\n\nexport default { b, c, d };\n"
    assert join_modules(sources, "a") == joined


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('import { b } from "./c.js";\n', "imports c, which is not there"),
        ('import { c } from "./b.js";\n', "imports c, which b does not export"),
        ('import { b } from "./circle.js";\n', "a imports circle imports a"),
        ('import * as b from "./b.js";\n', "cannot be joined: import"),
        ('import { b as c } from "./b.js";\n', "cannot be joined: import"),
        ('import { b } from "https://example.org/b.js";\n', "cannot be joined: import"),
        ("const a = 1;\nexport { a };\n", "cannot be joined: export"),
    ],
)
def test_what_cannot_be_joined_is_said(text, says):
    sources = {"a": text, "b": "export const b = 1;\n", "circle": 'import { a } from "./a.js";\nexport const b = 1;\n'}
    sources["a"] += "export const a = 1;\n" if "circle" in text else ""
    with pytest.raises(ValueError, match=re.escape(says)):
        join_modules(sources, "a")


@pytest.fixture(scope="module")
def eslint(tmp_path_factory):
    """Script of the linter, from the npm registry."""
    folder = tmp_path_factory.mktemp("eslint")
    command = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder), ESLINT]
    if not shutil.which("npm"):
        pytest.skip("npm is not on this machine")
    try:
        installed = subprocess.run(command, capture_output=True, text=True, timeout=180)
    except subprocess.TimeoutExpired:
        pytest.skip("the npm registry has no answer")
    if installed.returncode:
        pytest.skip(f"the npm registry has no answer: {installed.stderr[-200:]}")
    return folder / "node_modules" / "eslint" / "bin" / "eslint.js"


def test_a_linter_has_nothing_to_say(eslint):
    config = ["--config", str(HERE / "eslint.config.mjs"), "--max-warnings", "0"]
    command = ["node", str(eslint), *config, "eyesim/panel/board", "tests/browser/board"]
    ran = subprocess.run(command, cwd=HERE.parents[1], capture_output=True, text=True, timeout=120)
    assert ran.returncode == 0, ran.stdout + ran.stderr
