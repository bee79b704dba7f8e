"""One table: act x facts -> permit or refuse. **Rows only deny.**

An act is permitted when no row that names it refuses. Which rows apply follows from the
kind of act alone, so no procedure can forget one and none can be switched off from data.
Each row declares the facts that it reads; a condition can see nothing else.
"""

from collections.abc import Iterator

from ..bay import Act
from .ending import ENDING
from .handling import HANDLING
from .language import (
    QUALITY,
    Ask,
    Both,
    Condition,
    Either,
    Interlock,
    Is,
    Refusal,
    Rule,
)
from .spraying import SPRAYING_ROWS
from .starting import STARTING
from .tripped import TRIPPED

__all__ = [
    "INTERLOCKS",
    "QUALITY",
    "WAIVABLE",
    "Ask",
    "Both",
    "Condition",
    "Either",
    "Interlock",
    "Is",
    "Refusal",
    "Rule",
    "rows_for",
]

INTERLOCKS: tuple[Interlock, ...] = (*STARTING, *SPRAYING_ROWS, *HANDLING, *ENDING, *TRIPPED)
"""Every interlock. The order is the order in which refusals are read out."""

WAIVABLE: frozenset[str] = frozenset(row.id for row in INTERLOCKS if row.waivable)
"""The rows that another person may lift for one use. **All others have no waiver.**"""


def rows_for(act: Act, rows: tuple[Interlock, ...] = INTERLOCKS) -> Iterator[Interlock]:
    """The rows that name ``act``, in reading order."""
    return (row for row in rows if act in row.acts)
