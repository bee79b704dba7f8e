"""The judgements of a job: what the log holds, handed to ``runner.assess``, as plain JSON.

Pure: the same job gives the same judgement, so that an audit can decide it again. Each takes the
outcome that stands in a record, if there is one: then the numbers are worked out again and
compared with it (``Disagreement`` is raised where one cannot be), and the classes follow from the
recorded numbers, so that what comes out can be compared with the record exactly.
"""

import re
from collections.abc import Mapping
from typing import Any, TypeAlias

from steplatch.safety.bay import Engine, FluidIn, Line, LowLoop, Port, RunOn
from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..core.job import Job
from ..core.plan import Judges
from ..core.reading_set import ReadingSet
from ..input.resolution import Numbers

_CODE = re.compile(r"\b[PBCU][0-9A-F]{4}\b")
_SEEN = {
    "oil_level": "oil",
    "fuel": "fuel",
    "coating": "coating",
    "oil_or_coolant_in_filter": "foul",
}
"""The facts of the judge that the bay holds, state for state; that nobody knows it is none."""
_NUMBERS = {"distance": ("distance_km", "km"), "age": ("age_years", "years")}


RecordedJudgement: TypeAlias = Mapping[str, Any] | None


def make_judges(vehicle: VehicleInput, workshop: Workshop) -> Judges:
    """The judges for one vehicle in one workshop."""
    return Judges(
        triage=lambda job, recorded=None: triage_of(job, vehicle, workshop, recorded),
        verdict=lambda job, recorded=None: verdict_of(job, vehicle, workshop, recorded),
        trend=lambda job, recorded=None: trend_of(job, vehicle, recorded),
        change=lambda job, recorded=None: change_of(job, vehicle, workshop, recorded),
        retained=retained_of,
    )


def sets_of(job: Job, phase: str) -> list[ReadingSet]:
    """The latest set of each condition taken in ``phase``, in the order taken."""
    latest: dict[str, ReadingSet] = {}
    for plain in job.log.every("reading"):
        got = ReadingSet.from_json(plain)
        if got.phase == phase:
            latest.pop(got.condition, None)
            latest[got.condition] = got
    return list(latest.values())


def facts_of(job: Job) -> dict[str, Any]:
    """The enumerated facts that triage and verdict rest on, from choices, bay and records."""
    from .facts import choice_domains

    domains = choice_domains()
    facts: dict[str, Any] = {
        name: value for name, value in job.core.choices if value in domains.get(name, ())
    }
    bay = job.bay
    if bay.burning.value in ("no", "yes"):
        facts["burning"] = bay.burning.value
    elif _cooled_since_it_stopped(job):
        facts["burning"] = "no"
    for name, fact in _SEEN.items():
        state = getattr(bay, fact).value
        if state in domains[name]:
            facts[name] = state
    if bay.knows("low_loop"):
        facts["low_pressure_recirculation"] = "no" if bay.low_loop is LowLoop.NONE else "yes"
    plateau = job.log.latest("plateau")
    levelled = plateau is not None and plateau["state"] == "levelled"
    if bay.fluid_in is FluidIn.NO or (bay.run_on is RunOn.DONE and levelled):
        facts["filter_dry"] = "yes"
    if bay.line is Line.CLEAR:
        facts["hose_clear"] = "yes"
    if plateau is not None:
        facts["plateau"] = plateau["state"]
    for name, (fact, unit) in _NUMBERS.items():
        record = job.log.latest(name)
        if record is not None and unit in record:
            facts[fact] = float(record[unit])
    codes = job.log.latest("codes_stored")
    pending = job.log.latest("codes_pending")
    if codes is not None:
        text = f"{codes['text']} {pending['text'] if pending else ''}".upper()
        facts["codes"] = sorted(set(_CODE.findall(text)))
    return facts


def _cooled_since_it_stopped(job: Job) -> bool:
    """Whether the inlet was measured cool after the engine stopped: then no soot burns."""
    exhaust = job.log.latest("exhaust")
    return (
        job.bay.engine is Engine.STOPPED
        and exhaust is not None
        and exhaust["class"] == Port.COOL.value
        and int(exhaust["at_ms"]) >= job.log.set_ms.get("engine", 0)
    )


def triage_of(
    job: Job, vehicle: VehicleInput, workshop: Workshop, recorded: RecordedJudgement = None
) -> dict[str, Any]:
    """Triage as plain JSON; ``state`` is a state of the fact 'triage'."""
    from .triage import triage

    return triage(sets_of(job, "before"), vehicle, workshop, facts_of(job), recorded).to_json()


def verdict_of(
    job: Job, vehicle: VehicleInput, workshop: Workshop, recorded: RecordedJudgement = None
) -> dict[str, Any]:
    """The verdict as plain JSON; ``state`` names it.

    Raises ``BadFact`` on an answer that the procedure should not allow.
    """
    from .judge import judge

    before, after, road = (sets_of(job, phase) for phase in ("before", "after", "road"))
    facts = facts_of(job)
    return judge(before, after, road or None, vehicle, workshop, facts, recorded).to_json()


def change_of(
    job: Job, vehicle: VehicleInput, workshop: Workshop, recorded: RecordedJudgement = None
) -> dict[str, Any]:
    """What changed since the kept set, as plain JSON; ``state`` names it."""
    from .change import change

    kept = {plain["condition"]: ReadingSet.from_json(plain) for plain in job.log.every("kept")}
    today = sets_of(job, "before")
    then_km, now_km = (_km(job, name) for name in ("kept_distance", "distance"))
    facts = facts_of(job)
    return change(
        list(kept.values()), today, vehicle, workshop, facts, (then_km, now_km), recorded
    ).to_json()


def _km(job: Job, name: str) -> float | None:
    found = job.log.latest(name) or {}
    return float(found["km"]) if "km" in found else None


def retained_of(job: Job, recorded: RecordedJudgement = None) -> dict[str, Any]:
    """The retained volume from the pours that were typed, as plain JSON; ``state`` names it."""
    from .retained import POURS, retained

    typed = [
        (job.log.latest(f"poured_{n}") or {}, job.log.latest(f"came_back_{n}") or {})
        for n in range(1, POURS + 1)
    ]
    pours = [(float(a["ml"]), float(b["ml"])) for a, b in typed if "ml" in a and "ml" in b]
    return retained(pours, recorded).to_json()


def trend_of(job: Job, vehicle: VehicleInput, recorded: RecordedJudgement = None) -> dict[str, Any]:
    """Whether the pressure noted during the hold has levelled, as plain JSON.

    ``state`` is levelled, falling or not_shown; ``level_mbar`` and its standard uncertainty
    ``u_level_mbar`` are the pressure it levels at, null while there are too few readings.
    """
    from .plateau import trend

    since = job.log.timers.get("hold_from", 0)
    points = [
        (float(p["at_ms"] - since) / 1000.0, float(p["pa"]))
        for p in job.log.every("trend")
        if p["at_ms"] >= since
    ]
    due = job.bay.run_on is RunOn.DONE
    return trend(points, vehicle.sensor_step_pa, Numbers(recorded), due).to_json()
