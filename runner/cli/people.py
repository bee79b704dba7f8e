"""``steplatch people``: the roster and the PINs, from the command line.

Who may set a PIN: its owner with the old one. Without it, or for the first one, a person who
vouches types theirs: a supervisor; where none has a PIN, a technician; where nobody has one,
nobody can, and the first PIN of the workshop is simply set.
"""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_folder, fail, has_terminal, print_json, secret

if TYPE_CHECKING:
    from ..input.findings import BadFile, Finding
    from ..record import DataFolder
    from ..workshop.files import Person
    from ..workshop.pin_file import Entry
    from ..workshop.pins import PinBook

NEEDS_TERMINAL = _("a PIN is typed by its owner, so input and output must be a terminal")
MOST_TRIES = 3
_ROLES = ("apprentice", "technician", "supervisor")


def add_to(add: Add) -> None:
    """``people list | add | retire | pin``."""
    options = add(
        "people",
        _("who works here: list, add, retire, set a PIN"),
        "steplatch people pin technician-1",
        people,
    )
    acts = options.add_subparsers(dest="act", required=True, metavar=_("ACT"))
    listed = acts.add_parser("list", help=_("everybody, and who has a PIN"))
    listed.add_argument("--json", action="store_true", help=_("one JSON object"))
    new = acts.add_parser("add", help=_("append one person to the people file"))
    new.add_argument("id", help=_("small letters, digits and -; never used again for anybody else"))
    new.add_argument("--name", required=True, help=_("as it is printed beside a signature"))
    new.add_argument("--role", required=True, choices=_ROLES)
    new.add_argument("--under-18", action="store_true")
    gone = acts.add_parser("retire", help=_("close a person's id for ever and take the PIN away"))
    gone.add_argument("id")
    gone.add_argument("--date", metavar=_("DAY"), help=_("the last day; default today"))
    pin = acts.add_parser("pin", help=_("set a PIN; it is asked for, and never shown"))
    pin.add_argument("id")
    pin.add_argument("--by", metavar=_("ID"), help=_("who vouches when the old PIN is not known"))
    for each in (listed, new, gone, pin):
        each.add_argument(
            "--people",
            type=Path,
            metavar=_("FILE"),
            default=Path("people.yaml"),
            help=_("default: people.yaml in this folder"),
        )


def people(args: argparse.Namespace) -> int:
    """List, add, retire, or set a PIN."""
    data = data_folder(args)
    acts = {"list": _list, "add": _add, "retire": _retire, "pin": _pin}
    return acts[args.act](args, data)


def _list(args: argparse.Namespace, data: DataFolder) -> int:
    from ..input.findings import shown
    from ..workshop.roster import pin_book

    rows = rows_of(args.people, data)
    if args.json:
        book = str(pin_book(data).path)
        print_json("people", {"people": rows, "file": str(args.people), "book": book})
        return exits.OK
    width = max(len(row["id"]) for row in rows)
    for row in rows:
        marks = [row["role"]]
        marks += [_("under 18")] if row["under_18"] else []
        marks += (
            [_("retired {row}", row=row["retired"])]
            if row["retired"]
            else [_("PIN {row}", row=row["pin"])]
        )
        marks += [] if row["on_file"] else [_("not in the people file")]
        print(f"{row['id']:{width}}  {shown(row['name'])}: {', '.join(m for m in marks if m)}")
    if not any(row["pin"] == "set" for row in rows):
        print(_("Nobody has a PIN yet: signatures are marked so. Set one: steplatch people pin ID"))
    return exits.OK


def rows_of(path: Path, data: DataFolder) -> list[dict[str, Any]]:
    """Everybody of the file, then whoever only the book remembers."""
    from ..workshop.files import load_people
    from ..workshop.roster import pin_book

    known = pin_book(data).known()
    persons = load_people(path)
    rows = [
        {
            "id": p.id,
            "name": p.name,
            "role": p.role.value,
            "under_18": p.under_18,
            "retired": p.retired,
            "pin": _pin_state(known.get(p.id)),
            "on_file": True,
        }
        for p in persons
    ]
    on_file = {p.id for p in persons}
    return rows + [
        {
            "id": e.id,
            "name": e.name,
            "role": "",
            "under_18": False,
            "retired": e.retired[:10],
            "pin": _pin_state(e),
            "on_file": False,
        }
        for e in known.values()
        if e.id not in on_file
    ]


def _pin_state(entry: Entry | None) -> str:
    if entry is None or entry.pin is None:
        return _("not set")
    return _("locked out") if entry.tries.left_ms or entry.tries.count >= 100 else "set"


def _add(args: argparse.Namespace, data: DataFolder) -> int:
    from ..workshop.files import Person, Role
    from ..workshop.roster import add_person

    person = Person(args.id, args.name, Role(args.role), args.under_18)
    add_person(args.people, data, person)
    print(
        _(
            "added {id} to {people}. Next: steplatch people pin {id}",
            id=person.id,
            people=args.people,
        )
    )
    return exits.OK


def _retire(args: argparse.Namespace, data: DataFolder) -> int:
    from ..input.days import day_of
    from ..input.findings import shown
    from ..workshop.roster import retire_person

    today = datetime.now().astimezone().date()
    try:
        day = today if args.date is None else day_of(args.date)
    except ValueError:
        return fail(
            exits.USAGE,
            _("--date: {shown!r} is not a date. Write 2026-03-31", shown=shown(args.date)),
        )
    if day > today:
        return fail(
            exits.USAGE, _("--date: {day} has not come yet. Retire the person on that day", day=day)
        )
    person = retire_person(args.people, data, args.id, day)
    print(
        _(
            "retired {id} ({shown}) on {retired}; the PIN is gone",
            id=person.id,
            shown=shown(person.name),
            retired=person.retired,
        )
    )
    return exits.OK


def _pin(args: argparse.Namespace, data: DataFolder) -> int:
    from ..input.findings import shown
    from ..workshop.pin_rules import why_not
    from ..workshop.pins import Accepted, PinRefused
    from ..workshop.roster import admit, pin_book

    if not has_terminal():
        return fail(exits.NO_TERMINAL, NEEDS_TERMINAL)
    persons = {p.id: p for p in admit(args.people, data)}
    person, book = persons.get(args.id), pin_book(data)
    if person is None:
        raise _unknown(args.people, args.id, list(persons))
    if args.by is not None and args.by not in persons:
        raise _unknown(args.people, args.by, list(persons))
    voucher = _voucher(persons, person, args.by, book)
    if isinstance(voucher, str):
        return fail(exits.USAGE, voucher)
    if voucher is not None:
        whose = (
            _("your present PIN")
            if voucher == person
            else _("PIN of {shown}", shown=shown(voucher.name))
        )
        outcome = book.check(voucher.id, secret(f"{whose}: "))
        if not isinstance(outcome, Accepted):
            return fail(exits.FAILED, _("{words} Nothing was changed", words=outcome.words))
    for _other in range(MOST_TRIES):
        pin = secret(_("new PIN of {shown}, 4 to 8 digits: ", shown=shown(person.name)))
        problem = why_not(pin)
        if not problem and pin != secret("the same again: "):
            problem = _("the two were not the same")
        if not problem:
            try:
                book.set_pin(person.id, person.name, pin)
            except PinRefused as refused:
                problem = refused.what
            else:
                print(_("The PIN of {id} is set. Tell it to nobody.", id=person.id))
                return exits.OK
        print(_("Not taken: {problem}.", problem=problem))
    return fail(exits.FAILED, _("no PIN was set"))


def _voucher(
    persons: dict[str, Person], person: Person, by: str | None, book: PinBook
) -> Person | str | None:
    """Who must type their PIN first; None: nobody can yet; text: why it cannot be done so."""
    from ..workshop.files import Role

    if by is None and book.has_pin(person.id):
        return person
    able = [p for p in persons.values() if p.id != person.id and book.has_pin(p.id)]
    for role in (Role.SUPERVISOR, Role.TECHNICIAN):
        vouching = [p for p in able if p.role is role]
        if vouching:
            chosen = [p for p in vouching if p.id == by]
            if chosen:
                return chosen[0]
            names = ", ".join(p.id for p in vouching)
            return _(
                "the PIN of {id} needs somebody who vouches. Add --by, one of: {names}",
                id=person.id,
                names=names,
            )
    if by is not None:
        return _("--by {by}: nobody who could vouch has a PIN. Leave --by out", by=by)
    return None


def _unknown(path: Path, person_id: str, ids: list[str]) -> BadFile:
    from ..input.findings import BadFile, shown
    from ..input.strict_yaml import load

    problem = _("nobody has the id '{shown}'", shown=shown(person_id))
    document = load(path)
    found: Finding = document.finding(
        ("people",), problem, _("Use one of: {ids}", ids=", ".join(ids))
    )
    return BadFile([found])
