"""Who may import whom, what a quick command may load, and that the house has no circle."""

import ast
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from steplatch import safety

from tests.each import each
from tests.played import Played

ROOT = Path(__file__).resolve().parents[1]
NAME = "steplatch"
FLOORS = (
    ("cli",),
    ("training", "book"),
    ("screen", "sheet"),
    ("jobs",),
    ("proof", "live"),
    ("simulator", "workshop"),
    ("assess", "record", "readings"),
    ("core",),
    ("input", "system"),
    ("safety",),
)
"""The rooms from the top floor down: a file imports its own room and those on lower floors."""
MOST_ARROWS = 100
HEAVY = ("scipy", "numpy", "jinja2", "typst", "questionary", "pint")
FORBIDDEN = {
    *("os", "sys", "time", "datetime", "random", "secrets", "socket", "subprocess", "pathlib"),
    *("tempfile", "shutil", "threading", "asyncio", "logging", "locale", "platform"),
}


def files(*rooms: str) -> list[Path]:
    """Every Python file of these folders, sorted."""
    return sorted(path for room in rooms for path in (ROOT / room).rglob("*.py"))


@cache
def imported(path: Path) -> frozenset[str]:
    """Every module that a file imports, anywhere in it, by its full name."""
    package = [NAME, *path.relative_to(ROOT).parent.parts]
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*above, *filter(None, [node.module])])
            for alias in node.names:
                whole = f"{module}.{alias.name}"
                found.add(whole if source_of(whole) else module)
    return frozenset(found)


def source_of(module: str) -> Path | None:
    """The file of a module of this project, or None."""
    place = ROOT / module.removeprefix(f"{NAME}.").replace(".", "/")
    return next((p for p in (place.with_suffix(".py"), place / "__init__.py") if p.exists()), None)


def own(path: Path) -> Iterator[Path]:
    """The files of this project that a file imports."""
    for module in imported(path):
        if module.split(".")[0] == NAME and (source := source_of(module)) is not None:
            yield source


def room_of(path: Path) -> str:
    """The room that a file stands in: ``safety``, or a folder of ``runner``."""
    parts = path.relative_to(ROOT).parts
    return parts[0] if parts[0] != "runner" or len(parts) == 2 else parts[1]


PRODUCT = files("safety", "runner")
FLOOR = {room: number for number, floor in enumerate(FLOORS) for room in floor}


def test_every_file_stands_in_a_room_that_has_its_floor() -> None:
    rooms = {room_of(path) for path in PRODUCT if path.name != "__init__.py"}
    assert rooms <= FLOOR.keys()


@each("path", PRODUCT, ids=lambda p: str(p.relative_to(ROOT)))
def test_an_arrow_never_runs_up(path: Path) -> None:
    if path == ROOT / "runner" / "__init__.py":
        return
    here = room_of(path)
    up = {
        f"{here} -> {room_of(to)} ({to.name})"
        for to in own(path)
        if room_of(to) in FLOOR and room_of(to) != here and FLOOR[room_of(to)] <= FLOOR[here]
    }
    assert not up


def test_the_house_has_few_arrows_between_its_rooms() -> None:
    arrows = {(room_of(path), room_of(to)) for path in PRODUCT for to in own(path)}
    assert len({(a, b) for a, b in arrows if a != b}) <= MOST_ARROWS


@pytest.mark.parametrize("room", sorted(FLOOR))
def test_no_files_of_a_room_import_each_other_in_a_circle(room: str) -> None:
    """Between rooms there is none, since no arrow runs up."""
    inside = {path for path in PRODUCT if room_of(path) == room}
    arrows = {path: {to for to in own(path) if to != path} & inside for path in inside}
    while ends := [path for path, to in arrows.items() if not to & arrows.keys()]:
        for path in ends:
            del arrows[path]
    assert not {str(path.relative_to(ROOT)) for path in arrows}, "a circle, or what leads to it"


SAFETY = files("safety")


@each("path", SAFETY, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_safety_room_imports_only_itself_and_the_standard_library(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    assert roots <= {NAME, *sys.stdlib_module_names}
    assert {room_of(to) for to in own(path)} <= {"safety"}


@each("path", SAFETY, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_safety_room_has_no_clock_file_environment_or_chance(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    assert not roots & FORBIDDEN
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {n.func.id for n in ast.walk(tree)
              if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}  # fmt: skip
    assert not called & {"open", "input", "print", "exec", "eval", "__import__"}


@each("path", files("safety/interlocks", "safety/limits", "safety/physics"), ids=lambda p: p.stem)
def test_no_table_or_formula_reads_what_verifies_it(path: Path) -> None:
    assert not {to.parent.name for to in own(path)} & {"verify", "plant", "registers"}


DECIDES = files("runner/core", "runner/assess")


@each("path", DECIDES, ids=lambda p: str(p.relative_to(ROOT)))
def test_what_decides_asks_no_clock_chance_or_linear_algebra_library(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    files_are_read = {"pathlib"} if path.name in ("procedure.py", "tables.py") else set()
    given = {"datetime"} if path.name == "clock.py" else {"sys"}  # a moment handed in; float_info
    assert not (roots & FORBIDDEN) - files_are_read - given
    assert not roots & {"numpy", "scipy", "pint", "rich", "questionary", "prompt_toolkit"}


def _loaded(arguments: list[str], data: Path) -> set[str]:
    """The top modules that a command has loaded when it ends well."""
    program = (
        "import sys, json\n"
        "from steplatch.runner.cli.main import main\n"
        "try:\n    code = main(sys.argv[1:])\n"
        "except SystemExit as end:\n    code = end.code\n"
        "print('\\n' + json.dumps([code, sorted({m.split('.')[0] for m in sys.modules})]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=ROOT,
        env={**os.environ, "STEPLATCH_DATA": str(data)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    code, modules = json.loads(done.stdout.splitlines()[-1])
    assert code in (0, None), done.stdout
    return set(modules)


def test_help_and_the_list_of_jobs_load_no_heavy_library(good: Played) -> None:
    data = good.folder.path.parent.parent
    for arguments in (["--help"], ["jobs"], ["audit", "--help"]):
        assert not _loaded(arguments, data) & set(HEAVY), arguments


def test_an_audit_loads_no_drawing_printing_or_asking_library(good: Played) -> None:
    data = good.folder.path.parent.parent
    loaded = _loaded(["audit", good.folder.id], data)
    assert not loaded & {"jinja2", "typst", "questionary"}


def test_the_safety_room_that_is_used_is_the_one_of_this_project() -> None:
    assert safety.__file__ is not None
    assert Path(safety.__file__).resolve() == ROOT / "safety" / "__init__.py"


def test_no_file_of_the_rooms_is_named_for_nothing() -> None:
    names = {p.stem for room in ("safety", "runner") for p in (ROOT / room).rglob("*.py")}
    assert not names & {"utils", "helpers", "common", "misc", "manager"}


def test_every_room_is_in_the_wheel() -> None:
    import tomllib

    built = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    listed = set(built["tool"]["setuptools"]["packages"])
    rooms = {
        ".".join([NAME, *path.parent.relative_to(ROOT).parts])
        for path in files("safety", "runner", "procedures", "examples")
        if path.name == "__init__.py"
    }
    assert listed == rooms


def test_every_library_that_is_imported_is_declared() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    declared = [*project["dependencies"], *extras["live"], *extras["pdf"], *extras["book"]]
    names = {re.split(r"[>=<~[]", text)[0].lower().replace("-", "_") for text in declared}
    named = {"yaml": "pyyaml", "can": "python_can", "serial": "pyserial"}
    roots = {module.split(".")[0] for path in PRODUCT for module in imported(path)}
    foreign = roots - set(sys.stdlib_module_names) - {NAME}
    assert {named.get(root, root) for root in foreign} <= names
