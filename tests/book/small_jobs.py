"""Small journals, shaped as the program writes them, for tests of lists and exports."""

import hashlib
from pathlib import Path
from typing import Any

from steplatch.runner.record import DataFolder, Header, JobFolder, JournalWriter, Times

from tests.record.sample_jobs import UnsyncedDisk

HEADER = Header("clean-above", "1", "ab" * 32, "steplatch 0.1.0", "cd" * 32, "de" * 32, "ef" * 32)
PEOPLE = [
    {"id": "apprentice-1", "name": "Ann Example", "role": "apprentice", "under_18": True},
    {"id": "technician-1", "name": "Björn Beispiel", "role": "technician", "under_18": False},
]
DISK = UnsyncedDisk()


def opened(files: dict[str, str] | None = None, practice: bool = False) -> dict[str, Any]:
    return {"kind": "Opened", "practice": practice, "people": PEOPLE, "files": files or {}}


def recorded(name: str, step: str = "", **value: Any) -> dict[str, Any]:
    return {"kind": "Recorded", "name": name, "value": value, "step": step,
            "procedure": "clean-above"}  # fmt: skip


def moved(step: str) -> dict[str, Any]:
    return {"kind": "Moved", "step": step, "procedure": "clean-above", "reason": "next"}


def ended(how: str = "finished") -> dict[str, Any]:
    return {"kind": "Ended", "how": how}


def signed(person: str, role: str, step: str = "look") -> dict[str, Any]:
    return {"kind": "Signed", "step": step, "person": person, "role": role,
            "meaning": "checked", "who": "other", "covers": ["a", "b"],
            "how": "pin", "exceptions": ["alone"], "procedure": "clean-above"}  # fmt: skip


def at(number: int, day: str) -> Times:
    return Times(f"{day}T09:{number // 60:02}:{number % 60:02}.000Z", "+01:00", number * 1000,
                 number * 1000, "boot-1")  # fmt: skip


def vehicle_text(folder: JobFolder, label: str) -> str:
    """Keep a vehicle text with the job; returns its hash."""
    raw = f"label: {label}\ndisplacement: 2.0 L\n".encode()
    digest = hashlib.sha256(raw).hexdigest()
    (folder.path / "texts").mkdir(exist_ok=True)
    (folder.path / "texts" / f"{digest}.yaml").write_bytes(raw)
    return digest


def small_job(
    data: DataFolder, job: str, *lines: list[dict[str, Any]], vehicle: str = "", by: str = ""
) -> JobFolder:
    """A closed job: one journal line for each list of events, after one that opens it."""
    folder = data.job(job)
    data.jobs.mkdir(parents=True, exist_ok=True)
    with JournalWriter.create(folder.path, HEADER, DISK) as writer:
        files = {"vehicle": vehicle_text(folder, vehicle)} if vehicle else {}
        for number, events in enumerate([[opened(files)], *lines], start=1):
            writer.append(
                by or "apprentice-1",
                "apprentice",
                {"kind": "Answer", "step": "zero", "value": "x"},
                {"events": events, "refused": []},
                at(number, job[:10]),
            )
    return folder


def data_in(path: Path) -> DataFolder:
    return DataFolder(path / "data", "the test")


def job_id_of(number: int) -> str:
    """The id of the ``number``-th of many jobs: a date and a token."""
    letters = "abcdefghijklmnopqrstuvwxyz234567"
    token = "".join(letters[number >> shift & 31] for shift in (15, 10, 5, 0))
    return f"20{10 + number // 1000:02}-{1 + number % 12:02}-{1 + number % 28:02}-aa{token}aa"
