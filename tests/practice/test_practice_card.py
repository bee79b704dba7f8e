"""The practice card shows the vehicle as it stands; a wrong act shows at the instruments."""

import pytest
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.simulator.faults import FAULTS
from steplatch.runner.simulator.hand import Hand
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.card import PracticeCard
from steplatch.runner.training.lesson import load_lesson
from steplatch.safety.bay import Act

LESSON = {"core": "no_sign", "ash": "low", "line-test-blow": "ok", "customer-name": "Example"}


def card_with(fault: str) -> tuple[PracticeCard, SimulatedVehicle]:
    vehicle = SimulatedVehicle(7, fault)
    return PracticeCard(vehicle, LESSON), vehicle


@pytest.mark.parametrize(
    ("fault", "step", "says"),
    [
        ("none", "core", "no_sign"),
        ("cracked", "core", "outlet_soot"),
        ("core-missing", "core", "missing"),
        ("none", "ash", "low"),
        ("ash-laden", "ash", "high"),
        ("none", "codes-stored", "P2463"),
        ("frozen-sensor", "codes-stored", "P2453"),
        ("nothing-to-clean", "soot-model", "low"),
        ("none", "soot-model", "high"),
        ("cracked", "customer-name", "Example"),
    ],
)
def test_a_fault_shows_on_the_card_whatever_the_lesson_says(
    fault: str, step: str, says: str
) -> None:
    card, _ = card_with(fault)
    assert card[step] == says


@pytest.mark.parametrize(
    ("fault", "says"),
    [("none", "ok"), ("hose-split", "split"), ("hose-blocked", "blocked"),
     ("hoses-swapped", "swapped")],
)  # fmt: skip
def test_the_line_test_is_blown_at_the_vehicle(fault: str, says: str) -> None:
    card, vehicle = card_with(fault)
    vehicle.hose_off()
    assert card["line-test-blow"] == says


def test_a_line_test_with_the_sensor_on_breaks_the_sensor_and_the_readings_show_it() -> None:
    card, vehicle = card_with("none")
    vehicle.ignition(True)
    before = vehicle.show_mean().pressure_pa
    assert card["line-test-blow"] == "not_done"
    after = vehicle.show_mean().pressure_pa
    assert before is not None and after is not None and after - before > 500.0


@pytest.mark.parametrize(
    ("fault", "says"), [("none", "rose"), ("hoses-swapped", "not_risen"),
                        ("frozen-sensor", "not_risen")],
)  # fmt: skip
def test_whether_the_pressure_rises_is_seen_at_the_vehicle_and_the_revs_stay(
    fault: str, says: str
) -> None:
    card, vehicle = card_with(fault)
    vehicle.start()
    vehicle.raise_revs(2400.0)
    vehicle.advance(60.0)
    before = vehicle.truth()
    assert card["hold-rises"] == says
    assert vehicle.truth() == before


def test_a_reading_with_the_hose_off_shows_no_pressure() -> None:
    vehicle = SimulatedVehicle(7, "none")
    hand = Hand(vehicle, 2200, 2600)
    hand.perform(Act.START)
    hand.perform(Act.RAISE)
    right = float(hand.reading().answer.split()[0])
    hand.perform(Act.TAKE_HOSE_OFF)
    vehicle.advance(30.0)
    assert right > 40.0 and abs(float(hand.reading().answer.split()[0])) < 5.0


def test_an_idle_set_read_at_raised_revs_shows_it() -> None:
    hand = Hand(SimulatedVehicle(7, "none"), 2200, 2600)
    hand.perform(Act.START)
    hand.perform(Act.RAISE)
    assert float(hand.reading().answer.split()[1]) > 2000.0
    hand.lower()
    assert float(hand.reading().answer.split()[1]) < 900.0


def test_the_like_sensor_is_taken_after_the_first_was_not_the_filters() -> None:
    hand = Hand(SimulatedVehicle(7, "wrong-sensor"), 2200, 2600)
    assert hand.look("sensor").answer == "alike"
    again = hand.look("sensor")
    assert again.answer == "proven" and "other of the two" in again.words


def test_every_fault_says_what_it_teaches_in_one_line() -> None:
    assert len(FAULTS) >= 14
    for fault in FAULTS.values():
        assert 10 < len(fault.teaches) <= 70 and fault.teaches.endswith("."), fault.name


def test_a_burn_that_breaks_off_is_watched_begins_and_leaves_most_of_the_soot() -> None:
    card, vehicle = card_with("burn-breaks-off")
    vehicle.ignition(True)
    vehicle.start()
    assert card["begun"].startswith("after ")
    assert int(card["hottest"].split(" ")[0]) > 450
    over = card["over"]
    assert int(over.split(";")[1].split(" %")[0]) > 70, over
    assert vehicle.show().burning is False


def test_without_a_burn_the_card_says_that_none_began() -> None:
    card, vehicle = card_with("none")
    vehicle.ignition(True)
    vehicle.start()
    assert card["begun"].startswith("none")


def test_thinned_oil_is_seen_once_and_is_changed_as_the_step_says() -> None:
    vehicle = SimulatedVehicle(7, "oil-thinned")
    hand = Hand(vehicle, 2300.0, 2500.0)
    assert hand.look("oil", ("ok", "low", "thinned")).answer == "thinned"
    assert [hand.look("oil", ("ok", "low")).answer for _ in range(2)] == ["thinned", "ok"]


@pytest.mark.parametrize(
    ("lesson", "steps"),
    [
        ("extraction-gaps", ("smoke",)),
        ("holds-little", ("pour-1", "back-1", "back-2", "back-3")),
        ("petrol-melted", ("core",)),
    ],
)
def test_what_a_lesson_answers_is_what_its_fault_shows(lesson: str, steps: tuple[str, ...]) -> None:
    plain = load_lesson(EXAMPLES / "lessons" / f"{lesson}.yaml")
    card = PracticeCard(SimulatedVehicle(plain.seed, plain.faults), {})
    assert {step: plain.answers[step] for step in steps} == {step: card[step] for step in steps}


def test_the_tailpipe_spits_while_water_is_in_the_filter() -> None:
    card, vehicle = card_with("none")
    assert card["tailpipe"] == "dry"
    for act in (lambda: vehicle.fill_gun(200.0), vehicle.hose_off, vehicle.couple_gun):
        act()
    vehicle.spray(20.0)
    assert card["tailpipe"] == "wet"
