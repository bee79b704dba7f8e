"""One job being worked: decide, write the line, then (and only then) go on.

The order is the promise: what the screen confirms is on the disk. ``Session`` holds the job,
the plan, the journal and the clock, and knows nothing of screens.
"""

from collections.abc import Callable
from typing import Protocol

from steplatch.safety.bay import Engine
from steplatch.safety.effects import LASTS_S

from ..core.clock import Times, parted_ms
from ..core.codec import encode, encode_refusal
from ..core.commands import Answer, AnswerMeanwhile, Command, Interrupted, Look, Report, Stop, Tick
from ..core.engine import Outcome, decide
from ..core.events import Held, Ticked
from ..core.job import Job, evolve
from ..core.plan import Plan
from ..core.refusals import refusal
from ..record import JournalWriter
from ..record.clocks import Clock

ASK_AGAIN_SHARE = 0.8
"""Share of a fact's life after which it is looked at again while the engine runs."""
PARTED_MS = 120_000
"""How far wall clock and running clock may part before all is asked again: more than a clock that
is set right now and then is off (a design choice)."""
CANNOT_DECIDE = "cannot-decide"
_CANNOT_DECIDE = refusal(CANNOT_DECIDE, {})


def decided(plan: Plan, job: Job, command: Command, at: Times, by: str) -> Outcome:
    """What ``decide`` says; where it fails, a refusal that says so and a hold. Pure as it is.

    A command that could not be decided has done nothing, so the job is held as by Stop. One that
    tells what happened or was seen may have been the end of something: then all that a person can
    look at is asked again, as after an interruption. Raises MemoryError alone, which is no fault
    of the command: the job stands where it stood, and nothing is written.
    """
    try:
        return decide(plan, job, command, at, by)
    except MemoryError:
        raise
    except Exception:
        pass  # the same error comes again when the record is audited: nothing is hidden by this
    told = isinstance(command, Report | Look | AnswerMeanwhile)
    try:
        hold = Interrupted(CANNOT_DECIDE) if told else Stop(CANNOT_DECIDE)
        return Outcome(decide(plan, job, hold, at, by).events, (_CANNOT_DECIDE,))
    except MemoryError:
        raise
    except Exception:  # not even the time can be decided
        return Outcome((Held(CANNOT_DECIDE),), (_CANNOT_DECIDE,))


class GoesAlong(Protocol):
    """What goes along with a job, such as a link to its vehicle."""

    def before(self, command: Command) -> None:
        """``command`` is about to be decided."""

    def after(self) -> None:
        """It was decided and recorded."""


class Session:
    """A job with its plan, its journal and its clock."""

    def __init__(
        self,
        plan: Plan,
        job: Job,
        writer: JournalWriter,
        clock: Clock,
        person: str,
        confirmed: Callable[[int], None] | None = None,
    ) -> None:
        self.plan = plan
        self.job = job
        self.writer = writer
        self.clock = clock
        self.person = person
        self._confirmed = confirmed
        self.settle: Callable[[], None] | None = None
        """What is to be put in place once the next line is safe."""
        self.along: GoesAlong | None = None
        self._refused: tuple[Command, str, Outcome] | None = None

    def submit(self, command: Command, by: str | None = None) -> Outcome:
        """Decide ``command``, record it with its outcome, then apply its events.

        What cannot be decided is recorded as that, and holds the job (see ``decided``). Where the
        clocks have parted since the last line, that is recorded first: everything is asked again.
        An answer that is refused just as the line before is not written once more. Raises
        JournalFailed when the line could not be made safe on disk; the job then stands where it
        stood.
        """
        if self.along is not None:
            self.along.before(command)
        at = self.clock.now()
        last = self.job.log.last
        goes_on = not isinstance(command, Interrupted) and not self.job.core.ended
        if last is not None and goes_on and parted_ms(last, at) > PARTED_MS:
            self.submit(Interrupted("clocks_part"))
            at = self.clock.now()
        who = by or self.person
        outcome = decided(self.plan, self.job, command, at, who)
        if isinstance(command, Tick) and not self._tells(outcome):
            return outcome
        if self._said_before(command, who, outcome):
            return outcome
        line = self.writer.append(
            who, self._role(who), encode(command), outcome_to_json(outcome), at
        )
        for event in outcome.events:
            self.job = evolve(self.job, event)
        settle, self.settle = self.settle, None
        if settle is not None and not outcome.refusals:
            settle()
        if self._confirmed is not None:
            self._confirmed(line.envelope.seq)
        if self.along is not None:
            self.along.after()
        return outcome

    def _said_before(self, command: Command, who: str, outcome: Outcome) -> bool:
        """Whether this is a wrong answer that was just given, by whom, and refused alike: a key
        that sticks fills no record. What a person asks leave for is written each time."""
        before, self._refused = self._refused, (command, who, outcome)
        if before is None or not isinstance(command, Answer) or not outcome.refusals:
            return False
        alike = before[:2] == (command, who) and before[2].refusals == outcome.refusals
        return alike and not self._tells(outcome)

    def _tells(self, outcome: Outcome) -> bool:
        """Whether time alone has brought anything that is not in the record yet."""
        stands = (Ticked, Held) if self.job.core.held else Ticked
        return not all(isinstance(event, stands) for event in outcome.events)

    def tick(self) -> Outcome:
        """Let the time be noticed."""
        return self.submit(Tick())

    def left_s(self, timer: str) -> float:
        """Seconds that a timer still has to run, by the credited clock and this moment."""
        from ..core.clock import wait_credit_ms

        log = self.job.log
        now = log.waited_ms
        if log.last is not None:
            now += wait_credit_ms(log.last, self.clock.now())
        return max(0.0, (log.timers.get(timer, 0) - now) / 1000.0)

    def lapsing_soon(self) -> str | None:
        """A fact that would lapse before long while the engine runs, to be looked at again now."""
        job = self.job
        if job.bay.engine not in (Engine.IDLING, Engine.RAISED):
            return None
        for fact in ("controls", "fumes"):
            known = not getattr(job.bay, fact).unknown
            age_s = (job.log.aged_ms - job.log.set_ms.get(fact, 0)) / 1000
            if known and age_s > ASK_AGAIN_SHARE * LASTS_S[fact]:
                return fact
        return None

    def _role(self, person: str) -> str:
        for known in self.job.log.people:
            if known["id"] == person:
                return str(known["role"])
        return "unlisted"


def outcome_to_json(outcome: Outcome) -> dict[str, object]:
    """An outcome as the journal holds it."""
    return {
        "events": [encode(event) for event in outcome.events],
        "refused": [encode_refusal(refusal) for refusal in outcome.refusals],
    }
