"""Every shipped procedure can be walked to its end by good answers.

A step that an interlock refuses on an ideal walk is a badly written procedure: the test names
step and interlock. From every kind of situation, every trip has a way out.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from steplatch.runner.core.clock import Times
from steplatch.runner.core.commands import Answer, Begin, Correct, GiveUp, Look, Report
from steplatch.runner.core.job import Job
from steplatch.safety.bay import Act, Agreed, Engine, Gun, Hose, Trip
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import permit

from tests.procedure_walk import Stuck, Walk, new_walk


@pytest.mark.parametrize("tier", ["none", "strict", "extended"])
@pytest.mark.parametrize("reach", ["clear", "not_clear"])
@pytest.mark.parametrize("road", [True, False])
def test_a_whole_job_by_two_can_be_walked_to_its_hand_over(
    tier: str, reach: str, road: bool
) -> None:
    walk = new_walk(tier=tier, reach=reach, road_test="drive" if road else "not_driven")
    assert walk.to_end() == "finished"
    assert walk.job.bay.wet == 0 and not walk.job.bay.trips
    assert walk.job.bay.fluid_in.value == "yes"
    sprays = [r["act"] for r in walk.job.log.every("spray")]
    assert ("spray_off" in sprays) == (tier != "none") and "spray_running" in sprays


@pytest.mark.parametrize("reach", ["clear", "not_clear"])
def test_an_adult_alone_can_do_the_running_dose_and_hand_over(reach: str) -> None:
    walk = new_walk(crew="alone_adult", tier="none", reach=reach)
    assert walk.to_end() == "finished"
    assert [r["act"] for r in walk.job.log.every("spray")] == ["spray_running"] * 2


@pytest.mark.parametrize("triage", ["go", "dont", "nothing"])
def test_a_junior_alone_measures_advises_and_ends_without_fluid(triage: str) -> None:
    walk = new_walk(triage, crew="alone_junior", agreed="no")
    assert walk.to_end() == "finished"
    assert walk.job.bay.fluid_in.value == "no"
    assert [r["condition"] for r in walk.job.log.every("reading")] == ["zero"]
    assert not {"before-start", "before-raise"} & set(walk.path), "the engine stands still"


@pytest.mark.parametrize("triage", ["dont", "nothing"])
@pytest.mark.parametrize("crew", ["pair", "alone_adult"])
def test_without_a_go_the_job_ends_in_advice_and_hand_over(triage: str, crew: str) -> None:
    walk = new_walk(triage, crew=crew)
    assert walk.to_end() == "finished"
    assert walk.job.bay.fluid_in.value == "no" and walk.job.bay.codes.value == "saved"


def test_without_a_second_yes_no_fluid_goes_in_and_codes_stay_uncleared() -> None:
    walk = new_walk(agreed="no")
    assert walk.to_end() == "finished"
    assert walk.job.bay.fluid_in.value == "no" and walk.job.bay.codes.value == "saved"


def test_a_warning_is_given_in_writing_before_the_second_yes() -> None:
    walk = new_walk("warn")
    assert walk.to_end() == "finished"
    assert "warning" in walk.path and walk.path.index("warning") < walk.path.index("agree-clean")


def test_hoses_found_swapped_after_the_refit_are_put_right_before_the_verdict() -> None:
    walk = new_walk(**{"hold-rises": "not_risen", "right-rises": "rose"})
    assert walk.to_end() == "finished"
    assert (
        walk.path.index("wrong-off") < walk.path.index("right-on") < walk.path.index("hold-level")
    )
    assert walk.job.bay.wet == 0


@pytest.mark.parametrize(
    ("left_out", "interlock"),
    [
        ("off-soak", "turn-soaked"),
        ("check-fluid", "spray-check"),
        ("access-gun", "spray-coupled"),
        ("gun-rate", "spray-rate"),
        ("idle-clear", "revs-line-clear"),
        ("hold-level", "after-only-dried"),
    ],
)
def test_a_walk_sticks_at_the_interlock_when_its_step_is_left_out(
    left_out: str, interlock: str
) -> None:
    walk = new_walk(tier="extended", reach="clear")
    main = walk.plan.main
    stages = tuple(
        stage.model_copy(update={"steps": tuple(s for s in stage.steps if s.id != left_out)})
        for stage in main.stages
    )
    walk.plan = replace(walk.plan, main=main.model_copy(update={"stages": stages}))
    with pytest.raises(Stuck, match=interlock):
        walk.to_end()


def test_a_strict_dose_that_was_overrun_is_turned_by_hand_before_the_start() -> None:
    walk = new_walk(tier="strict", reach="clear")
    while walk.job.core.step != "off-spray":
        walk.one()
    walk.must(Begin("off-spray", "2"))
    limits = walk.job.core.limits
    seconds = next(s for s in range(2, 40) if dml_after(walk, str(s)) > limits.strict)
    walk.must(Report("spray_ended", seconds=str(seconds)))
    assert limits.strict < (walk.job.bay.wet or 0) <= limits.extended and not walk.job.bay.trips
    assert walk.to_end() == "finished"
    assert walk.path.index("turn-access") < walk.path.index("off-turn-seen")
    assert walk.path.index("off-turn-seen") < walk.path.index("run-start")


def dml_after(walk: Walk, seconds: str) -> int:
    """Tenths of a millilitre that stand in the ledger if the burst took so many seconds."""
    job, at = walk.job, walk.at
    walk.must(Report("spray_ended", seconds=seconds))
    wet = walk.job.bay.wet
    walk.job, walk.at = job, at
    return wet or 0


def test_a_strict_dose_within_its_limit_needs_no_hand_turn() -> None:
    walk = new_walk(tier="strict", reach="clear")
    assert walk.to_end() == "finished"
    assert not {"turn-access", "off-turn", "off-turn-seen"} & set(walk.path)


# -- from every kind of situation ----------------------------------------------------------------


def situation(job: Job) -> tuple[Any, ...]:
    bay = job.bay
    limits = job.core.limits
    wet = (
        "?"
        if bay.wet is None
        else (bay.wet > 0) + (bay.wet > limits.strict) + (bay.wet > limits.extended)
    )
    return (bay.engine, bay.gun, bay.hose, bay.hands, bay.key, wet, bay.fluid_in)


@cache
def situations() -> tuple[tuple[str, Job, Times, tuple[tuple[str, str], ...]], ...]:
    """The first step of each situation met on four whole jobs."""
    found: dict[tuple[Any, ...], tuple[str, Job, Times, tuple[tuple[str, str], ...]]] = {}
    for tier, reach in (("none", "clear"), ("extended", "clear"), ("strict", "not_clear")):
        walk = new_walk(tier=tier, reach=reach, road_test="drive")
        while not walk.job.core.ended:
            key = situation(walk.job)
            found.setdefault(
                key, (walk.job.core.step, walk.job, walk.at, tuple(walk.answers.items()))
            )
            walk.one()
    return tuple(found.values())


def again(place: tuple[str, Job, Times, tuple[tuple[str, str], ...]]) -> Walk:
    _, job, at, answers = place
    walk = new_walk(**dict(answers))
    walk.job, walk.at = job, at
    return walk


def failures(work: Callable[[Walk], str], wanted: set[str]) -> list[str]:
    found = []
    for place in situations():
        walk = again(place)
        try:
            end = work(walk)
            if end not in wanted:
                found.append(f"from {place[0]}: {end}")
        except Stuck as stuck:
            found.append(f"from {place[0]}: {stuck}")
    return found


def test_the_situations_cover_fluid_running_and_standing() -> None:
    bays = [job.bay for _, job, _, _ in situations()]
    assert {b.engine for b in bays} >= {Engine.STOPPED, Engine.IDLING, Engine.RAISED}
    assert any(b.wet and b.engine is Engine.IDLING and b.hose is Hose.OFF for b in bays)
    assert len(bays) >= 20


def test_giving_up_ends_abandoned_from_every_situation() -> None:
    def work(walk: Walk) -> str:
        walk.answers |= {"tag": "do_not_start", "dry_first": "stop_now"}
        for _ in range(3):  # a stop with fluid in trips: the recovery may be given up as well
            if walk.job.core.ended:
                break
            walk.must(GiveUp())
            while not walk.job.core.ended and walk.job.core.procedure == "abandon":
                walk.one()
        return walk.job.core.ended or walk.job.core.procedure

    assert failures(work, {"abandoned"}) == []


@pytest.mark.parametrize(
    "happening",
    ["fire_seen", "fume_alarm", "person_hurt", "ran_away", "turned_hard", "cranked_uneven"],
)
def test_every_emergency_ends_made_safe_from_every_situation(happening: str) -> None:
    def work(walk: Walk) -> str:
        walk.give(Report(happening))
        assert walk.plan.procedure(walk.job.core.procedure).role == "card"
        walk.answers["tag"] = "do_not_start"
        if happening == "fire_seen":
            walk.answers["gun"] = "away"  # taken off by those who guard the vehicle
        return walk.to_end()

    assert failures(work, {"abandoned"}) == []


RUNNING = (Engine.IDLING, Engine.RAISED)


@pytest.mark.parametrize(
    "happening", ["spilled", "stub_snapped", "over_ceiling", "stalled", "self_started", "overdosed"]
)
def test_every_recovery_can_be_worked_and_the_job_still_finishes(happening: str) -> None:
    def work(walk: Walk) -> str:
        engine = walk.job.bay.engine
        if happening in ("stalled", "over_ceiling") and engine not in RUNNING:
            return "finished"
        if happening == "self_started" and engine is not Engine.STOPPED:
            return "finished"
        walk.give(Report(happening))
        return walk.to_end_with_help()

    assert failures(work, {"finished"}) == []


@pytest.mark.parametrize("happening", ["overdosed", "stalled"])
@pytest.mark.parametrize("oil", ["over", "thinned", "unknown"])
def test_oil_that_fluid_has_thinned_lets_no_recovery_end(happening: str, oil: str) -> None:
    walk = new_walk(tier="none")
    assert walk.to_step(lambda job: bool(job.bay.wet) and job.bay.engine in RUNNING)
    walk.give(Report(happening))
    assert walk.to_step(lambda job: job.core.step == "oil")
    trips = walk.job.bay.trips
    assert walk.job.core.procedure.startswith("recovery-") and trips
    walk.must(Begin("oil"))
    walk.must(Look("oil", oil))
    assert walk.job.core.step == "oil" and walk.job.bay.oil.value == oil
    limits = walk.job.core.limits
    assert "run-oil" in {r.interlock for r in permit(walk.job.bay, Ask(Act.START), limits)}
    for later in ("start-check", "reset"):
        assert walk.give(Begin(later)).refused and walk.job.core.step == "oil"
    walk.must(Look("oil", "ok"))
    assert walk.job.bay.trips == trips and walk.to_end_with_help() == "finished"


def test_a_lapse_while_running_can_be_made_safe_and_the_job_still_finishes() -> None:
    def work(walk: Walk) -> str:
        if walk.job.bay.engine not in RUNNING:
            return "finished"
        walk.wait(3700)
        assert Trip.UNATTENDED in walk.job.bay.trips
        return walk.to_end_with_help()

    assert failures(work, {"finished"}) == []


def test_an_act_without_a_permit_can_be_recovered_and_the_job_still_finishes() -> None:
    def work(walk: Walk) -> str:
        if walk.job.bay.gun is not Gun.AWAY or walk.job.bay.hose is not Hose.ON:
            return "finished"
        walk.give(Report("hose_off"))
        assert Trip.UNPERMITTED in walk.job.bay.trips
        return walk.to_end_with_help()

    assert failures(work, {"finished"}) == []


@pytest.mark.parametrize(
    ("left", "happening", "back"),
    [("complaint", "over_ceiling", "complaint"), ("off-gun", "overdosed", "run-hands")],
)
def test_a_recovery_returns_past_the_step_that_was_left_only_once_a_spray_was_reached(
    left: str, happening: str, back: str
) -> None:
    walk = new_walk(tier="strict", reach="clear")
    assert walk.to_step(lambda job: job.core.step == left)
    walk.give(Report(happening))
    assert walk.job.core.procedure != "clean-above"
    assert walk.to_step(lambda job: job.core.procedure == "clean-above")
    assert walk.job.core.step == back


def test_a_choice_that_says_stop_is_recorded_and_goes_no_further() -> None:
    walk = new_walk(tier="none", reach="clear")
    assert walk.to_step(lambda job: job.core.step == "before-raised")
    walk.give(Report("over_ceiling"))
    assert walk.to_step(lambda job: job.core.step == "heard")
    walk.must(Begin("heard"))
    for _ in range(2):
        walk.must(Answer("heard", "changed"))
        assert walk.job.core.step == "heard" and walk.job.core.begun
        assert walk.job.log.latest("after_over_ceiling") == {"choice": "changed"}
    walk.must(Answer("heard", "as_before"))
    assert walk.job.core.step == "over-ceiling-cause"
    outcome = walk.give(Correct("after_over_ceiling", 2, "changed", "heard it only now"))
    assert [refusal.interlock for refusal in outcome.refusals] == ["correct"]


def test_the_yes_to_the_clean_is_given_at_its_own_step_and_taken_back_anywhere() -> None:
    walk = new_walk(agreed="no")
    assert walk.to_step(lambda job: job.core.step == "tools")
    walk.give(Look("agreed", "clean"))
    assert walk.job.bay.agreed is Agreed.NO
    walk = new_walk(tier="none", reach="clear")
    assert walk.to_step(lambda job: job.core.step == "check-fluid")
    walk.give(Look("agreed", "no"))
    assert walk.job.bay.agreed is Agreed.NO


def test_somebody_who_leaves_after_the_yes_does_not_take_the_signature_with_them() -> None:
    walk = new_walk(tier="none", reach="clear")
    assert walk.to_step(lambda job: job.core.step == "agree-sign")
    walk.give(Look("crew", "alone_junior"))
    assert walk.to_step(lambda job: job.core.step == "agree-sign")
