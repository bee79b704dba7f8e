"""Each call to the disk fails, falls short or is the last one: nothing confirmed is ever lost."""

import shutil
from pathlib import Path

import pytest
from steplatch.runner.record import (
    FindingGrade,
    FindingKind,
    JournalFailed,
    JournalWriter,
    LineState,
    read,
    verify,
)

from tests.record.failing_disk import Crashed, FailingDisk, Fault
from tests.record.sample_jobs import HEADER, JOB, UnsyncedDisk, add_line, make_job

LINES = 2


def _write_some(folder: Path, disk: FailingDisk, confirmed: list[int]) -> None:
    writer = JournalWriter.create(folder, HEADER, disk)
    try:
        for number in range(1, LINES + 1):
            add_line(writer, number)
            confirmed.append(number)
    except JournalFailed:
        before = disk.calls
        with pytest.raises(JournalFailed, match="nothing more is recorded"):
            add_line(writer, 99)
        assert disk.calls == before, "a held writer must not touch the disk"
        assert writer.held
        raise
    finally:
        disk.closing = True
        writer.close()


def _calls_of(tmp_path: Path) -> int:
    disk = FailingDisk()
    _write_some(tmp_path / "count" / JOB, disk, [])
    return disk.calls


def _go_on(folder: Path, confirmed: list[int]) -> None:
    """What the next start of the program finds must hold every confirmed line."""
    plain = UnsyncedDisk()
    if not folder.exists() or verify(folder).has(FindingKind.NOT_BEGUN):
        assert not confirmed
        JournalWriter.create(folder, HEADER, plain).close()
    found = verify(folder)
    assert found.grade <= FindingGrade.CRASH, [str(item) for item in found.findings]
    assert len(confirmed) <= found.lines <= len(confirmed) + 1
    with JournalWriter.open(folder, HEADER, plain) as writer:
        add_line(writer, 50)
    numbers = [line.command["number"] for line in read(folder)]
    assert numbers[: len(confirmed)] == confirmed
    assert numbers[-1] == 50
    assert 99 not in numbers
    assert verify(folder).grade <= FindingGrade.NOTE


@pytest.mark.parametrize("fault", list(Fault), ids=lambda fault: fault.name.lower())
def test_any_failing_call_while_writing_is_said_and_loses_no_confirmed_line(
    tmp_path: Path, fault: Fault
) -> None:
    (tmp_path / "count").mkdir()
    calls = _calls_of(tmp_path)
    assert calls > 30
    for at in range(1, calls + 1):
        folder = tmp_path / str(at) / JOB
        folder.parent.mkdir()
        disk = FailingDisk(at, fault)
        confirmed: list[int] = []
        ended: BaseException | None = None
        try:
            _write_some(folder, disk, confirmed)
        except (JournalFailed, Crashed) as error:
            ended = error
        finally:
            disk.bury()
        assert disk.struck
        if isinstance(ended, JournalFailed):
            assert str(tmp_path) in ended.where and ended.what and ended.remedy
        elif ended is None:
            assert len(confirmed) == LINES
            # Only these may fail unsaid: closing what is already kept, the name in the lock file.
            assert disk.struck == "close" or fault in (Fault.HALF, Fault.HALF_FROM_HERE)
        _go_on(folder, confirmed)


@pytest.mark.parametrize("fault", list(Fault), ids=lambda fault: fault.name.lower())
@pytest.mark.parametrize("damage", ["torn", "behind"])
def test_any_failing_call_while_putting_right_a_crash_loses_nothing(
    tmp_path: Path, fault: Fault, damage: str
) -> None:
    model = make_job(tmp_path, 2)
    head = (model / "head").read_bytes()
    with JournalWriter.open(model, HEADER, UnsyncedDisk()) as writer:
        add_line(writer, 3)
    (model / "head").write_bytes(head)
    if damage == "torn":
        journal = model / "journal.jsonl"
        journal.write_bytes(journal.read_bytes()[:-200])

    def damaged(name: str) -> Path:
        return shutil.copytree(model, tmp_path / name / JOB)

    def tries(folder: Path, disk: FailingDisk) -> None:
        try:
            JournalWriter.open(folder, HEADER, disk).close()
        except (JournalFailed, Crashed):
            pass
        finally:
            disk.bury()

    counting = FailingDisk()
    first = damaged("count")
    tail = (first / "journal.jsonl").read_bytes()[verify(first).size_bytes :]
    tries(first, counting)
    for at in range(1, counting.calls + 1):
        folder = damaged(str(at))
        tries(folder, FailingDisk(at, fault))
        JournalWriter.open(folder, HEADER, UnsyncedDisk()).close()
        found = verify(folder)
        assert found.grade <= FindingGrade.NOTE
        assert found.lines == (2 if damage == "torn" else 3)
        if damage == "torn":
            assert tail in [path.read_bytes() for path in folder.glob("torn-*")]


def test_a_full_disk_takes_the_half_line_back_and_names_place_cause_and_remedy(
    tmp_path: Path,
) -> None:
    class HalfFull(UnsyncedDisk):
        full = False

        def write(self, fd: int, data: bytes) -> int:
            return super().write(fd, data[:40] if self.full else data)

    disk = HalfFull()
    writer = JournalWriter.create(tmp_path / JOB, HEADER, disk)
    add_line(writer, 1)
    whole = (tmp_path / JOB / "journal.jsonl").read_bytes()
    disk.full = True
    with pytest.raises(JournalFailed) as caught:
        add_line(writer, 2)
    disk.full = False
    assert caught.value.line_state is LineState.NOT_WRITTEN
    assert "journal.jsonl" in caught.value.where
    assert "only 40 of" in caught.value.what
    assert "Free space" in caught.value.remedy
    assert (tmp_path / JOB / "journal.jsonl").read_bytes() == whole
    with pytest.raises(JournalFailed, match="only 40 of"):
        add_line(writer, 2)
    writer.close()
    with JournalWriter.open(tmp_path / JOB, HEADER, disk) as again:
        assert again.findings == ()


def test_a_half_line_that_cannot_be_taken_back_is_reported_as_torn(tmp_path: Path) -> None:
    class HalfFullAndStuck(UnsyncedDisk):
        full = False

        def write(self, fd: int, data: bytes) -> int:
            return super().write(fd, data[:40] if self.full else data)

        def truncate(self, fd: int, size: int) -> None:
            if self.full:
                raise OSError(5, "injected")
            super().truncate(fd, size)

    disk = HalfFullAndStuck()
    writer = JournalWriter.create(tmp_path / JOB, HEADER, disk)
    disk.full = True
    with pytest.raises(JournalFailed) as caught:
        add_line(writer, 1)
    assert caught.value.line_state is LineState.TORN
    writer.close()
    disk.full = False
    with JournalWriter.open(tmp_path / JOB, HEADER, disk) as again:
        assert [item.kind for item in again.findings] == [FindingKind.TORN_TAIL]
    assert len((tmp_path / JOB / "torn-1").read_bytes()) == 40


def test_a_line_whose_fsync_failed_is_unsure_and_the_fsync_is_not_tried_again(
    tmp_path: Path,
) -> None:
    class LosesOnce(UnsyncedDisk):
        asked = 0
        losing = False

        def fsync(self, fd: int) -> None:
            self.asked += 1
            if self.losing:
                raise OSError(5, "injected")

    disk = LosesOnce()
    writer = JournalWriter.create(tmp_path / JOB, HEADER, disk)
    disk.losing, disk.asked = True, 0
    with pytest.raises(JournalFailed) as caught:
        add_line(writer, 1)
    assert caught.value.line_state is LineState.UNSURE
    assert disk.asked == 1
    assert writer.head.lines == 0
    writer.close()


def test_a_head_that_cannot_be_overwritten_says_that_the_line_is_written(tmp_path: Path) -> None:
    class NoHead(UnsyncedDisk):
        stuck = False

        def overwrite(self, fd: int, data: bytes) -> int:
            if self.stuck:
                raise PermissionError(13, "injected")
            return super().overwrite(fd, data)

    disk = NoHead()
    writer = JournalWriter.create(tmp_path / JOB, HEADER, disk)
    disk.stuck = True
    with pytest.raises(JournalFailed) as caught:
        add_line(writer, 1)
    assert caught.value.line_state is LineState.WRITTEN
    assert "permission" in caught.value.what and "permission" in caught.value.remedy
    writer.close()
    disk.stuck = False
    with JournalWriter.open(tmp_path / JOB, HEADER, disk) as again:
        assert [item.kind for item in again.findings] == [FindingKind.HEAD_BEHIND]
        assert again.head.lines == 1
