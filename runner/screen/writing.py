"""Paper written while something cools, soaks or dries: the dialogue, and its answer at its turn."""

from ..core.commands import Note
from ..core.steps import AskStep
from .amending import Amending
from .asking import clock_text
from .meanwhile import KEEP, NOTE, short, useful_now, writable, written
from .talk import Choice, Line

WAITS = ("wait", "hold", "temperature")
"""Kinds of step at which something takes its time."""
_LEAST = 2
IN_A_WAIT = ("write", "ahead", "?", "??")
"""Words that leave a wait running."""


class Writing(Amending):
    """Carries out the word ``write``, and offers what was written when its step has come."""

    def _amend(self, word: str) -> bool:
        if word != "write":
            return super()._amend(word)
        core = self.session.job.core
        procedure = self.session.plan.procedure(core.procedure)
        if procedure.step(core.step).kind not in WAITS:
            self.talk.say("Paper is written ahead while something cools, soaks or dries.")
        elif steps := writable(procedure, self.session.job):
            self._write(steps)
        else:
            self.talk.say("Nothing is left that could be written now.")
        return True

    def _write(self, steps: list[AskStep]) -> None:
        """Choose a step of paper and write what it will be answered with."""
        before = self._with_lead(("WRITE  Choose what to write now.", "do"))
        page, live, nag = self.page, self.live, self.nag
        self._beside("write")
        self.nag = nag
        try:
            choices = [Choice(step.id, self._offer(step)) for step in steps]
            chosen = self._choose("write", "Which of these?", choices, turned_by_key=False)
            step = next((s for s in steps if s.id == chosen), None)
            text = self._text_for(step) if step is not None else None
        finally:
            (self.lead, self.noticed), self.page = before, page
            self.live, self.nag = live, nag
        if step is None or text is None:
            return
        at = clock_text(self.session.clock.now())[:5]
        outcome = self._submit(Note(NOTE, {"step": step.id, "text": text, "at": at}))
        if not outcome.refused:
            self.talk.say(f"KEPT   {short(step.do)}: asked for in its turn.")

    def _offer(self, step: AskStep) -> str:
        there = written(self.session.job, step)
        return short(step.do) + (f" (written {there[1]})" if there else "")

    def _text_for(self, step: AskStep) -> str | None:
        self._with_lead((f"WRITE  {step.do}", "do"))
        if step.form == "choice":
            options = [Choice(o.value, o.say) for o in step.options]
            value = self._choose("write:choice", "Which is it?", options)
            return next((o.say for o in step.options if o.value == value), None)
        text = self._line("write:text", "Type it in words.")
        if text is None or text == "dk" or len(text) < _LEAST:
            self.talk.say("Nothing was kept.")
            return None
        return text

    def _written_line(self, step: AskStep) -> tuple[Line, ...]:
        """What was written ahead for this step stands with its question."""
        there = written(self.session.job, step)
        return ((f"WRITTEN {there[1]}  {there[0]}", ""),) if there else ()

    def _kept(self, step: AskStep, answer: str) -> str:
        """The answer; for ``keep`` what was written ahead for a step of words."""
        there = written(self.session.job, step)
        return there[0] if there and answer.lower() == KEEP and step.form == "text" else answer

    def _useful(self) -> tuple[Line, ...]:
        """The paperwork that can be written or prepared while this lasts."""
        procedure = self.session.plan.procedure(self.session.job.core.procedure)
        useful = useful_now(procedure, self.session.job)
        return ((f"USEFUL now: {useful}", ""),) if useful else ()

    def _said_in_a_wait(self, typed: str) -> bool:
        """Carry out a word typed while practice time passes; False for any other."""
        if typed.lower() not in IN_A_WAIT:
            return False
        return self._common(typed, self.session.job.core.step)
