"""What the vehicle reports, in a real job: written down, contradicting, tripping; never permitting.

Every command goes through the same ``decide``, at places where the good job stood.
"""

from dataclasses import replace
from typing import Any

import pytest
from steplatch.runner.core.codec import decode_command, decode_event, encode
from steplatch.runner.core.commands import (
    Begin,
    Fill,
    Interrupted,
    Look,
    Report,
    SetAside,
    VehicleReport,
)
from steplatch.runner.core.engine import Outcome
from steplatch.runner.core.events import Recorded
from steplatch.runner.core.job import Job
from steplatch.runner.core.refusals import recorded
from steplatch.safety.bay import Act, Trip
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import permit
from steplatch.safety.measured import CONTRADICTIONS, NOTHING_MEASURED

from tests.played import Stands


def fact(what: str, state: str, at_ms: int = 100) -> VehicleReport:
    return VehicleReport("fact", what, "1", 0, at_ms, {"is": state})


def trip(what: str, **numbers: Any) -> VehicleReport:
    return VehicleReport("trip", what, "1", 0, 100, numbers)


def codes(outcome: Outcome) -> set[str]:
    return {refusal.interlock for refusal in outcome.refusals}


def test_what_is_measured_otherwise_than_said_refuses_the_permit_until_it_agrees(
    stands: Stands,
) -> None:
    job = stands.at("run-spray", last=False)
    assert not stands.decide(job, Begin("run-spray", "3")).refused
    still = stands.after(job, fact("engine", "stopped"))
    assert codes(stands.decide(still, Begin("run-spray", "3"))) == {"measured-stopped"}
    assert still.bay == job.bay, "a measurement moves no fact"
    agrees = stands.after(still, fact("engine", "running"), fact("band", "idle"))
    assert not stands.decide(agrees, Begin("run-spray", "3")).refused
    gone = stands.after(still, fact("engine", "unknown"))
    assert not stands.decide(gone, Begin("run-spray", "3")).refused, "no answer is no witness"


def test_a_person_sets_the_value_aside_and_it_is_written_down(stands: Stands) -> None:
    job = stands.after(stands.at("run-spray", last=False), fact("engine", "stopped"))
    outcome = stands.decide(job, SetAside("speed_rpm"))
    assert [encode(e)["kind"] for e in outcome.events if encode(e)["kind"] != "Ticked"] == [
        "ChannelSetAside"
    ]
    job = stands.after(job, SetAside("speed_rpm"))
    assert job.core.measured == NOTHING_MEASURED and job.core.set_aside == ("speed_rpm",)
    assert not stands.decide(job, Begin("run-spray", "3")).refused
    later = stands.after(job, fact("engine", "stopped"), trip("over_ceiling"))
    assert later.core.measured == NOTHING_MEASURED and not later.bay.trips
    assert len(later.log.every("measured")) == 3, "it still stands in the record"
    assert codes(stands.decide(later, SetAside("speed_rpm"))) == {"set-aside"}
    assert codes(stands.decide(later, SetAside("delta_pa"))) == {"set-aside"}


def test_a_value_set_aside_does_not_silence_the_others(stands: Stands) -> None:
    job = stands.after(stands.at("run-spray", last=False), SetAside("speed_rpm"))
    job = stands.after(job, fact("burning", "yes"))
    assert not job.bay.knows("burning"), "it was said to be 'no': that is asked again"
    assert job.core.measured.burning == "yes"
    said = stands.after(job, Look("burning", "no"))
    assert codes(stands.decide(said, Begin("run-spray", "3"))) == {"measured-burning"}


@pytest.mark.parametrize("condition", ["raised", "idle"])
def test_a_set_is_not_begun_at_other_revs_than_said(stands: Stands, condition: str) -> None:
    step = f"before-{condition}"
    job = stands.at(step, last=False)
    assert not stands.decide(job, Begin(step)).refused
    other = stands.after(job, fact("engine", "running"), fact("band", "other"))
    assert codes(stands.decide(other, Begin(step))) == {f"measured-not-{condition}"}


def test_over_the_ceiling_trips_and_leads_to_its_card(stands: Stands) -> None:
    job = stands.after(stands.at("hold-level"), trip("over_ceiling", speed_rpm="2710"))
    assert Trip.OVER_CEILING in job.bay.trips
    assert job.core.procedure == "recovery-over-ceiling"
    refused = {r.interlock for r in permit(job.bay, Ask(Act.RAISE), job.core.limits)}
    assert "no-trip-latched" in refused


def test_a_stall_with_fluid_in_trips_and_what_the_engine_does_is_asked(stands: Stands) -> None:
    job = stands.at("idle-hands")
    assert job.bay.wet
    job = stands.after(job, trip("stalled", speed_rpm="0"))
    assert Trip.STALLED in job.bay.trips and not job.bay.knows("engine")
    told = stands.after(job, Look("engine", "stopped"))
    assert Trip.UNPERMITTED not in told.bay.trips


def test_a_stall_in_a_burst_leaves_its_account_to_the_person(stands: Stands) -> None:
    job = stands.after(stands.at("run-spray", last=False), Begin("run-spray", "3"))
    assert job.bay.permit is Act.SPRAY_RUNNING
    wired = stands.after(job, trip("stalled", speed_rpm="0"))
    assert Trip.STALLED in wired.bay.trips
    assert (wired.bay.wet, wired.bay.permit) == (job.bay.wet, Act.SPRAY_RUNNING)
    by_hand = stands.after(job, Report("stalled", seconds="2"))
    both = stands.after(wired, Report("stalled", seconds="2"))
    assert both.bay.wet == by_hand.bay.wet is not None
    assert both.bay.trips == by_hand.bay.trips


def test_a_stall_without_fluid_trips_nothing_and_asks(stands: Stands) -> None:
    job = stands.at("before-raised", last=False)
    assert job.bay.wet == 0
    job = stands.after(job, trip("stalled", speed_rpm="0"))
    assert not job.bay.trips and job.core.ask_again == ("engine",)
    assert codes(stands.decide(job, Begin("before-raised"))) == {"reconfirm"}
    assert stands.after(job, Look("engine", "stopped")).core.ask_again == ()


def test_a_start_that_nobody_was_permitted_trips(stands: Stands) -> None:
    job = stands.at("off-soak")
    assert job.bay.engine.value == "stopped"
    job = stands.after(job, trip("self_started", speed_rpm="820"))
    assert Trip.SELF_STARTED in job.bay.trips and not job.bay.knows("engine")


@pytest.mark.parametrize("what", ["stalled", "over_ceiling"])
def test_a_reading_that_was_begun_before_the_report_is_begun_again(
    stands: Stands, what: str
) -> None:
    job = begun(stands, "after-idle")
    assert job.core.begun and job.bay.permit is Act.READ_AFTER
    job = stands.after(job, trip(what, speed_rpm="0"))
    assert not job.core.begun and job.bay.permit is None


def test_an_end_that_was_asked_for_before_the_report_is_asked_for_again(stands: Stands) -> None:
    job = begun(stands, "hand-over")
    assert job.bay.permit is Act.HAND_OVER
    job = stands.after(job, trip("self_started", speed_rpm="820"))
    assert not job.core.begun and not job.bay.knows("engine") and job.core.ended == ""


def test_what_is_known_already_is_no_news(stands: Stands) -> None:
    stopped = stands.at("off-soak")
    assert stands.after(stopped, trip("stalled")).bay == stopped.bay
    runs = stands.at("hold-level")
    assert stands.after(runs, trip("self_started")).bay == runs.bay


def test_what_only_alarms_or_notes_moves_nothing(stands: Stands) -> None:
    job = stands.at("run-spray", last=False)
    for kind, what in (("alarm", "sag"), ("alarm", "link_lost"), ("channel", "frozen"),
                       ("fact", "charging"), ("fact", "codes_cleared")):  # fmt: skip
        after = stands.after(job, VehicleReport(kind, what, "1", 5, 90, {"is": "yes"}))
        assert after.core == job.core
        assert after.log.latest("measured") == {
            "form": kind, "what": what, "is": "yes", "link": "1", "from_ms": 5, "at_ms": 90,
        }  # fmt: skip


def test_an_interruption_forgets_what_was_measured(stands: Stands) -> None:
    job = stands.after(stands.at("hold-level"), fact("engine", "running"), fact("band", "raised"))
    assert job.core.measured != NOTHING_MEASURED
    again = stands.after(job, Interrupted("restarted"))
    assert again.core.measured == NOTHING_MEASURED


@pytest.mark.parametrize(
    "bad",
    [
        {"form": "permit"},
        {"what": "Over Ceiling"},
        {"numbers": {"is": True}},
        {"numbers": {"at_ms": 1}},
        {"numbers": {"choice": "x"}},
        {"numbers": {f"n{n}": 1 for n in range(9)}},
        {"from_ms": 200},
        {"from_ms": 1.5},
        {"form": "fact", "what": "engine", "numbers": {"is": "idling"}},
        {"form": "fact", "what": "engine", "numbers": {}},
    ],
)
def test_what_no_link_reports_is_refused(stands: Stands, bad: dict[str, Any]) -> None:
    job = stands.at("hold-level")
    outcome = stands.decide(job, replace(trip("over_ceiling"), **bad))
    assert codes(outcome) == {"vehicle"}


def test_reports_travel_as_plain_objects_and_come_back(stands: Stands) -> None:
    job = stands.at("hold-level")
    for command in (
        trip("over_ceiling", speed_rpm="2710", ceiling_rpm=2500),
        fact("burning", "yes"),
        SetAside("burning"),
        Fill("hold-level", "61.2", ("pressure",), "1", 0, 9000),
    ):
        assert decode_command(encode(command)) == command
        for event in stands.decide(job, command).events:
            assert decode_event(encode(event)) == event


def test_each_contradiction_is_said_in_words_from_its_id() -> None:
    for row in CONTRADICTIONS:
        said = recorded({"interlock": row.id, "about": {}})
        assert said.reason == row.reason and "aside" in said.remedy and said.source


# -- readings ---------------------------------------------------------------------------------


def begun(stands: Stands, step: str) -> Job:
    job = stands.at(step, last=False)
    return job if job.core.begun else stands.after(job, Begin(step))


def test_a_set_that_the_vehicle_filled_says_which_values_are_its_own(stands: Stands) -> None:
    job = begun(stands, "before-raised")
    line = "96.24 2312 41.3 231.5 88 open"
    fill = Fill("before-raised", line, ("air", "coolant", "exhaust", "speed"), "1", 100, 31_000)
    outcome = stands.decide(job, fill)
    (got,) = [e.value for e in outcome.events if isinstance(e, Recorded) and e.name == "reading"]
    assert {r["quantity"]: r["source"] for r in got["readings"]} == {
        "pressure": "typed", "speed": "car", "air": "car", "exhaust": "car", "coolant": "car",
    }  # fmt: skip


@pytest.mark.parametrize("car", [("pressure", "boost"), ("recirculation",), ("pressure",)])
def test_values_that_are_not_in_the_line_are_not_the_vehicles(
    stands: Stands, car: tuple[str, ...]
) -> None:
    job = begun(stands, "before-raised")
    fill = Fill("before-raised", "x 2312 41.3 231.5 88 open", car, "1", 0, 9)
    assert codes(stands.decide(job, fill)) == {"fill"}


def test_only_a_step_that_measures_takes_values_of_the_vehicle(stands: Stands) -> None:
    fill = Fill("off-soak", "due", ("pressure",), "1", 0, 9)
    assert codes(stands.decide(stands.at("off-soak"), fill)) == {"fill"}


def test_a_filled_set_over_the_ceiling_trips_like_a_typed_one(stands: Stands) -> None:
    job = begun(stands, "before-raised")
    fast = Fill("before-raised", "96.24 3912 41.3 231.5 88 open", ("speed",), "1", 0, 9)
    assert Trip.OVER_CEILING in stands.after(job, fast).bay.trips


def test_the_pressure_and_the_exhaust_of_a_hold_come_from_the_vehicle(stands: Stands) -> None:
    job = begun(stands, "hold-level")
    job = stands.after(job, Fill("hold-level", "61.2", ("pressure",), "1", 0, 9))
    assert job.log.latest("trend")["source"] == "car"  # type: ignore[index]
    job = stands.after(job, Fill("hold-level", "310 degC", ("exhaust",), "1", 0, 9))
    assert job.log.latest("exhaust")["source"] == "car"  # type: ignore[index]
    wrong = Fill("hold-level", "310 degC", ("pressure",), "1", 0, 9)
    assert codes(stands.decide(job, wrong)) == {"fill"}
    done = Fill("hold-level", "done", ("pressure",), "1", 0, 9)
    assert codes(stands.decide(job, done)) == {"fill"}
