"""The program before a job: in a process, a terminal and a folder of its own."""

import os
import re
import sys
import time
from pathlib import Path
from typing import Any

import pexpect
import pyte

from tests.console.terminal import COMPILED, ROOT, UNSET

PATH = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])

_CODES = re.compile(r"\x1b(?:\[[0-9;?]*[A-Za-z]|\][^\a]*\a)")


class Start:
    """``steplatch`` with words, in the folder ``cwd``, its data in ``cwd/data``."""

    def __init__(
        self,
        cwd: Path,
        *words: str,
        columns: int = 80,
        rows: int = 24,
        module: str = "steplatch.runner.cli.main",
        **env: str,
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self.sent = 0
        self.plain = env.get("TERM") == "dumb" or "--plain" in words
        kept = {k: v for k, v in os.environ.items() if k not in UNSET}
        more = {
            "TERM": "xterm-256color",
            "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]),
            "PYTHONPYCACHEPREFIX": COMPILED,
        }
        self.child: Any = pexpect.spawn(
            sys.executable,
            ["-m", module, "--data", str(cwd / "data"), *words],
            cwd=str(cwd),
            dimensions=(rows, columns),
            env={**kept, **more, **env},
            timeout=30,
        )
        self.child.delaybeforesend = None

    def text(self) -> str:
        """What stands on the screen now."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def said(self) -> str:
        """Everything written since the last key, its breaks and codes taken out."""
        return " ".join(_CODES.sub("", self.raw[self.sent :].decode("utf-8", "replace")).split())

    def asked(self, words: str = "", within: float = 20.0) -> str:
        """Wait for the next question, and for ``words`` in what was written with it."""
        until = time.monotonic() + within
        while time.monotonic() < until:
            open_ = self.pump(0.03)
            if open_ is None and self._asks() and words in self.said():
                return self.said()
            if open_ is False:
                raise AssertionError(f"the program ended:\n{self.text()}")
        raise AssertionError(f"no question with {words!r}:\n{self.text()}\n\n{self.said()}")

    def _asks(self) -> bool:
        """Whether a place to type, or a list, was drawn to its end since the last key."""
        if self.said().endswith(">") and self.screen.cursor.x == 2:
            return True  # plain lines, or a list that is too long to be drawn
        if self.plain:
            return False
        raw = self.raw[self.sent :]
        return raw.rfind(b"\x1b[?7h") > max(raw.rfind(b"\x1b[?7l"), raw.rfind(b"\x1b[?2004l"))

    def pump(self, seconds: float) -> bool | None:
        """Take in what is written: True for some, None for none, False at the end."""
        try:
            data = self.child.read_nonblocking(65536, seconds)
        except pexpect.TIMEOUT:
            return None
        except pexpect.EOF:
            return False
        self.raw += data
        self._stream.feed(data)
        return True

    def keys(self, keys: str) -> None:
        """Press keys as they are."""
        self.sent = len(self.raw)
        self.child.send(keys)

    def type(self, text: str, words: str = "") -> str:
        """Type a line; what is written up to the next question."""
        if not self.plain and self._listed() and text not in "123456789":
            raise AssertionError(f"{text!r} typed at a list:\n{self.text()}")
        self.keys(text + "\r" if not self.plain else text + "\n")
        return self.asked(words)

    def _listed(self) -> bool:
        said = self.said()
        return said.rfind("Number or arrow") > said.rfind("Type it")

    def end(self, within: float = 20.0) -> int:
        """Read to the end; the exit code."""
        until = time.monotonic() + within
        while self.pump(0.2) is not False and time.monotonic() < until:
            pass
        self.child.close()
        return int(self.child.exitstatus if self.child.exitstatus is not None else -1)
