"""``steplatch procedure``: a job made by questions is proven, played, printed and approved."""

import json
import time
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli import procedure as command
from steplatch.runner.cli.approving import not_approved
from steplatch.runner.cli.main import main
from steplatch.runner.cli.new_procedure import NewProcedure, ask_new, lesson_text, new_text
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.proof.runs import Runs, runs_of_main, steps_never_reached
from steplatch.runner.record import DataFolder
from steplatch.runner.screen.terminal import menus
from steplatch.runner.training.lesson import load_lesson

from tests.played import bundle_from, play
from tests.start.scripted import Scripted
from tests.step_text import in_step, without_steps, written_out

QUESTIONS = ("Look at the clamp, type what it shows", "Type how the stub looks.")
ANSWERS = ["hose-look", "look at the hose", "say whether the hose sits", "A. Author", "no", "no",
           *QUESTIONS, "enough", "it sits", "it does not", "enough"]  # fmt: skip
SHAPES = [(readings, line) for readings in (False, True) for line in (False, True)]


def made(folder: Path, readings: bool, line: bool) -> tuple[Path, Path]:
    new = NewProcedure(
        "my-look", "My look", "Say what is there.", "A. Author", readings, line, QUESTIONS[1:] * 2,
        ("it sits", "it does not"),
    )  # fmt: skip
    path, lesson = folder / "my-look.yaml", folder / "my-look-lesson.yaml"
    path.write_text(new_text(new, "2026-11-30"), encoding="utf-8")
    lesson.write_text(lesson_text(new), encoding="utf-8")
    return path, lesson


@pytest.mark.parametrize(("readings", "line"), SHAPES)
def test_whatever_is_answered_it_checks_proves_and_plays(
    tmp_path: Path, readings: bool, line: bool
) -> None:
    path, lesson = made(tmp_path, readings, line)
    runs = Runs(path, procedure_files())
    procedure = runs.loaded.plan.main
    results = [runs.make(run) for run in runs_of_main(procedure)]
    assert [fault.said for result in results for fault in result.faults] == []
    assert steps_never_reached(runs.loaded, procedure.id, results) == []
    played = play(tmp_path, load_lesson(lesson), bundle_from(path))
    assert played.ended == "finished"
    assert played.session.job.log.latest("finding") == {"choice": "result-1"}
    assert played.session.job.log.latest("own_1") == {"text": "seen, nothing wrong"}


def test_the_smallest_has_about_ten_steps_is_proven_in_a_second_and_prints(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = NewProcedure("a-look", "A look", "Say what is there.", "A. Author", False, False,
                       QUESTIONS[1:], ())  # fmt: skip
    path = tmp_path / "a-look.yaml"
    path.write_text(new_text(new, "2026-11-30"), "utf-8")
    runs = Runs(path, procedure_files())
    assert len(runs.loaded.plan.main.steps()) <= 13
    begun = time.process_time()
    assert all(runs.make(run).proven for run in runs_of_main(runs.loaded.plan.main))
    assert time.process_time() - begun < 2.0
    lesson = tmp_path / "lesson.yaml"
    lesson.write_text(lesson_text(new), "utf-8")
    assert play(tmp_path, load_lesson(lesson), bundle_from(path)).ended == "finished"
    assert main(["procedure", "print", str(path)]) == exits.OK
    assert "Type how the stub looks." in capsys.readouterr().out


def test_it_is_made_by_questions_and_lies_in_the_workshops_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(command, "has_terminal", lambda: True)
    monkeypatch.setattr(menus, "desk_here", lambda plain: Scripted(ANSWERS))
    assert main(["--data", str(tmp_path), "procedure", "new"]) == exits.OK
    path = tmp_path / "procedures" / "hose-look.yaml"
    procedure, _ = load_procedure(path)
    assert procedure.title == "Look at the hose"
    assert procedure.step("own-1").do == "Look at the clamp, type what it shows."
    assert str(path) in capsys.readouterr().out
    assert main(["--data", str(tmp_path), "procedure", "new"]) == exits.FAILED
    desk = Scripted(["No Id!", *ANSWERS])
    assert ask_new(desk).id == "hose-look" and "is no id" in desk.all()


def test_an_own_procedure_is_approved_as_it_stands_before_a_real_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, _ = made(tmp_path, False, False)
    data = DataFolder(tmp_path / "data", "a test")
    bundle = bundle_from(path)
    assert "not approved as it stands" in not_approved(data, bundle.main.id, bundle.hashes())
    people = str(EXAMPLES / "workshop" / "people.yaml")
    words = [
        "--data",
        str(data.path),
        "procedure",
        "approve",
        str(path),
        "--people",
        people,
        "--as",
    ]
    assert main([*words, "apprentice-1"]) == exits.USAGE
    assert main([*words, "supervisor-1"]) == exits.OK
    assert "has no PIN" in capsys.readouterr().out
    assert not_approved(data, bundle.main.id, bundle.hashes()) == ""
    (line,) = (data.path / "procedures" / "approvals.jsonl").read_text("utf-8").splitlines()
    assert json.loads(line)["by"] == "supervisor-1"
    path.write_text(path.read_text("utf-8").replace("My look", "My other look"), "utf-8")
    bundle = bundle_from(path)
    assert "not approved" in not_approved(data, bundle.main.id, bundle.hashes())
    shipped = bundle_from(PROCEDURES / "zero-check.yaml")
    assert not_approved(data, shipped.main.id, shipped.hashes()) == ""


def test_one_that_is_not_proven_is_not_approved(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path, _ = made(tmp_path, False, False)
    text = path.read_text("utf-8")
    path.write_text(without_steps(text, "codes"), "utf-8")
    people = str(EXAMPLES / "workshop" / "people.yaml")
    words = ["procedure", "approve", str(path), "--people", people, "--as", "supervisor-1"]
    assert main(["--data", str(tmp_path / "data"), *words]) == exits.UNSAFE
    said = capfd.readouterr()
    assert "hand-over-codes" in said.out and "not approved" in said.err
    assert not (tmp_path / "data" / "procedures").exists()


def test_the_flow_shows_branches_return_points_and_trips(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["procedure", "show", "clean-above"]) == exits.OK
    said = capsys.readouterr().out
    assert "|<=== fluid-in: back from " in said
    assert "[23]" in said and "<- when the engine stands still" in said
    assert "fire: Fire (8 steps), ends the job" in said
    for stage in load_procedure(PROCEDURES / "clean-above.yaml")[0].stages:
        assert stage.title in said and stage.done in said


def test_a_checklist_for_paper_has_boxes_limits_lines_to_sign_and_says_what_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    vehicle = str(EXAMPLES / "workshop" / "vehicle.yaml")
    assert main(["procedure", "print", "zero-check", "--vehicle", vehicle]) == exits.OK
    said = capsys.readouterr().out
    procedure, document = load_procedure(PROCEDURES / "zero-check.yaml")
    assert said.count("[ ]") == len(procedure.steps()) + len(procedure.stages)
    assert document.sha256_of_bytes in said and "revision 1" in said
    assert "Paper does not enforce" in said and "at most 16 mL" in said
    assert said.count(" time: ____") == sum(s.kind == "sign" for s in procedure.steps())
    pdf = tmp_path / "list.pdf"
    assert main(["procedure", "print", "zero-check", "--pdf", str(pdf)]) == exits.OK
    from pypdf import PdfReader

    reader = PdfReader(pdf)
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]  # type: ignore[index]
    page = reader.pages[0]
    assert [round(float(side)) for side in page.mediabox[2:]] == [595, 842]
    text = " ".join(" ".join(p.extract_text() for p in reader.pages).split())
    assert all(step.do in text for step in procedure.steps())
    assert "Paper does not enforce" in text and document.sha256_of_bytes in text


def test_what_changed_is_said_safety_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = tmp_path / "old.yaml", tmp_path / "new.yaml"
    text = written_out()
    old.write_text(text, "utf-8")
    text = without_steps(text, "return-date")
    text = in_step(text, "check-fluid", "sign: technician", "sign: supervisor")
    text = in_step(text, "oil-level", "Read, rub", "Pull, rub")
    turned = "[thermal-shock, steam-at-stub]"
    text = in_step(text, "access-cool", "[steam-at-stub, thermal-shock]", turned)
    new.write_text(text, "utf-8")
    assert main(["procedure", "diff", str(old), str(new)]) == exits.OK
    said = capsys.readouterr().out
    grave, words = said.split("words: ")
    assert "can matter to safety: 2\n" in grave
    assert "step return-date is gone" in grave and "role: technician is now supervisor" in grave
    assert words.startswith("1\n") and "Pull, rub" in words and "idle-hose" not in said
