"""What the shipped procedure and the kernel refuse, with the numbers of a real practice job.

Each refusal is asked at a place where the good job stood, through the same ``decide``.
"""

from dataclasses import replace

import pytest
from steplatch.runner.core.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    GiveUp,
    GoOn,
    Interrupted,
    Look,
    Report,
    SetLimits,
    Sign,
    Stop,
    Tick,
)
from steplatch.runner.core.engine import Outcome, decide
from steplatch.runner.core.job import Job, evolve
from steplatch.safety.bay import Act, Engine, FluidIn, Kit, RunOn, Soak, Trip
from steplatch.safety.interlocks import INTERLOCKS, Ask
from steplatch.safety.kernel import permit

from tests.played import Played, Stands, times

DONE_HERE = (
    *("before-raised", "before-idle", "before-zero-read", "check-fluid", "off-spray", "off-soak"),
    *("off-turn-seen", "off-check", "run-start", "run-spray", "hold-raise", "hold-level"),
    *("after-raised", "after-zero", "release", "hand-over"),
)


def refused_by(outcome: Outcome, interlock: str) -> None:
    """The command was refused by that row or rule, with a reason, a remedy and a source."""
    found = {r.interlock: r for r in outcome.refusals}
    assert interlock in found, found or outcome.events
    refusal = found[interlock]
    assert len(refusal.reason) > 15 and len(refusal.remedy) > 5 and refusal.source
    rows = {row.id: row for row in INTERLOCKS}
    if interlock in rows:
        assert refusal.source == rows[interlock].source


def test_the_shipped_procedure_passes_every_one_of_these_gates_with_real_numbers(
    good: Played,
) -> None:
    assert good.ended == "finished"
    marks = {mark.step for mark in good.session.job.log.marks}
    assert set(DONE_HERE) <= marks
    limits = good.session.job.core.limits
    spray = good.session.job.log.every("spray")[0]
    assert limits.strict < spray["wet_dml"] <= limits.extended
    assert 5 <= float(spray["seconds"]) <= 10  # the trade's burst; common practice, no source


def test_a_burst_longer_than_the_limit_is_refused_and_the_longest_that_fits_is_not(
    stands: Stands,
) -> None:
    job = stands.at("off-spray", last=False)
    seconds = [
        s for s in range(1, 40) if not stands.decide(job, Begin("off-spray", f"{s}")).refused
    ]
    assert seconds == list(range(1, max(seconds) + 1)) and 5 <= max(seconds) <= 10
    refused_by(stands.decide(job, Begin("off-spray", f"{max(seconds) + 1}")), "spray-off-ledger")


def test_a_second_burst_past_the_limit_is_refused(stands: Stands) -> None:
    job = stands.after(stands.at("off-spray"), Begin("off-spray", "5"), Report("spray_ended", "5"))
    job = stands.after(job, Back("off-spray"))
    refused_by(stands.decide(job, Begin("off-spray", "5")), "spray-off-ledger")


def test_a_burst_without_a_rate_since_the_last_fill_is_refused(stands: Stands) -> None:
    job = stands.at("off-spray")
    job = replace(
        job, core=replace(job.core, bay=replace(job.bay, rate=type(job.bay.rate).UNKNOWN))
    )
    refused_by(stands.decide(job, Begin("off-spray", "6")), "spray-rate")


def test_raised_revs_with_the_hose_off_are_refused(stands: Stands) -> None:
    job = stands.at("idle-hose")
    assert job.bay.engine is Engine.IDLING and job.bay.hose.value == "off"
    refused = permit(job.bay, Ask(Act.RAISE), job.core.limits)
    assert "revs-hose-on" in {r.interlock for r in refused}
    at_hold = stands.at("hold-raise")
    off = replace(at_hold.bay, hose=job.bay.hose)
    at_hold = replace(at_hold, core=replace(at_hold.core, bay=off))
    refused_by(stands.decide(at_hold, Begin("hold-raise")), "revs-hose-on")


def test_a_start_with_the_ledger_unknown_is_refused_on_arrival(stands: Stands) -> None:
    job = stands.at("before-start")
    job = replace(job, core=replace(job.core, bay=replace(job.bay, wet=None)))
    refused_by(stands.decide(job, Begin("before-start")), "start-ledger")


def test_the_engine_may_not_be_stopped_right_after_the_running_dose(stands: Stands) -> None:
    job = stands.at("idle-hands")
    assert job.bay.wet is not None and job.bay.wet > job.core.limits.extended
    refused = permit(job.bay, Ask(Act.STOP_ENGINE), job.core.limits)
    assert [r.interlock for r in refused] == ["stop-with-fluid"]


def test_a_stop_right_after_the_running_dose_trips_and_no_start_is_let_through(
    stands: Stands,
) -> None:
    job = stands.after(stands.at("idle-hands"), Report("stopped"))
    assert Trip.OVERDOSE in job.bay.trips and job.core.procedure == "recovery-overdose"
    refused = {r.interlock for r in permit(job.bay, Ask(Act.START), job.core.limits)}
    assert {"start-ledger", "start-soak", "start-check", "start-no-fluid-trip"} <= refused


def test_a_before_reading_after_fluid_is_refused_and_the_shipped_step_is_left_out(
    stands: Stands,
) -> None:
    job = stands.at("hold-level", last=True)
    refused = {r.interlock for r in permit(job.bay, Ask(Act.READ_BEFORE), job.core.limits)}
    assert "before-only-dry" in refused
    main = stands.plan.main
    bare = [
        stage.model_copy(
            update={
                "steps": tuple(
                    s.model_copy(update={"when": ()}) if s.id == "before-raised" else s
                    for s in stage.steps
                )
            }
        )
        for stage in main.stages
    ]
    plan = replace(stands.plan, main=main.model_copy(update={"stages": tuple(bare)}))
    job = replace(job, core=replace(job.core, step="before-raised"))
    begun = decide(plan, job, Begin("before-raised"), times(job.log), "apprentice-1")
    refused_by(begun, "before-only-dry")
    left_out = stands.decide(job, Begin("before-raised"))
    assert not left_out.refused  # the shipped file's 'when' steps over it
    assert all(getattr(e, "step", "") != "before-raised" for e in left_out.events)


def test_nobody_goes_back_over_a_spray_once_fluid_may_be_in(stands: Stands) -> None:
    job = stands.at("hold-level", last=True)
    assert job.bay.fluid_in is FluidIn.YES
    for over in ("before-raised", "access-gun", "off-soak", "run-hands"):
        refused_by(stands.decide(job, Back(over)), "back")
    assert stands.after(job, Back("hold-raise")).core.step == "hold-raise"


def test_at_the_running_spray_the_looks_before_it_are_made_again_while_the_engine_runs(
    stands: Stands,
) -> None:
    job = stands.at("run-spray", begun=False)
    assert stands.after(job, Back("run-temp")).core.step == "run-temp"
    refused_by(stands.decide(job, Back("access-gun")), "back")
    stopped = replace(job.bay, engine=Engine.STOPPED)
    job = replace(job, core=replace(job.core, bay=stopped))
    refused_by(stands.decide(job, Back("run-temp")), "back")


def test_shots_into_the_jug_are_not_taken_once_the_permit_for_them_has_lapsed(
    stands: Stands,
) -> None:
    job = stands.at("gun-rate", begun=True)
    shots = Answer("gun-rate", "19 20 21 mL in 5 s")
    assert stands.after(job, shots).core.step != "gun-rate"
    bare = replace(job.bay, permit=None, kit=Kit.UNKNOWN)
    job = replace(job, core=replace(job.core, bay=bare))
    refused = permit(job.bay, Ask(Act.FILL_GUN), job.core.limits)
    assert refused and {r.interlock for r in stands.decide(job, shots).refusals} == {
        r.interlock for r in refused
    }


def test_who_did_the_work_cannot_check_it(stands: Stands) -> None:
    job = stands.at("check-fluid", begun=True)
    refused_by(stands.decide(job, Sign("check-fluid", "apprentice-1")), "checker-is-doer")


def test_a_second_person_of_too_low_a_role_cannot_check(stands: Stands) -> None:
    job = stands.at("check-fluid", begun=True)
    job = replace(job, log=replace(job.log, worked=frozenset({("gun", "technician-1")})))
    refused_by(stands.decide(job, Sign("check-fluid", "technician-1")), "checker-is-doer")
    refused_by(stands.decide(job, Sign("check-fluid", "apprentice-1")), "role")
    assert not stands.decide(job, Sign("check-fluid", "supervisor-1")).refused


def test_nobody_signs_in_the_customers_place(stands: Stands) -> None:
    job = stands.at("agree-sign", begun=True)
    refused_by(stands.decide(job, Sign("agree-sign", "technician-1")), "role")
    refused_by(stands.decide(job, Sign("agree-sign", "nobody")), "person")
    assert not stands.decide(job, Sign("agree-sign", "customer")).refused


def test_a_step_out_of_order_is_refused_and_the_one_that_is_due_is_named(stands: Stands) -> None:
    job = stands.at("access-hands")
    outcome = stands.decide(job, Begin("run-start"))
    refused_by(outcome, "out-of-order")
    assert "access-hands" in outcome.refusals[0].remedy


@pytest.mark.parametrize("step", ["complaint", "before-raised", "triage-judge", "gun-rate"])
def test_an_answer_before_the_step_was_begun_is_refused(stands: Stands, step: str) -> None:
    refused_by(stands.decide(stands.at(step), Answer(step, "19 20 21 mL in 5 s")), "two-marks")


def test_an_empty_answer_is_no_answer(stands: Stands) -> None:
    refused_by(
        stands.decide(stands.at("complaint", begun=True), Answer("complaint", "  ")), "answer"
    )


def test_a_held_job_begins_nothing_and_a_stop_is_accepted_everywhere(stands: Stands) -> None:
    for job in stands.jobs[2:]:
        if job.core.ended:
            continue
        stopped = stands.after(job, Stop())
        assert stopped.core.held
        refused_by(stands.decide(stopped, Begin(stopped.core.step)), "held")
        assert not stands.after(stopped, GoOn()).core.held


def test_giving_up_leads_to_the_make_safe_procedure_from_everywhere(stands: Stands) -> None:
    for job in stands.jobs[2:]:
        if not job.core.ended:
            assert stands.after(job, GiveUp()).core.procedure == "abandon"


def test_limits_are_entered_once(stands: Stands) -> None:
    job = stands.at("off-spray")
    bigger = SetLimits(9999, 9999, 9999, dict(job.log.numbers), {})
    refused_by(stands.decide(job, bigger), "limits-once")


# -- the soak cannot be hurried -----------------------------------------------------------------


def _soaking(stands: Stands) -> tuple[Job, float]:
    job = stands.at("off-soak", begun=True)
    while job.bay.soak is not Soak.RUNNING:  # the place where it was just begun
        job = stands.jobs[stands.jobs.index(job) + 1]
    assert job.core.step == "off-soak"
    return job, float(job.log.numbers["soak_s"])


def test_the_soak_is_answered_only_when_its_time_is_over(stands: Stands) -> None:
    job, soak_s = _soaking(stands)
    for seconds in (0.0, 1.0, soak_s / 2, soak_s - 1.0):
        refused_by(stands.decide(job, Answer("off-soak", "due"), seconds=seconds), "not-due")
    assert not stands.decide(job, Answer("off-soak", "due"), seconds=soak_s + 1.0).refused


@pytest.mark.parametrize(
    "changed",
    [
        {"utc": "2031-01-01T00:00:00.000Z"},
        {"utc": "2001-01-01T00:00:00.000Z"},
        {"zone": "+12:00"},
        {"boot": "another boot"},
        {"monotonic_ms": 0},
        {"boottime_ms": 0},
    ],
    ids=lambda c: "-".join(f"{k}={v}" for k, v in c.items()),
)
def test_no_clock_that_was_set_and_no_other_boot_shortens_the_soak(
    stands: Stands, changed: dict[str, object]
) -> None:
    job, soak_s = _soaking(stands)
    seconds = soak_s * 100 if "utc" not in changed and "zone" not in changed else 1.0
    at = times(job.log, seconds, **changed)
    refused_by(decide(stands.plan, job, Answer("off-soak", "due"), at, "apprentice-1"), "not-due")


def test_what_was_waited_before_another_boot_counts_and_the_gap_does_not(stands: Stands) -> None:
    job, soak_s = _soaking(stands)
    for at in (
        times(job.log, soak_s / 2),
        times(job.log, soak_s * 9, boot="another boot"),
    ):
        for event in decide(stands.plan, job, Look("spill", "ready"), at, "apprentice-1").events:
            job = evolve(job, event)
    refused_by(stands.decide(job, Answer("off-soak", "due"), seconds=soak_s / 2 - 1), "not-due")
    assert not stands.decide(job, Answer("off-soak", "due"), seconds=soak_s / 2 + 1).refused


def test_the_drying_run_cannot_be_hurried_and_a_stall_cuts_it_short(stands: Stands) -> None:
    job = stands.at("hold-level", begun=True)
    refused_by(stands.decide(job, Answer("hold-level", "done")), "not-dry")
    cut = stands.after(job, Report("lowered"))
    assert cut.bay.run_on is RunOn.UNKNOWN and cut.bay.wet == job.bay.wet


# -- what is known goes away, what is reported is never lost ------------------------------------


def test_an_interruption_makes_every_perishable_fact_unknown_and_asks_for_it(
    stands: Stands,
) -> None:
    job = stands.at("idle-hose")
    after = stands.after(job, Interrupted("closed"))
    for fact in ("engine", "hands", "hose", "gun", "key", "port", "rate", "controls", "kit"):
        assert getattr(after.bay, fact).unknown, fact
    assert {"engine", "hands", "hose", "gun", "controls"} <= set(after.core.ask_again)
    assert after.bay.before is job.bay.before and after.bay.wet == job.bay.wet
    assert after.core.meanwhile and after.core.held


def test_after_another_boot_the_same_facts_are_asked_as_after_a_restart(stands: Stands) -> None:
    job = stands.at("idle-hose")
    asked = []
    for boot in (job.log.last.boot if job.log.last else "", "another boot"):
        after = job
        at = times(job.log, 5.0, boot=boot)
        for event in decide(stands.plan, job, Interrupted("x"), at, "apprentice-1").events:
            after = evolve(after, event)
        asked.append(after.core.ask_again)
    assert asked[0] == asked[1] and {"hands", "controls", "fumes"} <= set(asked[0])


@pytest.mark.parametrize(("said", "known"), [("no", True), ("yes", False), ("unknown", False)])
def test_what_happened_meanwhile_decides_whether_the_ledger_still_counts(
    stands: Stands, said: str, known: bool
) -> None:
    job = stands.after(stands.at("off-turn"), Interrupted("closed"), AnswerMeanwhile(said))
    assert (job.bay.wet is not None) is known
    assert (Trip.OVERDOSE in job.bay.trips) is not known


def test_a_report_is_recorded_even_where_the_next_step_cannot_be_decided(stands: Stands) -> None:
    job = stands.at("run-spray", begun=False)
    unknown = replace(job.bay, hose=type(job.bay.hose).UNKNOWN)
    job = replace(job, core=replace(job.core, bay=unknown))
    after = stands.after(job, Answer("run-spray", "done"))
    assert after.core.step == "idle-hands" and after.core.ask_again == ("hose",)
    refused_by(stands.decide(after, Begin("idle-hands")), "reconfirm")
    after = stands.after(after, Look("hose", "unknown"))
    refused_by(stands.decide(after, Begin("idle-hands")), "branch-unknown")
    known = stands.after(after, Look("hose", "off"), Begin("idle-hands"))
    assert known.core.begun


def test_a_fact_too_old_lapses_and_a_permit_not_used_lapses(stands: Stands) -> None:
    job = stands.at("off-spray")
    refused_by(stands.decide(job, Begin("off-spray", "6"), seconds=601.0), "spray-off-cool")
    granted = stands.after(job, Begin("off-spray", "5"))
    waited = stands.decide(granted, Tick(), seconds=601.0)
    for event in waited.events:
        granted = evolve(granted, event)
    assert granted.bay.permit is None and granted.bay.wet is None  # nobody told how it ended


def test_a_stall_with_seconds_that_cannot_be_read_still_trips(stands: Stands) -> None:
    job = stands.after(stands.at("run-spray"), Begin("run-spray", "5"), Report("stalled", "zz"))
    assert Trip.STALLED in job.bay.trips and job.bay.wet is None


def test_an_end_that_was_permitted_is_asked_again_when_something_happens_or_is_seen(
    stands: Stands,
) -> None:
    job = stands.at("hand-over", begun=True)
    assert job.bay.permit is Act.HAND_OVER
    for between in (Report("overdosed"), Report("person_hurt"), Look("hose", "off")):
        after = stands.after(job, between)
        assert after.bay.permit is None and not after.core.ended
        ended = stands.decide(after, Report("handed_over"))
        assert not any(type(event).__name__ == "Ended" for event in ended.events)
    assert stands.after(job, Report("handed_over")).core.ended == "finished"
