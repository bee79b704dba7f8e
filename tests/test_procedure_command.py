"""``steplatch procedure``: a job made by questions is proven, played, printed and approved."""

import json
import time
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli import procedure as command
from steplatch.runner.cli.approving import not_approved, text_hash
from steplatch.runner.cli.finding import main_procedures
from steplatch.runner.cli.main import main
from steplatch.runner.cli.new_procedure import (
    MOST_QUESTIONS,
    NewProcedure,
    ask_new,
    lesson_text,
    new_text,
)
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.findings import BadFile
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
           QUESTIONS[0], "oil-level", QUESTIONS[1], "enough", "it sits", "it does not",
           "enough"]  # fmt: skip
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


def smallest(path: Path) -> str:
    new = NewProcedure("a-look", "A look", questions=QUESTIONS[1:])
    path.write_text(new_text(new, "2026-11-30"), "utf-8")
    return path.read_text("utf-8")


def test_the_smallest_is_proven_in_a_second_plays_and_prints(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a-look.yaml"
    smallest(path)
    runs = Runs(path, procedure_files())
    assert len(runs.loaded.plan.main.steps()) == 14
    begun = time.process_time()
    assert all(runs.make(run).proven for run in runs_of_main(runs.loaded.plan.main))
    assert time.process_time() - begun < 2.0
    lesson = tmp_path / "lesson.yaml"
    lesson.write_text(lesson_text(NewProcedure("a-look", questions=QUESTIONS[1:])), "utf-8")
    assert play(tmp_path, load_lesson(lesson), bundle_from(path)).ended == "finished"
    assert main(["procedure", "print", str(path)]) == exits.OK
    assert "Type how the stub looks." in capsys.readouterr().out


@pytest.mark.parametrize(
    "step", ["arrival", "engine-still", "hands-clear", "bar-none", "no-gun", "hose-sits", "codes"]
)
def test_each_step_that_stands_in_it_unasked_is_needed(tmp_path: Path, step: str) -> None:
    path = tmp_path / "a-look.yaml"
    path.write_text(without_steps(smallest(path), step), "utf-8")
    runs = Runs(path, procedure_files())
    assert not all(runs.make(run).proven for run in runs_of_main(runs.loaded.plan.main))


@pytest.mark.parametrize("step", ["advice", "release", "received", "hand-over"])
def test_what_ends_it_is_needed_to_load_it(tmp_path: Path, step: str) -> None:
    path = tmp_path / "a-look.yaml"
    back = ["advice", "release", "received", "hand-over"]
    left = ", ".join(one for one in back if one != step)
    text = smallest(path).replace(f"[{', '.join(back)}]", f"[{left}]")
    assert text != smallest(path)
    path.write_text(text, "utf-8")
    with pytest.raises(BadFile, match=r"missing|does not end"):
        load_procedure(path)


def test_ten_steps_of_ones_own_are_proven_and_played(tmp_path: Path) -> None:
    shared = {"oil-level": "ok", "leaks": "dry", "extraction-on": "extraction", "fuel": "diesel"}
    own = tuple(f"Type how part {n} looks." for n in range(MOST_QUESTIONS - len(shared)))
    new = NewProcedure(
        "ten-looks", questions=(*own, *shared), findings=("good", "not good"), shared=shared
    )
    path, lesson = tmp_path / "ten-looks.yaml", tmp_path / "lesson.yaml"
    path.write_text(new_text(new, "2026-11-30"), "utf-8")
    lesson.write_text(lesson_text(new), "utf-8")
    runs = Runs(path, procedure_files())
    assert len(runs.loaded.plan.main.steps()) == 13 + 10
    assert all(runs.make(run).proven for run in runs_of_main(runs.loaded.plan.main))
    assert play(tmp_path, load_lesson(lesson), bundle_from(path)).ended == "finished"


def test_what_check_would_refuse_is_said_when_it_is_typed(tmp_path: Path) -> None:
    (tmp_path / "there.yaml").write_text("", "utf-8")
    at_looks = ["?", "look carefully at it", "start the engine", "oil-level", "oil-level"]
    answers = ["zero-check", "there", *ANSWERS[:6], *at_looks, "Look at it.", "enough", "enough"]
    desk = Scripted(answers)
    new = ask_new(desk, tmp_path, "2026-11-30")
    assert new.questions == ("oil-level", "Look at it.") and new.shared == {"oil-level": "ok"}
    assert desk.all().count("is there already") == 2
    for said in ("vehicle-down, ", "'carefully' cannot be checked", "act start", "is used twice"):
        assert said in desk.all(), said


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
    assert procedure.step("oil-level").looks_at == "oil"
    said = capsys.readouterr().out
    assert str(path) in said and "no step is refused while all goes well" in said
    desk = Scripted(["No Id!", *ANSWERS])
    assert ask_new(desk, tmp_path, "2026-11-30").id == "hose-look" and "is no id" in desk.all()
    words = ["practise", "--hands-free", "--procedure", "hose-look"]
    assert main(["--data", str(tmp_path), *words]) == exits.OK


def test_an_own_procedure_is_approved_as_it_stands_before_a_real_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, _ = made(tmp_path, False, False)
    data = DataFolder(tmp_path / "data", "a test")
    assert "not approved as it stands" in not_approved(data, "my-look", text_hash(path))
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
    assert not_approved(data, "my-look", bundle_from(path).hashes()["procedure:my-look"]) == ""
    (line,) = (data.path / "procedures" / "approvals.jsonl").read_text("utf-8").splitlines()
    assert json.loads(line)["by"] == "supervisor-1"
    path.write_text(path.read_text("utf-8").replace("My look", "My other look"), "utf-8")
    assert "not approved" in not_approved(data, "my-look", text_hash(path))
    shipped = PROCEDURES / "zero-check.yaml"
    assert not_approved(data, "zero-check", text_hash(shipped)) == ""


def test_own_procedures_stand_in_the_lists_and_say_whether_a_job_may_rest_on_them(
    tmp_path: Path,
) -> None:
    data = DataFolder(tmp_path, "a test")
    folder = tmp_path / "procedures"
    folder.mkdir()
    path, _ = made(folder, False, False)
    (folder / "broken.yaml").write_text("id: broken\n", "utf-8")
    listed = [(at, said) for at, _, said in main_procedures(data) if at.parent == folder]
    assert listed == [(path, "My look (my-look, your own, not approved)")]
    words = ["--people", str(EXAMPLES / "workshop" / "people.yaml"), "--as", "supervisor-1"]
    assert main(["--data", str(tmp_path), "procedure", "approve", "my-look", *words]) == exits.OK
    assert main_procedures(data)[-1][2] == "My look (my-look, your own)"


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
    assert "( ) it wanders while it is watched" in said and "the work stops there" in said
    assert max(map(len, said.splitlines())) <= 80
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
