"""Logs: a CSV file's bytes -> columns of numbers in SI, with everything odd about it reported.

The header names each column and its unit, ``Coolant [degC]``, ``Speed (1/min)``; a column map
names them where the header does not. Any of ``; , tab |`` may separate; a comma that does not
separate is a decimal comma. Rows are numbered as an editor numbers lines, from 1.

What cannot be taken raises ``BadLog`` with every finding (up to a limit); what can be taken but
is odd (gaps, repeated or backward times, columns that look exchanged) stands in
``ReadingLog.notes``.
"""

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from steplatch.safety.catalogue import _

from ..core.typed_set import DIMENSION
from ..input.findings import shown
from ..input.quantities import BadQuantity, parse_quantity
from .log_columns import (
    Column,
    ColumnMap,
    LogProblem,
    assign,
    split_heading,
)
from .log_time import seconds_of

MAX_BYTES: Final = 100_000_000
MAX_ROWS: Final = 2_000_000
MAX_COLUMNS: Final = 500
MAX_PROBLEMS: Final = 100
DELIMITERS: Final = (";", "\t", "|", ",")
WHITE: Final = (" ", "\t", "\v", "\f", "\r", "\n", "\x1c", "\x1d", "\x1e")
MISSING: Final = frozenset({"", "-", "--", "x", "n/a", "na", "nan", "null"})
GAP_FACTOR: Final = 5.0
GAP_LEAST_S: Final = 2.0
LATE_ROW_S: Final = 5.0

SEPARATOR: Final = "\x1f"
"""Stands between cells while a whole column is worked as one text; it occurs in no number."""
_DIGITS: Final = str.maketrans("", "", "0123456789.+-" + SEPARATOR)
_ABSOLUTE: Final = {"manifold"}


class BadLog(ValueError):  # noqa: N818 - it names the thing refused
    """A log that cannot be taken. Carries all findings; the text shows them, one a line."""

    def __init__(self, name: str, problems: Sequence[LogProblem]) -> None:
        super().__init__("\n".join(f"{name}: {p}" for p in problems))
        self.name = name
        self.problems = tuple(problems)


@dataclass(frozen=True, slots=True)
class ReadingLog:
    """A log in SI: ``time_s`` and, by quantity, a value a row (NaN where the cell was empty).

    ``lines`` holds the file's line number of each row; ``notes`` what is odd but taken.
    """

    name: str
    lines: Sequence[int]
    time_s: Sequence[float]
    values: Mapping[str, Sequence[float]]
    units: Mapping[str, str]
    notes: tuple[str, ...]


def read_log(
    data: bytes,
    name: str = "log",
    columns: ColumnMap | None = None,
    *,
    cylinders: int | None = None,
) -> ReadingLog:
    """The log in ``data``. Raises ``BadLog``. Never more than 100 findings are listed.

    ``columns`` maps quantities to headings and units (``log_columns.column_map`` reads one);
    ``cylinders`` is needed for air in mg/stroke.
    """
    text, notes = _decode(data, name)
    text = text.replace(SEPARATOR, "\N{REPLACEMENT CHARACTER}")  # in no number: refused as such
    header, cells, body_lines, delimiter = _table(text, name)
    chosen, problems, left_out = assign([split_heading(h) for h in header], columns)
    notes += left_out
    if problems:
        raise BadLog(name, problems)
    time_at = next(c for c in chosen if c.quantity == "time")
    time_s, time_problems = seconds_of(cells[time_at.index], body_lines, time_at)
    problems += time_problems
    values: dict[str, Sequence[float]] = {}
    units: dict[str, str] = {}
    for column in chosen:
        if column.quantity == "time":
            continue
        got, unit, found = _column(cells[column.index], body_lines, column, delimiter, columns)
        if not found:
            got, said = _without_sentinels(got, cells[column.index], column)
            notes += said
        values[column.quantity], units[column.quantity] = got, unit
        problems += found
    if problems:
        raise BadLog(name, problems[:MAX_PROBLEMS])
    problems = _stroke_air(values, units, cylinders)
    if problems:
        raise BadLog(name, problems)
    order = _in_order(time_s)
    if order is not None:
        notes.append(
            _(
                "{enumerate} rows were not in order of time",
                enumerate=sum((a != b for a, b in enumerate(order))),
            )
        )
        time_s = [time_s[i] for i in order]
        body_lines = [body_lines[i] for i in order]
        values = {q: [v[i] for i in order] for q, v in values.items()}
    keep, time_notes = _time_notes(time_s, body_lines)
    notes += time_notes
    if len(keep) != len(time_s):
        time_s = [time_s[i] for i in keep]
        body_lines = [body_lines[i] for i in keep]
        values = {q: [v[i] for i in keep] for q, v in values.items()}
    notes += _exchanged(values)
    return ReadingLog(name, body_lines, time_s, values, units, tuple(notes))


def _decode(data: bytes, name: str) -> tuple[str, list[str]]:
    def bad(what: str, remedy: str) -> BadLog:
        return BadLog(name, [LogProblem(0, "", what, remedy)])

    if len(data) > MAX_BYTES:
        raise bad(
            _("larger than {max_bytes} MB", max_bytes=MAX_BYTES // 1000000),
            _("Cut out the part that matters"),
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), []
        except UnicodeDecodeError:
            raise bad(_("broken UTF-16 text"), _("Export it again as CSV, UTF-8")) from None
    if b"\0" in data:
        raise bad(_("it is not a text file"), _("Export the log as CSV"))
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), [_("read as Windows-1252 text")]


def _table(
    text: str, name: str
) -> tuple[Sequence[str], Sequence[Sequence[str]], Sequence[int], str]:
    """Header, columns of cells, line number of each row, delimiter."""

    def bad(line: int, what: str, remedy: str) -> BadLog:
        return BadLog(name, [LogProblem(line, "", what, remedy)])

    found = re.search(r"[^\r\n]*\S[^\r\n]*", text)
    head = found.group() if found else ""
    if not head:
        raise bad(0, _("the file is empty"), _("Export it again"))
    counts = {d: head.count(d) for d in DELIMITERS}
    delimiter = max(DELIMITERS, key=lambda d: (counts[d], d != ","))
    if counts[delimiter] == 0:
        raise bad(
            1,
            _("no column separator in {shown!r}", shown=shown(head)),
            _("Separate by ; , tab or |"),
        )
    if counts[delimiter] >= MAX_COLUMNS:
        raise bad(
            1, _("more than {max_columns} columns", max_columns=MAX_COLUMNS), _("Export fewer")
        )
    if text.count("\n") + text.count("\r") > 2 * MAX_ROWS:
        raise bad(
            0, _("more than {max_rows} rows", max_rows=MAX_ROWS), _("Cut out the part that matters")
        )
    if '"' in text:
        rows, lines = _quoted(text, delimiter, name)
        counted = [len(row) for row in rows]
    else:
        raw = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        kept = [(n, line) for n, line in enumerate(raw, start=1) if line and not line.isspace()]
        lines = [n for n, _ in kept]
        counted = [line.count(delimiter) + 1 for _, line in kept]
        rows = []
    width = counted[0]
    if counted.count(width) != len(counted):
        uneven = [(n, c) for n, c in zip(lines, counted, strict=True) if c != width]
        raise BadLog(
            name,
            [
                LogProblem(
                    n,
                    "",
                    _("{c} cells where the header has {width}", c=c, width=width),
                    _("Export it again"),
                )
                for n, c in uneven[:MAX_PROBLEMS]
            ],
        )
    if len(lines) == 1:
        raise bad(0, _("there is a header and no row"), _("Export it again"))
    if rows:
        return rows[0], list(zip(*rows[1:], strict=True)), lines[1:], delimiter
    # Without quotes the whole body splits at once: columns are slices of one list.
    flat = delimiter.join([line for _, line in kept]).split(delimiter)
    return flat[:width], [flat[width + i :: width] for i in range(width)], lines[1:], delimiter


def _quoted(text: str, delimiter: str, name: str) -> tuple[list[list[str]], list[int]]:
    rows: list[list[str]] = []
    lines: list[int] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before = 0
    try:
        for row in reader:
            line, before = before + 1, reader.line_num
            if row and not (len(row) == 1 and not row[0].strip()):
                rows.append(row)
                lines.append(line)
    except csv.Error as error:
        problem = LogProblem(
            reader.line_num,
            "",
            _("not readable as CSV: {error}", error=error),
            _("Export it again"),
        )
        raise BadLog(name, [problem]) from None
    return rows, lines


def _column(
    cells: Sequence[str],
    lines: Sequence[int],
    column: Column,
    delimiter: str,
    columns: ColumnMap | None,
) -> tuple[list[float], str, list[LogProblem]]:
    """The SI values of one column, its unit, and what is wrong with it."""
    joined = SEPARATOR.join(cells)
    plain = _stripped(cells, joined)
    if "," in joined:
        if "." in joined:
            line = next(n for n, c in zip(lines, plain, strict=True) if "," in c)
            return [], "", [_both_marks(line, column)]
        if delimiter != "," or '"' not in joined:
            stated = columns is not None and columns.decimal_comma
            if not stated and not _surely_decimal(plain):
                line = next(n for n, c in zip(lines, plain, strict=True) if "," in c)
                return [], "", [_two_ways(line, column)]
        joined = SEPARATOR.join(plain).replace(",", ".")
        plain = joined.split(SEPARATOR)
    if "−" in joined:
        joined = SEPARATOR.join(plain).replace("−", "-")
        plain = joined.split(SEPARATOR)
    unit = column.unit
    problems: list[LogProblem] = []
    if joined.translate(_DIGITS).strip() or "" in plain or "-" in plain or "--" in plain:
        plain, unit, problems = _uneven(plain, lines, column)
    if problems:
        return [], unit, problems
    try:
        factor, offset = _linear(column.quantity, unit)
    except BadQuantity as bad:
        return [], unit, [LogProblem(lines[0], column.heading, bad.problem, bad.remedy)]
    try:
        numbers = list(map(float, plain))
    except ValueError:
        return [], unit, _not_numbers(plain, lines, column)
    if math.inf in numbers or -math.inf in numbers:
        at = next(i for i, n in enumerate(numbers) if math.isinf(n))
        return [], unit, [_no_number(plain[at], lines[at], column)]
    if factor == 1.0 and offset == 0.0:
        return numbers, unit, []
    return [n * factor + offset for n in numbers], unit, []


_CELL: Final = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*((?![eE][+-]?[0-9]|[0-9.,+-]).*)")
_NUMBER: Final = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")


def _uneven(
    cells: list[str], lines: Sequence[int], column: Column
) -> tuple[list[str], str, list[LogProblem]]:
    """Cells with gaps or with units in them: numbers as text, the one unit, problems."""
    out: list[str] = []
    units: dict[str, int] = {}
    problems: list[LogProblem] = []
    for cell, line in zip(cells, lines, strict=True):
        if cell.lower() in MISSING:
            out.append("nan")
            continue
        match = _CELL.fullmatch(cell)
        if match is None:
            problems.append(_no_number(cell, line, column))
            if len(problems) >= MAX_PROBLEMS:
                break
            continue
        out.append(match.group(1))
        if match.group(2):
            units.setdefault(match.group(2), line)
    if problems:
        return out, column.unit, problems
    if len(units) > 1:
        (one, _other), (two, line) = list(units.items())[:2]
        what = _(
            "units mixed in one column: {shown} and {shown_2}",
            shown=shown(one, 20),
            shown_2=shown(two, 20),
        )
        return (
            out,
            column.unit,
            [LogProblem(line, column.heading, what, _("Export it in one unit"))],
        )
    return out, next(iter(units), column.unit), []


def _linear(quantity: str, unit: str) -> tuple[float, float]:
    """SI = shown x factor + offset, from the one place that knows units."""
    if quantity == "air" and unit.lower().startswith("mg/str"):
        return 1e-6, 0.0
    dimension = DIMENSION[quantity]
    if quantity in _ABSOLUTE and not unit.lower().endswith(("abs", "a", "(a)")):
        unit = f"{unit} abs"
    one = parse_quantity("1", dimension, unit).si_value
    if dimension != "temperature":
        return one, 0.0
    offset = parse_quantity("0", dimension, unit).si_value
    return one - offset, offset


def _stroke_air(
    values: dict[str, Sequence[float]], units: Mapping[str, str], cylinders: int | None
) -> list[LogProblem]:
    if not units.get("air", "").lower().startswith("mg/str"):
        return []
    if cylinders is None or "speed" not in values:
        what = _("air in mg/stroke needs the engine speed and the number of cylinders")
        return [LogProblem(1, "air", what, _("Name the vehicle, log the speed, or log g/s"))]
    values["air"] = [
        mass * cylinders * speed / 120.0
        for mass, speed in zip(values["air"], values["speed"], strict=True)
    ]
    return []


def _stripped(cells: Sequence[str], joined: str) -> list[str]:
    if any(c in joined for c in WHITE) or not joined.isascii():
        return [c.strip() for c in cells]
    return list(cells)


def _surely_decimal(cells: Sequence[str]) -> bool:
    # Not three digits after a comma somewhere, or a nought before it: no thousands mark.
    for cell in cells:
        whole, comma, after = cell.partition(",")
        if comma and (len(after) != 3 or whole.lstrip("+-") == "0"):
            return True
    return False


def _both_marks(line: int, column: Column) -> LogProblem:
    what = _("both a comma and a point stand in its numbers")
    return LogProblem(
        line, column.heading, what, _("Export it with one decimal mark, no thousands")
    )


def _two_ways(line: int, column: Column) -> LogProblem:
    what = _("every comma has three digits after it: decimals or thousands?")
    remedy = _("Say 'decimal: comma' in the column map, or export with a point")
    return LogProblem(line, column.heading, what, remedy)


def _no_number(cell: str, line: int, column: Column) -> LogProblem:
    return LogProblem(
        line, column.heading, _("{shown!r} is no number", shown=shown(cell, 30)), _("Mend the cell")
    )


def _not_numbers(cells: Sequence[str], lines: Sequence[int], column: Column) -> list[LogProblem]:
    return [
        _no_number(cell, line, column)
        for cell, line in zip(cells, lines, strict=True)
        if cell != "nan" and _NUMBER.fullmatch(cell) is None
    ][:MAX_PROBLEMS] or [_no_number(cells[0], lines[0], column)]


NO_VALUE: Final = frozenset(
    {"65535", "6553.5", "655.35", "32767", "3276.7", "327.67", "-32768", "99999", "9999.9"}
)
"""Numbers that stand for "no value": all bits of a 16-bit number set, or a row of nines; common
practice, no source. They are taken so only where they stand far off the rest."""


def _without_sentinels(
    numbers: list[float], cells: Sequence[str], column: Column
) -> tuple[list[float], list[str]]:
    """The column with its numbers that stand for "no value" left out, and that said."""
    texts = {c.strip().replace(",", ".").removesuffix(".0").removesuffix("0") for c in set(cells)}
    if not texts & {text.removesuffix("0") for text in NO_VALUE}:
        return numbers, []
    middle = _middle(numbers) or 0.0
    named = {text.removesuffix("0") for text in NO_VALUE}
    found = [
        i
        for i, (n, c) in enumerate(zip(numbers, cells, strict=True))
        if c.strip().replace(",", ".").removesuffix(".0").removesuffix("0") in named
        and abs(n - middle) > 2 * abs(middle)
    ]
    out = list(numbers)
    for i in found:
        out[i] = math.nan
    shown_as = ", ".join(sorted({cells[i].strip() for i in found}))
    what = _(
        "{quantity}: {count} cells hold {shown_as}, which stands for no value",
        quantity=column.quantity,
        count=len(found),
        shown_as=shown_as,
    )
    return (out, [what]) if found else (numbers, [])


def _in_order(time_s: Sequence[float]) -> list[int] | None:
    """The rows by their time, where some were written late; None where none was, or where the
    clock jumps back by more than a few seconds, which is another start."""
    back = [b - a for a, b in pairwise(time_s) if b < a]
    if not back or min(back) < -LATE_ROW_S:
        return None
    return sorted(range(len(time_s)), key=time_s.__getitem__)


def _time_notes(time_s: Sequence[float], lines: Sequence[int]) -> tuple[list[int], list[str]]:
    """Rows to keep (a repeated time keeps its first row) and notes on gaps and jumps."""
    if len(time_s) < 2:
        return list(range(len(time_s))), []
    steps = [b - a for a, b in pairwise(time_s)]
    usual = sorted(steps)[len(steps) // 2]
    gap = max(GAP_LEAST_S, GAP_FACTOR * usual)
    repeated = [i + 1 for i, step in enumerate(steps) if step == 0]
    back = [i + 1 for i, step in enumerate(steps) if step < 0]
    gaps = [i + 1 for i, step in enumerate(steps) if step > gap]
    notes = []
    for found, what in (
        (repeated, _("time repeated, later row left out")),
        (back, _("the clock jumps back")),
        (gaps, _("gap of more than {gap:.3g} s", gap=gap)),
    ):
        if found:
            where = ", ".join(str(lines[i]) for i in found[:5])
            more = _(" and {count} more", count=len(found) - 5) if len(found) > 5 else ""
            notes.append(_("{what}: line {where}{more}", what=what, where=where, more=more))
    drop = set(repeated)
    return [i for i in range(len(time_s)) if i not in drop], notes


def _exchanged(values: Mapping[str, Sequence[float]]) -> list[str]:
    """Columns that look like each other's."""
    middle = {q: _middle(v) for q, v in values.items()}
    notes = []
    speed, pressure = middle.get("speed"), middle.get("pressure")
    if speed is not None and pressure is not None and pressure > 4e4 and speed < 400:
        notes.append(_("pressure and speed look exchanged"))
    coolant, exhaust = middle.get("coolant"), middle.get("exhaust")
    if coolant is not None and coolant > 403.15:
        seems = exhaust is not None and exhaust < coolant
        notes.append(
            _("coolant and exhaust look exchanged") if seems else _("coolant above 130 degC: degF?")
        )
    if speed is not None and 0 < speed < 100:
        notes.append(_("speed is below 100 1/min throughout: another unit or column?"))
    return notes


def _middle(values: Sequence[float]) -> float | None:
    known = sorted(v for v in values[:: max(1, len(values) // 2000)] if v == v)
    return known[len(known) // 2] if known else None
