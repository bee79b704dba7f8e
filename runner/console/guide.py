"""The guide: shows the step that is due, asks, submits, and shows what came of it.

It decides nothing. Every answer becomes a command; what may be done is the engine's word.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from runner.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    GiveUp,
    GoOn,
    Look,
    Report,
    Sign,
    Stop,
)
from runner.console.help_texts import help_lines
from runner.console.screen import (
    card_lines,
    spray_seconds,
    state_words,
    step_lines,
)
from runner.console.talk import Choice, Gone, Prompt, Stopped, Talk
from runner.engine import Outcome
from runner.practice.hand import Hand, Noticed
from runner.procedure import (
    ActStep,
    AskStep,
    EndStep,
    GunStep,
    HoldStep,
    JudgeStep,
    LookStep,
    ReadStep,
    ReportStep,
    ResetStep,
    SignStep,
    SprayStep,
    TemperatureStep,
    WaitStep,
)
from runner.record import NotRecordable
from runner.session import Session
from runner.steps import CUSTOMER, REPORTABLE
from safety.bay import SPRAYS, Act
from safety.happenings import OUTCOMES, Happening, happening_of
from safety.interlocks import INTERLOCKS, Refusal
from safety.kernel import LOOKED_AT, Tripped

_ROWS = {row.id: row for row in INTERLOCKS}
_EMERGENCIES = (
    *("fire_seen", "fume_alarm", "person_hurt", "ran_away", "self_started", "over_ceiling"),
    *("stalled", "stopped", "lowered", "overdosed", "spilled", "stub_snapped"),
)
HOLD_STEP_S = 60.0
LONG_HOLD = 40
"""Readings after which a lesson stops waiting for a level that cannot be told."""


class Leave(Exception):  # noqa: N818 - a word that a person says
    """The person leaves; the job can be resumed."""


@dataclass(frozen=True, slots=True)
class Keeper:
    """Keeps a personal value apart and returns what the journal may hold instead."""

    keep: Callable[[str, str], str]


class Guide:
    """Leads one person through one job."""

    def __init__(
        self, session: Session, talk: Talk, job_id: str, keeper: Keeper, hand: Hand | None
    ) -> None:
        self.session = session
        self.talk = talk
        self.job_id = job_id
        self.keeper = keeper
        self.hand = hand

    def run(self) -> str:
        """Until the job has ended: returns 'finished' or 'abandoned'. Raises Leave or Gone."""
        while not self.session.job.core.ended:
            try:
                self._turn()
            except Stopped:
                self._submit(Stop("Ctrl-C"))
            except Gone:
                self._submit(Stop("the terminal is gone"))
                raise
        return self.session.job.core.ended

    # -- one turn --------------------------------------------------------------------------

    def _turn(self) -> None:
        core = self.session.job.core
        self.session.tick()
        core = self.session.job.core
        soon = self.session.lapsing_soon()
        if soon is not None and not core.held and not core.ask_again:
            self._look_at(soon)
        elif core.meanwhile or core.ask_again:
            self._reconfirm()
        elif core.held:
            self._card()
        else:
            self._step()

    def _step(self) -> None:
        core = self.session.job.core
        procedure = self.session.plan.procedure(core.procedure)
        step = procedure.step(core.step)
        for text, style in step_lines(
            procedure, step, self.session.job, self.job_id, self.talk.width
        ):
            self.talk.say(text, style)
        match step:
            case LookStep():
                self._look_step(step)
            case AskStep():
                self._ask_step(step)
            case ActStep() | EndStep():
                self._act_step(step)
            case SprayStep():
                self._spray_step(step)
            case ReadStep() | TemperatureStep() | GunStep():
                self._typed_step(step)
            case WaitStep():
                self._wait_step(step)
            case HoldStep():
                self._hold_step(step)
            case JudgeStep():
                self._judge_step(step)
            case SignStep() | ResetStep():
                self._sign_step(step)
            case ReportStep():
                self._report_step(step)

    # -- kinds of step ---------------------------------------------------------------------

    def _look_step(self, step: LookStep) -> None:
        if not self._begin(step):
            return
        noticed = self._noticed(self.hand.look(step.fact) if self.hand else None)
        choices = [Choice(name, said) for name, said in state_words(step.fact)]
        answer = self._choose(step.id, "What do you see?", choices, noticed.answer, step.want[0])
        if answer is None:
            return
        state = "unknown" if answer == "dk" else answer
        self._submit(Look(step.fact, state))
        if state not in step.want and self.session.job.core.step == step.id:
            self.talk.say(
                step.remedy or "That is not what this step needs. Put it right, then look again."
            )

    def _ask_step(self, step: AskStep) -> None:
        if not self._begin(step):
            return
        if step.form == "choice":
            choices = [Choice(o.value, o.say) for o in step.options]
            answer = self._choose(step.id, "Which is it?", choices)
            if answer == "dk":
                answer = "unknown" if "unknown" in {o.value for o in step.options} else ""
                if not answer:
                    self.talk.say("This must be known to go on. Stop with s, or ask.")
                    return
        else:
            text = "Type the answer." if step.form == "text" else "Type number and unit."
            answer = self._line(step.id, text)
        if answer is None:
            return
        if step.personal:
            try:
                answer = self.keeper.keep(step.name, answer)
            except NotRecordable as bad:
                self.talk.say(f"Not taken: {bad}")
                return
        self._submit(Answer(step.id, answer))

    def _act_step(self, step: ActStep | EndStep) -> None:
        act = step.act if isinstance(step, ActStep) else _END[step.how]
        if not self._go(step) or not self._begin(step):
            return
        noticed = self._noticed(self.hand.perform(act) if self.hand else None)
        choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
        answer = self._choose(f"{step.id}:outcome", "What happened?", choices, noticed.answer)
        if answer is None:
            return
        if answer == "dk":
            self._submit(Stop("I don't know what happened"))
            return
        self._submit(Report(answer))

    def _spray_step(self, step: SprayStep) -> None:
        job = self.session.job
        longest = spray_seconds(step, job)
        act = Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING
        gun = job.log.latest("gun")
        loaded = job.bay.rate.value == "loaded" and gun is not None
        more = ", 'done' when the dose is in" if step.engine == "running" else ""
        text = (
            f"Type the seconds (at most {longest}), 'go' for a loaded gun, or measure or load "
            f"again ('19 20 21 mL in 5 s', 'loaded 14 mL'){more}."
        )
        want = "go" if loaded else str(longest or "done")
        if longest == 0 and not loaded:
            want = "done"
        typed = self._line(step.id, text, want=want)
        if typed is None:
            return
        if typed == "done" or "ml" in typed.lower():
            if self.hand and "ml" in typed.lower() and typed.startswith("loaded"):
                self._noticed(self.hand.load(float(typed.split()[1])))
            self._submit(Answer(step.id, typed))
            return
        outcome = self._submit(Begin(step.id, "" if typed == "go" else typed))
        if outcome.refused:
            self._refused(step, outcome.refusals)
            return
        self._burst(step, act, typed, float(gun["volume_ml"]) if loaded and gun else None)

    def _burst(self, step: SprayStep, act: Act, typed: str, load_ml: float | None) -> None:
        """The permit stands: spray, and report how it ended."""
        self.talk.say("GO: permitted now.", "do")
        counted = ""
        if self.hand:
            seconds = 0.0 if typed == "go" else float(typed.removesuffix("s"))
            noticed = self._noticed(self.hand.perform(act, seconds, load_ml))
        else:
            noticed = Noticed("")
            if load_ml is None:
                counted = self.talk.count(float(typed.removesuffix("s")))
        choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
        answer = self._choose(f"{step.id}:outcome", "What happened?", choices, noticed.answer)
        if answer is None:
            return
        if answer == "dk":
            answer = Happening.OVERDOSED.value
        seconds_text = ""
        if answer not in ("spray_none", "overdosed") and load_ml is None:
            seconds_text = counted or self._seconds(step, typed)
        self._submit(Report(answer, seconds=seconds_text))

    def _seconds(self, step: SprayStep, typed: str) -> str:
        answer = self._line(f"{step.id}:seconds", "How many seconds did it spray? (? = dk)", typed)
        return "?" if answer in (None, "dk") else str(answer)

    def _typed_step(self, step: ReadStep | TemperatureStep | GunStep) -> None:
        if not self._begin(step):
            return
        if isinstance(step, ReadStep):
            noticed = self._noticed(self.hand.reading() if self.hand else None)
            text = (
                "Type one line: pressure speed air exhaust coolant recirculation\n"
                "  mbar 1/min g/s degC degC open/shut/part; x = not shown on this vehicle"
            )
        elif isinstance(step, TemperatureStep):
            noticed = self._noticed(self.hand.temperature() if self.hand else None)
            text = "Type the temperature at the filter inlet, e.g. 86 degC."
        else:
            noticed = self._noticed(self.hand.shots() if self.hand else None)
            text = "Type three shots, e.g. '19 20 21 mL in 5 s', or 'loaded 14 mL'."
        answer = self._line(step.id, text, noticed.answer)
        if answer is None:
            return
        if answer == "dk":
            self.talk.say("No number, no reading: measure it, or stop with s.")
            return
        if isinstance(step, GunStep) and self.hand and answer.startswith("loaded"):
            self._noticed(self.hand.load(float(answer.split()[1])))
        outcome = self._submit(Answer(step.id, answer))
        if not outcome.refused:
            self._echo(step)
        if isinstance(step, TemperatureStep) and self.session.job.core.step == step.id:
            self.talk.say(step.remedy or "Not inside the limit yet. Wait, then measure again.")
            self._pass_time(120.0)

    def _echo(self, step: Any) -> None:
        if not isinstance(step, ReadStep):
            return
        from runner.readings.entry import echo
        from runner.readings.model import ReadingSet

        latest = self.session.job.log.latest("reading")
        if latest is not None:
            for text in echo(ReadingSet.from_json(latest)):
                self.talk.say(f"  {text}")

    def _wait_step(self, step: WaitStep) -> None:
        if not self.session.job.core.begun and not self._begin(step):
            return
        left = self.session.left_s(step.timer)
        while left > 0:
            self.talk.say(f"  {step.timer}: {int(left // 60)}:{int(left % 60):02d} left")
            self._pass_time(min(left + 0.1, 30.0))
            self.session.tick()
            left = self.session.left_s(step.timer)
        answer = self._line(step.id, "The time is over. Type 'due' to go on.", "due")
        if answer is not None:
            self._submit(Answer(step.id, answer))

    def _hold_step(self, step: HoldStep) -> None:
        if not self.session.job.core.begun and not self._begin(step):
            return
        left = self.session.left_s("run_on")
        trend = self.session.plan.judges.trend(self.session.job)
        drying = (
            "dry by now" if left <= 0 else f"drying {int(left // 60)}:{int(left % 60):02d} left"
        )
        self.talk.say(f"HOLD   {drying}; {trend['text']}")
        if self.hand:
            self._pass_time(HOLD_STEP_S)
            self.session.tick()
        noticed = self._noticed(self.hand.pressure() if self.hand else None)
        noted = len(self.session.job.log.every("trend"))
        level = trend["state"] == "levelled" or (trend["state"] != "falling" and noted >= LONG_HOLD)
        ready = self.session.left_s("run_on") <= 0 and level
        enough = noted >= 8
        answer = self._line(
            step.id,
            "Type the pressure (mbar) about once a minute; 'done' when dry and level.",
            "done" if ready and enough else noticed.answer,
        )
        if answer is None:
            return
        if answer == "again":
            self._submit(Begin(step.id))
        else:
            self._submit(Answer(step.id, answer))

    def _judge_step(self, step: JudgeStep) -> None:
        if not self._begin(step):
            return
        judged = self.session.job.log.latest(step.what) or {}
        for text in judged.get("lines", ()):
            self.talk.say(f"  {text}")
        answer = self._line(step.id, "Type 'read' when you have read it.", "read")
        if answer is not None:
            self._submit(Answer(step.id, answer))

    def _sign_step(self, step: SignStep | ResetStep) -> None:
        if not self._begin(step):
            return
        bay = self.session.job.bay
        for fact in getattr(step, "reads_back", ()):
            said = f"{bay.wet} (0.1 mL)" if fact == "wet" else getattr(bay, fact).said
            self.talk.say(f"  read back  {fact}: {said}")
        meaning = getattr(step, "meaning", "checked")
        roster = ", ".join(f"{p['id']} ({p['role']})" for p in self.session.job.log.people)
        answer = self._line(
            step.id,
            f"Signs as {step.role}: '{meaning}'. Type who signs: {roster}"
            + (f", or {CUSTOMER}" if step.role == CUSTOMER else "")
            + ".",
            want=f"role:{step.role}",
            kind="person",
        )
        if answer is not None and answer != "dk":
            self._submit(Sign(step.id, answer))

    def _report_step(self, step: ReportStep) -> None:
        if not self._begin(step):
            return
        noticed = Noticed("")
        if self.hand:
            noticed = self._noticed(self.hand.observe(step.want[0]))
        choices = [Choice(name, happening_of(name).said) for name in step.happenings]
        truth = noticed.answer.split(" ")[0]
        answer = self._choose(step.id, "What do you see?", choices, truth, step.want[0])
        if answer is None or answer == "dk":
            return
        if answer == "drained":
            measured = self._line(f"{step.id}:volume", "How much in the jug?", noticed.answer)
            if measured is None:
                return
            answer = measured if measured.startswith("drained") else f"drained {measured}"
        self._submit(Answer(step.id, answer))

    # -- held, interrupted, refused --------------------------------------------------------

    def _card(self) -> None:
        for text, style in card_lines(self.session.job):
            self.talk.say(text, style)
        if self.session.job.bay.permit in SPRAYS:
            typed = self._line("card:seconds", "How many seconds did it spray? (? = dk)", "?")
            self._submit(Report("spray_ended", seconds="?" if typed in (None, "dk") else typed))
            return
        answer = self._line(
            "card",
            "Type 'go' to go on with the procedure, 'event' to report something, 'abandon' to "
            "make safe and end, 'leave' to close the program.",
            "go",
        )
        if answer == "go":
            self._submit(GoOn())
        elif answer == "abandon":
            self._submit(GiveUp())

    def _reconfirm(self) -> None:
        core = self.session.job.core
        self.talk.say("The work was interrupted. Nothing is assumed: look again.", "head")
        if core.meanwhile:
            choices = [
                Choice("no", "nothing was sprayed, connected or cranked meanwhile"),
                Choice("yes", "something was"),
            ]
            answer = self._choose(
                "meanwhile", "Was anything sprayed, connected or cranked meanwhile?", choices, "no"
            )
            if answer is not None:
                self._submit(AnswerMeanwhile("unknown" if answer == "dk" else answer))
            return
        self._look_at(core.ask_again[0])

    def _look_at(self, fact: str) -> None:
        noticed = self._noticed(self.hand.look(fact) if self.hand and fact != "key" else None)
        choices = [Choice(name, said) for name, said in state_words(fact)]
        answer = self._choose(f"look:{fact}", f"Look again: {fact}", choices, noticed.answer)
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
        return bool(facts)

    # -- asking and submitting -------------------------------------------------------------

    def _go(self, step: Any) -> bool:
        """A deliberate word before an act; Enter alone never agrees."""
        return self._line(step.id, "Type 'go' to ask for the permit.", "go", kind="begin") == "go"

    def _begin(self, step: Any) -> bool:
        outcome = self._submit(Begin(step.id))
        if outcome.refused:
            self._refused(step, outcome.refusals)
        return not outcome.refused and self.session.job.core.begun

    def _refused(self, step: Any, refusals: tuple[Refusal, ...]) -> None:
        """Ask what a look can settle; otherwise let the person read and choose what to do."""
        if not self._look_for(refusals):
            self._line(
                f"{step.id}:refused", "Type 'again' to try again, or one of the words.", "again"
            )

    def _submit(self, command: Command) -> Outcome:
        outcome = self.session.submit(command)
        for event in outcome.events:
            if isinstance(event, Tripped):
                self.talk.say(f"TRIP LATCHED: {event.trip.value.replace('_', ' ')}", "DANGER")
        for refusal in outcome.refusals:
            self.talk.say(f"REFUSED  {refusal.reason}  [{refusal.interlock}]", "refused")
            self.talk.say(f"  what would allow it: {refusal.remedy}")
            self.talk.say(f"  source: {refusal.source}")
        return outcome

    def _choose(
        self, key: str, text: str, choices: list[Choice], truth: str = "", want: str = ""
    ) -> str | None:
        """A numbered choice. The order is turned by the key, so that 'always 1' fails."""
        turn = sum(key.encode()) % len(choices)
        turned = tuple(choices[turn:] + choices[:turn])
        values = [choice.value for choice in turned]
        while True:
            typed = self._word(Prompt(key, "choice", text, turned, truth, want))
            if typed is None:
                return None
            if typed == "dk" or typed in values:
                return typed
            if typed.isdigit() and 1 <= int(typed) <= len(values):
                return values[int(typed) - 1]
            self.talk.say(f"'{typed}' is none of the answers: type 1 to {len(values)}, or dk.")

    def _line(
        self, key: str, text: str, truth: str = "", want: str = "", kind: str = "line"
    ) -> str | None:
        while True:
            typed = self._word(Prompt(key, kind, text, (), truth, want))
            if typed is None or typed:
                return typed
            self.talk.say("Enter alone is no answer.")

    def _word(self, prompt: Prompt) -> str | None:
        """One typed word; the words that work everywhere are carried out here."""
        typed = self.talk.ask(prompt)
        match typed.lower():
            case "s" | "stop":
                self._submit(Stop("stop"))
                return None
            case "leave":
                raise Leave
            case "?":
                for text in help_lines(self.session, prompt.key, self.talk.width):
                    self.talk.say(text)
                return self._word(prompt)
            case "back":
                self._back()
                return None
            case "event":
                self._event()
                return None
        return typed

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
        known = {what.value for what in REPORTABLE}
        choices = [Choice(n, happening_of(n).said) for n in _EMERGENCIES if n in known]
        answer = self._choose("event", "What happened?", choices)
        if answer is not None and answer != "dk":
            self._submit(Report(answer))

    def _noticed(self, noticed: Noticed | None) -> Noticed:
        if noticed is None:
            return Noticed("")
        if noticed.words:
            self.talk.say(f"  (practice vehicle) {noticed.words}")
        return noticed

    def _pass_time(self, seconds: float) -> None:
        try:
            self.session.clock.wait(seconds)
        except KeyboardInterrupt:
            raise Stopped from None


_END = {"finished": Act.HAND_OVER, "abandoned": Act.ABANDON}
