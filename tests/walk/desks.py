"""Where a walk's commands are given: on disk, with kills, or in mind alone, for speed."""

import os
import random
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol

from steplatch.runner.core.clock import Times, times_at
from steplatch.runner.core.codec import decode_event
from steplatch.runner.core.commands import Command, Interrupted, Open, SetLimits, Tick
from steplatch.runner.core.engine import Outcome, decide
from steplatch.runner.core.events import Ticked
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.plan import Plan
from steplatch.runner.jobs.auditing import audit
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.projection import fold
from steplatch.runner.jobs.sealing import seal_ended
from steplatch.runner.jobs.store import begin, resume
from steplatch.runner.record import find_data_folder, make_data_folder, read, verify
from steplatch.runner.record.seal import is_sealed

from tests.procedure_walk import bundle

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
HOWS = ("whole", "no head", "torn")
"""How a killed program leaves its last line: whole, without its head, or torn."""


class HandClock:
    """A clock that the walk moves: forward, back, to another boot, or to another date."""

    def __init__(self) -> None:
        self.ms, self.boot, self.wall_ms = 0, 0, 0

    def now(self) -> Times:
        moment = START + timedelta(milliseconds=self.ms + self.wall_ms)
        return times_at(moment, self.ms, self.ms, f"boot-{self.boot}")

    def move(self, ms: int) -> None:
        self.ms = max(0, self.ms + ms)


class Desk(Protocol):
    """Takes commands for one job. ``unsaid`` tells whether the last one left no line."""

    plan: Plan
    job: Job
    clock: HandClock

    def decide(self, command: Command, by: str) -> Outcome: ...
    def submit(self, command: Command, by: str, foreseen: Outcome | None = None) -> Outcome: ...
    def kill(self, how: str, luck: int) -> tuple[bool, Job, tuple[Any, ...]]: ...
    def close(self) -> bool: ...


def only_time(command: Command, outcome: Outcome) -> bool:
    """Whether a command is a tick that nothing follows from: such a one leaves no line."""
    return isinstance(command, Tick) and all(isinstance(e, Ticked) for e in outcome.events)


class InMind:
    """The real ``decide`` and ``evolve`` and nothing else."""

    def __init__(self, worker: str, limits: SetLimits | None = None, practice: bool = True) -> None:
        self.plan, self.job, self.clock = bundle().plan, Job(), HandClock()
        self.worker = worker
        self.before = self.job
        self.submit(Open(practice, bundle().roster(), bundle().hashes()), worker)
        self.submit(limits or bundle().limits_command(), worker)

    def decide(self, command: Command, by: str) -> Outcome:
        """What the command would lead to now."""
        return decide(self.plan, self.job, command, self.clock.now(), by)

    def submit(self, command: Command, by: str, foreseen: Outcome | None = None) -> Outcome:
        """Decide (or take what was decided just now), and apply what follows."""
        outcome = foreseen or self.decide(command, by)
        if not only_time(command, outcome):
            self.before = self.job
            for event in outcome.events:
                self.job = evolve(self.job, event)
        return outcome

    def kill(self, how: str, luck: int) -> tuple[bool, Job, tuple[Any, ...]]:
        """(whether the last command is lost, the job that was found, the events that follow)."""
        lost = how == "torn" and bool(self.before.log.numbers) and self.before is not self.job
        found = self.before if lost else self.job
        self.job = found
        if found.core.ended:
            return lost, found, ()
        outcome = self.submit(Interrupted("the program was started again"), self.worker)
        self.before = self.job
        return lost, found, outcome.events

    def close(self) -> bool:
        """Nothing is kept."""
        return False


class OnDisk:
    """A real session with its journal, killed as the system kills, resumed as after a crash."""

    def __init__(self, room: Path, worker: str, practice: bool) -> None:
        self.data = find_data_folder(room, {})
        make_data_folder(self.data)
        self.clock, self.worker = HandClock(), worker
        self.session, self.folder = begin(
            self.data, bundle(), self.clock, worker, practice=practice
        )
        self.plan, self.job = self.session.plan, self.session.job
        self.before: tuple[bytes, int, Job] | None = None

    def decide(self, command: Command, by: str) -> Outcome:
        """What the command would lead to now."""
        return decide(self.session.plan, self.job, command, self.clock.now(), by)

    def submit(self, command: Command, by: str, foreseen: Outcome | None = None) -> Outcome:
        """Decide anew, write, apply."""
        head, size = self.folder.head.read_bytes(), self.folder.journal.stat().st_size
        job = self.job
        outcome = self.session.submit(command, by)
        if self.folder.journal.stat().st_size > size:
            self.before = head, size, job
        self.job = self.session.job
        return outcome

    def kill(self, how: str, luck: int) -> tuple[bool, Job, tuple[Any, ...]]:
        """As in mind; nothing is closed in order, and no more than one answer may be lost."""
        writer = self.session.writer
        os.close(writer._fd)  # type: ignore[arg-type]  # as the system does for a dead process
        os.close(writer.lock._fd)  # type: ignore[arg-type]
        writer._fd = writer.lock._fd = None
        journal, expected, lost = self.folder.journal, self.job, False
        if self.before is not None and how != "whole":
            head, size, job = self.before
            self.folder.head.write_bytes(head)  # the last line was never confirmed
            if how == "torn":
                raw = journal.read_bytes()
                journal.write_bytes(raw[: random.Random(luck).randrange(size, len(raw))])
                expected, lost = job, True
        self.session, _, _ = resume(self.folder, self.clock, self.worker)
        self.before = None
        lines = list(read(self.folder.path))
        stood = fold(lines if expected.core.ended else lines[:-1])
        assert stood == expected, "more was lost than the answer that was not confirmed"
        self.job = self.session.job
        assert self.job == fold(lines)
        if lines[-1].command["kind"] != "Interrupted":
            return lost, expected, ()
        return lost, expected, tuple(decode_event(p) for p in lines[-1].outcome["events"])

    def close(self) -> bool:
        """Close, audit, and seal what has ended for real. Whether it was sealed."""
        self.session.writer.close()
        assert verify(self.folder.path).sound
        assert fold(list(read(self.folder.path))) == self.job
        keys, sealed = key_folder(self.data), False
        if self.job.core.ended and not self.job.log.practice:
            keys.make(bytes(range(32)))
            seal_ended(self.folder, keys.open(), "at the end")
            sealed = is_sealed(self.folder)
            assert sealed
        found = audit(self.folder, known_keys=keys.public_keys() if sealed else None)
        assert found.intact and found.differences == (), found.differences[:3]
        return sealed


@contextmanager
def room_in_memory() -> Iterator[Path]:
    """A folder in memory where there is one: many lines are synced, and no power is cut here."""
    memory = Path("/dev/shm")
    with TemporaryDirectory(
        prefix="steplatch-walk-", dir=memory if os.access(memory, os.W_OK) else None
    ) as name:
        yield Path(name)
