"""The guide: shows the step that is due, asks, submits, and shows what came of it.

It decides nothing. Every answer becomes a command; what may be done is the engine's word.
"""

from collections.abc import Callable
from typing import Any

from steplatch.safety.bay import Act
from steplatch.safety.occurrences import OUTCOMES, happening_of

from ..assess import told
from ..core.commands import Answer, AnswerMeanwhile, Look, Note, Report, Stop
from ..core.job import Job
from ..core.procedure import Procedure
from ..core.reports import cut_short
from ..core.steps import (
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
from ..core.steps.ask import YEARS
from ..jobs.session import Session
from ..record import NotRecordable
from ..simulator.hand import Hand, Noticed
from ..workshop.pins import PinBook
from .asking import Keeper, Leave, Overtaken
from .checkers import signer_lines, visit_lines, visits
from .deadlines import by_lines, permit_lines
from .expected import Ranges, cooling_line, unit_line
from .full_screen import PageTalk
from .screen import (
    again_lines,
    do_lines,
    lead_lines,
    state_words,
    step_lines,
)
from .talk import Choice, Gone, Line, Page, Stopped, Talk
from .timed import TimedSteps

__all__ = ["Guide", "Keeper", "Leave"]

Doubts = Callable[[Job, ReadStep, str], dict[str, list[str]]]
"""The second looks that a typed set asks for: questions in words, none when nothing is odd."""

COMPARED = ("registration", "vin_tail")
"""What was typed from the vehicle stands beside the question whether it is the right one."""
LEAST_TEXT = 2
"""Characters of a text at least; a personal one is looked at here, since only its hash goes on."""
COOL_S_PER_K = 12.0
COOL_LEAST_S, COOL_MOST_S = 120.0, 600.0
"""How far practice time jumps before the exhaust is measured again."""


class Guide(TimedSteps):
    """Leads one person through one job.

    ``doubts`` asks for second looks at typed readings; ``pins`` is the book that signatures are
    checked against, none in practice; ``ranges`` says what is usually read; ``label`` is the fluid
    as its container names it.
    """

    def __init__(
        self,
        session: Session,
        talk: Talk,
        job_id: str,
        keeper: Keeper,
        hand: Hand | None,
        doubts: Doubts | None = None,
        pins: PinBook | None = None,
        ranges: Ranges | None = None,
        label: str = "",
    ) -> None:
        super().__init__(session, talk, job_id, keeper, hand)
        self.doubts = doubts
        self.pins = pins
        self.ranges = ranges
        self.label = label
        self.typed: dict[str, str] = {}
        self._measured = ""
        self._announced = False
        self._called = ""

    def run(self) -> str:
        """Until the job has ended: returns 'finished' or 'abandoned'. Raises Leave or Gone."""
        stop = ""
        while not self.session.job.core.ended:
            try:
                if stop:
                    why, stop = stop, ""
                    self._submit(Stop(why))
                self._turn()
            except Stopped:
                stop = "stop_key"
            except Overtaken:
                continue
            except Gone:
                self.session.submit(Stop("terminal_gone"))
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
            self._shown = ""
            self._card()
        elif (act := cut_short(self.session.plan, self.session.job)) is not None:
            self._came_out(act)
        else:
            self._step()

    def _step(self) -> None:
        core = self.session.job.core
        procedure = self.session.plan.procedure(core.procedure)
        step = procedure.step(core.step)
        job, width = self.session.job, self.talk.width
        self.page = self._page(step)
        if not isinstance(self.talk, PageTalk):
            if self._shown == step.id:
                lines = again_lines(step, job, width)
            else:
                lines = step_lines(self.session.plan, procedure, step, job, self.job_id, width)
            for text, style in lines:
                self.talk.say(text, style)
        if not self._announced:
            self._announce(procedure)
        self._call(self.page, procedure)
        self._shown = step.id
        lead = (
            *lead_lines(step, job, width, self.session.plan.working),
            *by_lines(self.session.job, step, self.session.clock.now()),
            *self._labels(step),
        )
        self.lead, self.noticed, self.live = lead, (), None
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

    def _labels(self, step: Any) -> tuple[Line, ...]:
        """The fluid's name as on its container, where it is handled; what was typed of the vehicle
        by whoever compares it."""
        fact = getattr(step, "fact", "")
        if fact == "identity" and self.typed:
            return ((f"TYPED  {'; '.join(self.typed.values())}", ""),)
        handled = isinstance(step, GunStep | SprayStep) or "data sheet" in step.do
        if self.label and handled:
            return ((f"LABEL  {self.label}", ""),)
        return ()

    def _announce(self, procedure: Procedure) -> None:
        """At the start: when a checker will be needed. A job that is come back to says it again."""
        self._announced = True
        lines = visit_lines(procedure, self.session.job) if procedure.role == "main" else []
        if lines:
            self.talk.say("CALL   Checker visits to come; tell them now:", "head")
        for text in lines:
            self.talk.say(f"       {text}")
        if procedure.role == "main":
            for text in signer_lines(procedure, self.session.job, self.session.person):
                self.talk.say(text, "head")

    def _call(self, page: Page, procedure: Procedure) -> None:
        """Once, with a bell, when it is time to call the next checker; the record says when."""
        if page.visit and page.visit.split(":")[0] != self._called:
            self.talk.say(f"CALL   {page.visit}", "head")
            if isinstance(self.talk, PageTalk):
                self.talk.ring()
            sign, _, _ = visits(procedure, self.session.job)[0]
            self._submit(Note("called", {"role": sign.role}))
        self._called = page.visit.split(":")[0]

    # -- kinds of step ---------------------------------------------------------------------

    def _look_step(self, step: LookStep) -> None:
        if not self._begin(step):
            return
        noticed = self._seen(self.hand.look(step.fact, step.want) if self.hand else None)
        choices = [Choice(name, said) for name, said in state_words(step.fact)]
        answer = self._choose(step.id, "Which is true?", choices, noticed.answer, step.want[0])
        if answer is None:
            return
        state = "unknown" if answer == "dk" else answer
        self._submit(Look(step.fact, state))
        self._say_remedy(step, state)

    def _say_remedy(self, step: LookStep | AskStep, answer: str) -> None:
        """What is to be done where ``answer`` leaves the job at its step."""
        if step.want and answer not in step.want and self.session.job.core.step == step.id:
            self.talk.say(
                step.remedy or "That is not what this step needs. Put it right, then look again."
            )

    def _ask_step(self, step: AskStep) -> None:
        if not self._begin(step):
            return
        told = self.hand.told.get(step.id, "") if self.hand else ""
        said = next((o.say for o in step.options if o.value == told), told)
        if said:
            self.noticed = ((f"  (practice card) {said}", ""),)
        if step.form == "choice":
            choices = [Choice(o.value, o.say) for o in step.options]
            self.noticed = (*self._written_line(step), *self.noticed)
            answer = self._choose(step.id, "Which is it?", choices, want="".join(step.want[:1]))
            if answer == "dk":
                answer = "unknown" if "unknown" in {o.value for o in step.options} else ""
                if not answer and getattr(step, "may_not_apply", False):
                    self.talk.say("If it does not apply here, type na and say why.")
                if not answer:
                    self.talk.say("This must be known to go on. Find out, ask, or stop with s.")
                    return
        else:
            there = self._written_line(step)
            self.noticed = (*there, *self.noticed)
            kept = "Type keep to answer with what was written, or " if there else ""
            text = _typed_as(step)
            answer = self._line(step.id, kept + text[:1].lower() + text[1:] if kept else text)
        if answer is None:
            return
        answer = self._kept(step, answer)
        if step.personal:
            if step.form == "text" and len(answer) < LEAST_TEXT:
                self.talk.say(
                    f"'{answer}' is too short to be an answer. Type it in words.", "refused"
                )
                return
            try:
                self.typed |= {step.name: answer} if step.name in COMPARED else {}
                answer = self.keeper.keep(step.name, answer)
            except NotRecordable as bad:
                self.talk.say(f"Not taken: {bad}", "refused")
                return
        self._submit(Answer(step.id, answer))
        self._say_remedy(step, answer)

    def _act_step(self, step: ActStep | EndStep) -> None:
        act = step.act if isinstance(step, ActStep) else _END[step.how]
        if not self._go(step) or not self._begin(step):
            return
        self.lead = do_lines(step, "context")
        self.lead += permit_lines(self.session.job, self.session.clock.now())
        noticed = self._seen(self.hand.perform(act) if self.hand else None)
        choices = [Choice(what.value, what.said) for what in OUTCOMES[act]]
        does = "the practice vehicle does it" if self.hand else "do it now"
        text = f"PERMITTED: {does}. What happened?"
        answer = self._choose(f"{step.id}:outcome", text, choices, noticed.answer)
        if answer is None:
            return
        if answer == "dk":
            self._submit(Stop("not_known"))
            return
        self._submit(Report(answer))

    def _go(self, step: Any) -> bool:
        """A deliberate word before an act; Enter alone never agrees."""
        text = "When all is ready, type go to ask for the permit."
        answer = self._line(step.id, text, "go", kind="begin")
        if answer not in (None, "go"):
            self.talk.say("Nothing is permitted yet: only the word go asks for it.", "refused")
        return answer == "go"

    def _typed_step(self, step: ReadStep | TemperatureStep | GunStep) -> None:
        if not self._begin(step):
            return
        if isinstance(step, ReadStep):
            noticed = self._seen(self.hand.reading() if self.hand else None)
            self._expects(step)
            text = READING_TEXT
        elif isinstance(step, TemperatureStep):
            noticed = self._seen(self.hand.temperature() if self.hand else None)
            self._cooling(step)
            text = "Type the temperature at the filter inlet, e.g. 64 degC."
        else:
            noticed = self._seen(self.hand.shots() if self.hand else None)
            text = "Type three shots, e.g. 19 20 21 mL in 5 s; or a load, e.g. loaded 14 mL."
        answer = self._line(step.id, text, noticed.answer)
        if isinstance(step, ReadStep) and answer not in (None, "dk"):
            answer = self._looked_twice(step, str(answer))
        if answer is None:
            return
        if answer == "dk":
            self.talk.say("No number, no reading: measure it, or stop with s.", "refused")
            return
        if isinstance(step, GunStep):
            self._fill(step, answer)
            return
        outcome = self._submit(Answer(step.id, answer))
        if not outcome.refused:
            self._echo(step)
        if isinstance(step, TemperatureStep) and self.session.job.core.step == step.id:
            self._cool_down(step, bool(outcome.refused))

    def _expects(self, step: ReadStep) -> None:
        """What is usually read, and the unit of last time, stand with the question."""
        procedure = self.session.plan.procedure(self.session.job.core.procedure)
        reads = frozenset(s.id for s in procedure.steps() if isinstance(s, ReadStep))
        texts = [unit_line(self.session.job, reads)]
        if self.ranges is not None:
            texts.insert(0, self.ranges(self.session.job, step))
        self.noticed = (*((text, "") for text in texts if text), *self.noticed)

    def _cooling(self, step: TemperatureStep) -> None:
        """Once it was measured too hot: how it cools, and what is useful meanwhile."""
        if self._measured != step.id:
            return
        cools = cooling_line(self.session.job, step)
        lines = ((cools, ""),) if cools else ()
        self.noticed = (*lines, *self._useful(), *self.noticed)

    def _looked_twice(self, step: ReadStep, typed: str) -> str | None:
        """Ask for a second look at what is odd; the same line typed again is kept as it is."""
        while self.doubts is not None:
            odd = self.doubts(self.session.job, step, typed)
            if not odd:
                return typed
            for text in (question for questions in odd.values() for question in questions):
                self.talk.say(f"LOOK   {text}", "head")
            self._submit(Note("doubted", {"typed": typed[:200], "topics": " ".join(odd)}))
            again = self._line(
                f"{step.id}:again", "Type the line again to keep it, or correct it.", typed
            )
            if again is None or again == "dk" or again.split() == typed.split():
                return again
            typed = again
        return typed

    def _cool_down(self, step: TemperatureStep, refused: bool) -> None:
        """Not inside the limit: say so, and in practice let it cool for a while."""
        measured = self.session.job.log.latest("exhaust")
        if refused or measured is None:
            return
        self._measured = step.id
        self.talk.say(step.remedy or "Not inside the limit yet. Wait, then measure again.")
        if self.hand is None:
            return
        name = "port_cool_k" if step.want == ("cool",) else "port_warm_k"
        over_k = float(measured["k"]) - self.session.job.log.number(name)
        seconds = min(COOL_MOST_S, max(COOL_LEAST_S, COOL_S_PER_K * over_k))
        self.talk.say(f"  (practice vehicle) {seconds / 60:.0f} min pass.")
        self._pass_time(seconds)

    def _echo(self, step: Any) -> None:
        if not isinstance(step, ReadStep):
            return
        from ..core.reading_set import ReadingSet
        from ..core.typed_set import echo

        latest = self.session.job.log.latest("reading")
        if latest is not None:
            for text in echo(ReadingSet.from_json(latest)):
                self.talk.say(f"  {text}")

    def _judge_step(self, step: JudgeStep) -> None:
        if not self._begin(step):
            return
        judged = self.session.job.log.latest(step.what)
        for text in told.lines(step.what, judged) if judged else ():
            self.talk.say(f"  {text}")
        answer = self._line(step.id, "Type read when you have read it.", "read")
        if answer is not None:
            self._submit(Answer(step.id, answer))

    def _report_step(self, step: ReportStep) -> None:
        if not self._begin(step):
            return
        noticed = Noticed("")
        if self.hand:
            noticed = self._seen(self.hand.observe(step.want[0]))
        choices = [Choice(name, happening_of(name).said) for name in step.happenings]
        truth = noticed.answer.split(" ")[0]
        answer = self._choose(step.id, "What happened?", choices, truth, step.want[0])
        if answer is None or answer == "dk":
            return
        if answer == "drained":
            measured = self._line(f"{step.id}:volume", "How much in the jug?", noticed.answer)
            if measured is None:
                return
            answer = measured if measured.startswith("drained") else f"drained {measured}"
        self._submit(Answer(step.id, answer))

    def _reconfirm(self) -> None:
        core = self.session.job.core
        self.talk.say()
        self.talk.say("The work was interrupted. Nothing is assumed: look again.", "head")
        if not core.meanwhile:
            self._look_at(core.ask_again[0])
            return
        choices = [
            Choice("no", "nothing was sprayed, connected or cranked meanwhile"),
            Choice("yes", "something was"),
        ]
        self._with_lead(("DO     Find out what happened meanwhile.", "do"))
        answer = self._choose(
            "meanwhile", "Was anything sprayed, connected or cranked meanwhile?", choices, "no"
        )
        if answer is not None:
            self._submit(AnswerMeanwhile("unknown" if answer == "dk" else answer))


READING_TEXT = (
    "One line: mbar 1/min g/s exhaust coolant open/shut/part; x = not shown.\n"
    "  Another unit stands at its figure: 2.2kPa."
)


def _typed_as(step: AskStep) -> str:
    """What an answer of this step looks like."""
    if step.form == "text":
        return "Type it in words."
    if step.quantity == YEARS:
        return "Type the number of years, e.g. 6."
    band = f", {step.low} to {step.high}" if step.low and step.high else ""
    return f"Type number and unit{band}."


_END = {"finished": Act.HAND_OVER, "abandoned": Act.ABANDON}
