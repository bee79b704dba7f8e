"""A killed job comes back as what was confirmed.

The oracle of the kill test is what the killed program had confirmed on its pipe, kept by the
test; the record is folded afterwards and must agree.
"""

import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.cli.practice_job import context_of, rebuilt
from steplatch.runner.core.commands import Answer, Begin, Interrupted
from steplatch.runner.core.engine import decide
from steplatch.runner.core.job import Job, Log, evolve
from steplatch.runner.jobs.auditing import AuditGrade, audit
from steplatch.runner.jobs.projection import BrokenJob, fold
from steplatch.runner.jobs.store import bundle_of, resume
from steplatch.runner.record import JobFolder, read, verify
from steplatch.runner.screen.guide import guide
from steplatch.runner.training.lesson import Script
from steplatch.safety.bay import FACTS, SPRAYS, Rate, Trip
from steplatch.safety.effects import EFFECTS
from steplatch.safety.occurrences import Happening

from tests.played import Played, Stands, lesson_with, play

ROOT = Path(__file__).resolve().parents[1]
SEED = int(os.environ.get("STEPLATCH_KILL_SEED", "20260302"))
KILLS = 10


def told_of(seq: int, job: Job) -> str:
    """What the killed program tells of line ``seq``: all that decides, each tenth time all."""
    return digest(job if seq % 10 == 0 else replace(job, log=Log()))


def digest(job: Job) -> str:
    """One hash for all that a job holds, the same in every process."""

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {str(k): plain(v) for k, v in sorted(value.items(), key=lambda i: str(i[0]))}
        if isinstance(value, list | tuple):
            return [plain(v) for v in value]
        if isinstance(value, set | frozenset):
            return sorted(str(plain(v)) for v in value)
        return getattr(value, "value", value)

    text = json.dumps(plain(asdict(job)), sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


# -- kill -9 ------------------------------------------------------------------------------------

MOTHER = """
import datetime, os, signal, sys
from pathlib import Path
import steplatch.runner.cli.practice_job as play
import steplatch.runner.assess.judge, steplatch.runner.assess.triage
from steplatch.runner.cli.main import parser
from steplatch.runner.cli.practise import LESSON_START
from steplatch.runner.record import find_data_folder, make_data_folder
from tests.test_resume import told_of

signal.signal(signal.SIGCHLD, signal.SIG_IGN)
begin = play.begin_at_vehicle

def job(folder):
    told = os.open(folder / "told", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    kept = []

    def confirmed(seq):
        if kept:
            os.write(told, f"{seq} {told_of(seq, kept[0].job)}\\n".encode())

    def watched(*args):
        session, place = begin(*args, confirmed=confirmed)
        kept.append(session)
        return session, place

    play.begin_at_vehicle = watched
    args = parser().parse_args(["practise", "--hands-free", "--out", str(folder)])
    data = find_data_folder(args.out, {})
    make_data_folder(data)
    play.hands_free(args, data, datetime.datetime.fromisoformat(LESSON_START))

for line in sys.stdin:
    pid = os.fork()
    if pid == 0:
        sys.stdout = open(os.devnull, "w")
        job(Path(line.strip()))
        os._exit(0)
    print(pid, flush=True)
"""
"""Loads the program once, then plays one whole job in a new process for each folder asked for."""


@pytest.fixture(scope="module")
def mother() -> Iterator["subprocess.Popen[str]"]:
    with subprocess.Popen(
        [sys.executable, "-c", MOTHER],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    ) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()


def _killed_after(
    mother: "subprocess.Popen[str]", folder: Path, lines: int, wait_s: float
) -> tuple[JobFolder, dict[int, str]]:
    """Start a whole job in a process of its own; kill -9 it ``wait_s`` after so many lines."""
    assert mother.stdin is not None and mother.stdout is not None
    mother.stdin.write(f"{folder}\n")
    mother.stdin.flush()
    pid = int(mother.stdout.readline())
    told = folder / "told"
    give_up = time.monotonic() + 60
    while not told.exists() or told.read_bytes().count(b"\n") < lines:
        assert time.monotonic() < give_up, "the job does not go on"
        time.sleep(0.002)
    time.sleep(wait_s)
    os.kill(pid, signal.SIGKILL)
    while _lives(pid):
        time.sleep(0.002)
    whole = told.read_text(encoding="ascii").rpartition("\n")[0]
    confirmed = {int(seq): state for seq, state in (line.split() for line in whole.splitlines())}
    (path,) = (folder / "jobs").iterdir()
    return JobFolder(path), confirmed


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.fixture(scope="module")
def moments() -> list[tuple[int, float]]:
    chance = random.Random(SEED)
    print(f"seed {SEED} (set STEPLATCH_KILL_SEED for another)")
    return [(chance.randrange(3, 330), chance.random() * 0.01) for _ in range(KILLS)]


@pytest.mark.parametrize("number", range(KILLS))
def test_a_job_killed_at_a_random_moment_comes_back_as_what_was_confirmed(
    number: int,
    moments: list[tuple[int, float]],
    mother: "subprocess.Popen[str]",
    quick: Path,
) -> None:
    lines, wait_s = moments[number]
    folder, confirmed = _killed_after(mother, quick, lines, wait_s)
    record = list(read(folder.path))
    assert not fold(record).core.ended, "it ended before it was killed"
    last = max(confirmed)
    assert last <= len(record) <= last + 1, (SEED, number)  # one line may have been on its way
    for seq in {last, last // 10 * 10, last // 20 * 10, 3} & set(confirmed):
        assert told_of(seq, fold(record[:seq])) == confirmed[seq], (SEED, number, seq)

    unbroken = fold(record)
    clock, hand, memory = rebuilt(folder)
    assert hand is not None and memory is not None
    at = clock.now()
    plan = bundle_of(folder, record).plan
    expected = unbroken
    for event in decide(plan, unbroken, Interrupted("killed"), at, "apprentice-1").events:
        expected = evolve(expected, event)
    session, _, _ = resume(folder, clock, "apprentice-1", "killed", memory)
    try:
        assert digest(session.job) == digest(expected), (SEED, number)
        _perishable_facts_are_unknown(unbroken, session.job)
        _ledger_after(unbroken, session.job)
    finally:
        session.writer.close()
    if number < 3:  # deciding all again takes longer than the rest; the chain is always checked
        found = audit(folder)
        assert found.intact and found.grade is AuditGrade.GOOD, (found.differences, found.wrong)
    assert verify(folder.path).sound


def _perishable_facts_are_unknown(before: Job, after: Job) -> None:
    kept = EFFECTS[Happening.INTERRUPTED].keeps | {"fluid_in"}
    for fact in FACTS:
        if fact not in kept:
            assert getattr(after.bay, fact).unknown, fact
    asked = set(after.core.ask_again)
    assert {"engine", "hands", "key"} & {
        f for f in FACTS if not getattr(before.bay, f).unknown and f not in kept
    } <= asked


def _ledger_after(before: Job, after: Job) -> None:
    if before.bay.permit in SPRAYS and before.bay.rate is not Rate.LOADED:
        assert after.bay.wet is None
    else:
        assert after.bay.wet == before.bay.wet


def test_a_killed_practice_job_is_played_on_to_its_end_at_the_same_vehicle(quick: Path) -> None:
    lesson = lesson_with()
    cut = 170

    class Cut(Script):
        """Ends like a program that is killed: nothing is told to the engine."""

        def ask(self, prompt: Any) -> str:
            if session_lines() >= cut:
                raise MemoryError("cut off here")
            return super().ask(prompt)

    def session_lines() -> int:
        journals = list(quick.glob("jobs/*/journal.jsonl"))
        return journals[0].read_bytes().count(b"\n") if journals else 0

    talk = Cut(lesson)
    with pytest.raises(MemoryError):
        play(quick, lesson, talk=talk)
    (path,) = (quick / "jobs").iterdir()
    folder = JobFolder(path)
    record = list(read(folder.path))
    clock, hand, memory = rebuilt(folder)
    assert hand is not None
    kept = json.loads((folder.path / "practice.json").read_text(encoding="utf-8"))
    assert kept["seq"] == len(record)
    assert clock.now().monotonic_ms >= record[-1].envelope.times.monotonic_ms
    assert clock.now().boot == record[-1].envelope.times.boot
    rest = lesson.model_copy(update={"answers": {**lesson.answers, "look:key": "boxed"}})
    session, bundle, _ = resume(folder, clock, lesson.cast.worker, confirmed=memory)
    try:
        onward = Script(rest)
        ended = guide(context_of(session, folder, onward, bundle, hand.vehicle))
    finally:
        session.writer.close()
    assert ended == "finished"
    assert audit(folder).grade is AuditGrade.GOOD


def test_the_vehicle_of_a_practice_job_is_rebuilt_as_it_stood(good: Played) -> None:
    clock, hand, memory = rebuilt(good.folder)
    assert hand is not None and memory is not None
    assert hand.vehicle.truth() == good.vehicle.truth()
    assert hand.vehicle.faults == good.vehicle.faults
    assert clock.now() == good.session.clock.now()


def test_a_practice_vehicle_that_cannot_be_rebuilt_says_where_and_what_to_do(
    good: Played, tmp_path: Path
) -> None:
    folder = copy_of(good, tmp_path)
    (folder.path / "practice.json").write_text('{"seed": 7, "acts": [["explode", [], {}]]}')
    with pytest.raises(BrokenJob, match=r"practice\.json.*begin a new practice job"):
        rebuilt(folder)


@pytest.mark.parametrize(("loaded", "known"), [(False, False), (True, True)])
def test_an_open_spray_leaves_the_ledger_unknown_unless_the_volume_was_loaded(
    stands: Stands, loaded: bool, known: bool
) -> None:
    job = stands.at("off-spray")
    assert job.bay.wet == 0
    if loaded:
        job = stands.after(job, Answer("off-spray", "loaded 14 mL"))
    job = stands.after(job, Begin("off-spray", "" if loaded else "3"))
    assert job.bay.wet is not None and job.bay.wet >= 140
    job = stands.after(job, Interrupted("killed"))
    assert job.bay.wet == (140 if known else None)
    assert (Trip.OVERDOSE in job.bay.trips) == (not known)


def test_a_job_cut_off_before_its_first_line_says_so(good: Played, tmp_path: Path) -> None:
    folder = copy_of(good, tmp_path)
    folder.journal.write_bytes(b"")
    (folder.path / "head").unlink()
    with pytest.raises(BrokenJob, match="begin a new one"):
        resume(folder, good.session.clock, "apprentice-1")


def test_a_job_cut_off_before_its_limits_gets_them_when_it_is_resumed(
    good: Played, tmp_path: Path
) -> None:
    folder = copy_of(good, tmp_path)
    cut(folder, 1)
    session, _, _ = resume(folder, good.session.clock, "apprentice-1")
    session.writer.close()
    assert session.job.core.limits == good.session.job.core.limits
    assert audit(folder).grade is AuditGrade.GOOD


def copy_of(good: Played, into: Path) -> JobFolder:
    shutil.copytree(good.folder.path, into / good.folder.id)
    return JobFolder(into / good.folder.id)


def rechained(folder: JobFolder, raw: list[bytes]) -> None:
    sha = hashlib.sha256(raw[-1]).hexdigest()
    head = {"job": folder.id, "lines": len(raw), "sha256": sha}
    folder.head.write_bytes(json.dumps(head, separators=(",", ":")).encode() + b"\n")


def cut(folder: JobFolder, lines: int) -> None:
    """Leave the first ``lines`` lines, with the head that belonged to them."""
    raw = folder.journal.read_bytes().splitlines(keepends=True)[:lines]
    folder.journal.write_bytes(b"".join(raw))
    rechained(folder, raw)
