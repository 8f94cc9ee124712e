"""The house: rooms import only from rooms before them, the door is light, and nothing stands about outside.

Each rule is one test, and what it prints when it fails is the list of all places that break it.
"""

from __future__ import annotations

import ast
import functools
import json
import re
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import kinds
import pytest

import eyesim as es
from eyesim import lesson
from eyesim.lesson import bank

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "eyesim"
MAY = {
    "eye": "",
    "hold": "eye",
    "sight": "eye hold",
    "text": "eye hold",
    "study": "eye hold sight",
    "practice": "eye hold text study",
    "photo": "eye hold text study practice",
    "lesson": "eye hold sight text study practice photo",
    "live": "eye hold sight study lesson",
    "marking": "eye text study lesson",
    "machine": "eye hold sight text",
    "draw": "eye hold sight text photo",
    "chart": "eye hold sight study practice draw",
    "page": "eye hold sight text study practice photo lesson marking machine draw chart",
    "panel": "eye hold sight text study practice photo lesson live marking machine draw chart page",
}
"""Rooms in the order of the story, and the rooms that each may import from."""
DEEDS = {
    "eye": "read",  # the tables of facts
    "hold": "read write",  # compiled kernels, kept on disk
    "study": "read",  # a plan
    "text": "read write clock",  # the clock only to wait for a lock
    "practice": "clock",  # the day of a row
    "photo": "read",
    "marking": "read clock",  # when a hand-in was made
    "machine": "read write clock print",
    "page": "read",
    "panel": "read clock",
    "": "read print",  # the command line
}
"""What rooms may do beside computing: a room that is not named does nothing but that."""
READS = {"read_text", "read_bytes", "read_csv"}
WRITES = {"write_text", "write_bytes", "mkdir", "unlink", "rmdir", "rmtree", "touch", "ftruncate", "mkstemp"}
ROOMS = list(MAY)
MODULES = sorted(PACKAGE.rglob("*.py"))
PICTURES = {"matplotlib", "ipywidgets", "anywidget"}
PARAMETERS_IN = set(ROOMS)
"""Rooms in which every public function with two or more parameters describes each of them."""
NESTING = (ast.For, ast.While, ast.If, ast.With, ast.Try)
BRANCHES = (ast.For, ast.While, ast.If, ast.IfExp, ast.ExceptHandler, ast.comprehension)
LONG = {
    "eyesim/hold/balance.py:derivatives": "one compiled loop over cases that stay in registers",
    "eyesim/hold/balance.py:solve": "one compiled loop: Newton steps, each with its own way out",
    "eyesim/hold/continuation.py:carry_all": "one compiled loop over strides, in which a case may leave at any of them",
}
"""Functions that are longer than a paragraph, and why."""
SKIPPED = 115
"""How often the formatter may be switched off in the package: only for tables that are read as tables."""


@functools.cache
def tree_of(path):
    return ast.parse(path.read_text())


@functools.cache
def nodes_of(path):
    return tuple(ast.walk(tree_of(path)))


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
    for node in nodes_of(path):
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


def test_developers_read_the_same_rule():
    rows = re.findall(r"^\| `(\w+)` \|.*\|([^|]*)\|$", (ROOT / "DEVELOPERS.md").read_text(), re.MULTILINE)
    rule = {room: " ".join(re.findall(r"\w+", rooms)) for room, rooms in rows if room in MAY}
    assert rule == MAY
    assert list(rule) == ROOMS


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


def test_nothing_is_drawn_before_the_drawing_room():
    before = ROOMS[: ROOMS.index("draw")]
    drawn = [
        f"{name_of(path)} imports {full}"
        for path in MODULES
        if room_of(path) in before
        for full in imports_of(path)
        if full.split(".")[0] in PICTURES
    ]
    assert not drawn


def test_rods_and_rays_know_no_anatomy():
    apart = [path for path in MODULES if path.stem in ("rod", "surface", "rays", "kernels")]
    assert len(apart) == 4
    assert not [
        f"{name_of(path)} imports {full}"
        for path in apart
        for full in imports_of(path)
        if full.startswith("eyesim.eye.") and ".checks" not in full
    ]


def modules_loaded(code):
    """Names of all modules that are loaded after some code, in a process of its own."""
    code += "; import json, sys; print(json.dumps(sorted(sys.modules)))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(json.loads(ran.stdout))


def deeds_of(path):
    """Yield what a module does beside computing: "read" or "write" files, ask the "clock", "print"; and where."""
    for node in ast.walk(tree_of(path)):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        last = name.rpartition(".")[2]
        mode = next((a.value for a in [*node.args, *(k.value for k in node.keywords if k.arg == "mode")]
                     if isinstance(a, ast.Constant) and isinstance(a.value, str)), "r")  # fmt: skip
        if (
            last in WRITES
            or name in ("os.replace", "os.write")
            or name.startswith("tempfile.")
            or last == "open"
            and set(mode) & set("wax+")
        ):
            yield "write", f"{name_of(path)}:{node.lineno} {name}"
        elif last in READS or last == "open" and name not in ("Image.open", "webbrowser.open", "straight.open"):
            yield "read", f"{name_of(path)}:{node.lineno} {name}"
        if re.fullmatch(r"time\.\w+|datetime\.(date|datetime)\.(now|today|utcnow)|(date|datetime)\.(now|today)", name):
            yield "clock", f"{name_of(path)}:{node.lineno} {name}"
        if name in ("print", "sys.stdout.write", "sys.stderr.write"):
            yield "print", f"{name_of(path)}:{node.lineno} {name}"


def test_only_some_rooms_touch_files_clock_and_screen():
    found = [(room_of(path), *deed) for path in MODULES for deed in deeds_of(path)]
    assert not [where for room, deed, where in found if deed not in DEEDS.get(room, "").split()]
    for room, deeds in DEEDS.items():  # and nothing is allowed that nobody does
        assert set(deeds.split()) <= {deed for other, deed, _ in found if other == room}, room


def test_deeds_are_seen(tmp_path, monkeypatch):
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    lines = {
        "open(p)": "read", "p.read_bytes()": "read", "p.open('rb')": "read", "os.open(p, flags)": "read",
        "open(p, 'w')": "write", "p.open('ab')": "write", "p.write_text(t)": "write", "tempfile.mkstemp()": "write",
        "p.unlink()": "write", "os.replace(a, b)": "write", "print(1)": "print", "time.monotonic()": "clock",
        "datetime.date.today()": "clock", "datetime.datetime.now(z)": "clock",
    }  # fmt: skip
    for k, (line, deed) in enumerate({**lines, "text.replace('a', 'b')": None, "Image.open(p)": None}.items()):
        module = tmp_path / f"m{k}.py"
        module.write_text(line)
        assert [found for found, _ in deeds_of(module)] == ([deed] if deed else []), line


def test_the_door_is_light():
    """How many seconds it takes is measured by `tests/benchmarks/import_speed.py`."""
    bare, arrays, ours = (modules_loaded(code) for code in ("pass", "import numpy", "import eyesim"))
    foreign = {name.split(".")[0] for name in ours - bare} - set(sys.stdlib_module_names)
    assert foreign == {"eyesim", "numpy"}
    more = {name for name in ours - arrays if name.split(".")[0] != "eyesim"}
    assert len(more) <= 45, sorted(more)
    assert len(ours - arrays) <= len(arrays)


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


def statements(node):
    """How many statements there are in a module, class or function, however they are set; docstrings are none."""
    inside = sum(isinstance(part, ast.stmt) for part in ast.walk(node)) - isinstance(node, ast.stmt)
    return inside - sum(isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant) for part in ast.walk(node))


def nesting(node, depth=0):
    """How many loops, conditions and the like lie within each other; `elif` is no deeper than its `if`."""
    deepest = depth
    for child in ast.iter_child_nodes(node):
        follows = isinstance(node, ast.If) and isinstance(child, ast.If) and [child] == node.orelse
        deepest = max(deepest, nesting(child, depth + (isinstance(child, NESTING) and not follows)))
    return deepest


def ways(node):
    """How many ways lead through a function: one, and one more for each place where it branches."""
    branches = sum(isinstance(part, BRANCHES) for part in ast.walk(node))
    words = sum(len(part.values) - 1 for part in ast.walk(node) if isinstance(part, ast.BoolOp))
    return 1 + branches + words + sum(len(part.ifs) for part in ast.walk(node) if isinstance(part, ast.comprehension))


def test_the_measures_of_size_do_not_depend_on_how_it_is_set():
    packed = ast.parse("def f(a):\n    if a: b = 1; c = 2\n    elif not a: b = 3\n    return b")
    wide = ast.parse(ast.unparse(packed))
    assert (statements(packed), nesting(packed), ways(packed)) == (statements(wide), nesting(wide), ways(wide))
    assert (statements(packed.body[0]), nesting(packed.body[0]), ways(packed.body[0])) == (6, 1, 3)


def test_a_module_is_a_chapter():
    """Statements count, and all that stands in them, so that nothing is won by packing lines or expressions."""
    sizes = {name_of(path): (statements(tree_of(path)), len(nodes_of(path))) for path in MODULES}
    assert not {name: size for name, size in sizes.items() if size > (280, 0) or size[1] > 5500}


def test_a_function_is_a_paragraph():
    long = {}
    for path in MODULES:
        for node in nodes_of(path):
            if isinstance(node, ast.FunctionDef):
                size = statements(node), nesting(node), ways(node)
                if any(found > bound for found, bound in zip(size, (36, 5, 25), strict=True)):
                    long[f"{name_of(path)}:{node.name}"] = size
    assert set(long) == set(LONG), long


def test_the_formatter_is_rarely_switched_off():
    skips = {name_of(path): len(re.findall(r"# fmt: (?:skip|off)", path.read_text())) for path in MODULES}
    assert sum(skips.values()) <= SKIPPED, {name: count for name, count in skips.items() if count}
    assert not {name: count for name, count in skips.items() if count > 12}


def public(node, owner=""):
    """Yield classes, functions and methods whose names begin with a letter, with that of their class before them."""
    for child in node.body:
        if isinstance(child, (ast.FunctionDef, ast.ClassDef)) and not child.name.startswith("_"):
            yield f"{owner}{child.name}", child
            if isinstance(child, ast.ClassDef):
                yield from public(child, f"{child.name}.")


def test_what_is_public_has_a_docstring():
    bare = [name_of(path) for path in MODULES if not ast.get_docstring(tree_of(path))]
    for path in MODULES:
        bare += [f"{name_of(path)}:{name}" for name, node in public(tree_of(path)) if not ast.get_docstring(node)]
    assert not bare


def undescribed(function):
    """Names of parameters that the section on parameters does not name."""
    args = function.args
    all_args = [*args.posonlyargs, *args.args, args.vararg, *args.kwonlyargs, args.kwarg]
    names = [arg.arg for arg in all_args if arg is not None]
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n---|\Z)", ast.get_docstring(function) or "", re.M | re.S)
    told = set(re.findall(r"\w+", section[1])) if section else set()
    return [name for name in names if name not in told] if len(names) > 1 else []


def test_a_section_on_parameters_names_each():
    text = '"""Do.\n\n    Parameters\n    ----------\n    a, b : float\n        In [mm].\n    """'
    assert undescribed(ast.parse(f"def do(a, b, *c):\n    {text}").body[0]) == ["c"]
    assert undescribed(ast.parse("def do(a, *, b=1): pass").body[0]) == ["a", "b"]
    assert undescribed(ast.parse("def do(a): pass").body[0]) == []


def test_public_functions_describe_their_parameters():
    missing = {}
    for path in MODULES:
        for node in tree_of(path).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and undescribed(node):
                missing.setdefault(room_of(path), []).append(f"{name_of(path)}:{node.name} {undescribed(node)}")
    for room, places in missing.items():  # seen with `-s`, and when this fails
        print(f"{room or 'eyesim'}: {len(places)}", *places, sep="\n    ")
    assert not PARAMETERS_IN & set(missing)


CLOCKS = {f"time.{name}" for name in ("perf_counter", "perf_counter_ns", "monotonic", "process_time", "time")}


def clocked(tree):
    """Lines of assertions about what a clock says, or about names that were made from what it says.

    A loop that waits until something is there may look at the clock; it fails by `pytest.fail`.
    """
    functions, lines = set(), []
    for part in tree.body:
        names = set(functions)
        for _ in range(3):  # what is made from what was made
            for node in ast.walk(part):
                names |= _made_from_a_clock(node, names)
        if isinstance(part, ast.FunctionDef) and part.name in names:
            functions.add(part.name)
        lines += [node.lineno for node in ast.walk(part) if isinstance(node, ast.Assert) and _timed(node.test, names)]
    return lines


def _timed(node, names):
    calls = {ast.unparse(part.func) for part in ast.walk(node) if isinstance(part, ast.Call)}
    return bool(calls & CLOCKS or {part.id for part in ast.walk(node) if isinstance(part, ast.Name)} & names)


def _made_from_a_clock(node, names):
    match node:
        case ast.Assign(targets=[ast.Tuple(elts=targets)], value=ast.Tuple(elts=values)):
            pairs = zip(targets, values, strict=False)
            return {target.id for target, value in pairs if isinstance(target, ast.Name) and _timed(value, names)}
        case ast.Assign(targets=[ast.Name(id=name)], value=value) if _timed(value, names):
            return {name}
        case ast.Call(func=ast.Attribute(value=ast.Name(id=name), attr="append"), args=[value]) if _timed(value, names):
            return {name}
        case ast.FunctionDef(name=name):
            found = [part.value for part in ast.walk(node) if isinstance(part, ast.Return) and part.value]
            return {name} if any(_timed(value, names) for value in found) else set()
    return set()


def test_no_test_asserts_what_a_clock_says():
    """What has to be quick is a benchmark, in `tests/benchmarks`, which says by its exit code whether it is."""
    watched = [
        f"{name_of(path)}:{line}"
        for path in sorted((ROOT / "tests").rglob("*.py"))
        if "benchmarks" not in path.parts
        for line in clocked(tree_of(path))
    ]
    assert not watched


def test_what_is_said_to_take_long_is_there():
    assert [name for name in kinds.SECONDS if not (ROOT / name).is_file()] == []
    ids = {*lesson.ids(), *bank.ITEMS}
    wanted = [id for cases in kinds.SLOW_CASES.values() for id in cases]
    assert [id for id in wanted if not any(one.startswith(id) for one in ids)] == []


def test_random_numbers_in_tests_can_be_drawn_again():
    """A seed is written down, or drawn and printed; `tests/conftest.py` names the seeds of what failed."""
    unseeded = []
    for path in sorted((ROOT / "tests").rglob("*.py")):
        calls = [node for node in nodes_of(path) if isinstance(node, ast.Call) and not node.args]
        names = {ast.unparse(node.func) for node in calls if not node.keywords}
        drawn = names & {"np.random.default_rng", "random.Random", "np.random.seed", "random.seed", "random.random"}
        if drawn or ("random.SystemRandom" in names and "seed {" not in path.read_text()):
            unseeded.append(name_of(path))
    assert not unseeded


def test_a_clock_would_be_noticed():
    seen = "start = time.time(); times.append(time.perf_counter() - start); best = min(times)\n    assert best < 1"
    assert clocked(ast.parse(f"def test():\n    {seen}")) == [3]
    assert clocked(ast.parse("def took():\n    return time.monotonic() - 1\nassert took() < 2")) == [3]
    assert clocked(ast.parse("while time.monotonic() < until:\n    pass\nassert done")) == []


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
