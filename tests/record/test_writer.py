"""The writer: what it makes, what it refuses, what it does when it is interrupted."""

import os
import signal
import stat
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.record import (
    FindingGrade,
    FindingKind,
    JournalFailed,
    JournalWriter,
    LineState,
    NotRecordable,
    read,
    verify,
)
from steplatch.runner.record.findings import HEAD_LAG
from steplatch.runner.record.line import MAX_LINE_BYTES

from tests.record.sample_jobs import (
    HEADER,
    JOB,
    UnsyncedDisk,
    add_line,
    at_ms,
    lines_of,
    make_job,
)


def test_folder_and_files_are_for_this_user_only(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        folder = make_job(tmp_path, 1)
    finally:
        os.umask(before)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()} == {0o600}
    assert {path.name for path in folder.iterdir()} == {"journal.jsonl", "head", "lock"}


def test_a_line_is_one_write_and_one_wait_before_the_head_counts_it(tmp_path: Path) -> None:
    calls: list[tuple[str, str]] = []

    class Listening(UnsyncedDisk):
        names_of: dict[int, str] = {}  # noqa: RUF012 - one disk, one test

        def open(self, path: Path, flags: int) -> int:
            fd = super().open(path, flags)
            self.names_of[fd] = path.name
            return fd

        def write(self, fd: int, data: bytes) -> int:
            calls.append(("write", self.names_of[fd]))
            return super().write(fd, data)

        def fsync(self, fd: int) -> None:
            calls.append(("fsync", self.names_of[fd]))

        def overwrite(self, fd: int, data: bytes) -> int:
            calls.append(("overwrite", self.names_of[fd]))
            return super().overwrite(fd, data)

    one = [("write", "journal.jsonl"), ("fsync", "journal.jsonl"), ("overwrite", "head")]
    with JournalWriter.create(tmp_path / JOB, HEADER, Listening()) as writer:
        calls.clear()
        add_line(writer, 1)
        assert calls == one
        calls.clear()
        for number in range(2, HEAD_LAG + 1):
            add_line(writer, number)
        assert calls == [*one * (HEAD_LAG - 1), ("fsync", "head")]
        add_line(writer, HEAD_LAG + 1)
        calls.clear()
    assert calls == [("fsync", "head")]


def test_a_head_that_was_deleted_meanwhile_is_put_back(tmp_path: Path) -> None:
    with JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk()) as writer:
        add_line(writer, 1)
        (tmp_path / JOB / "head").unlink()
        add_line(writer, 2)
        add_line(writer, 3)
    assert not verify(tmp_path / JOB).findings


def test_a_reopened_journal_goes_on_with_the_header_of_now(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    newer = replace(HEADER, program="0.2.0", rules_sha256="ef" * 32)
    with JournalWriter.open(folder, newer, UnsyncedDisk()) as writer:
        assert writer.findings == ()
        line = add_line(writer, 3)
        writer.use_header(replace(newer, revision="4"))
        add_line(writer, 4)
    assert line.envelope.seq == 3
    assert [item.envelope.header.program for item in read(folder)] == ["0.1.0"] * 2 + ["0.2.0"] * 2
    assert [item.envelope.header.revision for item in read(folder)] == ["3", "3", "3", "4"]
    assert verify(folder).grade is FindingGrade.INTACT


def test_the_returned_line_is_the_one_that_reads_back(tmp_path: Path) -> None:
    with JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk()) as writer:
        line = writer.append(
            "anna", "technician", {"a": ("x", 1, None, True, 0.1)}, {"text": 'é\n"\u2028'}, at_ms(5)
        )
        assert writer.head.sha256 == line.sha256
    assert line.command == {"a": ["x", 1, None, True, 0.1]}
    assert list(read(tmp_path / JOB)) == [line]
    assert len(lines_of(tmp_path / JOB)) == 1


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ({"v": float("nan")}, "command.v: nan is not a finite number"),
        ({"v": float("inf")}, "not a finite number"),
        ({"v": 2**53}, "beyond 2"),
        ({"v": [{1: "x"}]}, r"command.v\[0\]: the key 1 is not text"),
        ({"v": b"x"}, "a bytes cannot stand"),
        ({"v": {1, 2}}, "a set cannot stand"),
        ({"v": "\ud800"}, "surrogate"),
        ({"v": "x" * MAX_LINE_BYTES}, "more than"),
    ],
)
def test_what_a_line_cannot_hold_is_refused_and_the_writer_goes_on(
    tmp_path: Path, command: dict[str, Any], said: str
) -> None:
    with JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk()) as writer:
        with pytest.raises(NotRecordable, match=said):
            writer.append("anna", "technician", command, {}, at_ms(1))
        with pytest.raises(NotRecordable, match=said.replace("command", "outcome")):
            writer.append("anna", "technician", {}, command, at_ms(1))
        assert writer.held is None
        add_line(writer, 1)
    assert verify(tmp_path / JOB).lines == 1


def test_nesting_that_a_reader_could_choke_on_is_refused(tmp_path: Path) -> None:
    deep: list[Any] = []
    for _ in range(40):
        deep = [deep]
    with (
        JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk()) as writer,
        pytest.raises(NotRecordable, match="nested deeper"),
    ):
        writer.append("anna", "technician", {"v": deep}, {}, at_ms(1))


def test_a_faulty_envelope_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    with JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk()) as writer:
        for actor, role in (("", "technician"), ("an\nna", "technician"), ("anna", "x" * 201)):
            with pytest.raises(NotRecordable, match="printable"):
                writer.append(actor, role, {}, {}, at_ms(1))
        with pytest.raises(NotRecordable, match="RFC 3339"):
            writer.append("anna", "t", {}, {}, replace(at_ms(1), utc="2025-01-31T14:05:09Z"))
        writer.use_header(replace(HEADER, rules_sha256="none"))
        with pytest.raises(NotRecordable, match="rules_sha256"):
            writer.append("anna", "technician", {}, {}, at_ms(1))
    assert lines_of(tmp_path / JOB) == []


def test_an_existing_journal_is_never_made_anew(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 1)
    before = lines_of(folder)
    with pytest.raises(JournalFailed, match="there is a journal already"):
        JournalWriter.create(folder, HEADER)
    assert lines_of(folder) == before
    with pytest.raises(JournalFailed, match="not there"):
        JournalWriter.create(tmp_path / "nowhere" / JOB, HEADER)
    with pytest.raises(NotRecordable, match="not a job id"):
        JournalWriter.create(tmp_path / "EXAMPLE 1", HEADER)


def test_a_link_in_place_of_the_journal_is_not_followed(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 1)
    (folder / "journal.jsonl").rename(tmp_path / "elsewhere")
    (folder / "journal.jsonl").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(JournalFailed, match="symbolic link"):
        JournalWriter.open(folder, HEADER)


@pytest.mark.parametrize("change", ["added", "cut", "deleted"])
def test_a_change_by_something_else_between_two_lines_stops_the_writer(
    tmp_path: Path, change: str
) -> None:
    writer = JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk())
    add_line(writer, 1)
    journal = tmp_path / JOB / "journal.jsonl"
    if change == "added":
        with journal.open("ab") as file:
            file.write(b"x")
    elif change == "cut":
        os.truncate(journal, 10)
    else:
        journal.unlink()
    with pytest.raises(JournalFailed, match="something else has changed it") as caught:
        add_line(writer, 2)
    assert caught.value.line_state is LineState.NOT_WRITTEN
    with pytest.raises(JournalFailed, match="nothing more is recorded"):
        add_line(writer, 2)
    writer.close()


def test_a_closed_writer_refuses_and_closing_twice_is_harmless(tmp_path: Path) -> None:
    writer = JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk())
    writer.close()
    writer.close()
    with pytest.raises(JournalFailed, match="closed"):
        add_line(writer, 1)


def test_a_copy_of_the_process_cannot_write(tmp_path: Path) -> None:
    writer = JournalWriter.create(tmp_path / JOB, HEADER, UnsyncedDisk())
    child = os.fork()
    if child == 0:  # pragma: no cover - runs in the copy
        try:
            add_line(writer, 1)
        except JournalFailed:
            os._exit(7)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == 7
    add_line(writer, 1)
    writer.close()
    assert verify(tmp_path / JOB).lines == 1


@pytest.fixture
def listens() -> Iterator[None]:
    """Ctrl-C as a program at a terminal gets it; one that runs behind another ignores it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("listens")
def test_ctrl_c_in_the_middle_of_a_line_acts_after_the_line_is_whole(tmp_path: Path) -> None:
    class Interrupting(UnsyncedDisk):
        once = False

        def write(self, fd: int, data: bytes) -> int:
            if self.once:
                self.once = False
                os.kill(os.getpid(), signal.SIGINT)
            return super().write(fd, data)

    disk = Interrupting()
    writer = JournalWriter.create(tmp_path / JOB, HEADER, disk)
    disk.once = True
    with pytest.raises(KeyboardInterrupt):
        add_line(writer, 1)
    assert writer.head.lines == 1 and writer.held is None
    add_line(writer, 2)
    writer.close()
    assert (verify(tmp_path / JOB).grade, verify(tmp_path / JOB).lines) == (FindingGrade.INTACT, 2)


@pytest.mark.usefixtures("listens")
def test_ctrl_c_waits_for_the_line_also_while_another_thread_could_take_it(tmp_path: Path) -> None:
    stand = threading.Event()
    other = threading.Thread(target=stand.wait, daemon=True)
    other.start()
    try:
        test_ctrl_c_in_the_middle_of_a_line_acts_after_the_line_is_whole(tmp_path)
    finally:
        stand.set()
        other.join()


def test_an_interruption_that_gets_through_leaves_the_writer_held(tmp_path: Path) -> None:
    class Interrupting(UnsyncedDisk):
        once = False

        def fsync(self, fd: int) -> None:
            if self.once:
                self.once = False
                raise KeyboardInterrupt

    disk = Interrupting()
    writer = JournalWriter.create(tmp_path / JOB, HEADER, disk)
    disk.once = True
    with pytest.raises(KeyboardInterrupt):
        add_line(writer, 1)
    with pytest.raises(JournalFailed, match="interrupted while it was being written"):
        add_line(writer, 2)
    writer.close()
    with JournalWriter.open(tmp_path / JOB, HEADER, disk) as again:
        assert [item.kind for item in again.findings] == [FindingKind.HEAD_BEHIND]


def test_torn_bytes_of_two_crashes_are_kept_in_two_files(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 1)
    for number in (1, 2):
        torn = f'{{"prev":"{verify(folder).sha256}"'.encode()[: 20 + number]
        with (folder / "journal.jsonl").open("ab") as file:
            file.write(torn)
        with JournalWriter.open(folder, HEADER, UnsyncedDisk()) as writer:
            assert FindingKind.TORN_TAIL in {item.kind for item in writer.findings}
            add_line(writer, number + 1)
        assert (folder / f"torn-{number}").read_bytes() == torn
    found = verify(folder)
    assert (found.grade, found.lines) == (FindingGrade.NOTE, 3)
    assert [item.kind for item in found.findings] == [FindingKind.TORN_KEPT] * 2


def test_a_crash_before_the_first_line_is_finished_by_create_or_open(tmp_path: Path) -> None:
    for make in (JournalWriter.create, JournalWriter.open):
        for left in ((), ("journal.jsonl",), ("head.new", "journal.jsonl"), ("lock",)):
            folder = tmp_path / f"{make.__name__}{len(left)}" / left.__repr__() / JOB
            folder.mkdir(parents=True)
            for name in left:
                (folder / name).touch()
            assert verify(folder).has(FindingKind.NOT_BEGUN)
            with make(folder, HEADER, UnsyncedDisk()) as writer:
                add_line(writer, 1)
            assert verify(folder).grade is FindingGrade.INTACT
