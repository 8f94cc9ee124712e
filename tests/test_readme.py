"""What README and DEVELOPERS say is true: commands, examples, files."""

from __future__ import annotations

import contextlib
import io
import os
import re
import tomllib
from pathlib import Path

import pytest

import eyesim as es
from eyesim.__main__ import main

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
PAPERS = pytest.mark.parametrize("paper", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
OPEN = "python3 -m venv .venv && .venv/bin/pip install -e . && .venv/bin/python -m eyesim open"
TEST = 'python3 -m venv .venv && .venv/bin/pip install -e ".[test]" && .venv/bin/pytest'


def blocks(paper, language):
    return re.findall(rf"^ *```{language}\n(.*?)^ *```", paper, re.MULTILINE | re.DOTALL)


def test_two_commands_are_all_a_fresh_machine_needs():
    assert blocks(README, "sh")[:2] == [f"{OPEN}\n", f"{TEST}\n"]


def test_ci_runs_the_readmes_own_command_last():
    lines = (ROOT / ".ci" / "run").read_text().splitlines()
    assert "set -euo pipefail" in lines
    assert lines[-1] == TEST
    assert os.access(ROOT / ".ci" / "run", os.X_OK)


@PAPERS
def test_commands_are_known(paper):
    lines = [line for block in blocks(paper, "sh") for line in block.splitlines()]
    commands = [re.findall(r"-m eyesim ?(\w*)", line) for line in lines]
    for command in {name for found in commands for name in found if name}:
        with pytest.raises(SystemExit) as stop, contextlib.redirect_stdout(io.StringIO()):
            main([command, "--help"])
        assert stop.value.code == 0


@PAPERS
def test_examples_run_and_print_what_is_printed_there(paper):
    for example, printed in re.findall(r"```python\n(.*?)```\n(?:\n```text\n(.*?)```)?", paper, re.DOTALL):
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(compile(example, "example", "exec"), {})
        assert out.getvalue() == printed


@PAPERS
def test_links_lead_somewhere(paper):
    for target in re.findall(r"\]\(([^)#:]+)\)", paper):
        assert (ROOT / target.replace("%20", " ")).exists(), target


def test_the_picture_has_words():
    pictures = re.findall(r"!\[(.*?)\]", README)
    assert len(pictures) == 1
    assert len(pictures[0]) > 40


def test_lessons_that_the_readme_names_are_there():
    lessons = {path.stem for path in (ROOT / "notebooks").glob("*.ipynb")}
    named = set(re.findall(r"\*([A-Z][^*]+)\*", " ".join(README.split())))
    assert lessons <= named


def test_one_version():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["version"] == es.__version__


def test_the_hosted_start_has_a_python_and_installs_the_project():
    assert (ROOT / "binder" / "runtime.txt").read_text() == "python-3.11\n"
    assert (ROOT / "binder" / "requirements.txt").read_text() == "-e .\n"
    assert os.access(ROOT / "binder" / "postBuild", os.X_OK)


def test_the_glossary_names_every_field_of_a_fixation():
    words = DEVELOPERS.split("## Glossary")[1]
    for field in (
        "meridian",
        "limbus_distance",
        "limbus_angle",
        "iris_angle",
        "tunnel_length",
        "outside",
        "exit_angle",
    ):
        assert field in es.Fixation.__dataclass_fields__
        assert field.replace("_", " ") in words
