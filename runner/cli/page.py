"""What ``steplatch`` shows when no command is given."""

import argparse
import os

from ..record import RecordError, find_data_folder, list_jobs
from . import exits

_PAGE = """\
steplatch guides the cleaning of a particulate filter on the vehicle, a step at
a time. It refuses what is not safe and records what was done.

  steplatch practise   work a practice job: nothing can be hurt
  steplatch run        begin a real job: asks for vehicle, gun, fluid and people
  steplatch resume     come back to a job

Jobs lie in {folder} ({count}).
All commands: steplatch --help"""


def start_page(args: argparse.Namespace) -> int:
    """Print what this is, how to begin, and where the jobs lie. Makes nothing."""
    from .line import fail

    try:
        data = find_data_folder(args.data, os.environ)
        number = len(list_jobs(data))
    except RecordError as error:
        return fail(exits.RECORD_FAILED, error)
    count = "none yet" if number == 0 else f"{number} job{'s' if number > 1 else ''}"
    print(_PAGE.format(folder=data.path, count=count))
    return exits.OK
