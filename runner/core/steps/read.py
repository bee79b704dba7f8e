"""Take one set of readings. Here numbers become evidence; ``Core`` never sees a number."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from steplatch.safety.bay import Act, Burning, Engine, Zero
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Granted, Happened
from steplatch.safety.occurrences import Happening

from ..commands import Answer, Begin, Fill
from ..draft import Draft, No, refuse
from ..job import Job, Log
from ..reading_set import BadReading, Phase, ReadingCondition, ReadingSet
from ..showing import TRADE, Question, Source, revs_band
from ..tries import LINES, Standing, Try
from ..typed_set import parse_set
from .kind import Kind

H = Happening
_BURNING = {Burning.YES: True, Burning.NO: False}


class ReadStep(Kind):
    """Take one set of readings, typed on one line."""

    kind: Literal["read"]
    phase: Literal["before", "after", "road"]
    condition: Literal["raised", "idle", "zero"]

    head = "phase"

    takes_min = 2.5
    looked_again = True
    may_be_held = True

    def settles(self) -> frozenset[str]:
        """The evidence of its phase, and the zero."""
        return frozenset({self.phase, "zero"})

    def begin(self, draft: Draft, command: Begin) -> None:
        """Set the first mark, or raise No with every reason."""
        act = _evidence_act(self.phase)
        refusals = draft.refusals(Ask(act))
        if self.condition == "zero":
            refusals += draft.refusals(Ask(Act.READ_ZERO))
            act = Act.READ_ZERO
        self._check_engine(draft)
        unique = {r.interlock: r for r in refusals}
        if unique:
            raise No(*unique.values())
        draft.add(draft.begun, Granted(act))

    def answer(self, draft: Draft, value: str) -> None:
        """Record a set and what it is worth as evidence. Raises No when the engine has left the
        condition since the set was begun."""
        self._take(draft, parse(draft, self.condition, self.phase, value), value)

    @property
    def doings(self) -> tuple[str, ...]:
        """The set that is read."""
        return (f"read {self.phase} {self.condition}",)

    def fill(self, draft: Draft, command: Fill) -> None:
        """The same with values of which the vehicle gave some. Raises No also where it names one
        that is not there."""
        if not draft.job.core.begun:
            raise refuse("two-marks")
        got = parse(draft, self.condition, self.phase, command.value, frozenset(command.car))
        if set(command.car) != {r.quantity for r in got.readings if r.source == "car"}:
            raise refuse("fill")
        self._take(draft, got, command.value)

    def _take(self, draft: Draft, got: ReadingSet, value: str) -> None:
        self._check_engine(draft)
        if self.condition != "zero":
            got = replace(got, held_s=held_s(draft.job.log))
        draft.record("reading", got.to_json())
        if self.condition == "zero":
            draft.add(Happened(H.ZERO_GOOD if _zero_in_band(draft, got) else H.ZERO_OUT))
            act = _evidence_act(self.phase)
            if not draft.refusals(Ask(act)):
                draft.add(Granted(act), Happened(_evidence(draft, self.phase)))
        else:
            draft.add(Happened(H.BEFORE_PARTIAL if self.phase == "before" else H.AFTER_PARTIAL))
            ceiling = draft.job.log.number("rev_ceiling_rpm")
            if got.speed_rpm is not None and got.speed_rpm > ceiling:
                draft.add(Happened(H.OVER_CEILING))
                return
        draft.done(value)

    def _check_engine(self, draft: Draft) -> None:
        want = Engine.RAISED if self.condition == "raised" else Engine.IDLING
        engine = draft.job.bay.engine
        if self.condition != "zero" and engine is not want:
            raise refuse("reading-condition", condition=self.condition, engine=engine.value)
        if against := draft.against("engine"):
            raise No(*against)

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """The band of revs, or of the zero."""
        if self.condition == "raised":
            return (revs_band(job, source("rev_ceiling")),)
        if self.condition == "idle":
            return ()
        low, high = job.log.number("zero_low_pa") / 100, job.log.number("zero_high_pa") / 100
        return (
            _(
                "zero {low:+.0f} to {high:+.0f} mbar{source}",
                low=low,
                high=high,
                source=source("", TRADE),
            ),
        )

    def asks(self) -> Question:
        """One set on one line."""
        return Question(
            _(
                "One line: mbar 1/min g/s exhaust coolant and valve (86o, 86s, 86p; x = not "
                "shown).\n"
                "  Another unit stands at its figure: 2.2kPa."
            )
        )

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """A set as it should be, one without a pressure, and (raised) one over the ceiling."""
        lines = LINES[self.condition]
        for line in lines[:1] if at.scenario.well else lines:
            yield Try(f"read: {line}", Answer(self.id, line), kind="answer")
        yield Try("begin again", Begin(self.id))


def held_s(log: Log) -> float:
    """Seconds since the engine came to where it is, by the clock of waits: never too many. A look
    at the engine, as after an interruption, begins it anew."""
    return max(0, log.waited_ms - log.engine_from_ms) / 1000


def _evidence_act(phase: str) -> Act:
    return Act.READ_BEFORE if phase == "before" else Act.READ_AFTER


def parse(
    draft: Draft,
    condition: ReadingCondition,
    phase: Phase,
    value: str,
    car: frozenset[str] = frozenset(),
) -> ReadingSet:
    """One typed set under its condition; ``car`` names the quantities that the vehicle gave.
    Raises No when it cannot be read."""
    at = draft.job.log.last
    try:
        return parse_set(
            value,
            condition,
            phase,
            line_name=str((draft.job.log.latest("line_name") or {}).get("text", "")),
            burning=_BURNING.get(draft.job.bay.burning),
            cylinders=_cylinders(draft),
            taken_at=at.utc if at else "",
            by=draft.by,
            car=car,
        )
    except BadReading:
        raise refuse(
            "reading", typed=value, condition=condition, phase=phase, **_counted(draft)
        ) from None


def _counted(draft: Draft) -> dict[str, str]:
    cylinders = _cylinders(draft)
    return {} if cylinders is None else {"cylinders": str(cylinders)}


def _cylinders(draft: Draft) -> int | None:
    """How many cylinders, for air in mg/stroke; None in a job recorded before they were kept."""
    numbers = draft.job.log.numbers
    return int(numbers["cylinders"]) if "cylinders" in numbers else None


def _zero_in_band(draft: Draft, got: ReadingSet) -> bool:
    log = draft.job.log
    if got.pressure_pa is None:
        return False
    return log.number("zero_low_pa") <= got.pressure_pa <= log.number("zero_high_pa")


def _evidence(draft: Draft, phase: str) -> Happening:
    """Whether the phase's three sets are there, with pressure, warm, zero in band."""
    latest: dict[str, ReadingSet] = {}
    for plain in draft.job.log.readings(phase):
        got = ReadingSet.from_json(plain)
        latest[got.condition] = got
    full = (
        set(latest) == {"raised", "idle", "zero"}
        and all(s.pressure_pa is not None for s in latest.values())
        and draft.job.bay.zero is Zero.GOOD
    )
    if phase == "before":
        return H.BEFORE_GOOD if full else H.BEFORE_PARTIAL
    return H.AFTER_GOOD if full else H.AFTER_PARTIAL
