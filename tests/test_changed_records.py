"""A changed or forged record is found, with its line; an untouched one is decided the same."""

import hashlib
import json
import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.cli.practice_job import bundle_for
from steplatch.runner.core.codec import encode
from steplatch.runner.core.commands import Begin, Report
from steplatch.runner.core.engine import decide
from steplatch.runner.jobs.auditing import AuditGrade, audit
from steplatch.runner.jobs.projection import BrokenJob, fold
from steplatch.runner.jobs.session import outcome_to_json
from steplatch.runner.jobs.store import bundle_of, load
from steplatch.runner.record import JobFolder, read, verify

from tests.played import Played, times
from tests.test_resume import SEED, copy_of, cut, rechained

# -- changed bytes ------------------------------------------------------------------------------


@pytest.fixture
def copy(good: Played, quick: Path) -> Iterator[JobFolder]:
    yield copy_of(good, quick)


def test_an_untouched_job_is_intact_and_decided_the_same_throughout(good: Played) -> None:
    found = audit(good.folder)
    assert found.intact and found.differences == () and found.grade is AuditGrade.GOOD
    assert found.lines == len(list(read(good.folder.path))) > 300
    assert found.ended == "finished"


@pytest.mark.parametrize("others", [60, pytest.param(300, marks=pytest.mark.slow)])
def test_any_changed_byte_of_the_last_line_or_of_some_others_is_found_with_its_line(
    copy: JobFolder, others: int
) -> None:
    cut(copy, 80)
    raw = copy.journal.read_bytes()
    last = raw.rstrip(b"\n").rfind(b"\n") + 1
    chance = random.Random(SEED)
    print(f"seed {SEED}")
    places = [*range(last, len(raw)), *chance.sample(range(last), others)]
    with copy.journal.open("r+b") as journal:
        for at in places:
            new = chance.choice([b for b in range(256) if b != raw[at]])
            journal.seek(at)
            journal.write(bytes([new]))
            journal.flush()
            found = verify(copy.path)
            line = raw.count(b"\n", 0, at) + 1
            assert not found.sound, (SEED, at)
            said = "\n".join(str(f) for f in found.findings)
            places_named = (f"line {line}", f"line {line + 1}", f"counts {line} lines")
            assert any(place in said for place in places_named), (SEED, at, line, said)
            journal.seek(at)
            journal.write(raw[at : at + 1])
            journal.flush()
    assert verify(copy.path).sound


def test_any_changed_byte_of_the_head_file_is_found(copy: JobFolder) -> None:
    cut(copy, 80)
    raw = copy.head.read_bytes()
    for at in range(len(raw)):
        copy.head.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        found = audit(copy)
        assert not found.intact and found.chain.findings, at
    copy.head.write_bytes(raw)
    assert audit(copy).intact


def test_a_changed_or_missing_text_that_the_job_rests_on_is_named(copy: JobFolder) -> None:
    cut(copy, 5)
    kept = sorted((copy.path / "texts").iterdir())
    assert len(kept) > 15
    for path in kept:
        raw = path.read_bytes()
        path.write_bytes(raw.replace(b"e", b"E", 1))
        with pytest.raises(BrokenJob, match="was changed after the job began"):
            audit(copy)
        path.unlink()
        with pytest.raises(BrokenJob, match="cannot be read"):
            audit(copy)
        path.write_bytes(raw)
    assert audit(copy).grade is AuditGrade.GOOD


# -- forged, with a valid chain -----------------------------------------------------------------


def forge(folder: JobFolder, change: Any) -> None:
    """Write the journal anew with a valid chain and head, each line as ``change`` leaves it."""
    raw: list[bytes] = []
    prev = "0" * 64
    lines = [json.loads(line) for line in folder.journal.read_bytes().splitlines()]
    for fields in change(lines):
        fields["prev"] = prev
        fields["seq"] = len(raw) + 1
        line = json.dumps(fields, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
        prev = hashlib.sha256(line).hexdigest()
        raw.append(line)
    folder.journal.write_bytes(b"".join(raw))
    rechained(folder, raw)


def _outcome_of(folder: JobFolder, seq: int, command: Any, doctored: Any) -> dict[str, Any]:
    """What the engine would have written for ``command`` had the bay been as ``doctored``."""
    lines = list(read(folder.path))
    job = fold(lines[: seq - 1])
    plan = bundle_of(folder, lines).plan
    bay = doctored(job.bay)
    believed = replace(job, core=replace(job.core, bay=bay))
    outcome = decide(plan, believed, command, times(job.log), "apprentice-1")
    assert not outcome.refused
    return json.loads(json.dumps(outcome_to_json(outcome)))  # type: ignore[no-any-return]


def test_a_forged_start_with_the_ledger_unknown_is_found_by_deciding_again(
    copy: JobFolder,
) -> None:
    lines = list(read(copy.path))
    seq = next(
        line.envelope.seq
        for line in lines
        if line.command == encode(Begin("run-start")) and not line.outcome["refused"]
    )

    def unknown(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Before the start somebody reported not to know what went in; the report is kept,
        what it led to is forged, so that the start that follows looks let through."""
        job = fold(list(read(copy.path))[: seq - 1])
        plan = bundle_of(copy, list(read(copy.path))).plan
        report = Report("overdosed")
        outcome = outcome_to_json(decide(plan, job, report, times(job.log, 0.0), "apprentice-1"))
        events = [e for e in outcome["events"] if e["kind"] not in ("Tripped", "Moved")]  # type: ignore[attr-defined]
        inserted = {
            **lines[seq - 2],
            "command": encode(report),
            "outcome": {"events": events, "refused": []},
        }
        return [*lines[: seq - 1], inserted, *lines[seq - 1 :]]

    forge(copy, unknown)
    found = audit(copy)
    assert found.intact, "the chain of a forged journal is valid"
    assert any(
        text.startswith(f"line {seq + 1}:") and "let through" in text and "start-ledger" in text
        for text in found.differences
    ), found.differences[:5]


def test_forged_limits_a_forged_role_and_a_forged_roster_are_found(
    copy: JobFolder, good: Played
) -> None:
    original = copy.journal.read_bytes(), copy.head.read_bytes()

    def limits(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        for part in (lines[1]["command"], lines[1]["outcome"]["events"][-1]):
            part["extended"] = 999
        return lines

    def role(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        lines[40]["role"] = "supervisor"
        return lines

    def roster(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        opened = next(e for e in lines[0]["outcome"]["events"] if e["kind"] == "Opened")
        for people in (lines[0]["command"]["people"], opened["people"]):
            people[0]["role"] = "supervisor"
        return lines

    for change, said in ((limits, "limits"), (role, "supervisor"), (roster, "roster")):
        forge(copy, change)
        found = audit(copy)
        assert found.intact
        assert found.grade is AuditGrade.CHANGED
        texts = (*found.differences, *found.wrong)
        assert any(said in text for text in texts), (said, texts[:3])
        copy.journal.write_bytes(original[0])
        copy.head.write_bytes(original[1])


def test_a_forged_event_that_nobody_wrote_ends_the_audit_with_its_line(copy: JobFolder) -> None:
    def strange(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        lines[50]["outcome"]["events"].append({"kind": "Unlatched", "trip": "fire"})
        return lines

    forge(copy, strange)
    found = audit(copy)
    assert found.intact
    assert any("line 51" in text and "Unlatched" in text for text in found.differences)


def test_a_broken_chain_is_not_loaded_for_a_sheet(copy: JobFolder) -> None:
    raw = copy.journal.read_bytes()
    copy.journal.write_bytes(raw.replace(b"spray_ended", b"spray_nonex", 1))
    with pytest.raises(BrokenJob, match="line"):
        load(copy)
    assert bundle_for("clean-above").hashes()
