"""One good practice job, played once for all tests that only look at it."""

import os
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from steplatch.runner.cli import command

from tests.played import PROCEDURES, Played, Stands, bundle_from, lesson_with, play

LONGEST = ("tests/proof/", "tests/test_main_job.py")


def pytest_configure(config: pytest.Config) -> None:
    """Several processes take whole files in the order below, not those of most tests first."""
    config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes longest is begun first, so that no process is left alone with it at the end."""
    items.sort(key=lambda item: not item.nodeid.startswith(LONGEST))


@pytest.fixture(scope="session")
def good(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The shipped good clean, played to its end. Read its folder; change only copies."""
    return play(tmp_path_factory.mktemp("good"), lesson_with())


@pytest.fixture(scope="session")
def shown(good: Played, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Played]:
    """A shipped lesson by its id, played once. Read its folder; change only copies."""

    @cache
    def played(name: str) -> Played:
        lesson = lesson_with(name)
        bundle = bundle_from(PROCEDURES / f"{lesson.procedure}.yaml")
        return play(tmp_path_factory.mktemp(name), lesson, bundle)

    return lambda name: good if name == "good-clean" else played(name)


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
