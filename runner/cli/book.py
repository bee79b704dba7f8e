"""``steplatch jobs`` and ``export``: the job book, and one job written out for other programs."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from . import exits
from .command import JOB, Add, day, fail, headed, print_json, progress, shown_from, whole
from .outputs import add_overwrite, write_out

if TYPE_CHECKING:
    from ..jobs.book_search import Wanted
    from ..jobs.digest import JobRow
    from ..record import DataFolder


PAGE = 200
"""So many jobs are listed on the screen unless more are asked for (a design choice)."""


def add_to(add: Add) -> None:
    """``jobs`` with its filters."""
    options = add(
        "jobs",
        _("list and search the jobs"),
        "steplatch jobs --state open --since 2026-03-01",
        jobs,
    )
    options.add_argument(
        "find",
        nargs="*",
        metavar=_("WORDS"),
        help=_("anywhere in what was typed; or {job}", job=JOB),
    )
    states = ("open", "held", "finished", "abandoned", "broken", _("not begun"))
    options.add_argument("--state", choices=states)
    kind = options.add_mutually_exclusive_group()
    for name in ("real", "practice"):
        kind.add_argument(
            f"--{name}",
            dest="kind",
            action="store_const",
            const=name,
            help=_("{name} jobs only", name=name),
        )
    options.add_argument(
        "--since", type=day, metavar=_("DATE"), help=_("begun on that day or later")
    )
    options.add_argument(
        "--until", type=day, metavar=_("DATE"), help=_("begun on that day or earlier")
    )
    options.add_argument(
        "--vehicle", metavar=_("TEXT"), help=_("in its label, or registration while kept")
    )
    options.add_argument(
        "--person", metavar=_("TEXT"), help=_("in the id or name of who worked or signed")
    )
    options.add_argument("--verdict", metavar=_("TEXT"), help=_("in the verdict"))
    options.add_argument(
        "--most", type=whole, metavar="N",
        help=_("so many of the newest; without it {page}, in the JSON all", page=PAGE),
    )  # fmt: skip
    options.add_argument("--rebuild", action="store_true", help=_("make the job book again first"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options.add_argument(
        "--with-personal", action="store_true", help=_("customer and registration in the JSON")
    )
    options = add(
        "export",
        _("write a job as JSON and CSV that open elsewhere"),
        "steplatch export abcdefgh --csv tables --file job.json",
        export,
    )
    options.add_argument("job", help=JOB)
    options.add_argument(
        "--csv", type=Path, metavar=_("DIR"), help=_("write its tables into this folder")
    )
    options.add_argument(
        "--file", type=Path, metavar=_("FILE"), help=_("write here, not to the screen")
    )
    options.add_argument(
        "--json",
        action="store_true",
        help=_("one JSON object on the screen (so without --csv too)"),
    )
    add_overwrite(options)
    options.add_argument(
        "--with-personal", action="store_true", help=_("customer, contact, registration too")
    )


def jobs(args: argparse.Namespace) -> int:
    """List the jobs, newest first, as JSON oldest first; a broken one is listed as what it is."""
    from ..jobs.book import JobBook
    from ..jobs.store import is_path
    from ..record import find_data_folder

    data = find_data_folder(args.data, os.environ)
    if args.find and all(is_path(word) for word in args.find):
        return _at_paths(args, data)
    wanted = wanted_of(args)
    most = args.most if args.most is not None or args.json else PAGE
    if most is not None and most < 1:
        return fail(exits.USAGE, "--most: give 1 or more")
    if not data.jobs.is_dir():
        rows, total, notes = [], 0, []
    else:
        with JobBook.open(data, rebuild=args.rebuild) as book:
            book.sync(progress(_("reading the jobs")))
            rows = book.rows(wanted, args.with_personal, most)
            total = book.count()
            notes = book.notes
    for note in notes:
        print(f"note: {note}", file=sys.stderr)
    if not rows and not args.json:
        print(nothing(data, wanted, total))
        return exits.OK
    _print_rows(rows, total, notes, args)
    if most is not None and len(rows) == most < total and not args.json:
        said = _("The newest {most}; there are {total} jobs. More: --most N, or ask for less",
                 most=most, total=total)  # fmt: skip
        print(said)
    elif wanted.any() and not args.json:
        print(_("{count} of {total} jobs", count=len(rows), total=total))
    if wanted.any() and not args.json:
        _print_visits(data, wanted.vehicle)
    return exits.OK


def _print_visits(data: DataFolder, registration: str) -> None:
    """Of one car, named by its whole registration, the visits beneath each other."""
    from ..jobs.visits import earlier_visits, picture

    for practice in (False, True):
        visits = earlier_visits(data, registration, practice)
        if len(visits) > 1:
            print(
                _(
                    "\nVISITS, pressure at the same flow{part}",
                    part=", practice" if practice else "",
                )
            )
            print("\n".join(picture(visits)))


def _at_paths(args: argparse.Namespace, data: DataFolder) -> int:
    """List the jobs whose folders are named, wherever they lie. Raises NoSuchJob."""
    from ..jobs.digest import digest
    from ..jobs.store import find

    rows = [digest(find(data, path)) for path in args.find]
    _print_rows(rows, len(rows), [], args)
    return exits.OK


def _print_rows(rows: list[JobRow], total: int, notes: list[str], args: argparse.Namespace) -> None:
    from ..jobs.listing import listing, row_json

    if args.json:
        shown = [row_json(row, args.with_personal) for row in rows]
        print_json("jobs", {"jobs": shown, "of": total, "notes": notes})
    else:
        print("\n".join(listing(rows, _width())))


def wanted_of(args: argparse.Namespace) -> Wanted:
    """What the options ask for."""
    from ..jobs.book_search import Wanted

    return Wanted(
        state=args.state or "",
        kind=args.kind or "",
        since=args.since or "",
        until=args.until or "",
        vehicle=args.vehicle or "",
        person=args.person or "",
        verdict=args.verdict or "",
        text=" ".join(args.find),
    )


def nothing(data: DataFolder, wanted: Wanted, total: int) -> str:
    """What to do when the list is empty."""
    if not total:
        return _("No job lies in {jobs} yet. Begin with: steplatch practise", jobs=data.jobs)
    return (
        _(
            "None of the {total} jobs fits all of it. Ask for less, or list all with: "
            "steplatch jobs",
            total=total,
        )
        if wanted.any()
        else _("No job in {jobs}", jobs=data.jobs)
    )


def _width() -> int | None:
    """The terminal's width; None where the text goes elsewhere and COLUMNS says nothing."""
    if not os.isatty(1) and "COLUMNS" not in os.environ:
        return None
    return shutil.get_terminal_size((80, 24)).columns


def export(args: argparse.Namespace) -> int:
    """Write one job as JSON, as CSV, or both."""
    from ..jobs.export import csv_files, export_job
    from ..jobs.store import find
    from ..record import find_data_folder

    folder = find(find_data_folder(args.data, os.environ), args.job)
    with shown_from(folder):
        exported = export_job(folder, args.with_personal)
    if args.csv is not None:
        for name, raw in csv_files(folder, exported).items():
            _write(args.csv / name, raw, args.overwrite)
    if args.file is not None or args.json or args.csv is None:
        write_json(headed("job-export", exported), args.file, args.overwrite)
    for note in exported["notes"]:
        print(f"note: {note}", file=sys.stderr)
    return exits.OK


def write_json(value: dict[str, Any], path: Path | None, overwrite: bool = False) -> None:
    """One JSON object to a file (mode 0600), or to standard output.

    Raises OutputRefused, JournalFailed.
    """
    text = json_text(value)
    if path is None:
        print(text)
    else:
        _write(path, text.encode("utf-8") + b"\n", overwrite)


def json_text(value: dict[str, Any]) -> str:
    """JSON that no terminal obeys: what does not show is written as an escape of JSON."""
    text = json.dumps(value, ensure_ascii=False, indent=1)
    if all(line.isprintable() for line in text.split("\n")):
        return text
    return "".join(c if c == "\n" or c.isprintable() else json.dumps(c)[1:-1] for c in text)


def _write(path: Path, raw: bytes, overwrite: bool) -> None:
    write_out(path, raw, overwrite)
    print(f"written: {path}", file=sys.stderr)
