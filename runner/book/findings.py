"""What was found of copies, and who has said of it that it is known: written on the server once.

A finding is never taken back. Where somebody of the workshop knows why (a job's folder was moved to
another bay, a disk was lost), they say so by name: that stands beside the finding, in the bay's own
ledger first, and ``book send`` no longer fails for a job that is gone.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from ..jobs.holds import LEAST_REASON, MAX_TEXT_CHARS, DataRequestRefused
from ..jobs.ledgers import tell
from ..record import DataFolder
from ..record.ledger import Entry
from .server import BookFile, connected

if TYPE_CHECKING:
    from psycopg import Connection


@dataclass(frozen=True, slots=True)
class Found:
    """A finding. ``by``, ``why``: who has acknowledged it, by id; '' while nobody has."""

    bay: str
    job: str
    what: str
    detail: str
    by: str = ""
    why: str = ""


def found_there(connection: "Connection[Any]", own: bool = False) -> tuple[Found, ...]:
    """Every finding that may be read; ``own``: of this bay alone."""
    where = "WHERE bay = current_user " if own else ""
    rows = connection.execute(
        "SELECT bay, job, what, detail, coalesce(by_whom, ''), coalesce(why, '') FROM finding "
        f"LEFT JOIN acknowledged USING (bay, job, what, detail) {where}"
        "ORDER BY bay, found, job, what"
    ).fetchall()
    return tuple(Found(*map(str, row)) for row in rows)


def open_of(found: tuple[Found, ...]) -> tuple[tuple[str, str, str], ...]:
    """The findings that nobody has acknowledged: job, what, detail."""
    return tuple((one.job, one.what, one.detail) for one in found if not one.by)


def known_of(found: tuple[Found, ...]) -> tuple[tuple[str, str, str, str, str], ...]:
    """Those that somebody has: job, what, detail, by whom, why."""
    return tuple((one.job, one.what, one.detail, one.by, one.why) for one in found if one.by)


def acknowledge(
    data: DataFolder, settings: BookFile, job: str, by: str, why: str
) -> tuple[Found, ...]:
    """Say of every open finding of a job that it is known; gives those.

    The workshop's ledger has it first; a server that is cut off then is told the next time it is
    said. Raises DataRequestRefused: no open finding, or no reason; NoServer, JournalFailed.
    """
    if not LEAST_REASON <= len(why.strip()) <= MAX_TEXT_CHARS or not why.isprintable():
        raise DataRequestRefused(
            "--why",
            _(
                "it has not {least_reason} to {max_text_chars} characters on one line",
                least_reason=LEAST_REASON,
                max_text_chars=MAX_TEXT_CHARS,
            ),
            _("Say why, so that somebody else understands it in a year"),
        )
    with connected(settings.server) as connection:
        stands = [one for one in found_there(connection, own=True) if one.job == job and not one.by]
        if not stands:
            raise DataRequestRefused(
                job,
                _("nothing that was found of this job is open"),
                _("See: steplatch book status"),
            )
        what = ", ".join(dict.fromkeys(one.what for one in stands))
        tell(data, Entry("acknowledged", job, by, note=f"{what}: {why.strip()}"))
        with connection.transaction():
            for one in stands:
                connection.execute(
                    "INSERT INTO acknowledged (bay, job, what, detail, by_whom, why) VALUES "
                    "(current_user, %s, %s, %s, %s, %s) ON CONFLICT DO NOTHING",
                    (job, one.what, one.detail, by, why.strip()),
                )
    return tuple(Found(one.bay, job, one.what, one.detail, by, why.strip()) for one in stands)
