"""The judgements of a job: what the log holds, handed to ``runner.assess``, as plain JSON.

Pure: the same job gives the same judgement, so that an audit can decide it again. The heavy
libraries behind the sums are imported where they are used.
"""

import json
import re
from typing import Any

from runner.engine import Judges
from runner.job import Job
from runner.readings.model import ReadingSet
from safety.bay import Engine, FluidIn, Line, Port, RunOn
from safety.limits.inputs import Vehicle, Workshop

_CODE = re.compile(r"\b[PBCU][0-9A-F]{4}\b")
_STATES = {
    "go": "go",
    "go_with_warning": "warn",
    "dont": "dont",
    "nothing_to_clean": "nothing",
}
_NUMBERS = {"distance": ("distance_km", "km"), "age": ("age_years", "years")}


def make_judges(vehicle: Vehicle, workshop: Workshop) -> Judges:
    """The judges for one vehicle in one workshop."""
    return Judges(
        triage=lambda job, recorded=None: triage_of(job, vehicle, workshop),
        verdict=lambda job, recorded=None: verdict_of(job, vehicle, workshop),
        trend=lambda job, recorded=None: trend_of(job, vehicle),
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
    from runner.assess.facts import choice_domains

    domains = choice_domains()
    facts: dict[str, Any] = {
        name: value for name, value in job.core.choices if value in domains.get(name, ())
    }
    bay = job.bay
    if bay.burning.value in ("no", "yes"):
        facts["burning"] = bay.burning.value
    elif _cooled_since_it_stopped(job):
        facts["burning"] = "no"
    if bay.run_on is RunOn.DONE or bay.fluid_in is FluidIn.NO:
        facts["filter_dry"] = "yes"
    if bay.line is Line.CLEAR:
        facts["hose_clear"] = "yes"
    plateau = job.log.latest("plateau")
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


def triage_of(job: Job, vehicle: Vehicle, workshop: Workshop) -> dict[str, Any]:
    """Triage as plain JSON; ``state`` is a state of the fact 'triage'."""
    from runner.assess.triage import triage

    result = triage(sets_of(job, "before"), vehicle, workshop, facts_of(job))
    return plain_json(result.to_json()) | {
        "state": _STATES[result.decision],
        "lines": list(result.lines()),
    }


def verdict_of(job: Job, vehicle: Vehicle, workshop: Workshop) -> dict[str, Any]:
    """The verdict as plain JSON: ``Verdict`` with numbers as text, ``state`` and ``lines``.

    Raises ``BadFact`` on an answer that the procedure should not allow.
    """
    from runner.assess.judge import judge

    road = sets_of(job, "road")
    result = judge(
        sets_of(job, "before"),
        sets_of(job, "after"),
        road or None,
        vehicle,
        workshop,
        facts_of(job),
    )
    return plain_json(result.to_json()) | {"state": result.id, "lines": list(result.lines())}


def trend_of(job: Job, vehicle: Vehicle) -> dict[str, Any]:
    """Whether the pressure noted during the hold has levelled, as plain JSON.

    ``state`` is levelled, falling or cannot_tell; ``level_pa`` and its standard uncertainty
    ``u_level_pa`` are the pressure it levels at (Pa, as text), null while it cannot be told.
    """
    from runner.assess.plateau import trend

    since = job.log.timers.get("hold_from", 0)
    points = [
        (float(p["at_ms"] - since) / 1000.0, float(p["pa"]))
        for p in job.log.every("trend")
        if p["at_ms"] >= since
    ]
    result = trend(points, vehicle.sensor_step_pa)
    return {
        "state": result.state.replace(" yet", "").replace(" ", "_"),
        "text": result.text(),
        "why": result.why,
        "minutes_to_go": _text(result.minutes_to_go),
        "level_pa": _text(result.level_pa),
        "u_level_pa": _text(result.u_level_pa),
    }


def _text(number: float | None) -> str | None:
    return None if number is None else repr(number)


def plain_json(value: dict[str, Any]) -> dict[str, Any]:
    """Numbers as text, sets as lists: what the journal may hold and give back unchanged."""

    def walk(item: Any) -> Any:
        if isinstance(item, dict):
            return {str(k): walk(v) for k, v in item.items()}
        if isinstance(item, list | tuple):
            return [walk(v) for v in item]
        if isinstance(item, set | frozenset):
            return sorted(walk(v) for v in item)
        if isinstance(item, float):
            return repr(item)
        return item

    walked: dict[str, Any] = json.loads(json.dumps(walk(value)))
    return walked
