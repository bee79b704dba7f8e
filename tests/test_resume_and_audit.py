"""A killed job comes back as what was confirmed; a changed or forged record is found.

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
from steplatch.runner.cli.practice_job import bundle_for, context_of, rebuilt
from steplatch.runner.core.codec import encode
from steplatch.runner.core.commands import Answer, Begin, Interrupted, Report
from steplatch.runner.core.engine import decide
from steplatch.runner.core.job import Job, Log, evolve
from steplatch.runner.jobs.auditing import AuditGrade, audit
from steplatch.runner.jobs.projection import BrokenJob, fold
from steplatch.runner.jobs.session import outcome_to_json
from steplatch.runner.jobs.store import bundle_of, load, resume
from steplatch.runner.record import JobFolder, read, verify
from steplatch.runner.screen.guide import guide
from steplatch.runner.training.lesson import Script
from steplatch.safety.bay import FACTS, SPRAYS, Rate, Trip
from steplatch.safety.effects import EFFECTS
from steplatch.safety.occurrences import Happening

from tests.played import Played, Stands, lesson_with, play, times

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
from tests.test_resume_and_audit import told_of

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
    folder = _copy(good, tmp_path)
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
    folder = _copy(good, tmp_path)
    folder.journal.write_bytes(b"")
    (folder.path / "head").unlink()
    with pytest.raises(BrokenJob, match="begin a new one"):
        resume(folder, good.session.clock, "apprentice-1")


def test_a_job_cut_off_before_its_limits_gets_them_when_it_is_resumed(
    good: Played, tmp_path: Path
) -> None:
    folder = _copy(good, tmp_path)
    _cut(folder, 1)
    session, _, _ = resume(folder, good.session.clock, "apprentice-1")
    session.writer.close()
    assert session.job.core.limits == good.session.job.core.limits
    assert audit(folder).grade is AuditGrade.GOOD


# -- changed bytes ------------------------------------------------------------------------------


def _copy(good: Played, into: Path) -> JobFolder:
    shutil.copytree(good.folder.path, into / good.folder.id)
    return JobFolder(into / good.folder.id)


def _head(folder: JobFolder, raw: list[bytes]) -> None:
    sha = hashlib.sha256(raw[-1]).hexdigest()
    head = {"job": folder.id, "lines": len(raw), "sha256": sha}
    folder.head.write_bytes(json.dumps(head, separators=(",", ":")).encode() + b"\n")


def _cut(folder: JobFolder, lines: int) -> None:
    """Leave the first ``lines`` lines, with the head that belonged to them."""
    raw = folder.journal.read_bytes().splitlines(keepends=True)[:lines]
    folder.journal.write_bytes(b"".join(raw))
    _head(folder, raw)


@pytest.fixture
def copy(good: Played, quick: Path) -> Iterator[JobFolder]:
    yield _copy(good, quick)


def test_an_untouched_job_is_intact_and_decided_the_same_throughout(good: Played) -> None:
    found = audit(good.folder)
    assert found.intact and found.differences == () and found.grade is AuditGrade.GOOD
    assert found.lines == len(list(read(good.folder.path))) > 300
    assert found.ended == "finished"


def test_any_changed_byte_of_the_last_line_or_of_300_others_is_found_with_its_line(
    copy: JobFolder,
) -> None:
    _cut(copy, 80)
    raw = copy.journal.read_bytes()
    last = raw.rstrip(b"\n").rfind(b"\n") + 1
    chance = random.Random(SEED)
    print(f"seed {SEED}")
    places = [*range(last, len(raw)), *chance.sample(range(last), 300)]
    with copy.journal.open("r+b") as journal:
        for at in places:
            new = chance.choice([b for b in range(256) if b != raw[at]])
            journal.seek(at)
            journal.write(bytes([new]))
            journal.flush()
            found = verify(copy.path)
            line = raw.count(b"\n", 0, at) + 1
            assert not found.sound, (SEED, at)
            said = "\n".join(str(f) for f in found.findings)
            places_named = (f"line {line}", f"line {line + 1}", f"counts {line} lines")
            assert any(place in said for place in places_named), (SEED, at, line, said)
            journal.seek(at)
            journal.write(raw[at : at + 1])
            journal.flush()
    assert verify(copy.path).sound


def test_any_changed_byte_of_the_head_file_is_found(copy: JobFolder) -> None:
    _cut(copy, 80)
    raw = copy.head.read_bytes()
    for at in range(len(raw)):
        copy.head.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        found = audit(copy)
        assert not found.intact and found.chain.findings, at
    copy.head.write_bytes(raw)
    assert audit(copy).intact


def test_a_changed_or_missing_text_that_the_job_rests_on_is_named(copy: JobFolder) -> None:
    _cut(copy, 5)
    kept = sorted((copy.path / "texts").iterdir())
    assert len(kept) > 15
    for path in kept:
        raw = path.read_bytes()
        path.write_bytes(raw.replace(b"e", b"E", 1))
        with pytest.raises(BrokenJob, match="was changed after the job began"):
            audit(copy)
        path.unlink()
        with pytest.raises(BrokenJob, match="cannot be read"):
            audit(copy)
        path.write_bytes(raw)
    assert audit(copy).grade is AuditGrade.GOOD


# -- forged, with a valid chain -----------------------------------------------------------------


def _forge(folder: JobFolder, change: Any) -> None:
    """Write the journal anew with a valid chain and head, each line as ``change`` leaves it."""
    raw: list[bytes] = []
    prev = "0" * 64
    lines = [json.loads(line) for line in folder.journal.read_bytes().splitlines()]
    for fields in change(lines):
        fields["prev"] = prev
        fields["seq"] = len(raw) + 1
        line = json.dumps(fields, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
        prev = hashlib.sha256(line).hexdigest()
        raw.append(line)
    folder.journal.write_bytes(b"".join(raw))
    _head(folder, raw)


def _outcome_of(folder: JobFolder, seq: int, command: Any, doctored: Any) -> dict[str, Any]:
    """What the engine would have written for ``command`` had the bay been as ``doctored``."""
    lines = list(read(folder.path))
    job = fold(lines[: seq - 1])
    plan = bundle_of(folder, lines).plan
    bay = doctored(job.bay)
    believed = replace(job, core=replace(job.core, bay=bay))
    outcome = decide(plan, believed, command, times(job.log), "apprentice-1")
    assert not outcome.refused
    return json.loads(json.dumps(outcome_to_json(outcome)))  # type: ignore[no-any-return]


def test_a_forged_start_with_the_ledger_unknown_is_found_by_deciding_again(
    copy: JobFolder,
) -> None:
    lines = list(read(copy.path))
    seq = next(
        line.envelope.seq
        for line in lines
        if line.command == encode(Begin("run-start")) and not line.outcome["refused"]
    )

    def unknown(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Before the start somebody reported not to know what went in; the report is kept,
        what it led to is forged, so that the start that follows looks let through."""
        job = fold(list(read(copy.path))[: seq - 1])
        plan = bundle_of(copy, list(read(copy.path))).plan
        report = Report("overdosed")
        outcome = outcome_to_json(decide(plan, job, report, times(job.log, 0.0), "apprentice-1"))
        events = [e for e in outcome["events"] if e["kind"] not in ("Tripped", "Moved")]  # type: ignore[attr-defined]
        inserted = {
            **lines[seq - 2],
            "command": encode(report),
            "outcome": {"events": events, "refused": []},
        }
        return [*lines[: seq - 1], inserted, *lines[seq - 1 :]]

    _forge(copy, unknown)
    found = audit(copy)
    assert found.intact, "the chain of a forged journal is valid"
    assert any(
        text.startswith(f"line {seq + 1}:") and "let through" in text and "start-ledger" in text
        for text in found.differences
    ), found.differences[:5]


def test_forged_limits_a_forged_role_and_a_forged_roster_are_found(
    copy: JobFolder, good: Played
) -> None:
    original = copy.journal.read_bytes(), copy.head.read_bytes()

    def limits(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        for part in (lines[1]["command"], lines[1]["outcome"]["events"][-1]):
            part["extended"] = 999
        return lines

    def role(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        lines[40]["role"] = "supervisor"
        return lines

    def roster(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        opened = next(e for e in lines[0]["outcome"]["events"] if e["kind"] == "Opened")
        for people in (lines[0]["command"]["people"], opened["people"]):
            people[0]["role"] = "supervisor"
        return lines

    for change, said in ((limits, "limits"), (role, "supervisor"), (roster, "roster")):
        _forge(copy, change)
        found = audit(copy)
        assert found.intact
        assert found.grade is AuditGrade.CHANGED
        texts = (*found.differences, *found.wrong)
        assert any(said in text for text in texts), (said, texts[:3])
        copy.journal.write_bytes(original[0])
        copy.head.write_bytes(original[1])


def test_a_forged_event_that_nobody_wrote_ends_the_audit_with_its_line(copy: JobFolder) -> None:
    def strange(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        lines[50]["outcome"]["events"].append({"kind": "Unlatched", "trip": "fire"})
        return lines

    _forge(copy, strange)
    found = audit(copy)
    assert found.intact
    assert any("line 51" in text and "Unlatched" in text for text in found.differences)


def test_a_broken_chain_is_not_loaded_for_a_sheet(copy: JobFolder) -> None:
    raw = copy.journal.read_bytes()
    copy.journal.write_bytes(raw.replace(b"spray_ended", b"spray_nonex", 1))
    with pytest.raises(BrokenJob, match="line"):
        load(copy)
    assert bundle_for("clean-above").hashes()
