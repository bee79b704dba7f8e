"""One good practice job, played once for all tests that only look at it."""

import os
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.played import Played, Stands, lesson_with, play


@pytest.fixture(scope="session")
def good(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The shipped good clean, played to its end. Read its folder; change only copies."""
    return play(tmp_path_factory.mktemp("good"), lesson_with())


@pytest.fixture(scope="session")
def stands(good: Played) -> Stands:
    """Every place where the good job stood."""
    return Stands(good)


@pytest.fixture
def quick(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: many lines are synced, and no power is cut here."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    with TemporaryDirectory(prefix="steplatch-test-", dir=memory) as name:
        yield Path(name)
