"""The computer: its name, the clock that goes on in its sleep, its boot, its signals."""

import ctypes
import os
import platform
import signal
import sys
import time
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

_LINUX_BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")
_PROCESS_BOOT_ID: Final = f"process-{os.urandom(16).hex()}"


def name() -> str:
    """The computer's name, for people; never empty."""
    return platform.node() or _("this computer")


def awake_and_asleep_ms() -> int | None:
    """Milliseconds since the boot, those asleep counted; None where no clock counts them."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)  # Linux
    if clock is None and sys.platform == "darwin":  # from memory: it goes on during sleep there
        clock = getattr(time, "CLOCK_MONOTONIC_RAW", None)
    if clock is not None:
        return time.clock_gettime_ns(clock) // 1_000_000
    if sys.platform == "win32":
        # GetTickCount64 counts time asleep (Microsoft, Win32 API, sysinfoapi.h; from memory)
        ticks = ctypes.windll.kernel32.GetTickCount64
        ticks.restype = ctypes.c_uint64
        return int(ticks())
    return None


def boot_id() -> str:
    """What tells one boot from the next. Where the system names none, every process counts as a
    boot of its own: after a restart of the program waits then begin anew and looks are asked again.
    """
    try:
        return _LINUX_BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return _PROCESS_BOOT_ID


def signals(*names: str) -> tuple[signal.Signals, ...]:
    """The signals of these names that the system has."""
    return tuple(getattr(signal, name) for name in names if hasattr(signal, name))
