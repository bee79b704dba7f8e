"""The fingerprint of what decides, in parts, and the list of files behind each part.

What decides is found, not listed: every file that ``decide`` or the working of the limits reaches
by imports (``DECIDES``), and every file that the judge reaches (``JUDGES``) and they do not. Of a
file only that counts which can change a decision (``deciding``). So a reworded refusal, a new
docstring or a translation moves no part, and a changed number moves one.

``runner/record/README.md`` says what is in each part.
"""

import hashlib
import os.path
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

from .deciding import Reader

ROOT: Final = Path(__file__).resolve().parents[2]
DECIDES: Final = (
    "runner/core/engine.py",
    "runner/core/steps/__init__.py",
    "runner/core/loading.py",
    "runner/core/limits.py",
    "runner/workshop/files.py",
)
DECODES: Final = ("runner/live/raw_log.py",)
JUDGES: Final = ("runner/assess/judges.py",)
SAYS: Final = frozenset(
    {
        "runner/jobs/fingerprint.py",
        "runner/jobs/deciding.py",
        "runner/core/refusals.py",
        "runner/core/tries.py",
        "runner/core/showing.py",
        "runner/input/foreign_units.py",
        "runner/input/findings.py",
        "runner/input/model_findings.py",
        "runner/assess/plausibility.py",
        "runner/core/content.py",
        "safety/catalogue.py",
        "safety/registers/carried.py",
        "safety/registers/required.py",
        "safety/registers/caution.py",
        "safety/registers/cautions.py",
        "safety/registers/cautions_harm.py",
        "safety/registers/cautions_parts.py",
    }
)
"""Files that are reached and decide nothing: this one and what it reads with, the catalogue, words
of refusals and findings, what the proof tries, questions about a typed set, cautions, what a file
that is written now must hold."""
TABLES: Final = "*.yaml"
NAME: Final = "steplatch."


@dataclass(frozen=True, slots=True)
class Parts:
    """SHA-256 of each part of what decides.

    ``rules``: the interlocks, effects, limits and the engine; ``judge``: the judge and its tables;
    ``procedure``: the main procedure's file; ``files``: every other file that the job keeps.
    """

    rules: str
    judge: str
    procedure: str
    files: str


def files_sha256(hashes: dict[str, str], main: str) -> str:
    """SHA-256 over names and hashes of the kept texts but the main procedure's."""
    lines = [f"{name} {digest}\n" for name, digest in sorted(hashes.items()) if name != main]
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def parts_of(hashes: dict[str, str], procedure: str) -> Parts:
    """The parts of today for a job with these kept texts (name to SHA-256)."""
    main = f"procedure:{procedure}"
    return Parts(rules_sha256(), judge_sha256(), hashes[main], files_sha256(hashes, main))


@lru_cache(maxsize=1)
def rules_sha256() -> str:
    """SHA-256 of the part ``rules`` of this program."""
    return sha256_of(rule_files())


@lru_cache(maxsize=1)
def judge_sha256() -> str:
    """SHA-256 of the part ``judge`` of this program."""
    return sha256_of(judge_files())


@lru_cache(maxsize=1)
def decoder_sha256() -> str:
    """SHA-256 of what makes happenings of a vehicle's raw log: decoder, tables, reducer. It
    decides nothing of a job; with another one a log cannot be compared with what it once said."""
    files = _reached(ROOT, DECODES, set())
    tables = {table for path in files for table in path.parent.glob(TABLES) if _is_table(table)}
    return sha256_of(sorted(files | tables))


def _is_table(path: Path) -> bool:
    return path.parent == ROOT / "runner" / "live" and path.name != "words.yaml"


@lru_cache(maxsize=1)
def _reader() -> Reader:
    return Reader()


@lru_cache(maxsize=4)
def rule_files(root: Path = ROOT) -> tuple[Path, ...]:
    """The files of the part ``rules``, from what they import, without the judge's own."""
    return tuple(sorted(_reached(root, DECIDES, {root / name for name in JUDGES})))


@lru_cache(maxsize=4)
def judge_files(root: Path = ROOT) -> tuple[Path, ...]:
    """The files of the part ``judge``: those that only it reaches, and its tables."""
    own = _reached(root, JUDGES, set(rule_files(root)))
    rooms = {path.parent for path in own if path.parent != root / "runner"}
    tables = {table for room in rooms for table in room.glob(TABLES)}
    return tuple(sorted(own | tables))


def sha256_of(paths: Iterable[Path], root: Path = ROOT) -> str:
    """SHA-256 over names and what decides of these files."""
    digest, reader = hashlib.sha256(), _reader()
    for path in paths:
        digest.update(f"{path.relative_to(root).as_posix()} {reader.read(path).sha256}\n".encode())
    reader.keep()
    return digest.hexdigest()


def _reached(root: Path, roots: Iterable[str], stop: set[Path]) -> set[Path]:
    found: set[Path] = set()
    waiting = [root / name for name in roots]
    said = {root / name for name in SAYS}
    while waiting:
        path = waiting.pop()
        if path not in found and path not in stop and path not in said:
            found.add(path)
            waiting += _imported(root, path)
    return found


def _imported(root: Path, path: Path) -> Iterator[Path]:
    """The files of this program that one file imports, anywhere in it, but for types alone."""
    here = path.relative_to(root).parent.parts
    for level, module, names in _reader().read(path).imports:
        if level == 0 and not module.startswith(NAME):
            continue
        above = here[: len(here) - level + 1] if level else ()
        base = os.path.join(root, *above, *module.removeprefix(NAME).split("."))  # noqa: PTH118
        for place in (base, *(os.path.join(base, name) for name in names)):  # noqa: PTH118
            for file in (f"{place}.py", os.path.join(place, "__init__.py")):  # noqa: PTH118
                if os.path.isfile(file):  # noqa: PTH113 - a thousand of them
                    yield Path(file)
