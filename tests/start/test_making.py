"""Files made by questions load, work limits, and are never written by accident."""

import errno
import os
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.cli.making import KINDS, make
from steplatch.runner.record import DataFolder
from steplatch.runner.record.disk import Disk
from steplatch.runner.screen.desk import Left
from steplatch.runner.workshop.files import load_people, load_vehicle

from tests.start.scripted import CTRL_C, Scripted

ANSWERS = {
    "vehicle": ["my van", "2.0 L", "4", "16", "820 rpm", "no", "yes", "above", "no", "1 mbar",
                "all", "more", "diesel", "3 L", "152 mm", "300 cpsi", "0.305 mm", "42 %", "dk",
                "dk", "dk", "2500 1/min", "0.1 L/1000 km", "0.8 %"],
    "gun": ["gun #1: red", "1.0 L", "0.5 s", "yes"],
    "fluid": ["water cleaner", "sheet 3", "2024-05-31", "H315, H319", "1.01 kg/L", "95 %",
              "80 °C", "dk", "5 min"],
    "workshop": ["at the mill", "120 m", "18 °C", "1 Mill Lane, Exampleton", "EUR", "dk", "300 mL",
                 "2500 1/min", "dk", "dk", "45 °C", "dk", "dk"],
    "people": ["technician-1", "Example Technician", "technician", "no"],
}  # fmt: skip
WRITE = ["write"]


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    (tmp_path / "data").mkdir()
    return DataFolder(tmp_path / "data", "a test")


def made(name: str, folder: Path, data: DataFolder) -> Path:
    end = ["add", "enough"] if name == "people" else WRITE
    desk = Scripted(ANSWERS[name] + end)
    path = make(name, folder / f"{name}.yaml", desk, data)
    assert not desk.left
    return path


def test_all_five_files_made_by_questions_carry_the_limits_and_a_roster(
    tmp_path: Path, data: DataFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in KINDS:
        made(name, tmp_path, data)
    assert main(["limits", "--vehicle", str(tmp_path / "vehicle.yaml")]) == exits.OK
    said = capsys.readouterr().out
    assert "my van, at the mill" in said and "300 mL" in said
    assert [p.id for p in load_people(tmp_path / "people.yaml")] == ["technician-1"]
    text = (tmp_path / "vehicle.yaml").read_text(encoding="utf-8")
    assert "wall_permeability: null" in text
    assert load_vehicle(tmp_path / "vehicle.yaml")[0].retained is None
    assert not list(tmp_path.glob("*.new"))


def test_a_new_vehicle_takes_twelve_questions_to_begin_a_job_and_the_rest_stands_as_not_known(
    tmp_path: Path, data: DataFolder
) -> None:
    start = ["my van", "2.0 L", "4", "dk", "820 rpm", "no", "yes", "below", "300 mm", "no",
             "1 mbar", "all"]  # fmt: skip
    assert len(start) == 12
    desk = Scripted([*start, *WRITE])
    vehicle = load_vehicle(make("vehicle", tmp_path / "v.yaml", desk, data))[0]
    assert vehicle.compression_ratio is None and vehicle.filter_volume_m3 is None
    left = len(KINDS["vehicle"].questions) - len(start)
    assert left > 10
    assert f"Enough to begin a job. {left} values more are not known yet" in desk.all()


def test_height_below_asks_for_the_depth_and_other_heights_do_not(
    tmp_path: Path, data: DataFolder
) -> None:
    below = list(ANSWERS["vehicle"])
    at = below.index("above")
    below[at : at + 1] = ["below", "300 mm"]
    at = below.index("42 %") + 2
    below[at:at] = ["dk", "50 mm", "dk"]
    path = make("vehicle", tmp_path / "v.yaml", Scripted(below + WRITE), data)
    vehicle = load_vehicle(path)[0]
    assert vehicle.inlet_below_port_m == pytest.approx(0.3)
    assert vehicle.pipe_bore_m == pytest.approx(0.05)


def test_an_answer_is_refused_at_once_in_the_loaders_words_and_asked_again(
    tmp_path: Path, data: DataFolder
) -> None:
    wrong = ["", "2.0", "2.0 kg", "2,000 L", "200 L", "two litres"]
    desk = Scripted(["my van", *wrong, *ANSWERS["vehicle"][1:], *WRITE])
    make("vehicle", tmp_path / "v.yaml", desk, data)
    said = desk.all()
    for words in (
        "Enter alone is no answer",
        "2.0 has no unit; a volume is wanted",
        "is a unit of a mass; a volume is wanted",
        "can be read in two ways",
        "200 L is outside what is believed here",
        "does not begin with a number",
    ):
        assert words in said, words


def test_a_rule_over_two_fields_is_said_when_the_second_is_answered(
    tmp_path: Path, data: DataFolder
) -> None:
    start = ["my van", "12 L", "2", "6", "16", "820 1/min", "no", "yes", "above", "no", "1 mbar"]
    desk = Scripted([*start, "all", "more", "diesel", "0.4 L", CTRL_C])
    with pytest.raises(Left):
        make("vehicle", tmp_path / "v.yaml", desk, data)
    assert "12 L over 2 cylinders is 6.00 L each" in desk.all()
    assert "times the displacement, which is not believed" in desk.all()


def test_what_the_limits_would_refuse_later_is_refused_when_it_is_typed(
    tmp_path: Path, data: DataFolder
) -> None:
    desk = Scripted(["at the mill", "4000 m", CTRL_C])
    with pytest.raises(Left):
        make("workshop", tmp_path / "w.yaml", desk, data)
    assert "altitude_m is 4000 m, outside -400 to 3000" in desk.all()


def test_not_known_is_refused_where_the_value_must_be_known(
    tmp_path: Path, data: DataFolder
) -> None:
    desk = Scripted(["my van", "dk", "?", CTRL_C])
    with pytest.raises(Left):
        make("vehicle", tmp_path / "v.yaml", desk, data)
    assert "This must be known. Find it: registration papers" in desk.all()
    assert "Units: mL, L, cm3, m3" in desk.all()


def test_back_asks_the_answer_before_again_and_one_answer_can_be_changed_at_the_end(
    tmp_path: Path, data: DataFolder
) -> None:
    answers = ["back", "old gun", "2 L", "back", "1.5 L", "0.5 s", "yes",
               "change", "label", "new gun", "change", "reaction", "back", "write"]  # fmt: skip
    desk = Scripted(answers)
    path = make("gun", tmp_path / "g.yaml", desk, data)
    assert "This is the first question." in desk.all()
    text = path.read_text(encoding="utf-8")
    assert "label: new gun" in text and "bottle: 1.5 L" in text and "reaction: 0.5 s" in text


def test_changing_the_height_asks_what_then_applies_and_forgets_what_does_not(
    tmp_path: Path, data: DataFolder
) -> None:
    desk = Scripted([*ANSWERS["vehicle"], "change", "height", "below", "300 mm", "dk", "dk", "dk",
                     "change", "height", "unknown", "write"])  # fmt: skip
    path = make("vehicle", tmp_path / "v.yaml", desk, data)
    text = path.read_text(encoding="utf-8")
    assert "height: unknown" in text and "inlet_below_port: null" in text


def test_leave_after_some_answers_is_asked_once_more_and_writes_nothing(
    tmp_path: Path, data: DataFolder
) -> None:
    desk = Scripted(["my gun", "leave", "stay", "1 L", "leave", "away"])
    with pytest.raises(Left):
        make("gun", tmp_path / "g.yaml", desk, data)
    assert "Throw 1 answer away?" in desk.all() and "Throw 2 answers away?" in desk.all()
    for key in ("leave", CTRL_C):
        with pytest.raises(Left):
            make("gun", tmp_path / "g.yaml", Scripted([key]), data)
    with pytest.raises(Left):
        make("gun", tmp_path / "g.yaml", Scripted([*ANSWERS["gun"], CTRL_C]), data)
    assert not (tmp_path / "g.yaml").exists()


def test_an_existing_file_is_replaced_only_after_a_typed_yes(
    tmp_path: Path, data: DataFolder
) -> None:
    path = tmp_path / "g.yaml"
    path.write_text("mine\n", encoding="utf-8")
    other = tmp_path / "h.yaml"
    desk = Scripted(
        [*ANSWERS["gun"], "write", "y", "write", "no", "elsewhere", str(other), "write"]
    )
    assert make("gun", path, desk, data) == other
    assert path.read_text(encoding="utf-8") == "mine\n"
    make("gun", path, Scripted([*ANSWERS["gun"], "write", "yes"]), data)
    assert "bottle: 1.0 L" in path.read_text(encoding="utf-8")


class Full(Disk):
    """A disk without room, until it is told otherwise."""

    def __init__(self, error: int) -> None:
        self.error: int | None = error

    def write(self, fd: int, data: bytes) -> int:
        """Fail once."""
        if self.error is not None:
            error, self.error = self.error, None
            raise OSError(error, os.strerror(error))
        return super().write(fd, data)


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EACCES, errno.EROFS])
def test_a_failed_write_says_why_leaves_the_old_file_whole_and_keeps_the_answers(
    tmp_path: Path, data: DataFolder, error: int
) -> None:
    path = tmp_path / "g.yaml"
    path.write_text("mine\n", encoding="utf-8")
    desk = Scripted([*ANSWERS["gun"], "write", "yes", CTRL_C])
    with pytest.raises(Left):
        make("gun", path, desk, data, Full(error))
    assert f"could not be written ({os.strerror(error)})" in desk.all()
    assert "name another file" in desk.all()
    assert path.read_text(encoding="utf-8") == "mine\n"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["data", "g.yaml"]
    desk = Scripted([*ANSWERS["gun"], "write", "yes", "write", "yes"])
    assert make("gun", path, desk, data, Full(error)) == path


def test_a_folder_or_a_missing_folder_is_said_and_another_name_can_be_given(
    tmp_path: Path, data: DataFolder
) -> None:
    good = tmp_path / "g.yaml"
    missing = tmp_path / "none" / "g.yaml"
    desk = Scripted([*ANSWERS["gun"], "write", "elsewhere", str(missing), "write",
                     "elsewhere", str(good), "write"])  # fmt: skip
    assert make("gun", tmp_path, desk, data) == good
    assert "is a folder" in desk.all() and "No such file or directory" in desk.all()


def test_the_workshops_own_folder_is_made_when_a_file_goes_there(
    tmp_path: Path, data: DataFolder
) -> None:
    path = data.path / "workshop" / "gun.yaml"
    assert make("gun", path, Scripted(ANSWERS["gun"] + WRITE), data) == path
    people = data.path / "workshop" / "people.yaml"
    make("people", people, Scripted([*ANSWERS["people"], "add", "enough"]), data)
    assert path.exists() and people.exists()


def test_a_person_whose_id_is_taken_is_not_added_and_another_can_be(
    tmp_path: Path, data: DataFolder
) -> None:
    path = tmp_path / "people.yaml"
    desk = Scripted([*ANSWERS["people"], "add", "more",
                     "technician-1", "Somebody Else", "technician", "no", "add",
                     "Bad Id", "customer", "boss", "A Boss", "supervisor", "yes", "back",
                     "supervisor", "no", "again", "boss", "A Boss", "supervisor", "no", "add",
                     "enough"])  # fmt: skip
    make("people", path, desk, data)
    said = desk.all()
    assert "NOT ADDED" in said and "cannot be an id" in said
    assert "stands for the customer" in said and "cannot be the supervisor" in said
    assert [p.id for p in load_people(path)] == ["technician-1", "boss"]
