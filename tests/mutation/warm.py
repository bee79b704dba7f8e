"""Try the changes inside functions in one process that has collected the tests already.

Each change is a fork of that process, in which the code of the changed function is put in the
place of the old and only the tests that run the function are run, those that run the line first.
A change is not decided here, and left to a fresh import, where that would not be the same: in the
body of a module or class, in a default, and in a function that the program ran as it was imported.
Tests of a file that ran the function as it was imported, say for a table of cases, do not count.
"""

import functools
import gc
import json
import os
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any

import coverage
import pytest

from tests.mutation.changes import Mutant

KILLED, SURVIVED, UNDECIDED, LATE = "killed", "survived", "undecided", "not run"
Report = Callable[[Mutant, str], None]
TraceFunction = Callable[[FrameType, str, Any], Any]
_OPTIMIZED = 0x1
"""The flag of the code of a function, as against that of a module or class."""
_Name = tuple[str, int]
"""A function of a module: its qualified name, and which of those that bear it."""


def functions_in(code: CodeType) -> dict[_Name, CodeType]:
    """Every code object inside a module's, nested ones too."""
    found: dict[_Name, CodeType] = {}
    count: dict[str, int] = defaultdict(int)

    def walk(outer: CodeType) -> None:
        for inner in outer.co_consts:
            if isinstance(inner, CodeType):
                found[inner.co_qualname, count[inner.co_qualname]] = inner
                count[inner.co_qualname] += 1
                walk(inner)

    walk(code)
    return found


def _own(code: CodeType) -> tuple[object, ...]:
    """What a code object does itself, apart from the functions inside it."""
    consts = tuple("code" if isinstance(c, CodeType) else repr(c) for c in code.co_consts)
    return code.co_code, consts, code.co_names, code.co_varnames, code.co_exceptiontable


@dataclass
class _Seen:
    """What the unchanged tests ran: tests by line, their times, and the lines run on import."""

    by_line: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    seconds: list[float] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)


class _LinesOnImport:
    """Notes the lines of one file that run inside functions, and which files were being imported
    as they ran."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.importing: dict[int, set[str]] = defaultdict(set)

    def __enter__(self) -> "_LinesOnImport":
        sys.settrace(self._call)
        return self

    def __exit__(self, *_: object) -> None:
        sys.settrace(None)

    def _call(self, frame: FrameType, event: str, arg: object) -> TraceFunction | None:
        if frame.f_code.co_filename != self.file or not frame.f_code.co_flags & _OPTIMIZED:
            return None
        self.note(frame)
        return self._line

    def _line(self, frame: FrameType, event: str, arg: object) -> TraceFunction | None:
        self.note(frame)
        return self._line

    def note(self, frame: FrameType) -> None:
        """Note one line, with the innermost file whose body asked for it."""
        asks: FrameType | None = frame
        while asks is not None and asks.f_code.co_name != "<module>":
            asks = asks.f_back
        self.importing[frame.f_lineno].add(asks.f_code.co_filename if asks else "")


class _Watch:
    """A pytest plugin that runs each change on the collected tests instead of the tests."""

    def __init__(
        self, file: Path, mutants: Sequence[Mutant], jobs: int, until: float, say: Report
    ) -> None:
        self.file, self.mutants, self.jobs = file, mutants, jobs
        self.until, self.say = until, say
        self.on_import: dict[int, set[str]] = {}
        self.failed = False
        self.trouble = "its tests cannot be collected with nothing changed"

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.failed = self.failed or report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        sys.settrace(None)
        gc.collect()
        live = [o for o in gc.get_objects() if isinstance(o, FunctionType)]
        self.functions = [f for f in live if f.__code__.co_filename == str(self.file)]
        wrapper = type(functools.cache(len))
        self.caches = [o for o in gc.get_objects() if isinstance(o, wrapper)]
        gc.freeze()
        self.seen = self._unchanged(session)
        if self.seen.failed:
            self.trouble = f"fails with nothing changed: {self.seen.failed[0]}"
            return True
        self.trouble = ""
        whole = self.mutants[0].whole
        self.old = functions_in(compile(whole, str(self.file), "exec"))
        todo = list(reversed(self.mutants))
        running: dict[int, tuple[Mutant, float, str]] = {}
        while todo or running:
            while todo and len(running) < self.jobs:
                mutant = todo.pop()
                if time.monotonic() > self.until:
                    self.say(mutant, LATE)
                    continue
                self._begin(mutant, session, running)
            for pid in list(running):
                ended, status = os.waitpid(pid, os.WNOHANG)
                mutant, late, if_alive = running[pid]
                if ended:
                    self.say(mutant, KILLED if status else if_alive)
                    del running[pid]
                elif time.monotonic() > late:
                    os.killpg(pid, signal.SIGKILL)
                    os.waitpid(pid, 0)
                    self.say(mutant, KILLED)
                    del running[pid]
            time.sleep(0.002)
        return True

    def _unchanged(self, session: pytest.Session) -> _Seen:
        """Run all tests once in a fork, so that this process stays as it was collected."""
        inlet, outlet = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(inlet)
            told: list[tuple[str, float, bool]] = []
            watch = coverage.Coverage(data_file=None, include=[str(self.file)], config_file=False)
            watch.start()  # in C: a trace function in Python would make the proofs crawl
            for i, item in enumerate(session.items):
                watch.switch_context(str(i))
                self.failed, began = False, time.monotonic()
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
                told.append((item.nodeid, time.monotonic() - began, self.failed))
            watch.stop()
            lines = watch.get_data().contexts_by_lineno(str(self.file))
            with os.fdopen(outlet, "w") as out:
                json.dump([told, list(lines.items())], out)
            os._exit(0)
        os.close(outlet)
        seen = _Seen()
        with os.fdopen(inlet) as told_by_child:
            tests, ran_by = json.load(told_by_child)
        for name, took_s, failed in tests:
            seen.seconds.append(took_s)
            seen.failed += [name] if failed else []
        for line, contexts in ran_by:
            seen.by_line[line].update(int(context) for context in contexts if context)
        os.waitpid(pid, 0)
        return seen

    def _begin(
        self, mutant: Mutant, session: pytest.Session, running: dict[int, tuple[Mutant, float, str]]
    ) -> None:
        new = functions_in(compile(mutant.made(), str(self.file), "exec"))
        swapped = self._swapped(new)
        if swapped is None:
            self.say(mutant, UNDECIDED)
            return
        inside = [c for n, c in self.old.items() if _own(c) != _own(new[n])]
        lines = {n for c in inside for _, _, n in c.co_lines() if n is not None}
        here = self.seen.by_line.get(mutant.line, set())
        stale = set().union(*(self.on_import.get(n, set()) for n in lines))
        if any(not Path(f).name.startswith("test_") for f in stale):
            self.say(mutant, UNDECIDED)
            return
        ran = set().union(*(self.seen.by_line.get(n, set()) for n in lines))
        chosen = {i for i in ran if str(session.items[i].path) not in stale}
        order = sorted(chosen, key=lambda i: (i not in here, self.seen.seconds[i]))
        pid = os.fork()
        if pid == 0:
            rc = 1
            signal.signal(signal.SIGALRM, signal.SIG_DFL)  # a test that never ends: killed by it
            try:
                os.setsid()
                for function, code in swapped:
                    function.__code__ = code
                for cache in self.caches:
                    cache.cache_clear()
                self.failed = False
                for i in order:
                    item = session.items[i]
                    signal.setitimer(signal.ITIMER_REAL, 5.0 + 10.0 * self.seen.seconds[i])
                    item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
                    if self.failed:
                        break
                rc = int(self.failed)
            finally:
                os._exit(rc)
        allowed_s = 30.0 + 6.0 * sum(self.seen.seconds[i] for i in order)
        running[pid] = (
            mutant,
            time.monotonic() + allowed_s,
            UNDECIDED if stale else SURVIVED,
        )

    def _swapped(self, new: dict[_Name, CodeType]) -> list[tuple[FunctionType, CodeType]] | None:
        """Live functions with their new code; None where only a fresh import tells."""
        if self.old.keys() != new.keys():
            return None
        changed = [n for n in self.old if _own(self.old[n]) != _own(new[n])]
        if not changed:
            return None
        found: list[tuple[FunctionType, CodeType]] = []
        for name in changed:
            outermost = name[0].split(".<locals>")[0]
            whole = [n for n in self.old if n[0] == outermost or n[0].startswith(f"{outermost}.<")]
            if len([n for n in whole if n[0] == outermost]) != 1:
                return None
            code_of = {self.old[n]: new[n] for n in whole}
            at = {(c.co_qualname, c.co_firstlineno, c.co_code): d for c, d in code_of.items()}
            if len(at) != len(whole):
                return None
            here: list[tuple[FunctionType, CodeType]] = []
            for f in self.functions:
                c = f.__code__
                code = at.get((c.co_qualname, c.co_firstlineno, c.co_code))
                if code is None:
                    continue
                if code.co_freevars != c.co_freevars:
                    return None
                here.append((f, code))
            if not any(f.__code__.co_qualname == outermost for f, _ in here):
                return None
            found += here
        return found


def try_warm(
    file: str,
    root: Path,
    tests: Sequence[str],
    mutants: Sequence[Mutant],
    jobs: int,
    until: float,
    say: Report,
    prepare: Callable[[Path], None],
) -> None:
    """Try the changes of one file; ``say`` hears of each, with what became of it."""
    whole = functions_in(compile(mutants[0].whole, file, "exec"))
    inside: list[Mutant] = []
    for mutant in mutants:
        other = functions_in(compile(mutant.made(), file, "exec"))
        if any(
            _own(c) != _own(other[n]) and c.co_flags & _OPTIMIZED
            for n, c in whole.items()
            if n in other
        ):
            inside.append(mutant)
        else:
            say(mutant, UNDECIDED)
    if not inside:
        return
    by_key = {m.key: m for m in inside}
    inlet, outlet = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(inlet)
        rc = 1
        try:
            with os.fdopen(outlet, "w", buffering=1) as out:

                def tell(mutant: Mutant, how: str) -> None:
                    out.write(json.dumps([mutant.key, how]) + "\n")

                try:
                    _collected(file, root, tests, inside, jobs, until, tell, prepare)
                    rc = 0
                except BaseException as error:
                    out.write(json.dumps(["", f"{type(error).__name__}: {error}"]) + "\n")
        finally:
            os._exit(rc)
    os.close(outlet)
    with os.fdopen(inlet) as told:
        for line in told:
            key, how = json.loads(line)
            if not key:
                raise SystemExit(f"mutate: {file}: {how}")
            say(by_key.pop(key), how)
    os.waitpid(pid, 0)
    if by_key:
        raise SystemExit(f"mutate: {file}: {len(by_key)} changes were begun and not ended")


def _collected(
    file: str,
    root: Path,
    tests: Sequence[str],
    mutants: Sequence[Mutant],
    jobs: int,
    until: float,
    say: Report,
    prepare: Callable[[Path], None],
) -> None:
    nowhere = os.open(os.devnull, os.O_RDWR)
    for fd in (0, 1, 2):
        os.dup2(nowhere, fd)
    prepare(root)
    watch = _Watch(root / file, mutants, jobs, until, say)
    how = ["-q", "--tb=no", "--assert=plain", "--noconftest", "--rootdir", str(root)]
    how += ["-p", "no:cacheprovider", "--import-mode=importlib", *tests]
    lines = _LinesOnImport(str(root / file))
    watch.on_import = lines.importing
    with lines:
        pytest.main(how, plugins=[watch])
    if watch.trouble:
        raise SystemExit(watch.trouble)
