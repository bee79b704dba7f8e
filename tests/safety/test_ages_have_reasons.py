"""Each time that decides says beside it why it is as long as it is."""

import ast
import re
from pathlib import Path

import pytest
from steplatch.runner.core import job
from steplatch.safety import bay

ROOMS = (Path(bay.__file__).parent, Path(job.__file__).parent)
A_TIME = re.compile(r"^_?[A-Z0-9_]+_(S|MS)$")
LEAST_WORDS = 6


def constants() -> list[tuple[str, str]]:
    """(file and name, the words beside it) of each time at the head of a file that decides."""
    found = []
    for path in sorted(p for room in ROOMS for p in room.rglob("*.py") if "verify" not in p.parts):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        for at, node in enumerate(body):
            target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", 0)
            value = getattr(node, "value", None)
            number = value is not None and not any(
                isinstance(part, ast.Call | ast.Dict | ast.Tuple) for part in ast.walk(value)
            )
            if number and isinstance(target, ast.Name) and A_TIME.match(target.id):
                after = body[at + 1].value if isinstance(body[at + 1], ast.Expr) else None  # type: ignore[attr-defined]
                words = after.value if isinstance(after, ast.Constant) else ""
                found.append((f"{path.name} {target.id}", str(words)))
    return found


def test_the_soak_and_the_permit_are_among_them() -> None:
    names = {name for name, _ in constants()}
    assert {"heat.py _SOAK_S", "engine.py PERMIT_S", "effects.py RETRY_LASTS_S"} <= names


@pytest.mark.parametrize(("name", "words"), constants(), ids=lambda one: one[:40])
def test_each_says_why_it_is_so_long(name: str, words: str) -> None:
    assert len(words.split()) >= LEAST_WORDS, f"{name} has no reason beside it"
