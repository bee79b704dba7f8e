"""What is asked before the next step: held, broken into, interrupted."""

from steplatch.safety.bay import SPRAYS, Act
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.occurrences import OUTCOMES

from ..core.commands import AnswerMeanwhile, GiveUp, GoOn, Report, Stop
from .asking import _not_an_answer, ask_choice, ask_line, beside, submit, with_lead
from .context import Context
from .refusal import look_at
from .screen import card_lines
from .talk import Choice


def how_long_it_sprayed(on: Context) -> None:
    """Something broke into a spray: its end is told before anything else."""
    text = _("How many seconds did it spray? dk: not known.")
    typed = ask_line(on, "card:seconds", text, "dk")
    if typed is not None:
        submit(on, Report("spray_ended", seconds="?" if typed == "dk" else typed))


def came_out(on: Context, act: Act) -> None:
    """Something broke into a permitted act: what came of it is told before anything else."""
    name = spoken(act.value)
    with_lead(on, (_("FIRST  '{name}' was permitted when something broke in.", name=name), "do"))
    beside(on, "card")
    if act in SPRAYS:
        how_long_it_sprayed(on)
        return
    choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
    answer = ask_choice(on, "card:outcome", _("What came of it?"), choices)
    if answer is not None:
        unknown = answer == "dk"
        submit(on, Stop("not_known") if unknown else Report(answer))


def card(on: Context) -> None:
    with_lead(on)
    beside(on, "card")
    for text, style in card_lines(on.session.job, on.talk.width):
        on.talk.say(text, style)
    if on.session.job.bay.permit in SPRAYS:
        how_long_it_sprayed(on)
        return
    answer = ask_line(
        on,
        "card",
        _(
            "Type go to go on, event to report something, abandon to make safe and end, "
            "leave to close the program."
        ),
        "go",
    )
    if answer == "go":
        submit(on, GoOn())
    elif answer == "abandon":
        submit(on, GiveUp())
    elif answer is not None:
        on.talk.say(_not_an_answer(answer, _("Still held")), "refused")


def reconfirm(on: Context) -> None:
    core = on.session.job.core
    on.talk.say()
    on.talk.say(_("The work was interrupted. Nothing is assumed: look again."), "head")
    if not core.meanwhile:
        look_at(on, core.ask_again[0])
        return
    choices = [
        Choice("no", _("nothing was sprayed, connected or cranked meanwhile")),
        Choice("yes", _("something was")),
    ]
    with_lead(on, (_("DO     Find out what happened meanwhile."), "do"))
    answer = ask_choice(
        on, "meanwhile", _("Was anything sprayed, connected or cranked meanwhile?"), choices, "no"
    )
    if answer is not None:
        submit(on, AnswerMeanwhile("unknown" if answer == "dk" else answer))
