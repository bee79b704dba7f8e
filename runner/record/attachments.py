"""Files kept with a job: a photo, a log, a freeze frame. Copied in, named by their SHA-256.

    <job>/attachments/<sha256>.jpg

The name and label that they came with stand in the journal, as text. The copy is checked against
its hash whenever a job is audited.
"""

import hashlib
import os
import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from steplatch.safety.catalogue import _

from ..input.findings import shown
from .disk import (
    NEW_FLAGS,
    READ_FLAGS,
    Disk,
    fsync_folder,
    let_go,
    open_to_read,
    write_and_sync,
)
from .faults import NotRecordable, failed
from .folders import JobFolder
from .pictures import NotCleanable, kind_of, without_metadata

FOLDER = "attachments"
MAX_FILE_BYTES = 25_000_000
"""A photo of today's cameras and a long log fit; a film does not (a design choice)."""
MAX_JOB_BYTES = 250_000_000
"""Ten of the largest: a job's folder stays small enough to copy (a design choice)."""
MAX_PAGE_BYTES = 4_000_000
"""A photo of today's phones, saved for a page (a design choice)."""
PAGE = "page"
"""The member of a note that says that a picture is shown on the customer's page."""
MAX_LABEL = 200
_SUFFIX = {"jpeg": ".jpg", "png": ".png", "pdf": ".pdf", "text": ".txt", "other": ".bin"}


@dataclass(frozen=True, slots=True)
class Attachment:
    """One file as it is kept. ``cleaned``: metadata were taken out of the copy; ``page``: it is
    shown on the customer's page."""

    sha256: str
    bytes: int
    kind: str
    label: str
    cleaned: bool
    page: bool = False

    def to_json(self) -> dict[str, str]:
        """As the journal notes it."""
        return {
            "sha256": self.sha256,
            "bytes": str(self.bytes),
            "kind": self.kind,
            "label": self.label,
            "cleaned": "yes" if self.cleaned else "no",
            **({PAGE: "yes"} if self.page else {}),
        }


def attachment_path(folder: JobFolder, sha256: str, kind: str) -> Path:
    """Where a kept file lies."""
    return folder.path / FOLDER / f"{sha256}{_SUFFIX.get(kind, '.bin')}"


def keep_file(
    folder: JobFolder,
    source: Path,
    label: str,
    clean: bool = False,
    disk: Disk | None = None,
    page: bool = False,
) -> Attachment:
    """Copy ``source`` into the job. The original is not touched. What is for the customer's
    ``page`` is a picture of a size that a page takes, and is always cleaned.

    Raises NotRecordable (no plain file, empty, too large, not cleanable), JournalFailed.
    """
    file, data = prepared(source, label, clean, page)
    store(folder, file, data, disk or Disk())
    return file


def prepared(
    source: Path, label: str, clean: bool = False, page: bool = False
) -> tuple[Attachment, bytes]:
    """A file as it would be kept, with its bytes; nothing is written. Raises NotRecordable."""
    clean = clean or page
    label = " ".join(label.split())
    if not label or len(label) > MAX_LABEL or not label.isprintable():
        raise NotRecordable(
            "label",
            _("it needs 1 to {max_label} printable characters", max_label=MAX_LABEL),
            _("Say what the file shows"),
        )
    data = _read(source)
    if clean:
        try:
            data = without_metadata(data)
        except NotCleanable as no:
            raise NotRecordable(
                str(source),
                _("its metadata cannot be taken out: {no}", no=no),
                _("Save it as JPEG or PNG"),
            ) from None
    if page and len(data) > MAX_PAGE_BYTES:
        most = _(
            "more than {max_page_bytes} MB is too much for the customer's page",
            max_page_bytes=MAX_PAGE_BYTES // 1000000,
        )
        raise NotRecordable(str(source), most, _("Save it smaller"))
    digest = hashlib.sha256(data).hexdigest()
    return Attachment(digest, len(data), kind_of(data), label, clean, page), data


def store(folder: JobFolder, file: Attachment, data: bytes, disk: Disk) -> None:
    """Keep the bytes of a file with the job; done already, nothing is written. Raises NotRecordable
    where the job would keep too much, JournalFailed."""
    path = attachment_path(folder, file.sha256, file.kind)
    room = path.parent
    try:
        if not room.is_dir():
            disk.mkdir(room)
            fsync_folder(disk, folder.path)
        kept = sum(other.stat().st_size for other in room.iterdir())
        if path.exists() and path.read_bytes() == data:
            return
        if kept + len(data) > MAX_JOB_BYTES:
            raise NotRecordable(
                file.label,
                _(
                    "the job would keep more than {max_job_bytes} MB",
                    max_job_bytes=MAX_JOB_BYTES // 1000000,
                ),
                _("Keep smaller copies"),
            )
        path.unlink(missing_ok=True)  # a copy that was cut off, or damaged since
        write_and_sync(disk, path, NEW_FLAGS, data)
        fsync_folder(disk, room)
    except OSError as error:
        raise failed(room, _("keep the file"), error) from error


def _read(source: Path) -> bytes:
    """A plain file's bytes, never more than the limit. A link, a device, a pipe is refused."""
    try:
        fd = os.open(source, READ_FLAGS)
    except OSError as error:
        if source.is_symlink():
            raise NotRecordable(
                str(source), _("it is a link"), _("Give the file that it points at")
            ) from None
        raise NotRecordable(
            str(source),
            _("it cannot be read ({strerror})", strerror=error.strerror),
            _("Give a file that is there"),
        ) from None
    if not stat.S_ISREG(os.fstat(fd).st_mode):
        os.close(fd)
        raise NotRecordable(str(source), _("it is no plain file"), _("Give a file"))
    with os.fdopen(fd, "rb") as file:
        data = file.read(MAX_FILE_BYTES + 1)
    if not data:
        raise NotRecordable(str(source), _("it is empty"), _("Give the file that was meant"))
    if len(data) > MAX_FILE_BYTES:
        raise NotRecordable(
            str(source),
            _("it has more than {max_file_bytes} MB", max_file_bytes=MAX_FILE_BYTES // 1000000),
            _("Make it smaller"),
        )
    return data


def check_attachment(folder: JobFolder, noted: Mapping[str, object]) -> str | None:
    """What is wrong with a kept file; None when it is as the journal notes it.

    ``noted`` is a stranger's word: what it says becomes no path before it is seen to be a hash.
    """
    label, named, kind = (str(noted.get(key, "")) for key in ("label", "sha256", "kind"))
    said = _("attachment '{shown}'", shown=shown(label))
    if not re.fullmatch("[0-9a-f]{64}", named):
        return _("{said}: it is not named by a hash and was not looked for", said=said)
    path, disk = attachment_path(folder, named, kind), Disk()
    try:
        fd = open_to_read(disk, path)
        try:
            digest = hashlib.sha256()
            while part := disk.read(fd, 1 << 20):
                digest.update(part)
        finally:
            let_go(disk, fd)
    except OSError as error:
        return _("{said}: cannot be read ({strerror})", said=said, strerror=error.strerror)
    if digest.hexdigest() != named:
        return _("{said}: its bytes were changed after it was kept", said=said)
    return None


def for_the_page(folder: JobFolder, noted: Mapping[str, object]) -> bytes:
    """The bytes of a kept picture that is shown on the customer's page; b"" where it is not one of
    those, is gone or was changed, which the audit says."""
    named, kind = str(noted.get("sha256", "")), str(noted.get("kind", ""))
    shown_there = noted.get(PAGE) == "yes" and noted.get("cleaned") == "yes"
    if not shown_there or kind not in ("jpeg", "png") or check_attachment(folder, noted):
        return b""
    return attachment_path(folder, named, kind).read_bytes()
