"""The roster: ids stay whose they were, and people.yaml keeps every byte that was not meant."""

import os
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.jobs.bundle import Sources, load_bundle
from steplatch.runner.record import DataFolder
from steplatch.runner.record.disk import Disk
from steplatch.runner.record.faults import RecordError
from steplatch.runner.workshop.files import Person, Role, load_people
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import Accepted, IdTaken, NoPin, PinBook
from steplatch.runner.workshop.roster import add_person, admit, pin_book, retire_person

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "examples" / "workshop" / "people.yaml").read_text(encoding="utf-8")
NEW = Person("apprentice-2", "Second Example", Role.APPRENTICE, False)
DAY = date(2026, 3, 31)


@pytest.fixture
def data(quick: Path) -> DataFolder:
    (quick / "data").mkdir()
    return DataFolder(quick / "data", "the test")


@pytest.fixture
def people(quick: Path) -> Path:
    path = quick / "people.yaml"
    path.write_text(EXAMPLE, encoding="utf-8")
    return path


def lines_added(before: str, after: str) -> list[str]:
    """The lines of ``after`` that were put in; fails when any line of before is gone or moved."""
    added, old = [], before.splitlines(keepends=True)
    for line in after.splitlines(keepends=True):
        if old and line == old[0]:
            old.pop(0)
        else:
            added.append(line)
    assert not old, f"lost: {old[:2]}"
    return added


def test_adding_a_person_appends_four_lines_and_keeps_every_other_byte(
    data: DataFolder, people: Path
) -> None:
    add_person(people, data, NEW)
    assert lines_added(EXAMPLE, people.read_text(encoding="utf-8")) == [
        "  - id: apprentice-2\n",
        "    name: Second Example\n",
        "    role: apprentice\n",
        "    under_18: false\n",
    ]
    assert load_people(people)[-1] == NEW
    assert pin_book(data).known()["apprentice-2"].name == "Second Example"


def test_retiring_a_person_puts_one_line_in_and_takes_the_pin_away(
    data: DataFolder, people: Path
) -> None:
    PinBook(data.path / "people.json", Cost(2, 1, 1)).set_pin(
        "technician-1", "Example Technician", "4821"
    )
    gone = retire_person(people, data, "technician-1", DAY)
    assert gone.retired == "2026-03-31"
    text = people.read_text(encoding="utf-8")
    assert lines_added(EXAMPLE, text) == ["    retired: 2026-03-31\n"]
    assert load_people(people)[1] == replace(gone, retired="2026-03-31")
    assert pin_book(data).check("technician-1", "4821") == NoPin()
    assert retire_person(people, data, "technician-1", date(2026, 4, 1)).retired == "2026-03-31"
    assert people.read_text(encoding="utf-8") == text


LAYOUTS = {
    "no indent": "people:\n- id: a\n  name: A B\n  role: technician\n  under_18: false\n",
    "wide": "people:\n      -   id: a\n          name: A B\n          role: technician\n"
    "          under_18: false\n",
    "no newline at the end": "people:\n  - {id: b, name: B, role: technician, under_18: false}\n"
    "  - id: a\n    name: A B\n    role: technician\n    under_18: false",
    "comments all over": "# top\npeople: # here\n  # before\n  - name: A B   # who\n    # between\n"
    "    id: a\n    under_18: false # not young\n    role: 'technician'\n    # after\n\n# last\n",
    "windows line ends": "people:\r\n  - id: a\r\n    name: A B\r\n    role: technician\r\n"
    "    under_18: false\r\n",
    "a byte order mark": "\ufeffpeople:\n  - id: a\n    name: A B\n    role: technician\n"
    "    under_18: false\n",
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_any_ordinary_layout_is_edited_without_losing_a_byte(
    data: DataFolder, people: Path, layout: str
) -> None:
    text = LAYOUTS[layout]
    people.write_bytes(text.encode("utf-8"))
    before = load_people(people)
    add_person(people, data, NEW)
    middle = people.read_bytes().decode("utf-8")
    retire_person(people, data, "a", DAY)
    after = people.read_bytes().decode("utf-8")
    assert [(p.id, p.retired) for p in load_people(people)] == [
        *((p.id, "2026-03-31" if p.id == "a" else "") for p in before),
        ("apprentice-2", ""),
    ]
    end = "\r\n" if "\r\n" in text else "\n"
    whole = text if text.endswith(end) else text + end
    assert len(lines_added(whole, middle)) == 4 and len(lines_added(middle, after)) == 1
    assert after.count("\n") == after.count(end)


ODD = {
    "flow": "people: [{id: a, name: A B, role: technician, under_18: false}]\n",
    "folded name": "people:\n  - id: a\n    role: technician\n    under_18: false\n    name: >-\n"
    "      A B\n",
    "retired null": "people:\n  - id: a\n    name: A B\n    role: technician\n"
    "    under_18: false\n    retired: null\n",
    "document end": "people:\n  - {id: a, name: A B, role: technician, under_18: false}\n...\n",
}


@pytest.mark.parametrize("layout", ODD)
def test_a_layout_that_cannot_be_edited_is_left_whole_and_the_message_says_what_to_do(
    data: DataFolder, people: Path, layout: str
) -> None:
    people.write_text(ODD[layout] + "# the end\n", encoding="utf-8")
    before = people.read_bytes()
    with pytest.raises(BadFile, match=r"people.yaml:.*(by hand|Write 2026-03-31 there)"):
        retire_person(people, data, "a", DAY)
        add_person(people, data, NEW)
    assert people.read_bytes() == before
    assert not pin_book(data).known()


@given(
    st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), max_size=40)
)
@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_name_is_written_so_that_it_reads_back_the_same_or_is_refused(
    quick: Path, name: str
) -> None:
    room = quick / "names"
    shutil.rmtree(room, ignore_errors=True)
    room.mkdir()
    path, person = room / "people.yaml", Person("a", name, Role.TECHNICIAN, False)
    path.write_text(EXAMPLE, encoding="utf-8")
    try:
        add_person(path, DataFolder(room, "the test"), person, disk=Unsynced())
    except (BadFile, RecordError):
        assert path.read_text(encoding="utf-8") == EXAMPLE
    else:
        assert load_people(path)[-1] == person


class Unsynced(Disk):
    """The real disk without the waiting."""

    def fsync(self, fd: int) -> None:
        """Take the system's word for it."""


def test_the_first_person_makes_the_file(data: DataFolder, quick: Path) -> None:
    path = quick / "new.yaml"
    add_person(path, data, NEW)
    assert load_people(path) == (NEW,)


def test_an_id_that_was_somebody_elses_is_refused_where_it_stands_even_after_the_file_forgot_it(
    data: DataFolder, people: Path
) -> None:
    admit(people, data)
    people.write_text(EXAMPLE.replace("Example Technician", "Somebody New"), encoding="utf-8")
    with pytest.raises(BadFile) as error:
        admit(people, data)
    (found,) = error.value.findings
    line = EXAMPLE.splitlines().index("  - id: technician-1") + 1
    assert (found.line, found.key) == (line, "people[2].id")
    assert "Example Technician" in found.problem and "nobody here has had" in found.remedy


def test_a_retired_id_is_not_opened_again_and_the_person_may_come_back_under_another(
    data: DataFolder, people: Path
) -> None:
    retire_person(people, data, "technician-1", DAY)
    retired = people.read_text(encoding="utf-8")
    people.write_text(EXAMPLE, encoding="utf-8")
    with pytest.raises(BadFile, match=r"retired on .* stays closed"):
        admit(people, data)
    people.write_text(retired, encoding="utf-8")
    back = Person("technician-2", "Example Technician", Role.TECHNICIAN, False)
    add_person(people, data, back)
    assert admit(people, data)[-1] == back


def test_whom_the_file_retires_is_retired_in_the_book_too(data: DataFolder, people: Path) -> None:
    admit(people, data)
    people.write_text(
        EXAMPLE.replace("role: technician\n", "role: technician\n    retired: 2026-01-01\n"),
        encoding="utf-8",
    )
    admit(people, data)
    assert pin_book(data).known()["technician-1"].retired


@pytest.mark.parametrize(
    ("person", "words"),
    [
        (replace(NEW, id="technician-1"), "already that of Example Technician"),
        (replace(NEW, name="EXAMPLE  technician"), "already stands under the id technician-1"),
        (replace(NEW, id="customer"), "stands for the customer"),
        (replace(NEW, role=Role.SUPERVISOR, under_18=True), "under 18 cannot be"),
        (replace(NEW, id="Two Words"), "cannot be an id"),
        (replace(NEW, name="a\u202eb"), "hidden|not allowed"),
    ],
)
def test_a_person_who_cannot_stand_on_the_roster_is_refused_and_nothing_is_written(
    data: DataFolder, people: Path, person: Person, words: str
) -> None:
    with pytest.raises(BadFile, match=words):
        add_person(people, data, person)
    assert people.read_text(encoding="utf-8") == EXAMPLE
    assert pin_book(data).known() == {}


def test_nobody_of_that_id_is_named_with_the_ids_that_there_are(
    data: DataFolder, people: Path
) -> None:
    with pytest.raises(IdTaken, match="technician-1, supervisor-1"):
        retire_person(people, data, "nobody", DAY)


def test_a_job_is_begun_without_those_who_have_retired(data: DataFolder, quick: Path) -> None:
    folder = quick / "workshop"
    shutil.copytree(ROOT / "examples" / "workshop", folder)
    sources = Sources.of_folder(folder, PROCEDURES / "clean-above.yaml")
    assert len(load_people(sources.people)) == 3
    retire_person(folder / "people.yaml", data, "technician-1", DAY)
    roster = load_bundle(sources).roster()
    assert [p["id"] for p in roster] == ["apprentice-1", "supervisor-1"]
    assert set(roster[0]) == {"id", "name", "role", "under_18"}


def test_when_everybody_has_retired_no_job_can_be_begun(data: DataFolder, people: Path) -> None:
    for person in ("apprentice-1", "technician-1"):
        retire_person(people, data, person, DAY)
    with pytest.raises(BadFile, match="everybody has retired"):
        retire_person(people, data, "supervisor-1", DAY)
    assert not load_people(people)[2].retired


def test_a_disk_that_fails_leaves_the_file_as_it_was(data: DataFolder, people: Path) -> None:
    class Full(Disk):
        def write(self, fd: int, data: bytes) -> int:
            raise OSError(28, "no space")

    with pytest.raises(RecordError, match="disk is full"):
        add_person(people, data, NEW, disk=Full())
    assert people.read_text(encoding="utf-8") == EXAMPLE
    add_person(people, data, NEW)
    assert load_people(people)[-1] == NEW, "the same person may be added after all"


def test_the_mode_of_the_file_and_a_link_to_it_are_kept(
    data: DataFolder, people: Path, quick: Path
) -> None:
    people.chmod(0o644)
    link = quick / "link.yaml"
    link.symlink_to(people)
    add_person(link, data, NEW)
    assert link.is_symlink() and people.stat().st_mode & 0o777 == 0o644
    assert load_people(people)[-1] == NEW


_ADD = """
import sys
from pathlib import Path
from steplatch.runner.workshop.files import Person, Role
from steplatch.runner.workshop.roster import add_person
from steplatch.runner.record import DataFolder
for n in range(4):
    person = Person(f"{sys.argv[3]}-{n}", f"{sys.argv[3].upper()} {n}", Role.APPRENTICE, True)
    add_person(Path(sys.argv[1]), DataFolder(Path(sys.argv[2]), "test"), person)
"""


def test_two_programs_that_add_people_at_once_lose_nobody(data: DataFolder, people: Path) -> None:
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", _ADD, str(people), str(data.path), letter],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        for letter in "ab"
    ]
    assert [program.wait(60) for program in programs] == [0, 0]
    ids = {p.id for p in load_people(people)}
    assert ids >= {f"{letter}-{n}" for letter in "ab" for n in range(4)} and len(ids) == 11
    assert set(pin_book(data).known()) == ids - {"apprentice-1", "technician-1", "supervisor-1"}


def test_a_new_pin_of_a_person_who_was_added_is_accepted(data: DataFolder, people: Path) -> None:
    add_person(people, data, NEW)
    book = PinBook(data.path / "people.json", Cost(2, 1, 1))
    book.set_pin(NEW.id, NEW.name, "90364")
    assert book.check(NEW.id, "90364") == Accepted()
