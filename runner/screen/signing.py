"""Signatures at the terminal: what is read back, what a name under it means, and who it is.

A checker looks before the record is shown: a few states are asked without their first answer on
the screen. Then everything critical is read back, and the person signs by a deliberate act.
"""

from dataclasses import replace
from typing import Any

from steplatch.safety.catalogue import _, spoken
from steplatch.safety.checks import CHECKS
from steplatch.safety.kernel import LOOKED_AT

from ..assess import told
from ..core.amend import JUDGED
from ..core.commands import Look, Sign
from ..core.job import StepMark
from ..core.sign_off import EXCEPTIONS, MAX_COVERED
from ..core.signers import CUSTOMER, may_sign
from ..core.steps import ResetStep, SignStep
from ..simulator.hand import Noticed
from .asking import aside, ask_choice, clock_text, pressed_go, submit, submit_by, take_in
from .context import Context
from .notices import differs, look_yourself
from .people import ask_person, shows_who
from .refusal import begin_step
from .screen import read_back_words, state_words
from .talk import FIGURES, Choice, StyledLine

MEANINGS = {
    "did": _("I did this work myself"),
    "checked": _("I looked myself, and it is as read back"),
    "released": _("I looked myself, and the vehicle may go"),
    "agreed": _("I heard what it can and cannot do and what it costs, and I agree"),
    "received": _("I have got it and it was explained to me"),
}
_SAYS = [
    Choice("paper", _("on the printed page, signed in my sight")),
    Choice("telephone", _("by telephone; written down as that, no signature")),
    Choice("message", _("by message; written down as that, no signature")),
]
_AGREED_TO = {
    "price": _("price"),
    "alternatives": _("what else could be done"),
    "warning": _("warning in writing"),
    "root_cause_text": _("what filled it"),
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


def sign_step(on: Context, step: SignStep | ResetStep) -> None:
    if not begin_step(on, step):
        return
    meaning = getattr(step, "meaning", "checked")
    means = _("MEANS  {meaning}: {meanings}", meaning=spoken(meaning), meanings=MEANINGS[meaning])
    on.lead = (*on.lead, (means, ""))
    by_customer = step.role == CUSTOMER
    person, how = _customer_says(on, step) if by_customer else _checker_signs(on, step, meaning)
    if person is None or how is None:
        return
    outcome = submit(on, Sign(step.id, person, how))
    if outcome.refused:
        return
    signed = on.session.job.log.signatures[-1]
    at = on.session.job.log.last
    when = clock_text(at) if at is not None else ""
    on.talk.say(
        _(
            "SIGNED {when}  {person} as {role}: {meaning}",
            when=when,
            person=person,
            role=spoken(signed.role),
            meaning=spoken(signed.meaning),
        ),
        "head",
    )
    for exception in signed.exceptions:
        on.talk.say(_("       on the record: {exceptions}", exceptions=EXCEPTIONS[exception]))


def _checker_signs(on: Context, step: Any, meaning: str) -> tuple[str | None, str | None]:
    """Who of the people here signs, and how; the checker looks before the record is shown."""
    person = _who_signs(on, step)
    if person is None:
        return None, None
    hold = isinstance(step, ResetStep) or step.point == "hold"
    if hold and meaning in _CHECKS and not _looks(on, step, person):
        return None, None
    with aside(on, "", *on.lead, *_read_back(on, step)):
        return person, _signs(on, step, person)


def _who_signs(on: Context, step: Any) -> str | None:
    """One of those here who may sign; by name where nobody may, to be told why not."""
    job, text = on.session.job, _("Who signs as {role}?", role=spoken(step.role))
    able = may_sign(job, step)
    if not able or len(able) > len(FIGURES):
        return ask_person(on, step.id, step.role, text)
    names = {str(p["id"]): f"{p['id']} ({spoken(p['role'])})" for p in job.log.people}
    choices = [Choice(person, names[person]) for person in able]
    answer = ask_choice(on, step.id, text, choices, want=f"role:{step.role}", turned_by_key=False)
    return None if answer == "dk" else answer


def _customer_says(on: Context, step: Any) -> tuple[str | None, str | None]:
    """How the customer answers to what stands there: nobody signs for a customer by a word."""
    with aside(on, "", *on.lead, *_told_customer(on, step)):
        answer = ask_choice(on, step.id, _("How does the customer say so?"), _SAYS, "", "paper")
    return CUSTOMER, None if answer == "dk" else answer


def _told_customer(on: Context, step: Any) -> list[StyledLine]:
    """What the customer says yes to: findings, price, other ways, dose and risks; at the end the
    result."""
    log, bay = on.session.job.log, on.session.job.bay
    received = step.meaning == "received"
    out: list[StyledLine] = []
    for what in JUDGED if received else ("triage",):
        if judged := log.latest(what):
            out += [(_("READ   {text}", text=text), "") for text in told.lines(what, judged)]
    if received:
        return out
    for name, words in _AGREED_TO.items():
        found = log.latest(name)
        if found is not None:
            out.append((_("READ   {words}: {found}", words=words, found=found.get("text", "")), ""))
    if not bay.tier.unknown:
        out.append(
            (
                _(
                    "READ   {read_back_words}",
                    read_back_words=read_back_words(on.session.job, "tier"),
                ),
                "",
            )
        )
    return out


def _looks(on: Context, step: Any, person: str) -> bool:
    """The checker's own looks; what they say counts. False when one differs or was left."""
    for fact in [f for f in _SEEN_AT_ONCE if f in read_back(step)][:MOST_LOOKS]:
        if fact not in LOOKED_AT:
            continue
        stands = getattr(on.session.job.bay, fact)
        with aside(on, "", look_yourself(fact)):
            if on.page is not None:  # the first answer stays out of sight
                on.page = replace(
                    on.page, known=(), unknown=(), done=(), cautions=(), reminded=(), why=""
                )
            shows = on.hand.look(fact) if on.hand and fact != "key" else Noticed("")
            take_in(on, shows)
            choices = [Choice(name, said) for name, said in state_words(fact)]
            asks = _("{person}, which is true?", person=person)
            answer = ask_choice(on, f"check:{fact}", asks, choices, shows.answer, stands.value)
        if answer is None:
            return False
        said = "unknown" if answer == "dk" else answer
        submit_by(on, person, Look(fact, said))
        if said != stands.value:
            on.talk.say(differs(fact, stands.said), "refused")
            return False
    return True


def _read_back(on: Context, step: Any) -> list[StyledLine]:
    """The critical states as the record has them, and the steps that the signature covers."""
    job = on.session.job
    out: list[StyledLine] = [
        (_("READ   {read_back_words}", read_back_words=read_back_words(job, fact)), "")
        for fact in read_back(step)
    ]
    marks = on.session.job.log.marks[-MAX_COVERED:]
    if marks:
        first, last = (_words_of(on, mark) for mark in (marks[0], marks[-1]))
        text = _(
            "COVERS the last {count} steps, from '{first}' to '{last}'",
            count=len(marks),
            first=first,
            last=last,
        )
        out.append((text, "context"))
    return out


def _words_of(on: Context, mark: StepMark) -> str:
    step = on.session.plan.step(*mark.key)
    return mark.step if step is None else str(step.do).rstrip(".")


def _signs(on: Context, step: Any, person: str) -> str | None:
    """The deliberate act: the PIN where there is one, else the word sign."""
    how = shows_who(on, person, "sign")
    if how in (None, "pin"):
        return how
    signs = pressed_go(on, f"{step.id}:sign", _("{person} signs this:", person=person))
    return how if signs else None
