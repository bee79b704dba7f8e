"""``steplatch book``: what many jobs say together, and the shared book of several bays."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_to_read, fail, print_json, progress, whole
from .outputs import add_overwrite, write_out

if TYPE_CHECKING:
    from ..jobs.questions import Answer
    from ..sheet.blocks import JobSheet


def add_to(add: Add) -> None:
    """``book`` with its acts."""
    options = add(
        "book",
        _("what many jobs say together: returns, success, gain, where people stumble"),
        "steplatch book page book.html",
        lambda args: args.book_act(args),
    )
    acts = options.add_subparsers(dest="act", required=True, metavar=_("ACT"))
    told = acts.add_parser("answers", help=_("ten questions answered, or those that are named"))
    told.add_argument("question", nargs="*", metavar=_("QUESTION"), help=_("by name; see --json"))
    told.add_argument("--json", action="store_true", help=_("one JSON object"))
    told.add_argument(
        "--csv", type=Path, metavar=_("DIR"), help=_("one table a question, into a folder")
    )
    told.set_defaults(book_act=_answers)
    page = acts.add_parser("page", help=_("one page with pictures, to be printed"))
    page.add_argument("file", type=Path, metavar=_("FILE"))
    page.set_defaults(book_act=_page)
    for each in (told, page):
        each.add_argument("--practice", action="store_true", help=_("practice jobs, not real ones"))
        each.add_argument(
            "--server", metavar=_("DSN"), help=_("of all bays: the shared book, as office")
        )
        add_overwrite(each)
    _shared(acts)


def _shared(acts: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The acts of the shared book."""
    made = acts.add_parser("serve-setup", help=_("set the shared book up, or bring it up to date"))
    made.add_argument(
        "--server", metavar=_("DSN"), help=_("as the database's owner, libpq's words")
    )
    made.add_argument("--print", action="store_true", help=_("print the SQL instead, to be read"))
    for role in ("bay", "office", "auditor"):
        made.add_argument(
            f"--{role}",
            nargs="*",
            default=[],
            metavar=_("NAME"),
            help=_("logins that act as {role}", role=role),
        )
    made.set_defaults(book_act=_serve_setup)
    sent = acts.add_parser("send", help=_("send this bay's jobs; book.yaml says where"))
    sent.add_argument("--every", type=whole, metavar=_("SECONDS"), help=_("again and again"))
    sent.set_defaults(book_act=_send)
    stands = acts.add_parser("status", help=_("what is not sent yet, and what was found"))
    stands.add_argument("--json", action="store_true", help=_("one JSON object"))
    stands.set_defaults(book_act=_status)
    known = acts.add_parser("acknowledge", help=_("say by name why a job is gone, or was found"))
    known.add_argument("job", help=_("its whole id, as status names it"))
    known.add_argument(
        "--as", dest="person", required=True, metavar=_("PERSON"), help=_("who says so")
    )
    known.add_argument("--why", required=True, metavar=_("TEXT"))
    known.set_defaults(book_act=_acknowledge)
    audited = acts.add_parser("audit", help=_("audit every copy on the server"))
    audited.add_argument("--server", metavar=_("DSN"), required=True, help=_("as auditor"))
    audited.set_defaults(book_act=_audit)


def _answered(args: argparse.Namespace) -> tuple[Answer, ...]:
    """The answers of this bay's own book, brought up to date; or of the shared one."""
    if args.server is not None:
        return _of_server(args.server, "practice" if args.practice else "real")
    from ..jobs.book import JobBook
    from ..record import find_data_folder

    data = find_data_folder(args.data, os.environ)
    if not data.jobs.is_dir():
        return ()
    with JobBook.open(data) as book:
        book.sync(progress(_("reading the jobs")))
        found = book.answers("practice" if args.practice else "real")
    for note in book.notes:
        print(f"note: {note}", file=sys.stderr)
    return found


def _of_server(dsn: str, kind: str) -> tuple[Answer, ...]:
    from ..book.server import connected, run_on
    from ..jobs.questions import answers

    with connected(dsn) as connection:
        return answers(run_on(connection), kind)


def _answers(args: argparse.Namespace) -> int:
    from ..jobs.questions import QUESTIONS
    from ..sheet.text_page import to_text

    names = [question.id for question in QUESTIONS]
    if unknown := [name for name in args.question if name not in names]:
        said = _(
            "no question {unknown!r}. Use: {names}", unknown=unknown[0][:40], names=", ".join(names)
        )
        return fail(exits.USAGE, said)
    found = [one for one in _answered(args) if one.id in (args.question or names)]
    if args.csv is not None:
        for one in found:
            write_out(args.csv / f"{one.id}.csv", one.to_csv(), args.overwrite)
        print(
            _("written: {count} tables in {csv}", count=len(found), csv=args.csv), file=sys.stderr
        )
    if args.json:
        print_json("book-answers", {"answers": [one.to_json() for one in found]})
    elif args.csv is None and not any(one.rows for one in found):
        other = "" if args.practice else _(" Practice jobs have answers of their own: --practice.")
        print(
            _(
                "No {part} job has been worked here yet.{other}",
                part="practice" if args.practice else "real",
                other=other,
            )
        )
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
    whose = _("this bay") if args.server is None else _("all bays")
    return book_page(found, whose, today, "practice" if args.practice else "real")


def _serve_setup(args: argparse.Namespace) -> int:
    from ..book.migrations import VERSION, whole_sql
    from ..book.server import add_login, set_up

    if args.print:
        print(whole_sql())
        return exits.OK
    if args.server is None:
        return fail(
            exits.USAGE, _("serve-setup: name the database with --server, or --print the SQL")
        )
    before, after = set_up(args.server)
    print(
        _(
            "book: version {before} before, {after} now (this program's: {version})",
            before=before,
            after=after,
            version=VERSION,
        )
    )
    for role in ("bay", "office", "auditor"):
        for name in getattr(args, role):
            add_login(args.server, name, role)
            print(
                _(
                    "login: {name} as {role}, without a password; set one: psql, \\password {name}",
                    name=name,
                    role=role,
                )
            )
    return exits.OK


def _send(args: argparse.Namespace) -> int:
    """Send once, or again and again; a server that is not there is tried the next time."""
    import time

    from ..book.sending import send
    from ..book.server import NoServer, load_book_file
    from ..input.findings import shown

    data = data_to_read(args)
    settings = load_book_file(data)
    while True:
        try:
            sent = send(data, settings, progress("sending"))
        except NoServer as error:
            code = fail(exits.FAILED, error)
        else:
            print(_("sent: {jobs} jobs, {lines} lines", jobs=sent.jobs, lines=sent.lines))
            for job in sent.erased:
                print(_("erased on the server, and confirmed: {job}", job=job))
            for job, what, detail in sent.findings:
                print(
                    _(
                        "{what} {job}: {shown}. Nothing was overwritten.",
                        what=what.upper(),
                        job=job,
                        shown=shown(detail),
                    )
                )
            code = exits.FAILED if sent.findings else exits.OK
        if args.every is None:
            return code
        time.sleep(max(1, args.every))


def _status(args: argparse.Namespace) -> int:
    from dataclasses import asdict

    from ..book.sending import status
    from ..book.server import load_book_file
    from ..input.findings import shown

    data = data_to_read(args)
    stands = status(data, load_book_file(data))
    if args.json:
        print_json("book-status", asdict(stands))
    else:
        print(
            _(
                "{bay}: {sent} of {jobs} jobs are sent as they stand",
                bay=stands.bay,
                sent=stands.sent,
                jobs=stands.jobs,
            )
        )
        for job in stands.unsent:
            print(_("not sent yet, or not all of it: {job}", job=job))
        for job in stands.erasing:
            print(_("erased here, not yet on the server: {job}. Run: steplatch book send", job=job))
        for job, what, detail in stands.findings:
            print(f"{what.upper()} {job}: {shown(detail)}")
        for job, what, detail, by, why in stands.acknowledged:
            print(
                _(
                    "{what} {job}: {shown}. Acknowledged by {shown_2}: {shown_3}",
                    what=what,
                    job=job,
                    shown=shown(detail),
                    shown_2=shown(by),
                    shown_3=shown(why),
                )
            )
    return exits.OK if not stands.findings else exits.FAILED


def _acknowledge(args: argparse.Namespace) -> int:
    from ..book.findings import acknowledge
    from ..book.server import load_book_file
    from .proving import prove

    data = data_to_read(args)
    settings = load_book_file(data)
    prove(args.person, data)
    for one in acknowledge(data, settings, args.job, args.person, args.why):
        print(
            _(
                "acknowledged: {what} {job}, by {by}. It stays on the server.",
                what=one.what,
                job=one.job,
                by=one.by,
            )
        )
    return exits.OK


def _audit(args: argparse.Namespace) -> int:
    from ..book.copies import audit_book
    from ..input.findings import shown
    from ..jobs.ledgers import key_folder

    data = data_to_read(args)
    keys = key_folder(data).public_keys() or None
    found = audit_book(args.server, keys, progress("auditing"))
    for one in found.copies:
        print(f"{one.bay}/{one.job}: {one.grade.name.lower()}")
        for text in one.wrong:
            print(f"  {shown(text)}")
    open_ones = [each for each in found.findings if not each.by]
    for each in found.findings:
        said = (
            _(". Acknowledged by {shown}: {shown_2}", shown=shown(each.by), shown_2=shown(each.why))
            if each.by
            else ""
        )
        what = each.what if each.by else each.what.upper()
        print(f"{what} {each.bay}/{each.job}: {shown(each.detail)}{said}")
    known = len(found.findings) - len(open_ones)
    print(
        _(
            "{count} copies, {count_2} findings, {known} more acknowledged",
            count=len(found.copies),
            count_2=len(open_ones),
            known=known,
        )
    )
    if found.worst.value:
        return found.worst.value
    return exits.FAILED if open_ones else exits.OK
