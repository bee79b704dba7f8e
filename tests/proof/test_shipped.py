"""What is shipped is proven: ``steplatch check`` as it stands in the README, here and now."""

import json

import pytest

from runner import exits
from runner.cli import main
from runner.proof.properties import PROPERTIES
from runner.proof.runs import RUNS


def test_every_shipped_procedure_is_loaded_and_the_job_is_proven(
    capfd: pytest.CaptureFixture[str],
) -> None:
    code = main(["check", "--json"])
    said = json.loads(capfd.readouterr().out)
    rows = {row["id"]: row for row in said["procedures"]}
    assert {row["role"] for row in rows.values()} == {"main", "recovery", "card"}
    job = rows["clean-above"]
    assert [s["scenario"] for s in job["searches"]] == list(RUNS)
    assert all(s["proven"] and not s["faults"] for s in job["searches"]), job["searches"]
    assert all(s["always"] == [rule.name for rule in PROPERTIES] for s in job["searches"])
    assert not job["never_reached"]
    assert job["states"] == sum(s["states"] for s in job["searches"]) > 50_000
    assert job["transitions"] > job["states"]
    last = sum(s["last_pass_seconds"] for s in job["searches"])
    assert job["transitions_per_second_of_a_process"] == pytest.approx(
        job["transitions"] / last, rel=0.02
    )
    assert {e for s in job["searches"] for e in s["ends_reached"]} == {"finished", "abandoned"}
    assert job["rests_on_one_honest_answer"]
    assert code == exits.OK


def test_a_recovery_alone_is_loaded_and_says_with_what_it_is_searched(
    capfd: pytest.CaptureFixture[str],
) -> None:
    assert main(["check", "procedures/recovery-spill.yaml"]) == exits.OK
    assert "searched with the main procedure" in capfd.readouterr().out


def test_load_only_loads(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--load", "--json"]) == exits.OK
    assert "searches" not in capfd.readouterr().out
