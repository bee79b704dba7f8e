"""What is asked when: the engine speed with every question, the rest as often as it is worth.

Ten questions a second at most (design choice: tools for these services ask 10 to 20 a second,
and harder polling has disturbed engines). A person can lower it. Nothing is asked once the need
for it has run out.
"""

from dataclasses import dataclass, field
from typing import Final

from .answers import WrongLength, values_of
from .exchange import Result
from .own_identifiers import OwnRow, table_of
from .requests import Ask, DataByIdentifier
from .survey import SPEED, Car, pid_request

INTERVAL_MS: Final = 100
SILENT_MS: Final = 2000
"""Between questions to a vehicle that has fallen silent."""
MAX_SILENT: Final = 3
MAX_MISSED: Final = 3
OWN_EVERY: Final = 5
"""So many questions to one for what a user has brought: the speed stays fast enough to trip."""
PRESSURE: Final = 0x7A
"""A value that is listed and yet missing so often is no longer asked."""

PERIOD_MS: Final[dict[int, int]] = {
    0x0C: 0,
    0x7A: 200,
    0x42: 500,
    0x0D: 500,
    0x10: 500,
    0x66: 500,
    0x49: 500,
    0x9E: 500,
    0x9D: 500,
    0x8B: 1000,
    0x78: 1000,
    0x7C: 1000,
    0x1F: 1000,
    0x05: 5000,
    0x67: 5000,
    0x5C: 5000,
    0x46: 5000,
    0x33: 5000,
    0x0F: 2000,
    0x0B: 1000,
    0x87: 1000,
    0x01: 5000,
    0x30: 10_000,
    0x31: 10_000,
    0x4E: 10_000,
}
"""How often each identifier is worth a place in a question (design choice)."""


@dataclass(slots=True)
class Poller:
    """Chooses the next question to ``car`` and keeps count of what fails to come."""

    car: Car
    interval_ms: int = INTERVAL_MS
    next_ms: int = 0
    silent: int = 0
    dropped: set[int] = field(default_factory=set)
    own: tuple[OwnRow, ...] = ()
    _own_now: OwnRow | None = None
    _own_due_ms: dict[int, int] = field(default_factory=dict)
    _own_missed: dict[int, int] = field(default_factory=dict)
    _since_own: int = 0
    _asked_ms: dict[int, int] = field(default_factory=dict)
    _missed: dict[int, int] = field(default_factory=dict)
    _suspects: list[int] = field(default_factory=list)
    _last: tuple[int, ...] = ()
    _turn: int = 0

    def next_ask(self, at_ms: int, speed_alone: bool = False) -> Ask | None:
        """The question that is due, None where none is. ``speed_alone``: the gun is open, and
        nothing that a user brought takes the place of the speed."""
        if at_ms < self.next_ms:
            return None
        interval = SILENT_MS if self.asleep else self.interval_ms
        self.next_ms = max(self.next_ms + interval, at_ms + interval // 2)
        self._own_now = None if speed_alone else self._own_row(at_ms)
        if self._own_now is not None:
            return Ask(DataByIdentifier((self._own_now.number,)), self.car.to)
        self._last = self._choose(at_ms)
        for pid in self._last:
            self._asked_ms[pid] = at_ms
        return Ask(pid_request(self.car.dialect, self._last), self.car.to)

    @property
    def _replaced(self) -> set[int]:
        """The standard's pressure, where the user has brought another one."""
        return {PRESSURE} if table_of(self.own).feeds("delta_pa") else set()

    @property
    def asleep(self) -> bool:
        """True once so many questions in a row found silence."""
        return self.silent >= MAX_SILENT

    def take(self, result: Result) -> dict[int, bytes]:
        """The values in the result of the last question; what does not add up gives none."""
        if self._own_now is not None:  # silence to it is no sleep: the speed tells that
            number, came = self._own_now.number, self.car.engine in result.answers
            self._own_missed[number] = 0 if came else self._own_missed.get(number, 0) + 1
            return {}
        if result.silent:
            self.silent += 1
            return {}
        self.silent = 0
        try:
            got = values_of(result.answers.get(self.car.engine, b""), self._last)
        except WrongLength:
            got = {}
            if len(self._last) > 1:  # one of them spoils all: each is asked alone to find it
                self._suspects = [pid for pid in self._last if pid != SPEED]
                return got
        for pid in self._last:
            missed = 0 if pid in got else self._missed.get(pid, 0) + 1
            self._missed[pid] = missed
            if missed >= MAX_MISSED and pid != SPEED:
                self.dropped.add(pid)
        return got

    def _own_row(self, at_ms: int) -> OwnRow | None:
        """The identifier of the user's that is due: at most every fifth question."""
        self._since_own += 1
        if self._since_own < OWN_EVERY or self.asleep:
            return None
        for row in self.own:
            missed = self._own_missed.get(row.number, 0) >= MAX_MISSED
            if not missed and at_ms >= self._own_due_ms.get(row.number, 0):
                self._own_due_ms[row.number] = at_ms + round(row.every_s * 1000)
                self._since_own = 0
                return row
        return None

    def _choose(self, at_ms: int) -> tuple[int, ...]:
        while self._suspects:
            pid = self._suspects[-1]
            if pid not in self.dropped and (self._last != (pid,) or self._missed.get(pid, 0)):
                self._turn += 1
                return (SPEED,) if self._turn % 2 else (pid,)
            self._suspects.pop()
        wanted = [
            (at_ms - self._asked_ms.get(pid, -PERIOD_MS[pid]) - PERIOD_MS[pid], pid)
            for pid in PERIOD_MS
            if pid in self.car.pids and pid not in self.dropped | self._replaced and pid != SPEED
        ]
        due = [pid for late, pid in sorted(wanted, key=lambda w: (-w[0], w[1])) if late >= 0]
        if self.car.together == 1:  # the speed every other time, the rest in between
            self._turn += 1
            return (SPEED,) if self._turn % 2 or not due else (due[0],)
        return (SPEED, *due[: self.car.together - 1])
