"""A practice vehicle in a process of its own, served over a loopback socket as a serial CAN
adapter (slcan text), so that the program meets it through the same library as a real one.

``python -m steplatch.runner.live.practice_server`` prints ``ports N M``. N is the adapter. On M it
takes orders, one JSON array a line: an act of the practice vehicle (``["start", [], {}]``), how one
in another process stands (``["feed", values, awake, codes]``, with ``--fed``), or ``["unplug"]``,
``["plug"]``; it answers each with one JSON line, and it ends when M is closed.
Time passes in the vehicle as it passes here, ``--speed`` times as fast.
"""

import argparse
import json
import select
import socket
import time
from contextlib import suppress
from random import Random
from typing import Any, Final

from ..simulator.setup import PRACTICE_VEHICLE
from ..simulator.vehicle import SimulatedVehicle
from ..simulator.world import KeyPosition
from .frames import Addressing, CanFrame
from .practice_ecu import LINK_FAULTS, CarValues, PracticeCar

TICK_S: Final = 0.002
STEP_S: Final = 0.05
BREATHES_RPM: Final = 6.0
BREATHES_SHARE: Final = 0.01
ORDERS_WITHIN_S: Final = 20.0
GONE_MS: Final = (6000, 7500)
"""When the adapter is away under the fault ``gone_and_back``."""


def frame_of(line: bytes, addressing: Addressing) -> CanFrame | None:
    """The frame in a line of slcan text (``t7DF82010C...``); None for any other line."""
    text = line.decode("ascii", "replace")
    wide = text[:1] == "T"
    digits = 8 if wide else 3
    if text[:1] not in ("t", "T") or wide is not addressing.extended:
        return None
    try:
        length = int(text[1 + digits])
        data = bytes.fromhex(text[2 + digits : 2 + digits + 2 * length])
        return CanFrame(int(text[1 : 1 + digits], 16), data, wide)
    except (ValueError, IndexError):
        return None


def line_of(frame: CanFrame) -> bytes:
    """A frame as slcan text."""
    kind, digits = ("T", 8) if frame.extended else ("t", 3)
    head = f"{kind}{frame.identifier:0{digits}X}{len(frame.data)}"
    return (head + frame.data.hex().upper()).encode() + b"\r"


class Adapter:
    """The serial side: one client at a time, broken text where the fault asks for it."""

    def __init__(self, car: PracticeCar, seed: int) -> None:
        self.car = car
        self.open = False
        self._rng = Random(f"practice adapter {seed}")
        self._buffer = b""

    def take(self, data: bytes, at_ms: int) -> None:
        """Text from the tool."""
        *lines, self._buffer = (self._buffer + data).split(b"\r")
        for line in lines:
            if line[:1] in (b"O", b"L"):
                self.open = True
            elif line[:1] == b"C":
                self.open = False
            elif self.open:
                frame = frame_of(line, self.car.addressing)
                if frame is not None:
                    self.car.take(frame, at_ms)

    def due(self, at_ms: int) -> bytes:
        """Text for the tool."""
        out = b""
        for frame in self.car.due(at_ms) if self.open else []:
            line = line_of(frame)
            if "short_lines" in self.car.faults and self._rng.random() < 0.1:
                line = line[:-3] + b"\r"
            if "garbled" in self.car.faults and self._rng.random() < 0.1:
                out += self._rng.choice((b"t7E\r", b"tZZZ8\r", b"\xff\xfe\r", b"\x07"))
            out += line
        return out


class Vehicle:
    """The simulated vehicle as its ECU sees it."""

    def __init__(self, seed: int, faults: list[str], speed: float) -> None:
        self.vehicle = SimulatedVehicle(seed, tuple(faults) or "none", PRACTICE_VEHICLE)
        self.speed = speed
        self._behind_s = 0.0
        self._cleared_s: float | None = None

    def pass_time(self, seconds: float) -> None:
        """Let time pass, in whole steps."""
        self._behind_s += seconds * self.speed
        steps = int(self._behind_s / STEP_S)
        if steps:
            self._behind_s -= steps * STEP_S
            for _ in range(steps):
                self.vehicle.world.advance(STEP_S)

    def act(self, order: list[Any]) -> dict[str, Any]:
        """Do an act at the vehicle; what it let a person notice."""
        name, args, kwargs = order[0], tuple(order[1]), dict(order[2])
        if name == "clear_codes":
            self._cleared_s = self.vehicle.elapsed_s
        seen = self.vehicle.redo((name, args, kwargs))
        sign = getattr(seen, "sign", None)
        return {"sign": sign.value if sign else None, "words": getattr(seen, "words", "")}

    def look(self) -> CarValues:
        """What the vehicle's ECU measures now."""
        return values_of(self.vehicle, self._cleared_s)


def values_of(vehicle: SimulatedVehicle, cleared: float | None) -> CarValues:
    """What the ECU of a simulated vehicle measures now; ``cleared`` is when its codes were cleared,
    in its own seconds."""
    world = vehicle.world
    shown = vehicle.show()
    engine, thermal = world.engine, world.thermal
    values: dict[str, float] = {
        "speed_rpm": max(0.0, engine.speed_rpm + engine.hunting_rpm),
        "run_time_s": min(65535.0, engine.ran_s) if engine.running else 0.0,
        "road_km_h": 0.0,
        "load_percent": 20.0 if engine.running else 0.0,
        "pedal_percent": 12.0 if engine.asked_rpm > engine.idle_rpm + 50 else 0.0,
        "module_v": 14.1 + engine.hunting_rpm / 500 if engine.running else 12.5,
        "ambient_kpa": 101.0,
        "outside_degc": 15.0,
        "compression_ignition": 1.0,
        "fuel_kind": 4.0,
        "obd_kind": 6.0,
        "lamp": 1.0 if world.codes else 0.0,
        "code_count": float(len(world.codes)),
        "lamp_km": 0.0 if cleared is not None else 120.0,
        "warm_ups": 0.0 if cleared is not None else 41.0,
        "cleared_km": 0.0 if cleared is not None else 5210.0,
        "lamp_min": 0.0 if cleared is not None else 33.0,
        "cleared_min": (world.elapsed_s - cleared) // 60 if cleared is not None else 9000.0,
        "exhaust_kg_h": world.flow.exhaust_kg_s * 3600,
        "fuel_g_s": max(0.0, (world.flow.exhaust_kg_s - world.flow.air_kg_s) * 1000),
        "exhaust_11_degc": thermal.shown_k - 273.15,
        "burning": 1.0 if shown.burning else 0.0,
        "burning_active": 1.0 if shown.burning else 0.0,
    }
    if shown.pressure_pa is not None:
        values["delta_pa"] = shown.pressure_pa
    for channel, value, factor, offset in (
        ("air_g_s", shown.air_kg_s, 1000.0, 0.0),
        ("filter_in_degc", shown.exhaust_k, 1.0, -273.15),
        ("coolant_degc", shown.coolant_k, 1.0, -273.15),
        ("manifold_kpa", shown.manifold_pa, 0.001, 0.0),
        ("intake_degc", shown.intake_k, 1.0, -273.15),
    ):
        if value is not None:
            values[channel] = value * factor + offset
    codes = tuple(int(code[1:], 16).to_bytes(2, "big") for code in sorted(world.codes))
    return CarValues(values, world.key is KeyPosition.ON, codes)


class Fed:
    """A vehicle that stands in another process, which tells how it stands whenever it likes.
    Between two such words the engine still breathes: its speed, pressure and air flow scatter as a
    sensor's do."""

    def __init__(self, seed: int) -> None:
        self._rng = Random(f"fed {seed}")
        self._stands = CarValues({}, False)

    def pass_time(self, seconds: float) -> None:
        """Time passes there."""

    def act(self, order: list[Any]) -> dict[str, Any]:
        """Take ``["feed", values, awake, codes]``."""
        _, values, awake, codes = order
        self._stands = CarValues(values, awake, tuple(bytes.fromhex(code) for code in codes))
        return {"sign": "done", "words": ""}

    def look(self) -> CarValues:
        """How it stood when it was last told of."""
        stands = self._stands
        if not stands.values.get("speed_rpm"):
            return stands
        values = dict(stands.values)
        values["speed_rpm"] += self._rng.gauss(0.0, BREATHES_RPM)
        for channel in ("delta_pa", "air_g_s"):
            if channel in values:
                values[channel] *= 1 + self._rng.gauss(0.0, BREATHES_SHARE)
        return CarValues(values, stands.awake, stands.codes)


def serve(args: argparse.Namespace) -> None:
    """Serve until who gives the orders closes, or nobody has come within ``ORDERS_WITHIN_S``."""
    vehicle = Fed(args.seed) if args.fed else Vehicle(args.seed, args.fault, args.speed)
    addressing = Addressing(args.addressing)
    car = PracticeCar(vehicle.look, frozenset(args.link_fault), addressing, args.seed)
    adapter = Adapter(car, args.seed)
    listener = socket.create_server(("127.0.0.1", args.port))
    port = listener.getsockname()[1]
    orders_at = socket.create_server(("127.0.0.1", 0))
    print(f"ports {port} {orders_at.getsockname()[1]}", flush=True)
    orders_at.settimeout(ORDERS_WITHIN_S)
    orders, _ = orders_at.accept()
    client: socket.socket | None = None
    plugged = True
    text = b""
    begin = last = time.monotonic()
    while True:
        watched = [orders, *([client] if client else []), *([listener] if plugged else [])]
        ready, _, _ = select.select(watched, [], [], TICK_S)
        now = time.monotonic()
        vehicle.pass_time(now - last)
        last = now
        at_ms = int((now - begin) * 1000)
        if orders in ready:
            data = orders.recv(65536)
            if not data:
                return
            *lines, text = (text + data).split(b"\n")
            for line in lines:
                order = json.loads(line)
                if order in (["plug"], ["unplug"]):
                    plugged = order == ["plug"]
                    answer: dict[str, Any] = {"sign": "done", "words": ""}
                else:
                    answer = vehicle.act(order)
                orders.sendall(json.dumps(answer).encode() + b"\n")
        if "gone_and_back" in car.faults:
            plugged = not GONE_MS[0] < at_ms < GONE_MS[1]
        if client and not plugged:
            _unplug(client, adapter)
            client = None
        if plugged and listener.fileno() < 0:
            listener = socket.create_server(("127.0.0.1", port))
            continue
        if not plugged:
            listener.close()
        if listener in ready and plugged:
            if client:
                _unplug(client, adapter)
            client, _ = listener.accept()
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            client.setblocking(False)
        elif client:
            client = _exchange(client, adapter, client in ready, at_ms)


def _unplug(client: socket.socket, adapter: Adapter) -> None:
    with suppress(OSError):
        client.close()
    adapter.open = False


def _exchange(
    client: socket.socket, adapter: Adapter, ready: bool, at_ms: int
) -> socket.socket | None:
    try:
        if ready:
            data = client.recv(65536)
            if not data:
                raise ConnectionError("the tool has closed")
            adapter.take(data, at_ms)
        out = adapter.due(at_ms)
        if out:
            client.sendall(out)
    except BlockingIOError:
        return client
    except OSError:
        _unplug(client, adapter)
        return None
    return client


def parser() -> argparse.ArgumentParser:
    """The command line of the server."""
    top = argparse.ArgumentParser("practice_server", description=__doc__)
    top.add_argument("--port", type=int, default=0)
    top.add_argument("--seed", type=int, default=1)
    top.add_argument("--speed", type=float, default=1.0)
    top.add_argument("--addressing", choices=("11", "29"), default="11")
    top.add_argument("--fed", action="store_true", help="the vehicle stands in another process")
    top.add_argument("--fault", action="append", default=[])
    top.add_argument("--link-fault", action="append", default=[], choices=sorted(LINK_FAULTS))
    return top


if __name__ == "__main__":
    with suppress(KeyboardInterrupt):
        serve(parser().parse_args())
