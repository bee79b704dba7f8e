"""Beginning a step, and what is asked where it was refused: a look, a way back, a waiver."""

from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import INTERLOCKS, Refusal
from steplatch.safety.kernel import LOOKED_AT

from ..core.commands import Back, Begin, Look
from ..core.steps import AskStep, GunStep, ReadStep, TemperatureStep
from .amending import waivable_rows, waive
from .asking import aside, ask_choice, ask_line, submit, take_in
from .context import Context
from .notices import look_again
from .screen import state_words
from .talk import Choice
from .way_back import way_back, way_past

_ROWS = {row.id: row for row in INTERLOCKS}


def look_at(on: Context, fact: str) -> None:
    """Ask again for the state of one fact."""
    with aside(on, f"look:{fact}", look_again(fact)):
        noticed = take_in(on, on.hand.look(fact) if on.hand and fact != "key" else None)
        choices = [Choice(name, said) for name, said in state_words(fact)]
        answer = ask_choice(on, f"look:{fact}", _("Which is true now?"), choices, noticed.answer)
    if answer is not None:
        submit(on, Look(fact, "unknown" if answer == "dk" else answer))


def look_for(on: Context, refusals: tuple[Refusal, ...]) -> bool:
    """After a refusal: ask at once about what can be settled by a look; False if nothing."""
    facts = {
        fact
        for refusal in refusals
        if refusal.interlock in _ROWS
        for fact in _ROWS[refusal.interlock].reads
        if fact in LOOKED_AT and getattr(on.session.job.bay, fact).unknown
    }
    for fact in sorted(facts):
        look_at(on, fact)
        if on.session.job.core.held:
            break
    return bool(facts)


def after_refusal(on: Context, step: Any, refusals: tuple[Refusal, ...]) -> None:
    """Ask what a look can settle; otherwise let the person read and choose what to do."""
    core = on.session.job.core
    if core.held or look_for(on, refusals):
        return
    procedure = on.session.plan.procedure(core.procedure)
    earlier = way_back(procedure, on.session.job, refusals)
    text = _("Put it right, then type again.")
    if earlier is not None:
        text = _(
            "Type repeat to go back to: {do}\n  Or put it right and type again.", do=earlier.do
        )
    elif (earlier := way_past(procedure, on.session.job, refusals)) is not None:
        text = _(
            "Nothing here puts it right. Type repeat to choose otherwise at: {do}", do=earlier.do
        )
    waivable = waivable_rows(refusals)
    if waivable:
        text += _("\n  Or waive: another person may waive it, once.")
    answer = ask_line(on, f"{step.id}:refused", text, "again")
    if answer == "repeat" and earlier is not None:
        submit(on, Back(earlier.id))
    elif answer == "waive" and waivable:
        waive(on, waivable[0])
    elif answer not in (None, "again", "dk") and _typed_in_words(step):
        on.retyped = (step.id, str(answer))


def _typed_in_words(step: Any) -> bool:
    """Whether a step takes a line that means the same wherever it is typed: no figure of a list
    that nobody has seen, and nothing that is begun by typing it."""
    if isinstance(step, AskStep):
        return step.form != "choice"
    return isinstance(step, ReadStep | TemperatureStep | GunStep)


def begin_step(on: Context, step: Any) -> bool:
    outcome = submit(on, Begin(step.id))
    if outcome.refused:
        after_refusal(on, step, outcome.refusals)
    on.begun_at = on.session.job.log.last
    return not outcome.refused and on.session.job.core.begun
