"""kill -9 at any moment keeps every line that had been confirmed; two writers never both write."""

import os
import random
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from steplatch.runner.record import (
    FindingGrade,
    FindingKind,
    HeldByAnother,
    JournalBroken,
    JournalWriter,
    read,
    verify,
)

from tests.record.sample_jobs import HEADER, JOB, UnsyncedDisk, add_line

ROOT = Path(__file__).parents[2]

_WRITES_UNTIL_KILLED = """
import os, sys
from pathlib import Path
from steplatch.runner.record import JournalWriter
from tests.record.sample_jobs import HEADER, add_line

folder = Path(sys.argv[1])
make = JournalWriter.open if folder.exists() else JournalWriter.create
writer = make(folder, HEADER)
number = writer.head.lines
while True:
    number += 1
    add_line(writer, number)
    os.write(1, b"confirmed %d\\n" % number)
"""

_RACES = """
import sys
from pathlib import Path
from steplatch.runner.record import HeldByAnother, JournalWriter
from tests.record.sample_jobs import HEADER, UnsyncedDisk, add_line

folder, name = Path(sys.argv[1]), sys.argv[2]
for order in sys.stdin:
    writer = None
    try:
        writer = JournalWriter.open(folder, HEADER, UnsyncedDisk())
        add_line(writer, writer.head.lines + 1)
        print("won", flush=True)
    except HeldByAnother as held:
        print("held", held.who, flush=True)
    sys.stdin.readline()
    if writer is not None:
        add_line(writer, writer.head.lines + 1)
        writer.close()
    print("let go", flush=True)
"""


def _start(program: str, *arguments: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", program, *arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )


def test_kill_9_at_random_moments_keeps_every_confirmed_line(tmp_path: Path) -> None:
    seed = random.SystemRandom().randrange(1 << 32)
    print("seed", seed)
    chance = random.Random(seed)
    folder = tmp_path / JOB
    confirmed = 0
    kills_while_writing = 0
    for _ in range(15):
        child = _start(_WRITES_UNTIL_KILLED, str(folder))
        assert child.stdout is not None
        ready, _, _ = select.select([child.stdout], [], [], 20)
        assert ready, "the child confirmed nothing"
        time.sleep(chance.uniform(0, 0.05))
        child.send_signal(signal.SIGKILL)
        said, _ = child.communicate(timeout=20)
        assert child.returncode == -signal.SIGKILL
        # Only whole sentences count: the kill may have cut the last one.
        last = [int(text.split()[1]) for text in said.split(b"\n")[:-1]][-1]
        assert last > confirmed
        confirmed = last
        found = verify(folder)
        assert found.grade <= FindingGrade.CRASH, [str(item) for item in found.findings]
        kinds = {item.kind for item in found.findings}
        assert kinds <= {FindingKind.TORN_TAIL, FindingKind.HEAD_BEHIND, FindingKind.TORN_KEPT}
        assert confirmed <= found.lines <= confirmed + 1
        numbers = [line.command["number"] for line in read(folder)]
        assert numbers == list(range(1, found.lines + 1))
        kills_while_writing += found.lines > confirmed or found.grade is FindingGrade.CRASH
        confirmed = found.lines
    print("killed between writing and confirming:", kills_while_writing)
    with JournalWriter.open(folder, HEADER) as writer:
        assert writer.head.lines == confirmed


def test_two_processes_that_race_a_hundred_times_never_both_write(tmp_path: Path) -> None:
    folder = tmp_path / JOB
    JournalWriter.create(folder, HEADER, UnsyncedDisk()).close()
    racers = [_start(_RACES, str(folder), name) for name in ("one", "two")]

    def say(text: bytes) -> None:
        for racer in racers:
            assert racer.stdin is not None
            racer.stdin.write(text + b"\n")
            racer.stdin.flush()

    def hear() -> list[bytes]:
        heard = []
        for racer in racers:
            assert racer.stdout is not None
            heard.append(racer.stdout.readline().strip())
        return heard

    for number in range(1, 101):
        say(b"go")
        heard = hear()
        won = [at for at, text in enumerate(heard) if text == b"won"]
        assert len(won) == 1, heard
        assert heard[1 - won[0]].startswith(b"held ")
        say(b"let go")
        assert hear() == [b"let go", b"let go"]
        found = verify(folder)
        assert (found.grade, found.lines) == (FindingGrade.INTACT, 2 * number)
    for racer in racers:
        assert racer.stdin is not None
        racer.stdin.close()
        assert racer.wait(timeout=20) == 0
        assert racer.stdout is not None
        racer.stdout.close()


def test_the_second_writer_is_told_who_holds_the_job(tmp_path: Path) -> None:
    folder = tmp_path / JOB
    with JournalWriter.create(folder, HEADER, UnsyncedDisk()):
        with pytest.raises(HeldByAnother) as caught:
            JournalWriter.open(folder, HEADER)
        assert f"process {os.getpid()} on " in caught.value.who
        assert str(folder) in str(caught.value)
        with pytest.raises(HeldByAnother):
            JournalWriter.create(folder, HEADER)
    with JournalWriter.open(folder, HEADER):
        pass


def test_refused_tries_leave_no_file_open(tmp_path: Path) -> None:
    def opened() -> int:
        return len(list(Path("/dev/fd").iterdir()))

    folder = tmp_path / JOB
    with JournalWriter.create(folder, HEADER, UnsyncedDisk()):
        before = opened()
        for _ in range(5):
            with pytest.raises(HeldByAnother):
                JournalWriter.open(folder, HEADER)
        assert opened() == before
    (folder / "head").unlink()
    with (folder / "journal.jsonl").open("ab") as file:
        file.write(b"rubbish\n")
    before = opened()
    for _ in range(5):
        with pytest.raises(JournalBroken):
            JournalWriter.open(folder, HEADER)
    assert opened() == before


def test_a_holder_that_was_killed_holds_nothing(tmp_path: Path) -> None:
    folder = tmp_path / JOB
    child = _start(_WRITES_UNTIL_KILLED, str(folder))
    assert child.stdout is not None
    child.stdout.readline()
    with pytest.raises(HeldByAnother, match=f"process {child.pid} on "):
        JournalWriter.open(folder, HEADER)
    child.kill()
    child.communicate(timeout=20)
    assert str(child.pid) in (folder / "lock").read_text()
    with JournalWriter.open(folder, HEADER) as writer:
        add_line(writer, 1)
