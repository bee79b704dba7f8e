"""From samples to facts, trips and alarms, one rule at a time."""

from collections.abc import Iterable
from dataclasses import fields, replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steplatch.runner.live import words
from steplatch.runner.live.link import Cause, LinkState
from steplatch.runner.live.reducer import OutOfOrder, feed
from steplatch.runner.live.samples import Happening, Input, Kind, LinkChange, Now, Said, Sample
from steplatch.runner.live.witness import Witness, milli_of, quality
from steplatch.safety.acts import Act
from steplatch.safety.facts import Engine
from steplatch.safety.measured import STATES
from steplatch.safety.occurrences import Happening as SafetyHappening

from tests.live.fed import feed_all
from tests.live.stated_times import STATED_MS

AWAKE = LinkChange(0, LinkState.AWAKE, Cause.ANSWERS)
IDLING = Said(
    0,
    engine="idling",
    ceiling_rpm=2500,
    raised_lower_rpm=2250,
    raised_upper_rpm=2400,
    idle_rpm=820,
)
STOPPED = replace(IDLING, engine="stopped")


def speeds(values: Iterable[float], from_ms: int = 0, every_ms: int = 100) -> list[Sample]:
    return [
        Sample(from_ms + n * every_ms, "speed_rpm", int(value * 1000))
        for n, value in enumerate(values)
    ]


def idle(seconds: float, from_ms: int = 0, rpm: float = 820, seed: int = 1) -> list[Sample]:
    rng = Random(seed)
    return speeds((rpm + rng.gauss(0, 8) for _ in range(int(seconds * 10))), from_ms)


def told(items: list[Input], kind: Kind | None = None) -> list[str]:
    happened = feed_all(items)[1]
    return [h.what for h in happened if kind is None or h.kind is kind]


def bad(items: list[Input]) -> list[str]:
    return [h.what for h in feed_all(items)[1] if h.kind in (Kind.TRIP, Kind.ALARM)]


def end(items: list[Input]) -> Witness:
    return feed_all(items)[0]


# -- facts ------------------------------------------------------------------------------------


def test_two_samples_apart_make_it_run() -> None:
    assert end([AWAKE, IDLING, *speeds([820])]).engine == "turning"
    assert end([AWAKE, IDLING, *speeds([820, 820])]).engine == "turning"
    assert end([AWAKE, IDLING, *speeds([820, 820, 820])]).engine == "running"


def test_it_stays_running_until_it_falls_under_250() -> None:
    assert end([AWAKE, IDLING, *idle(1), *speeds([300, 260], 1000)]).engine == "running"
    assert end([AWAKE, IDLING, *idle(1), *speeds([249], 1000)]).engine == "turning"


def test_two_seconds_of_answered_zeros_make_it_stopped() -> None:
    assert end([AWAKE, STOPPED, *speeds([0] * 20)]).engine == "unknown"
    assert end([AWAKE, STOPPED, *speeds([0] * 21)]).engine == "stopped"


def test_silence_is_unknown_and_never_stopped() -> None:
    items = [AWAKE, STOPPED, *speeds([0] * 30)]
    assert end([*items, Now(4000)]).engine == "stopped"
    assert end([*items, Now(60_000)]).engine == "unknown"
    asleep = LinkChange(3000, LinkState.ASLEEP, Cause.FELL_SILENT)
    assert end([*items, asleep]).engine == "unknown"
    running = [AWAKE, IDLING, *idle(3), replace(asleep)]
    assert end(running).engine == "unknown"
    assert bad(running) == []


def test_a_band_is_a_fact_after_two_seconds() -> None:
    raise_permit = replace(IDLING, at_ms=3000, permits=frozenset({"raise"}))
    items = [AWAKE, IDLING, *idle(3), raise_permit, *speeds([2300] * 19, 3000)]
    assert end(items).band == "idle"
    assert end([*items, *speeds([2300] * 2, 4900)]).band == "raised"
    assert end([*items, *speeds([2450] * 30, 4900)]).band == "other"


# -- trips ------------------------------------------------------------------------------------


def test_over_the_ceiling_twice_by_a_little_or_once_by_much() -> None:
    permit = replace(IDLING, permits=frozenset({"raise"}))
    base = [AWAKE, permit, *idle(1)]
    assert bad([*base, *speeds([2549, 2551, 2549, 2551], 1000)]) == []
    assert bad([*base, *speeds([2551, 2551], 1000)]) == ["over_ceiling"]
    assert bad([*base, *speeds([2750], 1000)]) == []
    assert bad([*base, *speeds([2751], 1000)]) == ["over_ceiling"]


def test_a_trip_comes_once_and_again_after_it_was_over() -> None:
    permit = replace(IDLING, permits=frozenset({"raise"}))
    high, low = [2800] * 5, [2300] * 5
    items = [AWAKE, permit, *idle(1), *speeds(high + low + high, 1000)]
    assert bad(items) == ["over_ceiling", "over_ceiling"]


def test_the_ceiling_is_for_the_bay_and_not_for_the_road() -> None:
    road = replace(IDLING, engine="road")
    assert bad([AWAKE, road, *idle(1), *speeds([3000] * 5, 1000)]) == []
    test = replace(IDLING, permits=frozenset({"road_test"}))
    assert bad([AWAKE, test, *idle(1), *speeds([3000] * 5, 1000)]) == []


def test_an_engine_that_falls_without_a_permit_to_stop_has_stalled() -> None:
    items = [AWAKE, IDLING, *idle(1), *speeds([100], 1000)]
    assert bad(items) == ["stalled"]
    permit = replace(IDLING, permits=frozenset({"stop_engine"}))
    assert bad([AWAKE, permit, *idle(1), *speeds([100, 0, 0], 1000)]) == []
    said = replace(STOPPED, at_ms=1000)
    assert bad([AWAKE, IDLING, *idle(1), said, *speeds([100, 0, 0], 1000)]) == []


def test_said_to_run_and_measured_at_a_standstill_has_stalled() -> None:
    """The link came up after it had happened."""
    assert bad([AWAKE, IDLING, *speeds([0] * 21)]) == ["stalled"]


def test_a_start_without_a_permit_trips_at_the_first_sample() -> None:
    items = [AWAKE, STOPPED, *speeds([0] * 30)]
    assert bad([*items, *speeds([500], 3000)]) == ["self_started"]
    permit = replace(STOPPED, at_ms=2900, permits=frozenset({"start"}))
    running = replace(IDLING, at_ms=6000)
    assert bad([*items, permit, *speeds([200, 500, 820], 3000), running, *idle(9, 6000)]) == []


def test_a_permit_that_lapses_with_the_engine_running_makes_no_trip() -> None:
    permit = replace(STOPPED, at_ms=2900, permits=frozenset({"start"}))
    lapsed = replace(STOPPED, at_ms=5000)
    items = [AWAKE, STOPPED, *speeds([0] * 30), permit, *idle(2, 3000), lapsed, *idle(3, 5000)]
    assert bad(items) == []


def test_said_to_have_started_before_the_vehicle_shows_it_makes_no_trip() -> None:
    permit = replace(STOPPED, at_ms=2900, permits=frozenset({"start"}))
    said = replace(IDLING, at_ms=3500)
    items = [AWAKE, STOPPED, *speeds([0] * 30), permit, said, *idle(3, 4000)]
    assert bad(items) == []


def test_a_restart_after_a_stop_start_stop_is_a_start_by_itself() -> None:
    items = [AWAKE, IDLING, *idle(2), *speeds([0] * 30, 2000), *speeds([820] * 5, 5000)]
    assert bad(items) == ["stalled", "self_started"]


def test_said_to_stand_still_while_it_runs_trips_after_the_grace() -> None:
    said = replace(STOPPED, at_ms=2000)
    items = [AWAKE, IDLING, *idle(2), said, *idle(1.4, 2000)]
    assert bad(items) == []
    assert bad([*items, *idle(1, 3500)]) == ["self_started"]


def test_turning_without_a_permit_is_an_alarm() -> None:
    items = [AWAKE, STOPPED, *speeds([0] * 30)]
    assert bad([*items, *speeds([180], 3000)]) == ["turning"]
    by_hand = replace(STOPPED, at_ms=2950, permits=frozenset({"hand_turn"}))
    assert bad([*items, by_hand, *speeds([20], 3000)]) == []


def test_one_sample_of_the_flag_says_that_it_burns() -> None:
    items = [AWAKE, IDLING, *idle(1), Sample(1000, "burning", 1000)]
    assert bad(items) == ["regenerating"]
    assert end(items).burning == "yes"


def test_the_flag_must_be_clear_for_a_minute_before_it_says_no() -> None:
    clear = [Sample(n * 1000, "burning", 0) for n in range(61)]
    assert end([AWAKE, IDLING, *clear[:60]]).burning == "unknown"
    assert end([AWAKE, IDLING, *clear]).burning == "no"


def test_a_hot_inlet_keeps_a_clear_flag_from_saying_no() -> None:
    said = replace(IDLING, burn_limit_degc=450)
    items: list[Input] = [AWAKE, said]
    for n in range(70):
        items.append(Sample(n * 1000, "filter_in_degc", 520_000))
        items.append(Sample(n * 1000, "burning", 0))
    assert end(items).burning == "unknown"


# -- alarms -----------------------------------------------------------------------------------


def gun_open(at_ms: int) -> Said:
    return replace(IDLING, at_ms=at_ms, gun_open=True, permits=frozenset({"spray_running"}))


def test_a_sag_is_told_once_it_is_armed() -> None:
    base = [AWAKE, IDLING, *idle(12), gun_open(12_000), *idle(1, 12_000, seed=2)]
    assert bad(base) == ["sag_armed"]
    assert bad([*base, *speeds([700, 700], 13_000)]) == ["sag_armed", "sag"]
    assert bad([*base, *speeds([700, 800, 700], 13_000)]) == ["sag_armed", "sag"]
    assert bad([*base, *speeds([700, 800, 800, 700], 13_000)]) == ["sag_armed"]
    assert bad([*base, *speeds([600], 13_000)]) == ["sag_armed", "sag"]
    shut = replace(IDLING, at_ms=13_000)
    assert bad([*base, shut, *speeds([600, 600], 13_000)]) == ["sag_armed"], "the gun is shut"


def test_the_sag_alarm_is_off_where_the_vehicle_reports_too_slowly() -> None:
    rng = Random(5)
    slow = [v for _ in range(20) for v in [820 + rng.gauss(0, 8)] * 10]
    items = [AWAKE, IDLING, *speeds(slow), gun_open(20_000)]
    happened = feed_all(items)[1][-1]
    assert happened.what == "sag_ears_only"
    assert ("reason", "too_slow") in happened.numbers
    assert ("refresh_ms", 1000) in happened.numbers
    assert "sag" not in bad([*items, *speeds([600, 600, 600], 20_100)]), "ears only"


def test_the_sag_alarm_is_off_where_the_refresh_is_not_measured_or_the_idle_uneven() -> None:
    for samples, reason in (
        (idle(0.5), "refresh_unknown"),
        (speeds([820] * 120), "frozen"),
        (speeds([760, 880] * 60), "idle_uneven"),
    ):
        at = samples[-1].at_ms
        items = [AWAKE, IDLING, *samples, gun_open(at)]
        happened = [h for h in feed_all(items)[1] if h.what == "sag_ears_only"]
        found = dict(happened[0].numbers)["reason"]
        assert found == ("no_speed" if reason == "frozen" else reason)


def test_losing_the_link_with_the_gun_open_is_an_alarm() -> None:
    base = [AWAKE, IDLING, *idle(12), gun_open(12_000)]
    gone = LinkChange(12_500, LinkState.GONE, Cause.ADAPTER_LOST)
    assert bad([*base, gone]) == ["sag_armed", "link_lost"]
    assert bad([*base, Now(12_500)]) == ["sag_armed"]
    assert bad([*base, Now(12_800)]) == ["sag_armed", "link_lost"]
    shut = replace(IDLING, at_ms=12_100)
    assert bad([*base, shut, replace(gone)]) == ["sag_armed"]


def test_opening_the_gun_without_a_link_says_ears_only() -> None:
    asleep = LinkChange(0, LinkState.ASLEEP, Cause.FELL_SILENT)
    assert bad([asleep, IDLING, gun_open(1000)]) == ["sag_ears_only", "link_lost"]
    assert bad([IDLING, gun_open(1000)]) == [], "nobody asked for a link"


def test_revs_that_climb_by_themselves_are_an_alarm() -> None:
    climb = [820 + 100 * n for n in range(12)]
    assert bad([AWAKE, IDLING, *idle(2), *speeds(climb, 2000)]) == ["climbing"]
    permit = replace(IDLING, permits=frozenset({"raise"}))
    assert bad([AWAKE, permit, *idle(2), *speeds(climb, 2000)]) == []
    pedal = Sample(1900, "pedal_percent", 30_000)
    assert bad([AWAKE, IDLING, *idle(1.9), pedal, *speeds(climb, 2000)]) == []


def test_rolling_in_the_bay_is_an_alarm() -> None:
    one, two = Sample(0, "road_km_h", 3000), Sample(500, "road_km_h", 3000)
    assert bad([AWAKE, IDLING, one]) == []
    assert bad([AWAKE, IDLING, one, two]) == ["moving"]
    assert bad([AWAKE, replace(IDLING, engine="road"), one, two]) == []


def test_battery_and_alternator() -> None:
    volts = [Sample(2500 + n * 500, "module_v", 11_800) for n in range(11)]
    assert bad([AWAKE, STOPPED, *speeds([0] * 25), *_merge(volts, speeds([0] * 51, 2500))]) == [
        "battery_low"
    ]
    good = [Sample(n * 500, "module_v", 14_100 + n) for n in range(11)]
    assert end([AWAKE, IDLING, *good]).charging == "yes"
    assert end([AWAKE, IDLING, *good[:10]]).charging == "unknown"
    assert end([AWAKE, IDLING, *good, Sample(6000, "module_v", 12_400)]).charging == "no"


def _merge(*lists: list[Sample]) -> list[Sample]:
    return sorted((s for one in lists for s in one), key=lambda s: s.at_ms)


def test_codes_that_were_just_cleared_show() -> None:
    names = ("cleared_km", "warm_ups", "cleared_min", "code_count")
    items = [AWAKE, *(Sample(0, name, 0) for name in names)]
    assert end(items[:-1]).codes_cleared == "unknown"
    assert end(items).codes_cleared == "yes"
    assert end([*items, Sample(10, "warm_ups", 1000)]).codes_cleared == "no"


# -- what is not used -------------------------------------------------------------------------


def test_a_value_that_cannot_be_is_not_used_and_is_told_once() -> None:
    odd = [Sample(1000 + n * 100, "speed_rpm", 16_383_750, good=False) for n in range(5)]
    items = [AWAKE, IDLING, *idle(1), *odd]
    assert told(items, Kind.TRIP) == []
    assert told(items, Kind.CHANNEL) == ["out_of_range"]
    assert end(items).engine == "unknown"


def test_a_speed_that_never_moves_is_no_measurement() -> None:
    items = [AWAKE, IDLING, *speeds([820] * 110)]
    assert told(items, Kind.CHANNEL) == ["frozen"]
    assert end(items).engine == "unknown"
    assert quality(end(items), "speed_rpm", 10_900) == "frozen"
    assert end([*items, *idle(1, 11_000)]).engine == "running", "it moves again"


def test_a_standstill_is_no_frozen_value() -> None:
    assert told([AWAKE, STOPPED, *speeds([0] * 300)], Kind.CHANNEL) == []


def test_a_pressure_that_stays_while_the_revs_move_is_frozen() -> None:
    pressure = [Sample(n * 500, "delta_pa", 2_310_000) for n in range(40)]
    still = [AWAKE, IDLING, *_merge(pressure, idle(20))]
    assert told(still, Kind.CHANNEL) == []
    permit = replace(IDLING, permits=frozenset({"raise"}))
    moving = speeds([820 + 10 * n for n in range(150)] + [2300] * 50)
    assert told([AWAKE, permit, *_merge(pressure, moving)], Kind.CHANNEL) == ["frozen"]


def test_a_speed_of_zero_while_the_run_time_counts_is_dead() -> None:
    items: list[Input] = [AWAKE, IDLING]
    for n in range(19):
        items.append(Sample(n * 200, "speed_rpm", 0))
        items.append(Sample(n * 200, "run_time_s", 100_000 + n * 200 // 1000 * 1000))
    found = feed_all(items)
    assert [h.what for h in found[1] if h.kind is Kind.CHANNEL] == ["dead"]
    assert found[0].engine == "unknown"
    assert [h.what for h in found[1] if h.kind is Kind.TRIP] == []


def test_a_run_time_that_stays_beside_a_speed_of_zero_lets_it_have_stalled() -> None:
    items: list[Input] = [AWAKE, IDLING]
    for n in range(30):
        items.append(Sample(n * 200, "speed_rpm", 0))
        items.append(Sample(n * 200, "run_time_s", 412_000))
    found = [h for h in feed_all(items)[1] if h.kind is Kind.TRIP]
    assert [h.what for h in found] == ["stalled"] and found[0].at_ms <= 3000


def test_a_frozen_run_time_after_a_stall_does_not_make_zero_dead() -> None:
    items: list[Input] = [AWAKE, STOPPED]
    for n in range(60):
        items.append(Sample(n * 100, "speed_rpm", 0))
        items.append(Sample(n * 100, "run_time_s", 412_000))
    assert end(items).engine == "stopped"


def test_what_a_person_has_set_aside_trips_nothing() -> None:
    aside = replace(IDLING, set_aside=frozenset({"speed_rpm"}))
    items = [AWAKE, aside, *speeds([3280] * 50)]
    assert bad(items) == []
    assert end(items).engine == "unknown"
    assert quality(end(items), "speed_rpm", 4900) == "set_aside"


def test_an_old_value_says_nothing() -> None:
    state = end([AWAKE, IDLING, Sample(0, "filter_in_degc", 210_000)])
    assert milli_of(state, "filter_in_degc", 3000) == 210_000
    assert milli_of(state, "filter_in_degc", 3001) is None
    assert quality(state, "filter_in_degc", 3001) == "old"
    assert quality(state, "oil_degc", 0) == "none"


# -- what a job takes of it -------------------------------------------------------------------


def test_the_facts_that_a_job_compares_have_the_states_that_it_knows() -> None:
    """``steplatch.safety.measured`` says what contradicts what; the words are these."""
    stands = [Sample(at, "road_km_h", 0) for at in range(0, 1000, 200)]
    rolls = [Sample(at, "road_km_h", 3000) for at in range(1000, 2000, 200)]
    burns = [Sample(2000, "burning", 1000)]
    items = [AWAKE, IDLING, *stands, *rolls, *burns]
    told = [h for h in feed_all(items)[1] if h.kind is Kind.FACT and h.what in STATES]
    assert [(h.what, dict(h.numbers)["is"]) for h in told] == [
        ("moving", "no"), ("moving", "yes"), ("burning", "yes"),
    ]  # fmt: skip
    for h in told:
        assert dict(h.numbers)["is"] in STATES[h.what]
    for fact in STATES:
        assert getattr(Witness(), fact) == "unknown"


def test_rolling_that_is_not_heard_of_any_more_is_unknown() -> None:
    rolls = [Sample(at, "road_km_h", 3000) for at in range(0, 1000, 200)]
    assert end([AWAKE, IDLING, *rolls, Now(2700)]).moving == "yes"
    assert end([AWAKE, IDLING, *rolls, Now(3000)]).moving == "unknown"
    out = replace(IDLING, at_ms=1000, engine="road")
    assert end([AWAKE, IDLING, *rolls, out, Sample(1100, "road_km_h", 50_000)]).moving == "unknown"


# -- the form of what comes out ---------------------------------------------------------------


def test_the_ids_are_those_of_the_safety_side_and_have_words() -> None:
    known = {h.value for h in SafetyHappening}
    assert {"over_ceiling", "stalled", "self_started"} <= known
    assert {e.value for e in Engine} == {"unknown", "stopped", "idling", "raised", "road"}
    acts = {a.value for a in Act}
    assert {"start", "stop_engine", "raise", "hand_turn", "road_test", "spray_running"} <= acts
    assert set(STATED_MS) <= words.ids("happening")


def random_items(seed: int, length: int = 250) -> list[Input]:
    rng = Random(seed)
    at, items = 0, []
    states = [LinkChange(0, s, c) for s, c in ((LinkState.AWAKE, Cause.ANSWERS),)]
    for _ in range(length):
        at += rng.choice((0, 10, 50, 100, 100, 100, 300, 2500))
        draw = rng.random()
        item: Input
        if draw < 0.7:
            value = rng.choice((0, 0, 180, 820, 830, 815, 2300, 2600, 9000)) * 1000
            item = Sample(at, "speed_rpm", value, good=value < 8_000_000)
        elif draw < 0.85:
            channel = rng.choice(
                ("burning", "module_v", "road_km_h", "run_time_s", "delta_pa", "pedal_percent")
            )
            item = Sample(at, channel, rng.choice((0, 1000, 11_500, 14_000)))
        elif draw < 0.95:
            item = replace(
                IDLING,
                at_ms=at,
                engine=rng.choice(("unknown", "stopped", "idling", "raised")),
                gun_open=rng.random() < 0.3,
                permits=frozenset(rng.sample(("start", "raise", "stop_engine"), rng.randint(0, 2))),
            )
        else:
            cause = rng.choice((Cause.ANSWERS, Cause.ANSWERS, Cause.FELL_SILENT, Cause.KEY_BOXED))
            state = {"answers": LinkState.AWAKE, "fell_silent": LinkState.ASLEEP}.get(
                cause.value, LinkState.OFF
            )
            item = LinkChange(at, state, cause)
        items.append(item)
    return [*states, *items]


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_the_same_items_give_the_same_happenings_however_often_time_is_looked_at(
    seed: int, other: int
) -> None:
    items = random_items(seed)
    rng = Random(other)
    watched: list[Input] = []
    for item in items:
        earlier = watched[-1].at_ms if watched else 0
        for at in sorted(rng.randint(earlier, item.at_ms) for _ in range(rng.randint(0, 3))):
            watched.append(Now(at))
        watched.append(item)
    assert feed_all(items)[1] == feed_all(watched)[1]


def test_nothing_that_comes_out_is_a_float_or_a_sentence() -> None:
    seen: set[str] = set()
    for seed in range(25):
        for happening in feed_all(random_items(seed))[1]:
            seen.add(happening.what)
            assert happening.from_ms <= happening.at_ms
            for name, value in happening.plain().items():
                assert type(value) in (int, str), name
                assert " " not in str(value)
            assert happening.what in words.ids("happening")
            for name, value in happening.numbers:
                if name == "reason":
                    assert value in words.ids("reason")
    assert len(seen) > 8


def test_an_item_from_the_past_is_refused() -> None:
    with pytest.raises(OutOfOrder):
        feed_all([Now(100), Now(99)])


def test_a_witness_is_frozen() -> None:
    before = end([AWAKE, IDLING, *idle(2)])
    kept = {f.name: getattr(before, f.name) for f in fields(before)}
    feed(before, Sample(3000, "speed_rpm", 0))
    assert kept == {f.name: getattr(before, f.name) for f in fields(before)}
    assert isinstance(feed(before, Now(2500))[1], list)
    assert Happening(1, Kind.FACT, "engine") == Happening(1, Kind.FACT, "engine")


def test_a_zero_on_its_way_from_before_the_start_is_no_stall() -> None:
    """Answers come late, and the run time is not given: said to run, the next sample is still 0."""
    base = [AWAKE, replace(IDLING, engine="stopped"), *speeds([0] * 60, 100)]
    start = replace(IDLING, at_ms=6200, engine="stopped", permits=frozenset({"start"}))
    runs = replace(IDLING, at_ms=6300)
    late = [*base, start, runs, *speeds([0] * 3, 6400), *speeds([820] * 30, 6700)]
    assert bad(late) == []
    stays = [*base, start, runs, *speeds([0] * 40, 6400)]
    assert bad(stays) == ["stalled"], "one that goes on standing is told"
