"""``steplatch make``: a vehicle, gun, fluid, workshop or people file by answering questions."""

import argparse
from pathlib import Path

from ..screen.desk import Left, desk_here
from ..screen.talk import has_terminal
from . import exits
from .line import data_folder, fail

NEEDS_TERMINAL = (
    "questions need a person, but input or output is no terminal. Run it in a terminal, or copy "
    "and edit a file of examples/workshop"
)


def make(args: argparse.Namespace) -> int:
    """Ask, show, write, load back."""
    if not has_terminal():
        return fail(exits.NO_TERMINAL, NEEDS_TERMINAL)
    from .making import make as make_file

    path: Path = args.file or Path(f"{args.kind}.yaml")
    desk = desk_here(args.plain)
    try:
        made = make_file(args.kind, path.absolute(), desk, data_folder(args))
    except Left:
        return left(f"Left. {path} was not written.")
    print(f"Next: {_next(args.kind, made)}")
    return exits.OK


def left(text: str) -> int:
    """Say that the person has left, and return its code."""
    print(f"\n{text}")
    return exits.STOPPED


def _next(kind: str, path: Path) -> str:
    if kind == "people":
        return f"steplatch people list --people {path}"
    if kind == "vehicle":
        return f"steplatch limits --vehicle {path}"
    return "steplatch run, in this folder"
