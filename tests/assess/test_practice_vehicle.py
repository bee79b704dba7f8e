"""The practice vehicle, whose truth is known and whose sums are its own, is judged rightly."""

import math

import pytest
from steplatch.runner.assess.flow import reference_flow
from steplatch.runner.assess.judge import Verdict, judge
from steplatch.runner.assess.plausibility import second_looks
from steplatch.runner.assess.triage import TriageDecision, triage
from steplatch.runner.core.reading_set import Phase, ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.simulator.observation import reading_line
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.safety.limits.inputs import Workshop

from tests.assess.sets import GOOD_FACTS

WORKSHOP = Workshop("level ground")


def read(vehicle: SimulatedVehicle, phase: Phase, hold_s: float) -> tuple[list[ReadingSet], float]:
    """Raised, idle, stop, zero; and the true resistance at the end, 1/m3."""
    out = []
    vehicle.raise_revs()
    vehicle.advance(hold_s)
    for condition, settle in (("raised", 0.0), ("idle", 60.0)):
        if condition == "idle":
            vehicle.set_idle()
        vehicle.advance(settle)
        shown = vehicle.show_mean(10)
        out.append(
            parse_set(
                reading_line(shown),
                condition,  # type: ignore[arg-type]
                phase,
                burning=shown.burning,
            )
        )
    truth = vehicle.truth().viscous_resistance_per_m3
    vehicle.stop()
    vehicle.ignition(True)
    vehicle.advance(120)
    out.append(parse_set(reading_line(vehicle.show_mean(10)), "zero", phase))
    return out, truth


def arrived(fault: str, seed: int) -> tuple[SimulatedVehicle, list[ReadingSet], float]:
    vehicle = SimulatedVehicle(seed, fault)
    vehicle.start()
    vehicle.advance(600)
    return vehicle, *read(vehicle, "before", 300)


def triaged(fault: str, seed: int = 3) -> tuple[TriageDecision, list[str]]:
    vehicle, before, _ = arrived(fault, seed)
    facts = GOOD_FACTS | {"codes": list(vehicle.show().codes)}
    asked: list[str] = []
    for i, one in enumerate(before):
        asked += second_looks(one, vehicle.vehicle, WORKSHOP, before[:i])
    return triage(before, vehicle.vehicle, WORKSHOP, facts), asked


def cleaned(fault: str, seed: int, hold_s: float = 1500) -> tuple[Verdict, float]:
    vehicle, before, was = arrived(fault, seed)
    vehicle.start()
    vehicle.advance(120)
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.spray_volume(280)
    vehicle.advance(30)
    vehicle.uncouple_gun()
    vehicle.clear_line()
    vehicle.hose_on()
    after, _ = read(vehicle, "after", hold_s)
    vehicle.start()
    road, now = read(vehicle, "road", 900)
    facts = GOOD_FACTS | {"codes": []}
    got = judge(before, after, road, vehicle.vehicle, WORKSHOP, facts)
    return got, 100 * (1 - now / was)


@pytest.mark.parametrize(
    ("fault", "decision"),
    [
        ("none", "go"),
        ("hard-soot", "go"),
        ("coarse-sensor", "go_with_warning"),  # less is known, so it stands near the band's limit
        ("no-air-flow", "go_with_warning"),
        ("no-raised-speed", "go_with_warning"),
        ("recirculation-stuck-open", "go_with_warning"),
        ("ash-laden", "go_with_warning"),
        ("nothing-to-clean", "nothing_to_clean"),
        ("cracked", "dont"),
        ("core-missing", "dont"),
        ("zero-error", "dont"),
        ("frozen-sensor", "dont"),
        ("hoses-swapped", "dont"),
        ("wrong-sensor", "dont"),
        ("hose-split", "dont"),
        ("hose-blocked", "dont"),
        ("cold-engine", "dont"),
    ],
)
def test_a_vehicle_that_arrives_with_a_fault_is_triaged(fault: str, decision: str) -> None:
    got, _ = triaged(fault)
    assert got.decision == decision, [r.id for r in got.reasons]


@pytest.mark.parametrize(
    ("fault", "word"),
    [
        ("zero-error", "zero"),
        ("liquid-in-hose", "liquid"),
        ("frozen-sensor", "frozen"),
        ("hoses-swapped", "swapped"),
        ("wrong-sensor", "sensor"),
    ],
)
def test_a_fault_of_the_sensing_path_is_named(fault: str, word: str) -> None:
    got, asked = triaged(fault)
    said = " ".join([*asked, *(r.text for r in got.reasons)])
    assert word in said


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_the_resistance_read_is_the_true_one_within_its_uncertainty(seed: int) -> None:
    _, before, truth = arrived("none", seed)
    got = triage(before, SimulatedVehicle(seed).vehicle, WORKSHOP, GOOD_FACTS).before
    assert got is not None
    true_mbar = truth * reference_flow() / 100
    assert abs(got.at_reference_mbar - true_mbar) < 1.96 * got.u_at_reference_mbar


@pytest.mark.parametrize(
    ("fault", "verdicts"),
    [
        ("none", {"as_expected", "improved_not_normal"}),
        ("hard-soot", {"improved_not_normal"}),
        ("ash-laden", {"improved_not_normal"}),
        ("recirculation-changes", {"as_expected", "improved_not_normal"}),
        ("no-air-flow", {"as_expected", "improved_not_normal"}),
    ],
)
def test_a_whole_clean_ends_in_a_verdict_that_holds_the_truth(
    fault: str, verdicts: set[str]
) -> None:
    got, truth = cleaned(fault, 3)
    assert got.id in verdicts, (got.row, got.told()["look_at"])
    assert got.gain is not None
    assert got.gain.low_percent < truth < got.gain.high_percent


def test_a_filter_read_wet_is_put_right_by_the_set_after_the_drive() -> None:
    got, truth = cleaned("wet-filter-slow-dry", 4, hold_s=300)
    assert got.facts["road"] == "drier"
    assert got.gain is not None and got.gain.low_percent < truth < got.gain.high_percent
    assert any("dried it further" in r for r in got.told()["reasons"])


def test_recirculation_that_changed_is_told_but_does_not_hold_up_the_verdict() -> None:
    got, _ = cleaned("recirculation-changes", 3)
    assert any("recirculation" in t for t in got.told()["look_at"])
    assert math.isfinite(got.gain.percent if got.gain else math.nan)
