"""``steplatch backup`` and ``restore``: the data folder as one file, and back."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_to_read, fail, progress

if TYPE_CHECKING:
    from ..jobs.backup import Copied


def add_to(add: Add) -> None:
    """``backup``, ``restore``."""
    options = add(
        "backup",
        _("copy the data folder into one file, checked"),
        "steplatch backup steplatch-2026-03-31.zip",
        backup,
    )
    options.add_argument("file", type=Path, help=_("a new file; it is never replaced"))
    options.add_argument(
        "--with-key",
        action="store_true",
        help=_("with the private signing key: who has the file can seal"),
    )
    options = add(
        "restore",
        _("write a backup into a new data folder"),
        "steplatch --data new-folder restore steplatch-2026-03-31.zip",
        restore,
    )
    options.add_argument("file", type=Path, help=_("what 'steplatch backup' wrote"))


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
    print(
        _(
            "backup: {file}\n{words} Read back: every file is as it was.",
            file=args.file,
            words=_words(copied),
        )
    )
    if copied.personal:
        print(_("People's and customers' data are in it: keep it where only you can read it."))
    if copied.left_out:
        jobs = ", ".join(copied.left_out)
        return fail(
            exits.HELD_BY_ANOTHER,
            _(
                "not in the backup, since another program has them open: {jobs}. Close it, "
                "then make another backup.",
                jobs=jobs,
            ),
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
    print(
        _(
            "restored: {path}\n{words} 'steplatch audit --all' checks every job.",
            path=data.path,
            words=_words(copied),
        )
    )
    return exits.OK


def _words(copied: Copied) -> str:
    return _(
        "{files} files, {bytes:.1f} MB; {personal} hold personal data.",
        files=copied.files,
        bytes=copied.bytes / 1000000.0,
        personal=copied.personal,
    )
