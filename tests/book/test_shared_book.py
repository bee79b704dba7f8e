"""The shared book on a real PostgreSQL: sent once, in order, whole; what does not fit is named."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.book import sending
from steplatch.runner.book.copies import audit_book
from steplatch.runner.book.migrations import VERSION
from steplatch.runner.book.sending import jobs_there, send, status
from steplatch.runner.book.server import (
    BookFile,
    NoServer,
    add_login,
    connected,
    run_on,
    set_up,
    unsafe,
)
from steplatch.runner.cli import exits, proving
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.auditing import AuditGrade
from steplatch.runner.jobs.book import JobBook
from steplatch.runner.jobs.late import attach_late
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.questions import answers
from steplatch.runner.record import (
    DataFolder,
    Erased,
    JobLock,
    JournalWriter,
    PersonalField,
    RecordError,
    erase_personal,
)
from steplatch.runner.record.ledger import read_ledger

from tests.attacks.real_jobs import real_job
from tests.book.cluster import Cluster, cluster
from tests.book.small_jobs import DISK, HEADER, at, data_in, ended, recorded, small_job
from tests.book.test_answers import EVIL, visit

psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed")
ONE, TWO = "2026-01-31-aaaaaaaa", "2026-02-28-bbbbbbbb"


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    with cluster() as made:
        yield made


@pytest.fixture
def book(server: Cluster) -> Cluster:
    """The server with an empty book of the newest version, and its logins."""
    with psycopg.connect(server.dsn(), autocommit=True) as connection:
        connection.execute("DROP SCHEMA IF EXISTS steplatch CASCADE")
    set_up(server.dsn())
    for name, role in (("bay-1", "bay"), ("bay-2", "bay"), ("desk", "office"), ("eye", "auditor")):
        add_login(server.dsn(), name, role)
    return server


def bay(book: Cluster, name: str = "bay-1", personal: Any = "none") -> BookFile:
    return BookFile(server=book.dsn(name), personal=personal)


def as_who(book: Cluster, who: str) -> Any:
    return psycopg.connect(book.dsn(who), options="-c search_path=steplatch")


def rows(book: Cluster, sql: str, user: str = "eye") -> list[tuple[Any, ...]]:
    with connected(book.dsn(user)) as connection:
        return run_on(connection)(sql)


@pytest.fixture
def data(quick: Path) -> DataFolder:
    made = data_in(quick)
    small_job(made, ONE, [recorded("verdict", state="as_expected")], [ended()], vehicle="van")
    small_job(made, TWO, [recorded("verdict", state="cannot_say")])
    return made


def test_what_is_sent_is_there_byte_by_byte_and_is_sent_once(
    book: Cluster, data: DataFolder
) -> None:
    assert (send(data, bay(book)).jobs, send(data, bay(book)).jobs) == (2, 0)
    raw = b"".join(bytes(r[0]) for r in rows(
        book, f"SELECT raw FROM copy_line WHERE job = '{ONE}' ORDER BY seq"))  # fmt: skip
    assert raw == data.job(ONE).journal.read_bytes()
    assert status(data, bay(book)).unsent == ()


def test_a_running_job_goes_on_from_where_it_was_sent(book: Cluster, data: DataFolder) -> None:
    journal = data.job(ONE).journal
    whole = journal.read_bytes()
    head = data.job(ONE).path / "head"
    kept = head.read_bytes()
    first = b"".join(whole.splitlines(keepends=True)[:1])
    assert send(data, bay(book)).lines == 5
    with psycopg.connect(book.dsn()) as connection:  # as if only the first line had arrived
        connection.execute("DELETE FROM steplatch.copy_line WHERE job = %s AND seq > 1", (ONE,))
        digest = sending.hash_of(first)
        connection.execute(
            "UPDATE steplatch.copy_job SET lines = 1, head = %s, stamp = '' WHERE job = %s",
            (digest, ONE),
        )
    assert send(data, bay(book)).lines == 2
    assert head.read_bytes() == kept and journal.read_bytes() == whole


def test_an_altered_a_rolled_back_a_doubled_and_a_gone_job_are_named_and_nothing_is_overwritten(
    book: Cluster, data: DataFolder, quick: Path
) -> None:
    send(data, bay(book))
    before = rows(book, "SELECT * FROM copy_line ORDER BY bay, job, seq")
    shutil.rmtree(data.job(ONE).path)
    small_job(data, ONE, [recorded("verdict", state="not_improved")], [ended()], vehicle="van")
    assert send(data, bay(book)).findings == [
        (ONE, "altered", "line 2 is not the one that was sent")
    ]
    shutil.rmtree(data.job(ONE).path)
    small_job(data, ONE, vehicle="van")
    assert send(data, bay(book)).findings == [
        (ONE, "rolled-back", "3 lines were sent, the bay has 1")
    ]
    shutil.rmtree(data.job(ONE).path)
    (found,) = send(data, bay(book)).findings
    assert found[:2] == (ONE, "gone")
    assert rows(book, "SELECT * FROM copy_line ORDER BY bay, job, seq") == before
    other = data_in(quick / "other")
    small_job(other, ONE, [recorded("verdict", state="as_expected")])
    small_job(other, TWO, [recorded("verdict", state="cannot_say")])
    send(other, bay(book, "bay-2"))
    doubled = rows(book, "SELECT job, detail FROM finding WHERE what = 'doubled' ORDER BY job")
    assert doubled == [(ONE, "another job of this id was sent by bay-1"),
                       (TWO, "the same job was sent by bay-1")]  # fmt: skip
    assert rows(book, "SELECT count(*) FROM job_fact WHERE kind = 'real'") == [(3,)]
    assert {f[1] for f in status(data, bay(book)).findings} == {"altered", "rolled-back", "gone"}


def test_a_gone_job_is_acknowledged_by_name_and_stays_found(
    book: Cluster, data: DataFolder, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    words = ["--data", str(data.path), "book"]
    (data.path / "book.yaml").write_text(f"server: {book.dsn('bay-1')}\n", "utf-8")
    assert main([*words, "send"]) == exits.OK
    shutil.move(data.job(ONE).path, data.path / "aside")
    assert main([*words, "send"]) == main([*words, "send"]) == exits.FAILED
    said = [*words, "acknowledge", ONE, "--as", "supervisor-1", "--why"]
    assert main([*said, "moved to the bay next door"]) == exits.FAILED  # nobody of this id, no PIN
    assert status(data, bay(book)).acknowledged == ()
    monkeypatch.setattr(proving, "prove", lambda *_: None)
    assert main([*said, "lost"]) == exits.FAILED
    assert main([*said, "moved to the bay next door"]) == exits.OK
    assert main([*words, "send"]) == main([*words, "status"]) == exits.OK
    assert main([*said, "moved to the bay next door"]) == exits.FAILED  # nothing is open any more
    stands = status(data, bay(book))
    detail = "3 lines were sent, it is not in the bay's folder any more"
    why = ("supervisor-1", "moved to the bay next door")
    assert stands.findings == () and stands.acknowledged == ((ONE, "gone", detail, *why),)
    (one,) = audit_book(book.dsn("eye")).findings
    assert (one.what, one.by, one.why) == ("gone", *why)
    ledger = read_ledger(data)
    assert ledger is not None and ledger.of(ONE)[-1].what == "acknowledged"
    assert ledger.of(ONE)[-1].by == "supervisor-1"
    assert "Acknowledged by supervisor-1" in capsys.readouterr().out
    shutil.move(data.path / "aside", data.job(ONE).path)
    with JournalWriter.open(data.job(ONE).path, disk=DISK) as writer:
        writer.use_header(HEADER)
        writer.append("a", "b", {"kind": "Note"}, {"events": [], "refused": []}, at(9, ONE[:10]))
    assert main([*words, "send"]) == exits.OK
    shutil.rmtree(data.job(ONE).path)
    assert main([*words, "send"]) == exits.FAILED  # it came back and went again: said anew


def test_a_line_that_does_not_follow_is_refused_by_the_server_itself(
    book: Cluster, data: DataFolder
) -> None:
    send(data, bay(book))
    put = "INSERT INTO copy_line VALUES (%s, %s, %s, encode(sha256(%s), 'hex'), %s)"
    for who, seq in (("bay-1", 9), ("bay-1", 4), ("bay-2", 1)):
        with pytest.raises(psycopg.Error), as_who(book, "bay-1") as connection:
            connection.execute(put, (who, ONE, seq, b"{}\n", b"{}\n"))


@pytest.mark.parametrize(
    ("who", "sql"),
    [
        ("bay-1", "UPDATE copy_line SET raw = ''"),
        ("bay-1", "DELETE FROM copy_line"),
        ("bay-1", "UPDATE copy_job SET lines = 0"),
        ("bay-1", "UPDATE copy_file SET content = ''"),
        ("bay-1", "DELETE FROM finding"),
        ("bay-1", "UPDATE acknowledged SET why = ''"),
        ("bay-1", "DELETE FROM acknowledged"),
        ("desk", "INSERT INTO acknowledged VALUES ('bay-1', 'b', 'c', 'd', 'e', 'f')"),
        ("desk", "SELECT raw FROM copy_line"),
        ("desk", "DELETE FROM job_fact"),
        ("bay-1", "UPDATE tally SET jobs = 0"),
        ("eye", "SELECT car FROM job_fact"),
        ("eye", "INSERT INTO finding VALUES ('a', 'b', 'c', 'd')"),
        ("desk", "CREATE TABLE mine (a INTEGER)"),
    ],
)
def test_each_role_may_do_its_own_and_no_more(book: Cluster, who: str, sql: str) -> None:
    with pytest.raises(psycopg.errors.InsufficientPrivilege), as_who(book, who) as connection:
        connection.execute(sql)


def test_a_bay_sees_its_own_rows_and_the_office_all(book: Cluster, data: DataFolder) -> None:
    send(data, bay(book))
    with connected(book.dsn("bay-2")) as connection:
        assert jobs_there(connection) == {}
        assert run_on(connection)("SELECT count(*) FROM job_fact") == [(0,)]
    assert rows(book, "SELECT count(*) FROM job_fact", "desk") == [(2,)]


def test_both_databases_answer_alike(book: Cluster, quick: Path) -> None:
    data = data_in(quick)
    for number in range(12):
        visit(data, f"2026-01-{number + 1:02}-aaaaaaaa", "as_expected", f"CAR {number % 5}")
    send(data, bay(book, personal="car"))
    with JobBook.open(data) as local, connected(book.dsn("desk")) as connection:
        local.sync()
        assert answers(run_on(connection)) == local.answers()
        assert local.answers()[0].rows == (("as_expected", 12, 7, 7, 5.0),)


def test_a_registration_goes_only_where_the_setting_says_so_and_its_erasure_is_confirmed(
    book: Cluster, quick: Path
) -> None:
    data = data_in(quick)
    visit(data, ONE, "as_expected", "GEHEIM 77")
    send(data, bay(book))
    assert b"GEHEIM77" not in book.dump()
    send(data, bay(book, personal="car"))
    assert b"GEHEIM77" in book.dump()
    with JobLock.take(data.job(ONE), DISK) as lock:
        record = Erased("supervisor-1", "2026-03-10T00:00:00Z", "asked")
        erase_personal(lock, [PersonalField.REGISTRATION], record, DISK)
    assert status(data, bay(book, personal="car")).erasing == (ONE,)
    assert send(data, bay(book, personal="car")).erased == [ONE]
    assert ONE in (data.path / "book-erased.jsonl").read_text("utf-8")
    assert status(data, bay(book, personal="car")).erasing == ()
    assert b"GEHEIM77" not in book.dump() and b"GEHEIM" not in book.log()


@pytest.mark.parametrize("evil", EVIL)
def test_texts_that_look_like_sql_stay_texts(book: Cluster, quick: Path, evil: str) -> None:
    data = data_in(quick)
    small_job(data, ONE, [recorded("verdict", state=evil)], [ended()])
    send(data, bay(book))
    assert rows(book, "SELECT verdict FROM job_fact") == [(evil,)]
    add_login(book.dsn(), evil, "office")
    with psycopg.connect(book.dsn()) as connection:
        connection.execute(psycopg.sql.SQL("DROP ROLE {}").format(psycopg.sql.Identifier(evil)))


def test_every_copy_is_audited_and_a_changed_one_is_found(book: Cluster, quick: Path) -> None:
    data = DataFolder(quick / "data", "the test")
    data.path.mkdir()
    folder, _ = real_job(data)
    send(data, bay(book))
    (one,) = audit_book(book.dsn("eye")).copies
    assert (one.job, one.wrong) == (folder.id, ())
    assert one.grade in (AuditGrade.GOOD, AuditGrade.OLDER)
    with psycopg.connect(book.dsn()) as connection:
        connection.execute(
            "UPDATE steplatch.copy_line SET raw = convert_to(replace(convert_from(raw, 'UTF8'), "
            "'technician-1', 'technician-2'), 'UTF8')"
        )
    (one,) = audit_book(book.dsn("eye")).copies
    assert one.grade is AuditGrade.CHANGED and one.wrong


def test_a_job_that_is_sealed_again_is_sent_with_its_earlier_seal_and_no_other_is_taken(
    book: Cluster, quick: Path
) -> None:
    data = DataFolder(quick / "data", "the test")
    data.path.mkdir()
    folder, _ = real_job(data)
    send(data, bay(book))
    paper = quick / "paper.txt"
    for number in (1, 2):
        paper.write_text(f"reading {number}", "utf-8")
        attach_late(folder, paper, "a reading", "supervisor-1", key_folder(data).open(),
                    utc=f"{folder.id[:8]}05T1{number}:00:00Z")  # fmt: skip
        assert send(data, bay(book)).findings == []
    sent = {path for (path,) in rows(book, "SELECT path FROM copy_file")}
    assert {"late.json", "seal-1/statement.txt", "seal-2/signature.bin"} <= sent
    assert not any(path.startswith("attachments") for path in sent)
    (one,) = audit_book(book.dsn("eye")).copies
    assert (one.wrong, one.grade in (AuditGrade.GOOD, AuditGrade.OLDER)) == ((), True)
    with psycopg.connect(book.dsn()) as connection:
        connection.execute("DELETE FROM steplatch.copy_file WHERE path LIKE 'seal-1/%'")
    (one,) = audit_book(book.dsn("eye")).copies
    assert one.grade is AuditGrade.CHANGED and "sent twice" in one.wrong[0]


def test_a_book_comes_up_from_its_first_version_with_its_copies(
    server: Cluster, data: DataFolder
) -> None:
    with psycopg.connect(server.dsn(), autocommit=True) as connection:
        connection.execute("DROP SCHEMA IF EXISTS steplatch CASCADE")
    assert set_up(server.dsn(), upto=1) == (0, 1)
    add_login(server.dsn(), "bay-1", "bay")
    line = data.job(ONE).journal.read_bytes().splitlines(keepends=True)[0]
    with as_who(server, "bay-1") as connection:
        connection.execute(
            "INSERT INTO copy_line VALUES ('bay-1', %s, 1, encode(sha256(%s), 'hex'), %s)",
            (ONE, line, line),
        )
    with pytest.raises(NoServer, match="its version is 1"):
        send(data, bay(server))
    assert set_up(server.dsn()) == (1, VERSION)
    assert set_up(server.dsn()) == (VERSION, VERSION)
    assert send(data, bay(server)).lines == 4  # two more of the first job, two of the second


@pytest.mark.parametrize(
    ("dsn", "problem"),
    [
        ("host=book.example user=bay-1", "sslmode=verify-full"),
        ("host=book.example sslmode=require", "sslmode=verify-full"),
        ("host=/run/a,book.example", "sslmode=verify-full"),
        ("dbname=steplatch", "sslmode=verify-full"),
        ("host=/run/postgresql password=secret", "password"),
        ("nonsense words", "no connection text"),
    ],
)
def test_an_unsafe_connection_is_not_used(dsn: str, problem: str) -> None:
    assert problem in unsafe(dsn)
    assert not unsafe("host=book.example sslmode=verify-full") and not unsafe(
        "host=/run/postgresql"
    )


def test_a_server_that_is_not_there_loses_nothing_and_says_so(
    book: Cluster, data: DataFolder
) -> None:
    with pytest.raises(NoServer, match="Nothing is lost"):
        send(data, BookFile(server="host=/nowhere user=bay-1"))
    assert send(data, bay(book)).jobs == 2


def test_a_job_that_cannot_be_read_now_is_no_finding_and_a_broken_chain_is_one(
    book: Cluster, data: DataFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed = RecordError("journal", "it changed while it was read", "Send again")
    with monkeypatch.context() as patched:
        patched.setattr(sending, "_raw_lines", lambda *_: (_ for _ in ()).throw(changed))
        assert {what for _, what, _ in send(data, bay(book)).findings} == {"unread"}
    assert rows(book, "SELECT count(*) FROM finding") == [(0,)]
    journal = data.job(ONE).journal
    journal.write_bytes(journal.read_bytes().replace(b"as_expected", b"as_expectet"))
    (found,) = send(data, bay(book)).findings
    assert found[:2] == (ONE, "broken")
    assert rows(book, "SELECT job FROM copy_job") == [(TWO,)]


def test_the_commands_set_up_send_say_and_audit(
    book: Cluster, data: DataFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    (data.path / "book.yaml").write_text(f"server: {book.dsn('bay-1')}\n", "utf-8")
    words = ["--data", str(data.path), "book"]
    assert main([*words, "serve-setup", "--server", book.dsn(), "--bay", "bay-3"]) == exits.OK
    assert main([*words, "serve-setup", "--print"]) == exits.OK
    assert "CREATE POLICY own" in capsys.readouterr().out
    assert main([*words, "status"]) == exits.OK
    assert f"not sent yet, or not all of it: {ONE}" in capsys.readouterr().out
    assert main([*words, "send"]) == exits.OK
    assert "sent: 2 jobs, 5 lines" in capsys.readouterr().out
    assert main([*words, "answers", "verdicts", "--server", book.dsn("desk")]) == exits.OK
    assert "all bays" in capsys.readouterr().out
    assert main([*words, "audit", "--server", book.dsn("eye")]) == exits.AUDIT_BROKEN
    (data.path / "book.yaml").write_text("server: host=book.example\n", "utf-8")
    assert main([*words, "send"]) == exits.BAD_FILE


def test_a_cut_at_any_moment_loses_and_doubles_nothing(
    book: Cluster, quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The connection dies before the n-th statement, for every n, until all is sent."""
    data = data_in(quick)
    small_job(data, ONE, *([recorded("complaint", text=f"x{n}")] for n in range(8)), [ended()])
    monkeypatch.setattr(sending, "BATCH", 3)
    execute = psycopg.Cursor.execute
    cut_at = 0
    while True:
        left = cut_at = cut_at + 1

        def cut(self: Any, *args: Any, **kwargs: Any) -> Any:
            nonlocal left
            left -= 1
            if left == 0:
                self.connection.pgconn.finish()
            return execute(self, *args, **kwargs)

        with monkeypatch.context() as patched:
            patched.setattr(psycopg.Cursor, "execute", cut)
            try:
                send(data, bay(book))
            except NoServer:
                continue
        break
    assert cut_at > 5
    sent = b"".join(bytes(r[0]) for r in rows(book, "SELECT raw FROM copy_line ORDER BY seq"))
    assert sent == data.job(ONE).journal.read_bytes()
    assert rows(book, "SELECT count(*) FROM job_fact") == [(1,)]
    assert replace(status(data, bay(book)), bay="").unsent == ()
