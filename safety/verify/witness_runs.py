"""Whole jobs through the kernel with all its rows: it is no kernel that refuses everything.

A proof that nothing permitted does harm says nothing of a kernel that permits nothing. Each way
here begins with nothing known and goes through the real ``permit``, ``apply`` and ``trips``;
together they permit every act, latch every trip, reset every trip that has a reset, and hand
over a job of each engine-off choice (``SOMETIMES``).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial

from ..bay import Act, Bay, DoseLimits, Tier, Trip, state_of
from ..interlocks import INTERLOCKS, Ask, Interlock
from ..kernel import (
    BayEvent,
    Granted,
    Happened,
    ResetDone,
    Seen,
    Tripped,
    apply,
    permit,
    trips,
)
from ..occurrences import Happening

H = Happening
LIMITS = DoseLimits(strict=15, extended=40, running=300)
"""The limits of these ways, in 0.1 mL."""

OTHER_TRIPS: dict[Happening, Trip] = {
    H.SELF_STARTED: Trip.SELF_STARTED,
    H.OVER_CEILING: Trip.OVER_CEILING,
    H.SPILLED: Trip.SPILL,
    H.STUB_SNAPPED: Trip.STUB,
    H.HOSE_OFF: Trip.UNPERMITTED,
}
"""What latches a trip that has a way back, when it comes before any fluid."""

ENDS_THE_JOB = (
    H.FIRE_SEEN,
    H.FUME_ALARM,
    H.PERSON_HURT,
    H.RAN_AWAY,
    H.TURNED_HARD,
    H.CRANKED_UNEVEN,
)
"""What latches a trip without a way back."""

SOMETIMES: tuple[str, ...] = (
    *(f"permitted: {act.value}" for act in Act),
    *(f"latched: {trip.value}" for trip in Trip),
    *(f"reset: {trip.value}" for trip in Trip if not trip.terminal),
    *(f"handed over, choice: {tier.value}" for tier in Tier if not tier.unknown),
)
"""What has to be met by one way or another."""


class RefusedOnWitnessRun(Exception):  # noqa: N818 - says what happened
    """A way came to an act that the rows refuse."""


@dataclass
class WitnessRun:
    """A way through the kernel: the bay as it becomes, and what was met on it."""

    rows: tuple[Interlock, ...] = INTERLOCKS
    bay: Bay = field(default_factory=Bay)
    met: set[str] = field(default_factory=set)
    latched: list[Trip] = field(default_factory=list)

    def comes(self, event: BayEvent) -> None:
        """``event`` comes, and the trips that it causes."""
        before = self.bay
        self.bay = apply(before, event)
        for trip in trips(before, event, self.bay, LIMITS):
            self.bay = apply(self.bay, Tripped(trip))
            self.latched.append(trip)
            self.met.add(f"latched: {trip.value}")

    def see(self, **facts: str) -> None:
        """Somebody looks, and finds these states."""
        for fact, state in facts.items():
            self.comes(Seen(fact, state_of(fact, state)))

    def happens(self, *happenings: Happening, amount: int | None = 0) -> None:
        """One after another happens, with a volume (0.1 mL) where one belongs to it."""
        for what in happenings:
            self.comes(Happened(what, amount))

    def refused(self, act: Act, dose: int = 0, trip: Trip | None = None) -> list[str]:
        """The rows that refuse ``act`` now."""
        asked = Ask(act, dose, trip=trip)
        return [refusal.interlock for refusal in permit(self.bay, asked, LIMITS, self.rows)]

    def begin(self, act: Act, dose: int) -> None:
        """``act`` is asked for and permitted. Raises Refused."""
        self._permitted(act, dose)
        self.comes(Granted(act, dose))

    def do(self, act: Act, what: Happening, dose: int = 0, amount: int | None = 0) -> None:
        """``act`` is permitted and answered by ``what``. Raises Refused."""
        self.begin(act, dose)
        self.happens(what, amount=amount)
        if act is Act.HAND_OVER:
            self.met.add(f"handed over, choice: {self.bay.tier.value}")

    def reset(self, trip: Trip) -> None:
        """``trip`` is reset, by permission. Raises Refused."""
        self._permitted(Act.RESET, trip=trip)
        self.comes(ResetDone(trip))
        self.met.add(f"reset: {trip.value}")

    def _permitted(self, act: Act, dose: int = 0, trip: Trip | None = None) -> None:
        refused = self.refused(act, dose, trip)
        if refused:
            raise RefusedOnWitnessRun(f"{act.value} is refused by {', '.join(refused)}")
        self.met.add(f"permitted: {act.value}")


def taken_in(way: WitnessRun, crew: str = "pair") -> None:
    """Matched, agreed, safe to run, codes saved, 'before' read, sensor proven."""
    way.see(crew=crew, arrival="dry", identity="match", agreed="clean", codes="saved")
    way.see(engine="stopped", key="off", hands="clear", hose="on", gun="away", bar="off")
    way.see(spill="ready")
    way.see(
        secured="yes",
        lift="wheels",
        flash="none",
        trigger="springs",
        fumes="extraction",
        controls="other" if crew == "pair" else "self",
        sheet="read",
        kit="worn",
    )
    way.see(oil="ok", fuel="diesel", coating="none", foul="no", low_loop="none")
    way.do(Act.IGNITION_ON, H.IGNITION_ON)
    way.do(Act.START, H.STARTED)
    way.see(idle="steady", burning="no")
    way.do(Act.RAISE, H.RAISED)
    way.do(Act.READ_BEFORE, H.BEFORE_PARTIAL)
    way.happens(H.LOWERED)
    way.do(Act.STOP_ENGINE, H.STOPPED)
    way.do(Act.READ_ZERO, H.ZERO_GOOD)
    way.do(Act.READ_BEFORE, H.BEFORE_GOOD)
    way.see(triage="go", sensor="proven", reach="clear", starter="disabled")
    way.do(Act.TRY_START, H.TRIED_NOTHING)
    way.see(key="boxed", port="cool", touch="gloved", kit="heat")


def ready_for_fluid(way: WitnessRun, tier: Tier) -> None:
    """The hose off, the gun filled, measured and coupled, checked by another."""
    taken_in(way)
    way.see(tier=tier.value)
    way.do(Act.FILL_GUN, H.RATE_MEASURED)
    way.do(Act.HANDS_IN, H.HANDS_IN)
    way.do(Act.TAKE_HOSE_OFF, H.HOSE_OFF)
    way.do(Act.COUPLE_GUN, H.GUN_COUPLED)
    way.see(fluid_check="other")


def dosed(way: WitnessRun, tier: Tier, dose: int) -> None:
    """An engine-off dose and its soak."""
    ready_for_fluid(way, tier)
    way.do(Act.SPRAY_OFF, H.SPRAY_ENDED, dose, dose)
    way.happens(H.SOAK_BEGUN, H.SOAK_DUE)


def running_dose(way: WitnessRun) -> None:
    """The engine idles: the running dose."""
    way.see(idle="steady", burning="no", port="warm", stop_start="off")
    way.do(Act.SPRAY_RUNNING, H.SPRAY_ENDED, 100, 90)


def refitted(way: WitnessRun) -> None:
    """Gun off, line cleared, hose on again, at idle."""
    way.do(Act.HANDS_AT_HOSE, H.HANDS_AT_HOSE)
    way.do(Act.UNCOUPLE_GUN, H.GUN_UNCOUPLED)
    way.do(Act.CLEAR_LINE, H.LINE_CLEARED)
    way.do(Act.PUT_HOSE_ON, H.HOSE_ON)
    way.see(hands="clear")


def dried_and_handed_over(way: WitnessRun) -> None:
    """The run-on, the 'after' readings, the road test, the hand-over."""
    way.do(Act.RAISE, H.RAISED)
    way.do(Act.RUN_ON, H.RUN_ON_BEGUN)
    way.happens(H.RUN_ON_DUE)
    way.do(Act.READ_AFTER, H.AFTER_PARTIAL)
    way.happens(H.LOWERED)
    way.do(Act.STOP_ENGINE, H.STOPPED)
    way.do(Act.READ_ZERO, H.ZERO_GOOD)
    way.do(Act.READ_AFTER, H.AFTER_GOOD)
    way.do(Act.CLEAR_CODES, H.CODES_CLEARED)
    way.see(codes="read_again", road="ready", driver="licensed")
    way.do(Act.ROAD_TEST, H.ROAD_ENDED)
    way.see(release_check="other")
    way.do(Act.HAND_OVER, H.HANDED_OVER)


def extended_dose(way: WitnessRun) -> None:
    """A start is allowed after the turn by hand; the first crank does not fire."""
    dosed(way, Tier.EXTENDED, LIMITS.extended)
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.happens(H.TURN_SEEN)
    way.see(bar="off", lift="wheels", hands="clear", start_check="other")
    way.do(Act.START, H.CRANKED_NO_FIRE)
    way.see(start_check="other")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)


def strict_dose(way: WitnessRun) -> None:
    """A start is allowed after soak and check."""
    dosed(way, Tier.STRICT, LIMITS.strict)
    way.see(hands="clear", start_check="other")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)


def alone_with_a_strict_dose(way: WitnessRun) -> None:
    """One qualified adult: loaded, looked at again after the soak, dried and refitted stopped."""
    taken_in(way, crew="alone_adult")
    way.see(tier=Tier.STRICT.value)
    way.do(Act.FILL_GUN, H.GUN_LOADED)
    way.do(Act.HANDS_IN, H.HANDS_IN)
    way.do(Act.TAKE_HOSE_OFF, H.HOSE_OFF)
    way.do(Act.COUPLE_GUN, H.GUN_COUPLED)
    way.see(fluid_check="same")
    way.do(Act.SPRAY_OFF, H.SPRAY_ENDED, LIMITS.strict, LIMITS.strict)
    way.happens(H.SOAK_BEGUN, H.SOAK_DUE)
    way.see(hands="clear", start_check="same")
    way.do(Act.START, H.STARTED)
    way.do(Act.FILL_GUN, H.GUN_LOADED)
    running_dose(way)
    way.do(Act.RUN_ON, H.RUN_ON_BEGUN)
    way.happens(H.RUN_ON_DUE)
    way.do(Act.STOP_ENGINE, H.STOPPED)
    way.see(key="boxed")
    way.do(Act.HANDS_IN, H.HANDS_IN)
    way.do(Act.UNCOUPLE_GUN, H.GUN_UNCOUPLED)
    way.see(line="drained")
    way.do(Act.CLEAR_LINE, H.LINE_CLEARED)
    way.do(Act.PUT_HOSE_ON, H.HOSE_ON)
    way.see(hands="clear")
    way.do(Act.START, H.STARTED)
    way.see(idle="steady", burning="no")
    dried_and_handed_over(way)


def left_alone_and_reset_alone(way: WitnessRun) -> None:
    """Who is alone leaves a running engine, comes back, and resets it without anybody else."""
    taken_in(way, crew="alone_adult")
    way.do(Act.START, H.STARTED)
    way.see(controls="nobody")
    way.see(controls="self")
    way.happens(H.RECOVERED_ALONE)
    way.reset(Trip.UNATTENDED)


def no_engine_off_dose(way: WitnessRun) -> None:
    """Straight to the running dose."""
    ready_for_fluid(way, Tier.NONE)
    way.see(hands="clear")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)


def stalled_while_spraying(way: WitnessRun) -> None:
    """The engine stalls during the running dose; nobody knows how much went in."""
    ready_for_fluid(way, Tier.NONE)
    way.see(hands="clear")
    way.do(Act.START, H.STARTED)
    way.see(idle="steady", burning="no", port="warm", stop_start="off")
    way.do(Act.SPRAY_RUNNING, H.STALLED, 100, None)


def stall_recovered(way: WitnessRun) -> None:
    """Looked into, turned by hand, both trips reset, started, dried, handed over."""
    stalled_while_spraying(way)
    way.see(key="boxed")
    way.do(Act.HANDS_IN, H.HANDS_IN)
    way.happens(H.SOAK_BEGUN, H.SOAK_DUE, H.CYLINDERS_OPENED)
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.happens(H.TURN_SEEN)
    for trip in (Trip.OVERDOSE, Trip.STALLED):
        way.happens(H.RECOVERED)
        way.reset(trip)
    way.see(bar="off", lift="wheels", hands="clear", start_check="other")
    way.do(Act.START, H.STARTED)
    way.see(idle="steady", burning="no")
    way.do(Act.RUN_ON, H.RUN_ON_BEGUN)
    way.happens(H.RUN_ON_DUE)
    refitted(way)
    dried_and_handed_over(way)


def left_alone(way: WitnessRun) -> None:
    """Nobody is left at the controls of a running engine."""
    taken_in(way)
    way.do(Act.START, H.STARTED)
    way.see(controls="nobody")
    way.see(controls="other")
    way.happens(H.RECOVERED)
    way.reset(Trip.UNATTENDED)


def trips_and_is_reset(way: WitnessRun, what: Happening) -> None:
    """One of ``OTHER_TRIPS`` is latched, recovered and reset."""
    taken_in(way)
    way.happens(what, H.RECOVERED)
    way.reset(OTHER_TRIPS[what])


def ends_the_job(way: WitnessRun, what: Happening) -> None:
    """One of ``ENDS_THE_JOB``: what is left is to make safe and abandon."""
    taken_in(way)
    way.happens(what)
    way.see(engine="stopped", gun="away", tag="do_not_start")
    way.do(Act.ABANDON, H.ABANDONED)


def _ways() -> Iterator[tuple[str, Callable[[WitnessRun], None]]]:
    yield "an extended dose", extended_dose
    yield "a strict dose", strict_dose
    yield "alone, a strict dose", alone_with_a_strict_dose
    yield "alone, an engine left alone", left_alone_and_reset_alone
    yield "no engine-off dose", no_engine_off_dose
    yield "a stall, recovered", stall_recovered
    yield "an engine left alone", left_alone
    for what in OTHER_TRIPS:
        yield what.said, partial(trips_and_is_reset, what=what)
    for what in ENDS_THE_JOB:
        yield what.said, partial(ends_the_job, what=what)


def never_met(rows: tuple[Interlock, ...] = INTERLOCKS) -> tuple[str, ...]:
    """What of ``SOMETIMES`` no way meets under ``rows``, and which ways end early, and why."""
    met: set[str] = set()
    ended: list[str] = []
    for name, walk in _ways():
        way = WitnessRun(rows)
        try:
            walk(way)
        except RefusedOnWitnessRun as refused:
            ended.append(f"the way '{name}' ends early: {refused}")
        met |= way.met
    return (*(name for name in SOMETIMES if name not in met), *ended)
