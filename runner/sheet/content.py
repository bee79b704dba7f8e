"""One model of a sheet's content, from one job alone."""

from steplatch.safety.catalogue import _

from .agreement_part import agreement_part
from .blocks import JobSheet
from .customer_part import customer_part, photos_part
from .numbers import groups
from .record_view import JobRecord
from .subject import subject_of
from .technical_part import listing_part, technical_part
from .typed import plain_text


def sheet_content(record: JobRecord) -> JobSheet:
    """Everything that a job sheet says: the same for page, PDF and terminal.

    Raises ``BadReading`` or ValueError for a record that no journal of this
    program holds; each names what it cannot read.
    """
    subject = subject_of(record)
    lines = record.lines
    job_id = plain_text(record.job_id, 60)
    return JobSheet(
        title=_("Job sheet: particulate filter"),
        subtitle=_("Job {job_id}, {state_words}", job_id=job_id, state_words=subject.state_words()),
        job_id=job_id,
        utc=lines[-1].line.envelope.times.utc if lines else "",
        marks=subject.marks,
        foot=_(
            "Job {job_id} · record {groups} · {line_count} lines",
            job_id=job_id,
            groups=groups(record.head_hash, 4, 4),
            line_count=record.line_count,
        ),
        customer=customer_part(subject),
        agreement=agreement_part(subject),
        technical=technical_part(subject),
        listing=listing_part(subject),
        photos=photos_part(record),
    )
