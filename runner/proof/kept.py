"""Searches that found no fault, kept for the next time that the same is asked.

A search is the same where the code that decides and proves, the steps without their words and the
run are the same, byte for byte. So a reworded step is not searched again, and a changed order,
condition, row or number is. What is kept lies beside the bytecode, where Python keeps that; who can
write there can change the program too. Only the command reads it, never a test of the proof.
"""

import json
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from hashlib import sha256
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any, Final

from ..core.plan import Plan
from .prove import ProofResult
from .runs import Run, Runs

ROOT: Final = Path(__file__).resolve().parents[2]
ROOMS: Final = ("safety", "runner/core", "runner/input", "runner/proof")
"""What decides and proves; the judges of the proof are its own."""
WORDS: Final = frozenset({
    "author", "approver", "applies_to", "competence", "date", "do", "done", "purpose", "remedy",
    "revision", "sources", "title", "why",
})  # fmt: skip
"""The keys of a procedure that hold words for people, which no search reads."""
MOST: Final = 400
"""Searches kept; the oldest go."""
_PAIRS: Final = frozenset({"reached"})
_SETS: Final = frozenset({"reached", "ended", "acts", "trips", "resets"})
_TUPLES: Final = frozenset({"faults", "always", "named_disturbances"})


def make_or_keep(
    made: Runs, runs: Sequence[Run], afresh: bool = False
) -> Iterator[tuple[ProofResult, bool]]:
    """Each search of ``runs`` in order, and whether it was kept from before; the others are made,
    and kept where they found no fault. Raises SearchCapped."""
    same = sha256((code_sha256() + plan_sha256(made.loaded.plan)).encode()).hexdigest()
    names = [sha256(f"{same} {run!r}".encode()).hexdigest() for run in runs]
    kept = {} if afresh else _read()
    known = {name: _result(kept[name]) for name in names if name in kept}
    results = made.make_all([r for r, n in zip(runs, names, strict=True) if n not in known])
    new: dict[str, Any] = {}
    for name in names:
        if name in known:
            yield known[name], True
            continue
        result = next(results)
        if result.proven:
            new[name] = {key: _plain(key, value) for key, value in asdict(result).items()}
        yield result, False
    if new:
        _write(_read() | new)


def code_sha256(root: Path = ROOT) -> str:
    """SHA-256 over every file of what decides and proves, and the version of Python."""
    digest = sha256(sys.version.encode())
    for room in ROOMS:
        for path in sorted((root / room).rglob("*.py")):
            digest.update(f"{path.relative_to(root).as_posix()}\n".encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()


def plan_sha256(plan: Plan) -> str:
    """SHA-256 over the steps of a main procedure, its recoveries and cards, without words."""
    whole = [plan.main, *(plan.others[name] for name in sorted(plan.others))]
    plain = [_wordless(procedure.model_dump(mode="json")) for procedure in whole]
    return sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()


def _wordless(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _wordless(item) for key, item in value.items() if key not in WORDS}
    return [_wordless(item) for item in value] if isinstance(value, list) else value


def _plain(key: str, value: Any) -> Any:
    return sorted(value) if key in _SETS else value


def _result(plain: dict[str, Any]) -> ProofResult:
    found = dict(plain)
    for key in _SETS:
        found[key] = frozenset(tuple(v) if key in _PAIRS else v for v in found[key])
    for key in _TUPLES:
        found[key] = tuple(found[key])
    return ProofResult(**found)


def _place() -> Path | None:
    try:
        return Path(cache_from_source(__file__)).with_suffix(".json")
    except NotImplementedError:
        return None


def _read() -> dict[str, Any]:
    """What was kept; nothing where that cannot be read: all is searched then."""
    place = _place()
    try:
        kept = json.loads(place.read_text(encoding="utf-8")) if place else {}
    except (OSError, ValueError):
        return {}
    wanted = set(ProofResult.__dataclass_fields__)
    if not isinstance(kept, dict):
        return {}
    return {k: v for k, v in kept.items() if isinstance(v, dict) and set(v) == wanted}


def _write(kept: dict[str, Any]) -> None:
    place = _place()
    if place is None or sys.dont_write_bytecode:
        return
    aside = place.with_suffix(f".{os.getpid()}")
    try:
        aside.write_text(json.dumps(dict(list(kept.items())[-MOST:])), encoding="utf-8")
        aside.replace(place)
    except OSError:  # a folder that cannot be written to: it is searched again the next time
        aside.unlink(missing_ok=True)
