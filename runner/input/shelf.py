"""Where procedures lie: the shipped ones, and what lies beside a file."""

import re
from importlib.resources import files
from pathlib import Path

from .strict_yaml import FileText, read_text

PROCEDURES = Path(str(files("steplatch.procedures")))
SHARED_NAME = "shared-steps.yaml"
"""The file of shared steps, beside the procedures that use them."""
_ID = re.compile(r"[a-z][a-z0-9-]{1,39}")


def procedure_files(folder: Path = PROCEDURES) -> list[Path]:
    """The files of a folder that may be procedures, by name: all but the shared steps."""
    return [path for path in sorted(folder.glob("*.yaml")) if path.name != SHARED_NAME]


def shared_texts(name: str) -> list[FileText]:
    """The files of shared steps that a procedure's file of this name can use: the shipped one, and
    the one beside it where that is another. Raises BadFile where one cannot be read."""
    shipped = PROCEDURES / SHARED_NAME
    beside = Path(name).parent / SHARED_NAME
    other = beside.is_file() and beside.resolve() != shipped.resolve()
    return [read_text(shipped), *([read_text(beside)] if other else [])]


def procedure_named(name: str, procedure: str) -> Path | None:
    """The file of the procedure that a file of this name means by an id: one beside it, else the
    shipped one; None where there is none."""
    if not _ID.fullmatch(procedure):
        return None
    file = f"{procedure}.yaml"
    places = (Path(name).parent / file, PROCEDURES / file)
    return next((path for path in places if path.is_file()), None)
