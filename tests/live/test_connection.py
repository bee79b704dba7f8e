"""The link from end to end on a virtual clock: each fault ends in a clear word, and a kept log
says the same again."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from steplatch.runner.live import words
from steplatch.runner.live.connection import NEED_MS, Quiet
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.link import STATE_OF, Cause, Link, LinkState, Sign
from steplatch.runner.live.polling import PERIOD_MS
from steplatch.runner.live.practice_ecu import LINK_FAULTS, VIN, CarValues
from steplatch.runner.live.practice_server import Fed
from steplatch.runner.live.raw_log import replay
from steplatch.runner.live.requests import question
from steplatch.runner.live.survey import Dialect
from steplatch.runner.live.table import table
from steplatch.runner.live.witness import quality

from tests.each import each
from tests.live.bench import IDLING, Bench, idling_car

ADAPTER_FAULTS = {"garbled", "short_lines", "gone_and_back"}
"""Played by the adapter's process: see ``test_practice_process.py``."""


def car_of(bench: Bench) -> object:
    assert bench.connection.car is not None
    return bench.connection.car


ENDS: dict[str, Callable[[Bench], bool]] = {
    "asleep": lambda b: b.connection.link.cause is Cause.NEVER_ANSWERED,
    "falls_asleep": lambda b: b.connection.link.cause is Cause.FELL_SILENT,
    "gateway_first": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "gateway": lambda b: b.connection.link.cause is Cause.ONLY_TRAFFIC,
    "locked": lambda b: b.connection.link.cause is Cause.LOCKED,
    "accessory": lambda b: b.connection.link.cause is Cause.NOT_NOW,
    "two_ecus": lambda b: (
        b.connection.link.cause is Cause.ANSWERS
        and b.connection.car is not None
        and b.connection.car.engine == 0x7E8
        and [ecu for ecu, _ in b.connection.car.others] == [0x7E9]
    ),
    "slow_refresh": lambda b: (b.connection.witness.tracks["speed_rpm"].refresh_ms or 0) > 900,
    "frozen": lambda b: (
        {quality(b.connection.witness, c, int(b.now_ms)) for c in ("delta_pa", "air_g_s")}
        == {"frozen"}
    ),
    "no_pressure": lambda b: "delta_pa" not in b.connection.witness.tracks,
    "pending": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "busy": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "cut_frames": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "wrong_length": lambda b: (
        b.connection.link.cause is Cause.ANSWERS
        and "exhaust_11_degc" not in b.connection.witness.tracks
        and "filter_in_degc" in b.connection.witness.tracks
    ),
    "mirror": lambda b: quality(b.connection.witness, "speed_rpm", int(b.now_ms)) == "dead",
    "wrong_scale": lambda b: b.connection.witness.engine == "turning",
    "bitmap_lies": lambda b: "oil_degc" not in b.connection.witness.tracks,
    "one_at_a_time": lambda b: b.connection.car is not None and b.connection.car.together == 1,
    "unpadded": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "reordered": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "traffic": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "late": lambda b: b.connection.link.cause is Cause.ANSWERS,
    "only_22": lambda b: (
        b.connection.car is not None and b.connection.car.dialect is Dialect.J1979_2
    ),
    "functional_only": lambda b: b.connection.car is not None and not b.connection.car.physical,
}
GOES_ON = {
    "gateway_first", "two_ecus", "slow_refresh", "frozen", "no_pressure", "pending", "busy",
    "cut_frames", "wrong_length", "bitmap_lies", "one_at_a_time", "unpadded", "reordered",
    "traffic", "late", "only_22", "functional_only",
}  # fmt: skip
"""With these the engine still shows that it runs."""


def played(fault: str, log: Path | None = None) -> Bench:
    bench = Bench([fault], log=log)
    bench.say(IDLING)
    bench.run(12)
    if fault == "frozen":
        bench.say(replace(IDLING, permits=frozenset({"raise"})))
        bench.speed = 2300.0
        bench.run(6)
        bench.speed = 820.0
    bench.run(12)
    return bench


def test_every_fault_of_the_link_is_played_somewhere() -> None:
    assert set(ENDS) | ADAPTER_FAULTS == set(LINK_FAULTS)
    assert len(LINK_FAULTS) >= 12


@pytest.mark.parametrize("fault", ENDS)
def test_each_fault_ends_in_a_clear_word_and_its_log_says_the_same(
    fault: str, tmp_path: Path
) -> None:
    bench = played(fault, tmp_path / "raw.log")
    assert ENDS[fault](bench), (bench.connection.link, bench.connection.car)
    assert words.words("link", bench.connection.link.cause.value)
    expected = "running" if fault in GOES_ON else ("turning" if fault == "wrong_scale" else None)
    assert bench.connection.witness.engine == (expected or "unknown")
    assert bench.what("trip") == []
    bench.close_link()
    again = replay((tmp_path / "raw.log").read_bytes())
    assert again.whole and again.same_table
    assert list(again.happenings) == bench.told


def test_a_healthy_vehicle_is_surveyed_and_read() -> None:
    bench = Bench()
    bench.say(IDLING)
    bench.run(6)
    car = bench.connection.car
    assert car is not None
    assert car.dialect is Dialect.J1979 and car.physical and car.together == 6
    assert [code.text for code in car.stored or ()] == ["P2463"]
    assert car.permanent == () and car.name == "ECM -EngineControl"
    assert car.vin == VIN and VIN not in repr(car)
    witness = bench.connection.witness
    assert (witness.engine, witness.band) == ("running", "idle")
    polled = {f.channel for pid in PERIOD_MS if pid in car.pids for f in table()[pid].fields}
    assert {"speed_rpm", "delta_pa", "burning", "filter_in_degc", "exhaust_kg_h"} <= polled
    for channel in ("speed_rpm", "delta_pa", "burning", "filter_in_degc", "exhaust_kg_h"):
        assert quality(witness, channel, int(bench.now_ms)) == "good", channel
    assert bench.what("trip", "alarm") == []


def test_29_bit_vehicles_are_read_alike() -> None:
    bench = Bench(["two_ecus"], Addressing.BITS_29)
    bench.say(IDLING)
    bench.run(6)
    assert bench.connection.witness.engine == "running"
    assert {frame.identifier for _, frame in bench.sent} <= {0x18DB33F1, 0x18DA10F1, 0x18DA18F1}


def test_every_frame_that_left_is_a_question_or_flow_control(tmp_path: Path) -> None:
    for fault in ("two_ecus", "only_22", "pending", "functional_only"):
        for _, frame in played(fault).sent:
            data = frame.data
            assert len(data) == 8
            if data[0] >> 4 == 3:
                assert frame.identifier != 0x7DF
            else:
                assert question(data[1 : 1 + data[0]]) is not None


def test_not_more_than_ten_questions_a_second_from_the_first_on() -> None:
    bench = Bench()
    bench.run(25)
    asked = [at for at, f in bench.sent if f.data[0] >> 4 == 0]
    assert len(asked) > 200
    for first in range(len(asked) - 10):
        assert asked[first + 10] - asked[first] >= 900, "ten in a row within a second"


def test_a_person_can_lower_the_rate() -> None:
    bench = Bench(interval_ms=500)
    bench.run(20)
    asked = [at for at, f in bench.sent if f.data[0] >> 4 == 0]
    assert 25 < len(asked) <= 41


def test_nothing_is_asked_two_seconds_after_the_need_ended() -> None:
    bench = Bench()
    bench.run(5)
    end = bench.now_ms
    bench.run(10, need=False)
    assert max(at for at, _ in bench.sent) <= end + NEED_MS < end + 2000
    assert bench.connection.link.cause is Cause.NO_NEED
    assert "Unplug the lead" in words.words("link", "no_need")
    bench.run(5)
    assert bench.connection.link.cause is Cause.ANSWERS


@pytest.mark.parametrize(
    ("quiet", "cause"),
    [(Quiet.KEY_BOXED, Cause.KEY_BOXED), (Quiet.LEFT, Cause.LEFT), (Quiet.NO_NEED, Cause.NO_NEED)],
)
def test_boxing_the_key_or_leaving_stops_at_once(quiet: Quiet, cause: Cause) -> None:
    bench = Bench()
    bench.run(5)
    bench.connection.messages.put(quiet)
    end = bench.now_ms
    bench.run(5, need=False)
    assert max((at for at, _ in bench.sent), default=0) <= end
    assert bench.connection.link.cause is cause


def test_without_a_need_nothing_is_ever_opened_or_asked() -> None:
    bench = Bench()
    bench.run(5, need=False)
    assert bench.sent == []
    assert bench.connection.link == Link()


def test_ignition_off_in_mid_reading_is_silence_and_not_a_stop() -> None:
    bench = Bench()
    bench.say(IDLING)
    bench.run(6)
    bench.awake = False
    bench.run(3)
    assert bench.connection.link.cause is Cause.FELL_SILENT
    assert bench.connection.witness.engine == "unknown"
    assert bench.what("trip") == []
    bench.sent.clear()
    bench.run(10)
    assert len(bench.sent) <= 6, "a vehicle that sleeps is asked every two seconds"
    bench.awake = True
    bench.run(5)
    assert bench.connection.link.cause is Cause.ANSWERS
    assert bench.connection.witness.engine == "running"


def test_the_adapter_out_and_in_again() -> None:
    bench = Bench()
    bench.say(IDLING)
    bench.run(6)
    bench.say(replace(IDLING, gun_open=True))
    bench.run(0.2)
    bench.plugged = False
    bench.run(0.2)
    assert bench.connection.link.cause is Cause.ADAPTER_LOST
    assert bench.what("alarm")[-1] == "link_lost"
    bench.run(5)
    assert bench.connection.link.cause is Cause.CANNOT_OPEN
    bench.plugged = True
    bench.run(5)
    assert bench.connection.link.cause is Cause.ANSWERS


def test_an_adapter_that_never_opens_leaves_the_job_to_typing() -> None:
    bench = Bench()
    bench.plugged = False
    bench.say(IDLING)
    bench.run(5)
    assert bench.connection.link.cause is Cause.CANNOT_OPEN
    assert bench.what("trip", "alarm") == []


def test_trips_come_through_bytes_too(tmp_path: Path) -> None:
    bench = Bench(log=tmp_path / "raw.log")
    bench.say(IDLING)
    bench.run(14)
    bench.say(replace(IDLING, gun_open=True, permits=frozenset({"spray_running"})))
    bench.run(2)
    begin = bench.now_ms
    bench.speed = lambda at: max(0.0, 820.0 - (at - begin) * 0.8)
    bench.run(1.5)
    assert bench.what("trip", "alarm") == ["sag_armed", "sag", "stalled"]
    bench.say(replace(IDLING, engine="stopped"))
    bench.run(4)
    bench.speed = 820.0
    bench.run(1)
    bench.burning = True
    bench.run(3)
    assert bench.what("trip") == ["stalled", "self_started", "regenerating"]
    bench.speed = 2900.0
    bench.run(1)
    assert "over_ceiling" in bench.what("trip")
    digest = bench.close_link()
    data = (tmp_path / "raw.log").read_bytes()
    again = replay(data)
    assert digest == again.digest
    assert list(again.happenings) == bench.told


@pytest.mark.parametrize("seed", range(6))
def test_whatever_happens_to_the_link_its_log_says_the_same_again(
    seed: int, tmp_path: Path
) -> None:
    """Adapter out and in, ignition off and on, stalls, bursts, needs that end, at any moment."""
    rng = Random(seed)
    faults = rng.sample(("two_ecus", "pending", "busy", "cut_frames", "wrong_length", "late"), 2)
    bench = Bench(faults, log=tmp_path / "raw.log", seed=seed)
    for _ in range(25):
        bench.plugged = rng.random() < 0.92
        bench.awake = rng.random() < 0.92
        bench.burning = rng.random() < 0.1
        bench.speed = rng.choice((0.0, 820.0, 820.0, 820.0, 2300.0, 2900.0))
        permits = frozenset(rng.sample(("start", "raise", "stop_engine"), rng.randint(0, 2)))
        engine = rng.choice(("stopped", "idling", "raised"))
        bench.say(replace(IDLING, engine=engine, permits=permits, gun_open=rng.random() < 0.3))
        if rng.random() < 0.1:
            bench.connection.messages.put(rng.choice(list(Quiet)))
        bench.run(rng.uniform(0.05, 6), need=rng.random() < 0.9)
    digest = bench.close_link()
    again = replay((tmp_path / "raw.log").read_bytes())
    assert again.digest == digest and again.whole
    assert list(again.happenings) == bench.told
    assert again.witness.engine == "unknown"
    assert bench.told


# -- link states ------------------------------------------------------------------------------


@each("cause", list(Cause))
@each("sign", list(Sign))
@each("answered", [False, True])
def test_every_sign_leads_somewhere_from_everywhere(
    cause: Cause, sign: Sign, answered: bool
) -> None:
    after = Link(cause, answered).after(sign)
    assert after.state is STATE_OF[after.cause]
    assert after.answered or not answered
    if sign is Sign.ANSWERED:
        assert after.state is LinkState.AWAKE
    else:
        assert after.state is not LinkState.AWAKE


def test_every_cause_has_words_of_its_own() -> None:
    assert words.ids("link") == {cause.value for cause in Cause}
    texts = [words.words("link", cause.value) for cause in Cause]
    assert len(set(texts)) == len(texts)


def test_silence_says_nothing_about_the_engine() -> None:
    for cause in ("never_answered", "fell_silent", "only_traffic", "locked"):
        assert "stopped" not in words.words("link", cause).replace("stopped answering", "")


def test_the_air_flow_of_a_sound_practice_vehicle_is_never_frozen() -> None:
    """Told twice a second how it stands, as in practice: revs up, held, and down again."""
    bench, fed = Bench(), Fed(3)
    bench.car.look = fed.look
    for speed, air, engine in ((820, 9.0, "idling"), (2300, 40.0, "raised"), (820, 9.0, "idling")):
        permits = frozenset({"raise"})
        bench.say(replace(IDLING, engine=engine, permits=permits))
        for _ in range(70):
            stands = idling_car(int(bench.now_ms), bench.rng, speed).values | {"air_g_s": air}
            fed.act(["feed", stands, True, []])
            bench.run(0.5)
    assert "frozen" not in bench.what("channel")
    assert quality(bench.connection.witness, "air_g_s", int(bench.now_ms)) == "good"


def test_a_speed_that_is_dead_from_before_the_start_trips_nothing() -> None:
    """Zero for half a minute at a standstill, and on: said to run before the run time has counted
    two seconds, it was taken for an engine that stalled."""
    bench = Bench(["mirror"])
    bench.speed = 0.0
    bench.say(replace(IDLING, engine="stopped"))
    bench.run(30)
    bench.say(replace(IDLING, engine="stopped", permits=frozenset({"start"})))
    bench.speed, began, look = 820.0, bench.now_ms, bench.look

    def starts() -> CarValues:
        seen = look()
        ran_s = float((bench.now_ms - began) // 1000)
        return replace(seen, values={**seen.values, "run_time_s": ran_s})

    bench.car.look = starts
    bench.run(1.2)
    bench.say(IDLING)
    bench.run(20)
    assert bench.what("trip") == []
    assert quality(bench.connection.witness, "speed_rpm", int(bench.now_ms)) == "dead"
