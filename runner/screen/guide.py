"""The guide: shows the step that is due, asks, submits, and shows what came of it.

It decides nothing. Every answer becomes a command; what may be done is the engine's word.
"""

from typing import Any

from steplatch.safety.bay import Engine
from steplatch.safety.catalogue import _

from ..core.commands import Note, Stop
from ..core.job import Core
from ..core.procedure import Procedure
from ..core.reports import cut_short
from ..core.steps import (
    GunStep,
    SprayStep,
)
from . import car
from .asking import aside, ask_choice, page_now, submit
from .checkers import signer_lines, visit_lines, visits
from .context import Context, Overtaken
from .deadlines import by_lines
from .everywhere import leave
from .held import came_out, card, reconfirm
from .refusal import look_at
from .screen import lead_lines
from .steps import SHOWN, plain_step
from .talk import Choice, Gone, Page, Stopped, StyledLine

RETURNS_SAID = 3
"""From how many times on a place is said to have been come to (design choice)."""


class NoProgress(RuntimeError):  # noqa: N818 - it names the thing, as the other refusals do
    """A lesson comes to one place of its job again and again; says which."""


def guide(on: Context) -> str:
    """Lead one person through one job until it has ended: returns 'finished' or 'abandoned'.

    Raises Leave or Gone.
    """
    stop = ""
    while not on.session.job.core.ended:
        try:
            if stop:
                why, stop = stop, ""
                submit(on, Stop(why))
            turn(on)
        except Stopped:
            stop = "stop_key"
        except Overtaken:
            continue
        except Gone:
            on.session.submit(Stop("terminal_gone"))
            raise
    return on.session.job.core.ended


def turn(on: Context) -> None:
    """What is due now: a look, what came of an act, the card, or the next step."""
    car.notice(on)
    on.session.tick()
    core = on.session.job.core
    _come_to(on, core)
    soon = on.session.lapsing_soon()
    if soon is not None and not core.held and not core.ask_again:
        look_at(on, soon)
    elif core.meanwhile or core.ask_again:
        reconfirm(on)
    elif core.held:
        card(on)
    elif (act := cut_short(on.session.plan, on.session.job)) is not None:
        came_out(on, act)
    elif not (on.look_only and _looked_enough(on)):
        show_step(on)


def _looked_enough(on: Context) -> bool:
    """Once the engine stands after the first look: whether the job ends here for today."""
    job = on.session.job
    if not job.log.readings("before") or job.bay.engine is not Engine.STOPPED:
        return False
    choices = [
        Choice("on", _("go on with the job")),
        Choice("later", _("leave it; resume comes back")),
    ]
    with aside(on, "look", (_("LOOK   The first look is over, the engine stands."), "do")):
        answer = ask_choice(on, "look", _("Which is it?"), choices, turned_by_key=False)
    on.look_only = answer is None
    if answer == "later":
        leave(on)
    return True


def _come_to(on: Context, core: Core) -> None:
    """Count how often this very place was come to: two prompts that lead to each other would go on
    for ever. A job that goes its way never stands where everything is as it was before.

    Raises NoProgress for a lesson that comes back too often.
    """
    if core == on.stood or core.ended:
        return
    on.stood = core
    on.been[core] += 1
    times = on.been[core]
    if times < RETURNS_SAID:
        return
    title = on.session.plan.procedure(core.procedure).step(core.step).do if core.step else ""
    if on.most_returns and times > on.most_returns:
        raise NoProgress(
            _(
                "nothing changes any more: {times} times at '{step}': {title}",
                times=times,
                step=core.step,
                title=title,
            )
        )
    on.talk.say(
        _(
            "You have been here {times} times, with everything as it was: {title} The "
            "answers that were given lead back here. Look whether they are so; x tells the "
            "program what went wrong, s stops, and abandoning is open.",
            times=times,
            title=title,
        ),
        "caution",
    )


def show_step(on: Context) -> None:
    """Show the step that is due and ask what it asks."""
    core = on.session.job.core
    procedure = on.session.plan.procedure(core.procedure)
    step = procedure.step(core.step)
    job, width = on.session.job, on.talk.width
    on.page = page_now(on, step)
    if not on.announced:
        _announce(on, procedure)
    _call(on, on.page, procedure)
    lead = (
        *lead_lines(step, job, width, on.session.plan.working),
        *by_lines(on.session.job, step, on.session.clock.now()),
        *_labels(on, step),
    )
    on.lead, on.noticed, on.live = lead, (), None
    SHOWN.get(type(step), plain_step)(on, step)


def _labels(on: Context, step: Any) -> tuple[StyledLine, ...]:
    """The fluid's name as on its container, where it is handled, and what its data sheet asks to
    be worn, where that is put on; what was typed of the vehicle by whoever compares it."""
    fact = getattr(step, "fact", "")
    if fact == "identity" and on.typed:
        typed = (_("TYPED  {values}", values="; ".join(on.typed.values())), "")
        vin = on.car.link.vin if on.car else None
        return (
            (typed, (_("CAR    its own number ends in {vin}", vin=vin[-8:]), ""))
            if vin
            else (typed,)
        )
    asked = "data sheet" in step.do
    if fact == "flash" or (asked and fact == "kit"):
        return tuple((text, "") for text in on.label)
    handled = asked or isinstance(step, GunStep | SprayStep)
    return tuple((text, "") for text in on.label[:1] if handled)


def _announce(on: Context, procedure: Procedure) -> None:
    """At the start: when a checker will be needed. A job that is come back to says it again."""
    on.announced = True
    lines = visit_lines(procedure, on.session.job) if procedure.role == "main" else []
    if lines:
        on.talk.say(_("CALL   Checker visits to come; tell them now:"), "head")
    for text in lines:
        on.talk.say(f"       {text}")
    if procedure.role == "main":
        for text in signer_lines(procedure, on.session.job, on.session.person):
            on.talk.say(text, "head")


def _call(on: Context, page: Page, procedure: Procedure) -> None:
    """Once, with a bell, when it is time to call the next checker; the record says when."""
    if page.visit and page.visit.split(":")[0] != on.called:
        on.talk.say(_("CALL   {visit}", visit=page.visit), "head")
        on.talk.ring()
        sign = visits(procedure, on.session.job)[0][0]
        submit(on, Note("called", {"role": sign.role}))
    on.called = page.visit.split(":")[0]
