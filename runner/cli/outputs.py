"""Files that a command writes where it is told to: never over what is there, never into a record.

A file that exists is replaced only when ``--overwrite`` says so; a link, a device, a pipe and a
folder are never replaced, nor is anything in a job's folder or beside the workshop's keys and
ledger. What is written is for its owner alone (mode 0600): it may hold customers' data.
"""

from __future__ import annotations

import argparse
import secrets
import stat
from pathlib import Path

from steplatch.safety.catalogue import _

from ..record import Disk, RecordError, is_job_id
from ..record.disk import FOLDER_MODE, NEW_FLAGS, fsync_folder, write_and_sync
from ..record.faults import failed
from ..record.folders import JOBS_NAME, JOURNAL_NAME


class OutputRefused(RecordError):  # noqa: N818 - the name says the fact
    """A file is not written there; nothing was changed."""


def add_overwrite(options: argparse.ArgumentParser) -> None:
    """``--overwrite``."""
    options.add_argument(
        "--overwrite", action="store_true", help=_("replace a file that is there already")
    )


def write_out(path: Path, raw: bytes, overwrite: bool = False, disk: Disk | None = None) -> None:
    """Write a file whole or not at all. Raises OutputRefused, JournalFailed."""
    disk = disk or Disk()
    path = path.absolute()
    _refuse_a_record(path)
    _refuse_what_is_there(path, overwrite)
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")
    try:
        path.parent.mkdir(FOLDER_MODE, parents=True, exist_ok=True)
        try:
            write_and_sync(disk, aside, NEW_FLAGS, raw)
            _refuse_what_is_there(path, overwrite)
            disk.replace(aside, path)
        finally:
            aside.unlink(missing_ok=True)
        fsync_folder(disk, path.parent)
    except OSError as error:
        raise failed(path, _("write the file"), error) from error


def _refuse_a_record(path: Path) -> None:
    real = path.parent.resolve() / path.name
    for room in real.parents:
        in_jobs = room.name == JOBS_NAME and any(is_job_id(p) for p in real.relative_to(room).parts)
        if in_jobs or (room / JOURNAL_NAME).exists():
            raise OutputRefused(
                str(path), _("it lies in the folder of a job"), _("Name a file that lies elsewhere")
            )
    room = real.parent
    if any(
        (up / JOBS_NAME).is_dir() and (up / "people.json").exists() for up in (room, room.parent)
    ):
        raise OutputRefused(
            str(path),
            _("it lies beside the workshop's own files"),
            _("Name a file that lies elsewhere"),
        )


def _refuse_what_is_there(path: Path, overwrite: bool) -> None:
    try:
        kind = path.lstat().st_mode
    except FileNotFoundError:
        return
    except OSError as error:
        raise failed(path, _("look at the file"), error) from error
    if not stat.S_ISREG(kind):
        raise OutputRefused(
            str(path), _("no plain file stands there (a link, a device, a pipe or a folder)"),
            _("Name a new file"),
        )  # fmt: skip
    if not overwrite:
        raise OutputRefused(
            str(path), _("it is there already"), _("Name a new file, or --overwrite")
        )
