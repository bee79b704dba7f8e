"""Rows on the record: writing, checking, coming back to, auditing and listing jobs.

Each function makes what it needs under a folder and gives name, goal, the program's work, and the
bare work that it is held against.
"""

import hashlib
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from steplatch.runner.cli.practice_job import rebuilt
from steplatch.runner.core.codec import decode_event
from steplatch.runner.core.commands import Note
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.jobs import store
from steplatch.runner.jobs.auditing import audit_job
from steplatch.runner.jobs.book import JobBook
from steplatch.runner.jobs.session import Session
from steplatch.runner.record import (
    DataFolder,
    Disk,
    JobFolder,
    list_jobs,
    verify,
    verify_and_read,
)
from steplatch.runner.record.clocks import RealClock

from tests.attacks.real_jobs import WHOLE, real_job
from tests.played import bundle_from

Made = tuple[str, str, Callable[[], object], Callable[[], object]]
LINES = 10_000
JOBS = 300


class _Unsynced(Disk):
    """Fills a folder for a measure; what is measured syncs."""

    def fsync(self, fd: int) -> None:
        """No waiting."""


def _long_job(room: Path) -> JobFolder:
    """A real job with ten thousand lines: notes, as a long job has readings."""
    data = DataFolder(room / "long", "the bench")
    if not data.jobs.is_dir():
        data.jobs.mkdir(parents=True)
        session, _ = store.begin(
            data, bundle_from(), RealClock(), "technician-1", practice=False,
            token="aaaaaaaa", disk=_Unsynced(),
        )  # fmt: skip
        for number in range(LINES):
            session.submit(Note("vin", {"typed": f"dry, reading {number}"}))
        session.writer.close()
    (path,) = data.jobs.iterdir()
    return JobFolder(path)


def _many_jobs(room: Path) -> DataFolder:
    """Hundreds of ended real jobs in one data folder."""
    data = DataFolder(room / "many", "the bench")
    if not data.jobs.is_dir():
        folder, _ = real_job(data, key=False, close=False, worked=WHOLE)
        letters = "abcdefghijklmnopqrstuvwxyz234567"
        for number in range(JOBS - 1):
            token = "b" + "".join(letters[number >> shift & 31] for shift in (15, 10, 5, 0)) + "aaa"
            _copy(folder, f"{folder.id[:11]}{token}")
    return data


def _copy(folder: JobFolder, job: str) -> None:
    """The same job under another id, its chain worked out anew."""
    there = folder.path.with_name(job)
    shutil.copytree(folder.path, there)
    prev, out = "0" * 64, []
    for raw in folder.journal.read_bytes().splitlines():
        fields = {**json.loads(raw), "prev": prev, "job": job}
        line = json.dumps(fields, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
        prev = hashlib.sha256(line).hexdigest()
        out.append(line)
    (there / "journal.jsonl").write_bytes(b"".join(out))
    head = {"job": job, "lines": len(out), "sha256": prev}
    (there / "head").write_bytes(json.dumps(head, separators=(",", ":")).encode() + b"\n")


def chain_check(room: Path) -> Made:
    """The chain of ten thousand lines, against one SHA-256 over the file."""
    folder = _long_job(room)
    bare = lambda: hashlib.sha256(folder.journal.read_bytes()).hexdigest()  # noqa: E731
    return "chain check", "3.3", lambda: verify(folder.path), bare


def read_whole(room: Path) -> Made:
    """The chain checked and every line read, against parsing the lines as JSON alone."""
    folder = _long_job(room)
    bare = lambda: [json.loads(raw) for raw in folder.journal.read_bytes().splitlines()]  # noqa: E731
    return "journal read and checked", "3", lambda: verify_and_read(folder.path), bare


def replay(room: Path) -> Made:
    """The events of ten thousand lines applied, against a loop over them."""
    folder = _long_job(room)
    lines = verify_and_read(folder.path)[1]
    events = [decode_event(plain) for line in lines for plain in line.outcome["events"]]

    def again() -> Job:
        job = Job()
        for event in events:
            job = evolve(job, event)
        return job

    return (
        f"replay of {len(events)} events",
        "seconds",
        again,
        lambda: [hash(id(e)) for e in events],
    )


def resume_long(room: Path) -> Made:
    """Coming back to a job of ten thousand lines, against reading its bytes once; without name."""
    folder = _long_job(room)
    data = DataFolder(room / "long", "the bench")

    def again() -> None:
        there = store.find(data, None)
        taken = store.take_up(there)
        rebuilt(there, None, taken.lines)
        store.bundle_of(there, taken.lines)
        store.other_rules(taken.lines)
        taken.writer.close()

    return "resume of 10,000 lines", "500 ms", again, folder.journal.read_bytes


def resume_among_many(room: Path) -> Made:
    """Finding the last unfinished job among ended ones, against a stat of each journal."""
    data = _many_jobs(room)

    def found() -> None:
        try:
            store.find(data, None)
        except store.NoSuchJob:
            return

    bare = lambda: [p.joinpath("journal.jsonl").stat() for p in data.jobs.iterdir()]  # noqa: E731
    return f"last unfinished among {JOBS} ended jobs", "500 ms of 1,000", found, bare


def answer(room: Path) -> Made:
    """One answer decided and kept, against one write and one fsync of as many bytes."""
    folder = _long_job(room)
    twin = folder.path.parent.parent / "answer" / folder.id
    shutil.copytree(folder.path, twin, dirs_exist_ok=True)
    lines = (twin / "journal.jsonl").read_bytes().splitlines(keepends=True)[:50]
    (twin / "journal.jsonl").write_bytes(b"".join(lines))
    head = {"job": folder.id, "lines": 50, "sha256": hashlib.sha256(lines[-1]).hexdigest()}
    (twin / "head").write_bytes(json.dumps(head, separators=(",", ":")).encode() + b"\n")
    session: Session = store.reopen(JobFolder(twin), RealClock(), "technician-1")
    fd = os.open(room / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def bare() -> None:
        for _ in range(20):
            os.write(fd, lines[-1])
            os.fsync(fd)

    def work() -> None:
        for _ in range(20):
            session.submit(Note("vin", {"typed": "dry"}))

    return "20 answers recorded", "bare + 400 ms", work, bare


def audit_all(room: Path) -> Made:
    """Ended jobs audited, against parsing their journals."""
    data = _many_jobs(room)
    folders = list_jobs(data)[:40]

    def bare() -> None:
        for folder in folders:
            for raw in folder.journal.read_bytes().splitlines():
                json.loads(raw)

    return "audit of 40 jobs", "seconds", lambda: [audit_job(f) for f in folders], bare


def book_rebuild(room: Path) -> Made:
    """The job book made anew, against parsing the journals."""
    data = _many_jobs(room)

    def work() -> None:
        with JobBook.open(data, rebuild=True) as book:
            book.sync()

    def bare() -> None:
        for folder in list_jobs(data):
            for raw in folder.journal.read_bytes().splitlines():
                json.loads(raw)

    return f"book of {JOBS} jobs made anew", "6 ms a job", work, bare


ROWS = (
    answer, chain_check, read_whole, replay, resume_long, resume_among_many, audit_all,
    book_rebuild,
)  # fmt: skip
