"""Who does what cannot be undone: somebody on the roster, by a PIN."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from .command import has_terminal, secret

if TYPE_CHECKING:
    from ..record import DataFolder


def prove(person: str, data: DataFolder) -> None:
    """Have the person type the PIN. Raises DataRequestRefused: nobody of this id works here, none
    is set, a wrong one, or no terminal to type it at. Nothing has been done then."""
    from ..input.findings import shown
    from ..jobs.holds import DataRequestRefused
    from ..workshop.pins import Accepted
    from ..workshop.roster import pin_book

    where = f"--as {shown(person)}"
    book = pin_book(data)
    entry = book.known().get(person)
    if entry is None or entry.retired:
        state = _("has retired") if entry is not None else _("is on no roster of this workshop")
        raise DataRequestRefused(
            where,
            _("this person {state}", state=state),
            _("Name who works here: steplatch people list"),
        )
    if entry.pin is None:
        raise DataRequestRefused(
            where,
            _("this person has no PIN, and what is asked for carries the name for ever"),
            _("Set one: steplatch people pin {person}", person=person),
        )
    if not has_terminal():
        raise DataRequestRefused(
            where, _("a PIN is typed at a terminal; here is none"), _("Use one")
        )
    outcome = book.check(person, secret(_("PIN of {shown}: ", shown=shown(person))))
    if not isinstance(outcome, Accepted):
        raise DataRequestRefused(where, outcome.words.rstrip("."), _("Try again"))
