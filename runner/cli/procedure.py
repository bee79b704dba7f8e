"""``steplatch procedure``: make, show, print, compare, approve and convert procedures."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_folder, data_to_read, fail, has_terminal, left, print_json


def add_to(add: Add) -> None:
    """``procedure`` and what it can do."""
    group = add(
        "procedure", _("make, show, print, compare, approve or convert a procedure"),
        "steplatch procedure show measure-only", lambda args: args.act(args),
    )  # fmt: skip
    sub = group.add_subparsers(dest="action", metavar=_("ACTION"), required=True)

    def action(name: str, text: str, act: Callable[[argparse.Namespace], int]) -> Any:
        options = sub.add_parser(name, help=text, description=text)
        options.set_defaults(act=act)
        return options

    options = action("new", _("make a small procedure by answering questions"), new)
    options.add_argument(
        "folder", type=Path, nargs="?", help=_("where it will lie; default: the data folder's own")
    )
    options.add_argument("--plain", action="store_true", help=_("plain lines: nothing is drawn"))
    options = action("show", _("the flow, with branches and return points"), show)
    options.add_argument("procedure", metavar=_("NAME_OR_FILE"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = action("print", _("a checklist for paper; paper does not enforce"), print_list)
    options.add_argument("procedure", metavar=_("NAME_OR_FILE"))
    options.add_argument("--pdf", type=Path, metavar=_("FILE"), help=_("A4, tagged; else text"))
    options.add_argument(
        "--vehicle", type=Path, metavar=_("FILE"), help=_("with its worked limits")
    )
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = action("diff", _("what changed between two revisions, safety first"), diff)
    options.add_argument("old", metavar=_("NAME_OR_FILE"))
    options.add_argument("new", metavar=_("NAME_OR_FILE"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = action("approve", _("approve an own procedure as it stands, for real jobs"), approve)
    options.add_argument("procedure", metavar=_("NAME_OR_FILE"))
    options.add_argument("--as", dest="person", required=True, metavar=_("PERSON"))
    options.add_argument(
        "--people", type=Path, metavar=_("FILE"), help=_("default: the data folder's")
    )
    options = action("convert", _("write a file of the first form in the form of now"), convert)
    options.add_argument("file", type=Path)


def show(args: argparse.Namespace) -> int:
    """Print the flow of a procedure."""
    from ..core.loading import load_procedure
    from ..input.shelf import procedure_files
    from ..sheet.procedure_text import flow, flow_lines
    from .finding import procedure_path

    main, _ = load_procedure(procedure_path(args.procedure, data_to_read(args)))
    if args.json:
        print_json("procedure-show", flow(main))
        return exits.OK
    others = (load_procedure(path)[0] for path in procedure_files())
    beside = {o.id: o for o in others if o.role != "main"} if main.role == "main" else {}
    print("\n".join(flow_lines(main, beside)))
    return exits.OK


def print_list(args: argparse.Namespace) -> int:
    """Print a procedure as a checklist, as text or as PDF."""
    from ..core.loading import load_procedure
    from ..sheet.pdf_page import NoPrinter
    from ..sheet.procedure_text import checklist, checklist_lines, checklist_pdf
    from .finding import procedure_path

    path = procedure_path(args.procedure, data_to_read(args))
    main, document = load_procedure(path)
    limits, label = _limits(args.vehicle) if args.vehicle else ([], "")
    plain = checklist(main, document.sha256_of_bytes, limits, label)
    if args.json:
        print_json("procedure-list", plain)
        return exits.OK
    if args.pdf is None:
        print("\n".join(checklist_lines(plain)))
        return exits.OK
    try:
        args.pdf.write_bytes(checklist_pdf(plain))
    except NoPrinter as error:
        return fail(exits.FAILED, error)
    print(args.pdf)
    return exits.OK


def _limits(vehicle_file: Path) -> tuple[list[tuple[str, str, str]], str]:
    """The worked limits of a vehicle, with the files beside it: name, value with unit, source."""
    from steplatch.safety.limits.worked import work_limits

    from ..workshop.files import load_fluid, load_gun, load_vehicle, load_workshop

    beside = vehicle_file.parent
    vehicle, _ = load_vehicle(vehicle_file)
    worked = work_limits(
        vehicle,
        load_fluid(beside / "fluid.yaml")[0],
        load_workshop(beside / "workshop.yaml")[0],
        load_gun(beside / "gun.yaml")[0],
    )
    rows = [
        (one.name, f"{one.bound.value} {one.whole()} {one.unit.seen}", str(one.source))
        for one in worked.all()
    ]
    return rows, vehicle.label


def diff(args: argparse.Namespace) -> int:
    """Say what changed between two revisions."""
    from ..core.form import is_first_form
    from ..core.loading import load_kept, load_procedure
    from ..input.strict_yaml import load
    from ..sheet.procedure_text import changes
    from .finding import procedure_path

    data = data_to_read(args)

    def loaded(name: str) -> Any:
        path = procedure_path(name, data)
        first = is_first_form(load(path).data)
        return (load_kept(path) if first else load_procedure(path))[0]

    grave, words = changes(loaded(args.old), loaded(args.new))
    if args.json:
        print_json("procedure-diff", {"can_matter_to_safety": grave, "words": words})
        return exits.OK
    print(_("can matter to safety: {count}", count=len(grave)))
    print("\n".join(f"  {line}" for line in grave) or _("  nothing"))
    print(f"words: {len(words)}")
    print("\n".join(f"  {line}" for line in words) or _("  nothing"))
    return exits.OK


def new(args: argparse.Namespace) -> int:
    """Make a procedure by questions, write it with a lesson that plays it, and prove it."""
    from datetime import UTC, datetime

    from ..screen.desk import Left
    from ..screen.terminal import menus
    from . import check as checking
    from .approving import OWN_FOLDER
    from .new_procedure import ask_new, lesson_text, new_text

    if not has_terminal():
        return fail(exits.NO_TERMINAL, _("a person is needed here; see procedures/README.md"))
    folder = (args.folder or data_folder(args).path / OWN_FOLDER).absolute()
    day = datetime.now(UTC).date().isoformat()
    try:
        answers = ask_new(menus.desk_here(args.plain), folder, day)
    except Left:
        return left(_("Left. Nothing was written."))
    path = folder / f"{answers.id}.yaml"
    lesson = folder / "lessons" / path.name
    lesson.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(new_text(answers, day), encoding="utf-8")
    lesson.write_text(lesson_text(answers), encoding="utf-8")
    code = checking.check(checking.of_one(path, args))
    print(f"written: {path}")
    name = path if args.folder else answers.id
    print(_("play it: steplatch practise --hands-free --procedure {name}", name=name))
    return code


def approve(args: argparse.Namespace) -> int:
    """Prove a procedure, and approve it in the name of a technician or supervisor of the roster,
    with their PIN where they have one."""
    from datetime import UTC, datetime

    from ..core.loading import load_procedure
    from ..workshop.files import load_people
    from ..workshop.pins import Accepted
    from ..workshop.roster import pin_book
    from . import check as checking
    from .approving import MAY_APPROVE, Approval, keep, text_hash
    from .command import secret
    from .finding import procedure_path
    from .making import WORKSHOP_FOLDER

    data = data_folder(args)
    path = procedure_path(args.procedure, data)
    people = args.people or data.path / WORKSHOP_FOLDER / "people.yaml"
    here = {one.id: one for one in load_people(people) if not one.retired}
    person = here.get(args.person)
    if person is None or person.role.value not in MAY_APPROVE or person.under_18:
        able = [p.id for p in here.values() if p.role.value in MAY_APPROVE and not p.under_18]
        who = ", ".join(able) or _("nobody here")
        return fail(
            exits.USAGE, _("'{person}' cannot approve; {who} can", person=args.person[:40], who=who)
        )
    procedure, _other = load_procedure(path)
    if (code := checking.check(checking.of_one(path, args, people))) != exits.OK:
        return fail(code, _("{path}: not approved, since it is not proven", path=path))
    book = pin_book(data)
    with_pin = book.has_pin(person.id)
    if with_pin:
        outcome = book.check(person.id, secret(_("PIN of {name}: ", name=person.name)))
        if not isinstance(outcome, Accepted):
            return fail(exits.FAILED, _("not approved. {words}", words=outcome.words))
    approval = Approval(
        procedure.id, procedure.revision, text_hash(path), person.id, person.role.value,
        datetime.now(UTC).isoformat(timespec="seconds"), with_pin,
    )  # fmt: skip
    kept = keep(data, approval)
    print(
        _(
            "approved by {name}{part}: {kept}",
            name=person.name,
            part="" if with_pin else ", who has no PIN",
            kept=kept,
        )
    )
    return exits.OK


def convert(args: argparse.Namespace) -> int:
    """Convert one file in its place; what it was is kept beside it."""
    from ..core.form import is_first_form
    from ..input.strict_yaml import load
    from .converting import NotTheSame, converted_text

    path: Path = args.file
    document = load(path)
    if not is_first_form(document.data):
        return fail(
            exits.BAD_FILE, _("{path} is not in the first form: nothing to convert", path=path)
        )
    try:
        text = converted_text(path)
    except NotTheSame as error:
        return fail(
            exits.FAILED, _("{path}: {error}. Nothing was written.", path=path, error=error)
        )
    kept = path.with_name(f"{path.name}.first-form")
    if kept.exists():
        return fail(exits.FAILED, _("{kept} is there already: move it away first", kept=kept))
    kept.write_bytes(path.read_bytes())
    path.write_text(text, encoding="utf-8")
    print(
        _(
            "{path}: converted; all its steps come back as they were. Before: {kept}",
            path=path,
            kept=kept,
        )
    )
    print(_("Read it once, then: steplatch check {path}", path=path))
    return exits.OK
