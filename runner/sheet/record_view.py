"""What a job sheet is made from: one job, its journal lines, and nothing else.

Whoever renders a sheet fills a ``JobRecord`` from the job's folder. The report reads no file,
clock or setting of its own, so that the same job gives the same sheet.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ..core.job import Job
from ..core.procedure import Procedure
from ..jobs.projection import TypedLine
from ..jobs.visits import Visit
from ..record.late import LateFile
from .blocks import Photo

ERASED = "erased"
"""What stands in ``JobRecord.personal`` for a value that was erased."""


@dataclass(frozen=True, slots=True)
class JobRecord:
    """All that one job sheet may say.

    job: the job after its last line. procedures: every procedure that it went through, by id.
    lines: the journal, oldest first. head_hash, line_count: hex SHA-256 of the last line and
    the number of lines. personal: field name (customer_name, contact, registration, vin_tail)
    to its value, or ``ERASED``. ended: "", "finished" or "abandoned". audit: what the audit
    found, in plain text; empty when it was not run. labels: words for the files the job rests
    on (vehicle, fluid, gun, workshop), where known. seal, seal_key: whether the record is sealed,
    in plain text, empty when it was not looked at; the short form of the key of a good seal.
    photos: the pictures chosen for the customer, as they are kept with the job.
    late: the files attached after the end.
    visits: the earlier visits of this car, oldest first.
    working: the worked limits line by line, worked again from the files that the job keeps.
    """

    job: Job
    procedures: Mapping[str, Procedure]
    lines: Sequence[TypedLine]
    head_hash: str
    line_count: int
    job_id: str
    personal: Mapping[str, str]
    practice: bool
    ended: str
    program: str
    rules_sha256: str
    judge_sha256: str
    audit: str
    labels: Mapping[str, str] = field(default_factory=dict)
    seal: str = ""
    seal_key: str = ""
    working: Mapping[str, Any] = field(default_factory=dict)
    photos: tuple[Photo, ...] = ()
    late: tuple[LateFile, ...] = ()
    visits: tuple[Visit, ...] = ()
