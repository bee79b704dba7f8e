"""Changes to any file of a workshop's record, open, ended or sealed: which of them pass unnoticed.

Each tamper is made in a copy and asked of ``audit --all``; it is noticed when the exit code is
another one than before it, or the words are. One in fifty changes nothing: noticing that would say
that the audit's words change by themselves, and that the rest of the figures is worth nothing.
"""

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from random import Random

from steplatch.runner.record import DataFolder, find_data_folder
from steplatch.runner.record.folders import LOCK_NAME

from .readers import run
from .real_jobs import SHORT, real_job

STATES = ("open", "ended", "sealed")
NO_RECORD = (LOCK_NAME, "lines.lock", "making.lock", "workshop-key.pem", "jobs.sqlite3")
"""Files whose content is no record: locks, the list that is made again, the private key."""

NOTHING = "nothing changed"
SPELT = "spelt otherwise"
"""The same members and values, in another order or with other spaces between them."""


@dataclass(frozen=True, slots=True)
class Tamper:
    """One change, and what the audit made of it. ``trace``: it crashed or did not end."""

    state: str
    file: str
    how: str
    noticed: bool
    trace: str


class Workshop:
    """A data folder in one state, put back after each tamper."""

    def __init__(self, room: Path, state: str, worked: str = SHORT) -> None:
        self.state, name = state, f"{state}-{worked}"
        self.kept, self.data = room / f"{name}-kept", room / name
        made: DataFolder = find_data_folder(self.kept, {})
        folder, _ = real_job(made, key=state == "sealed", close=state != "open", worked=worked)
        if state == "open":
            lines = folder.journal.read_bytes().splitlines(keepends=True)
            self._cut(folder.path, folder.id, lines[: len(lines) // 2])
        shutil.copytree(self.kept, self.data)
        self.before = self._audited()

    @staticmethod
    def _cut(path: Path, job: str, lines: list[bytes]) -> None:
        import hashlib

        from steplatch.runner.record.head import Head, encode_head

        (path / "journal.jsonl").write_bytes(b"".join(lines))
        digest = hashlib.sha256(lines[-1]).hexdigest()
        (path / "head").write_bytes(encode_head(Head(job, len(lines), digest)))

    def _audited(self) -> tuple[int | None, str, str]:
        ran = run("audit", ["--data", str(self.data), "audit", "--all", "--json"])
        said = ran.said[
            max(0, ran.said.find("{")) :
        ]  # without how far it has come, where it is slow
        words = "\n".join(x for x in said.splitlines() if '"seconds"' not in x)
        return ran.code, words, ran.trace

    def files(self) -> list[Path]:
        """Every file of the record, by its path below the data folder."""
        found = (p.relative_to(self.data) for p in self.data.rglob("*") if p.is_file())
        return sorted(p for p in found if p.name not in NO_RECORD)

    def tried(self, chance: Random) -> Tamper:
        """One tamper, asked of the audit, and taken back."""
        name = chance.choice(self.files())
        path = self.data / name
        raw = path.read_bytes()
        how = NOTHING if chance.random() < 0.02 else _change(path, raw, chance)
        if name.name == "personal.json" and _same_json(path, raw):
            how = SPELT
        code, words, trace = self._audited()
        noticed = (code, words) != self.before[:2]
        shutil.rmtree(self.data)
        shutil.copytree(self.kept, self.data)
        return Tamper(self.state, str(name), how, noticed, trace)


def _same_json(path: Path, raw: bytes) -> bool:
    try:
        return bool(path.read_bytes() != raw and json.loads(path.read_bytes()) == json.loads(raw))
    except (OSError, ValueError):
        return False


def _change(path: Path, raw: bytes, chance: Random) -> str:
    """Change a file in some way; says how. Never leaves it as it was."""
    at = chance.randrange(len(raw)) if raw else 0
    lines = raw.splitlines(keepends=True)
    how = chance.choice(("bit", "byte", "cut", "grow", "drop line", "swap lines", "twice", "empty",
                         "remove", "rename", "add", "digit"))  # fmt: skip
    digits = [i for i, byte in enumerate(raw) if 48 <= byte <= 57]
    match how:
        case "remove":
            path.unlink()
            return how
        case "rename":
            path.rename(path.with_name(f"x-{path.name}"))
            return how
        case "add":
            path.with_name(f"extra-{path.name}").write_bytes(raw)
            return how
        case "bit":
            new = raw[:at] + bytes([raw[at] ^ (1 << chance.randrange(8))]) + raw[at + 1 :]
        case "byte":
            new = raw[:at] + bytes([(raw[at] + chance.randrange(1, 256)) % 256]) + raw[at + 1 :]
        case "digit" if digits:
            at = chance.choice(digits)
            new = raw[:at] + bytes([48 + (raw[at] - 47) % 10]) + raw[at + 1 :]
        case "cut":
            new = raw[:at]
        case "drop line" if len(lines) > 1:
            gone = chance.randrange(len(lines))
            new = b"".join(line for i, line in enumerate(lines) if i != gone)
        case "swap lines" if len(lines) > 1:
            i = chance.randrange(len(lines) - 1)
            new = b"".join([*lines[:i], lines[i + 1], lines[i], *lines[i + 2 :]])
        case "twice" if lines:
            i = chance.randrange(len(lines))
            new = b"".join([*lines[: i + 1], *lines[i:]])
        case "empty":
            new = b""
        case _:
            new, how = raw + raw[-20:] + b"x", "grow"
    if new == raw:
        new, how = raw + b"\n", "grow"
    path.write_bytes(new)
    return how
