"""One good practice job, played once for all tests that only look at it."""

import os
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from steplatch.runner.cli import command

from tests.played import Played, Stands, lesson_with, play


@pytest.fixture(scope="session")
def good(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The shipped good clean, played to its end. Read its folder; change only copies."""
    return play(tmp_path_factory.mktemp("good"), lesson_with())


@pytest.fixture(scope="session")
def stands(good: Played) -> Stands:
    """Every place where the good job stood."""
    return Stands(good)


@pytest.fixture(scope="session", autouse=True)
def published_outputs() -> Iterator[None]:
    """Whatever a command writes for other programs, in any test, follows its published schema."""
    import json

    import jsonschema

    real = command.headed
    path = Path(command.__file__).with_name("outputs.schema.json")
    told = json.loads(path.read_text(encoding="utf-8"))["$defs"]
    follows = {name: jsonschema.Draft202012Validator(schema) for name, schema in told.items()}

    def held(output: str, value: dict[str, Any]) -> dict[str, Any]:
        found = real(output, value)
        follows[output].validate(json.loads(json.dumps(found)))
        return found

    command.headed = held
    yield
    command.headed = real


@pytest.fixture
def quick(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: many lines are synced, and no power is cut here."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    with TemporaryDirectory(prefix="steplatch-test-", dir=memory) as name:
        yield Path(name)
