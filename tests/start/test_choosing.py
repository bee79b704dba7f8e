"""``steplatch run`` without a vehicle, ``steplatch`` without a command, and no terminal."""

import argparse
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from steplatch.runner.cli import choosing, exits, practice_job
from steplatch.runner.cli import run as run_command
from steplatch.runner.cli.choosing import choose
from steplatch.runner.cli.finding import free_name, procedures_here, vehicles_in
from steplatch.runner.cli.main import main
from steplatch.runner.core.applies import in_words
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.jobs.bundle import Bundle, Sources, load_bundle
from steplatch.runner.record import DataFolder
from steplatch.runner.screen.desk import Left

from tests.start.scripted import CTRL_C, Scripted

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples" / "workshop"
PERSON = "technician-1"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with the example workshop; the data in ``data``."""
    shutil.copytree(EXAMPLES, tmp_path, dirs_exist_ok=True)
    (tmp_path / "data" / "jobs").mkdir(parents=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(choosing, "load_bundle", loaded_once)
    return tmp_path


_LOADED: dict[tuple[bytes, ...], Bundle] = {}


def loaded_once(sources: Sources) -> Bundle:
    """The bundle, loaded once for the same files: the procedures take most of the time."""
    names = ("procedure", "vehicle", "gun", "fluid", "workshop", "people")
    key = tuple(getattr(sources, name).read_bytes() for name in names)
    if key not in _LOADED:
        _LOADED[key] = load_bundle(sources)
    return _LOADED[key]


def words(here: Path, **given: object) -> argparse.Namespace:
    """What the command line gave: nothing, but for ``given``."""
    nothing = dict.fromkeys(
        ("procedure", "vehicle", "gun", "fluid", "workshop", "people", "person", "beside")
    )
    return argparse.Namespace(**{**nothing, "plain": True, "data": here / "data", **given})


def data_of(here: Path) -> DataFolder:
    return DataFolder(here / "data", "a test")


def test_vehicle_person_and_the_word_are_all_that_is_asked_where_the_files_lie_together(
    here: Path,
) -> None:
    desk = Scripted(["1", "1", PERSON, "none", "begin"])
    chosen = choose(words(here), data_of(here), desk)
    assert chosen.person == PERSON and not desk.left
    assert chosen.bundle.vehicle.label == "example van, 2.0 L four-cylinder"
    said = desk.all()
    assert "2 L, 4 cylinders, filter inlet above (vehicle.yaml)" in said
    assert "GUN  example pressure gun, one litre bottle" in said
    assert "PEOPLE  3 people" in said
    for name in ("PROCEDURE", "VEHICLE", "GUN", "FLUID", "WORKSHOP", "WORK BY"):
        assert re.search(rf"^{name:9} \w", said, re.M), name


def test_what_the_procedure_is_for_is_shown_before_a_job_is_opened(here: Path) -> None:
    desk = Scripted(["1", PERSON, "none", "begin"])
    procedure = PROCEDURES / "clean-above.yaml"
    chosen = choose(words(here, procedure=procedure), data_of(here), desk)
    assert f"FOR {in_words(chosen.bundle.main.applies_to)}" in " ".join(desk.all().split())


def test_neither_enter_nor_yes_nor_a_number_begins_a_job(here: Path) -> None:
    desk = Scripted(["1", "1", PERSON, "none", "", "y", "yes", "1", "BEGI", "beginn", "begin"])
    choose(words(here), data_of(here), desk)
    assert desk.all().count("begins nothing") == 5
    assert not desk.left


def test_every_question_explains_itself_and_is_asked_again(here: Path) -> None:
    (here / "gun.yaml").rename(here / "other.yaml")
    answers = ["1", "?", "name", "other.yaml", "?", PERSON, "?", "none", "?", "begin"]
    desk = Scripted(["1", "?", *answers])
    choose(words(here), data_of(here), desk)
    for text in ("One file serves every vehicle", "its bottle", "never counts as", "choose again."):
        assert text in desk.all(), text


def test_a_workshop_limit_that_is_looser_than_the_worked_one_ends_with_its_message(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    workshop = here / "workshop.yaml"
    text = workshop.read_text(encoding="utf-8")
    workshop.write_text(text.replace("off_dose: null", "off_dose: 900 mL"), encoding="utf-8")
    monkeypatch.setattr(run_command, "has_terminal", lambda: True)
    monkeypatch.setattr(choosing, "desk_here", lambda plain: Scripted(["2", "1", "1"]))
    assert main(["--data", str(here / "data"), "run"]) == exits.BAD_FILE
    assert "900 mL" in capsys.readouterr().err
    assert not list((here / "data" / "jobs").iterdir())


def test_change_asks_everything_again(here: Path) -> None:
    desk = Scripted(["1", "1", "1", "none", "change", "1", "1", "2", "none", "begin"])
    assert choose(words(here), data_of(here), desk).person == PERSON


def test_leaving_at_any_question_begins_no_job(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(run_command, "has_terminal", lambda: True)
    path = ["go on", "1", "1", PERSON, "none"]
    for key in ("leave", CTRL_C):
        for answered in range(len(path) + 1):
            desk = Scripted([*path[:answered], key])
            monkeypatch.setattr(choosing, "desk_here", lambda plain, desk=desk: desk)
            assert run_command.run(words(here)) == exits.STOPPED
            assert "Left. No job was begun." in capsys.readouterr().out
    assert not list((here / "data" / "jobs").iterdir())


def test_a_wrong_vehicle_file_is_named_with_its_first_finding_and_cannot_be_chosen(
    here: Path,
) -> None:
    good = (here / "vehicle.yaml").read_text(encoding="utf-8")
    (here / "wrong.yaml").write_text(good.replace("cylinders: 4", "cylinders: four"), "utf-8")
    (here / "vehicle-2.yaml").write_text("label: [", encoding="utf-8")
    desk = Scripted(["1", CTRL_C])
    with pytest.raises(Left):
        choose(words(here), data_of(here), desk)
    said = desk.all()
    assert re.search(r"NOT USABLE  .*/wrong\.yaml:\d+:\d+: cylinders: ", said)
    assert re.search(r"NOT USABLE  .*/vehicle-2\.yaml:\d+:\d+: file: ", said)
    assert "gun.yaml" not in said
    assert [one.path.name for one in vehicles_in([here, here]) if one.vehicle] == ["vehicle.yaml"]


def test_a_missing_file_is_named_with_the_places_looked_in_and_can_be_made(here: Path) -> None:
    (here / "gun.yaml").unlink()
    made = ["my gun", "1 L", "0.5 s", "yes", "write"]
    desk = Scripted(["1", "1", "make", *made, PERSON, "none", "begin"])
    chosen = choose(words(here), data_of(here), desk)
    assert chosen.bundle.gun.label == "my gun" and (here / "gun.yaml").exists()
    looked = f"No gun file. Looked for {here}/gun.yaml and {here}/data/workshop/gun.yaml."
    assert looked in desk.all()


def test_a_missing_file_can_be_named_and_a_wrong_name_is_said(here: Path) -> None:
    (here / "gun.yaml").rename(here / "other.yaml")
    wrong = ["name", "nothing.yaml", "name", "people.yaml"]
    desk = Scripted(["1", "1", *wrong, "name", "other.yaml", PERSON, "none", "begin"])
    choose(words(here), data_of(here), desk)
    assert "there is no such file" in desk.all() and "this key is missing" in desk.all()


def test_files_of_the_data_folder_are_found_from_anywhere(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = here / "data" / "workshop"
    shutil.copytree(EXAMPLES, other)
    empty = here / "empty"
    empty.mkdir()
    monkeypatch.chdir(empty)
    desk = Scripted(["1", "1", PERSON, "none", "begin"])
    choose(words(here), data_of(here), desk)
    assert f"GUN  example pressure gun, one litre bottle ({other}/gun.yaml)" in desk.all()


def test_without_any_file_a_vehicle_is_made_in_the_workshops_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    data = DataFolder(tmp_path / "data", "a test")
    desk = Scripted(["1", "make", "my van", CTRL_C])
    with pytest.raises(Left):
        choose(words(tmp_path), data, desk)
    assert f"No vehicle file lies in {tmp_path} or {tmp_path}/data/workshop." in desk.all()
    assert free_name(EXAMPLES, "vehicle").name == "vehicle-2.yaml"


def test_what_the_command_line_names_is_not_asked(here: Path) -> None:
    path = procedures_here()[0][0]
    desk = Scripted(["1", "none", "begin"])
    given = words(here, procedure=path, gun=EXAMPLES / "gun.yaml", person=PERSON)
    chosen = choose(given, data_of(here), desk)
    assert chosen.person == PERSON and "GUN  " not in desk.all().split("The job will rest on")[0]


def test_the_first_start_offers_practice_in_two_lines_and_only_the_first(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[argparse.Namespace] = []

    def by_hand(args: argparse.Namespace, data: DataFolder) -> int:
        assert data.path == data_of(here).path
        seen.append(args)
        return exits.OK

    monkeypatch.setattr(run_command, "has_terminal", lambda: True)
    monkeypatch.setattr(practice_job, "by_hand", by_hand)
    desk = Scripted(["1"])
    monkeypatch.setattr(choosing, "desk_here", lambda plain: desk)
    assert run_command.run(words(here)) == exits.OK
    assert seen[0].lesson is None and seen[0].plain and seen[0].data == here / "data"
    assert sum("practi" in text for text in desk.said[:2]) == 2
    (here / "data" / "jobs" / "2026-03-02-abcdefgh").mkdir()
    desk.left, desk.said = [CTRL_C], []
    assert run_command.run(words(here)) == exits.STOPPED
    assert "practi" not in desk.all()


def test_no_command_shows_how_to_begin_and_where_the_jobs_lie(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--data", str(tmp_path / "d")]) == exits.OK
    said = capsys.readouterr().out
    assert f"Jobs lie in {tmp_path}/d (none yet)." in said
    assert re.findall(r"^  steplatch (\w+)", said, re.M) == ["practise", "run", "resume"]
    assert not (tmp_path / "d").exists()
    assert max(map(len, said.splitlines()[:-3])) <= 80


VEHICLE = str(EXAMPLES / "vehicle.yaml")


@pytest.mark.parametrize(
    "asked", [["run"], ["run", "--vehicle", VEHICLE], ["resume"], ["make", "gun"]]
)
def test_without_a_terminal_the_remedy_goes_to_standard_error(
    tmp_path: Path, asked: list[str], capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["--data", str(tmp_path / "d"), *asked]) == exits.NO_TERMINAL
    said = capfd.readouterr()
    assert said.out == ""
    assert "no terminal" in said.err and "Run it in a terminal" in said.err
    assert not list((tmp_path / "d").glob("jobs/*"))


@pytest.mark.slow
def test_answers_sent_through_a_pipe_begin_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "steplatch.runner.cli", "--data", str(tmp_path / "d"), "run"],
        cwd=ROOT,
        input="2\n1\n2\nbegin\n",
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stdout) == (exits.NO_TERMINAL, "")
    assert "no terminal" in done.stderr and "Traceback" not in done.stderr
    assert not (tmp_path / "d").exists()
