"""The words of a refusal, from its id and the facts that it is about.

A record holds the id of a refusal and the ids, lists of ids, quantised numbers and typed texts that
it is about;
screen, sheet, debrief and export ask here for what people read. An interlock's words stand in its
row. What the procedure itself refuses (order and form) stands in ``WORDS``, by its id or, where one
id is refused for several reasons, by ``id/case``. Nothing here decides anything.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final

from steplatch.safety.interlocks import INTERLOCKS, Refusal
from steplatch.safety.measured import CONTRADICTIONS, REMEDY
from steplatch.safety.measured import SOURCE as WITNESS

SOURCE: Final = "procedure order and form"
_ROWS: Final = {row.id: row for row in INTERLOCKS}
_MEASURED: Final = {row.id: Refusal(row.id, row.reason, REMEDY, WITNESS) for row in CONTRADICTIONS}
Words = tuple[str, str]
Fact = str | tuple[str, ...]
_BETWEEN: Final = {"able": " or ", "choices": " / "}
"""What stands between the ids of a list when it is said; else a comma."""

WAY_ON: Final = (
    "Warm it up: loads on (lights, heaters, screen), or raised revs once hose and sensor are on; "
    "when the exhaust is hotter, begin the run again. It stays cold: stop with s and abandon with "
    "the DO NOT START notice."
)
_ROLE: Final = "This needs a {needed}; {person} is {role}."
_DOER: Final = "Who did the work cannot be the one who checks it."
_HERE: Final = "Have {able} look and sign."
_AWAY: Final = "Nobody here can. Have {able} come, and type join; the work waits for them."
_NOBODY: Final = (
    "Nobody here can. Have a {needed} who did not do this work come, and type join; the work waits "
    "for them."
)

WORDS: Final[dict[str, Words]] = {
    "cannot-decide": (
        "This could not be decided: a fault in the program or in a file of the job. It is in the "
        "record, permits nothing, and the job is held.",
        "Make safe what you see. 'go' tries once more, 'abandon' makes safe and ends the job; "
        "tell who looks after the program.",
    ),
    "no-further-step": (
        "No further step applies, and this one does not end the job.",
        "This is a fault of the procedure: stop, make safe, abandon; tell its author.",
    ),
    "vehicle": (
        "This is no report that a link to a vehicle makes.",
        "A fault of the program: type the values; tell who looks after it.",
    ),
    "set-aside": (
        "'{channel}' is no value that can be set aside, or it is already.",
        "Go on by looking and listening.",
    ),
    "fill": (
        "This step takes no values of the vehicle, or not these.",
        "Type them.",
    ),
    "open-once": ("This job is open already.", "Go on with it."),
    "not-open": ("This job was never opened.", "Open it first."),
    "ended": ("This job has ended: {how}.", "Begin a new job."),
    "limits-once": (
        "The limits of this job are set already.",
        "Other limits need a new job: abandon this one.",
    ),
    "not-held": ("The job is not held.", "Go on with the step."),
    "no-limits": ("The worked limits are not in the record.", "Enter the limits first."),
    "held": ("The job is held.", "Read the card; then go on by the word 'go'."),
    "reconfirm": (
        "Something must be looked at first: nothing is assumed about the vehicle.",
        "Look again: {facts}.",
    ),
    "reconfirm/meanwhile": (
        "Something must be looked at first: nothing is assumed about the vehicle.",
        "Look again: what happened meanwhile.",
    ),
    "out-of-order": ("Step '{step}' is not the step that is due.", "Do step '{due}' first."),
    "back": (
        "'{step}' is not an earlier step of this procedure.",
        "Name a step that was done before.",
    ),
    "back/fluid": (
        "Fluid may be in: what came before the spray cannot be done again.",
        "Go on from here; no more spray is 'done'. A wrong answer is corrected, not redone.",
    ),
    "two-marks": ("This step was not begun.", "Begin it first."),
    "branch-unknown": (
        "Whether step '{step}' applies depends on '{fact}', which is not known.",
        "Look again and say the state of '{fact}', or go back to the step that settles it.",
    ),
    "branch-unknown/choice": (
        "Whether step '{step}' applies depends on the answer '{fact}', which was not given.",
        "Go back to that step and answer it.",
    ),
    "not-by-looking": (
        "'{fact}' cannot be settled by looking.",
        "It follows from a step of its own.",
    ),
    "own-step": (
        "The customer's yes to the clean is given at its own step, with its signature.",
        "Go back to the step that asks for it.",
    ),
    "not-a-report": ("'{what}' belongs to a step of its own.", "Work that step."),
    "notice-not-signed": (
        "The DO NOT START notice was not signed by who receives the vehicle.",
        "Go back to the tag, choose the notice, and have the receiver sign it.",
    ),
    "gun-stays-open": (
        "Alone with a gun that sprays on when the hand lets go: a fall or a faint floods it.",
        "Load the measured volume and spray it empty, or have a second person come and type join.",
    ),
    "dose-not-in": (
        "No engine-off burst has gone in.",
        "Spray it, or go back and choose no engine-off dose.",
    ),
    "answer/state": ("'{state}' is no state of '{fact}'.", "Choose one of the states shown."),
    "answer/report": ("'{what}' is no report.", "Choose one shown."),
    "answer/empty": ("An empty answer is no answer.", "Type what you see."),
    "answer/correction": ("An empty answer is no answer.", "Type what is right."),
    "answer/begun": ("The spray was begun.", "Report how it ended."),
    "answer/read": ("'{typed}' is no answer here.", "Type 'read'."),
    "answer/no-word": ("This step is not answered by a word.", "Do what it says."),
    "answer/choice": ("'{typed}' is none of the answers.", "{choices}"),
    "answer/short": ("'{typed}' is too short to be an answer.", "Type it in words."),
    "answer/meanwhile": ("'{typed}' is no answer here.", "Say no, yes or unknown."),
    "fields": ("'{typed}' does not read as that line.", "In this order, x = not shown: {fields}."),
    "band": ("{typed} lies outside {low} to {high}.", "Look again; type it anew."),
    "band/years": ("{typed} years cannot be.", "Type 0 to {most}."),
    "number/jug": ("{typed} is no jug", "Type for instance 'drained 20 mL'."),
    "number/negative": ("time cannot be negative", "Type the seconds, e.g. 8."),
    "number/long": ("{typed} is no length of a spray", "Type the seconds, e.g. 8."),
    "same-shots": (
        "These are the shots of the first set.",
        "Measure three more, or four, and type those.",
    ),
    "not-due": ("The wait is not over: {left_s} s are left.", "Wait; it cannot be hurried."),
    "not-dry": (
        "Drying is not over: {left_s} s are left.",
        "Keep it running; it cannot be hurried.",
    ),
    "not-dry/cut": (
        "Drying was cut short: the engine changed its speed or stopped, or the exhaust was "
        "read too cold to dry.",
        f"Begin the drying run again. Too cold: {WAY_ON}",
    ),
    "not-dry/unread": (
        "The exhaust was not read in this run, or too long ago: dry is not credited.",
        "Type the exhaust at the filter inlet with its unit, for instance 168 degC.",
    ),
    "join": ("'{person}' is on this job already.", "Go on."),
    "join/other": ("'{person}' is another's id.", "Join by the id alone."),
    "join/id": ("'{person}' is no id.", "Type for instance technician-2."),
    "join/name": ("The name is missing.", "Type first and last name."),
    "depart": ("'{person}' is not here.", "Type the id of somebody who is."),
    "depart/works": ("{person} works here.", "Hand the work over first: over. Or stop: leave."),
    "join/role": ("'{role}' is no role here.", "Use {roles}."),
    "still-falling": ("still falling", "Keep holding; note the pressure each minute."),
    "still-falling/about": (
        "still falling, level in about {to_go_min} min",
        "Keep holding; note the pressure each minute.",
    ),
    "reading-condition": (
        "This set is read with the engine {condition}; it is known to be {engine}.",
        "Bring the engine there first: go back to the step that does.",
    ),
    "sign": ("This step is not signed.", "Answer it."),
    "sign/how": ("'{how}' is no way to sign.", "Use {hows}."),
    "sign/customer": ("Only a customer agrees so.", "Sign with your name and PIN."),
    "sign/practice": (
        "A practice signature belongs to a practice job, and to no other.",
        "Sign with your name and PIN.",
    ),
    "role/customer": ("This needs the customer; {person} is {role}.", "Have the customer sign."),
    "role": ("This needs a {needed}; {person} is {role}.", "Call a {needed}."),
    "role/here": (_ROLE, _HERE),
    "role/away": (_ROLE, _AWAY),
    "role/nobody": (_ROLE, _NOBODY),
    "checker-is-doer/here": (_DOER, _HERE),
    "checker-is-doer/away": (_DOER, _AWAY),
    "checker-is-doer/nobody": (_DOER, _NOBODY),
    "checker-is-doer": (
        "Who did the work cannot be the one who checks it.",
        "Have another person with the right role look and sign.",
    ),
    "checker-is-doer/turns": (
        "The turns must stand as done and be confirmed by another person.",
        "Have the person who watched sign.",
    ),
    "checker-is-doer/waiver": ("Nobody waives for themselves.", "Have another approve it."),
    "person": ("'{person}' is not on this job's roster.", "On it are: {people}."),
    "note": ("'{name}' is no note.", "Use {names}."),
    "note/form": ("A note holds names and texts.", "Write it as text."),
    "note/long": ("A note has at most {most} characters.", "Make it shorter."),
    "must-be-done": (
        "Step '{step}' cannot be left as not applicable.",
        "Do it, or give up the job: what cannot be seen is never taken as seen.",
    ),
    "waiver": ("'{row}' is no interlock.", "See 'steplatch matrix'."),
    "no-waiver": (
        "'{row}' has no waiver: it keeps people, engine or evidence whole.",
        "{row_remedy}",
    ),
    "correct/worked": (
        "'{name}' is worked out or kept as it came; it is not corrected.",
        "Correct what it was worked out from.",
    ),
    "correct/act": (
        "An act is under way.",
        "Say first what came of it; then correct the record.",
    ),
    "correct/none": ("Nothing is recorded as '{name}' there.", "Choose one shown."),
    "correct/branch": (
        "'{name}' decides which steps come.",
        "Go back to step '{step}' and choose there. What was sprayed upon it stands.",
    ),
    "correct/stops": (
        "'{answer}' stops the job at step '{step}': it is not written in afterwards.",
        "Go back to step '{step}' and answer there.",
    ),
    "correct/other": ("'{name}' is not corrected this way.", "Add it in the advice."),
    "personal": (
        "'{name}' belongs to the customer's data, which the journal never holds.",
        "Go back to its step and type it there.",
    ),
    "reason": (
        "A reason has {least} to {most} characters; this has {has}.",
        "Say why, so that somebody else understands it in a year.",
    ),
}
"""Reason and remedy of each refusal by the procedure; ``{name}`` is what it is about."""


def refusal(key: str, about: Mapping[str, Fact]) -> Refusal:
    """The refusal called ``key`` (``id`` or ``id/case``) by the procedure, with its words.

    Raises KeyError for a key that has no words: a mistake of the programmer.
    """
    code, _, case = key.partition("/")
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
        return Refusal(code, f"'{code}' is no rule of today.", "See the rules of then.", "none")


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
    source = "a fault of the program" if code == "cannot-decide" else SOURCE
    return Refusal(code, reason, remedy, source, tuple(facts.items()))


def _number(about: Mapping[str, str]) -> Words:
    """What is wrong with a typed number: it is read once more."""
    from ..input.quantities import BadQuantity, parse_number, parse_quantity

    typed, quantity = about["typed"], about["quantity"]
    try:
        parse_number(typed) if quantity == "years" else parse_quantity(typed, quantity)
    except BadQuantity as bad:
        return bad.problem, bad.remedy
    return f"'{typed}' is no {quantity}", "Type number and unit."


def _reading(about: Mapping[str, str]) -> Words:
    """What is wrong with a typed set: it is read once more."""
    from .reading_set import BadReading
    from .typed_set import parse_set

    remedy = "Type the line again, x for what is not shown."
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
    return "The line cannot be read.", remedy


def _gun(about: Mapping[str, str]) -> Words:
    """What is wrong with a typed rate or load: it is read once more."""
    from .gun_entry import parse_gun

    said = parse_gun(about["typed"], 0.0)
    wrong = said if isinstance(said, str) else "This is neither shots nor a load"
    return wrong, "For instance '19 20 21 mL in 5 s', or 'loaded 14 mL'."


_WORKED: Final[dict[str, Callable[[Mapping[str, str]], Words]]] = {
    "number": _number,
    "reading": _reading,
    "gun": _gun,
}
"""Refusals whose words follow from what was typed."""
