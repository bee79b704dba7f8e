"""Which program and which rules are at work: both stand on every journal line."""

import hashlib
from functools import lru_cache
from pathlib import Path

import safety

PROGRAM = "steplatch 0.1.0"


@lru_cache(maxsize=1)
def rules_sha256() -> str:
    """SHA-256 over every source file of ``safety/`` (names and exact bytes, sorted)."""
    assert safety.__file__ is not None
    room = Path(safety.__file__).parent
    digest = hashlib.sha256()
    for path in sorted(room.rglob("*.py")):
        digest.update(path.relative_to(room).as_posix().encode("ascii") + b"\0")
        digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()
