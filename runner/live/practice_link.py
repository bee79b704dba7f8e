"""Starts a practice vehicle in a process of its own and gives it orders."""

import json
import socket
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import Any, Final

from .practice_ecu import CarValues

_WAIT_S: Final = 20.0


class PracticeVehicle:
    """A practice vehicle behind a loopback socket; ``channel`` is the name of its adapter.

    A context manager: the process ends with it, by closing its orders and, if that is not
    enough, by ending that one process. Raises RuntimeError when it does not come up.
    """

    def __init__(
        self,
        seed: int = 1,
        faults: Sequence[str] = (),
        link_faults: Sequence[str] = (),
        speed: float = 1.0,
        addressing: str = "11",
        fed: bool = False,
    ) -> None:
        command = [sys.executable, "-m", f"{__package__}.practice_server", "--seed", str(seed)]
        command += ["--speed", str(speed), "--addressing", addressing]
        command += ["--fed"] if fed else []
        for name, given in (("--fault", faults), ("--link-fault", link_faults)):
            for fault in given:
                command += [name, fault]
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self._process.stdout is not None
        said = self._process.stdout.readline().split()
        if len(said) != 3 or said[0] != "ports":
            self._process.kill()
            self._process.wait()
            raise RuntimeError("the practice vehicle did not come up")
        self.channel = f"socket://127.0.0.1:{said[1]}"
        self._orders = socket.create_connection(("127.0.0.1", int(said[2])), _WAIT_S)
        self._answers = self._orders.makefile("r", encoding="utf-8")

    def __enter__(self) -> "PracticeVehicle":
        """The vehicle itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the process."""
        self.close()

    def act(self, name: str, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """Do an act of the practice vehicle; what it let a person notice: sign and words."""
        return self._order([name, list(args), kwargs])

    def feed(self, stands: CarValues) -> None:
        """How the vehicle stands, where it stands in this process (``fed``)."""
        codes = [code.hex() for code in stands.codes]
        self._order(["feed", dict(stands.values), stands.awake, codes])

    def unplug(self) -> None:
        """Pull the adapter out."""
        self._order(["unplug"])

    def plug(self) -> None:
        """Push it in again."""
        self._order(["plug"])

    def kill(self) -> None:
        """End the process at once, as a crash would."""
        self._process.kill()
        self._process.wait(_WAIT_S)

    def close(self) -> None:
        """End the process."""
        with suppress(OSError):
            self._answers.close()
            self._orders.close()
        try:
            self._process.wait(2.0)
        except subprocess.TimeoutExpired:
            self.kill()
        if self._process.stdout is not None:
            self._process.stdout.close()

    def _order(self, order: list[Any]) -> dict[str, Any]:
        self._orders.sendall(json.dumps(order).encode() + b"\n")
        answer = json.loads(self._answers.readline())
        assert isinstance(answer, dict)
        return answer
