"""The steps that take time: burst, wait, hold."""

from functools import partial
from typing import Any

from steplatch.safety.bay import Act, FluidIn, RunOn
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.occurrences import OUTCOMES, Happening

from ..assess import told
from ..assess.plateau import TrendPoint
from ..core.commands import Answer, Begin, Report
from ..core.draft import No
from ..core.events import Recorded
from ..core.gun_entry import DOUBTED, GunLoad, doubt_words, parse_gun, rate_words
from ..core.job import Job
from ..core.refusals import WAY_ON
from ..core.showing import spray_seconds
from ..core.steps import GunStep, HoldStep, SprayStep, WaitStep, read
from ..core.steps.spray import parse_seconds
from ..core.steps.temperature import has_unit
from ..record.clocks import PacedClock
from ..simulator.hand import Noticed
from . import car, twice
from .asking import (
    IN_A_WAIT,
    ask_choice,
    ask_line,
    clock_text,
    pass_time,
    submit,
    take_in,
    whole_prompt,
)
from .context import Context
from .drying import (
    exhaust_due,
    exhaust_just_read,
    judged_trend,
    not_read,
    trend_points,
)
from .everywhere import carry_out
from .holding import hold_out
from .refusal import after_refusal, begin_step
from .screen import do_lines
from .shorthand import with_degc
from .talk import PICTURE, Choice, Prompt, StyledLine
from .trend_plot import last_values, plot
from .writing import useful_line

HOLD_STEP_S = 60.0
NOTED_ENOUGH = 8
"""Pressures after which it can be told whether they still fall."""
LONG_HOLD = 40
"""Readings after which a lesson stops waiting for a level that cannot be told."""
PLOT_WIDEST = 70
LEAST_SPEED_DIGITS = 3


def spray_step(on: Context, step: SprayStep) -> None:
    job = on.session.job
    longest = spray_seconds(step.engine, job)
    gun = job.log.latest("gun")
    load_ml = float(gun["volume_ml"]) if job.bay.rate.value == "loaded" and gun else None
    want = "go" if load_ml is not None else str(longest or "done")
    offer = "done" if job.log.every("spray") and _may_end(step, job) else ""
    on.noticed = (*on.noticed, *_offered(offer and _("{offer}: the dose is in", offer=offer)))
    text = _spray_text(longest, load_ml, _may_end(step, job) and not offer)
    typed = ask_line(on, step.id, text, want=want, offer=offer)
    if typed is None:
        return
    if typed == "done" or "ml" in typed.lower():
        fill(on, step, typed)
        return
    if (load_ml is not None) != (typed == "go"):
        on.talk.say(
            _("The gun is loaded: type go.")
            if load_ml is not None
            else _("'go' is for a loaded gun: type the seconds."),
            "refused",
        )
        return
    outcome = submit(on, Begin(step.id, "" if typed == "go" else typed))
    if outcome.refused:
        after_refusal(on, step, outcome.refusals)
        return
    _burst(on, step, typed, load_ml)


def fill(on: Context, step: SprayStep | GunStep, typed: str) -> None:
    """Submit what was measured or loaded; the practice gun is loaded once it is taken."""
    engine = step.engine if isinstance(step, SprayStep) else ""
    odd = twice.about("load", partial(twice.odd_load, on.session.job, engine=engine))
    again = twice.kept(on, step.id, typed, odd)
    if again is None or again == "dk":
        return
    typed = again
    outcome = submit(on, Answer(step.id, typed))
    for event in outcome.events:
        if isinstance(event, Recorded) and event.name == DOUBTED:
            on.talk.say(_("AGAIN  {doubt_words}", doubt_words=doubt_words(event.value)), "head")
        elif isinstance(event, Recorded) and event.value.get("basis") == "rate":
            said, beyond = rate_words(event.value)
            on.talk.say(_("RATE   {said}", said=said), "CAUTION" if beyond else "")
    gun = parse_gun(typed, 0.0)
    if on.hand and not outcome.refused and isinstance(gun, GunLoad):
        on.talk.say(_("  (practice vehicle) {words}", words=on.hand.load(gun.volume_ml).words))


def _burst(on: Context, step: SprayStep, typed: str, load_ml: float | None) -> None:
    """The permit stands: spray, and report how it ended."""
    act = Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING
    seconds = 0.0
    if load_ml is None:
        try:
            seconds = parse_seconds(typed)
        except No:  # the engine took it; it would have refused what cannot be read
            seconds = 0.0
    on.talk.say(_("GO: permitted now."), "do")
    on.lead = do_lines(step, "context")
    counted, noticed = "", Noticed("")
    if on.hand:
        noticed = take_in(on, on.hand.perform(act, seconds, load_ml))
        counted = on.hand.counted
    elif load_ml is None:
        counted = on.talk.count(seconds, partial(car.heard, on) if on.car else None, practice=False)
    choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
    answer = ask_choice(on, f"{step.id}:outcome", _("What happened?"), choices, noticed.answer)
    if answer is None:
        return
    if answer == "dk":
        answer = Happening.OVERDOSED.value
    seconds_text = ""
    if answer not in ("spray_none", "overdosed") and load_ml is None:
        seconds_text = counted or _seconds(on, step, typed)
    submit(on, Report(answer, seconds=seconds_text))


def _seconds(on: Context, step: SprayStep, typed: str) -> str:
    text = _("How many seconds did it spray? dk: not known.")
    answer = ask_line(on, f"{step.id}:seconds", text, typed)
    odd = twice.about("seconds", partial(twice.odd_seconds, asked=typed))
    answer = twice.kept(on, f"{step.id}:seconds", answer, odd)
    return "?" if answer in (None, "dk") else str(answer)


def wait_step(on: Context, step: WaitStep) -> None:
    if not on.session.job.core.begun and not begin_step(on, step):
        return
    if not _waited(on, step):
        return
    if on.hand and not isinstance(on.session.clock, PacedClock):  # it jumped: time to write
        answer = ask_choice(on, step.id, _("The time is over."), [Choice("due", _("go on"))], "due")
        if answer != "due":
            return
    submit(on, Answer(step.id, "due"))


def _waited(on: Context, step: WaitStep) -> bool:
    """Wait until the timer is due; False when a typed word led elsewhere."""
    while (left := on.session.left_s(step.timer)) > 0:
        if on.hand:
            clock = f"{int(left // 60)}:{int(left % 60):02d}"
            on.talk.say(
                _(
                    "  {timer}: {clock} to wait; {waits}.",
                    timer=spoken(step.timer),
                    clock=clock,
                    waits=on.hand.waits,
                )
            )
            on.noticed = useful_line(on)
            pass_time(on, left + 0.1)
        elif not _sits_out(on, step, left):
            return False
        on.session.tick()
    return True


def _sits_out(on: Context, step: WaitStep, left: float) -> bool:
    """A real wait: start, due time and what is useful meanwhile in view, the time noticed
    all the while. False when something else is due."""
    _due_line(on, step, left)
    text = _("It ends by itself. write: paper that can be written now; ahead: all to come.")
    typed = on.talk.rest(left, whole_prompt(on, Prompt(f"{step.id}:wait", "line", text)))
    on.session.tick()
    return not _led_elsewhere(on, step, typed)


def _led_elsewhere(on: Context, step: WaitStep, typed: str) -> bool:
    if typed and carry_out(on, typed, step.id):
        return typed.lower() not in IN_A_WAIT
    if typed:
        on.talk.say(_("It cannot be hurried. s stops, ? helps, event reports."))
    core = on.session.job.core
    return core.step != step.id or core.held or bool(core.ask_again)


def _due_line(on: Context, step: WaitStep, left: float) -> None:
    """When it began and when it is due, by the workshop's clock, and the useful paperwork."""
    log, now = on.session.job.log, on.session.clock.now()
    whole = log.number("soak_s" if step.timer == "soak" else "zero_wait_s")
    due, began = clock_text(now, left)[:5], clock_text(now, left - whole)[:5]
    time_line = (_("TIME   began {began}, due {due}; it is not hurried", began=began, due=due), "")
    on.noticed = (time_line, *useful_line(on))


def hold_step(on: Context, step: HoldStep) -> None:
    if not on.session.job.core.begun and not begin_step(on, step):
        return
    trend = judged_trend(on.session.plan, on.session.job)
    if on.hand:
        if not on.session.job.log.every("trend"):
            hold_out(on, read.held_s(on.session.job.log))
        on.talk.say(_hold_line(on, trend))
        if not exhaust_just_read(on.session.job):
            pass_time(on, HOLD_STEP_S)
            on.session.tick()
    else:
        on.live = lambda: ((_hold_line(on, trend), "head"), *_drawn_now(on))
        on.nag = partial(_pressure_due, on)
    job = on.session.job
    exhaust = exhaust_due(job)
    noticed = car.offer(on, step, take_in(on, _noticed_at_hold(on, exhaust)))
    points = trend_points(on.session.job)
    if on.car is None:
        on.noticed = (*trend_lines(points, on.talk.width), *on.noticed)
    if not on.hand:
        on.noticed += useful_line(on)
    noted = len(on.session.job.log.every("trend"))
    level = trend["state"] == "levelled" or (trend["state"] != "falling" and noted >= LONG_HOLD)
    dry = job.bay.run_on is RunOn.DONE
    enough = noted >= NOTED_ENOUGH
    told_apart = trend["state"] == "levelled" or (trend["state"] != "falling" and enough)
    offer = "done" if dry and told_apart else ""
    on.noticed = (*on.noticed, *_offered(offer))
    answer = ask_line(
        on,
        step.id,
        _hold_text(job, str(trend["state"]), noted),
        "done" if dry and level and enough else noticed.answer,
        offer=offer,
    )
    on.live = on.nag = None
    if answer is None:
        return
    if answer == "again":
        submit(on, Begin(step.id))
        return
    if exhaust:
        answer = with_degc(answer)
    if has_unit(answer) and not car.is_for(answer):
        odd = twice.about("temperature", partial(twice.odd_drying, on.session.job))
        checked = twice.kept(on, step.id, answer, odd, with_degc)
        if checked is None or checked == "dk":
            return
        answer = checked
    pressure, speed = _with_speed(answer)
    if speed is not None and speed > on.session.job.log.number("rev_ceiling_rpm"):
        on.talk.say(
            _("OVER   {speed:.0f} 1/min is over the ceiling: let it fall now.", speed=speed),
            "DANGER",
        )
        submit(on, Report(Happening.OVER_CEILING.value))
        return
    command = car.command_of(on, step, pressure)
    if command is not None:
        submit(on, command)


def _noticed_at_hold(on: Context, exhaust: bool) -> Noticed | None:
    """What the practice vehicle shows now: the exhaust where it is due, else the pressure."""
    if on.hand is None:
        return None
    if on.session.job.bay.run_on is RunOn.UNKNOWN:
        return Noticed(_("The drying run was cut short."), "again")
    return on.hand.temperature() if exhaust else on.hand.pressure()


def _hold_line(on: Context, trend: dict[str, Any]) -> str:
    said = car.hold_line(on) if on.car else told.trend(trend)
    return _("HOLD   {drying_now}; {said}", drying_now=_drying_now(on), said=said)


def _drawn_now(on: Context) -> tuple[StyledLine, ...]:
    """Where the pressure notes itself, the trend is drawn anew while the question stands."""
    return trend_lines(trend_points(on.session.job), on.talk.width) if on.car else ()


def _drying_now(on: Context) -> str:
    job = on.session.job
    if job.bay.run_on is RunOn.DONE:
        return _("dry by now")
    if job.bay.run_on is RunOn.UNKNOWN:
        return _("drying cut short: begin it again")
    if not_read(job):
        return _("not drying yet: the exhaust was not read")
    left = int(on.session.left_s("run_on") + 0.999)
    return _("drying {left}:{left_2:02d} left", left=left // 60, left_2=left % 60)


def _pressure_due(on: Context) -> str:
    """A reminder, with a bell: the exhaust where it is due, or a pressure a minute old."""
    log = on.session.job.log
    if exhaust_due(on.session.job):
        return _("NOTE   The exhaust at the filter inlet now.")
    noted = log.every("trend")
    since_ms = max(log.timers.get("hold_from", 0), int(noted[-1]["at_ms"]) if noted else 0)
    return _("NOTE   The pressure now.") if log.aged_ms - since_ms >= HOLD_STEP_S * 1000 else ""


def trend_lines(points: list[TrendPoint], width: int) -> tuple[StyledLine, ...]:
    """The trend drawn, and the last values for a screen without room for the picture."""
    drawn = tuple((row, PICTURE) for row in plot(points, min(width, PLOT_WIDEST)))
    return (*drawn, (_("TREND  {last_values}", last_values=last_values(points)), ""))


def _with_speed(typed: str) -> tuple[str, float | None]:
    """The pressure, and the engine speed where a second bare number stands behind it."""
    first, _other, second = typed.rpartition(" ")
    if first and second.isascii() and second.isdigit() and len(second) >= LEAST_SPEED_DIGITS:
        return first, float(second)
    return typed, None


def _hold_text(job: Job, trend: str, noted: int) -> str:
    dry = job.bay.run_on is RunOn.DONE
    if job.bay.run_on is RunOn.UNKNOWN:
        return _("Type again to begin the drying run anew. Too cold: {way_on}", way_on=WAY_ON)
    if exhaust_due(job):
        return _("Type the exhaust at the filter inlet in degC: 168.")
    if dry and trend == "levelled":
        return _("Dry and level: type done.")
    if dry and trend != "falling" and noted >= NOTED_ENOUGH:
        return _("Dry by the timer, not shown to be level: the pressure to watch on, or done.")
    return _("Type the pressure in mbar about once a minute; also with the speed: 61 2450.")


def _may_end(step: SprayStep, job: Job) -> bool:
    return step.engine == "running" or job.bay.fluid_in is FluidIn.YES


def _offered(offer: str) -> tuple[StyledLine, ...]:
    return ((_("OFFER  {offer}", offer=offer), ""),) if offer else ()


def _spray_text(longest: int, load_ml: float | None, done: bool) -> str:
    if load_ml is not None:
        first = _("Type go to spray the {load_ml:.0f} mL until the gun is empty.", load_ml=load_ml)
    elif longest:
        first = _("Type the seconds to spray, at most {longest}.", longest=longest)
    else:
        first = _("No burst can be timed under this limit.")
    text = _("{first}\nOr: 19 20 21 mL in 5 s (rate); loaded 14 mL", first=first)
    if done:
        text += _("; or done when the dose is in")
    text += "."
    return text
