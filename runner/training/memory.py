"""What a practice job keeps beside its journal, so that its vehicle can be rebuilt as it stood.

After each line that is safe on disk the vehicle's acts so far are written to ``practice.json``,
aside and then put in place, so that a program killed at any moment leaves the acts up to the
last line or up to the one before. It is no part of the record: no proof rests on it.
"""

import json
import time
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path

from steplatch.safety.catalogue import _

from ..jobs.bundle import Bundle
from ..jobs.projection import BrokenJob
from ..record import Disk, JobFolder, LineState
from ..record.disk import read_whole, replace_file
from ..record.faults import failed
from ..simulator.acts import ActDone
from ..simulator.hand import VehicleClock
from ..simulator.vehicle import SimulatedVehicle

MEMORY_FILE = "practice.json"
MAX_MEMORY_BYTES = 8_000_000
"""Ten thousand acts and lines: a practice job has some hundreds (a design choice)."""


@dataclass(frozen=True, slots=True)
class About:
    """What a practice job was set up as: lesson, exercise, whether it plays itself, and how many
    times as fast as real time its waits pass (0: they jump)."""

    lesson: str = "good-clean"
    exercise: str = ""
    plays_itself: bool = False
    speed: float = 0.0


@dataclass(slots=True)
class Memory:
    """Writes the vehicle down whenever it is called; nothing before ``folder`` is set.

    ``stood`` holds for each line how many acts had been done by then, and the milliseconds by
    this computer's own clock: practice time jumps, what a person took does not.
    """

    vehicle: SimulatedVehicle
    start: datetime
    about: About = About()
    folder: Path | None = None
    disk: Disk = field(default_factory=Disk)
    stood: list[tuple[int, int, int]] = field(default_factory=list)

    def __call__(self, seq: int) -> None:
        """Line ``seq`` is safe on disk: keep what the vehicle has been through up to it."""
        acts = self.vehicle.acts_done
        self.stood.append((seq, len(acts), round(time.monotonic() * 1000)))
        if self.folder is None:
            return
        kept = {
            "seed": self.vehicle.seed,
            "faults": list(self.vehicle.faults),
            "start": self.start.isoformat(),
            "seq": seq,
            "about": asdict(self.about),
            "stood": self.stood,
            "acts": [[name, list(args), kwargs] for name, args, kwargs in acts],
        }
        path = self.folder / MEMORY_FILE
        try:
            replace_file(self.disk, path, json.dumps(kept).encode("utf-8"))
        except OSError as error:
            raise failed(path, _("keep the practice vehicle"), error, LineState.WRITTEN) from error


@dataclass(frozen=True, slots=True)
class KeptPractice:
    """What lies beside the record of a practice job. ``stood``: see ``Memory``; empty for a job
    of an earlier program."""

    seed: int
    faults: tuple[str, ...]
    start: datetime
    about: About
    acts: tuple[ActDone, ...]
    stood: tuple[tuple[int, int, int], ...]


def kept_of(folder: JobFolder) -> KeptPractice | None:
    """What was kept beside a job; None for a real one. Raises BrokenJob when it cannot be read,
    JournalFailed when the disk does not give it."""
    path = folder.path / MEMORY_FILE
    try:
        raw = read_whole(Disk(), path, MAX_MEMORY_BYTES)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise failed(path, _("read the practice vehicle"), error) from error
    try:
        if len(raw) > MAX_MEMORY_BYTES:
            raise ValueError(
                _(
                    "it has more than {max_memory_bytes} MB",
                    max_memory_bytes=MAX_MEMORY_BYTES // 1000000,
                )
            )
        plain = json.loads(raw.decode("utf-8"))
        return KeptPractice(
            int(plain["seed"]),
            tuple(str(name) for name in plain["faults"]),
            datetime.fromisoformat(plain["start"]),
            About(**plain.get("about", {})),
            tuple((str(name), tuple(args), dict(kwargs)) for name, args, kwargs in plain["acts"]),
            tuple((int(seq), int(acts), int(ms)) for seq, acts, ms in plain.get("stood", ())),
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise _broken(path, error) from error


def remembered(folder: JobFolder, bundle: Bundle) -> tuple[VehicleClock, Memory] | None:
    """Clock and memory, with the vehicle as it stood; None for a real job.

    Raises BrokenJob when the side file cannot be read or does not fit this program.
    """
    kept = kept_of(folder)
    if kept is None:
        return None
    try:
        vehicle = SimulatedVehicle.rebuilt(kept.seed, kept.faults, kept.acts, bundle.vehicle)
    except (ValueError, TypeError) as error:
        raise _broken(folder.path / MEMORY_FILE, error) from error
    memory = Memory(vehicle, kept.start, kept.about, folder.path, stood=list(kept.stood))
    return VehicleClock(kept.start, vehicle), memory


def _broken(path: Path, error: Exception) -> BrokenJob:
    return BrokenJob(
        _(
            "{path}: the practice vehicle cannot be rebuilt ({error}). The record is whole; "
            "begin a new practice job.",
            path=path,
            error=error,
        )
    )
