"""Asking and submitting: the words that work everywhere, choices, lines, and what came of it.

It decides nothing. Every answer becomes a command; what may be done is the engine's word.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from steplatch.safety.bay import FACTS, SPRAYS, Act
from steplatch.safety.interlocks import INTERLOCKS, Refusal
from steplatch.safety.kernel import LOOKED_AT, Happened, Lapsed, PermitLapsed, Tripped
from steplatch.safety.occurrences import OUTCOMES, Happening, happening_of

from ..core.attention import quick_answer
from ..core.clock import Times
from ..core.commands import Back, Begin, Command, GiveUp, GoOn, Look, Report, Stop
from ..core.engine import Outcome
from ..core.job import Event
from ..core.reports import REPORTABLE
from ..jobs.session import Session
from ..record.clocks import PacedClock
from ..simulator.hand import Hand, Noticed
from .full_screen import PageTalk
from .help_texts import help_lines, term_lines
from .meanwhile import ahead_lines
from .screen import card_lines, foot_lines, page_of, state_words
from .talk import EVENT, Choice, Line, Page, Prompt, Stopped, Talk
from .way_back import way_back

STAYS = ("?", "??", "ahead", "write")
"""Words after which the same question stands there again."""
_ROWS = {row.id: row for row in INTERLOCKS}
_EMERGENCIES = (
    *("fire_seen", "fume_alarm", "person_hurt", "ran_away", "self_started", "over_ceiling"),
    *("stalled", "stopped", "lowered", "overdosed", "spilled", "stub_snapped"),
)


class Overtaken(Exception):  # noqa: N818 - it names what happened
    """Time or a trip has moved the job on while a question stood open: what is due is shown."""


class Leave(Exception):  # noqa: N818 - a word that a person says
    """The person leaves; the job can be resumed."""


@dataclass(frozen=True, slots=True)
class Keeper:
    """Keeps a personal value apart and returns what the journal may hold instead."""

    keep: Callable[[str, str], str]


class Asker:
    """Asks one person, carries out the words that work everywhere, submits commands."""

    def __init__(
        self, session: Session, talk: Talk, job_id: str, keeper: Keeper, hand: Hand | None
    ) -> None:
        self.session = session
        self.talk = talk
        self.job_id = job_id
        self.keeper = keeper
        self.hand = hand
        self.lead: tuple[Line, ...] = ()
        self.noticed: tuple[Line, ...] = ()
        self.page: Page | None = None
        self.live: Callable[[], tuple[Line, ...]] | None = None
        self.nag: Callable[[], str] | None = None
        self._news = ""
        self._shown = ""
        self._begun_at: Times | None = None

    # -- one question ----------------------------------------------------------------------

    def _choose(
        self,
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
        span = f"1 to {len(values)}" if len(values) > 1 else "1"
        while True:
            typed = self._word(
                Prompt(key, "choice", f"{text} Type {span}, or dk.", turned, truth, want)
            )
            if typed is None:
                return None
            if typed.lower() == "dk":
                return "dk"
            if typed in values:
                return typed
            if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(values):
                return values[int(typed) - 1]
            self.talk.say(_not_an_answer(typed, f"Type {span}, or dk"), "refused")

    def _line(
        self, key: str, text: str, truth: str = "", want: str = "", kind: str = "line"
    ) -> str | None:
        while True:
            typed = self._word(Prompt(key, kind, text, (), truth, want))
            if typed is None or typed:
                return "dk" if typed is not None and typed.lower() == "dk" else typed
            self.talk.say("Enter alone is no answer.", "refused")

    def _word(self, prompt: Prompt) -> str | None:
        """One typed word; the words that work everywhere are carried out here."""
        prompt = self._whole(prompt)
        typed = self.talk.ask(prompt)
        if self._common(typed, prompt.key):
            return self._word(prompt) if typed.lower() in STAYS else None
        return typed

    def _whole(self, prompt: Prompt) -> Prompt:
        """The question with all that stands with it."""
        return replace(
            prompt,
            lead=(*self.lead, *self.noticed),
            foot=foot_lines(self.session.job),
            page=replace(self.page, mark=self._mark()) if self.page else None,
            live=self.live,
            watch=None if self.hand else self._watch,
        )

    def _mark(self) -> str:
        """The first of a step's two marks, as it stands now."""
        if not self.session.job.core.begun or self._begun_at is None:
            return "not begun"
        return f"begun {clock_text(self._begun_at)[:5]}"

    def _watch(self) -> str:
        """Let the time be noticed while a question stands open; what is new, in words.

        Raises Overtaken when another step, a look or the card is due now.
        """
        before = self.session.job.core
        outcome = self.session.tick()
        core = self.session.job.core
        self._tell(outcome)
        if (core.step, core.held, core.ask_again, core.ended) != (
            before.step, before.held, before.ask_again, before.ended,
        ):  # fmt: skip
            raise Overtaken
        news = [text for event in outcome.events if (text := news_of(event))]
        if not news and self.nag is not None and (due := self.nag()):
            news = [due]
        soon = self.session.lapsing_soon()
        if not news and soon is not None:
            about = (FACTS[soon].__doc__ or soon).split(".")[0]
            news = [f"LOOK   It is asked again soon: {about[:1].lower()}{about[1:]}."]
        self._news = news[-1] if news else self._news
        return self._news

    def _tell(self, outcome: Outcome) -> None:
        """Say which trips have latched, and ring until somebody answers."""
        for event in outcome.events:
            if isinstance(event, Tripped):
                name = event.trip.value.replace("_", " ")
                self.talk.say(f" TRIP LATCHED: {name}", "DANGER")
                if isinstance(self.talk, PageTalk):
                    self.talk.alarm()

    def _common(self, typed: str, key: str) -> bool:
        """Carry out a word that works everywhere; False for any other word."""
        match typed.lower():
            case "s" | "stop":
                self._submit(Stop("stop"))
            case "leave":
                self._leave()
            case "?":
                for text in help_lines(self.session, self.job_id, key, self.talk.width):
                    self.talk.say(text)
            case "??":
                for text in term_lines(self.talk.width):
                    self.talk.say(text)
            case "back":
                self._back()
            case "event":
                self._event()
            case "ahead":
                core = self.session.job.core
                procedure = self.session.plan.procedure(core.procedure)
                for text in ahead_lines(procedure, self.session.job, self.job_id):
                    self.talk.say(text)
            case word:
                return self._amend(word)
        return True

    def _amend(self, word: str) -> bool:
        """Words that put the record right (see ``amending``); False for any other."""
        return False

    def _with_lead(self, *lead: Line) -> tuple[tuple[Line, ...], tuple[Line, ...]]:
        """Put other lines over the next question; returns what stood there."""
        before = (self.lead, self.noticed)
        self.lead, self.noticed = lead, ()
        return before

    # -- the words that work everywhere ----------------------------------------------------

    def _leave(self) -> None:
        """Leaving is a stop: the job is held, and the card for its state is shown."""
        if not self.session.job.core.held:
            self._submit(Stop("left"))
            for text, style in card_lines(self.session.job, self.talk.width):
                self.talk.say(text, style)
        raise Leave

    def _back(self) -> None:
        marks = self.session.job.log.marks
        ids = [s.id for s in self.session.plan.procedure(self.session.job.core.procedure).steps()]
        here = ids.index(self.session.job.core.step)
        earlier = [m.step for m in marks if m.step in ids[:here]]
        if not earlier:
            self.talk.say("There is no earlier step to go back to.")
            return
        self._submit(Back(earlier[-1]))

    def _event(self) -> None:
        """Something happened: the gravest stand first, and the order never changes."""
        known = {what.value for what in REPORTABLE}
        choices = [Choice(n, happening_of(n).said) for n in _EMERGENCIES if n in known]
        before = self._with_lead(("EVENT  Say what happened.", "do"))
        page, live, nag = self.page, self.live, self.nag
        self._beside(EVENT)
        try:
            answer = self._choose(EVENT, "Which was it?", choices, turned_by_key=False)
        finally:
            (self.lead, self.noticed), self.page = before, page
            self.live, self.nag = live, nag
        if answer is not None and answer != "dk":
            self._submit(Report(answer))

    # -- held, looked at, refused ----------------------------------------------------------

    def _page(self, step: Any, key: str = "") -> Page:
        """What the screen shows of a step; with ``key`` of a question beside it, which has no
        cautions of its own."""
        core = self.session.job.core
        procedure = self.session.plan.procedure(core.procedure)
        page = page_of(self.session.plan, procedure, step, self.session.job)
        return replace(page, step=key, cautions=(), why="") if key else page

    def _beside(self, key: str) -> None:
        """Put the page of a question beside the step on the screen."""
        core = self.session.job.core
        procedure = self.session.plan.procedure(core.procedure)
        self.page = self._page(procedure.step(core.step), key)
        self.live = self.nag = None

    def _how_long_it_sprayed(self) -> None:
        """Something broke into a spray: its end is told before anything else."""
        text = "How many seconds did it spray? dk: not known."
        typed = self._line("card:seconds", text, "dk")
        if typed is not None:
            self._submit(Report("spray_ended", seconds="?" if typed == "dk" else typed))

    def _came_out(self, act: Act) -> None:
        """Something broke into a permitted act: what came of it is told before anything else."""
        name = act.value.replace("_", " ")
        self._with_lead((f"FIRST  '{name}' was permitted when something broke in.", "do"))
        self._beside("card")
        if act in SPRAYS:
            self._how_long_it_sprayed()
            return
        choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
        answer = self._choose("card:outcome", "What came of it?", choices)
        if answer is not None:
            unknown = answer == "dk"
            self._submit(Stop("not_known") if unknown else Report(answer))

    def _card(self) -> None:
        self._with_lead()
        self._beside("card")
        for text, style in card_lines(self.session.job, self.talk.width):
            self.talk.say(text, style)
        if self.session.job.bay.permit in SPRAYS:
            self._how_long_it_sprayed()
            return
        answer = self._line(
            "card",
            "Type go to go on, event to report something, abandon to make safe and end, "
            "leave to close the program.",
            "go",
        )
        if answer == "go":
            self._submit(GoOn())
        elif answer == "abandon":
            self._submit(GiveUp())
        elif answer is not None:
            self.talk.say(_not_an_answer(answer, "Still held"), "refused")

    def _look_at(self, fact: str) -> None:
        """Ask again for the state of one fact; its own words say what it is about."""
        about = (FACTS[fact].__doc__ or fact).split(".")[0]
        self._shown = ""
        self._beside(f"look:{fact}")
        before = self._with_lead((f"DO     Look again: {about[:1].lower()}{about[1:]}.", "do"))
        try:
            noticed = self._seen(self.hand.look(fact) if self.hand and fact != "key" else None)
            choices = [Choice(name, said) for name, said in state_words(fact)]
            answer = self._choose(f"look:{fact}", "Which is true now?", choices, noticed.answer)
        finally:
            self.lead, self.noticed = before
        if answer is not None:
            self._submit(Look(fact, "unknown" if answer == "dk" else answer))

    def _look_for(self, refusals: tuple[Refusal, ...]) -> bool:
        """After a refusal: ask at once about what can be settled by a look; False if nothing."""
        facts = {
            fact
            for refusal in refusals
            if refusal.interlock in _ROWS
            for fact in _ROWS[refusal.interlock].reads
            if fact in LOOKED_AT and getattr(self.session.job.bay, fact).unknown
        }
        for fact in sorted(facts):
            self._look_at(fact)
            if self.session.job.core.held:
                break
        return bool(facts)

    def _refused(self, step: Any, refusals: tuple[Refusal, ...]) -> None:
        """Ask what a look can settle; otherwise let the person read and choose what to do."""
        core = self.session.job.core
        if core.held or self._look_for(refusals):
            return
        procedure = self.session.plan.procedure(core.procedure)
        earlier = way_back(procedure, self.session.job, refusals)
        text = "Put it right, then type again."
        if earlier is not None:
            text = f"Type repeat to go back to: {earlier.do}\n  Or put it right and type again."
        waivable = self._waivable(refusals)
        if waivable:
            text += "\n  Or waive: another person may waive it, once."
        answer = self._line(f"{step.id}:refused", text, "again")
        if answer == "repeat" and earlier is not None:
            self._submit(Back(earlier.id))
        elif answer == "waive" and waivable:
            self._waive(waivable[0])

    def _waivable(self, refusals: tuple[Refusal, ...]) -> list[str]:
        """Refused rows that may be waived (see ``amending``)."""
        return []

    def _waive(self, interlock: str) -> None:
        """The dialogue for a waiver (see ``amending``)."""

    # -- submitting ------------------------------------------------------------------------

    def _begin(self, step: Any) -> bool:
        outcome = self._submit(Begin(step.id))
        if outcome.refused:
            self._refused(step, outcome.refusals)
        self._begun_at = self.session.job.log.last
        return not outcome.refused and self.session.job.core.begun

    def _submit(self, command: Command) -> Outcome:
        return self._by(None, command)

    def _by(self, person: str | None, command: Command) -> Outcome:
        """Submit in another person's name (None: who works), and show what came of it."""
        procedure = self.session.plan.procedure(self.session.job.core.procedure)
        outcome = self.session.submit(command, person)
        quick = quick_answer(procedure, self.session.job, outcome)
        if quick:
            self.talk.say(quick, "context")
        self._tell(outcome)
        for refusal in outcome.refusals:
            self.talk.say(f"REFUSED  {refusal.reason}", "refused")
            self.talk.say(f"ALLOWED  once this is so: {refusal.remedy}")
            self.talk.say(f"         source: {refusal.source} [{refusal.interlock}]")
        return outcome

    def _seen(self, noticed: Noticed | None) -> Noticed:
        """What the practice vehicle shows stands with the question."""
        if noticed is None:
            return Noticed("")
        if noticed.words:
            self.noticed = ((f"  (practice vehicle) {noticed.words}", ""),)
        return noticed

    def _pass_time(self, seconds: float) -> None:
        """Let practice time jump, or pass with the words that leave a wait running. Raises
        Stopped."""
        clock = self.session.clock
        try:
            if isinstance(clock, PacedClock):
                clock.wait_in_view(seconds, self._rest, self._said_in_a_wait)
            else:
                clock.wait(seconds)
        except KeyboardInterrupt:
            raise Stopped from None

    def _rest(self, seconds: float, text: str) -> str:
        """Sit out a paced practice wait, with the step in view."""
        if isinstance(self.talk, PageTalk):
            return self.talk.rest(seconds, text, self._whole(Prompt("rest", "line", "")))
        return self.talk.rest(seconds, text)

    def _said_in_a_wait(self, typed: str) -> bool:
        """Carry out a word typed while practice time passes (see ``writing``)."""
        return False


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


def news_of(event: Event) -> str:
    """What an event that only time brings means to who stands at the vehicle; '' for others."""
    match event:
        case Lapsed(fact):
            about = (FACTS[fact].__doc__ or fact).split(".")[0] if fact in FACTS else fact
            return f"LAPSED {about[:1].lower()}{about[1:]}: look again before it counts."
        case PermitLapsed():
            return "LAPSED the permit: do not act on it; ask for it again."
        case Happened(what=Happening.SOAK_DUE):
            return "DUE    The soak is over."
        case Happened(what=Happening.RUN_ON_DUE):
            return "DUE    The drying time is over."
    return ""


def _not_an_answer(typed: str, remedy: str) -> str:
    short = typed if len(typed) <= 20 else typed[:19] + "…"
    return (
        f"'{short}' is no answer here. {remedy}."
        if typed
        else f"Enter alone is no answer. {remedy}."
    )
