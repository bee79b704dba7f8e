"""Who may import whom, and what a quick command may load."""

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import safety
from tests.played import Played

ROOT = Path(__file__).resolve().parents[1]
CORE = (
    *("procedure", "job", "engine", "steps", "commands", "gun_entry", "clock"),
    *("reading_steps", "sign_off", "signers", "settles", "drying", "amend"),
)
CORE_MAY = {
    *(f"runner.{name}" for name in CORE),
    *("runner.findings", "runner.strict_yaml", "runner.quantities", "runner.model_findings"),
    *("runner.readings.entry", "runner.readings.model"),
    *("runner.refusals", "runner.resolution"),
}
"""What the core may import of runner/: itself, strict YAML, what people type to SI, the words of
its refusals, and the resolution of what it records."""
HEAVY = ("scipy", "numpy", "matplotlib", "jinja2", "typst", "questionary", "pint")


def imported(path: Path) -> set[str]:
    """Every module that a file imports, anywhere in it, by its full name."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import hides what is imported"
            module = node.module or ""
            for alias in node.names:
                whole = f"{module}.{alias.name}"
                is_module = (ROOT / f"{whole.replace('.', '/')}.py").exists()
                found.add(whole if is_module else module)
    return found


SAFETY = sorted((ROOT / "safety").rglob("*.py"))


@pytest.mark.parametrize("path", SAFETY, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_safety_room_imports_only_itself_and_the_standard_library(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    assert roots <= {"safety", *sys.stdlib_module_names}


FORBIDDEN = {
    *("os", "sys", "time", "datetime", "random", "secrets", "socket", "subprocess", "pathlib"),
    *("tempfile", "shutil", "threading", "asyncio", "logging", "locale", "platform"),
}


@pytest.mark.parametrize("path", SAFETY, ids=lambda p: str(p.relative_to(ROOT)))
def test_the_safety_room_has_no_clock_file_environment_or_chance(path: Path) -> None:
    roots = {name.split(".")[0] for name in imported(path)}
    assert not roots & FORBIDDEN
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {n.func.id for n in ast.walk(tree)
              if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}  # fmt: skip
    assert not called & {"open", "input", "print", "exec", "eval", "__import__"}


@pytest.mark.parametrize("name", CORE)
def test_the_core_imports_no_screen_record_report_or_practice(name: str) -> None:
    own = {m for m in imported(ROOT / "runner" / f"{name}.py") if m.split(".")[0] == "runner"}
    if "runner" in own:  # "from runner import steps": the other half of one function
        own = own - {"runner"}
    assert own <= CORE_MAY, own - CORE_MAY


@pytest.mark.parametrize("name", ["job", "engine", "steps", "commands", "gun_entry"])
def test_the_core_reads_no_clock_file_or_environment(name: str) -> None:
    roots = {m.split(".")[0] for m in imported(ROOT / "runner" / f"{name}.py")}
    assert not roots & FORBIDDEN


def _loaded(arguments: list[str], data: Path) -> set[str]:
    """The top modules that a command has loaded when it ends well."""
    program = (
        "import sys, json\n"
        "from runner import cli\n"
        "try:\n    code = cli.main(sys.argv[1:])\n"
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
    assert not loaded & {"matplotlib", "jinja2", "typst", "questionary"}


def test_the_safety_room_that_is_used_is_the_one_of_this_project() -> None:
    assert safety.__file__ is not None
    assert Path(safety.__file__).resolve() == ROOT / "safety" / "__init__.py"


def test_no_file_of_the_rooms_is_named_for_nothing() -> None:
    names = {p.stem for room in ("safety", "runner") for p in (ROOT / room).rglob("*.py")}
    assert not names & {"utils", "helpers", "common", "misc", "manager"}


def test_the_judge_asks_no_linear_algebra_library() -> None:
    judge = [*(ROOT / "runner/assess").glob("*.py"), *(ROOT / "runner/readings").glob("*.py")]
    for path in (*judge, ROOT / "runner/judging.py", ROOT / "runner/resolution.py"):
        assert not {name.split(".")[0] for name in imported(path)} & {"numpy", "scipy"}, path
