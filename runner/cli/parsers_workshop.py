"""The command line of the workshop's own books: people, jobs, export, customer."""

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path

Add = Callable[..., argparse.ArgumentParser]
_ROLES = ("apprentice", "technician", "supervisor")


def add_people(add: Add) -> None:
    """``people list | add | retire | pin``."""
    people = add(
        "people",
        "who works here: list, add, retire, set a PIN",
        "steplatch people pin technician-1",
    )
    acts = people.add_subparsers(dest="act", required=True, metavar="ACT")
    listed = acts.add_parser("list", help="everybody, and who has a PIN")
    listed.add_argument("--json", action="store_true", help="one JSON object")
    new = acts.add_parser("add", help="append one person to the people file")
    new.add_argument("id", help="small letters, digits and -; never used again for anybody else")
    new.add_argument("--name", required=True, help="as it is printed beside a signature")
    new.add_argument("--role", required=True, choices=_ROLES)
    new.add_argument("--under-18", action="store_true")
    gone = acts.add_parser("retire", help="close a person's id for ever and take the PIN away")
    gone.add_argument("id")
    gone.add_argument("--date", metavar="YYYY-MM-DD", help="the last day; default today")
    pin = acts.add_parser("pin", help="set a PIN; it is asked for, and never shown")
    pin.add_argument("id")
    pin.add_argument("--by", metavar="ID", help="who vouches when the old PIN is not known")
    for each in (listed, new, gone, pin):
        each.add_argument(
            "--people",
            type=Path,
            metavar="FILE",
            default=Path("people.yaml"),
            help="default: people.yaml in this folder",
        )


def add_jobs(add: Add) -> None:
    """``jobs`` with its filters."""
    jobs = add("jobs", "list and search the jobs", "steplatch jobs --state open --since 2026-03-01")
    jobs.add_argument("find", nargs="*", metavar="WORDS", help="anywhere in what was typed")
    states = ("open", "held", "finished", "abandoned", "broken", "not begun")
    jobs.add_argument("--state", choices=states)
    kind = jobs.add_mutually_exclusive_group()
    for name in ("real", "practice"):
        kind.add_argument(
            f"--{name}", dest="kind", action="store_const", const=name, help=f"{name} jobs only"
        )
    jobs.add_argument("--since", type=_day, metavar="DATE", help="begun on that day or later")
    jobs.add_argument("--until", type=_day, metavar="DATE", help="begun on that day or earlier")
    jobs.add_argument("--vehicle", metavar="TEXT", help="in its label, or registration while kept")
    jobs.add_argument("--person", metavar="TEXT", help="in the id or name of who worked or signed")
    jobs.add_argument("--verdict", metavar="TEXT", help="in the verdict")
    jobs.add_argument("--rebuild", action="store_true", help="make the job book again first")
    jobs.add_argument("--json", action="store_true", help="one JSON object")
    jobs.add_argument(
        "--with-personal", action="store_true", help="customer and registration in the JSON"
    )


def _day(text: str) -> str:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.isoformat() != text:
        raise argparse.ArgumentTypeError(f"{text!r} is no date; write it like 2026-03-31")
    return text


def add_export(add: Add) -> None:
    """``export JOB``."""
    export = add(
        "export",
        "write a job as JSON and CSV that open elsewhere",
        "steplatch export abcdefgh --csv tables --json job.json",
    )
    export.add_argument("job", help="a job's id, a part of it, or the path of a job's folder")
    export.add_argument("--csv", type=Path, metavar="DIR", help="write its tables into this folder")
    export.add_argument("--json", type=Path, metavar="FILE", help="write here, not to the screen")
    export.add_argument(
        "--with-personal", action="store_true", help="customer, contact, registration too"
    )


def add_customer(add: Add) -> None:
    """``customer export | erase | hold | release | due | keep``."""
    customer = add(
        "customer",
        "customers' data: export, erase, hold for a dispute, what is due",
        "steplatch customer due",
    )
    acts = customer.add_subparsers(dest="act", required=True, metavar="ACT")
    export = acts.add_parser("export", help="all jobs of one customer as JSON, values included")
    export.add_argument("who", metavar="NAME_OR_JOB")
    export.add_argument("--json", type=Path, metavar="FILE", help="write here, not to the screen")
    erase = acts.add_parser("erase", help="erase the customer's data of one job, for ever")
    hold = acts.add_parser("hold", help="keep a job's data while a dispute runs")
    release = acts.add_parser("release", help="end a hold")
    for each in (erase, hold, release):
        each.add_argument("job", help="the job's id or a part of it")
        each.add_argument("--as", dest="person", required=True, metavar="PERSON", help="who")
    erase.add_argument("--reason", default="asked for by the customer", metavar="TEXT")
    for each in (hold, release):
        each.add_argument("--reason", required=True, metavar="TEXT")
    due = acts.add_parser("due", help="whose data have been kept for long enough")
    due.add_argument("--json", action="store_true", help="one JSON object")
    keep = acts.add_parser("keep", help="show or set for how long data are kept")
    keep.add_argument("months", nargs="?", type=int, metavar="MONTHS")


def add_sealing(add: Add) -> None:
    """``key``, ``seal`` and ``attach``."""
    key = add(
        "key", "the workshop's signing key: make one, show its public half", "steplatch key new"
    )
    acts = key.add_subparsers(dest="act", required=True, metavar="ACT")
    new = acts.add_parser("new", help="make the key that seals jobs when they end")
    new.add_argument("--again", action="store_true", help="in place of the one that is there")
    new.add_argument("--passphrase", action="store_true", help="ask for one, each time it seals")
    acts.add_parser("show", help="every public key this workshop had")
    seal = add(
        "seal", "seal a job that has ended and was not sealed then", "steplatch seal abcdefgh"
    )
    seal.add_argument("job", nargs="+", help="the job's id or a part of it; several at once")
    attach = add(
        "attach",
        "keep a photo, log or freeze frame with a job",
        "steplatch attach abcdefgh photo.jpg --label 'stub before' --as technician-1 --clean",
    )
    attach.add_argument("job", help="the job's id or a part of it")
    attach.add_argument("file", type=Path)
    attach.add_argument("--label", required=True, metavar="TEXT", help="what it shows")
    attach.add_argument("--as", dest="person", required=True, metavar="PERSON")
    attach.add_argument(
        "--clean", action="store_true", help="take place, time and device out of a picture's copy"
    )
