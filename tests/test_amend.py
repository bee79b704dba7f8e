"""Changes in the open: corrections, not-applicable, waivers, notes, and the ways to sign."""

from dataclasses import replace

import pytest
from steplatch.runner.core.amend import LEAST_REASON, MOST_NOTE, WAIVER_S
from steplatch.runner.core.codec import decode_command, decode_event, encode
from steplatch.runner.core.commands import (
    Answer,
    Back,
    Begin,
    Correct,
    Interrupted,
    NotApplicable,
    Note,
    Sign,
    Tick,
    Waive,
)
from steplatch.runner.core.engine import decide
from steplatch.runner.core.events import (
    Corrected,
    MarkedNotApplicable,
    Recorded,
    Signed,
    Waived,
    WaiverLapsed,
    WaiverUsed,
)
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.sign_off import ALONE, AT_ONCE, NO_PIN, OWN_WORK
from steplatch.safety.bay import FACTS, Codes, Crew, Evidence, FluidIn, Port, Rate, Trip
from steplatch.safety.interlocks import INTERLOCKS

from tests.played import Stands, times
from tests.test_engine import refused_by

WHY = "typed from memory, the dash says otherwise"


def corrected(stands: Stands, job: Job, name: str, value: str, number: int = -1) -> Job:
    if number < 0:
        number = len(job.log.every(name)) - 1
    return stands.after(job, Correct(name, number, value, WHY))


# -- corrections -------------------------------------------------------------------------------


def test_a_corrected_number_stands_in_its_place_and_the_old_one_in_the_corrections(
    stands: Stands,
) -> None:
    job = stands.at("age")
    was = job.log.latest("distance")
    after = corrected(stands, job, "distance", "123000 km")
    assert after.log.every("distance") == (after.log.latest("distance"),)
    assert (after.log.latest("distance") or {})["km"] == "123000"
    (told,) = after.log.corrections
    assert (told.was, told.reason, told.by) == (was, WHY, "apprentice-1")
    assert after.core == job.core  # nothing that decides has moved


def test_a_correction_without_a_reason_a_value_or_a_record_is_refused(stands: Stands) -> None:
    job = stands.at("age")
    for command, code in (
        (Correct("distance", 0, "123000 km", "x" * (LEAST_REASON - 1)), "reason"),
        (Correct("distance", 0, "", WHY), "answer"),
        (Correct("distance", 0, "many", WHY), "number"),
        (Correct("distance", 0, "9999999 km", WHY), "band"),
        (Correct("distance", 1, "123000 km", WHY), "correct"),
        (Correct("distance", -1, "123000 km", WHY), "correct"),
        (Correct("distance", True, "123000 km", WHY), "correct"),
        (Correct("nothing", 0, "1", WHY), "correct"),
    ):
        refused_by(stands.decide(job, command), code)


@pytest.mark.parametrize("name", ["triage", "verdict", "plateau", "doubted", "attachment"])
def test_what_is_worked_out_or_kept_as_it_came_is_not_corrected(stands: Stands, name: str) -> None:
    refused_by(stands.decide(stands.jobs[-2], Correct(name, 0, "go", WHY)), "correct")


def test_a_choice_that_decides_which_steps_come_is_made_anew_at_its_step(stands: Stands) -> None:
    job = stands.at("road-ready")
    outcome = stands.decide(job, Correct("road_test", 0, "not_driven", WHY))
    refused_by(outcome, "correct")
    assert "road-choice" in outcome.refusals[0].remedy
    again = stands.after(job, Back("road-choice"), Begin("road-choice"))
    again = stands.after(again, Answer("road-choice", "not_driven"))
    assert again.core.choice("road_test") == "not_driven"


def test_a_choice_that_no_branch_reads_is_corrected_in_place(stands: Stands) -> None:
    job = stands.at("oil-history")
    after = corrected(stands, job, "duty", "motorway")
    assert after.core.choice("duty") == "motorway"
    refused_by(stands.decide(job, Correct("duty", 0, "flying", WHY)), "answer")


def test_a_corrected_temperature_leaves_the_inlet_unknown(stands: Stands) -> None:
    job = next(j for j in stands.jobs if j.bay.port is Port.COOL)
    after = corrected(stands, job, "exhaust", "30 degC")
    assert after.bay.port is Port.UNKNOWN


def test_a_corrected_reading_is_worth_less_as_evidence_and_never_more(stands: Stands) -> None:
    job = stands.at("triage-judge")
    assert job.bay.before is Evidence.GOOD
    raised = next(n for n, r in enumerate(job.log.every("reading")) if r["condition"] == "raised")
    typed = next(m.answer for m in job.log.marks if m.step == "before-raised")
    after = corrected(stands, job, "reading", typed, raised)
    assert after.bay.before is Evidence.PARTIAL
    missing = replace(job, core=replace(job.core, bay=replace(job.bay, before=Evidence.UNKNOWN)))
    assert corrected(stands, missing, "reading", typed, raised).bay.before is Evidence.UNKNOWN


def test_a_correction_never_lowers_the_ledger_and_a_larger_volume_makes_it_unknown(
    stands: Stands,
) -> None:
    job = stands.at("off-soak")
    assert job.bay.wet
    spray = job.log.every("spray")[-1]
    less = corrected(stands, job, "spray", "1")
    assert less.bay.wet == job.bay.wet and not less.bay.trips
    more = corrected(stands, job, "spray", str(float(spray["seconds"]) + 1))
    assert more.bay.wet is None and Trip.OVERDOSE in more.bay.trips
    shots = corrected(stands, job, "gun", "10 10 10 mL in 5 s")
    assert shots.bay.wet == job.bay.wet and shots.bay.rate is Rate.UNKNOWN
    stronger = corrected(stands, job, "gun", "40 40 40 mL in 5 s")
    assert stronger.bay.wet is None and Trip.OVERDOSE in stronger.bay.trips


def test_judgements_are_made_again_after_a_correction(stands: Stands) -> None:
    job = stands.at("advice")
    assert len(job.log.every("verdict")) == 1
    after = corrected(stands, job, "distance", "123000 km")
    assert len(after.log.every("verdict")) == 2


@pytest.mark.parametrize(("at", "wet", "lapsed"), [
    ("access-off", False, "triage"), ("off-soak", True, "fluid_check"),
])  # fmt: skip
def test_another_triage_upon_a_correction_stops_fluid_and_leaves_the_way_out(
    stands: Stands, at: str, wet: bool, lapsed: str
) -> None:
    """Dry, triage is made again; wet, nobody can go back there: no more fluid, but an end."""
    job = stands.at(at)
    assert (job.bay.fluid_in is not FluidIn.NO) is wet and job.bay.knows(lapsed)
    judges = replace(stands.plan.judges, triage=lambda job: {"state": "dont"})
    command = Correct("distance", 0, "123000 km", WHY)
    outcome = decide(replace(stands.plan, judges=judges), job, command, times(job.log), "a")
    for event in outcome.events:
        job = evolve(job, event)
    was = stands.at(at).bay
    assert {f for f in FACTS if was.knows(f) and not job.bay.knows(f)} == {lapsed}
    assert job.log.latest("triage") == {"state": "dont"}


def test_nothing_is_corrected_while_an_act_is_under_way(stands: Stands) -> None:
    job = stands.at("access-off", begun=True)
    assert job.bay.permit is not None
    refused_by(stands.decide(job, Correct("distance", 0, "123000 km", WHY)), "correct")


def test_a_correction_of_a_job_that_has_ended_is_refused(stands: Stands) -> None:
    refused_by(stands.decide(stands.jobs[-1], Correct("distance", 0, "1 km", WHY)), "ended")


# -- not applicable ----------------------------------------------------------------------------


def test_a_step_that_may_not_apply_is_left_with_a_reason_and_a_name(stands: Stands) -> None:
    job = stands.at("freeze-frame")
    outcome = stands.decide(job, NotApplicable("freeze-frame", "this reader shows none at all"))
    assert not outcome.refused
    (marked,) = [e for e in outcome.events if isinstance(e, MarkedNotApplicable)]
    assert (marked.step, marked.by) == ("freeze-frame", "apprentice-1")
    after = stands.after(job, NotApplicable("freeze-frame", "this reader shows none at all"))
    assert after.core.step != "freeze-frame" and after.log.marks[-1].answer == "not_applicable"


def test_a_step_that_keeps_somebody_whole_is_never_left(stands: Stands) -> None:
    for step in ("arrival", "off-spray", "check-fluid", "before-raised"):
        job = stands.at(step)
        refused_by(
            stands.decide(job, NotApplicable(step, "we have always left it")), "must-be-done"
        )


def test_leaving_a_step_needs_a_reason(stands: Stands) -> None:
    job = stands.at("freeze-frame")
    refused_by(stands.decide(job, NotApplicable("freeze-frame", "none")), "reason")


# -- waivers -----------------------------------------------------------------------------------


def waivable_job(stands: Stands) -> Job:
    """The job before clearing codes, with the codes not known to be written down."""
    job = stands.at("clear")
    bay = replace(job.bay, codes=Codes.UNKNOWN)
    return replace(job, core=replace(job.core, bay=bay))


def waive(person: str = "supervisor-1", interlock: str = "codes-saved-first") -> Waive:
    return Waive(interlock, person, "the reader lost them, the photo is kept", "name")


def test_a_waiver_permits_once_and_is_used_up(stands: Stands) -> None:
    job = waivable_job(stands)
    refused_by(stands.decide(job, Begin("clear")), "codes-saved-first")
    waived = stands.after(job, waive())
    outcome = stands.decide(waived, Begin("clear"))
    assert not outcome.refused
    assert WaiverUsed("codes-saved-first", "clear_codes") in outcome.events
    after = stands.after(waived, Begin("clear"))
    assert after.core.waived == ()
    refused_by(stands.decide(after, Begin("clear")), "codes-saved-first")


def test_nobody_waives_for_themselves_nor_below_their_role(stands: Stands) -> None:
    job = waivable_job(stands)
    refused_by(stands.decide(job, waive("supervisor-1"), by="supervisor-1"), "checker-is-doer")
    refused_by(stands.decide(job, waive("apprentice-1"), by="technician-1"), "checker-is-doer")
    fresh = replace(job, log=replace(job.log, doers=frozenset()))
    refused_by(stands.decide(fresh, waive("apprentice-1"), by="technician-1"), "role")
    refused_by(stands.decide(fresh, waive("nobody")), "person")
    refused_by(stands.decide(fresh, replace(waive(), reason="because")), "reason")


def test_no_row_behind_a_safety_invariant_can_be_waived(stands: Stands) -> None:
    job = waivable_job(stands)
    for row in INTERLOCKS:
        if not row.waivable:
            refused_by(stands.decide(job, waive(interlock=row.id)), "no-waiver")
    refused_by(stands.decide(job, waive(interlock="everything")), "waiver")


def test_a_waiver_expires_by_itself_to_the_safe_side(stands: Stands) -> None:
    waived = stands.after(waivable_job(stands), waive())
    in_time = stands.decide(waived, Tick(), seconds=WAIVER_S - 1)
    assert not any(isinstance(e, WaiverLapsed) for e in in_time.events)
    late = stands.decide(waived, Begin("clear"), seconds=WAIVER_S + 1)
    assert WaiverLapsed("codes-saved-first") in late.events
    refused_by(late, "codes-saved-first")


def test_an_interruption_ends_every_waiver(stands: Stands) -> None:
    waived = stands.after(waivable_job(stands), waive())
    assert stands.after(waived, Interrupted("left")).core.waived == ()


# -- notes -------------------------------------------------------------------------------------


def test_a_note_is_kept_and_decides_nothing(stands: Stands) -> None:
    job = stands.at("age")
    after = stands.after(job, Note("doubted", {"typed": "12 mbar", "topics": "pressure"}))
    assert after.log.latest("doubted") == {"typed": "12 mbar", "topics": "pressure"}
    assert after.core == job.core


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("reading", {"typed": "1"}),
        ("triage", {"state": "go"}),
        ("doubted", {"choice": "go"}),
        ("doubted", {"n": 1}),
        ("doubted", {"typed": "x" * (MOST_NOTE + 1)}),
    ],
)
def test_a_note_that_could_pass_for_something_else_is_refused(
    stands: Stands, name: str, value: dict[str, str]
) -> None:
    refused_by(stands.decide(stands.at("age"), Note(name, value)), "note")


# -- ways to sign ------------------------------------------------------------------------------


def signed(stands: Stands, job: Job, sign: Sign, by: str = "apprentice-1") -> Signed:
    outcome = stands.decide(job, sign, by)
    assert not outcome.refused, outcome.refusals
    return next(e for e in outcome.events if isinstance(e, Signed))


def real(job: Job) -> Job:
    return replace(job, log=replace(job.log, practice=False, last_signed=None))


def test_a_signature_says_how_it_was_given_and_what_is_out_of_the_ordinary(stands: Stands) -> None:
    job = stands.at("check-fluid", begun=True)
    assert signed(stands, job, Sign("check-fluid", "technician-1", "pin")).how == "practice"
    by_pin = signed(stands, real(job), Sign("check-fluid", "technician-1", "pin"))
    assert (by_pin.how, by_pin.exceptions) == ("pin", ())
    by_name = signed(stands, real(job), Sign("check-fluid", "technician-1"))
    assert (by_name.how, by_name.exceptions) == ("name", (NO_PIN,))
    refused_by(stands.decide(real(job), Sign("check-fluid", "technician-1", "practice")), "sign")
    refused_by(stands.decide(real(job), Sign("check-fluid", "technician-1", "nod")), "sign")


def test_two_people_who_sign_within_seconds_are_recorded_as_that(stands: Stands) -> None:
    job = real(stands.at("check-fluid", begun=True))
    just = replace(job, log=replace(job.log, last_signed=("supervisor-1", job.log.aged_ms)))
    sign = Sign("check-fluid", "technician-1", "pin")
    assert signed(stands, just, sign).exceptions == (AT_ONCE,)
    same = replace(job, log=replace(job.log, last_signed=("technician-1", job.log.aged_ms)))
    assert signed(stands, same, sign).exceptions == ()


def test_one_who_works_alone_and_releases_is_recorded_as_that(stands: Stands) -> None:
    job = real(stands.at("release", begun=True))
    alone = replace(job, core=replace(job.core, bay=replace(job.bay, crew=Crew.ALONE_ADULT)))
    alone = replace(alone, log=replace(alone.log, doers=frozenset({"technician-1"})))
    sign = Sign("release", "technician-1", "pin")
    assert signed(stands, alone, sign).exceptions == (OWN_WORK, ALONE)


# -- on the wire -------------------------------------------------------------------------------


def test_every_new_command_and_event_comes_back_from_the_journal_as_it_went_in() -> None:
    for command in (
        Correct("distance", 0, "1 km", WHY),
        NotApplicable("freeze-frame", WHY),
        waive(),
        Note("doubted", {"typed": "x"}),
        Sign("release", "technician-1", "pin"),
    ):
        assert decode_command(encode(command)) == command
    for event in (
        Corrected("distance", 0, {"typed": "1"}, {"typed": "2"}, WHY, "apprentice-1"),
        MarkedNotApplicable("freeze-frame", WHY, "apprentice-1", procedure="clean-above"),
        Waived("codes-saved-first", WHY, "apprentice-1", "supervisor-1", "supervisor", "pin", 9),
        WaiverUsed("codes-saved-first", "clear_codes"),
        WaiverLapsed("codes-saved-first"),
        Signed(
            "release",
            "p",
            "technician",
            "released",
            "other",
            ("a",),
            "pin",
            (AT_ONCE,),
            procedure="clean-above",
        ),
    ):
        assert decode_event(encode(event)) == event


def test_a_signature_from_before_ways_to_sign_were_kept_is_still_read() -> None:
    old = {k: v for k, v in encode(Sign("release", "technician-1")).items() if k != "how"}
    assert decode_command(old) == Sign("release", "technician-1")


def test_a_corrected_event_out_of_range_cannot_be_folded() -> None:
    job = Job()
    job = evolve(job, Recorded("distance", {"typed": "1 km"}, "distance", procedure="clean-above"))
    with pytest.raises(IndexError):
        evolve(job, Corrected("distance", 3, {}, {}, WHY, "apprentice-1"))
