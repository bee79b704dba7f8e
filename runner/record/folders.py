"""Where jobs lie: the data folder, the folder of one job, and the names of its files.

    <data folder>/jobs/2025-01-31-k3f7qa2m/journal.jsonl
                                           head
                                           lock
                                           personal.json
                                           torn-1 ...

A job's id is its date and a short random token. It never holds a registration or a name, since
folder names end up in backups, lists and screenshots.
"""

import base64
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from steplatch.safety.catalogue import _

from .disk import FOLDER_MODE, Disk, fsync_folder, read_whole
from .faults import JournalFailed, NotRecordable, failed

JOURNAL_NAME = "journal.jsonl"
HEAD_NAME = "head"
LOCK_NAME = "lock"
PERSONAL_NAME = "personal.json"
TORN_PREFIX = "torn-"
PROGRESS_NAME = "progress"
JOBS_NAME = "jobs"
DATA_VARIABLE = "STEPLATCH_DATA"

_FIRST_LINE = re.compile(rb'\{"prev":"0{64}","schema":[0-9]{1,9},"job":"([0-9a-z-]{1,40})"')
_JOB_ID = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})-([a-z2-7]{6,16})")


def is_job_id(text: str) -> bool:
    """True for ``YYYY-MM-DD-token`` with a real date and a token of 6 to 16 of a-z, 2-7."""
    match = _JOB_ID.fullmatch(text)
    if match is None:
        return False
    try:
        date.fromisoformat(match[1])
    except ValueError:
        return False
    return True


def job_token(random_bytes: bytes) -> str:
    """A token for a job id from 4 to 10 random bytes that the caller drew (5 give 8 characters)."""
    if not 4 <= len(random_bytes) <= 10:
        raise ValueError(
            _("4 to 10 random bytes make a token, not {count}", count=len(random_bytes))
        )
    return base64.b32encode(random_bytes).decode("ascii").rstrip("=").lower()


def job_id(day: date, token: str) -> str:
    """The id of a new job. Raises ``NotRecordable`` for a token of the wrong form."""
    text = f"{day.isoformat()}-{token}"
    if not is_job_id(text):
        raise NotRecordable(
            _("job id"),
            _("the token {token!r} is not 6 to 16 characters of a-z and 2-7", token=token),
            _("Draw a random token; don't use a registration or a name"),
        )
    return text


def _id_in(journal: Path) -> str:
    """The id that a journal's first line names; empty where there is none."""
    try:
        match = _FIRST_LINE.match(read_whole(Disk(), journal, 200))
    except OSError:
        return ""
    return match[1].decode("ascii") if match else ""


@dataclass(frozen=True, slots=True)
class JobFolder:
    """The folder of one job. Its name is the job's id; a copy that was given another name has it
    from the first line of its journal. A folder with neither is refused."""

    path: Path
    id: str = field(init=False, compare=False)

    def __post_init__(self) -> None:
        name = self.path.name
        found = name if is_job_id(name) else _id_in(self.journal)
        if not is_job_id(found):
            raise NotRecordable(
                str(self.path),
                _(
                    "the folder's name is not a job id (date and random token), and its "
                    "journal does not begin with one"
                ),
                _("Give the folder of a job, such as .../jobs/2025-01-31-k3f7qa2m"),
            )
        object.__setattr__(self, "id", found)

    @property
    def journal(self) -> Path:
        """The journal's file."""
        return self.path / JOURNAL_NAME

    @property
    def head(self) -> Path:
        """The file with count and last hash."""
        return self.path / HEAD_NAME

    @property
    def lock(self) -> Path:
        """The file that a writer holds locked."""
        return self.path / LOCK_NAME

    @property
    def personal(self) -> Path:
        """The side file with personal data."""
        return self.path / PERSONAL_NAME


@dataclass(frozen=True, slots=True)
class DataFolder:
    """The data folder and where its path came from (for messages)."""

    path: Path
    came_from: str

    @property
    def jobs(self) -> Path:
        """The folder that holds one folder a job."""
        return self.path / JOBS_NAME

    def job(self, identity: str) -> JobFolder:
        """The folder of the job with this id (which need not exist yet)."""
        return JobFolder(self.jobs / identity)


def _path_of(named: str) -> Path:
    """The path that the variable names. Raises ``NotRecordable`` for what can be none."""
    try:
        if named.strip().isprintable():
            return Path(named).expanduser().absolute()
        what = _("it holds characters that do not show")
    except (RuntimeError, ValueError, OSError) as error:
        what = _("it names no folder ({error})", error=error)
    raise NotRecordable(
        _("environment variable {data_variable}", data_variable=DATA_VARIABLE),
        what,
        _("Set it to the path of the data folder"),
    )


def find_data_folder(argument: Path | None, environ: Mapping[str, str]) -> DataFolder:
    """Choose the data folder: the argument, else STEPLATCH_DATA, else this user's own folder.

    Makes nothing. Raises ``NotRecordable`` if the variable is set but empty.
    """
    if argument is not None:
        return DataFolder(argument.absolute(), _("the command line"))
    named = environ.get(DATA_VARIABLE)
    if named is not None:
        if not named.strip():
            raise NotRecordable(
                _("environment variable {data_variable}", data_variable=DATA_VARIABLE),
                _("it is set but empty"),
                _("Set it to the data folder, or unset it to use this user's own folder"),
            )
        return DataFolder(_path_of(named), DATA_VARIABLE)
    from platformdirs import user_data_path  # only where used: start-up time

    return DataFolder(user_data_path("steplatch", appauthor=False), _("this user's own folder"))


def make_data_folder(data: DataFolder, disk: Disk | None = None) -> tuple[str, ...]:
    """Make the data folder and its ``jobs`` (mode 0700), keeping what is there.

    Returns warnings as ``open_to_others`` does; it changes no permission by itself. Raises
    ``JournalFailed``.
    """
    disk = disk or Disk()
    for path in (*reversed(data.path.parents), data.path, data.jobs):
        if path.is_dir():
            continue
        try:
            disk.mkdir(path)
            fsync_folder(disk, path.parent)
        except FileExistsError:
            if not path.is_dir():
                raise JournalFailed(
                    str(path),
                    _("a file stands where the data folder belongs"),
                    _("Move it away or choose another data folder"),
                ) from None
        except OSError as error:
            raise failed(
                path, _("make the data folder (from {came_from})", came_from=data.came_from), error
            ) from error
    if not os.access(data.jobs, os.R_OK | os.W_OK | os.X_OK):
        raise failed(
            data.jobs, _("use the data folder"), PermissionError(13, _("permission denied"))
        )
    return open_to_others(data)


def open_to_others(data: DataFolder) -> tuple[str, ...]:
    """Warnings in plain words of a data folder that other users can read. Changes nothing."""
    warnings = []
    for path in (data.path, data.jobs):
        mode = path.stat().st_mode & 0o777 if path.is_dir() else 0
        if mode & ~FOLDER_MODE & 0o777:
            warnings.append(
                _(
                    "{path}: other users of this computer can get in (mode {mode:04o}). "
                    "Customers' data lie there; close it with: chmod 700 '{path}'",
                    path=path,
                    mode=mode,
                )
            )
    return tuple(warnings)


def list_jobs(data: DataFolder, disk: Disk | None = None) -> tuple[JobFolder, ...]:
    """All job folders, oldest date first. Empty if nothing has been made yet.

    Entries whose names are no job ids are not jobs and are left out.
    """
    disk = disk or Disk()
    try:
        names = disk.names(data.jobs)
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise failed(data.jobs, _("list the jobs"), error) from error
    return tuple(
        JobFolder(data.jobs / name)
        for name in names
        if is_job_id(name) and (data.jobs / name).is_dir()
    )
