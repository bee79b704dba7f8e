"""One model of a sheet's content, from one job alone."""

from . import pictured
from .agreement_part import agreement_part
from .blocks import JobSheet, Picture
from .customer_part import customer_part
from .numbers import groups
from .record_view import JobRecord
from .subject import subject_of
from .technical_part import technical_part
from .typed import plain_text


def sheet_content(record: JobRecord) -> JobSheet:
    """Everything that a job sheet says: the same for page, PDF and terminal.

    Raises ``BadWire``, ``BadReading`` or ValueError for a record that no journal of this
    program holds; each names what it cannot read.
    """
    subject = subject_of(record)
    lines = record.lines
    job_id = plain_text(record.job_id, 60)
    return JobSheet(
        title="Job sheet: particulate filter",
        subtitle=f"Job {job_id}, {subject.state_words()}",
        job_id=job_id,
        utc=lines[-1][1] if lines else "",
        marks=subject.marks,
        foot=f"Job {job_id} · record {groups(record.head_hash, 4, 4)} · {record.line_count} lines",
        customer=customer_part(subject),
        agreement=agreement_part(subject),
        technical=technical_part(subject),
    )


def pictures_to_come(record: JobRecord) -> tuple[Picture, ...]:
    """The pictures that the sheet of ``record`` will hold, known before its audit is.

    Raises as ``sheet_content`` does.
    """
    subject = subject_of(record)
    judged = subject.judged
    blocks = (
        pictured.bars(judged) if judged else None,
        pictured.flow_picture(judged) if judged else None,
        pictured.trend_picture(subject.timeline),
    )
    return tuple(block for block in blocks if isinstance(block, Picture))
