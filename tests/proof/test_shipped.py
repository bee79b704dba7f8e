"""What is shipped is proven: ``steplatch check`` as it stands in the README, here and now."""

import json
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.proof.properties import PROPERTIES
from steplatch.runner.proof.runs import Run, Runs, runs_of_main, runs_of_recovery, well_run

from tests.step_text import in_step, without_steps, written_out

SHIPPED = [(path, load_procedure(path)[0]) for path in procedure_files()]
MAIN_JOB = next(procedure for _, procedure in SHIPPED if procedure.id == "clean-above")
RECOVERIES = [path for path, procedure in SHIPPED if procedure.role != "main"]


def test_the_clean_and_every_recovery_and_card_are_proven(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """The other jobs are proven in ``tests/test_family.py``."""
    code = main(["check", "--json", str(PROCEDURES / "clean-above.yaml"), *map(str, RECOVERIES)])
    said = json.loads(capfd.readouterr().out)
    rows = {row["id"]: row for row in said["procedures"]}
    assert {row["role"] for row in rows.values()} == {"main", "recovery", "card"}
    job = rows["clean-above"]
    assert [s["scenario"] for s in job["searches"]] == [
        r.scenario.name for r in runs_of_main(MAIN_JOB)
    ]
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


def test_the_other_clean_is_refused_nothing_while_all_goes_well() -> None:
    runs = Runs(PROCEDURES / "clean-below.yaml", procedure_files())
    results = [runs.make(run) for run in runs_of_main(runs.loaded.plan.main) if not run.giving_up]
    assert len(results) > 5
    assert [fault.said for result in results for fault in result.faults] == []


@pytest.mark.slow
def test_the_other_clean_is_proven(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(PROCEDURES / "clean-below.yaml")]) == exits.OK


FORGOTTEN: dict[str, tuple[tuple[str, ...], int, str]] = {
    "data sheet": (("sheet",), exits.BAD_FILE, "'look sheet' is missing"),
    "drains": (("spill",), exits.BAD_FILE, "'look spill' is missing"),
    "all protection": (("line-kit", "kit"), exits.BAD_FILE, "'look kit' does not stand"),
    "idle look": (("run-idle",), exits.UNSAFE, "though all went well"),
    "sensor trace": (("line-which",), exits.BAD_FILE, "traced to the filter"),
}
"""What an author might delete that no wrong answer brings to light: the step that then refuses has
a way back. What a procedure must hold is refused as it loads; of the rest only a search in which
all goes well says that it should never be needed."""


def shipped_without(folder: Path, name: str, *steps: str) -> Path:
    """A copy of a shipped procedure, without these steps."""
    text = without_steps((PROCEDURES / name).read_text("utf-8"), *steps)
    path = folder / name
    path.write_text(text, "utf-8")
    return path


@pytest.mark.parametrize(("steps", "code", "words"), FORGOTTEN.values(), ids=FORGOTTEN.keys())
def test_the_command_catches_a_protection_that_is_forgotten(
    steps: tuple[str, ...],
    code: int,
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    run = well_run("pair, running dose")
    assert run in runs_of_main(MAIN_JOB), "the command makes it"

    def only_this(main: Procedure, disturbances: bool = False) -> list[Run]:
        return [run]

    monkeypatch.setattr("steplatch.runner.proof.runs.runs_of_main", only_this)
    path = shipped_without(tmp_path, "clean-above.yaml", *steps)
    assert main(["check", str(path)]) == code
    said = capfd.readouterr()
    assert words in said.out + said.err


def test_a_card_alone_is_searched_with_the_shipped_job(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--json", str(PROCEDURES / "card-fire.yaml")]) == exits.OK
    (row,) = json.loads(capfd.readouterr().out)["procedures"]
    assert row["searched_with"] == "clean-above"
    assert [s["tripped"] for s in row["searches"]] == [["fire", "overdose"]] * 2
    assert not row["never_reached"]


def test_a_spoiled_recovery_alone_is_caught(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    text = written_out(PROCEDURES / "recovery-unexpected.yaml")
    path = tmp_path / "mine.yaml"
    path.write_text(in_step(text, "reset-trip", "reset: technician", "reset: supervisor"), "utf-8")
    assert main(["check", str(path)]) == exits.UNSAFE
    said = capfd.readouterr().out
    assert "finished cannot be reached from step reset-trip (mine.yaml:" in said


def test_a_recovery_that_answers_what_another_answers_is_caught(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.yaml"
    text = (PROCEDURES / "card-fire.yaml").read_text("utf-8")
    path.write_text(text.replace("id: card-fire", "id: my-fire", 1), "utf-8")
    assert main(["check", str(path)]) == exits.UNSAFE
    assert "card-fire and my-fire both answer fire" in capfd.readouterr().out


def test_two_recoveries_of_one_id_are_not_checked_together(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.yaml"
    path.write_bytes((PROCEDURES / "card-fire.yaml").read_bytes())
    assert main(["check", str(PROCEDURES / "card-fire.yaml"), str(path)]) == exits.BAD_FILE
    assert "has this id too" in capfd.readouterr().err


@pytest.mark.parametrize("recovery", RECOVERIES, ids=lambda path: path.stem)
def test_every_recovery_and_card_has_runs_that_bring_it_about(recovery: Path) -> None:
    """That they do is told by ``check`` itself: one that is never met is not proven."""
    procedure = load_procedure(recovery)[0]
    for run in runs_of_recovery(procedure):
        causes = run.scenario.only.get("disturbance", ())
        assert bool(causes) is bool(procedure.answers) is bool(run.disturbances)


def test_load_only_loads(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--load", "--json"]) == exits.OK
    assert "searches" not in capfd.readouterr().out
