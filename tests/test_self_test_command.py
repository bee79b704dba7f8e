"""``steplatch self-test``: says OK and keeps a line; or names the row and ends with UNSAFE."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.core.version import PROGRAM
from steplatch.runner.jobs import self_tests
from steplatch.runner.jobs.fingerprint import rules_sha256
from steplatch.runner.jobs.self_tests import keep, line_of, passed_before, wrong_before_a_job
from steplatch.runner.record import DataFolder
from steplatch.safety.bay import Fumes
from steplatch.safety.interlocks import INTERLOCKS, Interlock, Is
from steplatch.safety.verify.self_test import SelfTest, run_self_test

Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def good() -> SelfTest:
    return run_self_test()


@pytest.fixture
def quick(good: SelfTest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steplatch.safety.verify.self_test.run_self_test", lambda: good)


def door_will_do() -> tuple[Interlock, ...]:
    """The table in which an open door counts as extraction."""
    loose = Is("fumes", (Fumes.EXTRACTION, Fumes.OUTDOORS, Fumes.DOOR_OPEN))
    return tuple(replace(r, allows=loose) if r.id == "run-fumes" else r for r in INTERLOCKS)


@pytest.fixture(scope="module")
def bad() -> SelfTest:
    return run_self_test(door_will_do())


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
    bad: SelfTest, tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("steplatch.safety.verify.self_test.run_self_test", lambda: bad)
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
    bad: SelfTest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("steplatch.safety.verify.self_test.run_self_test", lambda: bad)
    (tmp_path / "self-tests.jsonl").mkdir()
    assert main(["--data", str(tmp_path), "self-test"]) == exits.UNSAFE


# -- before a job --------------------------------------------------------------------------------


@pytest.fixture
def runs(good: SelfTest, monkeypatch: pytest.MonkeyPatch) -> list[SelfTest]:
    """Every self-test that is run; each gives the outcome of the shipped rules."""
    made: list[SelfTest] = []

    def run() -> SelfTest:
        made.append(good)
        return good

    monkeypatch.setattr("steplatch.safety.verify.self_test.run_self_test", run)
    return made


def test_before_a_job_the_rules_are_tested_once_and_again_when_they_change(
    runs: list[SelfTest], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = DataFolder(tmp_path, "the test")
    assert not passed_before(data)
    for _ in range(3):
        assert wrong_before_a_job(data) == ()
    assert len(runs) == len(kept(tmp_path)) == 1
    monkeypatch.setattr(self_tests, "rules_sha256", lambda: "0" * 64)
    assert wrong_before_a_job(data) == ()
    assert len(runs) == len(kept(tmp_path)) == 2
    monkeypatch.setattr(self_tests.platform, "python_version", lambda: "3.99.0")
    assert wrong_before_a_job(data) == ()
    assert len(runs) == 3


def test_rules_that_failed_are_tested_again_and_what_is_wrong_is_given(
    bad: SelfTest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = DataFolder(tmp_path, "the test")
    monkeypatch.setattr("steplatch.safety.verify.self_test.run_self_test", lambda: bad)
    for runs in (1, 2):
        assert wrong_before_a_job(data) == bad.findings != ()
        assert len(kept(tmp_path)) == runs
        assert not passed_before(data)


def test_a_line_that_cannot_be_read_or_claims_too_much_counts_for_nothing(
    good: SelfTest, tmp_path: Path
) -> None:
    data = DataFolder(tmp_path, "the test")
    file = tmp_path / "self-tests.jsonl"
    keep(data, line_of(good))
    assert passed_before(data)
    whole = file.read_text(encoding="utf-8")
    for spoiled in (
        whole[:-20],
        "[]\n",
        "\xff\n",
        whole.replace('"ok":true', '"ok":1'),
        whole.replace('"findings":[]', '"findings":["x"]'),
        whole + whole.replace('"ok":true', '"ok":false'),
    ):
        file.write_text(spoiled, encoding="latin-1")
        assert not passed_before(data), spoiled
    file.write_text("x" * self_tests.READ_AT_MOST_BYTES + "\n" + whole, encoding="utf-8")
    assert passed_before(data)
