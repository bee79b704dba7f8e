"""``steplatch people``: what it prints, whom it lets set a PIN, and that no PIN is ever shown."""

import json
import re
import shutil
import sys
from pathlib import Path

import pexpect
import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli import people as commands_people
from steplatch.runner.cli.main import main
from steplatch.runner.workshop import pins
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import Accepted, NoPin, PinBook

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "examples" / "workshop" / "people.yaml").read_text(encoding="utf-8")
CHEAP = Cost(2, 1, 1)
SUPERVISORS, TECHNICIANS = "4821", "90364"


@pytest.fixture
def room(quick: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with people.yaml, in which the commands are run with a cheap cost."""
    (quick / "people.yaml").write_text(EXAMPLE, encoding="utf-8")
    monkeypatch.chdir(quick)
    monkeypatch.setattr(pins, "COST", CHEAP)
    monkeypatch.setattr(
        "steplatch.runner.workshop.roster.PinBook", lambda path: PinBook(path, CHEAP), raising=True
    )
    return quick


def run(room: Path, *words: str) -> int:
    return main(["--data", str(room / "data"), "people", *words])


def book_of(room: Path) -> PinBook:
    return PinBook(room / "data" / "people.json", CHEAP)


def typing(monkeypatch: pytest.MonkeyPatch, *answers: str) -> list[str]:
    """Have these typed at the hidden prompts; returns the questions that were asked."""
    left, asked = list(answers), []

    def answer(question: str, stream: object = None) -> str:
        asked.append(question)
        return left.pop(0)

    monkeypatch.setattr(commands_people, "has_terminal", lambda: True)
    monkeypatch.setattr("getpass.getpass", answer)
    return asked


def test_the_list_says_who_is_who_and_who_has_a_pin(
    room: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(room, "list") == exits.OK
    said = capsys.readouterr().out
    assert "apprentice-1  Example Apprentice: apprentice, under 18, PIN not set" in said
    assert "Nobody has a PIN yet" in said
    book_of(room).set_pin("technician-1", "Example Technician", TECHNICIANS)
    book_of(room).register("gone-1", "Example Gone")
    assert run(room, "list") == exits.OK
    said = capsys.readouterr().out
    assert "technician-1  Example Technician: technician, PIN set" in said
    assert "gone-1        Example Gone: PIN not set, not in the people file" in said
    assert "Nobody has" not in said


def test_the_list_as_json_holds_no_salt_and_no_hash(
    room: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(room, "list")
    book_of(room).set_pin("technician-1", "Example Technician", TECHNICIANS)
    capsys.readouterr()
    assert run(room, "list", "--json") == exits.OK
    said = capsys.readouterr().out
    assert [row["pin"] for row in json.loads(said)["people"]] == ["not set", "set", "not set"]
    kept = book_of(room).known()["technician-1"].pin
    assert kept and kept.hash.hex() not in said and kept.salt.hex() not in said


def test_a_person_is_added_and_retired_and_the_file_keeps_its_comments(
    room: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(room, "add", "t-2", "--name", "Second Example", "--role", "technician") == exits.OK
    assert "steplatch people pin t-2" in capsys.readouterr().out
    assert run(room, "retire", "t-2", "--date", "2026-01-31") == exits.OK
    text = (room / "people.yaml").read_text(encoding="utf-8")
    assert text == EXAMPLE + (
        "  - id: t-2\n    name: Second Example\n    role: technician\n    under_18: false\n"
        "    retired: 2026-01-31\n"
    )
    assert run(room, "add", "t-2", "--name", "Third", "--role", "technician") == exits.BAD_FILE


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("retire", "nobody"), exits.FAILED, "nobody in it has the id 'nobody'"),
        (("retire", "technician-1", "--date", "32.1.2026"), exits.USAGE, "is not a date"),
        (("retire", "technician-1", "--date", "2999-01-01"), exits.USAGE, "has not come yet"),
        (("add", "x", "--name", "\x1b[2J", "--role", "technician"), exits.BAD_FILE, "U+001B"),
        (("add", "x", "--name", "", "--role", "technician"), exits.BAD_FILE, "blank"),
        (("list", "--people", "no.yaml"), exits.BAD_FILE, "there is no such file"),
        (("list", "--people", "."), exits.BAD_FILE, "not an ordinary file"),
    ],
)
def test_what_cannot_be_done_is_refused_with_where_what_and_the_remedy(
    room: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    code: int,
    said: str,
) -> None:
    assert run(room, *words) == code
    error = capsys.readouterr().err
    assert said in error and "\x1b" not in error
    assert (room / "people.yaml").read_text(encoding="utf-8") == EXAMPLE


def test_a_pin_is_only_set_at_a_terminal(room: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(room, "pin", "technician-1") == exits.NO_TERMINAL


def test_the_first_pin_of_a_workshop_is_set_without_anybody_vouching(
    room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = typing(monkeypatch, SUPERVISORS, SUPERVISORS)
    assert run(room, "pin", "supervisor-1") == exits.OK
    assert len(asked) == 2
    assert book_of(room).check("supervisor-1", SUPERVISORS) == Accepted()


def test_a_first_pin_needs_a_supervisor_who_has_one(
    room: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book_of_room = typing(monkeypatch, SUPERVISORS, SUPERVISORS)
    run(room, "pin", "supervisor-1")
    assert run(room, "pin", "technician-1") == exits.USAGE
    assert "Add --by, one of: supervisor-1" in capsys.readouterr().err
    assert book_of(room).check("technician-1", TECHNICIANS) == NoPin()
    typing(monkeypatch, "0000", TECHNICIANS, TECHNICIANS)
    assert run(room, "pin", "technician-1", "--by", "supervisor-1") == exits.FAILED
    assert book_of(room).check("technician-1", TECHNICIANS) == NoPin()
    asked = typing(monkeypatch, SUPERVISORS, TECHNICIANS, TECHNICIANS)
    assert run(room, "pin", "technician-1", "--by", "supervisor-1") == exits.OK
    assert asked[0] == "PIN of Example Supervisor: "
    assert book_of(room).check("technician-1", TECHNICIANS) == Accepted()
    assert len(book_of_room) == 2


def test_an_owner_changes_a_pin_with_the_old_one_and_nobody_without(
    room: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run(room, "list")
    book_of(room).set_pin("technician-1", "Example Technician", TECHNICIANS)
    typing(monkeypatch, "73518", "73518", "73518")
    assert run(room, "pin", "technician-1") == exits.FAILED
    assert "4 tries are left" in capsys.readouterr().err
    typing(monkeypatch, TECHNICIANS, "73518", "73519", "1234", "73518", "73518")
    assert run(room, "pin", "technician-1") == exits.OK
    said = capsys.readouterr()
    assert "not the same" in said.out and "tried first" in said.out
    assert book_of(room).check("technician-1", "73518") == Accepted()
    assert not re.search("73518|73519|90364|1234", said.out + said.err)


def test_an_apprentice_vouches_for_nobody(
    room: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run(room, "list")
    book_of(room).set_pin("apprentice-1", "Example Apprentice", TECHNICIANS)
    typing(monkeypatch, TECHNICIANS, SUPERVISORS, SUPERVISORS)
    assert run(room, "pin", "supervisor-1", "--by", "apprentice-1") == exits.USAGE
    assert "nobody who could vouch" in capsys.readouterr().err
    typing(monkeypatch)
    assert run(room, "pin", "nobody") == exits.BAD_FILE
    assert "apprentice-1, technician-1, supervisor-1" in capsys.readouterr().err


def test_three_pins_that_are_not_taken_end_the_command(
    room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = typing(monkeypatch, "12", "0000", "abcd")
    assert run(room, "pin", "supervisor-1") == exits.FAILED
    assert len(asked) == 3


def test_at_a_real_terminal_a_pin_that_is_typed_is_never_shown(quick: Path) -> None:
    (quick / "people.yaml").write_text(EXAMPLE, encoding="utf-8")
    secret = "604173"
    program = pexpect.spawn(
        sys.executable,
        ["-m", "steplatch.runner.cli", "--data", str(quick / "data"), "people", "pin",
         "supervisor-1", "--people", str(quick / "people.yaml")],
        cwd=str(ROOT), encoding="utf-8", timeout=30,
    )  # fmt: skip
    seen = ""
    for question in ("new PIN of Example Supervisor", "the same again"):
        program.expect_exact(question)
        seen += program.before + program.after
        program.waitnoecho()
        program.sendline(secret)
    program.expect(pexpect.EOF)
    seen += program.before
    program.close()
    assert program.exitstatus == exits.OK, seen
    assert "The PIN of supervisor-1 is set" in seen and secret not in seen
    assert secret not in "".join(p.read_text() for p in quick.rglob("*") if p.is_file())


def test_a_real_job_is_not_begun_with_an_id_that_was_somebody_elses(
    room: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(ROOT / "examples" / "workshop", room / "workshop")
    monkeypatch.setattr("steplatch.runner.cli.run.has_terminal", lambda: True)
    book_of(room).path.parent.mkdir()
    book_of(room).register("supervisor-1", "Somebody Else")
    words = ["run", "--vehicle", str(room / "workshop" / "vehicle.yaml"), "--as", "supervisor-1"]
    assert main(["--data", str(room / "data"), *words]) == exits.BAD_FILE
    assert "'supervisor-1' is the id of Somebody Else" in capsys.readouterr().err
    assert not list((room / "data").glob("jobs/*"))
