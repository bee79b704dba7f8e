"""Lines that no program of ours wrote, in a chain that fits: a forger's folder."""

import copy
import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

from steplatch.runner.record.head import Head, encode_head

Lines = list[dict[str, Any]]
_ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 2**53, 10**30, 1.5, 1e308, "", "x", "?", "-", "0", "nan", "1e9", "٣",
    "\u202e", "../../etc/passwd", "a" * 300, [], {}, [[]], [{}], {"kind": "Ended"}, {"id": 1},
    ["a", 1], {"text": 5}, "2026-02-30T99:99:99Z", "kept_apart:sha256:00",
)  # fmt: skip


def lines_of(journal: Path) -> Lines:
    """The members of every line."""
    return [json.loads(raw) for raw in journal.read_bytes().splitlines()]


def put(folder: Path, job: str, lines: Lines) -> None:
    """Write a journal of these lines with chain, sequence and head as they must be."""
    prev, out = "0" * 64, []
    for number, fields in enumerate(lines, start=1):
        fields = {**fields, "prev": prev, "seq": number}
        raw = json.dumps(fields, ensure_ascii=False, separators=(",", ":")).encode(
            "utf-8", "surrogatepass"
        )
        out.append(raw + b"\n")
        prev = hashlib.sha256(out[-1]).hexdigest()
    (folder / "journal.jsonl").write_bytes(b"".join(out))
    (folder / "head").write_bytes(encode_head(Head(job, len(out), prev)))


def _places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    inner = value.items() if isinstance(value, dict) else ()
    for key, one in enumerate(value) if isinstance(value, list) else inner:
        yield from _places(one, (*path, key))


def malformed(lines: Lines, chance: Random) -> Lines:
    """The lines with one to three things in command, outcome or envelope made odd."""
    lines = list(lines)
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        number = chance.randrange(len(lines))
        line = lines[number] = copy.deepcopy(lines[number])
        room = chance.choice(("command", "outcome", "outcome", "outcome", "envelope"))
        if room == "envelope":
            key = chance.choice([k for k in line if k not in ("prev", "seq", "command", "outcome")])
            line[key] = chance.choice(_ODD)
            continue
        path = chance.choice(list(_places(line[room])))
        _change(line, (room, *path), chance)
    return lines


def _change(line: dict[str, Any], path: tuple[Any, ...], chance: Random) -> None:
    parent: Any = line
    for key in path[:-1]:
        parent = parent[key]
    last, how = path[-1], chance.randrange(6)
    if how == 0 and isinstance(parent, dict):
        del parent[last]
    elif how == 1 and isinstance(parent, dict):
        parent[chance.choice(("x", "kind", "text", "step", "readings"))] = chance.choice(_ODD)
    elif how == 2 and isinstance(parent, list):
        parent.insert(chance.randrange(len(parent) + 1), copy.deepcopy(parent[last]))
    elif how == 3 and isinstance(parent[last], str):
        parent[last] = parent[last][: chance.randrange(len(parent[last]) + 1)]
    else:
        parent[last] = copy.deepcopy(chance.choice(_ODD))
