"""The second half of ``decide``: what beginning, answering and signing each kind of step does.

``classify`` is where numbers become classes; ``Core`` never sees a number.
"""

import math
from typing import Any

from runner.commands import Answer, Begin, Look, Report, Sign
from runner.engine import Draft, No, Undecided, applies, refuse
from runner.gun_entry import LARGEST_ML, GunShots, counted_dml, parse_gun, parse_seconds
from runner.job import Begun, Done, Ended, Event, Moved, Recorded, Signed, TimerSet
from runner.procedure import (
    HERE,
    ActStep,
    AskStep,
    EndStep,
    GunStep,
    HoldStep,
    JudgeStep,
    LookStep,
    ReadStep,
    ReportStep,
    ResetStep,
    SignStep,
    SprayStep,
    TemperatureStep,
    WaitStep,
)
from runner.quantities import BadQuantity, echo, parse_number, parse_quantity
from runner.readings.entry import parse_set
from runner.readings.model import BadReading, ReadingSet
from safety.bay import (
    FACTS,
    SPRAYS,
    Act,
    Burning,
    Check,
    Crew,
    Engine,
    FluidIn,
    HandTurn,
    Port,
    Rate,
    RunOn,
    Soak,
    Tag,
    Trip,
    Zero,
    state_of,
)
from safety.happenings import OUTCOMES, Happening, happening_of
from safety.interlocks import Ask
from safety.kernel import LOOKED_AT, Granted, Happened, ResetDone, Seen, permit

H = Happening

REPORTABLE = frozenset(Happening) - {
    *(H.SOAK_BEGUN, H.SOAK_DUE, H.RUN_ON_BEGUN, H.RUN_ON_DUE, H.TURN_SEEN, H.LOOKED_DRY),
    *(H.ZERO_GOOD, H.ZERO_OUT, H.BEFORE_GOOD, H.BEFORE_PARTIAL, H.AFTER_GOOD, H.AFTER_PARTIAL),
    *(H.RECOVERED, H.INTERRUPTED, H.RATE_MEASURED, H.GUN_LOADED, H.DRAINED),
}
"""What a person may report at any time. The rest is made by the tool from readings, timers,
signatures, or belongs to a step that asks for more than a word."""

ROLE_RANK = {"apprentice": 0, "technician": 1, "supervisor": 2}
CUSTOMER = "customer"
MAX_YEARS = 60
LEAST_TEXT = 2
_BURNING = {Burning.YES: True, Burning.NO: False}
_ZERO_WAIT = "zero"


def work(draft: Draft, command: Begin | Answer | Sign) -> None:
    """Begin, answer or sign the current step."""
    step = draft.step
    match command:
        case Begin():
            answer = applies(draft.job, step)
            if isinstance(answer, Undecided):
                raise undecided(step.id, answer.fact)
            if answer:
                _begin(draft, step, command)
            else:
                draft.move_on()
        case Answer():
            value = command.value.strip()
            if isinstance(step, SprayStep) and not draft.job.core.begun:
                _between_sprays(draft, step, value)
                return
            if not draft.job.core.begun:
                raise refuse("two-marks", "This step was not begun.", "Begin it first.")
            _answer(draft, step, value)
        case Sign():
            _sign(draft, step, command.person)


def undecided(step: str, fact: str) -> No:
    """The refusal of a step of which nobody can say whether it applies."""
    if fact in FACTS:
        return refuse(
            "branch-unknown",
            f"Whether step '{step}' applies depends on '{fact}', which is not known.",
            f"Look again and say the state of '{fact}', or go back to the step that settles it.",
        )
    return refuse(
        "branch-unknown",
        f"Whether step '{step}' applies depends on the answer '{fact}', which was not given.",
        "Go back to that step and answer it.",
    )


def look(draft: Draft, command: Look) -> None:
    """A person looked and says what a fact is. Never refused for what it says."""
    if command.fact not in LOOKED_AT:
        raise refuse(
            "not-by-looking",
            f"'{command.fact}' cannot be settled by looking.",
            "It follows from a step of its own.",
        )
    try:
        state = state_of(command.fact, command.state)
    except ValueError as error:
        raise refuse("answer", str(error), "Choose one of the states shown.") from None
    core = draft.job.core
    step = draft.step
    draft.add(Seen(command.fact, state))
    if (
        isinstance(step, LookStep)
        and step.fact == command.fact
        and core.begun
        and not core.held
        and command.state in step.want
        and draft.job.core.step == step.id
    ):
        _done(draft, step, command.state)


def report(draft: Draft, command: Report) -> None:
    """Something happened. Never refused; an unexpected one trips."""
    try:
        what = happening_of(command.what)
    except ValueError:
        raise refuse("answer", f"{command.what!r} is no report.", "Choose one shown.") from None
    if what not in REPORTABLE:
        raise refuse(
            "not-a-report", f"'{what.value}' belongs to a step of its own.", "Work that step."
        )
    bay, core, step = draft.job.bay, draft.job.core, draft.step
    was = bay.permit
    draft.add(Happened(what, _amount(draft, what, command)))
    if was in SPRAYS:
        draft.add(
            Recorded(
                "spray",
                {
                    "act": was.value,
                    "what": what.value,
                    "seconds": command.seconds,
                    "reserved_dml": bay.reserved,
                    "wet_dml": draft.job.bay.wet,
                },
                step.id,
            )
        )
    if draft.job.core.step != step.id or not core.begun or was is None:
        return
    if what not in OUTCOMES[was]:
        return
    if isinstance(step, ActStep | SprayStep | EndStep) and what is OUTCOMES[was][0]:
        if isinstance(step, SprayStep) and step.engine == "running":
            draft.add(Moved(step.id, draft.procedure.id, "again"))
        elif isinstance(step, EndStep):
            draft.add(Done(step.id, what.value, draft.by), Ended(step.how))
        else:
            _done(draft, step, what.value)
    elif not draft.job.bay.trips:
        draft.add(Moved(step.id, draft.procedure.id, "again"))


def _amount(draft: Draft, what: Happening, command: Report) -> int | None:
    """The volume that belongs to a report, in 0.1 mL; None when nobody knows it."""
    bay = draft.job.bay
    if what is H.OVERDOSED:
        return None
    if bay.permit not in SPRAYS or what is H.SPRAY_NONE:
        return 0
    if what not in (H.SPRAY_ENDED, H.SPRAY_SAGGED, H.STALLED):
        return 0
    if bay.rate is Rate.LOADED:
        return bay.reserved
    if command.seconds in ("", "?"):
        return None
    try:
        seconds = parse_seconds(command.seconds)
    except No:
        if what is H.STALLED:
            return None  # a stall is taken at once; a number that cannot be read counts as unknown
        raise
    return counted_dml(draft.job.log.latest("gun"), seconds)


# -- the first mark ----------------------------------------------------------------------------


def _begin(draft: Draft, step: Any, command: Begin) -> None:
    if draft.job.bay.permit is not None:
        draft.lapse_permit()
    begun = Begun(step.id)
    match step:
        case ActStep():
            _grant(draft, Ask(step.act, band_under_ceiling=_band_ok(draft)), begun)
        case SprayStep():
            act = Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING
            _grant(draft, Ask(act, dose=_dose(draft, command.seconds)), begun)
        case GunStep():
            _grant(draft, Ask(Act.FILL_GUN), begun)
        case EndStep():
            act = Act.HAND_OVER if step.how == "finished" else Act.ABANDON
            if act is Act.ABANDON:
                _notice_signed(draft)
            _grant(draft, Ask(act), begun)
        case ReadStep():
            _begin_reading(draft, step, begun)
        case HoldStep():
            _grant(draft, Ask(Act.RUN_ON), begun)
            draft.add(
                Happened(H.RUN_ON_BEGUN),
                _timer(draft, "run_on", _drying_s(draft)),
                TimerSet("hold_from", draft.job.log.aged_ms),
            )
        case WaitStep(timer="soak"):
            if draft.job.bay.soak is Soak.UNKNOWN:
                draft.add(
                    begun,
                    Happened(H.SOAK_BEGUN),
                    _timer(draft, "soak", draft.job.log.number("soak_s")),
                )
            else:
                draft.add(begun)
        case WaitStep():
            seconds = draft.job.log.number("zero_wait_s")
            draft.add(begun, _timer(draft, _ZERO_WAIT, seconds))
        case JudgeStep():
            _judge(draft, step, begun)
        case _:
            draft.add(begun)


def _notice_signed(draft: Draft) -> None:
    """With the DO NOT START notice in use, who receives the vehicle must have signed it."""
    steps = {step.id for step in draft.procedure.steps()}
    signed = any(s.meaning == "received" and s.step in steps for s in draft.job.log.signatures)
    if draft.job.bay.tag is Tag.DO_NOT_START and not signed:
        raise refuse(
            "notice-not-signed",
            "The DO NOT START notice was not signed by who receives the vehicle.",
            "Go back to the tag, choose the notice, and have the receiver sign it.",
        )


def _grant(draft: Draft, ask: Ask, begun: Event) -> None:
    refusals = permit(draft.job.bay, ask, draft.job.core.limits)
    if refusals:
        raise No(*refusals)
    draft.add(begun, Granted(ask.act, ask.dose))


def _begin_reading(draft: Draft, step: ReadStep, begun: Event) -> None:
    act = Act.READ_BEFORE if step.phase == "before" else Act.READ_AFTER
    refusals = permit(draft.job.bay, Ask(act), draft.job.core.limits)
    if step.condition == "zero":
        refusals += permit(draft.job.bay, Ask(Act.READ_ZERO), draft.job.core.limits)
        act = Act.READ_ZERO
    else:
        want = Engine.RAISED if step.condition == "raised" else Engine.IDLING
        if draft.job.bay.engine is not want:
            raise refuse(
                "reading-condition",
                f"This set is read with the engine {step.condition}; it is known to be "
                f"{draft.job.bay.engine.value}.",
                "Bring the engine there first.",
            )
    unique = {r.interlock: r for r in refusals}
    if unique:
        raise No(*unique.values())
    draft.add(begun, Granted(act))


def _band_ok(draft: Draft) -> bool:
    numbers = draft.job.log.numbers
    if "revs_high_rpm" not in numbers:
        return False
    return float(numbers["revs_high_rpm"]) <= float(numbers["rev_ceiling_rpm"])


def _dose(draft: Draft, seconds: str) -> int:
    gun = draft.job.log.latest("gun")
    if gun is None or draft.job.bay.rate is Rate.UNKNOWN:
        return 1
    if gun["basis"] == "loaded":
        return counted_dml(gun, 0.0)
    return counted_dml(gun, parse_seconds(seconds))


def _timer(draft: Draft, name: str, seconds: float) -> TimerSet:
    return TimerSet(name, draft.job.log.waited_ms + math.ceil(seconds * 1000))


def _drying_s(draft: Draft) -> float:
    """How long the drying run must be: by the ledger, or by all that was filled when unknown."""
    log, bay = draft.job.log, draft.job.bay
    wet_ml = bay.wet / 10 if bay.wet is not None else log.number("bottle_ml")
    if bay.fluid_in is FluidIn.NO:
        wet_ml = 0.0
    speed = "raised" if bay.engine is Engine.RAISED else "idle"
    return wet_ml * log.number(f"drying_{speed}_s_per_ml")


def _judge(draft: Draft, step: JudgeStep, begun: Event) -> None:
    judges = draft.plan.judges
    if step.what == "triage":
        result = judges.triage(draft.job)
        draft.add(begun, Recorded("triage", result, step.id))
        draft.add(Seen("triage", state_of("triage", result["state"])))
    else:
        draft.add(begun, Recorded("verdict", judges.verdict(draft.job), step.id))


# -- the second mark ---------------------------------------------------------------------------


def _answer(draft: Draft, step: Any, value: str) -> None:
    if not value:
        raise refuse("answer", "An empty answer is no answer.", "Type what you see.")
    match step:
        case AskStep():
            draft.add(Recorded(step.name, _asked(step, value), step.id))
            _done(draft, step, value)
        case ReadStep():
            _reading(draft, step, value)
        case TemperatureStep():
            _temperature(draft, step, value)
        case GunStep():
            _fill(draft, step, value)
            _done(draft, step, value)
        case SprayStep():
            raise refuse("answer", "The spray was begun.", "Report how it ended.")
        case WaitStep():
            _waited(draft, step)
        case HoldStep():
            _hold(draft, step, value)
        case JudgeStep():
            if value != "read":
                raise refuse("answer", f"{value!r} is no answer here.", "Type 'read'.")
            _done(draft, step, value)
        case ReportStep():
            _observed(draft, step, value)
        case _:
            raise refuse("answer", "This step is not answered by a word.", "Do what it says.")


def _between_sprays(draft: Draft, step: SprayStep, value: str) -> None:
    """Between sprays: end the dose, or fill and measure (or load) the gun again.

    An engine-off burst ends by its report; 'done' is for one that was cut off by a stop or an
    interruption, where fluid is in and no further burst may be wanted or allowed.
    """
    if value == "done" and (step.engine == "running" or draft.job.bay.fluid_in is FluidIn.YES):
        _done(draft, step, value)
        return
    if value == "done":
        raise refuse(
            "dose-not-in",
            "No engine-off burst has gone in.",
            "Spray it, or go back and choose no engine-off dose.",
        )
    refusals = permit(draft.job.bay, Ask(Act.FILL_GUN), draft.job.core.limits)
    if refusals:
        raise No(*refusals)
    draft.add(Granted(Act.FILL_GUN))
    _fill(draft, step, value)


def _asked(step: AskStep, value: str) -> dict[str, Any]:
    if step.form == "choice":
        known = [option.value for option in step.options]
        if value not in known:
            raise refuse("answer", f"{value!r} is none of the answers.", " / ".join(known))
        return {"choice": value}
    if step.form == "text":
        if len(value) < LEAST_TEXT:
            raise refuse("answer", f"{value!r} is too short to be an answer.", "Type it in words.")
        return {"text": value}
    if step.quantity == "years":
        return _years(value)
    try:
        quantity = parse_quantity(value, step.quantity or "")
        low = None if step.low is None else parse_quantity(step.low, step.quantity or "")
        high = None if step.high is None else parse_quantity(step.high, step.quantity or "")
    except BadQuantity as bad:
        raise refuse("number", bad.problem, bad.remedy) from None
    if (low and quantity.si_value < low.si_value) or (high and quantity.si_value > high.si_value):
        raise refuse(
            "band", f"{value} lies outside {step.low} to {step.high}.", "Look again; type it anew."
        )
    return {"typed": value, "si": repr(quantity.si_value), "echo": echo(quantity)}


def _years(value: str) -> dict[str, Any]:
    try:
        years = float(parse_number(value))
    except BadQuantity as bad:
        raise refuse("number", bad.problem, bad.remedy) from None
    if not 0 <= years <= MAX_YEARS:
        raise refuse("band", f"{value} years cannot be.", f"Type 0 to {MAX_YEARS}.")
    return {"typed": value, "si": repr(years), "echo": f"{value} years"}


def _reading(draft: Draft, step: ReadStep, value: str) -> None:
    at = draft.job.log.last
    try:
        got = parse_set(
            value,
            step.condition,
            step.phase,
            line_name=str((draft.job.log.latest("line_name") or {}).get("text", "")),
            burning=_BURNING.get(draft.job.bay.burning),
            cylinders=_cylinders(draft),
            taken_at=at.utc if at else "",
            by=draft.by,
        )
    except BadReading as bad:
        raise refuse("reading", f"{bad}", "Type the line again, x for what is not shown.") from None
    draft.add(Recorded("reading", got.to_json(), step.id))
    if step.condition == "zero":
        draft.add(Happened(H.ZERO_GOOD if _zero_in_band(draft, got) else H.ZERO_OUT))
        act = Act.READ_BEFORE if step.phase == "before" else Act.READ_AFTER
        if permit(draft.job.bay, Ask(act), draft.job.core.limits) == ():
            draft.add(Granted(act), Happened(_evidence(draft, step.phase)))
    else:
        draft.add(Happened(H.BEFORE_PARTIAL if step.phase == "before" else H.AFTER_PARTIAL))
        ceiling = draft.job.log.number("rev_ceiling_rpm")
        if got.speed_rpm is not None and got.speed_rpm > ceiling:
            draft.add(Happened(H.OVER_CEILING))
            return
    _done(draft, step, value)


def _cylinders(draft: Draft) -> int | None:
    """How many cylinders, for air in mg/stroke; None in a job recorded before they were kept."""
    numbers = draft.job.log.numbers
    return int(float(numbers["cylinders"])) if "cylinders" in numbers else None


def _zero_in_band(draft: Draft, got: ReadingSet) -> bool:
    log = draft.job.log
    if got.pressure_pa is None:
        return False
    return log.number("zero_low_pa") <= got.pressure_pa <= log.number("zero_high_pa")


def _evidence(draft: Draft, phase: str) -> Happening:
    """Whether the phase's three sets are there, with pressure, warm, zero in band."""
    latest: dict[str, ReadingSet] = {}
    for plain in draft.job.log.every("reading"):
        got = ReadingSet.from_json(plain)
        if got.phase == phase:
            latest[got.condition] = got
    full = (
        set(latest) == {"raised", "idle", "zero"}
        and all(s.pressure_pa is not None for s in latest.values())
        and draft.job.bay.zero is Zero.GOOD
    )
    if phase == "before":
        return H.BEFORE_GOOD if full else H.BEFORE_PARTIAL
    return H.AFTER_GOOD if full else H.AFTER_PARTIAL


def _temperature(draft: Draft, step: TemperatureStep, value: str) -> None:
    try:
        quantity = parse_quantity(value if _has_unit(value) else f"{value} degC", "temperature")
    except BadQuantity as bad:
        raise refuse("number", bad.problem, bad.remedy) from None
    log = draft.job.log
    if quantity.si_value <= log.number("port_cool_k"):
        port = Port.COOL
    elif quantity.si_value <= log.number("port_warm_k"):
        port = Port.WARM
    else:
        port = Port.HOT
    draft.add(
        Recorded(
            "exhaust",
            {"typed": value, "si": repr(quantity.si_value), "at_ms": log.aged_ms,
             "class": port.value},
            step.id,
        ),
        Seen("port", port),
    )  # fmt: skip
    if port.value in step.want:
        _done(draft, step, value)


def _has_unit(value: str) -> bool:
    return any(letter.isalpha() or letter == "°" for letter in value)


def _fill(draft: Draft, step: Any, value: str) -> None:
    gun = parse_gun(value, draft.job.log.number("reaction_s"))
    if isinstance(gun, str):
        raise refuse("gun", gun, "For instance '19 20 21 mL in 5 s', or 'loaded 14 mL'.")
    draft.add(Recorded("gun", gun.to_json(), step.id))
    draft.add(Happened(H.RATE_MEASURED if isinstance(gun, GunShots) else H.GUN_LOADED))


def _waited(draft: Draft, step: WaitStep) -> None:
    log = draft.job.log
    left_ms = log.timers.get(step.timer, 0) - log.waited_ms
    over = draft.job.bay.soak is Soak.DUE if step.timer == "soak" else left_ms <= 0
    if not over:
        raise refuse(
            "not-due",
            f"The wait is not over: {math.ceil(max(left_ms, 0) / 1000)} s are left.",
            "Wait; it cannot be hurried.",
        )
    _done(draft, step, "due")


def _hold(draft: Draft, step: HoldStep, value: str) -> None:
    log = draft.job.log
    if value != "done":
        try:
            quantity = parse_quantity(value if _has_unit(value) else f"{value} mbar", "pressure")
        except BadQuantity as bad:
            raise refuse("number", bad.problem, bad.remedy) from None
        draft.add(
            Recorded(
                "trend",
                {"at_ms": log.aged_ms, "typed": value, "si": repr(quantity.si_value)},
                step.id,
            )
        )
        return
    if draft.job.bay.run_on is not RunOn.DONE:
        left_ms = log.timers.get("run_on", 0) - log.waited_ms
        raise refuse(
            "not-dry",
            f"Drying is not over: {math.ceil(max(left_ms, 0) / 1000)} s are left."
            if draft.job.bay.run_on is RunOn.RUNNING
            else "Drying was cut short: the engine changed its speed or stopped.",
            "Keep it running; it cannot be hurried."
            if draft.job.bay.run_on is RunOn.RUNNING
            else "Begin the drying run again.",
        )
    trend = draft.plan.judges.trend(draft.job)
    if trend["state"] == "falling":
        raise refuse("still-falling", trend["text"], "Keep holding; note the pressure each minute.")
    draft.add(Recorded("plateau", trend, step.id))
    _done(draft, step, value)


def _observed(draft: Draft, step: ReportStep, value: str) -> None:
    """``value`` is the happening, with a volume behind it for 'drained' ("drained 20 mL")."""
    name, _, rest = value.partition(" ")
    if name not in step.happenings:
        raise refuse("answer", f"{name!r} is none of the answers.", " / ".join(step.happenings))
    what = happening_of(name)
    amount: int | None = 0
    if what is H.DRAINED:
        try:
            volume_m3 = parse_quantity(rest, "volume").si_value
        except BadQuantity as bad:
            raise refuse("number", bad.problem, "Type for instance 'drained 20 mL'.") from None
        if not 0 <= volume_m3 * 1e6 <= LARGEST_ML:
            raise refuse("number", f"{rest} is no jug", "Type for instance 'drained 20 mL'.")
        amount = math.floor(volume_m3 * 1e7 + 1e-6)
    draft.add(Happened(what, amount))
    if name in step.want and draft.job.core.step == step.id:
        _done(draft, step, value)


# -- signatures --------------------------------------------------------------------------------


def _sign(draft: Draft, step: Any, person: str) -> None:
    if not isinstance(step, SignStep | ResetStep):
        raise refuse("sign", "This step is not signed.", "Answer it.")
    if not draft.job.core.begun:
        raise refuse("two-marks", "This step was not begun.", "Begin it first.")
    role = _role(draft, person)
    if isinstance(step, ResetStep):
        _check_other(draft, person)
        _check_role(step.role, role, person)
        _reset(draft, step, person, role)
        return
    who = "same" if person in draft.job.log.doers else "other"
    alone = draft.job.bay.crew in (Crew.ALONE_ADULT, Crew.ALONE_JUNIOR)
    if step.role == CUSTOMER:
        if role != CUSTOMER:
            raise refuse(
                "role", f"This needs the customer; {person} is {role}.", "Have the customer sign."
            )
    elif step.point == "hold":
        if not alone and step.meaning in ("checked", "released"):
            _check_other(draft, person)
        _check_role(step.role, role, person)
    if step.slot == "hand_turn":
        if who == "same" or draft.job.bay.hand_turn is not HandTurn.TURNED:
            raise refuse(
                "checker-is-doer",
                "The turns must stand as done and be confirmed by another person.",
                "Have the person who watched sign.",
            )
        draft.add(Happened(H.TURN_SEEN))
    elif step.slot is not None:
        draft.add(Seen(step.slot, Check.OTHER if who == "other" else Check.SAME))
    covers = tuple(m.step for m in draft.job.log.marks[-MAX_COVERED:])
    draft.add(Signed(step.id, person, role, step.meaning, who, covers))
    _done(draft, step, person, doer=False)


MAX_COVERED = 9


def _role(draft: Draft, person: str) -> str:
    if person == CUSTOMER:
        return CUSTOMER
    for known in draft.job.log.people:
        if known["id"] == person:
            return str(known["role"])
    names = ", ".join(str(p["id"]) for p in draft.job.log.people)
    raise refuse("person", f"{person!r} is not on this job's roster.", f"On it are: {names}.")


def _check_other(draft: Draft, person: str) -> None:
    if person in draft.job.log.doers:
        raise refuse(
            "checker-is-doer",
            "Who did the work cannot be the one who checks it.",
            "Have another person with the right role look and sign.",
        )


def _check_role(needed: str, role: str, person: str) -> None:
    if ROLE_RANK.get(role, -1) < ROLE_RANK[needed]:
        raise refuse("role", f"This needs a {needed}; {person} is {role}.", f"Call a {needed}.")


def _reset(draft: Draft, step: ResetStep, person: str, role: str) -> None:
    procedure = draft.procedure
    mine = [t for t in Trip if t in draft.job.bay.trips and t in procedure.answers]
    for trip in mine:
        draft.add(Happened(H.RECOVERED))
        refusals = permit(draft.job.bay, Ask(Act.RESET, trip=trip), draft.job.core.limits)
        if refusals:
            raise No(*refusals)
        draft.add(ResetDone(trip))
    covers = tuple(m.step for m in draft.job.log.marks[-MAX_COVERED:])
    draft.add(Signed(step.id, person, role, "checked", "other", covers), Done(step.id, person))
    left = draft.job.bay.worst_trip
    if left is not None:
        target = draft.plan.answering(left)
        draft.add(Moved(target.steps()[0].id, target.id, "divert"))
        return
    target_step = procedure.return_to
    if draft.job.bay.fluid_in is not FluidIn.NO and procedure.return_with_fluid:
        target_step = procedure.return_with_fluid
    if target_step == HERE:
        target_step = draft.job.core.main_step
    assert target_step is not None  # checked when the file was loaded
    draft.add(Moved(target_step, draft.plan.main.id, "return"))


def _done(draft: Draft, step: Any, answer: str, doer: bool = True) -> None:
    draft.add(Done(step.id, answer, draft.by if doer else ""))
    draft.move_on()


__all__ = ["CUSTOMER", "FACTS", "REPORTABLE", "look", "report", "work"]
