"""Runs the program as if the system lacked what Windows lacks: ``python -m tests.system.as_windows
COMMAND ...``.

For the program's own modules fcntl, termios, resource, pwd, grp, tty and pty cannot be imported;
for everybody os.uname, the flags O_NOFOLLOW, O_DIRECTORY, O_CLOEXEC, O_NONBLOCK, the signals
SIGHUP and SIGCONT and the clock that counts sleep are gone, and the boot has no identity. A
``msvcrt`` is there that does the few things that the program asks of it. It is a simulation: file
names, permissions and screens of Windows are not in it.
"""

import builtins
import errno
import fcntl
import importlib
import os
import runpy
import select
import signal
import subprocess  # noqa: F401 - before there is a msvcrt, by which it tells the system it runs on
import sys
import termios
import time
import types
from typing import Any

HIDDEN = {"fcntl", "termios", "resource", "pwd", "grp", "tty", "pty"}
FLAGS = ("O_NOFOLLOW", "O_DIRECTORY", "O_CLOEXEC", "O_NONBLOCK", "uname")
OWN = "steplatch"


def hide() -> None:
    """Take away what Windows lacks."""
    for name in FLAGS:
        delattr(os, name)
    for name in ("SIGHUP", "SIGCONT"):
        delattr(signal, name)
    del time.CLOCK_BOOTTIME  # type: ignore[attr-defined]
    found_import, found_module = builtins.__import__, importlib.import_module

    def import_(name: str, *rest: Any, **more: Any) -> Any:
        caller = (rest[0] if rest else more.get("globals")) or {}
        refuse(name, str(caller.get("__name__", "")))
        return found_import(name, *rest, **more)

    def module(name: str, package: str | None = None) -> Any:
        refuse(name, str(sys._getframe(1).f_globals.get("__name__", "")))
        return found_module(name, package)

    builtins.__import__ = import_
    importlib.import_module = module  # type: ignore[assignment]
    sys.modules["msvcrt"] = simulated_msvcrt()


def refuse(name: str, caller: str) -> None:
    """Raise ImportError where the program's own module asks for what is not there."""
    if name in HIDDEN and caller.split(".")[0] == OWN:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)


def simulated_msvcrt() -> Any:
    """``locking``, ``kbhit`` and ``getwch`` over what this system has."""
    module: Any = types.ModuleType("msvcrt")
    module.LK_NBLCK = 2
    raw: list[bool] = []
    waiting: list[str] = []

    def locking(fd: int, mode: int, count: int) -> None:
        assert (mode, count) == (module.LK_NBLCK, 1)
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise OSError(errno.EACCES, "Permission denied") from error

    def no_echo() -> None:
        if not raw:
            raw.append(True)
            now = termios.tcgetattr(0)
            now[3] &= ~(termios.ICANON | termios.ECHO)
            termios.tcsetattr(0, termios.TCSANOW, now)

    def kbhit() -> bool:
        no_echo()
        return bool(waiting) or bool(select.select([0], [], [], 0)[0])

    def getwch() -> str:
        no_echo()
        if not waiting:
            waiting.extend(os.read(0, 1).decode("utf-8", "replace").replace("\n", "\r"))
        return waiting.pop(0)

    module.locking, module.kbhit, module.getwch = locking, kbhit, getwch
    return module


if __name__ == "__main__":
    hide()
    from steplatch.runner.system import machine

    machine._LINUX_BOOT_ID = machine._LINUX_BOOT_ID / "not there"  # type: ignore[misc]
    sys.argv = ["steplatch", *sys.argv[1:]]
    runpy.run_module("steplatch.runner.cli", run_name="__main__")
