"""The words that work at every question: stop, leave, help, back, event and the rest."""

from steplatch.safety.catalogue import _
from steplatch.safety.occurrences import happening_of

from ..core.commands import Back, Report, Stop
from ..core.reports import REPORTABLE
from . import car
from .amending import fix, not_applicable
from .asking import aside, ask_choice, submit
from .context import Context, Leave
from .help_texts import help_lines, term_lines
from .meanwhile import ahead_lines
from .people import gone, hand_over, join
from .photo import keep_photo
from .screen import card_lines
from .talk import EVENT, Choice
from .writing import write_ahead

_EMERGENCIES = (
    *("fire_seen", "fume_alarm", "person_hurt", "ran_away", "self_started", "over_ceiling"),
    *("stalled", "stopped", "lowered", "overdosed", "spilled", "stub_snapped"),
)


def carry_out(on: Context, typed: str, key: str) -> bool:
    """Carry out a word that works everywhere; False for any other word."""
    match typed.lower():
        case "s" | "stop":
            submit(on, Stop("stop"))
        case "leave":
            leave(on)
        case "?":
            for text in help_lines(on.session, on.job_id, key, on.talk.width):
                on.talk.say(text)
        case "??":
            for text in term_lines(on.talk.width):
                on.talk.say(text)
        case "back":
            go_back(on)
        case "event":
            ask_event(on)
        case "ahead":
            core = on.session.job.core
            procedure = on.session.plan.procedure(core.procedure)
            for text in ahead_lines(procedure, on.session.job, on.job_id):
                on.talk.say(text)
        case "aside" if on.car is not None:
            car.set_aside(on)
        case "fix":
            fix(on)
        case "na":
            not_applicable(on)
        case "join":
            with aside(on, "people", (_("JOIN   Who has come and stays."), "do")):
                join(on)
        case "gone":
            with aside(on, "people", (_("GONE   Who has gone and comes back no more."), "do")):
                gone(on)
        case "over":
            with aside(on, "people", (_("OVER   Who does the work from now on."), "do")):
                hand_over(on)
        case "photo":
            with aside(on, "photo", (_("PHOTO  Keep a picture with the job."), "do")):
                keep_photo(on)
        case "write":
            write_ahead(on)
        case _:
            return False
    return True


def leave(on: Context) -> None:
    """Leaving is a stop: the job is held, and the card for its state is shown."""
    if not on.session.job.core.held:
        submit(on, Stop("left"))
        for text, style in card_lines(on.session.job, on.talk.width):
            on.talk.say(text, style)
    raise Leave


def go_back(on: Context) -> None:
    """Go back to the step that was done last before this one."""
    marks = on.session.job.log.marks
    procedure = on.session.plan.procedure(on.session.job.core.procedure)
    before = procedure.steps()[: procedure.place(on.session.job.core.step)]
    keys = {(procedure.id, step.id) for step in before}
    earlier = [m.step for m in marks if m.key in keys]
    if not earlier:
        on.talk.say(_("There is no earlier step to go back to."))
        return
    submit(on, Back(earlier[-1]))


def ask_event(on: Context) -> None:
    """Something happened: the gravest stand first, and the order never changes."""
    known = {what.value for what in REPORTABLE}
    choices = [Choice(n, happening_of(n).said) for n in _EMERGENCIES if n in known]
    with aside(on, EVENT, (_("EVENT  Say what happened."), "do")):
        answer = ask_choice(on, EVENT, _("Which was it?"), choices, turned_by_key=False)
    if answer is not None and answer != "dk":
        submit(on, Report(answer))
