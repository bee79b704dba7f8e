"""``steplatch procedure``: convert a file of the first form."""

import argparse
from pathlib import Path

from . import exits
from .command import Add, fail


def add_to(add: Add) -> None:
    """``procedure`` and what it can do."""
    group = add(
        "procedure", "convert a procedure's file of the first form",
        "steplatch procedure convert my-job.yaml", lambda args: args.act(args),
    )  # fmt: skip
    sub = group.add_subparsers(dest="action", metavar="ACTION", required=True)
    options = sub.add_parser(
        "convert", help="write a file of the first form in the form of now",
        description="Write a procedure of the first form in the form of now, when every step comes "
        "back as it was. The file of before is kept beside it.",
    )  # fmt: skip
    options.add_argument("file", type=Path)
    options.set_defaults(act=convert)


def convert(args: argparse.Namespace) -> int:
    """Convert one file in its place; what it was is kept beside it."""
    from ..core.form import is_first_form
    from ..input.shelf import PROCEDURES
    from ..input.strict_yaml import load
    from .converting import NotTheSame, converted_text

    path: Path = args.file
    document = load(path)
    if not is_first_form(document.data):
        return fail(exits.BAD_FILE, f"{path} is not in the first form: nothing to convert")
    try:
        text = converted_text(path)
    except NotTheSame as error:
        return fail(exits.FAILED, f"{path}: {error}. Nothing was written.")
    kept = path.with_name(f"{path.name}.first-form")
    if kept.exists():
        return fail(exits.FAILED, f"{kept} is there already: move it away first")
    kept.write_bytes(path.read_bytes())
    path.write_text(text, encoding="utf-8")
    print(f"{path}: converted; all its steps come back as they were. Before: {kept}")
    if PROCEDURES.resolve() != path.resolve().parent:
        print("Read it once, then: steplatch check " + str(path))
    return exits.OK
