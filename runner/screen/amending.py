"""Putting the record right in the open: correct a value, leave a step as not applicable, waive.

Nothing is overwritten: what stood there, what stands there now, why and by whom all stay.
"""

from collections.abc import Callable
from typing import Any

from steplatch.safety.checks import ROLE_RANK
from steplatch.safety.interlocks import WAIVABLE, Refusal

from ..core.amend import LEAST_REASON, NOT_CORRECTED, decides_steps
from ..core.commands import Correct, Join, NotApplicable, Note, Waive
from ..core.job import Recorded
from ..core.signers import CUSTOMER, here
from ..core.steps import AskStep
from ..workshop.pins import Accepted, Locked, PinBook
from .asking import Asker
from .talk import Choice

OFFERED = 8
"""How many of the last records are offered for correction at once."""
_ROLES = [Choice(role, role) for role in ROLE_RANK]
_YOUNG = [Choice("adult", "18 or over"), Choice("young", "under 18")]
_REASON = f"Type the reason, at least {LEAST_REASON} characters."


class Amending(Asker):
    """The dialogues for ``fix``, ``na`` and ``waive``, and how a person says who they are."""

    pins: PinBook | None = None

    def _amend(self, word: str) -> bool:
        """Carry out ``fix`` or ``na``; False for any other word."""
        if word == "fix":
            self._fix()
        elif word == "na":
            self._not_applicable()
        elif word == "join":
            self._beside_step("JOIN   Who has come and stays.", self._join)
        elif word == "over":
            self._beside_step("OVER   Who does the work from now on.", self._over)
        else:
            return False
        return True

    # -- people ----------------------------------------------------------------------------

    def _beside_step(self, title: str, ask: Callable[[], None]) -> None:
        before, page, live = self._with_lead((title, "do")), self.page, self.live
        self._beside("people")
        try:
            ask()
        finally:
            (self.lead, self.noticed), self.page, self.live = before, page, live

    def _join(self) -> None:
        """A person comes in mid-job: by the id on the roster, or by id, name and role as told."""
        log = self.session.job.log
        away = [str(p["id"]) for p in log.people if log.here and p["id"] not in log.here]
        listed = f" On the list: {', '.join(away)}." if away else ""
        person = self._line("join", f"Type the id of who has come.{listed}", kind="person")
        if person in (None, "dk"):
            return
        command = Join(str(person))
        if all(p["id"] != person for p in log.people):
            name = self._line("join:name", "Type first and last name.")
            role = self._choose("join:role", "In which role?", _ROLES) if name else None
            young = self._choose("join:young", "Under 18?", _YOUNG) if role else None
            if None in (name, role, young) or "dk" in (name, role, young):
                self.talk.say("Nobody has joined.")
                return
            command = Join(str(person), str(name), str(role), young == "young")
        if not self._submit(command).refused:
            self.talk.say(f"JOINED {person} is on this job, and may sign what the role allows.")

    def _over(self) -> None:
        """The work is handed over: every line from now on is the other's."""
        names = [str(p["id"]) for p in here(self.session.job)]
        text = f"Type who works from now on: {', '.join(names)}."
        person = self._line("over", text, kind="person")
        if person in (None, "dk"):
            return
        if person not in names:
            self.talk.say(f"'{str(person)[:30]}' is not here. Have them join first.", "refused")
        elif self.session.job.core.begun:
            self.talk.say("A step is begun: finish it first, then hand over.", "refused")
        else:
            self.session.person = str(person)
            self.talk.say(f"OVER   {person} works from now on.")

    # -- correct ---------------------------------------------------------------------------

    def _fix(self) -> None:
        """Choose a record, type what is right, say why."""
        if self.session.job.bay.permit is not None:
            self.talk.say("An act is under way: say first what came of it, then correct.")
            return
        records = self._correctable()
        if not records:
            self.talk.say("Nothing is recorded yet that could be corrected.")
            return
        lead = self._with_lead(
            ("FIX    Choose what is wrong.", "do"),
            ("For what decides which steps come, go back to its step.", ""),
        )
        before, page, live = lead, self.page, self.live
        self._beside("fix")
        try:
            self._fix_one(records)
        finally:
            (self.lead, self.noticed), self.page, self.live = before, page, live

    def _fix_one(self, records: list[tuple[str, int, Recorded]]) -> None:
        choices = [
            Choice(f"{name}#{number}", f"{self._about(record)}: {said_of(record)}")
            for name, number, record in records
        ]
        chosen = self._choose("fix", "Which of these?", choices, turned_by_key=False)
        if chosen in (None, "dk"):
            return
        name, _, at = str(chosen).rpartition("#")
        record = next(r for n, i, r in records if (n, i) == (name, int(at)))
        step = self._step_of(record)
        was = f"WAS    {said_of(record)}"
        self._with_lead((f"FIX    {self._about(record)}", "do"), (was, ""))
        if isinstance(step, AskStep) and step.form == "choice":
            options = [Choice(o.value, o.say) for o in step.options]
            value = self._choose("fix:value", "What is right?", options)
        else:
            value = self._line("fix:value", "Type what is right, in the form of the step.")
        if value in (None, "dk"):
            self.talk.say("Nothing was changed.")
            return
        self._with_lead((f"FIX    {self._about(record)}", "do"), (was, ""), (f"NOW    {value}", ""))
        reason = self._line("fix:reason", _REASON)
        if reason is None:
            self.talk.say("Nothing was changed.")
            return
        outcome = self._submit(Correct(name, int(at), str(value), reason))
        if not outcome.refused:
            self.talk.say(f"FIXED  {self._about(record)}: {value}. Both values stay on the record.")

    def _correctable(self) -> list[tuple[str, int, Recorded]]:
        """The last records that can be corrected, newest first: name, number under it, record."""
        plan, job = self.session.plan, self.session.job
        seen: dict[str, int] = {}
        out = []
        for record in job.log.records:
            number = seen.get(record.name, 0)
            seen[record.name] = number + 1
            if record.name in NOT_CORRECTED or decides_steps(plan, job, record.name):
                continue
            if not self._personal(record):
                out.append((record.name, number, record))
        return out[::-1][:OFFERED]

    def _personal(self, record: Recorded) -> bool:
        return bool(getattr(self._step_of(record), "personal", False))

    def _about(self, record: Recorded) -> str:
        step = self._step_of(record)
        return str(step.do).rstrip(".") if step is not None else record.name.replace("_", " ")

    def _step_of(self, record: Recorded) -> Any | None:
        return self.session.plan.step(record.step)

    # -- not applicable, waive -------------------------------------------------------------

    def _not_applicable(self) -> None:
        """Leave the current step, where it may be left, with a reason and the name."""
        core = self.session.job.core
        step = self.session.plan.procedure(core.procedure).step(core.step)
        if not getattr(step, "may_not_apply", False):
            self.talk.say("This step is never left out: do it, type dk, or stop with s.", "refused")
            return
        before = self._with_lead(("NA     This step does not apply here.", "do"))
        try:
            asked = self._text_first(step)
            reason = self._line("na:reason", _REASON) if asked else None
        finally:
            self.lead, self.noticed = before
        if reason is not None:
            self._submit(NotApplicable(step.id, reason))

    def _waivable(self, refusals: tuple[Refusal, ...]) -> list[str]:
        """The refusals that say of themselves that another person may waive them, when those are
        all there are: a waiver beside a row that stands would be used up for nothing."""
        names = [refusal.interlock for refusal in refusals]
        return names if names and all(name in WAIVABLE for name in names) else []

    def _waive(self, interlock: str) -> None:
        """Another person waives one row for one use, with a reason, under their own name."""
        before = self._with_lead((f"WAIVE  {interlock}: once, by another person.", "do"))
        try:
            person = self._person("waive:person", "supervisor", "Who waives it?")
            how = self._shows_who(person, f"waive {interlock} once") if person else None
            core = self.session.job.core
            step = self.session.plan.procedure(core.procedure).step(core.step)
            how = how if how and self._text_first(step) else None
            reason = self._line("waive:reason", _REASON) if how else None
        finally:
            self.lead, self.noticed = before
        if person and how and reason:
            self._submit(Waive(interlock, person, reason, how))

    def _text_first(self, step: Any) -> bool:
        """Before anybody departs from a step: whether its text is at fault, which is kept for its
        author. False when that was not answered."""
        choices = [
            Choice("text", "the text does not fit this vehicle, or cannot be followed"),
            Choice("today", "the text is right; today is different"),
        ]
        fault = self._choose("text-fault", "First: is the text at fault?", choices)
        if fault is None:
            return False
        if fault == "text":
            what = self._line("text-fault:what", "Type what is wrong with the text.")
            if what is None:
                return False
            self._submit(Note("text_fault", {"step": step.id, "text": what}))
        return True

    # -- who somebody is -------------------------------------------------------------------

    def _person(self, key: str, role: str, text: str) -> str | None:
        """A name from the roster, typed in full; the customer's is the word customer."""
        people = self.session.job.log.people
        roster = ", ".join(f"{p['id']} ({p['role']})" for p in people)
        names = CUSTOMER if role == CUSTOMER else roster
        how = (
            f"the word {CUSTOMER}" if role == CUSTOMER else f"the name before the bracket: {names}"
        )
        answer = self._line(key, f"{text} Type {how}.", want=f"role:{role}", kind="person")
        if answer is None or answer == "dk":
            return None
        if answer not in {CUSTOMER, *(p["id"] for p in people)}:
            self.talk.say(f"'{answer[:30]}' is not on this job. On it: {names}.", "refused")
            return None
        return answer

    def _shows_who(self, person: str, act: str) -> str | None:
        """How ``person`` showed who they are: 'pin', 'name' or 'practice'; None when they did not.

        The PIN goes no further than to the pin book, and is never drawn.
        """
        if self.session.job.log.practice:
            return "practice"
        if person == CUSTOMER or self.pins is None or not self.pins.has_pin(person):
            if person != CUSTOMER:
                self.talk.say(f"NO PIN {person} has none: it is recorded as a name only.", "head")
            return "name"
        while True:
            typed = self._line(
                "pin", f"{person}: type your PIN to {act}; it is not shown.", kind="secret"
            )
            if typed is None or typed == "dk":
                return None
            result = self.pins.check(person, typed)
            if isinstance(result, Accepted):
                return "pin"
            self.talk.say(result.words, "refused")
            if isinstance(result, Locked):
                return None


def said_of(record: Recorded) -> str:
    """A record in few words, as it was typed where that was kept."""
    value = record.value
    if record.name == "reading":
        from ..core.reading_set import ReadingSet
        from ..core.typed_set import echo

        got = ReadingSet.from_json(value)
        return f"{got.phase} {got.condition}: {echo(got)[0]} ..."
    if record.name == "gun":
        shots = value.get("shots_ml")
        if shots:
            return f"{' '.join(str(v) for v in shots)} mL in {value['seconds']} s"
        return f"loaded {value.get('volume_ml', '?')} mL"
    for key in ("typed", "text", "choice", "said", "seconds"):
        if key in value:
            return str(value[key])
    return "as recorded"
