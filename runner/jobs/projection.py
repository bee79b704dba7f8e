"""A journal read once: each line with its typed events and the job before and after it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..core.codec import decode_event
from ..core.job import Event, Job, evolve
from ..record import JournalLine


class BrokenJob(RuntimeError):  # noqa: N818 - it names the thing, as the other refusals do
    """A job's files do not fit together; says what is wrong and what may be done."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a journal, its events, and the job before and after them."""

    line: JournalLine
    events: tuple[Event, ...]
    before: Job
    after: Job


def entries(lines: Iterable[JournalLine]) -> Iterator[Entry]:
    """Each line with what it holds. Raises BrokenJob at events that nobody knows or that do not
    follow, whatever a record holds."""
    job = Job()
    for line in lines:
        before = job
        try:
            events = tuple(map(decode_event, line.outcome["events"]))
            for event in events:
                job = evolve(job, event)
        except Exception as bad:
            raise BrokenJob(f"line {line.envelope.seq}: {bad}") from bad
        yield Entry(line, events, before, job)


def fold(lines: Iterable[JournalLine]) -> Job:
    """The job as its recorded events make it. Raises BrokenJob."""
    job = Job()
    for entry in entries(lines):
        job = entry.after
    return job
