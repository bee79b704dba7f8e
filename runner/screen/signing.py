"""Signatures at the terminal: what is read back, what a name under it means, and who it is.

A checker looks before the record is shown: a few states are asked without their first answer on
the screen. Then everything critical is read back, and the person signs by a deliberate act.
"""

from dataclasses import replace
from typing import Any

from steplatch.safety.bay import FACTS
from steplatch.safety.checks import CHECKS
from steplatch.safety.kernel import LOOKED_AT

from ..core.commands import Look, Sign
from ..core.sign_off import EXCEPTIONS, MAX_COVERED
from ..core.steps import ResetStep, SignStep
from ..simulator.hand import Noticed
from .asking import clock_text
from .screen import read_back_words, state_words
from .talk import Choice, Line
from .writing import Writing

MEANINGS = {
    "did": "I did this work myself",
    "checked": "I looked myself, and it is as read back",
    "released": "I looked myself, and the vehicle may go",
    "agreed": "I heard what it can and cannot do and what it costs, and I agree",
    "received": "I have got it and it was explained to me",
}
MOST_LOOKS = 2
"""How many states a checker is asked for without seeing the first answer: enough to show that
somebody looked, few enough to be done (common practice, no source)."""
_SEEN_AT_ONCE = ("hose", "gun", "engine", "key", "starter", "kit", "spill", "secured", "identity")
_CHECKS = ("checked", "released")


def read_back(step: Any) -> tuple[str, ...]:
    """What is read back at ``step``: what the procedure names, then all that its check rests on."""
    slot = getattr(step, "slot", None)
    rests_on = CHECKS[slot].reads_back if slot else ()
    return tuple(dict.fromkeys((*getattr(step, "reads_back", ()), *rests_on)))


class Signing(Writing):
    """Asks for a signature: who, a look of their own, the read-back, the PIN."""

    def _sign_step(self, step: SignStep | ResetStep) -> None:
        if not self._begin(step):
            return
        meaning = getattr(step, "meaning", "checked")
        means = f"MEANS  {meaning}: {MEANINGS[meaning]}"
        self.lead = (*self.lead, (means, ""))
        person = self._person(step.id, step.role, f"Who signs as {step.role}?")
        if person is None:
            return
        hold = isinstance(step, ResetStep) or step.point == "hold"
        if hold and meaning in _CHECKS and not self._looks(step, person):
            return
        before = self._with_lead(*self.lead, *self._read_back(step))
        try:
            how = self._signs(step, person)
        finally:
            self.lead, self.noticed = before
        if how is None:
            return
        outcome = self._submit(Sign(step.id, person, how))
        if outcome.refused:
            return
        signed = self.session.job.log.signatures[-1]
        at = self.session.job.log.last
        when = clock_text(at) if at is not None else ""
        self.talk.say(f"SIGNED {when}  {person} as {signed.role}: {signed.meaning}", "head")
        for exception in signed.exceptions:
            self.talk.say(f"       on the record: {EXCEPTIONS[exception]}")

    def _looks(self, step: Any, person: str) -> bool:
        """The checker's own looks; what they say counts. False when one differs or was left."""
        for fact in [f for f in _SEEN_AT_ONCE if f in read_back(step)][:MOST_LOOKS]:
            if fact not in LOOKED_AT:
                continue
            stands = getattr(self.session.job.bay, fact)
            about = (FACTS[fact].__doc__ or fact).split(".")[0]
            line: Line = (f"DO     Look yourself: {about[:1].lower()}{about[1:]}.", "do")
            before, page = self._with_lead(line), self.page
            if page is not None:  # the first answer stays out of sight
                self.page = replace(page, known=(), unknown=(), done=(), cautions=(), why="")
            try:
                shows = self.hand.look(fact) if self.hand and fact != "key" else Noticed("")
                self._seen(shows)
                choices = [Choice(name, said) for name, said in state_words(fact)]
                answer = self._choose(
                    f"check:{fact}",
                    f"{person}, which is true?",
                    choices,
                    shows.answer,
                    stands.value,
                )
            finally:
                (self.lead, self.noticed), self.page = before, page
            if answer is None:
                return False
            said = "unknown" if answer == "dk" else answer
            self._by(person, Look(fact, said))
            if said != stands.value:
                self.talk.say(
                    f"DIFFERS {about}: the record said '{stands.said}'. What was seen last counts; "
                    "put it right before anybody signs.",
                    "refused",
                )
                return False
        return True

    def _read_back(self, step: Any) -> list[Line]:
        """The critical states as the record has them, and the steps that the signature covers."""
        job = self.session.job
        out: list[Line] = [(f"READ   {read_back_words(job, fact)}", "") for fact in read_back(step)]
        marks = self.session.job.log.marks[-MAX_COVERED:]
        if marks:
            first, last = (self._words_of(mark.step) for mark in (marks[0], marks[-1]))
            text = f"COVERS the last {len(marks)} steps, from '{first}' to '{last}'"
            out.append((text, "context"))
        return out

    def _words_of(self, step_id: str) -> str:
        step = self.session.plan.step(step_id)
        return step_id if step is None else str(step.do).rstrip(".")

    def _signs(self, step: Any, person: str) -> str | None:
        """The deliberate act: the PIN where there is one, else the word sign."""
        how = self._shows_who(person, "sign")
        if how in (None, "pin"):
            return how
        answer = self._line(f"{step.id}:sign", f"{person}: type sign to sign this.", want="sign")
        if answer not in (None, "sign"):
            self.talk.say("Not signed: only the word sign signs.", "refused")
        return how if answer == "sign" else None
