"""One job as its sheet sees it: the record, its timeline, its answers, and who is who."""

from dataclasses import dataclass
from typing import Any

from steplatch.safety.catalogue import _, spoken

from ..assess import told
from ..core.reading_set import PHASES
from .answers import JobAnswers
from .blocks import TableCell
from .record_view import ERASED, JobRecord
from .texts import ABANDONED, DRAFT, NOT_RECORDED, PRACTICE
from .texts import ERASED as ERASED_WORD
from .timeline import Timeline, read_timeline
from .typed import plain_text


@dataclass(frozen=True, slots=True)
class Subject:
    """The job of one sheet. Built by ``subject_of``."""

    record: JobRecord
    timeline: Timeline
    answers: JobAnswers

    @property
    def verdict(self) -> dict[str, Any] | None:
        """The last verdict that was recorded."""
        found = self.timeline.latest("verdict")
        return None if found is None else told.verdict(found)

    @property
    def change(self) -> dict[str, Any] | None:
        """The last judgement of what changed since a kept set."""
        found = self.timeline.latest("change")
        return None if found is None else told.change(found)

    @property
    def retained(self) -> dict[str, Any] | None:
        """The last judgement of what a filter retains."""
        found = self.timeline.latest("retained")
        return None if found is None else told.retained(found)

    @property
    def phases(self) -> tuple[str, ...]:
        """The phases of readings that this job has: a job that reads nothing after has no such."""
        mains = [p for p in self.record.procedures.values() if p.role == "main"]
        asked = {getattr(step, "phase", "") for main in mains for step in main.steps()}
        return tuple(p for p in PHASES if p in asked or p == "before" or not mains)

    def every_value(self, name: str) -> tuple[Any, ...]:
        """Everything that stands recorded under a name, oldest first."""
        return self.record.job.log.every(name)

    def triage(self, before_seq: int | None = None) -> dict[str, Any] | None:
        """The last triage that was recorded, up to a journal line if given."""
        found = self.timeline.latest("triage", before_seq)
        return None if found is None else told.triage(found)

    @property
    def judged(self) -> dict[str, Any]:
        """What is known of resistance and limits: the verdict, else the triage, else nothing."""
        return self.verdict or self.change or self.triage() or {}

    @property
    def marks(self) -> tuple[str, ...]:
        """What has to stand on every page."""
        found = []
        if self.record.practice:
            found.append(PRACTICE)
        if not self.record.ended:
            found.append(DRAFT)
        elif self.record.ended == "abandoned":
            found.append(ABANDONED)
        return tuple(found)

    def personal(self, name: str) -> TableCell:
        """A personal value; erased and never given show as such."""
        value = self.record.personal.get(name)
        if value is None:
            return TableCell(NOT_RECORDED, missing=True)
        if value == ERASED:
            return TableCell(ERASED_WORD, missing=True)
        return TableCell(plain_text(value, 200))

    def person(self, person_id: str) -> str:
        """Name and role of a person on the job's roster; the customer by name."""
        if person_id == "customer":
            name = self.personal("customer_name")
            return _("customer") if name.missing else _("{text} (customer)", text=name.text)
        for known in self.record.job.log.people:
            if known.get("id") == person_id:
                return plain_text(
                    f"{known.get('name', person_id)} ({spoken(str(known.get('role', '?')))})", 120
                )
        return plain_text(person_id, 80) if person_id else NOT_RECORDED

    def label(self, name: str) -> TableCell:
        """What the vehicle, fluid, gun or workshop file calls itself."""
        text = self.record.labels.get(name)
        return TableCell(plain_text(text, 160)) if text else TableCell(NOT_RECORDED, missing=True)

    def state_words(self) -> str:
        """How the job stands."""
        return {"": _("not finished"), "finished": _("finished"), "abandoned": _("abandoned")}.get(
            self.record.ended, plain_text(self.record.ended, 40)
        )

    def step_words(self, procedure_id: str, step_id: str) -> str:
        """What a step says to do; its id where the procedure is not at hand."""
        procedure = self.record.procedures.get(procedure_id)
        if procedure is not None:
            try:
                return plain_text(procedure.step(step_id).do, 400)
            except KeyError:
                pass
        return plain_text(step_id, 80)


def subject_of(record: JobRecord) -> Subject:
    """Read a job's journal once, for every part of its sheet."""
    timeline = read_timeline(record)
    return Subject(record, timeline, JobAnswers(record, timeline))
