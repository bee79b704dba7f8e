"""A person's record comes from journals, is signed by a PIN, and cannot be made up."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from pathlib import Path

import pytest
from steplatch.runner.cli import exits, guided_job, practice_job
from steplatch.runner.cli.competent import lacks_at_work, not_competent
from steplatch.runner.cli.main import main
from steplatch.runner.cli.practice_job import (
    Setting,
    as_oneself,
    begin_at_vehicle,
    practised_note,
)
from steplatch.runner.core.job import Job, Recorded
from steplatch.runner.input.findings import BadFile
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.sealing import put_right
from steplatch.runner.record import (
    BadSideFile,
    DataFolder,
    JournalWriter,
    make_data_folder,
    read,
)
from steplatch.runner.record.ledger import PRACTICE, read_ledger
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.screen.terminal.plain_lines import PlainLines
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.competence import load_competences
from steplatch.runner.training.found import found
from steplatch.runner.training.lesson import Script
from steplatch.runner.training.progress import open_set, progress_of
from steplatch.runner.training.signoffs import SignOff, add, erase, kept_of, path_of
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import PinBook
from steplatch.runner.workshop.roster import pin_book

from tests.attacks.real_jobs import real_job
from tests.known_people import WHO, who_types_a_pin
from tests.played import START, bundle_from, lesson_with

PEOPLE = EXAMPLES / "workshop" / "people.yaml"
TODAY = date(2026, 3, 10)
LIST = """
competences:
  - id: hoses
    statement: Finds swapped hoses at the line test
    evidence:
      - {what: found, count: 1, faults: [hoses-swapped]}
    lasts_months: 12
    refresh:
      - {what: practised, count: 1}
required:
  - {competence: hoses, step: clean-above/off-spray}
"""


@pytest.fixture
def data(quick: Path) -> DataFolder:
    data = DataFolder(quick / "data", "the test")
    make_data_folder(data)
    (data.path / "competence.yaml").write_text(LIST, encoding="utf-8")
    pin_book(data).register("apprentice-1", "Example Apprentice")
    return data


def practise(
    data: DataFolder, how: str = "pin", faults: tuple[str, ...] = ("hoses-swapped",),
    found_it: bool = True, plays_itself: bool = False, set_sha256: str = "",
) -> str:  # fmt: skip
    """A practice job of the apprentice, played by a script in their stead; its id."""
    answers = {} if found_it else {"line-test-blow": "ok"}
    lesson = lesson_with("line-swapped", faults, answers=answers)
    bundle = practice_job.bundle_for(lesson.procedure, PEOPLE)
    vehicle = SimulatedVehicle(lesson.seed, faults, bundle.vehicle)
    setting = Setting(lesson, faults, lesson.seed, bundle, vehicle, set_sha256=set_sha256)
    session, folder = begin_at_vehicle(
        data, bundle, VehicleClock(START, vehicle), vehicle, "apprentice-1",
        setting.about(plays_itself),
    )  # fmt: skip
    try:
        as_oneself(data, session, folder, practised_note(setting, "apprentice-1", how))
        guide(practice_job.context_of(session, folder, Script(lesson), bundle, vehicle))
    finally:
        session.writer.close()
    put_right(folder, "apprentice-1")
    return folder.id


def signed(data: DataFolder, until: str = "2027-03-10") -> SignOff:
    listed = load_competences(data)
    assert listed is not None
    one = listed[0].competences[0]
    return add(data, SignOff("signed", "apprentice-1", WHO, one.id, one.sha256, until))


def state(data: DataFolder, today: date = TODAY) -> str:
    return progress_of(data, "apprentice-1", today).standings[0].state


def test_a_fault_found_by_hand_with_a_pin_is_evidence(data: DataFolder) -> None:
    assert state(data) == "not yet"
    practise(data)
    found_now = progress_of(data, "apprentice-1", TODAY)
    assert found_now.standings[0].state == "may be signed"
    (one,) = found_now.jobs
    assert one.counts and one.found == (("hoses-swapped", True),)
    assert found_now.of(practice=False) == ()


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({"how": "name"}, "no PIN"),
        ({"plays_itself": True}, "played itself"),
        ({"found_it": False}, ""),
    ],
)
def test_what_nobody_can_vouch_for_or_did_not_find_is_none(
    data: DataFolder, how: dict[str, str | bool], why: str
) -> None:
    practise(data, **how)  # type: ignore[arg-type]
    found_now = progress_of(data, "apprentice-1", TODAY)
    assert found_now.standings[0].state == "not yet"
    assert why in found_now.jobs[0].why


def test_a_side_file_put_there_later_is_found(data: DataFolder) -> None:
    """Another fault than was set up, written beside the journal to look as if it was found."""
    job = practise(data, faults=("none",), found_it=True)
    kept = data.job(job).path / "practice.json"
    plain = json.loads(kept.read_text("utf-8"))
    kept.write_text(json.dumps({**plain, "faults": ["hoses-swapped"]}), "utf-8")
    (one,) = progress_of(data, "apprentice-1", TODAY).jobs
    assert not one.counts and "not what was set up" in one.why
    assert state(data) == "not yet"


def _as_copied(data: DataFolder, job: str, other: str, but: str = "") -> None:
    """The job again under another id, written anew from the first line so that its chain holds;
    ``but`` takes the place of who did each line."""
    shutil.copytree(data.job(job).path, data.job(other).path)
    folder = data.job(other)
    for name in ("journal.jsonl", "head", "lock"):
        (folder.path / name).unlink()
    lines = list(read(data.job(job).path))
    with JournalWriter.create(folder.path, lines[0].envelope.header) as writer:
        for line in lines:
            told = line.envelope
            writer.append(but or told.actor, told.role, line.command, line.outcome, told.times)


def test_a_practice_job_that_was_copied_changed_or_taken_away_is_named_and_counts_no_more(
    data: DataFolder,
) -> None:
    job = practise(data)
    other = "2026-03-02-abcdefgh"
    _as_copied(data, job, other)
    copy, own = sorted(progress_of(data, "apprentice-1", TODAY).jobs, key=lambda one: one.counts)
    assert (copy.job, copy.why, own.job, own.counts) == (other, f"it is a copy of {job}", job, True)
    shutil.rmtree(data.job(job).path)
    found_now = progress_of(data, "apprentice-1", TODAY)
    assert found_now.ledger == (f"{job} was begun, and its folder is gone",)
    assert state(data) == "not yet" and "does not know it" in found_now.jobs[0].why
    _as_copied(data, other, job, but="apprentice-1")
    (one,) = (one for one in progress_of(data, "apprentice-1", TODAY).jobs if one.job == job)
    assert not one.counts and "changed: the ledger" in one.why


def test_practice_begun_elsewhere_or_without_its_ledger_counts_for_nothing(
    data: DataFolder, quick: Path
) -> None:
    job = practise(data)
    assert state(data) == "may be signed"
    lines = data.path / "practice-ledger" / "lines.jsonl"
    kept = lines.read_bytes()
    cut = kept.splitlines(keepends=True)
    lines.write_bytes(b"".join(cut[:-1]))
    found_now = progress_of(data, "apprentice-1", TODAY)
    assert "cut off" in found_now.ledger[0] and "end is not listed" in found_now.jobs[0].why
    lines.write_bytes(b"".join(cut[:1]))
    (one,) = progress_of(data, "apprentice-1", TODAY).jobs
    assert not one.counts and "does not know it" in one.why
    shutil.rmtree(lines.parent)
    assert state(data) == "not yet"
    put_right(data.job(job), "apprentice-1")  # coming back to it lists nothing that was not begun
    assert state(data) == "not yet" and not lines.exists()


def test_the_ledger_of_practice_cannot_stand_for_the_one_of_real_jobs(data: DataFolder) -> None:
    key_folder(data).make(bytes(range(32)))
    practise(data)
    keys = key_folder(data).public_keys()
    practised = read_ledger(data, keys, folder=PRACTICE)
    assert practised is not None and practised.signed == 3 and practised.findings == ()
    (data.path / PRACTICE).rename(data.path / "ledger")
    other = read_ledger(data, keys)
    assert other is not None and "by no key" in other.findings[0]


def test_a_real_job_counts_only_where_the_ledger_knows_it(data: DataFolder) -> None:
    folder, _ = real_job(data, key=False, close=False)
    (one,) = progress_of(data, "apprentice-1", TODAY).of(practice=False)
    assert one.counts and one.beside == "supervised" and f"{one.procedure}/crew" in one.steps
    (data.path / "ledger" / "lines.jsonl").unlink()
    (one,) = progress_of(data, "apprentice-1", TODAY).of(practice=False)
    assert not one.counts and "ledger" in one.why
    assert folder.id == one.job


def test_a_signature_holds_until_its_day_and_is_refreshed_by_new_work(data: DataFolder) -> None:
    signed(data, "2026-03-09")
    practise(data)
    assert state(data, date(2026, 3, 9)) == "signed"
    assert state(data) == "expired"
    listed = load_competences(data)
    assert listed is not None
    shown = progress_of(data, "apprentice-1", TODAY).standings[0].evidence
    assert [e.words for e in shown] == ["practice jobs by hand to their end"]
    assert shown[0].have == 0  # the job's own day lies before the signature


def test_other_words_are_signed_anew(data: DataFolder) -> None:
    signed(data)
    assert state(data) == "signed"
    (data.path / "competence.yaml").write_text(LIST.replace("swapped hoses", "all hoses"), "utf-8")
    assert state(data) == "to be signed anew"


def _cut(path: Path) -> None:
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))


def _forge(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"2027-03-10", b"2037-03-10"))


def _foreign(path: Path) -> None:
    path.with_name("technician-1.jsonl").write_bytes(path.read_bytes())


@pytest.mark.parametrize("change", [_cut, _forge])
def test_nothing_counts_of_lines_that_were_cut_or_changed(
    data: DataFolder, change: Callable[[Path], None]
) -> None:
    signed(data)
    add(data, SignOff("withdrawn", "apprentice-1", WHO, "hoses", why="stands too near"))
    assert state(data) == "withdrawn"
    change(path_of(data, "apprentice-1"))
    try:
        assert kept_of(data, "apprentice-1").wrong
        assert state(data) != "signed"
    except BadSideFile:
        pass


def test_a_line_without_the_ledger_and_another_persons_lines_count_for_nobody(
    data: DataFolder,
) -> None:
    signed(data)
    path = path_of(data, "apprentice-1")
    _foreign(path)
    with pytest.raises(BadSideFile):
        kept_of(data, "technician-1")
    (data.path / "ledger" / "lines.jsonl").unlink()
    assert kept_of(data, "apprentice-1").of("hoses") is None
    assert "not in the workshop's ledger" in progress_of(data, "apprentice-1", TODAY).note


def test_what_is_erased_leaves_no_line_that_says_whose_it_was(data: DataFolder) -> None:
    signed(data)
    assert erase(data, "apprentice-1", WHO) == 2
    assert state(data) == "not yet"
    left = [p for p in data.path.rglob("*") if p.is_file() and b"apprentice-1" in p.read_bytes()]
    assert [p.name for p in left] == ["people.json"]  # the book of ids, which are given once
    ledger = read_ledger(data)
    assert ledger is not None and ledger.entries[-1].what == "erased"


def test_a_job_that_needs_a_competence_begins_with_somebody_who_holds_it(data: DataFolder) -> None:
    bundle = bundle_from()
    refused = not_competent(data, bundle, "technician-1", ("technician-1",), TODAY)
    assert "'hoses' for step clean-above/off-spray" in refused and "steplatch progress" in refused
    signed(data)
    both = ("technician-1", "apprentice-1")
    assert not not_competent(data, bundle, "technician-1", both, TODAY)
    assert not not_competent(data, bundle, "apprentice-1", ("apprentice-1",), TODAY)
    assert not_competent(data, bundle, "technician-1", both, date(2027, 3, 11))
    assert not_competent(data, bundle, "technician-1", ("technician-1",), TODAY)


def test_no_job_is_begun_without_it_and_one_is_with_it(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    begun: list[str] = []
    monkeypatch.setattr(guided_job, "begin", lambda *_, **__: (None, begun.append("job")))
    monkeypatch.setattr(guided_job, "guide_to_end", lambda *_: exits.OK)
    monkeypatch.setattr(guided_job, "confirmed_unusual", lambda *_: True)
    who = "technician-1"
    begin = (data, bundle_from(), who, PlainLines())
    assert guided_job.begin_and_guide(*begin, (who,)) == exits.FAILED
    assert "requires a competence" in capsys.readouterr().err and not begun
    signed(data, "2099-12-31")
    assert guided_job.begin_and_guide(*begin, (who, "apprentice-1")) == exits.OK
    assert begun == ["job"]


def test_a_role_is_held_by_who_does_the_work_and_by_nobody_for_them(data: DataFolder) -> None:
    path = data.path / "competence.yaml"
    path.write_text(LIST.replace("step: clean-above/off-spray", "role: technician"), "utf-8")
    signed(data)
    both = ("technician-1", "apprentice-1")
    assert "a technician who does" in not_competent(data, bundle_from(), both[0], both, TODAY)
    assert not not_competent(data, bundle_from(), "apprentice-1", both, TODAY)


def test_a_hand_over_asks_for_it_of_the_people_who_are_here_then(data: DataFolder) -> None:
    people = bundle_from().roster()
    job = replace(Job(), log=Job().log.but(people=people, here=("technician-1", "apprentice-1")))
    ask = partial(lacks_at_work, data, bundle_from())
    assert "'hoses' for step" in ask(job, "technician-1")
    signed(data, "2099-12-31")
    assert not ask(job, "technician-1") and not ask(job, "apprentice-1")
    alone = replace(job, log=job.log.but(here=("technician-1",)))
    assert "'hoses' for step" in ask(alone, "technician-1")
    (data.path / "competence.yaml").write_text("competences: 3\n", "utf-8")
    assert "cannot be read" in ask(job, "technician-1")


def test_somebody_who_joined_is_asked_in_the_role_that_they_came_in(data: DataFolder) -> None:
    path = data.path / "competence.yaml"
    path.write_text(LIST.replace("step: clean-above/off-spray", "role: technician"), "utf-8")
    guest = {"id": "guest-1", "name": "A Guest", "role": "technician", "under_18": False}
    people = (*bundle_from().roster(), guest)
    job = replace(Job(), log=Job().log.but(people=people, here=("apprentice-1", "guest-1")))
    assert "a technician who does" in lacks_at_work(data, bundle_from(), job, "guest-1")
    assert not lacks_at_work(data, bundle_from(), job, "apprentice-1")


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ("step: clean-above/off-spray", "step: clean-above/of-spray", "has no step 'of-spray'"),
        ("competence: hoses, step", "competence: hose, step", "none of the list"),
        ("count: 1, faults", "count: 2, faults", "2 of 1 named"),
        ("[hoses-swapped]", "[hoses-crossed]", "is no fault"),
    ],
)
def test_a_list_that_would_ask_for_nothing_is_refused(
    data: DataFolder, was: str, now: str, said: str
) -> None:
    (data.path / "competence.yaml").write_text(LIST.replace(was, now), "utf-8")
    with pytest.raises(BadFile, match=said):
        not_competent(data, bundle_from(), "technician-1", (), TODAY)


def test_the_shipped_list_fits_the_shipped_procedure(data: DataFolder) -> None:
    text = (EXAMPLES / "workshop" / "competence.yaml").read_text("utf-8")
    (data.path / "competence.yaml").write_text(text, "utf-8")
    assert "'engine-off-dose'" in not_competent(data, bundle_from(), "technician-1", (), TODAY)


def test_a_supervisor_signs_what_is_there_and_nobody_their_own(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    who_types_a_pin(data.path, monkeypatch)
    words = ["--data", str(data.path), "progress", "apprentice-1", "sign", "hoses", "--people",
             str(PEOPLE), "--as"]  # fmt: skip
    assert main([*words, WHO]) == exits.FAILED
    assert "0 of 1: faults found" in capsys.readouterr().err
    practise(data)
    assert main([*words, "technician-1"]) == exits.USAGE
    assert main([*words, "apprentice-1"]) == exits.USAGE
    assert main([*words, WHO]) == exits.OK
    assert state(data, datetime.now().astimezone().date()) == "signed"
    ((job, _, _),) = kept_of(data, "apprentice-1").lines[-1].evidence
    (one,) = progress_of(data, "apprentice-1", TODAY).standings
    assert "evidence" not in one.note
    path = data.job(job).path
    path.rename(path.with_name("gone"))
    assert (
        f"gone or was changed: {job}" in progress_of(data, "apprentice-1", TODAY).standings[0].note
    )
    path.with_name("gone").rename(path)
    capsys.readouterr()
    page = data.path.parent / "page.html"
    assert main([*words[:4], "--page", str(page)]) == exits.OK
    assert "SIGNED by supervisor-1" in page.read_text("utf-8")


def test_a_wrong_pin_signs_nothing(data: DataFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    practise(data)
    who_types_a_pin(data.path, monkeypatch, typed="1111")
    words = ["--data", str(data.path), "progress", "apprentice-1", "sign", "hoses"]
    assert main([*words, "--people", str(PEOPLE), "--as", WHO]) == exits.FAILED
    assert kept_of(data, "apprentice-1").lines == ()


def test_faults_that_were_set_are_answered_one_by_one_and_not_told_before(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    who_types_a_pin(data.path, monkeypatch)
    words = ["--data", str(data.path), "progress", "apprentice-1"]
    by = ["--people", str(PEOPLE), "--as", WHO, "--until", "2099-12-07"]
    assert main([*words, "set", "none", *by]) == exits.USAGE  # no answer shows that one
    assert main([*words, "set", "hoses-swapped", "hose-split", *by]) == exits.OK
    capsys.readouterr()
    assert main(words) == exits.OK and main([*words, "--json"]) == exits.OK
    said = capsys.readouterr().out
    assert "hose-split" not in said and said.count("open") == 2
    due = open_set(progress_of(data, "apprentice-1", TODAY).sets)
    assert due is not None and due.fault == "hoses-swapped"
    practise(data, set_sha256=due.sha256)
    first, second = progress_of(data, "apprentice-1", TODAY).sets
    assert (first.found, second.job) == (True, "")
    assert open_set((first, second)) == second


def test_who_practises_types_the_pin_until_it_is_right(data: DataFolder) -> None:
    class Typed:
        answers = iter(["9999", "4821"])

        def say(self, text: str = "", style: str = "") -> None:
            said.append(text)

        def ask(self, prompt: Prompt) -> str:
            return next(self.answers)

    said: list[str] = []
    assert practice_job.shown_by_pin(data, "apprentice-1", Typed()) == "name"
    book = PinBook(data.path / "people.json", Cost(2, 1, 1))
    book.set_pin("apprentice-1", "Example Apprentice", "4821")
    assert practice_job.shown_by_pin(data, "apprentice-1", Typed()) == "pin"
    assert "That is not the PIN" in said[-1]


def test_a_first_answer_shows_a_fault_and_a_later_one_does_not(data: DataFolder) -> None:
    job = Job()
    assert found(job, "hoses-swapped") is False and found(job, "zero-error") is None
    records = tuple(_record("line_test", choice) for choice in ("ok", "swapped"))
    assert found(replace(job, log=replace(job.log, records=records)), "hoses-swapped") is False
    late = replace(job, log=replace(job.log, records=records[1:]))
    assert found(late, "hoses-swapped") is True


def _record(name: str, choice: str) -> Recorded:
    return Recorded(name, {"choice": choice}, "line-test", procedure="clean-above")
