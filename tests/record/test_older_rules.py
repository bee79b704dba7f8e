"""A record of other rules than today's: what an audit says of it, and how one comes back to it."""

import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.core.commands import HOLDS
from steplatch.runner.core.engine import ABANDON
from steplatch.runner.jobs.auditing import Audit, AuditGrade, audit
from steplatch.runner.jobs.store import resume
from steplatch.runner.record import JobFolder, read
from steplatch.runner.record.line import FIELDS_OF, decode_fields

from tests.played import Played
from tests.record.test_forged import Lines, forge

OTHER = "0" * 63 + "7"


@pytest.fixture
def copy(good: Played, tmp_path: Path) -> JobFolder:
    """A played job, cut off at a line of its first half."""
    shutil.copytree(good.folder.path, tmp_path / good.folder.id)
    folder = JobFolder(tmp_path / good.folder.id)
    lines = lines_of(folder)
    triaged = next(at for at, line in enumerate(lines) if "triage" in _recorded(line))
    forge(folder, lines[: triaged + 5])
    return folder


def _recorded(line: dict[str, Any]) -> set[str]:
    return {e["name"] for e in line["outcome"]["events"] if e["kind"] == "Recorded"}


def lines_of(folder: JobFolder) -> Lines:
    return [decode_fields(raw) for raw in folder.journal.read_bytes().splitlines(True)]


def changed(folder: JobFolder, *changes: Callable[[Lines], Any]) -> Audit:
    """The audit after these changes, the chain made to fit."""
    lines = lines_of(folder)
    for change in changes:
        change(lines)
    forge(folder, lines)
    found = audit(folder)
    assert found.chain.sound
    return found


def other(part: str, start: int = 0) -> Callable[[Lines], None]:
    """Another part of what decides, from a line on."""

    def change(lines: Lines) -> None:
        for line in lines[start:]:
            line[f"{part}_sha256"] = OTHER

    return change


def _first(lines: Lines, kind: str, name: str = "") -> dict[str, Any]:
    events = (event for line in lines for event in line["outcome"]["events"])
    found: dict[str, Any] = next(
        e for e in events if e["kind"] == kind and e.get("name", name) == name
    )
    return found


def answered(lines: Lines) -> None:
    """An answer that only the engine writes down, other than it was given."""
    _first(lines, "Done")["answer"] = "otherwise"


def of_older_form(lines: Lines) -> None:
    """Every line in the first form, as older programs wrote it."""
    lines[:] = [{key: line[key] for key in FIELDS_OF[1]} | {"schema": 1} for line in lines]


def judged(lines: Lines) -> None:
    """A judgement of the triage that this judge does not come to."""
    _first(lines, "Recorded", "triage")["value"]["state"] = "no_go"


@pytest.mark.parametrize("part", ["rules", "judge"])
def test_a_job_of_other_rules_that_decide_alike_is_held_says_so_and_goes_on(
    part: str, copy: JobFolder, good: Played
) -> None:
    assert changed(copy, other(part)).grade is AuditGrade.OLDER
    before = lines_of(copy)[-1]
    session, _, said = resume(copy, good.session.clock, "apprentice-1")
    session.writer.close()
    assert session.job.core.held and session.job.core.procedure != ABANDON
    (text,) = said
    assert f"another part of what decides: {part}" in text and "goes on by its own files" in text
    last = list(read(copy.path))[-1].envelope.header
    assert getattr(last, f"{part}_sha256") not in (OTHER, before["prev"])
    assert audit(copy).grade is AuditGrade.OLDER


def test_a_job_that_other_rules_decided_otherwise_is_left_for_making_safe_and_abandoning(
    copy: JobFolder, good: Played
) -> None:
    cut = len(lines_of(copy))
    found = changed(copy, other("rules"), answered)
    assert found.grade is AuditGrade.OLDER and len(found.differences) == 1
    session, _, said = resume(copy, good.session.clock, "apprentice-1")
    session.writer.close()
    assert session.job.core.held and session.job.core.procedure == ABANDON
    assert "rules" in said[-1] and "make safe and abandon" in said[-1]
    assert found.differences[0] in said[-1]
    kinds = [line["command"]["kind"] for line in lines_of(copy)[cut:]]
    assert kinds == ["Interrupted", "GiveUp", "Stop"]
    assert lines_of(copy)[-1]["command"]["why"] == "other_rules" and "other_rules" in HOLDS
    session, _, _ = resume(copy, good.session.clock, "apprentice-1")  # and once more
    session.writer.close()
    assert [line["command"]["kind"] for line in lines_of(copy)[cut + 3 :]] == ["Interrupted"]


def test_a_record_of_an_older_form_cannot_be_decided_again_and_has_its_own_exit_code(
    copy: JobFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    found = changed(copy, of_older_form)
    assert found.grade is AuditGrade.CANNOT and "form 1" in found.undecidable
    assert main(["audit", str(copy.path)]) == exits.AUDIT_CANNOT == AuditGrade.CANNOT.value == 12
    said = capsys.readouterr().out
    assert "CANNOT BE, here" in said and "Nothing was found changed" in said

    def both(lines: Lines) -> None:
        lines[1] = {
            "prev": "",
            **{key: lines[1].get(key, OTHER) for key in FIELDS_OF[2] if key != "prev"},
        }
        lines[1]["schema"] = 2

    assert changed(copy, both).grade is AuditGrade.CHANGED


def test_events_that_only_other_rules_know_cannot_be_decided_again_and_those_of_todays_are_forged(
    copy: JobFolder,
) -> None:
    def strange(lines: Lines) -> None:
        lines[50]["outcome"]["events"].append({"kind": "Unlatched", "trip": "fire"})

    assert changed(copy, strange).grade is AuditGrade.CHANGED
    found = changed(copy, other("rules"))
    assert found.grade is AuditGrade.CANNOT and "Unlatched" in found.undecidable


def test_a_text_that_does_not_load_is_undecidable_under_other_rules_and_forged_under_the_same(
    copy: JobFolder,
) -> None:
    (kept,) = [p for p in (copy.path / "texts").iterdir() if "id: abandon\n" in p.read_text()]
    raw = kept.read_bytes().replace(b"\nid:", b"\nodd: 1\nid:") + b"odd: 1\n"
    digest = hashlib.sha256(raw).hexdigest()
    (copy.path / "texts" / f"{digest}.yaml").write_bytes(raw)
    text = copy.journal.read_text().replace(kept.stem, digest)
    forge(copy, [json.loads(line) for line in text.splitlines()])
    found = audit(copy)
    assert found.grade is AuditGrade.CHANGED and "these very rules" in found.wrong[0]
    assert changed(copy, other("rules")).grade is AuditGrade.CANNOT


def test_other_rules_do_not_excuse_what_they_cannot_explain(copy: JobFolder) -> None:
    original = lines_of(copy)
    excused: tuple[tuple[Callable[[Lines], None], ...], ...] = (
        (other("rules"), answered),
        (other("rules"), judged),
        (other("judge"), judged),
    )
    for changes in excused:
        found = changed(copy, *changes)
        assert found.grade is AuditGrade.OLDER and len(found.differences) == 1
        forge(copy, original)
    found = changed(copy, other("judge"), answered)
    assert found.grade is AuditGrade.CHANGED and "no other rules explain it" in found.wrong[0]
    forge(copy, original)
    last_alone = other("rules", len(original) - 1)
    found = changed(copy, last_alone, judged)
    assert found.grade is AuditGrade.CHANGED
    assert any("in one run" in text for text in found.wrong)
    assert any("no other rules explain it" in text for text in found.wrong)


def test_an_audit_of_many_counts_each_grade_and_ends_with_the_code_of_the_worst(
    good: Played, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copies: list[str] = []
    for change in (None, other("rules"), of_older_form, answered):
        copies.append(str(tmp_path / f"copy number {len(copies)}"))
        shutil.copytree(good.folder.path, copies[-1])
        folder = JobFolder(Path(copies[-1]))
        if change is not None:
            lines = lines_of(folder)
            change(lines)
            forge(folder, lines)

    def last(*words: str) -> tuple[int, str]:
        code = main(["--data", str(tmp_path), "audit", *words])
        return code, capsys.readouterr().out.splitlines()[-1]

    code, text = last(*copies)
    assert code == exits.AUDIT_BROKEN and text.endswith(
        "s: 1 good, 1 good under other rules than today's, 1 not to be decided again here, "
        "1 changed or forged."
    )
    assert main(["--data", str(tmp_path), "audit", *copies, "--json"]) == exits.AUDIT_BROKEN
    grades = json.loads(capsys.readouterr().out)["grades"]
    assert sorted(grades.values()) == [0, 0, 0, 0, 1, 1, 1, 1]
    for number, worst in ((3, exits.AUDIT_CANNOT), (2, exits.AUDIT_OLDER), (1, exits.OK)):
        code, text = last(*copies[:number], copies[0])
        assert code == worst and "forged" not in text
    assert text.endswith(" s: 2 good.")
