"""PINs: who signs is who says so. The book also remembers which id was whose, for ever.

What a PIN is worth: it keeps colleagues from signing for each other at this terminal. It does
not stand against whoever can copy the book: 10 000 PINs of four digits are tried in about an
hour on one core. So the book has mode 0600, and the lock-out counts.

**Cost.** scrypt (RFC 7914, Percival and Josefsson, 2016) with n = 2^15, r = 8, p = 3: 32 MiB,
which OWASP's Password Storage Cheat Sheet lists as equal to its first choice n = 2^17, r = 8,
p = 1 at 128 MiB (the first choice read; the list of equals from memory). Old entries keep the
cost they were made with.

**Lock-out.** A try is counted on the disk *before* it is looked at, so that pulling the plug
buys none. Five wrong in a row lock for 1 min, each further one for twice as long, up to 1 h;
after 100 the PIN is dead until a new one is set (NIST SP 800-63B, 2017, 5.2.2: at most 100
consecutive failures; a wait that grows from 30 s up to an hour: the wait from memory). The wait
runs by the computer's running clock: setting the wall clock shortens nothing, and a restart of
the computer begins what was left anew.

**Not the same for two.** A new PIN is tried against every other person's hash while it is at
hand; later nobody could. So two people never have one PIN in one book. The refusal tells the
chooser that the PIN is easy to guess *or* taken; how often that may be heard is limited by a
lock-out of its own.
"""

import hashlib
import hmac
import os
import unicodedata
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _, ngettext

from ..core.clock import Times, wait_credit_ms
from ..record.clocks import read_clock
from ..record.disk import Disk
from ..record.faults import RecordError
from ..record.lock import held
from .pin_file import Cost, Entry, PinRecord, Tally, read_book, write_book
from .pin_rules import GUESSED_FIRST, is_pin, why_not

COST: Final = Cost(n=2**15, r=8, p=3)
FREE_TRIES: Final = 5
FIRST_LOCK_S: Final = 60
LONGEST_LOCK_S: Final = 3600
DEAD_AFTER: Final = 100
BOOK_NAME: Final = "people.json"
_SALT_BYTES: Final = 16
_HASH_BYTES: Final = 32
_NAME_CHARS: Final = 200


class PinRefused(RecordError):  # noqa: N818 - the name says the fact
    """A PIN or a person that is not taken into the book. Never repeats the PIN."""


class IdTaken(RecordError):  # noqa: N818 - the name says the fact
    """The id is, or was, somebody else's, or its person has retired."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """The PIN is this person's."""

    words: str = "accepted"


@dataclass(frozen=True, slots=True)
class Wrong:
    """It is not. ``tries_left`` until the lock-out, counting none for what can be no PIN."""

    tries_left: int

    @property
    def words(self) -> str:
        """A line for the screen."""
        return ngettext(
            "That is not the PIN. 1 try is left.",
            "That is not the PIN. {left} tries are left.",
            self.tries_left,
            left=self.tries_left,
        )


@dataclass(frozen=True, slots=True)
class Locked:
    """No try is looked at until then (RFC 3339, UTC). ``until`` is None: until a new PIN is set."""

    until: str | None
    wait_s: int

    @property
    def words(self) -> str:
        """A line for the screen."""
        if self.until is None:
            return _("Too many wrong tries: this PIN is dead. Set a new one with a supervisor.")
        return _(
            "Too many wrong tries: locked for {wait_s} s, until {until}.",
            wait_s=self.wait_s,
            until=self.until,
        )


@dataclass(frozen=True, slots=True)
class NoPin:
    """Nobody of this id has a PIN here: never set, or retired."""

    words: str = _("No PIN is set.")


PinOutcome = Accepted | Wrong | Locked | NoPin


def same_name(one: str, other: str) -> bool:
    """Whether two printed names are one person's: spaces, case and compatible forms aside."""
    return plain_name(one) == plain_name(other)


def plain_name(name: str) -> str:
    """A name for comparing: NFKC, single spaces, case folded."""
    return " ".join(unicodedata.normalize("NFKC", name).split()).casefold()


class PinBook:
    """The pin book of one data folder. Every call reads and writes the file under its lock."""

    def __init__(self, path: Path, cost: Cost = COST, disk: Disk | None = None) -> None:
        self.path = path
        self._cost = cost
        self._disk = disk or Disk()

    def known(self) -> dict[str, Entry]:
        """Every id there ever was. Raises BadPinBook, JournalFailed."""
        return read_book(self._disk, self.path)

    def has_pin(self, person_id: str) -> bool:
        """Whether this id has a PIN."""
        entry = self.known().get(person_id)
        return entry is not None and entry.pin is not None

    def register(self, person_id: str, name: str, now: Times | None = None) -> None:
        """Remember whose this id is. Raises IdTaken when it is or was another person's."""
        now = now or read_clock()
        with held(self._disk, self.path):
            entries = self.known()
            if person_id not in entries:
                entries[person_id] = self._whose(entries, person_id, name, now)
                write_book(self._disk, self.path, entries)
            else:
                self._whose(entries, person_id, name, now)

    def set_pin(self, person_id: str, name: str, pin: str, now: Times | None = None) -> None:
        """Set or replace a PIN; who may do so is the caller's to ask.

        Raises PinRefused (rules, or somebody else's), IdTaken, BadPinBook, JournalFailed.
        """
        now = now or read_clock()
        with held(self._disk, self.path):
            entries = self.known()
            entry = self._whose(entries, person_id, name, now)
            locked, tally = _locked(entry.taken, now)
            if locked is not None:
                raise self._refused(
                    person_id, _("too many PINs were refused"), _("Wait, then choose")
                )
            problem = why_not(pin)
            if not problem and self._somebody_elses(entries, person_id, pin):
                entries[person_id] = replace(entry, taken=_one_more(tally, now))
                write_book(self._disk, self.path, entries)
                problem = GUESSED_FIRST
            if problem:
                raise self._refused(person_id, problem, _("Choose another PIN"))
            salt = os.urandom(_SALT_BYTES)
            kept = PinRecord(salt, _derive(pin, salt, self._cost), self._cost, now.utc)
            entries[person_id] = replace(entry, pin=kept, tries=Tally(), taken=tally)
            write_book(self._disk, self.path, entries)

    def check(self, person_id: str, pin: str, now: Times | None = None) -> PinOutcome:
        """Look at one try. Raises BadPinBook, JournalFailed: then nobody is accepted."""
        now = now or read_clock()
        with held(self._disk, self.path):
            entries = self.known()
            entry = entries.get(person_id)
            if entry is None or entry.pin is None or entry.retired:
                return NoPin()
            locked, tally = _locked(entry.tries, now)
            if tally != entry.tries:
                entries[person_id] = replace(entry, tries=tally)
                write_book(self._disk, self.path, entries)
            if locked is not None:
                return locked
            if not is_pin(pin):
                return Wrong(max(1, FREE_TRIES - tally.count))
            counted = _one_more(tally, now)
            entries[person_id] = replace(entry, tries=counted)
            write_book(self._disk, self.path, entries)
            if hmac.compare_digest(_derive(pin, entry.pin.salt, entry.pin.cost), entry.pin.hash):
                entries[person_id] = replace(entry, tries=Tally())
                write_book(self._disk, self.path, entries)
                return Accepted()
            locked, _ = _locked(counted, now)
            return locked or Wrong(FREE_TRIES - counted.count)

    def retire(self, person_id: str, name: str, now: Times | None = None) -> None:
        """Take the PIN away and close the id for ever. Raises IdTaken, JournalFailed."""
        now = now or read_clock()
        with held(self._disk, self.path):
            entries = self.known()
            entry = entries.get(person_id)
            if entry is not None and entry.retired and same_name(entry.name, name):
                return
            entry = self._whose(entries, person_id, name, now)
            entries[person_id] = replace(entry, retired=now.utc, pin=None, tries=Tally())
            write_book(self._disk, self.path, entries)

    def _whose(self, entries: dict[str, Entry], person_id: str, name: str, now: Times) -> Entry:
        entry = entries.get(person_id)
        where = f"{self.path}, '{person_id[:40]}'"
        if entry is None:
            if not 0 < len(name.strip()) <= _NAME_CHARS or not name.isprintable():
                raise PinRefused(
                    where, _("the name is blank, too long or not on one line"), _("Type it")
                )
            return Entry(person_id, name, now.utc)
        if not same_name(entry.name, name):
            raise IdTaken(
                where,
                _(
                    "this id is {name}'s since {since}, and an id is never given to a second "
                    "person",
                    name=entry.name,
                    since=entry.since[:10],
                ),
                _("Choose an id that nobody here has had"),
            )
        if entry.retired:
            raise IdTaken(
                where,
                _(
                    "{name} retired on {retired}, and a retired id stays closed",
                    name=entry.name,
                    retired=entry.retired[:10],
                ),
                _("Give a person who comes back a new id"),
            )
        return entry

    def _somebody_elses(self, entries: dict[str, Entry], person_id: str, pin: str) -> bool:
        taken = False
        for other in entries.values():
            if other.id != person_id and other.pin is not None:
                derived = _derive(pin, other.pin.salt, other.pin.cost)
                taken |= hmac.compare_digest(derived, other.pin.hash)
        return taken

    def _refused(self, person_id: str, what: str, remedy: str) -> PinRefused:
        return PinRefused(_("PIN of '{person_id}'", person_id=person_id[:40]), what, remedy)


def _derive(pin: str, salt: bytes, cost: Cost) -> bytes:
    """The scrypt hash. Errors of the library are raised without their context."""
    memory = 128 * cost.r * (cost.n + cost.p + 2)
    return hashlib.scrypt(
        pin.encode("ascii"),
        salt=salt,
        n=cost.n,
        r=cost.r,
        p=cost.p,
        maxmem=2 * memory,
        dklen=_HASH_BYTES,
    )


def lock_s(count: int) -> int:
    """How long the ``count``-th wrong try in a row locks, in seconds."""
    if count < FREE_TRIES:
        return 0
    return min(FIRST_LOCK_S << min(count - FREE_TRIES, 20), LONGEST_LOCK_S)


def _one_more(tally: Tally, now: Times) -> Tally:
    count = tally.count + 1
    left_ms = lock_s(count) * 1000
    return Tally(count, left_ms, now if left_ms else None)


def _locked(tally: Tally, now: Times) -> tuple[Locked | None, Tally]:
    """Whether a tally still locks, and the tally with the wait credited that has passed."""
    if tally.count >= DEAD_AFTER:
        return Locked(None, 0), tally
    if not tally.left_ms or tally.at is None:
        return None, tally
    left_ms = max(0, tally.left_ms - wait_credit_ms(tally.at, now))
    after = Tally(tally.count, left_ms, now if left_ms else None)
    if not left_ms:
        return None, after
    until = datetime.fromisoformat(now.utc) + timedelta(milliseconds=left_ms)
    return Locked(until.strftime("%Y-%m-%dT%H:%M:%SZ"), -(-left_ms // 1000)), after
