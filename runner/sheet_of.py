"""Fills the sheet's ``JobRecord`` from a job's folder."""

from runner.record import JobFolder
from runner.report import JobRecord, RecordLine
from runner.store import audit, load


def record_of(folder: JobFolder) -> JobRecord:
    """All that a sheet may say about one job. Raises BrokenJob."""
    from runner.commands_line import audit_lines

    loaded = load(folder)
    header = loaded.lines[-1].envelope.header
    bundle = loaded.bundle
    return JobRecord(
        job=loaded.job,
        procedures={bundle.main.id: bundle.main, **bundle.others},
        lines=[
            RecordLine(
                line.envelope.seq,
                line.envelope.times.utc,
                line.envelope.times.zone,
                line.envelope.actor,
                line.envelope.role,
                line.command,
                line.outcome,
            )
            for line in loaded.lines
        ],
        head_hash=loaded.chain.sha256,
        line_count=loaded.chain.lines,
        job_id=folder.id,
        personal=loaded.personal,
        practice=loaded.job.log.practice,
        ended=loaded.job.core.ended,
        program=header.program,
        rules_sha256=header.rules_sha256,
        audit="\n".join(audit_lines(audit(folder, bundle=bundle))),
        labels={
            "vehicle": bundle.vehicle.label,
            "gun": bundle.gun.label,
            "fluid": bundle.fluid.label,
            "workshop": bundle.workshop.label,
        },
    )
