"""What a practice job keeps beside its journal, so that its vehicle can be rebuilt as it stood.

After each line that is safe on disk the vehicle's acts so far are written to ``practice.json``,
aside and then put in place, so that a program killed at any moment leaves the acts up to the
last line or up to the one before. It is no part of the record: no proof rests on it.
"""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from runner.bundle import Bundle
from runner.practice.hand import VehicleClock
from runner.practice.vehicle import SimulatedVehicle
from runner.record import JobFolder
from runner.store import BrokenJob

MEMORY_FILE = "practice.json"


@dataclass(slots=True)
class Memory:
    """Writes the vehicle down whenever it is called; nothing before ``folder`` is set."""

    vehicle: SimulatedVehicle
    start: datetime
    folder: Path | None = None

    def __call__(self, seq: int) -> None:
        """Line ``seq`` is safe on disk: keep what the vehicle has been through up to it."""
        if self.folder is None:
            return
        kept = {
            "seed": self.vehicle.seed,
            "faults": list(self.vehicle.faults),
            "start": self.start.isoformat(),
            "seq": seq,
            "acts": [[name, list(args), kwargs] for name, args, kwargs in self.vehicle.acts_done],
        }
        aside = self.folder / f"{MEMORY_FILE}.new"
        aside.write_text(json.dumps(kept), encoding="utf-8")
        aside.replace(self.folder / MEMORY_FILE)


def remembered(folder: JobFolder, bundle: Bundle) -> tuple[VehicleClock, SimulatedVehicle] | None:
    """Clock and vehicle of a practice job as they stood; None for a real job.

    Raises BrokenJob when the side file cannot be read or does not fit this program.
    """
    path = folder.path / MEMORY_FILE
    if not path.exists():
        return None
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        acts = [(str(name), tuple(args), dict(kwargs)) for name, args, kwargs in kept["acts"]]
        start = datetime.fromisoformat(kept["start"])
        vehicle = SimulatedVehicle.rebuilt(
            int(kept["seed"]), tuple(kept["faults"]), acts, bundle.vehicle
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BrokenJob(
            f"{path}: the practice vehicle cannot be rebuilt ({error}). The record is whole; "
            "begin a new practice job."
        ) from error
    return VehicleClock(start, vehicle), vehicle
