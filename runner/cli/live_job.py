"""The link to the vehicle while a job is guided: to a real one, or to a practice vehicle whose ECU
stands in a process of its own and serves the same bytes."""

import time
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

from ..core.clock import Times
from ..jobs.bundle import Bundle
from ..jobs.vehicle_link import VehicleLink, next_place, note_left_over
from ..jobs.vehicle_readings import VehicleReadings
from ..live.adapter import BITRATES, CanAdapter
from ..live.background import Background
from ..live.connection import Connection
from ..live.frames import Addressing
from ..live.growing_csv import GrowingCsv
from ..live.own_identifiers import OwnRow
from ..live.practice_link import PracticeVehicle
from ..live.practice_server import values_of
from ..live.raw_log import RawLog
from ..live.words import words
from ..readings.log_columns import ColumnMap
from ..record import JobFolder
from ..record.clocks import Rest
from ..screen import car
from ..screen.context import Context
from ..screen.talk import StyledLine, Talk
from ..simulator.hand import Hand
from ..simulator.observation import NoticedKind
from ..simulator.vehicle import SimulatedVehicle
from ..training.heard import Heard
from ..training.pace import PacedHand, PacedVehicleClock

ZERO_S = 26.0
"""A lesson waits so long with the ignition on and the engine off: the pressure's zero shows."""
JUMP_S = 1.0
IGNITION_ON: Final = _(
    "The practice vehicle's ignition is on, its engine off: left so for half a minute, the zero of "
    "its pressure shows."
)


FOLLOW_S: Final = 0.05
"""How often a logger's file is looked at."""

Clock = Callable[[], int]
Made = Callable[[Clock, Path, Bundle], Background]
"""Makes the source of a link: its clock, where its raw log goes, the files of the job."""


def by_adapter(
    channel: str, interface: str, slow_bus: bool, wide: bool, own: tuple[OwnRow, ...] = ()
) -> Made:
    """A link through a CAN adapter; ``own`` are identifiers that the user has brought."""
    width = Addressing.BITS_29 if wide else Addressing.BITS_11
    rate = BITRATES[1] if slow_bus else BITRATES[0]

    def made(clock_ms: Clock, log: Path, bundle: Bundle) -> Background:
        return Background(
            Connection(
                lambda: CanAdapter(channel, width, interface, rate),
                clock_ms,
                width,
                RawLog(log, width),
                own=own,
            )
        )

    return made


def by_logger(path: Path, columns: ColumnMap | None) -> Made:
    """A link through the growing file of a logger."""

    def made(clock_ms: Clock, log: Path, bundle: Bundle) -> Background:
        raw, cylinders = RawLog(log, Addressing.BITS_11), bundle.vehicle.cylinders
        return Background(GrowingCsv(path, clock_ms, columns, raw, cylinders), FOLLOW_S)

    return made


class RealLive:
    """A link to a vehicle. Where it cannot be opened, the job goes on by typing."""

    def __init__(self, made: Made, own: tuple[OwnRow, ...] = ()) -> None:
        self._made = made
        self._own = own
        self.link: VehicleLink | None = None

    def join(self, on: Context, folder: JobFolder, bundle: Bundle) -> None:
        """Go with the job from now on."""
        note_left_over(on.session, folder)
        place = next_place(folder)
        begin = time.monotonic()
        runner = self._made(lambda: int((time.monotonic() - begin) * 1000), place.path, bundle)
        self.link = VehicleLink(
            on.session,
            place,
            runner,
            bundle.vehicle,
            on.keeper.keep,
            lambda: runner.vin,
            self._feed,
            self._waits,
        )
        on.car = VehicleReadings(on.session, self.link, bundle.vehicle, self._own)

    _waits = False

    def _feed(self) -> None:
        """A real vehicle needs nobody to tell its ECU how it stands."""

    def leave(self, talk: Talk) -> None:
        """Stop asking, within two seconds, and say so."""
        if self.link is not None:
            self.link.close()
            talk.say(words("link", "left"))


class PracticeLive(RealLive):
    """A link to the ECU of the practice vehicle that is worked here."""

    def __init__(
        self,
        vehicle: SimulatedVehicle,
        hand: Hand | None,
        seed: int,
        link_faults: Sequence[str],
        waits: bool = False,
    ) -> None:
        self._server = PracticeVehicle(seed, link_faults=link_faults, fed=True)
        super().__init__(by_adapter(self._server.channel, "slcan", False, False))
        self._vehicle = vehicle
        self._waits = waits
        self._cleared: float | None = None
        self._acts = 0
        self._fed_at = time.monotonic(), vehicle.elapsed_s
        self._on: Context | None = None
        if isinstance(hand, PacedHand):
            hand.beside = self._beside

    def join(self, on: Context, folder: JobFolder, bundle: Bundle) -> None:
        """Go with the job from now on. The ignition is put on first, for the pressure's zero."""
        self._on = on
        if self._vehicle.ignition(True).sign is NoticedKind.DONE:
            on.talk.say(IGNITION_ON)
        self._feed()
        super().join(on, folder, bundle)
        if self._waits and self.link is not None:
            for _other in range(round(ZERO_S)):
                self.link.wait(1.0)
                if on.car is not None:
                    on.car.look()

    def leave(self, talk: Talk) -> None:
        """Stop asking, and end the ECU's process."""
        super().leave(talk)
        self._server.close()

    def _feed(self) -> None:
        """Tell the ECU how the vehicle stands; where its time has jumped, what was measured before
        is of another time."""
        done = self._vehicle.acts_done
        if any(name == "clear_codes" for name, _, _ in done[self._acts :]):
            self._cleared = self._vehicle.elapsed_s
        self._acts = len(done)
        now, stands = time.monotonic(), self._vehicle.elapsed_s
        jumped = (stands - self._fed_at[1]) - (now - self._fed_at[0])
        self._fed_at = now, stands
        self._tell(self._vehicle)
        if jumped > JUMP_S + 1 and self.link is not None:
            self.link.jumped()

    def _tell(self, vehicle: SimulatedVehicle) -> None:
        try:
            self._server.feed(values_of(vehicle, self._cleared))
        except (OSError, ValueError):  # its process is gone: the link says so itself
            return

    def _beside(self, heard: Heard, line: StyledLine) -> StyledLine:
        """In a burst: the ECU feels the spray as it goes on; the graver of ear and link is
        shown."""
        self._tell(heard.vehicle)
        if self._on is None or line[1] == "DANGER":
            return line
        shown = car.heard(self._on, heard.seconds)
        return shown if shown[1] == "DANGER" else line


class LivesOn(PacedVehicleClock):
    """Practice time that also passes while a question stands open, as it does at a vehicle."""

    def __init__(
        self, start: datetime, vehicle: SimulatedVehicle, speed: float, talk: Talk
    ) -> None:
        self._looked: float | None = time.monotonic()
        super().__init__(start, vehicle, speed, talk)

    def now(self) -> Times:
        """This moment: whole seconds that have passed at the question have passed there too."""
        if self._looked is not None:
            passed = int(time.monotonic() - self._looked)
            self._looked += passed
            self.elapsed_s += float(passed)
        return super().now()

    def wait_in_view(
        self, seconds: float, rest: Rest | None = None, said: Callable[[str], bool] | None = None
    ) -> None:
        """As it says; what passes in a wait is counted by the wait alone."""
        self._looked = None
        try:
            super().wait_in_view(seconds, rest, said)
        finally:
            self._looked = time.monotonic()
