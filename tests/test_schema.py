"""The published schema is what the models say."""

import json
import subprocess
import sys
from pathlib import Path
from typing import get_args

from steplatch.runner.cli.schema import SCHEMA_FILE, procedure_schema, schema_text
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.core.steps import KINDS


def test_the_published_schema_is_up_to_date() -> None:
    assert SCHEMA_FILE.read_text(encoding="utf-8") == schema_text(), (
        "run: python -m steplatch.runner.cli.schema"
    )


def test_the_command_that_checks_the_schema_agrees() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "steplatch.runner.cli.schema", "--check"],
        cwd=Path(__file__).parents[1], capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0 and "up to date" in done.stdout


def test_the_schema_allows_no_unknown_key_anywhere() -> None:
    schema = procedure_schema()
    objects = [schema, *schema["$defs"].values()]
    open_ones = [
        o.get("title")
        for o in objects
        if o.get("type") == "object" and o.get("additionalProperties") is not False
    ]
    assert open_ones == []


def test_the_schema_knows_every_kind_of_step_and_no_other() -> None:
    steps = procedure_schema()["$defs"]["Stage"]["properties"]["steps"]["items"]
    kinds = {get_args(kind.model_fields["kind"].annotation)[0] for kind in KINDS}
    assert set(steps["discriminator"]["mapping"]) == kinds and len(kinds) == 14


def test_the_schema_is_plain_json_of_a_published_draft() -> None:
    published = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    assert published["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(published["properties"]) == set(Procedure.model_fields)
