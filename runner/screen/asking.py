"""Asking and submitting: choices, lines, and what came of it.

It decides nothing. Every answer becomes a command; what may be done is the engine's word.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from steplatch.safety.catalogue import _, spoken
from steplatch.safety.kernel import Tripped

from ..core.attention import quick_answer
from ..core.clock import Times
from ..core.commands import Command
from ..core.engine import Outcome
from ..record.clocks import PacedClock
from ..simulator.hand import Noticed
from . import car
from .context import Context, Overtaken
from .notices import news_of, refusal_lines, soon_too_old
from .screen import foot_lines, page_of
from .talk import GO, SAME, WATCH_S, Choice, Page, Prompt, Stopped, StyledLine

CAR_WATCH_S = 0.2
"""How often an open question looks at what the vehicle reports."""
STAYS = ("?", "??", "ahead", "write")
"""Words after which the same question stands there again."""
IN_A_WAIT = ("write", "ahead", "?", "??")
"""Words that leave a wait running."""


def ask_choice(
    on: Context,
    key: str,
    text: str,
    choices: list[Choice],
    truth: str = "",
    want: str = "",
    turned_by_key: bool = True,
) -> str | None:
    """A numbered choice. The order is turned by the key, so that 'always 1' fails; a list in
    order of time is left as it is."""
    turn = sum(key.encode()) % len(choices) if turned_by_key else 0
    turned = tuple(choices[turn:] + choices[:turn])
    values = [choice.value for choice in turned]
    span = _("1 to {count}", count=len(values)) if len(values) > 1 else "1"
    while True:
        typed = ask_word(on, Prompt(key, "choice", text, turned, truth, want))
        if typed is None:
            return None
        if typed.lower() == "dk":
            return "dk"
        if typed in values:
            return typed
        if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(values):
            return values[int(typed) - 1]
        on.talk.say(_not_an_answer(typed, _("Type {span}, or dk", span=span)), "refused")


def ask_line(
    on: Context,
    key: str,
    text: str,
    truth: str = "",
    want: str = "",
    kind: str = "line",
    offer: str = "",
) -> str | None:
    """A line as typed; for the key of what is offered, that. What was typed for it where its step
    had been refused is taken, and said."""
    (retyped, answer), on.retyped = on.retyped, ("", "")
    if retyped == key:
        on.talk.say(_("  taken: {answer}", answer=answer))
        return answer
    while True:
        typed = ask_word(on, Prompt(key, kind, text, (), truth, want, offer=offer))
        if typed == SAME and offer:
            return offer
        if typed is None or typed:
            return "dk" if typed is not None and typed.lower() == "dk" else typed
        on.talk.say(_("Enter alone is no answer."), "refused")


def pressed_go(on: Context, key: str, text: str) -> bool:
    """The deliberate key of an act that can hurt: no figure, and Enter alone never agrees."""
    while True:
        typed = ask_word(on, Prompt(key, "go", text, want=GO))
        if typed is None or typed.lower() == GO:
            return typed is not None
        on.talk.say(_not_an_answer(typed, _("Only {go} says so", go=GO)), "refused")


def ask_word(on: Context, prompt: Prompt) -> str | None:
    """One typed word; the words that work everywhere are carried out here, but for one that is an
    answer of this very question (the state 'over' of the oil)."""
    prompt = whole_prompt(on, prompt)
    typed = on.talk.ask(prompt)
    if any(typed == choice.value for choice in prompt.choices):
        return typed
    if on.everywhere(on, typed, prompt.key):
        return ask_word(on, prompt) if typed.lower() in STAYS else None
    return typed


def whole_prompt(on: Context, prompt: Prompt) -> Prompt:
    """The question with all that stands with it."""
    return replace(
        prompt,
        lead=(*on.lead, *on.noticed),
        foot=foot_lines(on.session.job),
        page=replace(on.page, mark=begun_mark(on)) if on.page else None,
        live=partial(_live, on) if on.car else on.live,
        watch=None if on.hand and not on.car else partial(notice_time, on),
        watch_s=CAR_WATCH_S if on.car else WATCH_S,
    )


def _live(on: Context) -> tuple[StyledLine, ...]:
    return (*car.live_lines(on), *(on.live() if on.live else ()))


def begun_mark(on: Context) -> str:
    """The first of a step's two marks, as it stands now."""
    if not on.session.job.core.begun or on.begun_at is None:
        return _("not begun")
    return _("begun {clock_text}", clock_text=clock_text(on.begun_at)[:5])


def notice_time(on: Context) -> str:
    """Let the time be noticed while a question stands open; what is new, in words.

    Raises Overtaken when another step, a look or the card is due now.
    """
    before = on.session.job.core
    car.notice(on)
    outcome = on.session.tick()
    core = on.session.job.core
    tell_trips(on, outcome)
    if (core.step, core.held, core.ask_again, core.ended) != (
        before.step, before.held, before.ask_again, before.ended,
    ):  # fmt: skip
        raise Overtaken
    news = [text for event in outcome.events if (text := news_of(event))]
    if not news and on.nag is not None and (due := on.nag()):
        news = [due]
    soon = on.session.lapsing_soon()
    if not news and soon is not None:
        news = [soon_too_old(soon)]
    on.news = news[-1] if news else on.news
    return on.news


def tell_trips(on: Context, outcome: Outcome) -> None:
    """Say which trips have latched, and ring until somebody answers."""
    for event in outcome.events:
        if isinstance(event, Tripped):
            name = spoken(event.trip.value)
            on.talk.say(_(" TRIP LATCHED: {name}", name=name), "DANGER")
            on.talk.ring(until_answered=True)


def with_lead(
    on: Context, *lead: StyledLine
) -> tuple[tuple[StyledLine, ...], tuple[StyledLine, ...]]:
    """Put other lines over the next question; returns what stood there."""
    before = (on.lead, on.noticed)
    on.lead, on.noticed = lead, ()
    return before


@contextmanager
def aside(on: Context, key: str, *lead: StyledLine) -> Iterator[None]:
    """While it is open, other lines stand over the questions, with ``key`` on a page beside the
    step's; what stood there comes back."""
    before = on.lead, on.noticed, on.page, on.live, on.nag
    with_lead(on, *lead)
    if key:
        beside(on, key)
    try:
        yield
    finally:
        on.lead, on.noticed, on.page, on.live, on.nag = before


def page_now(on: Context, step: Any, key: str = "") -> Page:
    """What the screen shows of a step; with ``key`` of a question beside it, which has no
    cautions of its own."""
    core = on.session.job.core
    procedure = on.session.plan.procedure(core.procedure)
    page = page_of(on.session.plan, procedure, step, on.session.job)
    if key:
        return replace(page, step=key, cautions=(), why="")
    full, short = on.read.split(procedure.id, step.id, page.cautions, on.session.job.bay)
    return replace(page, cautions=full, reminded=short)


def beside(on: Context, key: str) -> None:
    """Put the page of a question beside the step on the screen."""
    core = on.session.job.core
    procedure = on.session.plan.procedure(core.procedure)
    on.page = page_now(on, procedure.step(core.step), key)
    on.live = on.nag = None


def submit(on: Context, command: Command) -> Outcome:
    return submit_by(on, None, command)


def submit_by(on: Context, person: str | None, command: Command) -> Outcome:
    """Submit in another person's name (None: who works), and show what came of it."""
    procedure = on.session.plan.procedure(on.session.job.core.procedure)
    outcome = on.session.submit(command, person)
    quick = quick_answer(procedure, on.session.job, outcome)
    if quick:
        on.talk.say(quick, "context")
    tell_trips(on, outcome)
    for text, style in (line for refusal in outcome.refusals for line in refusal_lines(refusal)):
        on.talk.say(text, style)
    return outcome


def take_in(on: Context, noticed: Noticed | None) -> Noticed:
    """What the practice vehicle shows stands with the question."""
    if noticed is None:
        return Noticed("")
    if noticed.words:
        on.noticed = ((_("  (practice vehicle) {words}", words=noticed.words), ""),)
    return noticed


def pass_time(on: Context, seconds: float) -> None:
    """Let practice time jump, or pass with the words that leave a wait running. Raises
    Stopped."""
    clock = on.session.clock
    try:
        if isinstance(clock, PacedClock):
            clock.wait_in_view(seconds, partial(rest, on), partial(said_in_a_wait, on))
        else:
            clock.wait(seconds)
    except KeyboardInterrupt:
        raise Stopped from None


def rest(on: Context, seconds: float, text: str) -> str:
    """Sit out a paced practice wait, with the step in view."""
    return on.talk.rest(seconds, whole_prompt(on, Prompt(text, "line", "")))


def said_in_a_wait(on: Context, typed: str) -> bool:
    """Carry out a word typed while practice time passes; False for any other."""
    if typed.lower() not in IN_A_WAIT:
        return False
    return on.everywhere(on, typed, on.session.job.core.step)


def clock_text(at: Times, later_s: float = 0.0) -> str:
    """The time of day at the workshop with its zone, ``later_s`` after ``at``: '14:05:09 +01:00'.

    For people to read; no rule reads it.
    """
    moment = datetime.fromisoformat(at.utc) + _offset(at.zone) + timedelta(seconds=later_s)
    return f"{moment:%H:%M:%S} {at.zone}"


def _offset(zone: str) -> timedelta:
    hours, minutes = zone[1:].split(":")
    whole = timedelta(hours=int(hours), minutes=int(minutes))
    return -whole if zone.startswith("-") else whole


def _not_an_answer(typed: str, remedy: str) -> str:
    short = typed if len(typed) <= 20 else typed[:19] + "…"
    return (
        _("'{short}' is no answer here. {remedy}.", short=short, remedy=remedy)
        if typed
        else _("Enter alone is no answer. {remedy}.", remedy=remedy)
    )
