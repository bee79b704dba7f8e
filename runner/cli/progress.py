"""``steplatch progress``: what a person has practised and done, and what a supervisor signs of it.

Who signs is who says so, by a PIN: nobody signs their own.
"""

from __future__ import annotations

import argparse
import secrets
import shutil
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_folder, data_to_read, day, fail, print_json, progress
from .outputs import add_overwrite, write_out

if TYPE_CHECKING:
    from ..record import DataFolder
    from ..training.progress import Standing
    from ..workshop.files import Person
    from ..workshop.pin_file import Entry

MOST_SEED = 2**31
ACTS = ("show", "sign", "withdraw", "set", "erase")
_RANK = {"apprentice": 0, "technician": 1, "supervisor": 2}


def add_to(add: Add) -> None:
    """``progress``."""
    options = add(
        "progress",
        _("what a person has practised and done; competences signed by a supervisor"),
        "steplatch progress apprentice-1 sign engine-off-dose --as supervisor-1",
        progress_of_person,
    )
    options.add_argument("person", metavar=_("PERSON"), help=_("by id: steplatch people list"))
    options.add_argument(
        "act",
        nargs="?",
        choices=ACTS,
        default="show",
        metavar=_("ACT"),
        help=_(
            "show (default); sign or withdraw COMPETENCE; set FAULT ...: to be found in practice; "
            "erase: all that was signed of the person"
        ),
    )
    options.add_argument(
        "what", nargs="*", metavar=_("WHAT"), help=_("the competence, or the faults")
    )
    options.add_argument(
        "--as", dest="by", metavar=_("PERSON"), help=_("who signs, sets or erases")
    )
    options.add_argument(
        "--until", type=day, metavar=_("DATE"), help=_("by when the faults are due")
    )
    options.add_argument("--why", default="", metavar=_("TEXT"), help=_("of withdraw and erase"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options.add_argument(
        "--page", type=Path, metavar=_("FILE"), help=_("write a page to be printed")
    )
    options.add_argument(
        "--people", type=Path, metavar=_("FILE"), default=Path("people.yaml"),
        help=_("for the roles of who signs; default: people.yaml in this folder"),
    )  # fmt: skip
    add_overwrite(options)


def progress_of_person(args: argparse.Namespace) -> int:
    """Show a person's record, or do what is named with it."""
    from ..input.findings import shown
    from ..workshop.roster import pin_book

    data = data_to_read(args) if args.act == "show" else data_folder(args)
    entry = pin_book(data).known().get(args.person)
    if entry is None:
        return fail(
            exits.USAGE,
            _(
                "nobody has or had the id '{shown}' here. See: steplatch people list",
                shown=shown(args.person),
            ),
        )
    if args.act == "show":
        return _show(args, data, entry)
    if args.by is None:
        return fail(
            exits.USAGE, _("{act}: say who does it with --as, and type the PIN", act=args.act)
        )
    acts = {"sign": _sign, "withdraw": _withdraw, "set": _set, "erase": _erase}
    return acts[args.act](args, data)


def _show(args: argparse.Namespace, data: DataFolder, entry: Entry) -> int:
    from ..sheet.html_page import to_html
    from ..sheet.text_page import to_text
    from ..training.progress import progress_of
    from ..training.progress_page import progress_sheet

    found = progress_of(data, args.person, _today(), progress(_("reading the jobs")))
    if args.json:
        print_json("progress", found.to_json())
        return exits.OK
    role = "retired" if entry.retired else _("works here")
    sheet = progress_sheet(found, entry.name, role, _today().isoformat())
    if args.page is not None:
        write_out(args.page, to_html(sheet, "technical").encode("utf-8"), args.overwrite)
        print(f"page: {args.page}")
        return exits.OK
    width = max(40, min(100, shutil.get_terminal_size((80, 24)).columns))
    print(to_text(sheet, width, "technical"))
    return exits.OK


def _today() -> date:
    return datetime.now().astimezone().date()


def _signer(args: argparse.Namespace, least: str) -> Person | str:
    """Who does it, by the people file, or why they may not."""
    from ..workshop.files import load_people

    person = next((p for p in load_people(args.people) if p.id == args.by and not p.retired), None)
    if person is None:
        return _(
            "--as {by}: nobody of {people} who works here has this id",
            by=args.by[:40],
            people=args.people,
        )
    if _RANK[person.role.value] < _RANK[least]:
        return _(
            "--as {id}: needs a {least}, and this is a {value}",
            id=person.id,
            least=least,
            value=person.role.value,
        )
    if person.id == args.person and args.act != "erase":
        return _(
            "--as {id}: nobody does this for themselves; have another person do it", id=person.id
        )
    return person


def _sign(args: argparse.Namespace, data: DataFolder) -> int:
    from ..jobs.customer import after_months
    from ..training.competence import load_competences
    from ..training.progress import progress_of
    from ..training.signoffs import SignOff, add
    from .proving import prove

    listed = load_competences(data)
    name = args.what[0] if len(args.what) == 1 else ""
    one = listed[0].named(name) if listed else None
    if one is None:
        ids = ", ".join(c.id for c in listed[0].competences) if listed else ""
        return fail(
            exits.USAGE, _("sign: name one competence of competence.yaml: {ids}", ids=ids or "none")
        )
    signer = _signer(args, one.signed_by)
    if isinstance(signer, str):
        return fail(exits.USAGE, signer)
    found = progress_of(data, args.person, _today(), progress(_("reading the jobs")))
    stands = next(s for s in found.standings if s.id == one.id)
    if lacking := _lacking(stands):
        return fail(
            exits.FAILED, _("'{id}' cannot be signed yet. {lacking}", id=one.id, lacking=lacking)
        )
    prove(signer.id, data)
    counted = {job for piece in stands.evidence for job in piece.jobs}
    evidence = tuple((j.job, j.lines, j.head) for j in found.jobs if j.job in counted)
    until = after_months(_today(), one.lasts_months).isoformat()
    add(data, SignOff("signed", args.person, signer.id, one.id, one.sha256, until,
                      evidence=evidence))  # fmt: skip
    print(
        _(
            "signed: {person}, {id}, by {id_2}, until {until}",
            person=args.person,
            id=one.id,
            id_2=signer.id,
            until=until,
        )
    )
    return exits.OK


def _lacking(stands: Standing) -> str:
    """What is not there yet; '' where all is."""
    short = [
        _("{have} of {need}: {words}", have=e.have, need=e.need, words=e.words)
        for e in stands.evidence
        if not e.met
    ]
    return "; ".join(short)


def _withdraw(args: argparse.Namespace, data: DataFolder) -> int:
    from ..training.signoffs import SignOff, add, kept_of
    from .proving import prove

    last = kept_of(data, args.person).of(args.what[0]) if len(args.what) == 1 else None
    if last is None or last.what != "signed":
        return fail(exits.USAGE, _("withdraw: name one competence that is signed"))
    if not args.why.strip():
        return fail(exits.USAGE, _("withdraw: say why with --why"))
    signer = _signer(args, "supervisor")
    if isinstance(signer, str):
        return fail(exits.USAGE, signer)
    prove(signer.id, data)
    add(data, SignOff("withdrawn", args.person, signer.id, args.what[0], why=args.why[:300]))
    print(
        _(
            "withdrawn: {person}, {what}, by {id}",
            person=args.person,
            what=args.what[0],
            id=signer.id,
        )
    )
    return exits.OK


def _set(args: argparse.Namespace, data: DataFolder) -> int:
    from ..core.job import Job
    from ..simulator.faults import FAULTS
    from ..training.found import found
    from ..training.signoffs import SignOff, add
    from .proving import prove

    able = [name for name in FAULTS if found(Job(), name) is not None]
    wrong = [name for name in args.what if name not in able]
    if wrong or not args.what:
        named = _("{wrong} is none", wrong=wrong[0][:40]) if wrong else _("name at least one")
        return fail(
            exits.USAGE,
            _(
                "set: {named} of the faults that an answer shows: {able}",
                named=named,
                able=", ".join(able),
            ),
        )
    if args.until is None or args.until < _today().isoformat():
        return fail(exits.USAGE, _("set: say by when with --until, today or later"))
    signer = _signer(args, "technician")
    if isinstance(signer, str):
        return fail(exits.USAGE, signer)
    prove(signer.id, data)
    faults = tuple(dict.fromkeys(args.what))
    add(data, SignOff("set", args.person, signer.id, until=args.until, faults=faults,
                      seed=secrets.randbelow(MOST_SEED)))  # fmt: skip
    print(
        _(
            "set for {person} until {until}: {count}, one practice job each.",
            person=args.person,
            until=args.until,
            count=len(faults),
        )
    )
    print(
        _(
            "Begin one: steplatch practise --set --people {people} --as {person}",
            people=args.people,
            person=args.person,
        )
    )
    return exits.OK


def _erase(args: argparse.Namespace, data: DataFolder) -> int:
    from ..training.signoffs import erase
    from .proving import prove

    signer = _signer(args, "supervisor")
    if isinstance(signer, str):
        return fail(exits.USAGE, signer)
    prove(signer.id, data)
    lines = erase(data, args.person, signer.id)
    print(
        _(
            "erased: {lines} lines that were signed or set of {person}",
            lines=lines,
            person=args.person,
        )
    )
    print(_("Backups made before keep them. The jobs themselves stay: they name the id."))
    return exits.OK
