"""The published JSON Schemas of a procedure and of a workshop's files, generated from the models.

    python -m steplatch.runner.cli.schema            writes procedures/schema/procedure.schema.json
                                                     and runner/workshop/schema/*.schema.json
    python -m steplatch.runner.cli.schema --check    says whether they are up to date

An editor that knows JSON Schema can check and complete such a file with them. It holds the shape
only: names that must exist, and words that a step may not hold, are checked by ``steplatch check``.
"""

import argparse
import json
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

from steplatch.safety.registers.cautions import CAUTIONS

from ..core.form import COMMON, EXTRA
from ..core.loading import procedure_model
from ..core.procedure import MAX_STEPS, Step
from ..core.steps import KINDS
from ..core.steps.ask import COUNT, QUANTITIES
from ..input.quantities import DIMENSIONS
from ..input.strict_yaml import StrictModel
from ..training.competence import CompetenceFile
from ..workshop.files import FluidFile, GunFile, PeopleFile, VehicleFile, WorkshopFile

SCHEMA_FILE = Path(str(files("steplatch.procedures"))) / "schema" / "procedure.schema.json"
WORKSHOP_SCHEMAS = Path(str(files("steplatch.runner"))) / "workshop" / "schema"
WORKSHOP_FILES: dict[str, type[StrictModel]] = {
    "vehicle": VehicleFile,
    "gun": GunFile,
    "fluid": FluidFile,
    "workshop": WorkshopFile,
    "people": PeopleFile,
    "competence": CompetenceFile,
}
_ID = "[a-z][a-z0-9-]{1,39}"
_WORDS = {"type": "string", "minLength": 3, "maxLength": 400}
_STATES = {
    "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]
}
_MAP = {"type": "object", "additionalProperties": _STATES, "minProperties": 1}
_WHEN_ONE = {"anyOf": [{"type": "string"}, _MAP]}
_WHEN = {"anyOf": [*_WHEN_ONE["anyOf"], {"type": "array", "items": _WHEN_ONE, "minItems": 1}]}


def procedure_schema() -> dict[str, Any]:
    """The schema of a procedure's file as a JSON object."""
    model = procedure_model().model_json_schema()
    properties = {key: _field(value) for key, value in model["properties"].items()}
    properties["conditions"] = {"type": "object", "additionalProperties": _MAP}
    properties["stages"] = {
        "type": "array",
        "minItems": 1,
        "items": {"anyOf": [_ref("stage"), _ref("borrowed")]},
    }
    defined = {name: value for name, value in model["$defs"].items() if "enum" in value}
    applies = model["$defs"]["Applies"]
    states = {key: _field(value) for key, value in applies["properties"].items()}
    defined["Applies"] = applies | {"properties": states}
    steps = {kind.kind_name(): _step(kind, model["$defs"][kind.__name__]) for kind in KINDS}
    names = [_ref(name) for name in (*steps, "use")]
    caution = {"enum": list(CAUTIONS)}
    name = {"type": "string", "pattern": f"^{_ID}$", "description": "A shared step by its name."}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$comment": "Generated: python -m steplatch.runner.cli.schema",
        "title": "Procedure",
        "type": "object",
        "additionalProperties": False,
        "properties": properties,
        "required": model["required"],
        "$defs": defined
        | steps
        | {
            "when": _WHEN,
            "cautions": {"anyOf": [caution, {"type": "array", "maxItems": 6, "items": caution}]},
            "use": _use(),
            "step": {"anyOf": [name, *names]},
            "stage": _stage(),
            "borrowed": _borrowed(),
        },
    }


def _ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/$defs/{name}"}


def _stage() -> dict[str, Any]:
    own = {
        "done": _WORDS,
        "when": _ref("when"),
        "returns": _STATES,
        "steps": {
            "type": "array", "minItems": 1, "maxItems": MAX_STEPS,
            "items": _ref("step"),
        },
    }  # fmt: skip
    said = "Its name and title, then when, returns, done (its completion line) and steps."
    return _named(own, ["done", "steps"], said)


def _borrowed() -> dict[str, Any]:
    said = "A stage of another procedure: its name and that procedure's id, with what is added."
    own = {"when": _ref("when"), "returns": _STATES}
    return _named(own, [], said, {"type": "string", "pattern": f"^{_ID}$"})


def _step(kind: type[Step], model: dict[str, Any]) -> dict[str, Any]:
    fields = model["properties"]
    own = {key: _field(fields[key]) for key in kind.own_keys() if key in fields}
    if kind.kind_name() == "ask":
        what = {"enum": ["text", "choice", "fields", *QUANTITIES]}
        line = {"type": "object", "additionalProperties": {"enum": [*DIMENSIONS, COUNT]}}
        answers = {"type": "object", "additionalProperties": _WORDS, "minProperties": 2}
        band = {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2}
        own |= {"ask": what, "answers": answers, "between": band, "fields": line}
    else:
        head = _field(fields[kind.head]) if kind.head else {"const": kind.word}
        own[kind.kind_name()] = head
    needed = [kind.kind_name(), *(k for k in model["required"] if k in own and k != "name")]
    return _named(_common() | own, list(dict.fromkeys(needed)), model.get("description", ""))


def _use() -> dict[str, Any]:
    common = {key: value for key, value in _common().items() if key in EXTRA}
    said = "A shared step under an id of its own, with what is added."
    return _named(common, [], said, {"type": "string", "pattern": f"^{_ID}$"})


def _common() -> dict[str, Any]:
    return {
        "when": _ref("when"),
        "cautions": _ref("cautions"),
        "why": _WORDS,
        "remedy": _WORDS,
        "held": {"type": "string"},
        "from": {"const": "last job"},
    }  # fmt: skip


def _named(
    own: dict[str, Any], required: list[str], said: str, words: dict[str, Any] = _WORDS
) -> dict[str, Any]:
    """A group whose first key is a name of its own, with words."""
    keys_of_steps = (
        () if "returns" in own else (*COMMON, *(k for kind in KINDS for k in kind.own_keys()))
    )
    taken = {*own, *keys_of_steps}
    name = f"^(?!(?:{'|'.join(sorted(taken))})$){_ID}$"
    return {
        "type": "object",
        "description": said,
        "properties": own,
        "patternProperties": {name: words},
        "additionalProperties": False,
        "minProperties": len(required) + 1,
        "required": required,
    }


def _field(value: dict[str, Any]) -> dict[str, Any]:
    """A field of a model as a file may hold it: one value for a list of one, yes and no."""
    if value.get("type") == "boolean":
        return {"enum": [True, False, "yes", "no"]}
    plain = {key: inner for key, inner in value.items() if key not in ("title", "default")}
    if plain.get("type") == "array":
        return {"anyOf": [plain["items"], plain]}
    return plain


def schema_text() -> str:
    """The schema as the published file holds it."""
    return json.dumps(procedure_schema(), indent=2, ensure_ascii=False, sort_keys=True) + "\n"


def published() -> dict[Path, str]:
    """Every published schema: its file and what it holds."""
    found = {SCHEMA_FILE: schema_text()}
    for name, model in WORKSHOP_FILES.items():
        schema = {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$comment": "Generated: python -m steplatch.runner.cli.schema",
            **model.model_json_schema(),
            "title": name.capitalize(),
        }
        text = json.dumps(schema, indent=2, ensure_ascii=False, sort_keys=True) + "\n"
        found[WORKSHOP_SCHEMAS / f"{name}.schema.json"] = text
    return found


def main(argv: list[str] | None = None) -> int:
    """Write the files, or check them."""
    parser = argparse.ArgumentParser(
        "python -m steplatch.runner.cli.schema", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--check", action="store_true", help="write nothing, compare")
    args = parser.parse_args(argv)
    wrong = 0
    for path, text in published().items():
        if args.check:
            same = path.exists() and path.read_text(encoding="utf-8") == text
            print(f"{path}: {'up to date' if same else 'not as the models say'}")
            wrong += not same
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
            print(path)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
