"""The cause-and-effect table as rows, for screen, documents and spreadsheets.

Three views of the same data: ``interlock_rows`` (what each interlock asks and why),
``cause_rows`` (act x interlock: which interlock can refuse which act), ``effect_rows``
(event x fact: set, kept or unknown afterwards). Nothing is written twice: all come from
the tables that decide.
"""

import csv
import io
from collections.abc import Sequence
from typing import Literal

from ..bay import FACTS, Act, State
from ..catalogue import _, spoken
from ..effects import EFFECTS, GRANTS, LAPSED, LATCHED, SEEN, EffectRow
from ..interlocks import INTERLOCKS, Both, Condition, Either, Interlock, Is, Rule
from ..occurrences import Happening

TableForm = Literal["text", "markdown", "csv"]
MatrixRows = list[dict[str, str]]
"""Rows under the same column names, in the same order."""


def words(condition: Condition) -> str:
    """The condition as a person would say it."""
    match condition:
        case Is(fact, states):
            return _(
                "{spoken} is {states}",
                spoken=spoken(fact),
                states=_(" or ").join(spoken(state.value) for state in states),
            )
        case Rule(name):
            return name
        case Both(parts):
            return _(" and ").join(_part(part) for part in parts)
        case _:
            return _(" or ").join(_part(part) for part in condition.parts)


def _part(condition: Condition) -> str:
    said = words(condition)
    return f"({said})" if isinstance(condition, Both | Either) else said


def interlock_rows(rows: Sequence[Interlock] = INTERLOCKS) -> MatrixRows:
    """One row an interlock, in the order in which refusals are read out."""
    return [
        {
            "interlock": row.id,
            "invariant": str(row.invariant) if row.invariant else _("none"),
            "acts": ", ".join(spoken(act.value) for act in Act if act in row.acts),
            "permits when": words(row.allows),
            "else refuses": row.reason,
            "remedy": row.remedy,
            "source": row.source,
            "waiver": _("once, by another person") if row.waivable else _("none"),
        }
        for row in rows
    ]


def cause_rows(rows: Sequence[Interlock] = INTERLOCKS) -> MatrixRows:
    """One row an act, one column an interlock: ``x`` where it can refuse the act."""
    return [
        {"act": spoken(act.value), **{row.id: "x" if act in row.acts else "" for row in rows}}
        for act in Act
    ]


def effect_rows() -> MatrixRows:
    """One row an event, one column a fact, and the fluid ledger last.

    A cell holds the state that is set, ``old>new`` where only some states turn, ``?`` where
    the fact is unknown afterwards, and nothing where it is kept.
    """
    events: dict[str, EffectRow] = {
        **{what.value: EFFECTS[what] for what in Happening},
        **{f"permitted: {act.value}": row for act, row in GRANTS.items()},
        **{f"seen: {fact} {state}": row for (fact, state), row in SEEN.items()},
        **{_("not answered: {value}", value=act.value): row for act, row in LAPSED.items()},
        "a trip or its reset": LATCHED,
    }
    return [
        {
            "event": spoken(name),
            **{fact: _cell(row, fact) for fact in FACTS},
            "wet": "" if row.wet == "keep" else row.wet,
        }
        for name, row in events.items()
    ]


def _cell(row: EffectRow, fact: str) -> str:
    if fact not in row.sets:
        return "" if fact in row.keeps else "?"
    cell = row.sets[fact]
    if isinstance(cell, State):
        return _mark(cell)
    return ", ".join(f"{_mark(old)}>{_mark(new)}" for old, new in cell.items())


def _mark(state: State) -> str:
    return "?" if state.unknown else spoken(state.value)


def render(table: MatrixRows, form: TableForm) -> str:
    """The table as plain text in columns, as Markdown, or as CSV; ends in a line feed.

    Raises:
        ValueError: the table is empty, or the form is none of the three.
    """
    if not table:
        raise ValueError(_("an empty table has no columns to show"))
    head = list(table[0])
    body = [[row[column] for column in head] for row in table]
    match form:
        case "text":
            return _text([_(name) for name in head], body)
        case "markdown":
            return _markdown([_(name) for name in head], body)
        case "csv":
            out = io.StringIO()
            csv.writer(out, lineterminator="\n").writerows([head, *body])
            return out.getvalue()
    raise ValueError(_("{form!r} is no form; known: text, markdown, csv", form=form))


def _text(head: list[str], body: list[list[str]]) -> str:
    widths = [max(map(len, column)) for column in zip(head, *body, strict=True)]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in [head, ["-" * width for width in widths], *body]
    ]
    return "\n".join(lines) + "\n"


def _markdown(head: list[str], body: list[list[str]]) -> str:
    def line(cells: list[str]) -> str:
        return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n"

    return "".join(line(row) for row in [head, ["---"] * len(head), *body])
