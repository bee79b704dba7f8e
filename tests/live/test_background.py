"""A source in a thread of its own: nothing is lost, it stops soon, and a failure ends no job."""

import time
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from steplatch.runner.live.background import STOP_WITHIN_S, Background
from steplatch.runner.live.connection import Need
from steplatch.runner.live.link import Cause, Link
from steplatch.runner.live.raw_log import Digest, replay
from steplatch.runner.live.samples import Happening
from steplatch.runner.live.witness import Witness

from tests.live.bench import IDLING, Bench


def test_happenings_come_through_and_the_log_says_the_same(tmp_path: Path) -> None:
    bench = Bench(log=tmp_path / "raw.log")
    background = Background(bench.connection)
    background.put(IDLING)
    told: list[Happening] = []
    end = time.monotonic() + 20
    while background.witness.engine != "running" and time.monotonic() < end:
        background.put(Need())
        told += background.take()
        time.sleep(0.001)
    assert background.link.cause is Cause.ANSWERS
    begin = time.monotonic()
    more, digest = background.stop()
    assert time.monotonic() - begin < STOP_WITHIN_S
    assert not background.alive and background.failed is None
    again = replay((tmp_path / "raw.log").read_bytes())
    assert again.digest == digest
    assert list(again.happenings) == told + more


class Failing:
    """A source whose disk is full."""

    messages: SimpleQueue[Any] = SimpleQueue()
    link = Link()
    witness = Witness()

    def step(self) -> list[Happening]:
        raise OSError("no space left on device")

    def close(self) -> tuple[list[Happening], Digest | None]:
        raise AssertionError("never reached")


def test_a_failure_ends_the_link_and_nothing_else() -> None:
    background = Background(Failing())
    end = time.monotonic() + 5
    while background.alive and time.monotonic() < end:
        time.sleep(0.001)
    assert not background.alive
    assert isinstance(background.failed, OSError)
    assert background.stop() == ([], None)
