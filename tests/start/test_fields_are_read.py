"""Each field of each workshop file is read by something."""

import ast
from functools import lru_cache
from pathlib import Path

from steplatch.runner.workshop import files
from steplatch.runner.workshop.files import (
    FluidFile,
    GunFile,
    PersonPart,
    VehicleFile,
    WorkshopFile,
)

from tests.each import each

ROOT = Path(__file__).resolve().parents[2]
ASKS = ("files.py", "questions.py", "vehicle_questions.py", "workshop_questions.py")
"""Files that only say what is asked."""


@lru_cache(maxsize=1)
def attributes_read() -> frozenset[str]:
    """Every attribute that the program reads of anything, but where fields are only named."""
    read = set()
    for path in [*(ROOT / "safety").rglob("*.py"), *(ROOT / "runner").rglob("*.py")]:
        if path.name in ASKS:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
                read.add(node.attr)
    return frozenset(read)


@each(
    ("kind", "key"),
    [
        (model.__name__, key)
        for model in (VehicleFile, GunFile, FluidFile, WorkshopFile, PersonPart)
        for key in model.model_fields
    ],
)
def test_a_field_is_read_by_something(kind: str, key: str) -> None:
    assert files._FIELDS.get(key, key) in attributes_read(), f"{key} of {kind} is read by nothing"
