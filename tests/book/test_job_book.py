"""The job book: right after every change, made again whenever it is damaged, quick with many."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs import book as job_book
from steplatch.runner.jobs.book import BOOK_NAME, BookBusy, JobBook
from steplatch.runner.jobs.book_search import Wanted, number_of
from steplatch.runner.jobs.digest import digest
from steplatch.runner.jobs.listing import listing
from steplatch.runner.jobs.projection import fold
from steplatch.runner.record import (
    DataFolder,
    Erased,
    JobFolder,
    JobLock,
    JournalWriter,
    PersonalField,
    change_personal,
    create_personal,
    erase_personal,
    read,
)

from tests.book.small_jobs import (
    DISK,
    at,
    data_in,
    ended,
    job_id_of,
    moved,
    recorded,
    signed,
    small_job,
)
from tests.played import Played

ROOT = Path(__file__).resolve().parents[2]
ONE, TWO, THREE = "2026-01-31-aaaaaaaa", "2026-02-28-bbbbbbbb", "2026-03-31-cccccccc"
PLATE, CUSTOMER, CONTACT = "EXAMPLE 17", "Erika Example", "phone 555-0100"


@pytest.fixture
def data(quick: Path) -> DataFolder:
    """Three jobs: finished with a verdict, open at a step, abandoned."""
    made = data_in(quick)
    verdict = recorded("verdict", state="improved", title="improved, not shown to be normal")
    small_job(made, ONE, [recorded("complaint", text="Lamp came back")], [verdict, ended()],
              vehicle="blue van, 2.0 L")  # fmt: skip
    small_job(made, TWO, [moved("ignition")], vehicle="Größe Kombi")
    small_job(made, THREE, [signed("technician-1", "technician"), ended("abandoned")])
    return made


def listed(data: DataFolder, rebuild: bool = False, **wanted: str) -> list[str]:
    """The ids that are listed."""
    with JobBook.open(data, rebuild) as book:
        book.sync()
        return [row.job for row in book.rows(Wanted(**wanted))]


def keep(folder: JobFolder) -> None:
    values = {PersonalField.REGISTRATION: PLATE, PersonalField.CUSTOMER_NAME: CUSTOMER,
              PersonalField.CONTACT: CONTACT}  # fmt: skip
    with JobLock.take(folder, DISK) as lock:
        create_personal(lock, values, DISK)


def on_disk(data: DataFolder) -> bytes:
    """Every byte of the book's files."""
    return b"".join(p.read_bytes() for p in sorted(data.path.glob(f"{BOOK_NAME}*")))


def test_a_row_says_what_folding_the_record_says(good: Played) -> None:
    row = digest(good.folder)
    job = fold(list(read(good.folder.path)))
    verdict = job.log.latest("verdict")
    assert verdict is not None
    assert (row.state, row.step, row.verdict) == (job.core.ended, job.core.step, verdict["state"])
    assert row.kind == "practice" and row.vehicle == "example van, 2.0 L four-cylinder"
    assert {who for who, _ in row.people} <= {p["id"] for p in job.log.people}
    signers = {s.person for s in job.log.signatures if s.role != "customer"}
    assert {who for who, _ in row.people} >= signers | job.log.doers


def test_at_every_line_of_a_job_the_row_stands_where_the_job_stands(
    good: Played, quick: Path
) -> None:
    lines = list(read(good.folder.path))
    folder = JobFolder(quick / good.folder.id)
    with JournalWriter.create(folder.path, lines[0].envelope.header, DISK) as writer:
        for number, line in enumerate(lines, start=1):
            writer.append(line.envelope.actor, line.envelope.role, line.command, line.outcome,
                          line.envelope.times)  # fmt: skip
            if number % 90 == 0 or number == len(lines):
                core = fold(lines[:number]).core
                row = digest(folder)
                state = core.ended or ("held" if core.held else "open")
                assert (row.state, row.step, row.lines) == (state, core.step, number)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({}, [ONE, TWO, THREE]),
        ({"state": "open"}, [TWO]),
        ({"state": "abandoned"}, [THREE]),
        ({"kind": "practice"}, []),
        ({"kind": "real"}, [ONE, TWO, THREE]),
        ({"since": "2026-02-28"}, [TWO, THREE]),
        ({"until": "2026-02-28"}, [ONE, TWO]),
        ({"since": "2026-02-01", "until": "2026-02-27"}, []),
        ({"vehicle": "BLUE"}, [ONE]),
        ({"vehicle": "GRÖSSE"}, [TWO]),
        ({"person": "björn"}, [THREE]),
        ({"person": "technician-1"}, [THREE]),
        ({"verdict": "not shown"}, [ONE]),
        ({"verdict": "IMPROVED"}, [ONE]),
        ({"text": "lamp CAME"}, [ONE]),
        ({"text": "bbbbbbbb"}, [TWO]),
        ({"text": "lamp", "state": "open"}, []),
        ({"text": "la"}, [ONE]),
        ({"text": "blue"}, [ONE]),
        ({"text": "lamp", "vehicle": "blue"}, [ONE]),
        ({"text": "lamp", "vehicle": "kombi"}, []),
        ({"text": "l*p"}, []),
        ({"text": "[l]amp"}, []),
        ({"verdict": "im"}, [ONE]),
        ({"text": "%"}, []),
        ({"text": "' OR 1=1 --"}, []),
        ({"vehicle": "\x00"}, []),
        ({"person": '"'}, []),
        ({"text": "ignition"}, [TWO]),
    ],
)
def test_every_filter_finds_what_fits_and_nothing_else(
    data: DataFolder, wanted: dict[str, str], found: list[str]
) -> None:
    assert listed(data, **wanted) == found


def test_only_what_has_changed_is_read_again(data: DataFolder) -> None:
    with JobBook.open(data) as book:
        assert (book.sync(), book.sync()) == (3, 0)
    with JournalWriter.open(data.job(TWO).path, _header(), DISK) as writer:
        writer.append("apprentice-1", "apprentice", {"kind": "Stop"},
                      {"events": [{"kind": "Held", "why": "stop"}], "refused": []},
                      at(90, "2026-02-28"))  # fmt: skip
    shutil.rmtree(data.job(ONE).path)
    with JobBook.open(data) as book:
        assert book.sync() == 1
        assert [(r.job, r.state) for r in book.rows()] == [(TWO, "held"), (THREE, "abandoned")]


def _header() -> object:
    from tests.book.small_jobs import HEADER

    return HEADER


def test_a_deleted_book_and_a_rebuilt_one_list_the_same(data: DataFolder) -> None:
    with JobBook.open(data) as book:
        book.sync()
        before = book.rows()
    (data.path / BOOK_NAME).unlink()
    with JobBook.open(data) as book:
        assert book.sync() == 3 and book.rows() == before
    with JobBook.open(data, rebuild=True) as book:
        assert book.sync() == 3 and book.rows() == before and not book.notes


def test_a_damaged_book_is_made_again_with_a_note_wherever_the_damage_lies(
    data: DataFolder,
) -> None:
    listed(data)
    path = data.path / BOOK_NAME
    sound = path.read_bytes()
    with JobBook.open(data) as book:
        right = book.rows()
    noted = 0
    for where in [*range(0, 120, 7), *range(4096, len(sound), 997)]:
        path.write_bytes(sound[:where] + b"\xff" * 64 + sound[where + 64 :])
        with JobBook.open(data) as book:
            book.sync()
            rows = book.rows()
            noted += bool(book.notes)
        with pytest.raises(sqlite3.ProgrammingError, match="closed"):
            book._database.execute("SELECT 1")
        assert len(rows) == len(right) or book.notes, where
        path.unlink(missing_ok=True)
    for odd in (b"", b"not a database", sound[:5000], os.urandom(9000)):
        path.write_bytes(odd)
        with JobBook.open(data) as book:
            book.sync()
            assert book.rows() == right
            assert bool(book.notes) == bool(odd)
    assert noted > 10


def test_a_database_of_another_program_is_moved_aside_whole(data: DataFolder) -> None:
    path = data.path / BOOK_NAME
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("CREATE TABLE invoices (number)")
        other.execute("INSERT INTO invoices VALUES (1)")
    other.close()
    whole = path.read_bytes()
    with JobBook.open(data) as book:
        book.sync()
        assert len(book.rows()) == 3
        assert "another program" in book.notes[0] and "moved to" in book.notes[1]
    assert (data.path / f"{BOOK_NAME}.foreign").read_bytes() == whole


def test_a_book_of_another_version_is_made_again(data: DataFolder) -> None:
    listed(data)
    with closing(sqlite3.connect(data.path / BOOK_NAME)) as book, book:
        book.execute("PRAGMA user_version=99")
    book.close()
    with JobBook.open(data) as again:
        again.sync()
        assert len(again.rows()) == 3 and "another version" in again.notes[0]


def test_where_no_book_can_be_kept_the_jobs_are_listed_all_the_same(data: DataFolder) -> None:
    (data.path / BOOK_NAME).mkdir()
    with JobBook.open(data) as book:
        book.sync()
        assert [row.job for row in book.rows()] == [ONE, TWO, THREE]
        assert "cannot be kept" in " ".join(book.notes)


def test_a_disk_that_fails_while_the_book_is_written_costs_the_book_and_not_the_list(
    data: DataFolder,
) -> None:
    four = "2026-04-30-dddddddd"
    small_job(data, four, [recorded("complaint", text="long " * 9000)])
    with JobBook.open(data) as book:
        (pages,) = book._database.execute("PRAGMA page_count").fetchone()
        book._database.execute(f"PRAGMA max_page_count={pages}")
        book.sync()
        assert [row.job for row in book.rows()] == [ONE, TWO, THREE, four]
        assert "cannot be kept" in " ".join(book.notes)


def test_a_broken_job_is_listed_as_broken_with_why(data: DataFolder) -> None:
    journal = data.job(ONE).journal
    raw = journal.read_bytes()
    journal.write_bytes(raw.replace(b"Lamp came", b"Lamp went"))
    data.job(TWO).journal.unlink()
    data.job(THREE).head.write_bytes(b"x")
    (data.jobs / "2026-04-30-dddddddd").mkdir()
    with JobBook.open(data) as book:
        book.sync()
        rows = book.rows()
    assert [row.state for row in rows] == ["BROKEN", "BROKEN", "BROKEN", "not begun"]
    assert all(row.why_broken for row in rows[:3])
    text = "\n".join(listing(rows, None))
    assert f"cannot be read: {rows[0].why_broken}. See: steplatch audit {ONE}" in text


@pytest.mark.parametrize(
    "event",
    [{"kind": "Opened"}, {"kind": "Recorded", "name": "verdict", "value": 7, "step": ""}, {}, 3,
     {"kind": "Signed"}, {"kind": "Moved", "step": ["x"]}, {"kind": "Opened", "people": 1}],
)  # fmt: skip
def test_lines_that_no_program_wrote_make_a_broken_row_and_no_crash(
    quick: Path, event: object
) -> None:
    made = data_in(quick)
    small_job(made, ONE, [event])  # type: ignore[list-item]
    with JobBook.open(made) as book:
        book.sync()
        (row,) = book.rows()
    assert row.state in ("BROKEN", "open")


def test_customer_and_plate_find_a_job_while_they_are_kept_and_leave_no_byte_once_erased(
    data: DataFolder,
) -> None:
    folder = data.job(TWO)
    assert listed(data, vehicle=PLATE) == []
    keep(folder)
    for wanted in ({"vehicle": "example17"}, {"vehicle": "ple 17"}, {"text": "erika"}):
        assert listed(data, **wanted) == [TWO]
    assert PLATE.encode() in on_disk(data) and CONTACT.encode() not in on_disk(data)
    with JobLock.take(folder, DISK) as lock:
        change_personal(lock, PersonalField.REGISTRATION, "EXAMPLE 18", DISK)
    assert listed(data, vehicle=PLATE) == [] and listed(data, vehicle="EXAMPLE18") == [TWO]
    assert PLATE.encode() not in on_disk(data) and b"example 17" not in on_disk(data)
    with JobLock.take(folder, DISK) as lock:
        erase_personal(lock, list(PersonalField)[:3], Erased("x", "2026-01-01T00:00:00Z", "asked"),
                       DISK)  # fmt: skip
    for wanted in ({"vehicle": "EXAMPLE18"}, {"text": "erika"}):
        assert listed(data, **wanted) == []
    for gone in (b"EXAMPLE 18", b"example 18", CUSTOMER.encode(), CUSTOMER.casefold().encode()):
        assert gone not in on_disk(data)
    with JobBook.open(data) as book:
        assert [row.personal for row in book.rows()] == ["none", "erased", "none"]


def test_a_damaged_side_file_is_said_and_hides_no_job(data: DataFolder) -> None:
    data.job(TWO).personal.write_bytes(b"{")
    with JobBook.open(data) as book:
        book.sync()
        assert [row.personal for row in book.rows()] == ["none", "unreadable", "none"]


def test_a_vehicle_text_that_was_changed_gives_no_label(data: DataFolder) -> None:
    for text in data.job(ONE).path.glob("texts/*"):
        text.write_bytes(text.read_bytes() + b"#")
    assert digest(data.job(ONE)).vehicle == ""


def test_hostile_text_reaches_no_terminal_as_it_is(quick: Path) -> None:
    made = data_in(quick)
    verdict = recorded("verdict", state="x", title="\x1b[2J\x1b]0;owned\x07 a\u202eb\nsecond line")
    small_job(made, ONE, [verdict], vehicle="'\u200bvan'")
    with JobBook.open(made) as book:
        book.sync()
        rows = book.rows()
    for width in (None, 200, 60, 30):
        lines = listing(rows, width)
        assert all(line.isprintable() for line in lines), lines
        assert width is None or all(len(line) <= width for line in lines)


@pytest.mark.parametrize("width", [10, 24, 40, 60, 80, 99, 100, 120, 200])
def test_at_every_width_each_job_is_named_whole_and_no_line_is_too_long(
    data: DataFolder, width: int
) -> None:
    with JobBook.open(data) as book:
        book.sync()
        lines = listing(book.rows(), width)
    assert all(len(line) <= max(width, 24) for line in lines)
    for job in (ONE, TWO, THREE):
        assert any(job in line for line in lines)
    if width >= 40:
        assert "blue van" in "\n".join(lines) and "ignition" in "\n".join(lines)


_LIST = """
import sys
from pathlib import Path
from steplatch.runner.jobs.book import JobBook
from steplatch.runner.record import DataFolder
data = DataFolder(Path(sys.argv[1]), "test")
for turn in range(4):
    with JobBook.open(data, rebuild=turn == 2) as book:
        book.sync()
        print(len(book.rows()), len(book.notes))
"""


def test_two_programs_that_list_and_rebuild_at_once_both_see_every_job(quick: Path) -> None:
    made = data_in(quick)
    for number in range(20):
        small_job(made, job_id_of(number), [ended()])
    programs = [
        subprocess.Popen([sys.executable, "-c", _LIST, str(made.path)], stdout=subprocess.PIPE,
                         stderr=subprocess.PIPE, text=True,
                         env={**os.environ, "PYTHONPATH": str(ROOT)})
        for _ in range(2)
    ]  # fmt: skip
    for program in programs:
        said, wrong = program.communicate(timeout=60)
        assert program.returncode == 0, wrong
        assert {line.split()[0] for line in said.splitlines()} == {"20"}


def test_a_book_that_another_program_holds_is_waited_for_and_then_named(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    listed(data)
    monkeypatch.setattr(job_book, "BUSY_S", 0.05)
    holder = sqlite3.connect(data.path / BOOK_NAME, isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    try:
        with pytest.raises(BookBusy, match="another program"), JobBook.open(data) as book:
            book.sync()
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    assert len(listed(data)) == 3


def test_the_command_lists_filters_and_says_what_to_do_when_nothing_is_there(
    data: DataFolder, quick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--data", str(data.path), "jobs", "--state", "open"]) == exits.OK
    said = capsys.readouterr().out
    assert TWO in said and ONE not in said and "1 of 3 jobs" in said
    assert main(["--data", str(data.path), "jobs", "no", "such", "words"]) == exits.OK
    assert "None of the 3 jobs fits" in capsys.readouterr().out
    nowhere = quick / "nowhere"
    assert main(["--data", str(nowhere), "jobs"]) == exits.OK
    assert "Begin with: steplatch practise" in capsys.readouterr().out
    assert not nowhere.exists(), "a list makes no folder"
    for words in (["--since", "3/4/2026"], ["--until", "2026-02-30"], ["--state", "odd"]):
        with pytest.raises(SystemExit):
            main(["--data", str(data.path), "jobs", *words])


def test_the_json_holds_personal_values_only_on_request(
    data: DataFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(data.job(ONE))
    assert main(["--data", str(data.path), "jobs", "--json"]) == exits.OK
    said = capsys.readouterr().out
    rows = json.loads(said)["jobs"]
    assert [row["job"] for row in rows] == [ONE, TWO, THREE] and rows[0]["personal_data"] == "kept"
    assert PLATE not in said and CUSTOMER not in said
    assert main(["--data", str(data.path), "jobs", "--json", "--with-personal"]) == exits.OK
    assert json.loads(capsys.readouterr().out)["jobs"][0]["personal"]["registration"] == PLATE


def test_no_registration_or_name_stands_in_any_file_name(data: DataFolder) -> None:
    keep(data.job(ONE))
    listed(data)
    names = " ".join(str(p.relative_to(data.path)) for p in data.path.rglob("*")).lower()
    for word in ("example17", "example 17", "erika"):
        assert word not in names


def test_the_newest_come_first_and_no_more_than_asked_for(data: DataFolder) -> None:
    with JobBook.open(data) as book:
        book.sync()
        newest = [row.job for row in book.rows(most=2)]
        assert newest == [THREE, TWO]
        for word in ("technician-1", "ig", ""):
            all_of = [row.job for row in book.rows(Wanted(text=word))]
            for most in (1, 2, 9):
                page = [row.job for row in book.rows(Wanted(text=word), most=most)]
                assert page == all_of[::-1][:most]


def test_where_there_is_no_index_of_words_the_same_is_found(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep(data.job(TWO))
    asked = [{"text": "lamp"}, {"text": "erika"}, {"vehicle": "EXAMPLE17"}, {"vehicle": "kombi"},
             {"person": "björn"}, {"verdict": "not shown"}]  # fmt: skip
    found = [listed(data, **one) for one in asked]
    monkeypatch.setattr(job_book, "INDEXES", ("CREATE VIRTUAL TABLE searched USING none(x)",))
    assert [listed(data, rebuild=True, **one) for one in asked] == found
    assert found == [[ONE], [TWO], [TWO], [TWO], [THREE], [ONE]]


def test_no_group_of_letters_stays_of_what_was_erased(data: DataFolder) -> None:
    def groups() -> set[str]:
        with closing(sqlite3.connect(data.path / BOOK_NAME)) as database:
            database.execute("CREATE VIRTUAL TABLE temp.seen USING fts5vocab(main, found, row)")
            return {term for (term,) in database.execute("SELECT term FROM temp.seen")}

    keep(data.job(TWO))
    assert listed(data, vehicle=PLATE) == [TWO]
    assert {"exa", "e17", "rik"} <= groups()
    with JobLock.take(data.job(TWO), DISK) as lock:
        erase_personal(lock, list(PersonalField)[:3], Erased("x", "2026-01-01T00:00:00Z", "asked"),
                       DISK)  # fmt: skip
    assert listed(data, vehicle=PLATE) == [] and groups() == set()


def test_numbers_order_ids_as_their_texts_do() -> None:
    tokens = ("aaaaaa", "aaaaaaaa", "2222227", "a7aaaaaa", "222222", "zzzzzzzzzzzzzzzz")
    days = ("0001-01-01", "2026-01-31", "2026-02-01", "9999-12-31")
    ids = sorted(f"{day}-{token}" for day in days for token in tokens)
    numbers = [number_of(job) for job in ids]
    assert numbers == sorted(numbers) and numbers[-1] < 2**63
