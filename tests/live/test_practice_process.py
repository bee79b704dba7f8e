"""The practice vehicle in a second process, met through python-can as a real adapter would be:
slcan text over a loopback socket, and over a pseudo-terminal where the system has one."""

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread

import pytest
from steplatch.runner.cli import live_job
from steplatch.runner.cli.practice_job import begin_at_vehicle, context_of
from steplatch.runner.jobs.vehicle_link import quiet_of
from steplatch.runner.live.adapter import CanAdapter, PortLost
from steplatch.runner.live.connection import Connection, Need
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.link import Cause, Sign
from steplatch.runner.live.practice_ecu import CarValues, PracticeCar
from steplatch.runner.live.practice_link import PracticeVehicle
from steplatch.runner.live.practice_server import Adapter, frame_of, line_of
from steplatch.runner.live.raw_log import RawLog, replay
from steplatch.runner.live.requests import Ask, CurrentData
from steplatch.runner.live.samples import Happening, Said
from steplatch.runner.live.witness import milli_of
from steplatch.runner.record import find_data_folder, make_data_folder
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import Script
from steplatch.runner.training.memory import About

from tests.live.bench import Bench
from tests.played import START, bundle_from, lesson_with

IDLING = Said(
    0,
    engine="idling",
    ceiling_rpm=2500,
    raised_lower_rpm=2250,
    raised_upper_rpm=2400,
    idle_rpm=820,
)


class Watched:
    """A connection on the real clock, run until something is so."""

    def __init__(self, channel: str, log: Path | None = None, addressing: str = "11") -> None:
        begin = time.monotonic()
        width = Addressing(addressing)
        self.connection = Connection(
            lambda: CanAdapter(channel, width),
            lambda: int((time.monotonic() - begin) * 1000),
            width,
            RawLog(log, width) if log else None,
        )
        self.told: list[Happening] = []

    def until(self, so: Callable[[], bool], seconds: float = 20.0) -> bool:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.connection.messages.put(Need())
            self.told += self.connection.step()
            if so():
                return True
        return False

    def awake(self) -> bool:
        return self.connection.link.cause is Cause.ANSWERS

    def close(self) -> None:
        self.told += self.connection.close()[0]


@contextmanager
def running_vehicle(*link_faults: str, addressing: str = "11") -> Iterator[PracticeVehicle]:
    with PracticeVehicle(link_faults=link_faults, addressing=addressing) as vehicle:
        assert vehicle.act("ignition", True)["sign"] == "done"
        assert vehicle.act("start")["sign"] == "started"
        yield vehicle


@pytest.mark.parametrize("addressing", ["11", pytest.param("29", marks=pytest.mark.slow)])
def test_a_practice_vehicle_is_read_over_the_library(tmp_path: Path, addressing: str) -> None:
    with running_vehicle(addressing=addressing) as vehicle:
        watched = Watched(vehicle.channel, tmp_path / "raw.log", addressing)
        watched.connection.messages.put(IDLING)
        witness = lambda: watched.connection.witness  # noqa: E731
        assert watched.until(lambda: witness().engine == "running" and witness().band == "idle")
        speed = milli_of(witness(), "speed_rpm", witness().now_ms)
        assert speed is not None and 780_000 < speed < 860_000
        assert vehicle.act("raise_revs", 3200.0)["sign"] == "done"
        trip = lambda: "over_ceiling" in [h.what for h in watched.told]  # noqa: E731
        assert watched.until(trip)
        vehicle.act("stop")
        assert watched.until(lambda: watched.connection.link.cause is Cause.FELL_SILENT)
        assert "stalled" not in [h.what for h in watched.told], "silence is no stall"
        watched.close()
    again = replay((tmp_path / "raw.log").read_bytes())
    assert again.whole
    assert list(again.happenings) == watched.told


def test_the_adapter_goes_and_comes_back() -> None:
    with running_vehicle() as vehicle:
        watched = Watched(vehicle.channel)
        assert watched.until(watched.awake)
        vehicle.unplug()
        assert watched.until(lambda: watched.connection.link.cause is Cause.ADAPTER_LOST)
        vehicle.plug()
        assert watched.until(watched.awake)
        watched.close()


def test_a_vehicle_process_that_is_killed_is_a_lost_adapter() -> None:
    with running_vehicle() as vehicle:
        watched = Watched(vehicle.channel)
        assert watched.until(watched.awake)
        vehicle.kill()
        lost = (Cause.ADAPTER_LOST, Cause.CANNOT_OPEN)
        assert watched.until(lambda: watched.connection.link.cause in lost)
        watched.close()


@pytest.mark.parametrize("fault", ["garbled", "short_lines"])
def test_a_bad_adapter_loses_answers_and_makes_no_values_up(fault: str) -> None:
    with running_vehicle(fault) as vehicle:
        watched = Watched(vehicle.channel)
        watched.connection.messages.put(IDLING)
        assert watched.until(lambda: watched.connection.witness.engine == "running")
        watched.until(lambda: False, 1.0)
        assert not [h for h in watched.told if h.kind.value == "trip"]
        watched.close()


@pytest.mark.slow
def test_the_fault_gone_and_back_plays_by_itself() -> None:
    with running_vehicle("gone_and_back") as vehicle:
        watched = Watched(vehicle.channel)
        assert watched.until(watched.awake)
        assert watched.until(lambda: not watched.awake())
        assert watched.until(watched.awake)
        watched.close()


def test_a_port_that_is_not_there_cannot_be_opened() -> None:
    with pytest.raises(PortLost) as lost:
        CanAdapter("/dev/no-such-port", Addressing.BITS_11)
    assert lost.value.sign is Sign.CANNOT_OPEN


def test_an_interface_or_rate_that_is_not_offered_is_a_mistake() -> None:
    for interface, bitrate in (("udp_multicast", 500_000), ("slcan", 125_000)):
        with pytest.raises(ValueError, match="not offered"):
            CanAdapter("x", Addressing.BITS_11, interface, bitrate)


@contextmanager
def on_a_terminal(adapter: Adapter) -> Iterator[tuple[str, Event]]:
    """An adapter on the other end of a pseudo-terminal; its name, and what pulls it out."""
    import pty
    import tty

    mine, theirs = pty.openpty()
    tty.setraw(theirs)
    out, ended = Event(), Event()

    def serve() -> None:
        os.set_blocking(mine, False)
        begin = time.monotonic()
        while not out.is_set() and not ended.is_set():
            at_ms = int((time.monotonic() - begin) * 1000)
            try:
                adapter.take(os.read(mine, 4096), at_ms)
            except BlockingIOError:
                time.sleep(0.001)
            except OSError:
                break
            data = adapter.due(at_ms)
            if data:
                os.write(mine, data)
        os.close(mine)

    thread = Thread(target=serve)
    thread.start()
    try:
        yield os.ttyname(theirs), out
    finally:
        ended.set()
        thread.join()
        os.close(theirs)


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
def test_the_same_over_a_pseudo_terminal() -> None:
    bench = Bench()
    car = PracticeCar(bench.look)
    with on_a_terminal(Adapter(car, 1)) as (name, out):
        port = CanAdapter(name, Addressing.BITS_11)
        port.send(Ask(CurrentData((0x0C,))))
        frame = port.receive(2.0)
        assert frame is not None and frame.data[1:3] == b"\x41\x0c"
        out.set()
        with pytest.raises(PortLost) as lost:
            for _ in range(100):
                port.receive(0.05)
                port.send(Ask(CurrentData((0x0C,))))
        assert lost.value.sign is Sign.FAILED
        port.close()


def test_text_of_the_serial_adapter_goes_both_ways() -> None:
    for addressing, text in (
        (Addressing.BITS_11, b"t7E8806410098188001AA"),
        (Addressing.BITS_29, b"T18DAF1108064100981880 01AA".replace(b" ", b"")),
    ):
        frame = frame_of(text, addressing)
        assert frame is not None
        assert line_of(frame) == text + b"\r"
    assert frame_of(b"t7E", Addressing.BITS_11) is None
    assert frame_of(b"tZZZ8", Addressing.BITS_11) is None


class NoProcess:
    """Stands for the ECU's process: keeps what it was told."""

    channel = "socket://127.0.0.1:9"

    def __init__(self, *_: object, **__: object) -> None:
        self.fed: list[CarValues] = []

    def feed(self, stands: CarValues) -> None:
        self.fed.append(stands)

    def close(self) -> None:
        """There is nothing to end."""


def test_the_zero_of_the_pressure_can_show_before_the_engine_is_started_in_practice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Worked by hand: no step before the start puts the ignition on."""
    monkeypatch.setattr(live_job, "PracticeVehicle", NoProcess)
    lesson, bundle = lesson_with(), bundle_from()
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    data = find_data_folder(tmp_path, {})
    make_data_folder(data)
    about = About(lesson.id, plays_itself=False)
    clock = VehicleClock(START, vehicle)
    session, folder = begin_at_vehicle(data, bundle, clock, vehicle, lesson.cast.worker, about)
    talk = Script(lesson)
    on = context_of(session, folder, talk, bundle, vehicle)
    live = live_job.PracticeLive(vehicle, on.hand, lesson.seed, ())
    try:
        live.join(on, folder, bundle)
        server = live._server
        assert isinstance(server, NoProcess)
        stands = server.fed[-1]
        assert stands.awake and stands.values["speed_rpm"] == 0.0
        assert abs(stands.values["delta_pa"]) < 500.0
        assert quiet_of(session.job) is None, "asked from the beginning"
    finally:
        live.leave(talk)
        session.writer.close()
