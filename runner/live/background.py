"""A source of readings in a thread of its own, so that a screen can go on asking its person.

The thread owns the source. Others put messages, take happenings, and look at ``witness``, which
is frozen and therefore always whole.
"""

import time
from queue import Empty, SimpleQueue
from threading import Event, Thread
from typing import Any, Final, Protocol, TypeVar

from .link import Link
from .raw_log import Digest
from .recorder import Recorder
from .samples import Happening, Sample
from .witness import Witness

STOP_WITHIN_S: Final = 2.0
_Item = TypeVar("_Item")


class Source(Protocol):
    """A ``Connection`` or a ``GrowingCsv``."""

    messages: SimpleQueue[Any]
    recorder: Recorder

    @property
    def link(self) -> Link:
        """The link as it stands."""

    @property
    def witness(self) -> Witness:
        """What is known now."""

    @property
    def vin(self) -> str | None:
        """The chassis number that the vehicle told; None where none."""

    def step(self) -> list[Happening]:
        """Do what is due."""

    def close(self) -> tuple[list[Happening], Digest | None]:
        """Stop for good."""


class Background:
    """Runs ``source`` until ``stop``. ``failed`` holds what ended it otherwise: a full disk, a
    mistake in this program; the link then counts as lost and the job goes on by typing."""

    def __init__(self, source: Source, pause_s: float = 0.0) -> None:
        self.failed: BaseException | None = None
        self.digest: Digest | None = None
        self._source = source
        self._pause_s = pause_s
        self._told: SimpleQueue[Happening] = SimpleQueue()
        self._samples: SimpleQueue[Sample] = SimpleQueue()
        self._ended = Event()
        self._thread = Thread(target=self._run, name="vehicle link", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        """True while values can still come."""
        return self._thread.is_alive()

    @property
    def link(self) -> Link:
        """The link as it stands."""
        return self._source.link

    @property
    def witness(self) -> Witness:
        """What is known from the vehicle now."""
        return self._source.witness

    @property
    def vin(self) -> str | None:
        """The chassis number, where the source was told one."""
        return self._source.vin

    def put(self, message: Any) -> None:
        """Tell the source something: what was said, that there is a need, that it ends."""
        self._source.messages.put(message)

    def take(self) -> list[Happening]:
        """What has happened since this was last asked."""
        return _all(self._told)

    def take_samples(self) -> list[Sample]:
        """The samples since this was last asked."""
        return _all(self._samples)

    def wait(self, seconds: float) -> None:
        """Let it run for a while."""
        time.sleep(seconds)

    def stop(self) -> tuple[list[Happening], Digest | None]:
        """Stop asking, close the port and the log; at most ``STOP_WITHIN_S``."""
        self._ended.set()
        self._thread.join(STOP_WITHIN_S)
        return self.take(), self.digest

    def _run(self) -> None:
        try:
            while not self._ended.is_set():
                for happening in self._source.step():
                    self._told.put(happening)
                for sample in self._source.recorder.take_samples():
                    self._samples.put(sample)
                if self._pause_s:
                    self._ended.wait(self._pause_s)
            told, self.digest = self._source.close()
            for happening in told:
                self._told.put(happening)
        except Exception as error:
            self.failed = error


def _all(queue: SimpleQueue[_Item]) -> list[_Item]:
    out: list[_Item] = []
    while True:
        try:
            out.append(queue.get_nowait())
        except Empty:
            return out
