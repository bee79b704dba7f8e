"""``steplatch debrief``: what a practice job showed."""

import argparse
import os
import shutil

from ..jobs.store import NoSuchJob, find
from ..record import DataFolder, JobFolder, find_data_folder, list_jobs
from ..training.debrief import NoDebrief, debrief_of
from ..training.debrief_words import debrief_lines
from ..training.memory import MEMORY_FILE
from . import exits
from .line import fail, print_json


def debrief(args: argparse.Namespace) -> int:
    """Print the debrief of a practice job; refused for a real one and for one that goes on."""
    data = find_data_folder(args.data, os.environ)
    folder = find(data, args.job) if args.job else _last_practice(data)
    try:
        said = debrief_of(folder, args.now)
    except NoDebrief as none:
        return fail(exits.FAILED, none)
    if args.json:
        print_json(said.to_json())
        return exits.OK
    print("\n".join(debrief_lines(said, shutil.get_terminal_size().columns)))
    return exits.OK


def _last_practice(data: DataFolder) -> JobFolder:
    """The practice job whose record was written last. Raises NoSuchJob."""
    jobs = [f for f in list_jobs(data) if (f.path / MEMORY_FILE).exists() and f.journal.exists()]
    if not jobs:
        raise NoSuchJob(f"no practice job lies in {data.jobs}; 'steplatch practise' begins one")
    return max(jobs, key=lambda folder: folder.journal.stat().st_mtime)
