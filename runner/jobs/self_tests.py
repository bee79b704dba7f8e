"""The self-tests that were made here: one line each in the data folder, the newest last.

A job need not wait for a self-test of rules that passed one on this computer before:
``wrong_before_a_job`` runs it once for each state of the rules. The file is a note, not evidence:
who can write the data folder can write it; ``steplatch self-test`` always runs it anew.
"""

import json
import os
import platform
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from ..core.version import PROGRAM
from ..record import DataFolder
from ..record.clocks import utc_now
from ..record.faults import failed
from .fingerprint import rules_sha256

if TYPE_CHECKING:
    from steplatch.safety.verify.self_test import SelfTest, SelfTestFinding

KEPT_IN = "self-tests.jsonl"
READ_AT_MOST_BYTES = 256 * 1024


def line_of(tried: "SelfTest") -> dict[str, Any]:
    """What is kept of a self-test: when, of what, and what it found."""
    return {
        "at": utc_now(),
        **_of_what(),
        "ok": not tried.findings,
        "interlock_rows": len(tried.rows),
        "trips": tried.latched,
        "findings": [
            {"row": found.row, "act": found.act, "said": found.said} for found in tried.findings
        ],
    }


def _of_what() -> dict[str, str]:
    """The program, the rules and the Python that are at work."""
    return {
        "program": PROGRAM,
        "rules_sha256": rules_sha256(),
        "python": platform.python_version(),
    }


def keep(data: DataFolder, line: dict[str, Any]) -> None:
    """Add one line to the file and have the disk keep it. Raises JournalFailed."""
    path = data.path / KEPT_IN
    text = json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n"
    try:
        with path.open("a", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise failed(path, _("keep what the self-test found"), error) from error


def passed_before(data: DataFolder) -> bool:
    """Whether the newest self-test of exactly this program, these rules and this Python passed.

    A line that cannot be read counts for nothing; so does a file that cannot.
    """
    wanted = _of_what()
    for line in _newest_first(data.path / KEPT_IN):
        if all(line.get(name) == value for name, value in wanted.items()):
            return line.get("ok") is True and line.get("findings") == []
    return False


def _newest_first(path: Path) -> Iterator[dict[str, Any]]:
    try:
        with path.open("rb") as file:
            file.seek(max(0, path.stat().st_size - READ_AT_MOST_BYTES))
            lines = file.read().splitlines()
    except OSError:
        return
    for raw in reversed(lines):
        try:
            line = json.loads(raw)
        except ValueError:
            continue
        if isinstance(line, dict):
            yield line


def wrong_before_a_job(data: DataFolder) -> "tuple[SelfTestFinding, ...]":
    """What is wrong with the rules at work; empty when nothing is, and a job may begin.

    Some milliseconds where they passed here before; else some tenths of a second, once.

    Raises:
        JournalFailed: what the self-test found could not be kept.
    """
    if passed_before(data):
        return ()
    from steplatch.safety.verify.self_test import (
        run_self_test,  # only where it is run: start-up time
    )

    tried = run_self_test()
    keep(data, line_of(tried))
    return tried.findings
