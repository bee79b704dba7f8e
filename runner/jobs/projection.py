"""A journal read once: each line with its typed events and the job before and after it.

Sheet, export, debrief, book and audit all read a journal by this: what a line holds is checked
against the commands and events of this program here, and nowhere else, so that whoever reads on
meets only what belongs there, whoever wrote the folder.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from steplatch.safety.catalogue import _

from ..core.codec import decode_command, decode_event
from ..core.events import Event
from ..core.job import Job, evolve
from ..record import (
    Anchor,
    Disk,
    JobFolder,
    JournalBroken,
    JournalLine,
    Verification,
    verify_and_read,
)


class BrokenJob(RuntimeError):  # noqa: N818 - it names the thing, as the other refusals do
    """A job's files do not fit together; says what is wrong and what may be done."""


@dataclass(frozen=True, slots=True)
class TypedLine:
    """One line of a journal and the events that it holds."""

    line: JournalLine
    events: tuple[Event, ...]

    @property
    def seq(self) -> int:
        """The line's number."""
        return self.line.envelope.seq


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a journal, its events, and the job before and after them."""

    line: JournalLine
    events: tuple[Event, ...]
    before: Job
    after: Job


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal read in one pass. ``lines`` is empty where the chain is not sound."""

    folder: JobFolder
    chain: Verification
    lines: tuple[JournalLine, ...]

    @classmethod
    def of(
        cls, folder: JobFolder, disk: Disk | None = None, printed: Anchor | None = None
    ) -> "Journal":
        """Read and check a job's journal, against a printed head where one is given. Raises
        JournalFailed."""
        return cls(folder, *verify_and_read(folder.path, disk, printed))

    def sound(self) -> "Journal":
        """This journal. Raises JournalBroken with every finding where the chain is not sound."""
        if not self.chain.sound:
            raise JournalBroken(str(self.folder.path), self.chain.findings)
        return self


def typed(lines: Iterable[JournalLine]) -> Iterator[TypedLine]:
    """Each line with what it holds. Raises BrokenJob, which names the line, at what no program of
    ours wrote there."""
    for line in lines:
        try:
            _check_shape(line)
            events = tuple(map(decode_event, line.outcome["events"]))
        except (KeyError, TypeError, ValueError) as bad:
            raise BrokenJob(_("line {seq}: {bad}", seq=line.envelope.seq, bad=bad)) from bad
        yield TypedLine(line, events)


def _check_shape(line: JournalLine) -> None:
    """Raises ValueError where command or refusals are not as they are written."""
    decode_command(line.command)
    refused = line.outcome.get("refused")
    if set(line.outcome) != {"events", "refused"} or not isinstance(refused, list):
        raise ValueError(_("the outcome is not a list of events and one of refusals"))
    for one in refused:
        known = isinstance(one, dict) and isinstance(one.get("interlock"), str)
        if not known or set(one) != {"interlock", "about"} or not isinstance(one["about"], dict):
            raise ValueError(_("a refusal is not an id and what it is about"))
    if not isinstance(line.outcome["events"], list):
        raise ValueError(_("the events are no list"))


def followed(job: Job, events: Iterable[Event]) -> Job:
    """The job after ``events``."""
    for event in events:
        job = evolve(job, event)
    return job


def entries(lines: Iterable[JournalLine]) -> Iterator[Entry]:
    """Each line with what it holds. Raises BrokenJob at events that nobody knows or that do not
    follow, whatever a record holds."""
    job = Job()
    for each in typed(lines):
        before = job
        try:
            job = followed(job, each.events)
        except Exception as bad:
            raise BrokenJob(_("line {seq}: {bad}", seq=each.seq, bad=bad)) from bad
        yield Entry(each.line, each.events, before, job)


def fold(lines: Iterable[JournalLine]) -> Job:
    """The job as its recorded events make it. Raises BrokenJob."""
    job = Job()
    for entry in entries(lines):
        job = entry.after
    return job
