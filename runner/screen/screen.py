"""What a step looks like, as lines of text: built from job, step and limits alone."""

import math
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from steplatch.safety.bay import FACTS, Act, Bay, Engine, FluidIn, Gun
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import permit
from steplatch.safety.occurrences import Happening, happening_of
from steplatch.safety.registers.cautions import CAUTIONS

from ..core.conditions import applies
from ..core.events import StepKey
from ..core.job import Job, StepMark
from ..core.plan import Plan
from ..core.procedure import Procedure, Stage
from .checkers import next_visit
from .lines import lines_of
from .reasons import reason_for
from .talk import NARROW, Page, StyledLine

_KNOWN = {
    **{
        "engine": _("engine"),
        "key": _("key"),
        "starter": _("start"),
        "hose": _("hose"),
        "gun": _("gun"),
        "line": _("line"),
    },
    **{"port": _("exhaust"), "hands": _("hands"), "controls": _("controls")},
}
_LABELS = {
    "tier": _("dose"),
    "port": _("exhaust"),
    "touch": _("place of hands"),
    "rate": _("gun"),
    "sheet": _("data sheet"),
}
_STATE_WORDS = {
    ("controls", "other"): _("manned"),
    ("controls", "self"): _("manned by you"),
    ("controls", "nobody"): _("unmanned"),
    ("key", "off"): _("off, in reach"),
}
_STILL = {
    "start-soak": _("the soak runs"),
    "start-check": _("the checker has not looked"),
    "start-port-shut": _("the port is open"),
    "start-hands-clear": _("hands may be in"),
    "start-bar-off": _("a bar may be on the crank bolt"),
    "start-no-fluid-trip": _("a trip is latched"),
    "start-only-when-stopped": _("the engine is not seen standing"),
    "run-secured": _("not secured"),
    "run-fumes": _("fumes not dealt with"),
    "run-controls": _("nobody at the controls"),
    "crew-may-run": _("an apprentice alone"),
}
"""What still stands in the way of a start, in few words; the step's refusal says it in full."""


def page_of(plan: Plan, procedure: Procedure, step: Any, job: Job) -> Page:
    """What the screen of ``step`` shows, whatever is asked."""
    number, stage, place = procedure.stage_of(step.id)
    at = f"{number}/{len(procedure.stages)}"
    if procedure.role != "main":
        at = f"{procedure.title}, {at}"
    before, after = lines_of(procedure, step, job)
    shared = len(before) + 1 + len(after)
    where = (
        _("line {count} of {shared}", count=len(before) + 1, shared=shared) if shared > 1 else ""
    )
    where = where or _(
        "step {place} of {count}{left_out}",
        place=place,
        count=len(stage.steps),
        left_out=_left_out(procedure, step, job),
    )
    known, unknown = _facts(job)
    marked = frozenset(mark.key for mark in job.log.marks)
    return Page(
        step=f"{procedure.id}:{step.id}",
        place=f"{at} {stage.title}, {where}",
        short=f"{at} {where} {stage.title}" if shared > 1 else f"{at} {place} {stage.title}",
        practice=job.log.practice,
        mark="",
        stages=tuple(
            (_stage_mark(n - number, procedure, s, marked), f"{n} {s.title}")
            for n, s in enumerate(procedure.stages, start=1)
        ),
        done=_done(plan, procedure, step, job, before),
        then=tuple(str(s.do) for s in after) or _following(procedure, step, job),
        group=f"{procedure.id}:{(before or [step])[0].id}",
        shared=shared > 1,
        cautions=step.shown_cautions(job.bay.fluid_in is not FluidIn.NO),
        why=step.why or "",
        reason=reason_for(step),
        known=known,
        unknown=unknown,
        visit=next_visit(procedure, step, job),
    )


def _left_out(procedure: Procedure, step: Any, job: Job) -> str:
    """How many steps were not needed between the one done last and this one; '' for none."""
    keys = [(procedure.id, s.id) for s in procedure.steps()]
    if not job.log.marks or job.log.marks[-1].key not in keys:
        return ""
    between = keys.index((procedure.id, step.id)) - keys.index(job.log.marks[-1].key) - 1
    return _(", {between} not needed", between=between) if between > 0 else ""


def _keys(procedure: Procedure, stage: Stage) -> frozenset[StepKey]:
    return frozenset((procedure.id, step.id) for step in stage.steps)


def _stage_mark(ahead: int, procedure: Procedure, stage: Stage, marked: frozenset[StepKey]) -> str:
    """Whether a stage is to come, is worked now, is done, or was left out as not needed."""
    if ahead >= 0:
        return "to come" if ahead else "now"
    return "done" if marked & _keys(procedure, stage) else "left out"


DUE, READ = "due", "read"
"""What stands for itself as an answer: the time is over, it was read."""
LAST_DONE = 3
"""How many of the last steps a wide screen shows as done."""


def _done(
    plan: Plan, procedure: Procedure, step: Any, job: Job, before: list[Any]
) -> tuple[str, ...]:
    """The lines done on this page, else the last steps done, oldest first; where a stage begins,
    its predecessor's closing line."""
    if before:
        marks = {mark.key: mark for mark in job.log.marks}
        return tuple(done_text(plan, marks[procedure.id, line.id]) for line in before)
    last = job.log.marks[-LAST_DONE:]
    out = [done_text(plan, mark) for mark in last]
    number, _other, place = procedure.stage_of(step.id)
    if place == 1 and number > 1 and last:
        stage = procedure.stages[number - 2]
        if last[-1].key in _keys(procedure, stage):
            out.append(f"{stage.title}: {stage.done}")
    return tuple(out)


def caution_texts(cautions: tuple[str, ...]) -> list[tuple[str, str]]:
    """Signal word, and hazard, consequence and how to avoid it, of each caution."""
    known = [CAUTIONS[caution] for caution in cautions]
    return [(c.word, f"{c.hazard} {c.consequence} {c.avoid}") for c in known]


def lead_lines(
    step: Any, job: Job, width: int, working: Mapping[str, Any]
) -> tuple[StyledLine, ...]:
    """Fluid count, limit and instruction: they stand with the question."""
    out = [(text, "") for text in fluid_texts(job, width)[:1]]
    out += [
        (_("LIMIT  {text}", text=text), "")
        for text in limit_texts(step, job, width >= NARROW, working)
    ]
    return (*out, *do_lines(step))


def do_lines(step: Any, style: str = "do") -> tuple[StyledLine, ...]:
    """The instruction alone."""
    return ((_("DO     {do}", do=step.do), style),)


def foot_lines(job: Job) -> tuple[StyledLine, ...]:
    """What to do if it stalls now, or whether it may be started: with each question, once fluid
    may be in."""
    return tuple((text, "head") for text in fluid_texts(job)[1:])


def done_text(plan: Plan, mark: StepMark) -> str:
    """A step that is done, in its own words, with what was answered."""
    step, answer = plan.step(*mark.key), mark.answer
    if step is None:
        return f"{mark.step}: {answer}"
    said = spoken(answer) if answer in (DUE, READ) else answer
    if getattr(step, "fact", None) in FACTS:
        said = next((s.said for s in FACTS[step.fact] if s.value == answer), answer)
    for option in getattr(step, "options", ()):
        if option.value == answer:
            said = option.say
    if answer in {what.value for what in Happening}:
        said = happening_of(answer).said
    if getattr(step, "personal", False):
        said = _("kept apart from the record")
    return f"{step.do.rstrip('.')}: {said}"


def known_text(job: Job) -> str:
    """What is known of the vehicle now; the rest is named as not known."""
    known, unknown = _facts(job)
    if not known:
        return _("nothing of the vehicle yet")
    rest = _("; not known: {unknown}", unknown=", ".join(unknown)) if unknown else ""
    return ", ".join(f"{name} {state}" for name, state in known) + rest


def _facts(job: Job) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """What is known (name, state) and what is not (name)."""
    known, unknown = [], []
    for fact, name in _KNOWN.items():
        state = getattr(job.bay, fact)
        if state.unknown:
            unknown.append(name)
        else:
            words = _STATE_WORDS.get((fact, state.value), state.value)
            known.append((name, spoken(words)))
    return tuple(known), tuple(unknown)


def fluid_texts(job: Job, width: int = NARROW) -> list[str]:
    """The two lines that are always there once fluid may be in: the count, rounded up, with the
    limits, rounded down; and whether it may be started, or what to do if it stalls."""
    bay, limits = job.bay, job.core.limits
    if bay.fluid_in is FluidIn.NO and bay.wet == 0 and bay.gun is not Gun.OPEN:
        return []
    if bay.fluid_in is FluidIn.NO and bay.wet is None and bay.arrival.unknown:
        return []
    ledger = _("unknown mL") if bay.wet is None else f"{math.ceil(bay.wet / 10)} mL"
    strict, extended = limits.strict // 10, limits.extended // 10
    if width < NARROW:
        out = [
            _(
                "FLUID  {ledger} wet; start to {strict}, turned {extended}",
                ledger=ledger,
                strict=strict,
                extended=extended,
            )
        ]
    else:
        out = [
            _(
                "FLUID  {ledger} may be liquid. Start as it is up to {strict} mL, "
                "hand-turned up to {extended} mL.",
                ledger=ledger,
                strict=strict,
                extended=extended,
            )
        ]
    rows = permit(bay, Ask(Act.START), limits)
    if bay.engine in (Engine.IDLING, Engine.RAISED):
        stalls = (
            _("do not crank") if bay.wet is None or bay.wet > limits.strict else _("soak first")
        )
        out.append(_("IF IT STALLS NOW: gun shut, {stalls}.", stalls=stalls))
    elif bay.engine is Engine.UNKNOWN:
        out.append(_("MAY I START? Not known: look at the engine, do not crank."))
    elif "start-ledger" in {r.interlock for r in rows}:
        out.append(_("MAY I START? No: do not crank."))
    elif rows:
        missing = ", ".join(_STILL.get(r.interlock, r.interlock) for r in rows)
        out.append(_("MAY I START? Not yet: {missing}.", missing=missing))
    else:
        out.append(_("MAY I START? Yes, when the step for it comes."))
    return out


def limit_texts(
    step: Any, job: Job, sources: bool = True, working: Mapping[str, Any] | None = None
) -> list[str]:
    """The limits that this step stands under: number, unit, and (``sources``) where it comes
    from; the help always says where from."""

    def source(name: str, fallback: str = _("worked limit")) -> str:
        worked = (working or {}).get(name)
        return f" ({worked['source'] if worked else fallback})" if sources else ""

    return list(step.limit_lines(job, source)) if job.log.numbers else []


def card_lines(job: Job, width: int) -> list[StyledLine]:
    """The card for the state the job was stopped in. Gun shut first, always."""
    bay, limits = job.bay, job.core.limits
    out: list[StyledLine] = [("", ""), (_(" HELD. Gun shut first."), "DANGER")]
    running = bay.engine in (Engine.IDLING, Engine.RAISED)
    wet = bay.wet is None or bay.wet > 0
    if bay.engine is Engine.UNKNOWN:
        out.append((_("Look whether the engine runs. Do not crank."), "do"))
    elif running and wet and bay.fluid_in is not FluidIn.NO:
        out.append((_("Leave it at idle, somebody at the controls."), "do"))
        out.append((_("Fire, fumes or an injury: engine off at once. The fluid count stands."), ""))
    elif running:
        out.append((_("Let it idle, or switch it off."), "do"))
    elif bay.wet is None or bay.wet > limits.strict:
        out.append((_("Do not crank: fluid may be in."), "do"))
    else:
        out.append((_("It may stand as it is. Key away."), "do"))
    out += [(line, "") for text in fluid_texts(job, width)[:1] for line in _wrap(text, width)]
    return out


def read_back_words(job: Job, fact: str) -> str:
    """A fact as it is read back before a signature, with the numbers that it was typed from."""
    gun, exhaust = job.log.latest("gun"), job.log.latest("exhaust")
    said = fact_words(job.bay, fact)
    if fact == "rate" and gun is not None and not job.bay.rate.unknown:
        typed = (
            f"{' '.join(map(str, gun['shots_ml']))} mL in {gun['seconds']} s"
            if gun.get("shots_ml")
            else f"loaded {gun.get('volume_ml')} mL"
        )
        return f"{said} ({typed})"
    if fact == "port" and exhaust is not None and not job.bay.port.unknown:
        return f"{said} ({exhaust['typed']})"
    return said


def fact_words(bay: Bay, fact: str) -> str:
    """A fact and its state as they are read back before a signature."""
    if fact == "wet":
        return _("fluid: ") + (
            _("NOT KNOWN how much")
            if bay.wet is None
            else _("{wet:.1f} mL may be liquid", wet=bay.wet / 10)
        )
    state = getattr(bay, fact)
    return f"{_LABELS.get(fact, spoken(fact))}: {state.said}"


def state_words(fact: str) -> Iterator[tuple[str, str]]:
    """Every state of a fact but unknown: its name and what a person says."""
    for state in FACTS[fact]:
        if not state.unknown:
            yield state.value, state.said


def _following(procedure: Procedure, step: Any, job: Job) -> tuple[str, ...]:
    """The next step that is not left out as things stand; none at the end."""
    after = procedure.steps()[procedure.place(step.id) + 1 :]
    return tuple(str(s.do) for s in after if applies(job, s) is not False)[:1]


def _wrap(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent="       ") or [""]
