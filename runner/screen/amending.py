"""Putting the record right in the open: correct a value, leave a step as not applicable, waive.

Nothing is overwritten: what stood there, what stands there now, why and by whom all stay.
"""

from typing import Any

from steplatch.safety.catalogue import _, spoken
from steplatch.safety.interlocks import WAIVABLE, Refusal

from ..core.amend import LEAST_REASON, NOT_CORRECTED, decides_steps
from ..core.commands import Correct, NotApplicable, Note, Waive
from ..core.events import Recorded
from ..core.steps import AskStep
from .asking import aside, ask_choice, ask_line, submit, with_lead
from .context import Context
from .people import ask_person, shows_who
from .talk import Choice

OFFERED = 8
"""How many of the last records are offered for correction at once."""
_REASON = _("Type the reason, at least {least_reason} characters.", least_reason=LEAST_REASON)


def fix(on: Context) -> None:
    """Choose a record, type what is right, say why."""
    if on.session.job.bay.permit is not None:
        on.talk.say(_("An act is under way: say first what came of it, then correct."))
        return
    records = _correctable(on)
    if not records:
        on.talk.say(_("Nothing is recorded yet that could be corrected."))
        return
    with aside(
        on,
        "fix",
        (_("FIX    Choose what is wrong."), "do"),
        (_("For what decides which steps come, go back to its step."), ""),
    ):
        _fix_one(on, records)


def _fix_one(on: Context, records: list[tuple[str, int, Recorded]]) -> None:
    choices = [
        Choice(f"{name}#{number}", f"{_about(on, record)}: {said_of(record)}")
        for name, number, record in records
    ]
    chosen = ask_choice(on, "fix", _("Which of these?"), choices, turned_by_key=False)
    if chosen in (None, "dk"):
        return
    name, _other, at = str(chosen).rpartition("#")
    record = next(r for n, i, r in records if (n, i) == (name, int(at)))
    step = _step_of(on, record)
    was = _("WAS    {said_of}", said_of=said_of(record))
    with_lead(on, (_("FIX    {about}", about=_about(on, record)), "do"), (was, ""))
    if isinstance(step, AskStep) and step.form == "choice":
        options = [Choice(o.value, o.say) for o in step.options]
        value = ask_choice(on, "fix:value", _("What is right?"), options)
    else:
        value = ask_line(on, "fix:value", _("Type what is right, in the form of the step."))
    if value in (None, "dk"):
        on.talk.say(_("Nothing was changed."))
        return
    with_lead(
        on,
        (_("FIX    {about}", about=_about(on, record)), "do"),
        (was, ""),
        (_("NOW    {value}", value=value), ""),
    )
    reason = ask_line(on, "fix:reason", _REASON)
    if reason is None:
        on.talk.say(_("Nothing was changed."))
        return
    outcome = submit(on, Correct(name, int(at), str(value), reason))
    if not outcome.refused:
        on.talk.say(
            _(
                "FIXED  {about}: {value}. Both values stay on the record.",
                about=_about(on, record),
                value=value,
            )
        )


def _correctable(on: Context) -> list[tuple[str, int, Recorded]]:
    """The last records that can be corrected, newest first: name, number under it, record."""
    plan, job = on.session.plan, on.session.job
    seen: dict[str, int] = {}
    out = []
    for record in job.log.records:
        number = seen.get(record.name, 0)
        seen[record.name] = number + 1
        if record.name in NOT_CORRECTED or decides_steps(plan, job, record.name):
            continue
        if not _personal(on, record):
            out.append((record.name, number, record))
    return out[::-1][:OFFERED]


def _personal(on: Context, record: Recorded) -> bool:
    return bool(getattr(_step_of(on, record), "personal", False))


def _about(on: Context, record: Recorded) -> str:
    step = _step_of(on, record)
    return str(step.do).rstrip(".") if step is not None else spoken(record.name)


def _step_of(on: Context, record: Recorded) -> Any | None:
    return on.session.plan.step(*record.key)


def not_applicable(on: Context) -> None:
    """Leave the current step, where it may be left, with a reason and the name."""
    core = on.session.job.core
    step = on.session.plan.procedure(core.procedure).step(core.step)
    if not getattr(step, "may_not_apply", False):
        on.talk.say(_("This step is never left out: do it, type dk, or stop with s."), "refused")
        return
    with aside(on, "", (_("NA     This step does not apply here."), "do")):
        asked = text_first(on, step)
        reason = ask_line(on, "na:reason", _REASON) if asked else None
    if reason is not None:
        submit(on, NotApplicable(step.id, reason))


def waivable_rows(refusals: tuple[Refusal, ...]) -> list[str]:
    """The refusals that say of themselves that another person may waive them, when those are
    all there are: a waiver beside a row that stands would be used up for nothing."""
    names = [refusal.interlock for refusal in refusals]
    return names if names and all(name in WAIVABLE for name in names) else []


def waive(on: Context, interlock: str) -> None:
    """Another person waives one row for one use, with a reason, under their own name."""
    with aside(
        on, "", (_("WAIVE  {interlock}: once, by another person.", interlock=interlock), "do")
    ):
        person = ask_person(on, "waive:person", "supervisor", _("Who waives it?"))
        how = (
            shows_who(on, person, _("waive {interlock} once", interlock=interlock))
            if person
            else None
        )
        core = on.session.job.core
        step = on.session.plan.procedure(core.procedure).step(core.step)
        how = how if how and text_first(on, step) else None
        reason = ask_line(on, "waive:reason", _REASON) if how else None
    if person and how and reason:
        submit(on, Waive(interlock, person, reason, how))


def text_first(on: Context, step: Any) -> bool:
    """Before anybody departs from a step: whether its text is at fault, which is kept for its
    author. False when that was not answered."""
    choices = [
        Choice("text", _("the text does not fit this vehicle, or cannot be followed")),
        Choice("today", _("the text is right; today is different")),
    ]
    fault = ask_choice(on, "text-fault", _("First: is the text at fault?"), choices)
    if fault is None:
        return False
    if fault == "text":
        what = ask_line(on, "text-fault:what", _("Type what is wrong with the text."))
        if what is None:
            return False
        submit(on, Note("text_fault", {"step": step.id, "text": what}))
    return True


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
    return _("as recorded")
