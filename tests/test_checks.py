"""Who may check, what a check reads back, and when it lapses: written a second time, by hand."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.core.commands import Back, Begin, Correct, Look, Report, Sign
from steplatch.runner.core.events import Signed
from steplatch.runner.core.job import Job
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.steps import SignStep
from steplatch.runner.input.findings import BadFile
from steplatch.runner.screen.signing import read_back
from steplatch.safety import checks
from steplatch.safety.bay import (
    FACTS,
    Agreed,
    Bay,
    Check,
    Codes,
    Crew,
    Engine,
    FluidIn,
    Gun,
    HandTurn,
    Hose,
    Identity,
    Sheet,
    Soak,
    StartTried,
    Tier,
    Triage,
)
from steplatch.safety.checks import CHECKS, counts_as

from tests.each import each
from tests.played import Stands
from tests.step_text import in_step, lines_of, written_out
from tests.test_amend import WHY
from tests.test_engine import refused_by

LEAST = {
    "fluid_check": "technician", "start_check": "technician", "hand_turn": "technician",
    "release_check": "technician", "recovery": "technician", "waiver": "technician",
}  # fmt: skip
ENDS: dict[str, tuple[tuple[str, Any, Any], ...]] = {
    "fluid_check": (
        ("identity", Identity.MATCH, Identity.DIFFERS),
        ("agreed", Agreed.CLEAN, Agreed.NO),
        ("triage", Triage.GO, Triage.WARN),
        ("tier", Tier.STRICT, Tier.EXTENDED),
        ("tier", Tier.UNKNOWN, Tier.STRICT),
        ("sheet", Sheet.READ, Sheet.MISSING),
        ("crew", Crew.PAIR, Crew.ALONE_ADULT),
        ("crew", Crew.PAIR, Crew.UNKNOWN),
    ),
    "start_check": (
        ("engine", Engine.STOPPED, Engine.UNKNOWN),
        ("wet", 3, 4),
        ("wet", 3, None),
        ("soak", Soak.DUE, Soak.UNKNOWN),
        ("hose", Hose.ON, Hose.OFF),
        ("gun", Gun.COUPLED, Gun.AWAY),
        ("crew", Crew.ALONE_ADULT, Crew.PAIR),
    ),
    "release_check": (
        ("hose", Hose.ON, Hose.UNKNOWN),
        ("gun", Gun.AWAY, Gun.COUPLED),
        ("engine", Engine.STOPPED, Engine.IDLING),
        ("codes", Codes.SAVED, Codes.CLEARED),
        ("wet", 0, None),
    ),
}
"""Check -> what was signed upon, and what it moves to: the check is over."""


def test_each_check_needs_a_technician_and_says_why() -> None:
    assert {name: rule.role for name, rule in CHECKS.items()} == LEAST
    assert all(len(rule.why) > 40 and rule.title for rule in CHECKS.values())
    assert {name: dict(rule.own) for name, rule in CHECKS.items() if rule.own} == {
        "fluid_check": {Crew.ALONE_ADULT: "technician"},
        "start_check": {Crew.ALONE_ADULT: "technician"},
        "recovery": {Crew.ALONE_ADULT: "technician"},
        "release_check": {Crew.ALONE_ADULT: "technician", Crew.ALONE_JUNIOR: "apprentice"},
    }


@each("role", ["customer", "witness", "apprentice", "unlisted", ""])
@each("name", LEAST)
@each("crew", Crew)
@each("fluid_in", FluidIn)
def test_a_customer_a_witness_an_apprentice_never_count_as_a_checker(
    name: str, role: str, crew: Crew, fluid_in: FluidIn
) -> None:
    bay = replace(Bay(), crew=crew, fluid_in=fluid_in)
    readings_only = (
        name == "release_check"
        and role == "apprentice"
        and crew is Crew.ALONE_JUNIOR
        and fluid_in is FluidIn.NO
    )
    for did_it in (True, False):
        expected = Check.SAME if readings_only else "checker-is-doer" if did_it else "role"
        assert counts_as(CHECKS[name], role, did_it, bay) == expected


@pytest.mark.parametrize("role", ["technician", "supervisor"])
@pytest.mark.parametrize("name", LEAST)
def test_who_did_the_work_checks_it_only_where_they_are_alone_and_it_says_so(
    name: str, role: str
) -> None:
    for crew in Crew:
        bay = replace(Bay(), crew=crew, fluid_in=FluidIn.YES)
        assert counts_as(CHECKS[name], role, False, bay) is Check.OTHER
        own = (
            name in ("fluid_check", "start_check", "recovery", "release_check")
            and crew is Crew.ALONE_ADULT
        )
        own = own or (name == "release_check" and crew is Crew.ALONE_JUNIOR)
        expected = Check.SAME if own else "checker-is-doer"
        assert counts_as(CHECKS[name], role, True, bay) == expected


# -- lapses --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("check", "fact", "was", "now"),
    [(check, *move) for check, moves in ENDS.items() for move in moves],
)
def test_a_check_lapses_when_what_it_was_signed_upon_moves(
    check: str, fact: str, was: Any, now: Any
) -> None:
    signed = Bay().but(**{check: Check.OTHER, fact: was})
    assert checks.moved_on(signed, signed.but(**{fact: now})) == (check,)
    assert checks.moved_on(signed, signed) == ()
    unsigned = signed.but(**{check: Check.UNKNOWN})
    assert checks.moved_on(unsigned, unsigned.but(**{fact: now})) == ()


def test_the_table_ends_checks_by_these_moves_and_no_others() -> None:
    for check, moves in ENDS.items():
        assert set(CHECKS[check].moves) == {fact for fact, _, _ in moves}
    for fact in FACTS:
        if not any(fact in rule.moves for rule in CHECKS.values()):
            standing = Bay().but(
                fluid_check=Check.OTHER, start_check=Check.OTHER, release_check=Check.OTHER
            )
            for state in FACTS[fact]:
                assert checks.moved_on(standing, standing.but(**{fact: state})) == ()


def checked(stands: Stands) -> Job:
    job = stands.after(stands.at("check-fluid", begun=True), Sign("check-fluid", "technician-1"))
    assert job.bay.fluid_check is Check.OTHER
    return job


def test_another_dose_chosen_after_the_look_before_fluid_asks_for_another_look(
    stands: Stands,
) -> None:
    job = checked(stands)
    same = stands.after(job, Look("tier", job.bay.tier.value))
    assert same.bay.fluid_check is Check.OTHER
    other = Tier.STRICT if job.bay.tier is not Tier.STRICT else Tier.EXTENDED
    assert stands.after(job, Look("tier", other.value)).bay.fluid_check is Check.UNKNOWN


def test_another_crew_after_the_look_before_fluid_asks_for_another_look(stands: Stands) -> None:
    job = checked(stands)
    same = stands.after(job, Look("crew", job.bay.crew.value))
    assert same.bay.fluid_check is Check.OTHER
    other = Crew.ALONE_ADULT if job.bay.crew is not Crew.ALONE_ADULT else Crew.PAIR
    assert stands.after(job, Look("crew", other.value)).bay.fluid_check is Check.UNKNOWN


@pytest.mark.parametrize("name", ["reading", "exhaust", "gun"])
def test_a_number_corrected_after_the_look_before_fluid_ends_it(stands: Stands, name: str) -> None:
    job = checked(stands)
    typed = {"reading": "91 2200 40 180 86 open", "exhaust": "30", "gun": "19 20 22 mL in 5 s"}
    number = 0 if name == "reading" else len(job.log.every(name)) - 1
    after = stands.after(job, Correct(name, number, typed[name], WHY))
    assert after.bay.fluid_check is Check.UNKNOWN
    duty = stands.after(job, Correct("duty", 0, "motorway", WHY))
    assert duty.bay.fluid_check is Check.OTHER  # nothing that was read back


def test_a_gun_taken_off_after_the_look_before_a_start_ends_it(stands: Stands) -> None:
    job = stands.after(stands.at("off-check", begun=True), Sign("off-check", "technician-1"))
    assert job.bay.start_check is Check.OTHER
    assert stands.after(job, Report("gun_uncoupled")).bay.start_check is Check.UNKNOWN


# -- what is read back must be there -------------------------------------------------------------


@pytest.mark.parametrize(
    ("step", "fact", "row"),
    [
        ("check-fluid", "identity", "spray-identity"),
        ("check-fluid", "agreed", "spray-agreed"),
        ("check-fluid", "triage", "spray-triage"),
        ("check-fluid", "before", "spray-before-first"),
        ("check-fluid", "rate", "spray-rate"),
        ("check-fluid", "port", "spray-running-band"),
        ("check-fluid", "sheet", "spray-sheet"),
        ("check-fluid", "kit", "fluid-kit"),
        ("check-fluid", "spill", "spray-spill"),
        ("off-check", "soak", "start-soak"),
        ("off-check", "engine", "start-only-when-stopped"),
        ("off-check", "gun", "start-port-shut"),
        ("off-check", "hand_turn", "start-ledger"),
        ("off-turn-seen", "soak", "turn-soaked"),
        ("release", "hose", "revs-hose-on"),
        ("release", "gun", "revs-gun-away"),
        ("release", "engine", "hand-over-still"),
        ("release", "codes", "hand-over-codes"),
    ],
)
def test_nothing_is_signed_while_what_it_reads_back_is_not_there(
    stands: Stands, step: str, fact: str, row: str
) -> None:
    fresh, begun = stands.at(step), stands.at(step, begun=True)
    assert not stands.decide(fresh, Begin(step)).refused
    assert not stands.decide(begun, Sign(step, "technician-1")).refused
    for job, command in ((fresh, Begin(step)), (begun, Sign(step, "technician-1"))):
        unknown = job.bay.but(**{fact: FACTS[fact]["UNKNOWN"]})
        bare = replace(job, core=replace(job.core, bay=unknown))
        branch = isinstance(command, Begin) and fact in ("agreed", "triage", "engine")
        branch = branch and step != "release"
        refused_by(stands.decide(bare, command), "branch-unknown" if branch else row)


def test_the_vehicle_is_not_released_while_fluid_may_be_in(stands: Stands) -> None:
    job = stands.at("release", begun=True)
    wet = replace(job, core=replace(job.core, bay=job.bay.but(wet=1)))
    refused_by(stands.decide(wet, Sign("release", "technician-1")), "hand-over-dry")


def test_the_screen_reads_back_all_that_the_check_rests_on_whatever_the_file_names(
    stands: Stands,
) -> None:
    for step in stands.plan.steps():
        if isinstance(step, SignStep) and step.slot is not None:
            assert {*step.reads_back, *CHECKS[step.slot].reads_back} == set(read_back(step))


def test_turns_that_were_seen_once_are_not_seen_again(stands: Stands) -> None:
    job = stands.at("off-turn-seen", begun=True)
    assert job.bay.hand_turn is HandTurn.TURNED
    valid = replace(job, core=replace(job.core, bay=job.bay.but(hand_turn=HandTurn.VALID)))
    refused_by(stands.decide(valid, Sign("off-turn-seen", "technician-1")), "checker-is-doer")


# -- a witness -----------------------------------------------------------------------------------


def test_what_a_witness_signs_is_nobodys_check(stands: Stands) -> None:
    job = stands.at("triage-seen", begun=True)
    for person in ("apprentice-1", "technician-1", "customer"):
        outcome = stands.decide(job, Sign("triage-seen", person))
        (signed,) = (e for e in outcome.events if isinstance(e, Signed))
        assert signed.who == "witness"


# -- what a procedure may ask --------------------------------------------------------------------


def spoiled_file(tmp_path: Path, step: str, was: str, now: str) -> tuple[Path, int]:
    text = in_step(written_out(), step, was, now)
    path = tmp_path / "mine.yaml"
    path.write_text(text, encoding="utf-8")
    first, after = lines_of(text, step)
    lines = text.split("\n")[first:after]
    return path, 1 + first + next(n for n, s in enumerate(lines) if now.split("\n")[0] in s)


@pytest.mark.parametrize("step", ["check-fluid", "off-turn-seen", "off-check", "release"])
@pytest.mark.parametrize(
    ("was", "now", "key"),
    [
        ("sign: technician", "sign: apprentice", "sign"),
        ("sign: technician", "sign: customer", "sign"),
        ("slot:", "point: witness\n        slot:", "point"),
        ("meaning: checked", "meaning: did", "meaning"),
    ],
)
def test_check_refuses_a_hold_point_that_asks_for_too_little(
    tmp_path: Path, step: str, was: str, now: str, key: str
) -> None:
    if step == "release":
        was = was.replace("checked", "released")
    path, line = spoiled_file(tmp_path, step, was, now)
    with pytest.raises(BadFile) as bad:
        load_procedure(path)
    (found,) = bad.value.findings
    assert found.line == line and found.column > 1 and found.key.endswith(key)
    assert len(found.remedy) > 5 and Path(found.file).name == "mine.yaml"


def test_a_procedure_may_ask_for_more(tmp_path: Path) -> None:
    path, _ = spoiled_file(tmp_path, "check-fluid", "sign: technician", "sign: supervisor")
    assert load_procedure(path)[0].step("check-fluid").role == "supervisor"


def test_only_an_apprentice_alone_may_be_asked_for_the_release_of_readings(tmp_path: Path) -> None:
    path, _ = spoiled_file(tmp_path, "release-junior", "crew: alone_junior", "crew: pair")
    with pytest.raises(BadFile):
        load_procedure(path)


def test_going_back_to_the_check_is_offered_where_it_lapsed(stands: Stands) -> None:
    from steplatch.runner.screen.way_back import way_back

    job = stands.after(stands.at("off-check", begun=True), Sign("off-check", "technician-1"))
    job = stands.at("run-start")
    lapsed = replace(job, core=replace(job.core, bay=job.bay.but(start_check=Check.UNKNOWN)))
    outcome = stands.decide(lapsed, Begin("run-start"))
    refused_by(outcome, "start-check")
    step = way_back(stands.plan.main, lapsed, outcome.refusals)
    assert step is not None and step.id == "off-check"
    assert not stands.decide(lapsed, Back("off-check")).refused


def test_where_nothing_puts_it_right_the_way_past_is_offered(stands: Stands) -> None:
    """Fluid came in by mishap and the start turned when it was tried: with fluid in it is never
    tried again, so no gun goes on the hose, and another answer to the customer's yes leads on."""
    from steplatch.runner.screen.way_back import way_back, way_past

    job = stands.at("access-gun")
    bay = job.bay.but(fluid_in=FluidIn.YES, start_tried=StartTried.UNKNOWN)
    wet = replace(job, core=replace(job.core, bay=bay))
    outcome = stands.decide(wet, Begin("access-gun"))
    refused_by(outcome, "fluid-start-tried")
    assert way_back(stands.plan.main, wet, outcome.refusals) is None
    past = way_past(stands.plan.main, wet, outcome.refusals)
    assert past is not None and past.id == "agree-clean"
    assert not stands.decide(wet, Back("agree-clean")).refused


def test_a_start_that_can_still_be_tried_is_gone_back_to_and_not_passed(stands: Stands) -> None:
    from steplatch.runner.screen.way_back import way_back, way_past

    job = stands.at("access-gun")
    dry = replace(job, core=replace(job.core, bay=job.bay.but(start_tried=StartTried.UNKNOWN)))
    refusals = stands.decide(dry, Begin("access-gun")).refusals
    step = way_back(stands.plan.main, dry, refusals)
    assert step is not None and step.id == "line-try"
    assert way_past(stands.plan.main, dry, refusals) is None


def test_the_work_that_each_check_looks_at_is_listed() -> None:
    work = {
        "fluid_check": "tier rate port touch sheet kit spill hose gun",
        "start_check": "spray soak hose gun",
        "hand_turn": "hand_turn",
        "release_check": "hose gun line run_on",
        "recovery": "recovery",
        "waiver": "",
    }
    assert {name: set(rule.work) for name, rule in CHECKS.items()} == {
        name: set(done.split()) for name, done in work.items()
    }
