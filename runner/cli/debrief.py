"""``steplatch debrief``: what a practice job showed."""

from __future__ import annotations

import argparse
import os
import shutil
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .command import JOB, Add, fail, print_json, shown_from

if TYPE_CHECKING:
    from ..record import DataFolder, JobFolder


def add_to(add: Add) -> None:
    """``debrief``."""
    options = add(
        "debrief",
        _("what a practice job showed: refusals, trips, and what was true"),
        "steplatch debrief abcdefgh",
        debrief,
    )
    options.add_argument("job", nargs="?", help=_("{job}; default the last", job=JOB))
    options.add_argument("--now", action="store_true", help=_("also of a job that still goes on"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))


def debrief(args: argparse.Namespace) -> int:
    """Print the debrief of a practice job; refused for a real one and for one that goes on."""
    from ..jobs.store import find
    from ..record import find_data_folder
    from ..training.debrief import NoDebrief, debrief_of
    from ..training.debrief_words import debrief_lines

    data = find_data_folder(args.data, os.environ)
    folder = find(data, args.job) if args.job else _last_practice(data)
    try:
        with shown_from(folder):
            said = debrief_of(folder, args.now)
    except NoDebrief as none:
        return fail(exits.FAILED, none)
    if args.json:
        print_json("debrief", said.to_json())
        return exits.OK
    print("\n".join(debrief_lines(said, shutil.get_terminal_size().columns)))
    return exits.OK


def _last_practice(data: DataFolder) -> JobFolder:
    """The practice job whose record was written last. Raises NoSuchJob."""
    from ..jobs.store import NoSuchJob
    from ..record import list_jobs
    from ..training.memory import MEMORY_FILE

    jobs = [f for f in list_jobs(data) if (f.path / MEMORY_FILE).exists() and f.journal.exists()]
    if not jobs:
        raise NoSuchJob(
            _("no practice job lies in {jobs}; 'steplatch practise' begins one", jobs=data.jobs)
        )
    return max(jobs, key=lambda folder: folder.journal.stat().st_mtime)
