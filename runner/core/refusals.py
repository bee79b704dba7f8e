"""The words of a refusal, from its id and the facts that it is about.

A record holds the id of a refusal and the ids, lists of ids, quantised numbers and typed texts that
it is about;
screen, sheet, debrief and export ask here for what people read. An interlock's words stand in its
row. What the procedure itself refuses (order and form) stands in ``WORDS``, by its id or, where one
id is refused for several reasons, by ``id/case``. Nothing here decides anything.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final

from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import INTERLOCKS, Refusal
from steplatch.safety.measured import CONTRADICTIONS, REMEDY
from steplatch.safety.measured import SOURCE as WITNESS

SOURCE: Final = _("procedure order and form")
_ROWS: Final = {row.id: row for row in INTERLOCKS}
_MEASURED: Final = {row.id: Refusal(row.id, row.reason, REMEDY, WITNESS) for row in CONTRADICTIONS}
Words = tuple[str, str]
Fact = str | tuple[str, ...]
_BETWEEN: Final = {"able": _(" or "), "choices": " / "}
"""What stands between the ids of a list when it is said; else a comma."""

WAY_ON: Final = _(
    "Warm it up: loads on (lights, heaters, screen), or raised revs once hose and sensor are on; "
    "when the exhaust is hotter, begin the run again. It stays cold: stop with s and abandon with "
    "the DO NOT START notice."
)
_ROLE: Final = _("This needs a {needed}; {person} is {role}.")
_DOER: Final = _("Who did the work cannot be the one who checks it.")
_HERE: Final = _("Have {able} look and sign.")
_AWAY: Final = _("Nobody here can. Have {able} come, and type join; the work waits for them.")
_NOBODY: Final = _(
    "Nobody here can. Have a {needed} who did not do this work come, and type join; the work waits "
    "for them."
)

WORDS: Final[dict[str, Words]] = {
    "cannot-decide": (
        _(
            "This could not be decided: a fault in the program or in a file of the job. It "
            "is in the record, permits nothing, and the job is held."
        ),
        _(
            "Make safe what you see. 'go' tries once more, 'abandon' makes safe and ends the job; "
            "tell who looks after the program."
        ),
    ),
    "no-further-step": (
        _("No further step applies, and this one does not end the job."),
        _("This is a fault of the procedure: stop, make safe, abandon; tell its author."),
    ),
    "vehicle": (
        _("This is no report that a link to a vehicle makes."),
        _("A fault of the program: type the values; tell who looks after it."),
    ),
    "set-aside": (
        _("'{channel}' is no value that can be set aside, or it is already."),
        _("Go on by looking and listening."),
    ),
    "fill": (
        _("This step takes no values of the vehicle, or not these."),
        _("Type them."),
    ),
    "open-once": (_("This job is open already."), _("Go on with it.")),
    "not-open": (_("This job was never opened."), _("Open it first.")),
    "ended": (_("This job has ended: {how}."), _("Begin a new job.")),
    "limits-once": (
        _("The limits of this job are set already."),
        _("Other limits need a new job: abandon this one."),
    ),
    "not-held": (_("The job is not held."), _("Go on with the step.")),
    "no-limits": (_("The worked limits are not in the record."), _("Enter the limits first.")),
    "held": (_("The job is held."), _("Read the card; then go on by the word 'go'.")),
    "reconfirm": (
        _("Something must be looked at first: nothing is assumed about the vehicle."),
        _("Look again: {facts}."),
    ),
    "reconfirm/meanwhile": (
        _("Something must be looked at first: nothing is assumed about the vehicle."),
        _("Look again: what happened meanwhile."),
    ),
    "out-of-order": (_("Step '{step}' is not the step that is due."), _("Do step '{due}' first.")),
    "back": (
        _("'{step}' is not an earlier step of this procedure."),
        _("Name a step that was done before."),
    ),
    "back/fluid": (
        _("Fluid may be in: what came before the spray cannot be done again."),
        _("Go on from here; no more spray is 'done'. A wrong answer is corrected, not redone."),
    ),
    "two-marks": (_("This step was not begun."), _("Begin it first.")),
    "branch-unknown": (
        _("Whether step '{step}' applies depends on '{fact}', which is not known."),
        _("Look again and say the state of '{fact}', or go back to the step that settles it."),
    ),
    "branch-unknown/choice": (
        _("Whether step '{step}' applies depends on the answer '{fact}', which was not given."),
        _("Go back to that step and answer it."),
    ),
    "not-by-looking": (
        _("'{fact}' cannot be settled by looking."),
        _("It follows from a step of its own."),
    ),
    "own-step": (
        _("The customer's yes to the clean is given at its own step, with its signature."),
        _("Go back to the step that asks for it."),
    ),
    "not-a-report": (_("'{what}' belongs to a step of its own."), _("Work that step.")),
    "notice-not-signed": (
        _("The DO NOT START notice was not signed by who receives the vehicle."),
        _("Go back to the tag, choose the notice, and have the receiver sign it."),
    ),
    "gun-stays-open": (
        _("Alone with a gun that sprays on when the hand lets go: a fall or a faint floods it."),
        _(
            "Load the measured volume and spray it empty, or have a second person come and "
            "type join."
        ),
    ),
    "dose-not-in": (
        _("No engine-off burst has gone in."),
        _("Spray it, or go back and choose no engine-off dose."),
    ),
    "answer/state": (_("'{state}' is no state of '{fact}'."), _("Choose one of the states shown.")),
    "answer/report": (_("'{what}' is no report."), _("Choose one shown.")),
    "answer/empty": (_("An empty answer is no answer."), _("Type what you see.")),
    "answer/correction": (_("An empty answer is no answer."), _("Type what is right.")),
    "answer/begun": (_("The spray was begun."), _("Report how it ended.")),
    "answer/read": (_("'{typed}' is no answer here."), _("Type 'read'.")),
    "answer/no-word": (_("This step is not answered by a word."), _("Do what it says.")),
    "answer/choice": (_("'{typed}' is none of the answers."), "{choices}"),
    "answer/short": (_("'{typed}' is too short to be an answer."), _("Type it in words.")),
    "answer/meanwhile": (_("'{typed}' is no answer here."), _("Say no, yes or unknown.")),
    "fields": (
        _("'{typed}' does not read as that line."),
        _("In this order, x = not shown: {fields}."),
    ),
    "band": (_("{typed} lies outside {low} to {high}."), _("Look again; type it anew.")),
    "band/years": (_("{typed} years cannot be."), _("Type 0 to {most}.")),
    "number/jug": (_("{typed} is no jug"), _("Type for instance 'drained 20 mL'.")),
    "number/negative": (_("time cannot be negative"), _("Type the seconds, e.g. 8.")),
    "number/long": (_("{typed} is no length of a spray"), _("Type the seconds, e.g. 8.")),
    "same-shots": (
        _("These are the shots of the first set."),
        _("Measure three more, or four, and type those."),
    ),
    "not-due": (_("The wait is not over: {left_s} s are left."), _("Wait; it cannot be hurried.")),
    "not-dry": (
        _("Drying is not over: {left_s} s are left."),
        _("Keep it running; it cannot be hurried."),
    ),
    "not-dry/cut": (
        _(
            "Drying was cut short: the engine changed its speed or stopped, or the exhaust was "
            "read too cold to dry."
        ),
        _("Begin the drying run again. Too cold: {way_on}", way_on=WAY_ON),
    ),
    "not-dry/unread": (
        _("The exhaust was not read in this run, or too long ago: dry is not credited."),
        _("Type the exhaust at the filter inlet with its unit, for instance 168 degC."),
    ),
    "join": (_("'{person}' is on this job already."), _("Go on.")),
    "join/other": (_("'{person}' is another's id."), _("Join by the id alone.")),
    "join/id": (_("'{person}' is no id."), _("Type for instance technician-2.")),
    "join/name": (_("The name is missing."), _("Type first and last name.")),
    "depart": (_("'{person}' is not here."), _("Type the id of somebody who is.")),
    "depart/works": (
        _("{person} works here."),
        _("Hand the work over first: over. Or stop: leave."),
    ),
    "join/role": (_("'{role}' is no role here."), _("Use {roles}.")),
    "still-falling": (_("still falling"), _("Keep holding; note the pressure each minute.")),
    "still-falling/about": (
        _("still falling, level in about {to_go_min} min"),
        _("Keep holding; note the pressure each minute."),
    ),
    "reading-condition": (
        _("This set is read with the engine {condition}; it is known to be {engine}."),
        _("Bring the engine there first: go back to the step that does."),
    ),
    "sign": (_("This step is not signed."), _("Answer it.")),
    "sign/how": (_("'{how}' is no way to sign."), _("Use {hows}.")),
    "sign/customer": (_("Only a customer agrees so."), _("Sign with your name and PIN.")),
    "sign/practice": (
        _("A practice signature belongs to a practice job, and to no other."),
        _("Sign with your name and PIN."),
    ),
    "role/customer": (
        _("This needs the customer; {person} is {role}."),
        _("Have the customer sign."),
    ),
    "role": (_("This needs a {needed}; {person} is {role}."), _("Call a {needed}.")),
    "role/here": (_ROLE, _HERE),
    "role/away": (_ROLE, _AWAY),
    "role/nobody": (_ROLE, _NOBODY),
    "checker-is-doer/here": (_DOER, _HERE),
    "checker-is-doer/away": (_DOER, _AWAY),
    "checker-is-doer/nobody": (_DOER, _NOBODY),
    "checker-is-doer": (
        _("Who did the work cannot be the one who checks it."),
        _("Have another person with the right role look and sign."),
    ),
    "checker-is-doer/turns": (
        _("The turns must stand as done and be confirmed by another person."),
        _("Have the person who watched sign."),
    ),
    "checker-is-doer/waiver": (_("Nobody waives for themselves."), _("Have another approve it.")),
    "person": (_("'{person}' is not on this job's roster."), _("On it are: {people}.")),
    "note": (_("'{name}' is no note."), _("Use {names}.")),
    "note/form": (_("A note holds names and texts."), _("Write it as text.")),
    "note/long": (_("A note has at most {most} characters."), _("Make it shorter.")),
    "must-be-done": (
        _("Step '{step}' cannot be left as not applicable."),
        _("Do it, or give up the job: what cannot be seen is never taken as seen."),
    ),
    "waiver": (_("'{row}' is no interlock."), _("See 'steplatch matrix'.")),
    "no-waiver": (
        _("'{row}' has no waiver: it keeps people, engine or evidence whole."),
        "{row_remedy}",
    ),
    "correct/worked": (
        _("'{name}' is worked out or kept as it came; it is not corrected."),
        _("Correct what it was worked out from."),
    ),
    "correct/act": (
        _("An act is under way."),
        _("Say first what came of it; then correct the record."),
    ),
    "correct/none": (_("Nothing is recorded as '{name}' there."), _("Choose one shown.")),
    "correct/branch": (
        _("'{name}' decides which steps come."),
        _("Go back to step '{step}' and choose there. What was sprayed upon it stands."),
    ),
    "correct/stops": (
        _("'{answer}' stops the job at step '{step}': it is not written in afterwards."),
        _("Go back to step '{step}' and answer there."),
    ),
    "correct/other": (_("'{name}' is not corrected this way."), _("Add it in the advice.")),
    "personal": (
        _("'{name}' belongs to the customer's data, which the journal never holds."),
        _("Go back to its step and type it there."),
    ),
    "reason": (
        _("A reason has {least} to {most} characters; this has {has}."),
        _("Say why, so that somebody else understands it in a year."),
    ),
}
"""Reason and remedy of each refusal by the procedure; ``{name}`` is what it is about."""


def refusal(key: str, about: Mapping[str, Fact]) -> Refusal:
    """The refusal called ``key`` (``id`` or ``id/case``) by the procedure, with its words.

    Raises KeyError for a key that has no words: a mistake of the programmer.
    """
    code, _other, case = key.partition("/")
    facts: dict[str, Fact] = {**({"case": case} if case else {}), **about}
    return _of(code, facts)


def recorded(plain: Mapping[str, Any]) -> Refusal:
    """A refusal as a journal holds it (``interlock`` and ``about``), with the words of today.

    An id that no rule of today has keeps its id and says so.
    """
    code = str(plain.get("interlock", ""))
    row = _ROWS.get(code)
    if row is not None:
        return Refusal(row.id, row.reason, row.remedy, row.source)
    if code in _MEASURED:
        return _MEASURED[code]
    try:
        about = (plain.get("about") or {}).items()
        return _of(code, {str(key): _fact(value) for key, value in about})
    except (KeyError, LookupError):
        return Refusal(
            code, _("'{code}' is no rule of today.", code=code), _("See the rules of then."), "none"
        )


def _fact(value: object) -> Fact:
    return tuple(map(str, value)) if isinstance(value, list) else str(value)


def _of(code: str, facts: Mapping[str, Fact]) -> Refusal:
    about = {
        name: value if isinstance(value, str) else _BETWEEN.get(name, ", ").join(value)
        for name, value in facts.items()
    }
    worked = _WORKED.get(code) if "case" not in about else None
    if worked is not None:
        reason, remedy = worked(about)
    else:
        key = f"{code}/{about['case']}" if "case" in about else code
        reason, remedy = WORDS[key]
        row = _ROWS.get(about.get("row", ""))
        given = {**about, "row_remedy": row.remedy if row is not None else ""}
        reason, remedy = reason.format_map(given), remedy.format_map(given)
    source = _("a fault of the program") if code == "cannot-decide" else SOURCE
    return Refusal(code, reason, remedy, source, tuple(facts.items()))


def _number(about: Mapping[str, str]) -> Words:
    """What is wrong with a typed number: it is read once more."""
    from ..input.quantities import BadQuantity, parse_number, parse_quantity

    typed, quantity = about["typed"], about["quantity"]
    try:
        parse_number(typed) if quantity == "years" else parse_quantity(typed, quantity)
    except BadQuantity as bad:
        return bad.problem, bad.remedy
    return _("'{typed}' is no {quantity}", typed=typed, quantity=quantity), _(
        "Type number and unit."
    )


def _reading(about: Mapping[str, str]) -> Words:
    """What is wrong with a typed set: it is read once more."""
    from .reading_set import BadReading
    from .typed_set import parse_set

    remedy = _("Type the line again, x for what is not shown.")
    cylinders = about.get("cylinders")
    try:
        parse_set(
            about["typed"],
            about["condition"],  # type: ignore[arg-type]
            about["phase"],  # type: ignore[arg-type]
            cylinders=int(cylinders) if cylinders else None,
        )
    except BadReading as bad:
        return str(bad), remedy
    return _("The line cannot be read."), remedy


def _gun(about: Mapping[str, str]) -> Words:
    """What is wrong with a typed rate or load: it is read once more."""
    from .gun_entry import parse_gun

    said = parse_gun(about["typed"], 0.0)
    wrong = said if isinstance(said, str) else _("This is neither shots nor a load")
    return wrong, _("For instance '19 20 21 mL in 5 s', or 'loaded 14 mL'.")


_WORKED: Final[dict[str, Callable[[Mapping[str, str]], Words]]] = {
    "number": _number,
    "reading": _reading,
    "gun": _gun,
}
"""Refusals whose words follow from what was typed."""
