"""What each machine-readable output looks like, taken from outputs that the commands give.

    python -m tests.upkeep.write_output_schemas              widens runner/cli/outputs.schema.json
    python -m tests.upkeep.write_output_schemas FILE...      with outputs kept in files too

The schema of an output takes all of its samples: keys that every sample has are required, and no
other key is allowed. What was published is only widened; a key that is gone is taken out by hand,
and the output's number (``OUTPUTS``) goes up. Of a value that was always null nothing is said.
"""

import contextlib
import io
import json
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from steplatch.runner.book.sending import Status
from steplatch.runner.cli import exits
from steplatch.runner.cli.command import OUTPUTS, headed
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.record import DataFolder
from steplatch.runner.workshop.roster import admit

ROOT = Path(__file__).resolve().parents[2]
WORKSHOP = ROOT / "examples" / "workshop"
GUIDE = ROOT / "examples" / "guide"
SCHEMA = ROOT / "runner" / "cli" / "outputs.schema.json"
VEHICLE = str(WORKSHOP / "vehicle.yaml")
LOGS = (GUIDE / "logs.md").read_text(encoding="utf-8")
READINGS = "raised: {} 2500 40 215 88 shut\nidle: {} 800 7 120 85 shut\nzero: 0.1 0 x x x x\n"

SAMPLES: dict[str, list[list[str]]] = {
    "audit": [["audit", "{job}", "--json"], ["audit", "{other}", "--json"]],
    "audit-all": [["audit", "--all", "--json"]],
    "book-answers": [["book", "answers", "--practice", "--json"], ["book", "answers", "--json"]],
    "book-status": [],
    "check": [
        ["check", "zero-check", "--json"], ["check", "--load", "--json"],
        ["check", "{broken}", "--json"],
    ],
    "codes": [["codes", "P2002", "P2463", "--json"]],
    "compare": [["compare", "{before}", "{after}", "--vehicle", VEHICLE, "--json"]],
    "customer-due": [["customer", "due", "--json"]],
    "customer-export": [["customer", "export", "{job}"]],
    "debrief": [["debrief", "{job}", "--json"], ["debrief", "{other}", "--json"]],
    "doctor": [["doctor", "--json"]],
    "dose": [
        ["dose", "--displacement", "2.0 L", "--cylinders", "4", "--json"],
        ["dose", "--displacement", "2.0 L", "--cylinders", "4", "--ratio", "16",
         "--shot", "19 mL", "--shot", "20 mL", "--shot", "21 mL", "--json"],
    ],
    "error": [
        ["check", "no-such-procedure", "--json"], ["audit", "no-such-job", "--json"],
        ["jobs", "--json", "--no-such-option"],
    ],
    "faults": [["practise", "--list-faults", "--json"]],
    "job-export": [["export", "{job}", "--json"], ["export", "{job}", "--with-personal"]],
    "jobs": [["jobs", "--json"], ["jobs", "--json", "--with-personal"]],
    "key": [["key", "show", "--json"]],
    "limits": [["limits", "--vehicle", VEHICLE, "--json"]],
    "link": [["link", "--practice", "--seconds", "2", "--record", "{raw}", "--json"],
             ["link", "--practice", "--seconds", "1", "--json"]],
    "link-ports": [["link", "--json"]],
    "link-replay": [["link", "--replay", "{raw}", "--json"]],
    "matrix": [["matrix", "--json"], ["matrix", "--view", "effects", "--json"]],
    "people": [["people", "list", "--people", str(WORKSHOP / "people.yaml"), "--json"]],
    "procedure-diff": [["procedure", "diff", "zero-check", "oil-check", "--json"]],
    "procedure-list": [["procedure", "print", "clean-above", "--vehicle", VEHICLE, "--json"]],
    "procedure-show": [["procedure", "show", "clean-above", "--json"],
                       ["procedure", "show", "zero-check", "--json"]],
    "progress": [["progress", "technician-1", "--people", str(WORKSHOP / "people.yaml"), "--json"]],
    "self-test": [["self-test", "--json"]],
    "steady": [["steady", str(GUIDE / "before.csv"), "--columns", "{columns}", "--json"]],
}  # fmt: skip
"""The commands whose outputs show what each looks like."""
NAMED = frozenset({"job-export.job.files", "job-export.job.parts", "matrix.rows[]",
                   "compare.facts", "audit.parts", "audit-all.jobs[].parts",
                   "book-answers.answers[].rows[]"})  # fmt: skip
"""Places of objects whose keys are names out of data."""
MADE = {
    "book-status": asdict(
        Status(
            "bay-1",
            2,
            1,
            ("a job",),
            (("a job", "gone", "lines 5 to 7"),),
            ("a job",),
            (("a job", "gone", "lines 5 to 7", "somebody", "why"),),
        )
    )
}
"""What a command writes that needs a server, as its value is declared."""
OPEN = {
    "job-export.journal[].command": "a line's command, as recorded (runner/record/README.md)",
    "job-export.journal[].outcome": "its outcome, as recorded",
    "customer-export.jobs[]": "one job, as 'job-export' has it",
}
"""Places of objects that are described elsewhere."""


def prepared(folder: Path) -> dict[str, str]:
    """A data folder with the shipped jobs, a key and people, and files to read: their places."""
    data = DataFolder(folder / "data", "the samples")
    shutil.copytree(ROOT / "examples" / "jobs", data.jobs)
    for path in (data.path, data.jobs):
        path.chmod(0o700)
    key_folder(data).make(bytes(range(32)))
    admit(WORKSHOP / "people.yaml", data)
    job, other = sorted(path.name for path in data.jobs.iterdir())
    broken = folder / "my-mistake.yaml"
    text = (ROOT / "procedures" / "zero-check.yaml").read_text("utf-8")
    broken.write_text(text.replace("      - codes-saved\n", ""), "utf-8")
    for name, raised in (("before", "96"), ("after", "31")):
        (folder / name).with_suffix(".yaml").write_text(READINGS.format(raised, 9), "utf-8")
    columns = folder / "columns.yaml"
    columns.write_text(str(re.search(r"```yaml\n(.*?)```", LOGS, re.S)[1]), "utf-8")
    places = {"broken": broken, "raw": folder / "drive.raw", "columns": columns}
    places |= {name: folder / f"{name}.yaml" for name in ("before", "after")}
    return {"data": str(data.path), "job": job, "other": other} | {
        name: str(path) for name, path in places.items()
    }


def said(words: list[str], places: dict[str, str]) -> tuple[int, dict[str, Any]]:
    """Exit code and the one JSON object that a command writes on standard output."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        try:
            code = main(["--data", places["data"], *(word.format(**places) for word in words)])
        except SystemExit as ended:
            code = int(ended.code or exits.OK)
    found: dict[str, Any] = json.loads(out.getvalue())
    return code, found


def shape(value: Any, place: str) -> dict[str, Any]:
    """The schema of one value."""
    if place in OPEN:
        return {"type": ["object"], "description": OPEN[place]}
    if isinstance(value, dict):
        inner = {key: shape(item, f"{place}.{key}") for key, item in value.items()}
        if place in NAMED:
            return {"type": ["object"], "additionalProperties": merged_all(inner.values())}
        return {
            "type": ["object"],
            "properties": inner,
            "required": sorted(inner),
            "additionalProperties": False,
        }
    if isinstance(value, list):
        return {"type": ["array"], "items": merged_all(shape(v, f"{place}[]") for v in value)}
    for kind, name in ((bool, "boolean"), (int, "number"), (float, "number"), (str, "string")):
        if isinstance(value, kind):
            return {"type": [name]}
    return {}


def merged_all(shapes: Any) -> dict[str, Any]:
    """The least schema that takes what each of them takes; ``{}`` for none."""
    found: dict[str, Any] = {}
    for one in shapes:
        found = merged(found, one) if found else one
    return found


def merged(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    """The least schema that takes what either takes; beside null, whatever the other says."""
    if not one or not other:
        known = one or other
        return {**known, "type": sorted({*known["type"], "null"})} if known else {}
    both: dict[str, Any] = {**one, **other, "type": sorted({*one["type"], *other["type"]})}
    if "properties" in one and "properties" in other:
        names = {**one["properties"], **other["properties"]}
        both["properties"] = {
            name: merged(one["properties"].get(name, said), other["properties"].get(name, said))
            for name, said in names.items()
        }
        both["required"] = sorted({*one["required"]} & {*other["required"]})
    for key in ("items", "additionalProperties"):
        if isinstance(one.get(key), dict) and isinstance(other.get(key), dict):
            empty = not one[key] or not other[key]
            both[key] = one[key] or other[key] if empty else merged(one[key], other[key])
    return both


def _outputs(
    places: dict[str, str], kept: list[dict[str, Any]]
) -> Iterator[tuple[str, dict[str, Any]]]:
    before = json.loads(SCHEMA.read_text("utf-8"), object_hook=_listed)["$defs"]
    for name, samples in SAMPLES.items():
        values = [said(words, places)[1] for words in samples]
        values += [headed(name, json.loads(json.dumps(MADE[name])))] if name in MADE else []
        assert {value["output"] for value in values} == {name}, values
        values += [one for one in kept if one["output"] == name]
        found = merged_all(shape(value, name) for value in values)
        if name in before:  # a new output is not
            for key in ("output", "schema"):
                before[name]["properties"][key] = found["properties"][key]
            found = merged(before[name], found)
        found["properties"]["output"] = {"const": name}
        found["properties"]["schema"] = {"const": OUTPUTS[name]}
        yield name, found


def _listed(value: dict[str, Any]) -> dict[str, Any]:
    """A schema with each type as a list, as it is merged."""
    return {k: [v] if k == "type" and isinstance(v, str) else v for k, v in value.items()}


def _plain(value: Any) -> Any:
    """A schema as it is published: a single type stands alone."""
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if not isinstance(value, dict):
        return value
    single = {"type": value["type"][0]} if len(value.get("type") or ()) == 1 else {}
    return {key: _plain(one) for key, one in value.items()} | single


def schema_text(places: dict[str, str], kept: list[dict[str, Any]]) -> str:
    """The published file."""
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$comment": "Generated: python -m tests.upkeep.write_output_schemas",
        "title": "What steplatch writes for other programs, by the word under 'output'",
        "$defs": _plain(dict(_outputs(places, kept))),
        "oneOf": [{"$ref": f"#/$defs/{name}"} for name in SAMPLES],
    }
    return json.dumps(schema, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as room:
        kept = [json.loads(Path(name).read_text("utf-8")) for name in sys.argv[1:]]
        SCHEMA.write_text(schema_text(prepared(Path(room)), kept), encoding="utf-8")
    print(SCHEMA)
    sys.exit(0)
