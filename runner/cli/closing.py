"""The end of a job: its verdict said, then put right, listed, sealed, its sheet written.

The verdict comes first, since nothing after it can change it. Each later part may fail, is said
when it does, and is done when the job is come back to: ``steplatch resume JOB`` closes what is
left open, and does nothing to what is done.
"""

import hashlib
from collections.abc import Callable

from steplatch.safety.catalogue import _

from ..assess import told
from ..core.amend import JUDGED
from ..core.job import Job
from ..jobs.ledgers import SHEET_NAME, data_of, sheet_sha256, tell
from ..jobs.sealing import put_right, seal_at_end
from ..jobs.store import job_of
from ..record import Disk, JobFolder, RecordError
from ..record.disk import replace_file
from ..record.faults import failed
from ..record.ledger import Entry, read_ledger
from ..screen.talk import Prompt, Stopped, Talk
from . import exits


def closing(talk: Talk, folder: JobFolder, ended: str, by: str = "") -> int:
    """Say the verdict, then close the job; the exit code is that of a disk that failed, or OK."""
    job = job_of(folder)
    talk.say()
    for name in JUDGED:
        if (judged := job.log.latest(name)) is not None:
            for text in told.lines(name, judged):
                talk.say(text)
    talk.say(_("JOB      {id}: {ended}", id=folder.id, ended=ended))
    talk.say(_("journal  {journal}", journal=folder.journal))
    return close_job(talk, folder, job, by)


def close_job(
    talk: Talk, folder: JobFolder, job: Job, by: str = "", disk: Disk | None = None
) -> int:
    """Put right, seal, and write the sheet of a job that has ended, each where it is not done."""
    data, wrong = data_of(folder), False
    try:
        put_right(folder, by, disk)
        if data is not None and not job.log.practice:
            said, wrong = seal_at_end(folder, data, _passphrase_from(talk), by, disk)
        else:
            said = []
    except RecordError as error:
        said, wrong = [_("NOT CLOSED: {error}", error=error)], True
    try:
        if not wrong:  # else it would say of the seal what is so no more once it is closed
            talk.say(_("sheet    {write_sheet}", write_sheet=write_sheet(folder, job, by, disk)))
    except RecordError as error:
        said, wrong = [*said, _("NO SHEET: {error}", error=error)], True
    for text in said:
        talk.say(text)
    if wrong:
        talk.say(
            _("The record is whole. Close the rest later: steplatch resume {id}", id=folder.id)
        )
    return exits.RECORD_FAILED if wrong else exits.OK


def write_sheet(folder: JobFolder, job: Job, by: str = "", disk: Disk | None = None) -> str:
    """The job's page, written where it is not there as the ledger has it. Raises JournalFailed."""
    from ..sheet.content import sheet_content
    from ..sheet.html_page import to_html
    from ..sheet.of_job import record_of

    path, data = folder.path / SHEET_NAME, data_of(folder)
    listed = data is not None and not job.log.practice
    stands = sheet_sha256(folder)
    if stands and (not listed or stands == _newest_sheet(folder)):
        return str(path)
    raw = to_html(sheet_content(record_of(folder))).encode("utf-8")
    try:
        replace_file(disk or Disk(), path, raw)
    except OSError as error:
        raise failed(path, _("write the sheet"), error) from error
    if listed and data is not None:
        tell(data, Entry("sheet", folder.id, by, sheet=hashlib.sha256(raw).hexdigest()), disk=disk)
    return str(path)


def _newest_sheet(folder: JobFolder) -> str:
    """The page that the ledger has, where nothing came after it that it would say."""
    data = data_of(folder)
    ledger = None if data is None else read_ledger(data)
    entries = ledger.of(folder.id) if ledger else ()
    told_of = [e for e in entries if e.what in ("sheet", "sealed", "erased")]
    return told_of[-1].sheet if told_of else ""


def _passphrase_from(talk: Talk) -> Callable[[str], str | None]:
    """Asks for a passphrase unseen; a stop or an empty line is none."""

    def ask(text: str) -> str | None:
        try:
            return talk.ask(Prompt("passphrase", "secret", text)) or None
        except Stopped:
            return None

    return ask
