"""Change safety/ in every small way, one change at a time, and see whether the tests notice.

    python -m tests.mutation.mutate [--only safety/limits/dose.py] [--seconds N] [--jobs 2]

The tree is copied into a temporary folder; the checkout is never touched. For each mutant a
process is forked that has pytest loaded but nothing of this project; the changed module is
compiled from its tree as it is imported, so nothing is ever written over and no stale bytecode
can be run. A mutant is killed when a test fails, the import fails, or the time is over.

``equivalent.txt`` lists mutants that no test can notice, each with its reason. The command fails
on a survivor that is not listed, and on a listed one that is killed or is made no longer.
"""

import argparse
import ast
import contextlib
import gc
import importlib
import importlib.abc
import importlib.machinery
import os
import shutil
import signal
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType

import hypothesis
import hypothesis.core
import hypothesis.strategies
import pytest
import yaml

from tests.mutation.changes import Mutant, mutants_of
from tests.mutation.warm import LATE, SURVIVED, UNDECIDED, try_warm

_LOADED_BEFORE_ANY_FORK = (hypothesis.core, hypothesis.strategies, yaml)
_SLOW_TO_LOAD = {
    "safety/limits": ("CoolProp.CoolProp", "fluids"),
    "safety/physics": ("CoolProp.CoolProp", "fluids"),
}
"""What the tests of some files import: loaded once as well, where it is installed."""
hypothesis.settings.register_profile(  # few examples and no shrinking: a failure is enough
    "mutants",
    max_examples=12,
    derandomize=True,
    database=None,
    deadline=None,
    phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
)

HERE = Path(__file__).parent
_COPIED = ("safety", "runner", "procedures", "tests", "pyproject.toml")
_NOT_LOADED = 77
_NO_TESTS = 5
_KILLED_BY = 100
"""The exit code of a child is this, and the place of the file of tests that noticed."""

_OF_BAY = tuple(
    f"tests/safety/test_{name}.py"
    for name in (
        "words_by_hand",
        "happenings",
        "kernel",
        "effects_table",
        "interlock_cells",
        "kernel_edges",
    )
)
_OF_PROOF = tuple(
    f"tests/safety/test_{name}.py"
    for name in (
        "cone",
        "kernel_proof_by_hand",
        "kernel_model",
        "kernel_counts",
        "kernel_proof",
        "interlock_rows",
        "waivers",
        "false_reports_edges",
    )
)
_OF_ROWS = tuple(
    f"tests/safety/test_{name}.py"
    for name in ("interlock_rows", "interlock_cells", "self_test", "waivers", "register_pages")
)
_OF_MONITORS = (
    "tests/safety/test_monitor_tables.py",
    "tests/safety/test_alarms.py",
    "tests/safety/test_observer*.py",
    "tests/safety/test_monitors.py",
)
TESTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("safety/limits/dose.py", ("tests/limits/test_dose*.py", "tests/limits/test_*.py")),
    ("safety/limits/burst.py", ("tests/limits/test_burst*.py", "tests/limits/test_*.py")),
    ("safety/limits/waits.py", ("tests/limits/test_wait*.py", "tests/limits/test_*.py")),
    ("safety/limits/working.py", ("tests/limits/test_working*.py", "tests/limits/test_*.py")),
    ("safety/limits/plausible.py", ("tests/limits/test_plausible*.py", "tests/limits/test_*.py")),
    ("safety/limits/", ("tests/limits/test_*.py",)),
    ("safety/physics/cylinder.py", ("tests/physics/test_cylinder*.py", "tests/physics/test_*.py")),
    ("safety/physics/", ("tests/physics/test_*.py",)),
    (
        "safety/kernel.py",
        (
            "tests/safety/test_kernel.py",
            "tests/safety/test_kernel_edges.py",
            "tests/safety/test_overdose_trip.py",
            "tests/safety/test_effects_table.py",
            "tests/safety/test_witness_runs.py",
            "tests/safety/test_waivers.py",
            "tests/safety/test_interlock_cells.py",
        ),
    ),
    (
        "safety/effects.py",
        (
            "tests/safety/test_how_long_facts_last.py",
            "tests/safety/test_effects_table.py",
            "tests/safety/test_kernel.py",
            "tests/safety/test_kernel_edges.py",
        ),
    ),
    (
        "safety/interlocks/",
        (
            "tests/safety/test_rows_by_hand.py",
            "tests/safety/test_fluid_count.py",
            "tests/safety/test_interlock_cells.py",
            "tests/safety/test_kernel.py",
            "tests/safety/test_matrix.py",
            "tests/safety/test_waivers.py",
            "tests/safety/test_*edges.py",
        ),
    ),
    (
        "safety/verify/search.py",
        ("tests/safety/test_search.py", "tests/safety/test_words_by_hand.py"),
    ),
    (
        "safety/registers/trusted_reports.py",
        ("tests/safety/test_false_reports*.py", "tests/safety/test_register*.py"),
    ),
    ("safety/verify/matrix.py", ("tests/safety/test_matrix.py", "tests/safety/test_register*.py")),
    ("safety/registers/hazard", ("tests/safety/test_register*.py",)),
    ("safety/verify/self_test.py", ("tests/safety/test_self_test.py",)),
    ("safety/verify/witness_runs.py", ("tests/safety/test_witness_runs.py",)),
    *((f"safety/verify/{name}.py", _OF_ROWS) for name in ("ready_bays", "row_monitors")),
    *((f"safety/{name}.py", _OF_BAY) for name in ("acts", "facts", "bay", "occurrences")),
    ("safety/plant/truth.py", ("tests/safety/test_truth.py",)),
    (
        "safety/plant/environment.py",
        ("tests/safety/test_environment.py", "tests/safety/test_truth.py"),
    ),
    *(
        (f"safety/verify/{name}.py", _OF_PROOF)
        for name in ("cone_of_influence", "kernel_model", "kernel_proof")
    ),
    *((f"safety/verify/{n}", _OF_MONITORS) for n in ("monitors", "alarms", "observer", "needs")),
    ("safety/", ("tests/safety/test_*.py",)),
)
"""Which tests must notice a change in which file: the first prefix that fits; likeliest first."""


@dataclass
class Tally:
    """What became of the mutants of one file."""

    made: int = 0
    killed: int = 0
    equivalent: int = 0
    survived: list[Mutant] = field(default_factory=list)
    listed_but_killed: list[Mutant] = field(default_factory=list)

    @property
    def not_run(self) -> int:
        return self.made - self.killed - self.equivalent - len(self.survived)


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the changed module when it is imported, and knows whether it was."""

    def __init__(self, name: str, file: Path, tree: ast.Module) -> None:
        self.name, self.file, self.tree, self.used = name, file, tree, False

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if name != self.name:
            return None
        spec = importlib.machinery.ModuleSpec(name, self, origin=str(self.file))
        if self.file.name == "__init__.py":
            spec.submodule_search_locations = [str(self.file.parent)]
        spec.has_location = True
        return spec

    def exec_module(self, module: ModuleType) -> None:
        self.used = True
        exec(compile(self.tree, str(self.file), "exec"), module.__dict__)


def module_name(file: str) -> str:
    """The dotted name under which a file is imported."""
    return "steplatch." + file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def mapped_tests(file: str, root: Path) -> list[str]:
    """The test files that must notice a change in ``file``, in the order they are run."""
    for prefix, patterns in TESTS:
        if file.startswith(prefix):
            found = [str(p.relative_to(root)) for g in patterns for p in sorted(root.glob(g))]
            return list(dict.fromkeys(found))
    raise SystemExit(f"mutate: no tests are mapped for {file}; add a row to TESTS in {__file__}")


def _prepare(root: Path) -> None:
    """Forget what is loaded of the checkout, and load from the copy from now on."""
    os.chdir(root)
    hypothesis.settings.load_profile("mutants")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    for name in [n for n in sys.modules if n.split(".")[0] in ("tests", "safety", "runner")]:
        del sys.modules[name]
    sys.dont_write_bytecode = False  # the copy's own: what is not changed is compiled once
    sys.path.insert(0, str(root))
    importlib.invalidate_caches()


def _in_child(tree: ast.Module | Mutant, file: str, tests: Sequence[str], root: Path) -> int:
    os.setsid()
    nowhere = os.open(os.devnull, os.O_RDWR)
    for fd in (0, 1, 2):
        os.dup2(nowhere, fd)
    made = tree.made() if isinstance(tree, Mutant) else tree
    _prepare(root)
    changed = _Changed(module_name(file), root / file, made)
    sys.meta_path.insert(0, changed)
    for part in (
        "safety/kernel.py",
        "safety/verify/monitors.py",
    ):  # a table may fail as it is loaded
        if (root / part).exists():
            importlib.import_module(module_name(part))
    how = ["-x", "-q", "--tb=no", "--assert=plain", "--noconftest", "--rootdir", str(root)]
    how += ["-p", "no:cacheprovider", "--import-mode=importlib"]
    for i, file_of_tests in enumerate(tests):  # one by one: most mutants need only the first
        rc = int(pytest.main([*how, file_of_tests]))
        if rc != 0:
            return _KILLED_BY + i if rc == 1 and i < 100 else rc
    return 0 if changed.used else _NOT_LOADED


def _fork(tree: ast.Module | Mutant, file: str, tests: Sequence[str], root: Path) -> int:
    pid = os.fork()
    if pid:
        return pid
    rc = 70
    try:
        rc = _in_child(tree, file, tests, root)
    except BaseException:  # whatever the changed code raised outside a test has been noticed
        rc = 1
    finally:
        os._exit(rc)


def _ended(rc: int, what: str) -> bool:
    """Whether the tests passed; a run that tested nothing is no answer."""
    if rc in (_NOT_LOADED, _NO_TESTS):
        raise SystemExit(f"mutate: {what}: the tests never load it, or there are none")
    return rc == 0


def _wait(pid: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


@dataclass(frozen=True)
class _Run:
    mutant: Mutant
    until: float
    order: Sequence[str]


def run_file(
    file: str,
    root: Path,
    tests: Sequence[str],
    equal: dict[str, str],
    jobs: int,
    until: float,
    like: Sequence[str] = ("",),
) -> Tally:
    """Try every mutant of ``file`` whose name holds one of ``like``, until the time is over."""
    source = (root / file).read_text(encoding="utf-8")
    todo = [m for m in mutants_of(source, file) if any(text in m.key for text in like)]
    tally = Tally(made=len(todo))
    left: list[Mutant] = []

    def heard(mutant: Mutant, how: str) -> None:
        if how == UNDECIDED:
            left.append(mutant)
        elif how != LATE:
            _count(tally, mutant, how == SURVIVED, equal)

    if todo:
        try_warm(file, root, tests, todo, jobs, until, heard, _prepare)
    if left and time.monotonic() < until:
        _run_fresh(file, root, tests, left, tally, equal, jobs, until)
    return tally


def _run_fresh(
    file: str,
    root: Path,
    tests: Sequence[str],
    todo: list[Mutant],
    tally: Tally,
    equal: dict[str, str],
    jobs: int,
    until: float,
) -> None:
    """Try what only a fresh import tells; the files of tests that noticed most come first."""
    unchanged = ast.parse((root / file).read_text(encoding="utf-8"))
    began = time.monotonic()
    if not _ended(_wait(_fork(unchanged, file, tests, root)), file):
        raise SystemExit(f"mutate: {file}: its tests fail with nothing changed: {' '.join(tests)}")
    allowed_s = 10.0 + 6.0 * (time.monotonic() - began)
    todo.reverse()
    noticed: Counter[str] = Counter()
    running: dict[int, _Run] = {}
    while running or (todo and time.monotonic() < until):
        while todo and len(running) < jobs and time.monotonic() < until:
            mutant = todo.pop()
            order = sorted(tests, key=lambda t: -noticed[t])
            pid = _fork(mutant, file, order, root)
            running[pid] = _Run(mutant, time.monotonic() + allowed_s, order)
        for pid in list(running):
            ended, status = os.waitpid(pid, os.WNOHANG)
            late = not ended and time.monotonic() > running[pid].until
            if late:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
            if ended or late:
                run = running.pop(pid)
                rc = os.waitstatus_to_exitcode(status)
                if rc >= _KILLED_BY:
                    noticed[run.order[rc - _KILLED_BY]] += 1
                _count(tally, run.mutant, not late and _ended(rc, file), equal)
        time.sleep(0.005)


def _count(tally: Tally, mutant: Mutant, alive: bool, equal: dict[str, str]) -> None:
    if alive and mutant.key in equal:
        tally.equivalent += 1
    elif alive:
        tally.survived.append(mutant)
        print(f"  survived  {mutant.file}:{mutant.line}  {mutant.key}", flush=True)
    else:
        tally.killed += 1
        if mutant.key in equal:
            tally.listed_but_killed.append(mutant)


def read_equivalent(path: Path) -> dict[str, str]:
    """Listed mutants with their reasons: ``file || function || change || reason`` a line."""
    found: dict[str, str] = {}
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        if not line.strip() or line.startswith("#"):
            continue
        parts = line.split(" || ")
        if len(parts) != 4 or not parts[3].strip():
            raise SystemExit(
                f"mutate: {path}:{number}: write file || function || change || reason, with ' || ' "
                "between the four"
            )
        found[" || ".join(parts[:3])] = parts[3]
    return found


def main(argv: Sequence[str] | None = None) -> int:
    """Run the mutants that are asked for. 0: nothing unlisted survived; 1: something to mend."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation.mutate", description=__doc__)
    parser.add_argument("--only", action="append", help="a file or folder, from the checkout root")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="start none after this")
    parser.add_argument("--like", action="append", help="only mutants whose name holds this text")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--root", type=Path, default=HERE.parents[1], help="the tree to copy")
    parser.add_argument("--tests", action="append", help="test files, instead of the mapped ones")
    parser.add_argument("--equivalent", type=Path, default=HERE / "equivalent.txt")
    asked = parser.parse_args(argv)
    equal = read_equivalent(asked.equivalent)
    like = asked.like or ("",)
    until = time.monotonic() + asked.seconds
    for folder, names in _SLOW_TO_LOAD.items():
        if any(folder.startswith(o) or o.startswith(folder) for o in asked.only or ["safety"]):
            for slow in names:
                with contextlib.suppress(ModuleNotFoundError):
                    importlib.import_module(slow)
    gc.collect()
    gc.freeze()
    with TemporaryDirectory(prefix="steplatch-mutants-") as name:
        root = Path(name)
        skip = shutil.ignore_patterns("__pycache__", ".hypothesis")
        for part in [p for p in asked.root.iterdir() if p.name in _COPIED]:
            if part.is_dir():
                shutil.copytree(part, root / part.name, ignore=skip)
            else:
                shutil.copy(part, root / part.name)
        tallies: dict[str, Tally] = {}
        for file in _files(root, asked.only or ["safety"]):
            if time.monotonic() < until:
                tests = asked.tests or mapped_tests(file, root)
                tallies[file] = run_file(file, root, tests, equal, asked.jobs, until, like)
                _print_row(file, tallies[file])
            else:
                tallies[file] = Tally(len(mutants_of((root / file).read_text("utf-8"), file)))
                _print_row(file, tallies[file])
        made = {m.key for f in tallies for m in mutants_of((root / f).read_text("utf-8"), f)}
    gone = [key for key in equal if key.split(" || ")[0] in tallies and key not in made]
    return _sum_up(tallies, gone)


def _files(root: Path, only: Sequence[str]) -> list[str]:
    found: list[str] = []
    for asked in only:
        path = root / asked
        if not path.exists():
            raise SystemExit(f"mutate: there is no {asked}; give a path from the checkout root")
        inside = sorted(path.rglob("*.py")) if path.is_dir() else [path]
        found += [p.relative_to(root).as_posix() for p in inside]
    return list(dict.fromkeys(found))


def _print_row(file: str, t: Tally) -> None:
    print(
        f"{file}: {t.made} made, {t.killed} killed, {t.equivalent} equivalent, "
        f"{len(t.survived)} survived, {t.not_run} not run",
        flush=True,
    )


def _sum_up(tallies: dict[str, Tally], gone: Sequence[str]) -> int:
    total = Tally()
    for t in tallies.values():
        total.made += t.made
        total.killed += t.killed
        total.equivalent += t.equivalent
        total.survived += t.survived
        total.listed_but_killed += t.listed_but_killed
    _print_row("all", total)
    for mutant in total.listed_but_killed:
        print(f"listed as equivalent, yet killed; strike it from the list: {mutant.key}")
    for key in gone:
        print(f"listed as equivalent, yet no longer made; strike it from the list: {key}")
    return 1 if total.survived or total.listed_but_killed or gone else 0


if __name__ == "__main__":
    sys.exit(main())
