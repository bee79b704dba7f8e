"""The program under a simulation of what Windows lacks (``as_windows.py`` says what is in it)."""

import ast
import io
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.system import files, machine
from steplatch.runner.system.console import WindowsConsole, console_of, kind_of_terminal

from tests.console.terminal import Program
from tests.each import each
from tests.system.as_windows import FLAGS, HIDDEN
from tests.test_contracts import PRODUCT, ROOT, imported, room_of

HERE = (sys.executable, "-m", "tests.system.as_windows")


def said(*words: str) -> str:
    """What the program prints there; it must end well."""
    done = subprocess.run(
        [*HERE, *words], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, f"{words}: {done.stdout}{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with a whole practice job, worked there."""
    data = tmp_path_factory.mktemp("windows")
    assert "finished" in said("practise", "--hands-free", "--out", str(data))
    return data


@each("path", PRODUCT, ids=lambda p: str(p.relative_to(ROOT)))
def test_only_the_system_room_asks_for_what_some_systems_lack(path: Path) -> None:
    if room_of(path) == "system":
        return
    lacking = {"msvcrt", "winreg", *HIDDEN}
    assert not {name.split(".")[0] for name in imported(path)} & lacking
    names = {*FLAGS, "SIGHUP", "SIGCONT", "CLOCK_BOOTTIME", "getuid", "geteuid", "fork", "mkfifo"}
    tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    assert not {node.attr for node in tree if isinstance(node, ast.Attribute)} & names


def test_a_job_played_there_audits_as_good_there_and_here(played: Path) -> None:
    assert ": 1 good." in said("--data", str(played), "audit", "--all")
    here = [sys.executable, "-m", "steplatch.runner.cli", "--data", str(played), "audit", "--all"]
    assert subprocess.run(here, cwd=ROOT, capture_output=True, timeout=120).returncode == 0


def test_the_commands_work_there(played: Path, tmp_path: Path) -> None:
    job = next((played / "jobs").iterdir()).name
    of_data = ("--data", str(played))
    assert job in said(*of_data, "jobs")
    page, pdf, data = tmp_path / "x.html", tmp_path / "x.pdf", tmp_path / "x.json"
    said(*of_data, "sheet", job, "--html", str(page), "--pdf", str(pdf))
    said(*of_data, "export", job, "--file", str(data))
    assert page.stat().st_size and pdf.stat().st_size and data.stat().st_size
    assert "refus" in said(*of_data, "debrief", job).lower()
    assert "due" in said(*of_data, "customer", "due")
    assert "loads  abandon" in said("check", "--load") and "OK" in said("self-test")
    assert "P2463" in said("codes", "P2463")


def test_a_job_left_there_is_come_back_to(tmp_path: Path) -> None:
    program = _begun(tmp_path)
    assert "Who does the work" in program.ready()
    asked = program.answer("1")
    program.child.kill(signal.SIGKILL)
    program.child.wait()
    again = Program(tmp_path, "resume", module="tests.system.as_windows")
    shown = again.ready()
    assert "not begun" not in asked and "not begun" in shown and "leave" in shown
    again.child.close(force=True)


def test_keys_of_a_console_there_stop_rub_out_and_turn(tmp_path: Path) -> None:
    program = _begun(tmp_path)
    program.ready()
    program.child.send("nonsensf\x7fe")
    program.shows("nonsense")
    program.child.send("\x15")
    program.child.send("\x1b")
    program.shows("stop", within=10)
    program.child.close(force=True)


def _begun(data: Path) -> Program:
    return Program(data, "practise", module="tests.system.as_windows")


class Msvcrt:
    """Keys that were pressed before they are asked for."""

    def __init__(self, keys: str) -> None:
        self.keys = list(keys)

    def kbhit(self) -> bool:
        """Whether one waits."""
        return bool(self.keys)

    def getwch(self) -> str:
        """The next."""
        return self.keys.pop(0)


class Tty(io.StringIO):
    """Lines typed at a console."""

    def isatty(self) -> bool:
        """Yes."""
        return True


@pytest.mark.parametrize(
    ("pressed", "read"),
    [
        ("a", b"a"),
        ("\r", b"\n"),
        ("\xe0H", b"\x1b[A"),
        ("\x00Q", b"\x1b[6~"),
        ("\xe0\x99", b""),
        ("\x1a", b"\x04"),
        ("\xe4\r", "\xe4\n".encode()),
    ],
)
def test_a_key_of_a_windows_console_is_read_as_a_terminal_sends_it(
    pressed: str, read: bytes
) -> None:
    console = WindowsConsole(Tty(), Msvcrt(pressed))
    console.by_key()
    assert console.wait(0.0)
    assert console.read() == read
    assert not console.wait(0.02)


def test_control_c_there_is_a_stop_and_a_pin_is_read_unseen() -> None:
    console = WindowsConsole(Tty(), Msvcrt("\x03"))
    console.by_key()
    with pytest.raises(KeyboardInterrupt):
        console.read()
    secret = WindowsConsole(Tty("never read\n"), Msvcrt("12\x0834\r"))
    with secret.unseen():
        assert secret.read() == b"134\n"
    assert secret.read() == b"never read\n"


def test_a_lock_there_is_refused_to_the_second_and_leaves_the_text_readable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held: list[tuple[int, int]] = []

    class Locks:
        """Byte ranges as Windows locks them: refused with EACCES where one is held."""

        LK_NBLCK = 2

        @staticmethod
        def locking(fd: int, mode: int, count: int) -> None:
            import os

            at = (os.fstat(fd).st_ino, os.lseek(fd, 0, os.SEEK_CUR))
            if at in held:
                raise OSError(13, "Permission denied")
            held.append(at)

    monkeypatch.setattr(files, "_POSIX", None)
    monkeypatch.setitem(sys.modules, "msvcrt", Locks)
    path = tmp_path / "lock"
    with path.open("w+b") as one, path.open("r+b") as two:
        one.write(b"who")
        one.flush()
        files.lock(one.fileno())
        assert one.tell() == 3
        with pytest.raises(BlockingIOError):
            files.lock(two.fileno())
        assert two.read() == b"who" and held[0][1] > 1_000_000


def test_what_a_system_lacks_counts_nothing_and_is_not_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert files.flag("O_RDONLY", "O_NO_SUCH_FLAG") == 0
    assert machine.signals("SIGINT", "SIGNOSUCH") == (signal.SIGINT,)
    monkeypatch.delattr(machine.time, "CLOCK_BOOTTIME")
    monkeypatch.setattr(machine, "_LINUX_BOOT_ID", Path("/no/such/file"))
    assert machine.awake_and_asleep_ms() is None
    assert re.fullmatch("process-[0-9a-f]{32}", machine.boot_id())
    monkeypatch.setattr(machine.platform, "node", lambda: "")
    assert machine.name() == "this computer"


def test_a_terminal_here_is_asked_through_termios() -> None:
    console: Any = console_of(sys.stdin)
    assert type(console).__name__ == "Terminal"


@pytest.mark.parametrize(("able", "kind"), [(True, "xterm-256color"), (False, "dumb")])
def test_a_windows_console_is_drawn_on_only_where_it_takes_escape_sequences(
    able: bool, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    modes: list[tuple[int, int]] = []

    class Kernel:
        @staticmethod
        def GetStdHandle(which: int) -> int:  # noqa: N802
            return {-11: 7}[which]

        @staticmethod
        def GetConsoleMode(handle: int, mode: Any) -> bool:  # noqa: N802
            mode._obj.value = 3
            return True

        @staticmethod
        def SetConsoleMode(handle: int, mode: int) -> bool:  # noqa: N802
            modes.append((handle, mode))
            return able

    assert kind_of_terminal({}) == "dumb" and kind_of_terminal({"TERM": "x"}) == "x"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr("ctypes.windll", type("W", (), {"kernel32": Kernel}), raising=False)
    assert kind_of_terminal({}) == kind and modes == [(7, 7)]
    assert kind_of_terminal({"TERM": "dumb"}) == "dumb"
