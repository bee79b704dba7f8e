"""Where procedures lie: the shipped ones, and what lies beside a file."""

from importlib.resources import files
from pathlib import Path

from .strict_yaml import FileText, read_text

PROCEDURES = Path(str(files("steplatch.procedures")))
SHARED_NAME = "shared-steps.yaml"
"""The file of shared steps, beside the procedures that use them."""


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
