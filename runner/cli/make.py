"""``steplatch make``: a vehicle, gun, fluid, workshop or people file by answering questions."""

import argparse
from pathlib import Path

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_folder, fail, has_terminal, left

NEEDS_TERMINAL = _(
    "questions need a person, but input or output is no terminal. Run it in a terminal, or copy "
    "and edit a file of examples/workshop"
)


def add_to(add: Add) -> None:
    """``make``."""
    options = add(
        "make",
        _("make a vehicle, gun, fluid, workshop or people file by questions"),
        "steplatch make vehicle my-van.yaml",
        make,
    )
    options.add_argument("kind", choices=("vehicle", "gun", "fluid", "workshop", "people"))
    options.add_argument(
        "file", type=Path, nargs="?", help=_("default: its kind's name, in this folder")
    )
    options.add_argument("--plain", action="store_true", help=_("plain lines: nothing is drawn"))


def make(args: argparse.Namespace) -> int:
    """Ask, show, write, load back."""
    if not has_terminal():
        return fail(exits.NO_TERMINAL, NEEDS_TERMINAL)
    from ..screen.desk import Left
    from ..screen.terminal.menus import desk_here
    from .making import make as make_file

    path: Path = args.file or Path(f"{args.kind}.yaml")
    desk = desk_here(args.plain)
    try:
        made = make_file(args.kind, path.absolute(), desk, data_folder(args))
    except Left:
        return left(_("Left. {path} was not written.", path=path))
    print(f"Next: {_next(args.kind, made)}")
    return exits.OK


def _next(kind: str, path: Path) -> str:
    if kind == "people":
        return f"steplatch people list --people {path}"
    if kind == "vehicle":
        return f"steplatch limits --vehicle {path}"
    return "steplatch run, in this folder"
