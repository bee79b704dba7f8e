"""What a step looks like, as lines of text: built from job, step and limits alone."""

import textwrap
from collections.abc import Iterator
from typing import Any

from runner.job import Job
from runner.procedure import (
    ActStep,
    HoldStep,
    Procedure,
    ReadStep,
    SprayStep,
    TemperatureStep,
    WaitStep,
)
from runner.quantities import format_si
from safety.bay import FACTS, Act, Engine, FluidIn, Gun, Rate, Tier
from safety.cautions import CAUTIONS
from safety.interlocks import Ask
from safety.kernel import permit
from safety.limits.burst import burst

Line = tuple[str, str]
"""A line of text and the name of its style ('' for none)."""

_KNOWN = ("engine", "key", "hose", "gun", "line", "port", "hands", "controls")
_SHORT = {"port": "exhaust"}


def step_lines(procedure: Procedure, step: Any, job: Job, job_id: str, width: int) -> list[Line]:
    """The whole screen of a step, wrapped to ``width``: what is needed most stands last, next to
    the place to type, so that on a small screen it is what remains."""
    out: list[Line] = []
    number, stage, place = procedure.stage_of(step.id)
    mark = "PRACTICE  " if job.log.practice else ""
    out.append(("", ""))
    out.append((f"{mark}{number} {stage.title}: step {place} of {len(stage.steps)}", "head"))
    out.append((_fit(f"{procedure.title}, job {job_id}", width), ""))
    if job.log.marks:
        last = job.log.marks[-1]
        out.append((_fit(f"last done: {last.step}: {last.answer}", width), ""))
    following = _following(procedure, step)
    if following:
        out.append((_fit(f"then: {following}", width), ""))
    for caution in step.cautions:
        known = CAUTIONS[caution]
        text = f" {known.word} {known.hazard} {known.consequence} {known.avoid}"
        out += [(line, known.word) for line in _wrap(text, width)]
    if step.why:
        out += [(line, "") for line in _wrap(f"WHY    {step.why}", width)]
    out += [(line, "") for line in _wrap(f"KNOWN  {known_text(job)}", width)]
    for text in fluid_texts(job):
        out += [(line, "head") for line in _wrap(text, width)]
    for text in limit_texts(step, job):
        out += [(line, "") for line in _wrap(f"LIMIT  {text}", width)]
    out += [(line, "do") for line in _wrap(f"DO     {step.do}", width)]
    return out


def known_text(job: Job) -> str:
    """What is known of the vehicle now, and what is not."""
    parts = []
    for fact in _KNOWN:
        state = getattr(job.bay, fact)
        parts.append(f"{_SHORT.get(fact, fact)} {'?' if state.unknown else state.value}")
    return ", ".join(parts) + "   (? = not known)"


def fluid_texts(job: Job) -> list[str]:
    """The two lines that are always there once fluid may be in."""
    bay, limits = job.bay, job.core.limits
    if bay.fluid_in is FluidIn.NO and bay.wet == 0 and bay.gun is not Gun.OPEN:
        return []
    if bay.fluid_in is FluidIn.NO and bay.wet is None and bay.arrival.unknown:
        return []
    ledger = "unknown" if bay.wet is None else f"{bay.wet / 10:.1f} mL"
    out = [
        f"FLUID  counted as still liquid: {ledger} (start as it is up to "
        f"{limits.strict / 10:.1f}, after the hand-turn up to {limits.extended / 10:.1f} mL; "
        "worked limits)"
    ]
    rows = {r.interlock for r in permit(bay, Ask(Act.START), limits)}
    if bay.engine in (Engine.IDLING, Engine.RAISED):
        stalls = "do not crank" if bay.wet is None or bay.wet > limits.strict else "soak first"
        out.append(f"IF IT STALLS NOW: gun shut, {stalls}.")
    elif "start-ledger" in rows:
        out.append("MAY I START? No: do not crank.")
    elif rows:
        out.append(f"MAY I START? Not yet: {', '.join(sorted(rows))}.")
    else:
        out.append("MAY I START? Yes, when the step for it comes.")
    return out


def limit_texts(step: Any, job: Job) -> list[str]:
    """The limits that this step stands under: number, unit, where it comes from."""
    log = job.log
    if not log.numbers:
        return []

    def source(name: str) -> str:
        worked = log.working.get(name)
        return str(worked["source"]) if worked else "worked limit"

    match step:
        case TemperatureStep():
            key = "exhaust_engine_off" if step.want == ("cool",) else "exhaust_running"
            name = "port_cool_k" if step.want == ("cool",) else "port_warm_k"
            limit = format_si(log.number(name), "temperature", rounding="down")
            return [f"at most {limit} ({source(key)})"]
        case ActStep(act=Act.RAISE):
            return [_band(job, source("rev_ceiling"))]
        case ReadStep(condition="raised"):
            return [_band(job, source("rev_ceiling"))]
        case ReadStep(condition="zero"):
            low, high = log.number("zero_low_pa") / 100, log.number("zero_high_pa") / 100
            return [f"zero {low:+.0f} to {high:+.0f} mbar (common practice, no source)"]
        case WaitStep(timer="soak"):
            return [f"soak at least {log.number('soak_s'):.0f} s ({source('soak')})"]
        case WaitStep():
            return [f"{log.number('zero_wait_s'):.0f} s (common practice, no source)"]
        case SprayStep():
            return [_spray_limit(step, job, source)]
        case HoldStep():
            dried = f"dried as long as the heat balance asks ({_drying_text(job)}; worked limit)"
            if job.bay.engine is not Engine.RAISED:
                return [dried]
            return [f"pressure level, and {dried}", _band(job, source("rev_ceiling"))]
    return []


def _band(job: Job, source: str) -> str:
    n = job.log.number
    return (
        f"{n('revs_low_rpm'):.0f} to {n('revs_high_rpm'):.0f} 1/min; never over "
        f"{n('rev_ceiling_rpm'):.0f} ({source})"
    )


def _drying_text(job: Job) -> str:
    wet = job.bay.wet
    if wet is None:
        return "ledger unknown: as for a full bottle"
    speed = "raised" if job.bay.engine is Engine.RAISED else "idle"
    seconds = wet / 10 * job.log.number(f"drying_{speed}_s_per_ml")
    return f"{wet / 10:.0f} mL: {seconds / 60:.1f} min at {speed} revs"


def spray_cap_dml(step: SprayStep, job: Job) -> int:
    """The limit that a spray of this kind stands under, in 0.1 mL."""
    limits = job.core.limits
    if step.engine == "running":
        return limits.running
    return {Tier.STRICT: limits.strict, Tier.EXTENDED: limits.extended}.get(job.bay.tier, 0)


def spray_advice(step: SprayStep, job: Job) -> str:
    """How long to spray, or how much to load, from rate, ledger and limit."""
    gun, bay = job.log.latest("gun"), job.bay
    room_dml = spray_cap_dml(step, job) - (bay.wet or 0)
    if bay.rate is Rate.LOADED and gun is not None:
        return f"loaded {float(gun['volume_ml']):.0f} mL: spray until empty"
    if bay.rate is not Rate.MEASURED or gun is None or gun["basis"] != "rate":
        return f"no rate: load at most {max(0, room_dml) // 10} mL"
    seconds = float(gun["seconds"])
    rates = tuple(float(v) * 1e-6 / seconds for v in gun["shots_ml"])
    worked = burst(
        spray_cap_dml(step, job) * 1e-7, (bay.wet or 0) * 1e-7, rates, float(gun["reaction_s"])
    )
    return worked.advice()


def spray_seconds(step: SprayStep, job: Job) -> int:
    """The longest permitted burst in whole seconds; 0 when it is too short to time."""
    advice = spray_advice(step, job)
    head = advice.split(" ", 1)
    return int(head[0]) if len(head) == 2 and head[0].isdigit() else 0


def _spray_limit(step: SprayStep, job: Job, source: Any) -> str:
    key = "running_dose" if step.engine == "running" else f"dose_{job.bay.tier.value}"
    kind = "running dose" if step.engine == "running" else f"{job.bay.tier.value} limit"
    cap = spray_cap_dml(step, job) / 10
    return f"{kind} {cap:.1f} mL ({source(key)}): {spray_advice(step, job)}"


def card_lines(job: Job) -> list[Line]:
    """The card for the state the job was stopped in. Gun shut first, always."""
    bay, limits = job.bay, job.core.limits
    out: list[Line] = [("", ""), ("HELD. Gun shut first.", "DANGER")]
    running = bay.engine in (Engine.IDLING, Engine.RAISED)
    wet = bay.wet is None or bay.wet > 0
    if bay.engine is Engine.UNKNOWN:
        out.append(("Look whether the engine runs. Do not crank.", "do"))
    elif running and wet and bay.fluid_in is not FluidIn.NO:
        out.append(("Leave it at idle, somebody at the controls.", "do"))
        out.append(("Fire, fumes or an injury: engine off at once. The fluid count stands.", ""))
    elif running:
        out.append(("Let it idle, or switch it off.", "do"))
    elif bay.wet is None or bay.wet > limits.strict:
        out.append(("Do not crank: fluid may be in.", "do"))
    else:
        out.append(("It may stand as it is. Key away.", "do"))
    out += [(text, "head") for text in fluid_texts(job)]
    return out


def state_words(fact: str) -> Iterator[tuple[str, str]]:
    """Every state of a fact but unknown: its name and what a person says."""
    for state in FACTS[fact]:
        if not state.unknown:
            yield state.value, state.said


def _following(procedure: Procedure, step: Any) -> str:
    steps = procedure.steps()
    at = [s.id for s in steps].index(step.id)
    return str(steps[at + 1].do) if at + 1 < len(steps) else ""


def _wrap(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent="       ") or [""]


def _fit(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"
