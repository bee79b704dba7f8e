"""Losing power at any moment loses no confirmed line and is never taken for tampering."""

import os
from pathlib import Path

import pytest
from steplatch.runner.core.commands import Note
from steplatch.runner.jobs.projection import BrokenJob
from steplatch.runner.jobs.store import begin, bundle_of
from steplatch.runner.record import (
    DataFolder,
    FindingGrade,
    FindingKind,
    JobFolder,
    JournalFailed,
    JournalWriter,
    read,
    verify,
    verify_and_read,
)
from steplatch.runner.record.findings import HEAD_LAG
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.memory import Memory, kept_of

from tests.played import START, bundle_from, lesson_with
from tests.record.power_loss_disk import PowerLossDisk
from tests.record.sample_jobs import HEADER, JOB, UnsyncedDisk, add_line


class _Bench:
    """Runs a program on a disk and looks at every aftermath of every moment of it."""

    def __init__(self, tmp_path: Path) -> None:
        self.root = tmp_path / "jobs"
        self.root.mkdir()
        self.into = tmp_path / "worlds"
        self.into.mkdir()
        self.folder = self.root / JOB
        self.disk = PowerLossDisk(self.root)
        self.confirmed = 0
        self.seen: set[tuple[bytes, ...]] = set()
        self.kinds: set[FindingKind] = set()
        self.torn = b""

    def look(self) -> None:
        for world in self.disk.aftermaths(self.folder, self.into):
            if not world.exists():
                assert self.confirmed == 0, "a confirmed line is gone with its folder"
                continue
            state = tuple(
                part
                for path in sorted(world.iterdir())
                if path.name not in ("lock", "head.new")
                for part in (path.name.encode(), path.read_bytes())
            )
            state = (str(self.confirmed).encode(), *state)
            if state not in self.seen:
                self.seen.add(state)
                self.judge(world)

    def judge(self, world: Path) -> None:
        found = verify(world)
        self.kinds |= {item.kind for item in found.findings}
        assert found.grade <= FindingGrade.CRASH, [str(item) for item in found.findings]
        assert self.confirmed <= found.lines <= self.confirmed + 1
        if self.torn:
            assert any(path.read_bytes().endswith(self.torn) for path in world.iterdir())
        with JournalWriter.open(world, HEADER, UnsyncedDisk()) as writer:
            assert writer.head.lines == found.lines
            add_line(writer, 9)
        assert verify(world).grade <= FindingGrade.NOTE
        assert [line.envelope.seq for line in read(world)] == list(range(1, found.lines + 2))


def test_power_loss_at_any_moment_of_making_and_writing_keeps_every_confirmed_line(
    tmp_path: Path,
) -> None:
    bench = _Bench(tmp_path)
    bench.disk.watch = bench.look
    with JournalWriter.create(bench.folder, HEADER, bench.disk) as writer:
        for number in range(1, 4):
            add_line(writer, number)
            bench.confirmed = number
            bench.look()
    assert {
        FindingKind.NOT_BEGUN,
        FindingKind.TORN_TAIL,
        FindingKind.HEAD_BEHIND,
    } <= bench.kinds
    assert bench.disk.worlds > 100


def test_power_loss_after_many_lines_leaves_a_head_that_is_behind_and_no_more(
    tmp_path: Path,
) -> None:
    bench = _Bench(tmp_path)
    with JournalWriter.create(bench.folder, HEADER, bench.disk) as writer:
        for number in range(1, 2 * HEAD_LAG + 3):
            add_line(writer, number)
            bench.confirmed = number
            bench.look()
    bench.look()
    assert FindingKind.HEAD_BEHIND in bench.kinds
    assert FindingKind.HEAD_FAR_BEHIND not in bench.kinds


def test_power_loss_while_a_torn_line_is_being_set_aside_loses_nothing(tmp_path: Path) -> None:
    bench = _Bench(tmp_path)
    with JournalWriter.create(bench.folder, HEADER, bench.disk) as writer:
        add_line(writer, 1)
        add_line(writer, 2)
    bench.confirmed = 2
    torn = f'{{"prev":"{verify(bench.folder).sha256}","schema'.encode()
    fd = bench.disk.open(bench.folder / "journal.jsonl", os.O_WRONLY | os.O_APPEND)
    bench.disk.write(fd, torn)
    bench.disk.fsync(fd)
    bench.disk.close(fd)
    bench.torn = torn
    bench.disk.watch = bench.look
    with JournalWriter.open(bench.folder, HEADER, bench.disk) as writer:
        assert [item.kind for item in writer.findings] == [FindingKind.TORN_TAIL]
        bench.look()
    assert (bench.folder / "torn-1").read_bytes() == torn
    assert {FindingKind.TORN_TAIL, FindingKind.TORN_KEPT} <= bench.kinds


def test_a_line_that_a_killed_program_left_unsynced_is_synced_before_the_head_counts_it(
    tmp_path: Path,
) -> None:
    bench = _Bench(tmp_path)
    writer = JournalWriter.create(bench.folder, HEADER, bench.disk)
    add_line(writer, 1)

    def die_after_writing() -> None:
        raise KeyboardInterrupt

    bench.disk.watch = die_after_writing
    with pytest.raises(KeyboardInterrupt):
        add_line(writer, 2)
    bench.disk.watch = lambda: None
    writer.close()
    bench.confirmed = 1
    bench.disk.watch = bench.look
    with JournalWriter.open(bench.folder, HEADER, bench.disk) as writer:
        assert [item.kind for item in writer.findings] == [FindingKind.HEAD_BEHIND]
        bench.confirmed = 2
        bench.look()


def test_the_power_loss_disk_does_catch_a_line_that_was_confirmed_without_fsync(
    tmp_path: Path,
) -> None:
    class Forgetful(PowerLossDisk):
        def fsync(self, fd: int) -> None:
            if self._open[fd][0].name != "journal.jsonl":
                super().fsync(fd)

    bench = _Bench(tmp_path)
    bench.disk = Forgetful(bench.root)
    with JournalWriter.create(bench.folder, HEADER, bench.disk) as writer:
        add_line(writer, 1)
    grades = []
    for world in bench.disk.aftermaths(bench.folder, bench.into):
        try:
            grades.append(verify(world).grade)
        except JournalFailed:
            continue
    assert FindingGrade.BROKEN in grades


@pytest.mark.parametrize("forgetful", ["", "texts", "practice.json"])
def test_power_loss_leaves_the_texts_and_the_practice_vehicle_of_every_job_that_was_confirmed(
    tmp_path: Path, forgetful: str
) -> None:
    """``forgetful`` names what this disk does not sync: then the test must see the loss."""

    class Forgetful(PowerLossDisk):
        def fsync(self, fd: int) -> None:
            name = self._open[fd][0].name
            if not forgetful or name.removesuffix(".new") != forgetful:
                super().fsync(fd)

    data = DataFolder(tmp_path, "the test")
    data.jobs.mkdir()
    disk, lesson, bundle = Forgetful(data.jobs), lesson_with(), bundle_from()
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    clock = VehicleClock(START, vehicle)
    memory = Memory(vehicle, clock.start, disk=disk)
    session, folder = begin(
        data, bundle, clock, lesson.cast.worker, practice=True, confirmed=memory, disk=disk
    )
    memory.folder = folder.path
    lost: set[str] = set()
    kept = 0

    def look() -> None:
        for world in disk.aftermaths(folder.path, tmp_path / "worlds"):
            if not world.exists():
                lost.add("folder")
                continue
            checked, lines = verify_and_read(world)
            assert checked.sound and checked.lines >= confirmed
            try:
                bundle_of(JobFolder(world), lines)
            except BrokenJob:
                lost.add("texts")
            try:
                stood = kept_of(JobFolder(world))
                if kept and (stood is None or stood.stood[-1][0] < kept):
                    lost.add("practice.json")
            except BrokenJob:
                lost.add("practice.json")

    confirmed = session.writer.head.lines
    look()
    memory(confirmed)
    disk.watch = look
    for number in range(3):
        kept = confirmed = session.writer.head.lines
        session.submit(Note("text_fault", {"text": f"note {number}"}))
    look()
    session.writer.close()
    assert lost == ({forgetful} if forgetful else set())
    assert disk.worlds > 20
