"""A file attached after a job's end: in the open, for fourteen days, sealed again; and all that may
be done to it afterwards."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from PIL import Image
from steplatch.runner.cli import exits
from steplatch.runner.cli.closing import write_sheet
from steplatch.runner.cli.main import main
from steplatch.runner.jobs import late
from steplatch.runner.jobs.auditing import AuditGrade, JobAudit, audit_job
from steplatch.runner.jobs.customer import erase_customer
from steplatch.runner.jobs.late import attach_late, ended_utc
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.projection import Journal, typed
from steplatch.runner.jobs.sealing import seal_ended
from steplatch.runner.jobs.store import load
from steplatch.runner.record import (
    DataFolder,
    Erased,
    JobFolder,
    NotRecordable,
)
from steplatch.runner.record.attachments import attachment_path
from steplatch.runner.record.disk import Disk
from steplatch.runner.record.late import late_files, late_path
from steplatch.runner.record.ledger import read_ledger

from tests.attacks.real_jobs import real_job
from tests.known_people import WHO, who_types_a_pin
from tests.record.failing_disk import Crashed, FailingDisk, Fault

T = TypeVar("T")
FINE = (AuditGrade.GOOD.value, AuditGrade.OLDER.value)


@pytest.fixture
def data(quick: Path) -> DataFolder:
    data = DataFolder(quick / "data", "the test")
    data.path.mkdir()
    real_job(data)
    return data


def job_of(data: DataFolder) -> JobFolder:
    (path,) = data.jobs.iterdir()
    return JobFolder(path)


def days_after(data: DataFolder, days: int) -> str:
    """A moment so many days after the job's end."""
    ended = ended_utc(tuple(typed(Journal.of(job_of(data)).lines)))
    day = int(ended[8:10]) + days
    assert 1 <= day <= 30
    return f"{ended[:8]}{day:02}{ended[10:]}"


def a_file(data: DataFolder, text: str = "a reading on paper") -> Path:
    path = data.path.parent / "paper.txt"
    path.write_text(text, "utf-8")
    return path


def attached(data: DataFolder, text: str = "a reading on paper", disk: Disk | None = None,
             days: int = 3) -> None:  # fmt: skip
    attach_late(job_of(data), a_file(data, text), f"shows {text}", WHO, key_folder(data).open(),
                disk=disk, utc=days_after(data, days))  # fmt: skip


def audited(data: DataFolder) -> JobAudit:
    keys = key_folder(data).public_keys()
    return audit_job(job_of(data), keys, read_ledger(data, keys))


def test_it_is_listed_kept_and_sealed_again_beside_the_earlier_seal(data: DataFolder) -> None:
    folder = job_of(data)
    before = (folder.path / "seal" / "statement.txt").read_bytes()
    journal = folder.journal.read_bytes()
    attached(data)
    attached(data, "another", days=14)
    assert folder.journal.read_bytes() == journal
    assert (folder.path / "seal-1" / "statement.txt").read_bytes() == before
    first, second = late_files(folder)
    assert (first.by, first.label, second.label) == (
        WHO,
        "shows a reading on paper",
        "shows another",
    )
    found = audited(data)
    assert found.code in FINE, found.lines()
    assert any("2 files attached after the end; 2 earlier seals" in text for text in found.lines())
    ledger = read_ledger(data)
    assert ledger is not None
    acts = [(e.what, e.by) for e in ledger.of(folder.id)][-4:]
    assert acts == [("attached", WHO), ("sealed", WHO)] * 2
    assert audit_job(folder).code in FINE  # a copy that was handed on, without a ledger


def test_after_fourteen_days_it_is_refused_in_clear_words_and_nothing_is_written(
    data: DataFolder,
) -> None:
    before = _kept(data)
    with pytest.raises(NotRecordable, match="closed for good"):
        attached(data, days=15)
    assert _kept(data) == before


def _kept(data: DataFolder) -> dict[Path, bytes]:
    """Every file but the locks, which say who held them last and since when."""
    files = (p for p in data.path.rglob("*") if p.is_file() and p.name != "lock")
    return {path: path.read_bytes() for path in files}


def _taken_away(data: DataFolder) -> None:
    (one,) = late_files(job_of(data))
    attachment_path(job_of(data), one.sha256, one.kind).unlink()


def _exchanged(data: DataFolder) -> None:
    (one,) = late_files(job_of(data))
    attachment_path(job_of(data), one.sha256, one.kind).write_text("another reading")


def _as_it_was_before(data: DataFolder) -> None:
    """All of it undone, so that the folder is what it was before the file was attached."""
    folder = job_of(data)
    _taken_away(data)
    late_path(folder).unlink()
    shutil.rmtree(folder.path / "seal")
    (folder.path / "seal-1").rename(folder.path / "seal")


def _list_away(data: DataFolder) -> None:
    late_path(job_of(data)).unlink()


def _earlier_seal_away(data: DataFolder) -> None:
    shutil.rmtree(job_of(data).path / "seal-1")


def _earlier_seal_changed(data: DataFolder) -> None:
    path = job_of(data).path / "seal-1" / "signature.bin"
    path.write_bytes(path.read_bytes()[::-1])


def _reworded(data: DataFolder) -> None:
    path = late_path(job_of(data))
    path.write_bytes(path.read_bytes().replace(b"shows a", b"shows 2"))


def _another_by(data: DataFolder) -> None:
    path = late_path(job_of(data))
    path.write_bytes(path.read_bytes().replace(WHO.encode(), b"technician-1"))


def _added_by_hand(data: DataFolder) -> None:
    """A second file put into the list, and the job sealed again with the workshop's own key."""
    folder = job_of(data)
    plain = json.loads(late_path(folder).read_text("utf-8"))
    plain["entries"].append({**plain["entries"][0], "label": "shows more"})
    late_path(folder).write_text(json.dumps(plain, ensure_ascii=False, indent=1) + "\n", "utf-8")
    seal_ended(folder, key_folder(data).open(), "later", WHO)


def _too_late(data: DataFolder) -> None:
    folder = job_of(data)
    (one,) = late_files(folder)
    path = late_path(folder)
    path.write_bytes(path.read_bytes().replace(one.utc.encode(), days_after(data, 20).encode()))


@pytest.mark.parametrize(
    "change",
    [_taken_away, _exchanged, _as_it_was_before, _list_away, _earlier_seal_away,
     _earlier_seal_changed, _reworded, _another_by, _added_by_hand, _too_late],
)  # fmt: skip
def test_whatever_is_done_to_it_afterwards_is_found(
    data: DataFolder, change: Callable[[DataFolder], None]
) -> None:
    attached(data)
    assert audited(data).code in FINE
    change(data)
    found = audited(data)
    assert found.code == AuditGrade.CHANGED.value, found.lines()


class Recording(FailingDisk):
    """Writes down the name of each call."""

    def __init__(self) -> None:
        super().__init__()
        self.called: list[str] = []

    def _gate(self, name: str, call: Callable[[], T]) -> T:
        self.called.append(name)
        return super()._gate(name, call)


def test_killed_before_any_write_the_same_again_ends_what_was_begun(
    data: DataFolder, quick: Path
) -> None:
    seen = Recording()
    attached(DataFolder(_copy(data), "the test"), disk=seen)
    writes = [at for at, name in enumerate(seen.called, 1) if name in ("write", "replace", "mkdir")]
    assert len(writes) > 10
    for at in writes:
        room = DataFolder(quick / f"killed-{at}", "the test")
        shutil.copytree(data.path, room.path)
        disk = FailingDisk(at, Fault.CRASH_BEFORE)
        with pytest.raises(Crashed):
            attached(room, disk=disk)
        disk.bury()
        kept = late_files(job_of(room))
        attached(room, days=5)
        (one,) = late_files(job_of(room))
        found = audited(room)
        assert found.code in FINE, (at, disk.struck, found.lines())
        assert not kept or kept == (one,)


def test_another_file_does_not_hide_one_that_was_broken_off(data: DataFolder) -> None:
    disk = FailingDisk(0, Fault.CRASH_BEFORE)
    attached(DataFolder(_copy(data), "the test"), disk=disk)
    for at in range(1, disk.calls + 1):
        room, disk = DataFolder(_copy(data), "the test"), FailingDisk(at, Fault.CRASH_BEFORE)
        with pytest.raises(Crashed):
            attached(room, disk=disk)
        disk.bury()
        ledger = read_ledger(room)
        if ledger is not None and ledger.of(job_of(room).id)[-1].what == "attached":
            break
    assert audited(room).code == AuditGrade.CHANGED.value
    with pytest.raises(NotRecordable, match="was broken off"):
        attached(room, "another")


def _copy(data: DataFolder) -> Path:
    into = data.path.parent / "copy"
    shutil.rmtree(into, ignore_errors=True)
    shutil.copytree(data.path, into)
    return into


def test_the_command_attaches_shows_it_on_the_page_and_says_so(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    who_types_a_pin(data.path, monkeypatch)
    monkeypatch.setattr(late, "utc_now", lambda: days_after(data, 2))
    picture = data.path.parent / "stub.jpg"
    Image.effect_noise((32, 24), 60).save(picture, "JPEG", comment=b"Nowhere Lane 7")
    folder = job_of(data)
    words = ["--data", str(data.path), "attach", folder.id, str(picture), "--label", "the stub",
             "--as", WHO, "--page"]  # fmt: skip
    assert main(words) == exits.OK
    said = capsys.readouterr().out
    assert "metadata taken out" in said and "sealed again" in said
    sheet = (folder.path / "sheet.html").read_text("utf-8")
    assert "the stub" in sheet and "data:image/jpeg" in sheet and "after the end" in sheet
    assert b"Nowhere Lane" not in (folder.path / "sheet.html").read_bytes()
    assert main(["--data", str(data.path), "audit", "--all"]) == exits.OK
    monkeypatch.setattr(late, "utc_now", lambda: days_after(data, 20))
    assert main(words) == exits.RECORD_FAILED
    assert "closed for good" in capsys.readouterr().err


def test_after_an_erasure_no_picture_stands_on_the_page(data: DataFolder) -> None:
    folder = job_of(data)
    picture = data.path.parent / "plate.png"
    Image.effect_noise((32, 24), 60).save(picture, "PNG")
    attach_late(folder, picture, "its rear", WHO, key_folder(data).open(), page=True,
                utc=days_after(data, 1))  # fmt: skip
    page = Path(write_sheet(folder, load(folder).job, WHO))
    assert "data:image/png" in page.read_text("utf-8")
    erase_customer(folder, Erased("supervisor-1", "2026-03-10T00:00:00Z", "asked"))
    assert not page.exists()
    write_sheet(folder, load(folder).job, WHO)
    assert "data:image/png" not in page.read_text("utf-8")
