"""``steplatch self-test``: says OK and keeps a line; or names the row and ends with UNSAFE."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from runner import commands_self_test, exits
from runner.cli import main
from runner.version import PROGRAM, rules_sha256
from safety.bay import Fumes
from safety.interlocks import INTERLOCKS, Interlock, Is
from safety.self_test import SelfTest, run_self_test

Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def good() -> SelfTest:
    return run_self_test()


@pytest.fixture
def quick(good: SelfTest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(commands_self_test, "run_self_test", lambda: good)


def door_will_do() -> tuple[Interlock, ...]:
    """The table in which an open door counts as extraction."""
    loose = Is("fumes", (Fumes.EXTRACTION, Fumes.OUTDOORS, Fumes.DOOR_OPEN))
    return tuple(replace(r, allows=loose) if r.id == "run-fumes" else r for r in INTERLOCKS)


def kept(data: Path) -> list[dict[str, object]]:
    lines = (data / "self-tests.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


def test_the_shipped_rules_pass_and_each_run_is_kept(
    quick: None, tmp_path: Path, capsys: Captured
) -> None:
    for runs in (1, 2):
        assert main(["--data", str(tmp_path), "self-test"]) == exits.OK
        assert len(kept(tmp_path)) == runs
    said = capsys.readouterr().out
    assert f"{len(INTERLOCKS)} interlock rows" in said
    assert "\nOK: every row and trip" in said and "FAULT" not in said
    last = kept(tmp_path)[-1]
    assert (last["ok"], last["program"], last["findings"]) == (True, PROGRAM, [])
    assert last["rules_sha256"] == rules_sha256()
    assert str(last["at"]).endswith("Z")


def test_a_loosened_row_is_named_and_the_command_ends_unsafe(
    tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = run_self_test(door_will_do())
    monkeypatch.setattr(commands_self_test, "run_self_test", lambda: found)
    assert main(["--data", str(tmp_path), "self-test", "--table"]) == exits.UNSAFE
    said = capsys.readouterr().out
    assert "FAULT  run-fumes, " in said and "permits what 'run-fumes' forbids" in said
    assert "with fumes door_open" in said
    assert "do not work a job with this program" in said
    rows = {line.split()[0]: line.split()[-1] for line in said.splitlines() if line.endswith(
        (" OK", " FAULT"))}  # fmt: skip
    assert [row for row, result in rows.items() if result == "FAULT"] == ["run-fumes"]
    assert set(rows) == {row.id for row in INTERLOCKS}
    last = kept(tmp_path)[-1]
    assert last["ok"] is False and "run-fumes" in str(last["findings"])


def test_the_json_lists_every_row_with_its_counts(
    quick: None, tmp_path: Path, capsys: Captured
) -> None:
    assert main(["--data", str(tmp_path), "self-test", "--json"]) == exits.OK
    told = json.loads(capsys.readouterr().out)
    assert [row["interlock"] for row in told["rows"]] == [row.id for row in INTERLOCKS]
    assert all(row["result"] == "OK" and row["refused alone"] > 0 for row in told["rows"])


def test_a_line_that_cannot_be_kept_is_said_with_its_own_exit_code(
    quick: None, tmp_path: Path, capsys: Captured
) -> None:
    (tmp_path / "self-tests.jsonl").mkdir()
    assert main(["--data", str(tmp_path), "self-test"]) == exits.RECORD_FAILED
    told = capsys.readouterr()
    assert "OK: every row and trip" in told.out
    assert "could not keep what the self-test found" in told.err


def test_a_fault_stays_a_fault_where_its_line_cannot_be_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = run_self_test(door_will_do())
    monkeypatch.setattr(commands_self_test, "run_self_test", lambda: found)
    (tmp_path / "self-tests.jsonl").mkdir()
    assert main(["--data", str(tmp_path), "self-test"]) == exits.UNSAFE
