"""The workshop's ledger, and what an audit says of jobs, seals and pages that are not as it has."""

import json
import shutil
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.closing import close_job
from steplatch.runner.jobs.ledgers import key_folder, tell
from steplatch.runner.record import (
    DataFolder,
    Disk,
    JobFolder,
    JournalFailed,
    find_data_folder,
)
from steplatch.runner.record.ledger import Entry, note, read_ledger
from steplatch.runner.screen.terminal.plain_lines import PlainLines

from tests.attacks.readers import run
from tests.attacks.real_jobs import real_job

KEY = b"k" * 32


@pytest.fixture
def data(quick: Path) -> DataFolder:
    """A data folder with a key and one real job, ended, sealed and with its sheet."""
    made = find_data_folder(quick / "data", {})
    real_job(made)
    return made


def job_in(data: DataFolder) -> JobFolder:
    return JobFolder(next(data.jobs.iterdir()))


def audited(data: DataFolder) -> tuple[int | None, str]:
    ran = run("audit", ["--data", str(data.path), "audit", "--all"])
    assert not ran.trace, ran.trace
    return ran.code, ran.said


def test_a_real_job_from_its_beginning_to_its_sheet_stands_in_the_ledger_and_is_good(
    data: DataFolder,
) -> None:
    ledger = read_ledger(data, key_folder(data).public_keys())
    assert ledger is not None and not ledger.findings
    whats = [entry.what for entry in ledger.of(job_in(data).id)]
    assert whats == ["begun", "ended", "sealed", "sheet"]
    assert ledger.signed == len(ledger.entries)
    code, said = audited(data)
    assert code == exits.OK, said


def test_a_removed_job_is_missing(data: DataFolder) -> None:
    job = job_in(data).id
    shutil.rmtree(data.job(job).path)
    code, said = audited(data)
    assert code == exits.AUDIT_BROKEN and job in said and "gone" in said


def test_a_removed_seal_is_missed(data: DataFolder) -> None:
    shutil.rmtree(job_in(data).path / "seal")
    code, said = audited(data)
    assert code == exits.AUDIT_BROKEN and "its seal was taken away" in said


def test_a_foreign_seal_is_by_an_unknown_key_and_not_the_ledgers(
    data: DataFolder, tmp_path: Path
) -> None:
    from steplatch.runner.record import verify
    from steplatch.runner.record.keys import SigningKey
    from steplatch.runner.record.seal import make_seal

    folder = job_in(data)
    shutil.rmtree(folder.path / "seal")
    foreign = SigningKey(b"f" * 32)
    make_seal(
        folder, verify(folder.path), "finished", "at the end", "2026-03-02T12:00:00Z", foreign
    )
    code, said = audited(data)
    assert code == exits.AUDIT_BROKEN and "the seal is by" in said
    shutil.rmtree(data.path / "ledger")
    assert audited(data)[0] == exits.AUDIT_UNKNOWN_KEY


@pytest.mark.parametrize("kind", ["replaced", "removed"])
def test_a_sheet_that_is_not_the_one_written_is_named(data: DataFolder, kind: str) -> None:
    page = job_in(data).path / "sheet.html"
    if kind == "removed":
        page.unlink()
    else:
        page.write_bytes(page.read_bytes().replace(b"</html>", b"<!-- --></html>"))
    code, said = audited(data)
    assert code == exits.AUDIT_BESIDE and "sheet.html" in said


@pytest.mark.parametrize(
    "name", ["note.txt", "texts/extra.yaml", "seal/extra", "attachments/a.jpg"]
)
def test_an_added_file_is_no_part_of_the_record(data: DataFolder, name: str) -> None:
    path = job_in(data).path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("x")
    code, said = audited(data)
    assert code == exits.AUDIT_BESIDE and name in said


def test_an_ended_job_without_a_seal_says_so(quick: Path) -> None:
    made = find_data_folder(quick / "data", {})
    real_job(made, key=False)
    code, said = audited(made)
    assert code == exits.AUDIT_UNSEALED and "NONE, though the job has ended" in said


def test_a_job_that_the_ledger_does_not_know_is_said(data: DataFolder, quick: Path) -> None:
    other = find_data_folder(quick / "other", {})
    real_job(other, token="zzzzzzzz")
    shutil.copytree(job_in(other).path, data.jobs / job_in(other).id)
    code, said = audited(data)
    assert code in (exits.AUDIT_UNKNOWN_KEY, exits.AUDIT_BROKEN) and job_in(other).id in said
    shutil.rmtree(data.jobs / job_in(other).id / "seal")
    assert audited(data)[0] == exits.AUDIT_UNLISTED


@pytest.mark.parametrize(
    "how", ["cut", "changed", "head", "gone", "unsigned", "added", "spelt", "key"]
)
def test_a_ledger_that_was_touched_is_broken(data: DataFolder, how: str) -> None:
    room = data.path / "ledger"
    lines = (room / "lines.jsonl").read_bytes().splitlines(keepends=True)
    match how:
        case "cut":
            (room / "lines.jsonl").write_bytes(b"".join(lines[:-1]))
        case "changed":
            (room / "lines.jsonl").write_bytes(b"".join(lines).replace(b"begun", b"ended"))
        case "head":
            head = json.loads((room / "head.json").read_bytes())
            head["signature"] = "00" * 64
            (room / "head.json").write_text(f"{json.dumps(head)}\n")
        case "key":
            head = json.loads((room / "head.json").read_bytes())
            head["key"] = "0000-0000-0000-0000"
            (room / "head.json").write_text(f"{json.dumps(head)}\n")
        case "added":
            (room / "extra").write_text("x")
        case "spelt":
            raw = (room / "head.json").read_bytes()
            (room / "head.json").write_bytes(raw.replace(b"signed_sha256", b"signed_sha257"))
        case "gone":
            shutil.rmtree(room)
        case _:
            head = json.loads((room / "head.json").read_bytes())
            head |= {"signed": 0, "signed_sha256": "", "key": "", "signature": ""}
            (room / "head.json").write_text(f"{json.dumps(head)}\n")
    code, said = audited(data)
    assert code == exits.AUDIT_BROKEN, (code, said)


def test_a_line_that_a_crash_cut_off_is_taken_off_at_the_next_and_a_lost_head_is_told(
    data: DataFolder,
) -> None:
    path = data.path / "ledger" / "lines.jsonl"
    with path.open("ab") as file:
        file.write(b'{"prev":"')
    assert audited(data)[0] == exits.OK
    tell(data, Entry("hold", job_in(data).id, "supervisor-1", note="because of it"))
    assert audited(data)[0] == exits.OK


def test_the_jobs_that_lay_there_before_the_ledger_are_known_by_it(data: DataFolder) -> None:
    shutil.rmtree(data.path / "ledger")
    other = "2026-03-02-aaaaaaaa"
    ledger = note(data, Entry("begun", other), lying_there=(job_in(data).id, other))
    assert ledger.before() == {job_in(data).id}


class DiesAt(Disk):
    """Raises at the ``at``-th call that changes something."""

    def __init__(self, at: int) -> None:
        self.left = at

    def _count(self) -> None:
        self.left -= 1
        if self.left == 0:
            raise OSError(28, "no space left on device")

    def write(self, fd: int, data: bytes) -> int:
        self._count()
        return super().write(fd, data)

    def fsync(self, fd: int) -> None:
        self._count()

    def replace(self, source: Path, target: Path) -> None:
        self._count()
        super().replace(source, target)

    def mkdir(self, path: Path) -> None:
        self._count()
        super().mkdir(path)


@pytest.mark.parametrize("at", [*range(1, 14), 18, 25])
def test_a_job_that_dies_at_its_end_is_closed_by_coming_back(
    quick: Path, at: int, capsys: pytest.CaptureFixture[str]
) -> None:
    made = find_data_folder(quick / "data", {})
    folder, job = real_job(made, close=False)
    failing = DiesAt(at)
    code = close_job(PlainLines(), folder, job, "technician-1", failing)
    assert code == (exits.RECORD_FAILED if failing.left <= 0 else exits.OK)
    if code:
        assert "the disk is full" in capsys.readouterr().out
    assert close_job(PlainLines(), folder, job, "technician-1") == exits.OK
    code, said = audited(made)
    assert code == exits.OK, said
    assert [e.what for e in read_ledger(made).of(folder.id)][:2] == ["begun", "ended"]  # type: ignore[union-attr]


def test_the_verdict_is_said_before_anything_that_can_fail(
    quick: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from steplatch.runner.cli import closing

    made = find_data_folder(quick / "data", {})
    folder, job = real_job(made, close=False)

    def full(*_: object) -> None:
        raise OSError(28, "no space left on device")

    monkeypatch.setattr(Disk, "replace", full)
    assert closing.closing(PlainLines(), folder, job.core.ended) == exits.RECORD_FAILED
    said = capsys.readouterr().out
    assert said.index(folder.id) < said.index("the disk is full")


def test_the_list_says_which_real_job_ended_without_a_seal(quick: Path) -> None:
    made = find_data_folder(quick / "data", {})
    folder, job = real_job(made, close=False)
    listed = ["--data", str(made.path), "jobs"]
    assert "not sealed" in " ".join(run("jobs", listed).said.split())
    assert close_job(PlainLines(), folder, job) == exits.OK
    assert "not sealed" not in " ".join(run("jobs", listed).said.split())


def test_an_empty_id_names_no_job(data: DataFolder) -> None:
    for word in ("", " "):
        ran = run("audit", ["--data", str(data.path), "audit", word])
        assert ran.code == exits.NO_SUCH_JOB and "empty id" in ran.said


@pytest.mark.parametrize("call", ["read", "names"])
def test_a_disk_that_does_not_give_the_ledger_is_said_as_that(data: DataFolder, call: str) -> None:
    class Broken(Disk):
        calls = 0

        def read(self, fd: int, count: int) -> bytes:
            self.calls += 1
            if call == "read" and self.calls > 2:  # the head, once the lines were read
                raise OSError(5, "injected")
            return super().read(fd, count)

        def names(self, path: Path) -> list[str]:
            if call == "names":
                raise OSError(5, "injected")
            return super().names(path)

    with pytest.raises(JournalFailed, match="could not read the ledger"):
        read_ledger(data, disk=Broken())
