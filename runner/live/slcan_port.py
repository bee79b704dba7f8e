"""python-can's slcan bus, read in whole pieces instead of byte by byte.

A plug that shows all the traffic of a vehicle brings a thousand frames a second; the library asks
the port for each byte and makes a message of each frame. Here a piece is taken as it has come, and
of the frames that no ECU answers with (``answers``) one in each piece is passed on, so that it is
known that there is traffic, and no more. The library does all else: opening, sending, decoding.
"""

import select
import time
from collections import deque
from typing import Any, Final

PIECE: Final = 65536
LONGEST: Final = 4096
"""Bytes without an end of line after which they are no text of an adapter."""
_BELL: Final = b"\x07"
_SAYS_NOTHING: Final = frozenset({b"", b"z", b"Z"})
"""What an adapter says of a command that it has taken, or not."""


def slcan_bus(can: Any, answers: tuple[bytes, ...], channel: str, **options: Any) -> Any:
    """An open slcan bus. ``answers``: how the text of a frame begins that an ECU may send.

    Raises what the library raises when a port cannot be opened.
    """
    from can.interfaces.slcan import slcanBus

    class PiecewiseBus(slcanBus):
        """See above."""

        def __init__(self) -> None:
            self._rest = b""
            self._lines: deque[bytes] = deque()
            super().__init__(channel, **options)

        def _read(self, timeout: float | None) -> str | None:
            until = time.monotonic() + (timeout or 0.0)
            while not self._lines:
                left = until - time.monotonic()
                piece = self._piece(max(0.0, left))
                if piece:
                    self._take(piece)
                elif left <= 0:
                    return None
            return self._lines.popleft().decode("ascii")

        def flush(self) -> None:
            """Forget what has come."""
            self._rest = b""
            self._lines.clear()
            super().flush()

        def _piece(self, wait_s: float) -> bytes:
            port: Any = self.serialPortOrig
            behind = getattr(port, "_socket", None)
            try:
                if behind is None:
                    waiting = port.in_waiting
                    return bytes(port.read(waiting or 1)) if waiting or wait_s else b""
                if not select.select([behind], [], [], wait_s)[0]:
                    return b""
                piece = behind.recv(PIECE)
            except BlockingIOError:
                return b""
            except Exception as error:
                raise can.CanOperationError("Could not read from serial device") from error
            if not piece:
                raise can.CanOperationError("the other end has closed")
            return bytes(piece)

        def _take(self, piece: bytes) -> None:
            text = self._rest + piece.replace(_BELL, b"\r")
            *lines, self._rest = text.split(b"\r")
            if len(self._rest) > LONGEST:
                self._rest = b""
            foreign = False
            for line in lines:
                if line in _SAYS_NOTHING:
                    continue
                of_traffic = line[:1] in (b"t", b"T") and not line.startswith(answers)
                if not of_traffic or not foreign:
                    self._lines.append(line + b"\r")
                foreign = foreign or of_traffic

    return PiecewiseBus()
