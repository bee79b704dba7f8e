"""``steplatch customer``: what is done with customers' data, and by whom.

Erasing and holds carry a name, and a name is worth what proves it: its owner types the PIN.
"""

from __future__ import annotations

import argparse
import sys
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .book import write_json
from .command import JOB, Add, data_folder, fail, has_terminal, headed, print_json, whole
from .outputs import add_overwrite
from .proving import prove

if TYPE_CHECKING:
    from ..jobs.customer import Due
    from ..record import DataFolder, JobFolder

NEEDS_TERMINAL = _("erasing asks for the job's id, and a PIN by its owner: that needs a terminal")


def add_to(add: Add) -> None:
    """``customer export | erase | hold | release | due | keep``."""
    options = add(
        "customer",
        _("customers' data: export, erase, hold for a dispute, what is due"),
        "steplatch customer due",
        customer,
    )
    acts = options.add_subparsers(dest="act", required=True, metavar=_("ACT"))
    export = acts.add_parser("export", help=_("all jobs of one customer as JSON, values included"))
    export.add_argument("who", metavar=_("NAME_OR_JOB"))
    export.add_argument(
        "--file", type=Path, metavar=_("FILE"), help=_("write here, not to the screen")
    )
    add_overwrite(export)
    erase = acts.add_parser("erase", help=_("erase the customer's data of one job, for ever"))
    hold = acts.add_parser("hold", help=_("keep a job's data while a dispute runs"))
    release = acts.add_parser("release", help=_("end a hold"))
    for each in (erase, hold, release):
        each.add_argument("job", help=JOB)
        each.add_argument("--as", dest="person", required=True, metavar=_("PERSON"), help=_("who"))
    erase.add_argument("--reason", default=_("asked for by the customer"), metavar=_("TEXT"))
    for each in (hold, release):
        each.add_argument("--reason", required=True, metavar=_("TEXT"))
    due = acts.add_parser("due", help=_("whose data have been kept for long enough"))
    due.add_argument("--json", action="store_true", help=_("one JSON object"))
    keep = acts.add_parser("keep", help=_("show or set for how long data are kept"))
    keep.add_argument("months", nargs="?", type=whole, metavar=_("MONTHS"))


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
        print(
            _("note: {job} is left out: {job_2}", job=job["job"], job_2=job["why"]), file=sys.stderr
        )
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
    print(
        _(
            "Erase name, contact and registration kept with {id}? This cannot be undone.",
            id=folder.id,
        )
    )
    if _line("Type the job's whole id to erase: ") != folder.id:
        return fail(exits.FAILED, _("that is not the job's id; nothing was erased"))
    erasure = erase_customer(folder, Erased(args.person, utc_now(), args.reason))
    list_act(folder, "erased", args.person, args.reason)
    with JobBook.open(data) as book:
        book.sync()
    print(f"Erased: {', '.join(f.replace('_', ' ') for f in erasure.fields)}.")
    if erasure.removed:
        print(
            _(
                "Removed with them: {removed}. Anew: steplatch sheet {id}",
                removed=", ".join(erasure.removed),
                id=folder.id,
            )
        )
    if erasure.lines:
        lines = ", ".join(map(str, erasure.lines[:20]))
        print(
            _(
                "Still there: typed into free text of the journal, in lines {lines}. The journal",
                lines=lines,
            )
        )
        print(_("cannot be changed; take care with whom you share it."))
    if erasure.copies:
        named = ", ".join(map(shown, erasure.copies[:20]))
        print(
            _(
                "Still there: a value stands in {named} in the job's folder. Look, and delete it.",
                named=named,
            )
        )
    if erasure.attachments:
        print(
            _(
                "Still there: {attachments} attached files. Look whether they show a plate.",
                attachments=erasure.attachments,
            )
        )
    print(_("Not reached: printed sheets, exports, backups."))
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
    state = _("held: its data are not erased") if args.act == "hold" else "released"
    print(_("{id} is {state}.", id=folder.id, state=state))
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
        print(
            _(
                "Nothing is due: customers' data are kept for {months} months after the end.",
                months=months,
            )
        )
        return exits.OK
    print(_("Kept for {months} months or longer:", months=months))
    for job in found:
        print(f"  {_due_line(job)}")
    print(_("Erase one: steplatch customer erase JOB --as PERSON --reason 'kept for long enough'"))
    return exits.OK


def _due_line(job: Due) -> str:
    since = (
        _("ended {since}", since=job.since)
        if job.ended
        else _("never ended, last worked on {since}", since=job.since)
    )
    return f"{job.job}  {since}" + (_(", held for a dispute") if job.held else "")


def _keep(args: argparse.Namespace, data: DataFolder) -> int:
    from ..jobs.settings import DEFAULT_MONTHS, keep_for, load_settings, settings_path

    if args.months is not None:
        try:
            keep_for(data, args.months)
        except ValueError as error:
            return fail(exits.USAGE, _("{error}. Type a number of months", error=error))
    months = load_settings(data).keep_personal_months
    print(_("Customers' data are kept for {months} months after a job's end.", months=months))
    print(
        _(
            "Setting: {settings_path} (default {default_months}: claims on a contract can be",
            settings_path=settings_path(data),
            default_months=DEFAULT_MONTHS,
        )
    )
    print(_("brought for six years, Limitation Act 1980, section 5, England and Wales; elsewhere"))
    print(_("other periods hold)."))
    return exits.OK


def _line(question: str) -> str:
    try:
        return input(question).strip()
    except EOFError:
        raise KeyboardInterrupt from None


def _today() -> date:
    """Today by the workshop's clock."""
    return datetime.now().astimezone().date()
