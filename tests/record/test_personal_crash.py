"""A crash at any moment of keeping a personal value: not lost once recorded, no alteration."""

import json
from pathlib import Path

import pytest
from steplatch.runner.cli.guided_job import keeper_for
from steplatch.runner.core.commands import Note
from steplatch.runner.core.engine import Outcome
from steplatch.runner.core.events import Recorded
from steplatch.runner.core.refusals import refusal
from steplatch.runner.jobs import session as sessions
from steplatch.runner.jobs.personal_audit import PersonalAudit
from steplatch.runner.jobs.projection import Journal
from steplatch.runner.jobs.session import CANNOT_DECIDE, Session
from steplatch.runner.jobs.store import begin, resume
from steplatch.runner.record import JobFolder, find_data_folder, load_personal, make_data_folder
from steplatch.runner.record.clocks import PracticeClock

from tests.played import START, bundle_from

PLATE = "EXAMPLE 1"


@pytest.fixture
def opened(quick: Path) -> tuple[Session, JobFolder]:
    data = find_data_folder(quick / "data", {})
    make_data_folder(data)
    return begin(data, bundle_from(), PracticeClock(START), "technician-1", practice=True)


def record(session: Session, monkeypatch: pytest.MonkeyPatch, kept: str, fine: bool = True) -> None:
    """One line that records a value kept apart, as the step for it does."""
    event = Recorded("registration", {"text": kept}, "identity", procedure="clean-above")
    outcome = Outcome((event,), ()) if fine else Outcome((), (refusal(CANNOT_DECIDE, {}),))
    with monkeypatch.context() as patched:
        patched.setattr(sessions, "decided", lambda *_: outcome)
        session.submit(Note("remark", {"text": "x"}))


def altered(folder: JobFolder) -> bool:
    return PersonalAudit.of(Journal.of(folder)).altered


def plate(folder: JobFolder) -> str:
    found = load_personal(folder.path)
    return "" if found is None else next(iter(found.fields.values())).value  # type: ignore[union-attr]


@pytest.mark.parametrize("dies", ["before its line", "after its line", "not at all"])
@pytest.mark.parametrize("second", [False, True])
def test_a_value_is_there_once_its_hash_is_and_not_before(
    opened: tuple[Session, JobFolder], monkeypatch: pytest.MonkeyPatch, dies: str, second: bool
) -> None:
    session, folder = opened
    keep = keeper_for(session, folder)
    if second:
        record(session, monkeypatch, keep("registration", "EXAMPLE 0"))
    kept = keep("registration", PLATE)
    if dies == "after its line":
        session.settle = None
    if dies != "before its line":
        record(session, monkeypatch, kept)
    session.writer.close()
    assert not altered(folder)
    again, *_ = resume(folder, PracticeClock(START, 60.0), "technician-1")
    again.writer.close()
    assert not altered(folder)
    before = "EXAMPLE 0" if second else ""
    assert plate(folder) == (before if dies == "before its line" else PLATE)
    assert not (folder.path / "personal.json.new").exists()


def test_a_refused_answer_puts_nothing_in_place(
    opened: tuple[Session, JobFolder], monkeypatch: pytest.MonkeyPatch
) -> None:
    session, folder = opened
    kept = keeper_for(session, folder)("registration", PLATE)
    record(session, monkeypatch, kept, fine=False)
    session.writer.close()
    assert not altered(folder) and plate(folder) == ""


def test_a_staged_file_of_another_value_is_still_an_alteration(
    opened: tuple[Session, JobFolder], monkeypatch: pytest.MonkeyPatch
) -> None:
    session, folder = opened
    record(session, monkeypatch, keeper_for(session, folder)("registration", PLATE))
    session.writer.close()
    plain = json.loads(folder.personal.read_bytes())
    plain["fields"]["registration"]["value"] = "EXAMPLE 2"
    folder.personal.write_text(json.dumps(plain))
    (folder.path / "personal.json.new").write_text(json.dumps(plain))
    assert altered(folder)
