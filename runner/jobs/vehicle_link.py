"""A job's link to its vehicle: what people say goes to it, what it reports comes into the record.

Beside the journal lies the raw log of each link, ``links/N.raw``; a note holds its hash once it is
closed, and ``vehicle_audit`` decodes it again. Without a link nothing of this is there.
"""

import hashlib
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final, Protocol

from steplatch.safety.bay import Act, Bay, Engine, Gun, Key
from steplatch.safety.limits.inputs import VehicleInput
from steplatch.safety.measured import NOTHING_MEASURED, STATES, contradictions

from ..core.commands import Begin, Command, Note, VehicleReport
from ..core.job import Job
from ..core.steps import EndStep
from ..live.connection import Need, Quiet
from ..live.link import Link
from ..live.raw_log import Digest
from ..live.samples import Happening, Kind, Said, Sample
from ..live.witness import Witness
from ..record import JobFolder, NotRecordable
from .fingerprint import decoder_sha256
from .session import Session

ROOM: Final = "links"
SETTLES_S: Final = 3.0
"""How long a permit waits for a measurement that still says otherwise: a band is one after two
seconds (design choice)."""
KEPT_MS: Final = 15 * 60 * 1000
"""Samples kept for readings and trends."""
NEED_EVERY_MS: Final = 500
_RUNNING: Final = frozenset({Engine.IDLING, Engine.RAISED, Engine.ROAD})
_TURNS_ON: Final = frozenset({Act.IGNITION_ON, Act.START, Act.ROAD_TEST, Act.CLEAR_CODES})


class Runner(Protocol):
    """What runs a source of readings: ``runner.live.background.Background``, or one that lets the
    source's own time pass."""

    failed: BaseException | None

    @property
    def alive(self) -> bool:
        """True while values can still come."""

    @property
    def link(self) -> Link:
        """The link as it stands."""

    @property
    def witness(self) -> Witness:
        """What is known from the vehicle now."""

    def put(self, message: Any) -> None:
        """Tell the source something."""

    def take(self) -> list[Happening]:
        """What has happened since this was last asked."""

    def take_samples(self) -> list[Sample]:
        """The samples since this was last asked."""

    def wait(self, seconds: float) -> None:
        """Let it run for a while."""

    def stop(self) -> tuple[list[Happening], Digest | None]:
        """Stop asking, close port and log."""


@dataclass(frozen=True, slots=True)
class LinkPlace:
    """Where the raw log of a link goes: its name in the record and its file."""

    name: str
    path: Path


def next_place(folder: JobFolder) -> LinkPlace:
    """The place of the job's next link; its room is made."""
    room = folder.path / ROOM
    room.mkdir(mode=0o700, exist_ok=True)
    taken = {int(path.stem) for path in room.glob("*.raw") if path.stem.isdigit()}
    name = str(max(taken, default=0) + 1)
    return LinkPlace(name, room / f"{name}.raw")


class VehicleLink:
    """Goes along with a session (``Session.along``). It belongs to the thread of the session.

    ``feed`` is called before anything is looked at: a practice vehicle tells its ECU how it stands.
    ``waits`` says that whoever works it has patience for a set to be held (a lesson).
    """

    def __init__(
        self,
        session: Session,
        place: LinkPlace,
        runner: Runner,
        vehicle: VehicleInput,
        keep: Callable[[str, str], str] | None = None,
        vin: Callable[[], str | None] = lambda: None,
        feed: Callable[[], None] | None = None,
        waits: bool = False,
    ) -> None:
        self.name = place.name
        self.waits = waits
        self.samples: list[Sample] = []
        self.since_ms = 0
        """Samples from before this moment are of another time: practice time has jumped."""
        self.alarms: list[Happening] = []
        """What is for eyes and ears and was not shown yet."""
        self.vin: str | None = None
        self._session = session
        self._path = place.path
        self._runner = runner
        self._vehicle = vehicle
        self._keep = keep
        self._vin = vin
        self._feed = feed
        self._said: Said | None = None
        self._needed_ms: int | None = None
        self._quiet: Quiet | None = None
        self._busy = False
        self._closed = False
        self._failed = False
        note = {"link": self.name, "decoder": decoder_sha256()}
        session.submit(Note("vehicle_link", note))
        session.along = self
        self.after()

    @property
    def link(self) -> Link:
        """The link as it stands."""
        return self._runner.link

    @property
    def witness(self) -> Witness:
        """What is known from the vehicle now."""
        return self._runner.witness

    @property
    def alive(self) -> bool:
        """Whether values can still come."""
        return not self._closed and self._runner.alive

    @property
    def wanted(self) -> bool:
        """Whether values are needed now, so that the vehicle is asked."""
        return self.alive and quiet_of(self._session.job) is None

    # -- along with the session -------------------------------------------------------------

    def before(self, command: Command) -> None:
        """A request is decided by what the vehicle says now. One that it would contradict waits
        for a moment: people are quicker than a measurement that must hold for two seconds. Before
        the end of the job the lead comes off."""
        if self._busy or not isinstance(command, Begin):
            return
        self.notice()
        until = time.monotonic() + SETTLES_S
        waited = 0.0
        while self._against() and waited < SETTLES_S and time.monotonic() < until + SETTLES_S:
            self._runner.wait(0.1)
            waited += 0.1
            self.notice()
        if self._ends(command) and not self._against():
            self.close()

    def after(self) -> None:
        """Tell the vehicle's side what is said and permitted from now on."""
        if self._closed or self._busy:
            return
        self._tell()

    def notice(self) -> list[Happening]:
        """Let what has happened meanwhile into the record, in its order; what it was."""
        if self._closed:
            return []
        if self._feed is not None:
            self._feed()
        self._renew()
        self._take_samples()
        told = self._runner.take()
        self._record(told)
        self._take_vin()
        if not self._runner.alive:
            self._gone()
        return told

    def take_alarms(self) -> list[Happening]:
        """What is to be shown and was not yet."""
        alarms, self.alarms = self.alarms, []
        return alarms

    def jumped(self) -> None:
        """Practice time has jumped: what was measured before is of another time."""
        self._take_samples()
        self.since_ms = self.witness.now_ms

    def wait(self, seconds: float) -> None:
        """Let it run for a while, and let what happens into the record."""
        left = seconds
        while left > 0:
            self._runner.wait(min(0.2, left))
            left -= 0.2
            self.notice()

    def close(self) -> None:
        """Stop asking within 2 s, write down what was still to come, and the log's hash."""
        if self._closed:
            return
        told, digest = self._runner.stop()
        self._take_samples()
        self._closed = True
        self._record(told)
        self._forget()
        self._session.along = None
        if not self._session.job.core.ended:
            note_log(self._session, self.name, self._path, digest)

    # -- inside -----------------------------------------------------------------------------

    def _record(self, told: list[Happening]) -> None:
        for happening in told:
            if happening.kind in (Kind.ALARM, Kind.TRIP, Kind.CHANNEL):
                self.alarms.append(happening)
            self._submit(report_of(happening, self.name))

    def _submit(self, command: Command) -> None:
        if self._session.job.core.ended:
            return
        self._busy, was = True, self._busy
        try:
            self._session.submit(command, by="vehicle")
        finally:
            self._busy = was
        self._tell()

    def _tell(self) -> None:
        if self._closed:
            return
        said = said_of(self._session.job, self._vehicle)
        if said != self._said:
            self._said = said
            self._runner.put(said)
            self._needed_ms = None
        self._renew()

    def _renew(self) -> None:
        """Questions go out only while somebody needs the answers."""
        quiet = quiet_of(self._session.job)
        now = self.witness.now_ms
        due = self._needed_ms is None or now - self._needed_ms >= NEED_EVERY_MS
        if quiet is not None:
            if quiet is not self._quiet:
                self._runner.put(quiet)
        elif self._quiet is not None or due:
            self._needed_ms = now
            self._runner.put(Need())
        self._quiet = quiet

    def _take_samples(self) -> None:
        self.samples += self._runner.take_samples()
        if self.samples:
            oldest = self.samples[-1].at_ms - KEPT_MS
            if self.samples[0].at_ms < oldest - 60_000:
                self.samples = [s for s in self.samples if s.at_ms >= oldest]

    def _take_vin(self) -> None:
        if self.vin is None and self._keep is not None and (vin := self._vin()) is not None:
            self.vin = vin
            try:
                self._submit(Note("vin", {"text": self._keep("vin", vin)}))
            except NotRecordable:  # what an ECU gives need not be one
                return

    def _ends(self, command: Begin) -> bool:
        core = self._session.job.core
        step = self._session.plan.step(core.procedure, command.step)
        return isinstance(step, EndStep) and core.step == command.step

    def _against(self) -> bool:
        job = self._session.job
        return any(contradictions(job.bay, job.core.measured))

    def _gone(self) -> None:
        """What ran the link has failed: the link is lost, and the job goes on by typing."""
        if not self._failed:
            self._failed = True
            if self._session.job.bay.gun is Gun.OPEN:
                self.alarms.append(Happening(self.witness.now_ms, Kind.ALARM, "link_lost"))
            self._forget()

    def _forget(self) -> None:
        """Nobody measures any more: nothing that was measured stands. No log shows this."""
        measured = self._session.job.core.measured
        if measured == NOTHING_MEASURED:
            return
        for fact in STATES:
            if getattr(measured, fact) != "unknown":
                self._submit(VehicleReport("fact", fact, "", 0, 0, {"is": "unknown"}))


def report_of(happening: Happening, link: str) -> VehicleReport:
    """A happening as the journal holds it."""
    return VehicleReport(
        happening.kind.value,
        happening.what,
        link,
        happening.from_ms,
        happening.at_ms,
        dict(happening.numbers),
    )


def said_of(job: Job, vehicle: VehicleInput) -> Said:
    """What the reducer must know of a job: what is said, what is permitted, the limits of revs."""
    bay, numbers = job.bay, job.log.numbers

    def whole(name: str) -> int | None:
        return int(float(numbers[name])) if name in numbers else None

    return Said(
        0,
        engine=bay.engine.value,
        permits=frozenset() if bay.permit is None else frozenset({bay.permit.value}),
        gun_open=bay.gun is Gun.OPEN,
        ceiling_rpm=whole("rev_ceiling_rpm"),
        raised_lower_rpm=whole("revs_low_rpm"),
        raised_upper_rpm=whole("revs_high_rpm"),
        idle_rpm=int(vehicle.idle_rpm),
        set_aside=frozenset(job.core.set_aside),
    )


def quiet_of(job: Job) -> Quiet | None:
    """Why nothing may be asked of the vehicle now: the job has ended, the key is boxed, or the
    ignition is off and nothing is permitted that turns it on. None while values are needed."""
    bay: Bay = job.bay
    if job.core.ended:
        return Quiet.LEFT
    if bay.key is Key.BOXED:
        return Quiet.KEY_BOXED
    off = bay.key is Key.OFF and bay.engine not in _RUNNING and bay.permit not in _TURNS_ON
    return Quiet.NO_NEED if off else None


def note_log(session: Session, name: str, path: Path, digest: Digest | None) -> None:
    """Write down what the record keeps of a raw log. One that was cut off is read for it."""
    if digest is None:
        try:
            data = path.read_bytes()
        except OSError:
            return
        digest = Digest(hashlib.sha256(data).hexdigest(), len(data), 0, 0)
    plain = {key: str(value) for key, value in asdict(digest).items()}
    session.submit(Note("vehicle_log", {"link": name, **plain}))


def note_left_over(session: Session, folder: JobFolder) -> None:
    """Links that a killed program left behind: note their logs as they lie there."""
    noted = {note["link"] for note in session.job.log.every("vehicle_log")}
    for begun in session.job.log.every("vehicle_link"):
        name = str(begun["link"])
        path = folder.path / ROOM / f"{name}.raw"
        if name not in noted and name.isdigit() and path.exists():
            note_log(session, name, path, None)
