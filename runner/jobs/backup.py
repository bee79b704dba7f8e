"""One file that holds a data folder, and the way back from it.

A ZIP archive (APPNOTE.TXT of PKWARE) that any system opens: every file under its own name, and
``MANIFEST`` with size and SHA-256 of each and whether customers' or people's data are in it. What
can be made again (job book), what means something only here (locks) and, unless asked for, the
private signing key stay out. A job that another program has open stays out too, and is named: its
files could not be copied in one state.
"""

import hashlib
import json
import os
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationError
from steplatch.safety.catalogue import _

from ..core.version import PROGRAM
from ..input.strict_yaml import StrictModel
from ..record import DataFolder, JobFolder
from ..record.attachments import FOLDER as ATTACHMENTS
from ..record.clocks import utc_now
from ..record.disk import ASIDE_SUFFIX, NEW_FLAGS, Disk, fsync_folder, write_and_sync
from ..record.faults import HeldByAnother, NotRecordable, failed
from ..record.folders import JOBS_NAME, LOCK_NAME, PERSONAL_NAME, PROGRESS_NAME, is_job_id
from ..record.keys import PRIVATE_NAME
from ..record.lock import JobLock
from ..workshop.pins import BOOK_NAME as PIN_BOOK_NAME
from .book import BOOK_NAME

MANIFEST: Final = "steplatch-backup.json"
MAX_MANIFEST_BYTES: Final = 64 * 1024 * 1024
_LEFT_OUT: Final = (BOOK_NAME, f"{BOOK_NAME}-journal", LOCK_NAME)
_OF_PEOPLE: Final = (PERSONAL_NAME, PIN_BOOK_NAME, ATTACHMENTS, PROGRESS_NAME)


class BackedUp(StrictModel):
    """One file of a backup."""

    path: Annotated[str, Field(min_length=1, max_length=1000)]
    bytes: Annotated[int, Field(ge=0)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    personal: bool


class Manifest(StrictModel):
    """What a backup says of itself."""

    schema_number: Literal[1]
    made: str
    program: str
    left_out: list[str]
    files: list[BackedUp]


@dataclass(frozen=True, slots=True)
class Copied:
    """What a backup or a restore came to: files, bytes, those with personal data, jobs left out."""

    files: int
    bytes: int
    personal: int
    left_out: tuple[str, ...]


Say = Callable[[int, int], None]
"""Told how many of how many files are done: each is written, and read back."""


def back_up(
    data: DataFolder, target: Path, *, with_key: bool, disk: Disk | None = None,
    say: Say | None = None,
) -> Copied:  # fmt: skip
    """Write ``data`` into a new file and read it back. Raises NotRecordable, JournalFailed.

    The file has mode 0600; one that is there already is never replaced.
    """
    say = say or (lambda done, of: None)
    disk = disk or Disk()
    if not data.path.is_dir():
        raise NotRecordable(str(data.path), _("there is no data folder"), _("Name one with --data"))
    if target.resolve().is_relative_to(data.path.resolve()):
        raise NotRecordable(
            str(target), _("it lies in what is backed up"), _("Name a file elsewhere")
        )
    left_out: list[str] = []
    listed: list[BackedUp] = []
    there = sum(len(names) for *_room, names in os.walk(data.path))
    try:
        fd = disk.open(target, NEW_FLAGS)
        with (
            os.fdopen(fd, "wb") as stream,
            zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as out,
        ):
            for path, file in _files(data, left_out, disk):
                if file.name == PRIVATE_NAME and not with_key:
                    continue
                content = file.read_bytes()
                out.writestr(zipfile.ZipInfo(path), content, zipfile.ZIP_DEFLATED)
                listed.append(
                    BackedUp(
                        path=path,
                        bytes=len(content),
                        sha256=hashlib.sha256(content).hexdigest(),
                        personal=any(part in _OF_PEOPLE for part in PurePosixPath(path).parts),
                    )
                )
                say(len(listed), 2 * max(there, len(listed)))
            manifest = Manifest(
                schema_number=1, made=utc_now(), program=PROGRAM, left_out=left_out, files=listed
            )
            out.writestr(zipfile.ZipInfo(MANIFEST), manifest.model_dump_json(indent=1))
            out.close()
            stream.flush()
            disk.fsync(stream.fileno())
        fsync_folder(disk, target.absolute().parent)
    except FileExistsError:
        raise NotRecordable(str(target), _("it is there already"), _("Name a new file")) from None
    except OSError as error:
        raise failed(target, _("write the backup"), error) from error
    with _opened(target) as back:
        for done, _one in enumerate(_checked(back, _manifest(back, target), target), start=1):
            say(len(listed) + done, 2 * len(listed))
    return _copied(manifest)


def restore(
    source: Path, data: DataFolder, disk: Disk | None = None, say: Say | None = None
) -> Copied:
    """Write what a backup holds into a data folder that is empty or not there yet.

    Every byte is checked before the first is written. Raises NotRecordable for a file that is no
    backup or was changed, and JournalFailed.
    """
    disk, say = disk or Disk(), say or (lambda done, of: None)
    try:
        if data.path.exists() and any(data.path.iterdir()):
            raise NotRecordable(
                str(data.path), _("it is not empty"), _("Restore into a new folder: --data FOLDER")
            )
        with _opened(source) as archive:
            manifest = _manifest(archive, source)
            files = len(manifest.files)
            for done, _one in enumerate(_checked(archive, manifest, source), start=1):
                say(done, 2 * files)
            made = {data.path}
            data.path.mkdir(mode=0o700, parents=True, exist_ok=True)
            for done, (one, content) in enumerate(_checked(archive, manifest, source), files + 1):
                path = data.path / one.path
                for folder in (*reversed(path.relative_to(data.path).parents), Path()):
                    place = data.path / folder
                    if place not in made and place != path and not place.is_dir():
                        disk.mkdir(place)
                    made.add(place)
                write_and_sync(disk, path, NEW_FLAGS, content)
                say(done, 2 * files)
            for place in made:
                fsync_folder(disk, place)
    except OSError as error:
        raise failed(data.path, _("restore the backup"), error) from error
    return _copied(manifest)


def _copied(manifest: Manifest) -> Copied:
    files = manifest.files
    return Copied(
        len(files),
        sum(one.bytes for one in files),
        sum(one.personal for one in files),
        tuple(manifest.left_out),
    )


def _files(data: DataFolder, left_out: list[str], disk: Disk) -> Iterator[tuple[str, Path]]:
    """Every plain file with its name in the backup; the files of a job under the job's lock."""
    for entry in sorted(data.path.iterdir()):
        if entry == data.jobs and not entry.is_symlink():
            for job in sorted(entry.iterdir()):
                if not is_job_id(job.name) or not job.is_dir() or job.is_symlink():
                    continue
                try:
                    with JobLock.take(JobFolder(job), disk):
                        yield from _within(data.path, job)
                except HeldByAnother:
                    left_out.append(job.name)
        else:
            yield from _within(data.path, entry)


def _within(root: Path, entry: Path) -> Iterator[tuple[str, Path]]:
    if entry.is_symlink():
        return
    if entry.is_dir():
        for inner in sorted(entry.iterdir()):
            yield from _within(root, inner)
    elif entry.is_file() and entry.name not in _LEFT_OUT and entry.suffix != ASIDE_SUFFIX:
        yield entry.relative_to(root).as_posix(), entry


def _opened(source: Path) -> zipfile.ZipFile:
    try:
        if not source.is_file():
            raise NotRecordable(str(source), _("there is no such file"), _("Give a backup's file"))
        return zipfile.ZipFile(source)
    except zipfile.BadZipFile:
        raise _no_backup(source, _("it is no ZIP archive, or it was cut off")) from None


def _no_backup(source: Path, why: str) -> NotRecordable:
    return NotRecordable(
        str(source), why, _("Give another copy of the backup; nothing was restored")
    )


def _manifest(archive: zipfile.ZipFile, source: Path) -> Manifest:
    try:
        info = archive.getinfo(MANIFEST)
        if info.file_size > MAX_MANIFEST_BYTES:
            raise _no_backup(source, _("its list of files is too long"))
        found = Manifest.model_validate(json.loads(archive.read(info)))
    except (KeyError, ValueError, ValidationError, RecursionError, zipfile.BadZipFile) as error:
        raise _no_backup(
            source, _("its list of files cannot be read ({name__})", name__=type(error).__name__)
        ) from None
    names = [info.filename for info in archive.infolist()]
    listed = [one.path for one in found.files]
    if sorted(names) != sorted([*listed, MANIFEST]) or len(set(names)) != len(names):
        raise _no_backup(source, _("it holds other files than it lists"))
    for path in listed:
        parts = PurePosixPath(path).parts
        if path != "/".join(parts) or ".." in parts or ":" in path or "\\" in path or "\0" in path:
            raise _no_backup(source, _("the name {path!r} leads out of the data folder", path=path))
        if parts[0] == JOBS_NAME and (len(parts) < 3 or not is_job_id(parts[1])):
            raise _no_backup(source, _("{path!r} is no file of a job", path=path))
    return found


def _checked(
    archive: zipfile.ZipFile, manifest: Manifest, source: Path
) -> Iterator[tuple[BackedUp, bytes]]:
    """Every file with its bytes; raises for one that is not as the list says."""
    for one in manifest.files:
        try:
            with archive.open(one.path) as stream:
                content = stream.read(one.bytes + 1)
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError) as error:
            raise _no_backup(
                source, _("{path} cannot be read ({error})", path=one.path, error=error)
            ) from None
        if len(content) != one.bytes or hashlib.sha256(content).hexdigest() != one.sha256:
            raise _no_backup(
                source, _("{path} is not as it was when the backup was made", path=one.path)
            )
        yield one, content
