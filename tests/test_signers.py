"""Who may sign: said before step 1, named at the step; a person may join, and no job is stuck."""

from dataclasses import replace

import pytest
from steplatch.runner.core.codec import decode_command, decode_event, encode
from steplatch.runner.core.commands import Answer, Begin, Depart, Join, Look, Open, Report, Sign
from steplatch.runner.core.events import AskAgain, Done, Joined, Signed
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.limits import CLOSES
from steplatch.runner.core.sign_off import OWN_WORK, TOLD
from steplatch.runner.core.signers import did, may_sign, work_of
from steplatch.runner.core.steps import ResetStep, SignStep
from steplatch.runner.screen.checkers import signer_lines
from steplatch.safety.bay import Crew
from steplatch.safety.checks import CHECKS

from tests.procedure_walk import Walk, bundle, new_walk
from tests.test_engine import refused_by

TECHNICIAN, APPRENTICE, OTHER = "technician-1", "apprentice-1", "technician-2"
JOINS = Join(OTHER, "Another Technician", "technician")


class Workshop(Walk):
    """A walk in which whoever is here and may, signs; and, if need be, somebody joins."""

    joins: Join | None = None
    joined_at: str = ""

    def _sign(self, step: SignStep | ResetStep) -> None:
        able = may_sign(self.job, step)
        if not able and self.joins is not None:
            self.joined_at, command, self.joins = step.id, self.joins, None
            self.must(command)
            able = may_sign(self.job, step)
        assert able, f"nobody here may sign {step.id}"
        self.must(Sign(step.id, able[-1]))


def opened(here: tuple[str, ...], worker: str, crew: str, **answers: str) -> Workshop:
    usual = new_walk(crew=crew, **answers)
    walk = Workshop(usual.plan, usual.answers, usual.alone, worker)
    walk.must(Open(True, bundle().roster(), {}, here))
    walk.must(bundle().limits_command())
    return walk


def before_step_1(walk: Workshop) -> list[str]:
    return signer_lines(walk.plan.main, walk.job, walk.worker)


def checkers(job: Job) -> set[str]:
    return {s.person for s in job.log.signatures if s.who == "other" and s.person != "customer"}


@pytest.mark.parametrize("tier", ["none", "strict", "extended"])
def test_an_apprentice_works_and_the_technician_checks(tier: str) -> None:
    walk = opened((TECHNICIAN, APPRENTICE), APPRENTICE, "pair", tier=tier)
    assert before_step_1(walk) == []
    assert walk.to_end() == "finished"
    assert checkers(walk.job) == {TECHNICIAN}


def test_a_technician_who_works_beside_an_apprentice_is_told_before_step_1() -> None:
    walk = opened((TECHNICIAN, APPRENTICE), TECHNICIAN, "pair")
    lines = before_step_1(walk)
    assert any("'Have the checker look before any fluid'" in line for line in lines)
    assert any("'Have the checker release the vehicle'" in line for line in lines)
    for line in lines:
        assert "min" in line and "stage '" in line
        assert f"{APPRENTICE} does that work in {TECHNICIAN}'s place" in line and "join" in line


def test_at_the_step_the_refusal_names_what_would_do_and_a_technician_arriving_late_does() -> None:
    walk = opened((TECHNICIAN, APPRENTICE), TECHNICIAN, "pair", tier="extended")
    while walk.job.core.step != "check-fluid":
        walk.one()
    walk.must(Begin("check-fluid"))
    assert may_sign(walk.job, walk.step) == ()
    mine = walk.give(Sign("check-fluid", TECHNICIAN))
    refused_by(mine, "checker-is-doer")
    refused_by(walk.give(Sign("check-fluid", APPRENTICE)), "role")
    assert "supervisor-1" in mine.refusals[0].remedy and "join" in mine.refusals[0].remedy
    refused_by(walk.give(Sign("check-fluid", OTHER)), "person")
    walk.joins = JOINS
    assert walk.to_end() == "finished"
    assert walk.joined_at == "check-fluid" and checkers(walk.job) == {OTHER}
    signed = next(s for s in walk.job.log.signatures if s.person == OTHER)
    assert TOLD in signed.exceptions


def test_the_technician_may_do_one_part_and_check_another() -> None:
    walk = opened((TECHNICIAN, APPRENTICE), TECHNICIAN, "pair", tier="strict")
    while walk.job.core.step != "sheet":
        walk.one()
    assert TECHNICIAN in walk.job.log.doers
    walk.worker = APPRENTICE
    assert signer_lines(walk.plan.main, walk.job, APPRENTICE) == []
    assert signer_lines(walk.plan.main, walk.job, TECHNICIAN) != []
    while walk.job.core.step != "off-cool":
        walk.one()
    assert checkers(walk.job) >= {TECHNICIAN}


def test_two_technicians_do_a_clean_and_each_checks_the_other() -> None:
    walk = opened((TECHNICIAN, "supervisor-1"), TECHNICIAN, "pair", tier="extended")
    assert before_step_1(walk) == []
    assert walk.to_end() == "finished"
    assert walk.job.bay.fluid_in.value == "yes" and checkers(walk.job) == {"supervisor-1"}


def test_an_apprentice_alone_ends_with_readings_and_advice() -> None:
    walk = opened((APPRENTICE,), APPRENTICE, "alone_junior", agreed="no")
    assert before_step_1(walk) == []
    assert walk.to_end() == "finished"
    assert walk.job.bay.fluid_in.value == "no" and checkers(walk.job) == set()


def test_a_technician_alone_is_told_of_nothing_and_finishes_the_running_dose() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "alone_adult", tier="none")
    assert before_step_1(walk) == []
    assert walk.to_end() == "finished"
    assert walk.job.bay.fluid_in.value == "yes"


def test_a_technician_alone_finishes_a_loaded_strict_dose_and_stands_as_own_checker() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "alone_adult", tier="strict")
    assert before_step_1(walk) == []
    while walk.job.core.step != "off-spray":
        walk.one()
    walk.must(Answer("off-spray", "loaded 5 mL"))
    walk.must(Begin("off-spray", "0"))
    walk.must(Report("spray_ended"))
    assert walk.to_end() == "finished"
    own = {s.step for s in walk.job.log.signatures if s.who == "same" and OWN_WORK in s.exceptions}
    assert {"check-fluid", "off-check", "release"} <= own and checkers(walk.job) == set()


def test_alone_a_timed_strict_dose_is_refused_and_a_load_asked_for() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "alone_adult", tier="strict")
    while walk.job.core.step != "off-spray":
        walk.one()
    refused_by(walk.give(Begin("off-spray", "1")), "spray-off-pair")


@pytest.mark.parametrize("closes", ["1", "0", None])
def test_alone_a_gun_that_stays_open_is_not_sprayed_by_time(closes: str | None) -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "alone_adult", tier="none")
    while walk.job.core.step != "run-spray":
        walk.one()
    numbers = {k: v for k, v in walk.job.log.numbers.items() if k != CLOSES}
    numbers |= {} if closes is None else {CLOSES: closes}
    walk.job = replace(walk.job, log=replace(walk.job.log, numbers=numbers))
    timed = walk.give(Begin("run-spray", "5"))
    if closes == "1":
        assert not timed.refused
        return
    refused_by(timed, "gun-stays-open")
    walk.must(Answer("run-spray", "loaded 200 mL"))
    walk.must(Begin("run-spray", "0"))


def test_alone_a_spill_before_fluid_is_reset_by_the_same_person_and_recorded_so() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "alone_adult", tier="none")
    while walk.job.core.step != "before-raised":
        walk.one()
    walk.must(Report("spilled"))
    assert walk.to_end() == "finished"
    reset = next(s for s in walk.job.log.signatures if s.procedure == "recovery-spill")
    assert reset.who == "same" and reset.person == TECHNICIAN


# -- joining ---------------------------------------------------------------------------------------


def test_somebody_on_the_roster_who_was_not_here_joins_by_the_id_alone() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "pair")
    outcome = walk.give(Join("supervisor-1"))
    (joined,) = (e for e in outcome.events if isinstance(e, Joined))
    assert not joined.told and walk.job.log.here == (TECHNICIAN, "supervisor-1")
    refused_by(walk.give(Join("supervisor-1")), "join")


def test_a_stranger_joins_by_id_name_and_role_and_by_no_less() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "pair")
    for bad in (
        Join(OTHER),
        Join(OTHER, "x", "technician"),
        Join(OTHER, "Another Technician", "owner"),
        Join(OTHER, "Another Technician"),
        Join("Not An Id", "Another Technician", "technician"),
        Join("customer", "Another Technician", "technician"),
        Join("supervisor-1", "Another Technician", "supervisor"),
        Join(TECHNICIAN),
    ):
        refused_by(walk.give(bad), "join")
    outcome = walk.give(JOINS)
    (joined,) = (e for e in outcome.events if isinstance(e, Joined))
    assert joined.told and walk.job.log.people[-1]["name"] == "Another Technician"
    assert walk.job.log.told == (OTHER,)


def test_who_was_alone_says_anew_who_is_here_when_somebody_joins() -> None:
    walk = opened((TECHNICIAN,), TECHNICIAN, "alone_adult")
    walk.one()
    assert walk.job.bay.crew is Crew.ALONE_ADULT
    outcome = walk.give(JOINS)
    assert any(isinstance(e, AskAgain) and "crew" in e.facts for e in outcome.events)
    refused_by(walk.give(Begin(walk.job.core.step)), "reconfirm")
    walk.must(Look("crew", "pair"))
    walk.must(Begin(walk.job.core.step))


def test_a_join_is_taken_wherever_the_job_stands_and_changes_nothing_else() -> None:
    walk = opened((TECHNICIAN, APPRENTICE), APPRENTICE, "pair", tier="extended")
    seen = 0
    while not walk.job.core.ended:
        before = walk.job
        outcome = walk.give(JOINS)
        assert not outcome.refused and walk.job.bay == before.bay
        assert walk.job.core.step == before.core.step
        walk.job, seen = before, seen + 1
        walk.one()
    assert seen > 100


def test_who_stays_when_somebody_goes_says_anew_who_is_here_and_at_the_controls() -> None:
    walk = opened((TECHNICIAN, APPRENTICE), APPRENTICE, "pair", agreed="no")
    while walk.job.core.step != "before-raised":
        walk.one()
    assert walk.job.bay.crew is Crew.PAIR and walk.job.bay.knows("controls")
    refused_by(walk.give(Depart(OTHER)), "depart")
    refused_by(walk.give(Depart(APPRENTICE)), "depart")
    walk.must(Depart(TECHNICIAN))
    assert walk.job.log.here == (APPRENTICE,) and set(walk.job.core.ask_again) == {
        "crew",
        "controls",
    }
    refused_by(walk.give(Begin(walk.job.core.step)), "reconfirm")
    refused_by(walk.give(Depart(TECHNICIAN)), "depart")
    walk.must(Join(TECHNICIAN))
    assert walk.job.log.here == (APPRENTICE, TECHNICIAN), "who has gone can come back"


def test_the_last_one_here_does_not_go_and_nobody_who_went_signs() -> None:
    walk = opened((TECHNICIAN, "supervisor-1"), TECHNICIAN, "pair", tier="none")
    while walk.job.core.step != "check-fluid":
        walk.one()
    walk.must(Begin("check-fluid"))
    assert may_sign(walk.job, walk.step) == ("supervisor-1",)
    walk.must(Depart("supervisor-1"))
    assert "supervisor-1" not in may_sign(walk.job, walk.step)
    refused_by(walk.give(Depart(TECHNICIAN)), "depart")
    walk.must(Look("crew", "alone_adult"))
    walk.must(Look("controls", "self"))
    assert walk.to_end() == "finished"
    assert checkers(walk.job) == set(), "from here on it is their own second look"


def test_join_and_joined_come_back_from_the_journal_as_they_went_in() -> None:
    assert decode_command(encode(JOINS)) == JOINS
    event = Joined({"id": OTHER, "name": "A Name", "role": "technician", "under_18": False}, True)
    assert decode_event(encode(event)) == event


def test_a_record_that_does_not_say_whose_work_a_step_was_bars_from_every_check() -> None:
    plain = encode(Done("sheet", "read", TECHNICIAN, procedure="clean-above"))
    plain.pop("work")
    job = evolve(Job(), decode_event(plain))
    assert all(did(job, rule, TECHNICIAN) for rule in CHECKS.values())


def test_turns_told_outside_their_step_are_checked_by_nobody_who_worked() -> None:
    """A report names no step, so it is not known who held the bar: whoever worked may have."""
    walk = opened((TECHNICIAN, APPRENTICE, OTHER), TECHNICIAN, "pair", tier="strict")
    while walk.job.core.step != "sheet":
        walk.one()
    log = walk.job.log
    assert TECHNICIAN in log.doers and OTHER not in log.doers
    assert not any(what == "hand_turn" for what, _ in log.worked)
    rule = CHECKS["hand_turn"]
    assert did(walk.job, rule, TECHNICIAN) and not did(walk.job, rule, OTHER)
    told = replace(log, worked=log.worked | {("hand_turn", APPRENTICE)})
    known = replace(walk.job, log=told)
    assert did(known, rule, APPRENTICE) and not did(known, rule, TECHNICIAN)


# -- whose work is looked at -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("step", "looked_at"),
    [
        ("complaint", ()),
        ("identity", ()),
        ("before-raised", ()),
        ("agree-clean", ()),
        ("tier", ("tier",)),
        ("gun-rate", ("rate",)),
        ("kit", ("kit",)),
        ("access-gun", ("gun",)),
        ("off-spray", ("spray",)),
        ("off-soak", ("soak",)),
        ("off-turn", ("hand_turn",)),
        ("idle-hose", ("hose",)),
        ("hold-level", ("run_on",)),
        ("clear", ()),
    ],
)
def test_each_step_is_the_work_of_the_checks_that_look_at_it(
    step: str, looked_at: tuple[str, ...]
) -> None:
    main = bundle().main
    assert work_of(main, main.step(step)) == looked_at


def test_whoever_works_a_recovery_does_not_reset_it() -> None:
    for other in bundle().others.values():
        if other.role == "recovery":
            assert all("recovery" in work_of(other, step) for step in other.steps())


def test_no_signature_counts_that_the_people_here_may_not_give() -> None:
    walk = opened((TECHNICIAN, APPRENTICE), APPRENTICE, "pair", tier="extended")
    met = 0
    while not walk.job.core.ended:
        if isinstance(walk.step, SignStep) and walk.step.point == "hold":
            job, step = walk.job, walk.step
            walk.must(Begin(step.id))
            able = may_sign(walk.job, step)
            for person in (TECHNICIAN, APPRENTICE, "customer"):
                begun = walk.job
                outcome = walk.give(Sign(step.id, person))
                assert outcome.refused == (person not in able), (step.id, person)
                assert outcome.refused or any(isinstance(e, Signed) for e in outcome.events)
                walk.job = begun
            walk.job, met = job, met + 1
        walk.one()
    assert met >= 6 and walk.job.core.ended == "finished"
