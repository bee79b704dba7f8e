"""A second process that draws and prints, while this one still reads and audits the job.

The library that draws takes about as long to load as a job takes to be read and audited, and no
thread of one Python process helps with that. So a process of its own loads it meanwhile; it gets
the finished content, gives back the pictures, then the PDF. Content and bytes travel through pipes
between the two and touch no disk. What it gives is what ``plot_svg`` and ``to_pdf`` give here.
"""

import os
import pickle
import signal
import subprocess
import sys
import traceback
from contextlib import suppress
from typing import TYPE_CHECKING, Any, BinaryIO, Final

if TYPE_CHECKING:
    from types import TracebackType
    from typing import Self

    from .blocks import JobSheet, Picture

_START: Final = "from steplatch.runner.sheet.beside import serve; serve()"


class DrawingFailed(RuntimeError):  # noqa: N818 - it names the thing, as the other errors do
    """The second process ended, or met a fault of the program; says which."""


class Beside:
    """The second process. Begin it early, ask it once for each job, leave it with ``with``."""

    def __init__(self) -> None:
        """Start it; it loads what it needs by itself. Raises OSError where none can be started."""
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", _START],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        assert self._process.stdin is not None and self._process.stdout is not None
        self._to: BinaryIO = self._process.stdin  # type: ignore[assignment]
        self._back: BinaryIO = self._process.stdout  # type: ignore[assignment]

    def __enter__(self) -> "Self":
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: "TracebackType | None",
    ) -> None:
        """End it at once: what it gave was taken, and it keeps nothing that could be lost."""
        self._process.kill()
        with suppress(OSError):  # it may have ended before it read everything
            self._to.close()
        self._back.close()
        self._process.wait()

    def expect(self, pictures: "tuple[Picture, ...]") -> None:
        """Let it draw what the content will hold, while the content is still made."""
        self._give((pictures, None))

    def ask(self, sheet: "JobSheet", part: str, *, pdf: bool) -> None:
        """Give it the content. Take its ``pictures``, then, where asked for, its ``pdf``."""
        self._give(((), (sheet, part, pdf)))  # one message: none is given while one comes back

    def pictures(self) -> "dict[Picture, bytes]":
        """Every picture of the part, drawn. Raises DrawingFailed."""
        found: dict[Picture, bytes] = self._take()
        return found

    def pdf(self) -> bytes:
        """The PDF of the part. Raises DrawingFailed."""
        found: bytes = self._take()
        return found

    def _give(self, asked: tuple[Any, ...]) -> None:
        try:
            pickle.dump(asked, self._to)
            self._to.flush()
        except OSError as error:
            raise self._ended() from error

    def _take(self) -> Any:
        try:
            well, value = pickle.load(self._back)
        except (EOFError, OSError, pickle.UnpicklingError) as error:
            raise self._ended() from error
        if not well:
            raise DrawingFailed(f"the sheet could not be drawn. Report this:\n{value}")
        return value

    def _ended(self) -> DrawingFailed:
        self._process.kill()
        code = self._process.wait()
        return DrawingFailed(
            f"the process that draws the sheet was ended from outside (code {code}). "
            "Close other programs if memory is short, then try again."
        )


def serve() -> None:
    """Be the second process: load, then answer until nobody asks any more."""
    import gc

    gc.disable()  # a short life, and much to build
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever began it decides when it ends
    back = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library may print is no answer

    from .pdf_page import to_pdf
    from .plots import plot_svg

    _load()
    while True:
        try:
            to_come, asked = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        for picture in to_come:
            with suppress(Exception):  # its error is said when it is asked for
                plot_svg(picture)  # which keeps it
        if asked is None:
            continue
        sheet, part, pdf = asked
        for answer in (_pictures, to_pdf) if pdf else (_pictures,):
            said: tuple[bool, Any]
            try:
                said = (True, answer(sheet, part))
            except Exception:
                said = (False, traceback.format_exc())
            pickle.dump(said, back)
            back.flush()


def _pictures(sheet: "JobSheet", part: str) -> "dict[Picture, bytes]":
    from .plots import plot_svg

    return {picture: plot_svg(picture) for picture in sheet.pictures(part)}


def _load() -> None:
    """Load all that drawing and printing need, before there is anything to draw."""
    from .blocks import BarPlot, Picture, ResistanceBar
    from .pdf_page import load_printer
    from .plots import plot_svg

    plot_svg(
        Picture("none", "", "", BarPlot((ResistanceBar("before", 1.0, 0.1),), 2.0, "", "mbar"))
    )
    load_printer()
