"""A vehicle on the bench without adapter, process or clock: time passes when somebody listens."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from random import Random

from steplatch.runner.live.adapter import PortLost
from steplatch.runner.live.connection import Connection, Need
from steplatch.runner.live.frames import Addressing, CanFrame
from steplatch.runner.live.link import Sign
from steplatch.runner.live.own_identifiers import OwnRow
from steplatch.runner.live.practice_ecu import CarValues, PracticeCar
from steplatch.runner.live.raw_log import Digest, RawLog
from steplatch.runner.live.requests import Outgoing, can_frame
from steplatch.runner.live.samples import Happening, Said

IDLING = Said(
    0,
    engine="idling",
    ceiling_rpm=2500,
    raised_lower_rpm=2250,
    raised_upper_rpm=2400,
    idle_rpm=820,
)


def idling_car(at_ms: int, rng: Random, speed_rpm: float = 820.0) -> CarValues:
    """A warm diesel at idle, by the channels of the table."""
    running = speed_rpm > 0
    return CarValues(
        {
            "speed_rpm": max(0.0, speed_rpm + rng.gauss(0.0, 8.0)) if running else 0.0,
            "run_time_s": float(at_ms // 1000) if running else 0.0,
            "road_km_h": 0.0,
            "coolant_degc": 88.0,
            "intake_degc": 31.0,
            "manifold_kpa": 101.0,
            "air_g_s": 9.2 + rng.gauss(0.0, 0.1) if running else 0.0,
            "module_v": 14.1 + rng.gauss(0.0, 0.02) if running else 12.4,
            "ambient_kpa": 101.0,
            "outside_degc": 15.0,
            "delta_pa": 2100.0 + rng.gauss(0.0, 40.0) if running else 20.0,
            "filter_in_degc": 190.0,
            "exhaust_11_degc": 188.0,
            "exhaust_12_degc": 187.0,
            "burning": 0.0,
            "exhaust_kg_h": 33.0 if running else 0.0,
            "fuel_g_s": 0.2 if running else 0.0,
            "compression_ignition": 1.0,
            "fuel_kind": 4.0,
            "obd_kind": 6.0,
            "lamp": 1.0,
            "code_count": 1.0,
            "warm_ups": 12.0,
            "cleared_km": 900.0,
            "cleared_min": 4000.0,
            "lamp_km": 40.0,
            "pedal_percent": 0.0,
        },
        True,
        (bytes.fromhex("2463"),),
    )


class Bench:
    """A connection to a practice car on a virtual clock. ``car.faults`` names link faults;
    ``speed`` may be changed while it runs, as a function of ms or a number."""

    def __init__(
        self,
        faults: Iterable[str] = (),
        addressing: Addressing = Addressing.BITS_11,
        log: Path | None = None,
        seed: int = 1,
        interval_ms: int = 100,
        own: tuple[OwnRow, ...] = (),
    ) -> None:
        self.now_ms = 0.0
        self.rng = Random(seed)
        self.speed: float | Callable[[float], float] = 820.0
        self.burning = False
        self.awake = True
        self.addressing = addressing
        self.car = PracticeCar(self.look, frozenset(faults), addressing, seed)
        self.sent: list[tuple[int, CanFrame]] = []
        self.plugged = True
        self.told: list[Happening] = []
        self._heard: list[CanFrame] = []
        self.log_path = log
        self.connection = Connection(
            self.open,
            lambda: int(self.now_ms),
            addressing,
            RawLog(log, addressing) if log else None,
            interval_ms,
            own,
        )

    def look(self) -> CarValues:
        """What the car measures now."""
        speed = self.speed(self.now_ms) if callable(self.speed) else self.speed
        seen = idling_car(int(self.now_ms), self.rng, speed)
        burning = {"burning": 1.0 if self.burning else 0.0}
        return replace(seen, values={**seen.values, **burning}, awake=self.awake)

    # -- the port ---------------------------------------------------------------------------

    def open(self) -> "Bench":
        """Open the adapter."""
        if not self.plugged:
            raise PortLost(Sign.CANNOT_OPEN)
        return self

    def send(self, out: Outgoing) -> None:
        """A frame from the tool."""
        self._check()
        frame = can_frame(out, self.addressing)
        self.sent.append((int(self.now_ms), frame))
        self.car.take(frame, int(self.now_ms))

    def receive(self, wait_s: float) -> CanFrame | None:
        """The next frame; time passes until it comes."""
        end = self.now_ms + wait_s * 1000
        while True:
            self._check()
            self._heard += self.car.due(int(self.now_ms))
            if self._heard:
                return self._heard.pop(0)
            if self.now_ms >= end:
                return None
            self.now_ms = min(end, self.now_ms + 1)

    def close(self) -> None:
        """Close the adapter."""

    def _check(self) -> None:
        if not self.plugged:
            raise PortLost(Sign.FAILED)

    # -- running it -------------------------------------------------------------------------

    def say(self, said: Said) -> None:
        """What people have said from now on."""
        self.connection.messages.put(said)

    def run(self, seconds: float, need: bool = True) -> list[Happening]:
        """Let it run; what has happened meanwhile."""
        end = self.now_ms + seconds * 1000
        told: list[Happening] = []
        while self.now_ms < end:
            before = self.now_ms
            if need:
                self.connection.messages.put(Need())
            told += self.connection.step()
            if self.now_ms == before:
                self.now_ms += 5
        self.told += told
        return told

    def close_link(self) -> Digest | None:
        """Leave the vehicle."""
        told, digest = self.connection.close()
        self.told += told
        return digest

    def what(self, *kinds: str) -> list[str]:
        """The ids of what has happened so far, of these kinds."""
        return [h.what for h in self.told if not kinds or h.kind.value in kinds]
