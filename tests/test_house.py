"""The house: rooms import only from rooms before them, doors open fast, and nothing stands about outside."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import eyesim as es

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "eyesim"
MAY = {
    "eye": "",
    "hold": "eye",
    "sight": "eye hold",
    "study": "eye hold sight",
    "text": "eye hold",
    "practice": "eye hold study text",
    "photo": "eye hold study text practice",
    "lesson": "eye hold sight study text practice photo",
    "live": "eye hold sight study lesson",
    "marking": "eye study text lesson",
    "machine": "eye hold sight text",
    "draw": "eye hold sight text photo",
    "chart": "eye hold sight study practice draw",
    "page": "eye hold sight study text practice photo lesson marking machine draw chart",
    "panel": "eye hold sight study text practice photo lesson live marking machine draw chart page",
}
"""Rooms in the order of the story, and the rooms that each may import from."""
ROOMS = list(MAY)
MODULES = sorted(PACKAGE.rglob("*.py"))
PICTURES = {"matplotlib", "ipywidgets", "anywidget"}
HEAVY = {"matplotlib", "ipywidgets", "anywidget", "IPython", "pandas", "scipy", "numba", "tqdm"}


def name_of(path):
    return str(path.relative_to(ROOT))


def room_of(path):
    parts = path.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else ""


def dotted(path):
    """Name of a module, such as "eyesim.hold.rod"; a folder's own for its `__init__`."""
    parts = ["eyesim", *path.relative_to(PACKAGE).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def heads(full):
    """Give the name itself, and the module that it may have been taken from."""
    return full, full.rpartition(".")[0]


def imports_of(path):
    """Full dotted names of all that a module imports, also inside its functions."""
    package = ["eyesim", *path.relative_to(PACKAGE).parts[:-1]]
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            yield from (f"{base}.{alias.name}" for alias in node.names)


def rooms_entered(path):
    """Rooms that a module imports from; "" is the front door, `import eyesim` itself."""
    for full in imports_of(path):
        if full.split(".")[0] == "eyesim":
            inside = full.split(".")[1:]
            yield inside[0] if inside and inside[0] in ROOMS else ""


def test_there_is_no_room_that_the_story_does_not_know():
    found = {path.name for path in PACKAGE.iterdir() if path.is_dir() and path.name != "__pycache__"}
    assert found <= set(ROOMS)


def test_a_room_imports_only_from_rooms_it_may():
    wrong = [
        f"{name_of(path)} imports from {room or 'eyesim itself'}"
        for path in MODULES
        if room_of(path)
        for room in rooms_entered(path)
        if room != room_of(path) and room not in MAY[room_of(path)].split()
    ]
    assert not wrong


def test_the_rule_runs_one_way():
    for i, room in enumerate(ROOMS):
        assert set(MAY[room].split()) <= set(ROOMS[:i])


def test_no_module_imports_itself_by_way_of_others():
    known = {dotted(path): path for path in MODULES}
    below = {name: {part for full in imports_of(path) for part in heads(full) if part in known} - {name}
             for name, path in known.items()}  # fmt: skip
    doors = {dotted(path) for path in MODULES if path.stem == "__init__"}
    graph = {name: found - doors for name, found in below.items() if name not in doors}
    ready = list(TopologicalSorter(graph).static_order())  # raises CycleError, which names the circle
    assert len(ready) == len(graph)


def test_only_the_front_door_opens_all_rooms():
    assert not {"chart", "draw", "machine", "page", "panel"} & set(rooms_entered(PACKAGE / "__init__.py"))


@pytest.mark.parametrize("path", [p for p in MODULES if room_of(p) in ROOMS[: ROOMS.index("draw")]], ids=name_of)
def test_nothing_is_drawn_before_the_drawing_room(path):
    drawn = {full.split(".")[0] for full in imports_of(path)} & PICTURES
    assert not drawn


@pytest.mark.parametrize("path", [p for p in MODULES if p.stem in ("rod", "surface", "rays", "kernels")], ids=name_of)
def test_rods_and_rays_know_no_anatomy(path):
    assert not [full for full in imports_of(path) if full.startswith("eyesim.eye.") and ".checks" not in full]


def test_import_is_fast_and_light():
    code = (
        "import sys, time; start = time.perf_counter(); import eyesim; took = time.perf_counter() - start; "
        "import json; print(json.dumps([took, sorted({m.split('.')[0] for m in sys.modules})]))"
    )
    runs = [
        json.loads(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)
        for _ in range(5)
    ]
    assert not HEAVY & set(runs[0][1])
    assert min(took for took, _ in runs) < 0.5


def test_top_level_listing():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "notebooks",
        "eyesim",
        "tests",
        "data",
        "binder",
    }
    made = {
        "build",
        "dist",
        "my-workbook",
        "__pycache__",
        "eyesim.egg-info",
    }  # by tools and learners, ignored by git
    listed = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - made
    assert listed == allowed


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_module_is_a_chapter(path):
    assert len(path.read_text().splitlines()) <= 400, "which two ideas does it hold?"


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_what_is_public_has_a_docstring(path):
    tree = ast.parse(path.read_text())
    assert ast.get_docstring(tree), "the module has none"
    open_nodes = [(tree, "")]
    while open_nodes:
        node, owner = open_nodes.pop()
        for child in node.body:
            if isinstance(child, (ast.FunctionDef, ast.ClassDef)) and not child.name.startswith("_"):
                assert ast.get_docstring(child), f"{owner}{child.name}"
                if isinstance(child, ast.ClassDef):
                    open_nodes.append((child, f"{child.name}."))


@pytest.mark.parametrize("arguments", [["check"], ["format", "--check"]], ids=["check", "format"])
def test_ruff_has_nothing_to_say(arguments):
    ran = subprocess.run([sys.executable, "-m", "ruff", *arguments, str(ROOT)], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_names_that_others_call():
    eye = es.Eye(white_to_white=11.8, scleral_radius=12.0, scleral_thickness=0.5)
    lens = es.Lens(
        optic_diameter=6.0, haptic_length=8.0, haptic_diameter=0.15, loop_radius=4.5, root_angle=60.0,
        angulation=5.0, youngs_modulus=2.5, poisson_ratio=0.4,
    )  # fmt: skip
    first = es.Fixation(
        meridian=0.0, limbus_distance=2.0, limbus_angle=20.0, iris_angle=5.0, tunnel_length=2.0, outside=0.8
    )
    pose = es.settle(eye, lens, first, es.Fixation(meridian=180.0, limbus_distance=2.0))
    for name in (
        "x",
        "y",
        "z",
        "decentration",
        "tilt",
        "tilt_meridian",
        "roll",
        "tension",
        "settled",
        "reason",
    ):
        assert hasattr(pose, name)
    assert len(pose.tension) == 2
    assert es.Pose(x=0.2, y=0.0, z=-2.7, tilt=5.0, tilt_meridian=90.0).depth == 2.7
    assert eye.limbal_depth > 0
    for name in es.__all__:
        assert hasattr(es, name)


def shipped_text():
    """Return every text file that belongs to the project, by path."""
    asked = subprocess.run(["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=ROOT, capture_output=True)
    if asked.returncode == 0:
        paths = [ROOT / name for name in asked.stdout.decode().split("\0") if name]
    else:  # unpacked without its history
        made = re.compile(r"(^|/)(\.(?!ci/|gitignore)|__pycache__/|my-workbook/|build/|dist/|[^/]*\.egg-info/)")
        paths = [p for p in ROOT.rglob("*") if not made.search(p.relative_to(ROOT).as_posix())]
    for path in paths:
        if path.is_file():
            try:
                yield path, path.read_text(encoding="utf-8")
            except UnicodeDecodeError:
                continue


def test_no_file_names_a_place_on_somebodys_machine():
    place = re.compile("/(" + "|".join(["work", "root", "home", "tmp", "Users"]) + ")/")
    found = [
        f"{name_of(path)}: {line.strip()[:80]}"
        for path, text in shipped_text()
        for line in text.splitlines()
        if place.search(line)
    ]
    assert not found


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_the_caution_stands_in_the_readme(name):
    words = " ".join((ROOT / name).read_text().replace("\n> ", " ").split())
    assert es.CAUTION in words
