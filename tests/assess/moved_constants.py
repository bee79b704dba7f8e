"""Does the validation table notice a constant that is moved by 5 %?

``python -m tests.assess.moved_constants > tests/assess/MOVED.md`` moves every one, up and down:
the numbers of the physics, the design choices of the limits, the revs, the heat, and what the
judge takes each reading for. One that no row notices has its reason in ``UNNOTICED``.
"""

import importlib
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType
from typing import Any, Final
from unittest.mock import patch

from steplatch.runner.assess.inputs import Stated
from steplatch.safety.limits.choices import DesignChoice

from tests.assess.validation_rows import rows

ROOMS: Final = (
    *(f"safety.physics.{name}" for name in ("ash", "cooling", "cylinder", "drying", "exhaust",
                                            "gas", "wall_flow")),
    *(f"safety.limits.{name}" for name in ("choices", "heat", "revs")),
    "runner.assess.inputs",
)  # fmt: skip
FACTORS: Final = (0.95, 1.05)
UNNOTICED: Final[dict[str, str]] = {
    "LEAST_TIMED": "whole seconds: only up",
    "LONGEST_OFF_BURST": "whole seconds: only down",
    "_ZERO_DEGC_K": "words of a limit alone: test_redo_by_hand redoes them",
    "WATCH_S": "a class of the trend: test_borders",
    "LONGEST_MIN": "a class of the trend: test_plateau",
}
"""Constants that a row notices in one direction or not at all, each with its reason."""


@dataclass(frozen=True)
class Constant:
    """A number of a module: its place, and how it is moved."""

    room: str
    name: str
    was: Any
    moved: Callable[[float], Any]


def constants() -> Iterator[Constant]:
    """Every number that stands at the top of these modules."""
    for room in ROOMS:
        module = importlib.import_module(f"steplatch.{room}")
        for name, value in vars(module).items():
            if not name.strip("_").isupper() or _imported(module, name):
                continue
            if isinstance(value, DesignChoice | Stated):
                yield Constant(room, name, value, _scaled(value))
            elif isinstance(value, float):
                yield Constant(room, name, value, lambda f, v=value: f * v)
            elif isinstance(value, dict) and all(isinstance(v, Stated) for v in value.values()):
                for key, one in value.items():
                    if one.value:
                        yield Constant(room, f"{name}[{key}]", value, _within(value, key))


def _imported(module: ModuleType, name: str) -> bool:
    """Whether another module is where this number is defined."""
    text = Path(module.__file__ or "").read_text(encoding="utf-8")
    return not re.search(rf"^{name}(:| =)", text, re.MULTILINE)


def _scaled(value: Any) -> Callable[[float], Any]:
    return lambda factor: replace(value, value=value.value * factor)


def _within(table: dict[str, Stated], key: str) -> Callable[[float], Any]:
    return lambda factor: table | {key: _scaled(table[key])(factor)}


@contextmanager
def moved(constant: Constant, factor: float) -> Iterator[None]:
    """The constant by ``factor``, wherever it was imported to under its name."""
    name = constant.name.partition("[")[0]
    now = constant.moved(factor)
    held = [
        patch.object(module, name, now)
        for at, module in sorted(sys.modules.items())
        if at.startswith(("steplatch.", "tests.")) and getattr(module, name, None) is constant.was
    ]
    for one in held:
        one.start()
    try:
        yield
    finally:
        for one in held:
            one.stop()


def noticed(constant: Constant, factor: float) -> int:
    """How many rows fail; a sum that refuses counts as one."""
    with moved(constant, factor):
        try:
            return sum(not row.agrees for row in rows())
        except (ValueError, ArithmeticError):
            return 1


def found() -> list[tuple[Constant, tuple[int, ...]]]:
    """Every constant with the rows that notice it, by factor."""
    return [(c, tuple(noticed(c, factor) for factor in FACTORS)) for c in constants()]


def page() -> str:
    """The page as Markdown."""
    every = found()
    missed = [(c, n) for c, n in every if not all(n)]
    lines = [
        "# Constants moved by 5 %",
        "",
        "Written by `python -m tests.assess.moved_constants`: how many rows of VALIDATION.md fail",
        "when a constant is 5 % less, and 5 % more.",
        "",
        f"{len(every)} constants, {len(every) - len(missed)} noticed both ways.",
        "",
        "| room | constant | less | more | |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {c.room} | {c.name} | {less} | {more} | {UNNOTICED.get(c.name, '')} |"
        for c, (less, more) in every
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(page(), end="")
