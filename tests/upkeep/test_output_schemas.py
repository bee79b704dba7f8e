"""Every machine-readable output follows its published schema, errors too."""

import argparse
import json
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.command import OUTPUTS
from steplatch.runner.cli.main import parser

from tests.upkeep.write_output_schemas import SAMPLES, SCHEMA, prepared, said

PUBLISHED = json.loads(SCHEMA.read_text(encoding="utf-8"))
FOLLOWS = {
    name: jsonschema.Draft202012Validator(schema) for name, schema in PUBLISHED["$defs"].items()
}


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return prepared(tmp_path_factory.mktemp("samples"))


def test_the_published_file_is_a_schema_of_every_output_under_its_number() -> None:
    jsonschema.Draft202012Validator.check_schema(PUBLISHED)
    assert set(PUBLISHED["$defs"]) == set(OUTPUTS) == set(SAMPLES)
    for name, number in OUTPUTS.items():
        told = PUBLISHED["$defs"][name]
        assert told["properties"]["output"] == {"const": name}
        assert told["properties"]["schema"] == {"const": number}
        assert {"output", "schema"} <= {*told["required"]}
        assert told["additionalProperties"] is False


@pytest.mark.parametrize("name", [name for name in SAMPLES if name != "link-replay"])
def test_what_is_written_is_what_is_published(name: str, places: dict[str, str]) -> None:
    words = [*SAMPLES[name], *(SAMPLES["link-replay"] if name == "link" else [])]
    for one in words:
        _, found = said(one, places)
        follows = FOLLOWS[name if name != "link" else found["output"]]
        follows.validate(found)
        assert not follows.is_valid({**found, "no_such_key": 1})
        assert not follows.is_valid({**found, "schema": found["schema"] + 1})
        gone = {key: value for key, value in found.items() if key != "output"}
        assert not follows.is_valid(gone)


def test_an_error_says_its_code_and_where_a_file_is_wrong(
    tmp_path: Path, places: dict[str, str]
) -> None:
    wrong = tmp_path / "mine.yaml"
    wrong.write_text("id: mine\n", "utf-8")
    code, found = said(["check", str(wrong), "--json"], places)
    assert code == found["code"] == exits.BAD_FILE and found["output"] == "error"
    assert found["findings"][0]["file"] == str(wrong) and found["findings"][0]["line"] == 1
    code, found = said(["jobs", "--json", "--nothing"], places)
    assert code == found["code"] == exits.USAGE


def _with_json(
    command: argparse.ArgumentParser, words: tuple[str, ...]
) -> Iterator[tuple[str, ...]]:
    for action in command._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                yield from _with_json(inner, (*words, name))
        elif "--json" in action.option_strings:
            assert action.nargs == 0, f"{words}: --json takes no file"
            yield words


def test_every_command_that_takes_json_is_among_the_samples() -> None:
    sampled = [one for samples in SAMPLES.values() for one in samples]
    for words in _with_json(parser(), ()):
        if words not in (("practice",), ("book", "status")):  # another name; needs a server
            assert any(one[: len(words)] == list(words) for one in sampled), words
