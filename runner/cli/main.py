"""The command line: the groups of commands, each in a file of its own with what it does."""

import argparse
import os
import sys
from pathlib import Path

from steplatch.safety.catalogue import _, ngettext

from ..core.version import PROGRAM
from . import (
    audit,
    backup,
    book,
    check,
    completion,
    customer,
    debrief,
    doctor,
    exits,
    help,
    job_book,
    link,
    make,
    measure,
    people,
    practise,
    procedure,
    progress,
    run,
    seal,
    self_test,
    sheet,
)
from .command import Handler, error_json, guarded, print_json

GROUPS = (
    *(
        practise,
        run,
        make,
        procedure,
        audit,
        seal,
        debrief,
        sheet,
        book,
        job_book,
        check,
        self_test,
    ),
    *(measure, link, people, progress, customer, backup, doctor, completion, help),
)
"""Every group of commands, in the order of the help text."""

_DESCRIPTION = _("A safety-checked procedure runner for cleaning diesel particulate filters.")
_NOTICE = _(
    "It asks, records and refuses; it has no sensor and switches nothing. Local rules, the "
    "vehicle maker's data, the fluid's safety data sheet and licensed people come first."
)
_START = _("""\
steplatch guides the cleaning of a particulate filter on the vehicle, a step at
a time. It refuses what is not safe and records what was done.

  steplatch practise   work a practice job: nothing can be hurt
  steplatch run        begin a real job: asks for vehicle, gun, fluid and people
  steplatch resume     come back to a job

Jobs lie in {folder} ({count}).
All commands: steplatch --help""")


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser("steplatch", description=_DESCRIPTION, epilog=_NOTICE)
    top.add_argument(
        "--version",
        action="version",
        version=PROGRAM,
        help=_("show program's version number and exit"),
    )
    top.add_argument("--data", type=Path, metavar=_("FOLDER"), help=_("where the jobs lie"))
    top.set_defaults(deed=start_page, parser=top)
    sub = top.add_subparsers(dest="command", metavar=_("COMMAND"))

    def add(
        name: str, text: str, example: str, deed: Handler, *also: str
    ) -> argparse.ArgumentParser:
        command = sub.add_parser(
            name,
            aliases=list(also),
            help=text,
            description=text,
            epilog=_("example: {example}", example=example),
        )
        command.set_defaults(deed=deed)
        return command

    for group in GROUPS:
        group.add_to(add)
    return top


def start_page(args: argparse.Namespace) -> int:
    """Print what this is, how to begin, and where the jobs lie. Makes nothing."""
    from ..record import find_data_folder, list_jobs

    data = find_data_folder(args.data, os.environ)
    number = len(list_jobs(data))
    jobs = ngettext("{number} job", "{number} jobs", number, number=number)
    count = jobs if number else _("none yet")
    print(_START.format(folder=data.path, count=count))
    return exits.OK


def main(argv: list[str] | None = None) -> int:
    """Run one command; returns its exit code (see ``exits``)."""
    try:
        args = parser().parse_args(argv)
    except SystemExit as ended:
        if ended.code == exits.USAGE and "--json" in (sys.argv[1:] if argv is None else argv):
            print_json("error", error_json(exits.USAGE, exits.MEANINGS[exits.USAGE]))
        raise
    try:
        return guarded(args.deed)(args)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return exits.FAILED
    except KeyboardInterrupt:
        print(_("\nstopped from the keyboard"), file=sys.stderr)
        return exits.STOPPED


if __name__ == "__main__":
    sys.exit(main())
