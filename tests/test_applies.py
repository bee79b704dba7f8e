"""Which vehicles a job is for, held against a vehicle's file; hold points against the people."""

from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.core.applies import in_words, misfits
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.jobs.bundle import EXAMPLES, PRACTICE, Sources, load_bundle
from steplatch.runner.workshop.files import load_vehicle

from tests.step_text import in_step, written_out

MAINS = [p for p in procedure_files() if load_procedure(p)[0].role == "main"]
BELOW, PETROL = (EXAMPLES / "vehicles" / f"{name}.yaml" for name in ("below", "petrol"))
FILES = (PRACTICE / "vehicle.yaml", BELOW, PETROL)
VEHICLES = {path.stem: load_vehicle(path)[0] for path in FILES}
FOR_ALL = {"oil-check", "extraction-check", "gun-rate-test", "line-check", "zero-check"}
FOR_DIESEL = {"measure-only", "regeneration-watch", "return-visit", "retained-volume-test"}
FOR = {
    "vehicle": FOR_ALL | FOR_DIESEL | {"clean-above"},
    "below": FOR_ALL | FOR_DIESEL | {"clean-below"},
    "petrol": FOR_ALL | {"petrol-measure"},
}
"""By hand: which of the shipped jobs each invented vehicle is for."""


@pytest.mark.parametrize("name", FOR)
def test_each_vehicle_has_the_jobs_that_are_for_it_and_no_others(name: str) -> None:
    loaded = {path.stem: load_procedure(path)[0] for path in MAINS}
    fit = {job for job, p in loaded.items() if not misfits(p.applies_to, VEHICLES[name])}
    assert fit == FOR[name]


@pytest.mark.parametrize("path", MAINS, ids=lambda p: p.stem)
def test_each_job_has_a_vehicle_to_practise_at(path: Path) -> None:
    assert load_bundle(Sources.of_practice(path)).main.id == path.stem


def test_a_job_at_a_vehicle_that_it_is_not_for_is_refused_with_what_would_fit() -> None:
    sources = replace(
        Sources.of_folder(PRACTICE, PROCEDURES / "clean-above.yaml"),
        vehicle=BELOW,
    )
    with pytest.raises(BadFile) as bad:
        load_bundle(sources)
    (told,) = (str(one) for one in bad.value.findings)
    text = (BELOW).read_text("utf-8")
    line = text.split("height:")[0].count("\n") + 1
    assert f"below.yaml:{line}:" in told
    assert "filter inlet above the exhaust ports" in told and "clean-below" in told


def test_what_the_vehicles_file_does_not_know_is_looked_at_in_the_job() -> None:
    applies = load_procedure(PROCEDURES / "measure-only.yaml")[0].applies_to
    assert misfits(applies, replace(VEHICLES["vehicle"], fuel=None)) == ()
    assert "diesel" in in_words(applies)


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ("{fuel: disel}", "disel"),
        ("{fule: diesel}", "fule"),
        ("Diesel cars and vans.", "no vehicle's file can be held against these words"),
    ],
)
def test_a_slip_in_it_is_told(tmp_path: Path, new: str, said: str) -> None:
    path = tmp_path / "mine.yaml"
    text = (PROCEDURES / "zero-check.yaml").read_text("utf-8")
    path.write_text(text.replace("{pressure: shown}", new, 1), "utf-8")
    with pytest.raises(BadFile) as bad:
        load_procedure(path)
    (told,) = (str(one) for one in bad.value.findings)
    assert said in told and "mine.yaml:7:" in told


def test_check_holds_a_job_against_a_vehicle(capfd: pytest.CaptureFixture[str]) -> None:
    argv = ["check", "--load", "--vehicle", str(PETROL)]
    assert main([*argv, str(PROCEDURES / "clean-above.yaml")]) == exits.BAD_FILE
    assert "'clean-above' is for diesel" in capfd.readouterr().err
    assert main([*argv, str(PROCEDURES / "zero-check.yaml")]) == exits.OK


def test_a_hold_point_that_nobody_of_the_people_may_sign_is_told_at_its_step(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    people = (PRACTICE / "people.yaml").read_text("utf-8")
    few = tmp_path / "people.yaml"
    few.write_text(people.split("  - id: supervisor-1")[0], "utf-8")
    job = tmp_path / "mine.yaml"
    text = written_out(PROCEDURES / "zero-check.yaml")
    job.write_text(in_step(text, "release", "sign: technician", "sign: supervisor"), "utf-8")
    line = job.read_text("utf-8").split("      - release:")[0].count("\n") + 1
    assert main(["check", "--load", "--people", str(few), str(job)]) == exits.BAD_FILE
    told = capfd.readouterr().err
    assert "nobody may sign 'release': it asks for a supervisor" in told
    assert f"mine.yaml:{line}:" in told
    assert (
        main(["check", "--load", "--people", str(PRACTICE / "people.yaml"), str(job)]) == exits.OK
    )
