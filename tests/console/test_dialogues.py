"""Signing with a PIN, a checker's own look, correcting: the dialogues, without a screen."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.core.commands import Command, Sign, Waive
from steplatch.runner.core.engine import Outcome, decide
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.sign_off import NOT_SIGNED
from steplatch.runner.jobs.session import ASK_AGAIN_SHARE, Session
from steplatch.runner.record import NotRecordable
from steplatch.runner.record.attachments import Attachment
from steplatch.runner.record.clocks import PracticeClock
from steplatch.runner.screen.amending import waivable_rows, waive
from steplatch.runner.screen.asking import notice_time
from steplatch.runner.screen.context import Context, Keeper, Leave, Overtaken
from steplatch.runner.screen.everywhere import carry_out
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import PinBook
from steplatch.safety.effects import LASTS_S
from steplatch.safety.interlocks import INTERLOCKS, Interlock, Refusal

from tests.played import Stands

PIN, OTHER = "583914", "770261"
CHEAP = Cost(n=2**4, r=8, p=1)


class OnPaper(Session):
    """Decides and applies without a journal; ``took`` keeps what was submitted, by whom."""

    def __init__(self, stands: Stands, job: Job) -> None:
        self.plan = stands.plan
        self.job = job
        self.person = "apprentice-1"
        self.clock: _Standing = _Standing(job)
        self.took: list[tuple[str, Command]] = []

    def submit(self, command: Command, by: str | None = None) -> Outcome:
        who = by or self.person
        outcome = decide(self.plan, self.job, command, self.clock.now(), who)
        self.took.append((who, command))
        for event in outcome.events:
            self.job = evolve(self.job, event)
        return outcome


class _Standing(PracticeClock):
    """Goes on by two seconds at each look, from the job's last moment."""

    def __init__(self, job: Job) -> None:
        super().__init__(datetime(2026, 3, 2, 9, tzinfo=UTC))
        assert job.log.last is not None
        self._at = job.log.last

    def skip(self, seconds: float) -> None:
        """Let the next look come later."""
        self._skipped_ms = round(seconds * 1000)

    _skipped_ms = 0

    def now(self) -> Any:
        ms, self._skipped_ms = 2000 + self._skipped_ms, 0
        at = self._at
        assert at.boottime_ms is not None
        self._at = replace(at, monotonic_ms=at.monotonic_ms + ms, boottime_ms=at.boottime_ms + ms)
        return self._at


class Typing:
    """Types what ``answers`` gives for a prompt's key, a list one by one; then leaves."""

    width = 80

    def __init__(self, answers: dict[str, list[str]]) -> None:
        self.answers = answers
        self.said: list[str] = []
        self.asked: list[Prompt] = []

    def say(self, text: str = "", style: str = "") -> None:
        self.said.append(text)

    def ask(self, prompt: Prompt) -> str:
        self.asked.append(prompt)
        left = self.answers.get(prompt.key, [])
        return left.pop(0) if left else "leave"

    def count(self, cap_s: float) -> str:
        return ""

    def rest(self, seconds: float, around: Prompt) -> str:
        return ""

    def ring(self, until_answered: bool = False) -> None:
        pass


Work = Callable[..., tuple[OnPaper, Typing]]


@pytest.fixture
def work(stands: Stands, tmp_path: Path) -> Iterator[Work]:
    """Work a job from one step on, as a real one unless said otherwise."""

    def run(step: str, practice: bool = False, **answers: list[str]) -> tuple[OnPaper, Typing]:
        job = stands.at(step)
        job = replace(job, log=replace(job.log, practice=practice))
        session = OnPaper(stands, job)
        talk = Typing({key.replace("__", ":").replace("_", "-"): a for key, a in answers.items()})
        book = PinBook(tmp_path / "people.json", CHEAP)
        if not book.has_pin("technician-1"):
            book.set_pin("technician-1", "Example Technician", PIN)
            book.set_pin("supervisor-1", "Example Supervisor", OTHER)
        job_id, keeper = "2026-03-02-aaaaaaaa", Keeper(_keep)
        on = Context(session, talk, job_id, keeper, None, carry_out, None, book, keep_file=_photo)
        with pytest.raises(Leave):
            guide(on)
        return session, talk

    yield run


def _keep(name: str, value: str) -> str:
    return "kept apart"


def _photo(path: Path, label: str, page: bool) -> Attachment:
    if path.name == "gone.jpg":
        raise NotRecordable(str(path), "it cannot be read", "Give a file that is there")
    return Attachment("ab" * 32, 9, "jpeg", label, page, page)


def kinds(session: OnPaper) -> list[str]:
    return [type(command).__name__ for _, command in session.took]


def test_a_signature_with_the_right_pin_says_so_and_shows_the_time_with_its_zone(
    work: Work,
) -> None:
    session, talk = work("triage-seen", triage_seen=["technician-1"], pin=[PIN])
    signed = session.job.log.signatures[-1]
    assert (signed.person, signed.how) == ("technician-1", "pin")
    line = next(text for text in talk.said if text.startswith("SIGNED"))
    assert "+00:00" in line and line.count(":") >= 3
    assert all(PIN not in text for text in talk.said)
    assert all(PIN not in repr(command) for _, command in session.took)
    secret = next(p for p in talk.asked if p.key == "pin")
    assert secret.kind == "secret"


def test_a_wrong_pin_signs_nothing_and_five_of_them_lock(work: Work) -> None:
    session, talk = work("triage-seen", triage_seen=["technician-1"], pin=["111222"] * 6)
    assert session.job.core.step == "triage-seen"
    assert "Sign" not in kinds(session)
    said = "\n".join(talk.said)
    assert "That is not the PIN. 4 tries are left." in said and "Too many wrong tries" in said


def test_who_has_no_pin_signs_by_name_with_a_key_and_it_stands_on_the_record(work: Work) -> None:
    session, talk = work("triage-seen", triage_seen=["apprentice-1"], triage_seen__sign=["yes", ""])
    assert "NO PIN" in "\n".join(talk.said)
    assert "Enter alone is no answer. Only g says so." in "\n".join(talk.said)
    assert "Sign" not in kinds(session), "no other key signs"
    session, talk = work("triage-seen", triage_seen=["apprentice-1"], triage_seen__sign=["g"])
    assert session.job.log.signatures[-1].how == "name"


def test_a_checker_looks_before_the_first_answer_is_shown_and_a_difference_signs_nothing(
    work: Work,
) -> None:
    session, talk = work("check-fluid", check_fluid=["technician-1"], check__kit=["not_worn"])
    looked = [p for p in talk.asked if p.key.startswith("check:")]
    assert [p.key for p in looked] == ["check:kit"]
    for prompt in looked:
        assert prompt.page is not None
        assert prompt.page.known == () and prompt.page.done == ()
        assert "READ" not in " ".join(text for text, _ in prompt.lead)
    assert "DIFFERS" in "\n".join(talk.said)
    names = [(who, type(command).__name__) for who, command in session.took]
    assert ("technician-1", "Look") in names
    assert "Sign" not in kinds(session) and session.job.bay.kit.value == "not_worn"
    assert "fluid-kit" in "\n".join(talk.said), "there is nothing to read back until it is on"


def test_before_a_signature_the_states_it_stands_for_and_what_it_covers_are_read_back(
    work: Work,
) -> None:
    _, talk = work(
        "check-fluid",
        check_fluid=["technician-1"],
        check__kit=["heat"],
        check__identity=["match"],
        check__spill=["ready"],
    )
    asked = next(p for p in talk.asked if p.key == "pin")
    lead = "\n".join(text for text, _ in asked.lead)
    assert "MEANS  checked: I looked myself" in lead
    assert lead.count("READ ") >= 5 and "COVERS the last" in lead


def test_fix_shows_what_was_asks_the_reason_and_keeps_both(work: Work) -> None:
    session, talk = work(
        "oil-history",
        oil_history=["fix"],
        fix=["1"],
        fix__value=["motorway"],
        fix__reason=["misheard the customer", "misheard the customer"],
    )
    fixing = [p for p in talk.asked if p.key == "fix:value"]
    assert fixing and any(text.startswith("WAS ") for text, _ in fixing[0].lead)
    corrected = session.job.log.corrections
    assert len(corrected) == 1 and corrected[0].reason == "misheard the customer"
    assert "Both values stay on the record" in "\n".join(talk.said)
    assert session.job.core.step == "oil-history", "the step that was open is still open"


def test_a_photo_is_kept_in_the_job_and_shown_to_the_customer_only_when_chosen(work: Work) -> None:
    session, talk = work(
        "oil-history",
        oil_history=["photo", "photo", "photo"],
        photo=["gone.jpg", "stub.jpg", "dash.jpg"],
        photo__label=["the stub", "the stub", "the dash, raised"],
        photo__for=["record", "page", "record"],
    )
    kept = session.job.log.every("attachment")
    assert [(k["label"], k.get("page", "no"), k["cleaned"]) for k in kept] == [
        ("the stub", "yes", "yes"),
        ("the dash, raised", "no", "no"),
    ]
    said = "\n".join(talk.said)
    assert "Not kept" in said and "and shown on the customer's page" in said
    assert session.job.core.step == "oil-history", "the step that was open is still open"


def test_fix_refuses_a_reason_that_says_nothing_and_changes_nothing(work: Work) -> None:
    session, talk = work(
        "oil-history", oil_history=["fix"], fix=["1"], fix__value=["town"], fix__reason=["slip"]
    )
    assert session.job.log.corrections == ()
    assert "A reason has" in "\n".join(talk.said)


def test_personal_values_are_not_offered_for_correction(work: Work) -> None:
    _, talk = work("oil-history", oil_history=["fix"], fix=["dk"])
    offered = next(p for p in talk.asked if p.key == "fix")
    assert offered.choices
    assert all("customer's name" not in choice.say for choice in offered.choices)


def test_a_choice_that_decides_the_steps_is_not_offered_but_its_step_is_named(work: Work) -> None:
    _, talk = work("road-ready", road_ready=["fix"], fix=["dk"])
    fixing = next(p for p in talk.asked if p.key == "fix")
    assert not any("drive" in choice.say for choice in fixing.choices), fixing.choices
    assert any("go back to its step" in text for text, _ in fixing.lead)


def test_before_a_step_is_left_its_text_is_asked_about_and_what_is_wrong_is_kept(
    work: Work,
) -> None:
    session, talk = work(
        "oil-history",
        oil_history=["na"],
        text_fault=["text"],
        text_fault__what=["an electric car has no oil"],
        na__reason=["no engine oil in this vehicle"],
    )
    asked = [p.key for p in talk.asked]
    assert asked.index("text-fault") < asked.index("na:reason")
    assert kinds(session).index("Note") < kinds(session).index("NotApplicable")
    (note,) = session.job.log.every("text_fault")
    assert note == {"step": "oil-history", "text": "an electric car has no oil"}


def test_a_reason_alone_never_leaves_a_step_without_the_question_about_its_text(
    work: Work,
) -> None:
    session, _ = work("oil-history", oil_history=["na"], na__reason=["not known to anybody here"])
    assert "NotApplicable" not in kinds(session)


def test_a_checker_hears_the_numbers_that_rate_and_temperature_were_typed_as(work: Work) -> None:
    _, talk = work("check-fluid", True, check_fluid=["technician-1"], check__kit=["heat"],
                   check__spill=["ready"])  # fmt: skip
    sign = next(p for p in talk.asked if p.key == "check-fluid:sign")
    read = " ".join(text for text, _ in sign.lead)
    assert re.search(r"READ   gun: .* \([0-9. ]+ mL in 5.* s\)", read)
    assert re.search(r"READ   exhaust: .* \(\d+ degC\)", read)


def test_what_was_typed_from_the_vehicle_stands_where_it_is_compared(work: Work) -> None:
    _, talk = work("registration", registration=["EX 12"], vin_tail=["X0000001"])
    compared = next(p for p in talk.asked if p.key == "identity")
    assert ("TYPED  EX 12; X0000001", "") in compared.lead


@pytest.mark.parametrize("how", ["paper", "telephone", "message"])
def test_a_customer_sees_what_the_yes_is_to_and_nobody_signs_for_one_by_a_word(
    work: Work, how: str
) -> None:
    session, talk = work("agree-sign", agree_sign=["customer", "sign", how])
    signed = session.job.log.signatures[-1]
    assert (signed.person, signed.how, signed.meaning) == ("customer", how, "agreed")
    assert (NOT_SIGNED in signed.exceptions) is (how != "paper")
    assert kinds(session).count("Sign") == 1, "neither word signed"
    asked = next(p for p in talk.asked if p.key == "agree-sign")
    read = " ".join(text for text, _ in asked.lead)
    for words in (
        "READ   price: told",
        "what else could be done: workshop burn",
        "warning in writ",
    ):
        assert words in read
    assert "TRIAGE" in read


@pytest.mark.parametrize("step", ["distance", "age"])
def test_a_number_that_nobody_knows_is_an_answer(work: Work, step: str) -> None:
    session, _ = work(step, **{step: ["dk"]})
    assert session.job.log.latest(step) == {"typed": "not known"}
    assert session.job.core.step != step


def test_only_a_customer_answers_by_telephone(stands: Stands) -> None:
    job = stands.at("check-fluid", begun=True)
    outcome = stands.decide(job, Sign("check-fluid", "technician-1", "telephone"))
    assert [refusal.interlock for refusal in outcome.refusals] == ["sign"]


def test_na_is_refused_where_a_step_must_be_done(work: Work) -> None:
    session, talk = work("secured", secured=["na"])
    assert "never left out" in "\n".join(talk.said)
    assert "NotApplicable" not in kinds(session)


def test_practice_signs_as_practice_and_asks_no_pin(work: Work) -> None:
    session, talk = work("triage-seen", True, triage_seen=["technician-1"], triage_seen__sign=["g"])
    assert session.job.log.signatures[-1].how == "practice"
    assert "pin" not in {p.key for p in talk.asked}


def test_a_speed_over_the_ceiling_typed_with_the_pressure_is_reported_and_trips(
    work: Work, stands: Stands
) -> None:
    session, talk = work("hold-level", hold_level=["47 2900"])
    assert "Report" in kinds(session)
    assert "over_ceiling" in {trip.value for trip in session.job.bay.trips}
    said = "\n".join(talk.said)
    assert "over the ceiling: let it fall now" in said and "TRIP LATCHED" in said


def test_only_a_row_that_may_be_waived_is_offered_for_it_and_another_person_waives_it(
    stands: Stands,
) -> None:
    session = OnPaper(stands, stands.at("release"))
    talk = Typing(
        {
            "waive:person": ["supervisor-1"],
            "text-fault": ["today"],
            "waive:reason": ["the reader shows no codes today"],
        }
    )
    on = Context(session, talk, "2026-03-02-aaaaaaaa", Keeper(_keep), None, carry_out)
    rows = {row.id: row for row in INTERLOCKS}
    waivable = next(row for row in INTERLOCKS if row.waivable)
    fixed = rows["start-ledger"]

    def refused(*rows: Interlock) -> tuple[Refusal, ...]:
        return tuple(Refusal(r.id, r.reason, r.remedy, r.source) for r in rows)

    assert waivable_rows(refused(waivable)) == [waivable.id]
    assert waivable_rows(refused(waivable, fixed)) == []
    assert waivable_rows(()) == []
    waive(on, waivable.id)
    who, command = session.took[-1]
    assert who == "apprentice-1" and isinstance(command, Waive)
    assert (command.interlock, command.person) == (waivable.id, "supervisor-1")
    assert command.reason == "the reader shows no codes today"


def test_time_is_noticed_at_an_open_question_what_lapses_is_named_and_a_trip_takes_over(
    stands: Stands,
) -> None:
    job = stands.at("before-raised")
    session = OnPaper(stands, replace(job, log=replace(job.log, practice=False)))
    talk = Typing({})
    on = Context(session, talk, "2026-03-02-aaaaaaaa", Keeper(_keep), None, carry_out)
    assert notice_time(on) == ""
    session.clock.skip(LASTS_S["controls"] * ASK_AGAIN_SHARE)
    assert notice_time(on) == "TOO OLD Read whether the filter burns soot again."
    assert notice_time(on).startswith("SOON   ")
    session.clock.skip(LASTS_S["controls"])
    with pytest.raises(Overtaken):
        notice_time(on)
    assert session.job.bay.controls.unknown
    assert any("TRIP LATCHED" in text for text in talk.said)
