"""What an audit says about customers' data: the same as recorded, erased, or altered.

The journal holds a salted hash of each value. A value that was exchanged, or that is gone without
an erasure saying who and why, is an alteration; one that was erased is not.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from steplatch.safety.catalogue import _

from ..core.events import Corrected, Recorded
from ..record import (
    BadSideFile,
    FieldCheck,
    FieldState,
    JobFolder,
    JournalLine,
    PersonalField,
    compare,
    load_personal,
)
from ..record.personal import all_as_recorded, load_staged
from .digest import APART
from .projection import Journal, typed

_ALTERED = (FieldState.CHANGED, FieldState.MISSING)


@dataclass(frozen=True, slots=True)
class PersonalAudit:
    """The checks of one job's side file; ``unreadable`` says why there are none."""

    checks: tuple[FieldCheck, ...]
    unreadable: str = ""

    @classmethod
    def of(cls, journal: Journal) -> Self:
        """Check one job; without a whole chain there is nothing to check against.

        Raises BrokenJob where a line is not as this program writes it.
        """
        if not journal.lines:
            return cls(())
        try:
            return cls(personal_checks(journal.folder, journal.lines))
        except BadSideFile as error:
            return cls((), str(error))

    @property
    def altered(self) -> bool:
        """Whether a value is not what was recorded, and no erasure says so."""
        return bool(self.unreadable) or any(check.state in _ALTERED for check in self.checks)

    def lines(self) -> list[str]:
        """In words: one line when all is as recorded, else one a field."""
        if self.unreadable:
            return [_("customer's data: CANNOT BE READ: {unreadable}", unreadable=self.unreadable)]
        if not self.checks:
            return []
        if all(check.state is FieldState.SAME for check in self.checks):
            return [_("customer's data: all {count} as recorded", count=len(self.checks))]
        return [
            _("customer's data:"),
            *(f"  {_word(check)}{check.detail}" for check in self.checks),
        ]

    def to_json(self) -> dict[str, object]:
        """As an object: a detail for each field."""
        return {
            "altered": self.altered,
            "unreadable": self.unreadable,
            "fields": {check.field.value: check.detail for check in self.checks},
        }


def _word(check: FieldCheck) -> str:
    return _("ALTERED: ") if check.state in _ALTERED else ""


def personal_checks(folder: JobFolder, lines: Iterable[JournalLine]) -> tuple[FieldCheck, ...]:
    """How each value stands to the hash that the journal recorded last. Raises BadSideFile."""
    recorded = recorded_personal(lines)
    waiting = load_staged(folder.path)
    if waiting is not None and all_as_recorded(waiting, recorded):
        return compare(waiting, recorded)  # a crash came between its hash and its place
    return compare(load_personal(folder.path), recorded)


def recorded_personal(lines: Iterable[JournalLine]) -> dict[str, str]:
    """The hash of each value that the journal recorded last, by field."""
    recorded: dict[str, str] = {}
    for line in typed(lines):
        for event in line.events:
            match event:
                case Recorded(name, {"text": str(text)}) | Corrected(name, now={"text": str(text)}):
                    found = APART.fullmatch(text)
                    if found and name in set(PersonalField):
                        recorded[name] = found[1]
    return recorded
