"""The second half of ``decide``: what beginning, answering and signing each kind of step does.

``classify`` is where numbers become classes; ``Core`` never sees a number.
"""

import math
from typing import Any

from steplatch.safety.bay import (
    FACTS,
    SPRAYS,
    Act,
    Agreed,
    FluidIn,
    Rate,
    Soak,
    Tag,
    state_of,
)
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import LOOKED_AT, Happened, Seen
from steplatch.safety.occurrences import OUTCOMES, Happening, happening_of

from ..input.quantities import BadQuantity, parse_number, parse_quantity
from ..input.resolution import taken
from . import drying, reading_steps, sign_off
from .commands import Answer, Begin, Look, Report, Sign
from .engine import Draft, No, Plan, Undecided, applies, refuse
from .gun_entry import (
    DOUBTED,
    LARGEST_ML,
    GunShots,
    counted_dml,
    doubt_of,
    doubted_json,
    parse_gun,
    parse_seconds,
    standing_doubt,
)
from .job import Begun, Done, Ended, Event, Job, Moved, Recorded, TimerSet
from .procedure import (
    YEARS,
    ActStep,
    AskStep,
    EndStep,
    GunStep,
    HoldStep,
    JudgeStep,
    LookStep,
    ReadStep,
    ReportStep,
    SignStep,
    SprayStep,
    TemperatureStep,
    WaitStep,
)

H = Happening

REPORTABLE = frozenset(Happening) - {
    *(H.SOAK_BEGUN, H.SOAK_DUE, H.RUN_ON_BEGUN, H.RUN_ON_DUE, H.TURN_SEEN, H.LOOKED_DRY),
    *(H.ZERO_GOOD, H.ZERO_OUT, H.BEFORE_GOOD, H.BEFORE_PARTIAL, H.AFTER_GOOD, H.AFTER_PARTIAL),
    *(H.RECOVERED, H.INTERRUPTED, H.RATE_MEASURED, H.GUN_LOADED, H.DRAINED),
}
"""What a person may report at any time. The rest is made by the tool from readings, timers,
signatures, or belongs to a step that asks for more than a word."""

ENDS = frozenset({Act.HAND_OVER, Act.ABANDON})
"""The acts that end a job: permitted for the vehicle as it stands, and for no other."""

MAX_YEARS = 60
LEAST_TEXT = 2
_ZERO_WAIT = "zero"


def cut_short(plan: Plan, job: Job) -> Act | None:
    """The permitted act that something broke into, whose outcome can still be told; or None.

    On an emergency card nothing is asked first: people come before the record.
    """
    core, act = job.core, job.bay.permit
    if act is None or core.begun or plan.procedure(core.procedure).role == "card":
        return None
    return act if OUTCOMES[act] and REPORTABLE.issuperset(OUTCOMES[act]) else None


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
                raise refuse("two-marks")
            _answer(draft, step, value)
        case Sign():
            sign_off.sign(draft, step, command)


def undecided(step: str, fact: str) -> No:
    """The refusal of a step of which nobody can say whether it applies."""
    if fact in FACTS:
        return refuse("branch-unknown", step=step, fact=fact)
    return refuse("branch-unknown/choice", step=step, fact=fact)


def look(draft: Draft, command: Look) -> None:
    """A person looked and says what a fact is. Never refused for what it says."""
    if command.fact not in LOOKED_AT:
        raise refuse("not-by-looking", fact=command.fact)
    try:
        state = state_of(command.fact, command.state)
    except ValueError:
        raise refuse("answer/state", fact=command.fact, state=command.state) from None
    core = draft.job.core
    if state is Agreed.CLEAN and not _asks_now(draft, "agreed"):
        raise refuse("own-step")
    ending = draft.job.bay.permit in ENDS
    draft.add(Seen(command.fact, state))
    if ending:
        _end_anew(draft)
        return
    if not core.begun or core.held:
        return
    step = draft.step
    if (
        isinstance(step, LookStep)
        and step.fact == command.fact
        and command.state in step.want
        and draft.job.core.step == step.id
    ):
        draft.done(step.id, command.state)


def _asks_now(draft: Draft, fact: str) -> bool:
    step = draft.step
    return draft.job.core.begun and isinstance(step, LookStep) and step.fact == fact


def report(draft: Draft, command: Report) -> None:
    """Something happened. Never refused; an unexpected one trips."""
    try:
        what = happening_of(command.what)
    except ValueError:
        raise refuse("answer/report", what=command.what) from None
    if what not in REPORTABLE:
        raise refuse("not-a-report", what=what.value)
    bay, core, was = draft.job.bay, draft.job.core, draft.job.bay.permit
    draft.add(Happened(what, _amount(draft, what, command)))
    if was is None:
        return
    step = draft.step
    if was in ENDS and what not in OUTCOMES[was]:
        _end_anew(draft)
        return
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
    if not core.begun:
        return
    if what not in OUTCOMES[was]:
        return
    if isinstance(step, ActStep | SprayStep | EndStep) and what is OUTCOMES[was][0]:
        if isinstance(step, SprayStep) and step.engine == "running":
            draft.add(Moved(step.id, draft.procedure.id, "again"))
        elif isinstance(step, EndStep):
            draft.add(Done(step.id, what.value, draft.by, ()), Ended(step.how))
        else:
            draft.done(step.id, what.value)
    elif not draft.job.bay.trips:
        draft.add(Moved(step.id, draft.procedure.id, "again"))


def _end_anew(draft: Draft) -> None:
    """Something moved since the end was permitted: it is asked again, from the first mark."""
    if draft.job.bay.permit in ENDS:
        draft.lapse_permit()
    draft.add(Moved(draft.step.id, draft.procedure.id, "again"))


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
            draft.grant(Ask(step.act, band_under_ceiling=_band_ok(draft)), begun)
        case SprayStep():
            act = Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING
            dose = _dose(draft, command.seconds)
            burst_s = _burst_s(draft, command.seconds) if act is Act.SPRAY_OFF else 0
            draft.grant(Ask(act, dose=dose, burst_s=burst_s), begun)
        case GunStep():
            draft.grant(Ask(Act.FILL_GUN), begun)
        case EndStep():
            act = Act.HAND_OVER if step.how == "finished" else Act.ABANDON
            if act is Act.ABANDON:
                _notice_signed(draft)
            draft.grant(Ask(act), begun)
        case ReadStep():
            reading_steps.begin(draft, step, begun)
        case HoldStep():
            draft.grant(Ask(Act.RUN_ON), begun)
            drying.begin(draft)
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
        case SignStep(slot=str(slot)):
            sign_off.ready_to_check(draft, slot)
            draft.add(begun)
        case _:
            draft.add(begun)


def _notice_signed(draft: Draft) -> None:
    """With the DO NOT START notice in use, who receives the vehicle must have signed it."""
    steps = {step.id for step in draft.procedure.steps()}
    signed = any(s.meaning == "received" and s.step in steps for s in draft.job.log.signatures)
    if draft.job.bay.tag is Tag.DO_NOT_START and not signed:
        raise refuse("notice-not-signed")


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


def _burst_s(draft: Draft, seconds: str) -> int:
    """How long the burst asked for is to last, in whole seconds rounded up; 0 where the gun is
    loaded, or where there is no rate to time it by and the act is refused for that."""
    gun = draft.job.log.latest("gun")
    if gun is None or draft.job.bay.rate is Rate.UNKNOWN or gun["basis"] == "loaded":
        return 0
    return math.ceil(parse_seconds(seconds))


def _timer(draft: Draft, name: str, seconds: float) -> TimerSet:
    return TimerSet(name, draft.job.log.waited_ms + math.ceil(seconds * 1000))


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
        raise refuse("answer/empty")
    match step:
        case AskStep():
            draft.add(Recorded(step.name, asked(step, value), step.id))
            draft.done(step.id, value)
        case ReadStep():
            reading_steps.answer(draft, step, value)
        case TemperatureStep():
            reading_steps.temperature(draft, step, value)
        case GunStep():
            if _fill_gun(draft, step, value):
                draft.done(step.id, value)
        case SprayStep():
            raise refuse("answer/begun")
        case WaitStep():
            _waited(draft, step)
        case HoldStep():
            drying.answer(draft, step, value)
        case JudgeStep():
            if value != "read":
                raise refuse("answer/read", typed=value)
            draft.done(step.id, value)
        case ReportStep():
            _observed(draft, step, value)
        case _:
            raise refuse("answer/no-word")


def _between_sprays(draft: Draft, step: SprayStep, value: str) -> None:
    """Between sprays: end the dose, or fill and measure (or load) the gun again.

    An engine-off burst ends by its report; 'done' is for one that was cut off by a stop or an
    interruption, where fluid is in and no further burst may be wanted or allowed.
    """
    if value == "done" and (step.engine == "running" or draft.job.bay.fluid_in is FluidIn.YES):
        draft.done(step.id, value)
        return
    if value == "done":
        raise refuse("dose-not-in")
    _fill_gun(draft, step, value)


def asked(step: AskStep, value: str) -> dict[str, Any]:
    """What an answer to ``step`` is recorded as. Raises No when it is none."""
    if step.form == "choice":
        known = [option.value for option in step.options]
        if value not in known:
            raise refuse("answer/choice", typed=value, choices=tuple(known))
        return {"choice": value}
    if step.form == "text":
        if len(value) < LEAST_TEXT:
            raise refuse("answer/short", typed=value)
        return {"text": value}
    if step.quantity == YEARS:
        return _years(value)
    try:
        quantity = parse_quantity(value, step.quantity or "")
        low = None if step.low is None else parse_quantity(step.low, step.quantity or "")
        high = None if step.high is None else parse_quantity(step.high, step.quantity or "")
    except BadQuantity:
        raise refuse("number", typed=value, quantity=step.quantity or "") from None
    if (low and quantity.si_value < low.si_value) or (high and quantity.si_value > high.si_value):
        raise refuse("band", typed=value, low=step.low or "", high=step.high or "")
    return {"typed": value, **taken(step.quantity or "", quantity.si_value)}


def _years(value: str) -> dict[str, Any]:
    try:
        years = float(parse_number(value))
    except BadQuantity:
        raise refuse("number", typed=value, quantity="years") from None
    if not 0 <= years <= MAX_YEARS:
        raise refuse("band/years", typed=value, most=str(MAX_YEARS))
    return {"typed": value, **taken("years", years)}


def _fill_gun(draft: Draft, step: Any, value: str) -> bool:
    """The gun is filled and measured, or loaded, under a permit; one that lapsed is asked anew.

    False where one set of shots is not enough: it is kept, and the next must agree with it."""
    if draft.job.bay.permit is not Act.FILL_GUN:
        draft.grant(Ask(Act.FILL_GUN))
    gun = parse_gun(value, draft.job.log.number("reaction_ms") / 1000.0)
    if isinstance(gun, str):
        raise refuse("gun", typed=value)
    if isinstance(gun, GunShots):
        log = draft.job.log
        last = log.latest("gun")
        first = standing_doubt(log.latest(DOUBTED), last, gun.reaction_s)
        if first is not None and gun.same(first):
            raise refuse("same-shots")
        if (why := doubt_of(gun, _last_rate_ml_s(draft, last), first)) is not None:
            draft.add(Recorded(DOUBTED, doubted_json(gun, why), step.id))
            return False
        gun = gun if first is None else gun.after(first)
    draft.add(Recorded("gun", gun.to_json(), step.id))
    draft.add(Happened(H.RATE_MEASURED if isinstance(gun, GunShots) else H.GUN_LOADED))
    return True


def _last_rate_ml_s(draft: Draft, gun: dict[str, Any] | None) -> float | None:
    """This gun's last known rate: from earlier shots of this job, else from its file; or None."""
    if gun is not None and gun["basis"] == "rate":
        return float(gun["mean_ml_s"])
    numbers = draft.job.log.numbers
    return float(numbers["gun_rate_ml_s"]) if "gun_rate_ml_s" in numbers else None


def _left_s(left_ms: int) -> str:
    return str(math.ceil(max(left_ms, 0) / 1000))


def _waited(draft: Draft, step: WaitStep) -> None:
    log = draft.job.log
    left_ms = log.timers.get(step.timer, 0) - log.waited_ms
    over = draft.job.bay.soak is Soak.DUE if step.timer == "soak" else left_ms <= 0
    if not over:
        raise refuse("not-due", left_s=_left_s(left_ms))
    draft.done(step.id, "due")


def _observed(draft: Draft, step: ReportStep, value: str) -> None:
    """``value`` is the happening, with a volume behind it for 'drained' ("drained 20 mL")."""
    name, _, rest = value.partition(" ")
    if name not in step.happenings:
        raise refuse("answer/choice", typed=name, choices=tuple(step.happenings))
    what = happening_of(name)
    amount: int | None = 0
    if what is H.DRAINED:
        try:
            volume_m3 = parse_quantity(rest, "volume").si_value
        except BadQuantity:
            raise refuse("number", typed=rest, quantity="volume") from None
        if not 0 <= volume_m3 * 1e6 <= LARGEST_ML:
            raise refuse("number/jug", typed=rest)
        amount = math.floor(volume_m3 * 1e7 + 1e-6)
    draft.add(Happened(what, amount))
    if name in step.want and draft.job.core.step == step.id:
        draft.done(step.id, value)
