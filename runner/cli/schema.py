"""The published JSON Schema of a procedure file, generated from the models.

    python -m steplatch.runner.cli.schema            writes procedures/schema/procedure.schema.json
    python -m steplatch.runner.cli.schema --check    says whether it is up to date

An editor that knows JSON Schema can check and complete a procedure with it. It holds the shape
only: names that must exist, and words that a step may not hold, are checked by ``steplatch check``.
"""

import argparse
import json
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

from ..core.loading import procedure_model

SCHEMA_FILE = Path(str(files("steplatch.procedures"))) / "schema" / "procedure.schema.json"


def procedure_schema() -> dict[str, Any]:
    """The schema as a JSON object."""
    schema = procedure_model().model_json_schema()
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$comment": "Generated: python -m steplatch.runner.cli.schema",
    }
    return head | schema


def schema_text() -> str:
    """The schema as the published file holds it."""
    return json.dumps(procedure_schema(), indent=2, ensure_ascii=False, sort_keys=True) + "\n"


def main(argv: list[str] | None = None) -> int:
    """Write the file, or check it."""
    parser = argparse.ArgumentParser(
        "python -m steplatch.runner.cli.schema", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--check", action="store_true", help="write nothing, compare")
    args = parser.parse_args(argv)
    if args.check:
        same = SCHEMA_FILE.exists() and SCHEMA_FILE.read_text(encoding="utf-8") == schema_text()
        print(f"{SCHEMA_FILE}: {'up to date' if same else 'not as the models say'}")
        return 0 if same else 1
    SCHEMA_FILE.parent.mkdir(parents=True, exist_ok=True)
    SCHEMA_FILE.write_text(schema_text(), encoding="utf-8")
    print(SCHEMA_FILE)
    return 0


if __name__ == "__main__":
    sys.exit(main())
