"""Readings that fill themselves: over the wire they are what is typed at the same vehicle."""

from random import Random

import pytest
from steplatch.runner.assess.judge import Verdict, judge
from steplatch.runner.core.reading_set import Phase, ReadingSet
from steplatch.runner.core.typed_set import ORDER, parse_set
from steplatch.runner.live import words
from steplatch.runner.live.filling import as_log, filled, held
from steplatch.runner.live.practice_ecu import CarValues
from steplatch.runner.live.practice_server import Vehicle as ServedVehicle
from steplatch.runner.live.proving import Proof, against_gauge, at_zero, differs
from steplatch.runner.live.samples import Sample
from steplatch.safety.limits.inputs import VehicleInput, Workshop

from tests.assess.sets import GOOD_FACTS
from tests.assess.test_practice_vehicle import cleaned
from tests.live.bench import Bench

WORKSHOP = Workshop("level ground")


class ServedBench(Bench):
    """A bench with the simulated vehicle on it."""

    def __init__(self, fault: str, seed: int) -> None:
        self.served = ServedVehicle(seed, [fault], 1.0)
        self.passed_ms = 0.0
        super().__init__(seed=seed)

    @property
    def vehicle(self):  # type: ignore[no-untyped-def]
        return self.served.vehicle

    def look(self) -> CarValues:
        self.served.pass_time((self.now_ms - self.passed_ms) / 1000)
        self.passed_ms = self.now_ms
        return self.served.look()

    def read_set(self, phase: Phase, proven: bool = True) -> ReadingSet:
        """Hold it for a while and take what the vehicle says; the valve is typed."""
        self.connection.recorder.take_samples()
        self.passed_ms = self.now_ms
        self.run(46)
        samples = self.connection.recorder.take_samples()
        (condition,) = held(samples, self.vehicle.vehicle)
        found = filled(samples, self.vehicle.vehicle, condition, proven)
        assert found is not None
        shown = self.vehicle.show()
        valve = shown.recirculation if condition != "zero" else None
        line = " ".join([*(found.items.get(q, "x") for q in ORDER[:-1]), valve or "x"])
        burning = shown.burning if condition != "zero" else None
        return parse_set(line, condition, phase, burning=burning, car=frozenset(found.items))


def read_over_the_wire(bench: ServedBench, phase: Phase, hold_s: float) -> list[ReadingSet]:
    """As ``tests.assess.test_practice_vehicle.read``, with nothing typed but the valve."""
    vehicle = bench.vehicle
    vehicle.raise_revs()
    vehicle.advance(hold_s)
    out = [bench.read_set(phase)]
    vehicle.set_idle()
    vehicle.advance(60)
    out.append(bench.read_set(phase))
    vehicle.stop()
    vehicle.ignition(True)
    vehicle.advance(120)
    out.append(bench.read_set(phase))
    return out


def cleaned_over_the_wire(fault: str, seed: int, hold_s: float = 1500) -> Verdict:
    bench = ServedBench(fault, seed)
    vehicle = bench.vehicle
    vehicle.start()
    vehicle.advance(600)
    before = read_over_the_wire(bench, "before", 300)
    vehicle.start()
    vehicle.advance(120)
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.spray_volume(280)
    vehicle.advance(30)
    vehicle.uncouple_gun()
    vehicle.clear_line()
    vehicle.hose_on()
    after = read_over_the_wire(bench, "after", hold_s)
    vehicle.start()
    road = read_over_the_wire(bench, "road", 900)
    facts = GOOD_FACTS | {"codes": []}
    return judge(before, after, road, vehicle.vehicle, WORKSHOP, facts)


@pytest.mark.parametrize("fault", ["none", pytest.param("ash-laden", marks=pytest.mark.slow)])
def test_a_clean_read_over_the_wire_is_judged_as_the_typed_one(fault: str) -> None:
    """Same verdict, same facts; the gains agree within the uncertainty of the typed one."""
    seed = 4
    typed, _ = cleaned(fault, seed)
    wired = cleaned_over_the_wire(fault, seed)
    assert (wired.state, wired.row, wired.facts) == (typed.state, typed.row, typed.facts)
    assert set(wired.gains) == set(typed.gains) and typed.gains
    for phase, gain in typed.gains.items():
        stated = (gain.high_percent - gain.low_percent) / 2
        assert abs(wired.gains[phase].percent - gain.percent) < stated


def test_a_set_from_the_wire_shows_what_a_person_reads_off() -> None:
    bench = ServedBench("none", 2)
    vehicle = bench.vehicle
    vehicle.start()
    vehicle.advance(900)
    found = bench.read_set("before")
    shown = vehicle.show_mean(10)
    assert found.condition == "idle"
    assert found.pressure_pa == pytest.approx(shown.pressure_pa, abs=60)
    assert found.speed_rpm == pytest.approx(shown.speed_rpm, abs=10)
    assert found.air_kg_s == pytest.approx(shown.air_kg_s, rel=0.02)
    assert found.exhaust_k == pytest.approx(shown.exhaust_k, abs=2)
    assert found.coolant_k == pytest.approx(shown.coolant_k, abs=1)
    assert {r.source for r in found.readings} == {"car"}


def test_an_unproven_pressure_is_left_out() -> None:
    bench = ServedBench("none", 2)
    bench.vehicle.start()
    bench.vehicle.advance(900)
    found = bench.read_set("before", proven=False)
    assert found.pressure_pa is None
    assert "pressure" not in {r.quantity for r in found.readings}
    assert found.air_kg_s is not None


def idle_samples(seconds: float, rpm: float = 820.0) -> list[Sample]:
    rng = Random(3)
    out = []
    for n in range(int(seconds * 10)):
        out.append(Sample(n * 100, "delta_pa", int(2_100_000 + rng.gauss(0, 40_000))))
        out.append(Sample(n * 100, "speed_rpm", int((rpm + rng.gauss(0, 8)) * 1000)))
    return out


def test_nothing_is_filled_from_what_was_not_held_long_enough() -> None:
    vehicle = VehicleInput("any", 2e-3, 4)
    assert held(idle_samples(29), vehicle) == {}
    assert list(held(idle_samples(31), vehicle)) == ["idle"]
    assert held(idle_samples(40, 1100), vehicle) == {}, "neither idle nor raised"
    assert held([], vehicle) == {}
    assert filled(idle_samples(31), vehicle, "raised", True) is None


def test_a_set_at_zero_has_its_pressure_and_nothing_else() -> None:
    vehicle = VehicleInput("any", 2e-3, 4)
    found = filled(idle_samples(31, 0.0), vehicle, "zero", True)
    assert found is not None and list(found.items) == ["pressure"]
    unproven = filled(idle_samples(31, 0.0), vehicle, "zero", False)
    assert unproven is not None and not unproven.items


def test_a_value_that_has_stopped_coming_leaves_its_cell_empty() -> None:
    samples = [Sample(0, "air_g_s", 9000), *(Sample(n, "speed_rpm", 820_000) for n in (0, 6000))]
    air = as_log(samples).values["air"]
    assert air[0] == 0.009
    assert air[1] != air[1]


# -- proving the pressure ---------------------------------------------------------------------


def still(pa: int, from_ms: int = 10_000, to_ms: int = 21_000) -> list[Sample]:
    return [Sample(at, "delta_pa", pa * 1000) for at in range(from_ms, to_ms, 200)]


@pytest.mark.parametrize(
    ("samples", "proof"),
    [
        ([], Proof.NOT_GIVEN),
        (still(20, 0, 9000), Proof.NOT_YET),
        (still(20, 10_000, 15_000), Proof.NOT_YET),
        (still(20), Proof.ZERO_SEEN),
        (still(-400), Proof.ZERO_SEEN),
        (still(600), Proof.ZERO_OFF),
        (still(327_000), Proof.OFFSET_FORM),
        (still(-327_000), Proof.OFFSET_FORM),
    ],
)
def test_zero_is_seen_with_the_engine_stopped(samples: list[Sample], proof: Proof) -> None:
    assert at_zero(samples, 0) is proof


@pytest.mark.parametrize(
    ("shown", "gauge", "proof"),
    [
        (9600, 9500, Proof.PROVEN),
        (9600, 8000, Proof.PROVEN),
        (9600, 6500, Proof.GAUGE_DIFFERS),
        (960, 9600, Proof.TEN_OFF),
        (96_000, 9600, Proof.TEN_OFF),
        (-9600, 9600, Proof.GAUGE_DIFFERS),
        (100, 100, Proof.GAUGE_DIFFERS),
    ],
)
def test_the_own_gauge_decides(shown: int, gauge: int, proof: Proof) -> None:
    assert against_gauge(Proof.ZERO_SEEN, shown, gauge, 100) is proof


def test_a_channel_whose_zero_was_not_seen_is_never_proven() -> None:
    for zero in set(Proof) - {Proof.ZERO_SEEN}:
        assert against_gauge(zero, 9600, 9600, 100) is zero


def test_every_proof_has_words() -> None:
    assert words.ids("proof") == {proof.value for proof in Proof}


@pytest.mark.parametrize(
    ("quantity", "typed", "measured", "differ"),
    [
        ("speed", 820, 910, False),
        ("speed", 820, 930, True),
        ("speed", 2500, 2385, False),
        ("coolant", 358, 362, False),
        ("coolant", 358, 364, True),
        ("exhaust", 460, 484, False),
        ("exhaust", 460, 486, True),
        ("pressure", 2300, 2700, False),
        ("pressure", 2300, 2900, True),
        ("air", 0.0092, 0.0098, False),
        ("air", 0.0082, 0.0098, True),
    ],
)
def test_what_is_typed_and_what_is_measured_may_differ_by_so_much(
    quantity: str, typed: float, measured: float, differ: bool
) -> None:
    assert (differs(quantity, typed, measured) is not None) is differ
