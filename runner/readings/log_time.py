"""The time column of a log, in seconds: a number with a unit, a clock time, or a date and time."""

import math
import re
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from steplatch.safety.catalogue import _

from ..input.findings import shown
from .log_columns import Column, LogProblem

_UNITS: Final = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
_CLOCK: Final = re.compile(r"([0-9]{1,2}):([0-5][0-9]):([0-5][0-9](?:[.,][0-9]+)?)")
_PLAIN: Final = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")
_DIGITS: Final = str.maketrans("", "", "0123456789.+-")
_DAY_S: Final = 86400.0
_LIMIT: Final = 100


def seconds_of(
    cells: Sequence[str], lines: Sequence[int], column: Column
) -> tuple[list[float], list[LogProblem]]:
    """Seconds a row, and what is wrong. Clock times may pass midnight once; dates need no zone,
    and one that is written is heeded. Times are not sorted: a jump back is reported later."""
    first = cells[0].strip()
    if _PLAIN.fullmatch(first):
        factor = _UNITS.get(column.unit.strip().lower())
        if factor is None:
            what = (
                _("the time has no unit")
                if not column.unit
                else _("{unit!r} is no unit of it", unit=column.unit)
            )
            return [], [
                LogProblem(1, column.heading, what, _("Write Time [s], [ms], [min] or [h]"))
            ]
        return _numbers(cells, lines, column, factor)
    if _CLOCK.fullmatch(first):
        return _clock(cells, lines, column)
    return _dates(cells, lines, column)


def _numbers(
    cells: Sequence[str], lines: Sequence[int], column: Column, factor: float
) -> tuple[list[float], list[LogProblem]]:
    plain = ";".join(cells).replace(",", ".").split(";")
    bad: list[int] = []
    if len(plain) != len(cells) or "".join(plain).translate(_DIGITS):
        bad = _not_plain(cells)
    if not bad:
        try:
            numbers = list(map(float, plain))
        except ValueError:
            bad = _not_plain(cells)
        else:
            if math.isfinite(sum(numbers)):
                return [n * factor for n in numbers], []
            bad = [0]
    return [], [_problem(cells[i], lines[i], column) for i in bad]


def _not_plain(cells: Sequence[str]) -> list[int]:
    return [i for i, c in enumerate(cells) if _PLAIN.fullmatch(c.strip()) is None][:_LIMIT]


def _clock(
    cells: Sequence[str], lines: Sequence[int], column: Column
) -> tuple[list[float], list[LogProblem]]:
    out: list[float] = []
    problems: list[LogProblem] = []
    day = 0.0
    for cell, line in zip(cells, lines, strict=True):
        match = _CLOCK.fullmatch(cell.strip())
        if match is None or int(match.group(1)) > 23:
            problems.append(_problem(cell, line, column))
            if len(problems) >= _LIMIT:
                break
            continue
        hours, minutes, seconds = match.groups()
        at = int(hours) * 3600.0 + int(minutes) * 60.0 + float(seconds.replace(",", "."))
        if out and day == 0.0 and out[-1] - at > _DAY_S / 2:
            day = _DAY_S
        out.append(at + day)
    return out, problems


def _dates(
    cells: Sequence[str], lines: Sequence[int], column: Column
) -> tuple[list[float], list[LogProblem]]:
    out: list[float] = []
    problems: list[LogProblem] = []
    start: datetime | None = None
    for cell, line in zip(cells, lines, strict=True):
        try:
            at = datetime.fromisoformat(cell.strip())
            start = start or at
            out.append((at - start).total_seconds())
        except (ValueError, TypeError, OverflowError):
            problems.append(_problem(cell, line, column))
            if len(problems) >= _LIMIT:
                break
    return out, problems


def _problem(cell: str, line: int, column: Column) -> LogProblem:
    remedy = _("Write seconds, hh:mm:ss, or 2024-05-31 14:02:10, all rows alike")
    return LogProblem(
        line, column.heading, _("{shown!r} is no time", shown=shown(cell, 30)), remedy
    )
