"""The list of jobs as text: a table where it fits, two or three short lines a job where not."""

import textwrap
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..input.findings import printable
from .digest import BROKEN, ENDS, HELD, OPEN, JobRow

TABLE_FROM: Final = 100
"""Columns of the terminal from which on the table is used."""
NARROWEST: Final = 24
_ID_WIDTH: Final = 21
_KIND_WIDTH: Final = 8
_STATE_WIDTH: Final = 10


def listing(rows: list[JobRow], width: int | None) -> list[str]:
    """The lines; ``width`` is the terminal's, None where the text goes to a file (nothing cut)."""
    if width is not None and width < TABLE_FROM:
        return [line for row in rows for line in _narrow(row, max(width, NARROWEST))]
    vehicle = _fitting([row.vehicle for row in rows], width, 0.35)
    last = None if width is None else max(20, width - vehicle - 46)
    head = _line("job", "kind", "state", "vehicle", vehicle, _("verdict; people"), last)
    return [head, *(_wide(row, vehicle, last) for row in rows)]


def _wide(row: JobRow, vehicle: int, last: int | None) -> str:
    return _line(row.job, row.kind, row.state, row.vehicle, vehicle, "; ".join(_tail(row)), last)


def _line(
    job: str, kind: str, state: str, vehicle: str, width: int, tail: str, last: int | None
) -> str:
    head = f"{job:{_ID_WIDTH}} {kind:{_KIND_WIDTH}} {state:{_STATE_WIDTH}} "
    return f"{head} {_cut(vehicle, width):{width}}  {_cut(tail, last)}".rstrip()


def _narrow(row: JobRow, width: int) -> list[str]:
    head = f"{row.job}  {row.state}" + (_(", practice") if row.kind == "practice" else "")
    below = [row.vehicle, *_tail(row)]
    text = _plain("; ".join(part for part in below if part))
    return [*_wrapped(head, "", width), *_wrapped(text, "  ", width)]


def _wrapped(text: str, indent: str, width: int) -> list[str]:
    """At most three lines; most fit on one, and with 10 000 jobs that counts."""
    if len(text) + len(indent) <= width:
        return [indent + text] if text else []
    return textwrap.wrap(
        text, width, initial_indent=indent, subsequent_indent=indent, max_lines=3, placeholder=" …"
    )


def _plain(text: str) -> str:
    return text if text.isprintable() else printable(text)


def _tail(row: JobRow) -> list[str]:
    """What is to be said beside id, kind, state and vehicle."""
    if row.state == BROKEN:
        return [
            _(
                "cannot be read: {why_broken}. See: steplatch audit {job}",
                why_broken=row.why_broken,
                job=row.job,
            )
        ]
    parts = [row.verdict_title or row.verdict]
    if row.state in (OPEN, HELD) and row.step:
        parts.append(_("at step {step}", step=row.step))
    parts.append(", ".join(name for _, name in row.people))
    if row.personal in ("erased", "partly erased", "unreadable"):
        parts.append(_("customer's data {personal}", personal=row.personal))
    if row.state in ENDS and row.kind == "real" and not row.sealed:
        parts.append(_("not sealed"))
    if row.hold:
        parts.append(_("kept for a dispute"))
    return [part for part in parts if part]


def _fitting(texts: list[str], width: int | None, share: float) -> int:
    longest = max((len(_plain(text)) for text in texts), default=0)
    longest = max(longest, len("vehicle"))
    return longest if width is None else min(longest, int((width - 46) * share) + 10)


def _cut(text: str, width: int | None) -> str:
    text = _plain(text)
    return text if width is None or len(text) <= width else text[: width - 1] + "…"


def row_json(row: JobRow, with_personal: bool) -> dict[str, Any]:
    """A row as JSON; what the job can be found by only on request."""
    plain: dict[str, Any] = {
        "job": row.job,
        "kind": row.kind,
        "state": row.state,
        "step": row.step,
        "lines": row.lines,
        "begun": row.begun,
        "last": row.last,
        "ended": row.ended,
        "vehicle": row.vehicle,
        "verdict": row.verdict,
        "verdict_title": row.verdict_title,
        "people": [{"id": who, "name": name} for who, name in row.people],
        "personal_data": row.personal,
        "hold": row.hold,
        "sealed": row.sealed,
        "why_broken": row.why_broken,
    }
    if with_personal:
        plain["personal"] = dict(row.found_by)
    return plain
