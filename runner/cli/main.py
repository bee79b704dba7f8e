"""The command line. Each command imports what it needs when it is called."""

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path

from ..core.version import PROGRAM
from . import exits
from .link import add_link
from .parsers_workshop import (
    add_customer,
    add_export,
    add_jobs,
    add_people,
    add_sealing,
)

_DESCRIPTION = "A safety-checked procedure runner for cleaning diesel particulate filters."
_NOTICE = (
    "It asks, records and refuses; it has no sensor and switches nothing. Local rules, the "
    "vehicle maker's data, the fluid's safety data sheet and licensed people come first."
)


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser("steplatch", description=_DESCRIPTION, epilog=_NOTICE)
    top.add_argument("--version", action="version", version=PROGRAM)
    top.add_argument("--data", type=Path, metavar="FOLDER", help="where the jobs lie")
    sub = top.add_subparsers(dest="command", metavar="COMMAND")

    def add(name: str, text: str, example: str, *also: str) -> argparse.ArgumentParser:
        return sub.add_parser(
            name, aliases=list(also), help=text, description=text, epilog=f"example: {example}"
        )

    practise = add(
        "practise",
        "work a practice job at a simulated vehicle",
        "steplatch practise --hands-free",
        "practice",
    )
    practise.add_argument("--hands-free", action="store_true", help="play a lesson by itself")
    practise.add_argument("--lesson", default="good-clean", metavar="NAME_OR_FILE")
    practise.add_argument(
        "--fault", action="append", metavar="NAME", help="instead of the lesson's; drawn: any one"
    )
    practise.add_argument("--list-faults", action="store_true", help="list the faults and end")
    practise.add_argument("--seed", type=int, metavar="N", help="instead of the lesson's")
    practise.add_argument(
        "--exercise", type=Path, metavar="FILE", help="an exercise that somebody has set"
    )
    practise.add_argument(
        "--speed", type=float, metavar="N", help="waits pass N times as fast; default they jump"
    )
    practise.add_argument("--out", type=Path, metavar="DIR", help="data folder for this job")
    practise.add_argument("--show", action="store_true", help="print every screen of a lesson")
    practise.add_argument("--plain", action="store_true", help="plain lines: nothing is drawn")

    run = add(
        "run",
        "guide a real job, readings typed by you",
        "steplatch run procedures/clean-above.yaml --vehicle my-van.yaml --as technician-1",
    )
    run.add_argument("procedure", type=Path, nargs="?", help="the procedure file")
    run.add_argument("--vehicle", type=Path, metavar="FILE", help="asked for when left out")
    for name in ("gun", "fluid", "workshop", "people"):
        run.add_argument(f"--{name}", type=Path, metavar="FILE", help="default: beside the vehicle")
    run.add_argument("--as", dest="person", metavar="PERSON", help="who does the work")
    run.add_argument(
        "--with",
        dest="beside",
        metavar="PERSON",
        nargs="*",
        help="who else stays to the end (none: alone); left out, all on the list may be called",
    )
    run.add_argument("--plain", action="store_true", help="plain lines: nothing is drawn")

    make = add(
        "make",
        "make a vehicle, gun, fluid, workshop or people file by questions",
        "steplatch make vehicle my-van.yaml",
    )
    make.add_argument("kind", choices=("vehicle", "gun", "fluid", "workshop", "people"))
    make.add_argument("file", type=Path, nargs="?", help="default: its kind's name, in this folder")
    make.add_argument("--plain", action="store_true", help="plain lines: nothing is drawn")

    resume = add("resume", "come back to a job", "steplatch resume", "continue")
    resume.add_argument("job", nargs="?", help="the job's id or a part of it; default the last")
    resume.add_argument("--as", dest="person", metavar="PERSON", help="who does the work")
    resume.add_argument("--plain", action="store_true", help="plain lines: nothing is drawn")

    audit = add(
        "audit",
        "check a job's record: chain, texts, and every decision made again",
        "steplatch audit 2026-03-01-abcdefgh",
    )
    audit.add_argument(
        "job", nargs="*", help="a job's id, a part of it, or its folder; several at once"
    )
    audit.add_argument("--all", action="store_true", help="every job of the data folder")
    audit.add_argument("--json", action="store_true", help="one JSON object")

    add_sealing(add)

    debrief = add(
        "debrief",
        "what a practice job showed: refusals, trips, and what was true",
        "steplatch debrief abcdefgh",
    )
    debrief.add_argument(
        "job", nargs="?", help="a job's id, a part of it, or a folder's path; default the last"
    )
    debrief.add_argument("--now", action="store_true", help="also of a job that still goes on")
    debrief.add_argument("--json", action="store_true", help="one JSON object")

    limits = add(
        "limits",
        "work out every limit, with each line of its working",
        "steplatch limits --vehicle my-van.yaml",
    )
    limits.add_argument("--vehicle", type=Path, metavar="FILE", required=True)
    for name in ("gun", "fluid", "workshop"):
        limits.add_argument(
            f"--{name}", type=Path, metavar="FILE", help="default: beside the vehicle"
        )
    limits.add_argument("--json", action="store_true", help="one JSON object")

    sheet = add("sheet", "write a job's sheet", "steplatch sheet abcdefgh --html sheet.html")
    sheet.add_argument(
        "job", nargs="+", help="a job's id, a part of it, or a folder's path; several at once"
    )
    sheet.add_argument("--html", type=Path, metavar="FILE", help="write the page here")
    sheet.add_argument("--pdf", type=Path, metavar="FILE", help="write the PDF here")
    sheet.add_argument("--open", action="store_true", help="open what was written")
    which = sheet.add_mutually_exclusive_group()
    for part in ("customer", "agreement", "technical"):
        which.add_argument(
            f"--{part}", dest="part", action="store_const", const=part, help=f"the {part} part only"
        )
    sheet.set_defaults(part="all")

    add_jobs(add)
    check = add(
        "check",
        "load procedures and prove them (half a minute)",
        "steplatch check procedures/clean-above.yaml",
    )
    check.add_argument("files", nargs="*", type=Path, help="default: all that are shipped")
    check.add_argument("--json", action="store_true", help="one JSON object")
    what = check.add_mutually_exclusive_group()
    what.add_argument("--load", action="store_true", help="only load them (at once)")
    what.add_argument(
        "--mishaps", action="store_true", help="search with one mishap at any moment too (minutes)"
    )
    what.add_argument("--kernel", action="store_true", help="prove the interlock table instead")

    matrix = add(
        "matrix", "print the cause-and-effect table", "steplatch matrix --view causes --form csv"
    )
    matrix.add_argument("--view", choices=("interlocks", "causes", "effects"), default="interlocks")
    matrix.add_argument("--form", choices=("text", "markdown", "csv"), default="text")
    trial = add(
        "self-test",
        "show that every interlock row and trip still refuses what it must",
        "steplatch self-test --table",
    )
    trial.add_argument("--table", action="store_true", help="list every row")
    trial.add_argument("--json", action="store_true", help="one JSON object")
    _measuring(add)
    add_export(add)
    add_people(add)
    add_customer(add)
    add_link(add)
    return top


_READINGS = (
    "a log (.csv), or a readings file (.yaml) of lines 'mbar, 1/min, g/s, degC exhaust, degC "
    "coolant, recirculation', x where not shown: 'raised: 96 2500 40 215 88 shut', 'idle: 19 820 "
    "9.0 168 86 open', 'zero: 0.5 0 x 150 86 x'"
)
_COLUMNS = (
    "column map of the logs, YAML: 'columns: {pressure: {heading: dP filter, unit: mbar}}' and so "
    "on for time, speed, air, exhaust, coolant; 'decimal: comma' where it is one"
)


def _measuring(add: Callable[..., argparse.ArgumentParser]) -> None:
    """The commands that measure and judge outside a job."""
    compare = add(
        "compare",
        "judge two files of readings or logs, outside a job",
        "steplatch compare before.yaml after.yaml --vehicle my-van.yaml",
    )
    compare.add_argument("before", type=Path, help=_READINGS)
    compare.add_argument("after", type=Path, help="the same, after the clean")
    compare.add_argument("--vehicle", type=Path, metavar="FILE", required=True)
    compare.add_argument("--road", type=Path, metavar="FILE", help="hot and dry, after the drive")
    compare.add_argument("--workshop", type=Path, metavar="FILE", help="default: beside it")
    compare.add_argument("--facts", type=Path, metavar="FILE", help="answers, as triage asks")
    compare.add_argument("--columns", type=Path, metavar="FILE", help=_COLUMNS)
    steady = add("steady", "find the steady windows of a log", "steplatch steady drive.csv")
    steady.add_argument("log", type=Path)
    steady.add_argument("--vehicle", type=Path, metavar="FILE", help="for air in mg/stroke")
    steady.add_argument("--columns", type=Path, metavar="FILE", help="column map of the log")
    codes = add("codes", "what fault codes mean for a clean", "steplatch codes P2002 P2463")
    codes.add_argument("code", nargs="+", help="one or more codes")
    dose = add(
        "dose",
        "the fluid sum on bare numbers",
        "steplatch dose --displacement '2.0 L' --cylinders 4 --ratio 16 --shot '19 mL' "
        "--shot '20 mL' --shot '21 mL'",
    )
    dose.add_argument("--displacement", required=True, metavar="VOLUME", help="such as '2.0 L'")
    dose.add_argument("--cylinders", required=True, type=int, metavar="N")
    dose.add_argument("--ratio", type=float, metavar="R", help="compression ratio, if known")
    dose.add_argument("--shot", action="append", default=[], metavar="VOLUME", help="a jug shot")
    dose.add_argument("--shot-time", default="5 s", metavar="TIME", help="default 5 s")
    for each in (compare, steady, codes, dose):
        each.add_argument("--json", action="store_true", help="one JSON object")


def main(argv: list[str] | None = None) -> int:
    """Run one command; returns its exit code (see ``exits``)."""
    args = parser().parse_args(argv)
    from . import line as commands_line

    try:
        if args.command is None:
            return commands_line.COMMANDS["start page"](args)
        return commands_line.COMMANDS[args.command](args)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return exits.FAILED
    except KeyboardInterrupt:
        print("\nstopped from the keyboard", file=sys.stderr)
        return exits.STOPPED


if __name__ == "__main__":
    sys.exit(main())
