"""What was written down when a car was here before, and at the last job of this workshop."""

from collections.abc import Iterator
from dataclasses import dataclass

from ..core.commands import KEPT_APART
from ..core.job import Job
from ..core.reading_set import ReadingSet
from ..record import DataFolder, JobFolder, RecordError, list_jobs
from .facts import plate
from .projection import BrokenJob
from .store import job_of, personal_of

ERASED = "erased"


@dataclass(frozen=True, slots=True)
class LastTime:
    """One earlier job: its day (ISO), its state at the end, and the kept personal values."""

    day: str
    job: Job
    personal: dict[str, str]

    def answer(self, name: str) -> str:
        """What was answered under ``name``, as it was typed or chosen; '' for nothing."""
        if name in self.personal:
            return self.personal[name]
        found = self.job.log.latest(name) or {}
        said = str(next((found[k] for k in ("choice", "text", "typed") if k in found), ""))
        return "" if said.startswith(KEPT_APART) else said

    def kept_line(self, condition: str) -> str:
        """The last set of a condition as it was typed on one line: of those after the work, else
        before; '' for none."""
        sets = [s for s in self.job.log.every("reading") if s.get("condition") == condition]
        worked = [s for s in sets if s["phase"] != "before"]
        last = (worked or sets)[-1:]
        return ReadingSet.from_json(last[0]).typed if last else ""

    def state(self, fact: str) -> str:
        """The state that a fact was left in; '' where it was not known."""
        state = getattr(self.job.bay, fact)
        return "" if state.unknown else str(state.value)


def of_car(data: DataFolder, registration: str, practice: bool, but: str = "") -> LastTime | None:
    """The last job of the car with this registration; None for a car that was never here."""
    return next(earlier_of_car(data, registration, practice, but), None)


def earlier_of_car(
    data: DataFolder, registration: str, practice: bool, but: str = ""
) -> Iterator[LastTime]:
    """The jobs of the car with this registration that have ended, the last first.

    ``practice`` jobs know of practice jobs alone, and real ones of real ones; ``but`` is the job
    that asks. What was erased is not known any more.
    """
    wanted = plate(registration)
    for folder in _newest_first(data, but):
        personal = _personal(folder)
        if wanted and plate(personal.get("registration", "")) == wanted:
            found = _read(folder, personal, practice)
            if found is not None:
                yield found


def ending_in(data: DataFolder, tail: str, practice: bool, but: str = "") -> tuple[str, ...]:
    """The registrations of earlier jobs here that end in ``tail``, each once, as typed."""
    wanted, found = plate(tail), dict[str, str]()
    for folder in _newest_first(data, but):
        typed = _personal(folder).get("registration", "")
        known = wanted and plate(typed).endswith(wanted) and plate(typed) not in found
        if known and _read(folder, {}, practice) is not None:
            found[plate(typed)] = typed
    return tuple(found.values())


def of_workshop(data: DataFolder, practice: bool, but: str = "") -> LastTime | None:
    """The last job of this workshop that ended."""
    found = (_read(folder, {}, practice) for folder in _newest_first(data, but))
    return next((one for one in found if one is not None), None)


def _newest_first(data: DataFolder, but: str) -> Iterator[JobFolder]:
    folders = [folder for folder in list_jobs(data) if folder.id != but]
    return iter(sorted(folders, key=_begun, reverse=True))


def _begun(folder: JobFolder) -> tuple[str, float]:
    try:
        return folder.id[:10], folder.journal.stat().st_mtime
    except OSError:
        return folder.id[:10], 0.0


def _personal(folder: JobFolder) -> dict[str, str]:
    try:
        return {k: v for k, v in personal_of(folder).items() if v != ERASED}
    except (RecordError, OSError):
        return {}


def _read(folder: JobFolder, personal: dict[str, str], practice: bool) -> LastTime | None:
    """The job, if it has ended and can be read; one that cannot says nothing."""
    try:
        job = job_of(folder)
    except (BrokenJob, RecordError, OSError):
        return None
    ended = job.core.ended and job.log.practice is practice
    return LastTime(folder.id[:10], job, personal) if ended else None
