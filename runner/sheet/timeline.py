"""The journal lines of a job as people read them: what happened when, by whom, at which step."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Happened

from ..core.events import Begun, Corrected, Done, Event, Moved, Recorded
from ..core.refusals import recorded
from ..jobs.projection import TypedLine
from .record_view import JobRecord


@dataclass(frozen=True, slots=True)
class WorkshopTime:
    """A moment in the workshop's own time. ``local`` is that time, ``zone`` its offset."""

    local: datetime
    zone: str

    def clock(self) -> str:
        """``14:05:09``."""
        return self.local.strftime("%H:%M:%S")

    def day(self) -> str:
        """``2025-01-31``."""
        return self.local.strftime("%Y-%m-%d")

    def full(self) -> str:
        """``2025-01-31 14:05:09 +01:00``."""
        return f"{self.day()} {self.clock()} {self.zone}"


def moment(utc: str, zone: str) -> WorkshopTime:
    """The moment of a journal line. Raises ValueError for what no journal holds."""
    at = datetime.fromisoformat(utc.replace("Z", "+00:00")).astimezone(UTC)
    sign = -1 if zone.startswith("-") else 1
    hours, minutes = zone.lstrip("+-").split(":")
    return WorkshopTime(at + sign * timedelta(hours=int(hours), minutes=int(minutes)), zone)


@dataclass(frozen=True, slots=True)
class At:
    """One event with its place: line, moment, who, and the step that was current then."""

    seq: int
    when: WorkshopTime
    actor: str
    role: str
    procedure: str
    step: str
    event: Event


@dataclass(frozen=True, slots=True)
class RefusedRequest:
    """One refusal: what was asked, by whom, at which step, and why not."""

    seq: int
    when: WorkshopTime
    actor: str
    step: str
    asked: str
    interlock: str
    reason: str
    remedy: str
    source: str


@dataclass(frozen=True, slots=True)
class Worked:
    """One working of a step: begun, ended (None: never), the answer and who gave it.

    ``how`` is done, again (it ended, but the step has to be worked once more) or left.
    """

    procedure: str
    step: str
    begun: WorkshopTime | None
    ended: WorkshopTime | None
    answer: str
    by: str
    how: str


@dataclass(slots=True)
class Timeline:
    """Everything of a journal in order. Built once by ``read_timeline``."""

    events: list[At] = field(default_factory=list)
    refusals: list[RefusedRequest] = field(default_factory=list)
    worked: list[Worked] = field(default_factory=list)
    first: WorkshopTime | None = None
    last: WorkshopTime | None = None

    @property
    def many_days(self) -> bool:
        """Whether the job spans more than one day or changes its offset from UTC."""
        if self.first is None or self.last is None:
            return False
        return (self.first.day(), self.first.zone) != (self.last.day(), self.last.zone)

    def show(self, when: WorkshopTime | None) -> str:
        """A moment as short as this job allows."""
        if when is None:
            return ""
        return when.full() if self.many_days else when.clock()

    def recorded(self, before_seq: int | None = None) -> list[At]:
        """Everything recorded, oldest first, each as corrected; up to a journal line if given.

        A record keeps the place and the time at which it was first typed.
        """
        found: list[At] = []
        for at in self.events:
            if before_seq is not None and at.seq > before_seq:
                break
            if isinstance(at.event, Recorded):
                found.append(at)
            elif isinstance(at.event, Corrected):
                places = [
                    place
                    for place, one in enumerate(found)
                    if isinstance(one.event, Recorded) and one.event.name == at.event.name
                ]
                if at.event.number < len(places):
                    place = places[at.event.number]
                    was = found[place]
                    if isinstance(was.event, Recorded):
                        now = Recorded(
                            was.event.name,
                            at.event.now,
                            was.event.step,
                            procedure=was.event.procedure,
                        )
                        found[place] = replace(was, event=now)
        return found

    def records(self, name: str, before_seq: int | None = None) -> list[At]:
        """Everything recorded under ``name``, as ``recorded``."""
        return [
            at
            for at in self.recorded(before_seq)
            if isinstance(at.event, Recorded) and at.event.name == name
        ]

    def latest(self, name: str, before_seq: int | None = None) -> dict[str, Any] | None:
        """The last thing recorded under ``name``, None when there is none."""
        found = self.records(name, before_seq)
        event = found[-1].event if found else None
        return event.value if isinstance(event, Recorded) else None

    def of(self, *kinds: type) -> list[At]:
        """The events of these kinds, oldest first."""
        return [at for at in self.events if isinstance(at.event, kinds)]


def read_timeline(record: JobRecord) -> Timeline:
    """The timeline of a job. Raises ValueError for a time that no journal holds."""
    line_of = Timeline()
    procedure = step = happened = ""
    answered: WorkshopTime | None = None
    open_step: tuple[str, str, WorkshopTime] | None = None
    for line in record.lines:
        envelope = line.line.envelope
        when, who = moment(envelope.times.utc, envelope.times.zone), envelope.actor
        line_of.first = line_of.first or when
        line_of.last = when
        for event in line.events:
            line_of.events.append(At(line.seq, when, who, envelope.role, procedure, step, event))
            match event:
                case Moved():
                    if open_step is not None:
                        again = event.reason == "again"
                        line_of.worked.append(
                            Worked(*open_step, when, happened, who, "again")
                            if again
                            else _left(open_step)
                        )
                        open_step = None
                    procedure, step = event.procedure, event.step
                case Begun():
                    if open_step is not None:
                        line_of.worked.append(
                            Worked(*open_step, answered, happened, who, "again")
                            if happened
                            else _left(open_step)
                        )
                    open_step, happened = (procedure, event.step, when), ""
                case Done():
                    begun = open_step[2] if open_step and open_step[1] == event.step else None
                    line_of.worked.append(
                        Worked(procedure, event.step, begun, when, event.answer, event.by, "done")
                    )
                    open_step = None
                case Happened():
                    happened, answered = event.what.said, when
                case Recorded(name="exhaust"):
                    happened, answered = str(event.value.get("typed", "")), when
                case _:
                    pass
        line_of.refusals += _refusals(line, when, step)
    if open_step is not None:
        line_of.worked.append(_left(open_step))
    return line_of


def _left(open_step: tuple[str, str, WorkshopTime]) -> Worked:
    return Worked(*open_step, None, "", "", "left")


def _refusals(line: TypedLine, when: WorkshopTime, step: str) -> Sequence[RefusedRequest]:
    command = line.line.command
    return [
        RefusedRequest(
            line.seq,
            when,
            line.line.envelope.actor,
            str(command.get("step") or step),
            _asked(command),
            said.interlock,
            said.reason,
            said.remedy,
            said.source,
        )
        for said in map(recorded, line.line.outcome["refused"])
    ]


def _asked(command: dict[str, Any]) -> str:
    words = {
        "Begin": _("begin"),
        "Answer": _("answer"),
        "Sign": _("sign"),
        "Report": _("report"),
        "Look": _("look"),
        "Back": _("go back to"),
        "GoOn": _("go on"),
        "Correct": _("correct"),
        "NotApplicable": _("leave as not applicable"),
        "Waive": _("waive"),
    }
    kind = str(command.get("kind", ""))
    given = [
        str(command[key])
        for key in ("step", "name", "interlock", "what", "fact", "state", "value", "seconds",
                    "volume_ml", "person")
        if command.get(key)
    ]  # fmt: skip
    return " ".join([words.get(kind, kind.lower()), *given])
