"""Paper written while something cools, soaks or dries: the dialogue, and its answer at its turn."""

from steplatch.safety.catalogue import _

from ..core.commands import Note
from ..core.steps import AskStep
from .asking import aside, ask_choice, ask_line, clock_text, submit, with_lead
from .context import Context
from .meanwhile import NOTE, short, useful_now, writable, written
from .talk import Choice, StyledLine

WAITS = ("wait", "hold", "temperature")
"""Kinds of step at which something takes its time."""
_LEAST = 2


def write_ahead(on: Context) -> None:
    """Write paper while something takes its time; elsewhere, say when it can be written."""
    core = on.session.job.core
    procedure = on.session.plan.procedure(core.procedure)
    if procedure.step(core.step).kind not in WAITS:
        on.talk.say(_("Paper is written ahead while something cools, soaks or dries."))
    elif steps := writable(procedure, on.session.job):
        _write(on, steps)
    else:
        on.talk.say(_("Nothing is left that could be written now."))


def _write(on: Context, steps: list[AskStep]) -> None:
    """Choose a step of paper and write what it will be answered with."""
    nag = on.nag
    with aside(on, "write", (_("WRITE  Choose what to write now."), "do")):
        on.nag = nag
        choices = [Choice(step.id, _offer(on, step)) for step in steps]
        chosen = ask_choice(on, "write", _("Which of these?"), choices, turned_by_key=False)
        step = next((s for s in steps if s.id == chosen), None)
        text = _text_for(on, step) if step is not None else None
    if step is None or text is None:
        return
    at = clock_text(on.session.clock.now())[:5]
    outcome = submit(on, Note(NOTE, {"step": step.id, "text": text, "at": at}))
    if not outcome.refused:
        on.talk.say(_("KEPT   {short}: asked for in its turn.", short=short(step.do)))


def _offer(on: Context, step: AskStep) -> str:
    there = written(on.session.job, step)
    return short(step.do) + (_(" (written {there})", there=there[1]) if there else "")


def _text_for(on: Context, step: AskStep) -> str | None:
    with_lead(on, (_("WRITE  {do}", do=step.do), "do"))
    if step.form == "choice":
        options = [Choice(o.value, o.say) for o in step.options]
        value = ask_choice(on, "write:choice", _("Which is it?"), options)
        return next((o.say for o in step.options if o.value == value), None)
    text = ask_line(on, "write:text", _("Type it in words."))
    if text is None or text == "dk" or len(text) < _LEAST:
        on.talk.say(_("Nothing was kept."))
        return None
    return text


def written_line(on: Context, step: AskStep) -> tuple[StyledLine, ...]:
    """What was written ahead for this step stands with its question."""
    there = written(on.session.job, step)
    return (
        ((_("WRITTEN {there}  {there_2}", there=there[1], there_2=there[0]), ""),) if there else ()
    )


def useful_line(on: Context) -> tuple[StyledLine, ...]:
    """The paperwork that can be written or prepared while this lasts."""
    procedure = on.session.plan.procedure(on.session.job.core.procedure)
    useful = useful_now(procedure, on.session.job)
    return ((_("USEFUL now: {useful}", useful=useful), ""),) if useful else ()
