"""A whole job over the wire in one process: the real guide and link, a practice car's own bytes,
and a clock that passes when somebody waits."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steplatch.runner.cli.practice_job import begin_at_vehicle, context_of
from steplatch.runner.jobs.vehicle_link import LinkPlace, VehicleLink, next_place
from steplatch.runner.jobs.vehicle_readings import VehicleReadings
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.growing_csv import GrowingCsv
from steplatch.runner.live.link import Link
from steplatch.runner.live.practice_ecu import CarValues
from steplatch.runner.live.practice_server import Vehicle as ServedVehicle
from steplatch.runner.live.raw_log import Digest, RawLog
from steplatch.runner.live.samples import Happening, Sample
from steplatch.runner.live.witness import Witness
from steplatch.runner.record import find_data_folder, make_data_folder
from steplatch.runner.screen.context import Context
from steplatch.runner.screen.guide import guide
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import Lesson, Script
from steplatch.runner.training.memory import About

from tests.live.bench import Bench
from tests.played import START, Played, bundle_from


class JobBench(Bench):
    """A bench on which the vehicle of a practice job stands: it lives as the link's time passes."""

    def __init__(self, vehicle: SimulatedVehicle, log: Path, **options: Any) -> None:
        self.served = ServedVehicle(1, ["none"], 1.0)
        self.served.vehicle = vehicle
        self.passed_ms = 0.0
        super().__init__(log=log, **options)

    def look(self) -> CarValues:
        """What the vehicle's ECU measures now."""
        self.served.pass_time((self.now_ms - self.passed_ms) / 1000)
        self.passed_ms = self.now_ms
        return self.served.look()


class LoggerBench(JobBench):
    """The same vehicle behind a logger that writes what its ECU measures, ten rows a second."""

    ROW_MS = 100.0
    HEADER = "time [s],speed [1/min],pressure [mbar],exhaust [degC],coolant [degC],air [g/s]\n"

    def __init__(self, vehicle: SimulatedVehicle, log: Path, **options: Any) -> None:
        beside = log.parents[3]  # not in the job's own folder
        super().__init__(vehicle, beside / "no-adapter.raw", **options)
        self.file = beside / "drive.csv"
        self.file.write_text(self.HEADER, encoding="utf-8")
        raw = RawLog(log, Addressing.BITS_11)
        self.connection = GrowingCsv(self.file, lambda: int(self.now_ms), log=raw)

    def run(self, seconds: float, need: bool = True) -> list[Happening]:
        """Let it run: the logger writes while the ignition is on."""
        end, told = self.now_ms + seconds * 1000, []
        while self.now_ms < end:
            self.now_ms += self.ROW_MS
            seen = self.look()
            if seen.awake:
                self.write(seen.values)
            told += self.connection.step()
        return told

    def write(self, seen: Mapping[str, float]) -> None:
        """One row of what is measured now."""
        row = [self.now_ms / 1000, seen["speed_rpm"], seen.get("delta_pa", 0.0) / 100,
               seen["filter_in_degc"], seen["coolant_degc"], seen["air_g_s"]]  # fmt: skip
        with self.file.open("a", encoding="utf-8") as file:
            file.write(",".join(f"{value:.2f}" for value in row) + "\n")


class Pumped:
    """Runs a bench's connection when somebody waits; as ``live.background.Background`` else."""

    failed: BaseException | None = None

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.alive = True
        self._told: list[Happening] = []

    @property
    def link(self) -> Link:
        """The link as it stands."""
        return self.bench.connection.link

    @property
    def witness(self) -> Witness:
        """What is known from the vehicle now."""
        return self.bench.connection.witness

    def put(self, message: Any) -> None:
        """Tell the source something."""
        self.bench.connection.messages.put(message)

    def take(self) -> list[Happening]:
        """What has happened since this was last asked."""
        told, self._told = self._told, []
        return told

    def take_samples(self) -> list[Sample]:
        """The samples since this was last asked."""
        return self.bench.connection.recorder.take_samples()

    def wait(self, seconds: float) -> None:
        """Let it run for a while."""
        self._told += self.bench.run(seconds, need=False)

    def stop(self) -> tuple[list[Happening], Digest | None]:
        """Stop asking, close the log."""
        told, digest = self.bench.connection.close()
        self.alive = False
        return [*self.take(), *told], digest


@dataclass
class Wired:
    """A job that was played with a link: the job itself, its bench, what went along."""

    played: Played
    bench: JobBench
    on: Context


Watched = Callable[[Context, JobBench], None]


def play_wired(
    out: Path,
    lesson: Lesson,
    *,
    link_faults: tuple[str, ...] = (),
    prepare: Watched | None = None,
    step: Callable[[Context, JobBench, str], None] | None = None,
    talk: Script | None = None,
    made: type[JobBench] = JobBench,
) -> Wired:
    """Play a lesson to its end with a link to its vehicle. ``prepare`` is called before the first
    step, ``step`` at each question with its key. The journal is closed afterwards."""
    bundle = bundle_from()
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    clock = VehicleClock(START, vehicle)
    talk = talk or Script(lesson)
    data = find_data_folder(out, {})
    make_data_folder(data)
    session, folder = begin_at_vehicle(
        data, bundle, clock, vehicle, lesson.cast.worker, About(lesson.id, plays_itself=True)
    )
    on = context_of(session, folder, talk, bundle, vehicle)
    place: LinkPlace = next_place(folder)
    bench = made(vehicle, place.path, faults=link_faults)
    runner = Pumped(bench)
    passed = [vehicle.elapsed_s, bench.now_ms]

    def feed() -> None:
        """Practice time that jumped is another time for the readings."""
        jumped = (vehicle.elapsed_s - passed[0]) - (bench.now_ms - passed[1]) / 1000
        passed[:] = [vehicle.elapsed_s, bench.now_ms]
        if abs(jumped) > 1.0 and on.car is not None:
            on.car.link.jumped()

    link = VehicleLink(
        session,
        place,
        runner,
        bundle.vehicle,
        on.keeper.keep,
        lambda: bench.connection.vin,
        feed,
        waits=True,
    )
    on.car = VehicleReadings(session, link, bundle.vehicle)
    if prepare is not None:
        prepare(on, bench)
    asks = talk.ask

    def ask(prompt: Any) -> str:
        if step is not None:
            step(on, bench, prompt.key)
        return asks(prompt)

    talk.ask = ask  # type: ignore[method-assign]
    try:
        ended = guide(on)
    finally:
        link.close()
        session.writer.close()
    return Wired(Played(session, folder, talk, vehicle, ended), bench, on)


def zero_seen(on: Context, bench: JobBench) -> None:
    """Ignition on, engine off, for half a minute: the zero of the pressure shows."""
    bench.served.vehicle.ignition(True)
    assert on.car is not None
    for _ in range(35):
        on.car.link.wait(1.0)
        on.car.look()
