"""``steplatch backup`` and ``restore``: the data folder as one file, and back."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from . import exits
from .command import Add, data_to_read, fail, progress

if TYPE_CHECKING:
    from ..jobs.backup import Copied


def add_to(add: Add) -> None:
    """``backup``, ``restore``."""
    options = add(
        "backup",
        "copy the data folder into one file, checked",
        "steplatch backup steplatch-2026-03-31.zip",
        backup,
    )
    options.add_argument("file", type=Path, help="a new file; it is never replaced")
    options.add_argument(
        "--with-key",
        action="store_true",
        help="with the private signing key: who has the file can seal",
    )
    options = add(
        "restore",
        "write a backup into a new data folder",
        "steplatch --data new-folder restore steplatch-2026-03-31.zip",
        restore,
    )
    options.add_argument("file", type=Path, help="what 'steplatch backup' wrote")


def backup(args: argparse.Namespace) -> int:
    """Write the backup; jobs that were open elsewhere are named and end with their own code."""
    from ..jobs.backup import back_up
    from ..record import NotRecordable

    try:
        copied = back_up(
            data_to_read(args), args.file, with_key=args.with_key, say=progress("backing up")
        )
    except NotRecordable as error:
        return fail(exits.BAD_FILE, error)
    print(f"backup: {args.file}\n{_words(copied)} Read back: every file is as it was.")
    if copied.personal:
        print("People's and customers' data are in it: keep it where only you can read it.")
    if copied.left_out:
        jobs = ", ".join(copied.left_out)
        return fail(
            exits.HELD_BY_ANOTHER,
            f"not in the backup, since another program has them open: {jobs}. Close it, then make "
            "another backup.",
        )
    return exits.OK


def restore(args: argparse.Namespace) -> int:
    """Restore; nothing is written unless the whole backup is as it was made."""
    from ..jobs import backup
    from ..record import NotRecordable

    try:
        data = data_to_read(args)
        copied = backup.restore(args.file, data, say=progress("restoring"))
    except NotRecordable as error:
        return fail(exits.BAD_FILE, error)
    print(f"restored: {data.path}\n{_words(copied)} 'steplatch audit --all' checks every job.")
    return exits.OK


def _words(copied: Copied) -> str:
    return (
        f"{copied.files} files, {copied.bytes / 1e6:.1f} MB; {copied.personal} hold personal data."
    )
