"""CSV that opens elsewhere and runs nothing: UTF-8 with its mark, RFC 4180 quoting and line ends.

A spreadsheet may run a cell that begins with = + - @, a tab or a null: such a text gets an
apostrophe in front (OWASP Application Security Verification Standard 5.0, 2025, 1.2.10;
CWE-1236). Line ends and the full-width forms of the four are treated the same (from memory). A
plain decimal number stays a number, the minus sign included. Characters that do not show (line
ends too) are written as escapes, so that a row is one line. The JSON holds every text exactly.
"""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from typing import Final

from ..input.findings import printable

CsvValue = str | int | float | bool | None
_NUMBER: Final = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,3})?")
_RUNS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "\0")


def harmless(cell: CsvValue) -> str:
    """The text of a cell that no spreadsheet runs. A number stays one; None is empty."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, (int, float)):
        return repr(cell)
    if _NUMBER.fullmatch(cell) and len(cell) <= 30:
        return cell
    begins = cell.lstrip(" \u00a0\u3000\ufeff\u200b")
    return ("'" if begins.startswith(_RUNS) else "") + printable(cell)


def to_csv(head: Sequence[str], rows: Iterable[Sequence[CsvValue]]) -> bytes:
    """A whole CSV file."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return stream.getvalue().encode("utf-8-sig")
