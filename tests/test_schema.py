"""The published schema is what the models say."""

import json
import subprocess
import sys
from pathlib import Path
from typing import get_args

import jsonschema
import pytest
from steplatch.runner.cli.schema import (
    SCHEMA_FILE,
    WORKSHOP_FILES,
    WORKSHOP_SCHEMAS,
    procedure_schema,
    published,
)
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.core.steps import KINDS
from steplatch.runner.input.shelf import procedure_files
from steplatch.runner.input.strict_yaml import load, load_text

from tests.each import each
from tests.step_text import MAIN, in_step, written_out

EXAMPLES = Path(__file__).parents[1] / "examples" / "workshop"
VALIDATOR = jsonschema.Draft202012Validator(procedure_schema())


def test_the_published_schemas_are_up_to_date() -> None:
    for path, text in published().items():
        assert path.read_text(encoding="utf-8") == text, "python -m steplatch.runner.cli.schema"


@pytest.mark.parametrize("name", sorted(WORKSHOP_FILES))
def test_the_example_of_a_workshops_file_is_what_its_schema_allows_and_a_slip_is_not(
    name: str,
) -> None:
    schema = json.loads((WORKSHOP_SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    plain = load(EXAMPLES / f"{name}.yaml").data
    assert list(validator.iter_errors(plain)) == []
    assert list(validator.iter_errors({**plain, "no_such_key": 1}))
    for key in schema["required"]:
        assert list(validator.iter_errors({k: v for k, v in plain.items() if k != key})), key


def test_the_command_that_checks_the_schema_agrees() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "steplatch.runner.cli.schema", "--check"],
        cwd=Path(__file__).parents[1], capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0 and "up to date" in done.stdout


@each("path", procedure_files(), ids=lambda p: p.stem)
def test_every_shipped_file_is_what_the_schema_allows(path: Path) -> None:
    assert list(VALIDATOR.iter_errors(load(path).data)) == []


@pytest.mark.parametrize(
    ("step", "old", "new"),
    [
        ("oil-level", "want:", "wants:"),
        ("oil-level", "look:", "lokk:"),
        ("line-cool", "cautions: [probe-misleads", "cautions: [probe-misleds"),
        ("gun-away", "gun-seen", "gun-seen\n        want: away"),
        ("distance", "ask: distance", "ask: distanse"),
        ("distance", "[0 km, 3000000 km]", "[0 km]"),
        ("duty", "town: short trips in town, ", "town: [short], "),
        ("complaint", "ask: text", "ask: text\n        personal: maybe"),
        ("before-raised", "condition: raised", "condition: fast"),
        ("hand-over", "end: finished", "end: done"),
        ("hold-level", "hold: dry", "hold: fast"),
    ],
)
def test_the_schema_says_what_is_wrong(step: str, old: str, new: str) -> None:
    text = in_step(MAIN.read_text("utf-8") if step == "gun-away" else written_out(), step, old, new)
    assert list(VALIDATOR.iter_errors(load_text(text, "mine.yaml").data))


def test_the_schema_knows_every_kind_of_step_and_no_other() -> None:
    steps = procedure_schema()["$defs"]["step"]["anyOf"]
    kinds = {get_args(kind.model_fields["kind"].annotation)[0] for kind in KINDS}
    named = {s["$ref"].rsplit("/", 1)[-1] for s in steps if "$ref" in s}
    assert named == kinds | {"use"} and len(kinds) == 15


def test_the_schema_is_plain_json_of_a_published_draft() -> None:
    published = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    assert published["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(published["properties"]) == {*Procedure.model_fields, "conditions"}
