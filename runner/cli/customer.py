"""``steplatch customer``: what is done with customers' data, and by whom.

Erasing and holds carry a name, and a name is worth what proves it: its owner types the PIN.
"""

from __future__ import annotations

import argparse
import sys
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from . import exits
from .book import write_json
from .command import JOB, Add, data_folder, fail, has_terminal, headed, print_json, whole
from .outputs import add_overwrite
from .proving import prove

if TYPE_CHECKING:
    from ..jobs.customer import Due
    from ..record import DataFolder, JobFolder

NEEDS_TERMINAL = "erasing asks for the job's id, and a PIN by its owner: that needs a terminal"


def add_to(add: Add) -> None:
    """``customer export | erase | hold | release | due | keep``."""
    options = add(
        "customer",
        "customers' data: export, erase, hold for a dispute, what is due",
        "steplatch customer due",
        customer,
    )
    acts = options.add_subparsers(dest="act", required=True, metavar="ACT")
    export = acts.add_parser("export", help="all jobs of one customer as JSON, values included")
    export.add_argument("who", metavar="NAME_OR_JOB")
    export.add_argument("--file", type=Path, metavar="FILE", help="write here, not to the screen")
    add_overwrite(export)
    erase = acts.add_parser("erase", help="erase the customer's data of one job, for ever")
    hold = acts.add_parser("hold", help="keep a job's data while a dispute runs")
    release = acts.add_parser("release", help="end a hold")
    for each in (erase, hold, release):
        each.add_argument("job", help=JOB)
        each.add_argument("--as", dest="person", required=True, metavar="PERSON", help="who")
    erase.add_argument("--reason", default="asked for by the customer", metavar="TEXT")
    for each in (hold, release):
        each.add_argument("--reason", required=True, metavar="TEXT")
    due = acts.add_parser("due", help="whose data have been kept for long enough")
    due.add_argument("--json", action="store_true", help="one JSON object")
    keep = acts.add_parser("keep", help="show or set for how long data are kept")
    keep.add_argument("months", nargs="?", type=whole, metavar="MONTHS")


def customer(args: argparse.Namespace) -> int:
    """Export, erase, hold, release, due, keep."""
    data = data_folder(args)
    acts = {"export": _export, "erase": _erase, "hold": _hold, "release": _hold, "due": _due,
            "keep": _keep}  # fmt: skip
    return acts[args.act](args, data)


def _export(args: argparse.Namespace, data: DataFolder) -> int:
    from ..jobs.customer import export_customer

    exported = export_customer(data, args.who)
    write_json(headed("customer-export", exported), args.file, args.overwrite)
    for job in exported["unreadable"]:
        print(f"note: {job['job']} is left out: {job['why']}", file=sys.stderr)
    return exits.OK if not exported["unreadable"] else exits.AUDIT_BROKEN


def _erase(args: argparse.Namespace, data: DataFolder) -> int:
    from ..input.findings import shown
    from ..jobs.book import JobBook
    from ..jobs.customer import erase_customer
    from ..jobs.ledgers import list_act
    from ..jobs.store import find
    from ..record import Erased
    from ..record.clocks import utc_now

    folder = find(data, args.job)
    if not has_terminal():
        return fail(exits.NO_TERMINAL, NEEDS_TERMINAL)
    prove(args.person, data)
    print(f"Erase name, contact and registration kept with {folder.id}? This cannot be undone.")
    if _line("Type the job's whole id to erase: ") != folder.id:
        return fail(exits.FAILED, "that is not the job's id; nothing was erased")
    erasure = erase_customer(folder, Erased(args.person, utc_now(), args.reason))
    list_act(folder, "erased", args.person, args.reason)
    with JobBook.open(data) as book:
        book.sync()
    print(f"Erased: {', '.join(f.replace('_', ' ') for f in erasure.fields)}.")
    if erasure.removed:
        print(f"Removed with them: {', '.join(erasure.removed)}. Anew: steplatch sheet {folder.id}")
    if erasure.lines:
        lines = ", ".join(map(str, erasure.lines[:20]))
        print(f"Still there: typed into free text of the journal, in lines {lines}. The journal")
        print("cannot be changed; take care with whom you share it.")
    if erasure.copies:
        named = ", ".join(map(shown, erasure.copies[:20]))
        print(f"Still there: a value stands in {named} in the job's folder. Look, and delete it.")
    if erasure.attachments:
        print(f"Still there: {erasure.attachments} attached files. Look whether they show a plate.")
    print("Not reached: printed sheets, exports, backups.")
    return exits.OK


def _hold(args: argparse.Namespace, data: DataFolder) -> int:
    from ..jobs.holds import HoldEntry, write_hold
    from ..jobs.ledgers import list_act
    from ..jobs.store import find
    from ..record import JobLock
    from ..record.clocks import utc_now

    folder: JobFolder = find(data, args.job)
    prove(args.person, data)
    with JobLock.take(folder) as lock:
        write_hold(lock, HoldEntry(args.act, args.person, utc_now(), args.reason))
    list_act(folder, args.act, args.person, args.reason)
    state = "held: its data are not erased" if args.act == "hold" else "released"
    print(f"{folder.id} is {state}.")
    return exits.OK


def _due(args: argparse.Namespace, data: DataFolder) -> int:
    from ..jobs.book import JobBook
    from ..jobs.customer import due
    from ..jobs.settings import load_settings

    months = load_settings(data).keep_personal_months
    with JobBook.open(data) as book:
        book.sync()
        found = due(book.rows(), months, _today())
    if args.json:
        rows = [{"job": d.job, "since": d.since, "ended": d.ended, "held": d.held} for d in found]
        print_json("customer-due", {"keep_personal_months": months, "due": rows})
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
    from ..jobs.settings import DEFAULT_MONTHS, keep_for, load_settings, settings_path

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


def _line(question: str) -> str:
    try:
        return input(question).strip()
    except EOFError:
        raise KeyboardInterrupt from None


def _today() -> date:
    """Today by the workshop's clock."""
    return datetime.now().astimezone().date()
