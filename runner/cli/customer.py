"""``steplatch customer``: what is done with customers' data, and by whom.

Whoever has a PIN types it: erasing and holds carry a name, and a name is worth what proves it.
"""

import argparse
import sys
from datetime import date, datetime

from ..input.findings import shown
from ..jobs.book import JobBook
from ..jobs.customer import Due, due, erase_customer, export_customer
from ..jobs.holds import HoldEntry, Refused, write_hold
from ..jobs.settings import DEFAULT_MONTHS, keep_for, load_settings, settings_path
from ..jobs.store import find
from ..record import DataFolder, Erased, JobFolder, JobLock
from ..record.clocks import utc_now
from ..screen.talk import has_terminal
from ..workshop.pins import Accepted
from ..workshop.roster import pin_book
from . import exits
from .book import write_json
from .line import data_folder, fail, print_json, secret

NEEDS_TERMINAL = "erasing asks for the job's id, and a PIN by its owner: that needs a terminal"


def customer(args: argparse.Namespace) -> int:
    """Export, erase, hold, release, due, keep."""
    data = data_folder(args)
    acts = {"export": _export, "erase": _erase, "hold": _hold, "release": _hold, "due": _due,
            "keep": _keep}  # fmt: skip
    return acts[args.act](args, data)


def _export(args: argparse.Namespace, data: DataFolder) -> int:
    exported = export_customer(data, args.who)
    write_json(exported, args.json)
    for job in exported["unreadable"]:
        print(f"note: {job['job']} is left out: {job['why']}", file=sys.stderr)
    return exits.OK if not exported["unreadable"] else exits.AUDIT_BROKEN


def _erase(args: argparse.Namespace, data: DataFolder) -> int:
    folder = find(data, args.job)
    if not has_terminal():
        return fail(exits.NO_TERMINAL, NEEDS_TERMINAL)
    _prove(args.person, data)
    print(f"Erase name, contact and registration kept with {folder.id}? This cannot be undone.")
    if _line("Type the job's whole id to erase: ") != folder.id:
        return fail(exits.FAILED, "that is not the job's id; nothing was erased")
    erasure = erase_customer(folder, Erased(args.person, utc_now(), args.reason))
    with JobBook.open(data) as book:
        book.sync()
    print(f"Erased: {', '.join(f.replace('_', ' ') for f in erasure.fields)}.")
    if erasure.removed:
        print(f"Removed with them: {', '.join(erasure.removed)}. Anew: steplatch sheet {folder.id}")
    if erasure.lines:
        lines = ", ".join(map(str, erasure.lines[:20]))
        print(f"Still there: typed into free text of the journal, in lines {lines}. The journal")
        print("cannot be changed; take care with whom you share it.")
    if erasure.attachments:
        print(f"Still there: {erasure.attachments} attached files. Look whether they show a plate.")
    print("Not reached: printed sheets, exports, backups.")
    return exits.OK


def _hold(args: argparse.Namespace, data: DataFolder) -> int:
    folder: JobFolder = find(data, args.job)
    _prove(args.person, data)
    with JobLock.take(folder) as lock:
        write_hold(lock, HoldEntry(args.act, args.person, utc_now(), args.reason))
    state = "held: its data are not erased" if args.act == "hold" else "released"
    print(f"{folder.id} is {state}.")
    return exits.OK


def _due(args: argparse.Namespace, data: DataFolder) -> int:
    months = load_settings(data).keep_personal_months
    with JobBook.open(data) as book:
        book.sync()
        found = due(book.rows(), months, _today())
    if args.json:
        rows = [{"job": d.job, "since": d.since, "ended": d.ended, "held": d.held} for d in found]
        print_json({"keep_personal_months": months, "due": rows})
        return exits.OK
    if not found:
        print(f"Nothing is due: customers' data are kept for {months} months after the end.")
        return exits.OK
    print(f"Kept for {months} months or longer:")
    for job in found:
        print(f"  {_due_line(job)}")
    print("Erase one: steplatch customer erase JOB --as PERSON --reason 'kept for long enough'")
    return exits.OK


def _due_line(job: Due) -> str:
    since = f"ended {job.since}" if job.ended else f"never ended, last worked on {job.since}"
    return f"{job.job}  {since}" + (", held for a dispute" if job.held else "")


def _keep(args: argparse.Namespace, data: DataFolder) -> int:
    if args.months is not None:
        try:
            keep_for(data, args.months)
        except ValueError as error:
            return fail(exits.USAGE, f"{error}. Type a number of months")
    months = load_settings(data).keep_personal_months
    print(f"Customers' data are kept for {months} months after a job's end.")
    print(f"Setting: {settings_path(data)} (default {DEFAULT_MONTHS}: claims on a contract can be")
    print("brought for six years, Limitation Act 1980, section 5, England and Wales; elsewhere")
    print("other periods hold).")
    return exits.OK


def _prove(person: str, data: DataFolder) -> None:
    """Have whoever has a PIN type it. Raises Refused for a wrong one."""
    book = pin_book(data)
    if not book.has_pin(person):
        return
    if not has_terminal():
        raise Refused(f"--as {shown(person)}", "this person has a PIN", "Use a terminal")
    outcome = book.check(person, secret(f"PIN of {shown(person)}: "))
    if not isinstance(outcome, Accepted):
        raise Refused(f"--as {shown(person)}", outcome.words.rstrip("."), "Try again")


def _line(question: str) -> str:
    try:
        return input(question).strip()
    except EOFError:
        raise KeyboardInterrupt from None


def _today() -> date:
    """Today by the workshop's clock."""
    return datetime.now().astimezone().date()
