"""``steplatch jobs`` and ``export``: the job book, and one job written out for other programs."""

import argparse
import json
import os
import shutil
import sys
from pathlib import Path
from typing import Any

from ..jobs.book import JobBook, Wanted
from ..jobs.listing import listing, row_json
from ..record import DataFolder, find_data_folder
from ..record.disk import FOLDER_MODE, Disk, replace_file
from ..record.faults import failed
from . import exits
from .line import print_json, progress


def jobs(args: argparse.Namespace) -> int:
    """List the jobs, oldest first; a broken one is listed as what it is."""
    data = find_data_folder(args.data, os.environ)
    wanted = wanted_of(args)
    if not data.jobs.is_dir():
        rows, total, notes = [], 0, []
    else:
        with JobBook.open(data, rebuild=args.rebuild) as book:
            book.sync(progress("reading the jobs"))
            rows = book.rows(wanted, args.with_personal)
            total = book.count()
            notes = book.notes
    for note in notes:
        print(f"note: {note}", file=sys.stderr)
    if args.json:
        shown = [row_json(row, args.with_personal) for row in rows]
        print_json({"jobs": shown, "of": total, "notes": notes})
        return exits.OK
    if not rows:
        print(nothing(data, wanted, total))
        return exits.OK
    print("\n".join(listing(rows, _width())))
    if wanted.any():
        print(f"{len(rows)} of {total} jobs")
    return exits.OK


def wanted_of(args: argparse.Namespace) -> Wanted:
    """What the options ask for."""
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
        return f"No job lies in {data.jobs} yet. Begin with: steplatch practise"
    return (
        f"None of the {total} jobs fits all of it. Ask for less, or list all with: steplatch jobs"
        if wanted.any()
        else f"No job in {data.jobs}"
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

    folder = find(find_data_folder(args.data, os.environ), args.job)
    exported = export_job(folder, args.with_personal)
    if args.csv is not None:
        for name, raw in csv_files(folder, exported).items():
            _write(args.csv / name, raw)
    if args.json is not None or args.csv is None:
        write_json(exported, args.json)
    for note in exported["notes"]:
        print(f"note: {note}", file=sys.stderr)
    return exits.OK


def write_json(value: dict[str, Any], path: Path | None) -> None:
    """One JSON object to a file (mode 0600), or to standard output. Raises JournalFailed."""
    text = json_text(value)
    if path is None:
        print(text)
    else:
        _write(path, text.encode("utf-8") + b"\n")


def json_text(value: dict[str, Any]) -> str:
    """JSON that no terminal obeys: what does not show is written as an escape of JSON."""
    text = json.dumps(value, ensure_ascii=False, indent=1)
    if all(line.isprintable() for line in text.split("\n")):
        return text
    return "".join(c if c == "\n" or c.isprintable() else json.dumps(c)[1:-1] for c in text)


def _write(path: Path, raw: bytes) -> None:
    try:
        path.parent.mkdir(FOLDER_MODE, parents=True, exist_ok=True)
        replace_file(Disk(), path, raw)
    except OSError as error:
        raise failed(path, "write the export", error) from error
    print(f"written: {path}", file=sys.stderr)
