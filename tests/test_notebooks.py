"""Notebooks are thin, whole and kept: what nbval, which runs every cell again, does not look at."""

from __future__ import annotations

import ast
import re
from html.parser import HTMLParser
from pathlib import Path

import nbformat
import pytest

import eyesim as es

ROOT = Path(__file__).resolve().parent.parent
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))
DOOR = "Start here"
PARTS = ["You will be able to", "What this model leaves out", "On your own", "In practice", "Further reading"]
FORBIDDEN = (
    ast.FunctionDef,
    ast.AsyncFunctionDef,
    ast.ClassDef,
    ast.Lambda,
    ast.For,
    ast.While,
    ast.Try,
    ast.With,
)
FETCHERS = {
    "urllib",
    "requests",
    "httpx",
    "socket",
    "subprocess",
    "os",
    "sys",
    "matplotlib",
    "numpy",
    "pandas",
}

each_lesson = pytest.mark.parametrize("lesson", LESSONS, ids=lambda path: path.stem)


def read(lesson):
    return nbformat.read(lesson, as_version=4)


def code_cells(lesson):
    return [cell for cell in read(lesson).cells if cell.cell_type == "code"]


def words(lesson):
    return "\n".join(cell.source for cell in read(lesson).cells if cell.cell_type == "markdown")


def outputs(lesson):
    return [output for cell in code_cells(lesson) for output in cell.outputs]


def shown_text(output):
    """Yield all that a reader sees of an output as words."""
    if output.output_type == "stream":
        yield output.text
    for kind, content in output.get("data", {}).items():
        if kind in ("text/plain", "text/markdown"):
            yield content
        elif kind == "text/html":
            yield re.sub(r"base64,[A-Za-z0-9+/=]+", "", content)


def test_the_workbook_has_a_door():
    assert DOOR in [lesson.stem for lesson in LESSONS]


@each_lesson
def test_it_is_valid_and_runs_on_any_python3(lesson):
    notebook = read(lesson)
    nbformat.validate(notebook)
    assert notebook.metadata.kernelspec.name == "python3"


@each_lesson
def test_cells_were_run_once_from_top_to_bottom(lesson):
    counts = [cell.execution_count for cell in code_cells(lesson)]
    assert counts == list(range(1, len(counts) + 1))


@each_lesson
def test_cells_are_thin(lesson):
    for cell in code_cells(lesson):
        assert 1 <= len(cell.source.splitlines()) <= 5, cell.source
        assert max(len(line) for line in cell.source.splitlines()) <= 145, "wider than a window"
        assert not re.search(r"^\s*[%!?]", cell.source, re.MULTILINE), cell.source
        assert not cell.source.rstrip().endswith(";"), cell.source
        tree = ast.parse(cell.source)
        held = [type(node).__name__ for node in ast.walk(tree) if isinstance(node, FORBIDDEN)]
        assert not held, f"{held} in: {cell.source}"


@each_lesson
def test_everything_is_imported_once_and_from_the_project(lesson):
    importing = [
        cell.source
        for cell in code_cells(lesson)
        if any(isinstance(node, (ast.Import, ast.ImportFrom)) for node in ast.walk(ast.parse(cell.source)))
    ]
    assert len(importing) == 1
    for node in ast.walk(ast.parse(importing[0])):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module] if isinstance(node, ast.ImportFrom) else []
        assert not {name.split(".")[0] for name in names} & FETCHERS


def hidden_imports(sources):
    """Names that are imported, and given to something else by a later cell."""
    trees = [ast.parse(source) for source in sources]
    nodes = [node for tree in trees for node in ast.walk(tree)]
    aliases = [alias for node in nodes if isinstance(node, (ast.Import, ast.ImportFrom)) for alias in node.names]
    stored = {node.id for node in nodes if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
    return stored & {alias.asname or alias.name.split(".")[0] for alias in aliases}


@each_lesson
def test_no_cell_takes_the_name_of_what_was_imported(lesson):
    assert not hidden_imports(cell.source for cell in code_cells(lesson))


def test_a_hidden_import_would_be_noticed():
    assert hidden_imports(["from eyesim import panel, draw", "panel = panel.marks_panel()\npanel"]) == {"panel"}
    assert hidden_imports(["import eyesim as es", "eyesim = 1"]) == set()


@each_lesson
def test_one_title_and_it_comes_first(lesson):
    cells = read(lesson).cells
    assert cells[0].cell_type == "markdown"
    assert cells[0].source.startswith("# ")
    titles = [line for line in words(lesson).splitlines() if re.match(r"# \S", line)]
    assert len(titles) == 1


@each_lesson
def test_the_caution_is_there_word_for_word(lesson):
    assert es.CAUTION in " ".join(words(lesson).replace(">", " ").split())


@each_lesson
def test_its_parts_stand_in_their_order(lesson):
    if lesson.stem == DOOR:  # it leads to the lessons and is none itself
        assert "What this model leaves out" in words(lesson)
        return
    places = [words(lesson).find(part) for part in PARTS]
    assert -1 not in places, dict(zip(PARTS, places, strict=True))
    assert places == sorted(places)
    assert re.search(r"doi\.org/10\.|DOI", words(lesson)), "Further reading gives a DOI"


HEADING = re.compile(r"(#+) \S")


def unfolded(cells):
    """Yield cells that stand open in a page: a folded heading hides what follows, up to the next of its rank."""
    fold = None
    for cell in cells:
        rank = HEADING.match(cell.source) if cell.cell_type == "markdown" else None
        if rank and (fold is None or len(rank[1]) <= fold):
            fold = len(rank[1]) if cell.metadata.get("jp-MarkdownHeadingCollapsed") else None
            yield cell  # the first line of a folded heading's cell is seen, and its text with it
        elif fold is None:
            yield cell


def inner_headings(cells):
    """Headings that do not begin their cell, where what stands before them would be shown with them."""
    for cell in cells:
        if cell.cell_type == "markdown":
            lines = re.sub(r"```.*?```", "", cell.source, flags=re.DOTALL).splitlines()
            yield from [line for line in lines[1:] if HEADING.match(line)]


@each_lesson
def test_a_heading_begins_its_cell(lesson):
    assert list(inner_headings(read(lesson).cells)) == []


@each_lesson
def test_no_explanation_stands_open_before_the_vote(lesson):
    cells = read(lesson).cells
    if "ask(" not in "".join(cell.source for cell in cells):
        return
    assert not [cell.source for cell in unfolded(cells) if re.search(r"\*Explain\b", cell.source)]


@each_lesson
def test_nothing_stands_open_right_after_a_vote(lesson):
    cells = [cell for cell in read(lesson).cells if "Stop here and vote" not in cell.source]
    for cell, after in zip(cells, cells[1:], strict=False):
        if cell.cell_type == "code" and re.search(r"^ask\(", cell.source, re.MULTILINE):
            assert after.source.startswith(("ask(", "#")), after.source


def test_an_open_explanation_would_be_noticed():
    fold = nbformat.v4.new_markdown_cell("### After your vote", metadata={"jp-MarkdownHeadingCollapsed": True})
    told, heading = (nbformat.v4.new_markdown_cell(words) for words in ("*Explain.* So.", "### Next"))
    both = nbformat.v4.new_markdown_cell("*Explain.* So.\n\n### Next")
    assert list(unfolded([fold, told, heading])) == [fold, heading]
    assert list(unfolded([fold, heading, told])) == [fold, heading, told]
    assert list(inner_headings([fold, both])) == ["### Next"]


@each_lesson
def test_links_between_lessons_lead_somewhere(lesson):
    for target in re.findall(r"\]\(([^)#]+\.ipynb)", words(lesson)):
        assert (lesson.parent / target.replace("%20", " ")).is_file(), target


@each_lesson
def test_outputs_are_kept_and_hold_no_error(lesson):
    assert outputs(lesson), "outputs are the expected values: keep them"
    kinds = {output.output_type for output in outputs(lesson)}
    assert kinds <= {"execute_result", "display_data", "stream"}
    assert "stderr" not in {output.get("name") for output in outputs(lesson)}


@each_lesson
def test_outputs_hold_nothing_that_changes_by_itself(lesson):
    unwanted = {
        "a default repr": r"<[\w.]+ (object )?at 0x|\bat 0x[0-9a-f]{6,}",
        "a place on a machine": r"(?<![\w/.:])/(home|Users|root|tmp|work|opt|usr)/|[A-Z]:\\\\",
        "a time": r"\b\d\d:\d\d:\d\d\b|\b20\d\d-\d\d-\d\d\b",
        "a duration": r"\b\d+(\.\d+)? ?(ms|µs|us per loop)\b",
        "a version": r"\b(?:version|v)\s?\d+\.\d+\.\d+\b",
        "a raw array": r"\barray\(\[",
        "a number that is none": r"\bnan\b|\binf\b",
        "a bare float": r"(?<![\w.#-])-?\d+\.\d{6,}",
    }
    for output in outputs(lesson):
        for text in shown_text(output):
            seen = text if "<svg" not in text else " ".join(Seen.of(text).words)
            for what, pattern in unwanted.items():
                assert not re.search(pattern, seen), f"{what}: {re.search(pattern, seen).group()}"


@each_lesson
def test_every_picture_says_what_it_shows(lesson):
    for output in outputs(lesson):
        data = output.get("data", {})
        for kind in ("image/png", "image/jpeg"):
            assert kind not in data, "JupyterLab gives such pictures no alternative text; show it as HTML"
        for kind in ("text/html", "image/svg+xml"):
            seen = Seen.of(data.get(kind, ""))
            assert all(len(said) >= 20 for said in seen.said), seen.said
        if "image/svg+xml" in data:  # a panel's, where its script does not run: its sentence has to stand beside it
            assert Seen.of(data["image/svg+xml"]).said
            assert len(data["text/plain"]) >= 80


@each_lesson
def test_a_widget_is_not_kept_without_what_it_shows(lesson):
    """The name of a widget's model is another one each time, and without its kernel it shows nothing."""
    for output in outputs(lesson):
        assert "application/vnd.jupyter.widget-view+json" not in output.get("data", {})


@each_lesson
def test_a_tag_for_nbval_has_a_reason_beside_it(lesson):
    for cell in code_cells(lesson):
        tags = cell.metadata.get("tags", [])
        if any(tag.startswith(("nbval-", "raises-")) for tag in tags):
            assert any(tag.startswith("because-") for tag in tags), tags
        assert "NBVAL" not in cell.source


class Seen(HTMLParser):
    """What HTML shows: the words in it, and what each picture says to who cannot see it."""

    def __init__(self):
        super().__init__()
        self.words, self.said = [], []

    @classmethod
    def of(cls, html):
        """Read a piece of HTML."""
        seen = cls()
        seen.feed(html)
        return seen

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "img":
            self.said.append(given.get("alt") or "")
        elif tag == "svg" and given.get("aria-hidden") != "true":
            self.said.append((given.get("role") == "img" and given.get("aria-label")) or "")

    def handle_data(self, data):
        self.words.append(data)


def test_a_picture_without_words_would_be_noticed():
    assert Seen.of('<svg role="img"><path d="M0 0"/></svg><img src="x.png">').said == ["", ""]
    assert Seen.of('<img alt="The lens lies 0.5 mm off centre." src="x">').said == ["The lens lies 0.5 mm off centre."]
