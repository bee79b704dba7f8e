"""Changes that keep the chain valid (hashes worked anew, head replaced) but alter what was decided.

Each is found, some of every kind by default and 200 in the slow set: a class, a refusal dropped, a
permit added, the ledger lowered by 0.1 mL, a number moved by two steps of its resolution, the role
of a signature, a trip, a move, a timer.
"""

import copy as copies
import json
import random
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any, Final

import pytest
from steplatch.runner.input.resolution import RESOLUTIONS, NoResolution, unit_of
from steplatch.runner.jobs.auditing import AuditGrade, audit
from steplatch.runner.record import JobFolder
from steplatch.runner.record.head import Head, encode_head
from steplatch.runner.record.line import decode_fields, hash_of

from tests.played import Played, lesson_with, play

SEED: Final = 15
WANTED: Final = (80, 200)
NAMED: Final = (
    *(".state", ".class", "refusal dropped", "permit added", "ledger 0.1 mL lower", "Signed role"),
    *(
        "by two steps",
        "Recorded reading.pressure_pa",
        "Recorded gun.upper_ml_s",
        "Tripped dropped",
        "Moved elsewhere",
        "TimerSet earlier",
    ),
)
"""Kinds of change that are among the chosen ones."""
Lines = list[dict[str, Any]]
Change = tuple[str, Callable[[Lines], None]]


def forge(folder: JobFolder, lines: Lines) -> None:
    """Write the lines with a chain and a head that fit them."""
    prev, out = "0" * 64, []
    for number, fields in enumerate(lines, start=1):
        raw = json.dumps({**fields, "prev": prev, "seq": number}, ensure_ascii=False,
                         separators=(",", ":")).encode() + b"\n"  # fmt: skip
        prev = hash_of(raw)
        out.append(raw)
    folder.journal.write_bytes(b"".join(out))
    folder.head.write_bytes(encode_head(Head(folder.id, len(out), prev)))


def _moved(name: str, value: str) -> str:
    return str(Decimal(value) - 2 * Decimal(RESOLUTIONS[unit_of(name)]))


def _event_changes(seq: int, at: int, event: dict[str, Any]) -> Iterator[Change]:
    kind = event["kind"]

    def set_to(key: str, value: Any) -> Callable[[Lines], None]:
        def change(lines: Lines) -> None:
            lines[seq]["outcome"]["events"][at][key] = value

        return change

    def drop(lines: Lines) -> None:
        del lines[seq]["outcome"]["events"][at]

    where = f"line {seq + 1}, {kind}"
    if kind not in ("Ticked", "Opened"):
        yield f"{where} dropped", drop
    match kind:
        case "Granted":
            yield (
                f"{where} another act",
                set_to("act", "start" if event["act"] != "start" else "raise"),
            )
            if event["dose"]:
                yield f"{where} dose", set_to("dose", event["dose"] - 1)
        case "Happened" if event["amount"]:
            yield f"{where} ledger 0.1 mL lower", set_to("amount", event["amount"] - 1)
        case "Seen":
            yield f"{where} unknown", set_to("state", "unknown")
        case "Signed":
            role = "supervisor" if event["role"] != "supervisor" else "technician"
            yield f"{where} role", set_to("role", role)
            yield f"{where} who", set_to("who", "other" if event["who"] == "same" else "same")
        case "TimerSet":
            yield f"{where} earlier", set_to("due_ms", event["due_ms"] - 1000)
        case "LimitsSet":
            yield f"{where} alone", set_to("extended", event["extended"] + 1)
        case "Moved" if event["step"] != "hand-over":
            yield f"{where} elsewhere", set_to("step", "hand-over")
        case "Recorded":
            yield from _number_changes(seq, at, where, event)


def _number_changes(seq: int, at: int, where: str, event: dict[str, Any]) -> Iterator[Change]:
    for key, value in event["value"].items():
        if key in ("state", "class"):
            other = "odd"
        elif isinstance(value, int) and not isinstance(value, bool):
            other = value - 1  # type: ignore[assignment]
        else:
            try:
                other = _moved(key, value)
            except (NoResolution, ArithmeticError, TypeError, ValueError):
                continue

        def change(lines: Lines, key: str = key, other: Any = other) -> None:
            lines[seq]["outcome"]["events"][at]["value"][key] = other

        yield f"{where} {event['name']}.{key}", change


def _line_changes(lines: Lines) -> Iterator[Change]:
    for seq, line in enumerate(lines):
        outcome = line["outcome"]
        if outcome["refused"]:

            def unrefused(lines: Lines, seq: int = seq) -> None:
                lines[seq]["outcome"]["refused"] = []

            yield f"line {seq + 1}, refusal dropped", unrefused
        elif line["command"]["kind"] == "Begin":

            def permit(lines: Lines, seq: int = seq) -> None:
                granted = {"kind": "Granted", "act": "start", "dose": 0}
                lines[seq]["outcome"]["events"].append(granted)

            yield f"line {seq + 1}, permit added", permit
        if line["command"]["kind"] == "SetLimits":
            for key, value in line["command"]["numbers"].items():
                if key == "cylinders":
                    continue

                def number(lines: Lines, seq: int = seq, key: str = key, v: str = value) -> None:
                    for held in (lines[seq]["command"], lines[seq]["outcome"]["events"][-1]):
                        held["numbers"][key] = _moved(key, v)

                yield f"line {seq + 1}, limit {key} by two steps", number
            for dose in ("strict", "extended", "running"):

                def higher(lines: Lines, seq: int = seq, dose: str = dose) -> None:
                    for held in (lines[seq]["command"], lines[seq]["outcome"]["events"][-1]):
                        held[dose] += 2

                yield f"line {seq + 1}, {dose} dose by two steps", higher
        for at, event in enumerate(outcome["events"]):
            yield from _event_changes(seq, at, event)


@pytest.fixture(scope="module")
def overdosed(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """A job with refusals, a trip and its recovery."""
    typed = {"age": ("120", "6"), "distance": ("none", "98000 km")}
    lesson = lesson_with("overdose-recovered", answers=typed)
    return play(tmp_path_factory.mktemp("forged"), lesson)


@pytest.mark.parametrize("wanted", [WANTED[0], pytest.param(WANTED[1], marks=pytest.mark.slow)])
def test_each_change_with_a_valid_chain_is_found(overdosed: Played, wanted: int) -> None:
    folder = overdosed.folder
    original: Lines = [decode_fields(raw) for raw in folder.journal.read_bytes().splitlines(True)]
    assert audit(folder).grade is AuditGrade.GOOD
    every: dict[str, list[Change]] = {}
    for name, change in _line_changes(original):
        every.setdefault(name.split(", ", 1)[1].split(" ")[0] + name.split(" ")[-1], []).append(
            (name, change)
        )
    chance, chosen = random.Random(SEED), []
    while len(chosen) < wanted and any(every.values()):
        for kind in sorted(every):
            if every[kind]:
                chosen.append(every[kind].pop(chance.randrange(len(every[kind]))))
    chosen = chosen[:wanted]
    assert len(chosen) == wanted > len(every)
    for kind in NAMED:
        assert any(kind in name for name, _ in chosen), f"no change of this kind: {kind}"
    missed = []
    for name, change in chosen:
        lines = copies.deepcopy(original)
        change(lines)
        forge(folder, lines)
        found = audit(folder)
        if not found.chain.sound or found.grade is not AuditGrade.CHANGED:
            missed.append((name, found.grade, [str(f) for f in found.chain.findings]))
    forge(folder, original)
    assert not missed, missed[:10]
    assert audit(folder).grade is AuditGrade.GOOD
