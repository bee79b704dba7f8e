"""What can happen to a job, one class an event; ``evolve`` in ``job.py`` says what each changes."""

from dataclasses import dataclass, field
from typing import Any

from steplatch.safety.checks import EVERYTHING
from steplatch.safety.kernel import (
    BayEvent,
    Granted,
    Happened,
    Lapsed,
    MeasuredHappening,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
)

from .clock import Times

StepKey = tuple[str, str]
"""A step by its procedure's id and its own: the same id may stand in several procedures."""


@dataclass(frozen=True, slots=True)
class Ticked:
    """The clock was read: the moment, and how far the two job clocks went on.

    ``waited_ms`` is what waits may be credited (the least); ``aged_ms`` is what ages must
    count (the most).
    """

    at: Times
    waited_ms: int
    aged_ms: int


@dataclass(frozen=True, slots=True)
class Opened:
    """The job was opened: who is on its roster, and whether it is practice."""

    practice: bool
    people: tuple[dict[str, Any], ...]
    files: dict[str, str]
    here: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Joined:
    """A person came in mid-job and may sign from now on. ``told``: name and role are as they were
    told then, and stand in no file of people."""

    person: dict[str, Any]
    told: bool


@dataclass(frozen=True, slots=True)
class Departed:
    """A person went in mid-job; ``here`` are those who stay."""

    person: str
    here: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LimitsSet:
    """The worked limits, as one function computed them and as every later decision takes them:
    doses in 0.1 mL, quantised decimals by name (``runner.input.resolution``), input hashes."""

    strict: int
    extended: int
    running: int
    numbers: dict[str, str]
    inputs: dict[str, str]


@dataclass(frozen=True, slots=True)
class Begun:
    """The first of the two marks of a step."""

    step: str
    procedure: str = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class Done:
    """The second mark: the step is done, with the answer as it was given.

    ``by`` is who did it; empty for a signature, which is no doing. ``work`` is what of it some
    check looks at.
    """

    step: str
    answer: str
    by: str = ""
    work: tuple[str, ...] = (EVERYTHING,)
    procedure: str = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class Moved:
    """The step that is current now; ``reason`` is next, back, divert or return."""

    step: str
    procedure: str
    reason: str = "next"


@dataclass(frozen=True, slots=True)
class Recorded:
    """Something written down under a name: text, number, reading set, judgement."""

    name: str
    value: dict[str, Any]
    step: str
    procedure: str = field(kw_only=True)

    @property
    def key(self) -> StepKey:
        """The step that it was written down at."""
        return self.procedure, self.step


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature: who, as what, with what meaning, for which step, same or other person.

    ``how`` is pin, name or practice; ``exceptions`` are what is out of the ordinary about it.
    """

    step: str
    person: str
    role: str
    meaning: str
    who: str
    covers: tuple[str, ...]
    how: str = "name"
    exceptions: tuple[str, ...] = ()
    procedure: str = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class Corrected:
    """The ``number``-th record under ``name`` (from 0) was corrected: ``was`` to ``now``."""

    name: str
    number: int
    was: dict[str, Any]
    now: dict[str, Any]
    reason: str
    by: str


@dataclass(frozen=True, slots=True)
class MarkedNotApplicable:
    """A step was left as not applicable, with a reason and a name."""

    step: str
    reason: str
    by: str
    procedure: str = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class Waived:
    """One interlock was waived for one use, until ``until_ms`` by the clock of ages."""

    interlock: str
    reason: str
    asked_by: str
    person: str
    role: str
    how: str
    until_ms: int


@dataclass(frozen=True, slots=True)
class WaiverUsed:
    """An act was permitted that the waived interlock would have refused."""

    interlock: str
    act: str


@dataclass(frozen=True, slots=True)
class WaiverLapsed:
    """A waiver that was not used has expired, or ended with an interruption."""

    interlock: str


@dataclass(frozen=True, slots=True)
class TimerSet:
    """A timer was set: it is due when the credited clock reaches ``due_ms``."""

    name: str
    due_ms: int


@dataclass(frozen=True, slots=True)
class Held:
    """The procedure is held: by stop or an interruption; ``why`` is one of ``commands.HOLDS``."""

    why: str


@dataclass(frozen=True, slots=True)
class WentOn:
    """The hold was ended by a deliberate act."""


@dataclass(frozen=True, slots=True)
class AskAgain:
    """Facts that were known and must be looked at again; ``meanwhile`` is the extra question."""

    facts: tuple[str, ...]
    meanwhile: bool


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """The answer to "was anything sprayed, connected or cranked meanwhile?"."""

    answer: str


@dataclass(frozen=True, slots=True)
class Ended:
    """The job has ended: finished or abandoned."""

    how: str


@dataclass(frozen=True, slots=True)
class MeasuredNow:
    """The vehicle reports another state of something that it measures (``safety.measured``)."""

    fact: str
    state: str


@dataclass(frozen=True, slots=True)
class ChannelSetAside:
    """A person has found wrong what the vehicle reports by ``channel``."""

    channel: str
    by: str


Event = (
    BayEvent
    | Ticked
    | Opened
    | Joined
    | Departed
    | LimitsSet
    | Begun
    | Done
    | Moved
    | Recorded
    | Signed
    | TimerSet
    | Held
    | WentOn
    | AskAgain
    | Meanwhile
    | Ended
    | Corrected
    | MarkedNotApplicable
    | Waived
    | WaiverUsed
    | WaiverLapsed
    | MeasuredNow
    | ChannelSetAside
)

BAY_EVENTS = (
    Granted, Happened, MeasuredHappening, Seen, Lapsed, PermitLapsed, Tripped, ResetDone
)  # fmt: skip
