"""What may happen at any moment, beside the step: one of these a trace."""

from collections.abc import Iterator

from steplatch.safety.bay import SPRAYS, Engine, FluidIn, Gun, Starter, states_of
from steplatch.safety.effects import LASTS_S, MEASURED
from steplatch.safety.occurrences import OUTCOMES, TRIPS, Happening

from ..core.commands import Correct, Interrupted, Look, Report, Tick, VehicleReport
from ..core.job import Job
from ..core.tries import LINES, MORE_AND_LESS, STOP, Try
from .times import ALL_OLD
from .vector import READINGS

H = Happening
HOSE_ON_UNASKED = "done without a permit: hose on"


def somebody_left(fact: str, gone: str) -> str:
    """Somebody left: what is then so of ``controls`` or ``crew``, in words."""
    return f"somebody left: {fact} is {gone}"


def disturbances(job: Job) -> Iterator[Try]:
    """Trips, said or measured, what grew too old, people gone, false looks, corrections, an
    interruption, a stop."""
    bay = job.bay
    running = bay.engine in (Engine.IDLING, Engine.RAISED, Engine.ROAD)
    whats = [H.FUME_ALARM, H.FIRE_SEEN, H.PERSON_HURT, H.SPILLED, H.STUB_SNAPPED, H.OVERDOSED]
    if running or bay.engine is Engine.UNKNOWN:
        whats += [H.STALLED, H.STOPPED, H.RAN_AWAY, H.OVER_CEILING]
    if bay.engine is Engine.RAISED:
        whats.append(H.LOWERED)
    if bay.engine is Engine.STOPPED and bay.starter is not Starter.DISABLED:
        whats.append(H.SELF_STARTED)
    if bay.permit is not None:
        whats += [what for what in OUTCOMES[bay.permit] if what in TRIPS and what not in whats]
    for what in whats:
        seconds = "?" if bay.permit in SPRAYS else ""
        command = Report(what.value, seconds=seconds)
        yield Try(f"it happens: {what.said}", command, ours=False, disturbance=True)
    for what in MEASURED:  # rightly or wrongly
        wired = VehicleReport("trip", what.value, "1", 0, 0, {})
        yield Try(f"measured: {what.said}", wired, ours=False, disturbance=True)
    if bay.gun is not Gun.OPEN and bay.permit is None:
        yield Try(HOSE_ON_UNASKED, Report("hose_on"), ours=False, disturbance=True)
    for fact in LASTS_S:
        if bay.knows(fact):
            yield Try(f"too long ago: {fact}", Tick(), ours=False, old=fact, disturbance=True)
    yield Try("the clock cannot be trusted", Tick(), ours=False, old=ALL_OLD, disturbance=True)
    for fact, gone in (("controls", "nobody"), ("crew", "alone_junior")):
        if bay.knows(fact):
            yield Try(somebody_left(fact, gone), Look(fact, gone), ours=False, disturbance=True)
    for fact, false in (("engine", "idling"), ("hose", "on"), ("gun", "away")):
        if bay.knows(fact) and not bay.among(fact, states_of(fact, (false,))):
            yield Try(f"falsely seen: {fact} is {false}", Look(fact, false), ours=False,
                      disturbance=True)  # fmt: skip
    if bay.permit is not None:
        yield Try("the permit lapses", Tick(), ours=False, old="permit", disturbance=True)
    yield from corrections(job)
    yield Try("interrupted", Interrupted("restarted"), ours=False, disturbance=True)
    if not job.core.held:
        yield STOP


def corrections(job: Job) -> Iterator[Try]:
    """Each record that decides anything, typed anew: by more, by less, by nothing; where
    triage rests on it, with triage as it was and another."""

    def corrected(name: str, number: int, value: str, triage: str = "go") -> Try:
        said = f"corrected: {name} to {value} (triage {triage})"
        command = Correct(name, number, value, "typed wrongly before")
        return Try(said, command, ours=False, triage=triage, disturbance=True)

    for number, (phase, condition) in enumerate(READINGS):
        if any(plain["condition"] == condition for plain in job.log.readings(phase)):
            for line in LINES[condition][:2]:
                for triage in ("go", "nothing"):
                    yield corrected("reading", number, line, triage)
    if job.bay.knows("port"):
        yield corrected("exhaust", 0, "20")
    if job.log.latest("gun") is not None:
        for shots in MORE_AND_LESS:
            yield corrected("gun", 0, shots)
    if job.bay.fluid_in is not FluidIn.NO:
        for seconds in ("0", "9"):
            yield corrected("spray", 0, seconds)
