"""What is asked at each kind of step; those that take time stand in ``timed``, signatures in
``signing``."""

from collections.abc import Callable
from functools import partial
from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.occurrences import OUTCOMES

from ..assess import told
from ..core.commands import Answer, Look, Report, Stop
from ..core.showing import Question
from ..core.steps import (
    ActStep,
    AskStep,
    EndStep,
    GunStep,
    HoldStep,
    JudgeStep,
    KeptStep,
    LookStep,
    ReadStep,
    ReportStep,
    ResetStep,
    SignStep,
    SprayStep,
    TemperatureStep,
    WaitStep,
)
from ..record import NotRecordable
from ..simulator.hand import Noticed
from . import car, twice
from .asking import ask_choice, ask_line, pass_time, pressed_go, submit, take_in
from .context import Context
from .deadlines import permit_lines
from .expected import cooling, cooling_line, unit_line
from .holding import early, held_line, held_s, hold_out, wanted_s
from .lines import deliberate
from .meanwhile import written
from .recall import REGISTRATION
from .refusal import begin_step
from .screen import do_lines
from .shorthand import whole_set, whole_shots, with_currency, with_degc, with_unit
from .signing import sign_step
from .talk import Choice
from .timed import fill, hold_step, spray_step, wait_step
from .writing import useful_line, written_line

COMPARED = ("registration", "vin_tail")
"""What was typed from the vehicle stands beside the question whether it is the right one."""
NONE, NO_FIGURES = "0", "none"
MAY_BE_NONE = {
    "codes_stored": "none",
    "codes_pending": "none",
    "codes_after": "none",
}
"""What a bare zero stands for where there may be none."""
PRICE = "price"
"""A bare number under this name gets the workshop's currency."""
LEAST_TEXT = 2
"""Characters of a text at least; a personal one is looked at here, since only its hash goes on."""
COOL_S_PER_K = 18.0
COOL_LEAST_S, COOL_MOST_S = 120.0, 600.0
"""How far practice time jumps before the exhaust is measured again: its pipe falls 3 to 4 K a
minute where it comes near a glove's limit."""


def look_step(on: Context, step: LookStep) -> None:
    if not begin_step(on, step):
        return
    noticed = take_in(on, on.hand.look(step.fact, step.want) if on.hand else None)
    asked = step.asks()
    choices = known_choices(on, step)
    answer = ask_choice(on, step.id, asked.text, choices, noticed.answer, step.want[0])
    if answer is None:
        return
    state = "unknown" if answer == "dk" else answer
    submit(on, Look(step.fact, state))
    _say_remedy(on, step, state)


def _say_remedy(on: Context, step: LookStep | AskStep, answer: str) -> None:
    """What is to be done where ``answer`` leaves the job at its step."""
    if step.want and answer not in step.want and on.session.job.core.step == step.id:
        on.talk.say(
            step.remedy or _("That is not what this step needs. Put it right, then look again.")
        )


def ask_step(on: Context, step: AskStep) -> None:
    if not begin_step(on, step):
        return
    asked = step.asks()
    told = on.hand.told.get(step.id, "") if on.hand else ""
    said = next((o.say for o in step.options if o.value == told), told)
    if said:
        on.noticed = ((_("  (practice card) {said}", said=said), ""),)
    if step.form == "choice":
        on.noticed = (*written_line(on, step), *on.noticed)
        choices, want = known_choices(on, step), "".join(step.want[:1])
        answer = ask_choice(on, step.id, asked.text, choices, want=want)
        if answer == "dk":
            answer = "unknown" if "unknown" in {o.value for o in step.options} else ""
            if not answer and getattr(step, "may_not_apply", False):
                on.talk.say(_("If it does not apply here, type na and say why."))
            if not answer:
                on.talk.say(_("This must be known to go on. Find out, ask, or stop with s."))
                return
    else:
        last = _number_before(on, step)
        if unit := last.rpartition(" ")[2]:
            on.noticed = (
                (_("UNIT   {unit} where none is typed, as last time", unit=unit), ""),
                *on.noticed,
            )
        if step.name == REGISTRATION and on.recall is not None:
            known = _("KNOWN  of a car that was here before the end will do: -LE1")
            on.noticed = ((known, ""), *on.noticed)
        none = NO_FIGURES if step.form == "fields" else ""
        answer = ask_line(on, step.id, asked.text, want=none, offer=_offer(on, step))
        answer = answer if answer is None else with_unit(answer, last)
        if answer is not None and step.name == PRICE:
            answer = with_currency(answer, on.currency)
            on.talk.say(_("  taken as {answer}", answer=answer))
    if answer is None:
        return
    if answer == NONE and step.name in MAY_BE_NONE:
        answer = MAY_BE_NONE[step.name]
    if on.recall is not None and step.name == REGISTRATION:
        tail, answer = answer, on.recall.known_as(answer)
        if not answer:
            on.talk.say(
                _("No car, or more than one, was here whose plate ends in {tail}.", tail=tail[1:]),
                "refused",
            )
            return
    if step.personal:
        if step.form == "text" and len(answer) < LEAST_TEXT:
            on.talk.say(
                _("'{answer}' is too short to be an answer. Type it in words.", answer=answer),
                "refused",
            )
            return
        try:
            on.typed |= {step.name: answer} if step.name in COMPARED else {}
            if on.recall is not None and step.name == REGISTRATION:
                on.recall.arrives(answer)
                if on.recall.car_day:
                    on.talk.say(
                        _(
                            "KNOWN  {answer} was here on {car_day}.",
                            answer=answer,
                            car_day=on.recall.car_day,
                        )
                    )
            answer = on.keeper.keep(step.name, answer)
        except NotRecordable as bad:
            on.talk.say(
                _("Not taken: {what}. {remedy}.", what=bad.what, remedy=bad.remedy), "refused"
            )
            return
    submit(on, Answer(step.id, answer))
    _say_remedy(on, step, answer)


def _number_before(on: Context, step: AskStep) -> str:
    """A number with its unit as it was typed for this car last time, or as a number of its kind was
    typed last in this job; '' for none."""
    if step.form != "number":
        return ""
    car = on.recall.car if on.recall is not None else None
    here = [r.value for r in on.session.job.log.records if r.value.get("quantity") == step.quantity]
    before = [car.answer(step.name)] if car is not None else []
    typed = [t for t in (*before, *(str(value["typed"]) for value in here)) if _with_its_unit(t)]
    return typed[-1] if typed else ""


def _with_its_unit(typed: str) -> bool:
    return " " in typed and typed[0].isdigit()


def _offer(on: Context, step: AskStep) -> str:
    """What one key would answer: what was written ahead, else what was said last time; it stands
    with the question."""
    if ahead := written(on.session.job, step):
        on.noticed = (*written_line(on, step), *on.noticed)
        return ahead[0]
    last = on.recall.offered(step) if on.recall is not None else None
    if last is None:
        return ""
    on.noticed = ((_("LAST   {last}: {last_2}", last=last[1], last_2=last[0]), ""), *on.noticed)
    return last[0]


def act_step(on: Context, step: ActStep | EndStep) -> None:
    """The permit is asked for as the step is shown; one key says what came of it. An act that
    turns the engine takes a key of its own before."""
    act = step.act
    if not begin_step(on, step):
        return
    permitted = ((_("PERMITTED now."), "do"), *permit_lines(on.session.job, on.session.clock.now()))
    if deliberate(step):
        on.noticed = permitted
        if not pressed_go(on, f"{step.id}:go", _("When everybody knows:")):
            return
    on.lead = do_lines(step, "context")
    noticed = take_in(on, on.hand.perform(act) if on.hand else None)
    on.noticed = (*permitted, *on.noticed)
    choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
    text = _("The practice vehicle does it. What happened?") if on.hand else _("What happened?")
    answer = ask_choice(on, f"{step.id}:outcome", text, choices, noticed.answer)
    if answer is None:
        return
    if answer == "dk":
        submit(on, Stop("not_known"))
        return
    submit(on, Report(answer))


def typed_step(on: Context, step: ReadStep | TemperatureStep | GunStep) -> None:
    if not begin_step(on, step):
        return
    if isinstance(step, ReadStep):
        if (held := held_s(on, step)) is not None:
            hold_out(on, held, wanted_s(step))
        noticed = take_in(on, on.hand.reading() if on.hand else None)
        _expects(on, step)
        if on.hand is None and held_s(on, step) is not None:
            on.live = partial(held_line, on, step)
    elif isinstance(step, TemperatureStep):
        noticed = take_in(on, on.hand.temperature() if on.hand else None)
        _cooling(on, step)
    else:
        noticed = take_in(on, on.hand.shots() if on.hand else None)
    noticed = noticed if isinstance(step, GunStep) else car.offer(on, step, noticed)
    answer = ask_line(on, step.id, step.asks().text, noticed.answer)
    if isinstance(step, ReadStep) and not car.compared(on, step, str(answer)):
        return
    if isinstance(step, ReadStep) and answer not in (None, "dk"):
        whole = partial(whole_set, step)
        answer = twice.kept(on, step.id, whole(str(answer)), partial(_odd_set, on, step), whole)
    if answer is None:
        return
    if answer == "dk":
        on.talk.say(_("No number, no reading: measure it, or stop with s."), "refused")
        return
    if isinstance(step, GunStep):
        fill(on, step, whole_shots(step, answer))
        return
    if isinstance(step, TemperatureStep) and not car.is_for(answer):
        odd = twice.about("temperature", partial(twice.odd_temperature, on.session.job, step))
        answer = twice.kept(on, step.id, with_degc(answer), odd, with_degc)
        if answer is None or answer == "dk":
            return
    command = car.command_of(on, step, answer)
    if command is None:
        return
    too_soon = early(on, step)
    outcome = submit(on, command)
    on.live = None
    if not outcome.refused:
        if too_soon:
            on.talk.say(too_soon, "refused")
        _echo(on, step, answer)
        _first_look(on, step)
    if isinstance(step, TemperatureStep) and on.session.job.core.step == step.id:
        _cool_down(on, step, bool(outcome.refused))


def _odd_set(on: Context, step: ReadStep, typed: str) -> dict[str, list[str]]:
    """What is odd about a set of readings; nothing of a word to the vehicle."""
    if on.doubts is None or car.is_for(typed):
        return {}
    return on.doubts(on.session.job, step, typed)


def _first_look(on: Context, step: ReadStep | TemperatureStep) -> None:
    """What the first raised set says of the car, before anybody promises anything."""
    raised = isinstance(step, ReadStep) and (step.phase, step.condition) == ("before", "raised")
    if on.first_look is None or not raised:
        return
    rates = on.recall.gun_rates() if on.recall is not None else ()
    for text, style in on.first_look(on.session.job, rates):
        on.talk.say(text, style)


def _expects(on: Context, step: ReadStep) -> None:
    """What is usually read, and the unit of last time, stand with the question."""
    procedure = on.session.plan.procedure(on.session.job.core.procedure)
    reads = frozenset((procedure.id, s.id) for s in procedure.steps() if isinstance(s, ReadStep))
    texts = [unit_line(on.session.job, reads)]
    if on.ranges is not None:
        texts.insert(0, on.ranges(on.session.job, step))
    on.noticed = (*((text, "") for text in texts if text), *on.noticed)


def _cooling(on: Context, step: TemperatureStep) -> None:
    """Once it was measured too hot: how it cools, and what is useful meanwhile."""
    if on.measured != step.id:
        return
    cools = cooling_line(on.session.job, step)
    lines = ((cools, ""),) if cools else ()
    on.noticed = (*lines, *useful_line(on), *on.noticed)


def _cool_down(on: Context, step: TemperatureStep, refused: bool) -> None:
    """Not inside the limit: say so, and in practice let it cool for a while."""
    measured = on.session.job.log.latest("exhaust")
    if refused or measured is None:
        return
    on.measured = step.id
    on.talk.say(step.remedy or _("Not inside the limit yet. Wait, then measure again."))
    if on.hand is None:
        return
    over_k = float(measured["k"]) - step.highest_k(on.session.job.log)
    seconds = min(COOL_MOST_S, max(COOL_LEAST_S, COOL_S_PER_K * over_k))
    if (found := cooling(on.session.job, step)) is not None:
        seconds = found[2].slow_s
    on.talk.say(_("  (practice vehicle) {seconds:.0f} min pass.", seconds=seconds / 60))
    pass_time(on, seconds)


def _echo(on: Context, step: Any, answer: str) -> None:
    if not isinstance(step, ReadStep):
        on.talk.say(_("  taken as {answer}", answer=answer))
        return
    from ..core.reading_set import ReadingSet
    from ..core.typed_set import echo

    latest = on.session.job.log.latest("reading")
    if latest is not None:
        on.talk.say(_("TAKEN  {echo}", echo="; ".join(echo(ReadingSet.from_json(latest)))))


def judge_step(on: Context, step: JudgeStep) -> None:
    if not begin_step(on, step):
        return
    judged = on.session.job.log.latest(step.what)
    for text in told.lines(step.what, judged) if judged else ():
        on.talk.say(f"  {text}")
    answer = ask_choice(on, step.id, _("Is it read?"), [Choice("read", _("read"))], "read")
    if answer == "read":
        submit(on, Answer(step.id, answer))


def report_step(on: Context, step: ReportStep) -> None:
    if not begin_step(on, step):
        return
    noticed = Noticed("")
    if on.hand:
        noticed = take_in(on, on.hand.observe(step.want[0]))
    asked, truth = step.asks(), noticed.answer.split(" ")[0]
    answer = ask_choice(on, step.id, asked.text, choices_of(asked), truth, step.want[0])
    if answer is None or answer == "dk":
        return
    if answer == "drained":
        measured = ask_line(on, f"{step.id}:volume", _("How much in the jug?"), noticed.answer)
        odd = twice.about("drained", partial(twice.odd_drained, on.session.job))
        measured = twice.kept(on, f"{step.id}:volume", measured, odd)
        if measured is None:
            return
        answer = measured if measured.startswith("drained") else f"drained {measured}"
    submit(on, Answer(step.id, answer))


def choices_of(asked: Question) -> list[Choice]:
    """The answers that a question names."""
    return [Choice(name, said) for name, said in asked.choices]


def known_choices(on: Context, step: LookStep | AskStep) -> list[Choice]:
    """The answers that a step names, with what it was last time."""
    choices = choices_of(step.asks())
    return choices if on.recall is None else on.recall.marked(step, choices)


def plain_step(on: Context, step: Any) -> None:
    """A step that asks one question and no more: what it says of itself is all there is to it."""
    asked = step.asks()
    if asked is None:
        raise TypeError(f"a step of kind {step.kind!r} says not what it asks")
    if not begin_step(on, step):
        return
    if asked.choices:
        answer = ask_choice(on, step.id, asked.text, choices_of(asked))
    else:
        answer = ask_line(on, step.id, asked.text)
    if answer == "dk":
        on.talk.say(_("This must be known to go on. Find out, ask, or stop with s."))
    elif answer is not None:
        submit(on, Answer(step.id, answer))


def kept_step(on: Context, step: KeptStep) -> None:
    """The set of the car's last job stands with the question; one key takes it."""
    if not begin_step(on, step):
        return
    last = on.recall.kept_set(step) if on.recall is not None else None
    if last is not None:
        on.noticed = ((_("LAST   {last}: {last_2}", last=last[1], last_2=last[0]), ""), *on.noticed)
    answer = ask_line(on, step.id, step.asks().text, offer=last[0] if last else "")
    if answer == "dk":
        on.talk.say(_("Without it nothing can be compared. Find its sheet, or stop with s."))
    elif answer is not None:
        submit(on, Answer(step.id, answer))


SHOWN: dict[type, Callable[[Context, Any], None]] = {
    LookStep: look_step,
    AskStep: ask_step,
    ActStep: act_step,
    EndStep: act_step,
    SprayStep: spray_step,
    ReadStep: typed_step,
    KeptStep: kept_step,
    TemperatureStep: typed_step,
    GunStep: typed_step,
    WaitStep: wait_step,
    HoldStep: hold_step,
    JudgeStep: judge_step,
    SignStep: sign_step,
    ResetStep: sign_step,
    ReportStep: report_step,
}
"""The kinds whose dialogue is more than their one question; any other is a ``plain_step``."""
