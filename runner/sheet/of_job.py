"""Fills the sheet's ``JobRecord`` from a job's folder."""

from collections.abc import Mapping
from dataclasses import replace

from steplatch.safety.catalogue import _

from ..core.job import Job
from ..jobs.auditing import audit, audit_lines
from ..jobs.ledgers import data_of
from ..jobs.projection import typed
from ..jobs.store import load
from ..jobs.visits import Visit, earlier_visits
from ..record import JobFolder, RecordError
from ..record.attachments import for_the_page
from ..record.late import LateFile, late_files
from ..record.seal import SealCheck
from .blocks import Photo
from .record_view import ERASED, JobRecord
from .typed import plain_text


def record_of(folder: JobFolder) -> JobRecord:
    """All that a sheet may say about one job. Raises BrokenJob."""
    loaded = load(folder)
    header = loaded.journal.lines[-1].envelope.header
    bundle = loaded.bundle
    record = JobRecord(
        job=loaded.job,
        procedures={bundle.main.id: bundle.main, **bundle.others},
        lines=tuple(typed(loaded.journal.lines)),
        head_hash=loaded.journal.chain.sha256,
        line_count=loaded.journal.chain.lines,
        job_id=folder.id,
        personal=loaded.personal,
        practice=loaded.job.log.practice,
        ended=loaded.job.core.ended,
        audit="",
        program=header.program,
        rules_sha256=header.rules_sha256,
        judge_sha256=header.judge_sha256,
        labels={
            "vehicle": bundle.vehicle.label,
            "gun": bundle.gun.label,
            "fluid": bundle.fluid.label,
            "workshop": bundle.workshop.label,
            "address": bundle.workshop.address or "",
        },
        working=bundle.plan.working,
        visits=_visits(folder, loaded.job, loaded.personal),
        photos=_photos(folder, loaded.job, loaded.personal),
        late=late_of(folder),
    )
    found = audit(folder, loaded=loaded)
    seal = found.seal
    return replace(
        record,
        audit="\n".join(audit_lines(found)),
        seal=_seal_words(seal),
        seal_key=seal.statement.key if seal.state == "good" and seal.statement else "",
    )


MOST_PHOTOS = 8
MOST_VISITS = 5


def _visits(folder: JobFolder, job: Job, personal: Mapping[str, str]) -> tuple[Visit, ...]:
    """The last visits of this car on earlier days; none where its plate is not known."""
    data, registration = data_of(folder), personal.get("registration", "")
    if data is None or not registration or registration == ERASED:
        return ()
    found = earlier_visits(data, registration, job.log.practice, folder.id[:10])
    return tuple(found[-MOST_VISITS:])


def _photos(folder: JobFolder, job: Job, personal: Mapping[str, str]) -> tuple[Photo, ...]:
    """The pictures chosen for the customer; none once the customer's data were erased, since a
    picture can show a plate."""
    if ERASED in personal.values():
        return ()
    all_noted = (*job.log.every("attachment"), *(one.noted() for one in late_of(folder)))
    chosen = [(noted, for_the_page(folder, noted)) for noted in all_noted]
    found = [
        Photo(plain_text(noted["label"], 200), "jpeg" if noted["kind"] == "jpeg" else "png", data)
        for noted, data in chosen
        if data
    ]
    return tuple(found[:MOST_PHOTOS])


def late_of(folder: JobFolder) -> tuple[LateFile, ...]:
    """The files attached after the end; none where their list was changed, which the audit says."""
    try:
        return late_files(folder)
    except RecordError:
        return ()


def _seal_words(seal: SealCheck) -> str:
    """Whether the record is sealed; what is wrong with a seal that does not fit."""
    if seal.state == "none":
        return _("not sealed")
    if seal.state == "broken" or seal.statement is None:
        return "\n".join(("BROKEN", *seal.findings))
    said = seal.statement
    return _(
        "sealed {made}, {time}, with the workshop's key {key}",
        made=said.made,
        time=said.time,
        key=said.key,
    )
