"""Where the fluid goes on the practice vehicle, and what a start does with it in a cylinder."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steplatch.runner.simulator.observation import NoticedKind, Truth
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.safety.physics.cylinder import peak_pressure_ratio


def ready(seed: int = 1, fault: str = "none", ml: float = 300.0) -> SimulatedVehicle:
    """Cool, engine off, gun filled and on the open hose."""
    vehicle = SimulatedVehicle(seed, fault)
    vehicle.advance(2400.0)
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.fill_gun(ml)
    return vehicle


def idling(seed: int = 1, fault: str = "none", ml: float = 300.0) -> SimulatedVehicle:
    vehicle = ready(seed, fault, ml)
    vehicle.start()
    vehicle.advance(120.0)
    return vehicle


def accounted_ml(truth: Truth) -> float:
    """All fluid, wherever it is now."""
    inside = sum(truth.cylinder_ml) + truth.filter_ml + truth.pipe_ml + truth.hose_ml
    return inside + truth.beyond_ml + truth.gun_ml + truth.evaporated_ml + truth.outside_ml


@pytest.mark.parametrize("seed", range(8))
def test_eight_seconds_at_four_millilitres_start_evenly_after_the_soak(seed: int) -> None:
    vehicle = ready(seed)
    vehicle.spray(8.0)
    vehicle.advance(300.0)
    truth = vehicle.truth()
    assert 0.0 < max(truth.cylinder_ml) < 0.5 * truth.clearance_ml
    assert vehicle.hand_turn().sign is NoticedKind.EVEN
    assert vehicle.start().sign in (NoticedKind.STARTED, NoticedKind.STARTED_UNEVEN)
    assert not vehicle.truth().damaged


@pytest.mark.parametrize("fault", ["overdose-held-by-pipe", "dry-soot-repels"])
def test_sixty_millilitres_that_run_back_lock_the_engine(fault: str) -> None:
    vehicle = ready(1, fault)
    vehicle.empty_gun()
    vehicle.spray_volume(60.0)
    vehicle.advance(600.0)
    truth = vehicle.truth()
    assert max(truth.cylinder_ml) > truth.clearance_ml
    assert sum(ml > 0.0 for ml in truth.cylinder_ml) == 1
    assert vehicle.hand_turn().sign is NoticedKind.SOLID_STOP
    assert vehicle.look_into_port().sign is NoticedKind.WET
    assert vehicle.start().sign is NoticedKind.SOLID_STOP
    after = vehicle.truth()
    assert after.damaged and not after.running and math.isinf(after.peak_ratio)
    assert after.mishaps[-1].kind == "hydraulic lock"
    assert f"{truth.clearance_ml:.0f}" in after.mishaps[-1].words


def test_a_pipe_that_holds_fluid_lets_a_longer_wait_make_it_worse() -> None:
    vehicle = ready(1, "overdose-held-by-pipe")
    vehicle.spray(12.0)
    vehicle.advance(60.0)
    early = max(vehicle.truth().cylinder_ml)
    vehicle.advance(600.0)
    assert max(vehicle.truth().cylinder_ml) > 2.0 * early


def test_half_full_cranks_slowly_and_records_the_pressure_it_would_have_reached() -> None:
    vehicle = ready(1, "dry-soot-repels")
    vehicle.empty_gun()
    vehicle.spray_volume(36.0)
    vehicle.advance(600.0)
    truth = vehicle.truth()
    share = max(truth.cylinder_ml) / truth.clearance_ml
    assert 0.5 < share < 0.85
    assert (
        vehicle.hand_turn().sign is NoticedKind.EVEN
    )  # it finds a full cylinder, not a part-full one
    assert vehicle.start().sign is NoticedKind.SLOW_UNEVEN_CRANK
    assert vehicle.truth().peak_ratio == pytest.approx(peak_pressure_ratio(16.5, share))
    assert not vehicle.truth().running


def test_the_debrief_tells_cylinder_volume_and_pressure_without_a_start() -> None:
    vehicle = ready(1, "dry-soot-repels")
    vehicle.spray(5.0)
    soon = vehicle.what_if_started()
    at_last = vehicle.what_if_started(all_run_back=True)
    assert soon.liquid_ml < at_last.liquid_ml < at_last.clearance_ml
    vehicle.advance(3600.0)
    now = vehicle.what_if_started()
    assert now.liquid_ml == pytest.approx(at_last.liquid_ml, abs=0.1)
    assert now.peak_ratio == pytest.approx(at_last.peak_ratio, rel=0.01)
    assert now.dry_ratio == pytest.approx(16.5**1.32)
    assert now.liquid_ml == vehicle.truth().cylinder_ml[now.cylinder - 1]
    assert f"cylinder {now.cylinder}, room for 32" in now.words
    assert f"{now.peak_ratio:.0f} times" in now.words
    vehicle.spray(20.0)
    assert "meets liquid" in vehicle.what_if_started(all_run_back=True).words


def test_opened_cylinders_and_a_drained_pipe_make_a_start_good_again() -> None:
    vehicle = ready(1, "dry-soot-repels")
    vehicle.spray(20.0)
    vehicle.advance(60.0)
    held = sum(vehicle.truth().cylinder_ml) + vehicle.truth().pipe_ml
    first, second = vehicle.drain_pipe(), vehicle.open_cylinders()
    assert first.volume_ml is not None and second.volume_ml is not None
    assert first.volume_ml + second.volume_ml == pytest.approx(held, abs=1.0)
    assert vehicle.look_into_port().sign is NoticedKind.DRY
    assert vehicle.start().sign is NoticedKind.STARTED
    assert not vehicle.truth().damaged


def test_the_hand_turn_brings_another_cylinder_to_the_open_valve() -> None:
    vehicle = ready(1, "dry-soot-repels")
    vehicle.spray(3.0)
    vehicle.advance(600.0)
    vehicle.hand_turn()
    vehicle.spray(3.0)
    vehicle.advance(600.0)
    assert sum(ml > 1.0 for ml in vehicle.truth().cylinder_ml) == 2


def test_a_filter_below_the_ports_lets_nothing_run_back() -> None:
    from dataclasses import replace

    from steplatch.runner.simulator.setup import PRACTICE_VEHICLE
    from steplatch.safety.limits.inputs import Height

    below = replace(PRACTICE_VEHICLE, height=Height.BELOW)
    vehicle = SimulatedVehicle(1, "dry-soot-repels", below)
    vehicle.advance(2400.0)
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.spray_volume(100.0)
    vehicle.advance(900.0)
    assert sum(vehicle.truth().cylinder_ml) == 0.0


def test_a_usual_spray_at_idle_hardly_moves_the_speed() -> None:
    seen = idling().spray(60.0)
    assert seen.sign is NoticedKind.DONE
    assert seen.lowest_rpm is not None and 740.0 < seen.lowest_rpm < 815.0


def test_a_sag_is_told_and_picks_up_again_once_the_gun_is_shut() -> None:
    vehicle = idling(1, "sags-on-spray")
    seen = vehicle.spray(60.0, shut_at_sag=True)
    assert seen.sign is NoticedKind.SAGGED and seen.seconds is not None and seen.seconds < 30.0
    assert seen.lowest_rpm is not None and 650.0 < seen.lowest_rpm < 725.0
    vehicle.advance(60.0)
    assert vehicle.show().speed_rpm == pytest.approx(820.0, abs=20.0)


def test_spraying_on_through_the_sag_stalls_and_fluid_runs_to_a_cylinder() -> None:
    vehicle = idling(1, "stalls-on-spray")
    seen = vehicle.spray(60.0)
    assert seen.sign is NoticedKind.STALLED and "stalls" in seen.words
    vehicle.advance(600.0)
    truth = vehicle.truth()
    assert not truth.running
    assert max(truth.cylinder_ml) > truth.clearance_ml
    assert vehicle.start().sign is NoticedKind.SOLID_STOP


def test_acting_on_the_sag_prevents_that_stall() -> None:
    vehicle = idling(1, "stalls-on-spray")
    for _ in range(10):
        assert vehicle.spray(30.0, shut_at_sag=True).sign is NoticedKind.SAGGED
        vehicle.advance(60.0)
    assert vehicle.truth().running and vehicle.truth().filter_ml > 50.0


def test_an_open_gun_goes_on_flowing_while_time_passes_until_it_is_taken_off() -> None:
    vehicle = idling()
    vehicle.open_gun()
    vehicle.advance(10.0)
    vehicle.uncouple_gun()
    after = vehicle.truth().gun_ml
    assert 300.0 - after == pytest.approx(10.0 * vehicle.truth().gun_rate_ml_s, rel=0.02)
    vehicle.advance(10.0)
    assert vehicle.truth().gun_ml == after


def test_fluid_into_a_hot_exhaust_with_the_engine_off_comes_back_as_steam() -> None:
    vehicle = SimulatedVehicle(1)
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.fill_gun(50.0)
    assert vehicle.spray(5.0).sign is NoticedKind.STEAM
    assert vehicle.truth().evaporated_ml > 3.0
    assert vehicle.truth().mishaps[-1].kind == "steam"


def test_the_wrong_hose_leads_the_dose_to_the_cylinders_and_not_to_the_filter() -> None:
    vehicle = ready(1, "wrong-sensor")
    vehicle.spray(8.0)
    vehicle.advance(600.0)
    assert vehicle.truth().filter_ml == 0.0
    assert max(vehicle.truth().cylinder_ml) > 20.0


def test_the_hose_keeps_liquid_after_spray_and_the_idling_engine_clears_it() -> None:
    vehicle = idling()
    vehicle.spray(20.0)
    assert vehicle.clear_line().sign is NoticedKind.NOT_POSSIBLE
    vehicle.uncouple_gun()
    assert vehicle.truth().hose_ml > 1.0
    assert vehicle.clear_line().sign is NoticedKind.WET
    assert vehicle.clear_line().sign is NoticedKind.DRY
    assert vehicle.truth().hose_ml < 0.1


def test_jug_shots_agree_within_their_spread_and_drift_shows() -> None:
    steady, drifting = SimulatedVehicle(1), SimulatedVehicle(1, "gun-rate-drift")
    for vehicle in (steady, drifting):
        vehicle.fill_gun(1000.0)
    shots = [[v.jug_shot(5.0).volume_ml or 0.0 for _ in range(6)] for v in (steady, drifting)]
    assert max(shots[0]) - min(shots[0]) <= 4.0 and 16.0 <= sum(shots[0]) / 6 <= 24.0
    assert shots[1][-1] > 1.15 * shots[1][0]


def test_fluid_left_in_the_gun_adds_to_a_loaded_volume_unless_it_is_emptied_first() -> None:
    vehicle = SimulatedVehicle(1, "gun-not-empty")
    assert vehicle.empty_gun().volume_ml == 35.0
    assert vehicle.empty_gun().sign is NoticedKind.DRY
    trusting = ready(1, "gun-not-empty", 0.0)
    trusting.spray_volume(20.0)
    truth = trusting.truth()
    assert truth.gun_ml == 0.0 and truth.filled_ml == 55.0


def test_an_uncoupled_gun_sprays_the_engine_bay() -> None:
    vehicle = SimulatedVehicle(1)
    vehicle.fill_gun(50.0)
    assert "engine bay" in vehicle.spray(5.0).words
    assert vehicle.truth().filter_ml == 0.0


def test_the_gun_does_not_go_on_while_the_sensor_is_on_the_hose() -> None:
    assert SimulatedVehicle(1).couple_gun().sign is NoticedKind.NOT_POSSIBLE
    vehicle = ready()
    assert vehicle.hose_on().sign is NoticedKind.NOT_POSSIBLE


def test_a_self_starting_engine_starts_by_itself_unless_that_is_inhibited() -> None:
    vehicle = ready(1, "self-starting")
    vehicle.ignition(True)
    assert vehicle.advance(60.0).sign is NoticedKind.SELF_STARTED
    assert vehicle.truth().running
    held = ready(1, "self-starting")
    held.inhibit_self_start()
    held.ignition(True)
    assert held.advance(60.0).sign is NoticedKind.NOTHING


def test_with_the_key_in_the_box_nothing_starts() -> None:
    vehicle = ready(1, "self-starting")
    vehicle.key_to_box()
    assert vehicle.start().sign is NoticedKind.NOT_POSSIBLE
    assert vehicle.ignition(True).sign is NoticedKind.NOT_POSSIBLE
    assert vehicle.advance(120.0).sign is NoticedKind.NOTHING


def test_an_engine_that_fires_late_stands_for_one_more_try() -> None:
    vehicle = ready(1, "fires-late")
    vehicle.spray(4.0)
    vehicle.advance(300.0)
    assert vehicle.start().sign is NoticedKind.NOT_FIRED
    assert vehicle.start().sign is NoticedKind.STARTED


def test_starting_with_the_hose_open_and_fluid_in_blows_foam() -> None:
    vehicle = ready()
    vehicle.spray(8.0)
    vehicle.uncouple_gun()
    vehicle.advance(300.0)
    vehicle.start()
    assert "foam" in {mishap.kind for mishap in vehicle.truth().mishaps}


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_times_and_volumes_that_make_no_sense_are_refused_with_a_remedy(bad: float) -> None:
    vehicle = SimulatedVehicle(1)
    for act in (vehicle.advance, vehicle.spray, vehicle.jug_shot, vehicle.fill_gun):
        with pytest.raises(ValueError, match="give a"):
            act(bad)
    with pytest.raises(ValueError, match="give a speed"):
        vehicle.raise_revs(bad)


PLAIN_ACTS = (
    "start",
    "stop",
    "set_idle",
    "raise_revs",
    "hose_off",
    "hose_on",
    "couple_gun",
    "uncouple_gun",
    "empty_gun",
    "open_gun",
    "hand_turn",
    "clear_line",
    "blow_line_test",
    "drain_pipe",
    "open_cylinders",
    "key_to_box",
    "key_from_box",
    "take_other_sensor",
)
ACTS = st.one_of(
    st.sampled_from(PLAIN_ACTS).map(lambda name: (name, ())),
    st.floats(0.0, 90.0).map(lambda s: ("advance", (s,))),
    st.floats(0.5, 25.0).map(lambda s: ("spray", (s,))),
    st.floats(0.0, 150.0).map(lambda ml: ("fill_gun", (ml,))),
    st.floats(1.0, 80.0).map(lambda ml: ("spray_volume", (ml,))),
    st.floats(0.5, 6.0).map(lambda s: ("jug_shot", (s,))),
)
FAULTS_WITH_FLUID = (
    "none",
    "hose-split",
    "hose-blocked",
    "wrong-sensor",
    "liquid-in-hose",
    "gun-not-empty",
    "stalls-on-spray",
    "overdose-held-by-pipe",
)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    fault=st.sampled_from(FAULTS_WITH_FLUID),
    coupled=st.booleans(),
    acts=st.lists(ACTS, min_size=3, max_size=14),
)
def test_no_millilitre_is_made_or_lost_whatever_is_done(
    fault: str, coupled: bool, acts: list[tuple[str, tuple[float, ...]]]
) -> None:
    vehicle = ready(3, fault, 80.0) if coupled else SimulatedVehicle(3, fault)
    for name, arguments in acts:
        getattr(vehicle, name)(*arguments)
        truth = vehicle.truth()
        assert accounted_ml(truth) == pytest.approx(truth.filled_ml, abs=1e-6)
        everywhere = (
            *truth.cylinder_ml,
            truth.filter_ml,
            truth.pipe_ml,
            truth.hose_ml,
            truth.beyond_ml,
            truth.gun_ml,
            truth.evaporated_ml,
            truth.outside_ml,
        )
        assert all(ml >= -1e-9 for ml in everywhere)
