"""Who is here, who works, and how a person shows who they are."""

from steplatch.safety.bay import Bay, FluidIn
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.checks import ROLE_RANK

from ..core.commands import Depart, Join
from ..core.signers import here
from ..workshop.pins import Accepted, Locked
from .asking import ask_choice, ask_line, submit
from .checkers import signer_lines
from .context import Context
from .talk import Choice

_ROLES = [Choice(role, spoken(role)) for role in ROLE_RANK]
_YOUNG = [Choice("adult", _("18 or over")), Choice("young", _("under 18"))]


def join(on: Context) -> None:
    """A person comes in mid-job: by the id on the roster, or by id, name and role as told."""
    log = on.session.job.log
    away = [str(p["id"]) for p in log.people if log.here and p["id"] not in log.here]
    listed = _(" On the list: {away}.", away=", ".join(away)) if away else ""
    person = ask_line(
        on, "join", _("Type the id of who has come.{listed}", listed=listed), kind="person"
    )
    if person in (None, "dk"):
        return
    command = Join(str(person))
    if all(p["id"] != person for p in log.people):
        name = ask_line(on, "join:name", _("Type first and last name."))
        role = ask_choice(on, "join:role", _("In which role?"), _ROLES) if name else None
        young = ask_choice(on, "join:young", _("Under 18?"), _YOUNG) if role else None
        if None in (name, role, young) or "dk" in (name, role, young):
            on.talk.say(_("Nobody has joined."))
            return
        command = Join(str(person), str(name), str(role), young == "young")
    if not submit(on, command).refused:
        on.talk.say(
            _("JOINED {person} is on this job, and may sign what the role allows.", person=person)
        )
        if lacking := _lacks(on, str(person)):
            on.talk.say(
                _(
                    "The work is not handed over to {person}: {lacking}",
                    person=person,
                    lacking=lacking,
                ),
                "caution",
            )


def gone(on: Context) -> None:
    """A person has gone: what the people here may do and sign is another thing from now on."""
    names = [str(p["id"]) for p in here(on.session.job)]
    person = ask_line(
        on, "gone", _("Type who has gone: {names}.", names=", ".join(names)), kind="person"
    )
    if person in (None, "dk"):
        return
    if not submit(on, Depart(str(person))).refused:
        on.talk.say(_("GONE   {person} is not on this job any more.", person=person))
        procedure = on.session.plan.procedure(on.session.job.core.procedure)
        for text in signer_lines(procedure, on.session.job, on.session.person):
            on.talk.say(text)
        if lacking := _lacks(on, on.session.person):
            on.talk.say(_("From now on {lacking}", lacking=lacking), "caution")


def hand_over(on: Context) -> None:
    """The work is handed over: every line from now on is the other's."""
    names = [str(p["id"]) for p in here(on.session.job)]
    text = _("Type who works from now on: {names}.", names=", ".join(names))
    person = ask_line(on, "over", text, kind="person")
    if person in (None, "dk"):
        return
    if person not in names:
        on.talk.say(
            _("'{person}' is not here. Have them join first.", person=str(person)[:30]), "refused"
        )
    elif on.session.job.bay.permit is not None:
        on.talk.say(_("An act is under way: say what came of it first, then hand over."), "refused")
    elif (lacking := _lacks(on, str(person))) and not _to_a_safe_end(on.session.job.bay):
        on.talk.say(_("Not handed over: {lacking}", lacking=lacking), "refused")
    else:
        on.session.person = str(person)
        on.talk.say(_("OVER   {person} works from now on.", person=person))
        if lacking:
            on.talk.say(
                _("Go on to a safe end and no further: {lacking}", lacking=lacking), "caution"
            )


def _lacks(on: Context, person: str) -> str:
    return on.lacks(on.session.job, person) if on.lacks is not None else ""


def _to_a_safe_end(bay: Bay) -> bool:
    """Whether somebody must be able to go on: fluid is or may be in, or something has tripped."""
    return bay.fluid_in is not FluidIn.NO or bool(bay.trips)


def ask_person(on: Context, key: str, role: str, text: str) -> str | None:
    """A name from the roster, typed in full."""
    people = on.session.job.log.people
    names = ", ".join(f"{p['id']} ({spoken(p['role'])})" for p in people)
    text += _(" Type the name before the bracket: {names}.", names=names)
    answer = ask_line(on, key, text, want=f"role:{role}", kind="person")
    if answer is None or answer == "dk":
        return None
    if answer not in {p["id"] for p in people}:
        on.talk.say(
            _("'{answer}' is not on this job. On it: {names}.", answer=answer[:30], names=names),
            "refused",
        )
        return None
    return answer


def shows_who(on: Context, person: str, act: str) -> str | None:
    """How ``person`` showed who they are: 'pin', 'name' or 'practice'; None when they did not.

    The PIN goes no further than to the pin book, and is never drawn.
    """
    if on.session.job.log.practice:
        return "practice"
    if on.pins is None or not on.pins.has_pin(person):
        on.talk.say(
            _("NO PIN {person} has none: it is recorded as a name only.", person=person), "head"
        )
        return "name"
    while True:
        typed = ask_line(
            on,
            "pin",
            _("{person}: type your PIN to {act}; it is not shown.", person=person, act=act),
            kind="secret",
        )
        if typed is None or typed == "dk":
            return None
        result = on.pins.check(person, typed)
        if isinstance(result, Accepted):
            return "pin"
        on.talk.say(result.words, "refused")
        if isinstance(result, Locked):
            return None
