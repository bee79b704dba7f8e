"""The commands: requests, which may be refused, and reports, which never are.

Each is plain data. Who gave it and when (``by``, ``at``) travel beside it, see ``decide``.
"""

from dataclasses import dataclass, field
from typing import Any

from steplatch.safety.catalogue import _

KEPT_APART = "kept_apart:sha256:"
"""How an answer says that a personal value lies beside the journal, before its salted hash."""

HOLDS = {
    "stop": _("stop"),
    "stop_key": _("stop key"),
    "left": _("left"),
    "not_known": _("nobody knows what happened"),
    "terminal_gone": _("the terminal is gone"),
    "interrupted": _("interrupted"),
    "restarted": _("the program was started again"),
    "clocks_part": _("more time passed by the clock on the wall than this computer counted"),
    "other_rules": _("recorded under other rules than today's"),
    "cannot-decide": _("something could not be decided"),
}
"""Why a job is held, by id, with the words that people read. A stop or an interruption for any
other reason is held under its plain id, ``stop`` or ``interrupted``."""


@dataclass(frozen=True, slots=True)
class Open:
    """Open a job: roster, practice or real, hashes of the files it rests on."""

    practice: bool
    people: tuple[dict[str, Any], ...]
    files: dict[str, str] = field(default_factory=dict)
    here: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Join:
    """Report: a person has come and stays. Of somebody on the roster the id is enough; of anybody
    else name and role are told."""

    person: str
    name: str = ""
    role: str = ""
    under_18: bool = False


@dataclass(frozen=True, slots=True)
class Depart:
    """Report: a person has gone and signs nothing more; who is here is asked anew."""

    person: str


@dataclass(frozen=True, slots=True)
class SetLimits:
    """Enter the worked limits into the record: doses in 0.1 mL, numbers as quantised decimals,
    hashes of the files that they were worked from."""

    strict: int
    extended: int
    running: int
    numbers: dict[str, str]
    inputs: dict[str, str]


@dataclass(frozen=True, slots=True)
class Tick:
    """Only the time."""


@dataclass(frozen=True, slots=True)
class Begin:
    """Request: begin the current step. ``seconds`` for a timed burst, as typed."""

    step: str
    seconds: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """Answer the current step: what was seen, typed or chosen."""

    step: str
    value: str


@dataclass(frozen=True, slots=True)
class Report:
    """Report: something happened. ``seconds`` or ``volume_ml`` as typed; "?" for not known."""

    what: str
    seconds: str = ""
    volume_ml: str = ""


@dataclass(frozen=True, slots=True)
class Look:
    """Report: a person looked, and says what state a fact is in."""

    fact: str
    state: str


@dataclass(frozen=True, slots=True)
class Sign:
    """Sign the current step. ``person`` signs; the roster says in which role.

    ``how`` is ``pin`` (name and PIN), ``name`` (name alone) or ``practice``. A PIN never
    comes this far: who asks for it checks it, and says only that it was right.
    """

    step: str
    person: str
    how: str = "name"


@dataclass(frozen=True, slots=True)
class AnswerMeanwhile:
    """Report, after an interruption: sprayed, connected or cranked meanwhile? yes/no/unknown."""

    answer: str


@dataclass(frozen=True, slots=True)
class Stop:
    """Stop. Accepted in every state, needs no reason; ``why`` is one of ``HOLDS``."""

    why: str = ""


@dataclass(frozen=True, slots=True)
class GoOn:
    """Request: end the hold by a deliberate act."""


@dataclass(frozen=True, slots=True)
class Back:
    """Request: go back to an earlier step; everything from it on is undone."""

    step: str


@dataclass(frozen=True, slots=True)
class Interrupted:
    """The program ended and was started again, or the person left for long; ``why`` is one of
    ``HOLDS``."""

    why: str


@dataclass(frozen=True, slots=True)
class GiveUp:
    """Go to the procedure that makes safe and abandons."""


@dataclass(frozen=True, slots=True)
class Correct:
    """Request: correct what was recorded under ``name``, the ``number``-th time (from 0).

    ``value`` is typed as at the step; ``reason`` is why. What stood there stays in the record.
    """

    name: str
    number: int
    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """Request: leave the current step, which may be left, as not applicable, with a reason."""

    step: str
    reason: str


@dataclass(frozen=True, slots=True)
class Waive:
    """Request: waive one interlock that may be waived, once; ``person`` approves it, see Sign."""

    interlock: str
    person: str
    reason: str
    how: str = "name"


@dataclass(frozen=True, slots=True)
class Note:
    """Report: something to keep that decides nothing (see ``amend.NOTES``)."""

    name: str
    value: dict[str, str]


@dataclass(frozen=True, slots=True)
class VehicleReport:
    """The vehicle itself reports: a fact, a trip, an alarm or a note on a channel, see
    ``runner.live``. ``link`` names the raw log that shows it, from ``from_ms`` to ``at_ms`` by
    its clock. It may be wrong."""

    form: str
    what: str
    link: str
    from_ms: int
    at_ms: int
    numbers: dict[str, Any] = field(hash=False)


@dataclass(frozen=True, slots=True)
class SetAside:
    """Report: a person has looked, and what the vehicle reports by ``channel`` is wrong."""

    channel: str


@dataclass(frozen=True, slots=True)
class Fill:
    """Answer the current step with values of the vehicle. ``value`` is the line as it is typed;
    ``car`` names what of it the vehicle gave, shown in the raw log ``link`` from ``from_ms`` to
    ``at_ms``; the rest was typed."""

    step: str
    value: str
    car: tuple[str, ...]
    link: str
    from_ms: int
    at_ms: int


Command = (
    Open
    | Join
    | Depart
    | SetLimits
    | Tick
    | Begin
    | Answer
    | Report
    | Look
    | Sign
    | AnswerMeanwhile
    | Stop
    | GoOn
    | Back
    | Interrupted
    | GiveUp
    | Correct
    | NotApplicable
    | Waive
    | Note
    | VehicleReport
    | SetAside
    | Fill
)
