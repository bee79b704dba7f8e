"""Which column of a log is which quantity, by its heading or by a column map."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..core.typed_set import DEFAULT_UNIT
from ..input.findings import printable, shown

LOGGED: Final = ("time", *DEFAULT_UNIT)
"""The quantities that a log may hold."""

REQUIRED: Final = ("time", "pressure", "speed")

_HEADING: Final = re.compile(r"\s*(.*?)\s*[\[(]\s*([^\[\]()]*?(?:\(a\))?)\s*[\])]\s*")

_WORDS: Final[dict[str, tuple[str, ...]]] = {
    "time": ("time", "elapsed", "timestamp", "t", "date time", "datetime"),
    "pressure": (
        "differential pressure", "pressure difference", "filter pressure", "dpf pressure",
        "pressure over filter", "pressure over the filter", "dp", "delta p", "pressure",
    ),
    "speed": ("engine speed", "speed", "rpm", "engine rpm", "revs", "n"),
    "air": ("air flow", "airflow", "air mass flow", "air mass", "maf", "mass air flow", "air"),
    "exhaust": ("exhaust temperature", "exhaust gas temperature", "exhaust", "egt"),
    "coolant": ("coolant temperature", "coolant", "engine coolant temperature", "ect"),
    "manifold": ("manifold pressure", "intake manifold pressure", "map", "boost pressure"),
    "intake": ("intake temperature", "intake air temperature", "iat"),
}  # fmt: skip
"""Headings taken without a map: trade words, compared without capitals and marks. Where no heading
is one of them, one that holds words of two or more is taken (``Particle filter differential
pressure``); single words such as ``speed`` or ``pressure`` stand in too many other headings."""


@dataclass(frozen=True, slots=True)
class LogProblem:
    """One thing wrong with a log. ``line`` counts from 1; 0 means the whole file."""

    line: int
    heading: str
    what: str
    remedy: str

    def __str__(self) -> str:
        """Return ``line 12, column 'Coolant': what. Remedy.``"""
        where = _("line {line}", line=self.line) if self.line else "file"
        column = _(", column {shown!r}", shown=shown(self.heading, 40)) if self.heading else ""
        return printable(f"{where}{column}: {self.what}. {self.remedy}.")


@dataclass(frozen=True, slots=True)
class Column:
    """One column that is used: where it stands, its heading, its quantity and unit."""

    index: int
    heading: str
    quantity: str
    unit: str


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """Headings and units by quantity, where a log's own header does not say."""

    headings: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    decimal_comma: bool = False


class BadColumnMap(ValueError):  # noqa: N818 - it names the thing refused
    """A column map that cannot be used: which key, what, the remedy."""


def column_map(plain: Any) -> ColumnMap:
    """The map that a YAML file holds. Raises ``BadColumnMap``.

    ``{decimal: comma, columns: {pressure: {heading: "dP filter", unit: mbar}}}``; ``unit`` may be
    left out where the heading carries it.
    """
    if not isinstance(plain, Mapping):
        raise BadColumnMap(
            _("the column map is not a mapping. Write columns: and one row a quantity")
        )
    unknown = set(plain) - {"decimal", "columns"}
    if unknown:
        raise BadColumnMap(
            _("{map!r}: no such key. Use decimal, columns", map=sorted(map(str, unknown))[0])
        )
    decimal = plain.get("decimal", "point")
    if decimal not in ("point", "comma"):
        raise BadColumnMap(_("decimal is {decimal!r}. Write point or comma", decimal=decimal))
    columns = plain.get("columns", {})
    if not isinstance(columns, Mapping):
        raise BadColumnMap(_("columns is not a mapping. Write one row a quantity"))
    headings: dict[str, str] = {}
    units: dict[str, str] = {}
    for quantity, row in columns.items():
        if quantity not in LOGGED:
            raise BadColumnMap(
                _(
                    "{quantity!r}: no such quantity. Use {logged}",
                    quantity=quantity,
                    logged=", ".join(LOGGED),
                )
            )
        if not isinstance(row, Mapping) or not isinstance(row.get("heading"), str):
            raise BadColumnMap(
                _("{quantity}: heading is missing. Write it as in the file", quantity=quantity)
            )
        if set(row) - {"heading", "unit"}:
            raise BadColumnMap(_("{quantity}: only heading and unit are known", quantity=quantity))
        headings[quantity] = row["heading"]
        if "unit" in row:
            if not isinstance(row["unit"], str):
                raise BadColumnMap(
                    _("{quantity}: the unit is not a text. Write it in quotes", quantity=quantity)
                )
            units[quantity] = row["unit"]
    return ColumnMap(headings, units, decimal == "comma")


def split_heading(text: str) -> tuple[str, str]:
    """``"Coolant [degC]"`` -> ``("Coolant", "degC")``; the unit is empty when none stands."""
    match = _HEADING.fullmatch(text)
    return (match.group(1), match.group(2)) if match else (text.strip(), "")


def assign(
    headings: Sequence[tuple[str, str]], columns: ColumnMap | None
) -> tuple[list[Column], list[LogProblem], list[str]]:
    """The columns that are used, what is wrong with the header, and what was left out of it."""
    chosen: list[Column] = []
    notes: list[str] = []
    problems: list[LogProblem] = []
    given = columns.headings if columns else {}
    units = columns.units if columns else {}
    for quantity in LOGGED:
        wanted = given.get(quantity)
        found = (
            [i for i, (name, unit) in enumerate(headings) if wanted in (name, f"{name} [{unit}]")]
            if wanted is not None
            else _by_words(quantity, headings, set(given.values()))
        )
        if not found and wanted is None:
            found = _containing(quantity, headings, set(given.values()))
            if len(found) > 1 and quantity not in REQUIRED:
                names = ", ".join(repr(shown(headings[i][0], 30)) for i in found[:4])
                notes.append(
                    _(
                        "no {quantity} taken: {names} could be it; name one in a column map",
                        quantity=quantity,
                        names=names,
                    )
                )
                continue
        if len(found) > 1:
            names = ", ".join(repr(shown(headings[i][0], 30)) for i in found[:4])
            what = _(
                "{count} columns could be the {quantity}: {names}",
                count=len(found),
                quantity=quantity,
                names=names,
            )
            problems.append(LogProblem(1, "", what, _("Name one of them in a column map")))
        elif not found:
            if wanted is not None or quantity in REQUIRED:
                what = _("no column is the {quantity}", quantity=quantity)
                problems.append(LogProblem(1, wanted or "", what, _remedy(quantity)))
        else:
            name, unit = headings[found[0]]
            column = Column(found[0], name, quantity, units.get(quantity, unit))
            if not column.unit and quantity not in ("time", "speed"):
                remedy = _(
                    "Write it in the header, as {name} [{default_unit}], or map it",
                    name=name,
                    default_unit=DEFAULT_UNIT[quantity],
                )
                problems.append(
                    LogProblem(1, name, _("the {quantity} has no unit", quantity=quantity), remedy)
                )
            if not column.unit and quantity == "speed":
                column = Column(column.index, column.heading, quantity, "1/min")
            chosen.append(column)
    return chosen, problems, notes


def _by_words(quantity: str, headings: Sequence[tuple[str, str]], taken: set[str]) -> list[int]:
    words = _WORDS[quantity]
    plain = [_plain(name) for name, _ in headings]
    free = [i for i, (name, _) in enumerate(headings) if name not in taken]
    return [i for i in free if plain[i] in words]


def _containing(quantity: str, headings: Sequence[tuple[str, str]], taken: set[str]) -> list[int]:
    phrases = [f" {words} " for words in _WORDS[quantity] if " " in words]
    return [
        i
        for i, (name, _) in enumerate(headings)
        if name not in taken and any(p in f" {_plain(name)} " for p in phrases)
    ]


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[_\-./]", " ", name.lower()).split())


def _remedy(quantity: str) -> str:
    named = _("Call it {words!r} with its unit in the header", words=_WORDS[quantity][0])
    return _("{named}, or name it in a column map (--columns FILE)", named=named)
