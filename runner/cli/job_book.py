"""``steplatch book``: what many jobs say together, and the shared book of several bays."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from . import exits
from .command import Add, fail, print_json, progress
from .outputs import add_overwrite, write_out

if TYPE_CHECKING:
    from ..jobs.questions import Answer
    from ..sheet.blocks import JobSheet


def add_to(add: Add) -> None:
    """``book`` with its acts."""
    options = add(
        "book",
        "what many jobs say together: returns, success, gain, where people stumble",
        "steplatch book page book.html",
        lambda args: args.book_act(args),
    )
    acts = options.add_subparsers(dest="act", required=True, metavar="ACT")
    told = acts.add_parser("answers", help="ten questions answered, or those that are named")
    told.add_argument("question", nargs="*", metavar="QUESTION", help="by name; see --json")
    told.add_argument("--json", action="store_true", help="one JSON object")
    told.add_argument("--csv", type=Path, metavar="DIR", help="one table a question, into a folder")
    told.set_defaults(book_act=_answers)
    page = acts.add_parser("page", help="one page with pictures, to be printed")
    page.add_argument("file", type=Path, metavar="FILE")
    page.set_defaults(book_act=_page)
    for each in (told, page):
        each.add_argument("--practice", action="store_true", help="practice jobs, not real ones")
        add_overwrite(each)


def _answered(args: argparse.Namespace) -> tuple[Answer, ...]:
    """The answers of this bay's own book, brought up to date."""
    from ..jobs.book import JobBook
    from ..record import find_data_folder

    data = find_data_folder(args.data, os.environ)
    if not data.jobs.is_dir():
        return ()
    with JobBook.open(data) as book:
        book.sync(progress("reading the jobs"))
        found = book.answers("practice" if args.practice else "real")
    for note in book.notes:
        print(f"note: {note}", file=sys.stderr)
    return found


def _answers(args: argparse.Namespace) -> int:
    from ..jobs.questions import QUESTIONS
    from ..sheet.text_page import to_text

    names = [question.id for question in QUESTIONS]
    if unknown := [name for name in args.question if name not in names]:
        said = f"no question {unknown[0][:40]!r}. Use: {', '.join(names)}"
        return fail(exits.USAGE, said)
    found = [one for one in _answered(args) if one.id in (args.question or names)]
    if args.csv is not None:
        for one in found:
            write_out(args.csv / f"{one.id}.csv", one.to_csv(), args.overwrite)
        print(f"written: {len(found)} tables in {args.csv}", file=sys.stderr)
    if args.json:
        print_json({"answers": [one.to_json() for one in found]})
    elif args.csv is None:
        width = max(40, min(100, shutil.get_terminal_size((80, 24)).columns))
        print(to_text(_sheet(found, args), width, "technical"))
    return exits.OK


def _page(args: argparse.Namespace) -> int:
    from ..sheet.html_page import to_html

    page = to_html(_sheet(_answered(args), args), "technical")
    write_out(args.file, page.encode("utf-8"), args.overwrite)
    print(f"page: {args.file}")
    return exits.OK


def _sheet(found: tuple[Answer, ...] | list[Answer], args: argparse.Namespace) -> JobSheet:
    from ..sheet.book_page import book_page

    today = datetime.now().astimezone().date().isoformat()
    return book_page(found, "this bay", today, "practice" if args.practice else "real")
