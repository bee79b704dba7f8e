"""The family of jobs: each played hands-free, with its sheet; all but the two cleans proven in less
than ten seconds."""

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.assess import told
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.jobs.auditing import audit
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.proof.runs import Runs, runs_of_main, steps_never_reached
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.of_job import record_of
from steplatch.runner.sheet.text_page import to_text
from steplatch.runner.training.lesson import load_lesson

from tests.played import Played

MOST_S = 10.0
FAMILY = [
    path
    for path in procedure_files()
    if load_procedure(path)[0].role == "main" and path.stem != "clean-above"
]
QUICK = [path for path in FAMILY if path.stem != "clean-below"]
LESSONS = {load_lesson(path).procedure: path for path in (EXAMPLES / "lessons").glob("*.yaml")}


@pytest.fixture(scope="module", params=FAMILY, ids=lambda path: path.stem)
def played(request: pytest.FixtureRequest, shown: Callable[[str], Played]) -> Played:
    return shown(LESSONS[request.param.stem].stem)


@pytest.mark.parametrize("path", QUICK, ids=lambda path: path.stem)
def test_each_is_proven_quickly(path: Path) -> None:
    begun = time.process_time()
    runs = Runs(path, procedure_files())
    main = runs.loaded.plan.main
    results = [runs.make(run) for run in runs_of_main(main)]
    seconds = time.process_time() - begun
    assert [fault.said for result in results for fault in result.faults] == []
    assert steps_never_reached(runs.loaded, main.id, results) == []
    assert seconds < MOST_S, f"{path.stem}: {seconds:.1f} s"


def test_its_lesson_ends_as_it_says_and_audits_good(played: Played) -> None:
    lesson = load_lesson(LESSONS[played.session.plan.main.id])
    assert played.ended == lesson.expected.ended == "finished"
    verdict = played.session.job.log.latest("verdict")
    assert (verdict or {"state": "none"})["state"] in lesson.expected.verdicts
    found = audit(played.folder)
    assert found.intact and found.differences == ()


def test_its_sheet_says_what_was_found(played: Played) -> None:
    text = " ".join(to_text(sheet_content(record_of(played.folder))).split())
    finding = played.session.job.log.latest("finding")
    change = played.session.job.log.latest("change")
    held = played.session.job.log.latest("retained")
    if played.session.job.log.latest("verdict") is not None:
        assert ">> Improved, not shown to be normal" in text
    elif change is not None:
        title = told.change(change)["title"]
        assert f">> {title[:1].upper()}{title[1:]}" in text and "Kept set" in text
    elif held is not None:
        assert ">> Retained volume" in text
        assert (
            f"volume: {float(held['retained_ml']):.0f} mL" in text and "approver: Example" in text
        )
    elif finding is None:
        assert ">> Measured" in text and "No fluid was used." in text
    else:
        step = next(s for s in played.session.plan.main.steps() if s.id == "finding")
        said = next(o.say for o in step.options if o.value == finding["choice"])
        assert said[1:] in text
    assert "The job ended before anything could be judged" not in text


def test_the_readme_has_every_job_in_its_table_with_time_and_who() -> None:
    text = (PROCEDURES / "README.md").read_text("utf-8")
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in text.splitlines()
            if line.startswith("| `") and line.count("|") == 5]  # fmt: skip
    mains = {path.stem for path in (*FAMILY, PROCEDURES / "clean-above.yaml")}
    assert {row[0].strip("`") for row in rows} == mains
    assert all(len(row) == 4 and all(row) for row in rows)
